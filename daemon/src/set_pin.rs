//! `bellmare-hub pin`: a person's PIN is set or taken away. The PIN itself stays here: only its hash goes to a hub that runs,
//! or straight into the journal where none does.

use std::io::{self, IsTerminal};

use anyhow::{Context, bail};
use bellmare_barn::id::PersonId;
use bellmare_barn::input::{Input, Pin as NewPin};
use bellmare_barn::pins::PinHash;
use bellmare_hub::app::JOURNAL_FILE;
use bellmare_hub::hub::start;
use bellmare_hub::journal::{Journal, JournalError, Options};
use bellmare_hub::pin::Pin;
use bellmare_hub::settings::Settings;
use serde_json::{Value, json};

use super::office::{self, Office};

/// Sets the PIN of a person, read from whoever sits there; or takes it away.
pub(crate) fn set_pin(person: &str, clear: bool, settings: &Settings) -> anyhow::Result<()> {
    let hash = match clear {
        true => None,
        false => Some(read()?.hash().context("hashing the PIN")?),
    };
    let pin = NewPin { person: PersonId::new(person), hash };
    match Journal::open(&settings.data.folder.join(JOURNAL_FILE), &Options::default()) {
        Ok((journal, opening)) => {
            let barn = start::restore(&journal).context("reading the journal")?.barn;
            if pin.hash.is_some()
                && let Err(why) = barn.may_have_pin(&pin.person)
            {
                bail!("{why}");
            }
            office::append(journal, &opening, settings, Input::Pin(pin))?;
            println!("{}; no hub was running.", done(person, clear));
        }
        Err(JournalError::Locked { .. }) => {
            hand_over(&Office::of(settings)?, person, pin.hash.as_ref())?;
            println!("{}.", done(person, clear));
        }
        Err(why) => return Err(why).context("opening the journal"),
    }
    Ok(())
}

fn done(person: &str, clear: bool) -> String {
    if clear { format!("{person} has no PIN any more") } else { format!("The PIN of {person} is set") }
}

/// Twice from a terminal, which does not show it; else a line of standard input.
fn read() -> anyhow::Result<Pin> {
    if !io::stdin().is_terminal() {
        let mut line = String::new();
        io::stdin().read_line(&mut line).context("reading the PIN")?;
        return Ok(Pin::new(line.trim_end_matches(['\r', '\n']))?);
    }
    let first = Pin::new(&rpassword::prompt_password("New PIN (6 digits, not shown): ").context("reading the PIN")?)?;
    let again = rpassword::prompt_password("Once more: ").context("reading the PIN")?;
    if again.parse::<Pin>().is_ok_and(|again| again == first) {
        Ok(first)
    } else {
        bail!("the two are not the same: nothing was changed")
    }
}

fn hand_over(office: &Office, person: &str, hash: Option<&PinHash>) -> anyhow::Result<()> {
    let url = office.url(&format!("/pins/{}", encoded(person)));
    let agent: ureq::Agent = ureq::Agent::config_builder().http_status_as_error(false).build().into();
    let sent = match hash {
        Some(hash) => {
            agent.put(&url).header("Authorization", office.bearer()).send_json(json!({ "hash": hash.expose() }))
        }
        None => agent.delete(&url).header("Authorization", office.bearer()).call(),
    };
    let mut answer = sent.with_context(|| format!("asking the hub at {url}"))?;
    if answer.status().is_success() {
        return Ok(());
    }
    let why = answer.body_mut().read_json::<Value>().ok().and_then(|body| Some(body.get("why")?.as_str()?.to_owned()));
    bail!("{}", why.unwrap_or_else(|| format!("the hub at {url} answered {}", answer.status())))
}

/// A name as a part of an address.
fn encoded(name: &str) -> String {
    let plain = |byte: u8| byte.is_ascii_alphanumeric() || b"-_.~".contains(&byte);
    name.bytes().map(|byte| if plain(byte) { char::from(byte).to_string() } else { format!("%{byte:02X}") }).collect()
}
