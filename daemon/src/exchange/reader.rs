//! From twelve files to one book, or to everything that is wrong with them. Ranges and references are decided here. A
//! reference is held against all that its file names, faulty rows too, so that one fault is told once.

use std::collections::{BTreeMap, BTreeSet};

use bellmare_barn::book::{
    Book, Chore, Fit, Horse, JobMinutes, Lesson, Person, Resting, Ride, Role, Shape, Side, Stall, Stirrups, Tack,
    TackKind, Vessel, WorkLimits,
};
use bellmare_barn::id::{BadgeId, ChoreId, HorseId, LessonId, PersonId, RideId, StallId, TackId};
use bellmare_barn::language::Language;
use bellmare_barn::units::{Celsius, Kilograms, Millimetres, Minutes, PerMinute};

use super::absences::{read_away, read_shifts};
use super::buckets::{gauge, read_buckets};
use super::cells::{Cells, ID_CHARS, NOTES_CHARS, TEXT_CHARS};
use super::columns::{CHORES, File, HORSES, LESSONS, PEOPLE, RIDES, STALLS, TACK};
use super::faults::Faults;
use super::sheet::Sheet;
use super::steps::read_steps;

pub(super) const SIDES: &[(&str, Side)] = &[("left", Side::Left), ("right", Side::Right)];

#[derive(Clone, Copy, PartialEq)]
pub(super) enum Looks {
    Down,
    Up,
}

pub(super) const LOOKS: &[(&str, Looks)] = &[("down", Looks::Down), ("up", Looks::Up)];

pub(super) const KINDS: &[(&str, TackKind)] = &[
    ("pad", TackKind::Pad),
    ("saddle", TackKind::Saddle),
    ("surcingle", TackKind::Surcingle),
    ("girth", TackKind::Girth),
    ("stirrups", TackKind::Stirrups),
    ("bridle", TackKind::Bridle),
    ("reins", TackKind::Reins),
    ("halter", TackKind::Halter),
    ("other", TackKind::Other),
];

pub(super) const LANGUAGES: &[(&str, Language)] = &[("en", Language::English), ("es", Language::Spanish)];

pub(super) const ROLES: &[(&str, Role)] = &[
    ("groom", Role::Groom),
    ("horse_leader", Role::HorseLeader),
    ("side_walker", Role::SideWalker),
    ("instructor", Role::Instructor),
    ("equine_professional", Role::EquineProfessional),
    ("staff", Role::Staff),
    ("manager", Role::Manager),
];

/// The sheets, in the order of [`FILES`](super::columns::FILES); none where a file could not be read at all.
pub(super) fn book(sheets: [Option<Sheet>; 12], faults: &mut Faults) -> Book {
    let [stalls, horses, tack, fits, people, lessons, rides, chores, shifts, away, buckets, steps] = sheets;
    let mut book = Book::default();
    let known_stalls = read_stalls(stalls.as_ref(), faults, &mut book);
    let known_horses = read_horses(horses.as_ref(), faults, &mut book, &known_stalls);
    let known_tack = read_tack(tack.as_ref(), faults, &mut book);
    let uses = read_fits(fits.as_ref(), faults, &mut book, &known_horses, &known_tack);
    let known_people = read_people(people.as_ref(), faults, &mut book);
    let known_lessons = read_lessons(lessons.as_ref(), faults, &mut book, &known_people);
    read_rides(rides.as_ref(), faults, &mut book, &known_lessons, &known_horses, &uses);
    read_chores(chores.as_ref(), faults, &mut book);
    read_shifts(shifts.as_ref(), faults, &mut book, &known_people);
    read_away(away.as_ref(), faults, &mut book, &known_horses);
    read_buckets(buckets.as_ref(), faults, &mut book, &known_stalls);
    read_steps(steps.as_ref(), faults, &mut book);
    book
}

/// After so many faults no names are looked up that might have been meant.
const HINTS: usize = 50;

/// What a file names, and in which line.
pub(super) struct Known {
    file: &'static File,
    lines: BTreeMap<String, usize>,
    /// False where the file or the column could not be read: then nothing can be said to be missing from it.
    whole: bool,
}

impl Known {
    fn of(file: &'static File, sheet: Option<&Sheet>, column: &'static str) -> Self {
        Self { file, lines: BTreeMap::new(), whole: sheet.is_some_and(|sheet| sheet.has(column)) }
    }

