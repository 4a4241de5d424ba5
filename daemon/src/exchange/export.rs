//! The book as CSV files again, to be mended in a spreadsheet and read back. What is written here reads back equal.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use bellmare_barn::book::{Book, Days, Gauge, Stall};
use bellmare_barn::units::{Celsius, Kilograms, PerMinute};
use thiserror::Error;

use super::cells::WEEKDAYS;
use super::columns::FILES;
use super::reader::{KINDS, LOOKS, Looks, ROLES, SIDES};

/// A file of the book could not be written.
#[derive(Debug, Error)]
#[error("writing {}", path.display())]
pub struct ExportError {
    /// Which.
    pub path: PathBuf,
    /// Why.
    pub source: io::Error,
}

/// Writes the book's ten files into a folder, which is made where it is not there. Files of these names are
/// replaced, each whole or not at all. RFC 4180: commas, CRLF, quotes where needed; in UTF-8 with a byte-order mark,
/// as without one spreadsheets spoil the accents in names.
///
/// # Errors
/// The first file that could not be written; those before it are.
pub fn export_book(dir: &Path, book: &Book) -> Result<(), ExportError> {
    fs::create_dir_all(dir).map_err(|source| ExportError { path: dir.to_owned(), source })?;
    for (name, rows) in rows(book) {
        let path = dir.join(name);
        let beside = dir.join(format!("{name}.new"));
        let written =
            write(&rows).and_then(|bytes| fs::write(&beside, bytes)).and_then(|()| fs::rename(&beside, &path));
        written.map_err(|source| ExportError { path, source })?;
    }
    Ok(())
}

fn write(rows: &[Vec<String>]) -> io::Result<Vec<u8>> {
    let mut writer =
        csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer("\u{feff}".as_bytes().to_vec());
    for row in rows {
        writer.write_record(row)?;
    }
    writer.into_inner().map_err(csv::IntoInnerError::into_error)
}

