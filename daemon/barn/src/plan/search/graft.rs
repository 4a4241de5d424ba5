//! Takes over from another plan what is better there.
//!
//! Searches that begin with different first plans go wrong at different hours of the day. All halves are put in order by when they
//! are wanted, and any stretch of that order may be taken from the other plan while the rest stays. What this would cost is
//! known but for one thing: where a stretch begins and ends, jobs of the one plan may overlap those of the other. So many
//! minutes count a little each, and the stretches that promise most are tried, with exact times. Grooms have other parts in
//! other plans: where they are few, one is taken for another in the ways that leave most work with who does it.

use std::cmp::Reverse;
use std::ops::RangeInclusive;

use super::change::{Place, Put};
use super::round::Search;
use super::state::{FIXED, Half, Slot, State, Status, jobs, key, of_key};
use crate::plan::day::{Hand, JOBS, Minute, Span};

/// With more grooms none is taken for another.
pub(super) const MOST_NAMED_ANEW: usize = 4;
/// So many ways to take them for one another are looked at.
const NAMINGS: usize = 4;
/// What a minute of overlap counts.
const OVERLAP: i64 = 3;
/// So many stretches are tried at most before the other plan is let be.
const TRIED: usize = 80;
/// So many stretches are looked at in the time of a unit of work.
const LOOKED_AT_A_UNIT: u64 = 2;

/// A half as the other plan has it.
struct Given {
    slots: [Slot; 3],
    /// What it costs more than here; `None` where it can not be taken over.
    dearer: Option<i64>,
    /// It is so here, too.
    same: bool,
    /// Halves whose place here it would overlap, by their place in the order, and by how many minutes.
    overlaps: Vec<(usize, Minute)>,
    /// The other way round: halves of the other plan that would overlap its place here.
    overlapped: Vec<(usize, Minute)>,
}

impl Default for Given {
    fn default() -> Self {
        let nowhere = Slot { hand: Hand::STAFF, span: Span { from: 0, to: 0 } };
        Given { slots: [nowhere; 3], dearer: None, same: false, overlaps: Vec::new(), overlapped: Vec::new() }
    }
}

/// A stretch that seems worth taking over.
struct Promise {
    /// What it seems to cost more.
    dearer: i64,
    naming: usize,
    halves: RangeInclusive<usize>,
}

impl Search<'_> {
    /// Makes the plan better by another one of the same day, as long as any stretch of that gains.
    pub(super) fn graft(&mut self, other: &[Status]) {
        let halves = in_order(&self.state);
        let mut namings = namings(self.state.day.grooms.len());
        keep_likeliest(&mut namings, &self.state, other, &halves);
        let mut given = Vec::new();
        loop {
            let mut promises = Vec::new();
            let mut looked_at = 0;
            for (n, naming) in namings.iter().enumerate() {
                give(&self.state, other, &halves, naming, &mut given);
                looked_at += promising(&self.state, &halves, &given, n, &mut promises);
            }
            self.timing.work += looked_at / LOOKED_AT_A_UNIT;
            promises.sort_by_key(|promise| (promise.dearer, promise.halves.clone().count()));
            let gains = |promise: &Promise| {
                let puts = puts(&self.state, other, &halves[promise.halves.clone()], &namings[promise.naming]);
                self.change(&puts, -1).is_some()
            };
            if !promises.iter().take(TRIED).any(gains) {
                break;
            }
        }
        self.make_times_exact();
        self.keep_if_best();
    }
}

/// The halves that have not begun, by when they are wanted.
fn in_order(state: &State) -> Vec<(usize, Half)> {
    let wanted = |&(i, half): &(usize, Half)| {
        let outing = &state.day.outings[i];
        let [brush, tack, put_away] = outing.minutes;
        match half {
            Half::Front => outing.ready - (brush + tack) / 2,
            Half::Rear => outing.back + put_away / 2,
        }
    };
    let all = (0..state.outings.len()).flat_map(|i| [(i, Half::Front), (i, Half::Rear)]);
    let mut halves: Vec<(usize, Half)> = all.filter(|&(i, half)| !state.settled(i, half)).collect();
    halves.sort_by_key(wanted);
    halves
}

