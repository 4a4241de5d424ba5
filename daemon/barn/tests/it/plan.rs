//! The prep plan on invented days, sensible and absurd: no rule is broken, the price is the model's, nothing is dearer than
//! missing everything, and wrong days are refused with their place.

use bellmare_barn::plan::day::Job;
use bellmare_barn::plan::file::{
    CostsFile, DayFile, GroomFile, HorseFile, JobFile, JobsFile, LimitsFile, ProgressFile, RideFile, WordsFile,
};
use bellmare_barn::plan::price::price;
use bellmare_barn::plan::reason::{Hands, Why};
use bellmare_barn::plan::{Day, Effort, Plan, plan};
use bellmare_barn::time::TimeOfDay;
use proptest::prelude::*;

const LIMITS: LimitsFile =
    LimitsFile { ready_lead: 10, walk_back: 5, stand: 15, girth_dry: 10, stay_tacked: 20, promise: 30 };
const COSTS: CostsFile = CostsFile {
    missed: 100_000,
    staff: 5_000,
    late: 400,
    standing: 50,
    back_wait: 2,
    saddled_wait: 4,
    brushed_wait: 1,
    handover: 15,
    reshuffle: 30,
    busiest: 2,
};

fn groom(id: &str, on: i64, off: i64, grade: i64) -> GroomFile {
    GroomFile { id: id.to_owned(), on, off, grade, away: Vec::new() }
}

fn horse(id: &str, grade: i64) -> HorseFile {
    HorseFile { id: id.to_owned(), grade, away: Vec::new() }
}

fn ride(id: &str, horse: &str, mount: i64, gear: &[&str]) -> RideFile {
    RideFile {
        id: id.to_owned(),
        horse: horse.to_owned(),
        mount,
        minutes: 45,
        gear: gear.iter().map(|&piece| piece.to_owned()).collect(),
        brush: 15,
        tack: 12,
        put_away: 18,
        weight: 1,
    }
}

/// Two grooms, two horses with a saddle each and one to share.
fn barn(rides: Vec<RideFile>) -> DayFile {
    DayFile {
        words: WordsFile::default(),
        limits: LIMITS,
        costs: COSTS,
        grooms: vec![groom("g1", 420, 1080, 3), groom("g2", 420, 780, 1)],
        horses: vec![horse("h1", 1), horse("h2", 2)],
        gear: ["s1", "s2", "s3"].map(str::to_owned).to_vec(),
        rides,
        now: None,
        progress: Vec::new(),
        published: Default::default(),
    }
}

/// Plans a day and holds the plan against the model.
#[track_caller]
fn planned(file: &DayFile, effort: Effort) -> (Day, Plan) {
    let day = Day::checked(file).unwrap_or_else(|faults| panic!("{faults:?}"));
    let plan = plan(&day, effort, &mut || true);
    let price = price(&day, &plan.tasks);
    assert_eq!(price.broken, Vec::<String>::new());
    assert_eq!(price.parts, plan.parts);
    assert!(plan.bound <= plan.cost(), "a bound of {} over a cost of {}", plan.bound, plan.cost());
    for (why, tasks) in plan.why.iter().zip(&plan.tasks) {
        assert!(why.is_some() || tasks.is_some(), "an outing is missed and nobody says why");
    }
    (day, plan)
}

fn missing_everything(day: &Day) -> i64 {
    day.outings.iter().map(|outing| day.costs.missed * outing.weight).sum()
}

#[test]
fn an_easy_day_costs_only_the_work_and_is_proved() {
    // 45 minutes of work for each of two grooms; each horse is ready at ready and put away when it is back.
    let (_, plan) = planned(&barn(vec![ride("r1", "h1", 540, &["s1"]), ride("r2", "h2", 540, &["s2"])]), Effort(200));
    assert_eq!(plan.cost(), 2 * 45);
    assert!(plan.proved());
}

#[test]
fn work_that_can_be_shared_evenly_is() {
    // Nine horses one after the other, each by itself: whoever is busiest need not work more than a third of it.
    let mut file = barn((0..9).map(|n| ride(&format!("r{n}"), &format!("h{n}"), 480 + 130 * n, &[])).collect());
    file.grooms = ["g1", "g2", "g3"].map(|id| groom(id, 400, 1900, 1)).to_vec();
    file.horses = (0..9).map(|n| horse(&format!("h{n}"), 1)).collect();
    let (_, plan) = planned(&file, Effort(2_000));
    assert_eq!(plan.cost(), COSTS.busiest * 9 * (15 + 12 + 18) / 3);
}

