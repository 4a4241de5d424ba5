//! Who could take a scratched horse's ride: every other horse, those that fit first, each with what speaks against it and
//! what it would cost the plan.
//!
//! The equine professional chooses, never the program. What is told here may be seen in the aisle: whether a horse can carry
//! what the ride needs is answered by yes, no or not known, and no weight is named.

use std::collections::BTreeSet;
use std::fmt;

use serde::{Deserialize, Serialize};

use crate::board::HeatBand;
use crate::book::{Book, Horse, Ride, ride_on};
use crate::id::{HorseId, RideId};
use crate::plan::day::{Day, Fault, JOBS, Job};
use crate::plan::{Effort, plan};
use crate::time::{LocalDay, TimeOfDay};

use super::clashes::{clashes, in_two_places, overlap, ridden};
use super::day::{Known, Live, day_file};
use super::findings::has_stirrups;
use super::outing::{Outing, outings};
use super::work_limits::{Above, Carries, above, carries};

/// Said wherever stand-ins are shown.
pub const WHO_CHOOSES: &str = "The equine professional chooses the horse; this list only helps to look.";

/// Each horse that fits is tried in a plan of its own, while somebody waits: so each gets a part of what a day is worth.
const SHARE_OF_EFFORT: u64 = 6;
const LEAST_EFFORT: u64 = 500;
const MOST_EFFORT: u64 = 4_000;

/// A horse for a ride.
#[derive(Clone, PartialEq, Debug, Serialize)]
pub struct StandIn {
    /// Which horse.
    pub horse: HorseId,
    /// Its barn name.
    pub name: String,
    /// Nothing that is written down speaks against it.
    pub fits: bool,
    /// Whether it can carry what the ride needs.
    pub carries: Carries,
    /// Everything that speaks against it.
    pub why_not: Vec<Reason>,
    /// What to mind all the same.
    pub cautions: Vec<Caution>,
    /// What it costs the plan; none where it does not fit.
    pub cost: Option<Cost>,
}

/// Why a horse does not fit.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Debug, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Reason {
    /// It does no more work today.
    Scratched,
    /// It is away.
    Away {
        /// Why.
        why: String,
        /// From when.
        from: TimeOfDay,
        /// Until when.
        to: TimeOfDay,
    },
    /// It is in another ride.
    Ridden {
        /// Where.
        place: String,
        /// From when.
        from: TimeOfDay,
        /// Until when.
        to: TimeOfDay,
    },
    /// The ride needs more than it can carry.
    Load,
    /// It would be above the work that was set for it.
    Above(Above),
    /// It has no tack for that use.
    NoTack {
        /// Which use.
        usage: String,
    },
    /// The ride needs stirrups, and its tack has none.
    NoStirrups,
    /// Some of its tack is on another horse.
    TackTaken {
        /// What people call the pieces.
        pieces: Vec<String>,
        /// On which horse.
        on: String,
        /// From when.
        from: TimeOfDay,
        /// Until when it is off and dry.
        to: TimeOfDay,
    },
}

impl fmt::Display for Reason {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Reason::Scratched => write!(f, "does no more work today"),
            Reason::Away { why, from, to } => write!(f, "is away from {from} to {to} ({why})"),
            Reason::Ridden { place, from, to } => write!(f, "is ridden in the {place} from {from} to {to}"),
            Reason::Load => write!(f, "can not carry what the ride needs"),
            Reason::Above(above) => write!(f, "would have {above} set by the equine professional"),
            Reason::NoTack { usage } => write!(f, "has no tack for {usage}"),
            Reason::NoStirrups => write!(f, "has no stirrups, which the ride needs"),
            Reason::TackTaken { pieces, on, from, to } => {
                let are = if pieces.len() == 1 { "is" } else { "are" };
                write!(f, "{} {are} on {on} from {from} to {to}", pieces.join(", "))
            }
        }
    }
}

/// What to mind with a horse that fits.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Caution {
    /// Nobody has written down what the ride needs, or what the horse may carry.
    LoadNotKnown,
    /// It is hot: whether any horse works is for the equine professional and the vet to say.
    Heat(HeatBand),
}

impl fmt::Display for Caution {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Caution::LoadNotKnown => write!(f, "whether it can carry what the ride needs is not known"),
            Caution::Heat(HeatBand::Stop) => write!(f, "in this heat choose another time"),
            Caution::Heat(_) => write!(f, "critical heat, to be monitored"),
        }
    }
}

/// What a plan with the horse costs more than one without the ride.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Cost {
    /// In the plan's own units.
    pub units: i64,
    /// How many more outings are missed.
    pub missed: i64,
    /// How many more calls for staff.
    pub staff_calls: i64,
    /// How many more minutes horses are tacked late.
    pub minutes_late: i64,
}