/// Every way to take grooms for one another, as who is meant by each.
fn namings(grooms: usize) -> Vec<Vec<usize>> {
    let mut namings = vec![Vec::new()];
    for groom in 0..grooms {
        let longer = namings.iter().flat_map(|naming: &Vec<usize>| {
            let places = if grooms <= MOST_NAMED_ANEW { 0..=naming.len() } else { naming.len()..=naming.len() };
            places.map(move |place| {
                let mut naming = naming.clone();
                naming.insert(place, groom);
                naming
            })
        });
        namings = longer.collect();
    }
    namings
}

/// Leaves the namings with which most minutes of work stay with who does it.
fn keep_likeliest(namings: &mut Vec<Vec<usize>>, state: &State, other: &[Status], halves: &[(usize, Half)]) {
    let grooms = state.day.grooms.len();
    // By who works there and who works here.
    let mut both = vec![0; grooms * grooms];
    for &(i, half) in halves {
        for job in open(state, (i, half)) {
            let (here, there) = (state.outings[i].slots[job], other[i].slots[job]);
            if let (Some(there), Some(by)) = (there.hand.groom(), here.hand.groom()) {
                both[there * grooms + by] += here.span.to - here.span.from;
            }
        }
    }
    let stays = |naming: &[usize]| -> Minute {
        naming.iter().enumerate().map(|(there, &here)| both[there * grooms + here]).sum()
    };
    namings.sort_by_key(|naming| Reverse(stays(naming)));
    namings.truncate(NAMINGS);
}

/// The jobs of a half that have not begun.
fn open(state: &State, (i, half): (usize, Half)) -> impl Iterator<Item = usize> + use<> {
    let begun = state.day.outings[i].begun;
    jobs(half).iter().map(|&job| job as usize).filter(move |&job| begun[job].is_none())
}

/// Works out every half as the other plan has it, with these names.
fn give(state: &State, other: &[Status], halves: &[(usize, Half)], naming: &[usize], given: &mut Vec<Given>) {
    given.resize_with(halves.len(), Given::default);
    let mut place = vec![[0; 2]; state.outings.len()];
    for (h, (&(i, half), given)) in halves.iter().zip(given.iter_mut()).enumerate() {
        place[i][half as usize] = h;
        let (here, there) = (&state.outings[i], &other[i]);
        let mut slots = here.slots;
        let mut cleared = true;
        for job in open(state, (i, half)) {
            let Slot { hand, span } = there.slots[job];
            let named = hand.groom().map(|groom| naming[groom]);
            cleared &= named.is_none_or(|groom| state.table.cleared[i].contains(&groom));
            slots[job] = Slot { hand: named.map_or(hand, Hand::of), span };
        }
        given.dearer = match (here.missed, there.missed) {
            (false, false) if cleared => Some(state.half_cost(i, half, &slots) - state.half_cost(i, half, &here.slots)),
            (true, true) => Some(0),
            _ => None,
        };
        given.same = here.missed && there.missed || here.missed == there.missed && slots == here.slots;
        given.slots = slots;
        given.overlaps.clear();
        given.overlapped.clear();
    }
    for (h, &it) in halves.iter().enumerate() {
        if given[h].same || given[h].dearer.is_none() {
            continue;
        }
        for job in open(state, it) {
            let Slot { hand, span } = given[h].slots[job];
            let Some(groom) = hand.groom() else { continue };
            let line = &state.lines[groom];
            let first = line.partition_point(|entry| entry.span.to <= span.from);
            for entry in line[first..].iter().take_while(|entry| entry.span.from < span.to) {
                if entry.job == FIXED {
                    given[h].dearer = None;
                    break;
                }
                let (k, _, half) = of_key(entry.job);
                let k = place[k][half as usize];
                let by = entry.span.to.min(span.to) - entry.span.from.max(span.from);
                if k != h {
                    given[h].overlaps.push((k, by));
                    given[k].overlapped.push((h, by));
                }
            }
        }
    }
}

