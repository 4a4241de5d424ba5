//! What the people of the invented barn say at their kiosk besides readying horses: chores crossed off, stalls cleaned, buckets
//! filled, hay asked for, and once that something is wrong with a horse. Each follows from the board as it stands, as with
//! anybody who looks at one. Staff answer by their PIN, and no invented hand has one: that is left to whoever tries the demo.

use bellmare_barn::board::{Board, FillView, HorseView, PersonView, WhyFill};
use bellmare_barn::book::Role;
use bellmare_barn::care::seen::Seen;
use bellmare_barn::id::PersonId;
use bellmare_barn::input::Action;

use super::script::{HAY_ASKED, HAY_NOT_ANSWERED, MUCKING_OUT, ROUNDS, SOMETHING_WRONG, minutes};

/// A chore is crossed off so many minutes before its time.
const CHORE_AHEAD: u16 = 5;
/// A stall takes so many minutes.
const STALL: u16 = 3;
/// A round with the hose takes so many minutes.
const ROUND: u16 = 6;
/// Who asked for hay by mistake takes it back after so many minutes.
const TAKEN_BACK: u16 = 2;
/// Within so many minutes it is said: where the demo hurries on a busy machine, two are over before anybody has looked.
const LOOKED: u16 = 8;

/// What they say at this minute of the day, each with who says it.
pub(super) fn said(board: &Board, minute: u16) -> Vec<(Option<PersonId>, Action)> {
    let here = |person: &&PersonView| person.since.is_some();
    let groom = board.people.iter().filter(here).find(|person| person.role == Role::Groom);
    let Some(groom) = groom.map(|person| person.id.clone()) else { return Vec::new() };
    let mut said = Vec::new();
    for chore in board.chores.iter().filter(|chore| chore.done.is_none()) {
        let whose = chore.turn.as_ref().and_then(|turn| board.people.iter().find(|person| person.id == turn.id));
        if minute + CHORE_AHEAD >= chore.by.minutes()
            && let Some(person) = whose.filter(here)
        {
            said.push((Some(person.id.clone()), Action::Chore { chore: chore.id.clone(), undo: false }));
        }
    }
    let dirty = board.stalls.iter().find(|stall| stall.cleaned.is_none());
    if let Some(stall) = dirty.filter(|_| minute >= minutes(MUCKING_OUT) && minute.is_multiple_of(STALL)) {
        said.push((Some(groom.clone()), Action::Cleaned { stall: stall.id.clone(), undo: false }));
    }
    if ROUNDS.iter().any(|round| within(ROUND, *round, minute)) {
        let known = board.round.iter().filter(|stop: &&FillView| stop.why != WhyFill::Unknown);
        said.extend(known.map(|stop| (Some(groom.clone()), Action::Filled { place: stop.place.clone(), undo: false })));
    }
    let mut horses = board.stalls.iter().filter_map(|stall| stall.horse.as_ref());
    said.extend(horses.next().and_then(|horse| hay(board, horse, minute)).map(|action| (Some(groom.clone()), action)));
    let warm = horses.next().filter(|horse| horse.wrong.is_none() && within(LOOKED, SOMETHING_WRONG, minute));
    if let Some(horse) = warm {
        let action = Action::Wrong { horse: horse.id.clone(), seen: vec![Seen::WarmLeg], undo: false };
        said.push((Some(groom), action));
    }
    said
}

/// In the morning somebody asks for the wrong horse and takes it back; after noon nobody of the staff is at hand.
fn hay(board: &Board, horse: &HorseView, minute: u16) -> Option<Action> {
    let open = board.hay.iter().find(|ask| ask.horse == horse.id && ask.answer.is_none());
    let undo = match open {
        None if within(TAKEN_BACK, HAY_ASKED, minute) || within(LOOKED, HAY_NOT_ANSWERED, minute) => false,
        Some(open) if open.can_undo && open.ago_min >= u32::from(TAKEN_BACK) && minute < minutes(HAY_NOT_ANSWERED) => {
            true
        }
        _ => return None,
    };
    Some(Action::AskHay { horse: horse.id.clone(), undo })
}

/// From then on for so many minutes.
fn within(count: u16, then: (u16, u16), minute: u16) -> bool {
    (minutes(then)..minutes(then) + count).contains(&minute)
}
