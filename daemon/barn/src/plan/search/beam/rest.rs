//! What the rest of a day is likely to cost, once some of it is decided.
//!
//! All who are there share all minutes that are left, and what is pressing comes first: horses by when they are to be ready, and
//! those to be put away whose tack or stall is needed again. That gives an end for each, and what it is late. Other horses that
//! are back are put away in the minutes in between. Nobody works like that, but of two beginnings of a day it tells the better.

use super::{Beginning, Past, What};
use crate::plan::day::{Job, Minute, Span};
use crate::plan::search::state::State;

/// Nothing is looked at that is wanted later than this, in minutes.
const AHEAD: Minute = 120;
/// So many minutes sooner an outing counts for each time that it weighs the least once more.
const SOONER_BY_WEIGHT: Minute = 10;
/// How long a horse may wait to be put away before that is pressing, in minutes.
const PATIENT: Minute = 20;
/// An earlier outing counts for what it may hold up so long.
const HOLDS_UP: Minute = 120;
/// The lists are good for so many minutes.
const GOOD_FOR: Minute = 30;
/// Later than any time that is planned.
pub(super) const FAR: Minute = 10_000;

/// An outing that has to be put away before.
#[derive(Clone, Copy)]
pub(super) struct Wait {
    /// Which of the open outings.
    pub(super) open: usize,
    /// So many minutes after it.
    pub(super) then: Minute,
}

/// An outing that waits for another to be put away.
struct Follower {
    open: usize,
    /// When that has to be done for this one to be ready in time.
    by: Minute,
    /// How long after it this one can be ready.
    then: Minute,
}

/// What one decision changes.
pub(super) struct Change {
    pub(super) open: usize,
    pub(super) what: What,
    /// Who does it, and when they are free again.
    pub(super) line: Option<(usize, i16)>,
    /// Of a put away: when it ends.
    pub(super) put_away: Minute,
}

/// A front, or a put away that others wait for.
struct Pressing {
    open: usize,
    front: bool,
    due: Minute,
    length: Minute,
    /// Of a front: how much of the length is its brush; it can not be ready before the floor; who of those cleared is free
    /// first and when, and when the next; what is lost already.
    brush: Minute,
    floor: Minute,
    first: (usize, Minute),
    second: Minute,
    lost: i64,
    /// What staff would cost instead.
    most: i64,
}

/// A horse that may wait to be put away.
struct Patient {
    open: usize,
    length: Minute,
    most: i64,
}

/// Facts of the day, and what is left after the beginning that was looked at last.
pub(super) struct Rest {
    base: Minute,
    /// By groom: minutes there, from `base` up to each minute.
    there: Vec<Vec<i32>>,
    /// When all grooms together have been there for so many minutes.
    reached: Vec<i16>,
    /// By open outing, as all down to `facts`: who is cleared for its horse.
    pub(super) cleared: Vec<Vec<usize>>,
    /// When its horse is back.
    pub(super) back: Vec<Minute>,
    pub(super) waits_for_horse: Vec<Vec<Wait>>,
    pub(super) waits_for_gear: Vec<Vec<Wait>>,
    /// The earliest minutes for brush and tack by what is being put away already.
    pub(super) from: Vec<[Minute; 2]>,
    followers: Vec<Vec<Follower>>,
    /// Earlier outings with which it can not go as well.
    rivals: Vec<Vec<usize>>,
    facts: Vec<Fact>,
    /// Whether it is a front, and which outing, in order of when it is wanted.
    order: Vec<(Minute, bool, usize)>,
    /// Open outings in order of when they are back.
    by_back: Vec<usize>,
    back_wait: i64,
    standing: i64,
    stand: i64,
    free: Vec<Minute>,
    now: Minute,
    listed: Option<(u32, Minute)>,
    used: i32,
    pressing: Vec<Pressing>,
    patient: Vec<Patient>,
}

struct Fact {
    minutes: [Minute; 3],
    ready: Minute,
    mount: Minute,
    /// What a minute late costs, a call for staff, and that it is missed.
    late: i64,
    staff: i64,
    missed: i64,
}

