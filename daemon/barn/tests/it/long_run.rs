//! Seeded long runs: whatever happens, alarms live by their rules, deadlines lie ahead, a restart changes nothing, and it
//! does not matter who notices the time passing, or when.

use std::collections::BTreeSet;
use std::sync::Arc;

use bellmare_barn::barn::Barn;
use bellmare_barn::care::observed::Observed;
use bellmare_barn::effect::Effect;
use bellmare_barn::input::{Action, Input, Line, Mark, Measured, Presence, Said, Sensor, Step, Tap, Touch, Vitals};
use bellmare_barn::time::{Mono, Now, TimeOfDay, WallClock};
use bellmare_barn::units::{Celsius, PerMinute, RelativeHumidity};
use proptest::prelude::*;

use crate::day::{ZONE, book, climate, level, limits, thursday};

/// Milliseconds until the next thing happens, and the thing.
fn happening() -> impl Strategy<Value = (u64, Input)> {
    let stall = prop::sample::select(vec!["1", "2", "3", "4", "9"]);
    let person = prop::sample::select(vec!["ana", "lena", "nobody"]);
    let what = prop_oneof![
        8 => (stall.clone(), -20.0..140.0_f64).prop_map(|(stall, percent)| level(stall, percent)),
        4 => (20.0..45.0_f64).prop_map(|t| climate("aisle", Measured::Temperature(Celsius(t)))),
        4 => (10.0..100.0_f64).prop_map(|h| climate("aisle", Measured::Humidity(RelativeHumidity(h)))),
        1 => (stall, any::<bool>()).prop_map(|(stall, online)| {
            Input::Presence(Presence { sensor: Sensor::Water(stall.into()), online })
        }),
        2 => prop::sample::select(vec!["A1", "B2", "FF"]).prop_map(|badge| {
            Input::Tap(Tap { reader: "door".into(), badge: badge.into(), own_time: None })
        }),
        2 => (0..30_u32, person.clone(), 30.0..70.0_f64).prop_map(|(id, by, pulse)| {
            let seen = Observed { pulse: Some(PerMinute(pulse)), ..Observed::default() };
            let vitals = Vitals { horse: "pepper".into(), by: by.into(), after_work_min: None, seen };
            let action = Action::Vitals(vitals);
            Input::Touch(Touch { id: format!("v{id}").as_str().into(), kiosk: "k".into(), held_ms: 0, by: None, staff: None, action })
        }),
        1 => Just(Input::Started),
        1 => any::<bool>().prop_map(|up| {
            Input::Broker(if up { Line::Up } else { Line::Down("cut".to_owned()) })
        }),
        2 => (0..30_u32, person.clone(), 0..4_u64, any::<bool>()).prop_map(|(id, person, alarm, work)| {
            let action = if work {
                Action::Work(Said {
                    ride: "r1".into(),
                    horse: "pepper".into(),
                    step: Step::Tack,
                    mark: Mark::Done,
                    by: None,
                })
            } else {
                Action::Acknowledge { alarm, by: person.into() }
            };
            Input::Touch(Touch { id: format!("t{id}").as_str().into(), kiosk: "k".into(), held_ms: 0, by: None, staff: None, action })
        }),
    ];
    (prop_oneof![5 => 0..90_000_u64, 1 => 0..7_200_000_u64], what)
}

fn start() -> (Barn, Now) {
    let wall = ZONE.instant(thursday(), TimeOfDay::new(20, 0).expect("a time"));
    let now = Now { mono: Mono(77), wall: WallClock::Set(wall) };
    let mut barn = Barn::new();
    barn.step(now, Input::Limits(Arc::new(limits())));
    barn.step(now, Input::Book(Arc::new(book())));
    barn.step(now, Input::Broker(Line::Up));
    (barn, now)
}

fn later(now: Now, millis: u64) -> Now {
    let wall = match now.wall {
        WallClock::Set(wall) => WallClock::Set(wall.plus(millis as i64)),
        WallClock::Unset => WallClock::Unset,
    };
    Now { mono: now.mono.plus(millis), wall }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, ..ProptestConfig::default() })]

    #[test]
    fn whatever_happens(happenings in prop::collection::vec(happening(), 1..250), restart in 0..250_usize) {
        let (mut watched, mut now) = start();
        let (mut unwatched, _) = start();
        let mut standing = BTreeSet::new();
        let mut judge = |effects: &[Effect]| {
            for effect in effects {
                match effect {
                    // Worse than before is said again under the same number.
                    Effect::Raise(alarm) => { standing.insert(alarm.id); }
                    Effect::End(alarm) => assert!(standing.remove(&alarm.id), "ended unraised: {alarm:?}"),
                    _ => {}
                }
            }
        };
        for (i, (wait, input)) in happenings.into_iter().enumerate() {
            let until = later(now, wait);
            // One barn is woken at each of its deadlines; the other hears of time only when something happens.
            while let Some(due) = watched.next_deadline().filter(|due| *due <= until.mono) {
                let then = later(now, due.since(now.mono));
                judge(&watched.step(then, Input::Tick));
                prop_assert!(watched.next_deadline().is_none_or(|next| next > due), "a deadline in the past");
            }
            now = until;
            if i == restart {
                let snapshot = serde_json::to_string(&watched).expect("a barn can be written");
                watched = serde_json::from_str(&snapshot).expect("and read");
            }
            judge(&watched.step(now, input.clone()));
            unwatched.step(now, input);
            prop_assert_eq!(&watched, &unwatched);
        }
        let board = watched.board(now);
        let shown: BTreeSet<_> = board.alarms.iter().filter(|alarm| !alarm.over).map(|alarm| alarm.id).collect();
        prop_assert_eq!(shown, standing, "what stands is what is shown");
    }
}
