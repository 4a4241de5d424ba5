//! The barn and the horses that go in place of others today: whom the equine professional has chosen for the ride of a horse that
//! was taken out.
//!
//! Such a ride is one more in the book, with an id of its own, for that one day: so the plan, tack, work and water all know of it,
//! and what was begun on the horse that was to go stays where it is.

use std::collections::BTreeMap;
use std::sync::Arc;

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::Barn;
use super::touched::Toucher;
use crate::book::{Horse, ride_on};
use crate::id::{HorseId, RideId};
use crate::prep::Live;
use crate::prep::outing::Mounted;
use crate::prep::readiness::Readiness;
use crate::prep::stand_in::against;
use crate::refusal::{Because, Refusal};
use crate::time::{Now, Today};

/// Who goes in place of whom on a day.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub(super) struct Instead {
    date: Option<NaiveDate>,
    /// By the ride that needs another horse.
    goes: BTreeMap<RideId, HorseId>,
}

impl Barn {
    /// A horse goes a ride of today in place of its own that was taken out; or none does after all.
    pub(super) fn goes_instead(
        &mut self,
        ride: &RideId,
        horse: Option<&HorseId>,
        who: &Toucher,
        now: Now,
    ) -> Result<(), Refusal> {
        self.chooses(who)?;
        let today = self.today(now)?;
        self.turn_to(today.day().date());
        self.is_open(ride, &today)?;
        let was = self.instead(ride, &today).cloned();
        if let Some(was) = &was {
            self.not_begun(ride, was)?;
            self.leave_out(ride, was);
        }
        if let Some(horse) = horse {
            let date = today.day().date();
            if let Err(refusal) = self.can_go(ride, horse, &today) {
                was.iter().for_each(|was| self.bring_in(ride, was, date));
                return Err(refusal);
            }
            self.bring_in(ride, horse, date);
        }
        self.want_plan(now);
        Ok(())
    }

    /// Who goes a ride of today in place of its own horse.
    pub(super) fn instead(&self, ride: &RideId, today: &Today) -> Option<&HorseId> {
        let instead = &self.plans.instead;
        instead.goes.get(ride).filter(|_| instead.date == Some(today.day().date()))
    }

    /// Who goes a ride in the end: in place of its own horse, or of one that was to go in its place and was taken out in turn; none
    /// where that is not said.
    pub(super) fn in_its_place(&self, ride: &RideId, live: &Live<'_>) -> Option<&Horse> {
        let other = self.instead(ride, live.today)?;
        if live.scratched.contains(other) {
            return self.in_its_place(&ride_on(ride, other), live);
        }
        self.book.horses.get(other)
    }

    /// Its rider has no horse: this one is not ridden, and no other goes. Each rider is one, however many horses were to go.
    pub(super) fn is_without(&self, one: &Readiness<'_>, live: &Live<'_>) -> bool {
        let Mounted { ride, .. } = one.one;
        one.is_off(live) && ride.only.is_none() && self.in_its_place(&ride.id, live).is_none()
    }

    /// A horse works after all: nobody goes in its place.
    pub(super) fn nobody_instead_of(&mut self, horse: &HorseId) -> Result<(), Refusal> {
        let own = |ride: &RideId| self.book.rides.get(ride).is_some_and(|ride| ride.horse == *horse);
        let goes = self.plans.instead.goes.iter().filter(|(ride, _)| own(ride));
        let goes: Vec<(RideId, HorseId)> = goes.map(|(ride, other)| (ride.clone(), other.clone())).collect();
        for (ride, other) in &goes {
            self.not_begun(ride, other)?;
        }
        for (ride, other) in &goes {
            self.leave_out(ride, other);
        }
        Ok(())
    }

    /// Another book: who was chosen still goes, where ride and horse are in it.
    pub(super) fn keep_instead(&mut self) {
        let Instead { date: Some(date), goes } = self.plans.instead.clone() else { return };
        // One that goes in place of a horse that went in place of another comes after that one.
        for (ride, horse) in &goes {
            self.plans.instead.goes.remove(ride);
            if self.book.horses.contains_key(horse) {
                self.bring_in(ride, horse, date);
            }
        }
    }

