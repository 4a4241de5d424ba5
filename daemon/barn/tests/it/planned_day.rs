//! Days with a plan: who is given what, and what becomes of it when people and horses do otherwise.

use bellmare_barn::board::{Job, NextJob, Pace, Who};
use bellmare_barn::book::{
    Away, Book, Days, Expected, Fit, Horse, JobMinutes, Lesson, Person, Resting, Ride, Role, Side, Stall, Tack,
    TackKind, WorkLimits,
};
use bellmare_barn::input::{Action, Mark, Said, Step};
use bellmare_barn::plan::Day as PlanDay;
use bellmare_barn::plan::day::JOBS;
use bellmare_barn::plan::price::{Task, price};
use bellmare_barn::prep::calm::job_of;
use bellmare_barn::time::TimeOfDay;
use bellmare_barn::units::Minutes;
use chrono::NaiveDate;

use crate::day::{Day, thursday};

pub(crate) fn time(hour: u16, minute: u16) -> TimeOfDay {
    TimeOfDay::new(hour, minute).expect("a time")
}

/// Horses in stalls 1, 2, ... of these grades, each with a saddle of its own; 15 minutes to brush, 10 to tack, 15 to put
/// away. Ana (up to grade 3) and Ben (up to 1) are on the sheet from 8 to 12; Lena is staff.
pub(crate) fn book(horses: &[(&str, u8)]) -> Book {
    let mut book = Book::default();
    for (i, (name, grade)) in horses.iter().enumerate() {
        let stall = (i + 1).to_string();
        let (horse, saddle) = (name.to_lowercase(), format!("saddle {name}"));
        book.stalls.push(Stall { id: stall.as_str().into(), aisle: "main".into(), side: Side::Left, vessel: None });
        let minutes = JobMinutes { brush: Minutes(15), tack: Minutes(10), put_away: Minutes(15) };
        book.horses.insert(
            horse.as_str().into(),
            Horse {
                id: horse.as_str().into(),
                name: (*name).to_owned(),
                stall: stall.as_str().into(),
                grade: *grade,
                minutes,
                notes: Vec::new(),
                notes_spanish: Vec::new(),
                most: WorkLimits::default(),
                weight: None,
                height: None,
                resting: Resting::default(),
            },
        );
        book.tack.insert(
            saddle.as_str().into(),
            Tack {
                id: saddle.as_str().into(),
                kind: TackKind::Saddle,
                name: saddle.clone(),
                size: String::new(),
                place: "rack".to_owned(),
            },
        );
        book.fits.push(Fit {
            horse: horse.as_str().into(),
            usage: "lesson".to_owned(),
            order: 1,
            tack: saddle.as_str().into(),
            note: String::new(),
            note_spanish: String::new(),
        });
    }
    for (id, role, grade) in [("ana", Role::Groom, 3), ("ben", Role::Groom, 1), ("lena", Role::Staff, 3)] {
        let name = format!("{}{}", id[..1].to_uppercase(), &id[1..]);
        let badge = Some(id.to_uppercase().as_str().into());
        book.people.insert(id.into(), Person { id: id.into(), name, role, badge, grade, language: Default::default() });
        if role == Role::Groom {
            let days = Days::Weekly((0..7).collect());
            book.shifts.push(Expected { person: id.into(), days, from: time(8, 0), to: time(12, 0) });
        }
    }
    book
}

/// Adds a lesson of 45 minutes every day, with these horses. The ride of Pepper at 9:00 is `pepper 9:00`.
pub(crate) fn lesson(book: &mut Book, hour: u16, minute: u16, horses: &[&str]) {
    let id = format!("{hour}:{minute:02}");
    book.lessons.insert(
        id.as_str().into(),
        Lesson {
            id: id.as_str().into(),
            days: Days::Weekly((0..7).collect()),
            start: time(hour, minute),
            minutes: Minutes(45),
            instructor: "lena".into(),
            place: "arena".to_owned(),
        },
    );
    for horse in horses {
        let ride = format!("{horse} {id}");
        book.rides.insert(
            ride.as_str().into(),
            Ride {
                id: ride.as_str().into(),
                lesson: id.as_str().into(),
                horse: (*horse).into(),
                usage: "lesson".to_owned(),
                stirrups: None,
                load: None,
                only: None,
            },
        );
    }
}

