//! Days of air in the barn: dry heat, people, sensors that disagree, heat seen coming, frost.

use bellmare_barn::board::{AheadView, HeatBand, HeatView, PeopleBand};
use bellmare_barn::input::{Input, Measured, Reading, Sensor};
use bellmare_barn::time::{TimeOfDay, Wall, WallClock};
use bellmare_barn::units::{Celsius, RelativeHumidity};

use crate::day::{Day, ZONE, climate, thursday};

const HOUR: i64 = 3_600_000;

/// A day like others: coolest at five, warmest at three, between these two in degrees Celsius.
fn usual(hour: f64, least: f64, most: f64) -> f64 {
    let share = (1.0 - ((hour - 15.0) / 24.0 * std::f64::consts::TAU).cos()) / 2.0;
    most - (most - least) * share
}

/// Tells a place's air of so many hours before now, as a logger does that was read out: late, with the time of each.
fn logged(day: &mut Day, place: &str, hours: i64, air: impl Fn(f64) -> (f64, f64)) {
    let now = day.wall();
    for back in (1..=hours).rev() {
        let at = now.plus(-back * HOUR - HOUR / 2);
        let (t, rh) = air(f64::from(ZONE.time_of_day(at).minutes()) / 60.0);
        for measured in [Measured::Temperature(Celsius(t)), Measured::Humidity(RelativeHumidity(rh))] {
            let sensor = Sensor::Climate(place.into());
            day.happens(Input::Reading(Reading { sensor, measured, own_time: Some(at) }));
        }
    }
}

fn tell(day: &mut Day, place: &str, t: f64, rh: f64) {
    day.happens(climate(place, Measured::Temperature(Celsius(t))));
    day.happens(climate(place, Measured::Humidity(RelativeHumidity(rh))));
}

fn known(day: &Day) -> (String, HeatBand, bool, PeopleBand) {
    match day.board().heat {
        HeatView::Known { place, band, dry, people, .. } => (place.to_string(), band, dry, people),
        HeatView::Unknown { .. } => panic!("heat is known"),
    }
}

fn ahead(day: &Day) -> Option<AheadView> {
    match day.board().heat {
        HeatView::Known { ahead, .. } => ahead,
        HeatView::Unknown { .. } => None,
    }
}

#[test]
fn dry_heat_is_critical_though_the_sum_says_carry_on() {
    let mut day = Day::begins(12, 0);
    tell(&mut day, "arena", 38.0, 26.0);
    assert_eq!(known(&day), ("arena".to_owned(), HeatBand::Critical, true, PeopleBand::ExtremeCaution));
    day.at(12, 10);
    day.says(&[
        "raise 1: heat, arena: critical to monitor: shorten, lighten, rest in shade; the equine professional decides",
    ]);
}

#[test]
fn people_are_warned_for_themselves() {
    let mut day = Day::begins(12, 0);
    day.air("arena", 92.0, 65.0).says(&[]);
    assert_eq!(known(&day).3, PeopleBand::Danger);
    day.at(12, 10).says(&[
        "raise 1: heat, arena: critical to monitor: shorten, lighten, rest in shade; the equine professional decides",
        "raise 2: heat for people, arena: danger: put off heavy work, drink, rest in the shade",
    ]);
    // Cool enough for people first: 84 °F and 68 % are still a sum of 152.
    day.at(12, 20).air("arena", 84.0, 68.0).says(&["end 2"]);
}

#[test]
fn a_place_that_is_off_is_named_and_may_warn_and_not_calm() {
    let mut day = Day::begins(9, 0);
    let minute = |day: &mut Day, hour: u16, minute: u16, loft: Option<f64>, others: bool| {
        day.at(hour, minute);
        if others {
            tell(day, "aisle", 24.0, 60.0);
            tell(day, "arena", 26.0, 55.0);
        }
        if let Some(loft) = loft {
            tell(day, "loft", loft, 20.0);
        }
    };
    for at in 0..30 {
        minute(&mut day, 9, at, Some(7.0), true);
    }
    day.says(&[]);
    minute(&mut day, 9, 30, Some(7.0), true);
    day.says(&["raise 1: climate, loft: far from what the other places say; look for sun on the sensor"]);
    assert_eq!(known(&day).0, "aisle");
    // The other two fall silent: what the loft alone says is no all-clear.
    for at in 31..40 {
        minute(&mut day, 9, at, Some(7.0), false);
    }
    day.says(&[
        "raise 2: climate sensor of aisle is silent: go and look",
        "raise 3: climate sensor of arena is silent: go and look",
    ]);
    assert!(matches!(day.board().heat, HeatView::Unknown { .. }), "{:?}", day.board().heat);
    // But it may warn.
    minute(&mut day, 9, 40, Some(41.0), false);
    assert_eq!(known(&day), ("loft".to_owned(), HeatBand::Stop, true, PeopleBand::Danger));
}

