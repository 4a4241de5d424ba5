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
        Table {
            blocks,
            brushing,
            cleared,
            gear_before: (0..n).map(|i| of(i, &|k| shares(i, k) && order(k) < order(i))).collect(),
            gear_after: (0..n).map(|i| of(i, &|k| shares(i, k) && order(k) > order(i))).collect(),
            horse_before: (0..n).map(|i| of(i, &|k| horse(i, k) && k < i)).collect(),
            horse_after: (0..n).map(|i| of(i, &|k| horse(i, k) && k > i)).collect(),
            nodes: (0..n).flat_map(|i| JOBS.map(|job| template(day, i, job))).collect(),
        }
    }

    /// [`own_window`], looked up.
    pub(in crate::plan) fn window(&self, i: usize, job: Job) -> (Minute, Minute) {
        let node = &self.nodes[3 * i + job as usize];
        (node.low, node.high)
    }
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
