//! How much work a horse is given on a day, held against what its equine professional has set. What is not set is not
//! limited here, and nothing here decides: it says what is above, and whose word counts.

use std::fmt;

use chrono::{NaiveDate, Weekday};
use serde::Serialize;

use crate::book::{Book, Horse, Ride};
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
    if let Some(most) = most.rides_a_day
        && let Some(ride) = rides.get(usize::from(most))
    {
        found.push((Above::RidesADay { rides: rides.len() as u32, most: most.into() }, *ride));
    }
    if let Some(most) = most.minutes_in_a_row {
        for outing in &own {
            if let Some((minutes, ride)) = reached(outing.rides.iter(), most.0) {
                found.push((Above::MinutesInARow { minutes, most: most.0 }, ride));
            }
        }
    }
    if let Some(most) = most.minutes_a_day
        && let Some((minutes, ride)) = reached(rides.iter().copied(), most.0)
    {
        found.push((Above::MinutesADay { minutes, most: most.0 }, ride));
    }
    if let Some(most) = most.days_a_week {
        let days = days_of_work(book, &horse.id, date);
        if days > most.into() {
            found.push((Above::DaysAWeek { days, most: most.into() }, first));
        }
    }
    found
}

/// All minutes of riding, and the ride that takes them above `most`.
fn reached<'o, 'b>(rides: impl Iterator<Item = &'o Mounted<'b>>, most: u32) -> Option<(u32, &'o Mounted<'b>)>
where
    'b: 'o,
{
    let (mut minutes, mut above) = (0, None);
    for ride in rides {
        let (mount, dismount) = ridden(ride);
        minutes += dismount - mount;
        if minutes > i64::from(most) && above.is_none() {
            above = Some(ride);
        }
    }
    Some((u32::try_from(minutes).ok()?, above?))
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
