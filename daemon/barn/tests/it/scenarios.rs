//! Days in the barn.

use bellmare_barn::board::{Clock, HeatBand, HeatView, LineView, Pace, WaterState, WaterView, Who};
use bellmare_barn::heat::advice::Advice;
use bellmare_barn::input::{Action, Input, Line, Mark, Measured, Reading, Said, Sensor, Step, Touch};
use bellmare_barn::time::{TimeOfDay, WallClock};
use bellmare_barn::units::{Celsius, Millimetres, Percent};
use bellmare_barn::water::bucket::Fault;

use crate::day::{Day, ZONE, climate, thursday};

const MIN: u64 = 60_000;

fn water(day: &Day, stall: &str) -> WaterView {
    day.board().stalls.iter().find(|view| view.id.as_str() == stall).expect("a stall of the book").water
}

fn here(day: &Day) -> Vec<String> {
    day.board().people.into_iter().filter(|person| person.since.is_some()).map(|person| person.name).collect()
}

#[test]
fn a_bucket_is_emptied_forgotten_seen_and_filled() {
    let mut day = Day::begins(8, 0);
    day.level("3", 60.0).says(&[]);
    day.at(8, 1).level("3", 4.0).says(&[]);
    assert!(matches!(water(&day, "3"), WaterView::Known { state: WaterState::Empty, for_min: 0, .. }));
    day.at(8, 6).level("3", 4.0).at(8, 10).level("3", 4.0).says(&[]);
    day.at(8, 11).says(&["raise 1: Pepper, stall 3: bucket empty and not refilled"]);
    day.at(8, 12).level("3", 3.0).says(&[]);
    assert_eq!(day.board().alarms[0].for_min, 1);
    day.touch(Action::Acknowledge { alarm: 1, by: "lena".into() }).says(&["t1 done"]);
    assert_eq!(day.board().alarms[0].seen_by.as_deref(), Some("Lena"));
    // One reading may be a head in the beam.
    day.at(8, 15).level("3", 96.0).says(&[]);
    day.at(8, 16).level("3", 95.5).says(&["end 1"]);
    assert!(day.board().alarms.is_empty());
}

#[test]
fn other_limits_count_for_the_water_that_is_there() {
    let mut day = Day::begins(8, 0);
    day.level("3", 20.0);
    assert!(matches!(water(&day, "3"), WaterView::Known { state: WaterState::Low, .. }));
    let mut limits = crate::day::limits();
    limits.water.low = Percent(10.0);
    day.happens(Input::Limits(limits.into()));
    assert!(matches!(water(&day, "3"), WaterView::Known { state: WaterState::Enough, .. }));
}

#[test]
fn a_bucket_filled_in_time_is_no_alarm() {
    let mut day = Day::begins(8, 0);
    day.level("3", 4.0).at(8, 9).level("3", 90.0).at(9, 0).says(&[]);
}

/// What is said once and then no more counts, though the silence before it makes the sensor a slower one than it was.
#[test]
fn the_last_word_of_a_sensor_counts() {
    let mut day = Day::begins(8, 0);
    for gap in [0, 2, 2, 2, 3, 3] {
        day.after_ms(gap * MIN).level("3", 4.0);
    }
    day.at(9, 0).level("3", 95.0).at(9, 5);
    assert!(matches!(water(&day, "3"), WaterView::Known { state: WaterState::Empty, .. }), "one may be a slip");
    day.at(9, 10);
    assert!(matches!(water(&day, "3"), WaterView::Known { state: WaterState::Enough, .. }), "{:?}", water(&day, "3"));
}

