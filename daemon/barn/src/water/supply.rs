//! All the water of one place, a stall or a paddock, taken together: how much there is to drink, and what has happened to
//! it. Knows no horse and no alarm: it says what state the water is in and since when.
//!
//! ```text
//!                     under `empty`                    under `low`
//!   empty ◀──────────────────────────── low ◀──────────────────────── enough
//!     │       over `empty` + deadband    ▲    over `low` + deadband     ▲
//!     └─────────────────────────────────┴──────────────────────────────┘
//! ```
//!
//! What was known is kept while a sensor is faulty, for an alarm that stood must not end because its sensor broke.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::bucket::{Bucket, Fault, Flow, How};
use super::vessel::Refused;
use crate::board::WaterState;
use crate::book::Vessel;
use crate::input::Sensor;
use crate::limits::WaterLimits;
use crate::time::Mono;
use crate::units::{Litres, Millimetres, Percent};

/// What happened is kept so long, in milliseconds: the card shows a day and a night.
const KEPT_MS: u64 = 36 * 3_600_000;
/// And so much of it.
const KEPT: usize = 48;
/// A drink that follows another within this is the same one, in milliseconds: the horse took breath.
const SAME_DRINK_MS: u64 = 240_000;
/// A drink of less than this is not told by itself, in litres.
pub const TOLD_FROM: f64 = 0.5;

/// The water of one place.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub struct Supply {
    #[serde(with = "crate::pairs")]
    buckets: BTreeMap<Sensor, Bucket>,
    content: Option<Content>,
    happened: Vec<Happening>,
}

/// What there is to drink.
#[derive(Clone, Copy, PartialEq, Debug, Serialize, Deserialize)]
pub struct Content {
    /// How much.
    pub litres: Litres,
    /// Of what all its vessels hold when full.
    pub percent: Percent,
    /// Enough, low or empty.
    pub state: WaterState,
    /// Since when it is in that state.
    pub since: Mono,
}

/// Something that happened to the water.
#[derive(Clone, Copy, PartialEq, Debug, Serialize, Deserialize)]
pub struct Happening {
    /// What: a drink, a refill or a spill.
    pub how: How,
    /// How many litres.
    pub litres: Litres,
    /// When it began, as far as seen.
    pub from: Mono,
    /// When it was over.
    pub to: Mono,
}

impl Supply {
    /// The same water after a new book: buckets that stand there now, with what is known of those that stood there before.
    pub fn with(&mut self, vessels: impl IntoIterator<Item = (Sensor, Vessel)>, now: Mono, limits: &WaterLimits) {
        let mut before = std::mem::take(&mut self.buckets);
        for (sensor, vessel) in vessels {
            let bucket = match before.remove(&sensor) {
                Some(bucket) => bucket.measured_as(&vessel),
                None => Bucket::new(vessel),
            };
            self.buckets.insert(sensor, bucket);
        }
        self.add_up(now, limits);
    }

    /// Takes a reading of one of its sensors, and says what came and went by it. `gap` is the usual time between two
    /// readings of that sensor in milliseconds, where known.
    ///
    /// # Errors
    /// Where the level can not be in that vessel.
    pub fn take(
        &mut self,
        sensor: &Sensor,
        reading: Millimetres,
        at: Mono,
        gap: Option<u64>,
        limits: &WaterLimits,
    ) -> Result<Vec<Flow>, Refused> {
        let Some(bucket) = self.buckets.get_mut(sensor) else { return Ok(Vec::new()) };
        let flows = bucket.take(reading, at, gap)?;
        self.note(&flows, at, limits);
        Ok(flows)
    }

    /// Time passes: a change of a bucket that nothing contradicted counts.
    pub fn wait(&mut self, sensor: &Sensor, now: Mono, gap: Option<u64>, limits: &WaterLimits) -> Vec<Flow> {
        let Some(bucket) = self.buckets.get_mut(sensor) else { return Vec::new() };
        let flows = bucket.wait(now, gap);
        self.note(&flows, now, limits);
        flows
    }

    /// What there is to drink; none until every vessel was heard once.
    pub fn content(&self) -> Option<Content> {
        self.content
    }

    /// What all its vessels hold when full.
    pub fn full(&self) -> Litres {
        Litres(self.buckets.values().map(|bucket| bucket.full().get()).sum())
    }

    /// Its buckets by their sensors.
    pub fn buckets(&self) -> &BTreeMap<Sensor, Bucket> {
        &self.buckets
    }

    /// The first fault of its sensors, and since when.
    pub fn fault(&self) -> Option<(Fault, Mono)> {
        self.buckets.values().find_map(Bucket::fault)
    }

    /// Drinks, refills and spills of the last day and a half, oldest first. What was too little to be told is left out.
    pub fn happened(&self) -> impl DoubleEndedIterator<Item = &Happening> {
        self.happened.iter().filter(|one| one.how != How::Drank || one.litres.get() >= TOLD_FROM)
    }

    fn note(&mut self, flows: &[Flow], now: Mono, limits: &WaterLimits) {
        for flow in flows {
            self.remember(flow);
        }
        let first = self.happened.partition_point(|one| now.since(one.to) > KEPT_MS);
        self.happened.drain(..first.max(self.happened.len().saturating_sub(KEPT)));
        // Where nothing came or went there is as much as before.
        if !flows.is_empty() || self.content.is_none() {
            // A state begins when the water changed, though it counts only once it is sure.
            let changed = flows.iter().map(Flow::middle).max();
            self.add_up(changed.unwrap_or(now), limits);
        }
    }

