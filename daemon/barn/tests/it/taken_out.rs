//! Horses that are taken out in the middle of the day, and those that go in their place.

use std::sync::Arc;

use bellmare_barn::board::{AlarmWhat, HorseView, Job, OpenRide};
use bellmare_barn::book::{Book, Ride, Role};
use bellmare_barn::id::HorseId;
use bellmare_barn::input::{Action, Input, Mark, Said, Step, Touch};

use crate::day::{Day, thursday};
use crate::planned_day::{book, hands, holds, lesson, next, said, time, works};

fn scratch(horse: &str, out: bool) -> Action {
    Action::Scratch { horse: horse.into(), out, by: "lena".into() }
}

/// A horse as the board shows it.
fn shown(day: &Day, horse: &str) -> HorseView {
    let mut horses = day.board().stalls.into_iter().filter_map(|stall| stall.horse);
    horses.find(|shown| shown.id == HorseId::from(horse)).expect("it is on the board")
}

/// What Lena was answered, who showed her PIN.
fn by_lena(day: &mut Day, touch: &str, action: Action) -> String {
    let (id, kiosk, staff) = (touch.into(), "aisle".into(), Some("lena".into()));
    day.happens(Input::Touch(Touch { id, kiosk, held_ms: 0, by: None, staff, action }));
    let answer = day.answer(touch);
    day.after_ms(2_000);
    answer
}

fn stand_in(ride: &str, horse: Option<&str>) -> Action {
    Action::StandIn { ride: ride.into(), horse: horse.map(Into::into) }
}

/// Of each lesson: horses that go, and riders without one.
fn riders(day: &Day) -> Vec<(u32, u32)> {
    day.board().lessons.iter().map(|lesson| (lesson.horses, lesson.without)).collect()
}

#[test]
fn a_scratched_horse_is_left_in_its_stall_and_one_under_its_tack_is_put_away() {
    let mut book = book(&[("Pepper", 1), ("Juniper", 1)]);
    lesson(&mut book, 9, 0, &["pepper", "juniper"]);
    let mut day = Day::planned(thursday(), (8, 0), book);
    day.touch(Action::Scratch { horse: "juniper".into(), out: true, by: "ben".into() });
    day.says(&[
        "refuse kiosk aisle: staff, an instructor, the equine professional or the manager must do this",
        "t1 refused: staff, an instructor, the equine professional or the manager must do this",
    ]);
    day.touch(scratch("juniper", true)).after_ms(2_000).says(&["t2 done"]);
    holds(&day);
    assert!(hands(&day, "Juniper").is_empty());
    let juniper = shown(&day, "juniper");
    assert!(juniper.scratched && juniper.rides.is_empty());
    assert_eq!(
        juniper.open_rides,
        [OpenRide { id: "juniper 9:00".into(), mount: time(9, 0), instead: None }],
        "who goes instead?"
    );
    assert_eq!(riders(&day), [(1, 1)]);

    day.touch(scratch("juniper", false)).after_ms(2_000);
    assert_eq!(hands(&day, "Juniper").len(), 3, "after all it works");
    assert_eq!(shown(&day, "juniper").open_rides, []);
    assert_eq!(riders(&day), [(2, 0)]);
    day.touch(scratch("juniper", true)).after_ms(2_000);
    day.touch(scratch("pepper", true)).after_ms(2_000);
    assert_eq!(riders(&day), [(0, 2)], "a lesson that nobody goes is on the line all the same");
    day.touch(scratch("pepper", false)).after_ms(2_000);

    works(&mut day, "pepper 9:00", Step::Brush, "ana", (8, 25), (8, 39));
    works(&mut day, "pepper 9:00", Step::Tack, "ana", (8, 40), (8, 49));
    day.touch(scratch("pepper", true)).after_ms(2_000);
    holds(&day);
    let left: Vec<Job> = day.board().next.iter().map(|job| job.job).collect();
    assert_eq!(left, [Job::PutAway]);
    assert_eq!(riders(&day), [(0, 2)], "it was ready, and goes all the same no more");
}

