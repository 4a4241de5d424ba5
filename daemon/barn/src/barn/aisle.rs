//! The barn and what people say and ask in its aisle: taps, stalls cleaned, chores, hay, something wrong with a horse. What
//! becomes an alarm, what ends it, what stays for the day, and when a screen must change though nobody does anything.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};

use super::Barn;
use super::filled::Told;
use super::touched::Toucher;
use crate::alarm::{Cause, Verdict};
use crate::board::{AlarmWhat, Priority};
use crate::book::{Role, WaterPlace};
use crate::care::seen::Seen;
use crate::care::wrong::Report;
use crate::chores::Chores;
use crate::done::Marks;
use crate::effect::Effect;
use crate::hay::{Answer, Questions};
use crate::id::{ChoreId, HorseId, PersonId, ReaderId, StallId};
use crate::prep::on_hand::{Span, expected};
use crate::refusal::{Because, Refusal};
use crate::time::{Mono, Now, Today};
use crate::timers::Timer;

/// A tap is shown for so long, in milliseconds: who taps looks up at a screen.
pub(super) const TAP_SHOWN_MS: u64 = 30_000;
/// So many taps are shown at most: a class of volunteers comes in through one door.
const TAPS_MOST: usize = 12;

/// What was said and asked.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub(crate) struct Aisle {
    day_began: Mono,
    pub(super) tapped: Vec<Tap>,
    pub(super) cleaned: Marks<StallId>,
    pub(super) filled: Marks<WaterPlace>,
    #[serde(with = "crate::pairs")]
    pub(super) told: BTreeMap<WaterPlace, Told>,
    pub(super) chores: Chores,
    pub(super) hay: Questions,
    pub(super) wrong: BTreeMap<HorseId, Report>,
}

/// A tap of somebody known.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub(super) struct Tap {
    pub(super) reader: ReaderId,
    pub(super) person: PersonId,
    pub(super) here: bool,
    pub(super) at: Mono,
}

/// What people say.
impl Barn {
    /// A known badge was held to a reader, and signed its owner in or out.
    pub(super) fn show_tap(&mut self, reader: &ReaderId, person: &PersonId, at: Mono, now: Now) {
        if now.mono.since(at) >= TAP_SHOWN_MS {
            return;
        }
        let here = self.shift.here_since(person).is_some();
        let tapped = &mut self.aisle.tapped;
        if tapped.len() == TAPS_MOST {
            tapped.remove(0);
        }
        let place = tapped.partition_point(|other| other.at <= at);
        tapped.insert(place, Tap { reader: reader.clone(), person: person.clone(), here, at });
        self.aisle_again(now);
    }

    /// A stall was cleaned, or was not after all.
    pub(super) fn clean(&mut self, stall: StallId, undo: bool, who: &Toucher, now: Now) -> Result<(), Refusal> {
        if self.book.stall(&stall).is_none() {
            return Err(Refusal::not_in_book("stall", stall));
        }
        self.of_today(who)?;
        if undo {
            self.aisle.cleaned.take_back(&stall, who.at)?;
        } else {
            self.aisle.cleaned.say(stall, who.done());
            self.is_at_work(who.by.as_ref(), who.at, now);
        }
        self.aisle_again(now);
        Ok(())
    }

    /// A chore of today was done, or was not after all.
    pub(super) fn cross_off(
        &mut self,
        chore: &ChoreId,
        undo: bool,
        who: &Toucher,
        now: Now,
        effects: &mut Vec<Effect>,
    ) -> Result<(), Refusal> {
        let written = self.book.chores.get(chore).ok_or_else(|| Refusal::not_in_book("chore", chore))?;
        let today = self.today(now)?;
        if !written.days.include(today.day().date()) {
            return Err(Because::NotToday.says(format!("{} is no chore of today", written.name)));
        }
        if today.minute(who.at) < 0 {
            return Err(Because::DayClosed.says("that was on another day, which is closed"));
        }
        self.look_at_chores(&today, effects);
        if undo {
            self.aisle.chores.take_back(chore, who.at)?;
            self.look_at_chores(&today, effects);
        } else {
            self.aisle.chores.done(chore, who.done());
            self.is_at_work(who.by.as_ref(), who.at, now);
        }
        self.aisle_again(now);
        Ok(())
    }

    /// Somebody asks whether a horse may have hay, or does not after all.
    pub(super) fn ask_hay(
        &mut self,
        horse: &HorseId,
        undo: bool,
        who: &Toucher,
        now: Now,
        effects: &mut Vec<Effect>,
    ) -> Result<(), Refusal> {
        self.known_horse(horse)?;
        self.of_today(who)?;
        let number =
            if undo { self.aisle.hay.take_back(horse, who.at)? } else { self.aisle.hay.ask(horse, who.done()) };
        self.judge_hay(number, now, effects);
        self.aisle_again(now);
        Ok(())
    }

