//! Heat, for horses and for people.

use bellmare_barn::board::{AheadView, HeatBand, PeopleBand};
use bellmare_barn::heat::advice::Advice;
use bellmare_barn::limits::DisplayUnits;
use slint::{ComponentHandle, SharedString};

use super::{minutes, temperature, time};
use crate::ui::SayHeat;

fn ask(word: impl FnOnce(SayHeat<'_>) -> SharedString) -> String {
    super::ask(|app| word(app.global()))
}

/// Temperature and humidity on one line. Where there is nothing to say of heat it is called air: it may be cold.
pub fn climate(celsius: f64, humidity: f64, band: HeatBand, units: DisplayUnits) -> String {
    let name = ask(|say| if band == HeatBand::CarryOn { say.get_air() } else { say.get_heat() });
    format!("{name} {} · {humidity:.0} %", temperature(celsius, units))
}

/// The horse sum. It is not the heat index, and is never called so.
pub fn horse_sum(sum: f64) -> String {
    ask(|say| say.invoke_horse_sum(format!("{sum:.0}").into()))
}

/// A band of the horse sum.
pub fn band(band: HeatBand) -> String {
    ask(|say| match band {
        HeatBand::CarryOn => say.get_carry_on(),
        HeatBand::Watch => say.get_watch(),
        HeatBand::Critical => say.get_critical(),
        HeatBand::Stop => say.get_stop(),
    })
}

/// A step of the ladder for people.
pub fn people(band: PeopleBand) -> String {
    ask(|say| match band {
        PeopleBand::NoCaution => say.get_no_caution(),
        PeopleBand::Caution => say.get_caution(),
        PeopleBand::ExtremeCaution => say.get_extreme_caution(),
        PeopleBand::Danger => say.get_danger(),
        PeopleBand::ExtremeDanger => say.get_extreme_danger(),
    })
}

/// How the heat is expected to change.
pub fn heat_ahead(ahead: &AheadView, units: DisplayUnits) -> String {
    ask(|say| match ahead {
        AheadView::Reaches { band, from, .. } => {
            say.invoke_reaches(self::band(*band).into(), time(*from, units).into())
        }
        AheadView::Leaves { at, .. } => say.invoke_until(time(*at, units).into()),
    })
}

/// What to do, in two or three words; nothing where it takes a sentence.
pub fn advice_short(advice: Advice) -> Option<String> {
    let word: fn(SayHeat<'_>) -> SharedString = match advice {
        Advice::NoWork => |say| say.get_no_work(),
        Advice::ShorterAndLighter => |say| say.get_lighter(),
        Advice::OfferWater => |say| say.get_offer_water(),
        Advice::ShadeAndAir => |say| say.get_shade(),
        Advice::PeopleDrink => |say| say.get_people_drink(),
        _ => return None,
    };
    Some(ask(word))
}

/// Dry heat, which the horse sum misses.
pub fn dry() -> String {
    ask(|say| say.get_dry())
}

/// Where humidity makes up over half of the sum.
pub fn humid() -> String {
    ask(|say| say.get_humid())
}

/// No place has a sensor that speaks.
pub fn heat_unknown() -> String {
    ask(|say| say.get_unknown())
}

/// Every sensor of the heat has gone silent.
pub fn heat_silent(for_min: u32) -> String {
    ask(|say| say.invoke_silent(minutes(for_min).into()))
}
