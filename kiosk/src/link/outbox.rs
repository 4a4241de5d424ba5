//! Touches that wait for the hub: in order, each with the id it will keep, so many and no more. Pure.

use std::collections::VecDeque;

use bellmare_barn::id::{KioskId, TouchId};
use bellmare_barn::input::{Action, Touch};

/// So many touches wait at most: more than a whole shift signs and works in an hour.
pub const MOST: usize = 200;

/// The touches that wait.
#[derive(Clone, PartialEq, Debug)]
pub struct Outbox {
    kiosk: KioskId,
    boot: u64,
    count: u64,
    waiting: VecDeque<Touch>,
}

impl Outbox {
    /// Nothing waits. `boot` tells this run of the kiosk from all others.
    pub fn new(kiosk: &str, boot: u64) -> Self {
        Self { kiosk: KioskId::from(kiosk), boot, count: 0, waiting: VecDeque::new() }
    }

    /// Takes an action in; false where too many wait.
    pub fn push(&mut self, action: Action) -> bool {
        if self.waiting.len() >= MOST {
            return false;
        }
        self.count += 1;
        let id = TouchId::from(format!("{}-{:x}-{}", self.kiosk, self.boot, self.count).as_str());
        self.waiting.push_back(Touch { id, kiosk: self.kiosk.clone(), own_time: None, action });
        true
    }

    /// The touch to send next. It stays until it is [`done`](Self::done).
    pub fn next(&self) -> Option<&Touch> {
        self.waiting.front()
    }

    /// The hub has answered this touch.
    pub fn done(&mut self, id: &TouchId) {
        self.waiting.retain(|touch| touch.id != *id);
    }

    /// How many wait.
    pub fn len(&self) -> usize {
        self.waiting.len()
    }

    /// True where none waits.
    pub fn is_empty(&self) -> bool {
        self.waiting.is_empty()
    }
}

#[cfg(test)]
mod tests {
    use bellmare_barn::id::PersonId;

    use super::*;

    #[test]
    fn a_touch_keeps_its_id_until_it_is_answered() {
        let mut outbox = Outbox::new("aisle", 0xabc);
        assert!(outbox.push(Action::SignIn(PersonId::from("ana"))));
        assert!(outbox.push(Action::SignIn(PersonId::from("theo"))));
        let first = outbox.next().cloned().expect("one waits");
        assert_eq!(first.id.as_str(), "aisle-abc-1");
        assert_eq!(outbox.next(), Some(&first));
        outbox.done(&first.id);
        assert_eq!(outbox.next().map(|touch| touch.id.as_str()), Some("aisle-abc-2"));
    }

    #[test]
    fn a_full_outbox_takes_nothing_and_loses_nothing() {
        let mut outbox = Outbox::new("aisle", 1);
        for _ in 0..MOST {
            assert!(outbox.push(Action::SignIn(PersonId::from("ana"))));
        }
        assert!(!outbox.push(Action::SignIn(PersonId::from("theo"))));
        assert_eq!(outbox.len(), MOST);
        assert_eq!(outbox.next().map(|touch| touch.id.as_str()), Some("aisle-1-1"));
    }
}
