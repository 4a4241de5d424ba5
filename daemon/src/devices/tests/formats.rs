//! One table per wire format.

use super::*;

fn check(map: &mut TopicMap, topic: &str, payload: &str, want: &str) {
    let got = said(&decode(map, &heard(topic, payload.as_bytes())));
    assert_eq!(got, want, "{topic} {payload}");
}

fn check_retained(map: &mut TopicMap, topic: &str, payload: &str, want: &str) {
    let retained = Heard { retained: true, ..heard(topic, payload.as_bytes()) };
    assert_eq!(said(&decode(map, &retained)), want, "retained {topic} {payload}");
}

const OLD: &str =
    "refused: a retained value without a time of its own: nobody knows how old it is, so it waits for the next one";

#[test]
fn numbers() {
    let map = &mut good(
        r#"
        [[topics]]
        topic = "barn/stall/+/water"
        binds = "stall"
        format = "number"
        quantity = "level"
        unit = "cm"
        [[topics]]
        topic = "barn/aisle/temp"
        place = "aisle"
        format = "number"
        quantity = "temperature"
        unit = "F"
        [[topics]]
        topic = "barn/+/box/+/rssi"
        binds = "stall"
        plus = 2
        format = "number"
        quantity = "signal"
        unit = "dBm"
        "#,
    );
    check(map, "barn/stall/3/water", "21.2", "water of 3: 212.00 mm");
    check(map, "barn/stall/3/water", " 21.2\r\n", "water of 3: 212.00 mm");
    check(map, "barn/stall/3/water", "-2.12e1", "water of 3: -212.00 mm");
    check(map, "barn/stall/East 2/water", "1", "water of East 2: 10.00 mm");
    check(map, "barn/aisle/temp", "72.5", "climate of aisle: 22.50 °C");
    check(map, "barn/left/box/7/rssi", "-71", "water of 7: -71.00 dBm");
    let no_number =
        |text: &str| format!("refused: {text:?} is not a number: a number is written like 212, -4.5 or 2.1e2");
    for text in ["full", "21,2", "1 2", "0x10", "{\"v\":1}", "21.2 cm", "--1"] {
        check(map, "barn/stall/3/water", text, &no_number(text));
    }
    for text in ["NaN", "inf", "-infinity", "1e400"] {
        check(map, "barn/stall/3/water", text, &format!("refused: {text:?} is not a finite number"));
    }
    check(map, "barn/stall/3/water", "", "refused: the payload is empty");
    check(map, "barn/stall/3/water", " \n", "refused: the payload is empty");
    check_retained(map, "barn/stall/3/water", "21.2", OLD);
    let bad = decode(map, &heard("barn/stall/3/water", b"\xff\xfe1"));
    assert_eq!(said(&bad), "refused: the payload is not UTF-8 text");
    let huge = decode(map, &heard("barn/stall/3/water", &vec![b'1'; 65_537]));
    assert_eq!(said(&huge), "refused: the payload has 65537 bytes, and 65536 are read at most");
    let name = "refused: \"\" can not be a name: one to 64 characters, none of them a control character";
    check(map, "barn/stall//water", "1", name);
    let long = "x".repeat(65);
    check(
        map,
        &format!("barn/stall/{long}/water"),
        "1",
        &format!("refused: {long:?} can not be a name: one to 64 characters, none of them a control character"),
    );
}

