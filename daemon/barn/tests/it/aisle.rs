//! What people say and ask in the aisle, told as days in the barn.

use std::sync::Arc;

use bellmare_barn::board::{Board, ChoreView, HayView, Job, PaddockView, Priority, StallView, WrongView};
use bellmare_barn::book::{Book, Bucket, Chore, Days, Expected, Person, Role, WaterPlace};
use bellmare_barn::care::observed::Sign;
use bellmare_barn::care::seen::Seen;
use bellmare_barn::input::{Action, Input, Mark, Measured, Reading, Said, Sensor, Step, Touch};
use bellmare_barn::time::{TimeOfDay, WallClock};
use bellmare_barn::units::Millimetres;

use crate::day::{Day, book, limits, thursday, vessel};

const EMPTY: &str = "Pepper, stall 3: bucket empty and not refilled";
const TELL: &str =
    "Tell staff. Tell the equine professional, who decides whether to ask the vet. This is no diagnosis.";
const VET: &str = "Tell staff. Call the vet now and tell the equine professional; nothing by mouth before the vet has spoken. \
                   This is no diagnosis.";
const TOO_LATE: &str = "it was said more than five minutes ago and can not be taken back any more";

/// Touches of somebody who is known, one after the other.
struct Kiosk(u32);

impl Kiosk {
    fn touch(&mut self, day: &mut Day, by: Option<&str>, staff: Option<&str>, action: Action) -> String {
        self.held(day, 0, by, staff, action)
    }

    /// Gives what was answered, and takes the answer from what the barn said.
    fn held(&mut self, day: &mut Day, held_ms: u64, by: Option<&str>, staff: Option<&str>, action: Action) -> String {
        self.0 += 1;
        let id = format!("k{}", self.0);
        day.happens(Input::Touch(Touch {
            id: id.as_str().into(),
            kiosk: "aisle".into(),
            held_ms,
            by: by.map(Into::into),
            staff: staff.map(Into::into),
            action,
        }));
        day.answer(&id)
    }
}

fn stall(day: &Day, id: &str) -> StallView {
    day.board().stalls.into_iter().find(|stall| stall.id.as_str() == id).expect("a stall of the book")
}

fn wrong(day: &Day) -> Option<WrongView> {
    stall(day, "3").horse.expect("Pepper").wrong
}

fn hay(day: &Day) -> Vec<HayView> {
    day.board().hay
}

fn time(hour: u16, minute: u16) -> TimeOfDay {
    TimeOfDay::new(hour, minute).expect("a time")
}

fn filled(undo: bool) -> Action {
    Action::Filled { place: WaterPlace::Stall("3".into()), undo }
}

fn cleaned(undo: bool) -> Action {
    Action::Cleaned { stall: "3".into(), undo }
}

fn ask(undo: bool) -> Action {
    Action::AskHay { horse: "pepper".into(), undo }
}

fn report(seen: &[Seen]) -> Action {
    Action::Wrong { horse: "pepper".into(), seen: seen.to_vec(), undo: false }
}

const NOT_WRONG: fn() -> Action = || Action::Wrong { horse: "pepper".into(), seen: Vec::new(), undo: true };

