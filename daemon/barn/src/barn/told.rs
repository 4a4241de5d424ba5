//! The barn and who is told: hands what is new about alarms to the teller, and carries its messages out.

use super::Barn;
use crate::book::Role;
use crate::effect::{Answer, Effect};
use crate::id::PersonId;
use crate::input::{Action, Sensor, Sent, TakenByLink};
use crate::refusal::{Because, Refusal};
use crate::tell::message::To;
use crate::tell::{Times, digest};
use crate::time::{Mono, Now};
use crate::timers::Timer;
use crate::units::Percent;

/// A digest looks back so long where none was sent before, in milliseconds.
const DAY_MS: u64 = 24 * 3_600_000;
/// And never further than this: a hub that was off for a month has nothing to say of it.
const LOOKS_BACK_MS: u64 = 8 * DAY_MS;

impl Barn {
    fn times(&self, now: Now) -> Times<'_> {
        Times { now, book: &self.book, shift: &self.shift, limits: &self.limits }
    }

    /// After every step: what is new about alarms is handed on.
    pub(super) fn tell_news(&mut self, now: Now, effects: &mut Vec<Effect>) {
        let news = self.alarms.take_news();
        if news.is_empty() {
            return;
        }
        let mut teller = std::mem::take(&mut self.teller);
        teller.hear(&news, &self.alarms, &self.times(now));
        self.teller = teller;
        self.tell(now, effects);
    }

    /// Tells what is due, and sees when something is next.
    pub(super) fn tell(&mut self, now: Now, effects: &mut Vec<Effect>) {
        let mut teller = std::mem::take(&mut self.teller);
        let messages = teller.pass(&self.alarms, &self.times(now));
        effects.extend(messages.into_iter().map(|message| Effect::Tell(Box::new(message))));
        match teller.next(&self.alarms, &self.times(now)) {
            Some(at) => self.timers.arm(Timer::Tell, at.max(now.mono)),
            None => self.timers.disarm(&Timer::Tell),
        }
        self.teller = teller;
    }

    /// Something became of a message.
    pub(super) fn sent(&mut self, sent: &Sent, now: Now, effects: &mut Vec<Effect>) {
        let mut teller = std::mem::take(&mut self.teller);
        let accepted = teller.sent(sent.message, &sent.outcome, &self.alarms, &self.times(now));
        self.teller = teller;
        if let Some((person, alarms)) = accepted {
            for alarm in alarms {
                self.alarms.told(alarm, &person, now, effects);
            }
            effects.push(Effect::Redraw);
        }
        self.tell(now, effects);
    }

    /// Somebody followed the link of a message.
    pub(super) fn taken_by_link(&mut self, taken: TakenByLink, now: Now, effects: &mut Vec<Effect>) {
        let TakenByLink { link, alarms, by } = taken;
        let answer = match self.touches.answered(&link) {
            Some(before) => before.clone(),
            None => {
                let answer = match self.take(&alarms, &by, now, effects) {
                    Ok(()) => Answer::Done,
                    Err(why) => Answer::Refused(why),
                };
                effects.push(Effect::Redraw);
                self.touches.remember(link.clone(), answer.clone());
                answer
            }
        };
        effects.push(Effect::Answer { touch: link, answer });
    }

    fn take(&mut self, alarms: &[u64], by: &PersonId, now: Now, effects: &mut Vec<Effect>) -> Result<(), Refusal> {
        self.known_person(by)?;
        let mut any = false;
        for alarm in alarms {
            any |= self.alarms.acknowledge(*alarm, by, now, &mut self.timers, effects);
        }
        if any { Ok(()) } else { Err(Because::AlarmOver.says("that is over")) }
    }

    /// Staff put an alarm aside, or take it up again.
    pub(super) fn shelve(
        &mut self,
        action: &Action,
        staff: Option<&PersonId>,
        now: Now,
        effects: &mut Vec<Effect>,
    ) -> Result<(), Refusal> {
        let by = staff.ok_or_else(|| Because::StaffOnly.says("only staff can do this: show your PIN"))?;
        self.known_person(by)?;
        match action {
            Action::PutAside { alarm, for_min, why } => {
                self.alarms.put_aside(*alarm, (*for_min, *why), by, now, &mut self.timers, effects)
            }
            Action::TakeUp { alarm } => self.alarms.take_up(*alarm, &mut self.timers, effects),
            _ => Ok(()),
        }
    }

    /// When the next digest is due may have changed.
    pub(super) fn arm_digest(&mut self, now: Now) {
        match digest::next(now, &self.teller, &self.limits) {
            Some(at) => self.timers.arm(Timer::Digest, at),
            None => self.timers.disarm(&Timer::Digest),
        }
    }

    /// It is time for the morning's digest.
    pub(super) fn send_digest(&mut self, now: Now, effects: &mut Vec<Effect>) {
        let since = self.due.digested.map_or(Mono(now.mono.0.saturating_sub(DAY_MS)), |last| {
            last.max(Mono(now.mono.0.saturating_sub(LOOKS_BACK_MS)))
        });
        let mut teller = std::mem::take(&mut self.teller);
        let times = self.times(now);
        if let Some(digest) = digest::digest(since, self.batteries(), &self.alarms, &teller, &times)
            && digest::is_worth_sending(&digest)
        {
            let manages = |id: &&PersonId| self.book.people.get(*id).is_some_and(|one| one.role == Role::Manager);
            let managers = self.limits.tell.reachable.iter().filter(manages).cloned();
            let to = managers.map(To::Person).chain([To::Everyone]).collect();
            let messages = teller.send_digest(&digest, to, now);
            effects.extend(messages.into_iter().map(|message| Effect::Tell(Box::new(message))));
        }
        self.teller = teller;
        self.due.digested = Some(now.mono);
        self.alarms.forget_records(since);
        self.arm_digest(now);
    }

    fn batteries(&self) -> Vec<(Sensor, Percent)> {
        self.sensors.iter().filter_map(|(sensor, heard)| Some((sensor.clone(), heard.battery()?))).collect()
    }
}
