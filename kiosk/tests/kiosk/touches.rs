//! What a finger does, by the labels that a screen reader would find, and what is sent for it.

use std::cell::RefCell;
use std::rc::Rc;
use std::time::Duration;

use bellmare_barn::board::{VitalsLine, VitalsView};
use bellmare_barn::care::observed::{Gums, GutSounds, Observed};
use bellmare_barn::care::vitals::{Condition, Urgency, Vital};
use bellmare_barn::id::{HorseId, PersonId, RideId};
use bellmare_barn::input::{Action, Mark, Said, Step, Vitals};
use bellmare_barn::language::Language;
use bellmare_barn::limits::DisplayUnits;
use bellmare_barn::units::{Fahrenheit, PerMinute, Seconds};
use bellmare_kiosk::app::{Given, Kiosk, Line, Outcome, Settings, Up};
use bellmare_kiosk::card::CardSide;
use bellmare_kiosk::check::{Entry, Sign};
use bellmare_kiosk::link::questions::Question;
use bellmare_kiosk::pages::round::Part;
use bellmare_kiosk::ui::{Colours, Light, Theme};
use i_slint_backend_testing::{AccessibleRole, ElementHandle, TestingBackend, TestingBackendOptions};
use slint::{Color, ComponentHandle, LogicalSize};

use crate::samples;

/// A kiosk before which a test stands.
pub struct Stand {
    pub kiosk: Rc<Kiosk>,
    sent: Rc<RefCell<Vec<Given>>>,
    pub asked: Rc<RefCell<Vec<Question>>>,
    takes: Rc<RefCell<bool>>,
    presses: RefCell<usize>,
}

/// A kiosk of 1280 by 800 with a saved board, on a platform of this test's own thread.
pub fn stand(sample: &str) -> Stand {
    let options = TestingBackendOptions { mock_time: true, threading: false, renderer_name: Some("software".into()) };
    slint::platform::set_platform(Box::new(TestingBackend::new(options))).expect("one platform per thread");
    let sent: Rc<RefCell<Vec<Given>>> = Rc::default();
    let asked: Rc<RefCell<Vec<Question>>> = Rc::default();
    let takes = Rc::new(RefCell::new(true));
    let (record, open, questions) = (sent.clone(), takes.clone(), asked.clone());
    let give = move |given| {
        if *open.borrow() {
            record.borrow_mut().push(given);
        }
        *open.borrow()
    };
    let ask = move |question| {
        questions.borrow_mut().push(question);
        true
    };
    let settings = Settings { readers: vec!["aisle".to_owned()], ..Settings::default() };
    let kiosk = Kiosk::new(settings, Line { give: Box::new(give), ask: Box::new(ask) }).expect("a window");
    kiosk.app().window().set_size(LogicalSize::new(1280.0, 800.0));
    kiosk.app().show().expect("shown");
    kiosk.hear(samples::board(sample));
    Stand { kiosk, sent, asked, takes, presses: RefCell::new(0) }
}

impl Stand {
    fn find(&self, label: &str) -> Vec<ElementHandle> {
        ElementHandle::find_by_accessible_label(self.kiosk.app(), label).collect()
    }

    pub fn shows(&self, label: &str) -> bool {
        !self.find(label).is_empty()
    }

    /// Presses where the labelled thing is, as a finger would.
    pub fn press(&self, label: &str) {
        let button = |element: &ElementHandle| element.accessible_role() == Some(AccessibleRole::Button);
        let found: Vec<_> = self.find(label).into_iter().filter(button).collect();
        assert_eq!(found.len(), 1, "one thing labelled \"{label}\" among {:#?}", self.labels());
        found[0].mock_single_click(slint::platform::PointerEventButton::Left);
        *self.presses.borrow_mut() += 1;
    }

    /// The labels of all that can be touched.
    fn labels(&self) -> Vec<String> {
        let buttons = i_slint_backend_testing::ElementQuery::from_root(self.kiosk.app())
            .match_descendants()
            .match_accessible_role(AccessibleRole::Button)
            .find_all();
        buttons.iter().filter_map(|button| button.accessible_label()).map(|label| label.to_string()).collect()
    }

    /// What was sent so far.
    pub fn sent(&self) -> Vec<Action> {
        self.sent.borrow().iter().map(|given| given.action.clone()).collect()
    }

