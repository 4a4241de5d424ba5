//! Who is told of what, and when: days with alarms and the people of a barn.

use std::sync::Arc;

use bellmare_barn::alarm::record::HowEnded;
use bellmare_barn::board::{HeatBand, HeatView, Priority};
use bellmare_barn::book::{Person, Role};
use bellmare_barn::input::{Action, Input, Line, Presence, Room, Sensor, Sent, TakenByLink, Touch, WhyAside};
use bellmare_barn::limits::Limits;
use bellmare_barn::tell::message::{About, Message, Outcome};
use bellmare_barn::time::TimeOfDay;
use bellmare_barn::units::Minutes;

use crate::day::{Day, book, limits};

const MIN: u64 = 60_000;

/// A day of the small barn in which Lena is staff, Erin the equine professional and Mara the manager, and all can be reached.
fn day(hour: u16, minute: u16) -> Day {
    let mut day = Day::begins(hour, minute);
    let mut book = book();
    for (id, role) in [("erin", Role::EquineProfessional), ("mara", Role::Manager)] {
        let name = format!("{}{}", id[..1].to_uppercase(), &id[1..]);
        let person = Person { id: id.into(), name, role, badge: None, grade: 2, language: Default::default() };
        book.people.insert(person.id.clone(), person);
    }
    day.happens(Input::Book(Arc::new(book))).happens(Input::Limits(Arc::new(reachable())));
    day.says(&[]).tells(&[]);
    day
}

/// Three people can be reached; empty buckets press at once.
fn reachable() -> Limits {
    let mut limits = limits();
    limits.water.empty_presses_after = Minutes(0);
    limits.tell.reachable = ["lena", "erin", "mara"].map(Into::into).into();
    limits
}

fn staff(day: &mut Day, id: &str, action: Action) {
    day.happens(Input::Touch(Touch {
        id: id.into(),
        kiosk: "aisle".into(),
        held_ms: 0,
        by: None,
        staff: Some("lena".into()),
        action,
    }));
}

/// Pepper's bucket is emptied at this time and said to be so ten minutes later.
fn empty(day: &mut Day) {
    day.level("3", 90.0);
    for _ in 0..13 {
        day.after_ms(MIN).level("3", 2.0);
    }
}

/// Minutes pass, and its sensor says the same.
fn still(day: &mut Day, minutes: u64, percent: f64) {
    for minute in 0..minutes {
        // Not to the last digit: that would be stuck.
        day.after_ms(MIN).level("3", percent + (minute % 3) as f64 * 0.1);
    }
}

/// Somebody fills it, and its sensor sees that within a few minutes.
fn fill(day: &mut Day) {
    for _ in 0..6 {
        day.after_ms(10_000).level("3", 95.0);
    }
}

const EMPTY: &str = "stall 3, Pepper: bucket empty and not refilled";

#[test]
fn an_empty_bucket_climbs_from_staff_to_the_manager_until_somebody_takes_it() {
    let mut day = day(8, 0);
    day.tap("B2", None);
    empty(&mut day);
    day.tells(&[&format!("lena raised: {EMPTY}")]);
    still(&mut day, 5, 2.0);
    day.tells(&[&format!("erin untaken for 5: {EMPTY}")]);
    still(&mut day, 5, 2.0);
    let messages = day.messages();
    let [Message { alarms, priority: Priority::High, .. }] = messages.as_slice() else { panic!("{messages:?}") };
    let told: Vec<_> = alarms[0].told.iter().map(|who| (who.name.as_str(), who.at)).collect();
    assert_eq!(told.len(), 2, "{told:?}");
    assert_eq!(alarms[0].to_do, "Fill it now, and look whether the horse is well.");
    assert!(alarms[0].taken_by.is_none() && !alarms[0].over);

    let link = TakenByLink { link: "link 1".into(), alarms: vec![alarms[0].alarm.id], by: "mara".into() };
    day.says(&["raise 1: Pepper, stall 3: bucket empty and not refilled"]);
    day.happens(Input::TakenByLink(link.clone())).says(&["link 1 done"]);
    day.happens(Input::TakenByLink(link)).says(&["link 1 done"]);
    assert_eq!(day.board().alarms[0].seen_by.as_deref(), Some("Mara"));
    // Those who were told learn it once; nothing climbs any more, and its end is no news.
    still(&mut day, 2, 2.0);
    day.tells(&[&format!("erin taken: {EMPTY}"), &format!("lena taken: {EMPTY}")]);
    still(&mut day, 60, 2.0);
    day.tells(&[]);
    fill(&mut day);
    day.after_ms(2 * MIN).tells(&[]);
    assert!(matches!(day.rows[&1].ended, Some((_, HowEnded::Gone))));
    assert_eq!(day.rows[&1].seen.as_ref().map(|(by, _)| by.as_str()), Some("mara"));
}

