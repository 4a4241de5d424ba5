//! What a finger does, by the labels that a screen reader would find, and what is sent for it.

use std::cell::RefCell;
use std::rc::Rc;
use std::time::Duration;

use bellmare_barn::board::{VitalsLine, VitalsView};
use bellmare_barn::care::observed::{Gums, GutSounds, Observed};
use bellmare_barn::care::vitals::{Condition, Urgency};
use bellmare_barn::id::{HorseId, PersonId, RideId};
use bellmare_barn::input::{Action, Mark, Said, Step, Vitals};
use bellmare_barn::limits::DisplayUnits;
use bellmare_barn::units::{Fahrenheit, PerMinute, Seconds};
use bellmare_kiosk::app::{Kiosk, Outcome, Settings, Up};
use bellmare_kiosk::card::CardSide;
use bellmare_kiosk::check::{Entry, Sign};
use bellmare_kiosk::ui::Theme;
use i_slint_backend_testing::{AccessibleRole, ElementHandle, TestingBackend, TestingBackendOptions};
use slint::{Color, ComponentHandle, LogicalSize};

use crate::samples;

struct Stand {
    kiosk: Rc<Kiosk>,
    sent: Rc<RefCell<Vec<Action>>>,
    takes: Rc<RefCell<bool>>,
}

/// A kiosk of 1280 by 800 with a saved board, on a platform of this test's own thread.
fn stand(sample: &str) -> Stand {
    let options = TestingBackendOptions { mock_time: true, threading: false, renderer_name: Some("software".into()) };
    slint::platform::set_platform(Box::new(TestingBackend::new(options))).expect("one platform per thread");
    let sent: Rc<RefCell<Vec<Action>>> = Rc::default();
    let takes = Rc::new(RefCell::new(true));
    let (record, open) = (sent.clone(), takes.clone());
    let send = move |action| {
        if *open.borrow() {
            record.borrow_mut().push(action);
        }
        *open.borrow()
    };
    let kiosk = Kiosk::new(Settings::default(), Box::new(send)).expect("a window");
    kiosk.app().window().set_size(LogicalSize::new(1280.0, 800.0));
    kiosk.app().show().expect("shown");
    kiosk.hear(samples::board(sample));
    Stand { kiosk, sent, takes }
}

impl Stand {
    fn find(&self, label: &str) -> Vec<ElementHandle> {
        ElementHandle::find_by_accessible_label(self.kiosk.app(), label).collect()
    }

    fn shows(&self, label: &str) -> bool {
        !self.find(label).is_empty()
    }

    /// Presses where the labelled thing is, as a finger would.
    fn press(&self, label: &str) {
        let button = |element: &ElementHandle| element.accessible_role() == Some(AccessibleRole::Button);
        let found: Vec<_> = self.find(label).into_iter().filter(button).collect();
        assert_eq!(found.len(), 1, "one thing labelled \"{label}\"");
        found[0].mock_single_click(slint::platform::PointerEventButton::Left);
    }
}

const PEPPER: &str = "stall 3, Pepper, water 3.6 gal, enough, mount 9:45, tack up";
const ALARM: &str = "Juniper, stall 7: bucket empty, for 22 min, touch when seen";

fn work(step: Step, mark: Mark) -> Action {
    Action::Work(Said { ride: RideId::from("ride-1"), horse: HorseId::from("pepper"), step, mark, by: None })
}

#[test]
fn one_touch_on_a_stall_opens_its_card_and_back_closes_it() {
    let stand = stand("morning");
    stand.press(PEPPER);
    assert_eq!(stand.kiosk.up(), Up::card("3"));
    assert!(stand.shows("left 9, right 11, not the same"));
    assert!(stand.shows("1 wool pad, shelf B"));
    stand.press("Back");
    assert!(stand.shows(PEPPER));
    assert!(stand.sent.borrow().is_empty());
}

#[test]
fn steps_are_begun_done_and_taken_back() {
    let stand = stand("morning");
    stand.press(PEPPER);
    stand.press("Begin tacking");
    stand.press("Tacked");
    stand.press("Undo");
    assert_eq!(
        *stand.sent.borrow(),
        [work(Step::Tack, Mark::Begun), work(Step::Tack, Mark::Done), work(Step::Brush, Mark::Open)]
    );
}