#[test]
fn of_two_that_disagree_both_are_doubted() {
    let mut day = Day::begins(9, 0);
    for minute in 0..=30 {
        day.at(9, minute);
        tell(&mut day, "aisle", 24.0, 50.0);
        tell(&mut day, "arena", 34.0, 30.0);
    }
    day.says(&["raise 1: climate, aisle and arena: they disagree, one is wrong; look for sun on a sensor"]);
    day.at(9, 31);
    tell(&mut day, "arena", 25.0, 50.0);
    day.says(&["end 1"]);
}

#[test]
fn heat_is_seen_coming_after_three_days_and_not_before() {
    // Each day from 20 °C to 34 °C: critical, by the floor, from about noon to six.
    let air = |hour: f64| (usual(hour, 20.0, 34.0), 55.0);
    for (hours, said) in [(60, false), (110, true)] {
        let mut day = Day::begins(8, 0);
        logged(&mut day, "arena", hours, air);
        let mut reached = None;
        let mut told = None;
        for minute in (8 * 60..16 * 60).step_by(5) {
            let (hour, of_hour) = (minute / 60, minute % 60);
            day.at(hour, of_hour);
            let (t, rh) = air(f64::from(minute) / 60.0);
            tell(&mut day, "arena", t, rh);
            if known(&day).1 >= HeatBand::Critical {
                reached = reached.or(Some(minute));
            } else if let Some(AheadView::Reaches { band: HeatBand::Critical, from, earliest, .. }) = ahead(&day)
                && told.is_none()
            {
                told = Some((minute, from.minutes()));
                assert!(earliest <= from);
            }
        }
        let reached = reached.expect("it gets as hot as on the days before");
        assert_eq!(told.is_some(), said, "after {hours} hours of record: {told:?}");
        if let Some((minute, from)) = told {
            assert!(minute <= 8 * 60 + 15, "told at the first look, at {minute}");
            assert!(from.abs_diff(reached) <= 60, "expected at {from}, reached at {reached}");
        }
    }
}

#[test]
fn the_heat_of_the_day_is_drawn_as_it_was_and_as_it_is_expected() {
    let air = |hour: f64| (usual(hour, 20.0, 34.0), 55.0);
    let mut day = Day::begins(8, 0);
    assert_eq!(day.board().heat_today, []);
    logged(&mut day, "arena", 110, air);
    for minute in 0..=30 {
        day.at(8, minute);
        let (t, rh) = air(8.0 + f64::from(minute) / 60.0);
        tell(&mut day, "arena", t, rh);
    }
    let told = day.board().heat_today;
    // Nobody measured from seven to eight.
    assert_eq!(told.len(), 23, "{told:?}");
    assert!(told.is_sorted_by(|a, b| a.at < b.at) && told.iter().all(|one| one.at.minutes() / 60 != 7));
    for one in &told {
        let minutes = one.at.minutes();
        assert_eq!((minutes % 60, one.measured), (30, minutes <= 8 * 60 + 30), "{one:?}");
        assert!(one.low <= one.sum && one.sum <= one.high, "{one:?}");
        let (t, rh) = air(f64::from(minutes) / 60.0);
        let sum = t * 1.8 + 32.0 + rh;
        if one.measured {
            // Of the hour that has begun the mean so far.
            assert!((one.sum - sum).abs() < if minutes == 8 * 60 + 30 { 2.5 } else { 0.5 }, "{sum}: {one:?}");
        } else {
            assert!((one.low - 2.0..=one.high + 2.0).contains(&sum), "{sum}: {one:?}");
        }
        assert_eq!(one.measured, one.low == one.high, "{one:?}");
    }
    // Between two looks nothing is computed anew.
    assert_eq!(day.restart().at(8, 33).board().heat_today, told);
    // What has come is no longer expected.
    day.at(9, 31);
    let (t, rh) = air(9.5);
    tell(&mut day, "arena", t, rh);
    for one in day.board().heat_today {
        assert_eq!(one.measured, one.at.minutes() <= 9 * 60 + 30, "{one:?}");
    }
}

