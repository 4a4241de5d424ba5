//! Which band the horse sum is in, and when that is worth an alarm. A sum that hovers about a limit must neither flicker
//! on the screen nor call anybody twice.
//!
//! Knows no place, no sensor and no alarm: one of these stands for one place, and whoever owns it asks. When its sensor
//! falls silent nothing here changes; that the band is old is for the owner to say.
//!
//! Each of the three limits has a small machine of its own:
//!
//! ```text
//!            sum >= limit                  lasted alarm_after
//!   Under ------------------> Over(since) - - - - - - - - - - -> Over, and an alarm
//!     ^                           |                                     |
//!     '---------------------------'-------------------------------------'
//!                   sum <  limit - deadband
//! ```
//!
//! The band on the screen is the highest limit that is Over: it rises at once. The band of the alarm is the highest limit
//! that has been Over for long enough. Between limit and limit - deadband nothing changes.
//!
//! One clock per limit, and not one for all: a sum that goes back and forth over 150 has been over 130 all the while.

use serde::{Deserialize, Serialize};

use super::indices::HorseSum;
use crate::board::HeatBand;
use crate::limits::HeatLimits;
use crate::time::Mono;

/// The bands of one place. A new one has seen no heat.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
pub struct Bands {
    watch: Edge,
    critical: Edge,
    stop: Edge,
}

/// One limit.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
enum Edge {
    #[default]
    Under,
    Over {
        since: Mono,
    },
}

impl Bands {
    /// These bands after a new sum.
    ///
    /// The limits belong to the upper band: 150 is critical, 180 is stop. In print these two edges are open, and this is
    /// the cautious side of both.
    #[must_use]
    pub fn assess(self, sum: HorseSum, limits: &HeatLimits, now: Mono) -> Self {
        let edge = |edge: Edge, limit: f64| edge.assess(sum.get(), limit, limits.deadband, now);
        Self {
            watch: edge(self.watch, limits.watch),
            critical: edge(self.critical, limits.critical),
            stop: edge(self.stop, limits.stop),
        }
    }

    /// The band to show.
    pub fn shown(&self) -> HeatBand {
        self.highest(|edge| edge.since().is_some())
    }

    /// The band that has lasted long enough to call somebody; [`HeatBand::CarryOn`] is no alarm.
    pub fn alarm(&self, limits: &HeatLimits, now: Mono) -> HeatBand {
        self.highest(|edge| edge.due(limits).is_some_and(|due| due <= now))
    }

    /// When [`alarm`](Self::alarm) rises by itself, if no other sum comes. Never in the past.
    pub fn next_deadline(&self, limits: &HeatLimits, now: Mono) -> Option<Mono> {
        let standing = self.alarm(limits, now);
        let rising = self.edges().into_iter().filter(|(band, _)| *band > standing);
        rising.filter_map(|(_, edge)| edge.due(limits)).filter(|due| *due > now).min()
    }

    fn highest(&self, holds: impl Fn(Edge) -> bool) -> HeatBand {
        let held = self.edges().into_iter().filter(|(_, edge)| holds(*edge)).map(|(band, _)| band);
        held.max().unwrap_or(HeatBand::CarryOn)
    }

    fn edges(&self) -> [(HeatBand, Edge); 3] {
        [(HeatBand::Watch, self.watch), (HeatBand::Critical, self.critical), (HeatBand::Stop, self.stop)]
    }
}

impl Edge {
    fn assess(self, sum: f64, limit: f64, deadband: f64, now: Mono) -> Self {
        match self {
            // A temperature that was given as 70 °F comes back from Celsius as 69.999...: still 70.
            Edge::Under if sum >= limit - ROUNDING => Edge::Over { since: now },
            Edge::Over { .. } if sum < limit - deadband - ROUNDING => Edge::Under,
            unchanged => unchanged,
        }
    }

    fn since(self) -> Option<Mono> {
        match self {
            Edge::Under => None,
            Edge::Over { since } => Some(since),
        }
    }

    fn due(self, limits: &HeatLimits) -> Option<Mono> {
        self.since().map(|since| since.plus(limits.alarm_after.as_millis()))
    }
}

