//! All alarms that are not normal: raised after their delay, ended after theirs, told of once.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};

use super::aside::Shelf;
use super::cause::Rule;
use super::chatter::Chatter;
use super::record::{HowEnded, Record};
use super::roots::hides;
use super::{Alarm, Cause, News, Standing, State, Verdict};
use crate::board::{AlarmWhat, Priority};
use crate::effect::Effect;
use crate::limits::AlarmLimits;
use crate::time::Now;
use crate::timers::{Timer, Timers};
use crate::units::Minutes;

/// How long an alarm whose cause is gone stays in sight without anybody saying that they saw it. A barn is no control
/// room: the strip must not fill with what is over.
const RETURNED_SHOWN: Minutes = Minutes(10);

#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub(super) struct Pending {
    pub(super) priority: Priority,
    pub(super) what: AlarmWhat,
}

/// A cause that holds and that follows from a root.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub(super) struct Hidden {
    pub(super) root: Cause,
    pub(super) priority: Priority,
    pub(super) what: AlarmWhat,
}

/// All alarms that are not normal.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub struct Alarms {
    last_id: u64,
    pub(super) limits: AlarmLimits,
    /// What is out of service besides whole rules.
    pub(super) out: BTreeSet<Cause>,
    #[serde(with = "crate::pairs")]
    pub(super) pending: BTreeMap<Cause, Pending>,
    #[serde(with = "crate::pairs")]
    pub(super) standing: BTreeMap<Cause, Standing>,
    #[serde(with = "crate::pairs")]
    pub(super) hidden: BTreeMap<Cause, Hidden>,
    #[serde(with = "crate::pairs")]
    pub(super) shelves: BTreeMap<Cause, Shelf>,
    chatter: Chatter,
    /// What became of each alarm that stands, and of those that ended lately.
    pub(super) records: BTreeMap<u64, Record>,
    /// What people may have to be told; taken after every step.
    #[serde(skip)]
    pub(super) news: Vec<News>,
}

impl Alarms {
    /// Takes a concern's word on a cause.
    pub fn assess(&mut self, cause: Cause, verdict: Verdict, now: Now, timers: &mut Timers, effects: &mut Vec<Effect>) {
        if self.is_out_of_service(&cause) {
            return;
        }
        match verdict {
            Verdict::Holds { delay, priority, what } => {
                self.holds(cause, delay, Pending { priority, what }, now, timers, effects);
            }
            Verdict::Gone => self.gone(&cause, now, timers, effects),
        }
    }

    fn holds(
        &mut self,
        cause: Cause,
        delay: u64,
        said: Pending,
        now: Now,
        timers: &mut Timers,
        effects: &mut Vec<Effect>,
    ) {
        if let Some(hidden) = self.hidden.get_mut(&cause) {
            (hidden.priority, hidden.what) = (said.priority, said.what.clone());
            let root = hidden.root.clone();
            if self.hides(&root, &cause, said.priority) {
                return;
            }
            self.hidden.remove(&cause);
            self.pending.insert(cause.clone(), said);
            return self.raise(&cause, now, timers, effects);
        }
        if self.standing.get(&cause).is_some_and(|standing| standing.state != State::Returned) {
            return self.restate(&cause, said, now, timers, effects);
        }
        let fresh = self.pending.insert(cause.clone(), said).is_none();
        if delay == 0 {
            timers.disarm(&Timer::Alarm(cause.clone()));
            self.raise(&cause, now, timers, effects);
        } else if fresh {
            timers.arm(Timer::Alarm(cause), now.mono.plus(delay));
        }
    }

    /// The cause of an alarm that stands still holds, with this to say, or holds again. Worse than before, it is raised
    /// again: what was seen was another thing.
    fn restate(&mut self, cause: &Cause, said: Pending, now: Now, timers: &mut Timers, effects: &mut Vec<Effect>) {
        let Some(standing) = self.standing.get_mut(cause) else { return };
        let came_again = std::mem::take(&mut standing.leaving);
        if came_again {
            timers.disarm(&Timer::AlarmOff(cause.clone()));
        }
        let Pending { priority, what } = said;
        let alarm = &mut standing.alarm;
        if alarm.what != what || alarm.priority != priority {
            let worse = priority < alarm.priority || what.is_worse_than(&alarm.what);
            (alarm.what, alarm.priority) = (what, priority);
            let alarm = alarm.clone();
            effects.push(Effect::Redraw);
            match &standing.state {
                State::Shelved(shelf) if shelf.is_exceeded(alarm.priority, &alarm.what) => {
                    self.unshelve(cause, timers, effects);
                }
                State::Shelved(_) => {}
                _ if worse => {
                    standing.state = State::Unacknowledged;
                    effects.push(Effect::Raise(alarm.clone()));
                    self.news.push(News::Worse(alarm.id));
                }
                _ => {}
            }
            self.write(alarm.id, effects, |record| {
                record.text = alarm.what.to_string();
                record.alarm = alarm;
            });
        }
        if came_again {
            self.comes(cause, now, timers, effects);
        }
    }