#[test]
fn json_fields() {
    let map = &mut good(
        r#"
        [[topics]]
        topic = "sensors/+/state"
        binds = "place"
        format = "json"
        fields = [
            { pointer = "/t", quantity = "temperature", unit = "C" },
            { pointer = "/h", quantity = "humidity", unit = "1" },
            { pointer = "/batt/pct", quantity = "battery", unit = "%", of = "climate" },
        ]
        time = { pointer = "/ts", unit = "s" }
        [[topics]]
        topic = "box/+/up"
        binds = "stall"
        place = "aisle"
        format = "json"
        fields = [
            { pointer = "/levels/0", quantity = "level", unit = "mm" },
            { pointer = "/air/t", quantity = "temperature", unit = "K" },
            { pointer = "/rssi", quantity = "signal", unit = "dBm", of = "water" },
        ]
        time = { pointer = "/at", unit = "rfc3339" }
        "#,
    );
    check(
        map,
        "sensors/aisle/state",
        r#"{"t": 21.5, "h": 0.55, "batt": {"pct": 97}, "ts": 1781783990.5}"#,
        "climate of aisle: 21.50 °C at 2026-06-18T11:59:50.500Z\n\
         climate of aisle: 55.00 % humid at 2026-06-18T11:59:50.500Z\n\
         climate of aisle: 97.00 % battery at 2026-06-18T11:59:50.500Z",
    );
    check(map, "sensors/arena/state", r#"{"t": 21}"#, "climate of arena: 21.00 °C");
    check(map, "sensors/arena/state", r#"{"t": 21, "ts": null}"#, "climate of arena: 21.00 °C");
    // What is right is taken although something beside it is wrong.
    check(
        map,
        "sensors/arena/state",
        r#"{"t": 21, "h": "damp", "batt": {"pct": null}}"#,
        "climate of arena: 21.00 °C\nrefused: /h: a number is wanted, and a text is there",
    );
    for (payload, found) in [
        (r#"{"t":true}"#, "true or false"),
        (r#"{"t":[1]}"#, "a list"),
        (r#"{"t":{}}"#, "an object"),
        (r#"{"t":null}"#, "null"),
    ] {
        check(map, "sensors/arena/state", payload, &format!("refused: /t: a number is wanted, and {found} is there"));
    }
    check(
        map,
        "box/3/up",
        r#"{"levels": [212], "air": {"t": 273.15}, "rssi": -60, "at": "2026-06-18T14:00:00+02:00"}"#,
        "water of 3: 212.00 mm at 2026-06-18T12:00:00.000Z\n\
         climate of aisle: 0.00 °C at 2026-06-18T12:00:00.000Z\n\
         water of 3: -60.00 dBm at 2026-06-18T12:00:00.000Z",
    );
    for (payload, time) in [
        (r#"{"t":1,"ts":-1}"#, "-1"),
        (r#"{"t":1,"ts":253402300800}"#, "253402300800"),
        (r#"{"t":1,"ts":1e300}"#, "1e+300"),
    ] {
        let want = format!("refused: {time:?} is not a time as the rule says it is written");
        check(map, "sensors/arena/state", payload, &want);
    }
    check(
        map,
        "box/3/up",
        r#"{"levels":[1],"at":"yesterday"}"#,
        r#"refused: "\"yesterday\"" is not a time as the rule says it is written"#,
    );
    check(map, "box/3/up", r#"{"levels":[1],"at":7}"#, "refused: /at: a text is wanted, and a number is there");
    check(map, "box/3/up", "{}", "refused: none of the rule's pointers leads to a value (/levels/0, /air/t, /rssi)");
    check(map, "box/3/up", "[]", "refused: none of the rule's pointers leads to a value (/levels/0, /air/t, /rssi)");
    for payload in ["{\"t\": 1", "NaN", "{\"t\": NaN}", "{\"t\": 1e999}", "{\"t\": 1}x", "{'t': 1}"] {
        let got = said(&decode(map, &heard("sensors/arena/state", payload.as_bytes())));
        assert!(got.starts_with("refused: the payload is not JSON that can be read: "), "{payload}: {got}");
    }
    let nested = "[".repeat(20_000);
    let got = said(&decode(map, &heard("sensors/arena/state", nested.as_bytes())));
    assert!(got.contains("recursion limit exceeded"), "{got}");
    check_retained(map, "sensors/arena/state", r#"{"t": 21}"#, OLD);
    check_retained(
        map,
        "sensors/arena/state",
        r#"{"t": 21, "ts": 1781784000}"#,
        "climate of arena: 21.00 °C at 2026-06-18T12:00:00.000Z",
    );
}

/// The document and every pointer of RFC 6901 section 5, through a rule.
#[test]
fn json_pointers_of_rfc_6901_section_5() {
    let document = r#"{"foo": ["bar", "baz"], "": 0, "a/b": 1, "c%d": 2, "e^f": 3, "g|h": 4, "i\\j": 5, "k\"l": 6, " ": 7, "m~n": 8}"#;
    for (pointer, want) in [
        ("", "refused: : a number is wanted, and an object is there"),
        ("/foo", "refused: /foo: a number is wanted, and a list is there"),
        ("/foo/0", "refused: /foo/0: a number is wanted, and a text is there"),
        ("/", "water of 3: 0.00 mm"),
        ("/a~1b", "water of 3: 1.00 mm"),
        ("/c%d", "water of 3: 2.00 mm"),
        ("/e^f", "water of 3: 3.00 mm"),
        ("/g|h", "water of 3: 4.00 mm"),
        ("/i\\j", "water of 3: 5.00 mm"),
        ("/k\"l", "water of 3: 6.00 mm"),
        ("/ ", "water of 3: 7.00 mm"),
        ("/m~0n", "water of 3: 8.00 mm"),
    ] {
        let map = &mut good(&format!(
            "[[topics]]\ntopic = \"t\"\nstall = \"3\"\nformat = \"json\"\n\
             fields = [{{ pointer = '{pointer}', quantity = \"level\", unit = \"mm\" }}]"
        ));
        check(map, "t", document, want);
    }
}

#[test]
fn presence_and_taps() {
    let map = &mut good(
        r#"
        [[topics]]
        topic = "barn/stall/+/availability"
        binds = "stall"
        format = "presence"
        [[topics]]
        topic = "zig/+/availability"
        binds = "place"
        format = "presence"
        online = "yes"
        offline = "no"
        pointer = "/state"
        [[topics]]
        topic = "barn/reader/+/tap"
        binds = "reader"
        format = "tap"
        [[topics]]
        topic = "gate/tap"
        reader = "gate"
        format = "tap"
        badge = "/card/id"
        time = { pointer = "/ms", unit = "ms" }
        "#,
    );
    check(map, "barn/stall/3/availability", "online", "water of 3: online");
    check_retained(map, "barn/stall/3/availability", "offline", "water of 3: offline");
    check(map, "barn/stall/3/availability", "on", r#"refused: "on" is neither "online" nor "offline""#);
    check(map, "barn/stall/3/availability", "", "refused: the payload is empty");
    check(map, "zig/aisle/availability", r#"{"state":"yes"}"#, "climate of aisle: online");
    check(map, "zig/aisle/availability", r#"{"state":"no"}"#, "climate of aisle: offline");
    check(
        map,
        "zig/aisle/availability",
        r#"{"state":true}"#,
        "refused: /state: a text is wanted, and true or false is there",
    );
    check(map, "zig/aisle/availability", "{}", "refused: /state: a text is wanted, and nothing is there");

    check(map, "barn/reader/door/tap", "04A1B2\n", "04A1B2 at reader door");
    check_retained(map, "barn/reader/door/tap", "04A1B2", OLD);
    check(map, "barn/reader/door/tap", "", "refused: the payload is empty");
    check(
        map,
        "barn/reader/door/tap",
        "a\u{7}b",
        "refused: \"a.b\" can not be a name: one to 64 characters, none of them a control character",
    );
    check(map, "gate/tap", r#"{"card":{"id":"04A1"}}"#, "04A1 at reader gate");
    check(
        map,
        "gate/tap",
        r#"{"card":{"id":77123},"ms":1781784000250}"#,
        "77123 at reader gate at 2026-06-18T12:00:00.250Z",
    );
    check(map, "gate/tap", r#"{"card":{"id":-1}}"#, "refused: /card/id: a text is wanted, and a number is there");
    check(
        map,
        "gate/tap",
        r#"{"card":{"id":" "}}"#,
        "refused: \"\" can not be a name: one to 64 characters, none of them a control character",
    );
    check(
        map,
        "gate/tap",
        "04A1",
        "refused: the payload is not JSON that can be read: invalid number at line 1 column 2",
    );
    check_retained(map, "gate/tap", r#"{"card":{"id":"04A1"},"ms":1781784000250}"#, OLD);
}

#[test]
fn homie_devices() {
    let map = &mut good(
        r#"
        [[topics]]
        topic = "homie/5/+"
        binds = "stall"
        place = "aisle"
        format = "homie"
        properties = [
            { property = "sensor/level", quantity = "level" },
            { property = "air/temp", quantity = "temperature" },
            { property = "air/hum", quantity = "humidity", unit = "1" },
            { property = "sensor/battery", quantity = "battery", of = "water" },
        ]
        "#,
    );
    let description = r#"{
        "homie": "5.0", "version": 7, "name": "Bucket 3",
        "nodes": {
            "sensor": { "properties": {
                "level": { "datatype": "integer", "unit": "mm" },
                "battery": { "datatype": "string", "unit": "%" } } },
            "air": { "properties": {
                "temp": { "datatype": "float", "unit": "°F", "format": "-40:140" },
                "hum": { "datatype": "float" } } }
        }
    }"#;
    check(
        map,
        "homie/5/3/sensor/level",
        "212",
        "refused: sensor/level: no $description heard yet, and the rule names no unit",
    );
    check(map, "homie/5/3/air/hum", "0.5", "climate of aisle: 50.00 % humid");
    check_retained(map, "homie/5/3/$description", description, "");
    check(map, "homie/5/3/sensor/level", "212", "water of 3: 212.00 mm");
    check(map, "homie/5/3/air/temp", "50", "climate of aisle: 10.00 °C");
    check(
        map,
        "homie/5/3/air/temp",
        "warm",
        "refused: \"warm\" is not a number: a number is written like 212, -4.5 or 2.1e2",
    );
    check(
        map,
        "homie/5/3/sensor/battery",
        "97",
        "refused: sensor/battery: a property of datatype integer or float is wanted, and another datatype in its $description is there",
    );
    check_retained(map, "homie/5/3/sensor/level", "212", OLD);
    // Another device describes itself in other units; one in a unit that measures nothing of the kind.
    check(
        map,
        "homie/5/4/$description",
        r#"{"nodes":{"sensor":{"properties":{"level":{"datatype":"float","unit":"m"}}}}}"#,
        "",
    );
    check(map, "homie/5/4/sensor/level", "0.212", "water of 4: 212.00 mm");
    check(map, "homie/5/4/air/temp", "20", "refused: air/temp: the unit \"\" does not measure temperature");
    check(
        map,
        "homie/5/4/$description",
        "{",
        "refused: the payload is not JSON that can be read: EOF while parsing an object at line 1 column 1",
    );
    for (state, want) in [
        ("init", ""),
        ("ready", "water of 3: online\nclimate of aisle: online"),
        ("sleeping", "water of 3: online\nclimate of aisle: online"),
        ("disconnected", "water of 3: offline\nclimate of aisle: offline"),
        ("lost", "water of 3: offline\nclimate of aisle: offline"),
        ("", "water of 3: offline\nclimate of aisle: offline"),
        ("alert", "refused: \"alert\" is not a state: init, ready, disconnected, sleeping or lost"),
    ] {
        check_retained(map, "homie/5/3/$state", state, want);
    }
    for aside in
        ["homie/5/3/sensor/level/set", "homie/5/3/sensor/level/$target", "homie/5/3/sensor/gas", "homie/5/3/$log/warn"]
    {
        check(map, aside, "1", "");
    }
    // A device that took its description back has none.
    check(map, "homie/5/3/$description", "", "");
    check(
        map,
        "homie/5/3/sensor/level",
        "212",
        "refused: sensor/level: no $description heard yet, and the rule names no unit",
    );
}

#[test]
fn topics_without_a_rule() {
    let map = &mut good(
        "[[topics]]\ntopic = \"far/+/w\"\nbinds = \"stall\"\nformat = \"number\"\nquantity = \"level\"\nunit = \"mm\"",
    );
    for (topic, want) in [
        ("barn/stall/3/watr", Outcome::Unplaced),
        ("barn", Outcome::Unplaced),
        ("homie/5/x/$state", Outcome::Unplaced),
        ("barn/hub", Outcome::Ignored),
        ("barn/hub/availability", Outcome::Ignored),
        ("barn/hubcap", Outcome::Unplaced),
        ("barns/x", Outcome::Ignored),
        ("far/3/w/x", Outcome::Ignored),
        ("", Outcome::Ignored),
    ] {
        assert_eq!(map.decode(&heard(topic, b"1")), want, "{topic}");
    }
    assert_eq!(map.subscriptions(), ["barn/#", "far/+/w", "homie/5/#"]);
}

#[test]
fn the_first_rule_that_fits_has_the_topic() {
    let rule = |topic: &str, unit: &str| {
        format!(
            "[[topics]]\ntopic = \"{topic}\"\n{}format = \"number\"\nquantity = \"level\"\nunit = \"{unit}\"\n",
            if topic.contains('+') { "binds = \"stall\"\n" } else { "stall = \"3\"\n" }
        )
    };
    let map = &mut good(&(rule("barn/3/w", "cm") + &rule("barn/+/w", "mm")));
    check(map, "barn/3/w", "1", "water of 3: 10.00 mm");
    check(map, "barn/4/w", "1", "water of 4: 1.00 mm");
    // More topics than are remembered change nothing.
    for at in 0..5000 {
        check(map, &format!("barn/s{at}/w"), "1", &format!("water of s{at}: 1.00 mm"));
    }
    check(map, "barn/3/w", "1", "water of 3: 10.00 mm");
}
