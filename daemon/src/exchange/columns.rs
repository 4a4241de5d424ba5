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
    /// True where the whole file may be left out: it has no rows then. Folders written before there was one stay readable.
    pub(super) may_be_missing: bool,
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
    may_be_missing: false,
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
        "notes_es",
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
        "notes_es",
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
    may_be_missing: false,
};

pub(super) const TACK: File = File {
    name: "tack.csv",
    row: "a piece of tack",
    columns: &["tack", "kind", "name", "size", "place"],
    optional: &[],
    may_be_missing: false,
};

pub(super) const FITS: File = File {
    name: "fits.csv",
    row: "a fit",
    columns: &["horse", "use", "order", "tack", "note", "note_es"],
    optional: &["note_es"],
    may_be_missing: false,
};

pub(super) const PEOPLE: File = File {
    name: "people.csv",
    row: "a person",
    columns: &["person", "name", "role", "badge", "grade", "language"],
    optional: &["language"],
    may_be_missing: false,
};

pub(super) const LESSONS: File = File {
    name: "lessons.csv",
    row: "a lesson",
    columns: &["lesson", "days", "start", "minutes", "instructor", "place"],
    optional: &[],
    may_be_missing: false,
};

pub(super) const RIDES: File = File {
    name: "rides.csv",
    row: "a ride",
    columns: &["ride", "lesson", "horse", "use", "left_stirrup", "right_stirrup", "load_kg"],
    optional: &["load_kg"],
    may_be_missing: false,
};

pub(super) const CHORES: File = File {
    name: "chores.csv",
    row: "a chore",
    columns: &["chore", "name", "name_es", "place", "place_es", "days", "by"],
    optional: &["name_es", "place_es"],
    may_be_missing: false,
};

pub(super) const SHIFTS: File = File {
    name: "shifts.csv",
    row: "a shift",
    columns: &["person", "days", "from", "to"],
    optional: &[],
    may_be_missing: false,
};

pub(super) const AWAY: File = File {
    name: "away.csv",
    row: "an absence",
    columns: &["horse", "days", "from", "to", "why"],
    optional: &[],
    may_be_missing: false,
};

pub(super) const BUCKETS: File = File {
    name: "buckets.csv",
    row: "a bucket",
    columns: &[
        "bucket",
        "stall",
        "paddock",
        "shape",
        "bottom_mm",
        "top_mm",
        "depth_mm",
        "length_mm",
        "width_mm",
        "bottom_length_mm",
        "bottom_width_mm",
        "height_mm",
        "table",
        "sensor_looks",
        "sensor_empty_mm",
    ],
    optional: &["depth_mm", "length_mm", "width_mm", "bottom_length_mm", "bottom_width_mm", "table"],
    may_be_missing: true,
};

pub(super) const STEPS: File = File {
    name: "steps.csv",
    row: "a step",
    columns: &["job", "order", "text", "text_es", "caution"],
    optional: &["text_es", "caution"],
    may_be_missing: true,
};

/// The files in the order in which they are read: what is named comes before what names it.
pub(super) const FILES: [&File; 12] =
    [&STALLS, &HORSES, &TACK, &FITS, &PEOPLE, &LESSONS, &RIDES, &CHORES, &SHIFTS, &AWAY, &BUCKETS, &STEPS];
