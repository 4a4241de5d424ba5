//! Makes way for a block in a groom's line.
//!
//! What stands where the block is to be moves out of it, earlier or later by its place in the line; what that runs into moves in
//! turn: by line, by outing, by gear and by horse. No job moves both ways, and nothing moves that is not in the way.

use crate::plan::day::{JOBS, Job, Minute, Span};
use crate::plan::search::state::{Entry, FIXED, Half, State, key, of_key};

/// So many jobs are pushed at most.
const MOST: usize = 8;

/// Working memory, kept so that no round asks for new.
#[derive(Default)]
pub(in crate::plan) struct Pushing {
    /// Jobs pushed so far, and to where; the first `earlier` of them went earlier.
    pub(super) moved: Vec<(u32, Minute)>,
    earlier: usize,
    to_do: Vec<(u32, Minute)>,
    /// Pushes tried so far.
    pub(in crate::plan) tried: u64,
}

/// A block that is to come into a line before the entry `at`.
#[derive(Clone, Copy)]
pub(super) struct Block {
    pub(super) groom: usize,
    pub(super) at: usize,
    pub(super) span: Span,
    pub(super) outing: usize,
    pub(super) half: Half,
    /// In a front: when the tack starts.
    pub(super) tack: Minute,
}

impl Block {
    fn is(&self, i: usize, half: Half) -> bool {
        (self.outing, self.half) == (i, half)
    }
}

impl State<'_> {
    /// Where a job stands on its groom's line.
    fn position(&self, groom: usize, job: u32, start: Minute) -> usize {
        let line = &self.lines[groom];
        let mut at = line.partition_point(|entry| entry.span.from < start);
        while line[at].job != job {
            at += 1;
        }
        at
    }
}

impl Pushing {
    /// Pushes away what stands where a block is to be: what that costs; `None` where it can not be.
    pub(super) fn make_way(&mut self, state: &State, block: Block) -> Option<i64> {
        self.tried += 1;
        self.moved.clear();
        self.to_do.clear();
        let line = &state.lines[block.groom];
        self.earlier = 0;
        let before = line[block.at - 1];
        if before.span.to > block.span.from {
            self.to_do.push((before.job, block.span.from - (before.span.to - before.span.from)));
            self.push_earlier(state, block)?;
        }
        self.earlier = self.moved.len();
        let after = line[block.at];
        if after.span.from < block.span.to {
            self.to_do.push((after.job, block.span.to));
            self.push_later(state, block)?;
        }
        Some(self.cost(state))
    }

    fn push_earlier(&mut self, state: &State, block: Block) -> Option<()> {
        let day = state.day;
        while let Some((job, start)) = self.to_do.pop() {
            let (i, job) = place_of(job)?;
            let slot = state.outings[i].slots[job as usize];
            if self.start(state, i, job) <= start {
                continue;
            }
            self.move_to(state, i, job, start, 0)?;
            if let Some(groom) = slot.hand.groom() {
                let at = state.position(groom, key(i, job), slot.span.from);
                if groom == block.groom && at == block.at {
                    (start >= block.span.to).then_some(())?;
                } else {
                    let before = state.lines[groom][at - 1];
                    self.need_before(state, before, start)?;
                }
            }
            match job {
                Job::Brush => {
                    for &k in &state.table.horse_before[i] {
                        if block.is(k, Half::Rear) {
                            (block.span.to <= start).then_some(())?;
                        } else if standing(state, k, Half::Rear) {
                            self.end_by(state, k, Job::PutAway, start)?;
                        }
                    }
                }
                Job::Tack => {
                    self.end_by(state, i, Job::Brush, start)?;
                    let dry = day.limits.girth_dry as Minute;
                    for &k in &state.table.gear_before[i] {
                        if block.is(k, Half::Rear) {
                            (block.span.to + dry <= start).then_some(())?;
                        } else if standing(state, k, Half::Rear) {
                            self.end_by(state, k, Job::PutAway, start - dry)?;
                        }
                    }
                }
                Job::PutAway => {}
            }
        }
        Some(())
    }

