//! The table of what can be done in two touches, row by row: each is played as a finger would, and counted.

use bellmare_barn::board::{Board, Job, OpenRide, OtherHorse, Who};
use bellmare_barn::book::WaterPlace;
use bellmare_barn::care::observed::Sign;
use bellmare_barn::care::seen::Seen;
use bellmare_barn::id::PersonId;
use bellmare_barn::input::{Action, Mark, Said, Step, WhyAside};
use bellmare_barn::language::Language;
use bellmare_barn::prep::for_aisle::{ForAisle, Said as InWords, WhyNot};
use bellmare_barn::prep::stand_in::Cost;
use bellmare_barn::refusal::Because;
use bellmare_barn::time::TimeOfDay;
use bellmare_kiosk::app::{Outcome, Up};
use bellmare_kiosk::card::{self, CardSide};
use bellmare_kiosk::link::questions::{Question, Reply, StandInsAnswer};

use bellmare_kiosk::pages::{Here, stand_ins};
use slint::ComponentHandle;

use crate::samples;
use crate::touches::{Stand, stand};

const PEPPER: &str = "stall 3, Pepper, water 3.6 gal, enough, mount 9:45, tack up";
const ALARM: &str = "Juniper, stall 7: bucket empty, for 22 min, touch when seen";

fn lena() -> PersonId {
    PersonId::from("lena")
}

/// A badge was held to the kiosk's reader, and the hub says whose it is.
fn tap(stand: &Stand, person: &str, here: bool) {
    stand.kiosk.badge("04A1B27C");
    let mut board = samples::board("whole");
    for one in board.people.iter_mut().filter(|one| one.id.as_str() == person) {
        one.since = here.then(|| board_time(9, 12));
    }
    board.tapped =
        vec![bellmare_barn::board::TapView { reader: "aisle".into(), person: person.into(), here, ago_s: 1 }];
    stand.kiosk.hear(board);
}

fn board_time(hour: u16, minute: u16) -> bellmare_barn::time::TimeOfDay {
    bellmare_barn::time::TimeOfDay::new(hour, minute).expect("a time")
}

/// Lena taps in and shows her PIN; those six digits are not counted.
fn lena_is_staff(stand: &Stand) {
    tap(stand, "lena", true);
    stand.press("Staff, PIN");
    for digit in ["4", "7", "1", "1", "0", "8"] {
        stand.press(digit);
    }
    let asked = Question::Pin { person: lena(), pin: "471108".to_owned() };
    assert_eq!(stand.asked.borrow().last(), Some(&asked));
    stand.kiosk.reply(Reply::Staff { person: lena(), token: "a-token".to_owned(), ends_s: 60 });
    stand.kiosk.open(Up::Aisle);
    stand.presses();
}

#[test]
fn to_sign_in_and_out_takes_none_by_badge_and_two_by_name() {
    let stand = stand("whole");
    tap(&stand, "dot", true);
    assert_eq!(stand.presses(), 0);
    assert_eq!(stand.kiosk.up(), Up::Person { person: "dot".into() }, "who taps in sees what is next");
    assert_eq!(stand.sent(), [Action::Badge("04A1B27C".into())]);

    stand.kiosk.open(Up::Aisle);
    stand.press("Sign in or out");
    stand.press("Cyrus, horse leader · not here");
    assert_eq!((stand.presses(), stand.last().action), (2, Action::SignIn("cyrus".into())));
    assert_eq!(stand.kiosk.up(), Up::Person { person: "cyrus".into() });

    stand.kiosk.open(Up::Aisle);
    stand.press("Sign in or out");
    stand.press("Otis: Out");
    assert_eq!((stand.presses(), stand.last().action), (2, Action::SignOut("otis".into())));
}

#[test]
fn what_is_next_and_with_what_tack_takes_one() {
    let stand = stand("whole");
    stand.press(PEPPER);
    assert_eq!(stand.presses(), 1);
    for piece in ["1 wool pad, shelf B", "3 saddle 12, 17 inch, rack 4", "4 girth 44, hook 44"] {
        assert!(stand.shows(piece), "{piece}");
    }
    assert!(stand.shows("left 9, right 11, not the same"));
}

/// The board on which Pepper is to be brushed.
fn pepper_to_brush() -> Board {
    let mut board = samples::board("whole");
    let pepper = board.stalls.iter_mut().find(|stall| stall.id.as_str() == "3").and_then(|stall| stall.horse.as_mut());
    pepper.expect("Pepper").rides[0].links.brush = Mark::Open;
    board.next.iter_mut().find(|job| job.name == "Pepper").expect("Pepper's job").job = Job::Brush;
    board
}