/// Far below what a sensor resolves, far above what arithmetic loses.
const ROUNDING: f64 = 1e-9;

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::limits::Limits;
    use crate::units::{Fahrenheit, RelativeHumidity};

    const MINUTE: u64 = 60_000;

    fn sum(sum: f64) -> HorseSum {
        HorseSum::new(Fahrenheit(sum - 60.0).celsius(), RelativeHumidity(60.0)).expect("in range")
    }

    /// Feeds (minute, sum, band shown, band of the alarm) and checks both after each.
    fn check(lines: &[(u64, f64, HeatBand, HeatBand)]) -> Bands {
        let limits = Limits::default().heat;
        lines.iter().fold(Bands::default(), |bands, (minute, value, shown, alarm)| {
            let now = Mono(minute * MINUTE);
            let bands = bands.assess(sum(*value), &limits, now);
            assert_eq!((bands.shown(), bands.alarm(&limits, now)), (*shown, *alarm), "minute {minute}, sum {value}");
            bands
        })
    }

    use HeatBand::{CarryOn, Critical, Stop, Watch};

    #[test]
    fn the_limits_belong_to_the_upper_band() {
        for (value, band) in [
            (129.9, CarryOn),
            (130.0, Watch),
            (149.9, Watch),
            (150.0, Critical),
            (179.9, Critical),
            (180.0, Stop),
            (181.0, Stop),
        ] {
            check(&[(0, value, band, CarryOn)]);
        }
    }

    #[test]
    fn whole_fahrenheit_through_celsius_still_reaches_the_limit() {
        let limits = Limits::default().heat;
        for fahrenheit in 50..=120 {
            let air = Fahrenheit(f64::from(fahrenheit)).celsius();
            let humidity = RelativeHumidity(150.0 - f64::from(fahrenheit));
            let sum = HorseSum::new(air, humidity).expect("in range");
            assert_eq!(Bands::default().assess(sum, &limits, Mono(0)).shown(), Critical, "{fahrenheit} °F");
        }
    }

    #[test]
    fn a_band_is_left_only_past_the_deadband() {
        check(&[
            (0, 150.0, Critical, CarryOn),
            (1, 147.0, Critical, CarryOn),
            (2, 146.9, Watch, CarryOn),
            (3, 149.9, Watch, CarryOn),
            (4, 127.0, Watch, CarryOn),
            (5, 126.9, CarryOn, CarryOn),
        ]);
    }

    #[test]
    fn an_alarm_waits_and_a_short_peak_is_none() {
        check(&[
            (0, 152.0, Critical, CarryOn),
            (9, 152.0, Critical, CarryOn),
            (10, 152.0, Critical, Critical),
            (11, 140.0, Watch, Watch),
            (12, 120.0, CarryOn, CarryOn),
            (13, 152.0, Critical, CarryOn),
            (14, 120.0, CarryOn, CarryOn),
            (30, 120.0, CarryOn, CarryOn),
        ]);
    }

    #[test]
    fn going_back_and_forth_over_a_limit_does_not_put_off_the_one_below() {
        check(&[
            (0, 155.0, Critical, CarryOn),
            (4, 140.0, Watch, CarryOn),
            (8, 155.0, Critical, CarryOn),
            (10, 140.0, Watch, Watch),
        ]);
    }

    #[test]
    fn each_higher_band_has_its_own_deadline() {
        let limits = Limits::default().heat;
        let bands = check(&[(0, 135.0, Watch, CarryOn), (4, 155.0, Critical, CarryOn)]);
        assert_eq!(bands.next_deadline(&limits, Mono(4 * MINUTE)), Some(Mono(10 * MINUTE)));
        assert_eq!(bands.next_deadline(&limits, Mono(10 * MINUTE)), Some(Mono(14 * MINUTE)));
        assert_eq!(bands.alarm(&limits, Mono(14 * MINUTE)), Critical);
        assert_eq!(bands.next_deadline(&limits, Mono(14 * MINUTE)), None);
    }

    #[test]
    fn bands_survive_being_written_down() {
        let bands = check(&[(0, 135.0, Watch, CarryOn), (4, 155.0, Critical, CarryOn)]);
        let text = serde_json::to_string(&bands).expect("plain data");
        assert_eq!(serde_json::from_str::<Bands>(&text).expect("as written"), bands);
    }

    proptest! {
        // Whatever the sums do: the screen never shows less than the bare limits say, the alarm never more than the
        // screen, and at its deadline the alarm has risen.
        #[test]
        fn the_screen_leads_and_the_alarm_follows(values in proptest::collection::vec((0_u64..8, 100.0..200.0), 1..60)) {
            let limits = Limits::default().heat;
            let (mut bands, mut now) = (Bands::default(), Mono(0));
            for (minutes, value) in values {
                now = now.plus(minutes * MINUTE);
                bands = bands.assess(sum(value), &limits, now);
                let bare = Bands::default().assess(sum(value), &limits, now).shown();
                prop_assert!(bare <= bands.shown());
                let alarm = bands.alarm(&limits, now);
                prop_assert!(alarm <= bands.shown());
                match bands.next_deadline(&limits, now) {
                    Some(due) => {
                        prop_assert!(due > now);
                        prop_assert!(bands.alarm(&limits, due) > alarm);
                    }
                    None => prop_assert_eq!(alarm, bands.shown()),
                }
            }
        }
    }
}
