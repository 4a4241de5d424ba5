//! The life of an alarm, after ISA-18.2 / IEC 62682. An alarm exists only where somebody must do something; there is one
//! per cause, raised once and ended once, however many readings say the same.
//!
//! ```text
//!            holds for its delay                 somebody has seen it
//!  normal ───────────────────────▶ unacknowledged ───────────────────▶ acknowledged
//!    ▲                                  │ cause gone                        │ cause gone
//!    │   seen, or shown long enough     ▼                                   │
//!    ├───────────────────── returned, unacknowledged                        │
//!    └──────────────────────────────────────────────────────────────────────┘
//! ```
//!
//! A returned alarm that comes back before it is forgotten is raised again under a new number. Whether a cause holds,
//! with its deadband, is for the concern to say; this file knows no water and no heat.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::board::{AlarmWhat, Priority};
use crate::book::WaterPlace;
use crate::effect::Effect;
use crate::id::{HorseId, PersonId, PlaceId, StallId};
use crate::input::Sensor;
use crate::time::{Mono, Now};
use crate::timers::{Timer, Timers};
use crate::units::Minutes;

/// How long an alarm whose cause is gone stays in sight without anybody saying that they saw it. A barn is no control
/// room: the strip must not fill with what is over.
const RETURNED_SHOWN: Minutes = Minutes(10);

/// What an alarm is for: its identity. What it says may change (a worse band), the cause does not.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Cause {
    /// The water of a place is gone and not refilled.
    Empty(WaterPlace),
    /// The water of a place is low and not refilled.
    Low(WaterPlace),
    /// A vessel leaks.
    Leak(Sensor),
    /// The water of a stall may be frozen.
    Ice(StallId),
    /// A horse has not drunk for long.
    NotDrinking(HorseId),
    /// A horse drinks far less or far more than it usually does.
    Drinks(HorseId),
    /// What a sensor says can not be believed.
    Faulty(Sensor),
    /// Heat at a place.
    Heat(PlaceId),
    /// Heat at a place, for people.
    PeopleHeat(PlaceId),
    /// Heat that is expected in a lesson.
    HeatAhead,
    /// Climate sensors that disagree.
    ClimateDoubt,
    /// Frost, here or expected.
    Frost,
    /// A sensor does not speak.
    Silent(Sensor),
    /// A sensor's battery is low.
    Battery(Sensor),
    /// What was observed of a horse.
    Vitals(HorseId),
    /// Somebody said that something is wrong with a horse.
    Wrong(HorseId),
    /// A question for hay that nobody answers, by its number.
    Hay(u64),
    /// No line to the sensors.
    Broker,
    /// What happens can not be written down.
    Journal,
}

/// An alarm as it is told.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Alarm {
    /// Its number, never used again.
    pub id: u64,
    /// How pressing.
    pub priority: Priority,
    /// What, and where.
    pub what: AlarmWhat,
    /// When it was raised.
    pub raised: Now,
}

/// What a concern says of a cause.
#[derive(Clone, PartialEq, Debug)]
pub enum Verdict {
    /// It holds: an alarm once it has lasted for the delay.
    Holds {
        /// How long it must last, in milliseconds.
        delay: u64,
        /// How pressing it is.
        priority: Priority,
        /// What to say.
        what: AlarmWhat,
    },
    /// It does not hold.
    Gone,
}

/// State of an alarm that is not normal.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub enum State {
    /// Stands, and nobody has seen it.
    Unacknowledged,
    /// Stands, and this person has seen it.
    Acknowledged(PersonId),
    /// Its cause is gone, and nobody had seen it.
    Returned,
}

/// An alarm and its state.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Standing {
    /// The alarm.
    pub alarm: Alarm,
    /// Its state.
    pub state: State,
}

impl Standing {
    /// The cause still holds, with this to say. Worse than before, it is raised again: what was seen was another thing.
    fn restate(&mut self, priority: Priority, what: AlarmWhat, effects: &mut Vec<Effect>) {
        if self.alarm.what == what && self.alarm.priority == priority {
            return;
        }
        let worse = priority < self.alarm.priority || what.is_worse_than(&self.alarm.what);
        self.alarm.what = what;
        self.alarm.priority = priority;
        if worse {
            self.state = State::Unacknowledged;
            effects.push(Effect::Raise(self.alarm.clone()));
        }
        effects.push(Effect::Redraw);
    }
}

