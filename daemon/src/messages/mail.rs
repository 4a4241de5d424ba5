//! A mail server: each parcel to a person is a plain text by a connection of its own. Its Message-ID is made of the parcel's id,
//! so that a server or a reader can drop a repeat; it refers to the conversation about its alarms, so that mail programs keep
//! these together.

use std::collections::BTreeMap;
use std::time::{Duration, UNIX_EPOCH};

use bellmare_barn::board::Priority;
use bellmare_barn::id::PersonId;
use bellmare_barn::tell::message::To;
use lettre::message::header::{ContentType, HeaderName, HeaderValue};
use lettre::message::{Mailbox, MessageBuilder};
use lettre::transport::smtp::authentication::Credentials;
use lettre::transport::smtp::client::{Certificate, Tls, TlsParameters};
use lettre::{Address, Message, SmtpTransport, Transport};

use super::queue::{Fault, Parcel};
use super::words::{Text, words};
use crate::complaint::Complaint;
use crate::settings::messages::{Mail, MailTls};

/// A server that does not answer within this is not reached.
const PATIENCE: Duration = Duration::from_secs(20);
/// A letter names so many conversations at most.
const MOST_THREADS: usize = 5;
/// Replies that concern the whole line and no single letter: busy, no sign-in, none without encryption (RFC 5321, RFC 4954).
const OF_THE_LINE: [u16; 8] = [421, 454, 500, 502, 503, 530, 534, 535];

/// A mail server, and where each person gets their mail.
pub(super) struct MailLine {
    server: SmtpTransport,
    from: Mailbox,
    people: BTreeMap<PersonId, Address>,
    barn: String,
}

impl MailLine {
    /// Connects to nothing yet.
    ///
    /// # Errors
    /// Where certificates that the settings name can not be used.
    pub(super) fn new(mail: &Mail, people: &BTreeMap<PersonId, Address>, barn: &str) -> Result<Self, Complaint> {
        let parameters = || {
            let mut parameters = TlsParameters::builder(mail.host.clone());
            if let Some(file) = &mail.ca_file {
                let complain = |why: String| Complaint::new("messages.mail.ca_file", file.display(), why);
                let pem = std::fs::read(file).map_err(|why| complain(format!("a file the hub can read ({why})")))?;
                let certificate = Certificate::from_pem(&pem)
                    .map_err(|why| complain(format!("certificates in PEM ({})", crate::chain(&why))))?;
                parameters = parameters.add_root_certificate(certificate);
            }
            parameters.build().map_err(|why| {
                Complaint::new(
                    "messages.mail.host",
                    &mail.host,
                    format!("a name that a certificate can be for ({})", crate::chain(&why)),
                )
            })
        };
        let tls = match mail.tls {
            MailTls::StartTls => Tls::Required(parameters()?),
            MailTls::Tls => Tls::Wrapper(parameters()?),
            MailTls::None => Tls::None,
        };
        let mut server =
            SmtpTransport::builder_dangerous(mail.host.as_str()).port(mail.port).tls(tls).timeout(Some(PATIENCE));
        if let Some(login) = &mail.login {
            server = server.credentials(Credentials::new(login.user.clone(), login.password.expose().to_owned()));
        }
        Ok(Self { server: server.build(), from: mail.from.clone(), people: people.clone(), barn: barn.to_owned() })
    }

    /// Sends a parcel to its person.
    ///
    /// # Errors
    /// Why it did not go out.
    pub(super) fn send(&self, parcel: &Parcel) -> Result<(), Fault> {
        let To::Person(person) = parcel.to() else {
            return Err(Fault::Refused("it is for no person".to_owned()));
        };
        let Some(address) = self.people.get(person) else {
            return Err(Fault::Refused(format!("messages.people has no address for {person}")));
        };
        let mail = self.mail(parcel, address).map_err(|why| Fault::Refused(crate::chain(&why)))?;
        self.server.send(&mail).map(drop).map_err(|why| {
            let code = why.status().map(u16::from);
            let said = format!("{}: {}", address, crate::chain(&why));
            match code {
                Some(code) if !OF_THE_LINE.contains(&code) => Fault::Refused(said),
                _ => Fault::Line(crate::chain(&why)),
            }
        })
    }

    fn mail(&self, parcel: &Parcel, address: &Address) -> Result<Message, lettre::error::Error> {
        let Text { subject, body } = words(parcel, &self.barn);
        let newest = parcel.letters().last();
        let mut mail = Message::builder()
            .from(self.from.clone())
            .to(Mailbox::new(None, address.clone()))
            .subject(subject)
            .message_id(Some(self.id(parcel.id())));
        mail = self.referring(mail, parcel);
        if let Some(wall) = newest.and_then(|letter| letter.message.made.wall.get())
            && let Ok(millis) = u64::try_from(wall.0)
        {
            mail = mail.date(UNIX_EPOCH + Duration::from_millis(millis));
        }
        // RFC 3834: no answer by machine, such as of somebody who is away.
        mail = with(mail, "Auto-Submitted", "auto-generated");
        if newest.is_some_and(|letter| letter.message.priority == Priority::High && letter.asks()) {
            mail = with(mail, "Importance", "high");
        }
        mail.header(ContentType::TEXT_PLAIN).body(body)
    }

    fn referring(&self, mail: MessageBuilder, parcel: &Parcel) -> MessageBuilder {
        let mut threads: Vec<String> = Vec::new();
        for letter in parcel.letters() {
            for thread in letter.alarms().map(|alarm| self.id(&letter.thread(alarm))) {
                if threads.len() < MOST_THREADS && !threads.contains(&thread) {
                    threads.push(thread);
                }
            }
        }
        match threads.first() {
            Some(first) => mail.in_reply_to(first.clone()).references(threads.join(" ")),
            None => mail,
        }
    }

    /// A Message-ID: under the domain of whoever writes, as RFC 5322 would have it.
    fn id(&self, id: &str) -> String {
        format!("<{id}@{}>", self.from.email.domain())
    }
}

fn with(mail: MessageBuilder, name: &'static str, value: &str) -> MessageBuilder {
    mail.raw_header(HeaderValue::new(HeaderName::new_from_ascii_str(name), value.to_owned()))
}