impl fmt::Display for Cost {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut parts = Vec::new();
        for (more, one, many) in [
            (self.missed, "ride missed", "rides missed"),
            (self.staff_calls, "call for staff", "calls for staff"),
            (self.minutes_late, "minute late", "minutes late"),
        ] {
            if more != 0 {
                let (than, what) = (if more > 0 { "more" } else { "fewer" }, if more.abs() == 1 { one } else { many });
                parts.push(format!("{} {than} {what}", more.abs()));
            }
        }
        if parts.is_empty() {
            parts.push("no more calls for staff, and nobody later".to_owned());
        }
        f.write_str(&parts.join(", "))
    }
}

/// Why there is no list.
#[derive(Clone, PartialEq, Debug)]
pub enum NoList {
    /// There is no such ride on that day.
    NoSuchRide,
    /// The day can not be planned.
    Faults(Vec<Fault>),
}

/// What is known of the ride's day and hour.
#[derive(Clone, Copy)]
pub struct Circumstances<'a> {
    /// Which day.
    pub day: LocalDay,
    /// What has happened, where the day is today.
    pub live: Option<&'a Live<'a>>,
    /// Horses that do no more work that day.
    pub scratched: &'a BTreeSet<HorseId>,
    /// The heat of the hour, where it is known.
    pub heat: Option<HeatBand>,
}

/// Every other horse for a ride, in order of fitness: those that fit before those that do not, then by what is to be minded,
/// by what they cost the plan, and by name. The ride's own horse is taken to do no more work that day.
///
/// # Errors
/// A ride that is not on that day, or a day that can not be planned.
pub fn stand_ins(known: &Known<'_>, at: &Circumstances<'_>, ride: &RideId) -> Result<Vec<StandIn>, NoList> {
    let (scratched, _) =
        known.book.rides_on(at.day.date()).into_iter().find(|(one, _)| one.id == *ride).ok_or(NoList::NoSuchRide)?;
    let resting: BTreeSet<HorseId> = at
        .scratched
        .iter()
        .chain(at.live.into_iter().flat_map(|live| live.scratched))
        .chain([&scratched.horse])
        .cloned()
        .collect();
    let live = at.live.map(|live| Live { scratched: &resting, ..*live });
    let at = &Circumstances { live: live.as_ref(), scratched: &resting, ..*at };
    // Today the day itself leaves out the rides of horses that rest, and keeps what they have on.
    let mut book = if at.live.is_some() { known.book.clone() } else { without(known.book, &resting) };
    // Whoever goes instead by now is tried like the others.
    for own in known.book.horses.keys().map(|horse| ride_on(ride, horse)) {
        if book.rides.get(&own).is_some_and(|ride| ride.only.is_some()) {
            book.rides.remove(&own);
        }
    }
    let base = Tried::of(&Known { book: &book, ..*known }, at)?;
    let mut list = Vec::new();
    for horse in known.book.horses.values().filter(|horse| horse.id != scratched.horse) {
        let ride = scratched.on(&horse.id, at.day.date());
        book.rides.insert(ride.id.clone(), ride.clone());
        let known = Known { book: &book, ..*known };
        let why_not = why_not(&known, at, horse, &ride);
        let fits = why_not.is_empty();
        let carries = carries(horse, &ride);
        let cost = if fits { Some(Tried::of(&known, at)?.more_than(&base)) } else { None };
        let cautions = cautions(at, carries);
        list.push(StandIn {
            horse: horse.id.clone(),
            name: horse.name.clone(),
            fits,
            carries,
            why_not,
            cautions,
            cost,
        });
        book.rides.remove(&ride.id);
    }
    list.sort_by(|a, b| {
        let key = |one: &StandIn| {
            (!one.fits, one.why_not.len(), one.cautions.len(), one.cost.map(|cost| cost.units), one.name.clone())
        };
        key(a).cmp(&key(b))
    });
    Ok(list)
}

/// What speaks against a horse for a ride of today; none where the book has no such ride or horse.
pub fn against(
    known: &Known<'_>,
    day: LocalDay,
    live: &Live<'_>,
    ride: &RideId,
    horse: &HorseId,
) -> Option<Vec<Reason>> {
    let (written, horse) = (known.book.rides.get(ride)?, known.book.horses.get(horse)?);
    let own = written.on(&horse.id, day.date());
    let mut book = known.book.clone();
    book.rides.insert(own.id.clone(), own.clone());
    let at = Circumstances { day, live: Some(live), scratched: live.scratched, heat: None };
    Some(why_not(&Known { book: &book, ..*known }, &at, horse, &own))
}

