//! Water that falls or rises steadily, without steps: nobody drinks so and nobody fills so. It leaks; or its sensor drifts.
//! Which of the two a level can not tell while it falls; water does not rise by itself.
//!
//! Every ten minutes the middle of the readings is taken. Over the last hour, and up to four hours, the differences of these
//! are looked at, over ten minutes in an hour and over forty in four hours. Where nearly all go the same way, and the middle
//! one by more than the scatter explains, it is steady: a drink or a sip moves a few of them and not the middle. Four
//! hours are needed for a drip, one for a crack.

use serde::{Deserialize, Serialize};

use super::settle::median;
use crate::time::Mono;

/// Length of a bin, in milliseconds.
const BIN_MS: u64 = 600_000;
/// Readings closer together than this, in milliseconds, are not all kept.
const APART_MS: u64 = 15_000;
/// Bins that are kept: four hours.
const BINS: usize = 24;
/// The stretches that are looked at where ten minutes hold many readings,
const OFTEN: [Stretch; 4] = [
    Stretch { bins: 7, lag: 1, at_least: 8.0, sure: 2.7 },
    Stretch { bins: 9, lag: 1, at_least: 10.0, sure: 2.7 },
    Stretch { bins: 13, lag: 2, at_least: 14.0, sure: 3.0 },
    Stretch { bins: 24, lag: 4, at_least: 24.0, sure: 4.0 },
];
/// and where they hold one: that scatters more, and is compared over longer.
const SELDOM: [Stretch; 4] = [
    Stretch { bins: 9, lag: 2, at_least: 10.0, sure: 2.4 },
    Stretch { bins: 11, lag: 2, at_least: 12.0, sure: 2.4 },
    Stretch { bins: 13, lag: 3, at_least: 14.0, sure: 3.0 },
    Stretch { bins: 24, lag: 4, at_least: 24.0, sure: 3.6 },
];
/// This share of the differences goes the same way.
const SAME_WAY: f64 = 0.85;

/// A stretch of time that is looked at.
struct Stretch {
    /// How many bins.
    bins: usize,
    /// Over how many of them each difference goes.
    lag: usize,
    /// How far a steady change goes over it at the least, in millimetres: a horse sips that much too.
    at_least: f64,
    /// The middle difference is at least so many times as large as scatter alone makes it one time in three.
    sure: f64,
}

/// The middles of the last four hours.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub struct Steady {
    /// Number of the bin, middle height in millimetres and how many readings, oldest first.
    bins: Vec<(u64, f64, u32)>,
    /// Readings of the bin that is not over.
    open: Vec<f64>,
    open_bin: u64,
    /// When the last of them was measured.
    taken: Mono,
}

/// A steady change.
#[derive(Clone, Copy, PartialEq, Debug, Serialize, Deserialize)]
pub struct Slope {
    /// Millimetres in an hour; under zero where it falls.
    pub mm_per_hour: f64,
    /// Since when, as far as looked back.
    pub since: Mono,
}

impl Steady {
    /// Takes a height. Says true where a bin is over, and it is worth asking for [`slope`](Self::slope).
    pub fn take(&mut self, height: f64, at: Mono) -> bool {
        let bin = at.0 / BIN_MS;
        // A sensor that speaks every second says no more in ten minutes than one that speaks four times a minute.
        if bin == self.open_bin && !self.open.is_empty() && at.since(self.taken) < APART_MS {
            return false;
        }
        self.taken = at;
        let over = bin != self.open_bin && !self.open.is_empty();
        if over {
            let readings = self.open.len() as u32;
            if let Some(middle) = median(std::mem::take(&mut self.open)) {
                self.bins.push((self.open_bin, middle, readings));
            }
            let oldest = bin.saturating_sub(BINS as u64);
            self.bins.retain(|(bin, ..)| *bin >= oldest);
        }
        self.open_bin = bin;
        self.open.push(height);
        over
    }

    /// Forgets what lies further back than the last hour.
    pub fn forget_all_but_an_hour(&mut self) {
        let first = self.bins.len().saturating_sub(6);
        self.bins.drain(..first);
    }

    /// The steady change of the shortest stretch that shows one. `scatter` is the standard deviation of a reading.
    pub fn slope(&self, scatter: f64) -> Option<Slope> {
        let seldom = self.bins.last().is_some_and(|(.., readings)| *readings < 3);
        let stretches = if seldom { &SELDOM } else { &OFTEN };
        stretches.iter().find_map(|stretch| self.over(stretch, scatter))
    }

