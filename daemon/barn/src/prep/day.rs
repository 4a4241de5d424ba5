//! The day as the planner takes it, from the book and from what has happened so far.

use std::collections::BTreeSet;

use crate::book::Book;
use crate::id::{HorseId, PersonId};
use crate::limits::Limits;
use crate::plan::day::{JOBS, Job, STAFF};
use crate::plan::file::{
    CostsFile, DayFile, GroomFile, HorseFile, LimitsFile, OutingFile, PlanFile, ProgressFile, RideFile,
};
use crate::shift::Shift;
use crate::time::{LocalDay, Today};
use crate::work::Work;

use super::minutes::Habits;
use super::on_hand;
use super::outing::{Outing, outings};
use super::words::words;

/// What each thing that is less than perfect costs. The units only compare; the weights are the model's.
pub const COSTS: CostsFile = CostsFile {
    missed: 100_000,
    staff: 5_000,
    late: 400,
    standing: 50,
    back_wait: 2,
    saddled_wait: 4,
    brushed_wait: 1,
    handover: 15,
    reshuffle: 30,
    busiest: 2,
};

/// What is known of any day.
#[derive(Clone, Copy)]
pub struct Known<'a> {
    /// The book.
    pub book: &'a Book,
    /// The limits in force.
    pub limits: &'a Limits,
    /// How long jobs really take.
    pub habits: &'a Habits,
}

/// What is known of today besides.
#[derive(Clone, Copy)]
pub struct Live<'a> {
    /// What minute it is, and was.
    pub today: &'a Today,
    /// Who is here.
    pub shift: &'a Shift,
    /// What was begun and done.
    pub work: &'a Work,
    /// Horses that do no more work today.
    pub scratched: &'a BTreeSet<HorseId>,
    /// The plan that people see.
    pub shown: Option<&'a PlanFile>,
}

impl<'a> Known<'a> {
    /// The outings of today that are not over, as they stand.
    pub fn standing(&self, live: &Live<'_>) -> Vec<Outing<'a>> {
        let limits = &self.limits.plan;
        let (stay, walk_back) = (i64::from(limits.stay_tacked.0), i64::from(limits.walk_back.0));
        let all = outings(self.book, live.today.day(), stay, &|mounted| live.dismount(mounted, walk_back));
        live.with_something_left(all, walk_back)
    }
}

/// The day file: of a day to come by the book alone, or of today with what has happened.
pub fn day_file(known: &Known<'_>, day: LocalDay, live: Option<&Live<'_>>) -> DayFile {
    let plan = &known.limits.plan;
    let limits = LimitsFile {
        ready_lead: known.limits.lessons.ready_lead.0.into(),
        walk_back: plan.walk_back.0.into(),
        stand: plan.stand.0.into(),
        girth_dry: plan.girth_dry.0.into(),
        stay_tacked: plan.stay_tacked.0.into(),
        promise: plan.promise.0.into(),
    };
    let outings = match live {
        Some(live) => known.standing(live),
        None => outings(known.book, day, limits.stay_tacked, &|mounted| mounted.dismount),
    };
    let progress = live.map_or_else(Vec::new, |live| progress(known.book, live, &outings));
    let grooms = grooms(known, day, live, &progress);
    let gear: BTreeSet<&str> =
        outings.iter().flat_map(|outing| outing.gear.iter().map(|piece| piece.as_str())).collect();
    let ids: BTreeSet<&HorseId> = outings.iter().map(|outing| &outing.horse.id).collect();
    DayFile {
        limits,
        costs: COSTS,
        words: words(known.book, day),
        horses: ids.into_iter().filter_map(|id| horse(known.book, id, day)).collect(),
        gear: gear.into_iter().map(str::to_owned).collect(),
        rides: outings.iter().flat_map(|outing| rides(known, outing, &grooms)).collect(),
        grooms,
        now: live.map(|live| live.today.now()),
        progress,
        published: live.and_then(|live| live.shown).map_or_else(Default::default, |shown| {
            let jobs = |outing: &OutingFile| outing.jobs.clone().map(|jobs| (outing.ride.clone(), jobs));
            shown.outings.iter().filter_map(jobs).collect()
        }),
    }
}

fn horse(book: &Book, id: &HorseId, day: LocalDay) -> Option<HorseFile> {
    let horse = book.horses.get(id)?;
    let away = book.away.iter().filter(|away| away.horse == *id && away.days.include(day.date()));
    let away = away.map(|away| [day.minute_of(away.from), day.minute_of(away.to)]).collect();
    Some(HorseFile { id: id.to_string(), grade: horse.grade.into(), away })
}

fn rides(known: &Known<'_>, outing: &Outing<'_>, grooms: &[GroomFile]) -> Vec<RideFile> {
    let horse = outing.horse;
    let mut cleared = grooms.iter().filter(|groom| groom.grade >= i64::from(horse.grade)).peekable();
    let by_beginners =
        cleared.peek().is_some() && cleared.all(|groom| known.habits.is_beginner(&PersonId::new(groom.id.as_str())));
    let minutes = |job| i64::from(known.habits.estimate(horse, job, by_beginners).minutes);
    let ride = |one: &super::outing::Mounted<'_>| RideFile {
        id: one.ride.id.to_string(),
        horse: horse.id.to_string(),
        mount: one.mount,
        minutes: one.dismount - one.mount,
        gear: outing.gear.iter().map(|piece| piece.to_string()).collect(),
        brush: minutes(Job::Brush),
        tack: minutes(Job::Tack),
        put_away: minutes(Job::PutAway),
        weight: 1,
    };
    outing.rides.iter().map(ride).collect()
}

