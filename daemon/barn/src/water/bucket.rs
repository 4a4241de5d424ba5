//! How much is in a bucket, by its last believable level. This file knows neither horses nor alarms: it says what state
//! the bucket is in and since when.
//!
//! ```text
//!                     under `empty`                    under `low`
//!   empty ◀──────────────────────────── low ◀──────────────────────── enough
//!     │       over `empty` + deadband    ▲    over `low` + deadband     ▲
//!     └─────────────────────────────────┴──────────────────────────────┘
//! ```
//!
//! A level that can not be makes the bucket *faulty* until the next that can; what was known before is kept, for an
//! alarm that stood must not end because its sensor broke.

use serde::{Deserialize, Serialize};

use super::vessel;
use crate::board::WaterState;
use crate::book::Vessel;
use crate::limits::WaterLimits;
use crate::time::Mono;
use crate::units::{Litres, Millimetres, Percent};

/// A bucket and what is known of it.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Bucket {
    vessel: Vessel,
    content: Option<Content>,
    faulty_since: Option<Mono>,
}

/// The last level that could be.
#[derive(Clone, Copy, PartialEq, Debug, Serialize, Deserialize)]
pub struct Content {
    /// How much.
    pub litres: Litres,
    /// Of the full bucket.
    pub percent: Percent,
    /// Enough, low or empty.
    pub state: WaterState,
    /// Since when it is in that state.
    pub since: Mono,
    /// When it was measured.
    pub measured: Mono,
}

impl Bucket {
    /// A bucket of which nothing is known yet.
    pub fn new(vessel: Vessel) -> Self {
        Self { vessel, content: None, faulty_since: None }
    }

    /// The same bucket, measured anew by the book: what is in it counts afresh only if the vessel is another.
    pub fn measured_as(self, vessel: Vessel) -> Self {
        if self.vessel == vessel { self } else { Self::new(vessel) }
    }

    /// Takes a level, measured at a time. Older than the last one: it says nothing about now and is left aside.
    ///
    /// # Errors
    /// Where the level can not be in this vessel; the bucket is faulty from then on.
    pub fn level(&mut self, level: Millimetres, measured: Mono, limits: &WaterLimits) -> Result<(), vessel::Refused> {
        if self.content.is_some_and(|content| measured < content.measured) {
            return Ok(());
        }
        let fill = vessel::level(&self.vessel, level).inspect_err(|_| {
            self.faulty_since.get_or_insert(measured);
        })?;
        self.faulty_since = None;
        let before = self.content;
        let state = next_state(before.map(|content| content.state), fill.percent, limits);
        let since = before.filter(|content| content.state == state).map_or(measured, |content| content.since);
        self.content = Some(Content { litres: fill.litres, percent: fill.percent, state, since, measured });
        Ok(())
    }

    /// The last level that could be.
    pub fn content(&self) -> Option<Content> {
        self.content
    }

    /// Since when its sensor says what can not be.
    pub fn faulty_since(&self) -> Option<Mono> {
        self.faulty_since
    }
}

fn next_state(before: Option<WaterState>, percent: Percent, limits: &WaterLimits) -> WaterState {
    // A limit is left upwards only past the deadband: a bucket that slops does not flicker.
    let under = |limit: Percent, was_under: bool| {
        let edge = if was_under { limit.get() + limits.deadband.get() } else { limit.get() };
        percent.get() <= edge
    };
    if under(limits.empty, before == Some(WaterState::Empty)) {
        WaterState::Empty
    } else if under(limits.low, before.is_some_and(|state| state != WaterState::Enough)) {
        WaterState::Low
    } else {
        WaterState::Enough
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::book::Gauge;
    use crate::limits::Limits;

    /// A straight bucket of 300 mm: a level in mm is 3 times its percent.
    fn straight() -> Vessel {
        Vessel {
            bottom: Millimetres(280.0),
            top: Millimetres(280.0),
            height: Millimetres(300.0),
            gauge: Gauge::Up { at_bottom: Millimetres(0.0) },
        }
    }

    #[test]
    fn states_have_a_deadband() {
        use WaterState::{Empty, Enough, Low};
        let limits = Limits::default().water; // low 25, empty 6, deadband 4
        let mut bucket = Bucket::new(straight());
        for (minute, (percent, state)) in [
            (80.0, Enough),
            (25.0, Low),
            (28.0, Low),
            (29.1, Enough),
            (26.0, Enough),
            (6.0, Empty),
            (9.9, Empty),
            (10.1, Low),
            (7.0, Low),
            (2.0, Empty),
            (95.0, Enough),
        ]
        .into_iter()
        .enumerate()
        {
            bucket.level(Millimetres(percent * 3.0), Mono(minute as u64), &limits).expect("it can be");
            assert_eq!(bucket.content().map(|content| content.state), Some(state), "at {percent} %");
        }
    }

    #[test]
    fn an_older_level_is_left_aside_and_since_is_when_the_state_began() {
        let limits = Limits::default().water;
        let mut bucket = Bucket::new(straight());
        bucket.level(Millimetres(3.0), Mono(10), &limits).expect("it can be");
        bucket.level(Millimetres(270.0), Mono(5), &limits).expect("it can be");
        bucket.level(Millimetres(6.0), Mono(20), &limits).expect("it can be");
        let content = bucket.content().expect("heard");
        assert_eq!((content.state, content.since, content.measured), (WaterState::Empty, Mono(10), Mono(20)));
    }

    #[test]
    fn what_can_not_be_is_a_fault_and_keeps_what_was_known() {
        let limits = Limits::default().water;
        let mut bucket = Bucket::new(straight());
        bucket.level(Millimetres(3.0), Mono(10), &limits).expect("it can be");
        assert!(bucket.level(Millimetres(900.0), Mono(20), &limits).is_err());
        assert!(bucket.level(Millimetres(900.0), Mono(30), &limits).is_err());
        assert_eq!(bucket.faulty_since(), Some(Mono(20)));
        assert_eq!(bucket.content().map(|content| content.state), Some(WaterState::Empty));
        bucket.level(Millimetres(200.0), Mono(40), &limits).expect("it can be");
        assert_eq!(bucket.faulty_since(), None);
    }
}
