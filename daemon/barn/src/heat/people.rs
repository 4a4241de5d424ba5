//! The caution for people in the heat: the ladder of the US National Weather Service on its own heat index.
//!
//! The index is for the shade with a light wind; full sun can add up to 8 °C (15 °F; OSHA, "About the Heat Index"), so who
//! works in the sun is up to a step and a half further up. It knows nobody's age, health, work or medicine. Not for
//! horses: their bands are in [`bands`](super::bands).
//!
//! Each step is an [`Edge`], as for the horses.

use serde::{Deserialize, Serialize};

use super::edge::{self, Edge};
use super::indices::heat_index;
use crate::board::PeopleBand;
use crate::limits::PeopleLimits;
use crate::time::Mono;
use crate::units::{Celsius, Minutes, RelativeHumidity};

/// The caution for people of one place. A new one has seen no heat.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
pub struct PeopleBands {
    steps: [Edge; 4],
}

impl PeopleBands {
    /// These bands after new air. A limit belongs to the upper band.
    #[must_use]
    pub fn assess(self, air: Celsius, humidity: RelativeHumidity, limits: &PeopleLimits, now: Mono) -> Self {
        // Below its range the index is no measure of heat; above, nothing could be worse.
        let felt = match heat_index(air, humidity) {
            Ok(felt) => felt.fahrenheit().get(),
            Err(_) if air.get() > 50.0 => f64::INFINITY,
            Err(_) => f64::NEG_INFINITY,
        };
        let on = |edge: Edge, limit: f64| edge.assess(felt, limit, limits.deadband.get(), now);
        Self {
            steps: [
                on(self.steps[0], limits.caution.get()),
                on(self.steps[1], limits.extreme_caution.get()),
                on(self.steps[2], limits.danger.get()),
                on(self.steps[3], limits.extreme_danger.get()),
            ],
        }
    }

    /// The band to show.
    pub fn shown(&self) -> PeopleBand {
        edge::highest(&self.named(), Edge::is_over).unwrap_or(PeopleBand::NoCaution)
    }

    /// The band that has lasted long enough to call somebody.
    pub fn alarm(&self, after: Minutes, now: Mono) -> PeopleBand {
        edge::highest(&self.named(), |edge| edge.lasted(after, now)).unwrap_or(PeopleBand::NoCaution)
    }

    /// When [`alarm`](Self::alarm) may rise by itself, if no other air comes. Never in the past.
    pub fn next_deadline(&self, after: Minutes, now: Mono) -> Option<Mono> {
        edge::next_due(&self.steps, after, now)
    }

    fn named(&self) -> [(PeopleBand, Edge); 4] {
        let [caution, extreme_caution, danger, extreme_danger] = self.steps;
        [
            (PeopleBand::Caution, caution),
            (PeopleBand::ExtremeCaution, extreme_caution),
            (PeopleBand::Danger, danger),
            (PeopleBand::ExtremeDanger, extreme_danger),
        ]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::limits::Limits;
    use crate::units::Fahrenheit;

    fn at(bands: PeopleBands, fahrenheit: f64, humidity: f64, minute: u64) -> PeopleBands {
        let limits = Limits::default().heat.people;
        bands.assess(Fahrenheit(fahrenheit).celsius(), RelativeHumidity(humidity), &limits, Mono(minute * 60_000))
    }

    #[test]
    fn the_ladder_is_the_nwss() {
        use PeopleBand::*;
        for (fahrenheit, humidity, band) in [
            (35.0, 100.0, NoCaution), // below the index' own range
            (79.0, 40.0, NoCaution),
            (80.0, 100.0, Caution),       // 89 °F
            (90.0, 40.0, ExtremeCaution), // 91
            (92.0, 65.0, Danger),         // 108
            (96.0, 65.0, Danger),         // 121
            (98.0, 70.0, ExtremeDanger),  // 134
            (125.0, 5.0, ExtremeDanger),  // above the index' own range
        ] {
            assert_eq!(
                at(PeopleBands::default(), fahrenheit, humidity, 0).shown(),
                band,
                "{fahrenheit} °F, {humidity} %"
            );
        }
    }

    #[test]
    fn it_is_left_past_its_deadband_and_calls_when_it_has_lasted() {
        let after = Limits::default().heat.alarm_after;
        let hot = at(PeopleBands::default(), 92.0, 65.0, 0);
        assert_eq!(hot.alarm(after, Mono(0)), PeopleBand::NoCaution);
        assert_eq!(hot.next_deadline(after, Mono(0)), Some(Mono(after.as_millis())));
        assert_eq!(hot.alarm(after, Mono(after.as_millis())), PeopleBand::Danger);
        // 102 °F is within the deadband of 103, 100 °F is not.
        assert_eq!(at(hot, 89.6, 65.0, 1).shown(), PeopleBand::Danger);
        assert_eq!(at(hot, 88.5, 65.0, 1).shown(), PeopleBand::ExtremeCaution);
    }
}
