//! Why a horse can not go, and why staff are called to it, by the plan.

use bellmare_barn::board::MissedView;
use bellmare_barn::limits::DisplayUnits;
use bellmare_barn::plan::reason::{Busy, Hands, Hindrance, Keeps};
use bellmare_barn::time::TimeOfDay;
use slint::{ComponentHandle, SharedString};

use super::{away_from_to, time};
use crate::ui::SayWhy;

fn ask(word: impl FnOnce(SayWhy<'_>) -> SharedString) -> String {
    super::ask(|app| word(app.global()))
}

/// Says times of day.
fn at(units: DisplayUnits) -> impl Fn(TimeOfDay) -> SharedString {
    move |at| time(at, units).into()
}

/// Why a horse can not go, after that.
pub fn can_not_go_why(why: &str) -> String {
    ask(|say| say.invoke_can_not_go_why(why.into()))
}

/// That staff are called, and why: from all of it to the least that can be said.
pub fn staff_called(hands: &Hands, units: DisplayUnits) -> Vec<String> {
    let called = |why: String| ask(|say| say.invoke_staff_called(why.into()));
    let mut ways: Vec<String> = kept(hands, units).into_iter().map(called).collect();
    ways.push(ask(|say| say.get_staff_are_called()));
    ways
}

/// Why a horse can not go: from all of it to the least that can be said.
pub fn missed(missed: &MissedView, units: DisplayUnits) -> Vec<String> {
    let at = at(units);
    // A hub that is older than this kiosk has no value for it.
    let Some(because) = &missed.because else { return vec![missed.why.clone()] };
    let why = match because {
        Hindrance::TooLate { .. } => ask(|say| say.get_too_late()),
        Hindrance::Away { from, to } => away_from_to(&time(*from, units), &time(*to, units)),
        Hindrance::TackOn { piece, horse, until, dry } => {
            ask(|say| say.invoke_tack_on(piece.into(), horse.into(), at(*until), at(*dry)))
        }
        Hindrance::NotPutAway { until } => ask(|say| say.invoke_not_put_away_before(at(*until))),
        Hindrance::TackNeeded { piece, horse, from } => {
            ask(|say| say.invoke_tack_needed(piece.into(), horse.into(), at(*from)))
        }
        Hindrance::BrushedAgain { from } => ask(|say| say.invoke_brushed_again(at(*from))),
        Hindrance::TooFewHands(hands) => {
            let too_few = |who: String| ask(|say| say.invoke_too_few_hands(who.into()));
            let mut ways: Vec<String> = kept(hands, units).into_iter().map(too_few).collect();
            ways.push(ask(|say| say.get_too_few()));
            return ways;
        }
    };
    vec![why]
}

/// What keeps grooms from a job; where that is what each of them does, also until when alone.
fn kept(hands: &Hands, units: DisplayUnits) -> Vec<String> {
    let at = at(units);
    let why = match hands {
        Hands::NoGrooms => ask(|say| say.get_no_grooms()),
        Hands::NobodyCleared { .. } => ask(|say| say.get_nobody_cleared()),
        Hands::NobodyBefore { time, .. } => ask(|say| say.invoke_nobody_before(at(*time))),
        Hands::NobodyAfter { time, .. } => ask(|say| say.invoke_nobody_after(at(*time))),
        Hands::Busy(grooms) => {
            let all = |say: fn(&Busy, DisplayUnits) -> String| -> String {
                grooms.iter().map(|groom| say(groom, units)).collect::<Vec<_>>().join(", ")
            };
            return vec![all(busy), all(busy_till)];
        }
    };
    vec![why]
}

fn busy(Busy { name, with }: &Busy, units: DisplayUnits) -> String {
    let at = at(units);
    let name = name.into();
    ask(|say| match with {
        Keeps::Away { until } => say.invoke_groom_away(name, at(*until)),
        Keeps::Horse { name: horse, until } => say.invoke_groom_with(name, horse.into(), at(*until)),
        Keeps::NoTimeThatFits => say.invoke_no_time(name),
    })
}

fn busy_till(Busy { name, with }: &Busy, units: DisplayUnits) -> String {
    match with {
        Keeps::Away { until } | Keeps::Horse { until, .. } => {
            let till = time(*until, units);
            ask(|say| say.invoke_groom_till(name.into(), till.into()))
        }
        Keeps::NoTimeThatFits => name.clone(),
    }
}
