//! The demo shows, within five hours of its day (five minutes at its usual speed), each thing that a board can say; all but
//! two, which it can not bring about: a journal that can not be written and a clock that is not set.

use bellmare_barn::water::bucket::{Fault, How};
use std::collections::BTreeSet;
use std::io::{BufRead, BufReader};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use bellmare_barn::board::{
    AheadView, AlarmLine, AlarmWhat, Board, Clock, HeatBand, HeatView, Job, LineView, Pace, WaterView, Who,
};
use bellmare_barn::input::Mark;
use bellmare_tests::hub::program;
use bellmare_tests::wait::{free_port, until};

/// Ten times as fast as the demo usually is, so that the five hours take half a minute.
const SPEED: &str = "600";

#[test]
fn everything_that_a_board_can_say_is_seen_within_five_hours() {
    let (web, mqtt) = (free_port(), free_port());
    let mut demo = Command::new(program())
        .args(["demo", "--speed", SPEED, "--for", "90", "--barn"])
        .arg(concat!(env!("CARGO_MANIFEST_DIR"), "/../demo-data"))
        .env("BELLMARE_WEB__LISTEN", format!("127.0.0.1:{web}"))
        .env("BELLMARE_MQTT__LISTEN", format!("127.0.0.1:{mqtt}"))
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .expect("the demo starts");
    let url = format!("http://127.0.0.1:{web}/board");
    let answer = until("the demo answers", Duration::from_secs(20), || {
        ureq::get(&url).header("Accept", "text/event-stream").call().map_err(|why| why.to_string())
    });
    let mut seen = BTreeSet::new();
    let mut last = String::new();
    let began = Instant::now();
    for line in BufReader::new(answer.into_body().into_reader()).lines() {
        let line = line.expect("the stream goes on");
        let Some(json) = line.strip_prefix("data: ") else { continue };
        let board: Board = serde_json::from_str(json).expect("a board");
        let Clock::Set { time, .. } = board.clock else { panic!("the demo has a clock") };
        note(&board, &mut seen);
        if let HeatView::Known { band, ahead, .. } = &board.heat {
            let critical = *band >= HeatBand::Critical;
            let said = matches!(ahead, Some(AheadView::Reaches { band, .. }) if *band >= HeatBand::Critical);
            seen.extend((said && !critical).then_some("heat seen coming"));
            let came = critical && seen.contains("heat seen coming");
            seen.extend(came.then_some("heat that was seen coming"));
        }
        last = time.to_string();
        if time.minutes() >= 13 * 60 + 20 || began.elapsed() > Duration::from_secs(60) {
            break;
        }
    }
    demo.kill().expect("it runs");
    demo.wait().expect("it ends");
    let missing: Vec<_> = EVERYTHING.iter().filter(|word| !seen.contains(**word)).collect();
    println!("{} things seen by {last}: {seen:?}", seen.len());
    assert!(missing.is_empty(), "not seen by {last}: {missing:?}");
}

const EVERYTHING: &[&str] = &[
    "water enough",
    "water low",
    "water empty",
    "water silent",
    "water faulty",
    "water never heard",
    "no bucket",
    "alarm bucket empty",
    "alarm bucket low",
    "alarm leak",
    "alarm not drinking",
    "alarm stuck",
    "alarm blocked",
    "a refill",
    "a drink",
    "a bucket to fill",
    "a paddock's water",
    "alarm heat",
    "alarm silent",
    "alarm battery",
    "alarm broker",
    "alarm seen",
    "alarm over",
    "alarm heat for people",
    "alarm heat ahead",
    "heat seen coming",
    "heat that was seen coming",
    "heat carry on",
    "heat watch",
    "heat critical",
    "heat stop",
    "humid",
    "not humid",
    "broker down",
    "broker up",
    "pace later",
    "pace now",
    "pace late",
    "pace ready",
    "step begun",
    "step done",
    "job brush",
    "job tack",
    "job lead out",
    "job put away",
    "somebody at it",
    "a job with a name",
    "staff called",
    "a job that is nobody's",
    "horse away",
    "on shift",
    "not here",
    "unknown badge",
    "unplaced sensor",
    "refused",
    "stirrups differ",
    "stirrups alike",
    "no stirrups",
    "lesson ready",
    "a chore with its turn",
    "a chore done",
    "a stall cleaned",
    "a bucket said to be filled",
    "hay asked for",
    "alarm hay",
    "something wrong",
    "alarm wrong",
    "something wrong that staff have seen",
];

