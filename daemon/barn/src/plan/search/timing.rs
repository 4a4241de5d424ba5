//! The best times for jobs whose hands and order are given: exact.
//!
//! With hands and order fixed, what is left are starts `s`, constraints `s_v >= s_u + w`, and a cost that is a sum of
//! convex functions of one start each: a brush wants to be late (it costs its wait until the tack), a tack wants to end
//! at ready, a put away wants to be early. Such a function is L-natural-convex (Murota 2003, Discrete Convex Analysis):
//! where no set of jobs can be moved together by one minute, all later or all earlier, for less cost, no other times are
//! better. The best set to move is a closure of the graph of tight constraints, found by a small maximum flow; it is moved
//! as far as its slope holds, and so on until nothing gains.
//!
//! Only jobs that lie within a stretch of the day move; the rest of the day counts as given.

mod arrange;
mod part;

use super::state::{FIXED, State, Status, key, of_key};
use super::table::{EVER, own_window};
use crate::plan::day::{Day, Hand, JOBS, Job, Minute, Span};

/// A job that may move.
#[derive(Clone, Copy)]
pub(super) struct Node {
    job: u32,
    start: Minute,
    pub(super) low: Minute,
    pub(super) high: Minute,
    /// Cost per minute where it is moved earlier, by the minute at which that begins to hold: slopes between bends.
    slopes: [i64; 3],
    bends: [Minute; 2],
}

impl Node {
    /// What one minute later costs.
    fn later(&self) -> i64 {
        let [a, b, c] = self.slopes;
        if self.start < self.bends[0] {
            a
        } else if self.start < self.bends[1] {
            b
        } else {
            c
        }
    }

    /// What one minute earlier costs.
    fn earlier(&self) -> i64 {
        let [a, b, c] = self.slopes;
        if self.start > self.bends[1] {
            -c
        } else if self.start > self.bends[0] {
            -b
        } else {
            -a
        }
    }

    /// How far it may move before its slope or its window ends.
    fn reach(&self, way: Way) -> Minute {
        match way {
            Way::Later => {
                self.bends.iter().filter(|&&bend| bend > self.start).fold(self.high, |a, &b| a.min(b)) - self.start
            }
            Way::Earlier => {
                self.start - self.bends.iter().filter(|&&bend| bend < self.start).fold(self.low, |a, &b| a.max(b))
            }
        }
    }
}

/// A direction in time.
#[derive(Clone, Copy, PartialEq)]
enum Way {
    Later,
    Earlier,
}

/// `to` starts `gap` minutes after `from` or later.
#[derive(Clone, Copy)]
struct Arc {
    from: usize,
    to: usize,
    gap: Minute,
    flow: i64,
}

/// Working memory, kept so that no round asks for new.
#[derive(Default)]
pub(in crate::plan) struct Timing {
    nodes: Vec<Node>,
    arcs: Vec<Arc>,
    /// By job: its node, `NONE` where it does not move.
    node_of: Vec<u32>,
    /// By node: its tight arcs.
    tight: Vec<Vec<u32>>,
    excess: Vec<i64>,
    room: Vec<i64>,
    seen: Vec<bool>,
    stack: Vec<usize>,
    came: Vec<(u32, bool)>,
    moves: Vec<(u32, Minute)>,
    order: Vec<u32>,
    /// Other starts, to choose between.
    others: Vec<Minute>,
    /// What has been done so far, in units of [`Search`](super::Search)'s.
    pub(in crate::plan) work: u64,
}

const NONE: u32 = u32::MAX;
/// More than any slope: a job at the end of its window takes any push.
const WALL: i64 = i64::MAX / 4;

impl Timing {
    /// The moves that make the stretch best, to be given to [`State::retime`].
    pub(in crate::plan) fn improve(&mut self, state: &State, stretch: Span) -> &[(u32, Minute)] {
        self.gather(state, stretch);
        self.slide();
        self.moved(state)
    }

    /// Moves sets of jobs until nothing gains.
    fn slide(&mut self) {
        let mut idle = 0;
        let mut way = Way::Later;
        while idle < 2 {
            if self.shift(way) {
                idle = 0;
            } else {
                idle += 1;
                way = if way == Way::Later { Way::Earlier } else { Way::Later };
            }
        }
    }

    fn moved(&mut self, state: &State) -> &[(u32, Minute)] {
        self.moves.clear();
        for node in &self.nodes {
            let span = state.outings[node.job as usize / 3].slots[node.job as usize % 3].span;
            if span.from != node.start {
                self.moves.push((node.job, node.start));
            }
        }
        &self.moves
    }