#[test]
fn where_nobody_is_on_shift_it_goes_straight_on_and_what_is_over_is_said_once() {
    let mut day = day(8, 0);
    empty(&mut day);
    day.tells(&[&format!("erin raised: {EMPTY}")]);
    fill(&mut day);
    day.after_ms(2 * MIN).tells(&[&format!("erin over: {EMPTY}")]);
    day.after_ms(60 * MIN).tells(&[]);
}

#[test]
fn a_message_that_does_not_arrive_goes_to_the_next_at_once() {
    let mut day = day(8, 0);
    day.tap("B2", None);
    empty(&mut day);
    let messages = day.messages();
    let failed = Outcome::Failed("550 no such mailbox".to_owned());
    day.happens(Input::Sent(Sent { message: messages[0].id, outcome: failed }));
    day.after_ms(10_000);
    let next = day.messages();
    day.happens(Input::Sent(Sent { message: next[0].id, outcome: Outcome::Accepted }));
    assert_eq!(day.board().alarms[0].told, ["Erin"], "and who was told is on the board");
    assert_eq!(day.rows[&1].told.len(), 1);
}

#[test]
fn what_can_wait_waits_for_the_morning_and_what_can_not_does_not() {
    let mut day = day(21, 30);
    // A sensor that has been silent for over an hour is medium.
    day.presence("1", true).level("1", 80.0).presence("1", false);
    empty(&mut day);
    // Stall 1 is low priority by now, and stall 3 is empty.
    day.tells(&[&format!("erin raised: {EMPTY}")]);
    day.after_ms(90 * MIN).tells(&[&format!("mara untaken for 5: {EMPTY}")]);
    let mut morning = day.messages();
    day.after_ms(7 * 60 * MIN + 30 * MIN);
    morning.extend(day.messages());
    assert_eq!(morning.len(), 1, "{morning:?}");
    assert_eq!(morning[0].alarms[0].place, "stall 1");
    let at = morning[0].made.wall.get().map(|wall| crate::day::ZONE.time_of_day(wall));
    assert_eq!(at, TimeOfDay::new(6, 0));
}

#[test]
fn an_empty_bucket_presses_after_a_while() {
    let mut day = day(21, 30);
    let mut limits = reachable();
    limits.water.empty_presses_after = Minutes(40);
    day.happens(Input::Limits(Arc::new(limits)));
    empty(&mut day);
    // It is night: for half an hour it may wait for the morning, then no longer, also where its sensor has fallen silent.
    day.tells(&[]);
    assert_eq!(day.board().alarms[0].priority, Priority::Medium);
    day.after_ms(45 * MIN).tells(&[&format!("erin raised: {EMPTY}"), &format!("mara untaken for 5: {EMPTY}")]);
    assert_eq!(day.board().alarms[0].priority, Priority::High);
}

#[test]
fn an_empty_bucket_presses_at_once_in_critical_heat() {
    let mut day = day(14, 0);
    let mut limits = reachable();
    limits.water.empty_presses_after = Minutes(8 * 60);
    day.happens(Input::Limits(Arc::new(limits)));
    day.tap("B2", None);
    empty(&mut day);
    day.tells(&[&format!("lena raised: {EMPTY}")]);
    assert_eq!(day.board().alarms[0].priority, Priority::Medium);
    // 95 °F and 60 % are 155 on the horse sum: critical by the limits of this barn.
    for _ in 0..12 {
        day.after_ms(MIN).air("arena", 95.0, 60.0).level("3", 2.0);
    }
    assert!(matches!(day.board().heat, HeatView::Known { band: HeatBand::Critical, .. }), "{:?}", day.board().heat);
    let empty = day.board().alarms.into_iter().find(|alarm| alarm.text.contains("bucket empty")).expect("it stands");
    assert_eq!(empty.priority, Priority::High);
    let told: Vec<_> = day.messages().iter().map(|message| message.about.clone()).collect();
    assert!(told.contains(&About::Worse), "{told:?}");
}

#[test]
fn forty_sensors_lost_at_once_are_one_message_within_half_a_minute() {
    let mut day = day(9, 0);
    day.tap("B2", None);
    let mut book = (**day.barn.book()).clone();
    let stall = book.stalls[0].clone();
    book.stalls =
        (1..=40).map(|n| bellmare_barn::book::Stall { id: n.to_string().as_str().into(), ..stall.clone() }).collect();
    day.happens(Input::Book(Arc::new(book)));
    for n in 1..=40 {
        day.presence(&n.to_string(), true).level(&n.to_string(), 80.0);
    }
    day.after_ms(MIN).says(&[]);
    for n in 1..=40 {
        day.after_ms(100).presence(&n.to_string(), false);
    }
    day.after_ms(26_000);
    day.tells(&["lena raised: 40 sensors are silent at once"]);
    assert_eq!(day.board().alarms.len(), 1, "and one line on the board");
    // They come back one by one; that is one line more.
    for n in 1..=40 {
        day.after_ms(500).presence(&n.to_string(), true).level(&n.to_string(), 80.0);
    }
    day.after_ms(30 * MIN);
    let rest: Vec<_> = day.messages();
    assert!(rest.len() <= 2, "{rest:?}");
    assert!(matches!(rest[0].about, About::Ended));
    assert!(day.rows.values().all(|row| row.ended.is_some()), "{:?}", day.rows);
}