fn shows_how_to_brush(stand: &Stand) {
    assert_eq!(stand.kiosk.up(), Up::Card { stall: "3".into(), side: CardSide::Steps });
    let steps = ["Speak before you approach", "Stay at the shoulder, never stand behind"];
    for line in steps.into_iter().chain(["Girth in small steps, cold-backed."]) {
        assert!(stand.shows(line), "{line}");
    }
}

#[test]
fn how_it_likes_to_be_handled_and_the_steps_take_one() {
    let stand = stand("whole");
    tap(&stand, "ruth", true);
    let mut board = pepper_to_brush();
    let job = board.next.iter_mut().find(|job| job.name == "Pepper").expect("Pepper's job");
    job.who = Who::Person { id: "ruth".into(), name: "Ruth".to_owned() };
    stand.kiosk.hear(board);
    stand.press("Pepper, brush · stall 3 · by 9:35");
    assert_eq!(stand.presses(), 1);
    shows_how_to_brush(&stand);
}

/// On a large glass the work between the rows is large enough to be touched.
#[test]
fn a_job_in_the_aisle_opens_the_steps_or_the_tack_it_takes() {
    let stand = stand("whole");
    stand.kiosk.app().window().set_size(slint::LogicalSize::new(1920.0, 1080.0));
    let mut board = pepper_to_brush();
    board.alarms.clear();
    stand.kiosk.hear(board);
    stand.press("Pepper, brush Ana by 9:35 ");
    assert_eq!(stand.presses(), 1);
    shows_how_to_brush(&stand);
    let mut board = samples::board("whole");
    board.alarms.clear();
    stand.kiosk.hear(board);
    stand.kiosk.open(Up::Aisle);
    stand.press("Pepper, tack up Ana by 9:35 ");
    assert_eq!((stand.presses(), stand.kiosk.up()), (1, Up::card("3")));
}

fn work(step: Step, mark: Mark) -> Action {
    Action::Work(Said { ride: "ride-1".into(), horse: "pepper".into(), step, mark, by: None })
}

#[test]
fn to_begin_and_finish_a_step_takes_two() {
    let stand = stand("whole");
    stand.press(PEPPER);
    stand.press("Begin tacking, about 11 min, from 3 times");
    assert_eq!((stand.presses(), stand.last().action), (2, work(Step::Tack, Mark::Begun)));
    stand.kiosk.open(Up::Aisle);
    stand.press(PEPPER);
    stand.press("Tacked");
    assert_eq!((stand.presses(), stand.last().action), (2, work(Step::Tack, Mark::Done)));
}

#[test]
fn to_put_away_says_that_the_girth_is_disinfected_and_takes_two() {
    let stand = stand("whole");
    let mut board = samples::board("whole");
    for stall in board.stalls.iter_mut().filter(|stall| stall.id.as_str() == "3") {
        let links = &mut stall.horse.as_mut().expect("Pepper").rides[0].links;
        (links.tack, links.lead_out, links.bring_back) = (Mark::Done, Mark::Done, Mark::Done);
    }
    stand.kiosk.hear(board);
    stand.press("stall 3, Pepper, water 3.6 gal, enough, mount 9:45, put away");
    stand.press("Put away, girth disinfected, hung up");
    assert_eq!((stand.presses(), stand.last().action), (2, work(Step::PutAway, Mark::Done)));
}

#[test]
fn a_horse_leader_takes_a_horse_and_brings_it_back_in_two_each() {
    let stand = stand("whole");
    let set = |lead_out| {
        let mut board = samples::board("whole");
        for stall in board.stalls.iter_mut().filter(|stall| stall.id.as_str() == "3") {
            let ride = &mut stall.horse.as_mut().expect("Pepper").rides[0];
            (ride.links.tack, ride.links.lead_out) = (Mark::Done, lead_out);
        }
        stand.kiosk.hear(board);
        stand.kiosk.open(Up::Aisle);
    };
    set(Mark::Open);
    stand.press("stall 3, Pepper, water 3.6 gal, enough, mount 9:45, lead out");
    stand.press("Led out");
    assert_eq!((stand.presses(), stand.last().action), (2, work(Step::LeadOut, Mark::Done)));
    set(Mark::Done);
    stand.press("stall 3, Pepper, water 3.6 gal, enough, mount 9:45");
    stand.press("Brought back");
    assert_eq!((stand.presses(), stand.last().action), (2, work(Step::BringBack, Mark::Done)));
}

