//! A check of a horse: what is measured, how, and what came of it.

use bellmare_barn::care::observed::{Gums, GutSounds};
use bellmare_barn::care::vitals::Urgency;
use bellmare_barn::limits::DisplayUnits;
use slint::{ComponentHandle, SharedString};

use super::minutes;
use crate::check::Sign;
use crate::ui::SayCheck;

fn ask(word: impl FnOnce(SayCheck<'_>) -> SharedString) -> String {
    super::ask(|app| word(app.global()))
}

/// Opens the pages on which a horse is checked.
pub fn check() -> String {
    ask(|say| say.get_check())
}

/// The same on a narrow button, in two lines.
pub fn check_short() -> (String, String) {
    (ask(|say| say.get_check_first()), ask(|say| say.get_check_second()))
}

/// Takes a value out again.
pub fn take_out() -> String {
    ask(|say| say.get_take_out())
}

/// To the names, with all that was entered.
pub fn who_looked() -> String {
    ask(|say| say.get_who_looked())
}

/// Over a page.
pub fn check_title(horse: &str, sign: Sign) -> String {
    format!("{horse}: {}", self::sign(sign))
}

/// A sign of a horse.
pub fn sign(sign: Sign) -> String {
    ask(|say| match sign {
        Sign::Temperature => say.get_temperature(),
        Sign::Pulse => say.get_pulse(),
        Sign::Breaths => say.get_breaths(),
        Sign::Refill => say.get_refill(),
        Sign::Gums => say.get_gums(),
        Sign::Gut => say.get_gut(),
    })
}

/// How it is measured, short enough for one line.
pub fn how_to(sign: Sign) -> String {
    ask(|say| match sign {
        Sign::Temperature => say.get_how_temperature(),
        Sign::Pulse => say.get_how_pulse(),
        Sign::Breaths => say.get_how_breaths(),
        Sign::Refill => say.get_how_refill(),
        Sign::Gums => say.get_how_gums(),
        Sign::Gut => say.get_how_gut(),
    })
}

/// Nothing was entered yet.
pub fn not_measured(number: bool) -> String {
    ask(|say| if number { say.get_begin_number() } else { say.get_begin_word() })
}

/// A number with its unit.
pub fn sign_value(sign: Sign, number: &str, units: DisplayUnits) -> String {
    match sign {
        Sign::Pulse | Sign::Breaths => ask(|say| say.invoke_a_minute(number.into())),
        _ => sign_short(sign, number, units),
    }
}

/// A number in a line of several, where its sign stands before it.
pub fn sign_short(sign: Sign, number: &str, units: DisplayUnits) -> String {
    match (sign, units) {
        (Sign::Temperature, DisplayUnits::UsCustomary) => format!("{number} °F"),
        (Sign::Temperature, DisplayUnits::Metric) => format!("{number} °C"),
        (Sign::Refill, _) => format!("{number} s"),
        _ => number.to_owned(),
    }
}

/// What a key does.
pub fn step(sign: Sign, up: bool, by: &str) -> String {
    let sign = self::sign(sign).into();
    ask(|say| if up { say.invoke_up(sign, by.into()) } else { say.invoke_down(sign, by.into()) })
}

/// To the next page.
pub fn next_sign(sign: Sign) -> String {
    ask(|say| say.invoke_next(self::sign(sign).into()))
}

/// The colour of gums.
pub fn gums(gums: Gums) -> String {
    ask(|say| match gums {
        Gums::Pink => say.get_pink(),
        Gums::Pale => say.get_pale(),
        Gums::Other => say.get_other(),
    })
}

/// Whether the gut is heard.
pub fn gut(gut: GutSounds) -> String {
    ask(|say| match gut {
        GutSounds::AllFour => say.get_all_four(),
        GutSounds::NotAll => say.get_not_all(),
    })
}

/// What came of the last check of a horse.
pub fn checked(urgency: Urgency, by: &str, ago_min: u32) -> String {
    let ago = minutes(ago_min).into();
    ask(|say| {
        let what = match urgency {
            Urgency::Fine => say.get_fine(),
            Urgency::Tell => say.get_tell(),
            Urgency::VetNow => say.get_vet_now(),
        };
        say.invoke_checked(ago, by.into(), what)
    })
}