    /// A new name; refused where it was there before.
    fn claim(&mut self, cells: &mut Cells, column: &'static str) -> Option<String> {
        let name = cells.id(column)?;
        if let Some(line) = self.lines.get(&name) {
            cells.refuse(column, format!("each name once; line {line} has it too"));
            return None;
        }
        self.lines.insert(name.clone(), cells.row.line);
        Some(name)
    }

    /// A name that must be there.
    pub(super) fn refer(&self, cells: &mut Cells, column: &'static str) -> Option<String> {
        let name = cells.id(column)?;
        if self.whole && !self.lines.contains_key(&name) {
            // Where hardly any reference is right, a hint at each helps nobody and takes the square of the rows.
            let told = cells.faults.count() >= HINTS;
            let hint = if told { String::new() } else { nearest(&name, self.lines.keys().map(String::as_str)) };
            cells.refuse(column, format!("{} of {}{hint}", self.file.row, self.file.name));
            return None;
        }
        Some(name)
    }
}

/// "; did you mean ...?" where something is near.
fn nearest<'a>(name: &str, names: impl Iterator<Item = &'a str>) -> String {
    let lower = name.to_lowercase();
    names
        .map(|known| (strsim::osa_distance(&lower, &known.to_lowercase()), known))
        .filter(|(distance, known)| *distance <= 2 && *distance < known.chars().count())
        .min()
        .map_or_else(String::new, |(_, known)| format!("; did you mean {known:?}?"))
}

/// Calls `read` for each row with its cells, and for ragged rows too, of which only a leading name can be trusted.
pub(super) fn each(sheet: Option<&Sheet>, faults: &mut Faults, mut read: impl FnMut(&mut Cells) -> Option<()>) {
    for (sheet, row) in sheet.into_iter().flat_map(|sheet| sheet.rows.iter().map(move |row| (sheet, row))) {
        // A `None` says that a fault was noted: the row gives nothing and the next one is read.
        let _ = read(&mut Cells { sheet, row, faults });
    }
}

fn read_stalls(sheet: Option<&Sheet>, faults: &mut Faults, book: &mut Book) -> Known {
    let mut known = Known::of(&STALLS, sheet, "stall");
    each(sheet, faults, |cells| {
        let id = known.claim(cells, "stall");
        if cells.row.ragged {
            return None;
        }
        // A stall's name becomes a level of an MQTT topic.
        if id.as_ref().is_some_and(|id| id.contains(['/', '+', '#'])) {
            cells.refuse("stall", "a name without / + #");
        }
        let aisle = cells.filled("aisle", ID_CHARS);
        let side = cells.choice("side", SIDES);
        let vessel = vessel(cells);
        book.stalls.push(Stall { id: StallId::new(id?), aisle: aisle?, side: side?, vessel: vessel? });
        Some(())
    });
    // The book's order: aisle by aisle as they first come, left row then right row, each as it stands in the file.
    let mut aisles: BTreeMap<String, usize> = BTreeMap::new();
    for stall in &book.stalls {
        let next = aisles.len();
        aisles.entry(stall.aisle.clone()).or_insert(next);
    }
    book.stalls.sort_by_key(|stall| (aisles.get(&stall.aisle).copied(), stall.side));
    known
}

/// `Some(None)` where the row has no bucket; `None` where it has a wrong one.
fn vessel(cells: &mut Cells) -> Option<Option<Vessel>> {
    const COLUMNS: [&str; 5] =
        ["bucket_bottom_mm", "bucket_top_mm", "bucket_height_mm", "sensor_looks", "sensor_empty_mm"];
    let empty = COLUMNS.map(|column| cells.is_empty(column));
    if empty == [true; 5] {
        return Some(None);
    }
    if empty.contains(&true) {
        for (column, _) in COLUMNS.iter().zip(empty).filter(|(_, empty)| *empty) {
            cells.refuse(column, "a value, as the row has a bucket (for none leave its five columns empty)");
        }
    }
    // An empty cell was said already.
    let mut size = |i: usize| if empty[i] { None } else { cells.decimal(COLUMNS[i], 50.0..=2000.0) };
    let (bottom, top, height) = (size(0), size(1), size(2));
    if let (Some(bottom), Some(top)) = (bottom, top)
        && top < bottom
    {
        cells.refuse("bucket_top_mm", format!("at least the {bottom} of bucket_bottom_mm, up to 2000"));
    }
    let gauge = gauge(cells, height, ["bucket_height_mm", "sensor_looks", "sensor_empty_mm"]);
    let shape = Shape::Round { bottom: Millimetres(bottom?), top: Millimetres(top?), height: Millimetres(height?) };
    Some(Some(Vessel { shape, gauge: gauge? }))
}