/// Each file with its rows of cells, headings first.
pub(super) fn rows(book: &Book) -> [(&'static str, Vec<Vec<String>>); 10] {
    let tables = [
        stalls(book),
        horses(book),
        tack(book),
        fits(book),
        people(book),
        lessons(book),
        rides(book),
        chores(book),
        shifts(book),
        away(book),
    ];
    let mut tables = tables.into_iter();
    FILES.map(|file| {
        let headings = file.columns.iter().map(|column| (*column).to_owned()).collect();
        let mut rows = vec![headings];
        rows.extend(tables.next().into_iter().flatten());
        (file.name, rows)
    })
}

type Cells = Vec<String>;

fn stalls(book: &Book) -> Vec<Cells> {
    book.stalls.iter().map(stall).collect()
}

fn stall(stall: &Stall) -> Cells {
    let mut cells = vec![stall.id.to_string(), stall.aisle.clone(), word(SIDES, stall.side)];
    match stall.vessel {
        None => cells.extend(std::iter::repeat_n(String::new(), 5)),
        Some(vessel) => {
            let (looks, reads_empty) = match vessel.gauge {
                Gauge::Down { to_bottom } => (Looks::Down, to_bottom),
                Gauge::Up { at_bottom } => (Looks::Up, at_bottom),
            };
            cells.extend([vessel.bottom, vessel.top, vessel.height].map(|length| length.get().to_string()));
            cells.extend([word(LOOKS, looks), reads_empty.get().to_string()]);
        }
    }
    cells
}

fn horses(book: &Book) -> Vec<Cells> {
    let row = |horse: &bellmare_barn::book::Horse| {
        vec![
            horse.id.to_string(),
            horse.name.clone(),
            horse.stall.to_string(),
            horse.grade.to_string(),
            horse.minutes.brush.0.to_string(),
            horse.minutes.tack.0.to_string(),
            horse.minutes.put_away.0.to_string(),
            horse.notes.join("\n"),
            number(horse.most.rides_a_day),
            number(horse.most.minutes_in_a_row.map(|minutes| minutes.0)),
            number(horse.most.minutes_a_day.map(|minutes| minutes.0)),
            number(horse.most.days_a_week),
            number(horse.most.load.map(Kilograms::get)),
            number(horse.weight.map(Kilograms::get)),
            number(horse.height),
            number(horse.resting.temperature.map(Celsius::get)),
            number(horse.resting.pulse.map(PerMinute::get)),
            number(horse.resting.breaths.map(PerMinute::get)),
        ]
    };
    book.horses.values().map(row).collect()
}

fn tack(book: &Book) -> Vec<Cells> {
    let row = |tack: &bellmare_barn::book::Tack| {
        vec![tack.id.to_string(), word(KINDS, tack.kind), tack.name.clone(), tack.size.clone(), tack.place.clone()]
    };
    book.tack.values().map(row).collect()
}

fn fits(book: &Book) -> Vec<Cells> {
    let row = |fit: &bellmare_barn::book::Fit| {
        vec![fit.horse.to_string(), fit.usage.clone(), fit.order.to_string(), fit.tack.to_string(), fit.note.clone()]
    };
    book.fits.iter().map(row).collect()
}

fn people(book: &Book) -> Vec<Cells> {
    let row = |person: &bellmare_barn::book::Person| {
        vec![
            person.id.to_string(),
            person.name.clone(),
            word(ROLES, person.role),
            person.badge.as_ref().map(ToString::to_string).unwrap_or_default(),
            person.grade.to_string(),
        ]
    };
    book.people.values().map(row).collect()
}

fn lessons(book: &Book) -> Vec<Cells> {
    let row = |lesson: &bellmare_barn::book::Lesson| {
        vec![
            lesson.id.to_string(),
            days(&lesson.days),
            lesson.start.to_string(),
            lesson.minutes.0.to_string(),
            lesson.instructor.to_string(),
            lesson.place.clone(),
        ]
    };
    book.lessons.values().map(row).collect()
}

fn rides(book: &Book) -> Vec<Cells> {
    let row = |ride: &bellmare_barn::book::Ride| {
        vec![
            ride.id.to_string(),
            ride.lesson.to_string(),
            ride.horse.to_string(),
            ride.usage.clone(),
            number(ride.stirrups.map(|stirrups| stirrups.left)),
            number(ride.stirrups.map(|stirrups| stirrups.right)),
            number(ride.load.map(Kilograms::get)),
        ]
    };
    book.rides.values().map(row).collect()
}

fn chores(book: &Book) -> Vec<Cells> {
    let row = |chore: &bellmare_barn::book::Chore| {
        vec![chore.id.to_string(), chore.name.clone(), chore.place.clone(), days(&chore.days), chore.by.to_string()]
    };
    book.chores.values().map(row).collect()
}

fn shifts(book: &Book) -> Vec<Cells> {
    let row = |shift: &bellmare_barn::book::Expected| {
        vec![shift.person.to_string(), days(&shift.days), shift.from.to_string(), shift.to.to_string()]
    };
    book.shifts.iter().map(row).collect()
}

fn away(book: &Book) -> Vec<Cells> {
    let row = |away: &bellmare_barn::book::Away| {
        vec![away.horse.to_string(), days(&away.days), away.from.to_string(), away.to.to_string(), away.why.clone()]
    };
    book.away.iter().map(row).collect()
}

/// A number; an empty cell for none.
fn number<T: ToString>(value: Option<T>) -> String {
    value.map(|value| value.to_string()).unwrap_or_default()
}

fn days(days: &Days) -> String {
    match days {
        Days::On(date) => date.to_string(),
        Days::Weekly(week) => {
            week.iter().filter_map(|day| WEEKDAYS.get(usize::from(*day)).copied()).collect::<Vec<_>>().join(" ")
        }
    }
}

/// The word of a value; the lists are complete, which the round trip of every variant shows.
fn word<T: Copy + PartialEq>(words: &[(&'static str, T)], value: T) -> String {
    words.iter().find(|(_, known)| *known == value).map(|(word, _)| (*word).to_owned()).unwrap_or_default()
}