pub(crate) fn said(ride: &str, step: Step, mark: Mark, by: &str) -> Action {
    let horse = ride.split(' ').next().expect("a horse").into();
    Action::Work(Said { ride: ride.into(), horse, step, mark, by: Some(by.into()) })
}

/// Does a step from one time to another.
pub(crate) fn works(day: &mut Day, ride: &str, step: Step, by: &str, from: (u16, u16), to: (u16, u16)) {
    day.at(from.0, from.1).touch(said(ride, step, Mark::Begun, by));
    day.at(to.0, to.1).touch(said(ride, step, Mark::Done, by));
}

fn line(job: &NextJob) -> String {
    let who = match &job.who {
        Who::Person { name, .. } => name,
        Who::Staff => "staff",
        Who::Open => "-",
    };
    format!("{} {:?} {who} {} to {}", job.name, job.job, job.start_by, job.done_by)
}

/// The next jobs of the board, whole.
pub(crate) fn next(day: &Day) -> Vec<String> {
    day.board().next.iter().map(line).collect()
}

/// Who does each job of a horse.
pub(crate) fn hands(day: &Day, horse: &str) -> Vec<String> {
    let jobs = day.board().next.into_iter().filter(|job| job.name == horse && job.job != Job::LeadOut);
    jobs.map(|job| line(&job).split(' ').nth(2).unwrap_or_default().to_owned()).collect()
}

/// The plan that holds breaks no rule of the model and costs what it says.
pub(crate) fn holds(day: &Day) {
    let (file, plan) = day.planned.as_ref().expect("a plan was made");
    let model = PlanDay::checked(file).expect("a day");
    let hand = |id: &str| {
        let groom = model.grooms.iter().position(|groom| groom.id == id);
        groom.map_or(bellmare_barn::plan::day::Hand::STAFF, bellmare_barn::plan::day::Hand::of)
    };
    let tasks = plan
        .outings
        .iter()
        .map(|outing| {
            let jobs = outing.jobs.as_ref()?;
            Some(JOBS.map(|job| {
                let job = job_of(jobs, job).expect("all three jobs");
                Task { hand: hand(&job.groom), start: i32::try_from(job.start).expect("a minute") }
            }))
        })
        .collect();
    let price = price(&model, &tasks);
    assert_eq!((price.broken, price.parts.total()), (Vec::new(), plan.cost));
}

#[test]
fn everybody_is_told_what_to_do_next() {
    let mut book = book(&[("Pepper", 3), ("Juniper", 1)]);
    lesson(&mut book, 9, 0, &["pepper", "juniper"]);
    let day = Day::planned(thursday(), (8, 0), book);
    // Ready by 8:50: each is brushed and tacked in the 25 minutes before. Put away from 9:50, five minutes after the end.
    assert_eq!(
        next(&day),
        [
            "Juniper Brush Ben 8:25 to 8:40",
            "Pepper Brush Ana 8:25 to 8:40",
            "Juniper Tack Ben 8:40 to 8:50",
            "Pepper Tack Ana 8:40 to 8:50",
            "Juniper PutAway Ben 9:50 to 10:05",
            "Pepper PutAway Ana 9:50 to 10:05",
        ]
    );
    holds(&day);
}

#[test]
fn a_groom_goes_home_and_somebody_else_has_the_work_within_two_seconds() {
    let mut book = book(&[("Pepper", 1), ("Juniper", 1)]);
    lesson(&mut book, 9, 0, &["pepper", "juniper"]);
    let mut day = Day::planned(thursday(), (8, 0), book);
    day.tap("ANA", None).tap("BEN", None).after_ms(2_000);
    assert_eq!(hands(&day, "Juniper").len(), 3);
    day.at(8, 1).tap("BEN", None).after_ms(2_000);
    holds(&day);
    assert!(next(&day).iter().all(|line| !line.contains("Ben")), "{:?}", next(&day));
    // Fifty minutes of work from 8:01: the second horse is a minute late, which costs less than calling staff.
    assert_eq!(hands(&day, "Juniper"), ["Ana", "Ana", "Ana"]);
    assert_eq!(hands(&day, "Pepper"), ["Ana", "Ana", "Ana"]);
    // By what is left to do each of them could still be ready. The stall goes by the plan, as the list does.
    let board = day.board();
    let stalls = board.stalls.iter().filter_map(|stall| stall.horse.as_ref());
    let late: Vec<&str> = stalls.filter(|h| h.rides[0].pace == Pace::Late).map(|h| h.name.as_str()).collect();
    let mut told: Vec<&str> = board.next.iter().filter(|job| job.pace == Pace::Late).map(|job| &*job.name).collect();
    told.dedup();
    assert_eq!((late.len(), &late), (1, &told));
}

