//! Every book comes back as it went out, from every dialect that a spreadsheet writes; and no bytes bring the reader down.

use std::time::{Duration, Instant};

use bellmare_barn::book::{
    Away, Book, Bucket, Chore, Days, Expected, Fit, Gauge, Horse, JobMinutes, JobStep, Lesson, Person, Resting, Ride,
    Shape, Side, Stall, Stirrups, Tack, Vessel, WaterPlace, WorkLimits,
};
use bellmare_barn::hands::Hands;
use bellmare_barn::id::{BadgeId, ChoreId, HorseId, LessonId, PersonId, RideId, StallId, TackId};
use bellmare_barn::language::Text;
use bellmare_barn::time::TimeOfDay;
use bellmare_barn::units::{Celsius, Kilograms, Litres, Millimetres, Minutes, PerMinute};
use chrono::{Days as DayCount, NaiveDate};
use proptest::collection::{btree_set, vec};
use proptest::prelude::*;
use proptest::sample::{Index, select, subsequence};

use super::export::rows;
use super::reader::{KINDS, LANGUAGES, ROLES};
use super::small_barn::{Files, SOUND, look, sound};
use super::steps::JOBS;
use super::{export_book, read_book};

/// How a spreadsheet may write a table.
#[derive(Clone, Debug)]
struct Dialect {
    delimiter: char,
    line_end: &'static str,
    encoding: Encoding,
    quote_all: bool,
    decimal_comma: bool,
    told: bool,
    empty_columns: usize,
    blank_line_after: usize,
    shouted: bool,
}

#[derive(Clone, Copy, Debug)]
enum Encoding {
    Utf8,
    Utf8Marked,
    Utf16,
    Windows1252,
}

fn dialects() -> impl Strategy<Value = Dialect> {
    let encodings = [Encoding::Utf8, Encoding::Utf8Marked, Encoding::Utf16, Encoding::Windows1252];
    (
        select(vec![',', ';', '\t']),
        select(vec!["\n", "\r\n", "\r"]),
        select(encodings.to_vec()),
        any::<(bool, bool, bool, bool)>(),
        0..3_usize,
        0..4_usize,
    )
        .prop_map(|(delimiter, line_end, encoding, flags, empty_columns, blank_line_after)| Dialect {
            delimiter,
            line_end,
            encoding,
            quote_all: flags.0,
            decimal_comma: flags.1 && delimiter == ';',
            told: flags.2,
            empty_columns,
            blank_line_after,
            shouted: flags.3,
        })
}

impl Dialect {
    fn write(&self, rows: &[Vec<String>]) -> Vec<u8> {
        let mut text = if self.told { format!("sep={}{}", self.delimiter, self.line_end) } else { String::new() };
        for (i, row) in rows.iter().enumerate() {
            let mut cells: Vec<String> =
                row.iter().zip(&rows[0]).map(|(cell, heading)| self.cell(i, heading, cell)).collect();
            cells.resize(row.len() + self.empty_columns, String::new());
            text += &cells.join(&self.delimiter.to_string());
            text += self.line_end;
            if i == self.blank_line_after {
                text += self.line_end;
                text += &self.delimiter.to_string().repeat(rows[0].len() - 1);
                text += self.line_end;
            }
        }
        match self.encoding {
            Encoding::Utf8 => text.into_bytes(),
            Encoding::Utf8Marked => format!("\u{feff}{text}").into_bytes(),
            Encoding::Utf16 => format!("\u{feff}{text}").encode_utf16().flat_map(u16::to_le_bytes).collect(),
            Encoding::Windows1252 => encoding_rs::WINDOWS_1252.encode(&text).0.into_owned(),
        }
    }

    fn cell(&self, row: usize, heading: &str, cell: &str) -> String {
        let mut cell = cell.replace('\n', self.line_end);
        if row == 0 && self.shouted {
            cell = cell.to_uppercase().replace('_', " ");
        }
        if self.decimal_comma && ["_mm", "_kg", "_hands", "_c"].iter().any(|unit| heading.ends_with(unit)) {
            cell = cell.replace('.', ",");
        }
        if self.quote_all || cell.contains([self.delimiter, '"', '\r', '\n']) {
            cell = format!("\"{}\"", cell.replace('"', "\"\""));
        }
        cell
    }
}

