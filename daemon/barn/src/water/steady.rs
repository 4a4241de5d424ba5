//! Water that falls or rises steadily: nobody drinks so and nobody fills so. It leaks; or its sensor drifts. Which of the two
//! a level can not tell while it falls; water does not rise by itself.
//!
//! Every ten minutes the middle of the readings is taken, and the last four hours of these are told in two ways: as *rests
//! with steps* between them, as a horse and a hand leave them, and as *one slope with steps*. Each step costs the same in
//! both, and so does each bit by which a middle is off. Where the slope tells the last hours much cheaper, there is one, and
//! it began where it is cheapest to begin it. Both are found by dynamic programming, from now on backwards.

use serde::{Deserialize, Serialize};

use crate::time::Mono;

/// Length of a bin, in milliseconds.
const BIN_MS: u64 = 600_000;
/// Readings closer together than this, in milliseconds, are not all kept.
const APART_MS: u64 = 15_000;
/// Bins that are kept: four hours.
const BINS: usize = 24;
/// What a step costs; a middle that is off by its scatter costs 1, by twice that 4.
const STEP: f64 = 7.0;
/// No middle is surer than this, in millimetres: water slops, warms and evaporates.
const LEAST: f64 = 0.8;
/// The slopes that are tried, in millimetres a bin, each way.
const SLOPES: [f64; 13] = [0.5, 0.7, 1.0, 1.3, 1.7, 2.2, 2.8, 3.6, 4.7, 6.0, 8.0, 10.0, 13.0];
/// How far a steady change goes at the least, in millimetres: a horse sips that much too.
const AT_LEAST: f64 = 8.0;
/// Fewer bins than this show nothing.
const FEWEST: usize = 6;
/// A leak is over once an hour is told cheaper by a rest.
const HOUR: usize = 6;
/// What stands out of its neighbours by more than this was a spike of the radio, in millimetres.
const SPIKE: f64 = 24.0;

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

/// A middle as it is told: bins before the newest, height, and one over its variance.
#[derive(Clone, Copy)]
struct Point {
    back: f64,
    height: f64,
    weight: f64,
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
            let mut readings = std::mem::take(&mut self.open);
            self.bins.push((self.open_bin, middle_half(&mut readings), readings.len() as u32));
            let oldest = bin.saturating_sub(BINS as u64);
            self.bins.retain(|(bin, ..)| *bin >= oldest);
        }
        self.open_bin = bin;
        self.open.push(height);
        over
    }

    /// Forgets what lies further back than a time.
    pub fn forget_all_before(&mut self, time: Mono) {
        self.bins.retain(|(bin, ..)| *bin >= time.0 / BIN_MS);
    }

    /// The steady change that tells the last bins cheapest, where one is cheaper than rests by more than `gain`. `scatter` is
    /// the standard deviation of a reading in millimetres.
    pub fn slope(&self, scatter: f64, gain: f64) -> Option<Slope> {
        let points = self.points(scatter);
        let rests = costs(&points, 0.0);
        // Mostly there is nothing to be gained: the water rests.
        if rests[points.len()] <= gain {
            return None;
        }
        let sure = gain;
        let mut best: Option<(f64, usize, f64)> = None;
        let mut consider = |per_bin: f64| {
            let slope = costs(&points, per_bin);
            for count in FEWEST..=points.len() {
                let gain = rests[count] - slope[count];
                let span = points[count - 1].back - points[0].back;
                // Where many bins are missing nobody knows what went on.
                let seen = span <= count as f64 * 1.2;
                if seen && per_bin.abs() * span >= AT_LEAST && best.is_none_or(|best| gain > best.0) {
                    best = Some((gain, count, per_bin));
                }
            }
        };
        for per_bin in SLOPES {
            consider(per_bin);
            consider(-per_bin);
        }
        let (gain, count, per_bin) = best?;
        let per_bin = finer(&points[..count], per_bin);
        let gain = gain.max(rests[count] - costs(&points[..count], per_bin)[count]);
        let newest = self.bins.last()?.0;
        let since = newest.saturating_sub(points[count - 1].back as u64);
        (gain > sure).then(|| Slope { mm_per_hour: per_bin * 6.0, since: Mono(since * BIN_MS) })
    }

    /// Since when the water rests again, where an hour of it or more is told cheaper so than by a slope.
    pub fn rests_since(&self, slope: &Slope, scatter: f64) -> Option<Mono> {
        let mut points = self.points(scatter);
        let newest = self.bins.last()?.0;
        // Before the slope began there was rest too.
        points.retain(|point| newest - point.back as u64 > slope.since.0 / BIN_MS);
        let (rests, slopes) = (costs(&points, 0.0), costs(&points, slope.mm_per_hour / 6.0));
        if points.len() < HOUR {
            return None;
        }
        let (count, gain) = (HOUR..=points.len())
            .map(|count| (count, slopes[count] - rests[count]))
            .max_by(|a, b| a.1.total_cmp(&b.1))?;
        (gain > 0.0).then(|| Mono((newest.saturating_sub(points[count - 1].back as u64)) * BIN_MS))
    }

    /// The middles, the newest first, spikes left out.
    fn points(&self, scatter: f64) -> Vec<Point> {
        let Some((newest, ..)) = self.bins.last() else { return Vec::new() };
        let spike = |n: usize| {
            let (Some(before), Some(after)) = (n.checked_sub(1).map(|n| self.bins[n].1), self.bins.get(n + 1)) else {
                return false;
            };
            let (before, after) = (self.bins[n].1 - before, self.bins[n].1 - after.1);
            before.min(after) > SPIKE || before.max(after) < -SPIKE
        };
        let point = |(n, (bin, height, readings)): (usize, &(u64, f64, u32))| {
            let of_middle = 1.1 * scatter / f64::from((*readings).max(1)).sqrt();
            let weight = 1.0 / of_middle.max(LEAST).powi(2);
            (*readings > 2 || !spike(n)).then_some(Point { back: (newest - bin) as f64, height: *height, weight })
        };
        self.bins.iter().enumerate().filter_map(point).rev().collect()
    }
}