impl Rest {
    pub(super) fn new(state: &State, open: &[usize], blocks: &[Vec<Span>]) -> Self {
        let (day, table) = (state.day, state.table);
        let base = day.earliest();
        let dry = day.limits.girth_dry as Minute;
        let fact = |&i: &usize| {
            let o = &day.outings[i];
            let (late, staff) = (day.costs.late * o.weight, day.costs.staff * o.weight);
            let missed = day.costs.missed * o.weight;
            Fact { minutes: o.minutes, ready: o.ready, mount: o.mount, late, staff, missed }
        };
        let facts: Vec<Fact> = open.iter().map(fact).collect();
        let back: Vec<Minute> = open.iter().map(|&i| table.window(i, Job::PutAway).0).collect();
        let place = |i: usize| open.iter().position(|&k| k == i);
        let waits = |before: &[usize], then: Minute| -> Vec<Wait> {
            before.iter().filter_map(|&q| place(q)).map(|open| Wait { open, then }).collect()
        };
        let tacked = |i: usize| day.outings[i].begun[Job::Tack as usize].is_some();
        let brushed = |i: usize| day.outings[i].begun[Job::Brush as usize].is_some();
        let of = |lists: &[Vec<usize>], begun: &dyn Fn(usize) -> bool, then: Minute| -> Vec<Vec<Wait>> {
            open.iter().map(|&i| if begun(i) { Vec::new() } else { waits(&lists[i], then) }).collect()
        };
        let waits_for_horse = of(&table.horse_before, &brushed, 0);
        let waits_for_gear = of(&table.gear_before, &tacked, dry);
        // Of what is not open the put away has begun.
        let ended = |before: &[usize], then: Minute| {
            let begun = before.iter().filter_map(|&q| day.outings[q].begun[Job::PutAway as usize]);
            begun.map(|begun| begun.span.to + then).fold(base, Minute::max)
        };
        let from = |&i: &usize| {
            let horse = match day.outings[i].begun[Job::Brush as usize] {
                Some(brush) => brush.span.to - day.outings[i].minutes[0],
                None => ended(&table.horse_before[i], 0),
            };
            [horse, ended(&table.gear_before[i], dry)]
        };
        let from = open.iter().map(from).collect();
        let rivals = |&i: &usize| {
            let earlier = table.conflicts.iter().filter(|&&(a, b)| b == i && a != i);
            earlier.filter_map(|&(a, _)| place(a)).collect()
        };
        let mut rest = Rest {
            base,
            there: Vec::new(),
            reached: Vec::new(),
            followers: (0..open.len()).map(|_| Vec::new()).collect(),
            rivals: open.iter().map(rivals).collect(),
            order: Vec::new(),
            by_back: (0..open.len()).collect(),
            back_wait: day.costs.back_wait,
            standing: day.costs.standing,
            stand: day.limits.stand,
            free: Vec::new(),
            now: base,
            listed: None,
            used: 0,
            pressing: Vec::new(),
            patient: Vec::new(),
            cleared: open.iter().map(|&i| table.cleared[i].clone()).collect(),
            back,
            waits_for_horse,
            waits_for_gear,
            from,
            facts,
        };
        rest.relate();
        rest.count_minutes(blocks);
        rest
    }

    /// Which outings follow which, and in which order all of them are wanted.
    fn relate(&mut self) {
        for k in 0..self.facts.len() {
            let [brush, tack, _] = self.facts[k].minutes;
            let by_horse = self.waits_for_horse[k].iter().map(|wait| (wait.open, brush + tack));
            let by_gear = self.waits_for_gear[k].iter().map(|wait| (wait.open, wait.then + tack));
            for (before, then) in by_horse.chain(by_gear).collect::<Vec<_>>() {
                let away = self.back[before] + self.facts[before].minutes[2];
                let by = self.facts[k].ready - then;
                if by < away + HOLDS_UP {
                    self.followers[before].push(Follower { open: k, by, then });
                }
            }
            let front = self.facts[k].ready - SOONER_BY_WEIGHT * self.sooner(k);
            self.order.push((front, true, k));
        }
        for k in 0..self.facts.len() {
            let away = self.back[k] + self.facts[k].minutes[2];
            let due = self.followers[k].iter().map(|follower| follower.by).fold(away + PATIENT, Minute::min);
            self.order.push((due, false, k));
        }
        self.order.sort_unstable();
        let back = &self.back;
        self.by_back.sort_by_key(|&k| (back[k], k));
    }

    /// How many times the least weight an outing has beyond it.
    fn sooner(&self, k: usize) -> Minute {
        let least = self.facts.iter().map(|fact| fact.late).filter(|&late| late > 0).min().unwrap_or(1);
        (self.facts[k].late / least - 1).clamp(0, 10) as Minute
    }