/// Text that is trimmed, in letters that Windows-1252 has too, with all that has to be quoted.
fn text(most: usize) -> impl Strategy<Value = String> {
    vec(select("abyzABYZ0189 ,;\"'.-+/()éüñß".chars().collect::<Vec<_>>()), 0..=most)
        .prop_map(|letters| letters.into_iter().collect::<String>().trim().to_owned())
}

fn filled(most: usize) -> impl Strategy<Value = String> {
    text(most).prop_map(|text| if text.is_empty() { "x".to_owned() } else { text })
}

fn names(most: usize) -> impl Strategy<Value = Vec<String>> {
    btree_set("[a-z]{1,3}[a-zéñ0-9 ,;\"']{0,8}[a-z]", 0..=most).prop_map(|set| set.into_iter().collect())
}

fn days() -> impl Strategy<Value = Days> {
    let first = NaiveDate::from_ymd_opt(2000, 1, 1).expect("a date");
    prop_oneof![
        (0..30_000_u64).prop_map(move |n| Days::On(first + DayCount::new(n))),
        subsequence((0..7).collect::<Vec<u8>>(), 1..=7).prop_map(Days::Weekly),
    ]
}

fn time() -> impl Strategy<Value = TimeOfDay> {
    (0..1440_u16).prop_map(|minutes| TimeOfDay::from_minutes(minutes).expect("under a day"))
}

fn tenths(range: std::ops::Range<u32>) -> impl Strategy<Value = Millimetres> {
    range.prop_map(|tenths| Millimetres(f64::from(tenths) / 10.0))
}

fn kilograms(tenths: std::ops::Range<u32>) -> impl Strategy<Value = Option<Kilograms>> {
    proptest::option::of(tenths.prop_map(|tenths| Kilograms(f64::from(tenths) / 10.0)))
}

fn work_limits() -> impl Strategy<Value = WorkLimits> {
    use proptest::option::of;
    (of(1..=20_u8), of(5..=600_u32), of(5..=900_u32), of(1..=7_u8), kilograms(100..4001)).prop_map(
        |(rides_a_day, in_a_row, a_day, days_a_week, load)| WorkLimits {
            rides_a_day,
            minutes_in_a_row: in_a_row.map(Minutes),
            minutes_a_day: a_day.map(Minutes),
            days_a_week,
            load,
        },
    )
}

type Body = (Option<Kilograms>, Option<Hands>, Resting);

fn bodies() -> impl Strategy<Value = Body> {
    use proptest::option::of;
    let resting = (of(360..=400_u32), of(15..=140_u32), of(4..=80_u32)).prop_map(|(tenths, pulse, breaths)| Resting {
        temperature: tenths.map(|tenths| Celsius(f64::from(tenths) / 10.0)),
        pulse: pulse.map(|beats| PerMinute(beats.into())),
        breaths: breaths.map(|breaths| PerMinute(breaths.into())),
    });
    (kilograms(500..15_001), of((80..=352_u32).prop_map(Hands::of_quarter_inches)), resting)
}

fn round_ones() -> impl Strategy<Value = Shape> {
    (tenths(500..10_000), tenths(0..10_000), tenths(500..20_000)).prop_map(|(bottom, wider, height)| Shape::Round {
        bottom,
        top: Millimetres(bottom.0 + wider.0),
        height,
    })
}

fn shapes() -> impl Strategy<Value = Shape> {
    let mm = || tenths(300..20_000);
    prop_oneof![
        round_ones(),
        (mm(), mm(), 10..=100_u32, mm()).prop_map(|(bottom, top, share, height)| {
            let depth = Millimetres((top.0 * f64::from(share) / 100.0).max(30.0).min(top.0));
            Shape::FlatBack { bottom, top, depth, height }
        }),
        (mm(), mm(), mm(), mm(), mm()).prop_map(|(bottom_length, bottom_width, top_length, top_width, height)| {
            Shape::Trough { bottom_length, bottom_width, top_length, top_width, height }
        }),
        (mm(), mm()).prop_map(|(across, long)| Shape::Drum { across, long }),
        vec((1..100_u32, 1..50_u32), 2..9).prop_map(|steps| {
            let mut at = (0.0, 0.0);
            let next = |(mm, litres): (u32, u32)| {
                at = (at.0 + f64::from(mm), at.1 + f64::from(litres) / 4.0);
                (Millimetres(at.0), Litres(at.1))
            };
            Shape::Table { table: steps.into_iter().map(next).collect() }
        }),
    ]
}

