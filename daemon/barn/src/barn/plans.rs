//! The barn and its plan: when one is ordered, what of it is shown, and what people said of their work.
//!
//! An order is an effect and a plan an input, so that planning may take its time somewhere else and a recorded day brings
//! back the plans that people saw. Every event that matters wants a plan; one is ordered shortly after, and not again for a
//! moment. A plan is ordered too where time passes a job that nobody has begun.

use std::collections::BTreeSet;

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::Barn;
use super::instead::Instead;
use crate::board::HeatView;
use crate::effect::{Effect, Order};
use crate::id::{HorseId, PersonId, RideId};
use crate::input::{NewPlan, Said, Step};
use crate::plan::day::JOBS;
use crate::plan::file::PlanFile;
use crate::prep::calm::job_of;
use crate::prep::stand_in::{Circumstances, NoList, StandIn, stand_ins};
use crate::prep::{Habits, Known, Live, day_file, outings};
use crate::refusal::{Because, Refusal};
use crate::time::{Mono, Now, Today};
use crate::timers::Timer;
use crate::work::Work;

/// Touches come in twos and threes: a plan is ordered so long after the first.
const SOON_MS: u64 = 200;
/// And so long after the last order at the earliest.
const GAP_MS: u64 = 1_500;
/// Where nothing happens, a plan that time has passed is looked at again at most so often,
const LOOK_MS: u64 = 60_000;
/// and any plan at least so often: people on the sheet may not have come.
const LOOK_AT_LEAST_MS: u64 = 15 * 60_000;

static NO_WORK: Work = Work::NONE;
static NO_HORSES: BTreeSet<HorseId> = BTreeSet::new();

/// What the barn knows of its plan.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub(crate) struct Plans {
    pub(super) shown: Option<Shown>,
    pub(super) habits: Habits,
    scratched: Scratched,
    #[serde(default)]
    pub(super) instead: Instead,
    ordered: Option<Mono>,
}

/// The plan that people see.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub(super) struct Shown {
    date: NaiveDate,
    pub(super) plan: PlanFile,
}

/// Horses that do no more work on a day.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
struct Scratched {
    date: Option<NaiveDate>,
    horses: BTreeSet<HorseId>,
}

