//! A letter: one message of the barn's on its way to one receiver, as the outbox keeps it.

use std::fmt::Write as _;

use bellmare_barn::tell::message::{About, Message, MessageId, To};
use serde::{Deserialize, Serialize};
use sha2::{Digest as _, Sha256};

/// One message to one receiver.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Letter {
    /// By which a receiver knows that a letter came before: the same whenever it is sent again, never that of another.
    pub id: String,
    /// The name of the journal that it is kept in: alarms are numbered anew in each.
    pub journal: String,
    /// What the barn says.
    pub message: Message,
    /// Where who reads it can take its alarms.
    #[serde(default)]
    pub link: Option<String>,
}

impl Letter {
    /// A letter of this message, not linked yet. Numbers of messages may come again with other words where a hub ended while
    /// its journal could not be written, so what it says is in the id too.
    pub fn new(journal: &str, message: Message) -> Self {
        let content = serde_json::to_vec(&message).unwrap_or_default();
        let mut id = format!("{journal}-{}-", message.id);
        for byte in Sha256::digest(content).iter().take(4) {
            // Writing to a string does not fail.
            let _ = write!(id, "{byte:02x}");
        }
        Self { id, journal: journal.to_owned(), message, link: None }
    }

    /// The message's number.
    pub fn number(&self) -> MessageId {
        self.message.id
    }

    /// To whom.
    pub fn to(&self) -> &To {
        &self.message.to
    }

    /// The numbers of the alarms that it tells.
    pub fn alarms(&self) -> impl Iterator<Item = u64> + '_ {
        self.message.alarms.iter().map(|told| told.alarm.id)
    }

    /// A name for the conversation about an alarm, the same in all letters about it.
    pub fn thread(&self, alarm: u64) -> String {
        thread(&self.journal, alarm)
    }

    /// True where whoever reads it could take something: an alarm that stands and that nobody has taken.
    pub fn asks(&self) -> bool {
        let asking = matches!(
            self.message.about,
            About::Raised | About::Worse | About::Climbed { .. } | About::Chattering { .. } | About::Many { .. }
        );
        asking && self.message.alarms.iter().any(|told| !told.over && told.taken_by.is_none())
    }
}

/// A name for the conversation about an alarm.
pub fn thread(journal: &str, alarm: u64) -> String {
    format!("{journal}-alarm-{alarm}")
}
