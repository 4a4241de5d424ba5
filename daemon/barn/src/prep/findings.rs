//! What a person would curse at nine o'clock, found the day before: from the book alone, by rules that anybody could check
//! with a pencil. What takes a plan to find is in `hands`.
//!
//! Loads are told here in kilograms. That is for the office: no screen in the aisle shows a finding of that kind.

use std::fmt;

use serde::Serialize;

use crate::book::{Book, Horse, Ride, TackKind};
use crate::id::RideId;
use crate::time::{LocalDay, TimeOfDay};

use super::clashes::{Clash, clashes, in_two_places, overlap, ridden};
use super::day::Known;
use super::outing::{Mounted, Outing, outings};
use super::work_limits::{Carries, above, carries};

/// What kind of thing is wrong.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// A horse is ridden in two places at a time.
    TwoPlaces,
    /// A horse is ridden while it is away.
    Away,
    /// Two horses need a piece of tack at a time.
    TackTwice,
    /// A ride has stirrup lengths, and its horse no stirrups for that use.
    NoStirrups,
    /// A horse is above the limits of work that its equine professional has set.
    AboveLimits,
    /// A horse carries more than its equine professional has set.
    Load,
    /// Nobody is on the shift sheet.
    Nobody,
    /// Nobody who is there is cleared for the horse.
    NobodyCleared,
    /// A horse is not ready at its mount time however people work.
    Missed,
    /// Somebody of the staff has to help.
    Staff,
    /// A horse is tacked late.
    Late,
    /// A horse stands under its tack after a ride for longer than it may.
    Standing,
}

/// Something that is wrong with a day.
#[derive(Clone, PartialEq, Eq, Debug, Serialize)]
pub struct Finding {
    /// When it comes to bear.
    pub from: TimeOfDay,
    /// Until when; none where it is a moment, or the whole day that is above a limit.
    pub to: Option<TimeOfDay>,
    /// What kind of thing it is.
    pub kind: Kind,
    /// What is wrong, with what, where.
    pub what: String,
    /// What would do.
    pub remedy: String,
    /// The rides it is about.
    pub rides: Vec<RideId>,
}

/// One line: when, what, what would do.
impl fmt::Display for Finding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.from)?;
        if let Some(to) = self.to {
            write!(f, "-{to}")?;
        }
        write!(f, " {}; what would do: {}", self.what, self.remedy)
    }
}

/// Puts findings in the order in which they are told: by time, then kind, then words.
pub(super) fn in_order(findings: &mut [Finding]) {
    findings.sort_by(|a, b| (a.from, a.kind, &a.what).cmp(&(b.from, b.kind, &b.what)));
}

/// What is wrong with a day by the book alone, in order of time.
pub fn findings(known: &Known<'_>, day: LocalDay) -> Vec<Finding> {
    let stay = i64::from(known.limits.plan.stay_tacked.0);
    let outings = outings(known.book, day, stay, &|ride| ride.dismount);
    let mut found = tack_twice(known, day, &outings);
    found.extend(two_places(day, &outings));
    found.extend(ridden_while_away(known.book, day, &outings));
    found.extend(no_stirrups(known.book, day, &outings));
    found.extend(above_limits(known.book, day, &outings));
    found.extend(loads(day, &outings));
    in_order(&mut found);
    found
}

fn tack_twice(known: &Known<'_>, day: LocalDay, outings: &[Outing<'_>]) -> Vec<Finding> {
    let at = |minute| day.time(minute);
    let finding = |clash: Clash<'_, '_>| {
        let pieces: Vec<String> =
            clash.pieces.iter().map(|piece| format!("{} ({})", piece.name, piece.place)).collect();
        let (are, another) = if pieces.len() == 1 { ("is", "another piece") } else { ("are", "other pieces") };
        Finding {
            from: at(clash.in_use.0.max(clash.needed.0)),
            to: Some(at(clash.in_use.1.min(clash.needed.1))),
            kind: Kind::TackTwice,
            what: format!(
                "{} {are} needed twice: on {} from {} to {}, and on {} from {} to {}",
                pieces.join(", "),
                clash.first.horse.name,
                at(clash.in_use.0),
                at(clash.in_use.1),
                clash.second.horse.name,
                at(clash.needed.0),
                at(clash.needed.1)
            ),
            remedy: format!(
                "{another} for {}, or its lesson {} minutes later",
                clash.second.horse.name,
                clash.in_use.1 - clash.needed.0
            ),
            rides: vec![clash.first.first().ride.id.clone(), clash.second.first().ride.id.clone()],
        }
    };
    clashes(known, outings).into_iter().map(finding).collect()
}