    /// Staff say whether it may.
    pub(super) fn answer_hay(
        &mut self,
        ask: u64,
        allowed: bool,
        who: &Toucher,
        now: Now,
        effects: &mut Vec<Effect>,
    ) -> Result<(), Refusal> {
        let answer = Answer { allowed, by: self.staff(who)?, at: who.at };
        if !self.aisle.hay.answer(ask, answer) {
            return Err(Because::NobodyAsks.says(format!("nobody asks question {ask} today")));
        }
        self.judge_hay(ask, now, effects);
        self.aisle_again(now);
        Ok(())
    }

    /// Something is wrong with a horse, or was not after all.
    pub(super) fn report(
        &mut self,
        horse: &HorseId,
        seen: Vec<Seen>,
        undo: bool,
        who: &Toucher,
        now: Now,
        effects: &mut Vec<Effect>,
    ) -> Result<(), Refusal> {
        self.known_horse(horse)?;
        let wrong = &mut self.aisle.wrong;
        match (wrong.get_mut(horse), undo) {
            (Some(report), true) => {
                report.undo(who.at).map_err(|why| {
                    let Refusal { why, because } = why.into();
                    because.says(format!("{why}: staff close it once it is looked after"))
                })?;
                wrong.remove(horse);
            }
            (None, true) => return Err(Because::NothingWrong.says("nothing is said to be wrong with it")),
            (Some(report), false) => report.add(seen, &who.done()),
            (None, false) => drop(wrong.insert(horse.clone(), Report::new(seen, who.done()))),
        }
        self.judge_report(horse, now, effects);
        self.aisle_again(now);
        Ok(())
    }

    /// Staff have looked after what was wrong.
    pub(super) fn close_report(
        &mut self,
        horse: &HorseId,
        who: &Toucher,
        now: Now,
        effects: &mut Vec<Effect>,
    ) -> Result<(), Refusal> {
        self.staff(who)?;
        if self.aisle.wrong.remove(horse).is_none() {
            return Err(Because::NothingWrong.says("nothing is said to be wrong with it"));
        }
        self.judge_report(horse, now, effects);
        self.aisle_again(now);
        Ok(())
    }

    /// Who touched as staff.
    ///
    /// # Errors
    /// Where nobody did, in words that say who may.
    pub(super) fn staff(&self, who: &Toucher) -> Result<PersonId, Refusal> {
        let staff = who.staff.as_ref().and_then(|person| self.book.people.get(person));
        let staff = staff.filter(|person| person.role.is_staff()).map(|person| person.id.clone());
        let why = "staff, the equine professional or the manager must do this, by badge and PIN";
        staff.ok_or_else(|| Because::StaffOnly.says(why))
    }

    /// Who works in the barn is in the barn, whether or not they tapped.
    pub(super) fn is_at_work(&mut self, by: Option<&PersonId>, at: Mono, now: Now) {
        if let Some(by) = by.filter(|by| self.shift.here_since(by).is_none()) {
            self.shift.say(by, true, at);
            self.want_plan(now);
        }
    }

    /// What was kept by a kiosk over the day's end says nothing about today.
    pub(super) fn of_today(&self, who: &Toucher) -> Result<(), Refusal> {
        if who.at < self.aisle.day_began {
            return Err(Because::DayClosed.says("the day of that touch is already closed"));
        }
        Ok(())
    }

    fn known_horse(&self, horse: &HorseId) -> Result<(), Refusal> {
        if self.book.horses.contains_key(horse) { Ok(()) } else { Err(Refusal::not_in_book("horse", horse)) }
    }
}

/// What follows from it.
impl Barn {
    /// A question for hay that nobody has answered for too long is an alarm until staff answer.
    fn judge_hay(&mut self, number: u64, now: Now, effects: &mut Vec<Effect>) {
        let open = self.aisle.hay.open().find(|ask| ask.number == number);
        let verdict = match open.and_then(|ask| Some((ask, self.book.horses.get(&ask.horse)?))) {
            Some((ask, horse)) => Verdict::Holds {
                delay: self.limits.aisle.hay_unanswered.as_millis().saturating_sub(now.mono.since(ask.asked.at)),
                priority: Priority::Medium,
                what: AlarmWhat::HayUnanswered { horse: horse.name.clone(), stall: horse.stall.clone() },
            },
            None => Verdict::Gone,
        };
        self.alarms.assess(Cause::Hay(number), verdict, now, &mut self.timers, effects);
    }

    /// What is wrong with a horse is an alarm from the first word until staff close it.
    fn judge_report(&mut self, horse: &HorseId, now: Now, effects: &mut Vec<Effect>) {
        let report = self.aisle.wrong.get(horse).zip(self.book.horses.get(horse));
        let verdict = report.map_or(Verdict::Gone, |(report, horse)| Verdict::Holds {
            delay: 0,
            priority: report.priority(),
            what: AlarmWhat::Wrong {
                horse: horse.name.clone(),
                stall: horse.stall.clone(),
                vet_now: report.vet_now(),
                seen: report.seen(),
            },
        });
        self.alarms.assess(Cause::Wrong(horse.clone()), verdict, now, &mut self.timers, effects);
    }