    fn gone(&mut self, cause: &Cause, now: Now, timers: &mut Timers, effects: &mut Vec<Effect>) {
        if self.pending.remove(cause).is_some() {
            timers.disarm(&Timer::Alarm(cause.clone()));
        }
        if self.hidden.remove(cause).is_some() {
            self.release(cause, now, timers, effects);
        }
        let Some(standing) = self.standing.get_mut(cause) else { return };
        if standing.state == State::Returned || standing.leaving {
            return;
        }
        let delay =
            if standing.chattering { self.limits.chatter_steady.as_millis() } else { off_delay(cause, &self.limits) };
        if delay == 0 {
            return self.end(cause, HowEnded::Gone, now, timers, effects);
        }
        standing.leaving = true;
        timers.disarm(&Timer::Steady(cause.clone()));
        timers.arm(Timer::AlarmOff(cause.clone()), now.mono.plus(delay));
    }

    /// The delay of a cause is over.
    pub fn raise(&mut self, cause: &Cause, now: Now, timers: &mut Timers, effects: &mut Vec<Effect>) {
        let Some(Pending { priority, what }) = self.pending.remove(cause) else { return };
        if let Some(root) = self.root_of(cause, priority) {
            self.hidden.insert(cause.clone(), Hidden { root, priority, what });
            timers.disarm(&Timer::Forget(cause.clone()));
            return self.forget(cause, effects);
        }
        timers.disarm(&Timer::Forget(cause.clone()));
        self.last_id += 1;
        let alarm = Alarm { id: self.last_id, priority, what, raised: now };
        let shelf = self.shelves.get(cause).filter(|shelf| !shelf.is_exceeded(priority, &alarm.what)).cloned();
        if shelf.is_none() {
            self.shelves.remove(cause);
            timers.disarm(&Timer::Unshelve(cause.clone()));
            effects.push(Effect::Raise(alarm.clone()));
            self.news.push(News::Raised(alarm.id));
        }
        effects.push(Effect::Redraw);
        self.begin_record(cause, &alarm, effects);
        let said = shelf.is_none();
        let state = shelf.map_or(State::Unacknowledged, State::Shelved);
        self.standing.insert(cause.clone(), Standing { alarm, state, chattering: false, leaving: false, said });
        self.comes(cause, now, timers, effects);
        self.cover(cause, priority, now, timers, effects);
    }

    /// The cause came once more.
    fn comes(&mut self, cause: &Cause, now: Now, timers: &mut Timers, effects: &mut Vec<Effect>) {
        let often = self.limits.chatter_raises.max(2);
        let times = self.chatter.came(cause, now.mono, often);
        let Some(standing) = self.standing.get_mut(cause) else { return };
        if times >= often && !standing.chattering {
            standing.chattering = true;
            let id = standing.alarm.id;
            // Said in place of a raising of the same moment.
            self.news.retain(|news| *news != News::Raised(id));
            if !matches!(standing.state, State::Shelved(_)) {
                self.news.push(News::Chattering(id, times));
            }
            self.write(id, effects, |record| record.chattered = true);
            effects.push(Effect::Redraw);
        }
        if self.standing.get(cause).is_some_and(|standing| standing.chattering) {
            timers.arm(Timer::Steady(cause.clone()), now.mono.plus(self.limits.chatter_steady.as_millis()));
        }
    }

