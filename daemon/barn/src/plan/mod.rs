//! The prep plan: which groom brushes, tacks up and puts away which horse when, and honestly what can not be done.
//!
//! [`Day::checked`] takes a day file apart and refuses what can not be; [`plan`] makes the plan; [`price`](price::price)
//! says by the model alone what any plan costs and which rules it breaks. Nothing here knows of lessons, badges, boards or
//! clocks, and nothing depends on the machine: the same day and effort give the same plan.
//!
//! How it is made: first plans, outing by outing and hour by hour, then large-neighbourhood search with exact times (`search`).
//! For a day that is small enough a march through its minutes finds the cheapest plan, or proves that what the search found is
//! one (`proof`). For others prices on everybody's minutes give a bound from below (`bound`).
//!
//! # Why a search of its own
//! Constraint solvers were looked at first. `pumpkin-solver` 0.5 (lazy clause generation, MIT or Apache-2.0) is the best of
//! them for schedules, but is made for feasibility and makespans: a sum of hundreds of waiting minutes gives its explanations
//! little to learn from, and it has no neighbourhood search. `selen` 0.15 (MIT) has no interval variables and no learning. `good_lp`
//! with HiGHS would need a variable for each job, hand and minute, a C++ build and megabytes, on a board with 512 MB. `cp_sat` 0.4
//! binds OR-Tools, a large C++ library that must be installed first, and needs seconds where this has milliseconds. All of them
//! measure their effort by the clock, or promise no plan within so many steps. OR-Tools is what the tests compare with.

mod bound;
mod check;
pub mod day;
pub mod file;
pub mod price;
mod proof;
pub mod reason;
mod search;
mod why;

pub use day::{Day, Fault};

use bound::Bound;
use file::{JobFile, JobsFile, OutingFile, PlanFile};
use price::{Parts, Task, Tasks, price};
use proof::Known;
use reason::Why;
use search::Search;
use search::table::Table;

/// After so many rounds of the search somebody may stop the planner.
const ROUNDS_BETWEEN_QUESTIONS: u64 = 32;
/// How many rounds of prices a plan is worth: one to so many steps of the search, and no more than some.
const PRICE_ROUNDS: u64 = 3;
const STEPS_A_PRICE_ROUND: u64 = 1000;
/// A step of the search takes about as long as so many labels of a proof.
const LABELS_A_STEP: u64 = 16;
/// Hundredths of the effort for a proof that is likely to come to an end, and for one that is not: it gives a bound at the least.
const LIKELY_PROOF: u64 = 60;
const UNLIKELY_PROOF: u64 = 1;
/// One part in so many of the effort is for the last small changes.
const POLISH_ONE_IN: u64 = 12;
/// The most steps before a proof is tried: a plan near the best makes it short.
const MOST_BEFORE_PROOF: u64 = 800;

/// How much is tried: steps of the search, each a few microseconds. Never a time, so that the plan does not depend on the
/// machine.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub struct Effort(pub u64);

impl Effort {
    /// What a day of this size is worth: some milliseconds for a small one, up to a second for the largest, and a quarter of
    /// that for a re-plan in the middle of the day.
    pub fn for_day(day: &Day) -> Effort {
        let open = day.outings.iter().filter(|outing| outing.begun.iter().any(Option::is_none)).count();
        // What is proved at once takes less, whatever is allowed.
        Effort(match (day.now, open) {
            (None, ..=12) => 4_200,
            (None, ..=30) => 14_500,
            (None, ..=60) => 57_000,
            (None, _) => 190_000,
            (Some(_), ..=10) => 840,
            (Some(_), ..=26) => 3_250,
            (Some(_), ..=50) => 17_500,
            (Some(_), _) => 54_000,
        })
    }
}

/// A plan for a day.
#[derive(Clone, PartialEq, Debug)]
pub struct Plan {
    /// Every outing in the day's order: its jobs, or `None` where it is missed.
    pub tasks: Tasks,
    /// What it costs, by part.
    pub parts: Parts,
    /// A cost that no plan can be under.
    pub bound: i64,
    /// By outing: why it is missed, or why staff are called.
    pub why: Vec<Option<Why>>,
}

impl Plan {
    /// What it costs.
    pub fn cost(&self) -> i64 {
        self.parts.total()
    }

    /// Whether no plan costs less.
    pub fn proved(&self) -> bool {
        self.bound == self.cost()
    }

