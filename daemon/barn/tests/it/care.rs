//! Horses looked at and worked, told as days in the barn.

use std::sync::Arc;

use bellmare_barn::board::{HorseView, VitalsLine, WorkDoneView};
use bellmare_barn::book::WorkLimits;
use bellmare_barn::care::observed::{Gums, Observed, Sign};
use bellmare_barn::care::vitals::{Condition, Urgency};
use bellmare_barn::input::{Action, Input, Mark, Said, Step, Vitals};
use bellmare_barn::time::{TimeOfDay, WallClock};
use bellmare_barn::units::{Celsius, Minutes, PerMinute};

use crate::day::{Day, book};

const PULSE_45: &str = "pulse 45 a minute: 9 above its own 36 a minute at rest; outside of all printed for adults: 28 to 44 \
                        (reprint), 28 to 40 (practice)";
const TELL: &str = "Tell the equine professional, who decides whether to ask the vet. This is no diagnosis.";
const VET: &str = "Call the vet now and tell the equine professional; nothing by mouth before the vet has spoken. This is no \
                   diagnosis.";

/// A day on which Pepper has a resting record and limits.
fn begins(hour: u16, minute: u16) -> Day {
    let mut day = Day::begins(hour, minute);
    let mut book = book();
    let pepper = book.horses.get_mut(&"pepper".into()).expect("Pepper");
    pepper.resting.pulse = Some(PerMinute(36.0));
    pepper.most = WorkLimits { minutes_a_day: Some(Minutes(40)), days_a_week: Some(5), ..WorkLimits::default() };
    day.happens(Input::Book(Arc::new(book))).says(&[]);
    day
}

fn look(by: &str, seen: Observed) -> Action {
    Action::Vitals(Vitals { horse: "pepper".into(), by: by.into(), after_work_min: None, seen })
}

fn pulse(beats: f64) -> Observed {
    Observed { pulse: Some(PerMinute(beats)), ..Observed::default() }
}

fn said(step: Step, mark: Mark) -> Action {
    Action::Work(Said { ride: "r1".into(), horse: "pepper".into(), step, mark, by: None })
}

fn pepper(day: &Day) -> HorseView {
    day.board().stalls.into_iter().filter_map(|stall| stall.horse).find(|horse| horse.name == "Pepper").expect("Pepper")
}

fn last(day: &Day) -> VitalsLine {
    pepper(day).vitals.expect("somebody has looked").last.remove(0)
}

fn worked(day: &Day) -> WorkDoneView {
    pepper(day).work.expect("the clock is set")
}

#[test]
fn what_differs_is_an_alarm_until_the_next_look_is_fine() {
    let mut day = begins(8, 0);
    assert_eq!(pepper(&day).vitals, None);
    day.touch(look("ana", pulse(38.0))).says(&["t1 done"]);
    assert_eq!((last(&day).urgency, last(&day).by.as_str()), (Urgency::Fine, "Ana"));
    day.at(8, 10).touch(look("ana", pulse(45.0)));
    day.says(&[&format!("raise 1: Pepper, stall 3: {PULSE_45}. {TELL}"), "t2 done"]);
    day.restart().at(8, 12);
    let seen = last(&day);
    assert_eq!((seen.cautions, seen.advice.as_str(), seen.ago_min), (vec![PULSE_45.to_owned()], TELL, 2));
    assert_eq!(seen.time, TimeOfDay::new(8, 10));
    // Worse than before is said again.
    let dull = Observed { signs: vec![Sign::Dull], ..pulse(38.0) };
    day.touch(look("lena", dull));
    let why = "dull: the vet is to be called (Purdue equine field service)";
    day.says(&[&format!("raise 1: Pepper, stall 3: {why}. {VET}"), "t3 done"]);
    day.at(9, 0).touch(look("lena", pulse(38.0))).says(&["end 1", "t4 done"]);
    let times: Vec<u32> = pepper(&day).vitals.expect("looks").last.iter().map(|look| look.ago_min).collect();
    assert_eq!(times, [0, 48, 50], "the last three");
}

#[test]
fn a_caution_that_staff_have_seen_ends_with_the_day() {
    let mut day = begins(8, 0);
    let pale = || Observed { gums: Some(Gums::Pale), ..Observed::default() };
    let raised = format!("Pepper, stall 3: gums pale: printed is moist and pink (several). {TELL}");
    day.touch(look("ana", pale())).says(&[&format!("raise 1: {raised}"), "t1 done"]);
    // A groom has seen it, and it is the same the next morning.
    day.touch(Action::Acknowledge { alarm: 1, by: "ana".into() }).at(23, 1).after_ms(9 * 3_600_000).says(&["t2 done"]);
    assert_eq!(day.board().alarms.len(), 1);
    day.touch(Action::Acknowledge { alarm: 1, by: "lena".into() }).at(22, 59).says(&["t3 done"]);
    assert_eq!(day.board().alarms.len(), 1);
    day.at(23, 0).says(&["end 1"]);
    assert_eq!(last(&day).urgency, Urgency::Tell, "it is on the card until somebody looks again");
    day.touch(look("ana", pale())).says(&[&format!("raise 2: {raised}"), "t4 done"]);
}

