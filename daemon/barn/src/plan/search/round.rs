//! Rounds of taking out and placing again.

use super::chance::Chance;
use super::state::{Half, Slot, State, Status};
use super::table::{EVER, Table};
use super::timing::Timing;
use crate::plan::day::{Day, JOBS, Minute, Span};
use crate::plan::price::Tasks;

/// How far around a change times are made exact, in minutes. Pushes hardly ever go on for longer than a job or two.
const AROUND: Minute = 70;
/// How much dearer than the plan it came from a round may be for its times to be worth the trouble.
const HOPE: i64 = 100;
/// How much dearer than the plan it came from a round may be to be kept, at first; nothing at last.
const LENIENT: u64 = 40;
/// The same for one round in twenty: near the cost of a minute late, so that one may be traded for another.
const VERY_LENIENT: u64 = 300;
/// After so many rounds without a better plan the search goes back to the best.
const PATIENCE: u64 = 400;
/// So many other first plans are made before the search begins with the best of them.
const OTHER_STARTS: usize = 6;
/// One round in so many is for what costs much.
const RELIEF_ONCE_IN: usize = 4;
/// How much dearer a round that parted jobs may be: what is still apart comes together when the times are made exact.
const HOPE_PARTED: i64 = 1000;
/// A step in units of work, some ten nanoseconds each: nodes and arcs of the timing, hands looked at, and a round itself.
const UNITS_A_STEP: u64 = 400;
const UNITS_A_ROUND: u64 = 150;
const UNITS_A_HAND: u64 = 20;

/// A search under way.
pub(in crate::plan) struct Search<'a> {
    pub(super) state: State<'a>,
    pub(super) best: Vec<Status>,
    pub(super) best_cost: i64,
    pub(super) busiest_of_best: Minute,
    pub(super) since_best: u64,
    pub(super) chance: Chance,
    pub(super) timing: Timing,
    pub(super) before: Vec<Status>,
    pub(super) out: Vec<(usize, Half)>,
    /// A missed outing that the round tries to bring in, before all else.
    pub(super) first: Option<usize>,
    /// Outings that the round gave up for it; they are tried again after all else.
    pub(super) last: Vec<usize>,
    /// The round has parted what stayed: what it costs is known only once the times are exact.
    pub(super) parted: bool,
    /// Hands looked at so far, for a job to be placed.
    pub(super) looked: u64,
    pub(super) rounds: u64,
}

impl<'a> Search<'a> {
    /// Begins with a first plan.
    pub(in crate::plan) fn new(day: &'a Day, table: &'a Table) -> Self {
        let state = State::new(day, table);
        let mut search = Search {
            best: state.outings.clone(),
            best_cost: i64::MAX,
            busiest_of_best: 0,
            since_best: 0,
            state,
            chance: Chance::new(0x0b11_3a2e),
            timing: Timing::default(),
            before: Vec::new(),
            out: Vec::new(),
            first: None,
            last: Vec::new(),
            parted: false,
            looked: 0,
            rounds: 0,
        };
        search.construct();
        for _ in 0..OTHER_STARTS {
            search.start_anew();
            let moves = search.timing.improve(&search.state, EVER);
            search.state.retime(moves);
            if search.state.cost() < search.best_cost {
                search.keep_best();
            }
        }
        search.back_to_best();
        search
    }

    /// The work done so far, in steps.
    pub(in crate::plan) fn spent(&self) -> u64 {
        (UNITS_A_ROUND * self.rounds + self.timing.work + UNITS_A_HAND * self.looked) / UNITS_A_STEP
    }

    /// The cost of the best plan so far.
    pub(in crate::plan) fn best_cost(&self) -> i64 {
        self.best_cost
    }

    /// Takes up a plan from outside that is better than the best.
    pub(in crate::plan) fn adopt(&mut self, tasks: &Tasks) {
        let day = self.state.day;
        let mut plan = self.state.outings.clone();
        for (i, (status, tasks)) in plan.iter_mut().zip(tasks).enumerate() {
            status.missed = tasks.is_none();
            (status.front, status.rear) = (tasks.is_some(), tasks.is_some());
            for (job, task) in JOBS.into_iter().zip(tasks.iter().flatten()) {
                let span = Span { from: task.start, to: day.end(&day.outings[i], job, task.start) };
                status.slots[job as usize] = Slot { hand: task.hand, span };
            }
        }
        self.go_back(&plan);
        self.keep_best();
    }

    /// The best plan so far.
    pub(in crate::plan) fn best(&mut self) -> &State<'a> {
        self.back_to_best();
        &self.state
    }

    /// One round. `left` of `of` rounds are still to come: the search grows stricter.
    pub(in crate::plan) fn round(&mut self, left: u64, of: u64) {
        self.rounds += 1;
        let before = self.state.cost();
        self.before.clone_from(&self.state.outings);
        if self.before.is_empty() {
            return;
        }
        self.parted = false;
        let relief = if self.chance.once_in(RELIEF_ONCE_IN) { self.strained() } else { None };
        let changed = if let Some((i, half)) = relief {
            self.relieve(i, half)
        } else if self.chance.once_in(6) {
            self.swap_neighbours()
        } else if self.chance.once_in(8) {
            self.cross()
        } else {
            self.rebuild_some()
        };
        let (possible, stretch) = changed.map_or((false, EVER), |stretch| (true, stretch));
        let most = if self.chance.once_in(20) { VERY_LENIENT } else { LENIENT };
        let lenient = self.chance.below((most * left / of.max(1)) as usize + 1) as i64;
        let mut kept = false;
        if possible && self.parted {
            let moves = self.timing.settle(&self.state, around(stretch), &self.before);
            self.state.retime(moves);
        }
        let hope = if self.parted { HOPE_PARTED } else { HOPE };
        if possible && self.state.cost() <= before + hope.max(lenient) {
            let moves = self.timing.improve(&self.state, around(stretch));
            self.state.retime(moves);
            kept = self.state.cost() <= before + lenient;
        }
        if !kept {
            let before = std::mem::take(&mut self.before);
            self.go_back(&before);
            self.before = before;
        }
        if self.state.cost() < self.best_cost {
            let moves = self.timing.improve(&self.state, EVER);
            self.state.retime(moves);
            self.keep_best();
        } else {
            self.since_best += 1;
            if self.since_best.is_multiple_of(PATIENCE) {
                // By turns: deeper where the best was found, and from somewhere else altogether.
                if (self.since_best / PATIENCE).is_multiple_of(2) {
                    self.start_anew();
                } else {
                    self.back_to_best();
                }
            }
        }
    }

    pub(super) fn keep_best(&mut self) {
        self.best_cost = self.state.cost();
        self.busiest_of_best = self.state.load.iter().copied().max().unwrap_or(0);
        self.best.clone_from(&self.state.outings);
        self.since_best = 0;
    }

    fn back_to_best(&mut self) {
        let best = std::mem::take(&mut self.best);
        self.go_back(&best);
        self.best = best;
    }

    /// Makes the plan what it was.
    fn go_back(&mut self, was: &[Status]) {
        let changed: Vec<usize> = (0..was.len()).filter(|&i| self.state.outings[i] != was[i]).collect();
        // All out first: what is placed may stand where another one was.
        for &i in &changed {
            self.state.take_out(i);
        }
        for &i in &changed {
            self.state.restore(i, &was[i]);
        }
    }
}

pub(super) fn around(stretch: Span) -> Span {
    Span { from: stretch.from - AROUND, to: stretch.to + AROUND }
}
