//! The section `messages`: by which ways what needs a person reaches them. Nothing is sent unless it is asked for here. A line
//! that others can read is refused for passwords and for what happens in the barn, but on this machine itself or where the
//! settings say that it is meant.

use std::collections::BTreeMap;
use std::net::IpAddr;
use std::path::{Path, PathBuf};

use bellmare_barn::id::PersonId;
use lettre::Address;
use lettre::message::Mailbox;
use ureq::http::Uri;

use super::section::Section;
use super::sections::{login, secret_or_file, topic_levels};
use super::{Login, Secret};

/// How long a message may wait for its line before it is summed up with others, unless told: two hours, in minutes.
pub const OUTDATED_AFTER_MIN: u32 = 120;

/// How what needs a person reaches them.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Messages {
    /// By e-mail.
    pub mail: Option<Mail>,
    /// To a program that takes them over HTTP.
    pub webhook: Option<Webhook>,
    /// The first levels of the topics under which the broker says what stands, for a lamp or a horn.
    pub mqtt: Option<MqttOut>,
    /// Where each person gets their mail.
    pub people: BTreeMap<PersonId, Address>,
    /// Where people in the barn reach the hub's pages: what links in messages begin with. None: no links.
    pub link_base: Option<String>,
    /// Minutes after which a message that could not be sent is summed up with others.
    pub outdated_after_min: u32,
}

impl Default for Messages {
    fn default() -> Self {
        Self {
            mail: None,
            webhook: None,
            mqtt: None,
            people: BTreeMap::new(),
            link_base: None,
            outdated_after_min: OUTDATED_AFTER_MIN,
        }
    }
}

/// A mail server, and who writes.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Mail {
    /// Its name or address.
    pub host: String,
    /// Its port.
    pub port: u16,
    /// How the line is encrypted.
    pub tls: MailTls,
    /// A file of certificates in PEM to trust beside the system's.
    pub ca_file: Option<PathBuf>,
    /// Who signs in there.
    pub login: Option<Login>,
    /// From whom messages come.
    pub from: Mailbox,
}

/// How the line to a mail server is encrypted.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum MailTls {
    /// It begins plain and is encrypted before anything is said; a server that will not is not spoken to.
    StartTls,
    /// From the first byte.
    Tls,
    /// Not at all: on this machine alone.
    None,
}

/// A program that takes messages over HTTP.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Webhook {
    /// Where it listens.
    pub url: String,
    /// A file of certificates in PEM to trust beside the system's.
    pub ca_file: Option<PathBuf>,
    /// What it and the hub know, to tell that a message is the hub's.
    pub secret: Option<Secret>,
    /// In which form it takes them.
    pub format: WebhookFormat,
    /// True where the line may be plain though others can read it.
    pub insecure: bool,
}

/// In which form messages go to a program.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum WebhookFormat {
    /// JSON of the hub's own.
    Json,
    /// OASIS CAP 1.2, XML.
    Cap,
}

/// What stands, by topics.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct MqttOut {
    /// The first levels, without a slash at either end: `PREFIX/alarms/...`.
    pub prefix: String,
}

pub(super) const MAIL_TLS: &[(&str, MailTls)] =
    &[("starttls", MailTls::StartTls), ("tls", MailTls::Tls), ("none", MailTls::None)];

pub(super) const WEBHOOK_FORMAT: &[(&str, WebhookFormat)] =
    &[("json", WebhookFormat::Json), ("cap", WebhookFormat::Cap)];

