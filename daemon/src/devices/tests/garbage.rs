//! Whatever comes in, on whatever topic: no panic, and no number that is not one.

use proptest::prelude::*;

use super::*;

const EVERY_FORMAT: &str = r#"
    [[topics]]
    topic = "n/+"
    binds = "stall"
    format = "number"
    quantity = "level"
    unit = "in"
    [[topics]]
    topic = "j/+"
    binds = "place"
    format = "json"
    fields = [{ pointer = "/a/0", quantity = "temperature", unit = "F" }, { pointer = "", quantity = "humidity", unit = "1" }]
    time = { pointer = "/t", unit = "ms" }
    [[topics]]
    topic = "s/+"
    binds = "stall"
    place = "aisle"
    format = "senml"
    of = "water"
    names = { a = "level", b = "temperature", c = "battery" }
    [[topics]]
    topic = "p/+"
    binds = "stall"
    format = "presence"
    [[topics]]
    topic = "t/+"
    binds = "reader"
    format = "tap"
    badge = "/b"
    time = { pointer = "/t", unit = "rfc3339" }
    [[topics]]
    topic = "homie/5/+"
    binds = "stall"
    format = "homie"
    properties = [{ property = "a/b", quantity = "level" }]
"#;

const TOPICS: [&str; 9] =
    ["n/1", "j/1", "s/1", "p/1", "t/1", "homie/5/1/$state", "homie/5/1/$description", "homie/5/1/a/b", "barn/x"];

/// Pieces of which almost-right payloads are made.
fn piece() -> impl Strategy<Value = String> {
    let words = [
        "[",
        "]",
        "{",
        "}",
        ",",
        ":",
        "\"a\"",
        "\"b\"",
        "\"bn\"",
        "\"n\"",
        "\"v\"",
        "\"t\"",
        "\"bt\"",
        "\"bver\"",
        "\"u\"",
        "\"m\"",
        "\"Cel\"",
        "1",
        "-0",
        "1e308",
        "1e-400",
        "268435456",
        "null",
        "true",
        "\"nodes\"",
        "\"properties\"",
        "ready",
        "NaN",
        " ",
        "\"2026-06-18T12:00:00Z\"",
        "\\u0000",
        "\u{fffd}",
    ];
    prop::sample::select(words.to_vec()).prop_map(str::to_owned)
}

fn check(map: &mut TopicMap, topic: &str, payload: &[u8], retained: bool) {
    for now in [WallClock::Unset, WallClock::Set(NOON), WallClock::Set(Wall(i64::MAX))] {
        let Outcome::Placed(decoded) = map.decode(&Heard { topic, payload, retained, now }) else { continue };
        for input in &decoded.inputs {
            let line = line(input);
            assert!(!line.contains("NaN"), "{line} from {topic} {:?}", String::from_utf8_lossy(payload));
        }
        if let Some(reason) = &decoded.refused {
            assert!(reason.to_string().len() < 2000, "{reason}");
        }
    }
}

proptest! {
    #[test]
    fn any_bytes(topic in prop::sample::select(TOPICS.to_vec()), payload in prop::collection::vec(any::<u8>(), 0..200), retained: bool) {
        check(&mut good(EVERY_FORMAT), topic, &payload, retained);
    }

    #[test]
    fn almost_right(topic in prop::sample::select(TOPICS.to_vec()), pieces in prop::collection::vec(piece(), 0..30), retained: bool) {
        check(&mut good(EVERY_FORMAT), topic, pieces.concat().as_bytes(), retained);
    }

    #[test]
    fn any_topic(topic in "\\PC{0,40}|(n|j|s|homie|barn)(/[a-z0-9$+#]{0,5}){0,6}", payload in "\\PC{0,20}") {
        check(&mut good(EVERY_FORMAT), &topic, payload.as_bytes(), false);
    }

    #[test]
    fn a_cut_payload(cut in 0usize..140) {
        let whole = r#"[{"bn":"x:","bt":1320067464,"n":"a","u":"m","v":0.2},{"n":"b","u":"Cel","v":21},{"n":"c","u":"%EL","v":98}]"#;
        let cut = &whole.as_bytes()[..cut.min(whole.len())];
        let decoded = decode(&mut good(EVERY_FORMAT), &heard("s/1", cut));
        prop_assert_eq!(decoded.inputs.len(), if cut.len() == whole.len() { 3 } else { 0 }, "half a pack is no pack");
    }
}
