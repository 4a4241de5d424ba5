//! What people and settings do to alarms: see them, hear of them, take them out of service, let them be forgotten.

use std::collections::BTreeSet;

use super::alarms::Alarms;
use super::record::HowEnded;
use super::{Cause, News, State};
use crate::effect::Effect;
use crate::id::PersonId;
use crate::limits::AlarmLimits;
use crate::time::Now;
use crate::timers::{Timer, Timers};

impl Alarms {
    /// A returned alarm has been shown long enough.
    pub fn forget(&mut self, cause: &Cause, effects: &mut Vec<Effect>) {
        if self.standing.get(cause).is_some_and(|standing| standing.state == State::Returned) {
            self.standing.remove(cause);
            effects.push(Effect::Redraw);
        }
    }

    /// Somebody has seen the alarm of that number. False where none stands under it.
    pub fn acknowledge(
        &mut self,
        id: u64,
        by: &PersonId,
        now: Now,
        timers: &mut Timers,
        effects: &mut Vec<Effect>,
    ) -> bool {
        let Some((cause, standing)) = self.standing.iter_mut().find(|(_, standing)| standing.alarm.id == id) else {
            return false;
        };
        match &standing.state {
            State::Returned => {
                let cause = cause.clone();
                timers.disarm(&Timer::Forget(cause.clone()));
                self.standing.remove(&cause);
            }
            State::Unacknowledged | State::Acknowledged(_) => {
                standing.state = State::Acknowledged(by.clone());
                self.news.push(News::Taken(id));
            }
            // It is somebody's already.
            State::Shelved(_) => {}
        }
        self.write(id, effects, |record| {
            record.seen.get_or_insert_with(|| (by.clone(), now));
        });
        true
    }

    /// A receiver has taken a message to this person about the alarm of that number.
    pub fn told(&mut self, id: u64, person: &PersonId, now: Now, effects: &mut Vec<Effect>) {
        self.write(id, effects, |record| {
            if record.told.iter().all(|(told, _)| told != person) {
                record.told.push((person.clone(), now));
            }
        });
    }

    /// The limits to go by from now on, and what is out of service by them: what stands of it is over.
    pub fn go_by(
        &mut self,
        limits: &AlarmLimits,
        out: BTreeSet<Cause>,
        now: Now,
        timers: &mut Timers,
        effects: &mut Vec<Effect>,
    ) {
        self.limits = limits.clone();
        self.out = out;
        for cause in self.causes().into_iter().filter(|cause| self.is_out_of_service(cause)).collect::<Vec<_>>() {
            self.pending.remove(&cause);
            timers.disarm(&Timer::Alarm(cause.clone()));
            self.hidden.remove(&cause);
            self.end(&cause, HowEnded::OutOfService, now, timers, effects);
            if self.standing.remove(&cause).is_some() {
                timers.disarm(&Timer::Forget(cause.clone()));
                effects.push(Effect::Redraw);
            }
            self.shelves.remove(&cause);
            timers.disarm(&Timer::Unshelve(cause.clone()));
        }
    }

    /// Lets go of what is hidden and whose patience begins anew.
    pub fn forget_hidden_silences(&mut self) {
        self.hidden.retain(|cause, _| !matches!(cause, Cause::Silent(_) | Cause::ManySilent));
    }
}