/// Grooms who are or will be here, and those who are gone and did something today.
fn grooms(known: &Known<'_>, day: LocalDay, live: Option<&Live<'_>>, progress: &[ProgressFile]) -> Vec<GroomFile> {
    let groom = |person: &crate::book::Person| {
        let spans = match live {
            Some(live) => on_hand::expected(known.book, live.shift, &person.id, live.today, &known.limits.plan),
            None => on_hand::sheet(known.book, &person.id, day),
        };
        let worked = progress.iter().any(|job| job.groom == person.id.as_str());
        let (on, off) = match (spans.first(), spans.last()) {
            (Some(first), Some(last)) => (first.0.max(0), last.1.max(0)),
            _ if worked => (0, 0),
            _ => return None,
        };
        let away = spans.windows(2).map(|pair| [pair[0].1, pair[1].0]).collect();
        Some(GroomFile { id: person.id.to_string(), on, off, grade: person.grade.into(), away })
    };
    on_hand::grooms(known.book).filter_map(groom).collect()
}

/// What was begun and done of these outings.
fn progress(book: &Book, live: &Live<'_>, outings: &[Outing<'_>]) -> Vec<ProgressFile> {
    let now = live.today.now();
    let is_groom = |id: &str| on_hand::grooms(book).any(|person| person.id.as_str() == id);
    let mut progress = Vec::new();
    for outing in outings {
        let ride = &outing.first().ride.id;
        for job in JOBS {
            let Some(stage) = live.stage(outing, job) else { continue };
            let stopped = job != Job::PutAway && live.scratched.contains(&outing.horse.id);
            let shown = || shown_groom(live.shown?, ride.as_str(), job);
            // Who did not say who they are is taken to be whom the plan had named.
            let by = stage.by.as_ref().map(|by| by.to_string()).or_else(shown);
            let minute = |at| live.today.minute(at).clamp(0, now);
            let from = minute(stage.from());
            progress.push(ProgressFile {
                ride: ride.to_string(),
                job: job.name().to_owned(),
                groom: by.filter(|id| is_groom(id)).unwrap_or_else(|| STAFF.to_owned()),
                from,
                // Nobody goes on tacking up a horse that does no more work.
                to: stage.done.map(minute).or(stopped.then_some(now)).map(|to| to.max(from)),
            });
        }
    }
    progress
}

/// Whom a plan names for a job.
pub fn shown_groom(plan: &PlanFile, ride: &str, job: Job) -> Option<String> {
    let outing = plan.outings.iter().find(|outing| outing.ride == ride)?;
    super::calm::job_of(outing.jobs.as_ref()?, job).map(|job| job.groom.clone())
}
