//! A day looked at the evening before: small books with one fault each, and the line that says so.

use bellmare_barn::book::{
    Away, Book, Days, Expected, Fit, Horse, JobMinutes, Lesson, Person, Resting, Ride, Role, Side, Stall, Stirrups,
    Tack, TackKind, WorkLimits,
};
use bellmare_barn::id::{HorseId, RideId};
use bellmare_barn::limits::Limits;
use bellmare_barn::prep::hands::{DayLook, Hour, look};
use bellmare_barn::prep::{Habits, Known};
use bellmare_barn::time::{LocalDay, TimeOfDay};
use bellmare_barn::units::{Kilograms, Minutes};
use chrono::NaiveDate;

use crate::day::{ZONE, thursday};

pub(crate) fn time(hour: u16, minute: u16) -> TimeOfDay {
    TimeOfDay::new(hour, minute).expect("a time")
}

fn daily() -> Days {
    Days::Weekly((0..7).collect())
}

/// What the small barn is told in a line each.
pub(crate) trait Told {
    fn horse(&mut self, id: &str, grade: u8, most: WorkLimits);
    fn tack(&mut self, id: &str, kind: TackKind, on: &[&str]);
    fn lesson(&mut self, id: &str, start: TimeOfDay, minutes: u32);
    fn ride(&mut self, lesson: &str, horse: &str);
    fn groom(&mut self, id: &str, grade: u8, from: TimeOfDay, to: TimeOfDay);
    fn away(&mut self, horse: &str, from: TimeOfDay, to: TimeOfDay, why: &str);
}

fn name(id: &str) -> String {
    format!("{}{}", id[..1].to_uppercase(), &id[1..])
}

impl Told for Book {
    /// Its jobs take 15, 10 and 15 minutes.
    fn horse(&mut self, id: &str, grade: u8, most: WorkLimits) {
        let stall = Stall { id: id.into(), aisle: "main".to_owned(), side: Side::Left, vessel: None };
        let minutes = JobMinutes { brush: Minutes(15), tack: Minutes(10), put_away: Minutes(15) };
        let (stall_id, name) = (stall.id.clone(), name(id));
        self.stalls.push(stall);
        let horse = Horse {
            id: id.into(),
            name,
            stall: stall_id,
            grade,
            minutes,
            notes: Vec::new(),
            notes_spanish: Vec::new(),
            most,
            weight: None,
            height: None,
            resting: Resting::default(),
        };
        self.horses.insert(horse.id.clone(), horse);
    }

    fn tack(&mut self, id: &str, kind: TackKind, on: &[&str]) {
        let tack =
            Tack { id: id.into(), kind, name: id.replace('-', " "), size: String::new(), place: "rack 1".into() };
        self.tack.insert(tack.id.clone(), tack);
        for horse in on {
            let order = self.fits.len() as u32 + 1;
            let (horse, usage) = ((*horse).into(), "lesson".to_owned());
            let (note, note_spanish) = Default::default();
            self.fits.push(Fit { horse, usage, order, tack: id.into(), note, note_spanish });
        }
    }

    fn lesson(&mut self, id: &str, start: TimeOfDay, minutes: u32) {
        let (instructor, place) = ("lena".into(), "arena".to_owned());
        let lesson = Lesson { id: id.into(), days: daily(), start, minutes: Minutes(minutes), instructor, place };
        self.lessons.insert(lesson.id.clone(), lesson);
    }

    fn ride(&mut self, lesson: &str, horse: &str) {
        let id = RideId::new(format!("{lesson}-{horse}"));
        let (lesson, horse, usage) = (lesson.into(), horse.into(), "lesson".to_owned());
        self.rides.insert(id.clone(), Ride { id, lesson, horse, usage, stirrups: None, load: None, only: None });
    }

    fn groom(&mut self, id: &str, grade: u8, from: TimeOfDay, to: TimeOfDay) {
        let person = Person {
            id: id.into(),
            name: name(id),
            role: Role::Groom,
            badge: None,
            grade,
            language: Default::default(),
        };
        self.people.insert(person.id.clone(), person);
        self.shifts.push(Expected { person: id.into(), days: daily(), from, to });
    }

    fn away(&mut self, horse: &str, from: TimeOfDay, to: TimeOfDay, why: &str) {
        self.away.push(Away { horse: horse.into(), days: daily(), from, to, why: why.to_owned() });
    }
}

