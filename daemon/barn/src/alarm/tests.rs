//! The life of an alarm: the standard's table as data, and days of nothing but alarms held against it.

use std::collections::{BTreeMap, BTreeSet};

use proptest::prelude::*;

use super::record::{HowEnded, Record};
use super::*;
use crate::id::HorseId;
use crate::input::{MOST_ASIDE_MIN, Sensor, WhyAside};
use crate::limits::AlarmLimits;
use crate::time::{Mono, WallClock};
use crate::timers::{Timer, Timers};

const MIN: u64 = 60_000;

/// After ISA-18.2 / IEC 62682, from memory, with what this project adds marked. From, to, and why.
const TABLE: &[(Phase, Phase, &str)] = &[
    (Phase::Normal, Phase::Unacknowledged, "it is raised"),
    (Phase::Normal, Phase::Shelved, "it is raised while it is put aside"),
    (Phase::Normal, Phase::Suppressed, "it holds, and follows from a root"),
    (Phase::Normal, Phase::OutOfService, "it is taken out of service"),
    (Phase::Unacknowledged, Phase::Acknowledged, "somebody has seen it"),
    (Phase::Unacknowledged, Phase::Returned, "its cause is gone"),
    (Phase::Unacknowledged, Phase::Shelved, "it is put aside"),
    (Phase::Unacknowledged, Phase::Suppressed, "a root takes it in"),
    (Phase::Unacknowledged, Phase::OutOfService, "it is taken out of service"),
    (Phase::Acknowledged, Phase::Normal, "its cause is gone"),
    (Phase::Acknowledged, Phase::Unacknowledged, "it gets worse"),
    (Phase::Acknowledged, Phase::Shelved, "it is put aside"),
    (Phase::Acknowledged, Phase::Suppressed, "a root takes it in"),
    (Phase::Acknowledged, Phase::OutOfService, "it is taken out of service"),
    (Phase::Returned, Phase::Normal, "somebody has seen it; or, ours, it was shown long enough"),
    (Phase::Returned, Phase::Unacknowledged, "it comes back"),
    (Phase::Returned, Phase::Suppressed, "it comes back, and follows from a root"),
    (Phase::Returned, Phase::OutOfService, "it is taken out of service"),
    (Phase::Shelved, Phase::Unacknowledged, "its time is over, it is taken up, or it gets worse"),
    (Phase::Shelved, Phase::Normal, "its cause is gone"),
    (Phase::Shelved, Phase::Suppressed, "a root takes it in"),
    (Phase::Shelved, Phase::OutOfService, "it is taken out of service"),
    (Phase::Suppressed, Phase::Normal, "its cause is gone"),
    (Phase::Suppressed, Phase::Unacknowledged, "the root is over, or it gets worse than the root"),
    (Phase::Suppressed, Phase::Shelved, "the root is over, and it was put aside"),
    (Phase::Suppressed, Phase::OutOfService, "it is taken out of service"),
    (Phase::OutOfService, Phase::Normal, "it is put back"),
];

#[derive(Default)]
struct Bench {
    alarms: Alarms,
    timers: Timers,
    now: u64,
    /// Rows of the history as the journal would have them.
    rows: BTreeMap<u64, Record>,
    /// Alarms that were raised and not ended, as people hear of them.
    heard: BTreeSet<u64>,
    ended: BTreeSet<u64>,
    said: Vec<String>,
}

impl Bench {
    fn now(&self) -> Now {
        Now { mono: Mono(self.now), wall: WallClock::Unset }
    }