    /// What follows from an alarm that was raised is none of its own any more.
    fn cover(&mut self, root: &Cause, pressing: Priority, now: Now, timers: &mut Timers, effects: &mut Vec<Effect>) {
        let follow = |(cause, standing): (&Cause, &Standing)| {
            let stands = standing.state != State::Returned;
            let follows = hides((root, pressing), (cause, standing.alarm.priority));
            (stands && follows).then(|| (cause.clone(), standing.clone()))
        };
        let covered: Vec<_> = self.standing.iter().filter_map(follow).collect();
        for (cause, Standing { alarm: Alarm { priority, what, .. }, leaving, .. }) in covered {
            if leaving {
                self.end(&cause, HowEnded::Gone, now, timers, effects);
            } else {
                self.hidden.insert(cause.clone(), Hidden { root: root.clone(), priority, what });
                self.end(&cause, HowEnded::Covered(root.clone()), now, timers, effects);
            }
        }
    }

    /// A cause has been gone for its delay.
    pub fn off(&mut self, cause: &Cause, now: Now, timers: &mut Timers, effects: &mut Vec<Effect>) {
        if self.standing.get(cause).is_some_and(|standing| standing.leaving) {
            self.end(cause, HowEnded::Gone, now, timers, effects);
        }
    }

    /// A cause that came and went has stood still.
    pub fn steady(&mut self, cause: &Cause, effects: &mut Vec<Effect>) {
        let Some(standing) = self.standing.get_mut(cause) else { return };
        standing.chattering = false;
        self.chatter.still(cause);
        effects.push(Effect::Redraw);
    }

    pub(super) fn end(
        &mut self,
        cause: &Cause,
        how: HowEnded,
        now: Now,
        timers: &mut Timers,
        effects: &mut Vec<Effect>,
    ) {
        let Some(standing) = self.standing.get_mut(cause) else { return };
        let state = std::mem::replace(&mut standing.state, State::Returned);
        if state == State::Returned {
            return;
        }
        for timer in [Timer::AlarmOff(cause.clone()), Timer::Steady(cause.clone())] {
            timers.disarm(&timer);
        }
        standing.leaving = false;
        if std::mem::take(&mut standing.chattering) {
            self.chatter.still(cause);
        }
        let id = standing.alarm.id;
        if standing.said {
            effects.push(Effect::End(standing.alarm.clone()));
        }
        effects.push(Effect::Redraw);
        self.news.push(News::Ended(id));
        if state == State::Unacknowledged && how == HowEnded::Gone {
            timers.arm(Timer::Forget(cause.clone()), now.mono.plus(RETURNED_SHOWN.as_millis()));
        } else {
            self.standing.remove(cause);
        }
        self.write(id, effects, |record| record.ended = Some((now, how)));
        self.release(cause, now, timers, effects);
    }

    /// A root is over: what it hid is an alarm of its own, where it still holds and no other root hides it.
    fn release(&mut self, root: &Cause, now: Now, timers: &mut Timers, effects: &mut Vec<Effect>) {
        if self.is_active(root) {
            return;
        }
        let free: Vec<Cause> =
            self.hidden.iter().filter(|(_, hidden)| hidden.root == *root).map(|(cause, _)| cause.clone()).collect();
        for cause in free {
            let Some(Hidden { priority, what, .. }) = self.hidden.remove(&cause) else { continue };
            self.pending.insert(cause.clone(), Pending { priority, what });
            self.raise(&cause, now, timers, effects);
        }
    }

    fn root_of(&self, cause: &Cause, priority: Priority) -> Option<Cause> {
        let roots = self.standing.keys().chain(self.hidden.keys());
        roots.filter(|root| *root != cause && self.hides(root, cause, priority)).min().cloned()
    }

    /// Whether the root hides the cause now.
    fn hides(&self, root: &Cause, cause: &Cause, priority: Priority) -> bool {
        let pressing = match (self.standing.get(root), self.hidden.get(root)) {
            (Some(standing), _) if standing.state != State::Returned => standing.alarm.priority,
            (_, Some(hidden)) => hidden.priority,
            _ => return false,
        };
        hides((root, pressing), (cause, priority))
    }

    fn is_active(&self, cause: &Cause) -> bool {
        self.hidden.contains_key(cause) || self.standing.get(cause).is_some_and(|one| one.state != State::Returned)
    }
}

/// For how long a cause must be gone. Water that is poured and a horse that somebody looks after are over at once; a line that
/// was down or a sensor that was silent must show that it stays.
fn off_delay(cause: &Cause, limits: &AlarmLimits) -> u64 {
    match cause.rule() {
        Rule::Silent | Rule::Broker | Rule::Journal => u64::from(limits.off_delay_s) * 1000,
        _ => 0,
    }
}
