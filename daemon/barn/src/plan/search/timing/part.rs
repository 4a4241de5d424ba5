//! Makes room between jobs that stand close, and closes it again.
//!
//! Jobs before some minute are moved earlier and the others later, so that on every line a gap opens there. Once something has
//! been placed in it, what moved goes back towards where it was; only what is in the way of the new job stays moved. That leaves
//! little for the exact times to do, and what it costs by then is near what it will cost.

use super::{Node, Timing, Way};
use crate::plan::day::{Minute, Span};
use crate::plan::search::state::{State, Status};

impl Timing {
    /// Moves that part the jobs of the stretch: those that start before `at` go earlier, the others later, as far as what
    /// stays allows and `far` minutes at most.
    pub(in crate::plan) fn part(&mut self, state: &State, stretch: Span, at: Minute, far: Minute) -> &[(u32, Minute)] {
        self.gather(state, stretch);
        self.in_order();
        let split = self.order.partition_point(|&n| self.nodes[n as usize].start < at);
        for k in 0..split {
            let n = self.order[k] as usize;
            self.towards(n, self.nodes[n].start - far);
        }
        for k in (split..self.order.len()).rev() {
            let n = self.order[k] as usize;
            self.towards(n, self.nodes[n].start + far);
        }
        self.moved(state)
    }

    /// Moves that bring the jobs of the stretch back towards where they were, as far as what has come in between allows.
    pub(in crate::plan) fn settle(&mut self, state: &State, stretch: Span, was: &[Status]) -> &[(u32, Minute)] {
        self.gather(state, stretch);
        self.in_order();
        for way in [Way::Later, Way::Earlier] {
            for k in 0..self.order.len() {
                let k = if way == Way::Later { self.order.len() - 1 - k } else { k };
                let n = self.order[k] as usize;
                let Node { job, start, .. } = self.nodes[n];
                let (i, job) = (job as usize / 3, job as usize % 3);
                let (now, was) = (state.outings[i].slots[job], &was[i]);
                let to = was.slots[job].span.from;
                // What was taken out stands where it was put: it has no old place to go back to.
                if !was.missed && was.slots[job].hand == now.hand && (to > start) == (way == Way::Later) {
                    self.towards(n, to);
                }
            }
        }
        self.moved(state)
    }

    /// Sorts the nodes by start, and lists the arcs of each.
    fn in_order(&mut self) {
        for tight in &mut self.tight[..self.nodes.len()] {
            tight.clear();
        }
        for (a, arc) in self.arcs.iter().enumerate() {
            self.tight[arc.from].push(a as u32);
            self.tight[arc.to].push(a as u32);
        }
        let nodes = &self.nodes;
        self.order.clear();
        self.order.extend(0..nodes.len() as u32);
        self.order.sort_unstable_by_key(|&n| (nodes[n as usize].start, nodes[n as usize].job));
    }

    /// Moves one job towards a minute, as far as the others allow.
    fn towards(&mut self, n: usize, to: Minute) {
        let node = &self.nodes[n];
        let mut start = to.clamp(node.low, node.high);
        for arc in self.tight[n].iter().map(|&a| &self.arcs[a as usize]) {
            if arc.to == n {
                start = start.max(self.nodes[arc.from].start + arc.gap);
            } else {
                start = start.min(self.nodes[arc.to].start - arc.gap);
            }
        }
        self.nodes[n].start = start;
    }
}