    fn takes(&mut self, effects: Vec<Effect>) {
        for effect in effects {
            match effect {
                Effect::Raise(alarm) => {
                    assert!(!self.ended.contains(&alarm.id), "alarm {} is raised after its end", alarm.id);
                    self.heard.insert(alarm.id);
                    self.said.push(format!("raise {} at {}", alarm.id, alarm.raised.mono.0));
                }
                Effect::End(alarm) => {
                    assert!(self.heard.remove(&alarm.id), "alarm {} ends and was not raised", alarm.id);
                    self.ended.insert(alarm.id);
                    self.said.push(format!("end {}", alarm.id));
                }
                Effect::Keep(record) => {
                    self.rows.insert(record.alarm.id, *record);
                }
                _ => {}
            }
        }
        for news in self.alarms.take_news() {
            if let News::Chattering(id, times) = news {
                self.said.push(format!("chattering {id}: {times}"));
            }
        }
    }

    /// Goes on to a time; what is due on the way happens at its own time.
    fn pass_to(&mut self, to: u64) {
        while let Some((at, timer)) = self.timers.take(Mono(to)) {
            self.now = at.0;
            let (then, mut effects) = (self.now(), Vec::new());
            match timer {
                Timer::Alarm(cause) => self.alarms.raise(&cause, then, &mut self.timers, &mut effects),
                Timer::AlarmOff(cause) => self.alarms.off(&cause, then, &mut self.timers, &mut effects),
                Timer::Steady(cause) => self.alarms.steady(&cause, &mut effects),
                Timer::Unshelve(cause) => self.alarms.unshelve(&cause, &mut self.timers, &mut effects),
                Timer::Forget(cause) => self.alarms.forget(&cause, &mut effects),
                other => panic!("an alarm arms no {other:?}"),
            }
            self.takes(effects);
        }
        self.now = to;
    }

    fn say(&mut self, cause: &Cause, holds: Option<(u64, Priority)>) {
        let verdict = holds.map_or(Verdict::Gone, |(delay, priority)| Verdict::Holds {
            delay,
            priority,
            what: AlarmWhat::BrokerDown,
        });
        let (now, mut effects) = (self.now(), Vec::new());
        self.alarms.assess(cause.clone(), verdict, now, &mut self.timers, &mut effects);
        self.takes(effects);
    }

    fn acknowledge(&mut self, id: u64) -> bool {
        let (now, mut effects) = (self.now(), Vec::new());
        let seen = self.alarms.acknowledge(id, &"lena".into(), now, &mut self.timers, &mut effects);
        self.takes(effects);
        seen
    }

    fn put_aside(&mut self, id: u64, for_min: u32) -> Result<(), String> {
        let (now, mut effects) = (self.now(), Vec::new());
        let why = WhyAside::Waits;
        let done = self.alarms.put_aside(id, (for_min, why), &"lena".into(), now, &mut self.timers, &mut effects);
        self.takes(effects);
        done.map_err(|refusal| refusal.why)
    }

    fn out_of_service(&mut self, causes: &[Cause]) {
        let (now, mut effects) = (self.now(), Vec::new());
        let out = causes.iter().cloned().collect();
        self.alarms.go_by(&AlarmLimits::default(), out, now, &mut self.timers, &mut effects);
        self.takes(effects);
    }

    /// What was said since this was last asked.
    fn says(&mut self, expected: &[&str]) {
        assert_eq!(std::mem::take(&mut self.said), expected, "at {}", self.now);
    }
}

fn vitals() -> Cause {
    Cause::Vitals("pepper".into())
}

const HIGH: Option<(u64, Priority)> = Some((0, Priority::High));
const MEDIUM: Option<(u64, Priority)> = Some((0, Priority::Medium));

#[test]
fn raised_once_after_its_delay_and_ended_once() {
    let mut bench = Bench::default();
    let late = Some((500, Priority::High));
    bench.say(&vitals(), late);
    bench.pass_to(400);
    bench.say(&vitals(), late);
    bench.says(&[]);
    bench.pass_to(900);
    // At its own time, though noticed later.
    bench.says(&["raise 1 at 500"]);
    bench.say(&vitals(), late);
    bench.says(&[]);
    bench.say(&vitals(), None);
    bench.say(&vitals(), None);
    bench.says(&["end 1"]);
}