pub(super) fn read(mut s: Section, base: &Path) -> Messages {
    let (there, webhook_there) = (s.has("mail"), s.has("webhook"));
    let mail = mail(s.section("mail"), there, base);
    let webhook = webhook(s.section("webhook"), webhook_there, base);
    let mqtt = mqtt(s.section("mqtt"));
    let people = s.texts("people", |text| {
        text.parse::<Address>().map_err(|_| "a mail address such as \"lena@barn.example\"".to_owned())
    });
    let link_base = s.judge("link_base", |text| {
        let allowed = "the hub's pages as people in the barn reach them, such as \"http://192.168.1.10:8470\"";
        let uri = text.trim_end_matches('/').parse::<Uri>().map_err(|_| allowed.to_owned())?;
        let sound = matches!(uri.scheme_str(), Some("http" | "https")) && uri.host().is_some() && uri.query().is_none();
        if sound { Ok(text.trim_end_matches('/').to_owned()) } else { Err(allowed.to_owned()) }
    });
    let outdated_after_min = s.whole("outdated_after_min", 1..=10_080).unwrap_or(OUTDATED_AFTER_MIN);
    if mail.is_none() && !people.is_empty() && !there {
        s.complain("people", format!("{} of them", people.len()), "nothing, as messages.mail is not set");
    }
    s.finish();
    let people = people.into_iter().map(|(person, address)| (PersonId::new(person), address)).collect();
    Messages { mail, webhook, mqtt, people, link_base, outdated_after_min }
}

fn mail(mut s: Section, there: bool, base: &Path) -> Option<Mail> {
    for key in ["host", "from"] {
        if there && !s.has(key) {
            s.complain(key, "", "to be set, as messages.mail is");
        }
    }
    let host = s.text("host", 1..=253);
    let tls = s.choice("tls", MAIL_TLS).unwrap_or(MailTls::StartTls);
    // The ports that IANA keeps for submission of mail; plain mail on this machine has the old one.
    let usual = match tls {
        MailTls::StartTls => 587,
        MailTls::Tls => 465,
        MailTls::None => 25,
    };
    let port = s.whole("port", 1..=65_535).and_then(|port| u16::try_from(port).ok()).unwrap_or(usual);
    if let Some(host) = &host
        && tls == MailTls::None
        && !on_this_machine(host)
    {
        s.complain("tls", "none", "\"starttls\" or \"tls\", as others can read the line to messages.mail.host");
    }
    if tls == MailTls::None {
        s.refuse("ca_file", "as messages.mail.tls is \"none\"");
    }
    let ca_file = s.path("ca_file", base);
    let login = login(&mut s, base);
    let from = s.judge("from", |text| {
        text.parse::<Mailbox>().map_err(|_| "a mail address such as \"Larkspur Hollow <hub@barn.example>\"".to_owned())
    });
    s.finish();
    Some(Mail { host: host?, port, tls, ca_file, login, from: from? })
}

fn webhook(mut s: Section, there: bool, base: &Path) -> Option<Webhook> {
    if there && !s.has("url") {
        s.complain("url", "", "to be set, as messages.webhook is");
    }
    let insecure = s.flag("insecure").unwrap_or(false);
    let url = s.judge("url", |text| {
        let allowed = "an address such as \"https://office.example/barn\"";
        let uri = text.parse::<Uri>().map_err(|_| allowed.to_owned())?;
        match (uri.scheme_str(), uri.host()) {
            (Some("https"), Some(_)) => Ok(text.to_owned()),
            (Some("http"), Some(host)) if insecure || on_this_machine(host) => Ok(text.to_owned()),
            (Some("http"), Some(_)) => {
                Err("https, or http to this machine, or messages.webhook.insecure = true: others can read the line"
                    .to_owned())
            }
            _ => Err(allowed.to_owned()),
        }
    });
    let ca_file = s.path("ca_file", base);
    let secret = secret_or_file(&mut s, ("secret", "secret_file"), 16..=200, base);
    let format = s.choice("format", WEBHOOK_FORMAT).unwrap_or(WebhookFormat::Json);
    s.finish();
    Some(Webhook { url: url?, ca_file, secret, format, insecure })
}

fn mqtt(mut s: Section) -> Option<MqttOut> {
    let prefix = s.judge("prefix", topic_levels);
    s.finish();
    Some(MqttOut { prefix: prefix? })
}

/// True for names and addresses that never leave the machine.
fn on_this_machine(host: &str) -> bool {
    let bare = host.trim_start_matches('[').trim_end_matches(']');
    bare == "localhost" || bare.parse::<IpAddr>().is_ok_and(|address| address.is_loopback())
}
