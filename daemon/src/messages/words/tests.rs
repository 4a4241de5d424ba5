//! Each kind of message as it is read.

use std::collections::BTreeSet;

use bellmare_barn::alarm::Alarm;
use bellmare_barn::board::AlarmWhat;
use bellmare_barn::input::Sensor;
use bellmare_barn::tell::message::{Digest, MessageId, Rate, Talker, To, ToldWho};
use bellmare_barn::time::{Mono, Now, TimeOfDay, WallClock};
use bellmare_barn::units::Percent;

use super::*;

fn time(hour: u16, minute: u16) -> TimeOfDay {
    TimeOfDay::new(hour, minute).expect("a time")
}

fn june(day: u32) -> NaiveDate {
    NaiveDate::from_ymd_opt(2026, 6, day).expect("a date")
}

fn empty(id: u64) -> Told {
    let at = Now { mono: Mono(0), wall: WallClock::Unset };
    let what = AlarmWhat::BucketEmpty { stall: "3".into(), horse: Some("Pepper".to_owned()) };
    Told {
        alarm: Alarm { id, priority: Priority::High, what, raised: at },
        what: "bucket empty and not refilled".to_owned(),
        place: "stall 3, Pepper".to_owned(),
        to_do: "Fill it, and see that the horse drinks.".to_owned(),
        since: Some((june(18), time(12, 10))),
        told: Vec::new(),
        taken_by: None,
        aside: None,
        over: false,
    }
}

fn message(about: About, alarms: Vec<Told>) -> Letter {
    let at = Now { mono: Mono(0), wall: WallClock::Unset };
    let to = To::Person("lena".into());
    let priority = alarms.first().map_or(Priority::Low, |told| told.alarm.priority);
    let mut letter = Letter::new("0a1b", Message { id: MessageId(7), to, about, priority, alarms, made: at });
    letter.id = "0a1b-7-x".to_owned();
    letter.link = Some("http://barn/take/abc".to_owned());
    letter
}

#[track_caller]
fn check(letter: Letter, expected: &str) {
    let text = words(&Parcel::One(Box::new(letter)), "Larkspur Hollow");
    let foot = "\n-- \nLarkspur Hollow. The hub watches and reminds. What to do for a horse is for your equine professional \
                and your vet.\nMessage 0a1b-7-x.\n";
    let body = text.body.strip_suffix(foot).unwrap_or_else(|| panic!("no foot: {}", text.body));
    assert_eq!(format!("{}\n{body}", text.subject), expected);
}

const LINK: &str = "\nI take it:\nhttp://barn/take/abc\nThe link works on the barn's network, once, for a day. Any kiosk does the \
                    same.\n";

#[test]
fn an_alarm_says_what_where_since_when_and_what_to_do() {
    check(
        message(About::Raised, vec![empty(1)]),
        &format!(
            "Urgent: stall 3, Pepper: bucket empty and not refilled\n\
             Stall 3, Pepper: bucket empty and not refilled.\n\
             Since Thu 18 Jun, 12:10. Urgent: a horse or a person may come to harm.\n\
             What to do: Fill it, and see that the horse drinks.\n{LINK}"
        ),
    );
}

#[test]
fn one_that_climbed_says_who_was_told() {
    let mut told = empty(1);
    told.told = vec![
        ToldWho { person: "ana".into(), name: "Ana".to_owned(), at: Some(time(12, 20)) },
        ToldWho { person: "dan".into(), name: "Dan".to_owned(), at: None },
    ];
    check(
        message(About::Climbed { untaken_min: 10 }, vec![told]),
        &format!(
            "Not taken for 10 min: stall 3, Pepper: bucket empty and not refilled\n\
             Others have been told of this, and nobody has taken it for 10 minutes.\n\n\
             Stall 3, Pepper: bucket empty and not refilled.\n\
             Since Thu 18 Jun, 12:10. Urgent: a horse or a person may come to harm.\n\
             What to do: Fill it, and see that the horse drinks.\n\
             Told before: Ana at 12:20, Dan.\n{LINK}"
        ),
    );
}

#[test]
fn what_is_taken_put_aside_or_over_is_one_line_without_a_link() {
    let mut told = empty(1);
    told.taken_by = Some("Ana".to_owned());
    check(
        message(About::Taken, vec![told.clone()]),
        "Taken by Ana: stall 3, Pepper: bucket empty and not refilled\n\
         Stall 3, Pepper: bucket empty and not refilled. Ana has taken it.\n",
    );
    told.aside = Some((time(14, 0), WhyAside::Waits));
    check(
        message(About::Taken, vec![told.clone()]),
        "Put aside until 14:00: stall 3, Pepper: bucket empty and not refilled\n\
         Stall 3, Pepper: bucket empty and not refilled. Put aside by Ana until 14:00: it waits for somebody or something. It \
         comes back by itself.\n",
    );
    (told.aside, told.taken_by, told.over) = (None, None, true);
    check(
        message(About::Ended, vec![told]),
        "Over: stall 3, Pepper: bucket empty and not refilled\n\
         Stall 3, Pepper: bucket empty and not refilled. It is over; there is nothing left to do.\n",
    );
}

