//! Something is wrong with a horse: whom to call, and what was seen. Never what it is.

use bellmare_barn::care::observed::Sign;
use bellmare_barn::care::seen::Seen;
use slint::{ComponentHandle, SharedString};

use crate::ui::SayWrong;

fn ask(word: impl FnOnce(SayWrong<'_>) -> SharedString) -> String {
    super::ask(|app| word(app.global()))
}

/// Reports that something is wrong.
pub fn wrong() -> String {
    ask(|say| say.get_wrong())
}

/// With whom.
pub fn with_this_horse() -> String {
    ask(|say| say.get_with_this_horse())
}

/// It was reported.
pub fn was_told() -> String {
    ask(|say| say.get_was_told())
}

/// A horse that somebody has reported, in two words.
pub fn wrong_short() -> String {
    ask(|say| say.get_wrong_short())
}

/// Over what was seen.
pub fn wrong_title(horse: &str) -> String {
    ask(|say| say.invoke_wrong_title(horse.into()))
}

/// Staff have been told.
pub fn wrong_told() -> String {
    ask(|say| say.get_wrong_told())
}

/// One of the staff has seen it.
pub fn wrong_taken(who: &str) -> String {
    ask(|say| say.invoke_wrong_taken(who.into()))
}

/// A sign for which the vet is called was seen.
pub fn wrong_vet() -> String {
    ask(|say| say.get_wrong_vet())
}

/// Over the signs for which the vet is called.
pub fn vet_signs() -> String {
    ask(|say| say.get_vet_signs())
}

/// Over the others.
pub fn other_signs() -> String {
    ask(|say| say.get_other_signs())
}

/// Takes the report back.
pub fn it_was() -> String {
    ask(|say| say.get_it_was())
}

/// What it was.
pub fn a_mistake() -> String {
    ask(|say| say.get_a_mistake())
}

/// Staff close the report.
pub fn looked_after() -> String {
    ask(|say| say.get_looked_after())
}

/// What that does.
pub fn close_report() -> String {
    ask(|say| say.get_close_report())
}

/// Calls staff now, where nothing has been said yet.
pub fn call_staff() -> String {
    ask(|say| say.get_call_staff())
}

/// What was seen.
pub fn seen(seen: Seen) -> String {
    ask(|say| match seen {
        Seen::Vet(Sign::ColicSigns) => say.get_colic_signs(),
        Seen::Vet(Sign::OffFeed) => say.get_off_feed(),
        Seen::Vet(Sign::HardBreathing) => say.get_hard_breathing(),
        Seen::Vet(Sign::Bleeding) => say.get_bleeding(),
        Seen::Vet(Sign::Eye) => say.get_eye(),
        Seen::Vet(Sign::DeepWound) => say.get_deep_wound(),
        Seen::Vet(Sign::ObjectInBody) => say.get_object_in_body(),
        Seen::Vet(Sign::Stumbling) => say.get_stumbling(),
        Seen::Vet(Sign::OddBehaviour) => say.get_odd_behaviour(),
        Seen::Vet(Sign::Dull) => say.get_dull(),
        Seen::GoesUnevenly => say.get_goes_unevenly(),
        Seen::WarmLeg => say.get_warm_leg(),
        Seen::SmallWound => say.get_small_wound(),
        Seen::Shoe => say.get_shoe(),
        Seen::Cough => say.get_cough(),
        Seen::SweatsAtRest => say.get_sweats_at_rest(),
        Seen::Unwilling => say.get_unwilling(),
        Seen::Skin => say.get_skin(),
    })
}