    fn push_later(&mut self, state: &State, block: Block) -> Option<()> {
        let day = state.day;
        while let Some((job, start)) = self.to_do.pop() {
            let (i, job) = place_of(job)?;
            let slot = state.outings[i].slots[job as usize];
            if self.start(state, i, job) >= start {
                continue;
            }
            self.move_to(state, i, job, start, self.earlier)?;
            let end = start + slot.span.to - slot.span.from;
            if let Some(groom) = slot.hand.groom() {
                let at = state.position(groom, key(i, job), slot.span.from);
                if groom == block.groom && at + 1 == block.at {
                    (end <= block.span.from).then_some(())?;
                } else {
                    let after = state.lines[groom][at + 1];
                    self.need_after(after, end)?;
                }
            }
            match job {
                Job::Brush if day.outings[i].can_be_missed() => self.begin_from(i, Job::Tack, end),
                Job::Brush | Job::Tack => {}
                Job::PutAway => {
                    let dry = day.limits.girth_dry as Minute;
                    for &k in &state.table.gear_after[i] {
                        if block.is(k, Half::Front) {
                            (end + dry <= block.tack).then_some(())?;
                        } else if standing(state, k, Half::Front) {
                            self.begin_from(k, Job::Tack, end + dry);
                        }
                    }
                    for &k in state.table.horse_after[i].iter().filter(|&&k| day.outings[k].begun[0].is_none()) {
                        if block.is(k, Half::Front) {
                            (end <= block.span.from).then_some(())?;
                        } else if standing(state, k, Half::Front) {
                            self.begin_from(k, Job::Brush, end);
                        }
                    }
                }
            }
        }
        Some(())
    }

    /// Where a job stands by now.
    fn start(&self, state: &State, i: usize, job: Job) -> Minute {
        let moved = self.moved.iter().find(|(moved, _)| *moved == key(i, job));
        moved.map_or(state.outings[i].slots[job as usize].span.from, |&(_, start)| start)
    }

    /// Moves a job, if its own times and its horse's allow it, and it was not moved the other way before.
    fn move_to(&mut self, state: &State, i: usize, job: Job, start: Minute, from: usize) -> Option<()> {
        let day = state.day;
        let (low, high) = state.table.window(i, job);
        let span = state.outings[i].slots[job as usize].span;
        let span = Span { from: start, to: start + span.to - span.from };
        let begun = day.outings[i].begun[job as usize].is_some();
        if begun || start < low || start > high || self.moved.len() == MOST {
            return None;
        }
        if day.horses[day.outings[i].horse].away.iter().any(|away| away.overlaps(span)) {
            return None;
        }
        match self.moved.iter().position(|(moved, _)| *moved == key(i, job)) {
            Some(at) if at < from => return None,
            Some(at) => self.moved[at].1 = start,
            None => self.moved.push((key(i, job), start)),
        }
        Some(())
    }

    /// What stands before a job on its line has to be done by a minute.
    fn need_before(&mut self, state: &State, before: Entry, by: Minute) -> Option<()> {
        if before.job == FIXED {
            return (before.span.to <= by).then_some(());
        }
        let (i, job) = place_of(before.job)?;
        self.end_by(state, i, job, by)
    }

    fn need_after(&mut self, after: Entry, from: Minute) -> Option<()> {
        if after.job == FIXED {
            return (after.span.from >= from).then_some(());
        }
        let (i, job) = place_of(after.job)?;
        self.begin_from(i, job, from);
        Some(())
    }

    fn end_by(&mut self, state: &State, i: usize, job: Job, by: Minute) -> Option<()> {
        let span = state.outings[i].slots[job as usize].span;
        let start = by - (span.to - span.from);
        if state.day.outings[i].begun[job as usize].is_some() {
            return (span.to <= by).then_some(());
        }
        self.to_do.push((key(i, job), start));
        Some(())
    }

    fn begin_from(&mut self, i: usize, job: Job, from: Minute) {
        self.to_do.push((key(i, job), from));
    }

    /// What the pushes cost.
    fn cost(&self, state: &State) -> i64 {
        let mut cost = 0;
        for (n, &(job, _)) in self.moved.iter().enumerate() {
            let (i, job, half) = of_key(job);
            // Brush and tack of an outing count once.
            if self.moved[..n].iter().any(|&(other, _)| other as usize / 3 == i && (other % 3 == 2) == (job == 2)) {
                continue;
            }
            let was = &state.outings[i].slots;
            let mut slots = *was;
            for &(other, start) in self.moved.iter().filter(|&&(other, _)| other as usize / 3 == i) {
                let span = &mut slots[other as usize % 3].span;
                *span = Span { from: start, to: start + span.to - span.from };
            }
            cost += state.half_cost(i, half, &slots) - state.half_cost(i, half, was);
        }
        cost
    }
}

fn standing(state: &State, k: usize, half: Half) -> bool {
    !state.outings[k].missed && state.placed(k, half)
}

/// The outing and job of a number on lines; `None` where no plan can change it.
fn place_of(job: u32) -> Option<(usize, Job)> {
    (job != FIXED).then_some((job as usize / 3, JOBS[job as usize % 3]))
}