/// The mean of the middle half: as hard to mislead as the median, and finer where a sensor's steps are coarse.
fn middle_half(readings: &mut [f64]) -> f64 {
    readings.sort_unstable_by(f64::total_cmp);
    let out = readings.len() / 4;
    let kept = &readings[out..readings.len() - out];
    kept.iter().sum::<f64>() / kept.len().max(1) as f64
}

/// What it costs at the least to tell the newest so many points as pieces of a slope, for each count from none to all.
fn costs(points: &[Point], per_bin: f64) -> [f64; BINS + 1] {
    let mut costs = [0.0; BINS + 1];
    for last in 0..points.len() {
        // The oldest piece reaches from the point `last` to a newer one.
        let (mut weight, mut mean, mut squares, mut best) = (0.0, 0.0, 0.0, f64::INFINITY);
        for first in (0..=last).rev() {
            let point = &points[first];
            // Welford: the squares about a mean that moves.
            let level = point.height + per_bin * point.back;
            weight += point.weight;
            let off = level - mean;
            mean += off * point.weight / weight;
            squares += point.weight * off * (level - mean);
            best = f64::min(best, costs[first] + squares + if first > 0 { STEP } else { 0.0 });
        }
        costs[last + 1] = best;
    }
    costs
}

/// The slope itself, of the pieces into which one that was tried divides the points.
fn finer(points: &[Point], per_bin: f64) -> f64 {
    let costs = costs(points, per_bin);
    let (mut last, mut across, mut along) = (points.len(), 0.0, 0.0);
    while last > 0 {
        let first = (0..last)
            .min_by(|a, b| {
                let cost = |first: usize| {
                    costs[first] + squares(&points[first..last], per_bin) + if first > 0 { STEP } else { 0.0 }
                };
                cost(*a).total_cmp(&cost(*b))
            })
            .unwrap_or(0);
        let piece = &points[first..last];
        let weight: f64 = piece.iter().map(|point| point.weight).sum();
        let mean = |of: fn(&Point) -> f64| piece.iter().map(|p| p.weight * of(p)).sum::<f64>() / weight;
        let (back, height) = (mean(|p| p.back), mean(|p| p.height));
        across += piece.iter().map(|p| p.weight * (back - p.back) * (p.height - height)).sum::<f64>();
        along += piece.iter().map(|p| p.weight * (p.back - back).powi(2)).sum::<f64>();
        last = first;
    }
    if along > 0.0 { across / along } else { per_bin }
}

/// The squares of points about one piece.
fn squares(points: &[Point], per_bin: f64) -> f64 {
    let level = |point: &Point| point.height + per_bin * point.back;
    let weight: f64 = points.iter().map(|point| point.weight).sum();
    let mean = points.iter().map(|point| point.weight * level(point)).sum::<f64>() / weight;
    points.iter().map(|point| point.weight * (level(point) - mean).powi(2)).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Heights of one bin each, and the steady change in mm per hour that is seen at the end.
    fn check(heights: &[f64], scatter: f64, expected: Option<f64>) {
        let mut steady = Steady::default();
        for (n, height) in heights.iter().enumerate() {
            for reading in 0..10 {
                steady.take(*height, Mono(n as u64 * BIN_MS + reading * APART_MS));
            }
        }
        steady.take(0.0, Mono(heights.len() as u64 * BIN_MS));
        let found = steady.slope(scatter, 21.0);
        assert_eq!(found.map(|slope| slope.mm_per_hour.round()), expected, "{heights:?}");
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
    fn it_is_known_since_when() {
        let mut steady = Steady::default();
        let heights = (0..14).map(|_| 250.0).chain(line(8, 246.0, -4.0));
        for (n, height) in heights.enumerate() {
            steady.take(height, Mono(n as u64 * BIN_MS));
        }
        let slope = steady.slope(2.0, 16.0).expect("it falls");
        let since = slope.since.0 / BIN_MS;
        assert!((13..=15).contains(&since), "{since}");
        assert_eq!(steady.rests_since(&slope, 2.0), None);
        for n in 22..30 {
            steady.take(218.0, Mono(n * BIN_MS));
        }
        let rests = steady.rests_since(&slope, 2.0).expect("it was mended").0 / BIN_MS;
        assert!((20..=22).contains(&rests), "{rests}");
    }

    #[test]
    fn a_sensor_that_is_seldom_heard_shows_nothing() {
        let mut steady = Steady::default();
        for n in 0..12_u32 {
            steady.take(250.0 - 8.0 * f64::from(n), Mono(u64::from(n) * 2 * BIN_MS));
        }
        assert_eq!(steady.slope(2.0, 16.0), None);
    }

    #[test]
    fn drinking_is_not_steady() {
        check(&[200.0, 200.0, 200.0, 140.0, 140.0, 140.0], 2.0, None);
        check(&[200.0, 180.0, 180.0, 160.0, 160.0, 140.0, 140.0, 120.0, 120.0, 100.0, 100.0, 80.0], 2.0, None);
        check(&line(24, 200.0, 0.0), 2.0, None);
    }
}