#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
struct Pending {
    priority: Priority,
    what: AlarmWhat,
}

/// All alarms that are not normal.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub struct Alarms {
    last_id: u64,
    #[serde(with = "crate::pairs")]
    pending: BTreeMap<Cause, Pending>,
    #[serde(with = "crate::pairs")]
    standing: BTreeMap<Cause, Standing>,
}

impl Alarms {
    /// Takes a concern's word on a cause.
    pub fn assess(&mut self, cause: Cause, verdict: Verdict, now: Now, timers: &mut Timers, effects: &mut Vec<Effect>) {
        match verdict {
            Verdict::Holds { delay, priority, what } => {
                if let Some(standing) = self.standing.get_mut(&cause)
                    && standing.state != State::Returned
                {
                    standing.restate(priority, what, effects);
                    return;
                }
                let fresh = self.pending.insert(cause.clone(), Pending { priority, what }).is_none();
                if delay == 0 {
                    timers.disarm(&Timer::Alarm(cause.clone()));
                    self.raise(&cause, now, timers, effects);
                } else if fresh {
                    timers.arm(Timer::Alarm(cause), now.mono.plus(delay));
                }
            }
            Verdict::Gone => {
                if self.pending.remove(&cause).is_some() {
                    timers.disarm(&Timer::Alarm(cause.clone()));
                }
                let Some(standing) = self.standing.get_mut(&cause) else { return };
                let state = std::mem::replace(&mut standing.state, State::Returned);
                if state == State::Returned {
                    return;
                }
                effects.push(Effect::End(standing.alarm.clone()));
                effects.push(Effect::Redraw);
                if state == State::Unacknowledged {
                    timers.arm(Timer::Forget(cause), now.mono.plus(RETURNED_SHOWN.as_millis()));
                } else {
                    self.standing.remove(&cause);
                }
            }
        }
    }

    /// The delay of a cause is over.
    pub fn raise(&mut self, cause: &Cause, now: Now, timers: &mut Timers, effects: &mut Vec<Effect>) {
        let Some(Pending { priority, what }) = self.pending.remove(cause) else { return };
        timers.disarm(&Timer::Forget(cause.clone()));
        self.last_id += 1;
        let alarm = Alarm { id: self.last_id, priority, what, raised: now };
        effects.push(Effect::Raise(alarm.clone()));
        effects.push(Effect::Redraw);
        self.standing.insert(cause.clone(), Standing { alarm, state: State::Unacknowledged });
    }

    /// A returned alarm has been shown long enough.
    pub fn forget(&mut self, cause: &Cause, effects: &mut Vec<Effect>) {
        if self.standing.get(cause).is_some_and(|standing| standing.state == State::Returned) {
            self.standing.remove(cause);
            effects.push(Effect::Redraw);
        }
    }

    /// Somebody has seen the alarm of that number. False where none stands under it.
    pub fn acknowledge(&mut self, id: u64, by: &PersonId, timers: &mut Timers) -> bool {
        let Some((cause, standing)) = self.standing.iter_mut().find(|(_, standing)| standing.alarm.id == id) else {
            return false;
        };
        if standing.state == State::Returned {
            let cause = cause.clone();
            timers.disarm(&Timer::Forget(cause.clone()));
            self.standing.remove(&cause);
        } else {
            standing.state = State::Acknowledged(by.clone());
        }
        true
    }

    /// Who has seen the alarm of a cause that still holds.
    pub fn seen_by(&self, cause: &Cause) -> Option<&PersonId> {
        match &self.standing.get(cause)?.state {
            State::Acknowledged(person) => Some(person),
            State::Unacknowledged | State::Returned => None,
        }
    }

    /// Causes that stand or wait to; a concern whose subject has left the book ends them.
    pub fn causes(&self) -> Vec<Cause> {
        let mut causes: Vec<_> = self.pending.keys().chain(self.standing.keys()).cloned().collect();
        causes.sort();
        causes.dedup();
        causes
    }