/// Adds the stretches that seem to gain. How many were looked at.
fn promising(
    state: &State,
    halves: &[(usize, Half)],
    given: &[Given],
    naming: usize,
    promises: &mut Vec<Promise>,
) -> u64 {
    let most = |load: &[Minute]| i64::from(load.iter().copied().max().unwrap_or(0));
    let busiest = most(&state.load);
    let mut load = state.load.clone();
    let mut looked_at = 0;
    for first in (0..halves.len()).filter(|&first| !given[first].same) {
        load.copy_from_slice(&state.load);
        let (mut apart, mut overlap) = (0, 0);
        for last in first..halves.len() {
            let Some(dearer) = given[last].dearer else { break };
            looked_at += 1;
            // What this half overlaps, but for what goes; and what came before it in the stretch does not overlap it any more.
            let goes = |&&(k, _): &&(usize, Minute)| (first..last).contains(&k);
            overlap -= given[last].overlapped.iter().filter(goes).map(|(_, by)| by).sum::<Minute>();
            overlap += given[last].overlaps.iter().filter(|it| !goes(it)).map(|(_, by)| by).sum::<Minute>();
            if given[last].same {
                continue;
            }
            apart += dearer;
            for job in open(state, halves[last]) {
                let (here, there) = (state.outings[halves[last].0].slots[job], given[last].slots[job]);
                let length = here.span.to - here.span.from;
                here.hand.groom().into_iter().for_each(|groom| load[groom] -= length);
                there.hand.groom().into_iter().for_each(|groom| load[groom] += length);
            }
            let by_load = state.day.costs.busiest * (most(&load) - busiest);
            let dearer = apart + by_load + OVERLAP * i64::from(overlap);
            if dearer < 0 {
                promises.push(Promise { dearer, naming, halves: first..=last });
            }
        }
    }
    looked_at
}

/// The change that takes a stretch over.
fn puts(state: &State, other: &[Status], stretch: &[(usize, Half)], naming: &[usize]) -> Vec<Put> {
    let present = stretch.iter().filter(|&&(i, _)| !state.outings[i].missed);
    let put = |(i, job): (usize, usize)| {
        let Slot { hand, span } = other[i].slots[job];
        let to = hand.groom().map(|groom| (naming[groom], Place::From(span.from)));
        Put { job: key(i, JOBS[job]), to }
    };
    present.flat_map(|&(i, half)| open(state, (i, half)).map(move |job| (i, job))).map(put).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::search::sample;
    use crate::plan::search::table::Table;

    #[test]
    fn four_grooms_can_be_named_in_every_way_and_more_in_one() {
        let four = namings(4);
        let mut different = four.clone();
        different.sort();
        different.dedup();
        assert_eq!((four.len(), different.len()), (24, 24));
        assert_eq!(namings(5), [[0, 1, 2, 3, 4]]);
        assert_eq!(namings(0), [Vec::<usize>::new()]);
    }

    /// One plan has the morning wrong and the other the afternoon, and in the other the grooms have each other's names.
    #[test]
    fn the_best_of_two_plans_is_put_together() {
        let mornings_and_afternoons = [500, 505, 510, 900, 905, 910];
        let day = sample::day(3, 0, &mornings_and_afternoons.map(|mount| (mount, 18)));
        let table = Table::new(&day);
        let mut search = Search::new(&day, &table);
        for left in (0..4000).rev() {
            search.round(left, 4000);
        }
        let (best, best_cost) = (search.best().outings.clone(), search.best_cost());
        // Put away an hour too late.
        let spoilt = |outings: &[usize], names: [usize; 3]| {
            let mut plan = best.clone();
            for status in &mut plan {
                for slot in &mut status.slots {
                    slot.hand = slot.hand.groom().map_or(slot.hand, |groom| Hand::of(names[groom]));
                }
            }
            for &i in outings {
                let Span { from, to } = plan[i].slots[2].span;
                plan[i].slots[2].span = Span { from: from + 60, to: to + 60 };
            }
            plan
        };
        let morning = spoilt(&[0, 1, 2], [0, 1, 2]);
        let afternoon = spoilt(&[3, 4, 5], [1, 2, 0]);
        search.go_back(&morning);
        assert!(search.state.cost() > best_cost);
        search.graft(&afternoon);
        assert_eq!(search.state.cost(), best_cost);
        // There is nothing more in it, nor in the plan itself.
        search.graft(&best);
        assert_eq!(search.state.cost(), best_cost);
    }
}