#[test]
fn a_badge_at_the_kiosk_is_a_tap_and_is_shown_for_half_a_minute() {
    let mut day = Day::begins(8, 0);
    let mut kiosk = Kiosk(0);
    assert_eq!(kiosk.touch(&mut day, None, None, Action::Badge("A1".into())), "done");
    let tapped = |day: &Day| -> Vec<String> {
        let taps = day.board().tapped.into_iter();
        taps.map(|tap| format!("{} {} {} {}", tap.person, tap.reader, tap.here, tap.ago_s)).collect()
    };
    assert_eq!(tapped(&day), ["ana aisle true 0"]);
    day.after_ms(10_000).tap("B2", None);
    day.after_ms(5_000);
    assert_eq!(kiosk.touch(&mut day, None, None, Action::Badge("A1".into())), "done");
    assert_eq!(tapped(&day), ["ana aisle false 0", "lena door true 5", "ana aisle true 15"]);
    // The same badge once more within some seconds is the same tap.
    day.after_ms(1_000);
    assert_eq!(kiosk.touch(&mut day, None, None, Action::Badge("A1".into())), "done");
    assert_eq!(tapped(&day).len(), 3);
    day.restart().after_ms(14_000);
    assert_eq!(tapped(&day), ["ana aisle false 15", "lena door true 20"]);
    day.after_ms(15_000);
    assert!(tapped(&day).is_empty());
    // One that nobody knows is shown as at any reader.
    assert_eq!(kiosk.touch(&mut day, None, None, Action::Badge("FF".into())), "done");
    let unknown = day.board().taps.remove(0);
    assert_eq!((unknown.badge.as_str(), unknown.reader.as_str()), ("FF", "aisle"));
    day.says(&[]);
}

#[test]
fn a_school_class_at_the_door_does_not_fill_the_screen() {
    let mut day = Day::begins(8, 0);
    let mut crowd = book();
    for n in 0..50 {
        let person = Person {
            id: format!("p{n}").as_str().into(),
            name: format!("P{n}"),
            role: Role::SideWalker,
            badge: Some(format!("C{n}").as_str().into()),
            grade: 0,
            language: Default::default(),
        };
        crowd.people.insert(person.id.clone(), person);
    }
    day.happens(Input::Book(Arc::new(crowd)));
    for n in 0..50 {
        day.tap(&format!("C{n}"), None).after_ms(100);
    }
    let tapped = day.board().tapped;
    assert_eq!((tapped.len(), tapped[0].person.as_str()), (12, "p49"));
}

#[test]
fn a_bucket_that_is_said_to_be_filled_is_believed_until_its_sensor_is_sure() {
    let mut day = Day::begins(8, 0);
    let mut kiosk = Kiosk(0);
    for minute in 0..12 {
        day.at(8, minute).level("3", 4.0);
    }
    day.says(&[&format!("raise 1: {EMPTY}")]);
    assert!(day.board().round.iter().any(|stop| stop.place == WaterPlace::Stall("3".into())));
    assert_eq!(kiosk.touch(&mut day, Some("ana"), None, filled(false)), "done");
    day.says(&["end 1"]);
    let said = stall(&day, "3").filled.expect("Ana said so");
    assert_eq!((said.by.as_deref(), said.at, said.can_undo), (Some("Ana"), time(8, 11), true));
    assert!(day.board().round.iter().all(|stop| stop.place != WaterPlace::Stall("3".into())), "nobody need go there");
    // The sensor sees it, and after five minutes nobody need be told who did it.
    for minute in 12..17 {
        day.at(8, minute).level("3", 95.0);
    }
    day.says(&[]);
    assert_eq!(stall(&day, "3").filled, None);
    assert_eq!(kiosk.touch(&mut day, Some("ana"), None, filled(true)), format!("refused: {TOO_LATE}"));
}

#[test]
fn the_sensor_has_the_last_word() {
    let mut day = Day::begins(8, 0);
    let mut kiosk = Kiosk(0);
    for minute in 0..12 {
        day.at(8, minute).level("3", 4.0);
    }
    day.says(&[&format!("raise 1: {EMPTY}")]);
    // Somebody filled another bucket.
    kiosk.touch(&mut day, None, None, filled(false));
    day.says(&["end 1"]);
    for minute in 12..16 {
        day.at(8, minute).level("3", 4.0).says(&[]);
    }
    day.restart().at(8, 16).says(&[&format!("raise 2: {EMPTY}")]);
    day.at(8, 17).level("3", 4.0).says(&[]);
    // It was a wrong touch, taken back.
    kiosk.touch(&mut day, None, None, filled(false));
    day.says(&["end 2"]);
    day.at(8, 19);
    assert_eq!(kiosk.touch(&mut day, None, None, filled(true)), "done");
    day.says(&[&format!("raise 3: {EMPTY}")]);
    assert_eq!(
        kiosk.touch(&mut day, None, None, filled(true)),
        format!("refused: {TOO_LATE}"),
        "the one before it is too old"
    );
}

