//! Who could go in place of a horse, what speaks against each, and what it costs the plan.

use std::collections::BTreeSet;

use bellmare_barn::board::HeatBand;
use bellmare_barn::book::{Book, Horse, Stirrups, TackKind, WorkLimits};
use bellmare_barn::id::{HorseId, RideId};
use bellmare_barn::input::{Mark, Step};
use bellmare_barn::plan::{Day, Effort, plan};
use bellmare_barn::prep::stand_in::{Caution, Circumstances, NoList, StandIn, stand_ins};
use bellmare_barn::prep::work_limits::Carries;
use bellmare_barn::prep::{Live, day_file};
use bellmare_barn::shift::Shift;
use bellmare_barn::time::{Mono, Now, Today, WallClock};
use bellmare_barn::units::Kilograms;
use bellmare_barn::work::Work;

use crate::day::{ZONE, thursday};
use crate::day_check::{Told, clean, ride, time, with};

/// Everybody else for Bella's ride at ten, with this of the barn changed.
fn others(heat: Option<HeatBand>, change: impl FnOnce(&mut Book)) -> Vec<StandIn> {
    let mut book = clean();
    book.tack("saddle-3", TackKind::Saddle, &["fern"]);
    book.horse("fern", 1, WorkLimits::default());
    change(&mut book);
    with(&book, |known, day| {
        let at = Circumstances { day, live: None, scratched: &BTreeSet::new(), heat };
        stand_ins(known, &at, &"ten-bella".into()).expect("a ride of the day")
    })
}

fn of<'l>(list: &'l [StandIn], horse: &str) -> &'l StandIn {
    list.iter().find(|one| one.horse.as_str() == horse).expect("a horse of the barn")
}

/// What speaks against Fern, in words, with this of the barn changed.
#[track_caller]
fn check_why_not(change: impl FnOnce(&mut Book), reasons: &[&str]) {
    let list = others(None, change);
    let fern = of(&list, "fern");
    let words: Vec<String> = fern.why_not.iter().map(ToString::to_string).collect();
    assert_eq!(words, reasons);
    assert_eq!(fern.fits, reasons.is_empty());
    assert_eq!(fern.cost.is_some(), fern.fits);
    assert!(!serde_json::to_string(&list).expect("JSON").contains("kg"));
}

fn fern(book: &mut Book) -> &mut Horse {
    book.horses.get_mut(&HorseId::from("fern")).expect("Fern")
}

#[test]
fn a_stand_in_says_all_that_speaks_against_it() {
    check_why_not(|_| {}, &[]);
    check_why_not(|book| book.away("fern", time(9, 0), time(10, 15), "vet"), &["is away from 9:00 to 10:15 (vet)"]);
    check_why_not(
        |book| {
            book.lesson("half", time(10, 30), 45);
            book.ride("half", "fern");
        },
        &["is ridden in the arena from 10:30 to 11:15"],
    );
    check_why_not(
        |book| {
            fern(book).most.load = Some(Kilograms(60.0));
            ride(book, "ten-bella").load = Some(Kilograms(61.0));
        },
        &["can not carry what the ride needs"],
    );
    check_why_not(
        |book| {
            book.lesson("two", time(14, 0), 45);
            book.ride("two", "fern");
            fern(book).most.rides_a_day = Some(1);
        },
        &["would have 2 rides a day, above the 1 set by the equine professional"],
    );
    check_why_not(|book| book.fits.retain(|fit| fit.horse != "fern".into()), &["has no tack for lesson"]);
    check_why_not(
        |book| ride(book, "ten-bella").stirrups = Some(Stirrups { left: 7, right: 7 }),
        &["has no stirrups, which the ride needs"],
    );
    check_why_not(
        |book| {
            book.fits.retain(|fit| fit.horse != "fern".into());
            book.tack("bridle-2", TackKind::Bridle, &["moss", "fern"]);
            book.lessons.get_mut(&"noon".into()).expect("the lesson").start = time(11, 0);
            book.away("fern", time(10, 0), time(11, 0), "turn-out");
        },
        &["is away from 10:00 to 11:00 (turn-out)", "bridle 2 is on Moss from 10:40 to 12:15"],
    );
}

#[test]
fn a_scratched_horse_is_no_stand_in() {
    let mut book = clean();
    book.ride("noon", "bella");
    with(&book, |known, day| {
        let scratched = BTreeSet::from([HorseId::from("moss")]);
        let at = Circumstances { day, live: None, scratched: &scratched, heat: None };
        let list = stand_ins(known, &at, &"ten-bella".into()).expect("a ride of the day");
        assert_eq!(list.len(), 1, "Bella does not stand in for herself");
        let moss: Vec<String> = list[0].why_not.iter().map(ToString::to_string).collect();
        assert_eq!(moss, ["does no more work today"]);
        assert_eq!(stand_ins(known, &at, &"nine".into()), Err(NoList::NoSuchRide));
    });
}

