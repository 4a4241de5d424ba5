//! What has become of an outing so far: which jobs were begun and done, and whether there is anything left to plan.
//!
//! People forget to touch. What follows shows what came before: a horse that is brushed again was put away, a girth that is
//! on another horse has left the first. What nobody speaks of for hours is over.

use crate::id::{PersonId, RideId};
use crate::input::Step;
use crate::plan::day::{JOBS, Job};
use crate::work::Stage;

use super::day::Live;
use super::outing::{Mounted, Outing};

/// A put-away of which nobody spoke so long after the horse was back is taken as done. Common practice; no source.
pub const FORGOTTEN: i64 = 120;
/// A horse that was led out and not brought back is taken as still out for so long past its time.
const OVERDUE: i64 = 60;

/// The step that a job is.
pub fn step_of(job: Job) -> Step {
    match job {
        Job::Brush => Step::Brush,
        Job::Tack => Step::Tack,
        Job::PutAway => Step::PutAway,
    }
}

impl Live<'_> {
    /// When a ride ends: as planned, as somebody said, or not yet where the horse was led out and is overdue.
    pub fn dismount(&self, mounted: &Mounted<'_>, walk_back: i64) -> i64 {
        if let Some(back) = self.work.stage(&mounted.ride.id, Step::BringBack).filter(|stage| !stage.implied) {
            return self.today.minute(back.from()) - walk_back;
        }
        let now = self.today.now();
        let out = self.work.stage(&mounted.ride.id, Step::LeadOut).is_some()
            && self.work.stage(&mounted.ride.id, Step::BringBack).is_none();
        let late = now - (mounted.dismount + walk_back);
        if out && (0..OVERDUE).contains(&late) { now + 1 - walk_back } else { mounted.dismount }
    }

    /// Whether a horse was led out for a ride, or is back from it, as far as anybody said.
    pub fn was_led_out(&self, ride: &RideId) -> bool {
        let led_out = self.work.stage(ride, Step::LeadOut).is_some_and(|stage| stage.done.is_some());
        led_out || self.work.stage(ride, Step::BringBack).is_some()
    }

    /// How far a job of an outing is. Brush and tack may have been said at any of its rides.
    pub fn stage(&self, outing: &Outing<'_>, job: Job) -> Option<&Stage> {
        let said = outing.rides.iter().filter_map(|one| self.work.stage(&one.ride.id, step_of(job)));
        let said: Vec<&Stage> = said.collect();
        let stage = said.iter().find(|stage| !stage.implied).or(said.first())?;
        // Who went home in the middle of a job has left it to somebody else.
        let left = stage.done.is_none() && stage.by.as_ref().is_some_and(|by| self.left_since(by, stage));
        (!left).then_some(stage)
    }

    fn left_since(&self, person: &PersonId, stage: &Stage) -> bool {
        let stays = self.shift.stays(person);
        stays.last().and_then(|stay| stay.until).is_some_and(|until| until >= stage.from())
    }

    /// The outings of which something is still to be planned, or was done today.
    pub fn with_something_left<'a>(&self, outings: Vec<Outing<'a>>, walk_back: i64) -> Vec<Outing<'a>> {
        let mut standing: Vec<Outing<'a>> =
            outings.into_iter().filter_map(|outing| self.without_the_past(outing, walk_back)).collect();
        let gone: Vec<bool> = standing.iter().map(|outing| self.has_left_its_tack(outing, &standing)).collect();
        let mut gone = gone.into_iter();
        standing.retain(|_| gone.next() != Some(true));
        standing
    }

    /// An outing without the rides that it can not make any more.
    fn without_the_past<'a>(&self, mut outing: Outing<'a>, walk_back: i64) -> Option<Outing<'a>> {
        let now = self.today.now();
        let tacked = self.stage(&outing, Job::Tack).is_some();
        let over = self.stage(&outing, Job::PutAway).is_some();
        if over {
            return Some(outing);
        }
        if tacked && now > outing.last().dismount + walk_back + FORGOTTEN {
            return None;
        }
        if self.scratched.contains(&outing.horse.id) {
            // It is under its tack all the same until somebody takes it off, after the ride that it goes, or at once.
            let ridden = outing.rides.iter().rposition(|one| self.was_led_out(&one.ride.id)).map_or(0, |last| last + 1);
            outing.rides.truncate(ridden.max(1));
            let first = &mut outing.rides[0];
            if ridden == 0 {
                (first.mount, first.dismount) = (now, now);
            }
            return tacked.then_some(outing);
        }
        if !tacked {
            outing.rides.retain(|one| one.mount >= now);
        }
        (!outing.rides.is_empty()).then_some(outing)
    }

    /// It was tacked and nobody said that it was put away, and yet its horse is at the next outing, or its tack on another.
    fn has_left_its_tack(&self, outing: &Outing<'_>, all: &[Outing<'_>]) -> bool {
        let begun = |outing: &Outing<'_>, job| self.stage(outing, job).map(Stage::from);
        let Some(tacked) = begun(outing, Job::Tack) else { return false };
        if self.stage(outing, Job::PutAway).is_some() {
            return false;
        }
        all.iter().any(|other| {
            let later = other.first().mount > outing.first().mount;
            let same_horse = other.horse.id == outing.horse.id && later;
            let same_tack = other.gear.iter().any(|piece| outing.gear.contains(piece));
            (same_horse && JOBS.into_iter().any(|job| begun(other, job).is_some()))
                || (other.horse.id != outing.horse.id
                    && same_tack
                    && begun(other, Job::Tack).is_some_and(|at| at > tacked))
        })
    }
}
