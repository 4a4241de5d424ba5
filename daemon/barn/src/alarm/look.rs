//! What others ask of the alarms.

use std::collections::BTreeSet;

use super::alarms::Alarms;
use super::aside::Shelf;
use super::cause::OutOfService;
use super::{Alarm, Cause, News, Phase, Standing, State, whole_minutes};
use crate::id::PersonId;
use crate::time::Mono;

/// Sensors that fell silent within this count as silent at once, in milliseconds.
const AT_ONCE_MS: u64 = 600_000;

impl Alarms {
    /// Whether a cause, or all of its rule, is out of service.
    pub(super) fn is_out_of_service(&self, cause: &Cause) -> bool {
        self.out.contains(cause) || self.limits.out_of_service.contains(&OutOfService::Rule(cause.rule()))
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

    /// Whether there is an alarm of a cause that still holds, seen or put aside or not.
    pub fn stands(&self, cause: &Cause) -> bool {
        matches!(self.phase(cause), Phase::Unacknowledged | Phase::Acknowledged | Phase::Shelved)
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
