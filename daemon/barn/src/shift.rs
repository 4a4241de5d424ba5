//! Who is here. A badge tap signs in, the next one out; a second tap within a few seconds is the same tap. Taps that come
//! late, from a reader that was cut off, count at their own time. Who forgot to tap out is signed out when the barn's day
//! ends, marked as assumed. This file knows people only by their ids.
//!
//! A person's day is a list of marks in order of time; who is here follows from the list, so that a late tap needs no
//! patching: it takes its place, and everything after it is read again.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::id::{BadgeId, PersonId, ReaderId};
use crate::limits::ShiftLimits;
use crate::time::Mono;

/// How long an unknown badge is shown.
pub const UNKNOWN_SHOWN_MS: u64 = 60_000;
/// How many unknown badges are shown at once: a reader gone mad can not fill the screen.
const UNKNOWN_MOST: usize = 4;

/// What a mark says.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug, Serialize, Deserialize)]
pub enum Kind {
    /// Here by touch.
    In,
    /// Gone by touch.
    Out,
    /// A tap: the other of what was before.
    Tap,
}

/// One mark of a person.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug, Serialize, Deserialize)]
pub struct Mark {
    /// When it counts.
    pub at: Mono,
    /// What it says.
    pub kind: Kind,
}

/// A badge that nobody knows.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Unknown {
    /// Which badge.
    pub badge: BadgeId,
    /// Which reader.
    pub reader: ReaderId,
    /// When it was held there.
    pub at: Mono,
}

/// Everybody's marks since the day began.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub struct Shift {
    day_began: Mono,
    marks: BTreeMap<PersonId, Vec<Mark>>,
    unknown: Vec<Unknown>,
    /// Who was signed out by the end of the last day, not by themselves.
    assumed: Vec<Assumed>,
}

/// A stay that the end of the day closed: nobody knows when it really ended.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Assumed {
    /// Who.
    pub person: PersonId,
    /// Since when they were here.
    pub from: Mono,
    /// When the day ended.
    pub until: Mono,
}

/// A stay of somebody's.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Stay {
    /// Since when.
    pub from: Mono,
    /// Until when; none while it goes on.
    pub until: Option<Mono>,
}

/// What became of a tap.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Tapped {
    /// It counts.
    Counts,
    /// It is the same as one before.
    Same,
    /// It belongs to a day that is closed.
    Closed,
}

impl Shift {
    /// A known badge was held to a reader at this time.
    pub fn tap(&mut self, person: &PersonId, at: Mono, limits: &ShiftLimits) -> Tapped {
        if at < self.day_began {
            return Tapped::Closed;
        }
        let window = u64::from(limits.same_tap_s) * 1000;
        let marks = self.marks.entry(person.clone()).or_default();
        if marks.iter().any(|mark| mark.kind == Kind::Tap && mark.at.0.abs_diff(at.0) < window) {
            return Tapped::Same;
        }
        insert(marks, Mark { at, kind: Kind::Tap });
        Tapped::Counts
    }

    /// A person said at a kiosk that they are here, or going.
    pub fn say(&mut self, person: &PersonId, here: bool, at: Mono) -> Tapped {
        if at < self.day_began {
            return Tapped::Closed;
        }
        let kind = if here { Kind::In } else { Kind::Out };
        insert(self.marks.entry(person.clone()).or_default(), Mark { at, kind });
        Tapped::Counts
    }

    /// A badge that nobody knows was held to a reader.
    pub fn tap_unknown(&mut self, badge: BadgeId, reader: ReaderId, at: Mono) {
        self.unknown.retain(|unknown| unknown.badge != badge);
        if self.unknown.len() == UNKNOWN_MOST {
            self.unknown.remove(0);
        }
        self.unknown.push(Unknown { badge, reader, at });
    }

    /// Lets go of unknown badges that were shown long enough; says when the next one is.
    pub fn forget_unknown(&mut self, now: Mono) -> Option<Mono> {
        self.unknown.retain(|unknown| now.since(unknown.at) < UNKNOWN_SHOWN_MS);
        self.unknown.iter().map(|unknown| unknown.at.plus(UNKNOWN_SHOWN_MS)).min()
    }

    /// Unknown badges to be shown.
    pub fn unknown(&self) -> &[Unknown] {
        &self.unknown
    }

    /// The barn's day ends: who is still here is assumed to have gone, and a new day begins.
    pub fn end_day(&mut self, at: Mono) {
        self.assumed = self
            .marks
            .keys()
            .filter_map(|person| {
                self.here_since(person).map(|from| Assumed { person: person.clone(), from, until: at })
            })
            .collect();
        self.marks.clear();
        self.day_began = at;
    }

