//! Shelving: staff put an alarm aside for a while, with a reason and under their name. It comes back by itself, and at once
//! where it gets worse than what they put aside. A cause that comes anew while it is put aside stays aside.

use serde::{Deserialize, Serialize};

use super::alarms::Alarms;
use super::record::PutAside;
use super::{Cause, News, State};
use crate::board::{AlarmWhat, Priority};
use crate::effect::Effect;
use crate::id::PersonId;
use crate::input::{MOST_ASIDE_MIN, WhyAside};
use crate::refusal::{Because, Refusal};
use crate::time::{Mono, Now};
use crate::timers::{Timer, Timers};
use crate::units::Minutes;

/// An alarm that is put aside.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Shelf {
    /// By whom.
    pub by: PersonId,
    /// Since when.
    pub at: Now,
    /// Until when.
    pub until: Mono,
    /// Why.
    pub why: WhyAside,
    /// How pressing it was then.
    priority: Priority,
    /// What it said then.
    what: AlarmWhat,
}

impl Shelf {
    /// Whether an alarm that says this is worse than what was put aside.
    pub(super) fn is_exceeded(&self, priority: Priority, what: &AlarmWhat) -> bool {
        priority < self.priority || what.is_worse_than(&self.what)
    }
}

impl Alarms {
    /// Puts the alarm of that number aside.
    ///
    /// # Errors
    /// In words for a person: where none stands under it, or the time is none that is allowed.
    pub fn put_aside(
        &mut self,
        id: u64,
        (for_min, why): (u32, WhyAside),
        by: &PersonId,
        now: Now,
        timers: &mut Timers,
        effects: &mut Vec<Effect>,
    ) -> Result<(), Refusal> {
        if !(1..=MOST_ASIDE_MIN).contains(&for_min) {
            return Err(Because::OutOfRange.says(format!("for_min {for_min}: allowed is 1 to {MOST_ASIDE_MIN}")));
        }
        let (cause, standing) = self.stands_as(id).ok_or_else(|| Because::AlarmOver.says("that alarm is over"))?;
        let shelf = Shelf {
            by: by.clone(),
            at: now,
            until: now.mono.plus(Minutes(for_min).as_millis()),
            why,
            priority: standing.alarm.priority,
            what: standing.alarm.what.clone(),
        };
        standing.state = State::Shelved(shelf.clone());
        timers.arm(Timer::Unshelve(cause.clone()), shelf.until);
        self.shelves.insert(cause, shelf);
        self.news.push(News::Aside(id));
        let row = PutAside { by: by.clone(), at: now, for_min, why };
        self.write(id, effects, |record| {
            record.seen.get_or_insert_with(|| (row.by.clone(), now));
            record.aside.push(row);
        });
        effects.push(Effect::Redraw);
        Ok(())
    }

    /// Takes the alarm of that number up again before its time.
    ///
    /// # Errors
    /// In words for a person: where none is put aside under it.
    pub fn take_up(&mut self, id: u64, timers: &mut Timers, effects: &mut Vec<Effect>) -> Result<(), Refusal> {
        let aside = self.stands_as(id).filter(|(_, standing)| matches!(standing.state, State::Shelved(_)));
        let (cause, _) = aside.ok_or_else(|| Because::NotPutAside.says("that alarm is not put aside"))?;
        self.unshelve(&cause, timers, effects);
        Ok(())
    }

    /// The time of a shelf is over, or what lies on it got worse: it is an alarm again that nobody has seen.
    pub fn unshelve(&mut self, cause: &Cause, timers: &mut Timers, effects: &mut Vec<Effect>) {
        timers.disarm(&Timer::Unshelve(cause.clone()));
        self.shelves.remove(cause);
        let Some(standing) = self.standing.get_mut(cause) else { return };
        if !matches!(standing.state, State::Shelved(_)) {
            return;
        }
        standing.state = State::Unacknowledged;
        standing.said = true;
        effects.push(Effect::Raise(standing.alarm.clone()));
        effects.push(Effect::Redraw);
        self.news.push(News::Back(standing.alarm.id));
    }
}