/// Bella and Moss, each with a saddle, in a lesson at 10:00 and one at 12:00; Ana and Teo all day. Moss, of grade 2, is for
/// Ana.
pub(crate) fn clean() -> Book {
    let mut book = Book::default();
    book.horse("bella", 1, WorkLimits::default());
    book.horse("moss", 2, WorkLimits::default());
    book.tack("saddle-1", TackKind::Saddle, &["bella"]);
    book.tack("saddle-2", TackKind::Saddle, &["moss"]);
    book.lesson("ten", time(10, 0), 45);
    book.lesson("noon", time(12, 0), 45);
    book.ride("ten", "bella");
    book.ride("noon", "moss");
    book.groom("ana", 2, time(8, 0), time(16, 0));
    book.groom("teo", 1, time(8, 0), time(16, 0));
    book
}

pub(crate) fn with<T>(book: &Book, then: impl FnOnce(&Known<'_>, LocalDay) -> T) -> T {
    let (limits, habits) = (Limits::default(), Habits::default());
    then(&Known { book, limits: &limits, habits: &habits }, ZONE.day(thursday()))
}

fn told(book: &Book) -> Vec<String> {
    with(book, |known, day| {
        let found = look(known, day).expect("a day that can be planned").findings;
        found.iter().map(ToString::to_string).collect()
    })
}

/// The clean barn with one thing changed: exactly these lines.
#[track_caller]
fn check(change: impl FnOnce(&mut Book), lines: &[&str]) {
    let mut book = clean();
    change(&mut book);
    assert_eq!(told(&book), lines);
}

pub(crate) fn ride<'b>(book: &'b mut Book, id: &str) -> &'b mut Ride {
    book.rides.get_mut(&RideId::from(id)).expect("a ride of the barn")
}

fn most(book: &mut Book, change: impl FnOnce(&mut WorkLimits)) {
    change(&mut book.horses.get_mut(&HorseId::from("bella")).expect("Bella").most);
}

#[test]
fn a_clean_day_says_nothing() {
    check(|_| {}, &[]);
    check(
        |book| {
            most(book, |most| {
                *most = WorkLimits {
                    rides_a_day: Some(1),
                    minutes_in_a_row: Some(Minutes(45)),
                    minutes_a_day: Some(Minutes(45)),
                    days_a_week: Some(7),
                    load: Some(Kilograms(80.0)),
                };
            });
            ride(book, "ten-bella").load = Some(Kilograms(80.0));
            book.away("bella", time(8, 0), time(9, 0), "turn-out");
            book.away("bella", time(11, 30), time(14, 0), "turn-out");
        },
        &[],
    );
}

#[test]
fn what_is_in_two_places_is_found() {
    // Bella's is in use from 9:40 (ready at 9:50 less ten minutes) to 11:15 (back at 10:50, put away at 11:05, dry).
    check(
        |book| {
            book.lesson("eleven", time(11, 0), 45);
            book.fits[1].tack = "saddle-1".into();
            let mut ride = book.rides.remove(&RideId::from("noon-moss")).expect("a ride of the barn");
            ride.lesson = "eleven".into();
            book.rides.insert(ride.id.clone(), ride);
        },
        &[
            "10:40-11:15 saddle 1 (rack 1) is needed twice: on Bella from 9:40 to 11:15, and on Moss from 10:40 to 12:15; \
           what would do: another piece for Moss, or its lesson 35 minutes later",
        ],
    );
    check(
        |book| {
            book.lesson("half", time(10, 30), 45);
            book.ride("half", "bella");
        },
        &[
            "10:30-10:45 Bella is in two places: in the arena from 10:00 and in the arena from 10:30; what would do: another \
           horse for one of them, or one of them at another time",
        ],
    );
    check(
        |book| book.away("bella", time(10, 30), time(11, 0), "farrier"),
        &[
            "10:30-10:45 Bella is away from 10:30 to 11:00 (farrier) and ridden in the arena from 10:00 to 10:45; what would \
           do: another horse for the ride, or another time for one of the two",
        ],
    );
}

#[test]
fn rides_that_are_one_outing_use_their_tack_once() {
    check(
        |book| {
            book.lesson("eleven", time(11, 0), 45);
            book.ride("eleven", "bella");
        },
        &[],
    );
}