#[test]
fn a_silent_sensor_says_nothing_against_a_filled_bucket_until_it_speaks() {
    let mut day = Day::begins(8, 0);
    let mut kiosk = Kiosk(0);
    for minute in 0..12 {
        day.at(8, minute).level("3", 4.0);
    }
    kiosk.touch(&mut day, None, None, filled(false));
    day.says(&[&format!("raise 1: {EMPTY}"), "end 1"]);
    day.at(8, 50).says(&["raise 2: water sensor of stall 3 is silent: go and look"]);
    day.at(8, 51).level("3", 4.0).at(9, 0).level("3", 4.0);
    day.says(&["end 2", &format!("raise 3: {EMPTY}"), "raise 4: water sensor of stall 3 is silent: go and look"]);
    // It must have spoken for a little before that is over.
    day.at(9, 1).says(&["end 4"]);
}

#[test]
fn a_trough_and_a_bucket_without_a_sensor_can_be_filled_too() {
    let mut day = Day::begins(8, 0);
    let mut kiosk = Kiosk(0);
    let north = WaterPlace::Paddock("north".into());
    let mut with = book();
    with.buckets.push(Bucket { id: "trough".into(), at: north.clone(), vessel: vessel() });
    day.happens(Input::Book(Arc::new(with)));
    let level = |percent: f64| {
        let measured = Measured::Level(Millimetres(percent * 3.0));
        Input::Reading(Reading { sensor: Sensor::Bucket("trough".into()), measured, own_time: None })
    };
    for minute in 0..12 {
        day.at(8, minute).happens(level(2.0));
    }
    day.says(&["raise 1: paddock north: no water, and not refilled"]);
    kiosk.touch(&mut day, Some("ana"), None, Action::Filled { place: north, undo: false });
    day.says(&["end 1"]);
    let PaddockView { filled, .. } = day.board().paddocks.remove(0);
    assert_eq!(filled.and_then(|done| done.by).as_deref(), Some("Ana"));
    let four = Action::Filled { place: WaterPlace::Stall("4".into()), undo: false };
    assert_eq!(kiosk.touch(&mut day, None, None, four), "done");
    assert_eq!(stall(&day, "4").filled.expect("said").by, None);
    let nowhere = Action::Filled { place: WaterPlace::Paddock("south".into()), undo: false };
    let no = kiosk.touch(&mut day, None, None, nowhere);
    assert_eq!(no, "refused: the book has no water in paddock south");
}

#[test]
fn a_stall_is_clean_until_the_days_end_and_what_was_kept_over_it_is_of_yesterday() {
    let mut day = Day::begins(9, 0);
    let mut kiosk = Kiosk(0);
    assert_eq!(kiosk.touch(&mut day, Some("ana"), None, cleaned(false)), "done");
    assert!(day.board().people.iter().any(|person| person.id.as_str() == "ana" && person.since.is_some()), "she works");
    day.at(9, 4);
    assert_eq!(kiosk.touch(&mut day, None, None, cleaned(true)), "done");
    assert_eq!(stall(&day, "3").cleaned, None);
    assert_eq!(
        kiosk.touch(&mut day, None, None, cleaned(true)),
        "refused: nobody has said so: there is nothing to take back"
    );
    kiosk.touch(&mut day, Some("ana"), None, cleaned(false));
    day.at(9, 9);
    let done = stall(&day, "3").cleaned.expect("cleaned");
    assert_eq!((done.by.as_deref(), done.at, done.can_undo), (Some("Ana"), time(9, 4), false));
    assert_eq!(kiosk.touch(&mut day, None, None, cleaned(true)), format!("refused: {TOO_LATE}"));
    // Picked up once more in the evening, and the day ends.
    day.at(20, 0);
    kiosk.touch(&mut day, Some("lena"), None, cleaned(false));
    assert_eq!(stall(&day, "3").cleaned.and_then(|done| done.by).as_deref(), Some("Lena"));
    day.restart().at(23, 1);
    assert_eq!(stall(&day, "3").cleaned, None);
    let late = kiosk.held(&mut day, 120_000, None, None, cleaned(false));
    assert_eq!(late, "refused: the day of that touch is already closed");
    assert_eq!(kiosk.held(&mut day, 30_000, None, None, cleaned(false)), "done");
    let nowhere = Action::Cleaned { stall: "77".into(), undo: false };
    assert_eq!(kiosk.touch(&mut day, None, None, nowhere), "refused: the book has no stall 77");
}

