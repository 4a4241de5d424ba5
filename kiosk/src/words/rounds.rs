//! The rounds: chores, water, stalls, hay.

use bellmare_barn::board::{DoneView, HayView, WhyFill};
use bellmare_barn::limits::DisplayUnits;
use slint::{ComponentHandle, SharedString};

use super::{minutes, time, water};
use crate::pages::round::Part;
use crate::ui::SayRounds;

fn ask(word: impl FnOnce(SayRounds<'_>) -> SharedString) -> String {
    super::ask(|app| word(app.global()))
}

/// To the rounds.
pub fn round() -> String {
    ask(|say| say.get_round())
}

/// How many chores are left.
pub fn chores_left(count: usize) -> String {
    ask(|say| say.invoke_chores_left(count.to_string().into()))
}

/// How many chores are late.
pub fn chores_late(count: usize) -> String {
    ask(|say| say.invoke_chores_late(count.to_string().into()))
}

/// How many have asked for hay.
pub fn hay_several(count: usize) -> String {
    ask(|say| say.invoke_hay_several(count.to_string().into()))
}

/// No chore is written for today.
pub fn no_chores() -> String {
    ask(|say| say.get_no_chores())
}

/// No bucket needs filling.
pub fn nothing_to_fill() -> String {
    ask(|say| say.get_nothing_to_fill())
}

/// Nobody has asked for hay.
pub fn no_question() -> String {
    ask(|say| say.get_no_question())
}

/// What a touch on something done does.
pub fn touch_to_undo() -> String {
    ask(|say| say.get_touch_to_undo())
}

/// It was done at a time.
pub fn done_at(time: &str) -> String {
    ask(|say| say.invoke_done_at(time.into()))
}

/// It may be gone before that.
pub fn may_be_gone_by(time: &str) -> String {
    ask(|say| say.invoke_may_be_gone_by(time.into()))
}

/// How much it takes to fill it.
pub fn takes_water(much: &str) -> String {
    ask(|say| say.invoke_takes_water(much.into()))
}

/// A horse and where it stands.
pub fn horse_and_stall(horse: &str, stall: &str) -> String {
    ask(|say| say.invoke_horse_and_stall(horse.into(), stall.into()))
}

/// A paddock.
pub fn paddock(name: &str) -> String {
    ask(|say| say.invoke_paddock(name.into()))
}

/// A question, and how long ago.
pub fn asked_ago(ago: &str) -> String {
    ask(|say| say.invoke_asked_ago(ago.into()))
}

/// Who asks, and how long ago.
pub fn who_asks_ago(who: &str, ago: &str) -> String {
    ask(|say| say.invoke_who_asks_ago(who.into(), ago.into()))
}

/// Who, and how long ago.
pub fn who_ago(who: &str, ago: &str) -> String {
    ask(|say| say.invoke_who_ago(who.into(), ago.into()))
}

/// Staff say yes.
pub fn yes_hay() -> String {
    ask(|say| say.get_yes_hay())
}

/// Staff say no.
pub fn no() -> String {
    ask(|say| say.get_no())
}

/// Staff answer.
pub fn staff_answer() -> String {
    ask(|say| say.get_staff_answer())
}

/// Asks for hay.
pub fn hay_ask() -> String {
    ask(|say| say.get_hay_ask())
}

/// Whom that asks.
pub fn ask_staff() -> String {
    ask(|say| say.get_ask_staff())
}

/// Hay was asked for.
pub fn hay_asked() -> String {
    ask(|say| say.get_hay_asked())
}

/// It may have hay.
pub fn hay_yes() -> String {
    ask(|say| say.get_hay_yes())
}

/// It may not.
pub fn hay_no() -> String {
    ask(|say| say.get_hay_no())
}

/// The bucket was filled.
pub fn filled() -> String {
    ask(|say| say.get_filled())
}

/// What was filled.
pub fn the_bucket() -> String {
    ask(|say| say.get_the_bucket())
}

/// The stall was cleaned.
pub fn cleaned() -> String {
    ask(|say| say.get_cleaned())
}

/// What was cleaned.
pub fn the_stall() -> String {
    ask(|say| say.get_the_stall())
}

/// A touch takes it back.
pub fn not_so() -> String {
    ask(|say| say.get_not_so())
}

/// A part of the rounds.
pub fn part(part: Part) -> String {
    ask(|say| match part {
        Part::Chores => say.get_round(),
        Part::Water => say.get_water_round(),
        Part::Stalls => say.get_stalls(),
        Part::Hay => say.get_hay(),
    })
}

/// What a part asks for.
pub fn part_how(part: Part) -> String {
    ask(|say| match part {
        Part::Chores => say.get_touch_done(),
        Part::Water => say.get_touch_filled(),
        Part::Stalls => say.get_touch_cleaned(),
        Part::Hay => say.get_ask_before_feeding(),
    })
}

/// How many have asked for hay, on the way to the rounds.
pub fn hay_questions(count: usize) -> String {
    if count == 1 { ask(|say| say.get_hay_one()) } else { hay_several(count) }
}

/// Where and by when a chore is to be done, and whose turn it is.
pub fn chore(place: &str, by: &str, turn: Option<&str>) -> String {
    [Some(place), Some(by), turn].into_iter().flatten().collect::<Vec<_>>().join(" · ")
}

/// Who did it and when.
pub fn done_by(done: &DoneView, units: DisplayUnits) -> String {
    let at = time(done.at, units);
    let who = done.by.as_deref().map_or_else(|| done_at(&at), |by| format!("{by}, {at}"));
    if done.can_undo { format!("{who} · {}", touch_to_undo()) } else { who }
}

/// Why it is to be filled, and how much it takes.
pub fn fill(why: WhyFill, litres: Option<f64>, units: DisplayUnits) -> String {
    let why = match why {
        WhyFill::Empty => ask(|say| say.get_why_empty()),
        WhyFill::Low => ask(|say| say.get_why_low()),
        WhyFill::RunsDry(at) => may_be_gone_by(&time(at, units)),
        WhyFill::Unknown => ask(|say| say.get_why_unknown()),
    };
    match litres {
        Some(litres) => format!("{why} · {}", takes_water(&water(litres, units))),
        None => why,
    }
}

/// Who asks for hay, and how long ago.
pub fn asks(question: &HayView) -> String {
    let ago = minutes(question.ago_min);
    question.by.as_deref().map_or_else(|| asked_ago(&ago), |by| who_asks_ago(by, &ago))
}

/// What staff said.
pub fn hay_answer(allowed: bool) -> String {
    ask(|say| if allowed { say.get_may_have_hay() } else { say.get_may_not_have_hay() })
}

/// Who did something, and how long ago.
pub fn by_ago(by: &str, ago_min: u32) -> String {
    who_ago(by, &minutes(ago_min))
}
