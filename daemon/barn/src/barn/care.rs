//! The barn and the care of its horses: what people observe of a horse is kept, judged and, where something differs, an alarm
//! until the next observation is fine; and what they say of their work adds up to the work that each horse has done.

use serde::{Deserialize, Serialize};

use super::Barn;
use super::view::name_of;
use crate::alarm::{Cause, Verdict, whole_minutes};
use crate::board::{AlarmWhat, Priority, VitalsLine, VitalsView, WorkDoneView};
use crate::book::{Horse, Role};
use crate::care::record::{Observation, Record};
use crate::care::vitals::{Condition, Judgement, Urgency, judge};
use crate::care::work_done::{Ridden, WorkDone};
use crate::effect::Effect;
use crate::id::{HorseId, RideId};
use crate::input::{Step, Vitals};
use crate::prep::outings;
use crate::refusal::{Because, Refusal};
use crate::time::{Mono, Now, Today, Wall};

/// So many of the last observations are on the board.
const ON_BOARD: usize = 3;
/// A horse that is brought back so many minutes past its time was ridden no longer: somebody forgot to say so.
const OVERDUE_MIN: i64 = 60;
/// Nobody remembers work of longer ago than a day.
const MOST_AFTER_WORK_MIN: u32 = 1440;

/// What is known of how the horses are and what they have done.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub(crate) struct Care {
    seen: Record,
    done: WorkDone,
}

impl Barn {
    /// Somebody measured and saw how a horse is.
    pub(super) fn observe(
        &mut self,
        vitals: Vitals,
        at: Mono,
        now: Now,
        effects: &mut Vec<Effect>,
    ) -> Result<(), Refusal> {
        let Vitals { horse, by, after_work_min, seen } = vitals;
        self.known_person(&by)?;
        let horse = self.book.horses.get(&horse).ok_or_else(|| Refusal::not_in_book("horse", &horse))?.clone();
        seen.check()?;
        if let Some(minutes) = after_work_min.filter(|minutes| *minutes > MOST_AFTER_WORK_MIN) {
            return Err(
                Because::OutOfRange.says(format!("after_work_min {minutes}: allowed is 0 to {MOST_AFTER_WORK_MIN}"))
            );
        }
        let wall = now.wall.get().map(|wall| wall.plus(-(now.mono.since(at) as i64)));
        let condition = match after_work_min {
            Some(minutes) => Condition::after(Some(minutes), &self.limits.care),
            None => self.condition(&horse.id, wall),
        };
        let judgement = judge(&seen, &horse.resting, condition, &self.limits.care);
        let observation = Observation { at, wall, by, condition, seen, judgement: judgement.clone() };
        // One that was sent late says nothing against a later one.
        if self.care.seen.keep(&horse.id, observation) {
            self.judge_vitals(&horse, judgement, now, effects);
        }
        Ok(())
    }

    /// By what people said of its work.
    fn condition(&self, horse: &HorseId, wall: Option<Wall>) -> Condition {
        let since = wall.and_then(|wall| Some(wall.since(self.care.done.last_ended(horse, wall)?)));
        Condition::after(since.and_then(|millis| u32::try_from(millis / 60_000).ok()), &self.limits.care)
    }

    fn judge_vitals(&mut self, horse: &Horse, judgement: Judgement, now: Now, effects: &mut Vec<Effect>) {
        let priority = match judgement.urgency {
            Urgency::Fine => None,
            Urgency::Tell => Some(Priority::Medium),
            Urgency::VetNow => Some(Priority::High),
        };
        let verdict = priority.map_or(Verdict::Gone, |priority| Verdict::Holds {
            delay: 0,
            priority,
            what: AlarmWhat::VitalsCaution {
                horse: horse.name.clone(),
                stall: horse.stall.clone(),
                vet_now: judgement.urgency == Urgency::VetNow,
                cautions: judgement.cautions,
            },
        });
        self.alarms.assess(Cause::Vitals(horse.id.clone()), verdict, now, &mut self.timers, effects);
    }

