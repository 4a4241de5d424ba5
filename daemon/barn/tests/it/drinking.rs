//! What a horse drinks over days, by its own habit, in cold that may freeze its water and may not.

use std::collections::BTreeSet;

use bellmare_barn::board::AlarmWhat;

use crate::day::Day;

/// Ten minutes in milliseconds.
const TEN: u64 = 600_000;
/// At these tens of minutes of a day it drinks, and at these somebody fills the bucket.
const DRINKS: [u32; 5] = [42, 62, 80, 104, 122];
const FILLS: [u32; 2] = [70, 128];

#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
enum Said {
    Little,
    Much,
    Ice,
}

/// A day on which Pepper drinks so many per cent of its bucket of 18 L each time, in air of so many degrees Fahrenheit; says
/// what stood at the end of any hour.
fn lives(day: &mut Day, drinks: f64, fahrenheit: f64) -> BTreeSet<Said> {
    let (mut percent, mut stood) = (95.0, BTreeSet::new());
    for ten in 0..144 {
        if DRINKS.contains(&ten) {
            percent -= drinks;
        }
        if FILLS.contains(&ten) {
            percent = 95.0;
        }
        day.after_ms(TEN).air("arena", fahrenheit, 70.0);
        // Not to the last digit: that would be stuck.
        day.level("3", percent + f64::from(ten % 3) * 0.2);
        if ten % 6 == 5 {
            let alarms = day.board().alarms.into_iter().filter(|alarm| !alarm.over);
            stood.extend(alarms.filter_map(|alarm| match alarm.what {
                AlarmWhat::DrinksLittle { .. } => Some(Said::Little),
                AlarmWhat::DrinksMuch { .. } => Some(Said::Much),
                AlarmWhat::Ice { .. } => Some(Said::Ice),
                _ => None,
            }));
        }
    }
    stood
}

#[test]
fn a_horse_that_drinks_little_in_a_cold_fortnight_is_told() {
    let mut day = Day::begins(0, 0);
    for date in 0..9 {
        // Its bucket is warm: it drinks as ever, and nothing is ice.
        assert!(!lives(&mut day, 20.0, 14.0).contains(&Said::Little), "day {date}");
    }
    let stood: BTreeSet<Said> = (0..2).flat_map(|_| lives(&mut day, 6.0, 14.0)).collect();
    assert!(stood.contains(&Said::Little), "a third of its habit, however cold it is: {stood:?}");
}

#[test]
fn who_could_not_drink_for_ice_is_told_of_ice_and_keeps_its_habit() {
    let mut day = Day::begins(0, 0);
    for date in 0..6 {
        assert_eq!(lives(&mut day, 20.0, 40.0), BTreeSet::new(), "day {date}");
    }
    let frozen: BTreeSet<Said> = (0..7).flat_map(|_| lives(&mut day, 0.0, 14.0)).collect();
    assert_eq!(frozen, BTreeSet::from([Said::Ice]), "it is the ice that must be looked at");
    let thawed: Vec<BTreeSet<Said>> = (0..3).map(|_| lives(&mut day, 20.0, 40.0)).collect();
    assert!(thawed.iter().all(|said| !said.contains(&Said::Much)), "it drinks as before the ice: {thawed:?}");
}
