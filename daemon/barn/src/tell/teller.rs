//! Turns what happens to alarms into messages.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::case::{Case, Why};
use super::message::{About, Digest, Message, MessageId, Outcome, To, Told, ToldWho};
use super::outlet::Outlet;
use super::{quiet, who, words};
use crate::alarm::record::{HowEnded, Record};
use crate::alarm::{Alarms, News, whole_minutes};
use crate::board::Priority;
use crate::book::Book;
use crate::id::PersonId;
use crate::limits::Limits;
use crate::shift::Shift;
use crate::time::{Mono, Now, WallClock};

/// Alarms raised within this may be one flood, in milliseconds.
const FLOOD_MS: u64 = 600_000;
/// One message names no more alarms than this.
const NAMED_MOST: usize = 20;
/// And in a flood no more than these, the most pressing: the board has the rest.
const NAMED_IN_FLOOD: usize = 5;
/// So many messages may wait to be heard of.
const OPEN_MOST: usize = 500;

/// What the barn knows that the teller asks.
#[derive(Clone, Copy)]
pub struct Times<'a> {
    /// Now.
    pub now: Now,
    /// Everybody.
    pub book: &'a Book,
    /// Who is here.
    pub shift: &'a Shift,
    /// All limits.
    pub limits: &'a Limits,
}

/// Who has been told what, and who waits to be.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub struct Teller {
    last_id: u64,
    cases: BTreeMap<u64, Case>,
    #[serde(with = "crate::pairs")]
    outlets: BTreeMap<To, Outlet>,
    /// Messages to persons of which nothing has been heard yet.
    open: BTreeMap<MessageId, (PersonId, Vec<u64>)>,
    /// When alarms were raised in the last ten minutes.
    raised: Vec<Mono>,
    /// Messages to persons since the last digest.
    messages: u32,
    /// The day of the last digest.
    digested: Option<NaiveDate>,
}

/// What happens.
impl Teller {
    /// Something about alarms is new.
    pub fn hear(&mut self, news: &[News], alarms: &Alarms, at: &Times<'_>) {
        let now = at.now.mono;
        for one in news {
            match *one {
                News::Raised(id) => self.call(id, Why::Raised, alarms, now),
                News::Chattering(id, times) => {
                    if self.cases.contains_key(&id) {
                        self.tell_the_told(id, Why::Chattering(times), None, now);
                    } else {
                        self.call(id, Why::Chattering(times), alarms, now);
                    }
                }
                News::Worse(id) | News::Back(id) => self.call(id, Why::Worse, alarms, now),
                News::Taken(id) | News::Aside(id) => self.taken(id, alarms, now),
                News::Ended(id) => self.ended(id, alarms, now),
            }
        }
    }

    /// Somebody must be told, from the first step on.
    fn call(&mut self, id: u64, why: Why, alarms: &Alarms, now: Mono) {
        if why != Why::Worse {
            self.raised.retain(|at| now.since(*at) < FLOOD_MS);
            self.raised.push(now);
        }
        if alarms.record(id).is_none_or(|record| record.alarm.priority == Priority::Low) {
            return;
        }
        match self.cases.get_mut(&id) {
            Some(case) if case.told.is_empty() => case.anew(Why::Raised, now),
            Some(case) => case.anew(why, now),
            // What was low until now is told as if it were raised.
            None => {
                let first = if why == Why::Worse { Why::Raised } else { why };
                self.cases.insert(id, Case::new(first, now));
            }
        }
        for outlet in self.outlets.values_mut() {
            outlet.drop_untold(id);
        }
        self.outlets.entry(To::Everyone).or_default().put(id, why, now);
    }

    fn taken(&mut self, id: u64, alarms: &Alarms, now: Mono) {
        let Some(case) = self.cases.get_mut(&id) else { return };
        if std::mem::replace(&mut case.taken, true) {
            return;
        }
        let by = alarms.record(id).and_then(|record| record.seen.as_ref()).map(|(by, _)| by.clone());
        self.tell_the_told(id, Why::Taken, by.as_ref(), now);
    }

    fn ended(&mut self, id: u64, alarms: &Alarms, now: Mono) {
        let Some(case) = self.cases.get(&id) else { return };
        let covered = alarms.record(id).is_some_and(|record| matches!(record.ended, Some((_, HowEnded::Covered(_)))));
        if covered || case.taken {
            // Its root is told in its place, or they know that somebody has taken it.
            for (to, outlet) in &mut self.outlets {
                let untold = outlet.drop_untold(id);
                if *to == To::Everyone && !untold && case.machines {
                    outlet.put(id, Why::Ended, now);
                }
            }
        } else {
            self.tell_the_told(id, Why::Ended, None, now);
        }
        self.cases.remove(&id);
    }

