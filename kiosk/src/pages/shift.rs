//! Who is in the barn: the roll for a fire, and the way to sign in and out. And who looked at a horse.

use bellmare_barn::board::{Board, PersonView};
use bellmare_barn::id::StallId;
use bellmare_barn::input::Action;

use super::{Does, Here, Item, Sheet, back, other_language};
use crate::aisle::Tone;
use crate::app::Up;
use crate::words;

/// Everybody, those who are here first.
pub fn sheet(here: &Here<'_>) -> Sheet {
    let board = here.board;
    let (present, absent): (Vec<_>, Vec<_>) = board.people.iter().partition(|person| person.since.is_some());
    let mut items: Vec<Item> = present.iter().map(|person| is_here(board, person)).collect();
    items.push(Item::heading(words::touch_to_sign_in()));
    items.extend(absent.into_iter().map(|person| {
        Item::target(&person.name, Does::SignIn(person.id.clone()))
            .below(words::together(&[&words::role(person.role), &words::not_here()]))
    }));
    let wipe = Item::button(words::wipe(), Does::Wipe).below(words::the_screen());
    // On a low glass an alarm takes this touch and that for the language from the aisle.
    let heat = Item::button(words::heat_way(), Does::Open(Up::Heat)).below(words::today());
    let staff = Item::button(words::staff_mode(), Does::Open(super::staff::door(here, Up::Staff))).below(words::pin());
    Sheet {
        title: words::in_the_barn(present.len()),
        below: words::not_counted(),
        items,
        least_width: 9.5,
        ways: vec![vec![wipe, staff, heat, other_language(here), back()]],
        ..Sheet::default()
    }
}

fn is_here(board: &Board, person: &PersonView) -> Item {
    let since = person.since.map(|since| words::here_since(&words::time(since, board.units))).unwrap_or_default();
    Item::target(&person.name, Does::Greet(person.id.clone(), Up::Person { person: person.id.clone() }))
        .below(words::together(&[&words::role(person.role), &since]))
        .tone(Tone::Ready)
        .aside(words::out(), Does::GiveAndOpen(Action::SignOut(person.id.clone()), Up::Aisle))
}

/// Who may have seen or done something: those who are here; where nobody is signed in, everybody.
pub fn who_is_here(board: &Board) -> Vec<&PersonView> {
    let here: Vec<_> = board.people.iter().filter(|person| person.since.is_some()).collect();
    if here.is_empty() { board.people.iter().collect() } else { here }
}

/// Who looked at the horse of a stall; what they found waits to be sent.
pub fn checked(here: &Here<'_>, stall: &StallId, found: &str) -> Sheet {
    let mut items = Vec::new();
    for person in who_is_here(here.board) {
        let item = Item::target(&person.name, Does::SendCheck(person.id.clone())).below(words::role(person.role));
        // Who tapped in stands before the kiosk: most likely it was them.
        if here.who == Some(&person.id) { items.insert(0, item.strong(Tone::Ready)) } else { items.push(item) }
    }
    let card = Item::button(words::back(), Does::Open(Up::card(stall.as_str())));
    Sheet {
        title: words::who_checked(),
        below: found.to_owned(),
        items,
        least_width: 9.0,
        ways: vec![vec![card]],
        ..Sheet::default()
    }
}
