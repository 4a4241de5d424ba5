//! `bellmare-hub check --day` and `stand-ins`: a day of the book looked at beforehand. For the office: loads are told here.

use std::collections::BTreeSet;
use std::path::Path;

use anyhow::bail;
use bellmare_barn::book::Book;
use bellmare_barn::id::RideId;
use bellmare_barn::limits::Limits;
use bellmare_barn::prep::hands::{DayLook, Hour, look};
use bellmare_barn::prep::stand_in::{Circumstances, NoList, StandIn, WHO_CHOOSES, stand_ins};
use bellmare_barn::prep::{Habits, Known};
use bellmare_hub::exchange;
use bellmare_hub::settings::Settings;
use chrono::NaiveDate;

/// The day of a book, and the limits it is held against.
pub(crate) struct DayOfBook {
    book: Book,
    limits: Limits,
    date: NaiveDate,
}

impl DayOfBook {
    /// Reads the book in `dir`. Without settings the limits are those proposed, and the zone is UTC.
    ///
    /// # Errors
    /// A book with faults, which are printed.
    pub(crate) fn read(dir: &Path, date: NaiveDate, settings: Option<Settings>) -> anyhow::Result<Self> {
        match exchange::read_book(dir) {
            Ok(book) => Ok(Self { book, limits: settings.map(|settings| settings.limits).unwrap_or_default(), date }),
            Err(faults) => {
                println!("{}", exchange::report(&faults));
                bail!("the book in {} has faults", dir.display())
            }
        }
    }

    /// Prints what is wrong with the day, a line each, and how many hands it takes.
    ///
    /// # Errors
    /// A day with something wrong.
    pub(crate) fn check(&self) -> anyhow::Result<()> {
        let habits = Habits::default();
        let known = Known { book: &self.book, limits: &self.limits, habits: &habits };
        let day = self.limits.zone.day(self.date);
        let DayLook { findings, hours } = look(&known, day).map_err(|faults| no_plan(&faults))?;
        let rides = self.book.rides_on(self.date).len();
        let rides = if rides == 1 { "1 ride".to_owned() } else { format!("{rides} rides") };
        println!("{}: {rides}.", self.date.format("%A %Y-%m-%d"));
        for finding in &findings {
            println!("{finding}");
        }
        print!("{}", table(&hours));
        match findings.len() {
            0 => {
                println!("Nothing wrong was found.");
                Ok(())
            }
            1 => bail!("1 thing is wrong with {}", self.date),
            many => bail!("{many} things are wrong with {}", self.date),
        }
    }

    /// Prints every other horse for a ride, those that fit first.
    ///
    /// # Errors
    /// A ride that is not on that day.
    pub(crate) fn stand_ins(&self, ride: &str) -> anyhow::Result<()> {
        let habits = Habits::default();
        let known = Known { book: &self.book, limits: &self.limits, habits: &habits };
        let scratched = BTreeSet::new();
        let at = Circumstances { day: self.limits.zone.day(self.date), live: None, scratched: &scratched, heat: None };
        let list = match stand_ins(&known, &at, &RideId::new(ride)) {
            Ok(list) => list,
            Err(NoList::Faults(faults)) => return Err(no_plan(&faults)),
            Err(NoList::NoSuchRide) => {
                let rides: Vec<&str> = self.book.rides_on(self.date).iter().map(|(ride, _)| ride.id.as_str()).collect();
                let on = if rides.is_empty() { "there is none".to_owned() } else { rides.join(", ") };
                bail!("{ride:?} is no ride on {}; allowed is one of that day: {on}", self.date)
            }
        };
        println!("{WHO_CHOOSES}");
        for one in &list {
            println!("{}", line(one));
        }
        Ok(())
    }
}

fn no_plan(faults: &[bellmare_barn::plan::Fault]) -> anyhow::Error {
    let list: Vec<String> = faults.iter().map(ToString::to_string).collect();
    anyhow::anyhow!(list.join("\n")).context("the day can not be planned")
}

fn table(hours: &[Hour]) -> String {
    if hours.is_empty() {
        return String::new();
    }
    let mut text = String::from("Grooms by hour:\n hour  on the sheet  needed\n");
    for Hour { from, on_sheet, needed } in hours {
        text += &format!("{from:>5}  {on_sheet:>12}  {needed:>6}\n", from = from.to_string());
    }
    text
}

fn line(one: &StandIn) -> String {
    let list = |words: Vec<String>| words.join("; ");
    let cautions: Vec<String> = one.cautions.iter().map(|caution| format!("mind: {caution}")).collect();
    if one.fits {
        let cost = one.cost.map(|cost| cost.to_string());
        format!("{} fits: {}", one.name, list(cost.into_iter().chain(cautions).collect()))
    } else {
        format!("{} does not fit: {}", one.name, list(one.why_not.iter().map(ToString::to_string).collect()))
    }
}

/// A date as the calendar of the office writes it.
pub(crate) fn date(text: &str) -> Result<NaiveDate, String> {
    NaiveDate::parse_from_str(text, "%Y-%m-%d").map_err(|_| "a date such as 2026-06-18".to_owned())
}