    /// Those who were told learn this, once; those who were about to be are not told any more, unless it is something to act on.
    fn tell_the_told(&mut self, id: u64, why: Why, but: Option<&PersonId>, now: Mono) {
        let Some(case) = self.cases.get(&id) else { return };
        let mut untold_machines = false;
        if !why.is_active() {
            for (to, outlet) in &mut self.outlets {
                untold_machines |= outlet.drop_untold(id) && *to == To::Everyone;
            }
        }
        let told: Vec<PersonId> = case.told.iter().map(|(person, _)| person.clone()).collect();
        for person in told.into_iter().filter(|person| Some(person) != but) {
            self.outlets.entry(To::Person(person)).or_default().put(id, why, now);
        }
        if case.machines && !untold_machines {
            self.outlets.entry(To::Everyone).or_default().put(id, why, now);
        }
    }

    /// Something has become of a message: who was told by it counts as told. Where it will not arrive, the next are told now.
    /// Gives the person and the alarms that a receiver has taken.
    pub fn sent(
        &mut self,
        message: MessageId,
        outcome: &Outcome,
        alarms: &Alarms,
        at: &Times<'_>,
    ) -> Option<(PersonId, Vec<u64>)> {
        let (person, ids) = self.open.remove(&message)?;
        match outcome {
            Outcome::Accepted => return Some((person, ids)),
            Outcome::Failed(_) => {
                for id in ids {
                    let Some(case) = self.cases.get_mut(&id) else { continue };
                    case.told.retain(|(told, _)| *told != person);
                    let Some(record) = alarms.record(id) else { continue };
                    let limits = &at.limits.tell;
                    if case.due(record.alarm.priority, limits).is_some_and(|due| due > at.now.mono) {
                        case.put(at.now.mono, record.alarm.priority, limits);
                    }
                }
            }
            Outcome::Outdated => {}
        }
        None
    }
}

/// Time passes.
impl Teller {
    /// Takes every step that is due, and gives the messages that are to go now.
    pub fn pass(&mut self, alarms: &Alarms, at: &Times<'_>) -> Vec<Message> {
        for id in self.cases.keys().copied().collect::<Vec<_>>() {
            self.climb(id, alarms, at);
        }
        let due: Vec<To> = self
            .outlets
            .iter()
            .filter(|(to, outlet)| self.goes(to, outlet, alarms, at).is_some_and(|due| due <= at.now.mono))
            .map(|(to, _)| to.clone())
            .collect();
        let messages = due.into_iter().filter_map(|to| self.message(to, alarms, at)).collect();
        self.outlets.retain(|_, outlet| !outlet.is_idle(at.now.mono));
        messages
    }

    /// When something is due next.
    pub fn next(&self, alarms: &Alarms, at: &Times<'_>) -> Option<Mono> {
        let priority = |id: &u64| alarms.record(*id).map(|record| record.alarm.priority);
        let steps = self.cases.iter().filter_map(|(id, case)| {
            let record = alarms.record(*id)?;
            let left = case.step < who::ladder(record.cause.rule(), &record.alarm.what).len();
            case.due(priority(id)?, &at.limits.tell).filter(|_| left)
        });
        let messages = self.outlets.iter().filter_map(|(to, outlet)| self.goes(to, outlet, alarms, at));
        steps.chain(messages).min()
    }

    /// One alarm climbs as far as it is due: a step that finds nobody is passed at once.
    fn climb(&mut self, id: u64, alarms: &Alarms, at: &Times<'_>) {
        let Some(record) = alarms.record(id) else { return };
        let Some(case) = self.cases.get_mut(&id) else { return };
        let limits = &at.limits.tell;
        let priority = record.alarm.priority;
        let ladder = who::ladder(record.cause.rule(), &record.alarm.what);
        while let Some(roles) = ladder.get(case.step) {
            let Some(due) = case.due(priority, limits).filter(|due| *due <= at.now.mono) else { return };
            if priority != Priority::High
                && let Some(end) = quiet::ends(moved(at.now, due), at.limits.zone, limits)
            {
                case.put(end, priority, limits);
                continue;
            }
            let first = case.asked.is_empty();
            let mut persons = who::persons(roles, at.book, at.shift, &limits.reachable);
            persons.retain(|person| !case.asked.contains(person));
            case.step += 1;
            if persons.is_empty() {
                case.put(due, priority, limits);
                continue;
            }
            let why = if first { case.first } else { Why::Climbed };
            for person in persons {
                case.asked.insert(person.clone());
                self.outlets.entry(To::Person(person)).or_default().put(id, why, due);
            }
        }
    }

    /// When what waits for a receiver goes.
    fn goes(&self, to: &To, outlet: &Outlet, alarms: &Alarms, at: &Times<'_>) -> Option<Mono> {
        let priority = |id: &u64| alarms.record(*id).map(|record| record.alarm.priority);
        let any_high = outlet.waiting.keys().any(|id| priority(id) == Some(Priority::High));
        let due = outlet.due(any_high)?;
        if any_high || *to == To::Everyone {
            return Some(due);
        }
        let end = quiet::ends(moved(at.now, due), at.limits.zone, &at.limits.tell);
        Some(end.unwrap_or(due))
    }