#[test]
fn a_touch_that_was_kept_counts_when_it_was_touched() {
    let mut day = Day::begins(9, 0);
    let mut kiosk = Kiosk(0);
    // The hub was silent for a quarter of an hour; both were touched in it, three minutes apart.
    kiosk.held(&mut day, 900_000, None, None, cleaned(false));
    let done = stall(&day, "3").cleaned.expect("cleaned");
    assert_eq!((done.at, done.can_undo), (time(8, 45), false));
    assert_eq!(kiosk.held(&mut day, 720_000, None, None, cleaned(true)), "done");
    assert_eq!(stall(&day, "3").cleaned, None);
}

/// The small barn with Tomas, a shift sheet and three chores.
pub(crate) fn with_chores() -> Book {
    let mut book = book();
    let tomas = Person {
        id: "tomas".into(),
        name: "Tomas".to_owned(),
        role: Role::Groom,
        badge: Some("C3".into()),
        grade: 2,
        language: Default::default(),
    };
    book.people.insert(tomas.id.clone(), tomas);
    let daily = || Days::Weekly((0..7).collect());
    for (person, from, to) in [("ana", 7, 13), ("tomas", 7, 18), ("lena", 8, 20)] {
        book.shifts.push(Expected { person: person.into(), days: daily(), from: time(from, 0), to: time(to, 0) });
    }
    for (id, days, by) in [
        ("muck", daily(), time(9, 0)),
        ("scrub", Days::Weekly(vec![3]), time(11, 0)),
        ("close", daily(), time(19, 0)),
        ("friday", Days::Weekly(vec![4]), time(9, 0)),
    ] {
        let chore = Chore {
            id: id.into(),
            name: id.to_owned(),
            name_spanish: format!("{id} es"),
            place: "aisle".to_owned(),
            place_spanish: "pasillo".to_owned(),
            days,
            by,
        };
        book.chores.insert(chore.id.clone(), chore);
    }
    book
}

fn chore(id: &str, undo: bool) -> Action {
    Action::Chore { chore: id.into(), undo }
}

/// Each chore of today as "id whose done late".
fn chores(board: &Board) -> Vec<String> {
    let line = |chore: &ChoreView| {
        let whose = chore.turn.as_ref().map_or("nobody", |turn| turn.id.as_str());
        let done = chore.done.as_ref().map_or("open", |done| done.by.as_deref().unwrap_or("somebody"));
        format!("{} {whose} {done}{}", chore.id, if chore.late { " late" } else { "" })
    };
    board.chores.iter().map(line).collect()
}

