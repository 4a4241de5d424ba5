//! All alarms that are not normal: raised after their delay, ended after theirs, told of once.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};

use super::aside::Shelf;
use super::cause::{OutOfService, Rule};
use super::chatter::Chatter;
use super::record::{HowEnded, Record};
use super::roots::hides;
use super::{Alarm, Cause, News, Phase, Standing, State, Verdict, whole_minutes};
use crate::board::{AlarmWhat, Priority};
use crate::effect::Effect;
use crate::id::PersonId;
use crate::limits::AlarmLimits;
use crate::time::{Mono, Now};
use crate::timers::{Timer, Timers};
use crate::units::Minutes;

/// How long an alarm whose cause is gone stays in sight without anybody saying that they saw it. A barn is no control
/// room: the strip must not fill with what is over.
const RETURNED_SHOWN: Minutes = Minutes(10);
/// Rows of the history that are at hand; the journal keeps the rest.
const RECORDS_MOST: usize = 1_000;
/// Sensors that fell silent within this count as silent at once, in milliseconds.
const AT_ONCE_MS: u64 = 600_000;

#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
struct Pending {
    priority: Priority,
    what: AlarmWhat,
}

/// A cause that holds and that follows from a root.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
struct Hidden {
    root: Cause,
    priority: Priority,
    what: AlarmWhat,
}

/// All alarms that are not normal.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub struct Alarms {
    last_id: u64,
    limits: AlarmLimits,
    /// What is out of service besides whole rules.
    out: BTreeSet<Cause>,
    #[serde(with = "crate::pairs")]
    pending: BTreeMap<Cause, Pending>,
    #[serde(with = "crate::pairs")]
    pub(super) standing: BTreeMap<Cause, Standing>,
    #[serde(with = "crate::pairs")]
    hidden: BTreeMap<Cause, Hidden>,
    #[serde(with = "crate::pairs")]
    pub(super) shelves: BTreeMap<Cause, Shelf>,
    chatter: Chatter,
    /// What became of each alarm that stands, and of those that ended lately.
    records: BTreeMap<u64, Record>,
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

    fn end(&mut self, cause: &Cause, how: HowEnded, now: Now, timers: &mut Timers, effects: &mut Vec<Effect>) {
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

/// People, settings, and what others ask.
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

    /// How many sensors fell silent lately, or are held by the alarm for many; and how many it holds.
    pub fn silent_at_once(&self, now: Mono) -> (u32, u32) {
        let held = self.hidden.iter().filter(|(cause, hidden)| {
            matches!(cause, Cause::Silent(_)) && matches!(hidden.root, Cause::ManySilent | Cause::Broker)
        });
        let held = u32::try_from(held.count()).unwrap_or(u32::MAX);
        let lately = self.standing.iter().filter(|(cause, standing)| {
            matches!(cause, Cause::Silent(_))
                && standing.state != State::Returned
                && now.since(standing.alarm.raised.mono) < AT_ONCE_MS
        });
        (held.saturating_add(u32::try_from(lately.count()).unwrap_or(u32::MAX)), held)
    }

    fn is_out_of_service(&self, cause: &Cause) -> bool {
        self.out.contains(cause) || self.limits.out_of_service.contains(&OutOfService::Rule(cause.rule()))
    }

    /// The alarm of that number and its cause, where it stands.
    pub(super) fn stands_as(&mut self, id: u64) -> Option<(Cause, &mut Standing)> {
        let (cause, standing) = self.standing.iter_mut().find(|(_, standing)| standing.alarm.id == id)?;
        (standing.state != State::Returned).then(|| (cause.clone(), standing))
    }

    /// Where in the standard's picture a cause is.
    pub fn phase(&self, cause: &Cause) -> Phase {
        if self.is_out_of_service(cause) {
            return Phase::OutOfService;
        }
        if self.hidden.contains_key(cause) {
            return Phase::Suppressed;
        }
        match self.standing.get(cause).map(|standing| &standing.state) {
            None => Phase::Normal,
            Some(State::Unacknowledged) => Phase::Unacknowledged,
            Some(State::Acknowledged(_)) => Phase::Acknowledged,
            Some(State::Returned) => Phase::Returned,
            Some(State::Shelved(_)) => Phase::Shelved,
        }
    }

    /// Who has seen the alarm of a cause that still holds.
    pub fn seen_by(&self, cause: &Cause) -> Option<&PersonId> {
        match &self.standing.get(cause)?.state {
            State::Acknowledged(person) => Some(person),
            State::Unacknowledged | State::Returned | State::Shelved(_) => None,
        }
    }

    /// Causes that stand, are hidden or wait to; a concern whose subject has left the book ends them.
    pub fn causes(&self) -> Vec<Cause> {
        let causes: BTreeSet<&Cause> =
            self.pending.keys().chain(self.standing.keys()).chain(self.hidden.keys()).collect();
        causes.into_iter().cloned().collect()
    }

    /// What stands and is not put aside, most pressing first, then oldest first.
    pub fn standing(&self) -> Vec<&Standing> {
        let shown = |standing: &&Standing| !matches!(standing.state, State::Shelved(_));
        let mut list: Vec<_> = self.standing.values().filter(shown).collect();
        list.sort_by_key(|standing| (standing.state == State::Returned, standing.alarm.priority, standing.alarm.id));
        list
    }

    /// What is put aside, what comes back first in front.
    pub fn shelved(&self) -> Vec<(&Standing, &Shelf)> {
        let mut list: Vec<_> = self
            .standing
            .values()
            .filter_map(|standing| match &standing.state {
                State::Shelved(shelf) => Some((standing, shelf)),
                _ => None,
            })
            .collect();
        list.sort_by_key(|(standing, shelf)| (shelf.until, standing.alarm.id));
        list
    }

    /// The alarm of that number and its state, where it stands or stood a moment ago.
    pub fn find(&self, id: u64) -> Option<&Standing> {
        self.standing.values().find(|standing| standing.alarm.id == id)
    }

    /// What people may have to be told since this was last asked.
    pub fn take_news(&mut self) -> Vec<News> {
        std::mem::take(&mut self.news)
    }

    /// For how long an alarm has stood, in whole minutes.
    pub fn minutes(alarm: &Alarm, now: Mono) -> u32 {
        whole_minutes(now.since(alarm.raised.mono))
    }
}

