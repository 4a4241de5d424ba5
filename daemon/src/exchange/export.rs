//! The book as CSV files again, to be mended in a spreadsheet and read back. What is written here reads back equal.

use std::collections::BTreeMap;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use bellmare_barn::book::{Book, Days, Gauge, Shape, Stall, Vessel, WaterPlace};
use bellmare_barn::language::Text;
use bellmare_barn::units::{Celsius, Kilograms, Millimetres, PerMinute};
use thiserror::Error;

use super::cells::WEEKDAYS;
use super::columns::{BUCKETS, FILES};
use super::reader::{KINDS, LANGUAGES, LOOKS, Looks, ROLES, SIDES};
use super::steps::{JOBS, YES_NO};

/// A file of the book could not be written.
#[derive(Debug, Error)]
#[error("writing {}", path.display())]
pub struct ExportError {
    /// Which.
    pub path: PathBuf,
    /// Why.
    pub source: io::Error,
}

/// Writes the book's twelve files into a folder, which is made where it is not there. Files of these names are
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
pub(super) fn rows(book: &Book) -> [(&'static str, Vec<Vec<String>>); 12] {
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
        buckets(book),
        steps(book),
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
    match &stall.vessel {
        Some(Vessel { shape: Shape::Round { bottom, top, height }, gauge }) => {
            cells.extend([bottom, top, height].map(|length| length.get().to_string()));
            cells.extend(looks(*gauge));
        }
        // Of another shape it stands in buckets.csv.
        _ => cells.extend(std::iter::repeat_n(String::new(), 5)),
    }
    cells
}

fn looks(gauge: Gauge) -> [String; 2] {
    let (looks, reads_empty) = match gauge {
        Gauge::Down { to_bottom } => (Looks::Down, to_bottom),
        Gauge::Up { at_bottom } => (Looks::Up, at_bottom),
    };
    [word(LOOKS, looks), reads_empty.get().to_string()]
}

fn buckets(book: &Book) -> Vec<Cells> {
    let own = book.stalls.iter().filter_map(|stall| match &stall.vessel {
        None | Some(Vessel { shape: Shape::Round { .. }, .. }) => None,
        Some(vessel) => Some(bucket("", &WaterPlace::Stall(stall.id.clone()), vessel)),
    });
    own.chain(book.buckets.iter().map(|one| bucket(one.id.as_str(), &one.at, &one.vessel))).collect()
}

fn bucket(name: &str, at: &WaterPlace, vessel: &Vessel) -> Cells {
    let (stall, paddock) = match at {
        WaterPlace::Stall(stall) => (stall.as_str(), ""),
        WaterPlace::Paddock(paddock) => ("", paddock.as_str()),
    };
    let mut measures = BTreeMap::new();
    let mut put = |column: &'static str, length: Millimetres| {
        measures.insert(column, length.get().to_string());
    };
    let shape = match &vessel.shape {
        Shape::Round { bottom, top, height } => {
            put("bottom_mm", *bottom);
            put("top_mm", *top);
            put("height_mm", *height);
            "round"
        }
        Shape::FlatBack { bottom, top, depth, height } => {
            put("bottom_mm", *bottom);
            put("top_mm", *top);
            put("depth_mm", *depth);
            put("height_mm", *height);
            "flat_back"
        }
        Shape::Trough { bottom_length, bottom_width, top_length, top_width, height } => {
            put("length_mm", *top_length);
            put("width_mm", *top_width);
            put("bottom_length_mm", *bottom_length);
            put("bottom_width_mm", *bottom_width);
            put("height_mm", *height);
            "trough"
        }
        Shape::Drum { across, long } => {
            put("length_mm", *long);
            put("height_mm", *across);
            "drum"
        }
        Shape::Table { table } => {
            let rows: Vec<String> =
                table.iter().map(|(level, litres)| format!("{}={}", level.get(), litres.get())).collect();
            measures.insert("table", rows.join("; "));
            "table"
        }
    };
    let [looks, reads_empty] = looks(vessel.gauge);
    let told = |column: &&'static str| match *column {
        "bucket" => name.to_owned(),
        "stall" => stall.to_owned(),
        "paddock" => paddock.to_owned(),
        "shape" => shape.to_owned(),
        "sensor_looks" => looks.clone(),
        "sensor_empty_mm" => reads_empty.clone(),
        measure => measures.get(measure).cloned().unwrap_or_default(),
    };
    BUCKETS.columns.iter().map(told).collect()
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
            horse.notes_spanish.join("\n"),
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
        vec![
            fit.horse.to_string(),
            fit.usage.clone(),
            fit.order.to_string(),
            fit.tack.to_string(),
            fit.note.clone(),
            fit.note_spanish.clone(),
        ]
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
            word(LANGUAGES, person.language),
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
        vec![
            chore.id.to_string(),
            chore.name.clone(),
            chore.name_spanish.clone(),
            chore.place.clone(),
            chore.place_spanish.clone(),
            days(&chore.days),
            chore.by.to_string(),
        ]
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

fn steps(book: &Book) -> Vec<Cells> {
    let row = |step: &bellmare_barn::book::JobStep| {
        let Text { english, spanish } = step.text.clone();
        vec![word(JOBS, step.job), step.order.to_string(), english, spanish, word(YES_NO, step.caution)]
    };
    book.steps.iter().map(row).collect()
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