    fn count_minutes(&mut self, blocks: &[Vec<Span>]) {
        let ends = blocks.iter().flatten().filter(|block| block.to < FAR).map(|block| block.to);
        let last_on = blocks.iter().flatten().map(|block| block.from).filter(|&from| from < FAR).max();
        let until = ends.max().into_iter().chain(last_on).fold(self.base, Minute::max);
        for blocks in blocks {
            let mut there = vec![0];
            for minute in self.base..until {
                let away = blocks.iter().any(|block| block.from <= minute && minute < block.to);
                there.push(there[there.len() - 1] + i32::from(!away));
            }
            self.there.push(there);
        }
        let mut sum = 0;
        self.reached.push(self.base as i16);
        for minute in 1..=(until - self.base) as usize {
            let all: i32 = self.there.iter().map(|there| there[minute]).sum();
            for _ in sum..all {
                self.reached.push((self.base + minute as Minute) as i16);
            }
            sum = all;
        }
    }

    /// Whether an outing and another can not both go.
    pub(super) fn clashes(&self, k: usize) -> bool {
        !self.rivals[k].is_empty() || self.rivals.iter().any(|rivals| rivals.contains(&k))
    }

    fn there(&self, groom: usize, minute: Minute) -> i32 {
        let there = &self.there[groom];
        there[((minute - self.base).max(0) as usize).min(there.len() - 1)]
    }

    /// Looks at what is left of a day after a beginning; `now`: when the groom who is to do something is free.
    pub(super) fn look(&mut self, begun: &Beginning, past: &[Past], free: &[i16], now: Minute) {
        let known = self.listed.is_some_and(|(last, at)| last == begun.last && (now - at).abs() <= GOOD_FOR);
        self.now = now;
        self.free.clear();
        self.free.extend(free.iter().map(|&free| Minute::from(free)));
        self.used = (0..free.len()).map(|groom| self.there(groom, self.free[groom].max(now))).sum();
        if known {
            return;
        }
        self.listed = Some((begun.last, now));
        self.list_pressing(begun, past);
        self.patient.clear();
        for &k in &self.by_back {
            if self.back[k] > now + AHEAD {
                break;
            }
            if !begun.is_done(k, Job::PutAway) && !self.holds_up(begun, k) {
                let (length, most) = (self.facts[k].minutes[2], self.facts[k].staff);
                self.patient.push(Patient { open: k, length, most });
            }
        }
    }

    /// Whether others wait for a horse to be put away.
    fn holds_up(&self, begun: &Beginning, k: usize) -> bool {
        self.followers[k].iter().any(|follower| !begun.is_done(follower.open, Job::Tack))
    }

    fn list_pressing(&mut self, begun: &Beginning, past: &[Past]) {
        self.pressing.clear();
        for &(due, front, k) in &self.order {
            if due > self.now + AHEAD {
                break;
            }
            let Fact { minutes: [brush, tack, put_away], staff, .. } = self.facts[k];
            if !front {
                if !begun.is_done(k, Job::PutAway) && self.holds_up(begun, k) {
                    let all = Pressing::new(k, false, due, put_away, staff);
                    self.pressing.push(all);
                }
                continue;
            }
            if begun.is_done(k, Job::Tack) {
                continue;
            }
            let brushed = begun.is_done(k, Job::Brush);
            let (brush, most) = if brushed { (0, staff) } else { (brush, 2 * staff) };
            let mut all = Pressing::new(k, true, due, brush + tack, most);
            all.brush = brush;
            for &groom in &self.cleared[k] {
                let free = self.free[groom];
                if free < all.first.1 {
                    all.second = all.first.1;
                    all.first = (groom, free);
                } else {
                    all.second = all.second.min(free);
                }
            }
            let horse = self.waits_for_horse[k].iter().filter(|_| !brushed).map(|wait| (wait, brush + tack));
            let gear = self.waits_for_gear[k].iter().map(|wait| (wait, wait.then + tack));
            for (wait, then) in horse.chain(gear) {
                if begun.is_done(wait.open, Job::PutAway) && begun.missed >> wait.open & 1 == 0 {
                    all.floor = all.floor.max(Minute::from(past[wait.open].put_away) + then);
                }
            }
            all.lost = self.lost(k, |rival| begun.is_done(rival, Job::Tack).then_some(begun.missed >> rival & 1 == 0));
            self.pressing.push(all);
        }
    }

