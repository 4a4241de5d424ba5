//! Works out, from the plan as it stands, why an outing is missed and why staff are called ([`reason`](super::reason)).

use super::day::{Day, JOBS, Job, Minute, Span};
use super::reason::{Busy, Call, Hands, Hindrance, Keeps, Missed, Why};
use super::search::state::{FIXED, State, Status};
use super::search::table::own_window;
use crate::time::TimeOfDay;

/// By outing of the day: the reason, where there is something to be explained.
pub(super) fn reasons(state: &State) -> Vec<Option<Why>> {
    let reason = |(i, status): (usize, &Status)| {
        if status.missed {
            return Some(Why::Missed(missed(state, i)));
        }
        let by_staff = JOBS.into_iter().filter(|&job| {
            let fixed = state.day.outings[i].begun[job as usize].is_some();
            !fixed && status.slots[job as usize].hand.groom().is_none()
        });
        let calls: Vec<Call> = by_staff.map(|job| call(state, i, job)).collect();
        (!calls.is_empty()).then_some(Why::Staff(calls))
    };
    state.outings.iter().enumerate().map(reason).collect()
}

fn missed(state: &State, i: usize) -> Missed {
    let (day, outing) = (state.day, &state.day.outings[i]);
    let horse = day.horses[outing.horse].name.clone();
    Missed { horse, by: clock(day, outing.mount), because: hindrance(state, i) }
}

fn hindrance(state: &State, i: usize) -> Hindrance {
    let (day, outing) = (state.day, &state.day.outings[i]);
    let at = |minute| clock(day, minute);
    let [brush, tack, _] = outing.minutes;
    if let Some(now) = day.now
        && now + tack + if outing.begun[0].is_none() { brush } else { 0 } > outing.mount
    {
        return Hindrance::TooLate { now: at(now) };
    }
    let before_mount = Span { from: outing.mount - brush - tack, to: outing.mount };
    if let Some(away) = day.horses[outing.horse].away.iter().find(|away| away.overlaps(before_mount)) {
        return Hindrance::Away { from: at(away.from), to: at(away.to) };
    }
    let dry = day.limits.girth_dry as Minute;
    // Another outing that is not missed, and what of the tack is on it.
    let with_tack = |&k: &usize| {
        let piece = outing.gear.iter().find(|piece| day.outings[k].gear.contains(piece))?;
        let horse = day.horses[day.outings[k].horse].name.clone();
        (!state.outings[k].missed).then(|| (k, day.gear_names[*piece].clone(), horse))
    };
    let present = |k: &&usize| !state.outings[**k].missed;
    for (k, piece, horse) in state.table.gear_before[i].iter().filter_map(with_tack) {
        let until = state.outings[k].slots[2].span.to;
        if until + dry + tack > outing.mount {
            return Hindrance::TackOn { piece, horse, until: at(until), dry: at(until + dry) };
        }
    }
    for &k in state.table.horse_before[i].iter().filter(present) {
        let until = state.outings[k].slots[2].span.to;
        if until + brush + tack > outing.mount {
            return Hindrance::NotPutAway { until: at(until) };
        }
    }
    let rear = own_window(day, i, Job::PutAway).0 + outing.minutes[2];
    for (k, piece, horse) in state.table.gear_after[i].iter().filter_map(with_tack) {
        let from = state.outings[k].slots[1].span.from;
        if rear + dry > from {
            return Hindrance::TackNeeded { piece, horse, from: at(from) };
        }
    }
    for &k in state.table.horse_after[i].iter().filter(present) {
        let from = state.outings[k].slots[0].span.from;
        if rear > from {
            return Hindrance::BrushedAgain { from: at(from) };
        }
    }
    Hindrance::TooFewHands(hands(state, i, before_mount))
}

fn call(state: &State, i: usize, job: Job) -> Call {
    let day = state.day;
    let span = state.outings[i].slots[job as usize].span;
    let horse = day.horses[day.outings[i].horse].name.clone();
    Call { job, horse, at: clock(day, span.from), because: hands(state, i, span) }
}

/// What keeps each groom who could from working in this stretch of time.
fn hands(state: &State, i: usize, span: Span) -> Hands {
    let day = state.day;
    let grade = day.horses[day.outings[i].horse].grade;
    let cleared = &state.table.cleared[i];
    if day.grooms.is_empty() {
        return Hands::NoGrooms;
    }
    let shifts = || cleared.iter().map(|&groom| day.grooms[groom].shift);
    let Some(last) = shifts().map(|shift| shift.to).max() else { return Hands::NobodyCleared { grade } };
    let on_shift = |&groom: &usize| {
        let shift = day.grooms[groom].shift;
        shift.from <= span.from && span.to <= shift.to
    };
    let there: Vec<Busy> = cleared.iter().copied().filter(on_shift).map(|groom| busy(state, groom, span)).collect();
    if !there.is_empty() {
        return Hands::Busy(there);
    }
    match shifts().map(|shift| shift.from).filter(|&from| from > span.from).min() {
        Some(next) => Hands::NobodyBefore { grade, time: clock(day, next) },
        None => Hands::NobodyAfter { grade, time: clock(day, last) },
    }
}

fn busy(state: &State, groom: usize, span: Span) -> Busy {
    let day = state.day;
    let name = day.grooms[groom].name.clone();
    if let Some(away) = day.grooms[groom].away.iter().find(|away| away.overlaps(span)) {
        return Busy { name, with: Keeps::Away { until: clock(day, away.to) } };
    }
    // Who brushes for what is missed is free.
    let goes_on = |i: &usize| state.table.brushing[*i].is_none() || !state.outings[*i].missed;
    let begun = (0..day.outings.len()).filter(goes_on).find_map(|i| {
        let outing = &day.outings[i];
        let job = outing.begun.iter().flatten().find(|b| b.hand.groom() == Some(groom) && b.span.overlaps(span))?;
        Some((outing.horse, job.span.to))
    });
    let planned = state.lines[groom].iter().find(|entry| entry.job != FIXED && entry.span.overlaps(span));
    let planned = planned.map(|entry| (day.outings[entry.job as usize / 3].horse, entry.span.to));
    let with = match begun.or(planned) {
        Some((horse, until)) => Keeps::Horse { name: day.horses[horse].name.clone(), until: clock(day, until) },
        None => Keeps::NoTimeThatFits,
    };
    Busy { name, with }
}

/// A minute as the clock on the wall has it.
fn clock(day: &Day, minute: Minute) -> TimeOfDay {
    let minute = (minute + day.clock_ahead).rem_euclid(1440);
    TimeOfDay::from_minutes(minute as u16).unwrap_or(TimeOfDay::NOON)
}
