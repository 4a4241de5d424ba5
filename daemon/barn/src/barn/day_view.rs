//! What a screen shows of the day's work: horses and their rides, lessons, who does what next, what can not be done.
//!
//! Who does what and when is the plan's; how far it is, is what people said; whether it is in time follows from both. Where
//! there is no plan yet, jobs stand by when they must be done, and are nobody's.

use std::collections::BTreeMap;

use super::{Barn, aisle_view};
use crate::board::{
    AwayView, HorseView, Job, JobTime, LessonView, MissedView, NextJob, OpenRide, OtherHorse, Pace, RideView,
    StirrupsView, TackView, Who,
};
use crate::book::Horse;
use crate::id::{HorseId, PersonId, StallId};
use crate::input::{Mark, Step};
use crate::plan::day::{self, JOBS, STAFF};
use crate::plan::file::{JobFile, OutingFile};
use crate::plan::reason::{Call, Why};
use crate::prep::calm::job_of;
use crate::prep::minutes::Estimate;
use crate::prep::outing::Outing;
use crate::prep::readiness::Readiness;
use crate::prep::{Known, Live};
use crate::time::{Mono, TimeOfDay};
use crate::units::Celsius;
use crate::water::dry::RunsDry;

use super::view::name_of;

/// Jobs that should begin later than this many minutes from now are not shown yet.
const NEXT_WITHIN: i64 = 180;
/// A late job comes first where it begins within this many minutes, and its horse's stall is late.
const PRESSING: i64 = 30;

/// The day as it is to be shown.
pub(super) struct Shown<'a> {
    pub(super) barn: &'a Barn,
    /// None while the clock is not set: then there is no day.
    pub(super) live: Option<Live<'a>>,
    pub(super) readiness: Vec<Readiness<'a>>,
    /// The outings that are not over.
    pub(super) standing: Vec<Outing<'a>>,
    /// When the water of each stall will be gone, where that can be said.
    pub(super) dry: BTreeMap<&'a StallId, RunsDry>,
    /// The lowest air temperature in the barn.
    pub(super) coldest: Option<Celsius>,
}

/// When and by whom a job is to be done.
struct Slot {
    start: i64,
    done_by: i64,
    pace: Pace,
    who: Who,
    under_way: bool,
    /// Why staff are called.
    call: Option<Call>,
}

