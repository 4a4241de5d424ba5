//! The hub and its lines, the clock, badges that nobody knows, and what came of a touch.

use bellmare_barn::refusal::{Because, Refusal};
use slint::{ComponentHandle, SharedString};

use super::seconds;
use crate::ui::SayHub;

fn ask(word: impl FnOnce(SayHub<'_>) -> SharedString) -> String {
    super::ask(|app| word(app.global()))
}

/// The hub hears no sensor.
pub fn broker_down() -> String {
    ask(|say| say.get_broker_down())
}

/// The hub can not write.
pub fn journal_down() -> String {
    ask(|say| say.get_journal_down())
}

/// The line to the sensors has not come up since the hub started.
pub fn broker_starting() -> String {
    ask(|say| say.get_broker_starting())
}

/// The store has not come up since the hub started.
pub fn journal_starting() -> String {
    ask(|say| say.get_journal_starting())
}

/// Nobody knows what time it is.
pub fn clock_unset() -> String {
    ask(|say| say.get_clock_unset())
}

/// The same, in the clock's own place.
pub fn clock_unset_short() -> String {
    ask(|say| say.get_no_clock())
}

/// No board has come yet.
pub fn no_board() -> String {
    ask(|say| say.get_no_board())
}

/// What a first volunteer should know meanwhile.
pub fn no_board_why() -> String {
    ask(|say| say.get_no_board_why())
}

/// The hub does not answer.
pub fn hub_silent(for_s: u64) -> String {
    ask(|say| say.invoke_silent(seconds(for_s).into()))
}

/// What the picture that stays is worth.
pub fn picture_of(time: &str) -> String {
    ask(|say| say.invoke_picture_of(time.into()))
}

/// The same where the clock is not set.
pub fn old_picture() -> String {
    ask(|say| say.get_old_picture())
}

/// A badge that nobody knows was held to a reader.
pub fn unknown_badge(badge: &str) -> String {
    ask(|say| say.invoke_unknown_badge(badge.into()))
}

/// What to do about an unknown badge.
pub fn unknown_badge_ago(ago_s: u32) -> String {
    ask(|say| say.invoke_unknown_badge_ago(seconds(u64::from(ago_s)).into()))
}

/// A touch was done.
pub fn kept() -> String {
    ask(|say| say.get_kept())
}

/// A touch waits.
pub fn waits() -> String {
    ask(|say| say.get_waits())
}

/// A touch could not be kept.
pub fn too_many() -> String {
    ask(|say| say.get_too_many())
}

/// A touch was refused.
pub fn refused(refusal: &Refusal) -> String {
    let why = because(refusal);
    ask(|say| say.invoke_refused(why.as_str().into()))
}

/// Why something was not done, in the language of who touched; in the hub's own words where the kiosk has none for it.
pub fn because(refusal: &Refusal) -> String {
    ask(|say| match refusal.because {
        Because::Other => refusal.why.as_str().into(),
        Because::NotInBook => say.get_not_in_book(),
        Because::DayClosed => say.get_day_closed(),
        Because::ClockUnset => say.get_clock_unknown(),
        Because::AlarmOver => say.get_alarm_over(),
        Because::NotPutAside => say.get_not_put_aside(),
        Because::NotSaid => say.get_not_said(),
        Because::SaidAgain => say.get_said_again(),
        Because::TooLate => say.get_too_late(),
        Because::NothingWrong => say.get_nothing_wrong(),
        Because::NobodyAsks => say.get_nobody_asks(),
        Because::StaffOnly => say.get_staff_only(),
        Because::StaffEnded => say.get_staff_ended(),
        Because::NotToday => say.get_not_today(),
        Because::OtherHorse => say.get_other_horse(),
        Because::NotOpen => say.get_not_open(),
        Because::DoesNotFit => say.get_does_not_fit(),
        Because::OtherBegun => say.get_other_begun(),
        Because::ClockIsRight => say.get_clock_is_right(),
        Because::OutOfRange => say.get_out_of_range(),
        Because::NothingSeen => say.get_nothing_seen(),
        Because::WrongPin => say.get_wrong_pin(),
        Because::TooManyPins => say.get_too_many_pins(),
        Because::NoPin => say.get_no_pin(),
        Because::UnknownBadge => say.get_nobodys_badge(),
        Because::NoPlan => say.get_no_plan(),
        Because::NoAnswer => say.get_no_answer(),
    })
}

/// The hub has answered with a status that says nothing to a person.
pub fn hub_answered(status: u16) -> String {
    let why = ask(|say| say.invoke_hub_answered(status.to_string().into()));
    ask(|say| say.invoke_refused(why.as_str().into()))
}
