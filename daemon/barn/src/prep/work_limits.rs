//! How much work a horse is given on a day, held against what its equine professional has set. What is not set is not
//! limited here, and nothing here decides: it says what is above, and whose word counts.

use std::fmt;

use chrono::{NaiveDate, Weekday};
use serde::Serialize;

use crate::book::{Book, Horse, Ride, WorkLimits};
use crate::id::HorseId;

use super::clashes::ridden;
use super::outing::{Mounted, Outing};

/// A limit that a day's work is above.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Above {
    /// Rides in the day.
    RidesADay {
        /// How many it has.
        rides: u32,
        /// How many were set.
        most: u32,
    },
    /// Minutes of riding without a rest.
    MinutesInARow {
        /// How many they are.
        minutes: u32,
        /// How many were set.
        most: u32,
    },
    /// Minutes of riding in the day.
    MinutesADay {
        /// How many they are.
        minutes: u32,
        /// How many were set.
        most: u32,
    },
    /// Days of work in the week, Monday to Sunday.
    DaysAWeek {
        /// How many they are.
        days: u32,
        /// How many were set.
        most: u32,
    },
}

/// Each: what is above its limit, where one was set.
impl Above {
    /// Rides in the day.
    pub fn rides_a_day(rides: u32, most: &WorkLimits) -> Option<Above> {
        let most = most.rides_a_day?.into();
        (rides > most).then_some(Above::RidesADay { rides, most })
    }

    /// Minutes of riding without a rest.
    pub fn minutes_in_a_row(minutes: u32, most: &WorkLimits) -> Option<Above> {
        let most = most.minutes_in_a_row?.0;
        (minutes > most).then_some(Above::MinutesInARow { minutes, most })
    }

    /// Minutes of riding in the day.
    pub fn minutes_a_day(minutes: u32, most: &WorkLimits) -> Option<Above> {
        let most = most.minutes_a_day?.0;
        (minutes > most).then_some(Above::MinutesADay { minutes, most })
    }

    /// Days of work in the week.
    pub fn days_a_week(days: u32, most: &WorkLimits) -> Option<Above> {
        let most = most.days_a_week?.into();
        (days > most).then_some(Above::DaysAWeek { days, most })
    }
}

impl fmt::Display for Above {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Above::RidesADay { rides, most } => write!(f, "{rides} rides a day, above the {most}"),
            Above::MinutesInARow { minutes, most } => write!(f, "{minutes} minutes in a row, above the {most}"),
            Above::MinutesADay { minutes, most } => write!(f, "{minutes} minutes a day, above the {most}"),
            Above::DaysAWeek { days, most } => write!(f, "{days} days of work in the week, above the {most}"),
        }
    }
}

/// What a horse's day is above, and the ride with which it gets there.
pub fn above<'o, 'b>(
    book: &Book,
    date: NaiveDate,
    outings: &'o [Outing<'b>],
    horse: &Horse,
) -> Vec<(Above, &'o Mounted<'b>)> {
    let own: Vec<&Outing<'b>> = outings.iter().filter(|outing| outing.horse.id == horse.id).collect();
    let rides: Vec<&Mounted<'b>> = own.iter().flat_map(|outing| &outing.rides).collect();
    let Some(&first) = rides.first() else { return Vec::new() };
    let most = &horse.most;
    let mut found = Vec::new();
    if let Some(above) = Above::rides_a_day(rides.len() as u32, most)
        && let Some(ride) = most.rides_a_day.and_then(|most| rides.get(usize::from(most)))
    {
        found.push((above, *ride));
    }
    for outing in &own {
        let is_above = |minutes| Above::minutes_in_a_row(minutes, most);
        found.extend(reached(outing.rides.iter(), is_above));
    }
    found.extend(reached(rides.iter().copied(), |minutes| Above::minutes_a_day(minutes, most)));
    found.extend(Above::days_a_week(days_of_work(book, &horse.id, date), most).map(|above| (above, first)));
    found
}

/// What all minutes of riding together are above, and the ride that takes them there.
fn reached<'o, 'b>(
    rides: impl Iterator<Item = &'o Mounted<'b>>,
    is_above: impl Fn(u32) -> Option<Above>,
) -> Option<(Above, &'o Mounted<'b>)>
where
    'b: 'o,
{
    let (mut minutes, mut first) = (0, None);
    for ride in rides {
        let (mount, dismount) = ridden(ride);
        minutes += u32::try_from(dismount - mount).unwrap_or(0);
        if is_above(minutes).is_some() && first.is_none() {
            first = Some(ride);
        }
    }
    Some((is_above(minutes)?, first?))
}

/// On how many days of that week, Monday to Sunday, a horse has a ride.
fn days_of_work(book: &Book, horse: &HorseId, date: NaiveDate) -> u32 {
    let monday = date.week(Weekday::Mon).first_day();
    let works = |day: &NaiveDate| book.rides_on(*day).iter().any(|(ride, _)| ride.horse == *horse);
    monday.iter_days().take(7).filter(works).count() as u32
}

/// Whether a horse can carry what a ride needs. An answer for people in the aisle too: it has no kilograms.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Carries {
    /// The load is within what was set for the horse.
    Yes,
    /// The ride's load, or the horse's, is not written down.
    NotKnown,
    /// It is above what was set.
    No,
}

/// Whether a horse can carry what a ride needs.
pub fn carries(horse: &Horse, ride: &Ride) -> Carries {
    match (ride.load, horse.most.load) {
        (Some(load), Some(most)) if load.get() <= most.get() => Carries::Yes,
        (Some(_), Some(_)) => Carries::No,
        _ => Carries::NotKnown,
    }
}
