//! Touches that wait for the hub: in order, each with the id it will keep and since when it waits, so many and no more. Pure.

use std::collections::VecDeque;
use std::time::Duration;

use bellmare_barn::id::{KioskId, TouchId};
use bellmare_barn::input::Touch;
use serde::{Deserialize, Serialize};

use super::moment::Moment;
use crate::app::Given;

/// So many touches wait at most: more than a whole shift signs and works in an hour.
pub const MOST: usize = 200;

/// The touches that wait.
#[derive(Clone, PartialEq, Debug)]
pub struct Outbox {
    kiosk: KioskId,
    boot: u64,
    count: u64,
    number: u64,
    waiting: VecDeque<Waiting>,
}

/// A touch as it is kept on disk. What shows that it is staff's is not: it is worth something to who finds it, and over soon.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Kept {
    /// When it was touched.
    pub touched: Moment,
    /// The touch, not held yet.
    pub touch: Touch,
}

/// A touch as the hub gets it.
#[derive(Clone, PartialEq, Debug, Serialize)]
pub struct Sent {
    /// The touch.
    #[serde(flatten)]
    pub touch: Touch,
    /// What shows that it is staff's.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub staff_token: Option<String>,
}

#[derive(Clone, PartialEq, Debug)]
struct Waiting {
    number: u64,
    kept: Kept,
    staff_token: Option<String>,
    /// Since when this run of the kiosk has it.
    here_since: Moment,
}

impl Outbox {
    /// Nothing waits. `boot` tells this run of the kiosk from all others.
    pub fn new(kiosk: &str, boot: u64) -> Self {
        Self { kiosk: KioskId::from(kiosk), boot, count: 0, number: 0, waiting: VecDeque::new() }
    }

    /// Takes up what was kept by a run before, under its numbers and ids; first of all, and in their order.
    pub fn restore(&mut self, kept: Vec<(u64, Kept)>, now: &Moment) {
        for (number, kept) in kept {
            self.number = self.number.max(number);
            self.waiting.push_back(Waiting { number, kept, staff_token: None, here_since: now.clone() });
        }
    }

    /// Takes a touch in, touched at that moment: its number and what to keep of it; none where too many wait.
    pub fn push(&mut self, given: Given, touched: Moment) -> Option<(u64, &Kept)> {
        if self.waiting.len() >= MOST {
            return None;
        }
        self.count += 1;
        self.number += 1;
        let id = TouchId::from(format!("{}-{:x}-{}", self.kiosk, self.boot, self.count).as_str());
        let Given { action, by, staff_token } = given;
        let touch = Touch { id, kiosk: self.kiosk.clone(), held_ms: 0, by, staff: None, action };
        let (number, here_since) = (self.number, touched.clone());
        self.waiting.push_back(Waiting { number, kept: Kept { touched, touch }, staff_token, here_since });
        self.waiting.back().map(|waiting| (number, &waiting.kept))
    }

    /// The touch to send next, as it is to be sent now. It stays until it is [`done`](Self::done). Held for less than a
    /// second it was not held: that is the way to the hub and back. Where it was kept by a run of the system before and no
    /// clock tells when that was, it is taken to be as old as this run of the kiosk: at least that it is.
    pub fn next(&self, now: &Moment) -> Option<Sent> {
        let Waiting { kept, staff_token, here_since, .. } = self.waiting.front()?;
        let held = kept.touched.before(now).or_else(|| here_since.before(now)).unwrap_or_default();
        let held = if held < Duration::from_secs(1) { Duration::ZERO } else { held };
        let held_ms = u64::try_from(held.as_millis()).unwrap_or(u64::MAX);
        Some(Sent { touch: Touch { held_ms, ..kept.touch.clone() }, staff_token: staff_token.clone() })
    }

    /// The hub has answered this touch: its number, so that it is kept no longer.
    pub fn done(&mut self, id: &TouchId) -> Option<u64> {
        let at = self.waiting.iter().position(|waiting| waiting.kept.touch.id == *id)?;
        self.waiting.remove(at).map(|waiting| waiting.number)
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
    use bellmare_barn::input::Action;

    use super::*;

    fn sign_in(person: &str) -> Given {
        Given { action: Action::SignIn(PersonId::from(person)), by: None, staff_token: None }
    }

    #[test]
    fn a_touch_keeps_its_id_until_it_is_answered_and_tells_how_long_it_was_held() {
        let mut outbox = Outbox::new("aisle", 0xabc);
        let noon = Moment::now();
        let after = |seconds| noon.later(Duration::from_secs(seconds));
        assert!(outbox.push(sign_in("ana"), noon.clone()).is_some());
        assert!(outbox.push(sign_in("theo"), after(90)).is_some());
        let first = outbox.next(&noon).expect("one waits").touch;
        assert_eq!((first.id.as_str(), first.held_ms), ("aisle-abc-1", 0));
        let again = outbox.next(&after(100)).expect("it still waits").touch;
        assert_eq!((&again.id, again.held_ms), (&first.id, 100_000));
        assert_eq!(outbox.done(&first.id), Some(1));
        assert_eq!(outbox.done(&first.id), None, "once");
        let second = outbox.next(&after(100)).expect("the other").touch;
        assert_eq!((second.id.as_str(), second.held_ms), ("aisle-abc-2", 10_000));
    }

    #[test]
    fn a_full_outbox_takes_nothing_and_loses_nothing() {
        let (mut outbox, now) = (Outbox::new("aisle", 1), Moment::now());
        for _ in 0..MOST {
            assert!(outbox.push(sign_in("ana"), now.clone()).is_some());
        }
        assert!(outbox.push(sign_in("theo"), now.clone()).is_none());
        assert_eq!(outbox.len(), MOST);
        assert_eq!(outbox.next(&now).map(|sent| sent.touch.id), Some(TouchId::from("aisle-1-1")));
    }

    #[test]
    fn what_was_kept_goes_first_under_its_own_id_and_without_what_makes_it_staffs() {
        let (mut before, noon) = (Outbox::new("aisle", 0xabc), Moment::now());
        let staff = Given { staff_token: Some("token".to_owned()), ..sign_in("lena") };
        let (number, kept) = before.push(staff, noon.clone()).expect("taken");
        let written = serde_json::to_string(kept).expect("JSON");
        assert!(!written.contains("token"), "{written}");
        let kept = vec![(number + 40, serde_json::from_str(&written).expect("the same"))];

        let mut after = Outbox::new("aisle", 0xdef);
        let start = noon.later(Duration::from_secs(60));
        after.restore(kept, &start);
        let (number, _) = after.push(sign_in("theo"), start.clone()).expect("taken");
        assert_eq!(number, 42, "no number is given twice");
        let sent = after.next(&start.later(Duration::from_secs(5))).expect("one waits");
        assert_eq!((sent.touch.id.as_str(), sent.touch.held_ms, sent.staff_token), ("aisle-abc-1", 65_000, None));
    }
}