    /// A new day: nobody goes in anybody's place any more.
    pub(super) fn forget_instead(&mut self, date: NaiveDate) {
        if self.plans.instead.date.is_some_and(|of| of != date) {
            let Instead { goes, .. } = std::mem::take(&mut self.plans.instead);
            for (ride, horse) in &goes {
                self.leave_out(ride, horse);
            }
        }
    }

    fn chooses(&self, who: &Toucher) -> Result<(), Refusal> {
        let staff = self.staff(who)?;
        if self.book.people.get(&staff).is_some_and(|person| person.role.chooses_horses()) {
            return Ok(());
        }
        Err(Because::StaffOnly
            .says("the equine professional or the manager chooses who goes instead, by badge and PIN"))
    }

    /// Whether a ride of today is still to come, and has no horse.
    fn is_open(&self, ride: &RideId, today: &Today) -> Result<(), Refusal> {
        let rides = self.book.rides_on(today.day().date());
        let one = rides.iter().find(|(one, _)| one.id == *ride).ok_or_else(|| Refusal::not_in_book("ride", ride))?;
        let (written, lesson) = *one;
        if !self.live(today).scratched.contains(&written.horse) {
            let name = self.horse_name(&written.horse);
            return Err(Because::NotOpen.says(format!("{name} works today: take it out first")));
        }
        if today.day().minute_of(lesson.start) <= today.now() {
            return Err(Because::NotOpen.says(format!("the lesson of {} has begun", lesson.start)));
        }
        Ok(())
    }

    /// Nothing has been begun on a horse that goes instead, nor on one that goes in its place in turn.
    fn not_begun(&self, ride: &RideId, horse: &HorseId) -> Result<(), Refusal> {
        let own = ride_on(ride, horse);
        if self.work.stages().any(|(of, _, stage)| *of == own && stage.begun.or(stage.done).is_some()) {
            let name = self.horse_name(horse);
            let why = format!("{name} has been begun for it: take {name} out, and choose who goes in its place");
            return Err(Because::OtherBegun.says(why));
        }
        self.plans.instead.goes.get(&own).map_or(Ok(()), |next| self.not_begun(&own, next))
    }

    fn can_go(&self, ride: &RideId, horse: &HorseId, today: &Today) -> Result<(), Refusal> {
        let own = ride_on(ride, horse);
        if self.is_written(&own) {
            return Err(Because::DoesNotFit.says(format!("the book has a ride {own} of its own")));
        }
        let live = self.live(today);
        let Some(reasons) = against(&self.known(), today.day(), &live, ride, horse) else {
            return Err(Refusal::not_in_book("horse", horse));
        };
        if reasons.is_empty() {
            return Ok(());
        }
        let reasons: Vec<String> = reasons.iter().map(ToString::to_string).collect();
        Err(Because::DoesNotFit.says(format!("{} {}", self.horse_name(horse), reasons.join("; "))))
    }

    /// Whether the book itself has a ride of that name.
    fn is_written(&self, ride: &RideId) -> bool {
        self.book.rides.get(ride).is_some_and(|ride| ride.only.is_none())
    }

    fn bring_in(&mut self, ride: &RideId, horse: &HorseId, date: NaiveDate) {
        let own = self.book.rides.get(ride).map(|written| written.on(horse, date));
        let Some(own) = own.filter(|own| !self.is_written(&own.id)) else { return };
        Arc::make_mut(&mut self.book).rides.insert(own.id.clone(), own);
        self.plans.instead.date = Some(date);
        self.plans.instead.goes.insert(ride.clone(), horse.clone());
    }

    /// A horse does not go instead, nor who goes in its place in turn.
    fn leave_out(&mut self, ride: &RideId, horse: &HorseId) {
        let own = ride_on(ride, horse);
        if let Some(next) = self.plans.instead.goes.get(&own).cloned() {
            self.leave_out(&own, &next);
        }
        self.plans.instead.goes.remove(ride);
        Arc::make_mut(&mut self.book).rides.remove(&own);
    }

    fn horse_name(&self, horse: &HorseId) -> String {
        self.book.horses.get(horse).map_or_else(|| horse.to_string(), |horse| horse.name.clone())
    }
}