fn read_horses(sheet: Option<&Sheet>, faults: &mut Faults, book: &mut Book, stalls: &Known) -> Known {
    let mut known = Known::of(&HORSES, sheet, "horse");
    let mut taken: BTreeMap<String, usize> = BTreeMap::new();
    each(sheet, faults, |cells| {
        let id = known.claim(cells, "horse");
        if cells.row.ragged {
            return None;
        }
        let name = cells.filled("name", ID_CHARS);
        let stall = stalls.refer(cells, "stall");
        if let Some(stall) = &stall {
            if let Some(line) = taken.get(stall) {
                cells.refuse("stall", format!("a stall of its own; the horse of line {line} stands there"));
            } else {
                taken.insert(stall.clone(), cells.row.line);
            }
        }
        let grade = cells.small("grade", 1..=3);
        let brush = cells.whole("brush_min", 1..=240).map(Minutes);
        let tack = cells.whole("tack_min", 1..=240).map(Minutes);
        let put_away = cells.whole("put_away_min", 1..=240).map(Minutes);
        let notes = cells.lines("notes", NOTES_CHARS);
        let notes_spanish = cells.perhaps("notes_es", |cells, column| cells.lines(column, NOTES_CHARS));
        let notes_spanish = notes_spanish.map(Option::unwrap_or_default);
        let most = most(cells);
        let weight = cells.perhaps("weight_kg", |cells, column| cells.decimal(column, 50.0..=1500.0).map(Kilograms));
        let height = cells.perhaps("height_hands", Cells::hands);
        let resting = resting(cells);
        let id = HorseId::new(id?);
        let minutes = JobMinutes { brush: brush?, tack: tack?, put_away: put_away? };
        let stall = StallId::new(stall?);
        let horse = Horse {
            id,
            name: name?,
            stall,
            grade: grade?,
            minutes,
            notes: notes?,
            notes_spanish: notes_spanish?,
            most: most?,
            weight: weight?,
            height: height?,
            resting: resting?,
        };
        book.horses.insert(horse.id.clone(), horse);
        Some(())
    });
    known
}

/// How much work the equine professional lets a horse do; what is empty is not limited.
fn most(cells: &mut Cells) -> Option<WorkLimits> {
    let rides_a_day = cells.perhaps("rides_a_day", |cells, column| cells.small(column, 1..=20));
    let minutes_in_a_row = cells.perhaps("minutes_in_a_row", |cells, column| cells.whole(column, 5..=600));
    let minutes_a_day = cells.perhaps("minutes_a_day", |cells, column| cells.whole(column, 5..=900));
    let days_a_week = cells.perhaps("days_a_week", |cells, column| cells.small(column, 1..=7));
    let load = cells.perhaps("load_kg", |cells, column| cells.decimal(column, 10.0..=400.0));
    Some(WorkLimits {
        rides_a_day: rides_a_day?,
        minutes_in_a_row: minutes_in_a_row?.map(Minutes),
        minutes_a_day: minutes_a_day?.map(Minutes),
        days_a_week: days_a_week?,
        load: load?.map(Kilograms),
    })
}

/// What was measured of a horse at rest while it was well. Foals reach the high ends.
fn resting(cells: &mut Cells) -> Option<Resting> {
    let temperature = cells.perhaps("resting_temp_c", |cells, column| cells.decimal(column, 36.0..=40.0));
    let pulse = cells.perhaps("resting_pulse", |cells, column| cells.whole(column, 15..=140));
    let breaths = cells.perhaps("resting_breaths", |cells, column| cells.whole(column, 4..=80));
    Some(Resting {
        temperature: temperature?.map(Celsius),
        pulse: pulse?.map(|beats| PerMinute(beats.into())),
        breaths: breaths?.map(|breaths| PerMinute(breaths.into())),
    })
}