#[test]
fn chores_stalls_and_buckets_are_crossed_off_in_two() {
    let stand = stand("whole");
    stand.press("Chores");
    stand.press("Muck out all stalls, aisle · by 9:30 · Otis");
    assert_eq!((stand.presses(), stand.last().action), (2, Action::Chore { chore: "muck-out".into(), undo: false }));
    stand.press("Scrub the buckets, left row, Theo, 9:09 · touch: not done");
    assert_eq!(
        stand.last().action,
        Action::Chore { chore: "scrub".into(), undo: true },
        "for five minutes there is a way back"
    );

    stand.kiosk.open(Up::Aisle);
    stand.presses();
    stand.press(PEPPER);
    stand.press("Cleaned, the stall");
    assert_eq!((stand.presses(), stand.last().action), (2, Action::Cleaned { stall: "3".into(), undo: false }));
    stand.kiosk.open(Up::Aisle);
    stand.press(PEPPER);
    stand.press("Filled, the bucket");
    let place = WaterPlace::Stall("3".into());
    assert_eq!((stand.presses(), stand.last().action), (2, Action::Filled { place, undo: false }));
}

#[test]
fn to_ask_for_hay_takes_two_and_staff_answer_in_two() {
    let stand = stand("whole");
    stand.press(PEPPER);
    stand.press("Hay?, ask staff");
    assert_eq!((stand.presses(), stand.last().action), (2, Action::AskHay { horse: "pepper".into(), undo: false }));

    lena_is_staff(&stand);
    stand.press("Chores");
    stand.press("Hay");
    assert_eq!(stand.presses(), 2);
    stand.press("Clover, stall 2: yes, hay, Ana asks, 4 min ago");
    let given = stand.last();
    assert_eq!(given.action, Action::AnswerHay { ask: 3, allowed: true });
    assert_eq!((given.by, given.staff_token.as_deref()), (Some(lena()), Some("a-token")));
    // From the page that the PIN opens it is one.
    stand.kiosk.open(Up::Staff);
    stand.presses();
    stand.press("Clover, stall 2: yes, hay: No");
    assert_eq!((stand.presses(), stand.last().action), (1, Action::AnswerHay { ask: 3, allowed: false }));
}

#[test]
fn that_something_is_wrong_is_sent_with_the_second_touch() {
    let stand = stand("whole");
    stand.press(PEPPER);
    stand.press("Wrong, with this horse");
    let wrong = |seen| Action::Wrong { horse: "pepper".into(), seen, undo: false };
    assert_eq!((stand.presses(), stand.last().action), (2, wrong(Vec::new())));
    assert_eq!(stand.kiosk.up(), Up::Wrong { horse: "pepper".into() });
    assert!(stand.shows("For these the vet is called now"));
    stand.press("breathes hard");
    assert_eq!(stand.last().action, wrong(vec![Seen::Vet(Sign::HardBreathing)]), "what was seen follows, a touch each");
}

#[test]
fn a_report_says_when_to_call_the_vet_and_can_be_taken_back() {
    let stand = stand("whole");
    stand.press("stall 16, Fern, water 3.5 gal, enough, mount 2:00, is not itself");
    stand.press("Wrong, was told");
    assert_eq!(stand.sent(), [], "it was told before");
    assert!(!stand.shows("Call staff now"));
    stand.press("It was, a mistake");
    assert_eq!(stand.last().action, Action::Wrong { horse: "fern".into(), seen: Vec::new(), undo: true });
}

#[test]
fn staff_take_note_of_an_alarm_and_put_it_aside_in_two_and_a_pin() {
    let stand = stand("whole");
    lena_is_staff(&stand);
    stand.press(ALARM);
    stand.press("Seen: Lena");
    assert_eq!((stand.presses(), stand.last().action), (2, Action::Acknowledge { alarm: 41, by: lena() }));
    stand.press(ALARM);
    stand.press("it has to wait, for 2 h from now");
    let aside = Action::PutAside { alarm: 41, for_min: 120, why: WhyAside::Waits };
    assert_eq!((stand.presses(), stand.last().action), (2, aside));
}

#[test]
fn staff_take_a_horse_out_and_see_who_could_go_in_two_and_a_pin() {
    let stand = stand("whole");
    lena_is_staff(&stand);
    stand.press(PEPPER);
    stand.press("Not today, no more work");
    let scratch = Action::Scratch { horse: "pepper".into(), out: true, by: lena() };
    assert_eq!((stand.presses(), stand.last().action), (2, scratch));

    stand.kiosk.open(Up::Aisle);
    stand.press(PEPPER);
    stand.press("Stand-ins, who could go");
    assert_eq!(stand.presses(), 2);
    let question = Question::StandIns { ride: "ride-1".into(), token: "a-token".to_owned() };
    assert_eq!(stand.asked.borrow().last(), Some(&question));
    stand.kiosk.reply(clover_and_not_maple("ride-1"));
    assert!(stand.shows("Clover, nothing written down speaks against it"));
    assert!(stand.shows("Maple, not for this ride: the office knows why"));
}