#[test]
fn missing_stirrups_are_found() {
    let stirrups = Some(Stirrups { left: 9, right: 9 });
    check(
        |book| ride(book, "ten-bella").stirrups = stirrups,
        &[
            "10:00 Bella is ridden with stirrups in the arena and has none among its tack for lesson; what would do: a pair of \
           stirrups in fits.csv for bella and lesson",
        ],
    );
    check(
        |book| {
            ride(book, "ten-bella").stirrups = stirrups;
            book.tack("stirrups-1", TackKind::Stirrups, &["bella"]);
        },
        &[],
    );
}

#[test]
fn work_above_what_was_set_is_found() {
    /// Bella again at 13:00, and at 14:00 under the same tack.
    fn more(book: &mut Book) {
        book.lesson("one", time(13, 0), 45);
        book.lesson("two", time(14, 0), 30);
        book.ride("one", "bella");
        book.ride("two", "bella");
    }
    let decides =
        "set by the equine professional; what would do: another horse for a ride; the equine professional decides";
    for (set, line) in [
        (WorkLimits { rides_a_day: Some(2), ..WorkLimits::default() }, "14:00 Bella has 3 rides a day, above the 2"),
        (
            WorkLimits { minutes_in_a_row: Some(Minutes(74)), ..WorkLimits::default() },
            "14:00 Bella has 75 minutes in a row, above the 74",
        ),
        (
            WorkLimits { minutes_a_day: Some(Minutes(89)), ..WorkLimits::default() },
            "13:00 Bella has 120 minutes a day, above the 89",
        ),
        (
            WorkLimits { days_a_week: Some(6), ..WorkLimits::default() },
            "10:00 Bella has 7 days of work in the week, above the 6",
        ),
    ] {
        check(
            |book| {
                more(book);
                most(book, |most| *most = set);
            },
            &[&format!("{line} {decides}")],
        );
    }
    check(
        |book| {
            most(book, |most| most.load = Some(Kilograms(80.0)));
            ride(book, "ten-bella").load = Some(Kilograms(80.5));
        },
        &[
            "10:00 Bella carries 80.5 kg in the arena, above the 80.0 kg set by the equine professional; what would do: \
           another horse for the ride; the equine professional decides",
        ],
    );
}

#[test]
fn days_of_work_are_counted_from_monday_to_sunday() {
    // 2026-06-18 is a Thursday; the Sunday before and the Monday after are of other weeks.
    let on = |day| Days::On(NaiveDate::from_ymd_opt(2026, 6, day).expect("a date"));
    for (others, lines) in [([14, 22], 0), ([15, 22], 1), ([14, 21], 1)] {
        let mut book = clean();
        most(&mut book, |most| most.days_a_week = Some(1));
        for (id, days) in [("ten", on(18)), ("one", on(others[0])), ("two", on(others[1]))] {
            book.lesson(id, time(10, 0), 45);
            book.lessons.get_mut(&id.into()).expect("the lesson").days = days;
        }
        book.ride("one", "bella");
        book.ride("two", "bella");
        assert_eq!(told(&book).len(), lines, "{others:?}");
    }
}

#[test]
fn hands_that_are_not_there_are_found() {
    check(
        |book| book.shifts.clear(),
        &[
            "9:25-13:05 no groom is on the shift sheet, and 2 horses are to be readied; what would do: grooms on the sheet \
           from 9:25 to 13:05",
        ],
    );
    // Ana, who alone is cleared for Moss, is not on the sheet.
    let alone = |from, to| {
        format!(
            "{from}-{to} nobody on the sheet is cleared for Moss (grade 2); there: Teo; what would do: one more groom \
             cleared for grade 2 from {from} to {to}"
        )
    };
    check(
        |book| book.shifts.retain(|line| line.person != "ana".into()),
        &[&alone("11:25", "11:50"), &alone("12:50", "13:05")],
    );
    // Both go at 11:10. Ana tacks Moss up early; to put him away nobody is there.
    check(
        |book| {
            for line in &mut book.shifts {
                line.to = time(11, 10);
            }
        },
        &[
            "12:50-13:05 no groom is on the sheet when Moss (grade 2) needs hands; what would do: one more groom cleared for \
           grade 2 from 12:50 to 13:05",
        ],
    );
}

