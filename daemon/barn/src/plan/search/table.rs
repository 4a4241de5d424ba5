//! What the search looks up again and again, worked out once for a day.

use super::timing::{Node, template};
use crate::plan::day::{Day, Hand, JOBS, Job, Minute, Outing, Span};

/// Before and after everything.
pub(in crate::plan) const EVER: Span = Span { from: -1_000_000, to: 1_000_000 };

/// Facts of a day that no plan changes.
pub(in crate::plan) struct Table {
    /// By groom: when nothing can be given to them, in order, disjoint: off shift, away, begun jobs.
    pub(in crate::plan) blocks: Vec<Vec<Span>>,
    /// By outing: who brushes just now, and from when to when, where that ends once the outing is missed. Not among the blocks.
    pub(in crate::plan) brushing: Vec<Option<(usize, Span)>>,
    /// By outing: who is cleared for its horse.
    pub(in crate::plan) cleared: Vec<Vec<usize>>,
    /// By outing: outings that must have let go of its gear before its tack begins.
    pub(in crate::plan) gear_before: Vec<Vec<usize>>,
    /// By outing: outings that need its gear after it.
    pub(in crate::plan) gear_after: Vec<Vec<usize>>,
    /// By outing: earlier outings of its horse, in order.
    pub(in crate::plan) horse_before: Vec<Vec<usize>>,
    /// By outing: later outings of its horse, in order.
    pub(in crate::plan) horse_after: Vec<Vec<usize>>,
    /// Pairs of outings that can not both go, the earlier first; an outing with itself where it can not go at all.
    pub(in crate::plan) conflicts: Vec<(usize, usize)>,
    /// By outing: what missing all those costs that can not go where it goes; [`NEVER`] where it can not go at all.
    pub(super) given_up: Vec<i64>,
    /// By job's number on lines, for each groom and staff last: what it costs that they do it, times and load left out.
    hand_costs: Vec<i64>,
    /// By job's number on lines: what the timing knows of it.
    pub(super) nodes: Vec<Node>,
}

impl Table {
    pub(in crate::plan) fn new(day: &Day) -> Table {
        let n = day.outings.len();
        let mut brushing: Vec<Option<(usize, Span)>> = day.outings.iter().map(brushing).collect();
        let blocks: Vec<Vec<Span>> = (0..day.grooms.len()).map(|groom| blocks(day, groom, &mut brushing)).collect();
        let cleared = day
            .outings
            .iter()
            .map(|outing| (0..day.grooms.len()).filter(|&groom| day.cleared(groom, outing.horse)).collect())
            .collect();
        // Between two outings with the same gear the order is given: each needs it at its own mount, and what has begun
        // goes before what has not.
        let order = |i: usize| (day.outings[i].can_be_missed(), day.outings[i].mount, i);
        let shares = |i: usize, k: usize| {
            let (a, b) = (&day.outings[i], &day.outings[k]);
            (a.can_be_missed() || b.can_be_missed()) && a.gear.iter().any(|piece| b.gear.contains(piece))
        };
        let of = |i: usize, keep: &dyn Fn(usize) -> bool| (0..n).filter(|&k| k != i && keep(k)).collect();
        let horse = |i: usize, k: usize| day.outings[i].horse == day.outings[k].horse;
        let gear_before: Vec<Vec<usize>> = (0..n).map(|i| of(i, &|k| shares(i, k) && order(k) < order(i))).collect();
        let horse_before: Vec<Vec<usize>> = (0..n).map(|i| of(i, &|k| horse(i, k) && k < i)).collect();
        let conflicts = conflicts(day, &gear_before, &horse_before);
        let given_up = (0..n).map(|i| given_up(day, &conflicts, i)).collect();
        Table {
            blocks,
            brushing,
            cleared,
            gear_before,
            gear_after: (0..n).map(|i| of(i, &|k| shares(i, k) && order(k) > order(i))).collect(),
            horse_before,
            horse_after: (0..n).map(|i| of(i, &|k| horse(i, k) && k > i)).collect(),
            conflicts,
            given_up,
            hand_costs: (0..n)
                .flat_map(|i| JOBS.map(|job| (i, job)))
                .flat_map(|(i, job)| hand_costs(day, i, job))
                .collect(),
            nodes: (0..n).flat_map(|i| JOBS.map(|job| template(day, i, job))).collect(),
        }
    }

    /// What it costs that this hand does a job, times and load left out.
    pub(super) fn hand_cost(&self, i: usize, job: Job, hand: Hand) -> i64 {
        let grooms = self.blocks.len();
        self.hand_costs[(3 * i + job as usize) * (grooms + 1) + hand.groom().unwrap_or(grooms)]
    }

    /// [`own_window`], looked up.
    pub(in crate::plan) fn window(&self, i: usize, job: Job) -> (Minute, Minute) {
        let node = &self.nodes[3 * i + job as usize];
        (node.low, node.high)
    }
}

/// More than any plan costs: what can not be.
pub(super) const NEVER: i64 = i64::MAX / 4;