/// Whoever tacks it up just now is to stop, and nobody is to lead it out.
#[test]
fn a_horse_that_is_taken_out_while_somebody_tacks_it_up_is_put_away_at_once() {
    let mut book = book(&[("Pepper", 1), ("Juniper", 1)]);
    lesson(&mut book, 9, 0, &["pepper", "juniper"]);
    lesson(&mut book, 9, 45, &["pepper"]);
    let mut day = Day::planned(thursday(), (8, 0), book);
    let rides = |day: &Day| {
        let rides = shown(day, "pepper").rides;
        rides.iter().map(|ride| (ride.id.to_string(), ride.off, ride.last)).collect::<Vec<_>>()
    };
    let pepper = |day: &Day| next(day).into_iter().filter(|job| job.starts_with("Pepper")).collect::<Vec<_>>();
    works(&mut day, "pepper 9:00", Step::Brush, "ana", (8, 25), (8, 39));
    day.at(8, 40).touch(said("pepper 9:00", Step::Tack, Mark::Begun, "ana"));
    assert_eq!(rides(&day), [("pepper 9:00".to_owned(), false, false), ("pepper 9:45".to_owned(), false, true)]);

    day.at(8, 44).touch(scratch("pepper", true)).after_ms(2_000);
    holds(&day);
    assert_eq!(rides(&day), [("pepper 9:00".to_owned(), true, true)]);
    assert_eq!(pepper(&day), ["Pepper PutAway Ana 8:49 to 9:04"]);
    assert_eq!(riders(&day), [(1, 1), (0, 1)]);
    let open = shown(&day, "pepper").open_rides;
    assert_eq!(open.iter().map(|open| open.mount).collect::<Vec<_>>(), [time(9, 0), time(9, 45)]);

    // It works after all: the tack goes on from where it was left.
    day.touch(scratch("pepper", false)).after_ms(2_000);
    holds(&day);
    assert!(pepper(&day)[0].starts_with("Pepper Tack Ana 8:40"), "{:?}", pepper(&day));
    day.touch(scratch("pepper", true)).after_ms(2_000);
    works(&mut day, "pepper 9:00", Step::PutAway, "ana", (8, 50), (9, 2));
    assert_eq!((rides(&day), pepper(&day)), (vec![], vec![]));
}

/// The lesson has begun, and the horse still stands tacked in its stall: it does not wait until the lesson is over.
#[test]
fn a_horse_that_missed_its_lesson_and_is_taken_out_is_put_away_at_once() {
    let mut book = book(&[("Pepper", 1)]);
    lesson(&mut book, 9, 0, &["pepper"]);
    let mut day = Day::planned(thursday(), (8, 0), book);
    works(&mut day, "pepper 9:00", Step::Brush, "ana", (8, 25), (8, 39));
    works(&mut day, "pepper 9:00", Step::Tack, "ana", (8, 40), (8, 49));
    day.at(9, 2).touch(scratch("pepper", true)).after_ms(2_000);
    holds(&day);
    assert_eq!(next(&day), ["Pepper PutAway Ana 9:07 to 9:22"]);
}

#[test]
fn a_horse_that_is_taken_out_in_its_ride_goes_no_second_one() {
    let mut book = book(&[("Pepper", 1), ("Juniper", 1)]);
    lesson(&mut book, 9, 0, &["pepper", "juniper"]);
    lesson(&mut book, 9, 45, &["pepper"]);
    let mut day = Day::planned(thursday(), (8, 0), book);
    works(&mut day, "pepper 9:00", Step::Brush, "ana", (8, 25), (8, 39));
    works(&mut day, "pepper 9:00", Step::Tack, "ana", (8, 40), (8, 49));
    day.at(8, 58).touch(said("pepper 9:00", Step::LeadOut, Mark::Done, "ana"));
    day.at(9, 5).touch(scratch("pepper", true)).after_ms(2_000);
    holds(&day);
    let pepper = shown(&day, "pepper");
    let rides: Vec<_> = pepper.rides.iter().map(|ride| (ride.mount, ride.off, ride.last)).collect();
    assert_eq!(rides, [(time(9, 0), false, true)]);
    assert_eq!(pepper.open_rides.iter().map(|open| open.mount).collect::<Vec<_>>(), [time(9, 45)]);
    assert_eq!(riders(&day), [(2, 0), (0, 1)]);
    day.at(9, 10).touch(said("pepper 9:00", Step::BringBack, Mark::Done, "ana")).after_ms(2_000);
    holds(&day);
    assert_eq!(day.board().next.iter().filter(|job| job.name == "Pepper").count(), 1);
}