    /// Whose turn each chore of today is, as it looks now: of grooms who can be counted on, or of staff where no groom can.
    pub(super) fn look_at_chores(&mut self, today: &Today, effects: &mut Vec<Effect>) {
        let (day, now) = (today.day(), today.now());
        self.aisle.chores.turn_to(day.date());
        let spans: Vec<(&PersonId, Role, Vec<Span>)> = self
            .book
            .people
            .values()
            .filter(|person| matches!(person.role, Role::Groom | Role::Staff))
            .map(|person| {
                let spans = expected(&self.book, &self.shift, &person.id, today, &self.limits.plan);
                (&person.id, person.role, spans)
            })
            .collect();
        let able = |of: Role, minute: i64| -> BTreeSet<PersonId> {
            let there = |spans: &[Span]| spans.iter().any(|(from, to)| (*from..=*to).contains(&minute));
            let able = spans.iter().filter(|(_, role, spans)| *role == of && there(spans));
            able.map(|(person, ..)| (*person).clone()).collect()
        };
        let mut chores: Vec<_> = self.book.chores.values().filter(|chore| chore.days.include(day.date())).collect();
        chores.sort_by_key(|chore| (chore.by, &chore.id));
        let mut changed = false;
        for chore in chores {
            let by = day.minute_of(chore.by);
            let mut able_then = able(Role::Groom, by.max(now));
            if able_then.is_empty() {
                able_then = able(Role::Staff, by.max(now));
            }
            changed |= self.aisle.chores.decide(&chore.id, &able_then, now > by);
        }
        if changed {
            effects.push(Effect::Redraw);
        }
    }
}

/// Time, and the book.
impl Barn {
    /// Something on a screen changes with time alone: arms the next moment at which it does.
    pub(super) fn aisle_again(&mut self, now: Now) {
        let aisle = &self.aisle;
        let taps = aisle.tapped.iter().map(|tap| tap.at.plus(TAP_SHOWN_MS));
        let marks = aisle.cleaned.undo_ends().chain(aisle.filled.undo_ends()).chain(aisle.chores.undo_ends());
        let asks = aisle.hay.open().map(|ask| ask.asked.undo_ends());
        let reports = aisle.wrong.values().map(|report| report.first.undo_ends());
        let told = aisle.told.values().map(|told| told.until);
        let next = taps.chain(marks).chain(asks).chain(reports).chain(told).filter(|at| *at > now.mono).min();
        match next {
            Some(at) => self.timers.arm(Timer::Aisle, at),
            None => self.timers.disarm(&Timer::Aisle),
        }
    }

    /// That moment has come.
    pub(super) fn aisle_passes(&mut self, now: Now, effects: &mut Vec<Effect>) {
        self.aisle.tapped.retain(|tap| now.mono.since(tap.at) < TAP_SHOWN_MS);
        self.ask_sensors_again(now, effects);
        effects.push(Effect::Redraw);
        self.aisle_again(now);
    }

    /// The barn's day ends: stalls are to be cleaned anew, and nobody waits any more for hay. What is wrong with a horse is not
    /// over because the day is.
    pub(super) fn end_aisle_day(&mut self, now: Now, effects: &mut Vec<Effect>) {
        self.aisle.day_began = now.mono;
        self.aisle.cleaned.retain(|_, _| false);
        self.aisle.filled.retain(|_, _| false);
        self.drop_questions(|_| false, now, effects);
        self.aisle_again(now);
    }

    /// Another book: what was said of things that have left it is forgotten, and alarms bear the names that count now.
    pub(super) fn open_aisle(&mut self, now: Now, effects: &mut Vec<Effect>) {
        let (book, waters) = (self.book.clone(), &self.waters);
        let aisle = &mut self.aisle;
        aisle.tapped.retain(|tap| book.people.contains_key(&tap.person));
        aisle.cleaned.retain(|stall, _| book.stall(stall).is_some());
        aisle.told.retain(|place, _| waters.places.contains_key(place));
        aisle.filled.retain(|place, _| match place {
            WaterPlace::Stall(stall) => book.stall(stall).is_some(),
            WaterPlace::Paddock(_) => waters.places.contains_key(place),
        });
        aisle.chores.retain(|chore| book.chores.contains_key(chore), |person| book.people.contains_key(person));
        aisle.wrong.retain(|horse, _| book.horses.contains_key(horse));
        self.drop_questions(|horse| book.horses.contains_key(horse), now, effects);
        let open: Vec<u64> = self.aisle.hay.open().map(|ask| ask.number).collect();
        for number in open {
            self.judge_hay(number, now, effects);
        }
        let wrong: Vec<HorseId> = self.aisle.wrong.keys().cloned().collect();
        for horse in wrong {
            self.judge_report(&horse, now, effects);
        }
        self.aisle_again(now);
    }

    fn drop_questions(&mut self, stays: impl Fn(&HorseId) -> bool, now: Now, effects: &mut Vec<Effect>) {
        let dropped: Vec<u64> = self.aisle.hay.open().filter(|ask| !stays(&ask.horse)).map(|ask| ask.number).collect();
        self.aisle.hay.retain(|ask| stays(&ask.horse));
        for number in dropped {
            self.judge_hay(number, now, effects);
        }
    }
}
