//! Rounds of taking out and placing again.

use super::chance::Chance;
use super::graft::MOST_NAMED_ANEW;
use super::push::Pushing;
use super::state::{Half, Kept, Slot, State, Status};
use super::table::{EVER, Table};
use super::timing::Timing;
use crate::plan::day::{Day, JOBS, Minute, Span};
use crate::plan::price::Tasks;

/// How far around a change times are made exact, in minutes: most pushes end within a job or two. All of a plan is made exact
/// once it is better than what there was.
const AROUND: Minute = 40;
/// How much dearer than the plan it came from a round may be for its times to be worth the trouble.
const HOPE: i64 = 100;
/// The same where others were pushed: they come back in part when the times are made exact.
pub(super) const HOPE_PUSHED: i64 = 300;
/// The same for a round that parted jobs: what is still apart comes together.
const HOPE_PARTED: i64 = 1000;
/// How much dearer than the plan it came from a round may be to be kept, in the mean, as a heat begins; nothing at its end. So
/// little lets a minute here be traded for one there, and no more.
const WARM: u64 = 3;
/// The same where no more than so many halves are open: all near plans are soon tried, and it takes more to get away.
const WARM_SMALL: u64 = 20;
const SMALL: usize = 24;
/// So many heats there are, each from a first plan of its own.
const HEATS: u64 = 4;
/// So many other first plans are made before the search begins with the best of them.
const OTHER_STARTS: usize = 6;
/// The beam search keeps one beginning of a day for each step that there is for a half, and no more than so many.
const MOST_BEGINNINGS: u64 = 60;
/// One round in so many is for what costs much; of the others one in so many swaps, of the rest one in so many reorders, and so
/// on.
const RELIEF_ONCE_IN: usize = 8;
const SWAP_ONCE_IN: usize = 12;
const REORDER_ONCE_IN: usize = 3;
/// The same where no more than [`SMALL`] halves are open.
const REORDER_SMALL_ONCE_IN: usize = 2;
const BALANCE_ONCE_IN: usize = 30;
const CROSS_ONCE_IN: usize = 16;
/// A step in units of work, some ten nanoseconds each: nodes and arcs of the timing, hands looked at, pushes tried,
/// decisions of the beam search, and a round itself.
const UNITS_A_STEP: u64 = 400;
const UNITS_A_ROUND: u64 = 150;
const UNITS_A_HAND: u64 = 20;
const UNITS_A_PUSH: u64 = 15;
const UNITS_A_DECISION: u64 = 24;
/// No stretch of time.
pub(super) const NOWHERE: Span = Span { from: EVER.to, to: EVER.from };

/// A search under way.
pub(in crate::plan) struct Search<'a> {
    pub(super) state: State<'a>,
    pub(super) best: Vec<Status>,
    /// The halves that have not begun altogether.
    pub(super) open: Vec<(usize, Half)>,
    /// [`State::worth`] of it.
    best_worth: (i64, i64),
    pub(super) busiest_of_best: Minute,
    /// What the plan cost before the round.
    pub(super) cost_before: i64,
    /// Which heat the search is in.
    heat: u64,
    /// The best plan of each heat that has ended, and of the one that goes on.
    heats: Vec<Vec<Status>>,
    best_of_heat: Vec<Status>,
    worth_of_heat: (i64, i64),
    pub(super) chance: Chance,
    pub(super) timing: Timing,
    /// The plan before the round, or before a change.
    pub(super) kept: Kept,
    pub(super) out: Vec<(usize, Half)>,
    /// A missed outing that the round tries to bring in, before all else.
    pub(super) first: Option<usize>,
    /// Outings that the round gave up for it; they are tried again after all else.
    pub(super) last: Vec<usize>,
    /// The round has parted what stayed: what it costs is known only once the times are exact.
    pub(super) parted: bool,
    /// Hands looked at so far, for a job to be placed.
    pub(super) looked: u64,
    /// Decisions looked at by the beam search.
    pub(super) foreseen: u64,
    pub(super) pushing: Pushing,
    /// The stretch in which the round has pushed jobs.
    pub(super) pushed: Span,
    pub(super) rounds: u64,
}