#[test]
fn chores_go_round_among_who_comes_and_are_crossed_off() {
    let mut day = Day::planned(thursday(), (6, 30), with_chores());
    let mut kiosk = Kiosk(0);
    // Grooms before staff; where no groom is expected, staff.
    assert_eq!(chores(&day.board()), ["muck ana open", "scrub tomas open", "close lena open"]);
    let board = day.board();
    assert_eq!((board.chores[0].by, board.chores[0].name.spanish.as_str()), (time(9, 0), "muck es"));
    // Ana does not come: at a quarter past seven her turn is the next one's.
    day.at(6, 55).tap("C3", None).at(7, 14);
    assert_eq!(chores(&day.board())[0], "muck ana open");
    day.at(7, 31);
    assert_eq!(chores(&day.board())[..2], ["muck tomas open", "scrub tomas open"]);
    // She comes late, and what was given away stays there.
    day.at(7, 40).tap("A1", None).at(7, 42);
    assert_eq!(chores(&day.board())[0], "muck tomas open");
    day.restart().at(9, 1);
    assert_eq!(chores(&day.board())[0], "muck tomas open late");
    day.says(&[]);
    assert_eq!(kiosk.touch(&mut day, Some("ana"), None, chore("muck", false)), "done");
    assert_eq!(kiosk.touch(&mut day, Some("tomas"), None, chore("muck", false)), "done");
    assert_eq!(chores(&day.board())[0], "muck tomas Ana", "who was first stands");
    assert_eq!(kiosk.touch(&mut day, Some("ana"), None, chore("muck", true)), "done");
    assert_eq!(chores(&day.board())[0], "muck tomas open late");
    kiosk.touch(&mut day, Some("ana"), None, chore("muck", false));
    day.at(9, 6);
    assert!(day.board().chores[0].done.as_ref().is_some_and(|done| !done.can_undo));
    assert_eq!(kiosk.touch(&mut day, None, None, chore("muck", true)), format!("refused: {TOO_LATE}"));
    // Tomas goes home before scrubbing.
    day.at(10, 0).tap("C3", None).at(10, 2);
    assert_eq!(chores(&day.board())[1], "scrub ana open");
    let refused = |kiosk: &mut Kiosk, day: &mut Day, id: &str| kiosk.touch(day, None, None, chore(id, false));
    assert_eq!(refused(&mut kiosk, &mut day, "friday"), "refused: friday is no chore of today");
    assert_eq!(refused(&mut kiosk, &mut day, "polo"), "refused: the book has no chore polo");
    // The next day is a new one, and Ana, who did it today, is not the first.
    day.at(23, 59).after_ms(8 * 3_600_000);
    assert_eq!(chores(&day.board()), ["friday ana open", "muck tomas open", "close lena open"]);
    assert_eq!(
        kiosk.held(&mut day, 12 * 3_600_000, None, None, chore("muck", false)),
        "refused: that was on another day, which is closed"
    );
}

#[test]
fn over_weeks_everybody_has_as_many_turns_as_is_fair() {
    let mut day = Day::planned(thursday(), (6, 30), with_chores());
    let mut had = std::collections::BTreeMap::<String, u32>::new();
    for _ in 0..56 {
        let muck = chores(&day.board()).into_iter().find(|line| line.starts_with("muck")).expect("daily");
        *had.entry(muck).or_default() += 1;
        day.after_ms(24 * 3_600_000);
    }
    assert_eq!(had.len(), 2, "{had:?}");
    assert!(had.values().all(|turns| (27..=29).contains(turns)), "{had:?}");
}

#[test]
fn without_a_clock_there_is_no_chore_of_today_and_the_rest_works() {
    let mut day = Day::with_clock(WallClock::Unset);
    let mut kiosk = Kiosk(0);
    day.happens(Input::Book(Arc::new(with_chores())));
    assert!(day.board().chores.is_empty());
    let no = kiosk.touch(&mut day, None, None, chore("muck", false));
    assert_eq!(no, "refused: the clock is not set: nobody knows of which day this would be");
    assert_eq!(kiosk.touch(&mut day, None, None, cleaned(false)), "done");
    assert_eq!(kiosk.touch(&mut day, None, None, ask(false)), "done");
    assert_eq!(kiosk.touch(&mut day, None, None, report(&[])), "done");
    assert!(stall(&day, "3").cleaned.is_some() && wrong(&day).is_some() && hay(&day).len() == 1);
    day.after_ms(24 * 3_600_000);
    assert_eq!(stall(&day, "3").cleaned, None, "nobody knows when the day ended, but that one is over");
    assert!(wrong(&day).is_some());
}