fn vessels(shapes: impl Strategy<Value = Shape>) -> impl Strategy<Value = Vessel> {
    (shapes, tenths(0..10_000), any::<bool>()).prop_map(|(shape, at, down)| {
        let top = bellmare_barn::water::vessel::top(&shape);
        let gauge =
            if down { Gauge::Down { to_bottom: Millimetres(top.0 + at.0) } } else { Gauge::Up { at_bottom: at } };
        Vessel { shape, gauge }
    })
}

/// Buckets besides those that the stalls have.
fn buckets(stalls: &[Stall]) -> impl Strategy<Value = Vec<Bucket>> + use<> {
    let mut places: Vec<WaterPlace> = stalls.iter().map(|stall| WaterPlace::Stall(stall.id.clone())).collect();
    places.push(WaterPlace::Paddock("north".into()));
    names(3).prop_flat_map(move |ids| {
        vec((select(places.clone()), vessels(shapes())), ids.len()).prop_map(move |rest| {
            let bucket = |(id, (at, vessel)): (&String, _)| Bucket { id: id.as_str().into(), at, vessel };
            ids.iter().zip(rest).map(bucket).collect()
        })
    })
}

/// Steps, each number once for a job, in any order.
fn steps() -> impl Strategy<Value = Vec<JobStep>> {
    let one = (0..JOBS.len(), filled(20), text(20), any::<bool>());
    vec(one, 0..9).prop_map(|steps| {
        let step = |((job, english, spanish, caution), order): ((usize, _, _, _), u32)| JobStep {
            job: JOBS[job].1,
            order: 99 - order,
            text: Text { english, spanish },
            caution,
        };
        steps.into_iter().zip(0..).map(step).collect()
    })
}

