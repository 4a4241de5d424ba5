//! Staff by PIN and the clock by hand, told as days in the barn.

use std::sync::Arc;

use bellmare_barn::board::{Clock, PersonView};
use bellmare_barn::book::Role;
use bellmare_barn::input::{Action, ClockSource, Input, Pin, PinTried, Touch};
use bellmare_barn::pins::PinHash;
use bellmare_barn::refusal::Because;
use bellmare_barn::time::{Mono, TimeOfDay, WallClock};
use chrono::NaiveDate;

use crate::day::{Day, ZONE, book, thursday};

const NEEDS_PIN: &str =
    "staff, an instructor, the equine professional or the manager must do this: show your PIN first";

fn pin(person: &str, hash: Option<&str>) -> Input {
    Input::Pin(Pin { person: person.into(), hash: hash.map(PinHash::new) })
}

fn tried(kiosk: &str, right: bool) -> Input {
    Input::PinTried(PinTried { kiosk: kiosk.into(), person: "lena".into(), right })
}

fn by_staff(day: &mut Day, id: &str, action: Action) {
    staff_is(day, id, "lena", action);
}

fn staff_is(day: &mut Day, id: &str, staff: &str, action: Action) {
    let (kiosk, staff) = ("aisle".into(), Some(staff.into()));
    day.happens(Input::Touch(Touch { id: id.into(), kiosk, held_ms: 0, by: None, staff, action }));
}

fn scratch(by: &str) -> Action {
    Action::Scratch { horse: "pepper".into(), out: true, by: by.into() }
}

fn person(day: &Day, id: &str) -> PersonView {
    day.board().people.into_iter().find(|person| person.id.as_str() == id).expect("in the book")
}

#[test]
fn a_pin_is_for_those_who_decide_and_goes_with_them() {
    let mut day = Day::begins(8, 0);
    assert_eq!((person(&day, "lena").staff, person(&day, "lena").has_pin), (true, false));
    assert_eq!((person(&day, "ana").staff, person(&day, "ana").has_pin), (false, false));
    day.happens(pin("lena", Some("a hash"))).says(&[]);
    let why = "ana needs no PIN: allowed are staff, instructors, equine professionals and managers";
    day.happens(pin("ana", Some("a hash"))).says(&[&format!("refuse a PIN: {why}")]);
    day.happens(pin("nobody", Some("a hash"))).says(&["refuse a PIN: the book has no person nobody"]);
    day.restart();
    assert!(person(&day, "lena").has_pin && !person(&day, "ana").has_pin);
    let json = serde_json::to_string(&day.board()).expect("a board");
    assert!(!json.contains("a hash"), "a hash is on no board");
    // She becomes a groom, and later staff again: her PIN is gone.
    let mut changed = book();
    changed.people.get_mut(&"lena".into()).expect("Lena").role = Role::Groom;
    day.happens(Input::Book(Arc::new(changed))).happens(Input::Book(Arc::new(book()))).says(&[]);
    assert!(!person(&day, "lena").has_pin);
}

#[test]
fn with_the_first_pin_a_name_alone_decides_nothing() {
    let mut day = Day::begins(8, 0);
    let who = "staff, an instructor, the equine professional or the manager must do this";
    day.touch(scratch("lena")).says(&["t1 done"]);
    day.touch(scratch("ana")).says(&[&format!("refuse kiosk aisle: {who}"), &format!("t2 refused: {who}")]);
    day.happens(pin("lena", Some("a hash"))).says(&[]);
    day.touch(scratch("lena"))
        .says(&[&format!("refuse kiosk aisle: {NEEDS_PIN}"), &format!("t3 refused: {NEEDS_PIN}")]);
    by_staff(&mut day, "s1", scratch("lena"));
    day.says(&["s1 done"]);
    staff_is(&mut day, "s2", "ana", scratch("lena"));
    day.says(&[&format!("refuse kiosk aisle: {who}"), &format!("s2 refused: {who}")]);
    day.happens(pin("lena", None)).touch(scratch("lena")).says(&["t4 done"]);
}

#[test]
fn wrong_pins_wait_and_never_keep_anybody_from_an_alarm() {
    let mut day = Day::begins(8, 0);
    let may = |day: &Day, kiosk: &str, mono: Mono| {
        day.barn.may_try_pin(&"lena".into(), &kiosk.into(), mono).map(drop).map_err(|no| (no.refusal, no.wait_ms))
    };
    let start = Mono(1_000_000);
    assert_eq!(
        may(&day, "aisle", start),
        Err((Because::NoPin.says("Lena has no PIN yet: whoever looks after the hub sets one"), 0))
    );
    day.happens(pin("lena", Some("a hash"))).level("3", 2.0).after_ms(20 * 60_000);
    day.says(&["raise 1: Pepper, stall 3: bucket empty and not refilled"]);
    let now = start.plus(20 * 60_000);
    for _ in 0..3 {
        assert_eq!(may(&day, "aisle", now), Ok(()));
        day.happens(tried("aisle", false));
    }
    day.restart();
    let waits = |ms| Err((Because::TooManyPins.says("too many wrong PINs: wait"), ms));
    assert_eq!(may(&day, "aisle", now), waits(30_000));
    assert_eq!(may(&day, "tack-room", now.plus(10_000)), waits(20_000));
    day.touch(Action::Acknowledge { alarm: 1, by: "ana".into() }).says(&["t1 done"]);
    assert_eq!(may(&day, "aisle", now.plus(30_000)), Ok(()));
    day.after_ms(30_000).happens(tried("aisle", true)).happens(tried("aisle", false)).says(&[]);
    assert_eq!(may(&day, "aisle", now.plus(30_000)), Ok(()), "a right one begins anew");
}

