//! Which band the heat is in for horses, and when that is worth an alarm.
//!
//! Two rules, and the more cautious of them counts:
//!
//! - The **horse sum**, with the limits of US Equestrian. It counts from [`HeatLimits::from_air`] on: cold air is nearly always
//!   damp, and 10 °C in fog make a sum of 150 without any heat.
//! - A **floor for dry heat**, which the sum misses: 40 °C and 25 % make 129, "carry on", where Equestrian Australia calls them
//!   not compatible with safe competition. The floor takes the open-air estimate of WBGT and, last, the air
//!   temperature alone; see [`FloorLimits`](crate::limits::FloorLimits) for its numbers and their sources. Where the sum says carry
//!   on, it begins to watch at 31 °C with 40 % (88 °F), at 33 °C with 30 % (92 °F), at 36 °C with 20 % (97 °F); an ordinary
//!   warm day of 29 °C with 40 % (85 °F) stays at "carry on".
//!
//! Each limit is an [`Edge`]. The band on the screen is the highest that is over: it rises at once. The band of the
//! alarm is the highest that has been over for long enough.
//!
//! Knows no place, no sensor and no alarm: one of these stands for one place, and whoever owns it asks. When its sensor
//! falls silent nothing here changes; that the band is old is for the owner to say.

use serde::{Deserialize, Serialize};

use super::edge::{self, Edge};
use super::indices::{HorseSum, wbgt_open_air};
use crate::board::HeatBand;
use crate::limits::HeatLimits;
use crate::time::Mono;

/// The bands of one place. A new one has seen no heat.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
pub struct Bands {
    /// Warm enough for the sum to mean anything.
    warm: Edge,
    /// The sum's limits: watch, critical, stop.
    sum: [Edge; 3],
    /// The floor's limits for the same bands.
    floor: [Edge; 3],
}

/// The bands above "carry on", rising.
const RISING: [HeatBand; 3] = [HeatBand::Watch, HeatBand::Critical, HeatBand::Stop];

impl Bands {
    /// These bands after new air.
    ///
    /// The limits belong to the upper band: 150 is critical, 180 is stop. In print these two edges are open, and this is
    /// the cautious side of both.
    #[must_use]
    pub fn assess(self, air: HorseSum, limits: &HeatLimits, now: Mono) -> Self {
        let floor = &limits.floor;
        let warm = self.warm.assess(air.air().get(), limits.from_air.get(), floor.deadband.get(), now);
        let sum = if warm.is_over() { air.get() } else { f64::NEG_INFINITY };
        // Above 50 °C there is no such estimate, and the limit on the air is long passed.
        let open_air = wbgt_open_air(air.air(), air.humidity()).map_or(f64::NEG_INFINITY, |wbgt| wbgt.get());
        let open_air = if air.air().get() > floor.stop_air.get() { f64::INFINITY } else { open_air };
        let on_sum = |edge: Edge, limit: f64| edge.assess(sum, limit, limits.deadband, now);
        let on_floor = |edge: Edge, value: f64, limit: f64| edge.assess(value, limit, floor.deadband.get(), now);
        Self {
            warm,
            sum: [
                on_sum(self.sum[0], limits.watch),
                on_sum(self.sum[1], limits.critical),
                on_sum(self.sum[2], limits.stop),
            ],
            floor: [
                on_floor(self.floor[0], open_air, floor.watch_wbgt.get()),
                on_floor(self.floor[1], open_air, floor.critical_wbgt.get()),
                on_floor(self.floor[2], air.air().get(), floor.stop_air.get()),
            ],
        }
    }

    /// The band to show.
    pub fn shown(&self) -> HeatBand {
        self.highest(Edge::is_over)
    }

    /// The band by the sum alone.
    pub fn by_sum(&self) -> HeatBand {
        edge::highest(&steps(self.sum), Edge::is_over).unwrap_or(HeatBand::CarryOn)
    }

    /// The band that has lasted long enough to call somebody; [`HeatBand::CarryOn`] is no alarm.
    pub fn alarm(&self, limits: &HeatLimits, now: Mono) -> HeatBand {
        self.highest(|edge| edge.lasted(limits.alarm_after, now))
    }

    /// When [`alarm`](Self::alarm) may rise by itself, if no other air comes. Never in the past.
    pub fn next_deadline(&self, limits: &HeatLimits, now: Mono) -> Option<Mono> {
        let standing = self.alarm(limits, now);
        let rising = steps(self.sum).into_iter().chain(steps(self.floor)).filter(|(band, _)| *band > standing);
        let rising: Vec<Edge> = rising.map(|(_, edge)| edge).collect();
        edge::next_due(&rising, limits.alarm_after, now)
    }

