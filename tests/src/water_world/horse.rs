//! A horse that drinks: in bouts of some seconds to a minute and a half, most of them about its feeds, seldom at night.
//! Handbooks give two to eight bouts a day and 20 to 60 litres; mares in heat drank once in 1.8 hours (Crowell-Davis et al.
//! 1985). The shares below are of that order and otherwise made up.

use super::DAY;
use crate::dice::Dice;

/// How it drinks.
#[derive(Clone, Debug)]
pub struct Ways {
    /// Litres that it would drink in a day.
    pub litres_a_day: f64,
    /// In how many bouts.
    pub bouts_a_day: f64,
    /// Litres a minute while it drinks.
    pub litres_a_minute: f64,
}

/// How keen it is in each hour of the day.
const KEEN: [f64; 24] = [
    0.45, 0.4, 0.4, 0.4, 0.5, 0.8, 1.2, 2.0, 1.9, 1.1, 0.9, 1.0, 1.5, 1.6, 1.0, 0.9, 1.0, 1.8, 2.0, 1.6, 1.1, 0.9, 0.7,
    0.5,
];
/// It does not come back within so many seconds of a bout.
const REST_S: f64 = 900.0;
/// Sips in a day.
const SIPS_A_DAY: f64 = 2.0;
/// A horse that is thirsty by half as much again as it usually drinks begins within so many seconds, on the whole.
const SOON_S: f64 = 2_000.0;
/// The largest bout, in litres.
const LARGEST: f64 = 9.5;

impl Ways {
    pub(super) fn new(dice: &mut Dice) -> Self {
        Self {
            litres_a_day: dice.within(20.0..38.0),
            bouts_a_day: dice.within(6.5..12.0),
            litres_a_minute: dice.within(4.5..7.5),
        }
    }

    /// Litres that it gets thirsty for in so many seconds: more in the hours about its feeds, less at night.
    pub(super) fn thirst(&self, time: f64, step: f64) -> f64 {
        let keen = KEEN[((time / DAY).fract() * 24.0) as usize % 24];
        let mean: f64 = KEEN.iter().sum::<f64>() / 24.0;
        self.litres_a_day * step / DAY * keen / mean
    }

    /// Whether it begins to drink within these seconds, being so thirsty, and how many litres it would.
    pub(super) fn bout(&self, step: f64, since_last: f64, thirst: f64, dice: &mut Dice) -> Option<f64> {
        if since_last < REST_S {
            return None;
        }
        // A sip now and then, and a drink soon after it is thirsty enough for one.
        if dice.happens(SIPS_A_DAY * step / DAY) {
            return Some(dice.within(0.1..0.6));
        }
        let usual = self.litres_a_day / self.bouts_a_day;
        let keen = (thirst / usual - 0.5).max(0.0).powi(2);
        if !dice.happens(keen * step / SOON_S) {
            return None;
        }
        Some((thirst * dice.within(0.75..1.15)).clamp(0.3, LARGEST))
    }
}