#[test]
fn a_step_that_was_begun_asks_only_for_its_end() {
    let stand = stand("morning");
    let mut board = samples::board("morning");
    let pepper = board.stalls[2].horse.as_mut().expect("Pepper");
    pepper.rides[0].links.tack = Mark::Begun;
    stand.kiosk.hear(board);
    stand.kiosk.open(Up::card("3"));
    assert!(!stand.shows("Begin tacking"));
    stand.press("Undo");
    assert_eq!(*stand.sent.borrow(), [work(Step::Tack, Mark::Open)]);
}

#[test]
fn signing_in_and_out_takes_two_touches() {
    let stand = stand("morning");
    stand.press("Sign in or out");
    stand.press("Dot, groom, not here");
    stand.press("Sign in or out");
    stand.press("Ana, groom, here since 8:02");
    let (dot, ana) = (PersonId::from("dot"), PersonId::from("ana"));
    assert_eq!(*stand.sent.borrow(), [Action::SignIn(dot), Action::SignOut(ana)]);
    assert_eq!(stand.kiosk.up(), Up::Aisle);
}

#[test]
fn names_past_the_first_page_are_a_touch_away() {
    let stand = stand("morning");
    stand.press("Sign in or out");
    assert!(!stand.shows("Yusuf, side walker, not here"));
    stand.press("More names");
    stand.press("Yusuf, side walker, not here");
    assert_eq!(*stand.sent.borrow(), [Action::SignIn(PersonId::from("yusuf"))]);
}

const CHECK: &str = "Check the horse";

#[test]
fn a_horse_is_checked_by_large_keys_and_sent_under_a_name() {
    let stand = stand("morning");
    stand.press(PEPPER);
    stand.press(CHECK);
    assert!(stand.shows("not measured: touch + or − to begin"));
    // The first press begins at a usual value, the next ones change it.
    for key in ["temperature up by 1.0", "temperature up by 1.0", "temperature up by 0.1", "temperature down by 0.1"] {
        stand.press(key);
    }
    stand.press("temperature up by 0.1");
    assert!(stand.shows("101.1 °F"));
    stand.press("Next: pulse");
    stand.press("pulse up by 1");
    stand.press("Not measured");
    assert!(stand.shows("not measured: touch + or − to begin"), "it was taken out again");
    stand.press("pulse down by 10");
    stand.press("pulse up by 10");
    assert!(stand.shows("46 in a minute"));
    stand.press("Next: breaths");
    stand.press("Next: refill");
    stand.press("refill up by 0.5");
    stand.press("refill up by 0.5");
    assert!(stand.shows("2.5 s"));
    stand.press("Next: gums");
    stand.press("pale");
    stand.press("Next: gut sounds");
    stand.press("heard in all four");
    stand.press("Who looked?");
    assert!(stand.shows("101.1 °F · pulse 46 · refill 2.5 s · gums pale · gut sounds heard in all four"));
    assert!(stand.sent.borrow().is_empty(), "nothing is sent before somebody says that it was them");
    stand.press("Lena, staff, here since 7:15");
    let seen = Observed {
        temperature: Some(Fahrenheit(101.1).celsius()),
        pulse: Some(PerMinute(46.0)),
        refill: Some(Seconds(2.5)),
        gums: Some(Gums::Pale),
        gut: Some(GutSounds::AllFour),
        ..Observed::default()
    };
    assert_eq!(seen.check(), Ok(()));
    let vitals = Vitals { horse: "pepper".into(), by: "lena".into(), after_work_min: None, seen };
    assert_eq!(*stand.sent.borrow(), [Action::Vitals(vitals)]);
    assert_eq!(stand.kiosk.up(), Up::Card { stall: "3".into(), side: CardSide::Handling });
}

