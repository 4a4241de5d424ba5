//! The files that say when: the shift sheet, and when which horse is not to be had. Rows of one name may be many, but no
//! two of them share time on a day, as then it would not be clear which of them is meant.

use std::collections::BTreeMap;

use bellmare_barn::book::{Away, Book, Days, Expected};
use bellmare_barn::id::{HorseId, PersonId};
use bellmare_barn::time::TimeOfDay;

use super::cells::{Cells, ID_CHARS};
use super::faults::Faults;
use super::reader::{Known, each};
use super::sheet::Sheet;

/// More rows of one name than this are a slip, and each is held against the others.
const ROWS_OF_ONE: usize = 400;

/// A time on some days, and the line it stands in.
struct Row {
    days: Days,
    from: TimeOfDay,
    to: TimeOfDay,
    line: usize,
}

impl Row {
    fn meets(&self, other: &Row) -> bool {
        self.from < other.to && other.from < self.to && share_a_day(&self.days, &other.days)
    }
}

fn share_a_day(one: &Days, other: &Days) -> bool {
    match (one, other) {
        (Days::On(date), days) | (days, Days::On(date)) => days.include(*date),
        (Days::Weekly(one), Days::Weekly(other)) => one.iter().any(|day| other.contains(day)),
    }
}

/// The rows of each name so far.
#[derive(Default)]
struct Rows(BTreeMap<String, Vec<Row>>);

impl Rows {
    /// The row's days and times; a fault where they are wrong or meet an earlier row of that name.
    fn claim(&mut self, cells: &mut Cells, name: Option<&str>) -> Option<(Days, TimeOfDay, TimeOfDay)> {
        let (days, from, to) = (cells.days("days"), cells.time("from"), cells.time("to"));
        let (days, from, to) = (days?, from?, to?);
        if to <= from {
            cells.refuse("to", format!("a time later than the {from} of from, on the same day"));
            return None;
        }
        let name = name?;
        let row = Row { days: days.clone(), from, to, line: cells.row.line };
        let rows = self.0.entry(name.to_owned()).or_default();
        if rows.len() >= ROWS_OF_ONE {
            cells.refuse("days", format!("up to {ROWS_OF_ONE} rows of one name"));
            return None;
        }
        let met = rows.iter().find(|other| other.meets(&row)).map(|other| (other.line, other.from, other.to));
        if let Some((line, from, to)) = met {
            let allowed = format!("a time of its own; line {line} has {name} from {from} to {to} on such a day");
            cells.refuse("from", allowed);
            return None;
        }
        rows.push(row);
        Some((days, from, to))
    }
}

pub(super) fn read_shifts(sheet: Option<&Sheet>, faults: &mut Faults, book: &mut Book, people: &Known) {
    let mut rows = Rows::default();
    each(sheet, faults, |cells| {
        if cells.row.ragged {
            return None;
        }
        let person = people.refer(cells, "person");
        let (days, from, to) = rows.claim(cells, person.as_deref())?;
        book.shifts.push(Expected { person: PersonId::new(person?), days, from, to });
        Some(())
    });
}

pub(super) fn read_away(sheet: Option<&Sheet>, faults: &mut Faults, book: &mut Book, horses: &Known) {
    let mut rows = Rows::default();
    each(sheet, faults, |cells| {
        if cells.row.ragged {
            return None;
        }
        let horse = horses.refer(cells, "horse");
        let time = rows.claim(cells, horse.as_deref());
        let why = cells.filled("why", ID_CHARS);
        let (days, from, to) = time?;
        book.away.push(Away { horse: HorseId::new(horse?), days, from, to, why: why? });
        Some(())
    });
}