#[test]
fn a_horse_scratched_under_its_tack_keeps_it_until_it_is_put_away() {
    let mut book = clean();
    book.horse("fern", 1, WorkLimits::default());
    book.tack("saddle-3", TackKind::Saddle, &["fern"]);
    book.tack("bridle-1", TackKind::Bridle, &["bella", "fern"]);
    let at = |hour, minute| {
        let wall = ZONE.instant(thursday(), time(hour, minute));
        let minutes = u64::from(time(hour, minute).minutes());
        Now { mono: Mono(minutes * 60_000), wall: WallClock::Set(wall) }
    };
    let list = |now: Now, work: &Work| {
        with(&book, |known, day| {
            let (today, none) = (Today::of(ZONE, now).expect("a clock"), BTreeSet::new());
            let live = Live { today: &today, shift: &Shift::default(), work, scratched: &none, shown: None };
            let at = Circumstances { day, live: Some(&live), scratched: &none, heat: None };
            stand_ins(known, &at, &"ten-bella".into()).expect("a ride of the day")
        })
    };
    // In the morning nothing has happened: it is as the evening before.
    let mut work = Work::default();
    work.turn_to(thursday());
    let before = with(&book, |known, day| {
        let at = Circumstances { day, live: None, scratched: &BTreeSet::new(), heat: None };
        stand_ins(known, &at, &"ten-bella".into()).expect("a ride of the day")
    });
    assert_eq!(list(at(7, 30), &work), before);
    assert!(of(&before, "fern").fits);
    // At 9:52 Bella is tacked. Whoever takes her bridle waits until she is put away, and it has dried, at 10:22.
    work.mark(&"ten-bella".into(), Step::Tack, Mark::Done, Some("teo".into()), at(9, 50).mono);
    let tacked = list(at(9, 52), &work);
    let fern: Vec<String> = of(&tacked, "fern").why_not.iter().map(ToString::to_string).collect();
    assert_eq!(fern, ["bridle 1 is on Bella from 9:32 to 10:22"]);
    assert!(of(&tacked, "moss").fits);
}

#[test]
fn heat_and_an_unknown_load_are_cautions() {
    let list = others(Some(HeatBand::Watch), |book| {
        ride(book, "ten-bella").load = Some(Kilograms(61.0));
        fern(book).most.load = Some(Kilograms(61.0));
    });
    assert_eq!((of(&list, "fern").carries, &of(&list, "fern").cautions[..]), (Carries::Yes, &[][..]));
    assert_eq!(
        (of(&list, "moss").carries, &of(&list, "moss").cautions[..]),
        (Carries::NotKnown, &[Caution::LoadNotKnown][..])
    );
    for band in [HeatBand::Critical, HeatBand::Stop] {
        let list = others(Some(band), |book| {
            ride(book, "ten-bella").load = Some(Kilograms(61.0));
            book.horses.get_mut(&HorseId::from("moss")).expect("Moss").most.load = Some(Kilograms(61.0));
        });
        // Moss is known to carry it, so comes first: heat is the same for all.
        assert_eq!(list[0].name, "Moss");
        assert!(list.iter().all(|one| one.cautions.contains(&Caution::Heat(band))));
    }
}

#[test]
fn those_that_fit_come_first_and_the_cheapest_of_them() {
    // Ana alone is there: Moss can be readied by her, Rocket by nobody.
    let list = others(None, |book| {
        book.horse("rocket", 3, WorkLimits::default());
        book.tack("saddle-4", TackKind::Saddle, &["rocket"]);
        book.horse("willow", 1, WorkLimits::default());
    });
    let order: Vec<(&str, bool)> = list.iter().map(|one| (one.name.as_str(), one.fits)).collect();
    assert_eq!(order, [("Fern", true), ("Moss", true), ("Rocket", true), ("Willow", false)]);
    let costs: Vec<i64> = list.iter().filter_map(|one| one.cost).map(|cost| cost.units).collect();
    assert!(costs.is_sorted(), "{costs:?}");
    let rocket = of(&list, "rocket").cost.expect("it fits");
    assert_eq!(rocket.to_string(), "3 more calls for staff");
    // Three calls at 5,000 each; nothing waits and nobody works more for it.
    assert_eq!(rocket.units, 15_000);
    assert_eq!(of(&list, "fern").cost.expect("it fits").to_string(), "no more calls for staff, and nobody later");
}

#[test]
fn the_cost_is_that_of_a_plan_with_the_horse_less_that_of_one_without_the_ride() {
    let planned = |book: &Book| {
        with(book, |known, day| {
            let day = Day::checked(&day_file(known, day, None)).expect("a day that can be planned");
            let plan = plan(&day, Effort(5_000), &mut || true);
            assert!(plan.proved());
            plan.cost()
        })
    };
    let mut without = clean();
    without.tack("saddle-3", TackKind::Saddle, &["fern"]);
    without.horse("fern", 1, WorkLimits::default());
    without.rides.remove(&RideId::from("ten-bella"));
    without.shifts.retain(|line| line.person == "ana".into());
    let mut with_fern = without.clone();
    with_fern.ride("ten", "fern");
    let list = others(None, |book| book.shifts.retain(|line| line.person == "ana".into()));
    let cost = of(&list, "fern").cost.expect("it fits");
    assert_eq!(cost.units, planned(&with_fern) - planned(&without));
    assert!(cost.units > 0, "a second horse is more work for Ana");
}