/// Pairs of outings that can not both go, whatever hands there are.
fn conflicts(day: &Day, gear_before: &[Vec<usize>], horse_before: &[Vec<usize>]) -> Vec<(usize, usize)> {
    let dry = day.limits.girth_dry as Minute;
    // The earliest that a put away can end, and the latest that a front can do with that.
    let end = |k: usize| {
        day.outings[k].begun[2]
            .map_or_else(|| own_window(day, k, Job::PutAway).0 + day.outings[k].minutes[2], |begun| begun.span.to)
    };
    let mut conflicts = Vec::new();
    for k in (0..day.outings.len()).filter(|&k| day.outings[k].can_be_missed()) {
        let late = |&other: &usize| end(other) + dry > own_window(day, k, Job::Tack).1;
        conflicts.extend(gear_before[k].iter().copied().filter(|other| late(other)).map(|other| (other, k)));
        let late = |&other: &usize| day.outings[k].begun[0].is_none() && end(other) > own_window(day, k, Job::Brush).1;
        conflicts.extend(horse_before[k].iter().copied().filter(|other| late(other)).map(|other| (other, k)));
        // By itself.
        let (from, to) = own_window(day, k, Job::Tack);
        let brush = if day.outings[k].begun[0].is_none() { day.outings[k].minutes[0] } else { 0 };
        if from + brush > to {
            conflicts.push((k, k));
        }
    }
    conflicts
}

/// What missing all costs that can not go together with an outing.
fn given_up(day: &Day, conflicts: &[(usize, usize)], i: usize) -> i64 {
    let with = |&(a, b): &(usize, usize)| if a == i { Some(b) } else { (b == i).then_some(a) };
    let mut rivals: Vec<usize> = conflicts.iter().filter_map(with).collect();
    rivals.sort_unstable();
    rivals.dedup();
    let can_be_missed = |k: usize| k != i && day.outings[k].can_be_missed();
    let cost = |k: usize| if can_be_missed(k) { day.costs.missed * day.outings[k].weight } else { NEVER };
    rivals.into_iter().map(cost).fold(0, |sum, cost| (sum + cost).min(NEVER))
}

/// [`Table::hand_cost`] for each groom and staff.
fn hand_costs(day: &Day, i: usize, job: Job) -> impl Iterator<Item = i64> + '_ {
    let (costs, outing) = (&day.costs, &day.outings[i]);
    let open = outing.begun[job as usize].is_none();
    let cost = move |hand: Hand| {
        let staff = if hand == Hand::STAFF { costs.staff * outing.weight } else { 0 };
        let broken = outing.promised[job as usize].is_some_and(|promised| promised != hand);
        staff + if broken { costs.reshuffle } else { 0 }
    };
    let hands = (0..day.grooms.len()).map(Hand::of).chain([Hand::STAFF]);
    hands.map(move |hand| if open { cost(hand) } else { 0 })
}

/// Who brushes for an outing just now, where it can still be missed.
fn brushing(outing: &Outing) -> Option<(usize, Span)> {
    let brush = outing.begun[0].filter(|brush| brush.under_way && outing.can_be_missed())?;
    brush.hand.groom().map(|groom| (groom, brush.span))
}

/// When a groom is taken whatever is missed. A brush that overlaps something of that is taken out of `brushing`, and counts too:
/// somebody has noted what can not have been.
fn blocks(day: &Day, groom: usize, brushing: &mut [Option<(usize, Span)>]) -> Vec<Span> {
    let shift = day.grooms[groom].shift;
    let mut spans = vec![Span { from: EVER.from, to: shift.from }, Span { from: shift.to, to: EVER.to }];
    spans.extend(&day.grooms[groom].away);
    for (i, outing) in day.outings.iter().enumerate() {
        let begun = outing.begun.iter().enumerate().filter(|&(job, _)| job > 0 || brushing[i].is_none());
        spans.extend(
            begun.filter_map(|(_, begun)| *begun).filter(|begun| begun.hand == Hand::of(groom)).map(|begun| begun.span),
        );
    }
    for i in 0..brushing.len() {
        if let Some((by, span)) = brushing[i]
            && by == groom
        {
            let at_once = |other: &(usize, Span)| other.0 == groom && other.1.overlaps(span);
            let others = brushing.iter().enumerate().filter(|&(k, _)| k != i).filter_map(|(_, other)| other.as_ref());
            if spans.iter().any(|other| other.overlaps(span)) || others.into_iter().any(at_once) {
                brushing[i] = None;
                spans.push(span);
            }
        }
    }
    spans.sort_by_key(|span| (span.from, span.to));
    let mut merged: Vec<Span> = Vec::new();
    for span in spans {
        match merged.last_mut() {
            Some(last) if span.from < last.to => last.to = last.to.max(span.to),
            _ => merged.push(span),
        }
    }
    merged
}

/// The least and greatest start of a job that the outing's own times allow, other outings left out.
pub(in crate::plan) fn own_window(day: &Day, i: usize, job: Job) -> (Minute, Minute) {
    let outing = &day.outings[i];
    let length = outing.minutes[job as usize];
    let now = day.earliest();
    let tack_ends = outing.begun[Job::Tack as usize].map(|tack| tack.span.to);
    match job {
        Job::Brush if tack_ends.is_some() => (now, EVER.to - length),
        Job::Brush => (now, outing.mount - outing.minutes[Job::Tack as usize] - length),
        Job::Tack => {
            let brushed = outing.begun[Job::Brush as usize].map_or(now, |brush| brush.span.to);
            (now.max(brushed), outing.mount - length)
        }
        Job::PutAway => (now.max(outing.back).max(tack_ends.unwrap_or(outing.back)), EVER.to - length),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::search::sample;

    #[test]
    fn what_can_not_go_together_is_known_beforehand() {
        let mut day = sample::day(1, 0, &[(500, 18), (600, 18), (620, 18), (800, 18)]);
        for outing in &mut day.outings {
            outing.gear = vec![0];
        }
        day.now = Some(480);
        day.outings[1].weight = 3;
        let table = Table::new(&day);
        // The first can not be ready any more. The next two want the same saddle within twenty minutes, the last one much later.
        assert_eq!(table.conflicts, [(0, 0), (1, 2)]);
        let missed = day.costs.missed;
        assert_eq!(table.given_up, [NEVER, missed * day.outings[2].weight, missed * 3, 0]);
    }
}