/// The history.
impl Alarms {
    /// What became of the alarms that stand and of those that ended lately, by number.
    pub fn records(&self) -> impl Iterator<Item = &Record> {
        self.records.values()
    }

    /// What became of the alarm of that number, where it is at hand.
    pub fn record(&self, id: u64) -> Option<&Record> {
        self.records.get(&id)
    }

    /// Lets go of rows that ended before that time.
    pub fn forget_records(&mut self, before: Mono) {
        self.records.retain(|_, record| record.ended.as_ref().is_none_or(|(at, _)| at.mono >= before));
    }

    fn begin_record(&mut self, cause: &Cause, alarm: &Alarm, effects: &mut Vec<Effect>) {
        while self.records.len() >= RECORDS_MOST {
            let oldest = self.records.iter().find(|(_, record)| record.ended.is_some()).map(|(id, _)| *id);
            let Some(oldest) = oldest else { break };
            self.records.remove(&oldest);
        }
        let record = Record {
            alarm: alarm.clone(),
            cause: cause.clone(),
            text: alarm.what.to_string(),
            seen: None,
            aside: Vec::new(),
            told: Vec::new(),
            chattered: false,
            ended: None,
        };
        effects.push(Effect::Keep(Box::new(record.clone())));
        self.records.insert(alarm.id, record);
    }

    /// Changes a row of the history, and has it kept where that changed it.
    pub(super) fn write(&mut self, id: u64, effects: &mut Vec<Effect>, change: impl FnOnce(&mut Record)) {
        let Some(record) = self.records.get_mut(&id) else { return };
        let before = record.clone();
        change(record);
        if *record != before {
            effects.push(Effect::Keep(Box::new(record.clone())));
        }
    }
}
