//! Times for jobs whose order has changed.
//!
//! Where they stand by now they may overlap. First it is worked out how early and how late each can be by what comes before and
//! after it; that says whether the order is possible at all, and what it costs at least. Then what overlaps is pushed apart,
//! and the times are made exact as ever.

use super::{Arc, Node, Timing};
use crate::plan::day::{Minute, Span};
use crate::plan::search::state::{State, Status, of_key};

impl Node {
    /// What a start costs more than one at the first bend.
    fn price(&self, start: Minute) -> i64 {
        let ([a, b, c], [first, second]) = (self.slopes, self.bends);
        a * i64::from(start.min(first) - first)
            + b * i64::from(start.clamp(first, second) - first)
            + c * i64::from(start.max(second) - second)
    }

    /// The cheapest start, whatever others do.
    fn cheapest(&self) -> Minute {
        let wanted = if self.slopes[0] < 0 { self.bends[0] } else { self.low };
        wanted.clamp(self.low, self.high)
    }
}

impl Timing {
    /// How much dearer the times of the stretch are in the order of the lines than they were in another plan; `None` where the
    /// order can not be, or it is more than `limit`. The starts are then [`starts`](Self::starts).
    pub(in crate::plan) fn arrange(&mut self, state: &State, stretch: Span, was: &[Status], limit: i64) -> Option<i64> {
        self.gather(state, stretch);
        self.work += (self.nodes.len() + self.arcs.len()) as u64;
        self.narrow()?;
        let start_before = |node: &Node| {
            let (i, job, _) = of_key(node.job);
            was[i].slots[job].span.from
        };
        let before: i64 = self.nodes.iter().map(|node| node.price(start_before(node))).sum();
        if self.least() - before > limit {
            return None;
        }
        self.push_apart();
        self.slide();
        let dearer = price(&self.nodes) - before;
        (dearer <= limit).then_some(dearer)
    }

    /// Each job of the stretch, and when it starts.
    pub(in crate::plan) fn starts(&self) -> impl Iterator<Item = (u32, Minute)> + '_ {
        self.nodes.iter().map(|node| (node.job, node.start))
    }

    /// What the stretch costs at least, each job by itself.
    fn least(&self) -> i64 {
        self.nodes.iter().map(|node| node.price(node.cheapest())).sum()
    }

    /// Narrows the windows to what comes before and after each job leaves; `None` where that is nothing.
    fn narrow(&mut self) -> Option<()> {
        let Timing { nodes, arcs, .. } = self;
        let most = nodes.len();
        until_still(most, || {
            arcs.iter().fold(false, |changed, &Arc { from, to, gap, .. }| {
                let low = nodes[from].low + gap;
                let raised = nodes[to].low < low;
                nodes[to].low = nodes[to].low.max(low);
                changed | raised
            })
        })?;
        until_still(most, || {
            arcs.iter().rev().fold(false, |changed, &Arc { from, to, gap, .. }| {
                let high = nodes[to].high - gap;
                let lowered = nodes[from].high > high;
                nodes[from].high = nodes[from].high.min(high);
                changed | lowered
            })
        })?;
        nodes.iter().all(|node| node.low <= node.high).then_some(())
    }

    /// Gives starts that the order allows, near those that there are: with those behind pushed later, or those in front pushed
    /// earlier as far as they can, whichever is cheaper.
    fn push_apart(&mut self) {
        for node in &mut self.nodes {
            node.start = node.start.clamp(node.low, node.high);
        }
        self.others.clear();
        self.others.extend(self.nodes.iter().map(|node| node.start));
        self.push_later();
        let later = price(&self.nodes);
        self.change_starts();
        let Timing { nodes, arcs, .. } = self;
        let _ = until_still(nodes.len(), || {
            arcs.iter().rev().fold(false, |changed, &Arc { from, to, gap, .. }| {
                let start = (nodes[to].start - gap).max(nodes[from].low);
                let lowered = nodes[from].start > start;
                nodes[from].start = nodes[from].start.min(start);
                changed | lowered
            })
        });
        self.push_later();
        if price(&self.nodes) >= later {
            self.change_starts();
        }
    }

    fn push_later(&mut self) {
        let Timing { nodes, arcs, .. } = self;
        let _ = until_still(nodes.len(), || {
            arcs.iter().fold(false, |changed, &Arc { from, to, gap, .. }| {
                let start = nodes[from].start + gap;
                let raised = nodes[to].start < start;
                nodes[to].start = nodes[to].start.max(start);
                changed | raised
            })
        });
    }

    fn change_starts(&mut self) {
        for (node, other) in self.nodes.iter_mut().zip(&mut self.others) {
            std::mem::swap(&mut node.start, other);
        }
    }
}

fn price(nodes: &[Node]) -> i64 {
    nodes.iter().map(|node| node.price(node.start)).sum()
}

/// Goes through all arcs again and again until nothing changes; `None` where that is not so after once for each node, as in a
/// circle.
fn until_still(nodes: usize, mut pass: impl FnMut() -> bool) -> Option<()> {
    (0..=nodes).any(|_| !pass()).then_some(())
}
