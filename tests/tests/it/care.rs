//! Vital signs, the weight tape and units against values from outside. `tests/reference/README.md` says where each file comes
//! from.

use std::path::Path;
use std::process::{Command, Output};
use std::time::Duration;

use bellmare_barn::board::{AlarmWhat, Board, Priority};
use bellmare_barn::book::Resting;
use bellmare_barn::care::observed::Observed;
use bellmare_barn::care::published::{Age, Of, PRINTED, Printed};
use bellmare_barn::care::tape::{KG_PER_LB, Rule, weigh};
use bellmare_barn::care::vitals::{Condition, Urgency, judge};
use bellmare_barn::effect::Answer;
use bellmare_barn::hands::{CM_PER_INCH, Hands};
use bellmare_barn::limits::CareLimits;
use bellmare_barn::units::{
    Celsius, Centimetres, Fahrenheit, Kilograms, LITRES_PER_US_GALLON, Litres, PerMinute, Seconds,
};
use bellmare_tests::board::{shows, stall};
use bellmare_tests::hub::{Broker, Hub, program};
use serde::Deserialize;
use serde_json::json;

use crate::heat::rows;

#[derive(Deserialize)]
struct Sign {
    age: String,
    sign: String,
    low: Option<f64>,
    high: Option<f64>,
    unit: String,
    status: String,
    source: String,
}

#[test]
fn every_printed_range_is_held_to_the_digit_and_no_other() {
    let rows: Vec<Sign> = rows("vital-signs.csv", PRINTED.len());
    for (row, held) in rows.iter().zip(PRINTED) {
        let Printed { age, of, low, high, unit, source } = held;
        assert_eq!(
            (age.word(), of.word(), low, high, unit, source),
            (&*row.age, &*row.sign, row.low, row.high, &*row.unit, &*row.source)
        );
        assert_eq!(row.status, "READ", "{source}: what is from memory is said to be so");
    }
}

/// A horse at rest of which only this is known.
fn observed(of: Of, value: f64) -> Option<Observed> {
    let mut seen = Observed::default();
    match of {
        Of::Temperature | Of::CallVetAbove => seen.temperature = Some(Celsius(value)),
        Of::Pulse | Of::InvestigateAbove => seen.pulse = Some(PerMinute(value)),
        Of::Breaths => seen.breaths = Some(PerMinute(value)),
        Of::Refill => seen.refill = Some(Seconds(value)),
        Of::SkinRecoil => return None,
    }
    Some(seen)
}

#[test]
fn beyond_every_bound_printed_for_adults_a_horse_without_a_record_is_a_caution_that_names_the_source() {
    let mut bounds = 0;
    for row in PRINTED.iter().filter(|row| row.age == Age::Adult) {
        // A row with a low end alone says what is too much.
        let above = matches!(row.of, Of::CallVetAbove | Of::InvestigateAbove);
        let ends = if above { [None, row.low] } else { [row.low, row.high] };
        for (end, beyond) in ends.into_iter().zip([-0.1, 0.1]) {
            let Some(bound) = end.map(|end| row.counted(end)) else { continue };
            let Some(seen) = observed(row.of, bound + beyond) else { continue };
            let found = judge(&seen, &Resting::default(), Condition::AtRest, &CareLimits::default());
            let told = found.cautions.join("; ");
            assert!(told.contains(row.source), "{} {}: {told}", row.source, bound + beyond);
            let vet = if row.of == Of::CallVetAbove { Urgency::VetNow } else { Urgency::Tell };
            assert!(found.urgency >= vet, "{told}");
            assert!(found.urgency.advice().contains("no diagnosis"));
            bounds += 1;
        }
    }
    assert_eq!(bounds, 17);
}

#[test]
fn within_all_that_is_printed_for_adults_nothing_is_said() {
    // The narrowest of each: 37.5 to 101 °F, 28 to 40, 10 to 16, up to 2 s.
    for (temperature, pulse, breaths, refill) in
        [(Celsius(37.5), 28.0, 10.0, 0.0), (Fahrenheit(101.0).celsius(), 40.0, 16.0, 2.0)]
    {
        let seen = Observed {
            temperature: Some(temperature),
            pulse: Some(PerMinute(pulse)),
            breaths: Some(PerMinute(breaths)),
            refill: Some(Seconds(refill)),
            ..Observed::default()
        };
        let found = judge(&seen, &Resting::default(), Condition::AtRest, &CareLimits::default());
        assert_eq!((found.urgency, found.cautions), (Urgency::Fine, Vec::new()));
    }
}