#[test]
fn nobody_feeds_before_staff_have_answered() {
    let mut day = Day::begins(8, 0);
    let mut kiosk = Kiosk(0);
    assert_eq!(kiosk.touch(&mut day, Some("ana"), None, ask(false)), "done");
    assert_eq!(kiosk.touch(&mut day, None, None, ask(false)), "done", "it is one question");
    let [asked] = hay(&day).try_into().expect("one question");
    let HayView { ask: number, name, by, answer: None, can_undo: true, .. } = asked else { panic!("{asked:?}") };
    assert_eq!((number, name.as_str(), by.as_deref()), (1, "Pepper", Some("Ana")));
    let yes = |ask| Action::AnswerHay { ask, allowed: true };
    let who = "refused: staff, the equine professional or the manager must do this, by badge and PIN";
    assert_eq!(kiosk.touch(&mut day, Some("lena"), None, yes(1)), who, "a name is no PIN");
    assert_eq!(kiosk.touch(&mut day, None, Some("ana"), yes(1)), who, "a groom");
    assert_eq!(kiosk.touch(&mut day, None, Some("lena"), yes(7)), "refused: nobody asks question 7 today");
    day.restart()
        .at(8, 10)
        .says(&["raise 1: Pepper, stall 3: may it have hay? nobody has answered; do not feed before staff have"]);
    assert_eq!(day.board().alarms[0].priority, Priority::Medium);
    assert_eq!(kiosk.touch(&mut day, None, None, ask(true)), format!("refused: {TOO_LATE}"));
    assert_eq!(kiosk.touch(&mut day, None, Some("lena"), yes(1)), "done");
    day.at(8, 13).says(&["end 1"]);
    let answer = hay(&day)[0].answer.clone().expect("answered");
    assert_eq!((answer.allowed, answer.by.as_str(), answer.ago_min), (true, "Lena", 3));
    // She thinks better of it.
    kiosk.touch(&mut day, None, Some("lena"), Action::AnswerHay { ask: 1, allowed: false });
    assert_eq!(hay(&day)[0].answer.as_ref().map(|answer| answer.allowed), Some(false));
    // A new question stands before those that are answered, and can be taken back.
    kiosk.touch(&mut day, None, None, ask(false));
    assert_eq!(hay(&day).iter().map(|ask| ask.ask).collect::<Vec<_>>(), [2, 1]);
    assert_eq!(kiosk.touch(&mut day, None, None, ask(true)), "done");
    assert_eq!(hay(&day).iter().map(|ask| ask.ask).collect::<Vec<_>>(), [1]);
    day.at(9, 0).says(&[]);
}

#[test]
fn what_nobody_answered_is_allowed_to_nobody_and_goes_with_the_day() {
    let mut day = Day::begins(22, 0);
    let mut kiosk = Kiosk(0);
    kiosk.touch(&mut day, None, None, ask(false));
    day.at(22, 30)
        .says(&["raise 1: Pepper, stall 3: may it have hay? nobody has answered; do not feed before staff have"]);
    assert_eq!(hay(&day)[0].answer, None);
    day.at(23, 0).says(&["end 1"]);
    assert!(hay(&day).is_empty());
}

