//! What a forecast means for the bands of heat and for frost: what will be reached or left, when, and how sure that is.
//!
//! Times are minutes from the moment of the forecast, on a grid of [`STEP`]. Whoever shows them knows the clock.

use serde::{Deserialize, Serialize};

use super::{Air, Forecast, along};
use crate::board::HeatBand;
use crate::heat::bands::Bands;
use crate::heat::indices::HorseSum;
use crate::limits::HeatLimits;
use crate::time::Mono;
use crate::units::Celsius;

/// Minutes between two looks.
pub const STEP: u32 = 15;
/// What at least this share of the paths of a forecast does is said. Under a half, for a caution that was not needed costs
/// less than one that was missed; `heat_bench` of the tests measures how often each happens.
pub const SAID_FROM: f64 = 0.4;
/// What was said is taken back where fewer than this still do: a chance that hovers must not come and go.
pub const TAKEN_BACK: f64 = 0.25;

/// A band that may be reached.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Reach {
    /// Which.
    pub band: HeatBand,
    /// The share of paths that reach it, 0 to 1.
    pub chance: f64,
    /// When half of those that reach it have.
    pub from: u32,
    /// When one in ten of them has.
    pub earliest: u32,
    /// When nine in ten of all paths have; none where fewer do.
    pub latest: Option<u32>,
    /// When, after [`from`](Self::from), most paths are under it again; none where they stay.
    pub until: Option<u32>,
}

/// The band that stands, and when it is left for a lower one.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Leave {
    /// Which.
    pub band: HeatBand,
    /// When half of the paths are under it.
    pub at: u32,
    /// When one in ten is.
    pub earliest: u32,
    /// When nine in ten are; none where they stay.
    pub latest: Option<u32>,
}

/// The band of a moment by the bare limits.
fn band(air: Air, limits: &HeatLimits) -> HeatBand {
    HorseSum::new(air.temperature(), air.humidity())
        .map_or(HeatBand::CarryOn, |sum| Bands::default().assess(sum, limits, Mono(0)).shown())
}

/// A forecast looked through step by step.
pub struct Bandings {
    /// For each path, the band of each step.
    paths: Vec<Vec<HeatBand>>,
}

impl Bandings {
    /// The bands of every path, up to so many minutes ahead.
    pub fn new(forecast: &Forecast, limits: &HeatLimits, until: u32) -> Self {
        let steps = forecast.reach().min(until) / STEP;
        let bands = |path: &Vec<Air>| (0..=steps).map(|step| band(along(path, step * STEP), limits)).collect();
        Self { paths: forecast.paths.iter().map(bands).collect() }
    }

    /// The share of paths that are in that band or above at some step up to so many minutes ahead, 0 to 1.
    pub fn chance(&self, band: HeatBand, within: u32) -> f64 {
        let steps = (within / STEP) as usize + 1;
        let hits = self.paths.iter().filter(|path| path.iter().take(steps).any(|at| *at >= band)).count();
        hits as f64 / self.paths.len() as f64
    }

    /// What is to be said of a band that is not reached yet; none where no path does.
    pub fn reach(&self, band: HeatBand) -> Option<Reach> {
        let firsts = sorted(self.paths.iter().filter_map(|path| path.iter().position(|at| *at >= band)));
        let count = firsts.len();
        let from = *firsts.get(count.div_ceil(2).checked_sub(1)?)?;
        let most_under =
            |step: &usize| 2 * self.paths.iter().filter(|path| path[*step] >= band).count() < self.paths.len();
        // At the very step at which half have first reached it, fewer may be in it: look from when most are.
        let steps = self.paths.first().map_or(0, Vec::len);
        let in_it = (from..steps).find(|step| !most_under(step)).unwrap_or(from + 1);
        Some(Reach {
            band,
            chance: count as f64 / self.paths.len() as f64,
            from: minutes(from),
            earliest: minutes(firsts[count.div_ceil(10) - 1]),
            latest: firsts.get((9 * self.paths.len()).div_ceil(10) - 1).map(|step| minutes(*step)),
            until: (in_it..steps).find(most_under).map(minutes),
        })
    }

    /// When the band that stands is left; none where most paths stay in it, or where there is none to leave.
    pub fn leave(&self, standing: HeatBand) -> Option<Leave> {
        if standing == HeatBand::CarryOn {
            return None;
        }
        // Left for good: the step after the last one in it.
        let left = |path: &Vec<HeatBand>| path.iter().rposition(|at| *at >= standing).map_or(0, |step| step + 1);
        let steps = self.paths.first().map_or(0, Vec::len);
        let lasts = sorted(self.paths.iter().map(left));
        let at = |share: usize| {
            let step = lasts[(share * lasts.len()).div_ceil(10).max(1) - 1];
            (step < steps).then(|| minutes(step))
        };
        Some(Leave { band: standing, at: at(5)?, earliest: at(1)?, latest: at(9) })
    }
}

/// When that share of the paths, 0 to 1, is at or under that temperature for the first time.
pub fn cold_from(forecast: &Forecast, limit: Celsius, share: f64) -> Option<u32> {
    let is_cold = |at: &u32| forecast.share(|path| along(path, *at).temperature().get() <= limit.get()) >= share;
    (0..=forecast.reach() / STEP).map(|step| step * STEP).find(is_cold)
}

fn minutes(step: usize) -> u32 {
    step as u32 * STEP
}

fn sorted(list: impl Iterator<Item = usize>) -> Vec<usize> {
    let mut list: Vec<_> = list.collect();
    list.sort_unstable();
    list
}