#[derive(Deserialize)]
struct Tape {
    unit: String,
    girth: f64,
    length: f64,
    rule: String,
    weight: f64,
    weight_unit: String,
}

#[test]
fn the_tape_weighs_as_every_row_does() {
    for row in rows::<Tape>("weight-tape-vectors.csv", 17) {
        let to_cm = if row.unit == "in" { CM_PER_INCH } else { 1.0 };
        let rule = match row.rule.as_str() {
            "/330 lb" => Rule::Inches330,
            "/11880 kg" => Rule::Textbook11880,
            "/11900 kg" => Rule::CarrollHuntington,
            "/11877 kg" => Rule::Textbook11877,
            other => panic!("no rule {other}"),
        };
        let all = weigh(Centimetres(row.girth * to_cm), Centimetres(row.length * to_cm)).expect("a horse");
        let found = all.iter().find(|one| one.rule == rule).expect("every rule is told").weight;
        let found = if row.weight_unit == "lb" { found.get() / KG_PER_LB } else { found.get() };
        // As far as the file goes.
        assert!((found - row.weight).abs() <= 0.000_501, "{} x {} by {}: {found}", row.girth, row.length, row.rule);
        // And by all rules within their third of a percent.
        let [least, most] = all
            .iter()
            .fold([f64::MAX, 0.0_f64], |[least, most], one| [least.min(one.weight.get()), most.max(one.weight.get())]);
        assert!((1.0..1.004).contains(&(most / least)));
    }
}

#[derive(Deserialize)]
struct Unit {
    from: String,
    value: String,
    to: String,
    result: String,
}

#[test]
fn units_are_exact() {
    let mut unused = Vec::new();
    for row in rows::<Unit>("units.csv", 19) {
        let number = || row.value.parse::<f64>().expect("a number");
        let hands = row.from.strip_prefix("hands ").map(str::parse::<Hands>);
        let found = match (row.from.as_str(), row.to.as_str(), hands) {
            ("US gal", "L", _) => number() * LITRES_PER_US_GALLON,
            ("US qt", "L", _) => number() / 4.0 * LITRES_PER_US_GALLON,
            ("lb", "kg", _) => Kilograms(number() * KG_PER_LB).get(),
            ("in", "cm", _) => number() * CM_PER_INCH,
            ("hand", "in", _) => Hands::of_inches(4).inches(),
            ("hand", "cm", _) => Hands::of_inches(4).centimetres().get(),
            ("F", "C", _) => Fahrenheit(number()).celsius().get(),
            ("C", "F", _) => Celsius(number()).fahrenheit().get(),
            (_, "in", Some(hands)) => hands.expect("a height").inches(),
            (_, "cm", Some(hands)) => hands.expect("a height").centimetres().get(),
            (_, "", Some(hands)) => {
                assert_eq!((hands.is_err(), row.result.as_str()), (true, "invalid"), "{}", row.from);
                continue;
            }
            ("61 in", "hands", _) => {
                assert_eq!(Hands::of_inches(61).to_string(), row.result);
                continue;
            }
            _ => {
                unused.push(row.from);
                continue;
            }
        };
        let result: f64 = row.result.parse().unwrap_or_else(|_| panic!("{}: {}", row.from, row.result));
        assert!((found - result).abs() < 1e-7, "{} {}: {found}, {result}", row.from, row.value);
    }
    assert_eq!(unused, ["imp gal", "lb water per US gal", "mph"], "nothing here counts in these");
    assert!((Litres(4.546_09).us_gallons() - 1.200_95).abs() < 1e-5, "an imperial gallon is a fifth larger");
}