#[test]
fn a_cause_that_passes_within_its_delay_is_no_alarm() {
    let mut bench = Bench::default();
    bench.say(&vitals(), Some((500, Priority::High)));
    bench.pass_to(100);
    bench.say(&vitals(), None);
    bench.pass_to(900);
    bench.says(&[]);
    assert!(bench.rows.is_empty());
}

#[test]
fn seen_and_gone_is_normal_gone_unseen_is_shown_for_a_while() {
    let mut bench = Bench::default();
    bench.say(&vitals(), HIGH);
    assert!(bench.acknowledge(1));
    bench.say(&vitals(), None);
    assert_eq!(bench.alarms.phase(&vitals()), Phase::Normal);

    bench.say(&vitals(), HIGH);
    bench.say(&vitals(), None);
    assert_eq!(bench.alarms.phase(&vitals()), Phase::Returned);
    bench.pass_to(10 * MIN);
    assert_eq!(bench.alarms.phase(&vitals()), Phase::Normal);
    assert!(!bench.acknowledge(2), "it is over");
    assert_eq!(bench.rows[&1].seen.as_ref().map(|(by, _)| by.as_str()), Some("lena"));
    assert_eq!(bench.rows[&2].seen, None);
}

#[test]
fn one_that_comes_back_while_shown_is_a_new_one() {
    let mut bench = Bench::default();
    bench.say(&vitals(), HIGH);
    bench.say(&vitals(), None);
    bench.pass_to(20);
    bench.say(&vitals(), HIGH);
    bench.says(&["raise 1 at 0", "end 1", "raise 2 at 20"]);
    bench.pass_to(10 * MIN + 20);
    assert_eq!(bench.alarms.standing().len(), 1, "the old one's end does not take the new one along");
}

#[test]
fn ten_thousand_crossings_in_an_hour_are_one_raise_one_chattering_and_one_end() {
    let mut bench = Bench::default();
    for crossing in 0..10_000 {
        bench.pass_to(crossing * 360);
        bench.say(&Cause::Broker, if crossing % 2 == 0 { HIGH } else { None });
    }
    bench.says(&["raise 1 at 0", "chattering 1: 3"]);
    assert!(bench.rows[&1].chattered);
    bench.pass_to(bench.now + 30 * MIN);
    bench.says(&["end 1"]);
    assert_eq!(bench.rows.len(), 1);
    // It is forgotten that it chattered.
    bench.say(&Cause::Broker, HIGH);
    bench.says(&[&format!("raise 2 at {}", bench.now)]);
}

#[test]
fn what_comes_and_goes_slowly_is_told_three_times_at_most() {
    let mut bench = Bench::default();
    // No delay off: a bucket that somebody fills is full.
    for crossing in 0..40 {
        bench.pass_to(crossing * 90_000);
        bench.say(&vitals(), if crossing % 2 == 0 { MEDIUM } else { None });
    }
    bench.says(&["raise 1 at 0", "end 1", "raise 2 at 180000", "end 2", "raise 3 at 360000", "chattering 3: 3"]);
    bench.pass_to(bench.now + 30 * MIN);
    bench.says(&["end 3"]);
}

#[test]
fn what_chatters_and_then_stands_is_a_plain_alarm_again() {
    let mut bench = Bench::default();
    for crossing in 0..9 {
        bench.pass_to(crossing * 1_000);
        bench.say(&Cause::Broker, if crossing % 2 == 0 { HIGH } else { None });
    }
    assert!(bench.alarms.standing()[0].chattering);
    bench.pass_to(31 * MIN);
    assert!(!bench.alarms.standing()[0].chattering);
    bench.say(&Cause::Broker, None);
    bench.pass_to(32 * MIN);
    bench.says(&["raise 1 at 0", "chattering 1: 3", "end 1"]);
}