#[test]
fn an_alarm_does_not_end_because_its_sensor_breaks_or_falls_silent() {
    let mut day = Day::begins(8, 0);
    for minute in 0..10 {
        day.at(8, minute).level("3", 2.0);
    }
    day.at(8, 10).says(&["raise 1: Pepper, stall 3: bucket empty and not refilled"]);
    let why = "a level reading of 1500 mm puts the water at 1500 mm, outside of -45 mm to 345 mm";
    let refused = format!("refuse water sensor of stall 3: {why}");
    for minute in 11..14 {
        assert!(matches!(water(&day, "3"), WaterView::Known { .. }), "one such reading is a splash");
        day.at(8, minute).level("3", 500.0).says(&[&refused]);
    }
    assert!(matches!(water(&day, "3"), WaterView::Faulty { fault: Some(Fault::Blocked), .. }));
    day.at(8, 18);
    day.says(&["raise 2: water sensor of stall 3 is silent: go and look"]);
    day.at(8, 40);
    let doubted = "raise 3: water sensor of stall 3 can not be believed: something is before it; check by eye";
    day.says(&[doubted, "end 2", "raise 1: Pepper, stall 3: bucket empty and not refilled"]);
    assert_eq!(day.board().alarms.len(), 2, "what was empty is not full for being unheard; one sensor is one alarm");
}

#[test]
fn a_sensor_that_falls_silent_is_never_fine() {
    let mut day = Day::begins(8, 0);
    for minute in 0..10 {
        day.at(8, minute).level("1", 80.0);
    }
    day.at(8, 13).says(&[]);
    day.at(8, 14).says(&["raise 1: water sensor of stall 1 is silent: go and look"]);
    assert_eq!(water(&day, "1"), WaterView::Silent { last_percent: 80.0, for_min: 5 });
    assert_eq!(water(&day, "2"), WaterView::NeverHeard);
    assert_eq!(water(&day, "4"), WaterView::NoBucket);
    day.at(8, 20).level("1", 79.0).after_ms(9_999).says(&[]).after_ms(1).says(&["end 1"]);
    assert!(matches!(water(&day, "1"), WaterView::Known { .. }));
}

#[test]
fn last_heard_and_last_changed_are_kept_apart() {
    let mut day = Day::begins(8, 0);
    for minute in 0..10 {
        day.at(8, minute).level("1", 80.0);
    }
    day.at(8, 10).battery("1", 71.0);
    let sensor = day.sensors().into_iter().next().expect("one has spoken");
    assert_eq!((sensor.heard_s_ago, sensor.changed_s_ago), (Some(60), Some(600)));
    assert_eq!((sensor.cadence_s, sensor.battery, sensor.silent), (Some(60), Some(71.0), false));
}

#[test]
fn a_last_will_is_heard_at_once() {
    let mut day = Day::begins(8, 0);
    day.presence("1", true).level("1", 80.0).says(&[]);
    day.at(8, 1).presence("1", false).says(&["raise 1: water sensor of stall 1 is silent: go and look"]);
    day.at(8, 2).presence("1", true).says(&[]).after_ms(10_000).says(&["end 1"]);
}

#[test]
fn a_dead_broker_is_one_alarm_and_no_sensor_is_blamed() {
    let mut day = Day::begins(8, 0);
    for minute in 0..10 {
        day.at(8, minute).level("1", 80.0).level("2", 80.0).level("3", 80.0);
    }
    day.happens(Input::Broker(Line::Down("connection refused".to_owned()))).after_ms(9_999);
    day.says(&[]).after_ms(1);
    day.says(&["raise 1: no sensor can be heard: check buckets by eye"]);
    day.at(9, 0).says(&[]);
    assert_eq!(
        day.board().hub.broker,
        LineView::Down { for_min: 51, why: "connection refused".to_owned() },
        "and since when"
    );
    assert!(matches!(water(&day, "1"), WaterView::Silent { .. }), "old levels are not shown as fresh");
    day.happens(Input::Broker(Line::Up)).after_ms(10_000).says(&["end 1"]);
    day.at(9, 4).level("1", 80.0).level("2", 80.0).says(&[]);
    day.at(9, 5).says(&["raise 2: water sensor of stall 3 is silent: go and look"]);
}

#[test]
fn after_a_restart_the_broker_is_neither_up_nor_down_and_sensors_have_their_patience_again() {
    let mut day = Day::begins(8, 0);
    for minute in 0..10 {
        day.at(8, minute).level("1", 80.0);
    }
    // Three hours without power.
    day.happens(Input::Broker(Line::Down("no power".to_owned()))).restart().at(11, 0);
    day.says(&["raise 1: no sensor can be heard: check buckets by eye"]);
    day.happens(Input::Started).says(&[]);
    assert_eq!(day.board().hub.broker, LineView::Starting);
    day.happens(Input::Broker(Line::Up)).after_ms(10_000).says(&["end 1"]);
    day.at(11, 4).says(&[]);
    day.at(11, 5).says(&["raise 2: water sensor of stall 1 is silent: go and look"]);
}

