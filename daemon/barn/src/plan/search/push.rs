//! Room for a half where there is none: what stands in its way is pushed earlier or later, with all that this pushes in turn.
//!
//! A gap in a line is hardly ever just as long as the job that is to go there. So a half may also be placed between any two
//! jobs of a line near the time it would rather have; those before it go earlier and those after it later, as far as they must.
//! What that costs counts; the exact times, made afterwards, can only be cheaper.

mod way;

use super::place::{Found, Tune, slot};
use super::state::{Entry, FIXED, Half, Slot, State, jobs};
use crate::plan::day::{Hand, Job, Minute, Span};
use way::Block;
pub(in crate::plan) use way::Pushing;

/// A front that costs more than this is worth a look at brushes long before their tack: somebody is called, or it is late.
const DEAR: i64 = 1500;
/// So many gaps before the tack are looked at for these.
const GAPS: usize = 5;

/// Where a half would rather be: all of it that has not begun in one block, or its tack alone.
#[derive(Clone, Copy)]
struct Wish {
    half: Half,
    from: Minute,
    by: Minute,
    wanted: Minute,
    length: Minute,
    whole: bool,
}

/// A tack that has a place, and what it costs by itself.
#[derive(Clone, Copy)]
struct Tacked {
    tack: Slot,
    cost: i64,
}

