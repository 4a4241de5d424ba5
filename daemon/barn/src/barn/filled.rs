//! The barn and a bucket that somebody says is filled. Their word ends its alarm at once, and the sensor has the last word:
//! once it has had the time to be sure of a refill and says that the water is still low or empty, the alarm comes back.
//!
//! ```text
//!              somebody says that it is filled            the sensor says that there is enough
//!  by sensor ──────────────────────────────────▶ by word ──────────────────────────────────────▶ by sensor
//!                                                   │   taken back, or the sensor was heard and says otherwise
//!                                                   └──────────────────────────────────────────▶ by sensor
//! ```
//!
//! Where a sensor says nothing at all the word holds, as there is none against it; that the sensor is silent is told besides.

use serde::{Deserialize, Serialize};

use super::Barn;
use super::touched::Toucher;
use crate::board::WaterState;
use crate::book::WaterPlace;
use crate::done::UNDO_MS;
use crate::effect::Effect;
use crate::refusal::Refusal;
use crate::sensor::Heard;
use crate::time::{Mono, Now};

/// A sensor is sure of a refill after so many of its own usual gaps: three readings that agree, or one that nothing contradicts
/// for three gaps (see `water/settle.rs`), and the wait for the first.
const SURE_GAPS: u64 = 4;

/// Somebody's word that a place was filled, while it counts.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub(super) struct Told {
    at: Mono,
    /// When the sensor has had the time to be sure.
    pub(super) until: Mono,
}

impl Barn {
    /// Somebody says that the water of a place was filled, or was not after all.
    pub(super) fn fill(
        &mut self,
        place: WaterPlace,
        undo: bool,
        who: &Toucher,
        now: Now,
        effects: &mut Vec<Effect>,
    ) -> Result<(), Refusal> {
        match &place {
            WaterPlace::Stall(stall) if self.book.stall(stall).is_none() => {
                return Err(Refusal::not_in_book("stall", stall));
            }
            WaterPlace::Paddock(paddock) if !self.book.buckets.iter().any(|bucket| bucket.at == place) => {
                return Err(Refusal::not_in_book("water in paddock", paddock));
            }
            _ => {}
        }
        self.of_today(who)?;
        if undo {
            self.aisle.filled.take_back(&place, who.at)?;
            self.aisle.told.remove(&place);
        } else {
            self.aisle.filled.say(place.clone(), who.done());
            if self.waters.places.contains_key(&place) {
                let until = who.at.plus(self.sure_after(&place));
                self.aisle.told.insert(place.clone(), Told { at: who.at, until });
            }
            self.is_at_work(who.by.as_ref(), who.at, now);
        }
        self.judge_water(&place, now, effects);
        self.aisle_again(now);
        Ok(())
    }

    /// Whether the word that a place was filled counts against what its sensor says. Forgets the word where it does not.
    pub(super) fn is_said_filled(&mut self, place: &WaterPlace, now: Mono) -> bool {
        let Some(told) = self.aisle.told.get(place).copied() else { return false };
        let supply = self.waters.places.get(place);
        let enough = supply.and_then(|supply| supply.content()).is_none_or(|known| known.state == WaterState::Enough);
        let heard = supply.is_some_and(|supply| {
            supply.buckets().values().all(|bucket| bucket.measured().is_some_and(|measured| measured > told.at))
        });
        let counts = !enough && (now < told.until || !heard);
        if !counts {
            self.aisle.told.remove(place);
        }
        counts
    }

    /// Whether somebody has just filled it and its sensor can not know yet: nobody need go there again.
    pub(super) fn is_just_filled(&self, place: &WaterPlace, now: Mono) -> bool {
        self.aisle.told.get(place).is_some_and(|told| now < told.until)
    }

    /// Places whose sensors have had the time to be sure are judged by them again.
    pub(super) fn ask_sensors_again(&mut self, now: Now, effects: &mut Vec<Effect>) {
        let due = self.aisle.told.iter().filter(|(_, told)| told.until <= now.mono);
        let due: Vec<WaterPlace> = due.map(|(place, _)| place.clone()).collect();
        for place in due {
            self.judge_water(&place, now, effects);
        }
    }

    /// How long the sensors of a place need until they are sure of a refill, in milliseconds; never less than the word can be
    /// taken back. Of a sensor whose cadence is not known yet, as long as it may be silent.
    fn sure_after(&self, place: &WaterPlace) -> u64 {
        let unknown = self.limits.sensors.silent_at_most.as_millis();
        let sensors = self.waters.places.get(place).into_iter().flat_map(|supply| supply.buckets().keys());
        let gap = |sensor| self.sensors.get(sensor).and_then(Heard::cadence);
        let slowest = sensors.map(|sensor| gap(sensor).map_or(unknown, |gap| gap.saturating_mul(SURE_GAPS))).max();
        slowest.unwrap_or(unknown).max(UNDO_MS)
    }
}
