//! Whether buckets and pipes may freeze: the coldest place of the barn held against two limits.
//!
//! - **Near**: at or under its limit while the air falls. Air that is cold and rises is the end of a frost and none to come.
//! - **Freezing**: at or under its limit, whatever the air does.
//!
//! Both are [`Edge`]s, turned round: colder is more. What is expected of the night is the forecast's to say. Knows no
//! bucket and no sensor.

use serde::{Deserialize, Serialize};

use crate::heat::edge::Edge;
use crate::limits::FrostLimits;
use crate::time::Mono;
use crate::units::Celsius;

/// Air that has lost less than this within an hour does not fall: a sensor's noise.
const FALLING_C: f64 = 0.3;

/// How near frost is.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
pub struct Frost {
    near: Edge,
    freezing: Edge,
}

/// What there is to say.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Cold {
    /// Nothing.
    None,
    /// It may freeze soon.
    Near,
    /// It may freeze now.
    Freezing,
}

impl Frost {
    /// Takes the coldest air, and what it was an hour ago; where that is not known, it is taken to fall: the cautious side.
    pub fn assess(&mut self, air: Celsius, hour_ago: Option<Celsius>, limits: &FrostLimits, now: Mono) {
        let colder = |edge: Edge, limit: Celsius| edge.assess(-air.get(), -limit.get(), limits.deadband.get(), now);
        let falls = hour_ago.is_none_or(|before| before.get() - air.get() >= FALLING_C);
        if self.near.is_over() || falls {
            self.near = colder(self.near, limits.near);
        }
        self.freezing = colder(self.freezing, limits.freezing);
    }

    /// How near it is. Freezing only once that has lasted; until then it is near.
    pub fn cold(&self, limits: &FrostLimits, now: Mono) -> Cold {
        if self.freezing.lasted(limits.alarm_after, now) {
            Cold::Freezing
        } else if self.near.is_over() || self.freezing.is_over() {
            Cold::Near
        } else {
            Cold::None
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::limits::Limits;

    /// Tells (minute, air, an hour ago) and checks what is said.
    fn check(lines: &[(u64, f64, Option<f64>, Cold)]) {
        let limits = Limits::default().frost;
        let mut frost = Frost::default();
        for (minute, air, before, cold) in lines {
            let now = Mono(minute * 60_000);
            frost.assess(Celsius(*air), before.map(Celsius), &limits, now);
            assert_eq!(frost.cold(&limits, now), *cold, "minute {minute}, {air} °C");
        }
    }

    #[test]
    fn cold_air_that_falls_is_near_and_cold_air_that_rises_is_not() {
        check(&[(0, 3.1, Some(4.0), Cold::None), (1, 3.0, Some(4.0), Cold::Near), (2, 3.9, Some(4.0), Cold::Near)]);
        check(&[(0, 2.5, Some(1.5), Cold::None), (60, 2.5, Some(2.6), Cold::None), (120, 2.1, Some(2.5), Cold::Near)]);
        check(&[(0, 2.5, None, Cold::Near), (1, 4.1, Some(2.5), Cold::None)]);
    }

    #[test]
    fn freezing_is_said_whatever_the_air_does_once_it_has_lasted() {
        check(&[
            (0, 0.5, Some(0.2), Cold::Near),
            (29, 0.9, Some(0.5), Cold::Near),
            (30, 1.2, Some(0.9), Cold::Freezing),
            (31, 2.1, Some(0.9), Cold::None),
        ]);
    }
}
