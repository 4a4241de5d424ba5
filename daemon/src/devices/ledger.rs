//! What the devices said that nobody could use: payloads refused, and topics without a place. For people to look at when
//! a sensor was added or mistyped; nothing is decided by it.
//!
//! Its memory is bounded, and so is what it logs: a flood of nonsense changes numbers and nothing else.

use std::collections::BTreeMap;
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use bellmare_barn::time::WallClock;
use serde::Serialize;

use super::payload::{self, Reason};

/// So many topics are told apart; the rest is counted together.
pub const MAX_TOPICS: usize = 256;

/// A topic is logged again after this long.
const LOG_AGAIN_AFTER: Duration = Duration::from_secs(60);

/// All topics together are logged at most so often a minute.
const MAX_LOGS_A_MINUTE: u32 = 20;

/// What was refused and what had no place, shared by the task that hears and those who show it.
#[derive(Debug, Default)]
pub struct Ledger {
    pages: Mutex<Pages>,
}

/// A copy for showing.
#[derive(Clone, PartialEq, Debug, Default, Serialize)]
pub struct Account {
    /// By topic.
    pub refused: BTreeMap<String, Refused>,
    /// Refusals on topics beyond [`MAX_TOPICS`].
    pub refused_elsewhere: u64,
    /// By topic.
    pub unplaced: BTreeMap<String, Unplaced>,
    /// Messages on unplaced topics beyond [`MAX_TOPICS`].
    pub unplaced_elsewhere: u64,
    /// QoS 0 messages that were let go because the hub was behind.
    pub overflowed: u64,
    /// Retained values left alone because nobody knows how old they are.
    pub old_news: u64,
}

/// What was refused on one topic.
#[derive(Clone, PartialEq, Debug, Serialize)]
pub struct Refused {
    /// How many messages.
    pub count: u64,
    /// Why, the last time.
    pub reason: String,
    /// When, the last time.
    pub last: WallClock,
}

/// What was heard on one topic without a place.
#[derive(Clone, PartialEq, Debug, Serialize)]
pub struct Unplaced {
    /// How many messages.
    pub count: u64,
    /// The beginning of the last payload, at most 80 characters.
    pub excerpt: String,
    /// When it was last heard.
    pub last: WallClock,
}

#[derive(Debug, Default)]
struct Pages {
    account: Account,
    /// When each refused topic was last logged; no more keys than the account has.
    logged: BTreeMap<String, Instant>,
    /// The minute that is being counted, and how many lines it has had.
    minute: Option<(Instant, u32)>,
}

impl Ledger {
    /// A copy of all of it.
    pub fn account(&self) -> Account {
        self.lock().account.clone()
    }

    /// A payload was refused.
    pub fn refused(&self, topic: &str, reason: &Reason, now: WallClock) {
        self.refuse(payload::printable(topic.as_bytes(), 200), reason.to_string(), now);
    }

    fn refuse(&self, topic: String, reason: String, now: WallClock) {
        let mut pages = self.lock();
        if pages.may_log(&topic, Instant::now()) {
            tracing::warn!(%topic, %reason, "what came was refused");
        }
        let account = &mut pages.account;
        if let Some(entry) = account.refused.get_mut(&topic) {
            entry.count += 1;
            entry.reason = reason;
            entry.last = now;
        } else if account.refused.len() < MAX_TOPICS {
            account.refused.insert(topic, Refused { count: 1, reason, last: now });
        } else {
            account.refused_elsewhere += 1;
        }
    }

    /// The barn refused what a sensor, a reader or a kiosk said, because it can not be right.
    pub fn refused_by_barn(&self, from: &str, why: &str, now: WallClock) {
        self.refuse(payload::printable(from.as_bytes(), 200), why.to_owned(), now);
    }

    /// How many topics have no place, and how many messages were refused.
    pub fn totals(&self) -> (u32, u64) {
        let account = &self.lock().account;
        let unplaced = u32::try_from(account.unplaced.len()).unwrap_or(u32::MAX);
        let refused = account.refused.values().map(|entry| entry.count).sum::<u64>();
        (unplaced, refused + account.refused_elsewhere)
    }