    /// All that waits for a receiver, as one message.
    fn message(&mut self, to: To, alarms: &Alarms, at: &Times<'_>) -> Option<Message> {
        let waiting = self.outlets.get_mut(&to)?.take(at.now.mono);
        let mut known: Vec<(&Record, Why)> =
            waiting.iter().filter_map(|(id, why)| Some((alarms.record(*id)?, *why))).collect();
        known.sort_by_key(|(record, why)| (!why.is_active(), record.alarm.priority, record.alarm.id));
        let (first, why) = *known.first()?;
        let active = known.iter().filter(|(_, why)| why.is_active()).count();
        self.raised.retain(|raised| at.now.mono.since(*raised) < FLOOD_MS);
        let raised = u32::try_from(self.raised.len()).unwrap_or(u32::MAX);
        let flood = raised > at.limits.alarms.flood;
        let about = if active > 0 && (known.len() > 1 || flood) {
            About::Many { raised }
        } else if known.iter().any(|(_, why)| *why == Why::Ended) {
            About::Ended
        } else {
            let since = self.cases.get(&first.alarm.id).map_or(first.alarm.raised.mono, |case| case.since);
            why.about(whole_minutes(at.now.mono.since(since)))
        };
        let named = if flood { NAMED_IN_FLOOD } else { NAMED_MOST };
        let told = known.iter().take(named).map(|(record, _)| self.told(record, at)).collect();
        let priority = known.iter().map(|(record, _)| record.alarm.priority).min().unwrap_or(Priority::Low);
        let message = self.make(to.clone(), about, priority, told, at.now);
        let acted: Vec<u64> =
            known.iter().filter(|(_, why)| why.is_active()).map(|(record, _)| record.alarm.id).collect();
        for id in &acted {
            let Some(case) = self.cases.get_mut(id) else { continue };
            match &to {
                To::Person(person) => {
                    case.told.retain(|(told, _)| told != person);
                    case.told.push((person.clone(), at.now));
                }
                To::Everyone => case.machines = true,
            }
        }
        if let To::Person(person) = to {
            self.messages = self.messages.saturating_add(1);
            if self.open.len() >= OPEN_MOST {
                self.open.pop_first();
            }
            self.open.insert(message.id, (person, acted));
        }
        Some(message)
    }

    /// A message of the barn's, under the next number.
    fn make(&mut self, to: To, about: About, priority: Priority, alarms: Vec<Told>, now: Now) -> Message {
        self.last_id += 1;
        Message { id: MessageId(self.last_id), to, about, priority, alarms, made: now }
    }

    /// An alarm as a message tells it.
    pub fn told(&self, record: &Record, at: &Times<'_>) -> Told {
        let zone = at.limits.zone;
        let name = |person: &PersonId| {
            at.book.people.get(person).map_or_else(|| person.to_string(), |person| person.name.clone())
        };
        let parts = words::parts(&record.alarm.what);
        let told = self.cases.get(&record.alarm.id).map_or(&[][..], |case| &case.told);
        let standing_aside = record.aside.last().filter(|aside| {
            record.ended.is_none() && at.now.mono.since(aside.at.mono) < u64::from(aside.for_min) * 60_000
        });
        Told {
            alarm: record.alarm.clone(),
            what: parts.what,
            place: parts.place,
            to_do: parts.to_do,
            since: record.alarm.raised.wall.get().map(|wall| (zone.date(wall), zone.time_of_day(wall))),
            told: told
                .iter()
                .map(|(person, told)| ToldWho {
                    person: person.clone(),
                    name: name(person),
                    at: told.wall.get().map(|wall| zone.time_of_day(wall)),
                })
                .collect(),
            taken_by: record.seen.as_ref().map(|(person, _)| name(person)),
            aside: standing_aside.and_then(|aside| {
                let until = moved(aside.at, aside.at.mono.plus(u64::from(aside.for_min) * 60_000));
                Some((zone.time_of_day(until.wall.get()?), aside.why))
            }),
            over: record.ended.is_some(),
        }
    }
}

/// The digest.
impl Teller {
    /// How many messages went to persons since the last digest.
    pub fn messages(&self) -> u32 {
        self.messages
    }

    /// The day of the last digest.
    pub fn digested(&self) -> Option<NaiveDate> {
        self.digested
    }

    /// Sends a digest to these, and begins to count anew.
    pub fn send_digest(&mut self, digest: &Digest, to: Vec<To>, now: Now) -> Vec<Message> {
        self.digested = Some(digest.date);
        self.messages = 0;
        let about = |to| (to, About::Digest(Box::new(digest.clone())));
        to.into_iter().map(about).map(|(to, about)| self.make(to, about, Priority::Low, Vec::new(), now)).collect()
    }
}

/// Another moment, on both clocks.
fn moved(now: Now, to: Mono) -> Now {
    let wall = match now.wall {
        WallClock::Set(wall) => WallClock::Set(wall.plus(to.0 as i64 - now.mono.0 as i64)),
        WallClock::Unset => WallClock::Unset,
    };
    Now { mono: to, wall }
}
