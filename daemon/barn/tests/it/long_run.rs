//! Seeded long runs: whatever happens, alarms live by their rules, deadlines lie ahead, a restart changes nothing, and it
//! does not matter who notices the time passing, or when.

use std::collections::BTreeSet;
use std::sync::Arc;

use bellmare_barn::barn::Barn;
use bellmare_barn::board::AlarmWhat;
use bellmare_barn::book::WaterPlace;
use bellmare_barn::care::observed::Observed;
use bellmare_barn::care::seen::Seen;
use bellmare_barn::effect::Effect;
use bellmare_barn::id::{ChoreId, HorseId, PersonId, StallId};
use bellmare_barn::input::{
    Action, ClockSource, Input, Line, Mark, Measured, Pin, PinTried, Presence, Said, Sensor, Step, Tap, Touch, Vitals,
};
use bellmare_barn::pins::PinHash;
use bellmare_barn::time::{Mono, Now, TimeOfDay, WallClock};
use bellmare_barn::units::{Celsius, PerMinute, RelativeHumidity};
use proptest::prelude::*;

use crate::aisle::with_chores;
use crate::day::{ZONE, climate, level, limits, thursday};

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
        2 => (person.clone(), any::<bool>()).prop_map(|(person, set)| {
            Input::Pin(Pin { person: person.into(), hash: set.then(|| PinHash::new("a hash")) })
        }),
        2 => (person.clone(), prop::sample::select(vec!["k", "l"]), any::<bool>()).prop_map(|(person, kiosk, right)| {
            Input::PinTried(PinTried { kiosk: kiosk.into(), person: person.into(), right })
        }),
        1 => prop::sample::select(vec![ClockSource::System, ClockSource::ByHand]).prop_map(Input::ClockSource),
        1 => (0..30_u32, person.clone(), 0..1500_u16, any::<bool>()).prop_map(|(id, staff, minutes, scratch)| {
            let action = match (scratch, TimeOfDay::from_minutes(minutes)) {
                (false, Some(time)) => Action::SetClock { date: thursday(), time },
                _ => Action::Scratch { horse: "pepper".into(), out: minutes % 2 == 0, by: staff.into() },
            };
            let staff = minutes.is_multiple_of(3).then(|| staff.into());
            Input::Touch(Touch { id: format!("s{id}").as_str().into(), kiosk: "k".into(), held_ms: 0, by: None, staff, action })
        }),
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
        4 => said_in_the_aisle(),
    ];
    (prop_oneof![5 => 0..90_000_u64, 1 => 0..7_200_000_u64], what)
}

/// What somebody says or asks in the aisle, by whom, as which staff, kept for how long.
fn said_in_the_aisle() -> impl Strategy<Value = Input> {
    let horse = || prop::sample::select(vec!["pepper", "juniper", "nobody"]).prop_map(HorseId::from);
    let stall = || prop::sample::select(vec!["1", "3", "4", "9"]).prop_map(StallId::from);
    let chore = prop::sample::select(vec!["muck", "scrub", "close", "polo"]).prop_map(ChoreId::from);
    let seen = prop::collection::vec(prop::sample::select(Seen::ALL.to_vec()), 0..3);
    // Mostly said, and sometimes taken back.
    let undo = || prop::sample::select(vec![false, false, false, true]);
    let action = prop_oneof![
        1 => prop::sample::select(vec!["A1", "B2", "FF"]).prop_map(|badge| Action::Badge(badge.into())),
        2 => (stall(), undo()).prop_map(|(stall, undo)| Action::Filled { place: WaterPlace::Stall(stall), undo }),
        1 => (stall(), undo()).prop_map(|(stall, undo)| Action::Cleaned { stall, undo }),
        1 => (chore, undo()).prop_map(|(chore, undo)| Action::Chore { chore, undo }),
        2 => (horse(), undo()).prop_map(|(horse, undo)| Action::AskHay { horse, undo }),
        1 => (0..6_u64, any::<bool>()).prop_map(|(ask, allowed)| Action::AnswerHay { ask, allowed }),
        2 => (horse(), seen, undo()).prop_map(|(horse, seen, undo)| Action::Wrong { horse, seen, undo }),
        1 => horse().prop_map(|horse| Action::WrongOver { horse }),
    ];
    let person = || {
        prop::sample::select(vec![None, Some("ana"), Some("tomas"), Some("lena"), Some("nobody")])
            .prop_map(|person| person.map(PersonId::from))
    };
    let held = prop_oneof![4 => Just(0), 1 => 0..40_000_000_u64];
    (0..1_000_000_u64, held, person(), person(), action).prop_map(|(id, held_ms, by, staff, action)| {
        Input::Touch(Touch { id: format!("a{id}").as_str().into(), kiosk: "k".into(), held_ms, by, staff, action })
    })
}

fn start() -> (Barn, Now) {
    let wall = ZONE.instant(thursday(), TimeOfDay::new(20, 0).expect("a time"));
    let now = Now { mono: Mono(77), wall: WallClock::Set(wall) };
    let mut barn = Barn::new();
    barn.step(now, Input::Limits(Arc::new(limits())));
    barn.step(now, Input::Book(Arc::new(with_chores())));
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
            let effects = watched.step(now, input.clone());
            judge(&effects);
            unwatched.step(now, input);
            // The clock is set by hand where staff say so, as the shell would.
            for effect in effects {
                if let Effect::SetClock(wall) = effect {
                    now.wall = WallClock::Set(wall);
                    judge(&watched.step(now, Input::Clock));
                    unwatched.step(now, Input::Clock);
                }
            }
            prop_assert_eq!(&watched, &unwatched);
        }
        let board = watched.board(now);
        prop_assert!(board.tapped.len() <= 12 && board.hay.len() <= 100, "bounded");
        for horse in board.stalls.iter().filter_map(|stall| stall.horse.as_ref()) {
            let calls = board.alarms.iter().any(|alarm| {
                !alarm.over && matches!(&alarm.what, AlarmWhat::Wrong { horse: name, .. } if *name == horse.name)
            });
            prop_assert_eq!(horse.wrong.is_some(), calls, "what is wrong is an alarm, and nothing else is");
        }
        let shown: BTreeSet<_> = board.alarms.iter().filter(|alarm| !alarm.over).map(|alarm| alarm.id).collect();
        prop_assert_eq!(shown, standing, "what stands is what is shown");
    }
}