#[test]
fn without_a_clock_staff_say_what_time_it_is_and_the_day_follows() {
    let mut day = Day::with_clock(WallClock::Unset);
    day.happens(pin("lena", Some("a hash"))).says(&[]);
    let ten_to_ten = TimeOfDay::new(9, 50).expect("a time");
    let set = || Action::SetClock { date: thursday(), time: ten_to_ten };
    day.touch(set()).says(&[&format!("refuse kiosk aisle: {NEEDS_PIN}"), &format!("t1 refused: {NEEDS_PIN}")]);
    assert_eq!(day.board().clock, Clock::Unset);
    by_staff(&mut day, "s1", set());
    day.says(&["set the clock to 2026-06-18T13:50:00.000Z", "s1 done"]);
    // The shell carries it out, and tells of the step.
    let wall = ZONE.instant(thursday(), ten_to_ten);
    day.clock_is_set_to(wall).restart().says(&[]);
    let board = day.board();
    assert_eq!((board.clock_by_hand, board.clock), (true, Clock::Set { date: thursday(), time: ten_to_ten }));
    assert_eq!(board.lessons.len(), 1);
    assert!(!board.next.is_empty());
    // Signed in today, and the day's end signs her out.
    day.touch(Action::SignIn("ana".into())).says(&["t2 done"]);
    assert!(person(&day, "ana").since.is_some());
    // A wrong digit is mended by hand.
    by_staff(&mut day, "s2", Action::SetClock { date: thursday(), time: TimeOfDay::new(10, 50).expect("a time") });
    day.says(&["set the clock to 2026-06-18T14:50:00.000Z", "s2 done"]);
    day.clock_is_set_to(wall.plus(3_600_000)).at(23, 0);
    assert!(person(&day, "ana").assumed_out);
    // The real clock comes and steps over it; from then on hands are kept off.
    day.happens(Input::ClockSource(ClockSource::System)).clock_is_set_to(wall).says(&[]);
    assert_eq!((day.board().clock_by_hand, day.board().lessons.len()), (false, 1));
    by_staff(&mut day, "s3", set());
    let why = "the hub's own clock is right and says 9:50: it is not set by hand";
    let nobody = "raise 1: lesson of 10:00: nobody is signed in";
    day.says(&[nobody, &format!("refuse kiosk aisle: {why}"), &format!("s3 refused: {why}")]);
}

#[test]
fn a_time_that_comes_twice_or_never_and_one_that_can_not_be() {
    let date = |y, m, d| NaiveDate::from_ymd_opt(y, m, d).expect("a date");
    let time = |hour, minute| TimeOfDay::new(hour, minute).expect("a time");
    // IANA tzdata, America/New_York: 2026-03-08 02:00 EST -> 03:00 EDT; 2026-11-01 02:00 EDT -> 01:00 EST.
    for (date, time, wall) in [
        (date(2026, 11, 1), time(1, 30), "2026-11-01T05:30:00.000Z"),
        (date(2026, 3, 8), time(2, 30), "2026-03-08T07:00:00.000Z"),
        (date(2026, 3, 8), time(3, 30), "2026-03-08T07:30:00.000Z"),
    ] {
        let mut day = Day::with_clock(WallClock::Unset);
        by_staff(&mut day, "s1", Action::SetClock { date, time });
        day.says(&[&format!("set the clock to {wall}"), "s1 done"]);
    }
    let midnight: TimeOfDay = serde_json::from_str("1440").expect("serde asks no questions");
    for (date, time, why) in [
        (date(2025, 12, 31), time(9, 0), "date 2025-12-31: allowed is 2026-01-01 to 2099-12-31"),
        (date(2100, 1, 1), time(9, 0), "date 2100-01-01: allowed is 2026-01-01 to 2099-12-31"),
        (date(2026, 6, 18), midnight, "time 1440: allowed is 0 to 1439 minutes after midnight"),
    ] {
        let mut day = Day::with_clock(WallClock::Unset);
        by_staff(&mut day, "s1", Action::SetClock { date, time });
        day.says(&[&format!("refuse kiosk aisle: {why}"), &format!("s1 refused: {why}")]);
        assert_eq!(day.barn.clock_source(), ClockSource::System);
    }
}

#[test]
fn a_kiosk_that_could_not_reach_the_hub_said_what_time_it_was_then() {
    let mut day = Day::with_clock(WallClock::Unset);
    let action = Action::SetClock { date: thursday(), time: TimeOfDay::new(9, 50).expect("a time") };
    let touch =
        Touch { id: "s1".into(), kiosk: "aisle".into(), held_ms: 90_000, by: None, staff: Some("lena".into()), action };
    day.happens(Input::Touch(touch)).says(&["set the clock to 2026-06-18T13:51:30.000Z", "s1 done"]);
}