fn books() -> impl Strategy<Value = Book> {
    let stalls = names(8).prop_flat_map(|ids| {
        let one = (select(vec!["main", "north"]), any::<bool>(), proptest::option::of(vessels(shapes())));
        vec(one, ids.len()).prop_map(move |rest| {
            let mut stalls: Vec<Stall> = ids
                .iter()
                .zip(rest)
                .map(|(id, (aisle, left, vessel))| {
                    let side = if left { Side::Left } else { Side::Right };
                    Stall { id: StallId::new(id.as_str()), aisle: aisle.to_owned(), side, vessel }
                })
                .collect();
            stalls.sort_by(|a, b| (&a.aisle, a.side).cmp(&(&b.aisle, b.side)));
            stalls
        })
    });
    let stalls = stalls.prop_flat_map(|stalls| {
        let buckets = buckets(&stalls);
        (Just(stalls), buckets)
    });
    let named = (names(8), names(8), names(8), names(8), names(8), names(8));
    let rest = (
        vec(
            (
                filled(12),
                1..=3_u8,
                1..=240_u32,
                1..=240_u32,
                1..=240_u32,
                (vec(filled(20), 0..4), vec(filled(20), 0..4)),
                (work_limits(), bodies()),
            ),
            8,
        ),
        vec((0..KINDS.len(), filled(12), text(12), filled(12)), 8),
        vec((any::<Index>(), any::<Index>(), select(vec!["lesson", "lead line"]), text(12), text(12)), 0..16),
        vec((filled(12), 0..ROLES.len(), any::<bool>(), 0..=3_u8, 0..LANGUAGES.len()), 8),
        vec((days(), time(), 5..=480_u32, any::<Index>(), filled(12)), 8),
        vec((any::<Index>(), any::<Index>(), proptest::option::of((1..=40_u8, 1..=40_u8)), kilograms(50..4001)), 8),
        (vec((filled(12), text(12), text(12), text(12), days(), time()), 8), steps()),
        vec((any::<bool>(), days(), 0..180_u16, 1..=180_u16, filled(12)), 16),
    );
    (stalls, named, rest).prop_map(|((stalls, buckets), ids, rest)| {
        let (horse_ids, tack_ids, person_ids, lesson_ids, ride_ids, chore_ids) = ids;
        let (horses, tack, fits, people, lessons, rides, (chores, steps), times) = rest;
        let mut book = Book { stalls, buckets, steps, ..Book::default() };
        for ((id, stall), (name, grade, brush, saddle, put_away, (notes, notes_spanish), body)) in
            horse_ids.iter().zip(book.stalls.clone()).zip(horses)
        {
            let id = HorseId::new(id.as_str());
            let minutes = JobMinutes { brush: Minutes(brush), tack: Minutes(saddle), put_away: Minutes(put_away) };
            let (most, (weight, height, resting)) = body;
            let stall = stall.id;
            let horse = Horse { id, name, stall, grade, minutes, notes, notes_spanish, most, weight, height, resting };
            book.horses.insert(horse.id.clone(), horse);
        }
        for (id, (kind, name, size, place)) in tack_ids.iter().zip(tack) {
            let id = TackId::new(id.as_str());
            book.tack.insert(id.clone(), Tack { id, kind: KINDS[kind].1, name, size, place });
        }
        let (horses, tack): (Vec<_>, Vec<_>) =
            (book.horses.keys().cloned().collect(), book.tack.keys().cloned().collect());
        for (n, (horse, piece, usage, note, note_spanish)) in (1..).zip(fits) {
            if horses.is_empty() || tack.is_empty() {
                break;
            }
            let (horse, piece) = (horse.get(&horses).clone(), piece.get(&tack).clone());
            if !book.fits.iter().any(|fit| fit.horse == horse && fit.usage == usage && fit.tack == piece) {
                let usage = usage.to_owned();
                book.fits.push(Fit { horse, usage, order: n, tack: piece, note, note_spanish });
            }
        }
        for (n, (id, (name, role, badged, grade, language))) in person_ids.iter().zip(people).enumerate() {
            let id = PersonId::new(id.as_str());
            let badge = badged.then(|| BadgeId::new(format!("04AA00{n:02}")));
            book.people.insert(
                id.clone(),
                Person { id, name, role: ROLES[role].1, badge, grade, language: LANGUAGES[language].1 },
            );
        }
        let people: Vec<PersonId> = book.people.keys().cloned().collect();
        for (id, (days, start, minutes, who, place)) in lesson_ids.iter().zip(lessons) {
            if people.is_empty() {
                break;
            }
            let (id, instructor) = (LessonId::new(id.as_str()), who.get(&people).clone());
            let lesson = Lesson { id: id.clone(), days, start, minutes: Minutes(minutes), instructor, place };
            book.lessons.insert(id, lesson);
        }
        let lessons: Vec<LessonId> = book.lessons.keys().cloned().collect();
        for (id, (lesson, fit, stirrups, load)) in ride_ids.iter().zip(rides) {
            if lessons.is_empty() || book.fits.is_empty() {
                break;
            }
            let (id, lesson, fit) = (RideId::new(id.as_str()), lesson.get(&lessons).clone(), fit.get(&book.fits));
            if !book.rides.values().any(|ride| ride.lesson == lesson && ride.horse == fit.horse) {
                let stirrups = stirrups.map(|(left, right)| Stirrups { left, right });
                let (horse, usage) = (fit.horse.clone(), fit.usage.clone());
                book.rides.insert(id.clone(), Ride { id, lesson, horse, usage, stirrups, load, only: None });
            }
        }
        for (id, (name, name_spanish, place, place_spanish, days, by)) in chore_ids.iter().zip(chores) {
            let id = ChoreId::new(id.as_str());
            book.chores.insert(id.clone(), Chore { id, name, name_spanish, place, place_spanish, days, by });
        }
        // Four for each person or horse, each in a quarter of the day of its own, so that no two of a name meet.
        let at = |minutes: u16| TimeOfDay::from_minutes(minutes).expect("under a day");
        for ((n, (person, days, from, minutes, why)), who) in (0..4).cycle().zip(times).zip(0..) {
            let (from, to) = (at(n * 360 + from), at(n * 360 + from + minutes.min(359 - from)));
            if person && let Some(person) = book.people.keys().nth(who / 4) {
                book.shifts.push(Expected { person: person.clone(), days, from, to });
            } else if let Some(horse) = book.horses.keys().nth(who / 4) {
                book.away.push(Away { horse: horse.clone(), days, from, to, why });
            }
        }
        book
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 128, ..ProptestConfig::default() })]

    #[test]
    fn a_book_comes_back_from_every_dialect(book in books(), dialect in dialects()) {
        let files: Files = rows(&book).iter().map(|(name, rows)| (*name, dialect.write(rows))).collect();
        prop_assert_eq!(look(&files).book, Ok(book));
    }

    #[test]
    fn a_book_comes_back_from_its_own_export(book in books()) {
        let folder = tempfile::tempdir().expect("a folder for the test");
        let dir = folder.path().join("made by the export");
        export_book(&dir, &book).expect("a folder that can be written");
        prop_assert_eq!(read_book(&dir), Ok(book));
    }

    #[test]
    fn bytes_of_any_kind_are_refused_or_read_and_never_panic(
        bytes in vec(any::<u8>(), 0..400),
        shaped in vec(select(b"a1,;\t\"\r\n \xe9\xff\x00.:-".to_vec()), 0..400),
        file in 0..SOUND.len(),
        cut in any::<Index>(),
    ) {
        let (name, text) = SOUND[file];
        let at = cut.index(text.len());
        let mut files = sound();
        for bytes in [&bytes, &shaped] {
            files.insert(name, bytes.clone());
            prop_assert!(look(&files).book.is_err());
            // The same inside of a sound file, which may or may not be sound then.
            files.insert(name, [&text.as_bytes()[..at], bytes, &text.as_bytes()[at..]].concat());
            let _ = look(&files);
        }
    }
}

