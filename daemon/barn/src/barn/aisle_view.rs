//! What a screen shows of what people say and ask in the aisle. Nothing here changes anything.

use super::Barn;
use super::aisle::TAP_SHOWN_MS;
use super::view::{local_time, name_of};
use crate::alarm::{Cause, whole_minutes};
use crate::board::{ChoreView, DoneView, HayAnswerView, HayView, StepView, TapView, TurnView, WrongView};
use crate::book::{Chore, WaterPlace};
use crate::done::Done;
use crate::hay::Ask;
use crate::id::{HorseId, StallId};
use crate::language::Text;
use crate::steps;
use crate::time::{Mono, Now, Today};

/// While no clock is set no day ends: what is older than this says nothing about today, in milliseconds.
const A_DAY_MS: u64 = 24 * 3_600_000;

/// The chores of today, by when they are due; none while the clock is not set.
pub(super) fn chores(barn: &Barn, today: Option<&Today>, now: Now) -> Vec<ChoreView> {
    let Some(today) = today else { return Vec::new() };
    let date = today.day().date();
    let mut chores: Vec<&Chore> = barn.book.chores.values().filter(|chore| chore.days.include(date)).collect();
    chores.sort_by_key(|chore| (chore.by, &chore.id));
    let known = Some(&barn.aisle.chores).filter(|chores| chores.date() == Some(date));
    let view = |chore: &Chore| {
        let turn = known.and_then(|known| known.turn(&chore.id));
        let done = turn.and_then(|turn| turn.done.as_ref()).map(|done| done_view(barn, done, now));
        let whose = turn.and_then(|turn| turn.whose.as_ref());
        ChoreView {
            id: chore.id.clone(),
            name: Text { english: chore.name.clone(), spanish: chore.name_spanish.clone() },
            place: chore.place.clone(),
            place_spanish: chore.place_spanish.clone(),
            by: chore.by,
            turn: whose.map(|person| TurnView { id: person.clone(), name: name_of(&barn.book, person) }),
            late: done.is_none() && today.now() > today.day().minute_of(chore.by),
            done,
        }
    };
    chores.into_iter().map(view).collect()
}

/// Who cleaned a stall today.
pub(super) fn cleaned(barn: &Barn, stall: &StallId, now: Now) -> Option<DoneView> {
    let done = barn.aisle.cleaned.last(stall).filter(|done| now.mono.since(done.at) < A_DAY_MS)?;
    Some(done_view(barn, done, now))
}

/// Who has just said that they filled the water of a place.
pub(super) fn filled(barn: &Barn, place: &WaterPlace, now: Now) -> Option<DoneView> {
    let done = barn.aisle.filled.last(place).filter(|done| now.mono < done.undo_ends())?;
    Some(done_view(barn, done, now))
}

/// Today's questions for hay: open ones as they were asked, then the others, latest first.
pub(super) fn hay(barn: &Barn, now: Mono) -> Vec<HayView> {
    let view = |ask: &Ask| {
        let horse = barn.book.horses.get(&ask.horse)?;
        Some(HayView {
            ask: ask.number,
            horse: horse.id.clone(),
            name: horse.name.clone(),
            stall: horse.stall.clone(),
            by: ask.asked.by.as_ref().map(|by| name_of(&barn.book, by)),
            ago_min: whole_minutes(now.since(ask.asked.at)),
            can_undo: ask.answer.is_none() && now < ask.asked.undo_ends(),
            answer: ask.answer.as_ref().map(|answer| HayAnswerView {
                allowed: answer.allowed,
                by: name_of(&barn.book, &answer.by),
                ago_min: whole_minutes(now.since(answer.at)),
            }),
        })
    };
    let of_today = |ask: &&Ask| ask.answer.is_none() || now.since(ask.asked.at) < A_DAY_MS;
    let answered = barn.aisle.hay.all().rev().filter(|ask| ask.answer.is_some());
    barn.aisle.hay.open().chain(answered).filter(of_today).filter_map(view).collect()
}

/// What somebody said is wrong with a horse.
pub(super) fn wrong(barn: &Barn, horse: &HorseId, now: Mono) -> Option<WrongView> {
    let report = barn.aisle.wrong.get(horse)?;
    let seen_by = barn.alarms.seen_by(&Cause::Wrong(horse.clone())).and_then(|by| barn.book.people.get(by));
    Some(WrongView {
        seen: report.seen(),
        by: report.first.by.as_ref().map(|by| name_of(&barn.book, by)),
        ago_min: whole_minutes(now.since(report.first.at)),
        vet_now: report.vet_now(),
        taken_by: seen_by.filter(|by| by.role.is_staff()).map(|by| by.name.clone()),
        can_undo: report.undo(now).is_ok(),
    })
}

/// Whose badges were held to which reader just now, latest first.
pub(super) fn tapped(barn: &Barn, now: Mono) -> Vec<TapView> {
    let shown = barn.aisle.tapped.iter().rev().filter(|tap| now.since(tap.at) < TAP_SHOWN_MS);
    let view = |tap: &super::aisle::Tap| TapView {
        reader: tap.reader.clone(),
        person: tap.person.clone(),
        here: tap.here,
        ago_s: u32::try_from(now.since(tap.at) / 1000).unwrap_or(u32::MAX),
    };
    shown.map(view).collect()
}

/// The steps of each job in their order.
pub(super) fn steps(barn: &Barn) -> Vec<StepView> {
    let view = |step: crate::book::JobStep| StepView { job: step.job, text: step.text, caution: step.caution };
    steps::steps(&barn.book).map(view).collect()
}

fn done_view(barn: &Barn, done: &Done, now: Now) -> DoneView {
    DoneView {
        by: done.by.as_ref().map(|by| name_of(&barn.book, by)),
        at: local_time(barn, done.at, now),
        can_undo: done.undo(now.mono).is_ok(),
    }
}