/// The book with no ride for these horses.
fn without(book: &Book, resting: &BTreeSet<HorseId>) -> Book {
    let rides = book.rides.iter().filter(|(_, ride)| !resting.contains(&ride.horse));
    Book { rides: rides.map(|(id, ride)| (id.clone(), ride.clone())).collect(), ..book.clone() }
}

fn cautions(at: &Circumstances<'_>, carries: Carries) -> Vec<Caution> {
    let load = (carries == Carries::NotKnown).then_some(Caution::LoadNotKnown);
    let heat = at.heat.filter(|band| *band >= HeatBand::Critical).map(Caution::Heat);
    load.into_iter().chain(heat).collect()
}

/// All that speaks against a horse for a ride that the book gives it.
fn why_not(known: &Known<'_>, at: &Circumstances<'_>, horse: &Horse, ride: &Ride) -> Vec<Reason> {
    let (book, day) = (known.book, at.day);
    let stay = i64::from(known.limits.plan.stay_tacked.0);
    let outings = outings(book, day, stay, &|one| one.dismount);
    let own = outings.iter().flat_map(|outing| &outing.rides).find(|one| one.ride.id == ride.id);
    let mut reasons = Vec::new();
    if at.scratched.contains(&horse.id) {
        reasons.push(Reason::Scratched);
    }
    for away in book.away.iter().filter(|away| away.horse == horse.id && away.days.include(day.date())) {
        let span = (day.minute_of(away.from), day.minute_of(away.to));
        if own.is_some_and(|own| overlap(span, ridden(own))) {
            reasons.push(Reason::Away { why: away.why.clone(), from: away.from, to: away.to });
        }
    }
    for (one, other) in in_two_places(&outings) {
        let other = match (one.ride.id == ride.id, other.ride.id == ride.id) {
            (true, _) => other,
            (_, true) => one,
            _ => continue,
        };
        let (from, to) = (day.time(other.mount), day.time(other.dismount));
        reasons.push(Reason::Ridden { place: other.lesson.place.clone(), from, to });
    }
    if carries(horse, ride) == Carries::No {
        reasons.push(Reason::Load);
    }
    reasons.extend(above(book, day.date(), &outings, horse).into_iter().map(|(above, _)| Reason::Above(above)));
    if book.tack_for(&horse.id, &ride.usage).is_empty() {
        reasons.push(Reason::NoTack { usage: ride.usage.clone() });
    } else if ride.stirrups.is_some() && !has_stirrups(book, ride) {
        reasons.push(Reason::NoStirrups);
    }
    let in_use = at.live.map_or_else(|| outings.clone(), |live| known.standing(live));
    for clash in clashes(known, &in_use) {
        let with_it = |outing: &Outing<'_>| outing.rides.iter().any(|one| one.ride.id == ride.id);
        let (other, span) = match (with_it(clash.first), with_it(clash.second)) {
            (true, _) => (clash.second, clash.needed),
            (_, true) => (clash.first, clash.in_use),
            _ => continue,
        };
        let pieces = clash.pieces.iter().map(|piece| piece.name.clone()).collect();
        let on = other.horse.name.clone();
        reasons.push(Reason::TackTaken { pieces, on, from: day.time(span.0), to: day.time(span.1) });
    }
    reasons
}

/// A day as it was planned.
struct Tried {
    cost: i64,
    missed: i64,
    staff_calls: i64,
    minutes_late: i64,
}

impl Tried {
    fn of(known: &Known<'_>, at: &Circumstances<'_>) -> Result<Tried, NoList> {
        let day = Day::checked(&day_file(known, at.day, at.live)).map_err(NoList::Faults)?;
        let effort = Effort((Effort::for_day(&day).0 / SHARE_OF_EFFORT).clamp(LEAST_EFFORT, MOST_EFFORT));
        let plan = plan(&day, effort, &mut || true);
        let mut tried = Tried { cost: plan.cost(), missed: 0, staff_calls: 0, minutes_late: 0 };
        for (outing, tasks) in day.outings.iter().zip(&plan.tasks) {
            let Some(tasks) = tasks else {
                tried.missed += 1;
                continue;
            };
            let called =
                |job: &Job| outing.begun[*job as usize].is_none() && tasks[*job as usize].hand.groom().is_none();
            tried.staff_calls += JOBS.iter().filter(|job| called(job)).count() as i64;
            let tacked = day.end(outing, Job::Tack, tasks[Job::Tack as usize].start);
            tried.minutes_late += i64::from((tacked - outing.ready).max(0));
        }
        Ok(tried)
    }

    fn more_than(&self, base: &Tried) -> Cost {
        Cost {
            units: self.cost - base.cost,
            missed: self.missed - base.missed,
            staff_calls: self.staff_calls - base.staff_calls,
            minutes_late: self.minutes_late - base.minutes_late,
        }
    }
}