impl Shown<'_> {
    pub(super) fn horse(&self, horse: &Horse, now: Mono) -> HorseView {
        HorseView {
            id: horse.id.clone(),
            name: horse.name.clone(),
            grade: horse.grade,
            notes: horse.notes.clone(),
            notes_spanish: horse.notes_spanish.clone(),
            rides: self
                .readiness
                .iter()
                .filter(|one| one.one.ride.horse == horse.id && one.current && !self.spared(one))
                .map(|one| self.ride(one))
                .collect(),
            minutes: JOBS
                .map(|job| {
                    let Estimate { minutes, times } = self.known().habits.estimate(horse, job, false);
                    JobTime { job: shown_job(job), minutes, times }
                })
                .to_vec(),
            scratched: self.is_scratched(&horse.id),
            open_rides: self.open_rides(horse),
            away: self.away(horse),
            wrong: aisle_view::wrong(self.barn, &horse.id, now),
            vitals: self.barn.vitals_view(&horse.id, now),
            work: self.live.as_ref().map(|live| self.barn.work_view(horse, live.today)),
        }
    }

    fn known(&self) -> Known<'_> {
        self.barn.known()
    }

    /// A scratched horse has no rides; one under its tack is still to be put away, after the last that stands.
    fn spared(&self, one: &Readiness<'_>) -> bool {
        let put_away_after = || self.standing.iter().any(|outing| outing.last().ride.id == one.one.ride.id);
        self.is_scratched(&one.one.ride.horse) && (one.links.put_away == Mark::Done || !put_away_after())
    }

    fn is_scratched(&self, horse: &HorseId) -> bool {
        self.live.as_ref().is_some_and(|live| live.scratched.contains(horse))
    }

    fn is_off(&self, one: &Readiness<'_>) -> bool {
        self.live.as_ref().is_some_and(|live| one.is_off(live))
    }

    fn open_rides(&self, horse: &Horse) -> Vec<OpenRide> {
        let Some(live) = self.live.as_ref().filter(|live| live.scratched.contains(&horse.id)) else {
            return Vec::new();
        };
        let open = self
            .readiness
            .iter()
            .filter(|one| one.one.ride.horse == horse.id && self.is_off(one) && live.today.now() < one.one.mount);
        let view = |one: &Readiness<'_>| OpenRide {
            id: one.one.ride.id.clone(),
            mount: one.one.lesson.start,
            instead: self
                .barn
                .in_its_place(&one.one.ride.id, live)
                .map(|horse| OtherHorse { id: horse.id.clone(), name: horse.name.clone() }),
        };
        open.map(view).collect()
    }

    fn away(&self, horse: &Horse) -> Option<AwayView> {
        let today = self.live.as_ref()?.today;
        let (day, now) = (today.day(), today.now());
        let away = self.barn.book.away.iter().find(|away| {
            away.horse == horse.id
                && away.days.include(day.date())
                && (day.minute_of(away.from)..day.minute_of(away.to)).contains(&now)
        })?;
        Some(AwayView { until: away.to, why: away.why.clone() })
    }

    fn ride(&self, one: &Readiness<'_>) -> RideView {
        let book = &self.barn.book;
        RideView {
            id: one.one.ride.id.clone(),
            usage: one.one.ride.usage.clone(),
            mount: one.one.lesson.start,
            ready_by: self.time(one.ready_by),
            start_by: self.time(one.start_by),
            instructor: name_of(book, &one.one.lesson.instructor),
            place: one.one.lesson.place.clone(),
            links: one.links,
            last: one.last || self.is_scratched(&one.one.ride.horse),
            off: self.is_off(one),
            pace: if self.is_off(one) { Pace::Now } else { self.pace(one) },
            tack: book
                .tack_for(&one.one.ride.horse, &one.one.ride.usage)
                .into_iter()
                .map(|(fit, tack)| TackView {
                    kind: tack.kind,
                    name: if tack.size.is_empty() {
                        tack.name.clone()
                    } else {
                        format!("{}, {}", tack.name, tack.size)
                    },
                    place: tack.place.clone(),
                    note: fit.note.clone(),
                    note_spanish: fit.note_spanish.clone(),
                })
                .collect(),
            stirrups: one.one.ride.stirrups.map(|both| StirrupsView { left: both.left, right: both.right }),
        }
    }

    pub(super) fn lessons(&self) -> Vec<LessonView> {
        let mut list: Vec<LessonView> = Vec::new();
        for one in &self.readiness {
            let goes = !self.spared(one) && !self.is_off(one);
            let without = self.live.as_ref().is_some_and(|live| self.barn.is_without(one, live));
            if !goes && !without {
                continue;
            }
            let lesson = one.one.lesson;
            let at = list.iter().position(|view| view.id == lesson.id).unwrap_or_else(|| {
                list.push(LessonView {
                    id: lesson.id.clone(),
                    start: lesson.start,
                    minutes: lesson.minutes.0,
                    instructor: name_of(&self.barn.book, &lesson.instructor),
                    place: lesson.place.clone(),
                    horses: 0,
                    ready: 0,
                    without: 0,
                });
                list.len() - 1
            });
            let view = &mut list[at];
            view.horses += u32::from(goes);
            view.ready += u32::from(goes && one.pace == Pace::Ready);
            view.without += u32::from(without);
        }
        list
    }

    /// What is to be done next: late first, then by when it must be done.
    pub(super) fn next(&self) -> Vec<NextJob> {
        let Some(live) = &self.live else { return Vec::new() };
        let mut jobs: Vec<(i64, NextJob)> = Vec::new();
        for outing in &self.standing {
            match self.planned(outing) {
                Some(planned) => jobs.extend(self.by_plan(live, outing, planned)),
                None => jobs.extend(self.without_plan(outing)),
            }
        }
        jobs.extend(self.readiness.iter().filter_map(|one| self.lead_out(one, live)));
        let (day, now) = (live.today.day(), live.today.now());
        let ahead = |done_by: i64, job: &NextJob| day.minute_of(job.start_by).min(done_by) - now;
        jobs.retain(|(done_by, job)| ahead(*done_by, job) <= NEXT_WITHIN);
        // What will be late this afternoon is not before what must be done now.
        jobs.sort_by_key(|(done_by, job)| (job.pace != Pace::Late || ahead(*done_by, job) > PRESSING, *done_by));
        jobs.into_iter().map(|(_, job)| job).collect()
    }

    /// What the plan says that can not be had.
    pub(super) fn missed(&self) -> Vec<MissedView> {
        let missed = self.standing.iter().filter_map(|outing| {
            let planned = self.planned(outing).filter(|planned| planned.missed)?;
            Some(MissedView {
                ride: outing.first().ride.id.clone(),
                horse: outing.horse.id.clone(),
                name: outing.horse.name.clone(),
                stall: outing.horse.stall.clone(),
                mount: self.time(outing.first().mount),
                why: planned.why.clone().unwrap_or_default(),
                because: match &planned.because {
                    Some(Why::Missed(missed)) => Some(missed.because.clone()),
                    Some(Why::Staff(_)) | None => None,
                },
            })
        });
        missed.collect()
    }

    fn planned(&self, outing: &Outing<'_>) -> Option<&OutingFile> {
        let shown = self.live.as_ref()?.shown?;
        shown.outings.iter().find(|told| told.ride == outing.first().ride.id.as_str())
    }

    /// The jobs of an outing that are not done, as planned.
    fn by_plan(&self, live: &Live<'_>, outing: &Outing<'_>, planned: &OutingFile) -> Vec<(i64, NextJob)> {
        // What can not be had is told as that.
        let Some(jobs) = &planned.jobs else { return Vec::new() };
        let now = live.today.now();
        let limits = &self.barn.limits;
        let ready_by = self.ready_by(outing);
        let back = outing.last().dismount + i64::from(limits.plan.walk_back.0);
        let minutes = |job| i64::from(self.known().habits.estimate(outing.horse, job, false).minutes);
        let behind = self.tacked_late(live, outing) || self.pace_of(outing) == Some(Pace::Late);
        let mut next = Vec::new();
        // Nobody goes on tacking up a horse that does no more work.
        let jobs_left =
            JOBS.into_iter().filter(|job| *job == day::Job::PutAway || !self.is_scratched(&outing.horse.id));
        for job in jobs_left {
            let stage = live.stage(outing, job);
            let Some(JobFile { groom, start }) = job_of(jobs, job).filter(|_| stage.is_none_or(|s| s.done.is_none()))
            else {
                continue;
            };
            let start = stage.map_or(*start, |stage| live.today.minute(stage.from()));
            let end = start + minutes(job);
            // A horse that is late is still wanted when it was, not when it will be ready.
            let done_by = if job == day::Job::Tack { ready_by } else { end };
            let late = match job {
                day::Job::PutAway => now > back + i64::from(limits.plan.stand.0),
                day::Job::Brush | day::Job::Tack => behind,
            };
            let pace = if late {
                Pace::Late
            } else if stage.is_some() || now >= start {
                Pace::Now
            } else {
                Pace::Later
            };
            let by = stage.and_then(|stage| stage.by.clone());
            let who = by.map_or_else(|| self.who(groom), |by| self.person(by));
            let call = planned.because.as_ref().and_then(|why| why.call(job)).filter(|_| who == Who::Staff).cloned();
            let slot = Slot { start, done_by, pace, who, under_way: stage.is_some(), call };
            next.push((done_by, self.job(outing, job, slot)));
        }
        next
    }

    /// Without a plan: the first step that is open, by when it must be done.
    fn without_plan(&self, outing: &Outing<'_>) -> Option<(i64, NextJob)> {
        let one = self.readiness.iter().find(|one| one.one.ride.id == outing.first().ride.id)?;
        let next = one.next.as_ref().filter(|_| one.current)?;
        let job = crate::prep::minutes::job_of(next.step)?;
        let slot = Slot {
            start: one.start_by,
            done_by: next.done_by,
            pace: one.pace,
            who: next.who.clone().map_or(Who::Open, |who| self.person(who)),
            under_way: next.who.is_some(),
            call: None,
        };
        Some((next.done_by, self.job(outing, job, slot)))
    }

    /// A horse that is ready and waits for its leader.
    fn lead_out(&self, one: &Readiness<'_>, live: &Live<'_>) -> Option<(i64, NextJob)> {
        let goes = live.today.now() < one.one.dismount && !live.scratched.contains(&one.one.ride.horse);
        let next = one.next.as_ref().filter(|next| goes && next.step == Step::LeadOut)?;
        let horse = self.barn.book.horses.get(&one.one.ride.horse)?;
        let job = NextJob {
            ride: one.one.ride.id.clone(),
            horse: horse.id.clone(),
            name: horse.name.clone(),
            stall: horse.stall.clone(),
            job: Job::LeadOut,
            start_by: self.time(one.ready_by),
            done_by: self.time(next.done_by),
            pace: one.pace,
            who: next.who.clone().map_or(Who::Open, |who| self.person(who)),
            under_way: next.who.is_some(),
            why: None,
            because: None,
        };
        Some((next.done_by, job))
    }

    /// How a ride goes. One that the plan can only ready late is late as soon as it is time for it, whatever is left to do.
    fn pace(&self, one: &Readiness<'_>) -> Pace {
        let Some(live) = &self.live else { return one.pace };
        let soon = one.start_by - live.today.now() <= PRESSING;
        let outing = self.standing.iter().find(|outing| outing.first().ride.id == one.one.ride.id);
        match one.pace {
            Pace::Later | Pace::Now if soon && outing.is_some_and(|outing| self.tacked_late(live, outing)) => {
                Pace::Late
            }
            pace => pace,
        }
    }

    /// Whether the plan has a tack end later than the horse is to be ready.
    fn tacked_late(&self, live: &Live<'_>, outing: &Outing<'_>) -> bool {
        let minutes = i64::from(self.known().habits.estimate(outing.horse, day::Job::Tack, false).minutes);
        let tack = self.planned(outing).and_then(|planned| job_of(planned.jobs.as_ref()?, day::Job::Tack));
        live.stage(outing, day::Job::Tack).is_none()
            && tack.is_some_and(|tack| tack.start + minutes > self.ready_by(outing))
    }

    fn ready_by(&self, outing: &Outing<'_>) -> i64 {
        outing.first().mount - i64::from(self.barn.limits.lessons.ready_lead.0)
    }

    fn pace_of(&self, outing: &Outing<'_>) -> Option<Pace> {
        self.readiness.iter().find(|one| one.one.ride.id == outing.first().ride.id).map(|one| one.pace)
    }

    fn job(&self, outing: &Outing<'_>, job: day::Job, slot: Slot) -> NextJob {
        let at = if job == day::Job::PutAway { outing.last() } else { outing.first() };
        NextJob {
            ride: at.ride.id.clone(),
            horse: outing.horse.id.clone(),
            name: outing.horse.name.clone(),
            stall: outing.horse.stall.clone(),
            job: shown_job(job),
            start_by: self.time(slot.start),
            done_by: self.time(slot.done_by),
            pace: slot.pace,
            who: slot.who,
            under_way: slot.under_way,
            why: slot.call.as_ref().map(Call::to_string),
            because: slot.call.map(|call| call.because),
        }
    }

    fn who(&self, groom: &str) -> Who {
        if groom == STAFF { Who::Staff } else { self.person(PersonId::new(groom)) }
    }

    fn person(&self, id: PersonId) -> Who {
        let name = name_of(&self.barn.book, &id);
        Who::Person { id, name }
    }

    fn time(&self, minute: i64) -> TimeOfDay {
        self.live.as_ref().map_or(TimeOfDay::ELEVEN_PM, |live| live.today.day().time(minute))
    }
}

fn shown_job(job: day::Job) -> Job {
    match job {
        day::Job::Brush => Job::Brush,
        day::Job::Tack => Job::Tack,
        day::Job::PutAway => Job::PutAway,
    }
}
