//! Something is wrong with a horse: staff are called at once, what was seen follows word by word. It says whom to call and
//! never what it is.

use bellmare_barn::care::seen::Seen;
use bellmare_barn::id::HorseId;
use bellmare_barn::input::Action;

use super::{Does, Here, Item, Sheet};
use crate::aisle::Tone;
use crate::app::Up;
use crate::check::Sign;
use crate::words;

/// The page; none where the board has no such horse.
pub fn sheet(here: &Here<'_>, horse: &HorseId) -> Option<Sheet> {
    let (stall, view) = here.horse(horse)?;
    let report = view.wrong.as_ref();
    let chosen = |seen: &Seen| report.is_some_and(|report| report.seen.contains(seen));
    let sign = |seen: Seen, tone: Tone| {
        let item = Item::target(
            words::seen(seen),
            Does::Give(Action::Wrong { horse: horse.clone(), seen: vec![seen], undo: false }),
        );
        if chosen(&seen) { item.strong(tone) } else { item }
    };
    let (for_vet, others): (Vec<_>, Vec<_>) = Seen::ALL.into_iter().partition(|seen| seen.vet_now());
    let mut items = vec![Item::heading(words::vet_signs()).tone(Tone::Vet)];
    items.extend(for_vet.into_iter().map(|seen| sign(seen, Tone::Vet)));
    items.push(Item::heading(words::other_signs()).tone(Tone::Care));
    items.extend(others.into_iter().map(|seen| sign(seen, Tone::Care)));

    let call = |undo| Does::Give(Action::Wrong { horse: horse.clone(), seen: Vec::new(), undo });
    let mut ways = Vec::new();
    match report {
        None => ways.push(Item::button(words::call_staff(), call(false)).strong(Tone::Vet)),
        Some(report) if report.can_undo => {
            ways.push(Item::button(words::it_was(), call(true)).below(words::a_mistake()))
        }
        Some(_) => {}
    }
    if report.is_some() && here.staff.is_some() {
        let over = Does::GiveAndOpen(Action::WrongOver { horse: horse.clone() }, Up::card(stall.id.as_str()));
        ways.push(Item::button(words::looked_after(), over).below(words::close_report()));
    }
    let check = Up::Check { stall: stall.id.clone(), sign: Sign::default() };
    let (word, below) = words::check_short();
    ways.push(Item::button(word, Does::Open(check)).below(below));
    ways.push(Item::button(words::back(), Does::Open(Up::card(stall.id.as_str()))));
    let below = match report {
        None => String::new(),
        Some(report) if report.vet_now => words::wrong_vet(),
        Some(report) => report.taken_by.as_deref().map_or_else(words::wrong_told, words::wrong_taken),
    };
    Some(Sheet {
        title: words::wrong_title(&view.name),
        below,
        tone: if report.is_some_and(|report| report.vet_now) { Tone::Vet } else { Tone::Care },
        items,
        least_width: 5.4,
        ways: vec![ways],
        ..Sheet::default()
    })
}

/// The button of a card: a touch calls staff at once and asks what was seen.
pub fn button(here: &Here<'_>, horse: &HorseId) -> Item {
    let page = || Up::Wrong { horse: horse.clone() };
    match here.horse(horse).and_then(|(_, view)| view.wrong.as_ref()) {
        Some(report) => {
            let tone = if report.vet_now { Tone::Vet } else { Tone::Care };
            Item::button(words::wrong(), Does::Open(page())).below(words::was_told()).strong(tone)
        }
        None => {
            let call = Action::Wrong { horse: horse.clone(), seen: Vec::new(), undo: false };
            Item::button(words::wrong(), Does::GiveAndOpen(call, page())).below(words::with_this_horse())
        }
    }
}