#[test]
fn what_was_half_entered_is_there_again_and_what_can_not_be_sent_is_not_lost() {
    let stand = stand("morning");
    stand.press(PEPPER);
    stand.press(CHECK);
    stand.press("temperature up by 0.1");
    i_slint_backend_testing::mock_elapsed_time(Duration::from_secs(61));
    assert_eq!(stand.kiosk.up(), Up::Aisle);
    stand.kiosk.open(Up::card("3"));
    stand.press(CHECK);
    assert!(stand.shows("100.0 °F"));
    stand.press("Back");
    assert_eq!(stand.kiosk.up(), Up::card("3"));
    *stand.takes.borrow_mut() = false;
    stand.kiosk.open(Up::Check { stall: "3".into(), sign: Sign::Gut });
    stand.press("Who looked?");
    stand.press("Lena, staff, here since 7:15");
    assert!(stand.shows("Too many touches wait for the hub. Write it down, please."));
    let temperature = || Up::Check { stall: "3".into(), sign: Sign::Temperature };
    stand.kiosk.open(temperature());
    assert!(stand.shows("100.0 °F"));
    // What was measured long ago is not of now.
    i_slint_backend_testing::mock_elapsed_time(Duration::from_secs(601));
    stand.kiosk.open(temperature());
    assert!(stand.shows("not measured: touch + or − to begin"));
}

#[test]
fn the_keys_can_enter_nothing_that_the_hub_refuses() {
    for units in [DisplayUnits::UsCustomary, DisplayUnits::Metric] {
        for key in 0..4 {
            let mut entry = Entry::default();
            for sign in Sign::ALL {
                (0..300).for_each(|_| entry.press(sign, key, units));
            }
            assert_eq!(entry.observed(units).check(), Ok(()), "key {key}, {}", entry.summary(units));
        }
    }
}

#[test]
fn the_card_says_what_came_of_the_last_check() {
    let stand = stand("morning");
    let mut board = samples::board("morning");
    let line = VitalsLine {
        by: "Ana".to_owned(),
        ago_min: 12,
        date: None,
        time: None,
        condition: Condition::AtRest,
        seen: Observed { pulse: Some(PerMinute(46.0)), ..Observed::default() },
        urgency: Urgency::Tell,
        cautions: vec!["pulse 46 a minute: 10 above its own 36 a minute at rest; outside of all printed".to_owned()],
        notes: Vec::new(),
        advice: Urgency::Tell.advice().to_owned(),
    };
    let stall = board.stalls.iter_mut().find(|stall| stall.id.as_str() == "3").expect("Pepper's stall");
    stall.horse.as_mut().expect("Pepper").vitals = Some(VitalsView { last: vec![line] });
    stand.kiosk.hear(board);
    stand.press(PEPPER);
    assert!(stand.shows(
        "Checked 12 min ago by Ana: tell the equine professional. pulse 46 a minute: 10 above its own 36 a minute at rest"
    ));
}

#[test]
fn an_alarm_is_seen_by_somebody_who_is_here() {
    let stand = stand("morning");
    stand.press(ALARM);
    assert!(!stand.shows("Bea, side walker, not here"));
    stand.press("Lena, staff, here since 7:15");
    assert_eq!(*stand.sent.borrow(), [Action::Acknowledge { alarm: 41, by: PersonId::from("lena") }]);
}

#[test]
fn a_minute_without_a_touch_brings_the_aisle_back() {
    let stand = stand("morning");
    stand.press(PEPPER);
    i_slint_backend_testing::mock_elapsed_time(Duration::from_secs(50));
    stand.press("Tacked");
    i_slint_backend_testing::mock_elapsed_time(Duration::from_secs(50));
    assert_eq!(stand.kiosk.up(), Up::card("3"), "the minute began anew");
    i_slint_backend_testing::mock_elapsed_time(Duration::from_secs(11));
    assert_eq!(stand.kiosk.up(), Up::Aisle);
}

#[test]
fn pages_turn_by_themselves_and_alarms_with_them() {
    let stand = stand("trouble");
    assert!(stand.shows(ALARM));
    i_slint_backend_testing::mock_elapsed_time(Duration::from_millis(8100));
    assert!(stand.shows("arena, heat: critical to monitor, for 4 min, touch when seen"));
}

#[test]
fn a_refusal_is_shown_to_the_person() {
    let stand = stand("morning");
    stand.kiosk.answer(Outcome::Refused("Domino is not yours to lead".to_owned()));
    assert!(stand.shows("Not done: Domino is not yours to lead"));
    i_slint_backend_testing::mock_elapsed_time(Duration::from_secs(7));
    assert!(!stand.shows("Not done: Domino is not yours to lead"));
}