    /// The barn's day ends: a caution that staff have seen is theirs now, and no alarm any more.
    pub(super) fn end_seen_cautions(&mut self, now: Now, effects: &mut Vec<Effect>) {
        for cause in self.alarms.causes() {
            let by = self.alarms.seen_by(&cause).and_then(|by| self.book.people.get(by)).map(|person| person.role);
            if by.is_some_and(Role::is_staff) && matches!(cause, Cause::Vitals(_)) {
                self.alarms.assess(cause, Verdict::Gone, now, &mut self.timers, effects);
            }
        }
    }

    /// Forgets observations of horses that have left the book.
    pub(super) fn forget_horses(&mut self) {
        let book = &self.book;
        self.care.seen.retain(|horse| book.horses.contains_key(horse));
    }

    /// Somebody said how far a step for this ride is: what its outing's rides have come to. People forget to say so, and so
    /// a ride counts too where the horse was led out to a later one of the same outing.
    pub(super) fn know_work(&mut self, ride: &RideId, today: &Today) {
        let limits = &self.limits.plan;
        let (stay, walk_back) = (i64::from(limits.stay_tacked.0), i64::from(limits.walk_back.0));
        let day = today.day();
        let live = self.live(today);
        let all = outings(&self.book, day, stay, &|one| one.dismount);
        let Some(outing) = all.iter().find(|outing| outing.rides.iter().any(|one| one.ride.id == *ride)) else {
            return;
        };
        let mut led_out = false;
        let mut known = Vec::new();
        for one in outing.rides.iter().rev() {
            led_out |= live.work.stage(&one.ride.id, Step::LeadOut).is_some_and(|stage| stage.done.is_some());
            let back = live.work.stage(&one.ride.id, Step::BringBack).filter(|stage| stage.done.is_some());
            let dismount = match back {
                Some(back) if !back.implied => live.dismount(one, walk_back),
                _ => one.dismount,
            };
            let dismount = dismount.clamp(one.mount, one.dismount + OVERDUE_MIN);
            let ridden = led_out.then(|| Ridden {
                horse: outing.horse.id.clone(),
                from: day.wall(one.mount),
                to: day.wall(dismount),
                back: back.is_some(),
            });
            known.push((one.ride.id.clone(), ridden));
        }
        for (ride, ridden) in known {
            self.care.done.know(day.date(), &ride, ridden);
        }
    }

    /// The last observations of a horse; none where there is none.
    pub(super) fn vitals_view(&self, horse: &HorseId, now: Mono) -> Option<VitalsView> {
        let zone = self.limits.zone;
        let line = |one: &Observation| VitalsLine {
            by: name_of(&self.book, &one.by),
            ago_min: whole_minutes(now.since(one.at)),
            date: one.wall.map(|wall| zone.date(wall)),
            time: one.wall.map(|wall| zone.time_of_day(wall)),
            condition: one.condition,
            seen: one.seen.clone(),
            urgency: one.judgement.urgency,
            cautions: one.judgement.cautions.clone(),
            about: one.judgement.about.clone(),
            notes: one.judgement.notes.clone(),
            advice: one.judgement.urgency.advice().to_owned(),
        };
        let last: Vec<VitalsLine> = self.care.seen.of(horse).take(ON_BOARD).map(line).collect();
        (!last.is_empty()).then_some(VitalsView { last })
    }

    /// What a horse has done, beside its limits.
    pub(super) fn work_view(&self, horse: &Horse, today: &Today) -> WorkDoneView {
        let day = today.day();
        let rest_ms = self.limits.plan.stay_tacked.as_millis();
        let done = self.care.done.of(&horse.id, day.date(), day.wall(today.now()), rest_ms);
        let most = &horse.most;
        WorkDoneView {
            rides: done.rides,
            most_rides: most.rides_a_day.map(u32::from),
            minutes: done.minutes,
            most_minutes: most.minutes_a_day.map(|minutes| minutes.0),
            in_a_row: done.in_a_row,
            most_in_a_row: most.minutes_in_a_row.map(|minutes| minutes.0),
            rides_this_week: done.rides_this_week,
            minutes_this_week: done.minutes_this_week,
            days_this_week: done.days_this_week,
            most_days: most.days_a_week.map(u32::from),
            above: done.above(most).iter().map(ToString::to_string).collect(),
        }
    }
}