impl<'a> Search<'a> {
    /// Begins with a first plan.
    pub(in crate::plan) fn new(day: &'a Day, table: &'a Table) -> Self {
        let state = State::new(day, table);
        let halves = (0..day.outings.len()).flat_map(|i| [(i, Half::Front), (i, Half::Rear)]);
        let open = halves.filter(|&(i, half)| !state.settled(i, half)).collect();
        let mut search = Search {
            open,
            best: state.outings.clone(),
            best_worth: (i64::MAX, 0),
            busiest_of_best: 0,
            cost_before: 0,
            heat: 0,
            heats: Vec::new(),
            best_of_heat: Vec::new(),
            worth_of_heat: (i64::MAX, 0),
            state,
            chance: Chance::new(0x0b11_3a2e),
            timing: Timing::default(),
            kept: Kept::default(),
            out: Vec::new(),
            first: None,
            last: Vec::new(),
            parted: false,
            looked: 0,
            foreseen: 0,
            pushing: Pushing::default(),
            pushed: NOWHERE,
            rounds: 0,
        };
        search.construct();
        for _ in 0..OTHER_STARTS {
            search.start_anew();
            search.make_times_exact();
            search.keep_if_best();
        }
        search.back_to_best();
        search.keep_best_of_heat();
        search
    }

    /// Begins with a plan by beam search instead, where that is cheaper. The beam is as wide as so many steps allow.
    pub(in crate::plan) fn foresee(&mut self, steps: u64) {
        let width = (steps / self.open.len().max(1) as u64).min(MOST_BEGINNINGS) as usize;
        if width > 0 && self.start_by_beam(width) {
            self.make_times_exact();
            self.keep_if_best();
            self.back_to_best();
            self.keep_best_of_heat();
        }
    }

    /// The work done so far, in steps.
    pub(in crate::plan) fn spent(&self) -> u64 {
        (UNITS_A_ROUND * self.rounds
            + self.timing.work
            + UNITS_A_HAND * self.looked
            + UNITS_A_PUSH * self.pushing.tried
            + UNITS_A_DECISION * self.foreseen)
            / UNITS_A_STEP
    }