/// Whoever takes a horse out has ten minutes to see who can go instead; lessons that are far away have time.
#[test]
fn a_horse_that_is_taken_out_is_an_alarm_until_others_go_in_its_place() {
    let mut book = book(&[("Pepper", 1), ("Juniper", 1), ("Moss", 1)]);
    lesson(&mut book, 9, 30, &["pepper", "juniper"]);
    lesson(&mut book, 12, 0, &["juniper"]);
    lesson(&mut book, 13, 0, &["pepper"]);
    lesson(&mut book, 14, 0, &["pepper"]);
    book.people.get_mut(&"lena".into()).expect("Lena").role = Role::EquineProfessional;
    let mut day = Day::planned(thursday(), (8, 0), book);
    let open = |day: &Day| {
        let alarms = day.board().alarms.into_iter().filter(|alarm| !alarm.over);
        let what = alarms.map(|alarm| alarm.what).find(|what| matches!(what, AlarmWhat::NoHorse { .. }));
        what.map(|what| what.to_string()).unwrap_or_default()
    };
    let juniper = |at| format!("Juniper, stall 2: taken out, and no horse goes in its place at {at}");
    day.at(8, 5).touch(scratch("juniper", true)).at(8, 15).says(&["t1 done"]);
    day.at(8, 16).says(&[&format!("raise 1: {}", juniper("9:30, 12:00"))]);
    // One of the two is settled, and then it is not after all: whoever has seen it is told again.
    assert_eq!(by_lena(&mut day, "s1", stand_in("juniper 12:00", Some("moss"))), "done");
    day.says(&[]);
    assert_eq!(open(&day), juniper("9:30"));
    assert_eq!(by_lena(&mut day, "s2", stand_in("juniper 12:00", None)), "done");
    day.says(&[&format!("raise 1: {}", juniper("9:30, 12:00"))]);
    assert_eq!(by_lena(&mut day, "s3", stand_in("juniper 9:30", Some("moss"))), "done");
    assert_eq!(open(day.says(&[])), juniper("12:00"));
    assert_eq!(by_lena(&mut day, "s4", stand_in("juniper 12:00", Some("moss"))), "done");
    day.says(&["end 1"]);

    // A lesson that has begun can not be helped any more.
    day.at(9, 35).touch(scratch("pepper", true));
    assert_eq!(open(day.at(10, 9)), "");
    assert_eq!(open(day.at(10, 17)), "Pepper, stall 1: taken out, and no horse goes in its place at 13:00, 14:00");
    day.touch(scratch("pepper", false)).after_ms(2_000);
    assert_eq!(open(&day), "");
}