#[test]
fn people_tap_in_and_out_late_twice_and_unknown() {
    let mut day = Day::begins(8, 0);
    let eight = day.wall();
    day.tap("A1", None).after_ms(4_000).tap("A1", None).says(&[]);
    assert_eq!(here(&day), ["Ana"], "within 5 s it is one tap");
    day.at(8, 30).tap("B2", None).says(&[]);
    assert_eq!(here(&day), ["Ana", "Lena"]);
    // The reader at the back door was cut off: Ana went out at 8:20.
    day.at(9, 0).tap("A1", Some(eight.plus(20 * MIN as i64))).says(&[]);
    assert_eq!(here(&day), ["Lena"]);
    day.tap("FFFF", None).says(&[]);
    assert_eq!(day.board().taps[0].badge.as_str(), "FFFF");
    day.after_ms(MIN);
    assert!(day.board().taps.is_empty());
    // The barn's day ends at 23:00; Lena forgot.
    day.at(23, 0).says(&[]);
    assert!(here(&day).is_empty());
    let assumed: Vec<_> = day.board().people.into_iter().filter(|p| p.assumed_out).map(|p| p.name).collect();
    assert_eq!(assumed, ["Lena"]);
}

#[test]
fn a_touch_sent_again_changes_nothing_and_is_answered_alike() {
    let mut day = Day::begins(8, 0);
    day.touch_as("k1", Action::SignIn("ana".into())).says(&["k1 done"]);
    day.touch_as("k2", Action::SignOut("ana".into())).says(&["k2 done"]);
    day.touch_as("k1", Action::SignIn("ana".into())).says(&["k1 done"]);
    assert!(here(&day).is_empty());
    day.touch_as("k3", Action::SignIn("nobody".into()));
    day.says(&["refuse kiosk aisle: the book has no person nobody", "k3 refused: the book has no person nobody"]);
    day.touch_as("k3", Action::SignIn("nobody".into())).says(&["k3 refused: the book has no person nobody"]);
    assert_eq!(day.board().refused, 1);
}

#[test]
fn a_touch_that_the_kiosk_had_to_keep_counts_when_it_was_made() {
    let mut day = Day::begins(8, 0);
    day.at(9, 0);
    let held = Touch {
        id: "k1".into(),
        kiosk: "aisle".into(),
        held_ms: 40 * MIN,
        by: None,
        staff: None,
        action: Action::SignIn("ana".into()),
    };
    day.happens(Input::Touch(held)).says(&["k1 done"]);
    let ana = day.board().people.into_iter().find(|person| person.name == "Ana").expect("Ana is in the book");
    assert_eq!(ana.since, TimeOfDay::new(8, 20));
}

#[test]
fn a_horse_is_readied_for_its_lesson() {
    let mut day = Day::begins(8, 30);
    let job = |day: &Day| {
        let next = &day.board().next[0];
        let who = match &next.who {
            Who::Person { name, .. } => name,
            Who::Staff => "staff",
            Who::Open => "-",
        };
        format!("{} {:?} by {} {:?} {who}", next.name, next.job, next.done_by, next.pace)
    };
    // Mount 10:00, lead 10, brush 15, tack 10.
    assert_eq!(job(&day), "Pepper Brush by 9:40 Later -");
    day.at(9, 20);
    assert_eq!(job(&day), "Pepper Brush by 9:40 Now -");
    let work = |step, mark| {
        Action::Work(Said { ride: "r1".into(), horse: "pepper".into(), step, mark, by: Some("ana".into()) })
    };
    day.touch(work(Step::Brush, Mark::Begun)).says(&["t1 done"]);
    assert_eq!(job(&day), "Pepper Brush by 9:40 Now Ana");
    let ana = day.board().people.into_iter().find(|person| person.name == "Ana").expect("Ana");
    assert!(ana.since.is_some(), "who works in the barn is in the barn");
    day.at(9, 35).touch(work(Step::Brush, Mark::Done)).at(9, 41).says(&["t2 done"]);
    assert_eq!(job(&day), "Pepper Tack by 9:50 Late -");
    day.touch(work(Step::Tack, Mark::Done)).says(&["t3 done"]);
    assert_eq!(day.board().lessons[0].ready, 1);
    day.touch(work(Step::LeadOut, Mark::Done)).says(&["t4 done"]);
    assert!(day.board().next.is_empty());
    let ride = &day.board().stalls[2].horse.clone().expect("Pepper").rides[0];
    assert_eq!((ride.pace, ride.instructor.as_str()), (Pace::Ready, "Lena"));
    day.at(10, 50).touch(work(Step::BringBack, Mark::Done)).says(&["t5 done"]);
    assert_eq!(day.board().stalls[2].horse.clone().expect("Pepper").rides.len(), 1, "it is not put away");
    day.at(11, 0).touch(work(Step::PutAway, Mark::Done)).says(&["t6 done"]);
    assert!(day.board().stalls[2].horse.clone().expect("Pepper").rides.is_empty(), "the ride is over");
}

