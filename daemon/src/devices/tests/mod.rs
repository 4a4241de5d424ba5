//! Settings and messages in, inputs and complaints out, by tables. Each refusal is named.

mod formats;
mod garbage;
mod senml_rfc;
mod settings;

use bellmare_barn::id::{PlaceId, StallId};
use bellmare_barn::input::{Input, Measured, Reading, Sensor};
use bellmare_barn::time::{Wall, WallClock};
use bellmare_barn::units::{Celsius, Dbm, Millimetres, Percent, RelativeHumidity};
use serde::Deserialize;

use super::rules::{TopicRule, topic_map};
use super::topic_map::{Decoded, Heard, Outcome, TopicMap};
use crate::complaint::Complaint;

/// 2026-06-18T12:00:00Z.
const NOON: Wall = Wall(1_781_784_000_000);

#[derive(Deserialize)]
struct File {
    #[serde(default)]
    topics: Vec<TopicRule>,
}

fn read(toml: &str) -> Result<Vec<TopicRule>, config::ConfigError> {
    let source = config::File::from_str(toml, config::FileFormat::Toml);
    Ok(config::Config::builder().add_source(source).build()?.try_deserialize::<File>()?.topics)
}

fn compile(toml: &str) -> (TopicMap, Vec<Complaint>) {
    let rules = read(toml).unwrap_or_else(|error| panic!("{error} in\n{toml}"));
    let mut complaints = Vec::new();
    let map = topic_map("barn", &["homie/5".to_owned()], &rules, &mut complaints);
    (map, complaints)
}

fn good(toml: &str) -> TopicMap {
    let (map, complaints) = compile(toml);
    assert_eq!(complaints, [], "in\n{toml}");
    map
}

fn heard<'a>(topic: &'a str, payload: &'a [u8]) -> Heard<'a> {
    Heard { topic, payload, retained: false, now: WallClock::Set(NOON) }
}

fn decode(map: &mut TopicMap, heard: &Heard<'_>) -> Decoded {
    match map.decode(heard) {
        Outcome::Placed(decoded) => decoded,
        other => panic!("{} is {other:?}", heard.topic),
    }
}

/// What came of a message, a line per input and one for a refusal.
fn said(decoded: &Decoded) -> String {
    let mut lines: Vec<String> = decoded.inputs.iter().map(line).collect();
    lines.extend(decoded.refused.as_ref().map(|reason| format!("refused: {reason}")));
    lines.join("\n")
}

fn line(input: &Input) -> String {
    let sensor = |sensor: &Sensor| match sensor {
        Sensor::Water(stall) => format!("water of {stall}"),
        Sensor::Bucket(bucket) => format!("water of bucket {bucket}"),
        Sensor::Climate(place) => format!("climate of {place}"),
    };
    let at = |time: &Option<Wall>| time.map(|time| format!(" at {time}")).unwrap_or_default();
    match input {
        Input::Reading(reading) => {
            let measured = match reading.measured {
                Measured::Level(v) => format!("{v:.2}"),
                Measured::Temperature(v) => format!("{v:.2}"),
                Measured::Humidity(v) => format!("{v:.2} humid"),
                Measured::Battery(v) => format!("{v:.2} battery"),
                Measured::Signal(v) => format!("{v:.2}"),
            };
            format!("{}: {measured}{}", sensor(&reading.sensor), at(&reading.own_time))
        }
        Input::Presence(presence) => {
            format!("{}: {}", sensor(&presence.sensor), if presence.online { "online" } else { "offline" })
        }
        Input::Tap(tap) => format!("{} at reader {}{}", tap.badge, tap.reader, at(&tap.own_time)),
        other => format!("{other:?}"),
    }
}

#[test]
fn lines_of_these_tests_say_the_unit() {
    let water = Sensor::Water(StallId::from("3"));
    let climate = Sensor::Climate(PlaceId::from("aisle"));
    for (sensor, measured, own_time, want) in [
        (&water, Measured::Level(Millimetres(212.0)), None, "water of 3: 212.00 mm"),
        (
            &climate,
            Measured::Temperature(Celsius(21.0)),
            Some(NOON),
            "climate of aisle: 21.00 °C at 2026-06-18T12:00:00.000Z",
        ),
        (&climate, Measured::Humidity(RelativeHumidity(55.0)), None, "climate of aisle: 55.00 % humid"),
        (&water, Measured::Battery(Percent(98.0)), None, "water of 3: 98.00 % battery"),
        (&water, Measured::Signal(Dbm(-71.0)), None, "water of 3: -71.00 dBm"),
    ] {
        assert_eq!(line(&Input::Reading(Reading { sensor: sensor.clone(), measured, own_time })), want);
    }
}
