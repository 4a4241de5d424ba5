//! Why an outing is missed, and why staff are called: in the words of the barn, from the plan as it stands.
//!
//! The reasons are those that a person could check by walking down the aisle: which gear is on which horse until when, which horse is
//! not back or away, who is cleared, on shift, away, or busy with whom.

use super::day::{Day, Job, Minute, Span};
use super::search::state::{FIXED, State};
use super::search::table::own_window;

/// By outing of the day: the reason, where there is something to be explained.
pub(super) fn reasons(state: &State) -> Vec<Option<String>> {
    let reason = |(i, status): (usize, &super::search::state::Status)| {
        if status.missed {
            return Some(missed(state, i));
        }
        let by_staff = [Job::Brush, Job::Tack, Job::PutAway].into_iter().filter(|&job| {
            let fixed = state.day.outings[i].begun[job as usize].is_some();
            !fixed && status.slots[job as usize].hand.groom().is_none()
        });
        let calls: Vec<String> = by_staff.map(|job| staff(state, i, job)).collect();
        (!calls.is_empty()).then(|| calls.join("; "))
    };
    state.outings.iter().enumerate().map(reason).collect()
}

fn missed(state: &State, i: usize) -> String {
    let (day, outing) = (state.day, &state.day.outings[i]);
    let horse = &day.horses[outing.horse];
    let [brush, tack, _] = outing.minutes;
    let by = format!("{} must be tacked by {}", horse.name, clock(day, outing.mount));
    if let Some(now) = day.now
        && now + tack + if outing.begun[0].is_none() { brush } else { 0 } > outing.mount
    {
        return format!("it is {}, too late: {by}", clock(day, now));
    }
    let before_mount = Span { from: outing.mount - brush - tack, to: outing.mount };
    if let Some(away) = horse.away.iter().find(|away| away.overlaps(before_mount)) {
        return format!("{} is away from {} to {}, and {by}", horse.name, clock(day, away.from), clock(day, away.to));
    }
    let dry = day.limits.girth_dry as Minute;
    let present = |k: &&usize| !state.outings[**k].missed;
    let shared = |k: usize| {
        let piece = outing.gear.iter().find(|piece| day.outings[k].gear.contains(piece));
        piece.map_or("its tack", |&piece| day.gear_names[piece].as_str())
    };
    let on = |k: usize| &day.horses[day.outings[k].horse].name;
    for &k in state.table.gear_before[i].iter().filter(present) {
        let free = state.outings[k].slots[2].span.to + dry;
        if free + tack > outing.mount {
            return format!(
                "{} is on {} until {} and dry at {}, and {by}",
                shared(k),
                on(k),
                clock(day, free - dry),
                clock(day, free)
            );
        }
    }
    for &k in state.table.horse_before[i].iter().filter(present) {
        let put_away = state.outings[k].slots[2].span.to;
        if put_away + brush + tack > outing.mount {
            return format!("{} is not put away before {}, and {by}", horse.name, clock(day, put_away));
        }
    }
    let rear = own_window(day, i, Job::PutAway).0 + outing.minutes[2];
    for &k in state.table.gear_after[i].iter().filter(present) {
        let needed = state.outings[k].slots[1].span.from;
        if rear + dry > needed {
            return format!(
                "{} is needed on {} from {}, before {} is back",
                shared(k),
                on(k),
                clock(day, needed),
                horse.name
            );
        }
    }
    for &k in state.table.horse_after[i].iter().filter(present) {
        let needed = state.outings[k].slots[0].span.from;
        if rear > needed {
            return format!(
                "{} must be brushed for another ride from {}, before it is put away",
                horse.name,
                clock(day, needed)
            );
        }
    }
    let hands = hands(state, i, before_mount);
    format!("too few hands: {hands}; {by}")
}

fn staff(state: &State, i: usize, job: Job) -> String {
    let span = state.outings[i].slots[job as usize].span;
    let what = match job {
        Job::Brush => "brush",
        Job::Tack => "tack up",
        Job::PutAway => "put away",
    };
    let day = state.day;
    let horse = &day.horses[day.outings[i].horse].name;
    format!("staff {what} {horse} at {}: {}", clock(day, span.from), hands(state, i, span))
}

/// What keeps each groom who could from working in this stretch of time.
fn hands(state: &State, i: usize, span: Span) -> String {
    let day = state.day;
    let horse = &day.horses[day.outings[i].horse];
    let cleared = &state.table.cleared[i];
    if day.grooms.is_empty() {
        return "there are no grooms today".to_owned();
    }
    if cleared.is_empty() {
        return format!("no groom is cleared for grade {}", horse.grade);
    }
    let on_shift: Vec<usize> = cleared
        .iter()
        .copied()
        .filter(|&groom| {
            let shift = day.grooms[groom].shift;
            shift.from <= span.from && span.to <= shift.to
        })
        .collect();
    if on_shift.is_empty() {
        let who = format!("no groom cleared for grade {} is on shift", horse.grade);
        let next = cleared.iter().map(|&groom| day.grooms[groom].shift.from).filter(|&from| from > span.from).min();
        return match next {
            Some(from) => format!("{who} before {}", clock(day, from)),
            None => {
                let last = cleared.iter().map(|&groom| day.grooms[groom].shift.to).max().unwrap_or(0);
                format!("{who} after {}", clock(day, last))
            }
        };
    }
    let busy: Vec<String> = on_shift.iter().map(|&groom| busy(state, groom, span)).collect();
    busy.join(", ")
}

fn busy(state: &State, groom: usize, span: Span) -> String {
    let day = state.day;
    let name = &day.grooms[groom].name;
    if let Some(away) = day.grooms[groom].away.iter().find(|away| away.overlaps(span)) {
        return format!("{name} is away until {}", clock(day, away.to));
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
    match begun.or(planned) {
        Some((horse, until)) => format!("{name} is with {} until {}", day.horses[horse].name, clock(day, until)),
        None => format!("{name} has no time that fits"),
    }
}

/// A minute as people read it. The second day's hours go on after 24.
fn clock(day: &Day, minute: Minute) -> String {
    let minute = minute + day.clock_ahead;
    format!("{}:{:02}", minute.div_euclid(60), minute.rem_euclid(60))
}