#[test]
fn heat_is_shown_at_the_worst_place_and_alarmed_when_it_lasts() {
    let mut day = Day::begins(12, 0);
    day.air("aisle", 79.0, 58.0).air("arena", 83.0, 65.0).says(&[]);
    let HeatView::Known { place, horse_sum, band, humid, dry, advice, ahead, .. } = day.board().heat else {
        panic!("heat is known")
    };
    assert_eq!((place.as_str(), horse_sum, band, humid, dry), ("arena", 148.0, HeatBand::Watch, false, false));
    assert_eq!((advice.first(), ahead), (Some(&Advice::OfferWater), None), "of one day nothing is said ahead");
    day.at(12, 5).air("arena", 85.0, 65.0).says(&[]);
    day.at(12, 14).air("arena", 85.5, 65.0).says(&[]);
    day.at(12, 15);
    day.says(&[
        "raise 1: heat, arena: critical to monitor: shorten, lighten, rest in shade; the equine professional decides",
    ]);
    day.at(12, 20).air("arena", 82.5, 65.0).says(&[]);
    day.at(12, 30).air("arena", 81.0, 65.0).says(&["end 1"]);
}

#[test]
fn a_battery_is_watched() {
    let mut day = Day::begins(8, 0);
    day.battery("1", 40.0).says(&[]).battery("1", 15.0);
    day.says(&["raise 1: water sensor of stall 1: battery is low"]).battery("1", 20.0).says(&[]);
    day.battery("1", 100.0).says(&["end 1"]);
}

#[test]
fn what_can_not_be_is_refused_and_changes_nothing() {
    let mut day = Day::begins(8, 0);
    day.level("9", 50.0).says(&["refuse water sensor of stall 9: stall 9 has no bucket in the book"]);
    day.level("4", 50.0).says(&["refuse water sensor of stall 4: stall 4 has no bucket in the book"]);
    day.happens(climate("arena", Measured::Temperature(Celsius(900.0))));
    day.says(&["refuse climate sensor of arena: temperature °C 900: allowed is -60 to 80"]);
    day.happens(climate("arena", Measured::Temperature(Celsius(f64::NAN))));
    day.says(&["refuse climate sensor of arena: temperature °C NaN: allowed is -60 to 80"]);
    day.happens(climate("arena", Measured::Level(Millimetres(10.0))));
    day.says(&["refuse climate sensor of arena: a climate sensor tells temperature, humidity, battery and signal"]);
    assert_eq!(day.board().refused, 5);
    assert_eq!(day.board().heat, HeatView::Unknown { for_min: None });
}