fn read_tack(sheet: Option<&Sheet>, faults: &mut Faults, book: &mut Book) -> Known {
    let mut known = Known::of(&TACK, sheet, "tack");
    each(sheet, faults, |cells| {
        let id = known.claim(cells, "tack");
        if cells.row.ragged {
            return None;
        }
        let kind = cells.choice("kind", KINDS);
        let name = cells.filled("name", TEXT_CHARS);
        let size = cells.text("size", TEXT_CHARS);
        let place = cells.filled("place", TEXT_CHARS);
        let id = TackId::new(id?);
        book.tack.insert(id.clone(), Tack { id, kind: kind?, name: name?, size: size?, place: place? });
        Some(())
    });
    known
}

/// For which uses each horse has tack.
struct Uses {
    of: BTreeMap<String, BTreeSet<String>>,
    /// False where a row could not be read: then nothing can be said to be missing.
    whole: bool,
}

fn read_fits(sheet: Option<&Sheet>, faults: &mut Faults, book: &mut Book, horses: &Known, tack: &Known) -> Uses {
    let whole = sheet.is_some_and(|sheet| sheet.has("horse") && sheet.has("use"));
    let mut uses = Uses { of: BTreeMap::new(), whole };
    let mut orders: BTreeMap<(String, String, u32), usize> = BTreeMap::new();
    let mut pieces: BTreeMap<(String, String, String), usize> = BTreeMap::new();
    each(sheet, faults, |cells| {
        if cells.row.ragged {
            uses.whole = false;
            return None;
        }
        let horse = horses.refer(cells, "horse");
        let usage = cells.id("use");
        let order = cells.whole("order", 1..=99);
        let piece = tack.refer(cells, "tack");
        let note = cells.text("note", TEXT_CHARS);
        let note_spanish = cells.perhaps("note_es", |cells, column| cells.text(column, TEXT_CHARS));
        let (Some(horse), Some(usage)) = (horse, usage) else {
            uses.whole = false;
            return None;
        };
        uses.of.entry(horse.clone()).or_default().insert(usage.clone());
        if let Some(order) = order {
            if let Some(line) = orders.get(&(horse.clone(), usage.clone(), order)) {
                cells.refuse("order", format!("each number once for a horse and use; line {line} has it too"));
            } else {
                orders.insert((horse.clone(), usage.clone(), order), cells.row.line);
            }
        }
        if let Some(piece) = &piece {
            let key = (horse.clone(), usage.clone(), piece.clone());
            if let Some(line) = pieces.get(&key) {
                cells.refuse("tack", format!("each piece once for a horse and use; line {line} has it too"));
            } else {
                pieces.insert(key, cells.row.line);
            }
        }
        let (horse, tack) = (HorseId::new(horse), TackId::new(piece?));
        let note_spanish = note_spanish?.unwrap_or_default();
        book.fits.push(Fit { horse, usage, order: order?, tack, note: note?, note_spanish });
        Some(())
    });
    uses
}

fn read_people(sheet: Option<&Sheet>, faults: &mut Faults, book: &mut Book) -> Known {
    let mut known = Known::of(&PEOPLE, sheet, "person");
    let mut badges: BTreeMap<String, usize> = BTreeMap::new();
    each(sheet, faults, |cells| {
        let id = known.claim(cells, "person");
        if cells.row.ragged {
            return None;
        }
        let name = cells.filled("name", ID_CHARS);
        let role = cells.choice("role", ROLES);
        let badge = if cells.is_empty("badge") { Some(None) } else { cells.id("badge").map(Some) };
        if let Some(Some(badge)) = &badge {
            // Readers differ in whether they write 04a1 or 04A1: two people must not depend on it.
            if let Some(line) = badges.get(&badge.to_uppercase()) {
                cells.refuse("badge", format!("a badge of their own; the person of line {line} has it"));
            } else {
                badges.insert(badge.to_uppercase(), cells.row.line);
            }
        }
        let grade = cells.small("grade", 0..=3);
        let language = cells.perhaps("language", |cells, column| cells.choice(column, LANGUAGES));
        let id = PersonId::new(id?);
        let badge = badge?.map(BadgeId::new);
        book.people.insert(
            id.clone(),
            Person { id, name: name?, role: role?, badge, grade: grade?, language: language?.unwrap_or_default() },
        );
        Some(())
    });
    known
}