#[test]
fn something_wrong_calls_at_once_and_stands_until_staff_close_it() {
    let mut day = Day::begins(8, 0);
    let mut kiosk = Kiosk(0);
    assert_eq!(kiosk.touch(&mut day, Some("ana"), None, report(&[Seen::Cough])), "done");
    day.says(&[&format!("raise 1: Pepper, stall 3: something is wrong: coughs, or its nose runs. {TELL}")]);
    assert_eq!(day.board().alarms[0].priority, Priority::Medium);
    day.touch(Action::Acknowledge { alarm: 1, by: "lena".into() }).says(&["t1 done"]);
    assert_eq!(wrong(&day).expect("it stands").taken_by.as_deref(), Some("Lena"));
    // More of the same is the same report.
    kiosk.touch(&mut day, Some("ana"), None, report(&[Seen::Skin]));
    day.says(&[]);
    // A sign for the vet is worse: who has seen the cough has not seen this.
    day.at(8, 20);
    kiosk.touch(&mut day, Some("lena"), None, report(&[Seen::Vet(Sign::ColicSigns)]));
    day.says(&[&format!(
        "raise 1: Pepper, stall 3: something is wrong: paws, rolls or looks at its flank; coughs, or its nose runs; skin \
         that itches or loses hair. {VET}"
    )]);
    let WrongView { seen, by, ago_min, vet_now, taken_by, can_undo } = wrong(&day).expect("it stands");
    assert_eq!(seen, [Seen::Vet(Sign::ColicSigns), Seen::Cough, Seen::Skin]);
    assert_eq!((by.as_deref(), ago_min, vet_now, taken_by, can_undo), (Some("Ana"), 20, true, None, false));
    assert_eq!(
        kiosk.touch(&mut day, Some("ana"), None, NOT_WRONG()),
        "refused: it was said again since: there is nothing of that touch to take back: staff close it once it is \
         looked after"
    );
    // Over the night, a restart and another book.
    day.restart().at(23, 30).after_ms(8 * 3_600_000).happens(Input::Book(Arc::new(book()))).says(&[]);
    assert!(wrong(&day).is_some_and(|wrong| wrong.vet_now));
    let over = || Action::WrongOver { horse: "pepper".into() };
    let who = "refused: staff, the equine professional or the manager must do this, by badge and PIN";
    assert_eq!(kiosk.touch(&mut day, Some("ana"), None, over()), who);
    assert_eq!(kiosk.touch(&mut day, None, Some("lena"), over()), "done");
    day.says(&["end 1"]);
    assert_eq!(wrong(&day), None);
    let again = kiosk.touch(&mut day, None, Some("lena"), over());
    assert_eq!(again, "refused: nothing is said to be wrong with it");
}

#[test]
fn who_only_calls_may_have_seen_anything() {
    let mut day = Day::begins(8, 0);
    let mut kiosk = Kiosk(0);
    kiosk.touch(&mut day, None, None, report(&[]));
    day.says(&[&format!("raise 1: Pepper, stall 3: something is wrong: go and look. {TELL}")]);
    assert_eq!(day.board().alarms[0].priority, Priority::High);
    day.touch(Action::Acknowledge { alarm: 1, by: "lena".into() }).says(&["t1 done"]);
    // As pressing as before, and worse all the same.
    kiosk.touch(&mut day, None, None, report(&[Seen::Vet(Sign::Dull)]));
    day.says(&[&format!("raise 1: Pepper, stall 3: something is wrong: dull. {VET}")]);
    assert_eq!(day.board().alarms[0].seen_by, None);
    // A wrong touch is taken back within five minutes.
    day.at(8, 4);
    assert_eq!(kiosk.touch(&mut day, None, None, NOT_WRONG()), "done");
    day.says(&["end 1"]);
    let nothing = kiosk.touch(&mut day, None, None, NOT_WRONG());
    assert_eq!(nothing, "refused: nothing is said to be wrong with it");
    let nobody = Action::Wrong { horse: "nobody".into(), seen: Vec::new(), undo: false };
    assert_eq!(kiosk.touch(&mut day, None, None, nobody), "refused: the book has no horse nobody");
}