#[test]
fn put_aside_it_is_silent_comes_back_by_itself_and_at_once_where_it_gets_worse() {
    let mut bench = Bench::default();
    bench.say(&vitals(), MEDIUM);
    bench.says(&["raise 1 at 0"]);
    for for_min in [0, MOST_ASIDE_MIN + 1] {
        let refused = bench.put_aside(1, for_min).expect_err("not allowed");
        assert_eq!(refused, format!("for_min {for_min}: allowed is 1 to 480"));
    }
    bench.put_aside(1, 60).expect("it stands");
    bench.say(&vitals(), MEDIUM);
    bench.pass_to(59 * MIN);
    bench.says(&[]);
    assert!(bench.alarms.standing().is_empty());
    bench.pass_to(60 * MIN);
    bench.says(&["raise 1 at 0"]);

    bench.put_aside(1, 60).expect("it stands");
    bench.say(&vitals(), HIGH);
    bench.says(&["raise 1 at 0"]);
    assert_eq!(bench.rows[&1].aside.len(), 2);

    // Gone and back while it is put aside, it stays aside.
    bench.put_aside(1, 60).expect("it stands");
    bench.say(&vitals(), None);
    bench.says(&["end 1"]);
    bench.say(&vitals(), HIGH);
    bench.says(&[]);
    assert_eq!(bench.alarms.phase(&vitals()), Phase::Shelved);
    assert_eq!(bench.rows.len(), 2, "and its row is there");
}

#[test]
fn a_root_takes_in_what_follows_from_it_and_gives_back_what_still_holds() {
    let sensor = |name: &str| Sensor::Water(name.into());
    let mut bench = Bench::default();
    bench.say(&Cause::Silent(sensor("1")), MEDIUM);
    bench.say(&Cause::Silent(sensor("2")), MEDIUM);
    bench.say(&Cause::Battery(sensor("1")), Some((0, Priority::Low)));
    bench.says(&["raise 1 at 0", "raise 2 at 0"]);
    bench.say(&Cause::Broker, HIGH);
    bench.says(&["raise 3 at 0", "end 1", "end 2"]);
    assert_eq!(bench.rows[&1].ended, Some((bench.now(), HowEnded::Covered(Cause::Broker))));
    assert_eq!(bench.alarms.phase(&Cause::Battery(sensor("1"))), Phase::Suppressed, "its sensor is still silent");
    bench.say(&Cause::Silent(sensor("1")), None);
    bench.says(&["raise 4 at 0"]);
    bench.say(&Cause::Broker, None);
    bench.pass_to(MIN);
    bench.says(&["end 3", "raise 5 at 10000"]);
    // What is more pressing than its root is not hidden.
    bench.say(&Cause::Wrong("pepper".into()), MEDIUM);
    bench.say(&vitals(), HIGH);
    bench.says(&["raise 6 at 60000", "raise 7 at 60000"]);
}

#[test]
fn out_of_service_ends_what_stands_and_raises_nothing() {
    let mut bench = Bench::default();
    bench.say(&vitals(), MEDIUM);
    bench.out_of_service(&[vitals()]);
    bench.says(&["raise 1 at 0", "end 1"]);
    assert_eq!(bench.rows[&1].ended, Some((bench.now(), HowEnded::OutOfService)));
    bench.say(&vitals(), HIGH);
    bench.says(&[]);
    bench.out_of_service(&[]);
    bench.say(&vitals(), HIGH);
    bench.says(&["raise 2 at 0"]);
}

/// Causes of which some follow from others.
fn causes() -> Vec<Cause> {
    let sensor = Sensor::Water("1".into());
    let horse = HorseId::new("pepper");
    vec![
        Cause::Broker,
        Cause::ManySilent,
        Cause::Silent(sensor.clone()),
        Cause::Faulty(sensor.clone()),
        Cause::Battery(sensor),
        Cause::Vitals(horse.clone()),
        Cause::Wrong(horse.clone()),
        Cause::NotDrinking(horse.clone()),
        Cause::Drinks(horse),
    ]
}

#[derive(Clone, Debug)]
enum Deed {
    Holds(usize, u64, Priority),
    Gone(usize),
    Pass(u64),
    Acknowledge(u64),
    PutAside(u64, u32),
    TakeUp(u64),
    OutOfService(Option<usize>),
}

