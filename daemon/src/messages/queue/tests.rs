//! A line that goes down and comes back, told step by step.

use bellmare_barn::alarm::Alarm;
use bellmare_barn::board::{AlarmWhat, Priority};
use bellmare_barn::tell::message::{About, Message, MessageId, Told};
use bellmare_barn::time::{Now, WallClock};

use super::*;

const SECOND: u64 = 1_000;
const MINUTE: u64 = 60 * SECOND;
const HOUR: u64 = 60 * MINUTE;

fn at(mono: u64) -> Now {
    Now { mono: Mono(mono), wall: WallClock::Unset }
}

fn letter(number: u64, to: &str, alarm: u64, made: u64) -> Letter {
    let told = Told {
        alarm: Alarm { id: alarm, priority: Priority::High, what: AlarmWhat::BrokerDown, raised: at(made) },
        what: "no sensor can be heard".to_owned(),
        place: String::new(),
        to_do: "Look at the broker.".to_owned(),
        since: None,
        told: Vec::new(),
        taken_by: None,
        aside: None,
        over: false,
    };
    let message = Message {
        id: MessageId(number),
        to: To::Person(to.into()),
        about: About::Raised,
        priority: Priority::High,
        alarms: vec![told],
        made: at(made),
    };
    Letter::new("j", message)
}

/// A queue at a line that is down.
struct Bench {
    queue: Queue,
    now: u64,
    up: bool,
}

impl Bench {
    fn new() -> Self {
        Self { queue: Queue::new(2 * HOUR), now: 0, up: false }
    }

    fn add(&mut self, number: u64, to: &str, alarm: u64) {
        self.queue.add(letter(number, to, alarm, self.now), false);
    }

    /// Lets time pass; tells what was tried when, and what was reported.
    fn until(&mut self, end: u64) -> Vec<String> {
        let mut told = Vec::new();
        while let Some(at) = self.queue.next().filter(|at| at.0.max(self.now) < end) {
            self.now = self.now.max(at.0);
            let parcel = self.queue.take(Mono(self.now)).expect("it is due");
            let numbers: Vec<_> = parcel.letters().iter().map(|letter| letter.number().to_string()).collect();
            let sum = if matches!(parcel, Parcel::Sum(_)) { "sum of " } else { "" };
            told.push(format!("{} {sum}{}", self.now / SECOND, numbers.join("+")));
            let reports = if self.up {
                self.queue.sent(&parcel)
            } else {
                self.queue.failed(&parcel, &Fault::Line("cut".to_owned()), Mono(self.now))
            };
            told.extend(reports.iter().map(|report| match (&report.outcome, report.settled) {
                (Some(outcome), Some(how)) => format!("{}: {outcome:?}, {how:?}", report.message),
                (Some(outcome), None) => format!("{}: {outcome:?}", report.message),
                (None, how) => format!("{}: {how:?}", report.message),
            }));
        }
        self.now = end;
        told
    }
}

#[test]
fn pauses_double_up_to_a_quarter_of_an_hour_and_others_are_told_after_two_minutes() {
    let mut bench = Bench::new();
    bench.add(1, "lena", 1);
    assert_eq!(
        bench.until(HOUR),
        [
            "0 1",
            "5 1",
            "15 1",
            "35 1",
            "75 1",
            "155 1",
            "1: Failed(\"cut\")",
            "315 1",
            "635 1",
            "1275 1",
            "2175 1",
            "3075 1"
        ]
    );
    bench.up = true;
    assert_eq!(bench.until(2 * HOUR), ["3975 1", "1: Accepted, Sent"], "one alone is told as it was written");
    assert_eq!(bench.queue.next(), None);
}

#[test]
fn a_new_letter_has_a_line_that_is_down_tried_at_once_but_not_more_often_than_every_five_seconds() {
    let mut bench = Bench::new();
    bench.add(1, "lena", 1);
    bench.until(1_000 * SECOND);
    bench.add(2, "lena", 2);
    assert_eq!(
        bench.until(1_001 * SECOND),
        ["1000 1", "2: Failed(\"cut\")"],
        "down for long: others must be told of it"
    );
    bench.add(3, "lena", 3);
    assert_eq!(bench.until(1_010 * SECOND), ["1005 1", "3: Failed(\"cut\")"]);
}

