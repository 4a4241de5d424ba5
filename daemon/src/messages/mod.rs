//! Messages to people, and to programs that tell people: by e-mail, to a webhook, and as topics on the broker for a lamp or a
//! horn.
//!
//! The barn orders messages, one to each receiver, whole. Here each becomes a *letter*, which goes into the journal's outbox in
//! the transaction of what caused it, and then out: at least once, with an id by which a receiver drops a repeat. Where the
//! journal can not be written a letter goes out all the same. What came of it goes back to the barn as a fact.
//!
//! Must not know: whom to tell, when, and of what. That is the barn's.

pub mod lamp;
pub mod letter;
pub mod link;
pub mod queue;
pub mod try_out;

mod cap;
mod digest;
mod machine;
mod mail;
mod post;
mod webhook;
mod words;

use std::collections::BTreeSet;
use std::sync::Arc;

use bellmare_barn::tell::message::{Message, To};
use bellmare_barn::time::WallClock;
use tokio::sync::mpsc::UnboundedSender;
use tracing::{error, info};

pub use self::words::capital;

use self::letter::Letter;
use self::link::Links;
use self::post::Post;
use self::queue::Report;
use crate::clock::Clock;
use crate::complaint::Complaint;
use crate::journal::outbox::{Change, Outbox};
use crate::metrics::Metrics;
use crate::settings::Settings;

/// What the loop works with.
pub struct Messages {
    post: Post,
    links: Links,
    /// The journal's name.
    journal: String,
    /// Ids of letters that were written before: ordered again, they need not be.
    known: BTreeSet<String>,
    /// What waited when the hub started, until the loop knows what still stands.
    waiting: Vec<Letter>,
}

impl Messages {
    /// Makes ready to send; what waits in the outbox is taken up by [`go_on`](Self::go_on).
    ///
    /// # Errors
    /// Where a file that the settings name can not be used.
    pub fn start(
        settings: &Settings,
        links: Links,
        outbox: Outbox,
        clock: &Clock,
        metrics: &Arc<Metrics>,
        reports: UnboundedSender<Report>,
    ) -> Result<Self, Complaint> {
        let post = Post::start(settings, clock, metrics, reports)?;
        let mut waiting = Vec::new();
        for body in outbox.waiting {
            match serde_json::from_str(&body) {
                Ok(letter) => waiting.push(letter),
                Err(why) => error!(%why, "a message of another version of the hub can not be read, and is not sent"),
            }
        }
        Ok(Self { post, links, journal: outbox.name, known: outbox.known.into_iter().collect(), waiting })
    }

    /// Takes up what waited when the hub started. What is not `standing` any more may be out of date.
    pub fn go_on(&mut self, standing: &BTreeSet<u64>) {
        if !self.waiting.is_empty() {
            info!(count = self.waiting.len(), "messages from before the start wait to be sent");
        }
        let waiting = std::mem::take(&mut self.waiting);
        let told: BTreeSet<u64> = waiting.iter().flat_map(Letter::alarms).collect();
        self.post.go_on(waiting, &told.difference(standing).copied().collect());
    }

    /// The letter of a message, and its row in the outbox. None where it was written before, or no program listens.
    pub fn write(&mut self, message: Message, now: WallClock) -> Option<(Letter, Change)> {
        if message.to == To::Everyone && !self.post.reaches(&message.to) {
            return None;
        }
        let mut letter = Letter::new(&self.journal, message);
        if !self.known.insert(letter.id.clone()) {
            return None;
        }
        if let To::Person(person) = &letter.message.to
            && letter.asks()
        {
            let alarms: Vec<u64> = letter.alarms().collect();
            letter.link = self.links.make(&alarms, person, now);
        }
        match serde_json::to_string(&letter) {
            Ok(body) => {
                let change = Change::Write { id: letter.id.clone(), body };
                Some((letter, change))
            }
            Err(why) => {
                error!(%why, "a message has no written form, and is not sent");
                None
            }
        }
    }

    /// Has a letter sent.
    pub fn send(&self, letter: Letter) {
        self.post.send(letter);
    }

    /// An alarm is over.
    pub fn over(&self, alarm: u64) {
        self.post.over(alarm);
    }
}