#[test]
fn nobody_cleared_calls_staff_and_says_why() {
    let mut book = book(&[("Pepper", 3)]);
    lesson(&mut book, 9, 0, &["pepper"]);
    book.shifts.retain(|line| line.person != "ana".into());
    let day = Day::planned(thursday(), (8, 0), book);
    let jobs = day.board().next;
    assert_eq!(jobs.len(), 3);
    for job in jobs {
        assert_eq!(job.who, Who::Staff);
        let why = job.why.expect("a reason");
        assert!(why.contains("no groom is cleared for grade 3"), "{why}");
    }
    holds(&day);
}

#[test]
fn a_horse_that_is_back_early_or_late_is_put_away_then() {
    let mut book = book(&[("Pepper", 1)]);
    lesson(&mut book, 9, 0, &["pepper"]);
    for (back, put_away) in [((9, 30), "9:30 to 9:45"), ((10, 20), "10:20 to 10:35")] {
        let mut day = Day::planned(thursday(), (8, 0), book.clone());
        works(&mut day, "pepper 9:00", Step::Brush, "ana", (8, 25), (8, 40));
        works(&mut day, "pepper 9:00", Step::Tack, "ana", (8, 40), (8, 50));
        day.at(8, 58).touch(said("pepper 9:00", Step::LeadOut, Mark::Done, "lena"));
        day.at(9, 20);
        assert_eq!(next(&day), ["Pepper PutAway Ana 9:50 to 10:05"]);
        day.at(back.0, back.1).touch(said("pepper 9:00", Step::BringBack, Mark::Done, "lena")).after_ms(2_000);
        holds(&day);
        assert_eq!(next(&day), [format!("Pepper PutAway Ana {put_away}")]);
    }
}

#[test]
fn a_horse_that_stays_tacked_has_one_set_of_jobs_and_two_rides() {
    let mut book = book(&[("Pepper", 1)]);
    lesson(&mut book, 9, 0, &["pepper"]);
    lesson(&mut book, 10, 0, &["pepper"]);
    let mut day = Day::planned(thursday(), (8, 0), book);
    assert_eq!(next(&day).len(), 3);
    let rides = day.board().stalls[0].horse.clone().expect("Pepper").rides;
    assert_eq!(rides.iter().map(|ride| ride.last).collect::<Vec<_>>(), [false, true]);
    // Said at the second ride, it is the first's all the same.
    works(&mut day, "pepper 10:00", Step::Brush, "ana", (8, 25), (8, 40));
    works(&mut day, "pepper 9:00", Step::Tack, "ana", (8, 40), (8, 50));
    let ready: Vec<_> = day.board().lessons.iter().map(|lesson| lesson.ready).collect();
    assert_eq!(ready, [1, 1]);
    day.touch(said("pepper 9:00", Step::LeadOut, Mark::Done, "lena"));
    day.at(9, 55);
    assert_eq!(next(&day), ["Pepper LeadOut - 9:50 to 10:00", "Pepper PutAway Ana 10:50 to 11:05"]);
    day.touch(said("pepper 10:00", Step::LeadOut, Mark::Done, "lena")).at(10, 30);
    assert_eq!(next(&day), ["Pepper PutAway Ana 10:50 to 11:05"]);
}

#[test]
fn time_that_passes_a_job_moves_it_and_what_can_not_be_had_is_said() {
    let mut book = book(&[("Pepper", 1)]);
    lesson(&mut book, 9, 0, &["pepper"]);
    let mut day = Day::planned(thursday(), (8, 0), book);
    day.tap("ANA", None).tap("BEN", None);
    day.at(8, 33);
    holds(&day);
    let first = next(&day).into_iter().next().expect("a job");
    assert!(first.starts_with("Pepper Brush") && first.contains("8:3"), "{first}");
    day.at(8, 50);
    holds(&day);
    let missed = day.board().missed;
    assert_eq!(missed.len(), 1);
    assert!(missed[0].why.contains("too late: Pepper must be tacked by 9:00"), "{}", missed[0].why);
}