fn deed() -> impl Strategy<Value = Deed> {
    let cause = || 0..causes().len();
    let priority = prop_oneof![Just(Priority::High), Just(Priority::Medium), Just(Priority::Low)];
    prop_oneof![
        6 => (cause(), prop_oneof![Just(0_u64), 1..120_000_u64], priority).prop_map(|(a, b, c)| Deed::Holds(a, b, c)),
        5 => cause().prop_map(Deed::Gone),
        5 => prop_oneof![0..20_000_u64, 0..1_200_000_u64, 0..40_000_000_u64].prop_map(Deed::Pass),
        2 => (0..30_u64).prop_map(Deed::Acknowledge),
        2 => (0..30_u64, 0..600_u32).prop_map(|(id, for_min)| Deed::PutAside(id, for_min)),
        1 => (0..30_u64).prop_map(Deed::TakeUp),
        1 => proptest::option::of(cause()).prop_map(Deed::OutOfService),
    ]
}

/// No cause has gone a way that the table does not have.
fn by_the_table(bench: &Bench, before: &mut [Phase], doing: &str) {
    for (cause, was) in causes().iter().zip(before.iter_mut()) {
        let is = bench.alarms.phase(cause);
        let known = is == *was || TABLE.iter().any(|(from, to, _)| (from, to) == (&*was, &is));
        assert!(known, "{cause:?} went from {was:?} to {is:?} by {doing}");
        *was = is;
    }
    for (standing, shelf) in bench.alarms.shelved() {
        assert!(shelf.until.since(shelf.at.mono) <= u64::from(MOST_ASIDE_MIN) * MIN);
        assert!(shelf.until.0 > bench.now, "alarm {} is put aside and should be back", standing.alarm.id);
    }
}

proptest! {
    #[test]
    fn no_alarm_goes_a_way_that_the_table_does_not_have(deeds in proptest::collection::vec(deed(), 1..150)) {
        let all = causes();
        let mut bench = Bench::default();
        let mut phases = vec![Phase::Normal; all.len()];
        for deed in deeds {
            match deed.clone() {
                Deed::Holds(cause, delay, priority) => bench.say(&all[cause], Some((delay, priority))),
                Deed::Gone(cause) => bench.say(&all[cause], None),
                Deed::Pass(millis) => {
                    // Each timer on its own, so that no step is missed.
                    let to = bench.now + millis;
                    while let Some(due) = bench.timers.next().filter(|due| due.0 <= to) {
                        bench.pass_to(due.0);
                        by_the_table(&bench, &mut phases, "a timer");
                    }
                    bench.pass_to(to);
                }
                Deed::Acknowledge(id) => {
                    bench.acknowledge(id);
                }
                Deed::PutAside(id, for_min) => {
                    let _ = bench.put_aside(id, for_min);
                }
                Deed::TakeUp(id) => {
                    let mut effects = Vec::new();
                    let _ = bench.alarms.take_up(id, &mut bench.timers, &mut effects);
                    bench.takes(effects);
                }
                Deed::OutOfService(cause) => bench.out_of_service(cause.map(|cause| all[cause].clone()).as_slice()),
            }
            by_the_table(&bench, &mut phases, &format!("{deed:?}"));
        }
        // Everything passes in the end, and has a row that says how.
        bench.out_of_service(&[]);
        for cause in &all {
            bench.say(cause, None);
        }
        bench.pass_to(bench.now + 9 * 60 * MIN);
        assert!(bench.heard.is_empty(), "never ended: {:?}", bench.heard);
        for id in &bench.ended {
            assert!(bench.rows.contains_key(id), "alarm {id} has no row");
        }
        for (id, row) in &bench.rows {
            assert!(row.ended.is_some(), "the row of alarm {id} has no end");
        }
        for cause in &all {
            assert_eq!(bench.alarms.phase(cause), Phase::Normal);
        }
        assert_eq!(bench.timers.next(), None, "nothing is waited for");
    }
}
