//! Which rides of a horse are one outing: under one set of tack, one soon after the other. It is brushed and tacked before
//! the first and put away after the last. The rule is the planner's own (`plan::day`), told here in lessons and tack.

use crate::book::{Book, Horse, Lesson, Ride};
use crate::id::TackId;
use crate::time::LocalDay;

/// A ride and its minutes of the day.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Mounted<'a> {
    /// The ride.
    pub ride: &'a Ride,
    /// Its lesson.
    pub lesson: &'a Lesson,
    /// When the rider mounts.
    pub mount: i64,
    /// When the last rider is off.
    pub dismount: i64,
}

/// One horse under one set of tack.
#[derive(Clone, PartialEq, Debug)]
pub struct Outing<'a> {
    /// The horse.
    pub horse: &'a Horse,
    /// Its rides, in order; at least one.
    pub rides: Vec<Mounted<'a>>,
    /// What it wears, each piece once, by id.
    pub gear: Vec<&'a TackId>,
}

impl<'a> Outing<'a> {
    /// The ride that the outing has its name from.
    pub fn first(&self) -> &Mounted<'a> {
        &self.rides[0]
    }

    /// The ride after which the horse is put away.
    pub fn last(&self) -> &Mounted<'a> {
        &self.rides[self.rides.len() - 1]
    }
}

/// The outings of a day: by mount of their first ride, then by its id. `dismount` may correct when a ride ends from what
/// the lesson says, for one that ended early or goes on.
pub fn outings<'a>(
    book: &'a Book,
    day: LocalDay,
    stay_tacked: i64,
    dismount: &dyn Fn(&Mounted<'_>) -> i64,
) -> Vec<Outing<'a>> {
    let mut outings: Vec<Outing<'a>> = Vec::new();
    for (ride, lesson) in book.rides_on(day.date()) {
        let Some(horse) = book.horses.get(&ride.horse) else { continue };
        let mount = day.minute_of(lesson.start);
        let mut mounted = Mounted { ride, lesson, mount, dismount: mount + i64::from(lesson.minutes.0) };
        mounted.dismount = dismount(&mounted).max(mount);
        let mut gear: Vec<&TackId> = book.tack_for(&ride.horse, &ride.usage).iter().map(|(_, tack)| &tack.id).collect();
        gear.sort_unstable();
        gear.dedup();
        match outings.iter_mut().rev().find(|outing| outing.horse.id == horse.id) {
            Some(before) if before.gear == gear && mount - before.last().dismount <= stay_tacked => {
                before.rides.push(mounted);
            }
            _ => outings.push(Outing { horse, rides: vec![mounted], gear }),
        }
    }
    outings
}
