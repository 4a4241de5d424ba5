//! The files of the book and their columns: the one list that reading, writing and the messages share. Units stand last
//! in a column's name.

/// A file of the book.
#[derive(Debug)]
pub(super) struct File {
    /// Its name in the folder.
    pub(super) name: &'static str,
    /// What a row of it is, for messages: "a stall".
    pub(super) row: &'static str,
    /// Its columns, in the order in which they are written. They may be read in any order.
    pub(super) columns: &'static [&'static str],
}

pub(super) const STALLS: File = File {
    name: "stalls.csv",
    row: "a stall",
    columns: &[
        "stall",
        "aisle",
        "side",
        "bucket_bottom_mm",
        "bucket_top_mm",
        "bucket_height_mm",
        "sensor_looks",
        "sensor_empty_mm",
    ],
};

pub(super) const HORSES: File = File {
    name: "horses.csv",
    row: "a horse",
    columns: &["horse", "name", "stall", "grade", "brush_min", "tack_min", "put_away_min", "notes"],
};

pub(super) const TACK: File =
    File { name: "tack.csv", row: "a piece of tack", columns: &["tack", "kind", "name", "size", "place"] };

pub(super) const FITS: File =
    File { name: "fits.csv", row: "a fit", columns: &["horse", "use", "order", "tack", "note"] };

pub(super) const PEOPLE: File =
    File { name: "people.csv", row: "a person", columns: &["person", "name", "role", "badge", "grade"] };

pub(super) const LESSONS: File = File {
    name: "lessons.csv",
    row: "a lesson",
    columns: &["lesson", "days", "start", "minutes", "instructor", "place"],
};

pub(super) const RIDES: File = File {
    name: "rides.csv",
    row: "a ride",
    columns: &["ride", "lesson", "horse", "use", "left_stirrup", "right_stirrup"],
};

pub(super) const CHORES: File =
    File { name: "chores.csv", row: "a chore", columns: &["chore", "name", "place", "days", "by"] };

/// The files in the order in which they are read: what is named comes before what names it.
pub(super) const FILES: [&File; 8] = [&STALLS, &HORSES, &TACK, &FITS, &PEOPLE, &LESSONS, &RIDES, &CHORES];