    fn gather(&mut self, state: &State, stretch: Span) {
        self.nodes.clear();
        self.arcs.clear();
        self.node_of.clear();
        self.node_of.resize(3 * state.outings.len(), NONE);
        let inside = |span: Span| stretch.from <= span.from && span.to <= stretch.to;
        for line in &state.lines {
            // Only pairs with a job in the stretch.
            let first = line.partition_point(|entry| entry.span.to < stretch.from).saturating_sub(1);
            let mut before: Option<(u32, Span)> = None;
            for entry in &line[first..] {
                let free = entry.job != FIXED && inside(entry.span);
                let here = if free { self.add(state, entry.job, entry.span) } else { NONE };
                if let Some((there, span)) = before {
                    self.precede(there, span, here, entry.span, 0);
                }
                before = Some((here, entry.span));
                if entry.span.from > stretch.to {
                    break;
                }
            }
        }
        let staffed = |status: &&Status| status.slots.iter().any(|slot| slot.hand == Hand::STAFF) && !status.missed;
        for (i, status) in state.outings.iter().enumerate().filter(|(_, status)| staffed(status)) {
            for (job, placed) in JOBS.into_iter().zip([status.front, status.front, status.rear]) {
                let slot = status.slots[job as usize];
                let open = placed && state.day.outings[i].begun[job as usize].is_none();
                if open && slot.hand == Hand::STAFF && inside(slot.span) {
                    self.add(state, key(i, job), slot.span);
                }
            }
        }
        for node in 0..self.nodes.len() {
            self.bind(state, node as u32);
        }
        let n = self.nodes.len();
        self.work += 2 * (n + self.arcs.len()) as u64;
        self.seen.resize(n, false);
        if self.excess.len() < n {
            self.excess.resize(n, 0);
            self.room.resize(n, 0);
            self.came.resize(n, (NONE, false));
            self.tight.resize_with(n, Vec::new);
        }
    }

    /// What comes before a job, or after it, by outing, gear and horse.
    fn bind(&mut self, state: &State, node: u32) {
        let (i, job, _) = of_key(self.nodes[node as usize].job);
        let status = &state.outings[i];
        let span = status.slots[job].span;
        let dry = state.day.limits.girth_dry as Minute;
        // Those that may move bind what comes after them themselves.
        let put_away = |timing: &Timing, k: usize| {
            let other = &state.outings[k];
            let stays = timing.node_of[3 * k + 2] == NONE;
            (stays && other.rear && !other.missed).then_some(other.slots[2].span)
        };
        match JOBS[job] {
            Job::Brush => {
                if state.day.outings[i].can_be_missed() {
                    self.precede(node, span, self.node_of[3 * i + 1], status.slots[1].span, 0);
                }
                for &k in &state.table.horse_before[i] {
                    if let Some(other) = put_away(self, k) {
                        self.precede(NONE, other, node, span, 0);
                    }
                }
            }
            Job::Tack => {
                if self.node_of[3 * i] == NONE {
                    self.precede(NONE, status.slots[0].span, node, span, 0);
                }
                for &k in &state.table.gear_before[i] {
                    if let Some(other) = put_away(self, k) {
                        self.precede(NONE, other, node, span, dry);
                    }
                }
            }
            Job::PutAway => {
                for &k in &state.table.gear_after[i] {
                    let next = &state.outings[k];
                    if next.front && !next.missed {
                        self.precede(node, span, self.node_of[3 * k + 1], next.slots[1].span, dry);
                    }
                }
                for &k in &state.table.horse_after[i] {
                    let next = &state.outings[k];
                    if next.front && !next.missed && state.day.outings[k].begun[0].is_none() {
                        self.precede(node, span, self.node_of[3 * k], next.slots[0].span, 0);
                    }
                }
            }
        }
    }

    /// A node for a job that may move.
    fn add(&mut self, state: &State, job: u32, span: Span) -> u32 {
        let here = self.nodes.len() as u32;
        self.node_of[job as usize] = here;
        self.nodes.push(node(state, job, span));
        here
    }

    /// One job ends `gap` minutes before the next begins, or more.
    fn precede(&mut self, first: u32, first_span: Span, then: u32, then_span: Span, gap: Minute) {
        let length = first_span.to - first_span.from;
        match (first, then) {
            (NONE, NONE) => {}
            (NONE, to) => {
                let low = &mut self.nodes[to as usize].low;
                *low = (*low).max(first_span.to + gap);
            }
            (from, NONE) => {
                let high = &mut self.nodes[from as usize].high;
                *high = (*high).min(then_span.from - gap - length);
            }
            (from, to) => {
                self.arcs.push(Arc { from: from as usize, to: to as usize, gap: length + gap, flow: 0 });
            }
        }
    }

