//! What people do: badges at a reader, and touches at a kiosk, each answered once.

use super::Barn;
use crate::done::Done;
use crate::effect::{Answer, Effect};
use crate::id::{BadgeId, KioskId, PersonId, ReaderId};
use crate::input::{Action, Said, Tap, Touch};
use crate::refusal::{Because, Refusal};
use crate::shift::Tapped;
use crate::time::{Mono, Now};
use crate::timers::Timer;

/// Who touched where, and when.
pub(super) struct Toucher {
    pub(super) kiosk: KioskId,
    pub(super) by: Option<PersonId>,
    pub(super) staff: Option<PersonId>,
    pub(super) at: Mono,
}

impl Toucher {
    /// They say that they did something.
    pub(super) fn done(&self) -> Done {
        Done { at: self.at, by: self.by.clone() }
    }
}

impl Barn {
    pub(super) fn tap(&mut self, tap: Tap, now: Now, effects: &mut Vec<Effect>) {
        let Tap { reader, badge, own_time } = tap;
        let at = self.happened(own_time, now);
        if let Err(why) = self.badge(&reader, badge, at, now, effects) {
            self.refuse(format!("reader {reader}"), why.why, effects);
        }
    }

    /// A badge was held to a reader.
    fn badge(
        &mut self,
        reader: &ReaderId,
        badge: BadgeId,
        at: Mono,
        now: Now,
        effects: &mut Vec<Effect>,
    ) -> Result<(), Refusal> {
        let Some(person) = self.book.person_with(&badge).map(|person| person.id.clone()) else {
            self.shift.tap_unknown(badge, reader.clone(), now.mono);
            self.forget_unknown(now.mono, effects);
            return Ok(());
        };
        match self.shift.tap(&person, at, &self.limits.shift) {
            Tapped::Counts => {
                self.show_tap(reader, &person, at, now);
                self.want_plan(now);
                effects.push(Effect::Redraw);
                Ok(())
            }
            Tapped::Same => Ok(()),
            Tapped::Closed => Err(Because::DayClosed.says("a tap of a day that is already closed")),
        }
    }

    pub(super) fn forget_unknown(&mut self, now: Mono, effects: &mut Vec<Effect>) {
        if let Some(next) = self.shift.forget_unknown(now) {
            self.timers.arm(Timer::UnknownTap, next);
        }
        effects.push(Effect::Redraw);
    }

    pub(super) fn touch(&mut self, touch: Touch, now: Now, effects: &mut Vec<Effect>) {
        let Touch { id, kiosk, held_ms, by, staff, action } = touch;
        let answer = match self.touches.answered(&id) {
            Some(before) => before.clone(),
            None => {
                let held = held_ms.min(self.limits.sensors.own_time_behind.as_millis());
                let at = Mono(now.mono.0.saturating_sub(held));
                let who = Toucher { kiosk: kiosk.clone(), by, staff, at };
                let answer = match self.act(action, &who, now, effects) {
                    Ok(()) => {
                        effects.push(Effect::Redraw);
                        Answer::Done
                    }
                    Err(refusal) => {
                        self.refuse(format!("kiosk {kiosk}"), refusal.why.clone(), effects);
                        Answer::Refused(refusal)
                    }
                };
                self.touches.remember(id.clone(), answer.clone());
                answer
            }
        };
        effects.push(Effect::Answer { touch: id, answer });
    }

    fn act(&mut self, action: Action, who: &Toucher, now: Now, effects: &mut Vec<Effect>) -> Result<(), Refusal> {
        let at = who.at;
        for person in who.by.iter().chain(&who.staff) {
            self.known_person(person)?;
        }
        match action {
            Action::SignIn(person) => self.say(&person, true, at, now),
            Action::SignOut(person) => self.say(&person, false, at, now),
            Action::Acknowledge { alarm, by } => {
                self.known_person(&by)?;
                if self.alarms.acknowledge(alarm, &by, now, &mut self.timers, effects) {
                    Ok(())
                } else {
                    Err(Because::AlarmOver.says("that alarm is over"))
                }
            }
            Action::Work(said) => self.mark(Said { by: said.by.or_else(|| who.by.clone()), ..said }, at, now),
            Action::Scratch { horse, out, by } => self.scratch(&horse, out, who.staff.as_ref(), &by, now),
            Action::StandIn { ride, horse } => self.goes_instead(&ride, horse.as_ref(), who, now),
            Action::Vitals(vitals) => self.observe(vitals, at, now, effects),
            Action::Badge(badge) => self.badge(&ReaderId::new(who.kiosk.as_str()), badge, at, now, effects),
            Action::Filled { place, undo } => self.fill(place, undo, who, now, effects),
            Action::Cleaned { stall, undo } => self.clean(stall, undo, who, now),
            Action::Chore { chore, undo } => self.cross_off(&chore, undo, who, now, effects),
            Action::AskHay { horse, undo } => self.ask_hay(&horse, undo, who, now, effects),
            Action::AnswerHay { ask, allowed } => self.answer_hay(ask, allowed, who, now, effects),
            Action::Wrong { horse, seen, undo } => self.report(&horse, seen, undo, who, now, effects),
            Action::WrongOver { horse } => self.close_report(&horse, who, now, effects),
            Action::SetClock { date, time } => self.set_clock(date, time, who.staff.as_ref(), at, now, effects),
            Action::PutAside { .. } | Action::TakeUp { .. } => self.shelve(&action, who.staff.as_ref(), now, effects),
        }
    }

    fn say(&mut self, person: &PersonId, here: bool, at: Mono, now: Now) -> Result<(), Refusal> {
        self.known_person(person)?;
        match self.shift.say(person, here, at) {
            Tapped::Closed => Err(Because::DayClosed.says("the day of that touch is already closed")),
            Tapped::Counts | Tapped::Same => {
                self.want_plan(now);
                Ok(())
            }
        }
    }

    pub(super) fn known_person(&self, person: &PersonId) -> Result<(), Refusal> {
        if self.book.people.contains_key(person) { Ok(()) } else { Err(Refusal::not_in_book("person", person)) }
    }
}