/// Three horses in a lesson at 10:00, put away in so many minutes; so many grooms from then to 18:00.
fn three_at_once(put_away: u32, grooms: usize, from: TimeOfDay) -> Book {
    let mut book = Book::default();
    book.lesson("ten", time(10, 0), 45);
    for (horse, saddle) in [("bella", "saddle-1"), ("moss", "saddle-2"), ("fern", "saddle-3")] {
        book.horse(horse, 1, WorkLimits::default());
        book.horses.get_mut(&HorseId::from(horse)).expect("the horse").minutes.put_away = Minutes(put_away);
        book.tack(saddle, TackKind::Saddle, &[horse]);
        book.ride("ten", horse);
    }
    for groom in ["ana", "teo", "lin"].into_iter().take(grooms) {
        book.groom(groom, 1, from, time(18, 0));
    }
    book
}

/// How many are on the sheet and needed, by the hours from 8:00.
fn hours(book: &Book) -> Vec<(usize, usize)> {
    let hours = with(book, |known, day| look(known, day).expect("a day that can be planned").hours);
    assert_eq!(hours[0].from, time(8, 0));
    hours.iter().map(|hour: &Hour| (hour.on_sheet, hour.needed)).collect()
}

#[test]
fn three_horses_that_need_hands_at_the_same_moment_need_three_grooms() {
    // All are back at 10:50 and may stand until 11:05. Whoever puts one away in 20 minutes from 10:50 comes to the next at
    // 11:10, too late; but three who come at 11:00 are in time. Before, one alone is enough: brushed and tacked in 75
    // minutes, from 8:35 to 9:50, none of them under its tack for more than an hour.
    let mut by_hour = hours(&three_at_once(20, 3, time(8, 0)));
    assert_eq!(by_hour.len(), 10);
    let peak = by_hour.iter().map(|(_, needed)| *needed).max();
    assert_eq!(peak, Some(3), "{by_hour:?}");
    assert_eq!(by_hour.split_off(4), [(3, 0); 6]);
    // In 15 minutes one does one at 10:50 and one at 11:05, and another the third.
    let by_hour = hours(&three_at_once(15, 3, time(8, 0)));
    assert_eq!(by_hour.iter().map(|(_, needed)| *needed).max(), Some(2), "{by_hour:?}");
    // In 7 minutes one does all three, from 10:50, 10:57 and 11:04.
    let by_hour = hours(&three_at_once(7, 3, time(8, 0)));
    assert_eq!(by_hour, [[(3, 1); 4].as_slice(), &[(3, 0); 6]].concat());
}

#[test]
fn too_few_hands_are_found_with_what_would_do() {
    // Ana comes at 9:25, 25 minutes before three horses must be ready that take 25 minutes each. Afterwards she puts one
    // away after the other: the third is begun at 11:20, and may stand until 11:05.
    let more =
        |from: &str, to: &str| format!("; what would do: one more groom cleared for grade 1 from {from} to {to}");
    let lines = told(&three_at_once(15, 1, time(9, 25)));
    let kinds = |word: &str| lines.iter().filter(|line| line.contains(word)).count();
    assert_eq!(lines.len(), 5, "{lines:#?}");
    assert_eq!(kinds("no groom is on the sheet when"), 1);
    assert_eq!(kinds(": no groom cleared for grade 1 is on shift before 9:25"), 1);
    assert_eq!(kinds(": Ana is with "), 1);
    assert_eq!(kinds("is tacked at 9:55, 5 minutes late"), 1);
    assert_eq!(kinds("stands tacked until 11:20, 15 minutes longer than it may"), 1);
    assert!(lines[4].ends_with(&more("10:50", "11:20")), "{}", lines[4]);
}

#[test]
fn a_day_on_which_clocks_change_is_told_in_the_clock_of_the_wall() {
    let mut book = clean();
    book.away("bella", time(10, 30), time(11, 0), "farrier");
    let (limits, habits) = (Limits::default(), Habits::default());
    let known = Known { book: &book, limits: &limits, habits: &habits };
    for (month, date) in [(3, 8), (11, 1)] {
        let day = ZONE.day(NaiveDate::from_ymd_opt(2026, month, date).expect("a date"));
        let DayLook { findings, hours } = look(&known, day).expect("a day that can be planned");
        assert_eq!(findings.len(), 1);
        assert!(
            findings[0].to_string().starts_with("10:30-10:45 Bella is away from 10:30 to 11:00"),
            "{}",
            findings[0]
        );
        assert_eq!(hours.first().map(|hour| hour.from), Some(time(8, 0)));
    }
}