    /// Who was signed out by the end of the last day, not by themselves.
    pub fn assumed(&self) -> &[Assumed] {
        &self.assumed
    }

    /// Since when a person is here; none where they are not.
    pub fn here_since(&self, person: &PersonId) -> Option<Mono> {
        self.stays(person).last().filter(|stay| stay.until.is_none()).map(|stay| stay.from)
    }

    /// True where anybody has said anything since the day began.
    pub fn anybody(&self) -> bool {
        !self.marks.is_empty()
    }

    /// When a person was here since the day began, in order of time; the last stay may still go on.
    pub fn stays(&self, person: &PersonId) -> Vec<Stay> {
        let mut stays: Vec<Stay> = Vec::new();
        for mark in self.marks.get(person).into_iter().flatten() {
            let here = stays.last_mut().filter(|stay| stay.until.is_none());
            match (mark.kind, here) {
                (Kind::In | Kind::Tap, None) => stays.push(Stay { from: mark.at, until: None }),
                (Kind::Out | Kind::Tap, Some(stay)) => stay.until = Some(mark.at),
                (Kind::In, Some(_)) | (Kind::Out, None) => {}
            }
        }
        stays
    }
}

fn insert(marks: &mut Vec<Mark>, mark: Mark) {
    let place = marks.partition_point(|other| other.at <= mark.at);
    marks.insert(place, mark);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::limits::Limits;

    const MIN: u64 = 60_000;

    fn ana() -> PersonId {
        "ana".into()
    }

    /// Taps at these times in milliseconds, in order of arrival; since when Ana is here at the end.
    fn check(taps: &[u64], here_since: Option<u64>) {
        let limits = Limits::default().shift;
        let mut shift = Shift::default();
        for at in taps {
            shift.tap(&ana(), Mono(*at), &limits);
        }
        assert_eq!(shift.here_since(&ana()), here_since.map(Mono), "taps at {taps:?}");
    }

    #[test]
    fn taps_go_in_and_out() {
        check(&[], None);
        check(&[MIN], Some(MIN));
        check(&[MIN, 9 * MIN], None);
        check(&[MIN, 9 * MIN, 20 * MIN], Some(20 * MIN));
    }

    #[test]
    fn a_second_tap_within_five_seconds_is_one_tap() {
        check(&[MIN, MIN + 4_999], Some(MIN));
        check(&[MIN, MIN + 5_000], None);
        check(&[MIN + 3_000, MIN], Some(MIN + 3_000));
    }

    #[test]
    fn a_late_tap_counts_at_its_own_time() {
        // In at 10, out at 60; the out came first because the reader at the door was cut off.
        check(&[60 * MIN, 10 * MIN], None);
        // The missing tap between two others arrives last: in, out, in.
        check(&[10 * MIN, 60 * MIN, 30 * MIN], Some(60 * MIN));
    }

    #[test]
    fn the_days_end_closes_who_forgot_and_an_older_tap_no_longer_counts() {
        let limits = Limits::default().shift;
        let mut shift = Shift::default();
        shift.tap(&ana(), Mono(10), &limits);
        shift.say(&"theo".into(), true, Mono(20));
        shift.say(&"theo".into(), false, Mono(30));
        shift.end_day(Mono(100));
        assert_eq!(shift.assumed(), [Assumed { person: ana(), from: Mono(10), until: Mono(100) }]);
        assert_eq!(shift.tap(&ana(), Mono(99), &limits), Tapped::Closed);
        assert_eq!(shift.here_since(&ana()), None);
    }

    #[test]
    fn a_touch_says_which_way_and_twice_is_once() {
        let mut shift = Shift::default();
        shift.say(&ana(), true, Mono(10));
        shift.say(&ana(), true, Mono(20));
        assert_eq!(shift.here_since(&ana()), Some(Mono(10)));
        shift.say(&ana(), false, Mono(30));
        assert_eq!(shift.here_since(&ana()), None);
    }

    #[test]
    fn an_unknown_badge_is_shown_for_a_minute() {
        let mut shift = Shift::default();
        shift.tap_unknown("FF01".into(), "door".into(), Mono(0));
        assert_eq!(shift.forget_unknown(Mono(UNKNOWN_SHOWN_MS - 1)), Some(Mono(UNKNOWN_SHOWN_MS)));
        assert_eq!(shift.unknown().len(), 1);
        assert_eq!(shift.forget_unknown(Mono(UNKNOWN_SHOWN_MS)), None);
        assert!(shift.unknown().is_empty());
    }
}