    /// True where the last hour is known and the water has neither fallen nor risen in it by more than so many millimetres.
    pub fn is_still(&self, within: f64) -> bool {
        let Some((last, ..)) = self.bins.last() else { return false };
        let hour: Vec<f64> =
            self.bins.iter().filter(|(bin, ..)| bin + 6 > *last).map(|(_, height, _)| *height).collect();
        if hour.len() < 5 {
            return false;
        }
        let mean = |heights: &[f64]| heights.iter().sum::<f64>() / heights.len() as f64;
        let half = hour.len() / 2;
        (mean(&hour[..half]) - mean(&hour[half..])).abs() <= within
    }

    fn over(&self, stretch: &Stretch, scatter: f64) -> Option<Slope> {
        let last = self.bins.last()?.0;
        let first = last.checked_sub(stretch.bins as u64 - 1)?;
        let bins: Vec<_> = self.bins.iter().filter(|(bin, ..)| *bin >= first).collect();
        // One bin may be missing: a radio loses a word now and then.
        if bins.len() + 1 < stretch.bins {
            return None;
        }
        let differences: Vec<f64> = bins
            .iter()
            .zip(bins.iter().skip(stretch.lag))
            .map(|(before, after)| (after.1 - before.1) / (after.0 - before.0) as f64)
            .collect();
        let per_bin = median(differences.iter().copied())?;
        let count = differences.len() as f64;
        let same_way = differences.iter().filter(|difference| **difference * per_bin > 0.0).count() as f64 / count;
        // The middle of n readings scatters by some 1.25 / sqrt(n) of one, a difference by sqrt(2) of that, and the middle of
        // m differences by 1.25 / sqrt(m).
        let readings = bins.iter().map(|bin| bin.2).min().unwrap_or(1);
        let one = scatter * if readings > 2 { 1.25 / f64::from(readings).sqrt() } else { 1.0 };
        let lag = stretch.lag as f64;
        let by_chance = 1.77 * one / lag / (count / lag).sqrt();
        let steady = per_bin.abs() * (stretch.bins - 1) as f64 >= stretch.at_least
            && per_bin.abs() >= stretch.sure * by_chance
            && same_way >= SAME_WAY;
        steady.then(|| Slope { mm_per_hour: per_bin * 6.0, since: Mono(first * BIN_MS) })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Heights of one bin each, and the steady change in mm per hour that is seen at the end.
    fn check(heights: &[f64], scatter: f64, expected: Option<f64>) {
        let mut steady = Steady::default();
        for (n, height) in heights.iter().enumerate() {
            for reading in 0..3 {
                steady.take(*height, Mono(n as u64 * BIN_MS + reading * APART_MS));
            }
        }
        steady.take(0.0, Mono(heights.len() as u64 * BIN_MS));
        let found = steady.slope(scatter).map(|slope| slope.mm_per_hour.round());
        assert_eq!(found, expected, "{heights:?}");
    }

    fn line(bins: u32, from: f64, per_bin: f64) -> Vec<f64> {
        (0..bins).map(|n| from + per_bin * f64::from(n)).collect()
    }

    #[test]
    fn a_crack_shows_in_an_hour_and_a_drip_in_four() {
        check(&line(7, 200.0, -5.0), 2.0, Some(-30.0));
        check(&line(7, 200.0, -0.5), 2.0, None);
        check(&line(24, 200.0, -1.25), 2.0, Some(-8.0));
        check(&line(24, 200.0, 2.0), 2.0, Some(12.0));
    }

    #[test]
    fn a_drink_does_not_hide_a_leak() {
        let mut heights = line(14, 250.0, -4.0);
        heights.iter_mut().skip(7).for_each(|height| *height -= 60.0);
        check(&heights, 2.0, Some(-24.0));
    }

    #[test]
    fn drinking_is_not_steady() {
        check(&[200.0, 200.0, 200.0, 140.0, 140.0, 140.0], 2.0, None);
        check(&[200.0, 180.0, 180.0, 160.0, 160.0, 140.0, 140.0, 120.0, 120.0, 100.0, 100.0, 80.0], 2.0, None);
        check(&line(24, 200.0, 0.0), 2.0, None);
    }
}