    fn highest(&self, holds: impl Fn(Edge) -> bool) -> HeatBand {
        let by = |edges| edge::highest(&steps(edges), &holds).unwrap_or(HeatBand::CarryOn);
        by(self.sum).max(by(self.floor))
    }
}

fn steps(edges: [Edge; 3]) -> [(HeatBand, Edge); 3] {
    [(RISING[0], edges[0]), (RISING[1], edges[1]), (RISING[2], edges[2])]
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::limits::Limits;
    use crate::units::{Celsius, Fahrenheit, RelativeHumidity};

    const MINUTE: u64 = 60_000;

    fn sum(sum: f64) -> HorseSum {
        air(sum - 60.0, 60.0)
    }

    fn air(fahrenheit: f64, humidity: f64) -> HorseSum {
        HorseSum::new(Fahrenheit(fahrenheit).celsius(), RelativeHumidity(humidity)).expect("in range")
    }

    /// The proposed limits with the sum's rule alone.
    fn sum_alone() -> HeatLimits {
        let mut limits = Limits::default().heat;
        limits.from_air = Celsius(-60.0);
        limits.floor.watch_wbgt = Celsius(90.0);
        limits.floor.critical_wbgt = Celsius(91.0);
        limits.floor.stop_air = Celsius(92.0);
        limits
    }

    /// Feeds (minute, sum, band shown, band of the alarm) and checks both after each.
    fn check(lines: &[(u64, f64, HeatBand, HeatBand)]) -> Bands {
        let limits = sum_alone();
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
        let limits = sum_alone();
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
        let limits = sum_alone();
        let bands = check(&[(0, 135.0, Watch, CarryOn), (4, 155.0, Critical, CarryOn)]);
        assert_eq!(bands.next_deadline(&limits, Mono(4 * MINUTE)), Some(Mono(10 * MINUTE)));
        assert_eq!(bands.next_deadline(&limits, Mono(10 * MINUTE)), Some(Mono(14 * MINUTE)));
        assert_eq!(bands.alarm(&limits, Mono(14 * MINUTE)), Critical);
        assert_eq!(bands.next_deadline(&limits, Mono(14 * MINUTE)), None);
    }

    #[test]
    fn dry_heat_is_not_missed_and_an_ordinary_warm_day_is_none() {
        let limits = Limits::default().heat;
        for (celsius, humidity, by_sum, shown) in [
            // Equestrian Australia's two pairs, and what the head of this file says of the floor.
            (40.0, 25.0, CarryOn, Stop),
            (32.0, 60.0, Watch, Critical),
            (31.0, 40.0, CarryOn, Watch),
            (33.2, 30.0, CarryOn, Watch),
            (36.0, 20.0, CarryOn, Watch),
            (35.0, 40.0, Watch, Critical),
            (29.4, 40.0, CarryOn, CarryOn),
            (31.0, 30.0, CarryOn, CarryOn),
            (27.0, 45.0, CarryOn, CarryOn),
            (55.0, 5.0, Watch, Stop),
        ] {
            let air = HorseSum::new(Celsius(celsius), RelativeHumidity(humidity)).expect("in range");
            let bands = Bands::default().assess(air, &limits, Mono(0));
            assert_eq!((bands.by_sum(), bands.shown()), (by_sum, shown), "{celsius} °C, {humidity} %");
        }
    }

    #[test]
    fn cold_air_is_never_heat_however_damp() {
        let limits = Limits::default().heat;
        for (fahrenheit, band) in
            [(-20.0, CarryOn), (32.0, CarryOn), (50.0, CarryOn), (58.9, CarryOn), (60.0, Critical)]
        {
            let bands = Bands::default().assess(air(fahrenheit, 100.0), &limits, Mono(0));
            assert_eq!(bands.shown(), band, "{fahrenheit} °F in fog");
        }
        // Hovering about the limit on the air it does not flicker.
        let warm = Bands::default().assess(air(60.0, 100.0), &limits, Mono(0));
        let cooler = warm.assess(air(58.0, 100.0), &limits, Mono(1));
        assert_eq!((cooler.shown(), cooler.assess(air(57.0, 100.0), &limits, Mono(2)).shown()), (Critical, CarryOn));
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
