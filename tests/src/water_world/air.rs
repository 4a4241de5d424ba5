//! The air of the barn, by the minute.

use std::f64::consts::TAU;

use super::DAY;
use crate::dice::Dice;

/// A time of the year.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Season {
    /// Warm days, none of it freezes.
    Summer,
    /// Some nights freeze.
    Winter,
}

/// Air temperature of every day.
pub struct Air {
    /// Middle and swing of each day in degrees Celsius.
    days: Vec<(f64, f64)>,
}

impl Air {
    pub(super) fn new(season: Season, days: u32, dice: &mut Dice) -> Self {
        let (middle, swing) = match season {
            Season::Summer => (22.0, 5.0),
            Season::Winter => (4.0, 3.5),
        };
        let mut weather = 0.0;
        let day = |_| {
            weather = 0.7 * weather + dice.normal(3.0);
            (middle + weather, swing * dice.within(0.6..1.3))
        };
        Self { days: (0..=days).map(day).collect() }
    }

    /// The temperature at a time, in degrees Celsius: coldest at five in the morning.
    pub fn celsius(&self, time: f64) -> f64 {
        let day = (time / DAY) as usize;
        let (middle, swing) = self.days[day.min(self.days.len() - 1)];
        let (next, _) = self.days[(day + 1).min(self.days.len() - 1)];
        let share = (time / DAY).fract();
        middle + (next - middle) * share - swing * (TAU * (share - 5.0 / 24.0)).cos()
    }
}