#[test]
fn a_horse_that_was_looked_at_is_on_the_board_with_its_caution_and_stays_there_over_a_power_cut() {
    const SOON: Duration = Duration::from_secs(10);
    let mut hub = Hub::new(2, Broker::Embedded, "");
    hub.start();
    let look = |hub: &Hub, id: &str, vitals: serde_json::Value| -> Answer {
        let touch = json!({ "id": id, "kiosk": "aisle", "action": { "vitals": vitals } });
        let mut answer = ureq::post(hub.url("/touches")).send_json(touch).expect("an answer");
        answer.body_mut().read_json().expect("of the documented form")
    };
    // As a program writes it that knows the documented form alone: whole numbers, and no field that was not measured.
    let answer = look(&hub, "v1", json!({ "horse": "h1", "by": "ana", "pulse": 55, "gums": "pink" }));
    assert_eq!(answer, Answer::Done);
    let Answer::Refused(refusal) = look(&hub, "v2", json!({ "horse": "h1", "by": "ana", "temperature": 101.5 })) else {
        panic!("degrees Fahrenheit are not taken for Celsius")
    };
    assert!(refusal.why.starts_with("temperature 101.5: allowed is 30 to 45 °C"), "{refusal}");
    let cautioned = |board: &Board| {
        let last = stall(board, "1")?.horse.as_ref()?.vitals.as_ref()?.last.first()?.clone();
        let is_ours = |what: &AlarmWhat| matches!(what, AlarmWhat::VitalsCaution { horse, .. } if horse == "Horse 1");
        let alarm = board.alarms.iter().find(|alarm| !alarm.over && is_ours(&alarm.what))?;
        Some((last.by, last.urgency, last.seen.pulse, alarm.priority))
    };
    let expected = ("Ana".to_owned(), Urgency::Tell, Some(PerMinute(55.0)), Priority::Medium);
    assert_eq!(shows(&hub, "the caution", SOON, cautioned), expected);
    hub.kill();
    hub.start();
    assert_eq!(shows(&hub, "the caution is still there", SOON, cautioned), expected);
    assert_eq!(look(&hub, "v3", json!({ "horse": "h1", "by": "lena", "pulse": 36 })), Answer::Done);
    shows(&hub, "the caution ends", SOON, |board| board.alarms.iter().all(|alarm| alarm.over).then_some(()));
}

fn hub(arguments: &[&str]) -> Output {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
    Command::new(program()).args(arguments).current_dir(root).output().expect("the hub runs")
}

fn said(output: &Output) -> String {
    String::from_utf8_lossy(&output.stdout).into_owned()
}

#[test]
fn measures_are_answered_at_a_terminal() {
    let tape = said(&hub(&["tape", "180cm", "160cm"]));
    let weights: Vec<&str> = tape.lines().filter(|line| line.contains(" / ")).map(|line| line[..21].trim()).collect();
    assert_eq!(weights, ["435.6 kg   960.4 lb", "436.4 kg   962.0 lb", "436.5 kg   962.3 lb", "434.8 kg   958.6 lb"]);
    assert!(tape.ends_with("Not for doses of medicine: those are the vet's.\n"), "{tape}");
    let json: serde_json::Value =
        serde_json::from_slice(&hub(&["tape", "76in", "65in", "--json"]).stdout).expect("JSON");
    assert_eq!(json["rules"][3]["lb"], 1137.7);
    assert_eq!(said(&hub(&["hands", "15.2"])), "15.2 hands = 62 in = 157.48 cm\n");
    let none = hub(&["hands", "15.4"]);
    assert_eq!(none.status.code(), Some(1));
    assert!(String::from_utf8_lossy(&none.stderr).contains("0 to 3 inches"), "{none:?}");
    assert_eq!(hub(&["tape", "180", "160cm"]).status.code(), Some(2), "without a unit");
    let vitals = said(&hub(&["vitals", "--temp", "102.5F", "--own-temp", "100F"]));
    assert!(
        vitals.contains("1.4 °C (2.5 °F) above its own 37.8 °C") && vitals.contains("Call the vet now"),
        "{vitals}"
    );
}

#[test]
fn a_recorded_day_is_played_again_and_limits_are_told_with_their_source() {
    let settings = ["--settings", "demo-data/settings.toml"];
    let files = ["replay", "demo-data/recorded/water.csv", "demo-data/recorded/air.csv"];
    let again = hub(&[&files[..], &settings].concat());
    assert_eq!(
        (again.status.code(), said(&again)),
        (Some(0), include_str!("../../../demo-data/recorded/said.txt").to_owned())
    );
    let wrong = hub(&[&["replay", "demo-data/horses.csv"][..], &settings].concat());
    assert_eq!((wrong.status.code(), said(&wrong)), (Some(1), String::new()), "nothing is told as if it were fine");
    let why = String::from_utf8_lossy(&wrong.stderr).into_owned();
    assert!(why.contains("horses.csv line 1:") && why.contains("time,topic,payload"), "{why}");
    let page = said(&hub(&[&["limits"][..], &settings].concat()));
    assert!(
        page.starts_with("# Limits in force: Larkspur Hollow\n") && page.contains("| Willow | 2 | 45 | 90 | 4 | 55 |"),
        "{page}"
    );
}