impl Barn {
    /// What is known of any day.
    pub(super) fn known(&self) -> Known<'_> {
        Known { book: &self.book, limits: &self.limits, habits: &self.plans.habits }
    }

    /// What is known of today besides.
    pub(super) fn live<'a>(&'a self, today: &'a Today) -> Live<'a> {
        let shown = self.plans.shown.as_ref().filter(|shown| shown.date == today.day().date());
        Live {
            today,
            shift: &self.shift,
            work: if self.work.date() == Some(today.day().date()) { &self.work } else { &NO_WORK },
            scratched: self.scratched_on(today.day().date()),
            shown: shown.map(|shown| &shown.plan),
        }
    }

    fn scratched_on(&self, date: NaiveDate) -> &BTreeSet<HorseId> {
        if self.plans.scratched.date == Some(date) { &self.plans.scratched.horses } else { &NO_HORSES }
    }

    /// Something happened that a plan should know.
    pub(super) fn want_plan(&mut self, now: Now) {
        let gap = self.plans.ordered.map_or(now.mono, |at| at.plus(GAP_MS));
        let at = now.mono.plus(SOON_MS).max(gap);
        if self.timers.armed_at(&Timer::Plan).is_none_or(|armed| armed > at) {
            self.timers.arm(Timer::Plan, at);
        }
    }

    /// Orders a plan, and sees when the next must be ordered though nothing happens.
    pub(super) fn order_plan(&mut self, now: Now, effects: &mut Vec<Effect>) {
        let Some(today) = Today::of(self.limits.zone, now) else { return };
        self.turn_to(today.day().date());
        self.look_at_chores(&today, effects);
        self.plans.ordered = Some(now.mono);
        let live = self.live(&today);
        let day = day_file(&self.known(), today.day(), Some(&live));
        if !day.rides.is_empty() {
            let calm = self.limits.plan.calm.into();
            effects.push(Effect::Plan(Box::new(Order {
                date: today.day().date(),
                day,
                shown: live.shown.cloned(),
                calm,
            })));
        }
        self.look_again(&today, now.mono);
    }

    /// A plan was made.
    pub(super) fn show_plan(&mut self, new: &NewPlan, now: Now, effects: &mut Vec<Effect>) {
        let Some(today) = Today::of(self.limits.zone, now) else { return };
        self.plans.shown = Some(Shown { date: new.date, plan: new.plan.clone() });
        if new.date == today.day().date() {
            self.look_again(&today, now.mono);
        }
        effects.push(Effect::Redraw);
    }

    /// Arms the next look: just after the next job should have begun or ended, or when the day turns.
    fn look_again(&mut self, today: &Today, now: Mono) {
        let live = self.live(today);
        let standing = self.known().standing(&live);
        let mut next = None;
        for outing in &standing {
            let shown = live
                .shown
                .and_then(|plan| plan.outings.iter().find(|told| told.ride == outing.first().ride.id.as_str()));
            let Some(jobs) = shown.and_then(|told| told.jobs.as_ref()) else { continue };
            for job in JOBS {
                let Some(start) = job_of(jobs, job).map(|job| job.start) else { continue };
                let due = match live.stage(outing, job) {
                    None => start + 1,
                    Some(stage) if stage.done.is_none() => {
                        let minutes = self.plans.habits.estimate(outing.horse, job, false).minutes;
                        today.minute(stage.from()) + i64::from(minutes) + 1
                    }
                    Some(_) => continue,
                };
                next = Some(next.map_or(due, |next: i64| next.min(due)));
            }
        }
        let due = next.map_or(Mono(u64::MAX), |minute| today.mono(minute));
        let at = due.clamp(now.plus(LOOK_MS), now.plus(LOOK_AT_LEAST_MS));
        // What was wanted sooner comes sooner.
        if self.timers.armed_at(&Timer::Plan).is_none_or(|armed| armed > at) {
            self.timers.arm(Timer::Plan, at);
        }
    }

    /// A new day: what yesterday's work took is learned.
    pub(super) fn turn_to(&mut self, date: NaiveDate) {
        if let Some(yesterday) = self.work.turn_to(date) {
            self.plans.habits.learn(&self.book, &yesterday);
        }
        self.forget_instead(date);
    }

    /// Somebody said how far a step of the work on a horse is.
    pub(super) fn mark(&mut self, said: Said, at: Mono, now: Now) -> Result<(), Refusal> {
        let Said { ride, horse, step, mark, by } = said;
        if let Some(by) = &by {
            self.known_person(by)?;
        }
        let written = self.book.rides.get(&ride).ok_or_else(|| Refusal::not_in_book("ride", &ride))?;
        if written.horse != horse {
            return Err(Because::OtherHorse.says(format!("ride {ride} is on {} now, not on {horse}", written.horse)));
        }
        let today = self.today(now)?;
        if today.minute(at) < 0 {
            return Err(Because::DayClosed.says("that was on another day, which is closed"));
        }
        self.turn_to(today.day().date());
        self.is_at_work(by.as_ref(), at, now);
        let of = self.where_said(&ride, step, &today);
        self.work.mark(&of, step, mark, by, at);
        self.know_work(&ride, &today);
        self.want_plan(now);
        Ok(())
    }

    /// Brushing and tacking are the first ride's of an outing and putting away is its last's, at whichever it was said.
    fn where_said(&self, ride: &RideId, step: Step, today: &Today) -> RideId {
        let stay = i64::from(self.limits.plan.stay_tacked.0);
        let all = outings(&self.book, today.day(), stay, &|one| one.dismount);
        let outing = all.iter().find(|outing| outing.rides.iter().any(|one| one.ride.id == *ride));
        let of = match (outing, step) {
            (Some(outing), Step::Brush | Step::Tack) => &outing.first().ride.id,
            (Some(outing), Step::PutAway) => &outing.last().ride.id,
            _ => ride,
        };
        of.clone()
    }

    /// A horse does no more work today, or after all it does.
    pub(super) fn scratch(
        &mut self,
        horse: &HorseId,
        out: bool,
        staff: Option<&PersonId>,
        by: &PersonId,
        now: Now,
    ) -> Result<(), Refusal> {
        self.decides(staff, by)?;
        if !self.book.horses.contains_key(horse) {
            return Err(Refusal::not_in_book("horse", horse));
        }
        let date = self.today(now)?.day().date();
        if !out {
            self.nobody_instead_of(horse)?;
        }
        let scratched = &mut self.plans.scratched;
        if scratched.date != Some(date) {
            *scratched = Scratched { date: Some(date), horses: BTreeSet::new() };
        }
        if out {
            scratched.horses.insert(horse.clone());
        } else {
            scratched.horses.remove(horse);
        }
        self.want_plan(now);
        Ok(())
    }

    /// Every other horse for a ride of today, in order of fitness. The equine professional chooses.
    ///
    /// # Errors
    /// Where the clock is not set, the ride is not of today, or the day can not be planned.
    pub fn stand_ins(&self, ride: &RideId, now: Now) -> Result<Vec<StandIn>, Refusal> {
        let today = self.today(now)?;
        let live = self.live(&today);
        let heat = match self.heat_view(now) {
            HeatView::Known { band, .. } => Some(band),
            HeatView::Unknown { .. } => None,
        };
        let at = Circumstances { day: today.day(), live: Some(&live), scratched: live.scratched, heat };
        stand_ins(&self.known(), &at, ride).map_err(|why| match why {
            NoList::NoSuchRide => Because::NotInBook.says(format!("there is no ride {ride} today")),
            NoList::Faults(faults) => {
                let faults: Vec<String> = faults.iter().map(ToString::to_string).collect();
                Because::NoPlan.says(format!("the day can not be planned: {}", faults.join("; ")))
            }
        })
    }

    pub(super) fn today(&self, now: Now) -> Result<Today, Refusal> {
        let today = Today::of(self.limits.zone, now);
        let why = "the clock is not set: nobody knows of which day this would be";
        today.ok_or_else(|| Because::ClockUnset.says(why))
    }
}