#[test]
fn a_broker_that_dies_and_comes_back_is_two_messages() {
    let mut day = day(9, 0);
    day.tap("B2", None);
    for minute in 0..10 {
        day.at(9, minute).level("1", 80.0).level("2", 80.0).level("3", 80.0);
    }
    day.happens(Input::Broker(Line::Down("refused".to_owned()))).after_ms(4 * MIN);
    day.tells(&["lena raised: no sensor can be heard"]);
    day.happens(Input::Broker(Line::Up)).after_ms(MIN);
    for minute in 16..60 {
        day.at(9, minute).level("1", 80.0).level("2", 80.0).level("3", 80.0);
    }
    day.tells(&["lena over: no sensor can be heard"]);
}

#[test]
fn put_aside_by_staff_it_is_told_to_nobody_and_comes_back() {
    let mut day = day(8, 0);
    day.tap("B2", None);
    empty(&mut day);
    day.tells(&[&format!("lena raised: {EMPTY}")]);
    let aside = Action::PutAside { alarm: 1, for_min: 60, why: WhyAside::BeingSeenTo };
    day.says(&["raise 1: Pepper, stall 3: bucket empty and not refilled"]);
    day.touch_as("k1", aside.clone());
    let only = "only staff can do this: show your PIN";
    day.says(&[&format!("refuse kiosk aisle: {only}"), &format!("k1 refused: {only}")]);
    staff(&mut day, "k2", aside);
    day.says(&["k2 done"]);
    let board = day.board();
    assert!(board.alarms.is_empty());
    let view = board.aside[0].aside.clone().expect("it is put aside");
    assert_eq!(
        (view.by.as_str(), view.until, view.why),
        ("Lena", TimeOfDay::new(9, 13).expect("a time"), WhyAside::BeingSeenTo)
    );
    still(&mut day, 59, 2.0);
    day.tells(&[]);
    still(&mut day, 2, 2.0);
    day.tells(&[&format!("lena worse: {EMPTY}")]);
    staff(&mut day, "k3", Action::PutAside { alarm: 1, for_min: 60, why: WhyAside::Waits });
    staff(&mut day, "k4", Action::TakeUp { alarm: 1 });
    staff(&mut day, "k5", Action::TakeUp { alarm: 1 });
    day.says(&[
        "raise 1: Pepper, stall 3: bucket empty and not refilled",
        "k3 done",
        "raise 1: Pepper, stall 3: bucket empty and not refilled",
        "k4 done",
        "refuse kiosk aisle: that alarm is not put aside",
        "k5 refused: that alarm is not put aside",
    ]);
}

#[test]
fn the_digest_comes_in_the_morning_and_on_mondays_even_where_there_is_nothing_to_say() {
    // A Thursday.
    let mut day = day(6, 0);
    day.battery("1", 12.0).says(&["raise 1: water sensor of stall 1: battery is low"]);
    day.at(7, 0);
    let messages = day.messages();
    let [Message { about: About::Digest(digest), .. }] = messages.as_slice() else { panic!("{messages:?}") };
    assert_eq!(digest.low, ["stall 1: a battery is low"]);
    assert_eq!(digest.rate.by_priority, [0, 0, 1]);
    assert_eq!(digest.batteries.len(), 1);
    assert_eq!(digest.talkers[0].change, "Change the batteries; limits.sensors.battery_low_percent");
    assert!(!digest.heartbeat);
    day.battery("1", 100.0).says(&["end 1"]);
    // Friday still counts the new battery's alarm in nothing: it was raised before.
    day.after_ms(24 * 60 * MIN).tells(&[]);
    day.after_ms(2 * 24 * 60 * MIN).tells(&[]);
    day.after_ms(24 * 60 * MIN);
    let messages = day.messages();
    let [Message { about: About::Digest(digest), .. }] = messages.as_slice() else { panic!("{messages:?}") };
    assert!(digest.heartbeat && digest.rate.raised == 0, "{digest:?}");
}