#[test]
fn a_horse_that_leaves_the_book_takes_what_was_said_of_it_along() {
    let mut day = Day::begins(8, 0);
    let mut kiosk = Kiosk(0);
    kiosk.touch(&mut day, None, None, report(&[Seen::Shoe]));
    kiosk.touch(&mut day, None, None, ask(false));
    day.at(8, 11);
    let mut without = book();
    without.horses.remove(&"pepper".into());
    without.rides.clear();
    day.says(&[
        &format!("raise 1: Pepper, stall 3: something is wrong: a shoe loose or gone. {TELL}"),
        "raise 2: Pepper, stall 3: may it have hay? nobody has answered; do not feed before staff have",
    ]);
    day.happens(Input::Book(Arc::new(without))).says(&["end 1", "end 2"]);
    day.happens(Input::Book(Arc::new(book()))).at(9, 0).says(&[]);
    assert!(wrong(&day).is_none() && hay(&day).is_empty());
}

#[test]
fn who_touched_is_who_did_it_and_must_be_of_the_book() {
    let mut day = Day::begins(9, 0);
    let mut kiosk = Kiosk(0);
    let said = |by: Option<&str>, mark| {
        Action::Work(Said {
            ride: "r1".into(),
            horse: "pepper".into(),
            step: Step::Brush,
            mark,
            by: by.map(Into::into),
        })
    };
    let at_it = |day: &Day| day.board().next.into_iter().find(|job| job.job == Job::Brush).map(|job| job.who);
    kiosk.touch(&mut day, Some("ana"), None, said(None, Mark::Begun));
    assert!(format!("{:?}", at_it(&day)).contains("ana"), "{:?}", at_it(&day));
    kiosk.touch(&mut day, Some("ana"), None, said(Some("lena"), Mark::Begun));
    assert!(format!("{:?}", at_it(&day)).contains("lena"), "{:?}", at_it(&day));
    assert_eq!(kiosk.touch(&mut day, Some("nobody"), None, cleaned(false)), "refused: the book has no person nobody");
    assert_eq!(kiosk.touch(&mut day, None, Some("nobody"), cleaned(false)), "refused: the book has no person nobody");
    assert_eq!(stall(&day, "3").cleaned, None);
}

#[test]
fn undo_goes_from_the_screen_by_itself() {
    let mut day = Day::begins(8, 0);
    let mut kiosk = Kiosk(0);
    kiosk.touch(&mut day, None, None, cleaned(false));
    kiosk.touch(&mut day, None, None, report(&[]));
    assert!(stall(&day, "3").cleaned.is_some_and(|done| done.can_undo) && wrong(&day).is_some_and(|one| one.can_undo));
    let due = day.barn.next_deadline().expect("something changes by itself");
    assert!(due.0 <= 1_000_000 + 300_000, "{due:?}");
    day.after_ms(299_999);
    assert!(stall(&day, "3").cleaned.is_some_and(|done| done.can_undo));
    day.redrew();
    day.after_ms(1);
    assert!(day.redrew(), "a screen is told");
    assert!(
        stall(&day, "3").cleaned.is_some_and(|done| !done.can_undo) && wrong(&day).is_some_and(|one| !one.can_undo)
    );
}

#[test]
fn steps_are_the_barns_own_or_ours() {
    let day = Day::begins(8, 0);
    let steps = day.board().steps;
    for job in [Job::Brush, Job::Tack, Job::LeadOut, Job::PutAway] {
        assert!(steps.iter().any(|step| step.job == job && step.caution), "{job:?}");
    }
    assert!(steps.iter().all(|step| !step.text.spanish.is_empty()));
}

#[test]
fn hay_is_asked_for_as_long_as_the_barn_says() {
    let mut day = Day::begins(8, 0);
    let mut kiosk = Kiosk(0);
    let mut own = limits();
    own.aisle.hay_unanswered = bellmare_barn::units::Minutes(3);
    day.happens(Input::Limits(Arc::new(own)));
    kiosk.touch(&mut day, None, None, ask(false));
    day.at(8, 3)
        .says(&["raise 1: Pepper, stall 3: may it have hay? nobody has answered; do not feed before staff have"]);
    assert_eq!(kiosk.touch(&mut day, None, None, ask(true)), "done");
    day.says(&["end 1"]);
}
