//! What the devices hand to the hub, and the ears that make it of what is heard. The same for a message that a broker sends
//! the hub and for one that a sensor brings to the hub's own broker.

use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use bellmare_barn::input::{Input, Line};
use bellmare_barn::time::WallClock;
use sha2::{Digest, Sha256};
use tokio::sync::mpsc;
use tokio::sync::mpsc::error::TrySendError;
use tokio::time::timeout;

use super::ledger::Ledger;
use super::mqtt::{RECEIVE_MAXIMUM, SessionAck};
use super::payload::Reason;
use super::topic_map::{Heard, Outcome, TopicMap};
use crate::broker::Held;
use crate::journal::Delivery;

/// The least that the channel to the hub should hold: what a broker may send unacknowledged twice over (a cut line
/// brings it again), and room for QoS 0.
pub const INTAKE_CAPACITY: usize = 4096;

/// For so long a hub that is behind may hold up reading; after it the line is cut, and the messages come again.
const PATIENCE: Duration = Duration::from_secs(10);

/// What comes in.
#[derive(Clone, PartialEq, Debug)]
pub enum Intake {
    /// A message that says something to the barn.
    Message(Message),
    /// The line to the broker came up or went down.
    Line(Line),
}

/// A message that says something to the barn.
#[derive(Clone, PartialEq, Debug)]
pub struct Message {
    /// What it says: never nothing.
    pub inputs: Vec<Input>,
    /// What tells it from other messages, where it can come twice: QoS 1.
    pub delivery: Option<Delivery>,
    /// True where the sender says that it sent it before. It may never have been committed.
    pub dup: bool,
    /// To be given once it is committed.
    pub ack: Option<Ack>,
}

/// An acknowledgement that is due once a message is committed.
#[derive(Clone, PartialEq, Debug)]
pub enum Ack {
    /// To the broker that sent the hub the message: given by [`Acker::ack`](super::mqtt::Acker::ack).
    Session(SessionAck),
    /// To the sensor itself, which waits for it.
    Sensor(Held),
}

/// Why something could not be handed on.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Deaf {
    /// The hub has taken nothing for a long time.
    Behind,
    /// Nobody is left to hear.
    Gone,
}

/// A digest of topic and payload, for a message's [`Delivery`].
pub(crate) fn digest(topic: &[u8], payload: &[u8]) -> u64 {
    let mut digest = Sha256::new();
    digest.update((topic.len() as u64).to_be_bytes());
    digest.update(topic);
    digest.update(payload);
    let digest: [u8; 32] = digest.finalize().into();
    digest.iter().take(8).fold(0, |key, byte| key << 8 | u64::from(*byte))
}

/// Turns what is heard into what the hub takes.
pub struct Ears {
    map: Mutex<TopicMap>,
    ledger: Arc<Ledger>,
    clock: Box<dyn Fn() -> WallClock + Send + Sync>,
    out: mpsc::Sender<Intake>,
}

impl Ears {
    /// Ears that know these topics. `clock` is asked once for each message.
    pub fn new(
        map: TopicMap,
        ledger: Arc<Ledger>,
        clock: impl Fn() -> WallClock + Send + Sync + 'static,
        out: mpsc::Sender<Intake>,
    ) -> Self {
        Self { map: Mutex::new(map), ledger, clock: Box::new(clock), out }
    }

    /// Every topic filter that they want to hear.
    pub fn filters(&self) -> Vec<String> {
        self.map.lock().unwrap_or_else(PoisonError::into_inner).subscriptions()
    }

    /// What a message says to the barn. What nobody can use goes to the ledger.
    pub fn decode(&self, topic: &[u8], payload: &[u8], retained: bool) -> Vec<Input> {
        let now = (self.clock)();
        let Ok(topic) = std::str::from_utf8(topic) else {
            self.ledger.refused(&String::from_utf8_lossy(topic), &Reason::NotUtf8, now);
            return Vec::new();
        };
        let heard = Heard { topic, payload, retained, now };
        match self.map.lock().unwrap_or_else(PoisonError::into_inner).decode(&heard) {
            Outcome::Placed(decoded) => {
                match &decoded.refused {
                    None => {}
                    // What a broker keeps comes with every subscription; there is nothing for anybody to mend.
                    Some(Reason::OldNews) => self.ledger.old_news(),
                    Some(reason) => self.ledger.refused(topic, reason, now),
                }
                decoded.inputs
            }
            Outcome::Unplaced => {
                self.ledger.unplaced(topic, payload, now);
                Vec::new()
            }
            Outcome::Ignored => Vec::new(),
        }
    }

    /// Hands on what must not be lost. The channel has room for it unless the hub hangs; then this waits a while.
    ///
    /// # Errors
    /// Where the hub does not take it. Whoever brought it must keep it, and bring it again.
    pub async fn pass(&self, intake: Intake) -> Result<(), Deaf> {
        match self.out.try_send(intake) {
            Ok(()) => Ok(()),
            Err(TrySendError::Closed(_)) => Err(Deaf::Gone),
            Err(TrySendError::Full(intake)) => match timeout(PATIENCE, self.out.send(intake)).await {
                Ok(Ok(())) => Ok(()),
                Ok(Err(_)) => Err(Deaf::Gone),
                Err(_) => Err(Deaf::Behind),
            },
        }
    }

    /// Hands on what may be lost, QoS 0: it takes no room that others may need, and is counted where there is none.
    ///
    /// # Errors
    /// Where nobody is left to hear.
    pub fn pass_if_room(&self, intake: Intake) -> Result<(), Deaf> {
        let kept_free = usize::from(RECEIVE_MAXIMUM).min(self.out.max_capacity() / 2);
        if self.out.capacity() <= kept_free {
            self.ledger.overflowed();
            return Ok(());
        }
        match self.out.try_send(intake) {
            Err(TrySendError::Closed(_)) => Err(Deaf::Gone),
            // With so much kept free it can not be full.
            Ok(()) | Err(TrySendError::Full(_)) => Ok(()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_delivery_tells_messages_apart() {
        let delivery =
            |pkid, topic: &str, payload: &str| Delivery::of_session(pkid, digest(topic.as_bytes(), payload.as_bytes()));
        let same = delivery(7, "barn/stall/3/water", "212");
        assert_eq!(same, delivery(7, "barn/stall/3/water", "212"));
        for other in [
            delivery(8, "barn/stall/3/water", "212"),
            delivery(7, "barn/stall/3/wate", "r212"),
            delivery(7, "barn/stall/3/water", "213"),
        ] {
            assert_ne!(same, other);
        }
    }
}
