//! The cheapest place of one half, everything else where it is.
//!
//! Exact for put away: its cost only grows with the start, so the earliest fit of each hand is enough. For brush and
//! tack it looks at the latest fit of tack in each gap of each hand's line, with the latest brush before it; within a gap
//! an earlier tack costs more and leaves less room for the brush. Where nothing fits by ready it looks for the earliest
//! fit after it.

use super::state::{Entry, Half, Slot, State};
use crate::plan::day::{Hand, Job, Minute, Span};

/// What steers a placement beside the cost itself.
pub(in crate::plan) struct Tune {
    /// Minutes that a groom may work before it costs; what the busiest will have in the end is not known yet.
    pub(in crate::plan) fair: Minute,
    /// By groom: a small dislike, so that not every round finds the same.
    pub(in crate::plan) dislike: Vec<i64>,
    /// The same for staff.
    pub(in crate::plan) staff: i64,
    /// By job: so many minutes are kept free on the side where the job would rather be, for what comes next.
    pub(in crate::plan) hold: [Minute; 3],
}

/// A place for a half: its slots (the other half's are as they were) and what it costs, dislikes included.
pub(in crate::plan) struct Found {
    pub(in crate::plan) slots: [Slot; 3],
    pub(super) cost: i64,
    /// Where others have to go for it.
    pub(in crate::plan) moves: Vec<(u32, Minute)>,
}

