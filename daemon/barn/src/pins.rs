//! Who has a PIN, and how long the next try must wait. A PIN says who acts as staff and nothing else.
//!
//! ```text
//!             wrong              wrong, the third             wrong
//! free ──────────────▶ counted ──────────────────▶ waits 30 s ──────▶ waits 60 s ──▶ ... 15 min
//!   ▲                     │                            │
//!   └──── right, a new PIN, or a day without a wrong ──┘
//! ```
//!
//! Wrong tries count for the person and for the kiosk, each by itself; the longer wait holds. Waits are of the running
//! clock, which goes on over a restart. Knows neither what a PIN is nor how it is hashed: it keeps what it is given.

use std::collections::BTreeMap;
use std::fmt;

use serde::{Deserialize, Serialize};

use crate::id::{KioskId, PersonId};
use crate::time::Mono;

/// So many wrong tries are free.
const FREE: u32 = 3;
/// The wait after the last of them; each further wrong try doubles it.
const FIRST_WAIT_MS: u64 = 30_000;
/// The longest wait.
const LONGEST_WAIT_MS: u64 = 15 * 60_000;
/// Wrong tries are forgotten so long after the last one.
const FORGOTTEN_MS: u64 = 24 * 3_600_000;
/// Wrong tries are counted for so many kiosks. Beyond that the one whose last wrong try is longest ago is forgotten; those of
/// its persons are not.
const MOST_KIOSKS: usize = 64;

/// The hash of a PIN, in the PHC text that names its function and cost. Its `Debug` says nothing.
#[derive(Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct PinHash(String);

impl PinHash {
    /// Takes the text as it is; the shell has made or checked it.
    pub fn new(text: impl Into<String>) -> Self {
        Self(text.into())
    }

    /// The text, for whoever checks a PIN against it.
    pub fn expose(&self) -> &str {
        &self.0
    }
}

impl fmt::Debug for PinHash {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("PinHash(not shown)")
    }
}

/// The PINs of the barn, and the wrong tries.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub struct Pins {
    hashes: BTreeMap<PersonId, PinHash>,
    persons: BTreeMap<PersonId, Wrong>,
    kiosks: BTreeMap<KioskId, Wrong>,
}

/// Wrong tries since the last right one.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
struct Wrong {
    count: u32,
    last: Mono,
}

impl Pins {
    /// True where anybody has a PIN.
    pub fn any(&self) -> bool {
        !self.hashes.is_empty()
    }

    /// The hash of a person's PIN.
    pub fn of(&self, person: &PersonId) -> Option<&PinHash> {
        self.hashes.get(person)
    }

    /// A person has a new PIN, or none any more. Their wrong tries are forgotten.
    pub fn set(&mut self, person: &PersonId, hash: Option<PinHash>) {
        self.persons.remove(person);
        match hash {
            Some(hash) => self.hashes.insert(person.clone(), hash),
            None => self.hashes.remove(person),
        };
    }

    /// Forgets everybody who may have none.
    pub fn retain(&mut self, may: impl Fn(&PersonId) -> bool) {
        self.hashes.retain(|person, _| may(person));
        self.persons.retain(|person, _| may(person));
    }

    /// How many milliseconds this person must wait at this kiosk before the next try; 0 where none.
    pub fn wait_ms(&self, person: &PersonId, kiosk: &KioskId, now: Mono) -> u64 {
        let left = |wrong: Option<&Wrong>| wrong.map_or(0, |wrong| wrong.last.plus(wrong.wait_ms()).since(now));
        left(self.persons.get(person)).max(left(self.kiosks.get(kiosk)))
    }

    /// Somebody tried.
    pub fn tried(&mut self, person: &PersonId, kiosk: &KioskId, right: bool, now: Mono) {
        if right {
            self.persons.remove(person);
            self.kiosks.remove(kiosk);
            return;
        }
        self.persons.entry(person.clone()).or_default().again(now);
        self.kiosks.entry(kiosk.clone()).or_default().again(now);
        if self.kiosks.len() > MOST_KIOSKS {
            let oldest = self.kiosks.iter().min_by_key(|(_, wrong)| wrong.last).map(|(kiosk, _)| kiosk.clone());
            self.kiosks.retain(|kiosk, _| Some(kiosk) != oldest.as_ref());
        }
    }
}

impl Wrong {
    fn again(&mut self, now: Mono) {
        let before = if now.since(self.last) < FORGOTTEN_MS { self.count } else { 0 };
        *self = Self { count: before.saturating_add(1), last: now };
    }

    fn wait_ms(self) -> u64 {
        match self.count.checked_sub(FREE) {
            None => 0,
            // Five doublings are past the longest: no shift can be too far.
            Some(more) => (FIRST_WAIT_MS << more.min(5)).min(LONGEST_WAIT_MS),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn seconds(s: u64) -> Mono {
        Mono(s * 1_000)
    }

    #[test]
    fn the_third_wrong_try_waits_and_each_further_one_twice_as_long() {
        let (ana, lena, aisle, tack) = ("ana".into(), "lena".into(), "aisle".into(), "tack-room".into());
        let mut pins = Pins::default();
        let mut now = 100_000;
        for wait in [0, 0, 30, 60, 120, 240, 480, 900, 900] {
            pins.tried(&lena, &aisle, false, seconds(now));
            assert_eq!(pins.wait_ms(&lena, &tack, seconds(now)), wait * 1_000, "the person waits at every kiosk");
            assert_eq!(pins.wait_ms(&ana, &aisle, seconds(now)), wait * 1_000, "and everybody at this one");
            now += wait;
            assert_eq!(pins.wait_ms(&lena, &aisle, seconds(now)), 0);
        }
        assert_eq!(pins.wait_ms(&ana, &tack, seconds(now)), 0);
        pins.tried(&lena, &aisle, true, seconds(now));
        pins.tried(&lena, &aisle, false, seconds(now));
        assert_eq!(pins.wait_ms(&lena, &aisle, seconds(now)), 0, "a right one begins anew");
    }

    #[test]
    fn wrong_tries_are_forgotten_after_a_day_without_one() {
        let (lena, aisle) = ("lena".into(), "aisle".into());
        let mut pins = Pins::default();
        for _ in 0..2 {
            pins.tried(&lena, &aisle, false, seconds(200_000));
        }
        pins.tried(&lena, &aisle, false, seconds(200_000 + 86_400));
        assert_eq!(pins.wait_ms(&lena, &aisle, seconds(200_000 + 86_400)), 0);
    }

    #[test]
    fn made_up_kiosks_fill_no_memory_and_free_no_person() {
        let lena = "lena".into();
        let mut pins = Pins::default();
        for n in 0..1_000 {
            pins.tried(&lena, &format!("k{n}").as_str().into(), false, seconds(n));
        }
        assert_eq!(pins.kiosks.len(), MOST_KIOSKS);
        assert_eq!(pins.wait_ms(&lena, &"another".into(), seconds(999)), LONGEST_WAIT_MS);
    }

    #[test]
    fn a_hash_is_not_shown() {
        let mut pins = Pins::default();
        pins.set(&"lena".into(), Some(PinHash::new("$argon2id$secret")));
        assert!(!format!("{pins:?}").contains("argon2"));
    }
}