#[test]
fn several_are_one_message() {
    let mut second = empty(2);
    second.place = "stall 4, Nell".to_owned();
    second.to_do = String::new();
    second.since = None;
    let letter = message(About::Many { raised: 14 }, vec![empty(1), second.clone()]);
    check(
        letter,
        &format!(
            "14 alarms in ten minutes, first stall 3, Pepper: bucket empty and not refilled\n\
             14 alarms were raised within ten minutes. The most pressing are told here; the board in the barn has all.\n\n\
             Stall 3, Pepper: bucket empty and not refilled.\n\
             Since Thu 18 Jun, 12:10. Urgent: a horse or a person may come to harm.\n\
             What to do: Fill it, and see that the horse drinks.\n\n\
             Stall 4, Nell: bucket empty and not refilled.\n\
             Urgent: a horse or a person may come to harm.\n{LINK}"
        ),
    );
    let both = message(About::Many { raised: 2 }, vec![empty(1), second]);
    assert_eq!(
        subject(&both.message, ""),
        "Urgent: 2 alarms: stall 3, Pepper: bucket empty and not refilled, and 1 more"
    );
    assert_eq!(
        subject(&message(About::Chattering { times: 3 }, vec![empty(1)]).message, ""),
        "Comes and goes: stall 3, Pepper: bucket empty and not refilled"
    );
}

#[test]
fn a_digest_has_a_heading_for_what_there_is() {
    let mut standing = empty(1);
    standing.taken_by = Some("Ana".to_owned());
    let digest = Digest {
        date: june(18),
        heartbeat: true,
        hours: 24,
        standing: vec![standing],
        often: vec![("stall 4: water is low".to_owned(), 5)],
        untaken: Vec::new(),
        low: vec!["stall 9: battery is low".to_owned()],
        batteries: vec![(Sensor::Water("9".into()), Percent(12.0))],
        out_of_service: Vec::new(),
        rate: Rate {
            raised: 9,
            by_priority: [1, 2, 6],
            most_in_ten_min: 3,
            messages: 2,
            targets: vec!["published: fewer than 150 a day (EEMUA 191)".to_owned()],
            ..Rate::default()
        },
        talkers: vec![Talker {
            rule: "water is low".to_owned(),
            times: 5,
            change: "Look at limits.water.low_percent.".to_owned(),
        }],
    };
    check(
        message(About::Digest(Box::new(digest)), Vec::new()),
        "Larkspur Hollow, Thu 18 Jun: 1 alarm stands\n\
         This comes once a week whatever happens: as long as it does, the hub watches and its messages reach you.\n\n\
         Stands now:\n  Stall 3, Pepper: bucket empty and not refilled (since Thu 18 Jun, 12:10), taken by Ana\n\n\
         Could wait for this:\n  Stall 9: battery is low\n\n\
         Came often:\n  5 times: stall 4: water is low\n\n\
         Batteries to change soon:\n  Water sensor of stall 9: 12 % left\n\n\
         Alarms in the last 24 hours:\n  9 raised: 1 urgent, 2 for the day, 6 to know of\n  3 at most in ten minutes; 0 stood for \
         more than a day; 0 came and went\n  2 messages to persons\n  Published: fewer than 150 a day (EEMUA 191)\n\n\
         The rules that talk most, and what to change:\n  Water is low, 5 times. Look at limits.water.low_percent.\n",
    );
}

#[test]
fn a_summary_tells_each_alarm_once_and_what_stands_first() {
    let raised = message(About::Raised, vec![empty(1)]);
    let mut again = empty(1);
    again.taken_by = Some("Ana".to_owned());
    let mut second = empty(2);
    second.place = "stall 4, Nell".to_owned();
    let letters = vec![raised, message(About::Taken, vec![again]), message(About::Raised, vec![second])];
    let sum = Sum { id: "0a1b-7-x".to_owned(), to: To::Everyone, letters, over: BTreeSet::from([2]) };
    let (subject, body) = summed(&sum);
    assert_eq!(subject, "Sent late: 2 alarms, 1 not known to be over");
    assert_eq!(
        body,
        "These could not be sent in time and are told together.\n\n\
         Not known to be over:\n  Thu 18 Jun, 12:10  stall 3, Pepper: bucket empty and not refilled, taken by Ana\n\n\
         Over by now:\n  Thu 18 Jun, 12:10  stall 4, Nell: bucket empty and not refilled\n"
    );
}

#[test]
fn a_test_says_that_there_is_nothing_to_do() {
    check(
        message(About::Test, Vec::new()),
        "Test from Larkspur Hollow\nThis is a test, asked for by hand. If you can read this, messages of Larkspur Hollow reach \
         you here.\nThere is nothing to do.\n",
    );
}