#[test]
fn a_lesson_in_heat_to_come_is_told_once_and_ended_when_it_has_come() {
    // The lesson is from 10:00 to 10:45. Each day is critical from shortly after ten.
    let air = |hour: f64| (usual(hour, 22.0, 36.0), 60.0);
    let mut day = Day::begins(7, 0);
    logged(&mut day, "arena", 110, air);
    let mut said = Vec::new();
    for minute in (7 * 60..11 * 60).step_by(5) {
        day.at(minute / 60, minute % 60);
        let (t, rh) = air(f64::from(minute) / 60.0);
        tell(&mut day, "arena", t, rh);
        said.extend(day.board().alarms.iter().map(|alarm| (alarm.id, alarm.over, alarm.text.clone())));
    }
    said.dedup();
    let ahead: Vec<_> = said.iter().filter(|(_, _, text)| text.starts_with("heat ahead, arena: ")).collect();
    assert!(!ahead.is_empty(), "{said:?}");
    assert!(ahead.iter().all(|(id, ..)| *id == ahead[0].0), "one alarm, whatever it says: {ahead:?}");
    assert!(ahead[0].2.contains("in the lesson of 10:00; tell the equine professional"), "{ahead:?}");
    let now = day.board().alarms;
    assert!(now.iter().any(|alarm| alarm.text.starts_with("heat, arena: critical")), "{now:?}");
    assert!(now.iter().all(|alarm| alarm.over || !alarm.text.starts_with("heat ahead")), "{now:?}");
}

#[test]
fn what_a_logger_tells_of_yesterday_is_no_heat_of_now() {
    let mut day = Day::begins(8, 0);
    logged(&mut day, "arena", 48, |_| (41.0, 60.0));
    assert_eq!(day.board().heat, HeatView::Unknown { for_min: None });
    tell(&mut day, "arena", 18.0, 60.0);
    assert_eq!(known(&day).1, HeatBand::CarryOn);
    day.at(9, 0).says(&["raise 1: climate sensor of arena is silent: go and look"]);
}

#[test]
fn frost_is_told_when_it_is_near_and_when_it_is_here() {
    let mut day = Day::begins(17, 0);
    for minute in 0..6 {
        // From 5 °C it falls by a degree each half an hour.
        for half in 0..30 {
            let at = minute * 30 + half;
            day.at(17 + at / 60, at % 60);
            tell(&mut day, "aisle", 5.0 - f64::from(at) / 30.0, 90.0);
        }
    }
    // 3 °C at 18:00, and half an hour later it has lasted; 1 °C at 19:00.
    // And at 19:30 that has lasted: the same, and more pressing.
    let said = "raise 1: frost, aisle: look at buckets and pipes; no heater near hay; local practice decides";
    day.says(&[said, said]);
    assert_eq!((known(&day).1, known(&day).3), (HeatBand::CarryOn, PeopleBand::NoCaution));
    assert_eq!(day.board().alarms[0].priority, bellmare_barn::board::Priority::Medium);
    day.at(20, 0);
    tell(&mut day, "aisle", 5.0, 90.0);
    day.says(&["end 1"]);
}

#[test]
fn a_cold_night_is_told_in_the_afternoon_and_a_mild_one_is_not() {
    for (least, told) in [(-3.0, true), (6.0, false)] {
        let wall = ZONE.instant(thursday(), TimeOfDay::new(16, 0).expect("a time"));
        let mut day = Day::with_clock(WallClock::Set(wall));
        let air = |hour: f64| (usual(hour, least, 12.0), 70.0);
        logged(&mut day, "aisle", 110, air);
        for minute in 0..=20 {
            day.at(16, minute);
            let (t, rh) = air(16.0 + f64::from(minute) / 60.0);
            tell(&mut day, "aisle", t, rh);
        }
        let alarms: Vec<_> = day.board().alarms.iter().map(|alarm| alarm.text.clone()).collect();
        assert_eq!(alarms.iter().any(|text| text.starts_with("frost expected, aisle, from ")), told, "{alarms:?}");
        assert_eq!(alarms.len(), usize::from(told), "{alarms:?}");
    }
}

#[test]
fn without_a_clock_heat_works_and_nothing_is_said_ahead() {
    let mut day = Day::with_clock(WallClock::Unset);
    day.air("arena", 95.0, 70.0).after_ms(600_000);
    assert_eq!(known(&day).1, HeatBand::Critical);
    assert_eq!(ahead(&day), None);
    // The clock is set while the day goes on: what is measured from now on is written down.
    day.clock_is_set_to(Wall(ZONE.instant(thursday(), TimeOfDay::NOON).0)).air("arena", 95.0, 70.0);
    assert_eq!(known(&day).1, HeatBand::Critical);
}
