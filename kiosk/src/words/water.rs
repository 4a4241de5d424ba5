//! Buckets, and what horses drink.

use bellmare_barn::board::{DrinkingView, WaterState, WaterView};
use bellmare_barn::limits::DisplayUnits;
use bellmare_barn::time::TimeOfDay;
use bellmare_barn::water::bucket::Fault;
use slint::{ComponentHandle, SharedString};

use super::{minutes, till, time, water};
use crate::ui::SayWater;

fn ask(word: impl FnOnce(SayWater<'_>) -> SharedString) -> String {
    super::ask(|app| word(app.global()))
}

/// A bucket, in one word or two.
pub fn bucket(water: &WaterView) -> String {
    ask(|say| match water {
        WaterView::NoBucket => say.get_no_bucket(),
        WaterView::NeverHeard => say.get_never_heard(),
        WaterView::Known { state: WaterState::Enough, .. } => say.get_ok(),
        WaterView::Known { state: WaterState::Low, .. } => say.get_low(),
        WaterView::Known { state: WaterState::Empty, .. } => say.get_fill_now(),
        WaterView::Silent { .. } => say.get_silent(),
        WaterView::Faulty { .. } => say.get_faulty(),
    })
}

/// A bucket in a sentence, for the card and for who listens.
pub fn bucket_whole(water: &WaterView, units: DisplayUnits) -> String {
    ask(|say| match *water {
        WaterView::NoBucket => say.get_no_bucket_here(),
        WaterView::NeverHeard => say.get_sensor_never_heard(),
        WaterView::Known { litres, state, for_min, .. } => {
            let much = self::water(litres, units).into();
            match state {
                WaterState::Enough => say.invoke_enough(much),
                WaterState::Low => say.invoke_low_fill(much),
                WaterState::Empty => say.invoke_empty_fill(minutes(for_min).into()),
            }
        }
        WaterView::Silent { last_percent, for_min } => {
            say.invoke_sensor_silent(minutes(for_min).into(), format!("{last_percent:.0}").into())
        }
        WaterView::Faulty { for_min, fault } => {
            let what = fault.map_or_else(|| say.get_fault(), |fault| fault_of(&say, fault));
            say.invoke_sensor_faulty(what, minutes(for_min).into())
        }
    })
}

/// What is wrong with a level sensor.
pub fn fault(fault: Fault) -> String {
    ask(|say| fault_of(&say, fault))
}

fn fault_of(say: &SayWater<'_>, fault: Fault) -> SharedString {
    match fault {
        Fault::Blocked => say.get_blocked(),
        Fault::TurnedAway => say.get_turned_away(),
        Fault::Stuck => say.get_stuck(),
        Fault::Drifting => say.get_drifting(),
    }
}

/// A sensor that never spoke.
pub fn never_heard() -> String {
    ask(|say| say.get_never_heard())
}

/// What a horse has drunk since midnight, beside what it usually does in a day where that is known.
pub fn drank(drinking: &DrinkingView, units: DisplayUnits) -> String {
    let today = water(drinking.today, units).into();
    ask(|say| match drinking.usual {
        Some((usual, _)) => say.invoke_drank_usually(today, water(usual, units).into()),
        None => say.invoke_drank(today),
    })
}

/// When water may be gone.
pub fn may_be_gone(by: TimeOfDay, units: DisplayUnits) -> String {
    till(&time(by, units))
}