#[test]
fn a_sensor_out_of_service_raises_nothing_and_is_named_in_the_digest() {
    let mut day = day(5, 30);
    empty(&mut day);
    day.says(&["raise 1: Pepper, stall 3: bucket empty and not refilled"]).messages();
    let mut limits = reachable();
    let sensor = bellmare_barn::alarm::cause::OutOfService::Sensor(Sensor::Water("3".into()));
    limits.alarms.out_of_service.insert(sensor);
    day.happens(Input::Limits(Arc::new(limits))).says(&["end 1"]);
    assert!(matches!(day.rows[&1].ended, Some((_, HowEnded::OutOfService))));
    day.at(7, 0).says(&[]);
    let messages = day.messages();
    let digest = messages.iter().find_map(|message| match &message.about {
        About::Digest(digest) => Some(digest),
        _ => None,
    });
    assert_eq!(digest.expect("a digest").out_of_service, ["water 3"]);
}

#[test]
fn a_lesson_without_anybody_and_a_horse_that_is_late_are_said() {
    let mut day = day(8, 0);
    day.tap("A1", None).after_ms(MIN).tap("A1", None);
    // Pepper's lesson is at ten.
    day.at(9, 29).says(&[]);
    day.at(9, 36).says(&["raise 1: lesson of 10:00: nobody is signed in"]);
    day.tells(&["mara raised: lesson of 10:00: nobody is signed in, and a lesson is due"]);
    day.tap("A1", None).after_ms(6 * MIN).says(&["end 1"]);
    let said = |mark| {
        Action::Work(bellmare_barn::input::Said {
            ride: "r1".into(),
            horse: "pepper".into(),
            step: bellmare_barn::input::Step::Brush,
            mark,
            by: Some("ana".into()),
        })
    };
    day.touch(said(bellmare_barn::input::Mark::Begun))
        .at(9, 47)
        .says(&["t1 done", "raise 2: lesson of 10:00: Pepper not ready in time"]);
    day.touch(Action::Work(bellmare_barn::input::Said {
        ride: "r1".into(),
        horse: "pepper".into(),
        step: bellmare_barn::input::Step::Tack,
        mark: bellmare_barn::input::Mark::Done,
        by: None,
    }));
    day.after_ms(2_000).says(&["t2 done", "end 2"]);
}

#[test]
fn a_full_disk_is_said_and_more_so_where_it_is_nearly_over() {
    let mut day = day(9, 0);
    let room = |mib: u64| Input::Disk(Room { free: mib << 20, of: 32 << 30 });
    day.happens(room(600)).says(&[]);
    day.happens(room(400))
        .says(&["raise 1: the hub's disk is nearly full, 400 MiB left: call whoever looks after the hub"]);
    day.happens(room(550)).says(&[]);
    day.happens(room(40))
        .says(&["raise 1: the hub's disk is nearly full, 40 MiB left: call whoever looks after the hub"]);
    day.happens(room(601)).says(&["end 1"]);
}

#[test]
fn a_flood_is_at_most_three_messages_to_a_person() {
    let mut day = day(9, 0);
    day.tap("B2", None);
    let limits = {
        let mut limits = reachable();
        limits.alarms.silent_pressing = Minutes(0);
        limits.alarms.many_silent = 1000;
        limits
    };
    let mut book = (**day.barn.book()).clone();
    let stall = book.stalls[0].clone();
    book.stalls =
        (1..=60).map(|n| bellmare_barn::book::Stall { id: n.to_string().as_str().into(), ..stall.clone() }).collect();
    day.happens(Input::Limits(Arc::new(limits))).happens(Input::Book(Arc::new(book)));
    for n in 1..=60 {
        let sensor = Sensor::Water(n.to_string().as_str().into());
        day.happens(Input::Presence(Presence { sensor: sensor.clone(), online: true })).level(&n.to_string(), 80.0);
        day.happens(Input::Presence(Presence { sensor, online: false })).after_ms(9_000);
    }
    let flood = day.messages();
    let lena: Vec<_> = flood
        .iter()
        .filter(|message| matches!(&message.to, bellmare_barn::tell::message::To::Person(id) if id.as_str() == "lena"))
        .collect();
    assert!((1..=3).contains(&lena.len()), "{lena:?}");
    let last = lena.last().expect("one");
    assert!(matches!(last.about, About::Many { raised } if raised > 10), "{last:?}");
    assert!(last.alarms.len() <= 5, "the board has the rest");
}

#[test]
fn a_restart_in_the_middle_tells_the_same() {
    let run = |restart: bool| {
        let mut day = day(8, 0);
        day.tap("B2", None);
        empty(&mut day);
        if restart {
            day.restart();
        }
        day.after_ms(30 * MIN);
        day.messages()
    };
    let whole = run(false);
    assert!(whole.len() >= 3);
    assert_eq!(run(true), whole);
    let ids: std::collections::BTreeSet<_> = whole.iter().map(|message| message.id).collect();
    assert_eq!(ids.len(), whole.len(), "no number is used twice");
}