    /// The last touch that was sent, with who gave it.
    pub fn last(&self) -> Given {
        self.sent.borrow().last().expect("something was sent").clone()
    }

    /// How many presses since the last time this was asked.
    pub fn presses(&self) -> usize {
        self.presses.take()
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
    assert!(stand.sent().is_empty());
}

#[test]
fn steps_are_begun_done_and_taken_back() {
    let stand = stand("morning");
    stand.press(PEPPER);
    stand.press("Begin tacking, about 11 min, from 3 times");
    stand.press("Tacked");
    stand.press("Undo, not brushed");
    assert_eq!(
        stand.sent(),
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
    assert!(!stand.shows("Begin tacking, about 11 min, from 3 times"));
    stand.press("Undo, not tacked");
    assert_eq!(stand.sent(), [work(Step::Tack, Mark::Open)]);
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
    assert!(stand.sent().is_empty(), "nothing is sent before somebody says that it was them");
    stand.press("Lena, staff");
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
    assert_eq!(stand.sent(), [Action::Vitals(vitals)]);
    assert_eq!(stand.kiosk.up(), Up::Card { stall: "3".into(), side: CardSide::Steps });
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
    stand.press("Lena, staff");
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
        about: vec![Vital::Pulse],
        notes: Vec::new(),
        advice: Urgency::Tell.advice().to_owned(),
    };
    let stall = board.stalls.iter_mut().find(|stall| stall.id.as_str() == "3").expect("Pepper's stall");
    stall.horse.as_mut().expect("Pepper").vitals = Some(VitalsView { last: vec![line] });
    stand.kiosk.hear(board);
    stand.press(PEPPER);
    assert!(stand.shows("Checked 12 min ago by Ana: tell the equine professional. pulse 46 in a minute"));
    stand.kiosk.speak(Language::Spanish);
    assert!(stand.shows("Revisado hace 12 min por Ana: avisar al profesional ecuestre. pulso 46 por minuto"));
}

#[test]
fn an_alarm_is_seen_by_somebody_who_is_here() {
    let stand = stand("morning");
    stand.press(ALARM);
    assert!(!stand.shows("Bea, side walker"));
    stand.press("Lena, staff");
    assert_eq!(stand.sent(), [Action::Acknowledge { alarm: 41, by: PersonId::from("lena") }]);
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
    stand.kiosk.answer(Outcome::Refused("Domino is not yours to lead".into()));
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
    stand.press("Dot, groom · not here");
    assert_eq!(stand.sent().len(), 1);
    assert!(stand.shows("The hub is silent. Your touch is kept and will be sent."));
    stand.kiosk.hear(samples::board("morning"));
    assert!(!stand.shows("hub silent for 16 s, this is the picture of 9:12"));
}

#[test]
fn a_touch_that_can_not_be_kept_says_so() {
    let stand = stand("morning");
    *stand.takes.borrow_mut() = false;
    stand.press("Sign in or out");
    stand.press("Dot, groom · not here");
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
    let stall = || "3".into();
    let ups = [
        Up::Aisle,
        Up::card("3"),
        Up::Card { stall: stall(), side: CardSide::Steps },
        Up::Check { stall: stall(), sign: Sign::Gums },
        Up::Shift,
        Up::Person { person: "ana".into() },
        Up::Wrong { horse: "pepper".into() },
        Up::Round { part: Part::Stalls },
        Up::Alarm { alarm: 41 },
        Up::Clock,
    ];
    for up in ups {
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

/// Every palette, by its name.
fn palettes(stand: &Stand) -> [(Light, Colours); 3] {
    let theme = stand.kiosk.app().global::<Theme>();
    [Light::Day, Light::Night, Light::Dim].map(|light| {
        theme.set_light(light);
        (light, theme.get_colours())
    })
}

#[test]
fn words_and_shapes_stand_out_enough() {
    let stand = stand("morning");
    for (light, c) in palettes(&stand) {
        let grounds = [
            ("paper", c.paper),
            ("card", c.card),
            ("alarm's wash", c.alarm_wash),
            ("low's wash", c.low_wash),
            ("now's wash", c.now_wash),
            ("unknown's wash", c.unknown_wash),
        ];
        let mut words: Vec<(String, Color, Color)> = Vec::new();
        for (name, ground) in grounds {
            words.push((format!("ink on {name}"), c.ink, ground));
            words.push((format!("soft on {name}"), c.soft, ground));
        }
        words.push(("ink on ready's wash".into(), c.ink, c.ready_wash));
        words.push(("ink on sky".into(), c.ink, c.sky));
        let texts = [
            ("now", c.now_text, Some(c.now_wash)),
            ("low", c.low_text, Some(c.low_wash)),
            ("alarm", c.alarm_text, Some(c.alarm_wash)),
            ("ready", c.ready_text, None),
        ];
        for (name, text, wash) in texts {
            words.push((format!("{name} on paper"), text, c.paper));
            words.push((format!("{name} on card"), text, c.card));
            words.extend(wash.map(|wash| (format!("{name} on its wash"), text, wash)));
        }
        for (name, fill) in [("alarm", c.alarm), ("low", c.low), ("ready", c.ready), ("stop", c.stop)] {
            words.push((format!("a mark on {name}"), c.on_bright, fill));
        }
        for (name, fill) in [("now", c.now), ("unknown", c.unknown), ("the answer", c.ink)] {
            words.push((format!("a word on {name}"), c.on_dark, fill));
        }
        for (what, word, ground) in words {
            let contrast = contrast(word, ground);
            assert!(contrast >= 4.5, "{light:?}: {what}: {contrast:.2}");
        }
        // WCAG 2.2, 1.4.11. Every other shape has an outline in ink.
        let mut shapes = vec![
            ("a frame on card", c.line, c.card),
            ("a frame on paper", c.line, c.paper),
            ("water", c.water, c.card),
            ("water in a stall where something is due", c.water, c.now_wash),
            ("water in a stall that is late", c.water, c.alarm_wash),
            ("now on the line of lessons", c.alarm, c.paper),
            ("a stall where something is due", c.now, c.paper),
            ("a stall that is late", c.alarm, c.paper),
            ("an unknown level", c.unknown, c.unknown_wash),
            ("a link that is closed", c.ready, c.card),
        ];
        // Frames of stalls, of the heat, of stirrups, and columns, by `Theme.frame`: on what is inside and outside of them.
        let frames = [
            ("low", c.low_edge, c.low_wash),
            ("stop", c.stop_edge, c.alarm_wash),
            ("now", c.now, c.now_wash),
            ("alarm", c.alarm, c.alarm_wash),
            ("ready", c.ready_text, c.card),
            ("unknown", c.unknown, c.unknown_wash),
        ];
        for (name, frame, wash) in frames {
            shapes.extend([(name, frame, c.paper), (name, frame, c.card), (name, frame, wash)]);
        }
        for (what, shape, ground) in shapes {
            let contrast = contrast(shape, ground);
            assert!(contrast >= 3.0, "{light:?}: {what}: {contrast:.2}");
        }
        // Water has a line in ink at its level, because its own colour may be too near to what is above it.
        for ground in [c.card, c.paper, c.low_wash, c.alarm_wash, c.now_wash] {
            for water in [c.water, c.low, c.alarm] {
                let level = contrast(c.ink, ground).max(contrast(water, ground));
                assert!(contrast(c.ink, ground) >= 3.0, "{light:?}: the line of a level");
                assert!(
                    level >= 3.0 && contrast(c.ink, water).max(contrast(water, ground)) >= 3.0,
                    "{light:?}: a level"
                );
            }
        }
    }
}

#[test]
fn each_palette_is_darker_than_the_one_before() {
    let stand = stand("morning");
    let light = |c: &Colours| {
        let of = |color: Color| u32::from(color.red()) + u32::from(color.green()) + u32::from(color.blue());
        (of(c.paper), of(c.card), of(c.ink).max(of(c.paper)))
    };
    let [(_, day), (_, night), (_, dim)] = palettes(&stand);
    let (day, night, dim) = (light(&day), light(&night), light(&dim));
    assert!(day.0 > night.0 && night.0 > dim.0, "paper");
    assert!(day.1 > night.1 && night.1 > dim.1, "card");
    assert!(day.2 > night.2 && night.2 > dim.2, "the brightest");
}