    fn remember(&mut self, flow: &Flow) {
        let Flow { how, litres, from, to, .. } = *flow;
        match how {
            How::Sipped | How::Leaked | How::Unseen => {}
            How::NotRefilled => {
                if let Some(at) = self.happened.iter().rposition(|one| one.how == How::Refilled) {
                    self.happened.remove(at);
                }
            }
            How::Drank | How::Refilled | How::Spilled => {
                if let Some(last) = self.happened.last_mut()
                    && last.how == how
                    && from.since(last.to) <= SAME_DRINK_MS
                {
                    last.litres = Litres(last.litres.get() + litres.get());
                    last.to = to;
                    return;
                }
                self.happened.push(Happening { how, litres, from, to });
            }
        }
    }

    fn add_up(&mut self, since: Mono, limits: &WaterLimits) {
        let known = self.buckets.values().map(|bucket| bucket.level().map(|level| level.litres.get()));
        let Some(litres) = known.sum::<Option<f64>>().filter(|_| !self.buckets.is_empty()) else {
            self.content = None;
            return;
        };
        let percent = Percent(100.0 * litres / self.full().get().max(f64::MIN_POSITIVE));
        let before = self.content;
        let state = next_state(before.map(|content| content.state), percent, limits);
        let since = before.filter(|content| content.state == state).map_or(since, |content| content.since);
        self.content = Some(Content { litres: Litres(litres), percent, state, since });
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
    use crate::book::{Gauge, Shape};
    use crate::limits::Limits;

    const MINUTE: u64 = 60_000;

    /// A straight bucket of 300 mm: a level in mm is 3 times its percent.
    fn straight() -> Vessel {
        let (across, height) = (Millimetres(280.0), Millimetres(300.0));
        let gauge = Gauge::Up { at_bottom: Millimetres(0.0) };
        Vessel { shape: Shape::Round { bottom: across, top: across, height }, gauge }
    }

    fn sensor(name: &str) -> Sensor {
        Sensor::Water(name.into())
    }

    /// So many straight buckets, and minute by minute the percent that each of their sensors tells.
    fn supply(buckets: &[&str]) -> Supply {
        let mut supply = Supply::default();
        let vessels = buckets.iter().map(|name| (sensor(name), straight()));
        supply.with(vessels, Mono(0), &Limits::default().water);
        supply
    }

    fn tell(supply: &mut Supply, name: &str, percent: f64, minute: u64, gap: Option<u64>) {
        let limits = Limits::default().water; // low 25, empty 6, deadband 4
        supply.take(&sensor(name), Millimetres(percent * 3.0), Mono(minute * MINUTE), gap, &limits).expect("it can be");
    }

    #[test]
    fn states_have_a_deadband() {
        use WaterState::{Empty, Enough, Low};
        let mut supply = supply(&["1"]);
        for (minute, (percent, state)) in [
            (80.0, Enough),
            (25.0, Low),
            (28.0, Low),
            (30.1, Enough),
            (26.0, Enough),
            (6.0, Empty),
            (9.9, Empty),
            (12.1, Low),
            (7.0, Low),
            (2.0, Empty),
            (95.0, Enough),
        ]
        .into_iter()
        .enumerate()
        {
            tell(&mut supply, "1", percent, minute as u64, None);
            assert_eq!(supply.content().map(|content| content.state), Some(state), "at {percent} %");
        }
    }

    #[test]
    fn two_buckets_add_up_and_one_that_was_never_heard_makes_the_sum_unknown() {
        let mut supply = supply(&["1", "1 far"]);
        tell(&mut supply, "1", 2.0, 0, None);
        assert_eq!(supply.content(), None);
        tell(&mut supply, "1 far", 80.0, 1, None);
        let content = supply.content().expect("both are known");
        assert!((content.percent.get() - 41.0).abs() < 0.01 && content.state == WaterState::Enough, "{content:?}");
        assert!((content.litres.get() - 0.82 * 18.4726).abs() < 0.001);
        tell(&mut supply, "1 far", 3.0, 2, None);
        assert_eq!(supply.content().map(|content| content.state), Some(WaterState::Empty));
    }

    #[test]
    fn an_older_level_is_left_aside_and_since_is_when_the_state_began() {
        let mut supply = supply(&["1"]);
        tell(&mut supply, "1", 1.0, 10, None);
        tell(&mut supply, "1", 90.0, 5, None);
        tell(&mut supply, "1", 2.0, 20, None);
        let content = supply.content().expect("heard");
        assert_eq!((content.state, content.since), (WaterState::Empty, Mono(10 * MINUTE)));
    }

    #[test]
    fn what_happened_is_kept_a_drink_with_a_breath_in_it_as_one() {
        let mut supply = supply(&["1"]);
        let gap = Some(MINUTE);
        let mut minute = 0;
        for (percent, minutes) in [(80.0, 5), (72.0, 2), (64.0, 20), (96.0, 20), (60.0, 5)] {
            for _ in 0..minutes {
                tell(&mut supply, "1", percent, minute, gap);
                minute += 1;
            }
        }
        let told: Vec<_> = supply.happened().map(|one| format!("{:?} {:.1}", one.how, one.litres)).collect();
        assert_eq!(told, ["Drank 3.0 L", "Refilled 5.9 L", "Drank 6.7 L"]);
        for late in 0..5 {
            tell(&mut supply, "1", 60.0, minute + 36 * 60 + late, gap);
        }
        assert_eq!(supply.happened().count(), 0, "a day and a half later");
    }
}