#[test]
fn a_ride_that_can_not_be_says_where_its_saddle_is() {
    let (_, plan) = planned(&barn(vec![ride("r1", "h1", 540, &["s3"]), ride("r2", "h2", 600, &["s3"])]), Effort(200));
    let why: Vec<String> = plan.why.iter().flatten().map(Why::to_string).collect();
    // Back at 9:50, put away by 10:08, dry at 10:18: one of the two has to be missed.
    assert!(
        why == ["s3 is on h1 until 10:08 and dry at 10:18, and h2 must be tacked by 10:00"]
            || why == ["s3 is needed on h2 from 9:38, before h1 is back"],
        "{why:?}"
    );
}

#[test]
fn staff_are_called_with_the_reason() {
    let mut day = barn(vec![ride("r1", "h2", 540, &["s1"])]);
    day.grooms[0].on = 570;
    let (_, plan) = planned(&day, Effort(200));
    let why = plan.why[0].as_ref().expect("a reason");
    assert_eq!(
        why.to_string(),
        "staff brush h2 at 8:23: no groom cleared for grade 2 is on shift before 9:30; \
         staff tack up h2 at 8:38: no groom cleared for grade 2 is on shift before 9:30"
    );
    let call = why.call(Job::Tack).expect("a call to tack up");
    let half_past_nine = TimeOfDay::new(9, 30).expect("a time");
    assert_eq!(call.because, Hands::NobodyBefore { grade: 2, time: half_past_nine });
    assert_eq!(why.call(Job::PutAway), None);
}

#[test]
fn rides_under_the_same_tack_are_one_outing() {
    let rides = vec![ride("r2", "h1", 600, &["s1"]), ride("r1", "h1", 540, &["s1"]), ride("r3", "h1", 700, &["s1"])];
    let (day, _) = planned(&barn(rides), Effort(50));
    let outings: Vec<_> = day.outings.iter().map(|outing| (outing.id.as_str(), outing.ready, outing.back)).collect();
    assert_eq!(outings, [("r1", 530, 650), ("r3", 690, 750)]);
}

#[test]
fn what_has_begun_stays_and_what_was_promised_is_kept() {
    let mut day = barn(vec![ride("r1", "h1", 540, &["s1"]), ride("r2", "h2", 600, &["s2"])]);
    day.now = Some(510);
    let under_way = |job: &str, from, to| ProgressFile {
        ride: "r1".to_owned(),
        job: job.to_owned(),
        groom: "g2".to_owned(),
        from,
        to,
    };
    day.progress = vec![under_way("brush", 490, Some(504)), under_way("tack", 505, None)];
    let promise = JobsFile { brush: Some(JobFile { groom: "g1".to_owned(), start: 530 }), ..JobsFile::default() };
    day.published.insert("r2".to_owned(), promise);
    let (day, plan) = planned(&day, Effort(200));
    let [brush, tack, _] = plan.tasks[0].expect("it is tacked and can not be missed");
    assert_eq!((day.hand_id(brush.hand), brush.start, day.hand_id(tack.hand), tack.start), ("g2", 490, "g2", 505));
    assert_eq!(plan.parts.reshuffle, 0);
}

#[test]
fn who_brushes_for_a_ride_that_is_given_up_is_free_for_another_one() {
    // One saddle for two rides. The first horse is brushed until 12:05; the second has to be begun on by 12:02.
    let mut first = ride("r1", "h1", 735, &["s1"]);
    (first.minutes, first.brush, first.tack) = (30, 30, 8);
    let mut second = ride("r2", "h2", 740, &["s1"]);
    (second.brush, second.tack, second.weight) = (10, 8, 3);
    let mut day = barn(vec![first, second]);
    day.grooms.truncate(1);
    day.now = Some(700);
    day.progress.push(ProgressFile {
        ride: "r1".to_owned(),
        job: "brush".to_owned(),
        groom: "g1".to_owned(),
        from: 695,
        to: None,
    });
    let (_, plan) = planned(&day, Effort(400));
    assert_eq!(plan.tasks[0], None);
    // In time for ready, and put away when it is back, all by the one groom.
    assert_eq!(plan.cost(), COSTS.missed + COSTS.busiest * (10 + 8 + 18));
    assert!(plan.proved());
}

