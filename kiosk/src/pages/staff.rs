//! What staff do, once they have shown their PIN: answer for hay, close reports, look at alarms, take a horse out for the
//! day, set the clock. It ends a minute after their last touch.

use bellmare_barn::board::{Clock, StallView};

use super::{Does, Here, Item, Sheet, back, hay, other_language};
use crate::aisle::{Tone, strip};
use crate::app::Up;
use crate::words;

/// The way to a page for staff: straight on for who acts as staff already, by PIN for others.
pub fn door(here: &Here<'_>, then: Up) -> Up {
    if here.staff.is_some() {
        return then;
    }
    match here.who.and_then(|who| here.person(who)) {
        Some(person) if person.staff && person.has_pin => Up::Pin { person: person.id.clone(), then: Box::new(then) },
        _ => Up::ChooseStaff { then: Box::new(then) },
    }
}

/// Whose PIN.
pub fn choose(here: &Here<'_>, then: &Up) -> Sheet {
    let staff = here.board.people.iter().filter(|person| person.staff && person.has_pin);
    let mut items: Vec<Item> = staff
        .map(|person| {
            let keys = Up::Pin { person: person.id.clone(), then: Box::new(then.clone()) };
            let item = Item::target(&person.name, Does::Open(keys)).below(words::role(person.role));
            if person.since.is_some() { item.tone(Tone::Ready) } else { item }
        })
        .collect();
    if items.is_empty() {
        items.push(Item::line(words::no_pins()));
    }
    Sheet { title: words::whose_pin(), items, least_width: 9.0, ways: vec![vec![back()]], ..Sheet::default() }
}

/// What there is for staff to do; none where nobody acts as staff.
pub fn sheet(here: &Here<'_>) -> Option<Sheet> {
    let board = here.board;
    let person = here.person(here.staff?)?;
    let mut items = Vec::new();
    if clock_can_be_set(here) {
        items.push(Item::target(words::set_clock(), Does::Open(Up::Clock)).tone(Tone::Unknown));
    }
    group(
        &mut items,
        words::hay_ask(),
        board.hay.iter().filter(|ask| ask.answer.is_none()).map(|ask| hay::question(here, ask)),
    );
    let reports = board.stalls.iter().filter_map(|stall| Some((stall, stall.horse.as_ref()?)));
    group(
        &mut items,
        words::wrong_reports(),
        reports.filter(|(_, horse)| horse.wrong.is_some()).map(|(stall, horse)| {
            let page = Up::Wrong { horse: horse.id.clone() };
            let vet = horse.wrong.as_ref().is_some_and(|report| report.vet_now);
            Item::target(words::horse_and_stall(&horse.name, stall.id.as_str()), Does::Open(page)).tone(if vet {
                Tone::Vet
            } else {
                Tone::Care
            })
        }),
    );
    let alarm = |line: &bellmare_barn::board::AlarmLine| {
        Item::target(words::alarm(&line.what, board.units), Does::Open(Up::Alarm { alarm: line.id }))
            .below(words::for_minutes(line.for_min))
            .tone(if line.over { Tone::Ready } else { strip::raised(&line.what) })
    };
    group(&mut items, words::alarms(), board.alarms.iter().map(alarm));
    group(&mut items, words::put_aside(), board.aside.iter().map(alarm));
    group(&mut items, words::horses_today(), board.stalls.iter().filter_map(|stall| horse(here, stall)));
    let end = Item::button(words::end(), Does::EndStaff).below(words::of_staff_mode());
    Some(Sheet {
        title: words::acts_as_staff(&person.name),
        below: words::staff_ends(),
        items,
        least_width: 12.0,
        ways: vec![vec![end, other_language(here), back()]],
        ..Sheet::default()
    })
}

fn group(items: &mut Vec<Item>, heading: String, more: impl Iterator<Item = Item>) {
    let more: Vec<Item> = more.collect();
    if !more.is_empty() {
        items.push(Item::heading(heading));
        items.extend(more);
    }
}

/// A horse with a ride today, or that was taken out.
fn horse(here: &Here<'_>, stall: &StallView) -> Option<Item> {
    let horse = stall.horse.as_ref().filter(|horse| horse.scratched || !horse.rides.is_empty())?;
    let below = match horse.rides.first() {
        _ if !horse.open_rides.is_empty() => words::open_rides(&horse.open_rides, here.board.units),
        _ if horse.scratched => words::scratched(),
        Some(ride) => words::mount(&words::time(ride.mount, here.board.units)),
        None => String::new(),
    };
    let card = Does::Open(Up::card(stall.id.as_str()));
    Some(Item::target(words::horse_and_stall(&horse.name, stall.id.as_str()), card).below(below))
}

/// True where nobody knows what time it is, or somebody has said it by hand.
pub fn clock_can_be_set(here: &Here<'_>) -> bool {
    here.board.clock == Clock::Unset || here.board.clock_by_hand
}
