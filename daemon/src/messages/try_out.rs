//! A test message to each person and program, from the command line and without a hub that runs: nothing is kept, nothing is
//! tried twice, and what came of each is told.

use std::fmt;

use bellmare_barn::board::Priority;
use bellmare_barn::id::PersonId;
use bellmare_barn::tell::message::{About, Message, MessageId, To};
use bellmare_barn::time::Now;

use super::letter::Letter;
use super::post::Lines;
use super::queue::{Fault, Parcel};
use crate::complaint::Complaint;
use crate::settings::Settings;

/// What came of one test message.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Tried {
    /// By which way, and to whom.
    pub way: String,
    /// Why it did not arrive.
    pub fault: Option<String>,
}

impl fmt::Display for Tried {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.fault {
            None => write!(f, "{}: sent", self.way),
            Some(why) => write!(f, "{}: NOT sent: {why}", self.way),
        }
    }
}

/// Sends one to each of these people, or to all that have an address where none is named, and to the webhook.
///
/// # Errors
/// Where a file that the settings name can not be used.
pub fn try_out(settings: &Settings, people: &[PersonId], now: Now) -> Result<Vec<Tried>, Complaint> {
    let lines = Lines::of(settings)?;
    let all: Vec<PersonId> = settings.messages.people.keys().cloned().collect();
    let people = if people.is_empty() { &all } else { people };
    let mut tried = Vec::new();
    for person in people {
        let way = match settings.messages.people.get(person) {
            Some(address) => format!("mail to {person} <{address}>"),
            None => format!("mail to {person}"),
        };
        let fault = match &lines.mail {
            Some(mail) => mail.send(&test(To::Person(person.clone()), now)).err(),
            None => Some(Fault::Line("messages.mail is not set".to_owned())),
        };
        tried.push(Tried { way, fault: fault.map(why) });
    }
    if let (Some(webhook), Some(settings)) = (&lines.webhook, &settings.messages.webhook) {
        let fault = webhook.send(&test(To::Everyone, now), now.wall).err();
        tried.push(Tried { way: format!("webhook {}", settings.url), fault: fault.map(why) });
    }
    Ok(tried)
}

fn test(to: To, now: Now) -> Parcel {
    let number = now.wall.get().map_or(now.mono.0, |wall| wall.0.unsigned_abs());
    let message = Message {
        id: MessageId(number),
        to,
        about: About::Test,
        priority: Priority::Low,
        alarms: Vec::new(),
        made: now,
    };
    Parcel::One(Box::new(Letter::new("test", message)))
}

fn why(fault: Fault) -> String {
    match fault {
        Fault::Line(why) | Fault::Refused(why) => why,
    }
}
