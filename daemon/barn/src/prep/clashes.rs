//! What can not be in two places at a time: a piece of tack, and a horse. From the book's times alone, before anybody plans.
//!
//! A piece is in use from the start of tacking up for the time at which its horse must be ready, through putting away, until
//! the disinfected girth is dry. Rides that are one outing are one use.

use crate::book::Tack;
use crate::plan::day::Job;

use super::day::Known;
use super::outing::{Mounted, Outing};

/// Minutes of the day, the end not included.
pub type Span = (i64, i64);

/// Whether two spans share time.
pub fn overlap(one: Span, other: Span) -> bool {
    one.0 < other.1 && other.0 < one.1
}

/// Tack that two horses need at a time.
#[derive(Clone, PartialEq, Debug)]
pub struct Clash<'b, 'o> {
    /// The pieces, in the order of their kinds; at least one.
    pub pieces: Vec<&'b Tack>,
    /// The outing that is ridden first.
    pub first: &'o Outing<'b>,
    /// The other one.
    pub second: &'o Outing<'b>,
    /// When the first needs the piece.
    pub in_use: Span,
    /// When the second does.
    pub needed: Span,
}

/// From when until when an outing's tack is in use.
pub fn in_use(known: &Known<'_>, outing: &Outing<'_>) -> Span {
    let plan = &known.limits.plan;
    let tack = minutes(known, outing, Job::Tack);
    let ready = outing.first().mount - i64::from(known.limits.lessons.ready_lead.0);
    (ready - tack, back(known, outing) + minutes(known, outing, Job::PutAway) + i64::from(plan.girth_dry.0))
}

/// When the horse is at its stall again after its last ride.
pub fn back(known: &Known<'_>, outing: &Outing<'_>) -> i64 {
    outing.last().dismount + i64::from(known.limits.plan.walk_back.0)
}

/// How long a job of an outing takes.
pub fn minutes(known: &Known<'_>, outing: &Outing<'_>, job: Job) -> i64 {
    known.habits.estimate(outing.horse, job, false).minutes.into()
}

/// What tack two horses need at a time, by the order of the outings. Two outings of one horse are no clash: its tack
/// is where it is.
pub fn clashes<'b, 'o>(known: &Known<'b>, outings: &'o [Outing<'b>]) -> Vec<Clash<'b, 'o>> {
    let mut clashes = Vec::new();
    for (i, first) in outings.iter().enumerate() {
        for second in &outings[i + 1..] {
            let (in_use, needed) = (in_use(known, first), in_use(known, second));
            if first.horse.id == second.horse.id || !overlap(in_use, needed) {
                continue;
            }
            let shared = first.gear.iter().filter(|piece| second.gear.contains(piece));
            let mut pieces: Vec<&Tack> = shared.filter_map(|piece| known.book.tack.get(*piece)).collect();
            pieces.sort_by_key(|piece| piece.kind);
            if !pieces.is_empty() {
                clashes.push(Clash { pieces, first, second, in_use, needed });
            }
        }
    }
    clashes
}

/// Two rides of one horse that share time, in order of mount.
pub fn in_two_places<'o, 'b>(outings: &'o [Outing<'b>]) -> Vec<(&'o Mounted<'b>, &'o Mounted<'b>)> {
    let rides: Vec<(&Outing<'b>, &Mounted<'b>)> =
        outings.iter().flat_map(|outing| outing.rides.iter().map(move |ride| (outing, ride))).collect();
    let mut pairs = Vec::new();
    for (i, (outing, ride)) in rides.iter().enumerate() {
        for (other, later) in &rides[i + 1..] {
            if outing.horse.id == other.horse.id && overlap(ridden(ride), ridden(later)) {
                pairs.push(if ride.mount <= later.mount { (*ride, *later) } else { (*later, *ride) });
            }
        }
    }
    pairs
}

/// While somebody rides.
pub fn ridden(ride: &Mounted<'_>) -> Span {
    (ride.mount, ride.dismount)
}