#[test]
fn what_can_not_be_is_refused_and_changes_nothing() {
    let mut day = begins(8, 0);
    let mut check = |action, why: &str| {
        let before = day.board();
        day.touch_as(why, action).says(&[&format!("refuse kiosk aisle: {why}"), &format!("{why} refused: {why}")]);
        assert_eq!(day.board().stalls, before.stalls);
    };
    check(look("nobody", pulse(38.0)), "the book has no person nobody");
    check(look("ana", pulse(3.0)), "pulse 3: allowed is 10 to 250 a minute");
    let hot = Observed { temperature: Some(Celsius(101.5)), ..Observed::default() };
    check(look("ana", hot), "temperature 101.5: allowed is 30 to 45 °C (86 to 113 °F)");
    let of = |horse: &str, after_work_min| {
        Action::Vitals(Vitals { horse: horse.into(), by: "ana".into(), after_work_min, seen: pulse(38.0) })
    };
    check(of("moss", None), "the book has no horse moss");
    check(of("pepper", Some(1441)), "after_work_min 1441: allowed is 0 to 1440");
}

#[test]
fn a_look_that_was_kept_by_a_kiosk_says_nothing_against_a_later_one() {
    let mut day = begins(8, 0);
    day.touch(look("ana", pulse(38.0))).says(&["t1 done"]);
    let action = look("lena", pulse(45.0));
    let touch = bellmare_barn::input::Touch {
        id: "late".into(),
        kiosk: "aisle".into(),
        held_ms: 60_000,
        by: None,
        staff: None,
        action,
    };
    day.happens(Input::Touch(touch)).says(&["late done"]);
    assert_eq!(last(&day).urgency, Urgency::Fine);
    assert_eq!(pepper(&day).vitals.expect("looks").last.len(), 2);
}

#[test]
fn a_horse_that_leaves_the_book_takes_its_caution_along() {
    let mut day = begins(8, 0);
    day.touch(look("ana", pulse(45.0))).says(&[&format!("raise 1: Pepper, stall 3: {PULSE_45}. {TELL}"), "t1 done"]);
    let mut without = book();
    without.horses.remove(&"pepper".into());
    without.rides.clear();
    day.happens(Input::Book(Arc::new(without))).says(&["end 1"]);
    day.happens(Input::Book(Arc::new(book()))).says(&[]);
    assert_eq!(pepper(&day).vitals, None);
}

#[test]
fn after_its_ride_a_horse_is_judged_as_one_that_has_worked() {
    let mut day = begins(9, 50);
    day.touch(said(Step::LeadOut, Mark::Done)).at(10, 20).touch(look("ana", pulse(80.0))).says(&["t1 done", "t2 done"]);
    assert_eq!(last(&day).condition, Condition::AfterWork(0), "it is being ridden");
    // Five minutes to walk back: its rider was off at 10:45.
    day.at(10, 50).touch(said(Step::BringBack, Mark::Done)).at(10, 57).touch(look("ana", pulse(45.0)));
    day.says(&["t3 done", "t4 done"]);
    assert_eq!(last(&day).condition, Condition::AfterWork(12));
    day.at(11, 15).touch(look("ana", pulse(61.0)));
    assert_eq!(last(&day).condition, Condition::AfterWork(30));
    assert!(last(&day).cautions[0].starts_with("pulse 61 a minute 30 minutes after work: over 60"), "{:?}", last(&day));
    day.at(11, 16).touch(look("ana", pulse(38.0)));
    assert_eq!((last(&day).condition, last(&day).urgency), (Condition::AtRest, Urgency::Fine));
    // Somebody knows better.
    let vitals = Vitals { horse: "pepper".into(), by: "ana".into(), after_work_min: Some(11), seen: pulse(58.0) };
    day.touch(Action::Vitals(vitals));
    assert_eq!((last(&day).condition, last(&day).urgency), (Condition::AfterWork(11), Urgency::Fine));
}

#[test]
fn work_done_is_what_people_said_beside_the_horses_limits() {
    let mut day = begins(9, 50);
    let none = worked(&day);
    assert_eq!((none.rides, none.most_rides, none.most_minutes, none.most_days), (0, None, Some(40), Some(5)));
    day.touch(said(Step::Tack, Mark::Done));
    assert_eq!(worked(&day), none, "tacked is not ridden");
    day.touch(said(Step::LeadOut, Mark::Done)).at(10, 15);
    assert_eq!((worked(&day).rides, worked(&day).minutes), (1, 15));
    day.at(10, 44);
    assert_eq!(worked(&day).above, ["44 minutes a day, above the 40",]);
    day.restart().at(10, 38 + 10).touch(said(Step::BringBack, Mark::Done));
    assert_eq!((worked(&day).minutes, worked(&day).in_a_row), (43, 43));
    // It was a wrong touch, and then it was not.
    day.touch(said(Step::LeadOut, Mark::Open));
    assert_eq!(worked(&day), none);
    day.touch(said(Step::PutAway, Mark::Done));
    assert_eq!((worked(&day).minutes, worked(&day).rides_this_week, worked(&day).days_this_week), (45, 1, 1));
    // Friday morning, and Monday.
    day.after_ms(22 * 3_600_000);
    let friday = worked(&day);
    assert_eq!((friday.rides, friday.minutes, friday.minutes_this_week, friday.days_this_week), (0, 0, 45, 1));
    day.after_ms(3 * 24 * 3_600_000);
    assert_eq!(worked(&day).days_this_week, 0);
}

#[test]
fn without_a_clock_a_horse_can_be_looked_at_and_its_work_is_not_known() {
    let mut day = Day::with_clock(WallClock::Unset);
    day.touch(look("ana", pulse(38.0))).says(&["t1 done"]);
    let seen = last(&day);
    assert_eq!((seen.date, seen.time, seen.condition), (None, None, Condition::AtRest));
    assert_eq!(pepper(&day).work, None);
}
