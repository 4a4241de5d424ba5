//! What comes and goes by itself in one bucket: whether it leaks or its sensor drifts, since when, and how far the water
//! has fallen by that. Joins what [`Steady`] finds now with what it found before.

use serde::{Deserialize, Serialize};

use super::steady::{Slope, Steady};
use crate::time::Mono;

/// By how much a slope must tell the readings cheaper than rests do, and how many times in a row, ten minutes apart: a horse
/// may sip steadily for an hour. Where ten minutes hold many readings,
const OFTEN: (f64, u32) = (21.0, 2);
/// and where they hold one.
const SLOW: (f64, u32) = (16.0, 1);
/// What was lost is told by the hour, in milliseconds: a night has two days.
const HOUR_MS: u64 = 3_600_000;

/// What goes steadily.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub struct Leak {
    steady: Steady,
    slope: Option<Slope>,
    /// How many times in a row one was seen that is not believed yet.
    seen: u32,
    /// Up to when its fall was told.
    told: Mono,
}

/// How far the water fell by itself in a time that has not been told yet, of an hour at most.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Fell {
    /// From when.
    pub from: Mono,
    /// To when.
    pub to: Mono,
    /// How far, in millimetres; under zero where it rose, or did not fall after all.
    pub millimetres: f64,
}

impl Leak {
    /// Takes a height in millimetres. Once in ten minutes says what has fallen by itself. `slow` is a sensor that speaks but once
    /// in that time, `scatter` the standard deviation of its readings in millimetres.
    pub fn take(&mut self, height: f64, at: Mono, slow: bool, scatter: f64) -> Vec<Fell> {
        if !self.steady.take(height, at) {
            return Vec::new();
        }
        let Some(before) = self.slope else {
            let (sure, times) = if slow { SLOW } else { OFTEN };
            let found = self.steady.slope(scatter, sure);
            self.seen = if found.is_some() { self.seen + 1 } else { 0 };
            let Some(slope) = found.filter(|_| self.seen >= times) else { return Vec::new() };
            self.slope = Some(slope);
            return self.fell(slope.since, at, slope.mm_per_hour);
        };
        // What came and went while nobody heard is not known to have leaked.
        let from = Mono(self.told.0.max(at.0.saturating_sub(HOUR_MS)));
        let mut fell = self.fell(from, at, before.mm_per_hour);
        if let Some(rests) = self.steady.rests_since(&before, scatter) {
            // What was taken to have fallen since then has not, and what fell before is told: it must not be found again.
            fell.extend(self.fell(rests, at, -before.mm_per_hour));
            self.steady.forget_all_before(rests);
            (self.slope, self.seen) = (None, 0);
        } else if let Some(slope) = self.steady.slope(scatter, 0.0)
            && slope.mm_per_hour * before.mm_per_hour > 0.0
        {
            self.slope = Some(Slope { since: before.since, ..slope });
        }
        fell
    }

    /// The steady change that there is.
    pub fn slope(&self) -> Option<&Slope> {
        self.slope.as_ref()
    }

    fn fell(&mut self, from: Mono, to: Mono, mm_per_hour: f64) -> Vec<Fell> {
        self.told = to;
        let hours = (0..to.since(from).div_ceil(HOUR_MS)).map(|hour| from.plus(hour * HOUR_MS));
        hours
            .map(|from| {
                let to = to.min(from.plus(HOUR_MS));
                Fell { from, to, millimetres: -mm_per_hour * to.since(from) as f64 / HOUR_MS as f64 }
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const MINUTE: u64 = 60_000;

    /// Feeds heights so many minutes apart, and gives how far the water fell by itself in all.
    fn feed(leak: &mut Leak, every: u64, begins: u64, heights: impl IntoIterator<Item = f64>) -> f64 {
        let at = |n: u64| Mono((begins + n * every) * MINUTE);
        let heights = (0..).zip(heights).map(|(n, height)| (n, height + [0.0, 1.0, -1.0, 2.0, -2.0][n as usize % 5]));
        heights.flat_map(|(n, height)| leak.take(height, at(n), every > 5, 1.5)).map(|fell| fell.millimetres).sum()
    }

    #[test]
    fn what_fell_before_anybody_knew_is_told_and_what_did_not_fall_is_taken_back() {
        for every in [1, 10] {
            let mut leak = Leak::default();
            assert_eq!(feed(&mut leak, every, 0, (0..240 / every).map(|_| 290.0)), 0.0);
            assert_eq!(leak.slope(), None);
            let falls = (0..180 / every).map(|n| 290.0 - 0.4 * (n * every) as f64);
            let fell = feed(&mut leak, every, 240, falls);
            assert!((fell - 72.0).abs() < 10.0, "every {every} min: {fell:.1} mm of 72");
            assert!(leak.slope().is_some_and(|slope| (slope.mm_per_hour + 24.0).abs() < 3.0), "{leak:?}");
            let fell = fell + feed(&mut leak, every, 420, (0..120 / every).map(|_| 218.0));
            assert!((fell - 72.0).abs() < 10.0, "every {every} min: {fell:.1} mm of 72");
            assert_eq!(leak.slope(), None, "two hours later it is tight");
        }
    }

    #[test]
    fn what_came_while_nobody_heard_has_not_leaked() {
        let mut leak = Leak::default();
        feed(&mut leak, 1, 0, (0..180).map(|n| 290.0 - 0.4 * f64::from(n)));
        assert!(leak.slope().is_some());
        let fell = feed(&mut leak, 1, 180 + 600, (0..12).map(|_| 218.0));
        assert!(fell < 24.0 * 1.5, "{fell:.1} mm");
    }
}