#[test]
fn the_plan_is_calm() {
    let mut book = book(&[("Pepper", 1), ("Juniper", 1), ("Moss", 1)]);
    lesson(&mut book, 9, 0, &["pepper", "juniper"]);
    lesson(&mut book, 11, 0, &["moss"]);
    let mut day = Day::planned(thursday(), (8, 0), book);
    let before = day.shown;
    day.tap("ANA", None).tap("BEN", None).at(8, 24);
    assert_eq!(day.shown, before, "people came as the sheet said");
    let (ana, ben) = if hands(&day, "Pepper")[0] == "Ana" { ("pepper", "juniper") } else { ("juniper", "pepper") };
    day.at(8, 25).touch(said(&format!("{ben} 9:00"), Step::Brush, Mark::Begun, "ben"));
    works(&mut day, &format!("{ana} 9:00"), Step::Brush, "ana", (8, 26), (8, 38));
    assert_eq!(day.shown, before, "two minutes sooner is nothing to everybody else");
    day.touch(said(&format!("{ben} 9:00"), Step::Brush, Mark::Done, "ben")).after_ms(2_000);
    holds(&day);
    assert_eq!(day.shown, before);
}

#[test]
fn a_restart_keeps_the_plan() {
    let mut book = book(&[("Pepper", 1), ("Juniper", 1)]);
    lesson(&mut book, 9, 0, &["pepper", "juniper"]);
    let mut day = Day::planned(thursday(), (8, 0), book);
    works(&mut day, "pepper 9:00", Step::Brush, "ana", (8, 25), (8, 40));
    let (before, shown) = (next(&day), day.shown);
    day.restart().happens(bellmare_barn::input::Input::Started).after_ms(2_000);
    assert_eq!((next(&day), day.shown), (before, shown));
    holds(&day);
}

#[test]
fn a_day_on_which_the_clocks_change_has_its_lessons_when_people_look_at_the_clock() {
    // IANA tzdata, America/New_York: clocks go forward on 2026-03-08 and back on 2026-11-01, at 2:00.
    for (month, day_of_month) in [(3, 8), (11, 1)] {
        let mut book = book(&[("Pepper", 1)]);
        lesson(&mut book, 9, 0, &["pepper"]);
        let date = NaiveDate::from_ymd_opt(2026, month, day_of_month).expect("a date");
        let mut day = Day::planned(date, (1, 30), book);
        day.at(8, 0);
        let times: Vec<_> = day.board().next.iter().map(|job| format!("{} to {}", job.start_by, job.done_by)).collect();
        assert_eq!(times, ["8:25 to 8:40", "8:40 to 8:50", "9:50 to 10:05"], "{date}");
        holds(&day);
        works(&mut day, "pepper 9:00", Step::Brush, "ana", (8, 25), (8, 41));
        day.after_ms(2_000);
        let (file, _) = day.planned.as_ref().expect("a plan");
        assert_eq!(file.progress[0].to, Some(file.progress[0].from + 16), "{date}");
        day.at(8, 55);
        let why = day.board().missed.first().map(|missed| missed.why.clone()).expect("it can not go any more");
        assert!(why.starts_with("it is 8:5") && why.ends_with("Pepper must be tacked by 9:00"), "{date}: {why}");
    }
}

#[test]
fn a_horse_that_is_late_is_wanted_when_it_was_and_not_when_it_will_be_ready() {
    let mut book = book(&[("Pepper", 1)]);
    lesson(&mut book, 9, 0, &["pepper"]);
    let mut day = Day::planned(thursday(), (8, 0), book);
    day.at(8, 33);
    day.touch(said("pepper 9:00", Step::Brush, Mark::Begun, "ana"));
    day.after_ms(2_000);
    // It will be brushed at 8:48 and tacked at 8:58, and is to be ready ten minutes before its rider mounts.
    let wanted: Vec<_> = day.board().next.iter().take(2).map(|job| (job.pace, job.done_by)).collect();
    assert_eq!(wanted, [(Pace::Late, time(8, 48)), (Pace::Late, time(8, 50))]);
}

