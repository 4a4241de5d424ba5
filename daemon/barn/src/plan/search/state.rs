//! A plan while it is worked on: some jobs have their place, some not yet.
//!
//! An outing falls into two halves that hardly know of each other: the *front* (brush and tack, before the ride) and the
//! *rear* (put away, after it). Each half is placed and taken as one. An outing is in or missed; where it is in, halves
//! may be without a place for a while. Placed jobs break no rule against each other, ever, and the cost is kept as they
//! come and go.

use super::table::Table;
use crate::plan::day::{Day, Hand, JOBS, Job, Minute, Span};
use crate::plan::price::{Task, Tasks};

/// A job with its place.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(in crate::plan) struct Slot {
    pub(in crate::plan) hand: Hand,
    pub(in crate::plan) span: Span,
}

/// A half of an outing.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub(in crate::plan) enum Half {
    /// Brush and tack.
    Front,
    /// Put away.
    Rear,
}

/// Time on a groom's line that is taken; `job` is `3 * outing + job`, or `FIXED` where no plan can change it.
#[derive(Clone, Copy, Debug)]
pub(in crate::plan) struct Entry {
    pub(in crate::plan) span: Span,
    pub(in crate::plan) job: u32,
}

pub(in crate::plan) const FIXED: u32 = u32::MAX;

/// What is known of one outing.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(in crate::plan) struct Status {
    pub(in crate::plan) missed: bool,
    pub(in crate::plan) front: bool,
    pub(in crate::plan) rear: bool,
    pub(in crate::plan) slots: [Slot; 3],
}

/// A plan that is kept while a change is tried.
#[derive(Default)]
pub(in crate::plan) struct Kept {
    pub(in crate::plan) outings: Vec<Status>,
    lines: Vec<Vec<Entry>>,
    load: Vec<Minute>,
    apart: i64,
}

#[derive(Clone)]
pub(in crate::plan) struct State<'a> {
    pub(in crate::plan) day: &'a Day,
    pub(in crate::plan) table: &'a Table,
    pub(in crate::plan) outings: Vec<Status>,
    /// By groom, in order of time, disjoint.
    pub(in crate::plan) lines: Vec<Vec<Entry>>,
    /// By groom: minutes worked.
    pub(in crate::plan) load: Vec<Minute>,
    /// Everything but `busiest`.
    apart: i64,
}

impl<'a> State<'a> {
    /// Nothing is planned: what can be missed is missed, begun halves have their place.
    pub(in crate::plan) fn new(day: &'a Day, table: &'a Table) -> Self {
        let nowhere = Slot { hand: Hand::STAFF, span: Span { from: 0, to: 0 } };
        let status = Status { missed: true, front: false, rear: false, slots: [nowhere; 3] };
        let fixed = |block: &Span| Entry { span: *block, job: FIXED };
        let mut state = State {
            day,
            table,
            outings: vec![status; day.outings.len()],
            lines: table.blocks.iter().map(|blocks| blocks.iter().map(fixed).collect()).collect(),
            load: vec![0; day.grooms.len()],
            apart: 0,
        };
        for (i, outing) in day.outings.iter().enumerate() {
            for (slot, begun) in state.outings[i].slots.iter_mut().zip(outing.begun) {
                if let Some(begun) = begun {
                    *slot = Slot { hand: begun.hand, span: begun.span };
                }
            }
            state.apart += day.costs.missed * outing.weight;
            if !outing.can_be_missed() {
                state.bring_in(i);
            }
        }
        state
    }

    /// The cost of what is placed and missed, without `busiest`.
    pub(in crate::plan) fn cost_apart(&self) -> i64 {
        self.apart
    }

    /// The cost of what is placed and missed.
    pub(in crate::plan) fn cost(&self) -> i64 {
        self.apart + self.day.costs.busiest * i64::from(self.load.iter().copied().max().unwrap_or(0))
    }