#[test]
fn a_touch_while_the_hub_is_silent_says_that_it_waits() {
    let stand = stand("morning");
    stand.kiosk.last_word(Duration::from_secs(16));
    assert!(stand.shows("hub silent for 16 s, this is the picture of 9:12"));
    stand.press("Sign in or out");
    stand.press("Dot, groom, not here");
    assert_eq!(stand.sent.borrow().len(), 1);
    assert!(stand.shows("The hub is silent. Your touch is kept and will be sent."));
    stand.kiosk.hear(samples::board("morning"));
    assert!(!stand.shows("hub silent for 16 s, this is the picture of 9:12"));
}

#[test]
fn a_touch_that_can_not_be_kept_says_so() {
    let stand = stand("morning");
    *stand.takes.borrow_mut() = false;
    stand.press("Sign in or out");
    stand.press("Dot, groom, not here");
    assert!(stand.shows("Too many touches wait for the hub. Write it down, please."));
}

#[test]
fn fifteen_seconds_are_not_yet_silence() {
    let stand = stand("morning");
    stand.kiosk.last_word(Duration::from_secs(15));
    assert!(!stand.shows("hub silent for 15 s, this is the picture of 9:12"));
}

#[test]
fn everything_that_can_be_touched_has_a_label() {
    let stand = stand("morning");
    let check = Up::Check { stall: "3".into(), sign: Sign::Gums };
    for up in [Up::Aisle, Up::card("3"), check, Up::People { asked: bellmare_kiosk::people::Asked::SignIn, page: 0 }] {
        stand.kiosk.open(up.clone());
        let buttons: Vec<_> = i_slint_backend_testing::ElementQuery::from_root(stand.kiosk.app())
            .match_descendants()
            .match_accessible_role(AccessibleRole::Button)
            .find_all();
        assert!(buttons.len() > 2, "{up:?}");
        for button in buttons {
            assert!(button.accessible_label().is_some_and(|label| !label.is_empty()), "{up:?}");
        }
    }
}

/// Contrast as WCAG 2.2 counts it.
fn contrast(a: Color, b: Color) -> f64 {
    let light = |color: Color| {
        let channel = |value: u8| {
            let value = f64::from(value) / 255.0;
            if value <= 0.04045 { value / 12.92 } else { ((value + 0.055) / 1.055).powf(2.4) }
        };
        0.2126 * channel(color.red()) + 0.7152 * channel(color.green()) + 0.0722 * channel(color.blue())
    };
    let (a, b) = (light(a) + 0.05, light(b) + 0.05);
    a.max(b) / a.min(b)
}

#[test]
fn words_and_shapes_stand_out_enough() {
    let stand = stand("morning");
    let c = stand.kiosk.app().global::<Theme>().get_colours();
    let words = [
        ("ink on paper", c.ink, c.paper),
        ("soft on paper", c.soft, c.paper),
        ("soft on card", c.soft, c.card),
        ("now on its wash", c.now_text, c.now_wash),
        ("low on its wash", c.low_text, c.low_wash),
        ("alarm on its wash", c.alarm_text, c.alarm_wash),
        ("alarm on paper", c.alarm_text, c.paper),
        ("ready on card", c.ready_text, c.card),
        ("ink on unknown", c.ink, c.unknown_wash),
        ("soft on unknown", c.soft, c.unknown_wash),
        ("ink on ready", c.ink, c.ready_wash),
        ("words on alarm", c.on_bright, c.alarm),
        ("words on low", c.on_bright, c.low),
        ("words on ready", c.on_bright, c.ready),
        ("words on stop", c.on_bright, c.stop),
        ("words on now", c.on_dark, c.now),
        ("words on unknown", c.on_dark, c.unknown),
    ];
    for (what, word, ground) in words {
        assert!(contrast(word, ground) >= 4.5, "{what}: {:.2}", contrast(word, ground));
    }
    // Every other shape has an outline in ink.
    for (what, shape, ground) in [("a frame", c.line, c.card), ("water", c.water, c.card), ("alarm", c.alarm, c.paper)]
    {
        assert!(contrast(shape, ground) >= 3.0, "{what}: {:.2}", contrast(shape, ground));
    }
}