    /// The cost of the best plan so far.
    pub(in crate::plan) fn best_cost(&self) -> i64 {
        self.best_worth.0
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

    /// One round. `left` of `of` steps are still to come: the search grows stricter.
    pub(in crate::plan) fn round(&mut self, left: u64, of: u64) {
        self.rounds += 1;
        if self.open.is_empty() {
            return;
        }
        let warmth = self.warmth(left, of);
        let before = self.state.cost();
        let apart_before = self.state.cost_apart();
        self.cost_before = before;
        self.state.keep(&mut self.kept);
        self.parted = false;
        self.pushed = NOWHERE;
        let relief = if self.chance.once_in(RELIEF_ONCE_IN) { self.strained() } else { None };
        let changed = if let Some((i, half)) = relief {
            self.relieve(i, half)
        } else if self.chance.once_in(SWAP_ONCE_IN) {
            self.swap_neighbours()
        } else if let Some(strained) = self.worth_reordering() {
            self.reorder(strained)
        } else if self.chance.once_in(BALANCE_ONCE_IN) {
            self.balance()
        } else if self.chance.once_in(CROSS_ONCE_IN) {
            self.cross()
        } else {
            self.rebuild_some()
        };
        let same = changed.is_some() && self.state.outings == self.kept.outings;
        let lenient = self.chance.exponential(warmth) as i64;
        let mut kept = same;
        if let Some(stretch) = changed.filter(|_| !same) {
            let stretch = around(join(stretch, self.pushed));
            if self.parted {
                let moves = self.timing.settle(&self.state, stretch, &self.kept.outings);
                self.state.retime(moves);
            }
            if self.state.cost() <= before + self.hope().max(lenient) {
                let moves = self.timing.improve(&self.state, stretch);
                self.state.retime(moves);
                // What is gained may be lost again only because somebody works longer now.
                if self.state.cost() >= before && self.state.cost_apart() < apart_before {
                    self.balance();
                }
                kept = self.state.cost() <= before + lenient;
            }
        }
        if !kept {
            self.state.take_back(&mut self.kept);
        }
        if self.state.worth() < self.worth_of_heat {
            self.make_times_exact();
            self.keep_best_of_heat();
            self.keep_if_best();
        }
    }

    /// What is strained, now and then, where another order of jobs might relieve it: in the middle of a day, when somebody has gone
    /// home. A plan for a whole day is the better for other rounds.
    fn worth_reordering(&mut self) -> Option<(usize, Half)> {
        self.state.day.now?;
        let once_in = if self.open.len() <= SMALL { REORDER_SMALL_ONCE_IN } else { REORDER_ONCE_IN };
        if self.chance.once_in(once_in) { self.strained() } else { None }
    }

    /// How much dearer a round may be before its times are exact for these to be worth the trouble.
    fn hope(&self) -> i64 {
        match () {
            () if self.parted => HOPE_PARTED,
            () if self.pushed != NOWHERE => HOPE_PUSHED,
            () => HOPE,
        }
    }

    /// Begins the next heat where it is time for it. How much dearer a round may be just now, in the mean, in 1,024ths: less and
    /// less within each heat.
    fn warmth(&mut self, left: u64, of: u64) -> u64 {
        let of = of.max(HEATS);
        let done = of.saturating_sub(left);
        let heat = (done * HEATS / of).min(HEATS - 1);
        if heat != self.heat {
            self.heat = heat;
            self.end_heat();
            // From heats with many grooms little can be taken over: it is better to go on from the best of them.
            if heat == HEATS - 1 && self.state.lines.len() > MOST_NAMED_ANEW {
                self.back_to_best();
            } else {
                self.start_anew();
                self.make_times_exact();
            }
            self.keep_best_of_heat();
        }
        let (begin, end) = (of * heat / HEATS, of * (heat + 1) / HEATS);
        let mean = if self.open.len() <= SMALL { WARM_SMALL } else { WARM };
        1024 * mean * (end - done.min(end)) / (end - begin)
    }

    /// Takes over from each other what heats have found: into the best of this one from those before, and into the best of all
    /// from this one.
    pub(in crate::plan) fn end_heat(&mut self) {
        let ended = std::mem::take(&mut self.best_of_heat);
        let heats = std::mem::take(&mut self.heats);
        for before in &heats {
            self.go_back(&ended);
            self.graft(before);
        }
        self.back_to_best();
        self.graft(&ended);
        self.heats = heats;
        self.heats.push(ended);
    }

    fn keep_best_of_heat(&mut self) {
        self.worth_of_heat = self.state.worth();
        self.best_of_heat.clone_from(&self.state.outings);
    }

    pub(super) fn make_times_exact(&mut self) {
        let moves = self.timing.improve(&self.state, EVER);
        self.state.retime(moves);
    }

    /// Keeps the plan where it is the best so far.
    pub(super) fn keep_if_best(&mut self) {
        if self.state.worth() < self.best_worth {
            self.keep_best();
        }
    }

    pub(super) fn keep_best(&mut self) {
        self.best_worth = self.state.worth();
        self.busiest_of_best = self.state.load.iter().copied().max().unwrap_or(0);
        self.best.clone_from(&self.state.outings);
    }

    pub(super) fn back_to_best(&mut self) {
        let best = std::mem::take(&mut self.best);
        self.go_back(&best);
        self.best = best;
    }

    /// Makes the plan what it was.
    pub(super) fn go_back(&mut self, was: &[Status]) {
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

/// The least stretch that holds both.
pub(super) fn join(a: Span, b: Span) -> Span {
    Span { from: a.from.min(b.from), to: a.to.max(b.to) }
}

pub(super) fn around(stretch: Span) -> Span {
    Span { from: stretch.from - AROUND, to: stretch.to + AROUND }
}