#[test]
fn a_stopped_search_still_has_a_plan() {
    let day = Day::checked(&barn(vec![ride("r1", "h1", 540, &["s1"]), ride("r2", "h2", 560, &["s2"])])).expect("right");
    let mut asked = 0;
    let plan = plan(&day, Effort(1_000_000_000), &mut || {
        asked += 1;
        asked < 3
    });
    assert!(plan.cost() < missing_everything(&day));
}

#[test]
fn wrong_days_are_refused_with_the_place_and_what_is_allowed() {
    #[track_caller]
    fn check(change: impl FnOnce(&mut DayFile), fault: &str) {
        let mut day = barn(vec![ride("r1", "h1", 540, &["s1"]), ride("r2", "h2", 600, &["s2"])]);
        change(&mut day);
        let faults = Day::checked(&day).expect_err(fault);
        let words: Vec<String> = faults.iter().map(ToString::to_string).collect();
        assert_eq!(words, [fault]);
    }
    let progress = |ride: &str, job: &str, groom: &str, from, to| ProgressFile {
        ride: ride.to_owned(),
        job: job.to_owned(),
        groom: groom.to_owned(),
        from,
        to,
    };
    check(|day| day.rides[1].horse = "h9".into(), "rides[1].horse = \"h9\": allowed is the id of one of the horses");
    check(|day| day.rides[0].gear[0] = "s9".into(), "rides[0].gear[0] = \"s9\": allowed is the id of a piece of gear");
    check(|day| day.rides[0].gear.push("s1".into()), "rides[0].gear[1] = \"s1\": allowed is each piece of gear once");
    check(|day| day.rides[0].brush = -1, "rides[0].brush = -1: allowed is 1 to 2880");
    check(
        |day| day.rides[1].id = "r1".into(),
        "rides[1].id = \"r1\": allowed is an id that no other ride has; rides[0] has it",
    );
    check(
        |day| day.rides[1].mount = 2850,
        "rides[1].minutes = 45: allowed is a dismount by minute 2880; the mount is 2850",
    );
    check(
        |day| day.grooms[1].id = "staff".into(),
        "grooms[1].id = \"staff\": allowed is an id of a groom, not empty and not \"staff\"",
    );
    check(
        |day| day.horses[0].away.push([600, 500]),
        "horses[0].away[0][1] = 500: allowed is a minute not before horses[0].away[0][0], which is 600",
    );
    check(|day| day.costs.late = -400, "costs.late = -400: allowed is 0 to 1000000");
    check(
        |day| day.progress.push(progress("r1", "brush", "g1", 480, None)),
        "now = \"absent\": allowed is the minute it is, where there is progress",
    );
    let at_eight = |day: &mut DayFile, p: ProgressFile| {
        day.now = Some(490);
        day.progress.push(p);
    };
    check(
        |day| at_eight(day, progress("r9", "brush", "g1", 480, None)),
        "progress[0].ride = \"r9\": allowed is the id of one of the rides",
    );
    check(
        |day| at_eight(day, progress("r1", "hose", "g1", 480, None)),
        "progress[0].job = \"hose\": allowed is \"brush\", \"tack\" or \"put_away\"",
    );
    check(
        |day| at_eight(day, progress("r1", "brush", "g9", 480, None)),
        "progress[0].groom = \"g9\": allowed is the id of one of the grooms, or \"staff\"",
    );
    check(|day| at_eight(day, progress("r1", "brush", "g1", 500, None)), "progress[0].from = 500: allowed is 0 to 490");
    check(
        |day| at_eight(day, progress("r1", "brush", "g1", 480, Some(470))),
        "progress[0].to = Some(470): allowed is null, or 480 to 490, from when it was begun to now",
    );
}

fn spans() -> impl Strategy<Value = Vec<[i64; 2]>> {
    prop::collection::vec((0..900_i64, 0..200_i64).prop_map(|(from, long)| [from, from + long]), 0..3)
}

