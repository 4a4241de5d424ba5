//! Whether a new plan is worth the unrest. People have read the last one; it stays, moved on where time has passed it,
//! unless a new one is better by enough.

use crate::effect::Order;
use crate::plan::day::{Day, Fault, Hand, JOBS, Job, Minute};
use crate::plan::file::{DayFile, JobFile, JobsFile, PlanFile};
use crate::plan::price::{Task, Tasks, price};
use crate::plan::{Effort, outing_files, plan};

/// A job that begins less than this many minutes sooner or later is where it was.
const DRIFT: i64 = 5;

/// What became of an order.
#[derive(Clone, PartialEq, Debug)]
pub enum Made {
    /// The plan that people see is as good as any: it stays. This is it on the facts of now, to the minute.
    Same(PlanFile),
    /// People are to see this one.
    New(PlanFile),
}

impl Made {
    /// The plan that holds.
    pub fn plan(&self) -> &PlanFile {
        match self {
            Made::Same(plan) | Made::New(plan) => plan,
        }
    }
}

/// Carries out an order. `go_on` is asked every few steps; where it says no, the best plan so far is taken.
///
/// # Errors
/// Every fault of the day, where it is one that can not be planned.
pub fn make(order: &Order, go_on: &mut dyn FnMut() -> bool) -> Result<Made, Vec<Fault>> {
    let day = Day::checked(&order.day)?;
    let fresh = plan(&day, Effort::for_day(&day), go_on);
    let Some(shown) = &order.shown else { return Ok(Made::New(fresh.file(&day))) };
    let moved = moved_on(&day, &order.day, shown).filter(|(_, cost)| cost - fresh.cost() < order.calm);
    Ok(match moved {
        Some((tasks, cost)) => {
            let plan = file(&day, &tasks, cost, fresh.bound, shown);
            if same_work(&day, &plan, shown) { Made::Same(plan) } else { Made::New(plan) }
        }
        None => Made::New(fresh.file(&day)),
    })
}

/// The shown plan on today's facts: what has begun is where it is, and what time has passed moves to the right, in the order
/// in which it was to be done. None where that breaks a rule, or the plan does not know an outing.
fn moved_on(day: &Day, file: &DayFile, shown: &PlanFile) -> Option<(Tasks, i64)> {
    let known = read(day, file, shown)?;
    // A horse that is back before its time may be put away before it, if that pays.
    let candidates = [push(day, &known, false), push(day, &known, true)];
    let priced = candidates.into_iter().map(|tasks| (price(day, &tasks), tasks));
    priced
        .filter(|(price, _)| price.broken.is_empty())
        .map(|(price, tasks)| (tasks, price.parts.total()))
        .min_by_key(|(_, cost)| *cost)
}

/// The shown plan as tasks of this day.
fn read(day: &Day, file: &DayFile, shown: &PlanFile) -> Option<Tasks> {
    let hand = |id: &str| match file.grooms.iter().position(|groom| groom.id == id) {
        Some(groom) => Some(Hand::of(groom)),
        None => (id == crate::plan::day::STAFF).then_some(Hand::STAFF),
    };
    let tasks = |outing: &crate::plan::day::Outing| {
        let told = shown.outings.iter().find(|told| told.ride == outing.id);
        let task = |job: Job| {
            if let Some(begun) = outing.begun[job as usize] {
                return Some(Task { hand: begun.hand, start: begun.span.from });
            }
            let job = job_of(told?.jobs.as_ref()?, job)?;
            Some(Task { hand: hand(&job.groom)?, start: Minute::try_from(job.start).ok()? })
        };
        match JOBS.map(task) {
            [Some(brush), Some(tack), Some(put_away)] => Some(Some([brush, tack, put_away])),
            _ => told.filter(|told| told.missed && outing.can_be_missed()).map(|_| None),
        }
    };
    day.outings.iter().map(tasks).collect()
}

/// Moves what can not start when it was to, and what follows it.
fn push(day: &Day, shown: &Tasks, put_away_at_once: bool) -> Tasks {
    let mut tasks = shown.clone();
    let start = |i: usize, job: Job| {
        let told = shown[i].map_or(0, |tasks| tasks[job as usize].start);
        if job == Job::PutAway && put_away_at_once { told.min(day.outings[i].back) } else { told }
    };
    let mut order: Vec<(usize, Job)> = (0..tasks.len())
        .filter(|i| tasks[*i].is_some())
        .flat_map(|i| JOBS.into_iter().map(move |job| (i, job)))
        .collect();
    order.sort_by_key(|&(i, job)| (start(i, job), day.outings[i].begun[job as usize].is_none(), i, job));
    let mut hands: Vec<Minute> = vec![0; day.grooms.len()];
    let mut horses: Vec<Minute> = vec![0; day.horses.len()];
    let mut gear: Vec<Minute> = vec![0; day.gear.len()];
    for (i, job) in order {
        let outing = &day.outings[i];
        let Some(own) = tasks[i].as_mut() else { continue };
        let task = own[job as usize];
        let mut at = task.start;
        if outing.begun[job as usize].is_none() {
            let groom = task.hand.groom().map_or(0, |groom| hands[groom]);
            at = start(i, job).max(day.now.unwrap_or(0)).max(groom);
            at = at.max(match job {
                Job::Brush => horses[outing.horse],
                Job::Tack => {
                    let free = outing.gear.iter().map(|piece| gear[*piece]).max().unwrap_or(0);
                    free.max(day.end(outing, Job::Brush, own[0].start))
                }
                Job::PutAway => outing.back.max(day.end(outing, Job::Tack, own[1].start)),
            });
            own[job as usize].start = at;
        }
        let end = day.end(outing, job, at);
        if let Some(groom) = task.hand.groom() {
            hands[groom] = hands[groom].max(end);
        }
        if job == Job::PutAway {
            horses[outing.horse] = horses[outing.horse].max(end);
            for piece in &outing.gear {
                gear[*piece] = gear[*piece].max(end + Minute::try_from(day.limits.girth_dry).unwrap_or(0));
            }
        }
    }
    tasks
}

fn file(day: &Day, tasks: &Tasks, cost: i64, bound: i64, shown: &PlanFile) -> PlanFile {
    let why = |i: usize| shown.outings.iter().find(|told| told.ride == day.outings[i].id)?.because.clone();
    PlanFile { cost, proved: cost == bound, bound: bound.min(cost), outings: outing_files(day, tasks, why) }
}

/// True where all that has not begun is done by the same people at about the same time. Outings that are over may be missing.
fn same_work(day: &Day, plan: &PlanFile, shown: &PlanFile) -> bool {
    plan.outings.iter().zip(&day.outings).all(|(outing, known)| {
        let Some(told) = shown.outings.iter().find(|told| told.ride == outing.ride) else { return false };
        let same = |job: Job| match (&outing.jobs, &told.jobs) {
            (Some(new), Some(old)) => known.begun[job as usize].is_some() || about(job_of(new, job), job_of(old, job)),
            (None, None) => true,
            _ => false,
        };
        JOBS.into_iter().all(same)
    })
}

fn about(new: Option<&JobFile>, old: Option<&JobFile>) -> bool {
    let both = new.zip(old);
    both.is_some_and(|(new, old)| new.groom == old.groom && (new.start - old.start).abs() < DRIFT)
}

/// One job of the three.
pub fn job_of(jobs: &JobsFile, job: Job) -> Option<&JobFile> {
    match job {
        Job::Brush => jobs.brush.as_ref(),
        Job::Tack => jobs.tack.as_ref(),
        Job::PutAway => jobs.put_away.as_ref(),
    }
}