#[test]
fn what_is_out_of_date_when_the_line_is_back_is_one_letter_to_each() {
    let mut bench = Bench::new();
    for number in 1..=20 {
        bench.add(number, if number % 2 == 0 { "ana" } else { "lena" }, number);
        bench.until(number * 5 * MINUTE);
    }
    // An hour and forty minutes: the oldest five of hers are over, those of his are not.
    for alarm in [2, 4, 6, 8, 10] {
        bench.queue.over(alarm);
    }
    bench.up = true;
    let told = bench.until(2 * HOUR);
    assert!(told[0].ends_with("sum of 2+4+6+8+10"), "{told:?}");
    assert_eq!(told.iter().filter(|line| line.ends_with("Outdated, SummedUp")).count(), 5);
    assert_eq!(told.iter().filter(|line| line.ends_with("Accepted, Sent")).count(), 15);
    assert!(bench.queue.is_empty());
}

#[test]
fn three_days_later_it_is_all_summed_up_and_nothing_lost() {
    let mut bench = Bench::new();
    let mut tried = 0;
    for number in 1..=72 {
        bench.add(number, "lena", number);
        tried += bench.until(number * HOUR).iter().filter(|line| !line.contains(':')).count();
    }
    assert!(tried < 72 * 9, "{tried} attempts in three days are too many for a line that is down");
    bench.now += 3 * HOUR;
    bench.up = true;
    let told = bench.until(80 * HOUR);
    assert_eq!(told.iter().filter(|line| line.contains("sum of")).count(), 1);
    assert_eq!(told.iter().filter(|line| line.ends_with("Outdated, SummedUp")).count(), 72);
}

#[test]
fn a_sum_of_the_same_letters_is_the_same_and_of_others_is_not() {
    let sum = |numbers: &[u64]| sum_id(&numbers.iter().map(|n| letter(*n, "lena", *n, 0)).collect::<Vec<_>>());
    assert_eq!(sum(&[1, 2]), sum(&[1, 2]));
    assert_ne!(sum(&[1, 2]), sum(&[1, 2, 3]));
}

#[test]
fn who_refuses_does_not_keep_the_others_waiting() {
    let mut queue = Queue::new(2 * HOUR);
    queue.add(letter(1, "gone", 1, 0), false);
    queue.add(letter(2, "lena", 1, 0), false);
    let first = queue.take(Mono(0)).expect("due");
    let reports = queue.failed(&first, &Fault::Refused("550 no such mailbox".to_owned()), Mono(0));
    assert_eq!(reports.len(), 1, "told at once, so that the barn asks somebody else");
    assert_eq!(reports[0].outcome, Some(Outcome::Failed("550 no such mailbox".to_owned())));
    let second = queue.take(Mono(0)).expect("due");
    assert_eq!(second.letters()[0].number(), MessageId(2));
    assert_eq!(queue.sent(&second).len(), 1);
    assert_eq!(queue.next(), Some(Mono(5 * SECOND)), "and it is tried again");
    let again = queue.take(Mono(8 * 24 * HOUR)).expect("due");
    let reports = queue.failed(&again, &Fault::Refused("550".to_owned()), Mono(8 * 24 * HOUR));
    assert_eq!((reports[0].outcome.clone(), reports[0].settled), (None, Some(Settled::GivenUp)));
    assert!(queue.is_empty());
}

#[test]
fn the_same_letter_waits_once_and_what_waited_over_a_restart_counts_as_held_up() {
    let mut queue = Queue::new(2 * HOUR);
    for _ in 0..2 {
        queue.add(letter(1, "lena", 1, 0), true);
        queue.add(letter(2, "lena", 2, 0), true);
    }
    assert_eq!(queue.len(), 2);
    assert!(matches!(queue.take(Mono(HOUR)), Some(Parcel::One(_))), "not out of date yet");
    assert!(matches!(queue.take(Mono(3 * HOUR)), Some(Parcel::Sum(_))));
}