    /// What is lost because an outing can not go as well as its rivals. `goes`: whether a rival goes, where that is decided.
    fn lost(&self, k: usize, goes: impl Fn(usize) -> Option<bool>) -> i64 {
        let lost = |&rival: &usize| match goes(rival) {
            Some(true) => self.facts[k].missed,
            Some(false) => 0,
            None => self.facts[k].missed.min(self.facts[rival].missed),
        };
        self.rivals[k].iter().map(lost).max().unwrap_or(0)
    }

    fn reached(&self, minutes: i32) -> Minute {
        self.reached.get(minutes as usize).map_or(FAR, |&minute| minute.into())
    }

    fn waiting(&self, wait: Minute) -> i64 {
        let wait = i64::from(wait).max(0);
        self.back_wait * wait + self.standing * (wait - self.stand).max(0)
    }

    /// What the rest is likely to cost after one more decision; `None` where that is more than `limit`.
    pub(super) fn likely(&self, change: &Change, limit: i64) -> Option<i64> {
        let mut used = self.used;
        if let Some((groom, free)) = change.line {
            used += self.there(groom, free.into()) - self.there(groom, self.free[groom].max(self.now));
        }
        let mut cost = 0;
        let mut work = 0;
        for it in &self.pressing {
            let Some(length) = it.left(change) else { continue };
            work += length;
            let end = self.reached(used + work);
            cost += if it.front {
                self.late(it, length, end, change)
            } else {
                let late = self.followers[it.open].iter().map(|follower| {
                    let late = i64::from(end - follower.by).max(0);
                    late * self.facts[follower.open].late
                });
                let waiting = self.waiting(end - length - self.back[it.open]);
                (waiting + late.sum::<i64>()).min(it.most)
            };
            if cost > limit {
                return None;
            }
        }
        cost += self.patience(used, change);
        (cost <= limit).then_some(cost)
    }

    /// What it costs that a front ends then.
    fn late(&self, it: &Pressing, length: Minute, end: Minute, change: &Change) -> i64 {
        let fact = &self.facts[it.open];
        let first = match change.line {
            Some((groom, free)) if groom == it.first.0 => it.second.min(free.into()),
            _ => it.first.1,
        };
        let (mut floor, mut lost) = (it.floor, it.lost);
        if change.what == What::PutAway {
            let follower = self.followers[change.open].iter().find(|follower| follower.open == it.open);
            floor = floor.max(follower.map_or(0, |follower| change.put_away + follower.then));
        } else if change.what != What::Brush && self.rivals[it.open].contains(&change.open) {
            lost = if change.what == What::Miss { 0 } else { fact.missed };
        }
        if floor > fact.mount {
            lost = fact.missed;
        }
        let end = end.max(first.max(self.now) + length).max(floor);
        (fact.late * i64::from(end - fact.ready).max(0)).min(it.most) + lost
    }

    /// What it costs that other horses wait until there is time.
    fn patience(&self, used: i32, change: &Change) -> i64 {
        let mut cost = 0;
        let mut work = 0;
        let mut pressing = self.pressing.iter().filter_map(|it| Some((it, it.left(change)?))).peekable();
        for it in &self.patient {
            if it.open == change.open && matches!(change.what, What::PutAway | What::Miss) {
                continue;
            }
            work += it.length;
            let back = self.back[it.open];
            let mut end = self.reached(used + work).max(back + it.length);
            while let Some((_, length)) = pressing.next_if(|(before, length)| before.due - length < end) {
                work += length;
                end = self.reached(used + work).max(back + it.length);
            }
            cost += self.waiting(end - it.length - back).min(it.most);
        }
        cost
    }
}

impl Pressing {
    fn new(open: usize, front: bool, due: Minute, length: Minute, most: i64) -> Self {
        Pressing { open, front, due, length, brush: 0, floor: 0, first: (usize::MAX, FAR), second: FAR, lost: 0, most }
    }

    /// How much of it is left after a decision; `None` where nothing is.
    fn left(&self, change: &Change) -> Option<Minute> {
        if self.open != change.open {
            return Some(self.length);
        }
        match (self.front, change.what) {
            (true, What::Brush) => Some(self.length - self.brush),
            (false, What::Brush | What::Tack | What::Front) => Some(self.length),
            _ => None,
        }
    }
}