/// The barn's costs, often with some of them gone or turned round.
fn costs() -> impl Strategy<Value = CostsFile> {
    let price = |usual: i64| prop_oneof![4 => Just(usual), 1 => Just(0), 1 => 0..2 * usual];
    let waits = (price(50), price(2), price(4), price(1));
    (price(100_000), price(5_000), price(400), waits, price(15), price(30), price(2)).prop_map(
        |(missed, staff, late, (standing, back_wait, saddled_wait, brushed_wait), handover, reshuffle, busiest)| {
            let waits = CostsFile { standing, back_wait, saddled_wait, brushed_wait, ..COSTS };
            CostsFile { missed, staff, late, handover, reshuffle, busiest, ..waits }
        },
    )
}

/// Days that no barn would write: nobody there, everything at once, horses away all day, rides of no time.
fn absurd_day() -> impl Strategy<Value = DayFile> {
    let grooms = prop::collection::vec((300..700_i64, 0..500_i64, 0..4_i64, spans()), 0..5);
    let horses = prop::collection::vec((0..4_i64, spans()), 1..8);
    let rides = prop::collection::vec(
        (0..8_usize, 0..30_i64, 0..90_i64, 1..30_i64, (1..30_i64, 1..30_i64, 0..30_i64), 0..4_usize),
        0..30,
    );
    let begun = prop::collection::vec((0..30_usize, 0..3_usize, 0..5_usize, 0..60_i64, 0..2_i64), 0..12);
    let now = prop::option::of(500..700_i64);
    (grooms, horses, rides, begun, now, costs()).prop_map(|(grooms, horses, rides, begun, now, costs)| {
        let mut day = barn(Vec::new());
        day.costs = costs;
        day.grooms = (grooms.into_iter().enumerate())
            .map(|(i, (on, long, grade, away))| GroomFile { id: format!("g{i}"), on, off: on + long, grade, away })
            .collect();
        day.horses = (horses.into_iter().enumerate())
            .map(|(i, (grade, away))| HorseFile { id: format!("h{i}"), grade, away })
            .collect();
        day.rides = (rides.into_iter().enumerate())
            .map(|(i, (horse, mount, minutes, brush, (tack, put_away, weight), gear))| RideFile {
                id: format!("r{i}"),
                horse: format!("h{}", horse % day.horses.len()),
                mount: 480 + 15 * mount,
                minutes,
                gear: day.gear[..gear].to_vec(),
                brush,
                tack,
                put_away,
                weight: weight % 4,
            })
            .collect();
        day.now = now;
        if let Some(now) = now {
            for (ride, job, groom, ago, done) in begun {
                let job = ["brush", "tack", "put_away"][job].to_owned();
                let Some(ride) = day.rides.get(ride).map(|ride| ride.id.clone()) else { continue };
                if day.progress.iter().any(|p| p.ride == ride && p.job == job) {
                    continue;
                }
                let groom = day.grooms.get(groom).map_or("staff".to_owned(), |groom| groom.id.clone());
                let from = now - ago;
                let to = (done == 1).then_some(now - ago / 2);
                day.progress.push(ProgressFile { ride, job, groom, from, to });
            }
        }
        day
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn no_day_is_too_absurd(file in absurd_day()) {
        let (day, plan) = planned(&file, Effort(120));
        if day.outings.iter().all(|outing| outing.begun == [None; 3]) {
            prop_assert!(plan.cost() <= missing_everything(&day));
        }
        prop_assert_eq!(planned(&file, Effort(120)).1, plan);
    }

    #[test]
    fn no_plan_is_under_a_bound_that_another_effort_gave(file in absurd_day()) {
        let plans = [Effort(40), Effort(400), Effort(1500)].map(|effort| planned(&file, effort).1);
        for (a, b) in plans.iter().flat_map(|a| plans.iter().map(move |b| (a, b))) {
            prop_assert!(a.bound <= b.cost(), "a bound of {} over a plan of {}", a.bound, b.cost());
        }
    }
}

#[test]
fn a_hundred_rides_at_once_without_a_groom() {
    let mut day = barn(Vec::new());
    day.grooms.clear();
    day.horses = (0..100).map(|i| horse(&format!("h{i:03}"), 1)).collect();
    day.rides = (0..100).map(|i| ride(&format!("r{i:03}"), &format!("h{i:03}"), 540, &[])).collect();
    let (day, plan) = planned(&day, Effort(200));
    // Staff, three jobs each, cost less than missing them.
    assert_eq!(plan.cost(), 100 * 3 * 5_000);
    assert!(plan.cost() <= missing_everything(&day));
}