#[test]
fn minutes_are_learned_from_what_was_begun_and_finished() {
    let mut book = book(&[("Pepper", 1)]);
    lesson(&mut book, 9, 0, &["pepper"]);
    let mut day = Day::planned(thursday(), (8, 0), book);
    let brush = |day: &Day| day.board().stalls[0].horse.clone().expect("Pepper").minutes[0];
    assert_eq!((brush(&day).minutes, brush(&day).times), (15, 0));
    // Twelve days on which brushing takes Ana 25 minutes. From the eleventh job on she is no beginner.
    for passed in 0..12 {
        works(&mut day, "pepper 9:00", Step::Brush, "ana", (8, 5), (8, 30));
        if passed == 5 {
            // One day somebody forgets: done in the minute in which it was begun.
            day.touch(said("pepper 9:00", Step::Tack, Mark::Begun, "ana"));
            day.touch(said("pepper 9:00", Step::Tack, Mark::Done, "ana"));
        }
        day.after_ms(47 * 1_800_000);
        day.touch(said("pepper 9:00", Step::Brush, Mark::Begun, "ana"));
        day.touch(said("pepper 9:00", Step::Brush, Mark::Open, "ana"));
    }
    // Two times of a practised hand, 25, lean on four of the barn's 15: (2 x 25 + 4 x 15) / 6, rounded up.
    assert_eq!((brush(&day).minutes, brush(&day).times), (19, 2));
    let tack = day.board().stalls[0].horse.clone().expect("Pepper").minutes[1];
    assert_eq!((tack.minutes, tack.times), (10, 0), "what was forgotten teaches nothing");
    day.after_ms(2_000);
    let (file, _) = day.planned.as_ref().expect("a plan");
    assert_eq!(file.rides[0].brush, 19);
}

#[test]
fn a_horse_at_the_farrier_is_left_alone() {
    let mut book = book(&[("Pepper", 1)]);
    lesson(&mut book, 9, 0, &["pepper"]);
    let days = Days::On(thursday());
    book.away.push(Away {
        horse: "pepper".into(),
        days,
        from: time(8, 10),
        to: time(8, 30),
        why: "farrier".to_owned(),
    });
    let mut day = Day::planned(thursday(), (7, 50), book);
    holds(&day);
    let first = next(&day).into_iter().next().expect("a job");
    assert!(first.starts_with("Pepper Brush") && first.contains("8:30 to 8:45"), "{first}");
    day.at(8, 15);
    let away = day.board().stalls[0].horse.clone().expect("Pepper").away.expect("away");
    assert_eq!((away.until, away.why.as_str()), (time(8, 30), "farrier"));
}

/// Numbers that look like chance and are the same every time: a linear congruential generator (Knuth's MMIX constants, from
/// memory; any would do).
struct Chance(u64);

impl Chance {
    fn below(&mut self, most: usize) -> usize {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) as usize % most
    }

    fn of<'a, T>(&mut self, list: &'a [T]) -> &'a T {
        &list[self.below(list.len())]
    }
}

#[test]
fn whatever_people_do_no_plan_breaks_a_rule() {
    let names = ["pepper", "juniper", "moss", "willow", "otis"];
    let mut book = book(&[("Pepper", 3), ("Juniper", 1), ("Moss", 2), ("Willow", 1), ("Otis", 1)]);
    // Willow and Otis share a saddle; Pepper goes twice under the same tack, Moss twice with a pause.
    book.fits.iter_mut().filter(|fit| fit.horse == "otis".into()).for_each(|fit| fit.tack = "saddle Willow".into());
    let days = Days::On(thursday());
    book.away.push(Away { horse: "juniper".into(), days, from: time(9, 50), to: time(10, 30), why: "vet".to_owned() });
    lesson(&mut book, 9, 0, &["pepper", "juniper", "willow"]);
    lesson(&mut book, 10, 0, &["pepper", "moss"]);
    lesson(&mut book, 11, 0, &["otis", "juniper"]);
    lesson(&mut book, 11, 30, &["moss", "willow"]);
    let rides: Vec<String> = book.rides.keys().map(ToString::to_string).collect();
    for seed in 1..=12 {
        let mut chance = Chance(seed);
        let mut day = Day::planned(thursday(), (7, 45), book.clone());
        for _ in 0..60 {
            let who = *chance.of(&["ana", "ben", "lena"]);
            let out = chance.below(3) > 0;
            match chance.below(8) {
                0 => drop(day.tap(&who.to_uppercase(), None)),
                1 => drop(day.touch(Action::Scratch { horse: (*chance.of(&names)).into(), out, by: "lena".into() })),
                _ => {
                    let step = *chance.of(&Step::ALL);
                    let mark = *chance.of(&[Mark::Begun, Mark::Done, Mark::Done, Mark::Open]);
                    day.touch(said(chance.of(&rides).as_str(), step, mark, who));
                }
            }
            day.after_ms(2_000 + 60_000 * chance.below(9) as u64);
            holds(&day);
        }
    }
}
