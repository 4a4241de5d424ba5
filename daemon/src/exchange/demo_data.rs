//! The invented barn is sound, is what its README says, and is a barn that could be: no horse works too much, and no piece
//! of tack is on two horses at once.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use bellmare_barn::book::{Book, WorkLimits};
use bellmare_barn::limits::Limits;
use bellmare_barn::prep::findings::Kind;
use bellmare_barn::prep::hands::look;
use bellmare_barn::prep::{Habits, Known};
use bellmare_barn::time::{TimeOfDay, Zone};
use chrono::NaiveDate;

use super::columns::FILES;
use super::read_book;
use crate::settings::Settings;

fn folder() -> &'static Path {
    Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/../demo-data"))
}

fn demo() -> Book {
    read_book(folder()).unwrap_or_else(|faults| panic!("{faults}"))
}

/// Monday to Sunday.
fn week() -> impl Iterator<Item = NaiveDate> {
    NaiveDate::from_ymd_opt(2026, 6, 15).expect("a Monday").iter_days().take(7)
}

#[test]
fn the_invented_barn_is_read_without_a_fault() {
    let book = demo();
    assert_eq!(book.stalls.len(), 18);
    let empty: Vec<_> =
        book.stalls.iter().filter(|stall| book.horse_in(&stall.id).is_none()).map(|stall| stall.id.as_str()).collect();
    assert_eq!(empty, ["9", "18"]);
    for day in week() {
        let mounts: BTreeSet<_> = book.rides_on(day).iter().map(|(_, lesson)| lesson.start).collect();
        assert_eq!(mounts.len(), 7, "{day}");
    }
    assert!(book.rides.values().any(|ride| ride.stirrups.is_some_and(|length| length.left != length.right)));
    assert!(book.rides.values().any(|ride| ride.stirrups.is_none()));
}

#[test]
fn no_horse_works_too_much_and_no_tack_is_in_two_places() {
    let book = demo();
    for day in week() {
        let mut rides_of: BTreeMap<_, u32> = BTreeMap::new();
        let mut worn: BTreeMap<_, Vec<_>> = BTreeMap::new();
        for (ride, lesson) in book.rides_on(day) {
            *rides_of.entry(&ride.horse).or_default() += 1;
            for (_, tack) in book.tack_for(&ride.horse, &ride.usage) {
                worn.entry(&tack.id).or_default().push((lesson.start, &ride.horse));
            }
        }
        assert!(rides_of.values().all(|rides| *rides <= 3), "{day}: {rides_of:?}");
        for (tack, times) in worn {
            for pair in times.windows(2).filter(|pair| pair[0].1 != pair[1].1) {
                let apart = pair[1].0.minutes() - pair[0].0.minutes();
                assert!(apart >= 90, "{day}: {tack} is on {} and {apart} minutes later on {}", pair[0].1, pair[1].1);
            }
        }
    }
}

#[test]
fn nothing_is_wrong_with_a_week_by_the_book_and_only_thin_afternoons_with_its_hands() {
    let (book, habits) = (demo(), Habits::default());
    let limits = Limits { zone: Zone(chrono_tz::America::New_York), ..Limits::default() };
    let known = Known { book: &book, limits: &limits, habits: &habits };
    let noon = TimeOfDay::new(12, 0).expect("a time");
    assert!(book.horses.values().filter(|horse| horse.most != WorkLimits::default()).count() > 5);
    assert!(book.rides.values().filter(|ride| ride.load.is_some()).count() > 40);
    for day in week() {
        let look = look(&known, limits.zone.day(day)).expect("a day that can be planned");
        for finding in look.findings {
            assert!(finding.kind >= Kind::Missed && finding.from >= noon, "{day}: {finding}");
        }
    }
}

#[test]
fn somebody_is_on_the_sheet_all_day_and_the_afternoon_is_thin() {
    let book = demo();
    for day in week() {
        let today: Vec<_> = book.shifts.iter().filter(|shift| shift.days.include(day)).collect();
        assert!((4..=5).contains(&today.len()), "{day}: {}", today.len());
        let there =
            |minute: u16| today.iter().filter(|s| s.from.minutes() <= minute && minute < s.to.minutes()).count();
        assert!((450..1170).all(|minute| there(minute) >= 1), "{day}");
        assert!(there(10 * 60) > there(16 * 60), "{day}");
    }
}

#[test]
fn its_readme_names_every_file_and_column() {
    let readme = std::fs::read_to_string(folder().join("README.md")).expect("the README");
    for file in FILES {
        let section = readme.split("\n**").find(|section| section.starts_with(file.name));
        let section = section.unwrap_or_else(|| panic!("the README does not tell of {}", file.name));
        let cells: Vec<_> = section
            .lines()
            .filter_map(|line| line.strip_prefix("| ")?.split_once(" |"))
            .flat_map(|(cell, _)| cell.split(", "))
            .filter(|cell| *cell != "column")
            .collect();
        assert_eq!(cells, file.columns, "{}", file.name);
    }
}

#[test]
fn its_settings_are_sound_and_find_the_book() {
    let settings = Settings::load(Some(&folder().join("settings.toml")), []).unwrap_or_else(|error| panic!("{error}"));
    assert_eq!(settings.limits.barn, "Larkspur Hollow");
    assert_eq!(settings.limits.zone.0, chrono_tz::America::New_York);
    let book = settings.data.book.expect("a folder");
    assert_eq!(read_book(&book), Ok(demo()));
}
