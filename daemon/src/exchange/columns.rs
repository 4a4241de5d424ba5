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
    /// Those of them that may be left out: a column that is not there reads as one of empty cells. Sheets written before
    /// there were such columns stay readable.
    pub(super) optional: &'static [&'static str],
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
    optional: &[],
};

pub(super) const HORSES: File = File {
    name: "horses.csv",
    row: "a horse",
    columns: &[
        "horse",
        "name",
        "stall",
        "grade",
        "brush_min",
        "tack_min",
        "put_away_min",
        "notes",
        "rides_a_day",
        "minutes_in_a_row",
        "minutes_a_day",
        "days_a_week",
        "load_kg",
        "weight_kg",
        "height_hands",
        "resting_temp_c",
        "resting_pulse",
        "resting_breaths",
    ],
    optional: &[
        "rides_a_day",
        "minutes_in_a_row",
        "minutes_a_day",
        "days_a_week",
        "load_kg",
        "weight_kg",
        "height_hands",
        "resting_temp_c",
        "resting_pulse",
        "resting_breaths",
    ],
};

pub(super) const TACK: File = File {
    name: "tack.csv",
    row: "a piece of tack",
    columns: &["tack", "kind", "name", "size", "place"],
    optional: &[],
};

pub(super) const FITS: File =
    File { name: "fits.csv", row: "a fit", columns: &["horse", "use", "order", "tack", "note"], optional: &[] };

pub(super) const PEOPLE: File =
    File { name: "people.csv", row: "a person", columns: &["person", "name", "role", "badge", "grade"], optional: &[] };

pub(super) const LESSONS: File = File {
    name: "lessons.csv",
    row: "a lesson",
    columns: &["lesson", "days", "start", "minutes", "instructor", "place"],
    optional: &[],
};

pub(super) const RIDES: File = File {
    name: "rides.csv",
    row: "a ride",
    columns: &["ride", "lesson", "horse", "use", "left_stirrup", "right_stirrup", "load_kg"],
    optional: &["load_kg"],
};

pub(super) const CHORES: File =
    File { name: "chores.csv", row: "a chore", columns: &["chore", "name", "place", "days", "by"], optional: &[] };

pub(super) const SHIFTS: File =
    File { name: "shifts.csv", row: "a shift", columns: &["person", "days", "from", "to"], optional: &[] };

pub(super) const AWAY: File =
    File { name: "away.csv", row: "an absence", columns: &["horse", "days", "from", "to", "why"], optional: &[] };

/// The files in the order in which they are read: what is named comes before what names it.
pub(super) const FILES: [&File; 10] =
    [&STALLS, &HORSES, &TACK, &FITS, &PEOPLE, &LESSONS, &RIDES, &CHORES, &SHIFTS, &AWAY];
