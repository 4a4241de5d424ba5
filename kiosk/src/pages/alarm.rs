//! One alarm: what it says, since when, who was told, who has seen it; and for staff, to put it aside for a while.

use bellmare_barn::board::{AlarmLine, AlarmWhat, Board};
use bellmare_barn::id::StallId;
use bellmare_barn::input::{Action, WhyAside};

use super::{Does, Here, Item, Sheet, back, shift, staff};
use crate::aisle::{Tone, strip};
use crate::app::Up;
use crate::words;

/// For how many minutes an alarm can be put aside from here; the last is the most there is.
const ASIDE_MIN: [u32; 3] = [30, 120, bellmare_barn::input::MOST_ASIDE_MIN];
const WHY: [WhyAside; 3] = [WhyAside::BeingSeenTo, WhyAside::Waits, WhyAside::NotSo];

/// The page; none where the alarm stands no longer.
pub fn sheet(here: &Here<'_>, id: u64) -> Option<Sheet> {
    let board = here.board;
    let line = board.alarms.iter().chain(&board.aside).find(|line| line.id == id)?;
    let mut items = Vec::new();
    if let Some(aside) = &line.aside {
        items.push(Item::line(words::aside_until(
            &aside.by,
            &words::time(aside.until, board.units),
            &words::why_aside(aside.why),
        )));
    } else {
        items.push(Item::heading(words::who_has_seen()));
        items.extend(names(here, id));
    }
    if here.staff.is_some() && !line.over {
        items.extend(aside(line));
    }
    let mut ways = Vec::new();
    if let Some(stall) = stall(board, &line.what) {
        ways.push(
            Item::button(words::to_card(), Does::Open(Up::card(stall.as_str()))).below(words::stall(stall.as_str())),
        );
    }
    if here.staff.is_none() && !line.over {
        let door = staff::door(here, Up::Alarm { alarm: id });
        ways.push(Item::button(words::put_aside(), Does::Open(door)).below(words::staff_pin()));
    }
    ways.push(back());
    Some(Sheet {
        title: words::alarm(&line.what, board.units),
        below: state(line),
        tone: if line.over { Tone::Ready } else { strip::raised(&line.what) },
        items,
        least_width: 9.0,
        ways: vec![ways],
        ..Sheet::default()
    })
}

fn state(line: &AlarmLine) -> String {
    let mut parts = vec![words::for_minutes(line.for_min)];
    if let Some(who) = &line.seen_by {
        parts.push(words::seen_by(who));
    }
    if line.over {
        parts.push(words::is_over());
    }
    if !line.told.is_empty() {
        parts.push(words::told(&line.told.join(", ")));
    }
    parts.join(" · ")
}

/// Who has seen it: whoever stands here first.
fn names(here: &Here<'_>, alarm: u64) -> Vec<Item> {
    let mut items = Vec::new();
    for person in shift::who_is_here(here.board) {
        let seen = Does::GiveAndOpen(Action::Acknowledge { alarm, by: person.id.clone() }, Up::Aisle);
        if here.who == Some(&person.id) || here.staff == Some(&person.id) {
            items.insert(0, Item::target(words::seen_touch(&person.name), seen).strong(Tone::Ready));
        } else {
            items.push(Item::target(&person.name, seen).below(words::role(person.role)));
        }
    }
    items
}

fn aside(line: &AlarmLine) -> Vec<Item> {
    if line.aside.is_some() {
        return vec![Item::target(words::take_up(), Does::GiveAndOpen(Action::TakeUp { alarm: line.id }, Up::Aisle))];
    }
    let mut items = vec![Item::heading(words::put_aside_how())];
    for why in WHY {
        for for_min in ASIDE_MIN {
            let put = Does::GiveAndOpen(Action::PutAside { alarm: line.id, for_min, why }, Up::Aisle);
            items.push(Item::target(words::why_aside(why), put).below(words::for_long(&words::minutes(for_min))));
        }
    }
    items
}

/// The stall that an alarm is about.
fn stall<'a>(board: &'a Board, what: &AlarmWhat) -> Option<&'a StallId> {
    let id = match what {
        AlarmWhat::BucketEmpty { stall, .. }
        | AlarmWhat::BucketLow { stall, .. }
        | AlarmWhat::Ice { stall, .. }
        | AlarmWhat::NotDrinking { stall, .. }
        | AlarmWhat::DrinksLittle { stall, .. }
        | AlarmWhat::DrinksMuch { stall, .. }
        | AlarmWhat::VitalsCaution { stall, .. }
        | AlarmWhat::Wrong { stall, .. }
        | AlarmWhat::HayUnanswered { stall, .. }
        | AlarmWhat::NoHorse { stall, .. } => stall,
        _ => return None,
    };
    board.stalls.iter().map(|view| &view.id).find(|view| *view == id)
}