    /// The plan as a file.
    pub fn file(&self, day: &Day) -> PlanFile {
        let outings = outing_files(day, &self.tasks, |i| self.why[i].clone());
        PlanFile { cost: self.cost(), proved: self.proved(), bound: self.bound, outings }
    }
}

/// Every outing of a plan as it stands in a file; `why` gives the reason of each, by its place in the day.
pub fn outing_files(day: &Day, tasks: &Tasks, why: impl Fn(usize) -> Option<Why>) -> Vec<OutingFile> {
    let job = |task: Task| Some(JobFile { groom: day.hand_id(task.hand).to_owned(), start: task.start.into() });
    let outing = |(i, (outing, tasks)): (usize, (&day::Outing, &Option<[Task; 3]>))| {
        let because = why(i);
        OutingFile {
            ride: outing.id.clone(),
            missed: tasks.is_none(),
            jobs: tasks.map(|[brush, tack, put_away]| JobsFile {
                brush: job(brush),
                tack: job(tack),
                put_away: job(put_away),
            }),
            why: because.as_ref().map(Why::to_string),
            because,
        }
    };
    day.outings.iter().zip(tasks).enumerate().map(outing).collect()
}

/// Plans a day. `go_on` is asked every few steps; where it says no, the best plan so far is the answer.
///
/// No plan breaks a rule or costs more than missing all that can
/// be missed.
pub fn plan(day: &Day, effort: Effort, go_on: &mut dyn FnMut() -> bool) -> Plan {
    let table = Table::new(day);
    let mut search = Search::new(day, &table);
    let mut bound = 0;
    let mut going = true;
    if going_on(&mut going, go_on) {
        search.foresee(effort.0);
    }
    // A proof that fails leaves time to search on.
    let before_proof = if proof::possible(day, &table) { (effort.0 / 5).min(MOST_BEFORE_PROOF) } else { effort.0 / 2 };
    let (mut proof_due, mut proof_spent, mut rounds) = (true, 0, 0);
    let heats = effort.0 - effort.0 / POLISH_ONE_IN;
    loop {
        let step = search.spent() + proof_spent;
        if step >= heats || bound >= search.best_cost() {
            break;
        }
        if rounds % ROUNDS_BETWEEN_QUESTIONS == 0 && !going_on(&mut going, go_on) {
            break;
        }
        if proof_due && step >= before_proof {
            proof_due = false;
            proof_spent = prove(day, &table, &mut search, &mut bound, effort, &mut || going_on(&mut going, go_on));
            continue;
        }
        search.round(heats.saturating_sub(step), heats);
        rounds += 1;
    }
    if going && bound < search.best_cost() {
        search.end_heat();
        search.polish(effort.0.saturating_sub(proof_spent), &mut || going_on(&mut going, go_on));
    }
    let state = search.best();
    let tasks = state.tasks();
    let why = why::reasons(state);
    let parts = price(day, &tasks).parts;
    Plan { bound: bound.min(parts.total()), tasks, parts, why }
}

/// Raises the bound, and may give the search a better plan. How many steps that was worth.
fn prove(
    day: &Day,
    table: &Table,
    search: &mut Search,
    best_bound: &mut i64,
    effort: Effort,
    go_on: &mut dyn FnMut() -> bool,
) -> u64 {
    if proof::possible(day, table) {
        let labels = LABELS_A_STEP * effort.0 * if proof::likely(day) { LIKELY_PROOF } else { UNLIKELY_PROOF } / 100;
        let cost = search.best_cost();
        let state = search.best();
        let known = Known { cost, tasks: &state.tasks(), worked: &state.load };
        let proof = proof::prove(day, table, &known, labels, go_on);
        if let Some(better) = &proof.better {
            search.adopt(better);
        }
        *best_bound = proof.bound;
        return proof.spent / LABELS_A_STEP;
    }
    let mut bound = Bound::new(day);
    let mut rounds = PRICE_ROUNDS.min(effort.0 / STEPS_A_PRICE_ROUND);
    while rounds > 0 && bound.best() < search.best_cost() && go_on() {
        bound.round(search.best_cost());
        rounds -= 1;
    }
    *best_bound = bound.best();
    0
}

/// Asks once more, unless the answer was no before.
fn going_on(going: &mut bool, go_on: &mut dyn FnMut() -> bool) -> bool {
    *going = *going && go_on();
    *going
}
