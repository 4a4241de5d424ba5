//! Touches that wait for the hub: in order, each with the id it will keep and since when it waits, so many and no more. Pure.

use std::collections::VecDeque;
use std::time::{Duration, Instant};

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
    waiting: VecDeque<(Instant, Touch)>,
}

impl Outbox {
    /// Nothing waits. `boot` tells this run of the kiosk from all others.
    pub fn new(kiosk: &str, boot: u64) -> Self {
        Self { kiosk: KioskId::from(kiosk), boot, count: 0, waiting: VecDeque::new() }
    }

    /// Takes an action in, touched now; false where too many wait.
    pub fn push(&mut self, action: Action, now: Instant) -> bool {
        if self.waiting.len() >= MOST {
            return false;
        }
        self.count += 1;
        let id = TouchId::from(format!("{}-{:x}-{}", self.kiosk, self.boot, self.count).as_str());
        self.waiting
            .push_back((now, Touch { id, kiosk: self.kiosk.clone(), held_ms: 0, by: None, staff: None, action }));
        true
    }

    /// The touch to send next, as it is to be sent now. It stays until it is [`done`](Self::done). Held for less than a
    /// second it was not held: that is the way to the hub and back.
    pub fn next(&self, now: Instant) -> Option<Touch> {
        let (touched, touch) = self.waiting.front()?;
        let held = now.saturating_duration_since(*touched);
        let held = if held < Duration::from_secs(1) { Duration::ZERO } else { held };
        Some(Touch { held_ms: u64::try_from(held.as_millis()).unwrap_or(u64::MAX), ..touch.clone() })
    }

    /// The hub has answered this touch.
    pub fn done(&mut self, id: &TouchId) {
        self.waiting.retain(|(_, touch)| touch.id != *id);
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
    fn a_touch_keeps_its_id_until_it_is_answered_and_tells_how_long_it_was_held() {
        let mut outbox = Outbox::new("aisle", 0xabc);
        let noon = Instant::now();
        let after = |seconds| noon + Duration::from_secs(seconds);
        assert!(outbox.push(Action::SignIn(PersonId::from("ana")), noon));
        assert!(outbox.push(Action::SignIn(PersonId::from("theo")), after(90)));
        let first = outbox.next(noon).expect("one waits");
        assert_eq!((first.id.as_str(), first.held_ms), ("aisle-abc-1", 0));
        let again = outbox.next(after(100)).expect("it still waits");
        assert_eq!((&again.id, again.held_ms), (&first.id, 100_000));
        outbox.done(&first.id);
        let second = outbox.next(after(100)).expect("the other");
        assert_eq!((second.id.as_str(), second.held_ms), ("aisle-abc-2", 10_000));
    }

    #[test]
    fn a_full_outbox_takes_nothing_and_loses_nothing() {
        let (mut outbox, now) = (Outbox::new("aisle", 1), Instant::now());
        for _ in 0..MOST {
            assert!(outbox.push(Action::SignIn(PersonId::from("ana")), now));
        }
        assert!(!outbox.push(Action::SignIn(PersonId::from("theo")), now));
        assert_eq!(outbox.len(), MOST);
        assert_eq!(outbox.next(now).map(|touch| touch.id), Some(TouchId::from("aisle-1-1")));
    }
}