    /// [`cost`](Self::cost) to compare plans by. Of two as dear it is the lesser where more of it is for who works most: that is a
    /// cost to nobody's horse, and where such a plan is known it is sooner proved that none is cheaper.
    pub(in crate::plan) fn worth(&self) -> (i64, i64) {
        (self.cost(), self.apart)
    }

    /// Whether all jobs of the half have begun, so that it can not be taken.
    pub(in crate::plan) fn settled(&self, i: usize, half: Half) -> bool {
        let [brush, tack, put_away] = &self.day.outings[i].begun;
        match half {
            Half::Front => brush.is_some() && tack.is_some(),
            Half::Rear => put_away.is_some(),
        }
    }

    /// Jobs that stand where somebody brushes for an outing: it is not to be [brought in](Self::bring_in) while there are any.
    pub(in crate::plan) fn instead_of_brushing(&self, i: usize) -> impl Iterator<Item = u32> + '_ {
        let brushing = self.table.brushing[i].filter(|_| self.outings[i].missed);
        brushing.into_iter().flat_map(|(groom, span)| {
            self.lines[groom].iter().filter(move |entry| entry.span.overlaps(span)).map(|entry| entry.job)
        })
    }

    /// A missed outing is missed no more; halves that have begun are placed, and who brushes for it goes on.
    pub(in crate::plan) fn bring_in(&mut self, i: usize) {
        if let Some((groom, span)) = self.table.brushing[i] {
            let line = &mut self.lines[groom];
            let at = line.partition_point(|entry| (entry.span.from, entry.span.to) <= (span.from, span.to));
            line.insert(at, Entry { span, job: FIXED });
        }
        self.outings[i].missed = false;
        self.apart -= self.day.costs.missed * self.day.outings[i].weight;
        self.count_begun(i, 1);
        for half in [Half::Front, Half::Rear] {
            if self.settled(i, half) {
                self.mark(i, half, true);
                self.apart += self.half_cost(i, half, &self.outings[i].slots);
            }
        }
    }

    /// Gives an outing up. Its tack has not begun; who brushes for it is free.
    pub(in crate::plan) fn miss(&mut self, i: usize) {
        for half in [Half::Front, Half::Rear] {
            if self.placed(i, half) {
                self.lift(i, half);
            }
        }
        if let Some((groom, span)) = self.table.brushing[i] {
            self.lines[groom].retain(|entry| (entry.job, entry.span) != (FIXED, span));
        }
        self.count_begun(i, -1);
        self.outings[i].missed = true;
        self.apart += self.day.costs.missed * self.day.outings[i].weight;
    }

    fn count_begun(&mut self, i: usize, sign: Minute) {
        for begun in self.day.outings[i].begun.iter().flatten() {
            if let Some(groom) = begun.hand.groom() {
                self.load[groom] += sign * (begun.span.to - begun.span.from);
            }
        }
    }

    pub(in crate::plan) fn placed(&self, i: usize, half: Half) -> bool {
        match half {
            Half::Front => self.outings[i].front,
            Half::Rear => self.outings[i].rear,
        }
    }

    fn mark(&mut self, i: usize, half: Half, placed: bool) {
        match half {
            Half::Front => self.outings[i].front = placed,
            Half::Rear => self.outings[i].rear = placed,
        }
    }

    /// Places the jobs of a half where `slots` has them.
    pub(in crate::plan) fn place(&mut self, i: usize, half: Half, slots: &[Slot; 3]) {
        for &job in jobs(half) {
            if self.day.outings[i].begun[job as usize].is_some() {
                continue;
            }
            let slot = slots[job as usize];
            self.outings[i].slots[job as usize] = slot;
            if let Some(groom) = slot.hand.groom() {
                self.load[groom] += slot.span.to - slot.span.from;
                let line = &mut self.lines[groom];
                let at =
                    line.partition_point(|entry| (entry.span.from, entry.span.to) <= (slot.span.from, slot.span.to));
                line.insert(at, Entry { span: slot.span, job: key(i, job) });
            }
        }
        self.mark(i, half, true);
        self.apart += self.half_cost(i, half, &self.outings[i].slots);
    }

    /// Takes the jobs of a half that have not begun out of the plan.
    pub(in crate::plan) fn lift(&mut self, i: usize, half: Half) {
        self.apart -= self.half_cost(i, half, &self.outings[i].slots);
        self.mark(i, half, false);
        for &job in jobs(half) {
            if self.day.outings[i].begun[job as usize].is_some() {
                continue;
            }
            let slot = self.outings[i].slots[job as usize];
            if let Some(groom) = slot.hand.groom() {
                self.load[groom] -= slot.span.to - slot.span.from;
                let line = &mut self.lines[groom];
                let mut at = line.partition_point(|entry| entry.span.from < slot.span.from);
                while line[at].job != key(i, job) {
                    at += 1;
                }
                line.remove(at);
            }
        }
    }

    /// Lifts all of an outing that can be lifted.
    pub(in crate::plan) fn take_out(&mut self, i: usize) {
        for half in [Half::Front, Half::Rear] {
            if !self.outings[i].missed && self.placed(i, half) && !self.settled(i, half) {
                self.lift(i, half);
            }
        }
    }

    /// Puts an outing that was taken out back to what it was.
    pub(in crate::plan) fn restore(&mut self, i: usize, was: &Status) {
        match (self.outings[i].missed, was.missed) {
            (false, true) => self.miss(i),
            (true, false) => self.bring_in(i),
            _ => {}
        }
        for (half, placed) in [(Half::Front, was.front), (Half::Rear, was.rear)] {
            if placed && !self.settled(i, half) {
                self.place(i, half, &was.slots);
            }
        }
    }

    /// Keeps the plan, to be [taken back](Self::take_back).
    pub(in crate::plan) fn keep(&self, kept: &mut Kept) {
        kept.outings.clone_from(&self.outings);
        kept.lines.clone_from(&self.lines);
        kept.load.clone_from(&self.load);
        kept.apart = self.apart;
    }

    /// Makes the plan what it was when it was kept.
    pub(in crate::plan) fn take_back(&mut self, kept: &mut Kept) {
        std::mem::swap(&mut self.outings, &mut kept.outings);
        std::mem::swap(&mut self.lines, &mut kept.lines);
        std::mem::swap(&mut self.load, &mut kept.load);
        self.apart = kept.apart;
    }

    /// Gives a placed job to another hand. It stands on no line then, until it is [inserted](Self::insert).
    pub(in crate::plan) fn give(&mut self, number: u32, to: Hand) {
        let (i, job, _) = of_key(number);
        self.apart -= self.hands_cost(i);
        let slot = &mut self.outings[i].slots[job];
        let Slot { hand: from, span } = *slot;
        slot.hand = to;
        self.apart += self.hands_cost(i);
        if let Some(groom) = from.groom() {
            self.load[groom] -= span.to - span.from;
            self.lines[groom].retain(|entry| entry.job != number);
        }
        if let Some(groom) = to.groom() {
            self.load[groom] += span.to - span.from;
        }
    }

    /// Puts a job that a groom was given on the line, before the entry `at`. It may overlap its neighbours until it is given
    /// [times](Self::take_times) that can be.
    pub(in crate::plan) fn insert(&mut self, groom: usize, at: usize, number: u32, start: Minute) {
        let (i, job, _) = of_key(number);
        let span = &mut self.outings[i].slots[job].span;
        *span = Span { from: start, to: start + span.to - span.from };
        self.lines[groom].insert(at, Entry { span: *span, job: number });
    }

    /// Takes up the times that were worked out for a new order, and by how much they are dearer than before it.
    pub(in crate::plan) fn take_times(&mut self, starts: impl Iterator<Item = (u32, Minute)>, dearer: i64) {
        self.apart += dearer;
        for (number, start) in starts {
            let (i, job, _) = of_key(number);
            let span = &mut self.outings[i].slots[job].span;
            *span = Span { from: start, to: start + span.to - span.from };
        }
        self.read_lines();
    }

    /// Moves a few placed jobs in time; no line changes its order, no hand its job.
    pub(in crate::plan) fn shift(&mut self, moves: &[(u32, Minute)]) {
        for &(number, start) in moves {
            let (i, job, half) = of_key(number);
            self.apart -= self.half_cost(i, half, &self.outings[i].slots);
            let slot = &mut self.outings[i].slots[job];
            slot.span = Span { from: start, to: start + slot.span.to - slot.span.from };
            let Slot { hand, span } = *slot;
            self.apart += self.half_cost(i, half, &self.outings[i].slots);
            if let Some(groom) = hand.groom() {
                self.lines[groom].iter_mut().filter(|entry| entry.job == number).for_each(|entry| entry.span = span);
            }
        }
    }

    /// Moves placed jobs in time; no line changes its order, no hand its job.
    pub(in crate::plan) fn retime(&mut self, moves: &[(u32, Minute)]) {
        for &(job, start) in moves {
            let (i, job, half) = of_key(job);
            self.apart -= self.half_cost(i, half, &self.outings[i].slots);
            let span = &mut self.outings[i].slots[job].span;
            *span = Span { from: start, to: start + span.to - span.from };
            self.apart += self.half_cost(i, half, &self.outings[i].slots);
        }
        self.read_lines();
    }

    /// Gives the lines the times that the outings have.
    fn read_lines(&mut self) {
        for line in &mut self.lines {
            for entry in line.iter_mut().filter(|entry| entry.job != FIXED) {
                entry.span = self.outings[entry.job as usize / 3].slots[entry.job as usize % 3].span;
            }
        }
    }

    /// What a half costs with these slots.
    pub(in crate::plan) fn half_cost(&self, i: usize, half: Half, slots: &[Slot; 3]) -> i64 {
        let (costs, outing) = (&self.day.costs, &self.day.outings[i]);
        let hands = |job: Job| self.table.hand_cost(i, job, slots[job as usize].hand);
        match half {
            Half::Front => {
                let [brush, tack, _] = slots;
                let wait = i64::from(tack.span.from - brush.span.to).max(0);
                hands(Job::Brush)
                    + hands(Job::Tack)
                    + self.tack_cost(i, tack.span.to)
                    + costs.brushed_wait * wait
                    + if brush.hand == tack.hand { 0 } else { costs.handover }
            }
            Half::Rear => hands(Job::PutAway) + self.put_away_cost(i, slots[2].span.from - outing.back),
        }
    }

    /// What it costs who does the jobs of an outing, times and load left out.
    pub(in crate::plan) fn hands_cost(&self, i: usize) -> i64 {
        let slots = &self.outings[i].slots;
        let handover = if slots[0].hand == slots[1].hand { 0 } else { self.day.costs.handover };
        handover + JOBS.into_iter().map(|job| self.table.hand_cost(i, job, slots[job as usize].hand)).sum::<i64>()
    }

    /// What it costs that the tack ends then.
    pub(in crate::plan) fn tack_cost(&self, i: usize, end: Minute) -> i64 {
        let (costs, outing) = (&self.day.costs, &self.day.outings[i]);
        let late = i64::from(end - outing.ready);
        if late > 0 { costs.late * outing.weight * late } else { -late * costs.saddled_wait }
    }

    /// What it costs that the horse waits so long after it is back.
    pub(in crate::plan) fn put_away_cost(&self, _i: usize, wait: Minute) -> i64 {
        let wait = i64::from(wait).max(0);
        self.day.costs.back_wait * wait + self.day.costs.standing * (wait - self.day.limits.stand).max(0)
    }

    /// The earliest starts of brush and tack that the other outings allow. Those without a place yet count as early as
    /// they can be.
    pub(in crate::plan) fn front_from(&self, i: usize) -> (Minute, Minute) {
        let put_away = |k: usize| match self.outings[k].rear {
            true => self.outings[k].slots[2].span.to,
            false => self.table.window(k, Job::PutAway).0 + self.day.outings[k].minutes[2],
        };
        let present = |k: &&usize| !self.outings[**k].missed;
        let brush = self.table.window(i, Job::Brush).0;
        let tack = self.table.window(i, Job::Tack).0;
        let horse = self.table.horse_before[i].iter().filter(present).map(|&k| put_away(k)).max();
        let dry = self.day.limits.girth_dry as Minute;
        let gear = self.table.gear_before[i].iter().filter(present).map(|&k| put_away(k) + dry).max();
        (brush.max(horse.unwrap_or(brush)), tack.max(gear.unwrap_or(tack)))
    }

    /// When put away must have ended, for the sake of other outings.
    pub(in crate::plan) fn rear_by(&self, i: usize) -> Minute {
        let day = self.day;
        let mut by = super::table::EVER.to;
        for &k in self.table.horse_after[i].iter().filter(|&&k| !self.outings[k].missed) {
            if day.outings[k].begun[0].is_none() {
                by = by.min(match self.outings[k].front {
                    true => self.outings[k].slots[0].span.from,
                    false => self.table.window(k, Job::Brush).1,
                });
            }
        }
        for &k in self.table.gear_after[i].iter().filter(|&&k| !self.outings[k].missed) {
            let tack = match self.outings[k].front {
                true => self.outings[k].slots[1].span.from,
                false => self.table.window(k, Job::Tack).1,
            };
            by = by.min(tack - day.limits.girth_dry as Minute);
        }
        by
    }

    /// Whether a half may stand there, as far as the outing's own times and other outings go; lines are not looked at.
    pub(in crate::plan) fn allows(&self, i: usize, half: Half, slots: &[Slot; 3]) -> bool {
        let outing = &self.day.outings[i];
        let away = |job: &Job| {
            let span = slots[*job as usize].span;
            let begun = outing.begun[*job as usize].is_some();
            !begun && self.day.horses[outing.horse].away.iter().any(|away| away.overlaps(span))
        };
        if jobs(half).iter().any(away) {
            return false;
        }
        let [brush, tack, put_away] = slots.map(|slot| slot.span);
        match half {
            Half::Front if outing.can_be_missed() => {
                let (brush_from, tack_from) = self.front_from(i);
                let brushed = outing.begun[0].is_some() || brush.from >= brush_from;
                brushed && tack.from >= tack_from.max(brush.to) && tack.to <= outing.mount
            }
            Half::Front => brush.from >= self.front_from(i).0,
            Half::Rear => put_away.from >= self.table.window(i, Job::PutAway).0 && put_away.to <= self.rear_by(i),
        }
    }

    /// The plan so far, for pricing and printing.
    pub(in crate::plan) fn tasks(&self) -> Tasks {
        let task = |slot: Slot| Task { hand: slot.hand, start: slot.span.from };
        self.outings.iter().map(|status| (!status.missed).then(|| status.slots.map(task))).collect()
    }
}

/// The jobs of a half.
pub(in crate::plan) fn jobs(half: Half) -> &'static [Job] {
    match half {
        Half::Front => &[Job::Brush, Job::Tack],
        Half::Rear => &[Job::PutAway],
    }
}

/// A job's number on lines.
pub(in crate::plan) fn key(i: usize, job: Job) -> u32 {
    (3 * i + job as usize) as u32
}

/// The outing of a job by its number on lines, which of the three it is, and the half that it belongs to.
pub(in crate::plan) fn of_key(number: u32) -> (usize, usize, Half) {
    let (i, job) = (number as usize / 3, number as usize % 3);
    (i, job, if job == Job::PutAway as usize { Half::Rear } else { Half::Front })
}
