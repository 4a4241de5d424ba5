//! What one person does next: their horses, their chores.

use bellmare_barn::board::{Job, NextJob, Pace, Who};
use bellmare_barn::id::PersonId;
use bellmare_barn::input::Action;

use super::{Does, Here, Item, Sheet, back, other_language};
use crate::aisle::Tone;
use crate::app::Up;
use crate::card::CardSide;
use crate::words;

/// A person's page; none where the board has no such person.
pub fn sheet(here: &Here<'_>, id: &PersonId) -> Option<Sheet> {
    let (board, person) = (here.board, here.person(id)?);
    let jobs = board.next.iter().filter(|job| matches!(&job.who, Who::Person { id: who, .. } if who == id));
    let mut items: Vec<Item> = jobs.map(|job| next(here, job)).collect();
    if items.is_empty() {
        items.push(Item::line(words::no_job()));
    } else {
        items.insert(0, Item::heading(words::your_horses()));
    }
    let chores = board.chores.iter().filter(|chore| chore.done.is_none());
    let mine: Vec<Item> = chores
        .filter(|chore| chore.turn.as_ref().is_some_and(|turn| turn.id == *id))
        .map(|chore| super::round::chore(here, chore))
        .collect();
    let mut beside = Vec::new();
    if !mine.is_empty() {
        beside.push(Item::heading(words::your_chores()));
        beside.extend(mine);
    }
    let state = person.since.map_or(words::not_here(), |since| words::here_since(&words::time(since, board.units)));
    let mut ways = Vec::new();
    ways.push(match person.since {
        Some(_) => Item::button(words::sign_out(), Does::GiveAndOpen(Action::SignOut(id.clone()), Up::Aisle)),
        None => Item::button(words::sign_in(), Does::SignIn(id.clone())),
    });
    if person.staff && person.has_pin {
        ways.push(
            Item::button(words::staff_mode(), Does::Open(super::staff::door(here, Up::Staff))).below(words::pin()),
        );
    }
    ways.push(Item::button(
        words::part(super::round::Part::Chores),
        Does::Open(Up::Round { part: Default::default() }),
    ));
    ways.extend([other_language(here), back()]);
    Some(Sheet {
        title: person.name.clone(),
        below: words::together(&[&words::role(person.role), &state]),
        items,
        beside,
        least_width: 14.0,
        ways: vec![ways],
        ..Sheet::default()
    })
}

/// A job to be done next: a touch opens what it takes.
fn next(here: &Here<'_>, job: &NextJob) -> Item {
    let units = here.board.units;
    let side = if job.job == Job::Tack { CardSide::Tack } else { CardSide::Steps };
    let below = words::together(&[
        &words::job(job.job),
        &words::stall(job.stall.as_str()),
        &words::by(&words::time(job.done_by, units)),
    ]);
    let tone = match job.pace {
        Pace::Late => Tone::Late,
        Pace::Now => Tone::Now,
        Pace::Ready => Tone::Ready,
        Pace::Later => Tone::Quiet,
    };
    Item::target(&job.name, Does::Open(Up::Card { stall: job.stall.clone(), side })).below(below).tone(tone)
}
