//! Deadlines with names. A timer is armed at most once; arming it again moves it.
//!
//! Timers fire at the time they were armed for, not at the time somebody noticed: so the passing of time need not be
//! written down, and a replay fires them exactly as the day did.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};

use crate::alarm::Cause;
use crate::id::PlaceId;
use crate::input::Sensor;
use crate::time::Mono;

/// What is waited for.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Debug, Serialize, Deserialize)]
pub enum Timer {
    /// To see whether a sensor has gone silent.
    Silence(Sensor),
    /// A band of heat at a place has lasted long enough to be an alarm.
    Heat(PlaceId),
    /// Climate sensors have disagreed long enough.
    Doubt,
    /// The air of the next hours is to be looked at anew.
    Forecast,
    /// A condition has lasted long enough to be an alarm.
    Alarm(Cause),
    /// The cause of an alarm has been gone long enough.
    AlarmOff(Cause),
    /// A cause that came and went has stood still long enough.
    Steady(Cause),
    /// The time for which an alarm was put aside is over.
    Unshelve(Cause),
    /// An alarm that ended has been shown long enough.
    Forget(Cause),
    /// Somebody is to be told.
    Tell,
    /// The morning's digest is to be sent.
    Digest,
    /// To look whether the next lessons have their horses and people.
    Lessons,
    /// The barn's day ends.
    DayEnd,
    /// An unknown badge has been shown long enough.
    UnknownTap,
    /// Something said in the aisle can not be taken back any more, or has been shown long enough.
    Aisle,
    /// A plan is wanted.
    Plan,
    /// A change of a bucket's level that nothing has contradicted counts.
    Settle(Sensor),
    /// To look at how the horses drink.
    Water,
}

/// All timers that are armed.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
#[serde(from = "Vec<(Mono, Timer)>", into = "Vec<(Mono, Timer)>")]
pub struct Timers {
    due: BTreeSet<(Mono, Timer)>,
    armed: BTreeMap<Timer, Mono>,
}

impl Timers {
    /// Arms the timer, or moves it.
    pub fn arm(&mut self, timer: Timer, at: Mono) {
        if let Some(before) = self.armed.insert(timer.clone(), at) {
            self.due.remove(&(before, timer.clone()));
        }
        self.due.insert((at, timer));
    }

    /// Lets go of the timer, if it was armed.
    pub fn disarm(&mut self, timer: &Timer) {
        if let Some(before) = self.armed.remove(timer) {
            self.due.remove(&(before, timer.clone()));
        }
    }

    /// When it is due, while it is armed.
    pub fn armed_at(&self, timer: &Timer) -> Option<Mono> {
        self.armed.get(timer).copied()
    }

    /// When the next one is due.
    pub fn next(&self) -> Option<Mono> {
        self.due.first().map(|(at, _)| *at)
    }

    /// Takes the earliest one that is due by `now`.
    pub fn take(&mut self, now: Mono) -> Option<(Mono, Timer)> {
        if self.next()? > now {
            return None;
        }
        let (at, timer) = self.due.pop_first()?;
        self.armed.remove(&timer);
        Some((at, timer))
    }
}

impl From<Vec<(Mono, Timer)>> for Timers {
    fn from(list: Vec<(Mono, Timer)>) -> Self {
        let mut timers = Self::default();
        for (at, timer) in list {
            timers.arm(timer, at);
        }
        timers
    }
}

impl From<Timers> for Vec<(Mono, Timer)> {
    fn from(timers: Timers) -> Self {
        timers.due.into_iter().collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn fires_in_order_once_and_at_its_own_time() {
        let mut timers = Timers::default();
        timers.arm(Timer::DayEnd, Mono(50));
        timers.arm(Timer::UnknownTap, Mono(20));
        timers.arm(Timer::DayEnd, Mono(10));
        assert_eq!(timers.take(Mono(5)), None);
        assert_eq!(timers.take(Mono(100)), Some((Mono(10), Timer::DayEnd)));
        assert_eq!(timers.take(Mono(100)), Some((Mono(20), Timer::UnknownTap)));
        assert_eq!(timers.take(Mono(100)), None);
        assert_eq!(timers.next(), None);
    }
}