/// Clover fits a ride, Hazel would cost the plan another one, and Maple does not fit.
fn clover_and_not_maple(ride: &str) -> Reply {
    let costs = Cost { units: 100_400, missed: 1, staff_calls: 2, minutes_late: -3 };
    let horse = |name: &str, why_not: Vec<WhyNot>| ForAisle {
        horse: name.to_lowercase().as_str().into(),
        name: name.to_owned(),
        fits: why_not.is_empty(),
        why_not: why_not.into_iter().map(|what| InWords { what, text: String::new() }).collect(),
        cautions: Vec::new(),
        cost: None,
        plan: (name == "Hazel").then_some(costs),
    };
    let horses =
        Ok(vec![horse("Clover", Vec::new()), horse("Hazel", Vec::new()), horse("Maple", vec![WhyNot::AskOffice])]);
    Reply::StandIns(StandInsAnswer { ride: ride.into(), horses })
}

/// That is when it is asked, and no ride is left on its card.
#[test]
fn who_could_go_instead_is_asked_of_a_horse_that_was_taken_out() {
    let stand = stand("whole");
    lena_is_staff(&stand);
    let mut board = samples::board("whole");
    let time = |hour, minute| TimeOfDay::new(hour, minute).expect("a time of day");
    for horse in board.stalls.iter_mut().filter_map(|stall| stall.horse.as_mut()).filter(|horse| horse.name == "Pepper")
    {
        (horse.scratched, horse.rides) = (true, Vec::new());
        horse.open_rides = [("ride-1", time(9, 45)), ("ride-7", time(14, 0))]
            .map(|(id, mount)| OpenRide { id: id.into(), mount, instead: None })
            .to_vec();
    }
    let page = stand_ins::sheet(&Here::nobody(&board, Language::English), &"ride-1".into()).expect("a page");
    assert_eq!(page.title, "9:45, in place of Pepper");
    stand.kiosk.hear(board.clone());
    stand.kiosk.open(Up::card("3"));
    stand.press("Stand-ins, who could go");
    let asked = |ride: &str| Question::StandIns { ride: ride.into(), token: "a-token".to_owned() };
    assert_eq!(stand.asked.borrow().last(), Some(&asked("ride-1")));
    stand.press("mount 2:00, Stand-ins");
    assert_eq!(stand.asked.borrow().last(), Some(&asked("ride-7")));
    // The way back to the first of them.
    assert!(stand.shows("mount 9:45, Stand-ins"));
    // The equine professional chooses, and none against which something is written down.
    stand.kiosk.reply(clover_and_not_maple("ride-7"));
    assert!(!stand.shows("Clover: Goes"), "Lena is staff");
    let page = Box::new(Up::StandIns { ride: "ride-7".into() });
    stand.kiosk.open(Up::Pin { person: "marisol".into(), then: page });
    stand.kiosk.reply(Reply::Staff { person: "marisol".into(), token: "a-token".to_owned(), ends_s: 60 });
    stand.kiosk.reply(clover_and_not_maple("ride-7"));
    assert!(!stand.shows("Maple: Goes"));
    assert!(stand.shows("Hazel, 1 ride more is missed · 2 more calls for staff"), "it fits, and is late for it");
    stand.press("Clover: Goes");
    let goes = |horse: Option<&str>| Action::StandIn { ride: "ride-7".into(), horse: horse.map(Into::into) };
    assert_eq!(stand.last().action, goes(Some("clover")));
    let clover = OtherHorse { id: "clover".into(), name: "Clover".to_owned() };
    for horse in board.stalls.iter_mut().filter_map(|stall| stall.horse.as_mut()) {
        horse.open_rides.iter_mut().skip(1).for_each(|open| open.instead = Some(clover.clone()));
    }
    let under_its_name = card::draw(&Here::nobody(&board, Language::English), &"3".into(), &stand.kiosk.sizes());
    assert_eq!(under_its_name.expect("a card").then, "stand-in needed: 9:45 · Clover goes at 2:00");
    stand.kiosk.hear(board);
    stand.press("Clover: Undo");
    assert_eq!(stand.last().action, goes(None));
}