fn read_lessons(sheet: Option<&Sheet>, faults: &mut Faults, book: &mut Book, people: &Known) -> Known {
    let mut known = Known::of(&LESSONS, sheet, "lesson");
    each(sheet, faults, |cells| {
        let id = known.claim(cells, "lesson");
        if cells.row.ragged {
            return None;
        }
        let days = cells.days("days");
        let start = cells.time("start");
        let minutes = cells.whole("minutes", 5..=480).map(Minutes);
        let instructor = people.refer(cells, "instructor").map(PersonId::new);
        let place = cells.filled("place", ID_CHARS);
        let (id, start, instructor) = (LessonId::new(id?), start?, instructor?);
        let lesson = Lesson { id: id.clone(), days: days?, start, minutes: minutes?, instructor, place: place? };
        book.lessons.insert(id, lesson);
        Some(())
    });
    known
}

fn read_rides(
    sheet: Option<&Sheet>,
    faults: &mut Faults,
    book: &mut Book,
    lessons: &Known,
    horses: &Known,
    uses: &Uses,
) {
    let mut known = Known::of(&RIDES, sheet, "ride");
    let mut mounted: BTreeMap<(String, String), usize> = BTreeMap::new();
    each(sheet, faults, |cells| {
        let id = known.claim(cells, "ride");
        if cells.row.ragged {
            return None;
        }
        let lesson = lessons.refer(cells, "lesson");
        let horse = horses.refer(cells, "horse");
        let usage = cells.id("use");
        let stirrups = stirrups(cells);
        let load = cells.perhaps("load_kg", |cells, column| cells.decimal(column, 5.0..=400.0).map(Kilograms));
        let (lesson, horse, usage) = (lesson?, horse?, usage?);
        if let Some(line) = mounted.get(&(lesson.clone(), horse.clone())) {
            cells.refuse("horse", format!("each horse once in a lesson; line {line} has it too"));
        }
        mounted.entry((lesson.clone(), horse.clone())).or_insert(cells.row.line);
        let fitted = uses.of.get(&horse);
        if uses.whole && !fitted.is_some_and(|uses| uses.contains(&usage)) {
            let has: Vec<&str> = fitted.into_iter().flatten().map(String::as_str).collect();
            let allowed = match has[..] {
                [] => format!("a use for which fits.csv has tack; for {horse:?} it has none"),
                _ => format!("a use for which fits.csv has tack; for {horse:?} that is {}", has.join(", ")),
            };
            cells.refuse("use", allowed);
        }
        let (id, lesson, horse) = (RideId::new(id?), LessonId::new(lesson), HorseId::new(horse));
        book.rides.insert(id.clone(), Ride { id, lesson, horse, usage, stirrups: stirrups?, load: load?, only: None });
        Some(())
    });
}

/// `Some(None)` where the ride uses no stirrups; `None` where they are wrong.
fn stirrups(cells: &mut Cells) -> Option<Option<Stirrups>> {
    match (cells.is_empty("left_stirrup"), cells.is_empty("right_stirrup")) {
        (true, true) => return Some(None),
        (true, false) => cells.refuse("left_stirrup", "1 to 40, as the right one is given, or neither"),
        (false, true) => cells.refuse("right_stirrup", "1 to 40, as the left one is given, or neither"),
        (false, false) => {
            let (left, right) = (cells.small("left_stirrup", 1..=40), cells.small("right_stirrup", 1..=40));
            return Some(Some(Stirrups { left: left?, right: right? }));
        }
    }
    None
}

fn read_chores(sheet: Option<&Sheet>, faults: &mut Faults, book: &mut Book) {
    let mut known = Known::of(&CHORES, sheet, "chore");
    each(sheet, faults, |cells| {
        let id = known.claim(cells, "chore");
        if cells.row.ragged {
            return None;
        }
        let name = cells.filled("name", TEXT_CHARS);
        let name_spanish = cells.perhaps("name_es", |cells, column| cells.text(column, TEXT_CHARS));
        let place = cells.text("place", ID_CHARS);
        let place_spanish = cells.perhaps("place_es", |cells, column| cells.text(column, ID_CHARS));
        let days = cells.days("days");
        let by = cells.time("by");
        let id = ChoreId::new(id?);
        book.chores.insert(
            id.clone(),
            Chore {
                id,
                name: name?,
                name_spanish: name_spanish?.unwrap_or_default(),
                place: place?,
                place_spanish: place_spanish?.unwrap_or_default(),
                days: days?,
                by: by?,
            },
        );
        Some(())
    });
}
