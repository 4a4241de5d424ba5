//! The last of a search: every small change to the plan, one after the other, until none gains.
//!
//! Rounds draw what they do at random, and where hardly anything is left to gain they seldom draw it. Here are all changes of
//! one job, a horse's brush and tack together, or what two grooms do from some moment on: to another place near the
//! time, or against what stands there.

use std::ops::Range;

use super::change::{Place, Put};
use super::round::Search;
use super::state::{Entry, FIXED, of_key};
use crate::plan::day::{Job, Span};

/// No more jobs than these change over at once.
const MOST_JOBS: usize = 16;

impl Search<'_> {
    /// Makes small changes to the best plan as long as one gains, no more than `steps` are spent in all, and `go_on` says yes.
    pub(in crate::plan) fn polish(&mut self, steps: u64, go_on: &mut dyn FnMut() -> bool) {
        self.back_to_best();
        let mut changes = Vec::new();
        let jobs = 3 * self.state.outings.len() as u32;
        // Until none of them all has gained since the last that did.
        let (mut job, mut idle) = (0, 0);
        while idle < jobs && self.spent() < steps && go_on() {
            changes.clear();
            self.changes_of(job, &mut changes);
            // What else there is with the job is another list once one was made.
            let gained = changes.iter().any(|puts| self.change(puts, -1).is_some());
            idle = if gained { 0 } else { idle + 1 };
            job = (job + 1) % jobs;
        }
        self.make_times_exact();
        self.keep_if_best();
    }

    /// All changes that begin with a job.
    fn changes_of(&self, job: u32, changes: &mut Vec<Vec<Put>>) {
        let (i, number, half) = of_key(job);
        if self.state.outings[i].missed || self.state.day.outings[i].begun[number].is_some() {
            return;
        }
        debug_assert!(self.state.placed(i, half));
        let slot = self.state.outings[i].slots[number];
        let Some(groom) = slot.hand.groom() else {
            self.instead_of_staff(job, slot.span, changes);
            return;
        };
        let line = &self.state.lines[groom];
        let Some(at) = line.iter().position(|entry| entry.job == job) else { return };
        let free = |places: Range<usize>| line[places].iter().all(|entry| entry.job != FIXED);
        // Later by one or two; earlier by two.
        for next in [at + 2, at + 3].into_iter().take_while(|&next| next < line.len() && free(at..next)) {
            changes.push(vec![self.put(job, groom, next)]);
        }
        if at >= 3 && free(at - 2..at) {
            changes.push(vec![self.put(job, groom, at - 2)]);
        }
        for &other in self.state.table.cleared[i].iter().filter(|&&other| other != groom) {
            for own in self.blocks(groom, at) {
                for place in self.near(other, slot.span) {
                    self.change_over([(groom, own.clone()), (other, place..place)], changes);
                    for theirs in self.blocks(other, place) {
                        self.change_over([(groom, own.clone()), (other, theirs)], changes);
                    }
                }
            }
            let theirs = self.state.lines[other].partition_point(|entry| entry.span.from < slot.span.from);
            let on = |groom: usize, from: usize| {
                let line = &self.state.lines[groom][from..];
                from..from + line.iter().take_while(|entry| entry.job != FIXED).count()
            };
            self.change_over([(groom, on(groom, at)), (other, on(other, theirs))], changes);
        }
    }

    /// A job of staff goes to a groom near the time, or in the place of another that staff do then.
    fn instead_of_staff(&self, job: u32, span: Span, changes: &mut Vec<Vec<Put>>) {
        for &groom in &self.state.table.cleared[of_key(job).0] {
            for place in self.near(groom, span) {
                changes.push(vec![self.put(job, groom, place)]);
                let there = self.state.lines[groom][place];
                if there.job != FIXED && place + 1 < self.state.lines[groom].len() {
                    changes.push(vec![Put { job: there.job, to: None }, self.put(job, groom, place + 1)]);
                }
            }
        }
    }

    /// The places on a line near a time: two before what is there then, and one after.
    fn near(&self, groom: usize, span: Span) -> Range<usize> {
        let line = &self.state.lines[groom];
        let middle = line.partition_point(|entry| entry.span.from + entry.span.to < span.from + span.to);
        middle.saturating_sub(2).max(1)..(middle + 2).min(line.len())
    }

    /// A job by itself; also with its tack, where it is a brush and the tack follows it. Nothing where no job stands there.
    fn blocks(&self, groom: usize, at: usize) -> impl Iterator<Item = Range<usize>> + use<> {
        let line = &self.state.lines[groom];
        let job = line.get(at).map(|entry| entry.job).filter(|&job| job != FIXED);
        let follows = job.is_some_and(|job| {
            job % 3 == Job::Brush as u32 && line.get(at + 1).is_some_and(|entry| entry.job == job + 1)
        });
        let blocks = [Some(at..at + 1).filter(|_| job.is_some()), Some(at..at + 2).filter(|_| follows)];
        blocks.into_iter().flatten()
    }

    /// Two grooms change over what stands at some places of their lines, where they are cleared for it.
    fn change_over(&self, places: [(usize, Range<usize>); 2], changes: &mut Vec<Vec<Put>>) {
        let [(one, ones), (other, others)] = places;
        let jobs = |groom: usize, places: Range<usize>| self.state.lines[groom][places].iter().map(|entry| entry.job);
        let may_have = |groom: usize, job: u32| self.state.table.cleared[of_key(job).0].contains(&groom);
        let cleared = jobs(one, ones.clone()).all(|job| may_have(other, job))
            && jobs(other, others.clone()).all(|job| may_have(one, job));
        // Nobody is there any more after the last entry.
        let there = others.end < self.state.lines[other].len() && ones.end < self.state.lines[one].len();
        if cleared && there && ones.len() + others.len() <= MOST_JOBS {
            let puts = jobs(one, ones.clone()).map(|job| self.put(job, other, others.end));
            changes.push(puts.chain(jobs(other, others.clone()).map(|job| self.put(job, one, ones.end))).collect());
        }
    }

    /// A job that goes before an entry of a line.
    fn put(&self, job: u32, groom: usize, at: usize) -> Put {
        let next: Entry = self.state.lines[groom][at];
        Put { job, to: Some((groom, Place::Before(next))) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::day::Hand;
    use crate::plan::price::price;
    use crate::plan::search::sample;
    use crate::plan::search::state::{Half, Slot};
    use crate::plan::search::table::Table;

    /// Nine horses, three grooms: lessons of three.
    fn busy() -> crate::plan::Day {
        sample::day(3, 0, &[500, 505, 510, 600, 605, 610, 700, 700, 700].map(|mount| (mount, 10 + mount % 7)))
    }

    #[test]
    fn what_a_change_costs_is_what_the_plan_costs_more() {
        let day = busy();
        let table = Table::new(&day);
        let mut search = Search::new(&day, &table);
        let plan = search.state.outings.clone();
        let (mut made, mut changes) = (0, Vec::new());
        for job in 0..3 * plan.len() as u32 {
            changes.clear();
            search.changes_of(job, &mut changes);
            assert!(!changes.is_empty(), "job {job}");
            for puts in &changes {
                let before = search.state.cost();
                let dearer = search.change(puts, 100_000);
                let priced = price(&day, &search.state.tasks());
                assert_eq!(priced.broken, Vec::<String>::new());
                assert_eq!(search.state.cost(), priced.parts.total());
                assert_eq!(search.state.cost(), before + dearer.unwrap_or(0));
                if dearer.is_some() {
                    made += 1;
                    search.go_back(&plan);
                } else {
                    assert_eq!(search.state.outings, plan);
                }
                // No more than the limit, and that exactly.
                if let Some(dearer) = dearer {
                    assert_eq!(search.change(puts, dearer - 1), None);
                    assert_eq!(search.state.outings, plan);
                }
            }
        }
        assert!(made > 100, "{made} changes could be made");
    }

    /// Jobs that all can begin at once, and cost by when they begin, are best done by length (Smith 1956, Various optimizers for
    /// single-stage production).
    #[test]
    fn what_is_in_the_wrong_order_is_put_right() {
        let lengths = [30, 24, 18, 12, 6];
        let day = sample::day(1, 540, &lengths.map(|put_away| (490, put_away)));
        let table = Table::new(&day);
        let mut search = Search::new(&day, &table);
        let mut start = 540;
        for (i, length) in lengths.into_iter().enumerate() {
            search.state.lift(i, Half::Rear);
            let mut slots = search.state.outings[i].slots;
            slots[2] = Slot { hand: Hand::of(0), span: Span { from: start, to: start + length } };
            search.state.place(i, Half::Rear, &slots);
            start += length;
        }
        search.keep_best();
        search.polish(u64::MAX, &mut || true);
        let waits: i64 = search.state.outings.iter().map(|status| i64::from(status.slots[2].span.from - 540)).sum();
        assert_eq!(waits, 6 + 18 + 36 + 60);
    }

    #[test]
    fn it_stops_when_it_is_told_to() {
        let day = busy();
        let table = Table::new(&day);
        let mut search = Search::new(&day, &table);
        let before = search.best_cost();
        let mut asked = 0;
        search.polish(u64::MAX, &mut || {
            asked += 1;
            false
        });
        assert_eq!((search.best_cost(), asked), (before, 1));
    }
}