    /// What stands, most pressing first, then oldest first.
    pub fn standing(&self) -> Vec<&Standing> {
        let mut list: Vec<_> = self.standing.values().collect();
        list.sort_by_key(|standing| (standing.state == State::Returned, standing.alarm.priority, standing.alarm.id));
        list
    }

    /// For how long an alarm has stood, in whole minutes.
    pub fn minutes(alarm: &Alarm, now: Mono) -> u32 {
        whole_minutes(now.since(alarm.raised.mono))
    }
}

/// Milliseconds as whole minutes, cut off.
pub(crate) fn whole_minutes(millis: u64) -> u32 {
    u32::try_from(millis / 60_000).unwrap_or(u32::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::time::WallClock;

    const CAUSE: Cause = Cause::Broker;

    #[derive(Default)]
    struct Bench {
        alarms: Alarms,
        timers: Timers,
    }

    impl Bench {
        fn say(&mut self, at: u64, holds: Option<u64>) -> Vec<String> {
            let now = Now { mono: Mono(at), wall: WallClock::Unset };
            let verdict = holds.map_or(Verdict::Gone, |delay| Verdict::Holds {
                delay,
                priority: Priority::High,
                what: AlarmWhat::BrokerDown,
            });
            let mut effects = Vec::new();
            while let Some((at, timer)) = self.timers.take(now.mono) {
                let then = Now { mono: at, wall: WallClock::Unset };
                match timer {
                    Timer::Alarm(cause) => self.alarms.raise(&cause, then, &mut self.timers, &mut effects),
                    Timer::Forget(cause) => self.alarms.forget(&cause, &mut effects),
                    other => panic!("an alarm arms no {other:?}"),
                }
            }
            self.alarms.assess(CAUSE, verdict, now, &mut self.timers, &mut effects);
            effects
                .iter()
                .filter_map(|effect| match effect {
                    Effect::Raise(alarm) => Some(format!("raise {} at {}", alarm.id, alarm.raised.mono.0)),
                    Effect::End(alarm) => Some(format!("end {}", alarm.id)),
                    _ => None,
                })
                .collect()
        }
    }

    #[test]
    fn raised_once_after_its_delay_and_ended_once() {
        let mut bench = Bench::default();
        assert!(bench.say(0, Some(500)).is_empty());
        assert!(bench.say(400, Some(500)).is_empty());
        assert_eq!(bench.say(900, Some(500)), ["raise 1 at 500"], "at its own time, though noticed later");
        assert!(bench.say(1000, Some(500)).is_empty(), "one alarm, however many readings say so");
        assert_eq!(bench.say(1100, None), ["end 1"]);
        assert!(bench.say(1200, None).is_empty());
    }

    #[test]
    fn a_cause_that_passes_within_its_delay_is_no_alarm() {
        let mut bench = Bench::default();
        assert!(bench.say(0, Some(500)).is_empty());
        assert!(bench.say(100, None).is_empty());
        assert!(bench.say(900, None).is_empty());
    }

    #[test]
    fn seen_and_gone_is_normal_gone_unseen_is_shown_for_a_while() {
        let mut bench = Bench::default();
        bench.say(0, Some(0));
        assert!(bench.alarms.acknowledge(1, &"lena".into(), &mut bench.timers));
        bench.say(10, None);
        assert!(bench.alarms.standing().is_empty());

        bench.say(20, Some(0));
        bench.say(30, None);
        assert_eq!(bench.alarms.standing()[0].state, State::Returned);
        bench.say(30 + RETURNED_SHOWN.as_millis(), None);
        assert!(bench.alarms.standing().is_empty());
        assert!(!bench.alarms.acknowledge(2, &"lena".into(), &mut bench.timers), "it is over");
    }

    #[test]
    fn one_that_comes_back_while_shown_is_a_new_one() {
        let mut bench = Bench::default();
        bench.say(0, Some(0));
        bench.say(10, None);
        assert_eq!(bench.say(20, Some(0)), ["raise 2 at 20"]);
        bench.say(10 + RETURNED_SHOWN.as_millis(), Some(0));
        assert_eq!(bench.alarms.standing().len(), 1, "the old one's end does not take the new one along");
    }
}