#[test]
fn who_is_in_the_barn_takes_one() {
    let stand = stand("whole");
    stand.press("Sign in or out");
    assert_eq!(stand.presses(), 1);
    for name in ["Ana", "Lena", "Otis", "Ruth", "Theo"] {
        let row = samples::board("whole").people.into_iter().find(|one| one.name == name).expect("a person");
        assert!(row.since.is_some(), "{name}");
        assert!(stand.shows(&format!("{name}: Out")), "{name}");
    }
}

#[test]
fn the_language_is_a_touch_away_and_follows_who_tapped_in() {
    let stand = stand("whole");
    stand.press("Español");
    assert_eq!((stand.presses(), stand.kiosk.language()), (1, Language::Spanish));
    assert!(stand.shows("English"));
    stand.press("English");
    tap(&stand, "ana", true);
    assert_eq!(stand.kiosk.language(), Language::Spanish, "Ana reads Spanish");
    i_slint_backend_testing::mock_elapsed_time(std::time::Duration::from_secs(61));
    assert_eq!((stand.kiosk.language(), stand.kiosk.who()), (Language::English, None));
}

#[test]
fn staff_mode_ends_a_minute_after_the_last_touch() {
    let stand = stand("whole");
    lena_is_staff(&stand);
    i_slint_backend_testing::mock_elapsed_time(std::time::Duration::from_secs(61));
    assert_eq!(stand.asked.borrow().last(), Some(&Question::EndStaff { token: "a-token".to_owned() }));
    stand.kiosk.open(Up::card("3"));
    assert!(!stand.shows("Not today, no more work"));
}

#[test]
fn a_wrong_pin_is_told_with_how_long_to_wait_and_nothing_is_shown_of_it() {
    let stand = stand("whole");
    tap(&stand, "lena", true);
    stand.press("Staff, PIN");
    for _ in 0..6 {
        stand.press("9");
    }
    assert!(stand.shows("○ ○ ○ ○ ○ ○"));
    let refusal = Because::WrongPin.says("the PIN is wrong");
    stand.kiosk.reply(Reply::NotStaff { person: lena(), refusal, wait_s: 30 });
    assert!(matches!(stand.kiosk.up(), Up::Pin { .. }));
    assert!(stand.shows("that is not the PIN · again in 30 s"));
}

#[test]
fn staff_can_do_nothing_while_the_hub_is_silent_and_are_told_so() {
    let stand = stand("whole");
    lena_is_staff(&stand);
    stand.kiosk.last_word(std::time::Duration::from_secs(20));
    stand.press(PEPPER);
    let before = stand.sent().len();
    stand.press("Not today, no more work");
    assert_eq!(stand.sent().len(), before);
    assert!(stand.shows("the hub is silent: it must answer before staff can act"));
    // What anybody may do is kept and sent later.
    stand.press("Wrong, with this horse");
    assert_eq!(stand.sent().len(), before + 1);
}

#[test]
fn the_clock_is_set_by_staff_digit_by_digit() {
    let stand = stand("whole");
    lena_is_staff(&stand);
    let mut board = samples::board("whole");
    board.clock = bellmare_barn::board::Clock::Unset;
    stand.kiosk.hear(board);
    stand.kiosk.open(Up::Staff);
    stand.press("Set the clock");
    for digit in "202606180912".chars() {
        stand.press(&digit.to_string());
    }
    stand.press("Set");
    let date = chrono::NaiveDate::from_ymd_opt(2026, 6, 18).expect("a day");
    assert_eq!(stand.last().action, Action::SetClock { date, time: board_time(9, 12) });
    stand.kiosk.answer(Outcome::Done);
    assert!(stand.shows("Done"));
}

#[test]
fn a_badge_held_up_where_staff_are_asked_for_signs_nobody_out() {
    let stand = stand("whole");
    stand.press(ALARM);
    stand.press("Put aside, staff, PIN");
    stand.kiosk.badge("04A1B2FF");
    assert_eq!(stand.sent(), []);
    assert_eq!(stand.asked.borrow().last(), Some(&Question::Whose { badge: "04A1B2FF".into() }));
    stand.kiosk.reply(Reply::Whose(Ok(lena())));
    let then = Box::new(Up::Alarm { alarm: 41 });
    assert_eq!(stand.kiosk.up(), Up::Pin { person: lena(), then });
    stand.kiosk.reply(Reply::Staff { person: lena(), token: "a-token".to_owned(), ends_s: 60 });
    stand.press("it has to wait, for 30 min from now");
    let aside = Action::PutAside { alarm: 41, for_min: 30, why: WhyAside::Waits };
    assert_eq!(stand.last().action, aside);
}
