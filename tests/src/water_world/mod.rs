//! A barn of horses that drink, hands that fill, buckets that leak and freeze, and sensors that err: readings with the truth
//! beside them, for whoever wants to know how well the truth is found again.
//!
//! Physics and nothing else. It shares no formula with the hub: volumes are summed slice by slice, drinking is a matter of
//! litres a minute, and a sensor sees a surface that slops. Times are seconds since the first midnight. Figures of horses
//! are of the orders that handbooks give; those of sensors are of the orders of cheap ones. The same seed gives the same
//! barn.

mod air;
mod horse;
mod sensor;
mod stall;
mod vessel;

pub use air::{Air, Season};
pub use horse::Ways;
pub use sensor::{Fault, Gauge, Kind, Message, Says, Trouble};
pub use stall::{Record, Span, StallOfWorld};
pub use vessel::{Solid, Walls};

use crate::dice::Dice;

/// Seconds of a day.
pub const DAY: f64 = 86_400.0;

/// A barn for some days.
pub struct World {
    /// How many days.
    pub days: u32,
    /// The air of all of it.
    pub air: Air,
    /// Its stalls.
    pub stalls: Vec<StallOfWorld>,
}

impl World {
    /// A barn of so many stalls in a season. The stalls take turns at vessels, sensors and paces.
    pub fn new(seed: u64, season: Season, stalls: usize, days: u32) -> Self {
        let mut dice = Dice::new(seed);
        let air = Air::new(season, days, &mut dice);
        let stalls = (0..stalls).map(|n| StallOfWorld::new(n, days, &mut dice)).collect();
        Self { days, air, stalls }
    }

    /// The same barn with fewer mishaps: a world that tries the hub has some ten times as many as a week in a real one.
    #[must_use]
    pub fn with_mishaps(mut self, share: f64) -> Self {
        for stall in &mut self.stalls {
            stall.mishaps = share;
        }
        self
    }

    /// Lets all days pass in a stall: what its sensors said, and what was true.
    pub fn live(&self, stall: &StallOfWorld) -> (Vec<Message>, Record) {
        stall.live(&self.air, self.days)
    }
}