#[test]
fn a_reading_counts_at_its_own_time_where_that_can_be_believed() {
    let mut day = Day::begins(8, 0);
    let told = |percent: f64, own| {
        Input::Reading(Reading {
            sensor: Sensor::Water("1".into()),
            measured: Measured::Level(Millimetres(percent * 3.0)),
            own_time: Some(own),
        })
    };
    let now = day.wall();
    day.happens(told(80.0, now.plus(-2 * MIN as i64)));
    // An older one arrives late: it says nothing about now.
    day.happens(told(10.0, now.plus(-10 * MIN as i64))).says(&[]);
    assert!(matches!(water(&day, "1"), WaterView::Known { percent: 80.0, .. }));
    // A sensor an hour ahead is not believed: arrival counts.
    day.happens(told(60.0, now.plus(60 * MIN as i64))).says(&[]);
    assert!(matches!(water(&day, "1"), WaterView::Known { percent: 60.0, .. }));
    day.after_ms(MIN).level("1", 55.0).says(&[]);
    assert!(matches!(water(&day, "1"), WaterView::Known { percent: 55.0, .. }));
}

#[test]
fn without_a_clock_water_works_and_lessons_say_so() {
    let mut day = Day::with_clock(WallClock::Unset);
    day.level("3", 2.0).after_ms(10 * MIN);
    day.says(&[
        "raise 1: Pepper, stall 3: bucket empty and not refilled",
        "raise 2: the clock is not set: set it at a kiosk, or look at the network",
    ]);
    day.tap("A1", None).says(&[]);
    let board = day.board();
    assert_eq!((board.clock, board.lessons.len(), board.next.len()), (Clock::Unset, 0, 0));
    assert_eq!(here(&day), ["Ana"]);
    day.clock_is_set_to(ZONE.instant(thursday(), TimeOfDay::new(9, 0).expect("a time"))).says(&["end 2"]);
    assert_eq!(day.board().lessons.len(), 1);
    day.at(23, 0);
    assert!(here(&day).is_empty(), "the day's end is known once the clock is");
}

#[test]
fn a_clock_that_steps_raises_and_ends_nothing() {
    let mut day = Day::begins(8, 0);
    for minute in 0..10 {
        day.at(8, minute).level("1", 80.0).level("3", 2.0);
    }
    let wall = day.wall();
    for step in [10 * 365 * 24 * 60, -20 * 365 * 24 * 60, 7, 0] {
        day.clock_is_set_to(wall.plus(step * MIN as i64)).says(&[]);
        assert!(matches!(water(&day, "1"), WaterView::Known { .. }), "ages do not come from the wall clock");
    }
    day.after_ms(MIN).says(&["raise 1: Pepper, stall 3: bucket empty and not refilled"]);
}

#[test]
fn a_new_book_keeps_what_is_known_and_ends_what_has_no_subject() {
    let mut day = Day::begins(8, 0);
    day.level("3", 2.0).level("1", 70.0).at(8, 10);
    day.says(&["raise 1: Pepper, stall 3: bucket empty and not refilled"]);
    let mut book = crate::day::book();
    book.stalls.retain(|stall| stall.id.as_str() != "3");
    book.horses.retain(|id, _| id.as_str() != "pepper");
    book.rides.clear();
    day.happens(Input::Book(book.into())).says(&["end 1"]);
    assert!(matches!(water(&day, "1"), WaterView::Known { percent: 70.0, .. }));
}

#[test]
fn a_horse_is_late_from_the_minute_its_work_no_longer_fits() {
    // Mount 10:00: ready by 9:50; 25 minutes of work, to be begun by 9:25. Ten minutes sooner it is time to think of it.
    let mut day = Day::begins(9, 0);
    let pace = |day: &Day| day.board().next[0].pace;
    for (minute, expected) in [(14, Pace::Later), (15, Pace::Now), (25, Pace::Now), (26, Pace::Late)] {
        day.at(9, minute);
        assert_eq!(pace(&day), expected, "9:{minute}");
    }
    let brush = |mark| {
        let (ride, horse) = ("r1".into(), "pepper".into());
        Action::Work(Said { ride, horse, step: Step::Brush, mark, by: None })
    };
    let mut day = Day::begins(9, 25);
    day.touch(brush(Mark::Begun)).at(9, 32);
    assert_eq!(pace(&day), Pace::Now, "7 of 15 minutes are done");
    day.at(9, 41);
    assert_eq!(pace(&day), Pace::Late, "brushed for 16 minutes and still at it");
    day.touch(brush(Mark::Open));
    assert_eq!((pace(&day), day.board().next[0].job), (Pace::Late, bellmare_barn::board::Job::Brush));
}