fn note(board: &Board, seen: &mut BTreeSet<&'static str>) {
    use bellmare_barn::board::{HeatBand as Band, WaterState as Water};
    seen.extend(board.stalls.iter().map(|stall| match stall.water {
        WaterView::NoBucket => "no bucket",
        WaterView::NeverHeard => "water never heard",
        WaterView::Known { state: Water::Enough, .. } => "water enough",
        WaterView::Known { state: Water::Low, .. } => "water low",
        WaterView::Known { state: Water::Empty, .. } => "water empty",
        WaterView::Silent { .. } => "water silent",
        WaterView::Faulty { .. } => "water faulty",
    }));
    let last = board.stalls.iter().filter_map(|stall| stall.drinking.as_ref()).filter_map(|one| one.last);
    seen.extend(last.filter_map(|one| match one.how {
        How::Refilled => Some("a refill"),
        How::Drank => Some("a drink"),
        _ => None,
    }));
    seen.extend((!board.round.is_empty()).then_some("a bucket to fill"));
    let known = board.paddocks.iter().any(|paddock| matches!(paddock.water, WaterView::Known { .. }));
    seen.extend(known.then_some("a paddock's water"));
    for AlarmLine { what, seen_by, over, .. } in &board.alarms {
        seen.insert(match what {
            AlarmWhat::BucketEmpty { .. } => "alarm bucket empty",
            AlarmWhat::BucketLow { .. } => "alarm bucket low",
            AlarmWhat::Leak { .. } => "alarm leak",
            AlarmWhat::NotDrinking { .. } => "alarm not drinking",
            AlarmWhat::SensorFaulty { fault: Fault::Stuck, .. } => "alarm stuck",
            AlarmWhat::SensorFaulty { fault: Fault::Blocked, .. } => "alarm blocked",
            AlarmWhat::Heat { .. } => "alarm heat",
            AlarmWhat::PeopleHeat { .. } => "alarm heat for people",
            AlarmWhat::HeatAhead { .. } => "alarm heat ahead",
            // Neither is in the script: it must not cry wolf.
            AlarmWhat::ClimateDoubtful { .. } | AlarmWhat::Frost { .. } => panic!("{what:?} in the demo"),
            AlarmWhat::SensorSilent { .. } => "alarm silent",
            AlarmWhat::BatteryLow { .. } => "alarm battery",
            AlarmWhat::VitalsCaution { .. } => "alarm vitals",
            AlarmWhat::BrokerDown => "alarm broker",
            AlarmWhat::JournalDown => "alarm journal",
            AlarmWhat::HayUnanswered { .. } => "alarm hay",
            AlarmWhat::Wrong { .. } => "alarm wrong",
            // What does not come up in these five hours.
            _ => "another alarm",
        });
        seen.extend(seen_by.is_some().then_some("alarm seen"));
        seen.extend(over.then_some("alarm over"));
    }
    if let HeatView::Known { band, humid, .. } = &board.heat {
        seen.insert(match band {
            Band::CarryOn => "heat carry on",
            Band::Watch => "heat watch",
            Band::Critical => "heat critical",
            Band::Stop => "heat stop",
        });
        seen.insert(if *humid { "humid" } else { "not humid" });
    }
    match board.hub.broker {
        LineView::Up => seen.insert("broker up"),
        LineView::Down { .. } => seen.insert("broker down"),
        LineView::Starting => false,
    };
    for job in &board.next {
        seen.insert(match job.job {
            Job::Brush => "job brush",
            Job::Tack => "job tack",
            Job::LeadOut => "job lead out",
            Job::PutAway => "job put away",
        });
        seen.extend(job.under_way.then_some("somebody at it"));
        seen.insert(match job.who {
            Who::Open => "a job that is nobody's",
            Who::Staff => "staff called",
            Who::Person { .. } => "a job with a name",
        });
    }
    let away = board.stalls.iter().filter_map(|stall| stall.horse.as_ref()).any(|horse| horse.away.is_some());
    seen.extend(away.then_some("horse away"));
    for ride in board.stalls.iter().filter_map(|stall| stall.horse.as_ref()).flat_map(|horse| &horse.rides) {
        seen.insert(match ride.pace {
            Pace::Later => "pace later",
            Pace::Now => "pace now",
            Pace::Late => "pace late",
            Pace::Ready => "pace ready",
        });
        seen.insert(match ride.stirrups {
            Some(both) if both.left == both.right => "stirrups alike",
            Some(_) => "stirrups differ",
            None => "no stirrups",
        });
        for mark in [ride.links.brush, ride.links.tack, ride.links.lead_out] {
            match mark {
                Mark::Open => {}
                Mark::Begun => drop(seen.insert("step begun")),
                Mark::Done => drop(seen.insert("step done")),
            }
        }
    }
    seen.extend(board.people.iter().map(|person| if person.since.is_some() { "on shift" } else { "not here" }));
    seen.extend(board.chores.iter().any(|chore| chore.turn.is_some()).then_some("a chore with its turn"));
    seen.extend(board.chores.iter().any(|chore| chore.done.is_some()).then_some("a chore done"));
    seen.extend(board.stalls.iter().any(|stall| stall.cleaned.is_some()).then_some("a stall cleaned"));
    seen.extend(board.stalls.iter().any(|stall| stall.filled.is_some()).then_some("a bucket said to be filled"));
    seen.extend((!board.hay.is_empty()).then_some("hay asked for"));
    for wrong in board.stalls.iter().filter_map(|stall| stall.horse.as_ref()?.wrong.as_ref()) {
        seen.insert("something wrong");
        seen.extend(wrong.taken_by.is_some().then_some("something wrong that staff have seen"));
    }
    seen.extend((!board.taps.is_empty()).then_some("unknown badge"));
    seen.extend((board.unplaced > 0).then_some("unplaced sensor"));
    seen.extend((board.refused > 0).then_some("refused"));
    seen.extend(board.lessons.iter().any(|lesson| lesson.ready > 0).then_some("lesson ready"));
}
