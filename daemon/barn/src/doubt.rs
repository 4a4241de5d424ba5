//! Climate sensors that say what can not all be true. Air in one barn is not the same everywhere, but two places of it do
//! not stay further apart than [`DoubtLimits`] say.
//!
//! Where three or more places speak, each is held against the median, and the one that is off can be named. Where two speak
//! and differ, both are doubted: nobody can say which. Where one speaks alone, what was doubted before stays so, for nobody
//! contradicts it now.
//!
//! Each place has an [`Edge`]: it is doubted once it has been off for long enough, and until it is well within reason again.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::heat::edge::Edge;
use crate::heat::psychrometrics::dew_point;
use crate::id::PlaceId;
use crate::limits::DoubtLimits;
use crate::time::Mono;
use crate::units::{Celsius, RelativeHumidity};

/// Off by this share of the limit or less is within reason again.
const REASON_AGAIN: f64 = 0.8;

/// Who is off, and since when.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub struct Doubt {
    edges: BTreeMap<PlaceId, Edge>,
}

/// What a place says that speaks now.
#[derive(Clone, Copy, Debug)]
pub struct Said {
    /// Air temperature.
    pub temperature: Celsius,
    /// Relative humidity.
    pub humidity: RelativeHumidity,
}

impl Doubt {
    /// Takes what all places that speak say now.
    pub fn assess(&mut self, said: &BTreeMap<PlaceId, Said>, limits: &DoubtLimits, now: Mono) {
        if said.len() < 2 {
            return;
        }
        let temperatures: Vec<_> = said.values().map(|said| said.temperature.get()).collect();
        // No dew point is told of air that is out of its range; the temperature then speaks alone.
        let dew = |said: &Said| dew_point(said.temperature, said.humidity).ok().map(Celsius::get);
        let dews: Vec<_> = said.values().filter_map(dew).collect();
        for (place, said) in said {
            let off = off(said.temperature.get(), &temperatures) / limits.apart.get();
            let dew_off = dew(said).map_or(0.0, |dew| self::off(dew, &dews) / limits.dew_apart.get());
            let edge = self.edges.entry(place.clone()).or_default();
            *edge = edge.assess(off.max(dew_off), 1.0, 1.0 - REASON_AGAIN, now);
        }
        self.edges.retain(|_, edge| edge.is_over());
    }

    /// Places that have been off for long enough.
    pub fn doubted(&self, limits: &DoubtLimits, now: Mono) -> Vec<PlaceId> {
        let lasted = self.edges.iter().filter(|(_, edge)| edge.lasted(limits.after, now));
        lasted.map(|(place, _)| place.clone()).collect()
    }

    /// When the next one will have been.
    pub fn next_deadline(&self, limits: &DoubtLimits, now: Mono) -> Option<Mono> {
        crate::heat::edge::next_due(self.edges.values(), limits.after, now)
    }
}

/// How far a value is from what the others make likely: the median of three or more, the other one of two.
fn off(value: f64, all: &[f64]) -> f64 {
    let mut sorted = all.to_vec();
    sorted.sort_by(f64::total_cmp);
    match sorted.as_slice() {
        [] | [_] => 0.0,
        [least, most] => most - least,
        _ => {
            let middle = sorted.len() / 2;
            let median =
                if sorted.len() % 2 == 1 { sorted[middle] } else { (sorted[middle - 1] + sorted[middle]) / 2.0 };
            (value - median).abs()
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::limits::Limits;

    const MINUTE: u64 = 60_000;

    /// Tells a minute what each place says, in °C and %; then who is doubted.
    fn doubted(doubt: &mut Doubt, minute: u64, said: &[(&str, f64, f64)]) -> Vec<String> {
        let limits = Limits::default().heat.doubt;
        let said = said
            .iter()
            .map(|(place, t, rh)| {
                (PlaceId::from(*place), Said { temperature: Celsius(*t), humidity: RelativeHumidity(*rh) })
            })
            .collect();
        doubt.assess(&said, &limits, Mono(minute * MINUTE));
        doubt.doubted(&limits, Mono(minute * MINUTE)).iter().map(PlaceId::to_string).collect()
    }

    #[test]
    fn of_three_the_one_that_is_off_is_named_once_it_has_lasted() {
        let mut doubt = Doubt::default();
        let off = [("aisle", 24.0, 60.0), ("arena", 27.0, 50.0), ("loft", 40.0, 25.0)];
        assert!(doubted(&mut doubt, 0, &off).is_empty());
        assert!(doubted(&mut doubt, 29, &off).is_empty());
        assert_eq!(doubt.next_deadline(&Limits::default().heat.doubt, Mono(0)), Some(Mono(30 * MINUTE)));
        assert_eq!(doubted(&mut doubt, 30, &off), ["loft"]);
        // 27 °C and 34 °C are 7 apart: within the limit, and not yet within reason again.
        assert_eq!(doubted(&mut doubt, 31, &[off[0], off[1], ("loft", 34.0, 32.0)]), ["loft"]);
        assert!(doubted(&mut doubt, 32, &[off[0], off[1], ("loft", 33.0, 35.0)]).is_empty());
    }

    #[test]
    fn of_two_nobody_can_say_which() {
        let mut doubt = Doubt::default();
        let apart = [("aisle", 18.0, 60.0), ("arena", 27.0, 40.0)];
        doubted(&mut doubt, 0, &apart);
        assert_eq!(doubted(&mut doubt, 30, &apart), ["aisle", "arena"]);
        // One of them falls silent: nobody contradicts the other, and nobody confirms it.
        assert_eq!(doubted(&mut doubt, 40, &apart[..1]), ["aisle", "arena"]);
    }

    #[test]
    fn a_humidity_that_can_not_be_is_told_by_its_dew_point_and_a_warm_arena_is_fine() {
        let mut doubt = Doubt::default();
        // 30 °C with 40 % and 24 °C with 57 % hold the same water; 24 °C with 20 % holds 15 °C of dew point less.
        let fine = [("aisle", 24.0, 57.0), ("arena", 30.0, 40.0), ("loft", 27.0, 50.0)];
        let dry = [fine[0], fine[1], ("loft", 24.0, 20.0)];
        for minute in [0, 60] {
            assert!(doubted(&mut doubt, minute, &fine).is_empty());
        }
        doubted(&mut doubt, 61, &dry);
        assert_eq!(doubted(&mut doubt, 91, &dry), ["loft"]);
    }
}
