//! The rounds: chores to cross off, water to fill, stalls to clean, hay that was asked for.

use bellmare_barn::board::{ChoreView, DoneView, FillView, StallView, WhyFill};
use bellmare_barn::book::WaterPlace;
use bellmare_barn::input::Action;

use super::{Does, Here, Item, Sheet, back, hay};
use crate::aisle::Tone;
use crate::app::Up;
use crate::words;

/// What part of the rounds is up.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub enum Part {
    /// Chores.
    #[default]
    Chores,
    /// The filling round.
    Water,
    /// Stalls to clean.
    Stalls,
    /// Questions for hay.
    Hay,
}

impl Part {
    /// All of them, in their order.
    pub const ALL: [Part; 4] = [Part::Chores, Part::Water, Part::Stalls, Part::Hay];
}

/// A part of the rounds.
pub fn sheet(here: &Here<'_>, part: Part) -> Sheet {
    let board = here.board;
    let mut items = match part {
        Part::Chores => board.chores.iter().map(|line| chore(here, line)).collect(),
        Part::Water => water(here),
        Part::Stalls => board.stalls.iter().map(|stall| clean(here, stall)).collect(),
        Part::Hay => board.hay.iter().map(|question| hay::question(here, question)).collect(),
    };
    if items.is_empty() {
        items.push(Item::line(match part {
            Part::Chores => words::no_chores(),
            Part::Water | Part::Stalls => words::nothing_to_fill(),
            Part::Hay => words::no_question(),
        }));
    }
    let mut ways: Vec<Item> = Part::ALL
        .into_iter()
        .map(|other| {
            let item = Item::button(words::part(other), Does::Open(Up::Round { part: other }));
            if other == part { item.strong(Tone::Now) } else { item }
        })
        .collect();
    ways.push(back());
    Sheet {
        title: words::part(part),
        below: words::part_how(part),
        items,
        least_width: if part == Part::Stalls { 7.5 } else { 14.0 },
        ways: vec![ways],
        ..Sheet::default()
    }
}

/// A chore to cross off, or that was crossed off.
pub fn chore(here: &Here<'_>, chore: &ChoreView) -> Item {
    let units = here.board.units;
    let name = chore.name.in_language(here.language);
    let act = |undo| Action::Chore { chore: chore.id.clone(), undo };
    if let Some(done) = &chore.done {
        return was_done(name, done, act(true), here);
    }
    let by = words::by(&words::time(chore.by, units));
    let place = here.language.of(&chore.place, &chore.place_spanish);
    let below = words::chore(place, &by, chore.turn.as_ref().map(|turn| turn.name.as_str()));
    let item = Item::target(name, Does::Give(act(false))).below(below);
    if chore.late { item.tone(Tone::Late) } else { item }
}

/// Something that was done; for a while it can be taken back.
fn was_done(name: &str, done: &DoneView, undo: Action, here: &Here<'_>) -> Item {
    let does = done.can_undo.then_some(Does::Give(undo));
    let look = super::Look::Target;
    let below = words::done_by(done, here.board.units);
    Item { look, text: name.to_owned(), below, tone: Tone::Ready, does, ..Item::default() }
}

fn water(here: &Here<'_>) -> Vec<Item> {
    let board = here.board;
    let mut items: Vec<Item> = board.round.iter().map(|stop| fill(here, stop)).collect();
    items.extend(board.stalls.iter().filter_map(|stall| {
        let done = stall.filled.as_ref()?;
        let undo = Action::Filled { place: WaterPlace::Stall(stall.id.clone()), undo: true };
        Some(was_done(&stall_name(stall), done, undo, here))
    }));
    items
}

fn fill(here: &Here<'_>, stop: &FillView) -> Item {
    let name = match (&stop.place, &stop.horse) {
        (WaterPlace::Stall(stall), Some(horse)) => words::horse_and_stall(horse, stall.as_str()),
        (WaterPlace::Stall(stall), None) => words::stall(stall.as_str()),
        (WaterPlace::Paddock(paddock), _) => words::paddock(paddock.as_str()),
    };
    let tone = match stop.why {
        WhyFill::Empty => Tone::Alarm,
        WhyFill::Low | WhyFill::RunsDry(_) => Tone::Low,
        WhyFill::Unknown => Tone::Unknown,
    };
    Item::target(name, Does::Give(Action::Filled { place: stop.place.clone(), undo: false }))
        .below(words::fill(stop.why, stop.litres, here.board.units))
        .tone(tone)
}

fn clean(here: &Here<'_>, stall: &StallView) -> Item {
    let act = |undo| Action::Cleaned { stall: stall.id.clone(), undo };
    match &stall.cleaned {
        Some(done) => was_done(&stall_name(stall), done, act(true), here),
        None => Item::target(stall_name(stall), Does::Give(act(false))),
    }
}

/// The number first: that is what stands on the door.
fn stall_name(stall: &StallView) -> String {
    match &stall.horse {
        Some(horse) => format!("{} · {}", stall.id, horse.name),
        None => stall.id.to_string(),
    }
}