impl State<'_> {
    /// Looks for a place for a half that is cheaper than `best` although others have to be pushed for it.
    pub(in crate::plan) fn find_pushed(
        &self,
        i: usize,
        half: Half,
        tune: &Tune,
        pushing: &mut Pushing,
        best: &mut Option<Found>,
    ) {
        let outing = &self.day.outings[i];
        let [brush, tack, put_away] = outing.minutes;
        match half {
            Half::Rear => {
                let from = self.table.window(i, Job::PutAway).0;
                let wish = Wish { half, from, by: self.rear_by(i), wanted: from, length: put_away, whole: true };
                self.push_in(i, wish, tune, pushing, best);
            }
            // A brush noted after the tack is nothing that others should make room for.
            Half::Front if outing.begun[1].is_some() => {}
            Half::Front => {
                let (brush_from, tack_from) = self.front_from(i);
                let (by, wanted) = (outing.mount, outing.ready - tack);
                let begun = outing.begun[0].is_some();
                let alone = Wish { half, from: tack_from, by, wanted, length: tack, whole: begun };
                if !begun {
                    let (from, wanted) = (brush_from.max(tack_from - brush), wanted - brush);
                    let both = Wish { from, wanted, length: brush + tack, whole: true, ..alone };
                    self.push_in(i, both, tune, pushing, best);
                }
                self.push_in(i, alone, tune, pushing, best);
                if !begun && best.as_ref().is_none_or(|best| best.cost > DEAR) {
                    self.push_in_brush(i, brush_from, tack_from, tune, pushing, best);
                }
            }
        }
    }

    fn push_in(&self, i: usize, wish: Wish, tune: &Tune, pushing: &mut Pushing, best: &mut Option<Found>) {
        let outing = &self.day.outings[i];
        let Wish { half, from, by, length, whole, .. } = wish;
        if from + length > by {
            return;
        }
        let wanted = wish.wanted.clamp(from, by - length);
        let away = &self.day.horses[outing.horse].away;
        for &groom in &self.table.cleared[i] {
            let hand = Hand::of(groom);
            let work = if whole {
                self.block_cost(i, half, hand, length, tune)
            } else {
                self.table.hand_cost(i, Job::Tack, hand) + self.load_cost(hand, length, tune)
            };
            if best.as_ref().is_some_and(|best| work >= best.cost) {
                continue;
            }
            let line = &self.lines[groom];
            let middle = line.partition_point(|entry| entry.span.from + entry.span.to < 2 * wanted + length);
            for at in middle.saturating_sub(1).max(1)..(middle + 2).min(line.len()) {
                let (before, after) = (line[at - 1], line[at]);
                let gap = Span { from: before.span.to, to: after.span.from };
                let mut starts = [wanted, gap.from, gap.to - length];
                if gap.to - gap.from >= length {
                    // Whoever looks at gaps has seen all but this one.
                    starts = [wanted; 3];
                }
                for (k, &start) in starts.iter().enumerate() {
                    let span = Span { from: start, to: start + length };
                    let fits = gap.from <= start && span.to <= gap.to;
                    if fits || start < from || span.to > by || starts[..k].contains(&start) {
                        continue;
                    }
                    let stuck = |entry: Entry| entry.job == FIXED;
                    if start < gap.from && stuck(before) || span.to > gap.to && stuck(after) {
                        continue;
                    }
                    let times = match half {
                        Half::Rear => self.put_away_cost(i, start - outing.back),
                        Half::Front => self.tack_cost(i, span.to),
                    };
                    let most = best.as_ref().map_or(i64::MAX, |best| best.cost);
                    let left = most - work - times;
                    if left <= 0 || away.iter().any(|away| away.overlaps(span)) {
                        continue;
                    }
                    let block = Block { groom, at, span, outing: i, half, tack: span.to - outing.minutes[1] };
                    let Some(pushed) = pushing.make_way(self, block).filter(|&pushed| pushed < left) else { continue };
                    let cost = work + times + pushed;
                    let mut slots = self.outings[i].slots;
                    match half {
                        Half::Rear => slots[2] = slot(hand, start, length),
                        Half::Front => slots[1] = slot(hand, block.tack, outing.minutes[1]),
                    }
                    if !whole {
                        self.brush_before(i, Tacked { tack: slots[1], cost }, tune, pushing, best);
                        continue;
                    }
                    if half == Half::Front && outing.begun[0].is_none() {
                        slots[0] = slot(hand, start, outing.minutes[0]);
                    }
                    *best = Some(Found { slots, cost, moves: pushing.moved.clone() });
                }
            }
        }
    }

    /// A brush long before its tack, for which others are pushed: a brushed horse may wait, and that is cheaper than somebody called
    /// or a tack too late.
    fn push_in_brush(
        &self,
        i: usize,
        brush_from: Minute,
        tack_from: Minute,
        tune: &Tune,
        pushing: &mut Pushing,
        best: &mut Option<Found>,
    ) {
        let outing = &self.day.outings[i];
        let length = outing.minutes[1];
        for &groom in &self.table.cleared[i] {
            let hand = Hand::of(groom);
            let work = self.table.hand_cost(i, Job::Tack, hand) + self.load_cost(hand, length, tune);
            let in_time = self.latest(i, hand, length, tack_from, outing.ready);
            let late = self.earliest(i, hand, length, tack_from.max(outing.ready + 1 - length), outing.mount);
            for start in [in_time, late].into_iter().flatten() {
                let tack = slot(hand, start, length);
                let tacked = Tacked { tack, cost: work + self.tack_cost(i, tack.span.to) };
                self.push_in_before(i, tacked, brush_from, tune, pushing, best);
            }
        }
    }

    /// A brush for a tack whose place is free, in gaps before it that are too short.
    fn push_in_before(
        &self,
        i: usize,
        tacked: Tacked,
        from: Minute,
        tune: &Tune,
        pushing: &mut Pushing,
        best: &mut Option<Found>,
    ) {
        let outing = &self.day.outings[i];
        let away = &self.day.horses[outing.horse].away;
        let length = outing.minutes[0];
        let tack = tacked.tack;
        let by = tack.span.from;
        for &groom in &self.table.cleared[i] {
            let hand = Hand::of(groom);
            let cost = tacked.cost + self.brush_cost(i, hand, tacked.tack.hand, tune);
            let line = &self.lines[groom];
            let last = line.partition_point(|entry| entry.span.from < by).min(line.len() - 1);
            for at in (1..=last).rev().take(GAPS) {
                let (before, after) = (line[at - 1], line[at]);
                let gap = Span { from: before.span.to, to: after.span.from.min(by) };
                // One of the neighbours goes; where neither has to, whoever looks at gaps has seen it.
                for (start, neighbour) in [(gap.from, after), (gap.to - length, before)] {
                    let span = Span { from: start, to: start + length };
                    let fits = gap.to - gap.from >= length;
                    if fits || neighbour.job == FIXED || start < from || span.to > by {
                        continue;
                    }
                    let cost = cost + self.day.costs.brushed_wait * i64::from(by - span.to);
                    let left = best.as_ref().map_or(i64::MAX, |best| best.cost) - cost;
                    if left <= 0 || away.iter().any(|away| away.overlaps(span)) {
                        continue;
                    }
                    let block = Block { groom, at, span, outing: i, half: Half::Front, tack: by };
                    let Some(pushed) = pushing.make_way(self, block).filter(|&pushed| pushed < left) else { continue };
                    let in_its_way = |&(job, start): &(u32, Minute)| {
                        let Slot { hand, span } = self.outings[job as usize / 3].slots[job as usize % 3];
                        hand == tack.hand && Span { from: start, to: start + span.to - span.from }.overlaps(tack.span)
                    };
                    if !pushing.moved.iter().any(in_its_way) {
                        let mut slots = self.outings[i].slots;
                        (slots[0], slots[1]) = (slot(hand, start, length), tack);
                        *best = Some(Found { slots, cost: cost + pushed, moves: pushing.moved.clone() });
                    }
                }
            }
        }
    }

    /// The best brush before a tack for which others were pushed, in a gap that the pushes leave.
    fn brush_before(&self, i: usize, tacked: Tacked, tune: &Tune, pushing: &Pushing, best: &mut Option<Found>) {
        let tack = tacked.tack;
        let length = self.day.outings[i].minutes[0];
        let from = self.front_from(i).0;
        for &groom in &self.table.cleared[i] {
            let hand = Hand::of(groom);
            let cost = tacked.cost + self.brush_cost(i, hand, tacked.tack.hand, tune);
            if best.as_ref().is_some_and(|best| cost >= best.cost) {
                continue;
            }
            let Some(start) = self.latest(i, hand, length, from, tack.span.from) else { continue };
            let cost = cost + self.day.costs.brushed_wait * i64::from(tack.span.from - start - length);
            let brush = slot(hand, start, length);
            let in_its_way = |&(job, start): &(u32, Minute)| {
                let (k, job) = (job as usize / 3, job as usize % 3);
                let Slot { hand: other, span } = self.outings[k].slots[job];
                let span = Span { from: start, to: start + span.to - span.from };
                other == hand && span.overlaps(brush.span)
                    || job == 2 && span.to > brush.span.from && self.table.horse_before[i].contains(&k)
            };
            if best.as_ref().is_none_or(|best| cost < best.cost) && !pushing.moved.iter().any(in_its_way) {
                let mut slots = self.outings[i].slots;
                (slots[0], slots[1]) = (brush, tack);
                *best = Some(Found { slots, cost, moves: pushing.moved.clone() });
            }
        }
    }

    /// What it costs that this hand brushes for a tack of that one, times left out.
    fn brush_cost(&self, i: usize, hand: Hand, tacker: Hand, tune: &Tune) -> i64 {
        let handover = if hand == tacker { 0 } else { self.day.costs.handover };
        handover
            + self.table.hand_cost(i, Job::Brush, hand)
            + self.load_cost(hand, self.day.outings[i].minutes[0], tune)
    }

    /// What it costs that one hand does all of a half that has not begun, times left out.
    fn block_cost(&self, i: usize, half: Half, hand: Hand, length: Minute, tune: &Tune) -> i64 {
        let begun = &self.day.outings[i].begun;
        let open = |job: &&Job| begun[**job as usize].is_none();
        let hands: i64 = jobs(half).iter().filter(open).map(|&job| self.table.hand_cost(i, job, hand)).sum();
        let brushed = begun[0].filter(|_| half == Half::Front);
        let (handover, waited) = brushed.map_or((0, 0), |brush| {
            let wait = self.day.outings[i].ready - self.day.outings[i].minutes[1] - brush.span.to;
            let handover = if brush.hand == hand { 0 } else { self.day.costs.handover };
            (handover, self.day.costs.brushed_wait * i64::from(wait.max(0)))
        });
        hands + handover + waited + self.load_cost(hand, length, tune)
    }
}