#[test]
fn a_horse_that_the_equine_professional_chooses_goes_in_place_of_one_that_was_taken_out() {
    let mut written = book(&[("Pepper", 1), ("Juniper", 1), ("Moss", 1), ("Fern", 3)]);
    lesson(&mut written, 9, 0, &["pepper", "juniper"]);
    let role = |book: &mut Book, role| book.people.get_mut(&"lena".into()).expect("Lena").role = role;
    let mut day = Day::planned(thursday(), (8, 0), written.clone());
    let mut touches = 0;
    let mut by_lena = |day: &mut Day, action| {
        touches += 1;
        by_lena(day, &format!("s{touches}"), action)
    };
    let instead = |horse| stand_in("juniper 9:00", horse);
    let open = |day: &Day| shown(day, "juniper").open_rides;
    let without = |day: &Day| day.board().lessons[0].without;
    let goes = |day: &Day| open(day).pop().and_then(|open| open.instead).map(|other| other.name);

    let chooses = "the equine professional or the manager chooses who goes instead, by badge and PIN";
    assert_eq!(by_lena(&mut day, instead(Some("moss"))), format!("refused: {chooses}"), "she is staff");
    role(&mut written, Role::EquineProfessional);
    day.happens(Input::Book(Arc::new(written.clone())));
    assert_eq!(by_lena(&mut day, instead(Some("moss"))), "refused: Juniper works today: take it out first");
    assert_eq!(by_lena(&mut day, scratch("juniper", true)), "done");
    assert_eq!(by_lena(&mut day, instead(Some("pepper"))), "refused: Pepper is ridden in the arena from 9:00 to 9:45");
    assert_eq!(by_lena(&mut day, instead(Some("bella"))), "refused: the book has no horse bella");
    assert_eq!((hands(&day, "Moss").len(), goes(&day), without(&day)), (0, None, 1));

    assert_eq!(by_lena(&mut day, instead(Some("moss"))), "done");
    assert_eq!(without(&day), 0);
    holds(&day);
    assert_eq!((hands(&day, "Moss").len(), hands(&day, "Juniper").len()), (3, 0));
    assert_eq!((goes(&day).as_deref(), day.board().lessons[0].horses), (Some("Moss"), 2));
    let moss = shown(&day, "moss");
    assert_eq!((moss.rides[0].mount, moss.rides[0].tack[0].name.as_str()), (time(9, 0), "saddle Moss"));
    // A new book, and a hub that starts again, change nothing.
    day.happens(Input::Book(Arc::new(written.clone())));
    day.restart();
    day.after_ms(2_000);
    assert_eq!((hands(&day, "Moss").len(), goes(&day).as_deref()), (3, Some("Moss")));

    // One that does not fit changes nothing.
    assert!(by_lena(&mut day, instead(Some("pepper"))).starts_with("refused: Pepper is ridden"));
    assert_eq!((hands(&day, "Moss").len(), goes(&day).as_deref()), (3, Some("Moss")));
    // Nor may it be known by the name of a ride that the book has.
    let mut crowded = written.clone();
    let named = Ride { id: "juniper 9:00 on fern".into(), ..written.rides[&"juniper 9:00".into()].clone() };
    crowded.rides.insert(named.id.clone(), named);
    day.happens(Input::Book(Arc::new(crowded)));
    let why = "refused: the book has a ride juniper 9:00 on fern of its own";
    assert_eq!(by_lena(&mut day, instead(Some("fern"))), why);
    day.happens(Input::Book(Arc::new(written.clone())));
    // Moss is taken out in turn: Fern goes in its place, and nobody once Juniper works after all.
    assert_eq!(by_lena(&mut day, scratch("moss", true)), "done");
    assert_eq!((hands(&day, "Moss").len(), goes(&day), without(&day)), (0, None, 1));
    assert_eq!(by_lena(&mut day, stand_in("juniper 9:00 on moss", Some("fern"))), "done");
    assert_eq!((hands(&day, "Fern").len(), goes(&day).as_deref(), without(&day)), (3, Some("Fern"), 0));
    assert_eq!(by_lena(&mut day, scratch("juniper", false)), "done");
    assert_eq!((hands(&day, "Juniper").len(), hands(&day, "Fern").len(), day.board().lessons[0].horses), (3, 0, 2));
    assert_eq!(by_lena(&mut day, scratch("moss", false)), "done");
    assert_eq!(by_lena(&mut day, scratch("juniper", true)), "done");
    assert_eq!(by_lena(&mut day, instead(Some("moss"))), "done");

    // Another one after all, and then Juniper itself.
    assert_eq!(by_lena(&mut day, instead(Some("fern"))), "done");
    assert_eq!((hands(&day, "Moss").len(), hands(&day, "Fern").len()), (0, 3));
    assert_eq!(by_lena(&mut day, scratch("juniper", false)), "done");
    assert_eq!((hands(&day, "Fern").len(), hands(&day, "Juniper").len(), open(&day).len()), (0, 3, 0));

    // What has been begun on a horse stays there: it is taken out itself, and put away.
    assert_eq!(by_lena(&mut day, scratch("juniper", true)), "done");
    assert_eq!(by_lena(&mut day, instead(Some("moss"))), "done");
    let brush = |mark| {
        let said =
            Said { ride: "juniper 9:00 on moss".into(), horse: "moss".into(), step: Step::Brush, mark, by: None };
        Action::Work(said)
    };
    assert_eq!(by_lena(&mut day, brush(Mark::Begun)), "done");
    let begun = "refused: Moss has been begun for it: take Moss out, and choose who goes in its place";
    assert_eq!(by_lena(&mut day, instead(None)), begun);
    assert_eq!(by_lena(&mut day, scratch("juniper", false)), begun);
    assert_eq!(by_lena(&mut day, brush(Mark::Open)), "done");
    assert_eq!(by_lena(&mut day, instead(None)), "done");
    assert_eq!((hands(&day, "Moss").len(), goes(&day)), (0, None));

    // It was for that day.
    assert_eq!(by_lena(&mut day, instead(Some("moss"))), "done");
    day.after_ms(24 * 3_600_000);
    assert_eq!(day.board().lessons[0].horses, 2);
    assert_eq!((open(&day).len(), day.board().stalls[2].horse.as_ref().expect("Moss").rides.len()), (0, 0));
}