    /// Moves the best set of jobs one way as far as its slope holds; false where no set gains.
    fn shift(&mut self, way: Way) -> bool {
        let mut wanted = false;
        for (i, node) in self.nodes.iter().enumerate() {
            let (slope, stuck) = match way {
                Way::Later => (node.later(), node.start >= node.high),
                Way::Earlier => (node.earlier(), node.start <= node.low),
            };
            self.excess[i] = if stuck { 0 } else { (-slope).max(0) };
            self.room[i] = if stuck { WALL } else { slope.max(0) };
            wanted |= self.excess[i] > 0;
        }
        if !wanted {
            return false;
        }
        self.work += (self.nodes.len() + self.arcs.len()) as u64;
        for tight in &mut self.tight[..self.nodes.len()] {
            tight.clear();
        }
        for (a, arc) in self.arcs.iter_mut().enumerate() {
            arc.flow = 0;
            if self.nodes[arc.from].start + arc.gap == self.nodes[arc.to].start {
                self.tight[arc.from].push(a as u32);
                self.tight[arc.to].push(a as u32);
            }
        }
        for source in 0..self.nodes.len() {
            while self.excess[source] > 0 && self.push(source, way) {}
        }
        // What still wants to move can, with all that it pushes.
        self.seen[..self.nodes.len()].fill(false);
        for source in 0..self.nodes.len() {
            if self.excess[source] > 0 && !self.seen[source] {
                self.reach_from(source, way, false);
            }
        }
        let moved = |seen: &[bool]| seen[..self.nodes.len()].iter().any(|&seen| seen);
        if !moved(&self.seen) {
            return false;
        }
        let mut step = EVER.to;
        for (node, _) in self.nodes.iter().zip(&self.seen).filter(|(_, seen)| **seen) {
            step = step.min(node.reach(way));
        }
        for arc in &self.arcs {
            let (pusher, pushed) = if way == Way::Later { (arc.from, arc.to) } else { (arc.to, arc.from) };
            if self.seen[pusher] && !self.seen[pushed] {
                step = step.min(self.nodes[arc.to].start - self.nodes[arc.from].start - arc.gap);
            }
        }
        for (node, _) in self.nodes.iter_mut().zip(&self.seen).filter(|(_, seen)| **seen) {
            node.start += if way == Way::Later { step } else { -step };
        }
        true
    }

    /// Sends some of a job's wish to move to a job that would rather not; false where none is left to be reached.
    fn push(&mut self, source: usize, way: Way) -> bool {
        self.seen.fill(false);
        let Some(sink) = self.reach_from(source, way, true) else { return false };
        let mut amount = self.excess[source].min(self.room[sink]);
        let mut at = sink;
        while at != source {
            let (arc, back) = self.came[at];
            let arc = &self.arcs[arc as usize];
            if back {
                amount = amount.min(arc.flow);
            }
            at = other(arc, at);
        }
        at = sink;
        while at != source {
            let (arc, back) = self.came[at];
            let arc = &mut self.arcs[arc as usize];
            arc.flow += if back { -amount } else { amount };
            at = other(arc, at);
        }
        self.excess[source] -= amount;
        self.room[sink] -= amount;
        true
    }

    /// Marks what a job pushes, also by taking back a push. Ends at the first job with room where `to_room`.
    fn reach_from(&mut self, source: usize, way: Way, to_room: bool) -> Option<usize> {
        self.stack.clear();
        self.stack.push(source);
        self.seen[source] = true;
        while let Some(at) = self.stack.pop() {
            if to_room && self.room[at] > 0 {
                return Some(at);
            }
            for &a in &self.tight[at] {
                let arc = &self.arcs[a as usize];
                let next = other(arc, at);
                let forward = (way == Way::Later) == (arc.from == at);
                if !self.seen[next] && (forward || arc.flow > 0) {
                    self.seen[next] = true;
                    self.came[next] = (a, !forward);
                    self.stack.push(next);
                }
            }
        }
        None
    }
}

fn other(arc: &Arc, at: usize) -> usize {
    if arc.from == at { arc.to } else { arc.from }
}

/// A job where it stands: on its side of what its horse is away for.
fn node(state: &State, job: u32, span: Span) -> Node {
    let mut node = state.table.nodes[job as usize];
    node.start = span.from;
    for away in &state.day.horses[state.day.outings[job as usize / 3].horse].away {
        if away.from + away.to <= span.from + span.to {
            node.low = node.low.max(away.to);
        } else {
            node.high = node.high.min(away.from - (span.to - span.from));
        }
    }
    node
}

/// What no plan changes of a job.
pub(super) fn template(day: &Day, i: usize, job: Job) -> Node {
    let outing = &day.outings[i];
    let costs = &day.costs;
    let length = outing.minutes[job as usize];
    let (low, high) = own_window(day, i, job);
    let (slopes, bends) = match job {
        // Where the tack has begun without it, its end is after the tack and nothing waits.
        Job::Brush if !outing.can_be_missed() => ([0; 3], [EVER.to; 2]),
        Job::Brush => ([-costs.brushed_wait; 3], [EVER.to; 2]),
        Job::Tack => {
            let early = costs.brushed_wait - costs.saddled_wait;
            let late = costs.brushed_wait + costs.late * outing.weight;
            ([early, late, late], [outing.ready - length, EVER.to])
        }
        Job::PutAway => {
            let stand = outing.back + day.limits.stand as Minute;
            ([0, costs.back_wait, costs.back_wait + costs.standing], [outing.back, stand])
        }
    };
    Node { job: key(i, job), start: 0, low, high, slopes, bends }
}