impl State<'_> {
    /// The cheapest place for a half, `None` where there is none.
    pub(in crate::plan) fn find(&self, i: usize, half: Half, tune: &Tune) -> Option<Found> {
        let outing = &self.day.outings[i];
        match (half, outing.begun[0], outing.begun[1]) {
            (Half::Rear, ..) => self.find_rear(i, tune),
            (Half::Front, None, Some(_)) => self.find_brush_after_tack(i, tune),
            (Half::Front, ..) => self.find_front(i, tune),
        }
    }

    fn find_rear(&self, i: usize, tune: &Tune) -> Option<Found> {
        let outing = &self.day.outings[i];
        let from = self.table.window(i, Job::PutAway).0;
        let by = self.rear_by(i);
        let length = outing.minutes[2];
        let mut best: Option<Found> = None;
        for hand in self.hands(i) {
            let work = self.work_cost(i, Job::PutAway, hand, length, tune);
            if best.as_ref().is_some_and(|best| work >= best.cost) {
                continue;
            }
            let Some(start) = self.earliest(i, hand, length, from + tune.hold[2], by) else { continue };
            let cost = work + self.put_away_cost(i, start - outing.back);
            if best.as_ref().is_none_or(|best| cost < best.cost) {
                let mut slots = self.outings[i].slots;
                slots[2] = slot(hand, start, length);
                best = Some(Found { slots, cost, moves: Vec::new() });
            }
        }
        best
    }

    /// The horse is tacked and nobody noted the brush: it is done as soon as somebody can.
    fn find_brush_after_tack(&self, i: usize, tune: &Tune) -> Option<Found> {
        let length = self.day.outings[i].minutes[0];
        let (from, _) = self.front_from(i);
        let tacked_by = self.outings[i].slots[1].hand;
        let place = |hand: Hand| {
            let start = self.earliest(i, hand, length, from, super::table::EVER.to)?;
            let handover = if hand == tacked_by { 0 } else { self.day.costs.handover };
            let mut slots = self.outings[i].slots;
            slots[0] = slot(hand, start, length);
            let wait = i64::from(slots[1].span.from - slots[0].span.to).max(0);
            let waiting = self.day.costs.brushed_wait * wait;
            let cost = self.work_cost(i, Job::Brush, hand, length, tune) + handover + waiting;
            Some(Found { slots, cost, moves: Vec::new() })
        };
        self.hands(i).filter_map(place).min_by_key(|found| found.cost)
    }

    fn find_front(&self, i: usize, tune: &Tune) -> Option<Found> {
        let outing = &self.day.outings[i];
        let (brush_from, tack_from) = self.front_from(i);
        let length = outing.minutes[1];
        let mut best: Option<Found> = None;
        for hand in self.hands(i) {
            let work = self.work_cost(i, Job::Tack, hand, length, tune);
            let mut by = outing.ready - tune.hold[1];
            while let Some(start) = self.latest(i, hand, length, tack_from, by) {
                let cost = work + self.tack_cost(i, start + length);
                if best.as_ref().is_some_and(|best| cost >= best.cost) {
                    break;
                }
                self.with_brush(i, slot(hand, start, length), cost, brush_from, tune, &mut best);
                match self.gap_before(i, hand, start) {
                    Some(end) => by = end,
                    None => break,
                }
            }
        }
        let minute_late = self.day.costs.late * outing.weight;
        if best.as_ref().is_none_or(|best| best.cost > minute_late) {
            self.find_late_front(i, brush_from, tack_from, tune, &mut best);
        }
        best
    }

    /// Tack that ends after ready: as early as brush and line allow.
    fn find_late_front(&self, i: usize, brush_from: Minute, tack_from: Minute, tune: &Tune, best: &mut Option<Found>) {
        let outing = &self.day.outings[i];
        let [brush, tack, _] = outing.minutes;
        let from = tack_from.max(outing.ready + 1 - tack);
        let brushed = |hand: Hand| match outing.begun[0] {
            Some(begun) => Some(begun.span.to),
            None => self.earliest(i, hand, brush, brush_from, outing.mount - tack).map(|start| start + brush),
        };
        let by_anyone = self.hands(i).filter(|hand| hand.groom().is_some()).filter_map(brushed).min();
        let by_staff = brushed(Hand::STAFF);
        for hand in self.hands(i) {
            let work = self.work_cost(i, Job::Tack, hand, tack, tune);
            for ready_from in [brushed(hand), by_anyone, by_staff].into_iter().flatten() {
                let Some(start) = self.earliest(i, hand, tack, from.max(ready_from), outing.mount) else { continue };
                let cost = work + self.tack_cost(i, start + tack);
                if best.as_ref().is_none_or(|best| cost < best.cost) {
                    self.with_brush(i, slot(hand, start, tack), cost, brush_from, tune, best);
                }
            }
        }
    }

    /// The best brush for a tack, kept where it beats what is known. `cost` is what the tack costs by itself.
    fn with_brush(&self, i: usize, tack: Slot, cost: i64, from: Minute, tune: &Tune, best: &mut Option<Found>) {
        let outing = &self.day.outings[i];
        let mut keep = |brush: Slot, work: i64| {
            let wait = self.day.costs.brushed_wait * i64::from(tack.span.from - brush.span.to);
            let handover = if brush.hand == tack.hand { 0 } else { self.day.costs.handover };
            let cost = cost + work + wait + handover;
            if best.as_ref().is_none_or(|best| cost < best.cost) {
                let mut slots = self.outings[i].slots;
                (slots[0], slots[1]) = (brush, tack);
                *best = Some(Found { slots, cost, moves: Vec::new() });
            }
            best.as_ref().map_or(i64::MAX, |best| best.cost)
        };
        if let Some(begun) = outing.begun[0] {
            keep(Slot { hand: begun.hand, span: begun.span }, 0);
            return;
        }
        let length = outing.minutes[0];
        // The same hand first: it is the best more often than not, and then the others need no look.
        let both = self.work_cost(i, Job::Brush, tack.hand, length + tack.span.to - tack.span.from, tune)
            - self.load_cost(tack.hand, tack.span.to - tack.span.from, tune);
        let mut least = i64::MAX;
        if let Some(start) = self.latest(i, tack.hand, length, from, tack.span.from - tune.hold[0]) {
            least = keep(slot(tack.hand, start, length), both);
        }
        for hand in self.hands(i).filter(|&hand| hand != tack.hand) {
            let work = self.work_cost(i, Job::Brush, hand, length, tune);
            if cost + work + self.day.costs.handover >= least {
                continue;
            }
            if let Some(start) = self.latest(i, hand, length, from, tack.span.from - tune.hold[0]) {
                least = keep(slot(hand, start, length), work);
            }
        }
    }

    /// Everybody who may do a job of the outing; staff last.
    fn hands(&self, i: usize) -> impl Iterator<Item = Hand> + '_ {
        self.table.cleared[i].iter().map(|&groom| Hand::of(groom)).chain([Hand::STAFF])
    }

    /// What it costs that this hand does so many more minutes: staff, reshuffle, share of `busiest`, dislike.
    fn work_cost(&self, i: usize, job: Job, hand: Hand, minutes: Minute, tune: &Tune) -> i64 {
        self.table.hand_cost(i, job, hand) + self.load_cost(hand, minutes, tune)
    }

    pub(super) fn load_cost(&self, hand: Hand, minutes: Minute, tune: &Tune) -> i64 {
        hand.groom().map_or(tune.staff, |groom| {
            let over = (self.load[groom] + minutes - tune.fair).clamp(0, minutes);
            self.day.costs.busiest * i64::from(over) + tune.dislike[groom]
        })
    }

    fn line(&self, hand: Hand) -> &[Entry] {
        hand.groom().map_or(&[], |groom| &self.lines[groom])
    }

    /// The latest start in `from..` with the end by `by`.
    pub(super) fn latest(&self, i: usize, hand: Hand, length: Minute, from: Minute, by: Minute) -> Option<Minute> {
        let line = self.line(hand);
        let away = &self.day.horses[self.day.outings[i].horse].away;
        let mut end = by;
        let mut next = line.partition_point(|entry| entry.span.from < end);
        loop {
            // Time that begins and ends at `end` hides nothing.
            while next.checked_sub(1).is_some_and(|last| line[last].span.from >= end) {
                next -= 1;
            }
            let span = Span { from: end - length, to: end };
            if span.from < from {
                return None;
            }
            if let Some(taken) = next.checked_sub(1).map(|last| line[last].span)
                && taken.overlaps(span)
            {
                end = taken.from;
                next -= 1;
            } else if let Some(away) = away.iter().find(|away| away.overlaps(span)) {
                end = away.from;
                next = line.partition_point(|entry| entry.span.from < end);
            } else {
                return Some(span.from);
            }
        }
    }

    /// The earliest start in `from..` with the end by `by`.
    pub(super) fn earliest(&self, i: usize, hand: Hand, length: Minute, from: Minute, by: Minute) -> Option<Minute> {
        let line = self.line(hand);
        let away = &self.day.horses[self.day.outings[i].horse].away;
        let mut start = from;
        let mut next = line.partition_point(|entry| entry.span.to <= start);
        loop {
            while line.get(next).is_some_and(|entry| entry.span.to <= start) {
                next += 1;
            }
            let span = Span { from: start, to: start + length };
            if span.to > by {
                return None;
            }
            if let Some(taken) = line.get(next).map(|entry| entry.span)
                && taken.overlaps(span)
            {
                start = taken.to;
                next += 1;
            } else if let Some(away) = away.iter().find(|away| away.overlaps(span)) {
                start = away.to;
                next = line.partition_point(|entry| entry.span.to <= start);
            } else {
                return Some(span.from);
            }
        }
    }

    /// Where the gap before the one that holds `start` ends.
    fn gap_before(&self, i: usize, hand: Hand, start: Minute) -> Option<Minute> {
        let line = self.line(hand);
        let last = line.partition_point(|entry| entry.span.to <= start && entry.span.from < start);
        let taken = last.checked_sub(1).map(|last| line[last].span.from);
        let away = &self.day.horses[self.day.outings[i].horse].away;
        taken.into_iter().chain(away.iter().map(|away| away.from).filter(|&from| from < start)).max()
    }
}

pub(super) fn slot(hand: Hand, start: Minute, length: Minute) -> Slot {
    Slot { hand, span: Span { from: start, to: start + length } }
}