/// 2,000 stalls, a horse in each, ten pieces of tack and three rides for every horse.
fn large_barn() -> Files {
    let mut files = sound();
    let mut table = |name: &'static str, row: &dyn Fn(usize) -> String| {
        let text = SOUND.iter().find(|(known, _)| *known == name).map_or("", |(_, text)| text);
        let mut bytes = text.lines().next().unwrap_or_default().as_bytes().to_vec();
        bytes.push(b'\n');
        bytes.extend((0..2000).flat_map(|n| row(n).into_bytes()));
        files.insert(name, bytes);
    };
    table("stalls.csv", &|n| format!("{n},aisle {},left,260,300,305,down,420\n", n / 50));
    table("horses.csv", &|n| {
        format!("h{n},Horse {n},{n},2,15,10,15,\"A note.\nAnd another.\",,3,60,,,90,480,15.2,,,\n")
    });
    table("tack.csv", &|n| (0..10).map(|k| format!("t{n}-{k},other,piece {k},,rack {n}\n")).collect());
    table("fits.csv", &|n| (0..10).map(|k| format!("h{n},lesson,{},t{n}-{k},,\n", k + 1)).collect());
    table("lessons.csv", &|n| format!("l{n},daily,9:00,45,teo,arena\n"));
    table("rides.csv", &|n| (0..3).map(|k| format!("r{n}-{k},l{},h{n},lesson,9,9,75\n", (n + k) % 2000)).collect());
    table("away.csv", &|n| format!("h{n},daily,12:00,13:00,turn-out\n"));
    files
}

#[test]
fn a_very_large_barn_is_read_while_a_person_waits() {
    // A minute is for this build without optimisation on a busy machine: work that grows with the square takes longer.
    const PATIENCE: Duration = Duration::from_secs(60);
    let mut files = large_barn();
    let begun = Instant::now();
    let book = look(&files).book.unwrap_or_else(|faults| panic!("{faults}"));
    assert_eq!((book.stalls.len(), book.fits.len(), book.rides.len()), (2000, 20_000, 6000));

    // And where every reference of a much larger file is wrong by a letter.
    let wrong: String = (0..200_000).map(|n| format!("r{n},l{n}x,h{n}x,lesson,,\n")).collect();
    files.insert("rides.csv", format!("ride,lesson,horse,use,left_stirrup,right_stirrup\n{wrong}").into_bytes());
    assert_eq!(look(&files).book.expect_err("no reference is right").count(), 400_000);
    assert!(begun.elapsed() < PATIENCE, "{:?}", begun.elapsed());
}