    /// A message came on a topic without a place.
    pub fn unplaced(&self, topic: &str, payload: &[u8], now: WallClock) {
        let topic = payload::printable(topic.as_bytes(), 200);
        let excerpt = payload::excerpt(payload);
        let account = &mut self.lock().account;
        if let Some(entry) = account.unplaced.get_mut(&topic) {
            *entry = Unplaced { count: entry.count + 1, excerpt, last: now };
        } else if account.unplaced.len() < MAX_TOPICS {
            tracing::info!(%topic, "heard on a topic that no rule names");
            account.unplaced.insert(topic, Unplaced { count: 1, excerpt, last: now });
        } else {
            account.unplaced_elsewhere += 1;
        }
    }

    /// A QoS 0 message was let go because the hub was behind.
    pub fn overflowed(&self) {
        self.lock().account.overflowed += 1;
    }

    /// A retained value was left alone because nobody knows how old it is.
    pub fn old_news(&self) {
        self.lock().account.old_news += 1;
    }

    /// Counts survive a panic elsewhere: there is no state in between that could be wrong.
    fn lock(&self) -> MutexGuard<'_, Pages> {
        self.pages.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Pages {
    fn may_log(&mut self, topic: &str, now: Instant) -> bool {
        if self.logged.get(topic).is_some_and(|last| now.duration_since(*last) < LOG_AGAIN_AFTER) {
            return false;
        }
        let (minute, lines) = match self.minute {
            Some((minute, lines)) if now.duration_since(minute) < LOG_AGAIN_AFTER => (minute, lines),
            _ => (now, 0),
        };
        if lines >= MAX_LOGS_A_MINUTE {
            return false;
        }
        self.minute = Some((minute, lines + 1));
        if self.logged.len() >= MAX_TOPICS {
            self.logged.clear();
        }
        self.logged.insert(topic.to_owned(), now);
        true
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use bellmare_barn::time::Wall;

    const NOON: WallClock = WallClock::Set(Wall(1_781_784_000_000));

    #[test]
    fn counts_by_topic_and_keeps_the_last_word() {
        let ledger = Ledger::default();
        ledger.refused("barn/stall/3/water", &Reason::Empty, WallClock::Unset);
        ledger.refused("barn/stall/3/water", &Reason::NotUtf8, NOON);
        ledger.unplaced("barn/stall/3/watr", b"212", NOON);
        ledger.overflowed();
        let account = ledger.account();
        let refused = Refused { count: 2, reason: Reason::NotUtf8.to_string(), last: NOON };
        assert_eq!(account.refused["barn/stall/3/water"], refused);
        assert_eq!(account.unplaced["barn/stall/3/watr"], Unplaced { count: 1, excerpt: "212".into(), last: NOON });
        assert_eq!(account.overflowed, 1);
    }

    #[test]
    fn a_flood_of_topics_grows_numbers_and_not_memory() {
        let ledger = Ledger::default();
        for at in 0..10_000 {
            let topic = format!("barn/{at}/{}", "x".repeat(1000));
            ledger.refused(&topic, &Reason::Empty, NOON);
            ledger.unplaced(&topic, &[b'y'; 1000], NOON);
        }
        let account = ledger.account();
        assert_eq!(account.refused.len(), MAX_TOPICS);
        assert_eq!(account.refused_elsewhere, 10_000 - MAX_TOPICS as u64);
        assert_eq!(account.unplaced.len(), MAX_TOPICS);
        assert_eq!(account.unplaced_elsewhere, 10_000 - MAX_TOPICS as u64);
        let longest = account.unplaced.iter().map(|(topic, entry)| topic.len() + entry.excerpt.len()).max();
        assert!(longest < Some(400), "{longest:?}");
    }

    #[test]
    fn logs_little() {
        let start = Instant::now();
        let after = |seconds| start + Duration::from_secs(seconds);
        let mut pages = Pages::default();
        assert!(pages.may_log("a", start));
        assert!(!pages.may_log("a", after(59)));
        assert!(pages.may_log("a", after(60)));
        let logged = (0..1000).filter(|at| pages.may_log(&format!("b{at}"), after(61))).count();
        assert_eq!(logged, MAX_LOGS_A_MINUTE as usize - 1, "and one for the second a");
        assert!(pages.may_log("c", after(121)));
    }
}