fn two_places(day: LocalDay, outings: &[Outing<'_>]) -> Vec<Finding> {
    let horse = |ride: &RideId| outings.iter().find(|o| o.rides.iter().any(|one| one.ride.id == *ride));
    let finding = |(one, other): (&Mounted<'_>, &Mounted<'_>)| {
        let name = horse(&one.ride.id).map_or("a horse", |outing| outing.horse.name.as_str());
        Finding {
            from: day.time(other.mount),
            to: Some(day.time(one.dismount.min(other.dismount))),
            kind: Kind::TwoPlaces,
            what: format!(
                "{name} is in two places: in the {} from {} and in the {} from {}",
                one.lesson.place,
                day.time(one.mount),
                other.lesson.place,
                day.time(other.mount)
            ),
            remedy: "another horse for one of them, or one of them at another time".to_owned(),
            rides: vec![one.ride.id.clone(), other.ride.id.clone()],
        }
    };
    in_two_places(outings).into_iter().map(finding).collect()
}

fn ridden_while_away(book: &Book, day: LocalDay, outings: &[Outing<'_>]) -> Vec<Finding> {
    let mut found = Vec::new();
    for outing in outings {
        for ride in &outing.rides {
            let today = book.away.iter().filter(|away| away.horse == outing.horse.id && away.days.include(day.date()));
            for away in today {
                let span = (day.minute_of(away.from), day.minute_of(away.to));
                if !overlap(span, ridden(ride)) {
                    continue;
                }
                found.push(Finding {
                    from: day.time(ride.mount.max(span.0)),
                    to: Some(day.time(ride.dismount.min(span.1))),
                    kind: Kind::Away,
                    what: format!(
                        "{} is away from {} to {} ({}) and ridden in the {} from {} to {}",
                        outing.horse.name,
                        away.from,
                        away.to,
                        away.why,
                        ride.lesson.place,
                        day.time(ride.mount),
                        day.time(ride.dismount)
                    ),
                    remedy: "another horse for the ride, or another time for one of the two".to_owned(),
                    rides: vec![ride.ride.id.clone()],
                });
            }
        }
    }
    found
}

fn no_stirrups(book: &Book, day: LocalDay, outings: &[Outing<'_>]) -> Vec<Finding> {
    let rides = outings.iter().flat_map(|outing| outing.rides.iter().map(move |ride| (outing, ride)));
    let without = rides.filter(|(_, one)| one.ride.stirrups.is_some() && !has_stirrups(book, one.ride));
    let finding = |(outing, one): (&Outing<'_>, &Mounted<'_>)| Finding {
        from: day.time(one.mount),
        to: None,
        kind: Kind::NoStirrups,
        what: format!(
            "{} is ridden with stirrups in the {} and has none among its tack for {}",
            outing.horse.name, one.lesson.place, one.ride.usage
        ),
        remedy: format!("a pair of stirrups in fits.csv for {} and {}", outing.horse.id, one.ride.usage),
        rides: vec![one.ride.id.clone()],
    };
    without.map(finding).collect()
}

/// Whether the horse of a ride has stirrups among its tack for it.
pub(super) fn has_stirrups(book: &Book, ride: &Ride) -> bool {
    book.tack_for(&ride.horse, &ride.usage).iter().any(|(_, tack)| tack.kind == TackKind::Stirrups)
}

fn above_limits(book: &Book, day: LocalDay, outings: &[Outing<'_>]) -> Vec<Finding> {
    let mut horses: Vec<_> = outings.iter().map(|outing| outing.horse).collect();
    horses.sort_by(|a, b| a.id.cmp(&b.id));
    horses.dedup_by(|a, b| a.id == b.id);
    let mut found = Vec::new();
    for horse in horses {
        for (above, ride) in above(book, day.date(), outings, horse) {
            found.push(Finding {
                from: day.time(ride.mount),
                to: None,
                kind: Kind::AboveLimits,
                what: format!("{} has {above} set by the equine professional", horse.name),
                remedy: "another horse for a ride; the equine professional decides".to_owned(),
                rides: vec![ride.ride.id.clone()],
            });
        }
    }
    found
}

fn loads(day: LocalDay, outings: &[Outing<'_>]) -> Vec<Finding> {
    let rides = outings.iter().flat_map(|outing| outing.rides.iter().map(move |ride| (outing.horse, ride)));
    let finding = |(horse, one): (&Horse, &Mounted<'_>)| {
        let (load, most) = (one.ride.load?, horse.most.load?);
        (carries(horse, one.ride) == Carries::No).then(|| Finding {
            from: day.time(one.mount),
            to: None,
            kind: Kind::Load,
            what: format!(
                "{} carries {load} in the {}, above the {most} set by the equine professional",
                horse.name, one.lesson.place
            ),
            remedy: "another horse for the ride; the equine professional decides".to_owned(),
            rides: vec![one.ride.id.clone()],
        })
    };
    rides.filter_map(finding).collect()
}
