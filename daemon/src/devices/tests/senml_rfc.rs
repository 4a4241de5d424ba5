//! SenML against the examples of RFC 8428 section 5.1, each by its section, and against its rules.

use super::*;
use crate::devices::senml::{Fault, Record, Value, resolve};

fn show(record: &Record) -> String {
    let value = match &record.value {
        Value::Number(number) => number.to_string(),
        Value::Text(text) => format!("{text:?}"),
        Value::Bool(yes) => yes.to_string(),
        Value::Data(data) => format!("data {data}"),
        Value::None => "nothing".to_owned(),
    };
    let sum = record.sum.map(|sum| format!(" sum {sum}")).unwrap_or_default();
    format!("{} {value} {} at {}{sum}", record.name, record.unit.as_deref().unwrap_or("-"), record.time)
}

fn check(section: &str, pack: &str, want: &[&str]) {
    let records = resolve(pack).unwrap_or_else(|fault| panic!("{section}: {fault}"));
    assert_eq!(records.iter().map(show).collect::<Vec<_>>(), want, "{section}");
}

#[test]
fn section_5_1_1_and_5_1_2_datapoints() {
    check(
        "5.1.1",
        r#"[{"n":"urn:dev:ow:10e2073a01080063","u":"Cel","v":23.1}]"#,
        &["urn:dev:ow:10e2073a01080063 23.1 Cel at 0"],
    );
    check(
        "5.1.2, voltage and current now",
        r#"[{"bn":"urn:dev:ow:10e2073a01080063:","n":"voltage","u":"V","v":120.1},
            {"n":"current","u":"A","v":1.2}]"#,
        &["urn:dev:ow:10e2073a01080063:voltage 120.1 V at 0", "urn:dev:ow:10e2073a01080063:current 1.2 A at 0"],
    );
    check(
        "5.1.2, the last seconds",
        r#"[{"bn":"urn:dev:ow:10e2073a0108006:","bt":1.276020076001e+09,"bu":"A","bver":5,"n":"voltage","u":"V","v":120.1},
            {"n":"current","t":-5,"v":1.2},
            {"n":"current","t":-4,"v":1.3},
            {"n":"current","t":-3,"v":1.4},
            {"n":"current","t":-2,"v":1.5},
            {"n":"current","t":-1,"v":1.6},
            {"n":"current","v":1.7}]"#,
        &[
            "urn:dev:ow:10e2073a0108006:voltage 120.1 V at 1276020076.001",
            "urn:dev:ow:10e2073a0108006:current 1.2 A at 1276020071.001",
            "urn:dev:ow:10e2073a0108006:current 1.3 A at 1276020072.001",
            "urn:dev:ow:10e2073a0108006:current 1.4 A at 1276020073.001",
            "urn:dev:ow:10e2073a0108006:current 1.5 A at 1276020074.001",
            "urn:dev:ow:10e2073a0108006:current 1.6 A at 1276020075.001",
            "urn:dev:ow:10e2073a0108006:current 1.7 A at 1276020076.001",
        ],
    );
    check(
        "5.1.2, a stream's records",
        r#"[{"bn":"urn:dev:ow:10e2073a01080063","bt":1.320067464e+09,"bu":"%RH","v":21.2},
            {"t":10,"v":21.3}]"#,
        &["urn:dev:ow:10e2073a01080063 21.2 %RH at 1320067464", "urn:dev:ow:10e2073a01080063 21.3 %RH at 1320067474"],
    );
}

#[test]
fn section_5_1_3_and_its_resolved_form_in_5_1_4_are_the_same() {
    let want = [
        "urn:dev:ow:10e2073a01080063 20 %RH at 1320067464",
        "urn:dev:ow:10e2073a01080063 24.30621 lon at 1320067464",
        "urn:dev:ow:10e2073a01080063 60.07965 lat at 1320067464",
        "urn:dev:ow:10e2073a01080063 20.3 %RH at 1320067524",
        "urn:dev:ow:10e2073a01080063 24.30622 lon at 1320067524",
        "urn:dev:ow:10e2073a01080063 60.07965 lat at 1320067524",
        "urn:dev:ow:10e2073a01080063 20.7 %RH at 1320067584",
        "urn:dev:ow:10e2073a01080063 24.30623 lon at 1320067584",
        "urn:dev:ow:10e2073a01080063 60.07966 lat at 1320067584",
        "urn:dev:ow:10e2073a01080063 98 %EL at 1320067614",
        "urn:dev:ow:10e2073a01080063 21.2 %RH at 1320067644",
        "urn:dev:ow:10e2073a01080063 24.30628 lon at 1320067644",
        "urn:dev:ow:10e2073a01080063 60.07967 lat at 1320067644",
    ];
    check(
        "5.1.3",
        r#"[{"bn":"urn:dev:ow:10e2073a01080063","bt":1.320067464e+09,"bu":"%RH","v":20},
            {"u":"lon","v":24.30621},{"u":"lat","v":60.07965},
            {"t":60,"v":20.3},{"u":"lon","t":60,"v":24.30622},{"u":"lat","t":60,"v":60.07965},
            {"t":120,"v":20.7},{"u":"lon","t":120,"v":24.30623},{"u":"lat","t":120,"v":60.07966},
            {"u":"%EL","t":150,"v":98},
            {"t":180,"v":21.2},{"u":"lon","t":180,"v":24.30628},{"u":"lat","t":180,"v":60.07967}]"#,
        &want,
    );
    check(
        "5.1.4",
        r#"[{"n":"urn:dev:ow:10e2073a01080063","u":"%RH","t":1.320067464e+09,"v":20},
            {"n":"urn:dev:ow:10e2073a01080063","u":"lon","t":1.320067464e+09,"v":24.30621},
            {"n":"urn:dev:ow:10e2073a01080063","u":"lat","t":1.320067464e+09,"v":60.07965},
            {"n":"urn:dev:ow:10e2073a01080063","u":"%RH","t":1.320067524e+09,"v":20.3},
            {"n":"urn:dev:ow:10e2073a01080063","u":"lon","t":1.320067524e+09,"v":24.30622},
            {"n":"urn:dev:ow:10e2073a01080063","u":"lat","t":1.320067524e+09,"v":60.07965},
            {"n":"urn:dev:ow:10e2073a01080063","u":"%RH","t":1.320067584e+09,"v":20.7},
            {"n":"urn:dev:ow:10e2073a01080063","u":"lon","t":1.320067584e+09,"v":24.30623},
            {"n":"urn:dev:ow:10e2073a01080063","u":"lat","t":1.320067584e+09,"v":60.07966},
            {"n":"urn:dev:ow:10e2073a01080063","u":"%EL","t":1.320067614e+09,"v":98},
            {"n":"urn:dev:ow:10e2073a01080063","u":"%RH","t":1.320067644e+09,"v":21.2},
            {"n":"urn:dev:ow:10e2073a01080063","u":"lon","t":1.320067644e+09,"v":24.30628},
            {"n":"urn:dev:ow:10e2073a01080063","u":"lat","t":1.320067644e+09,"v":60.07967}]"#,
        &want,
    );
}

#[test]
fn sections_5_1_5_to_5_1_7() {
    check(
        "5.1.5 multiple data types",
        r#"[{"bn":"urn:dev:ow:10e2073a01080063:","n":"temp","u":"Cel","v":23.1},
            {"n":"label","vs":"Machine Room"},
            {"n":"open","vb":false},
            {"n":"nfc-reader","vd":"aGkgCg"}]"#,
        &[
            "urn:dev:ow:10e2073a01080063:temp 23.1 Cel at 0",
            "urn:dev:ow:10e2073a01080063:label \"Machine Room\" - at 0",
            "urn:dev:ow:10e2073a01080063:open false - at 0",
            "urn:dev:ow:10e2073a01080063:nfc-reader data aGkgCg - at 0",
        ],
    );
    check(
        "5.1.6 collection of resources",
        r#"[{"bn":"2001:db8::2/","bt":1.320078429e+09,"n":"temperature","u":"Cel","v":25.2},
            {"n":"humidity","u":"%RH","v":30},
            {"bn":"2001:db8::1/","n":"temperature","u":"Cel","v":12.3},
            {"n":"humidity","u":"%RH","v":67}]"#,
        &[
            "2001:db8::2/temperature 25.2 Cel at 1320078429",
            "2001:db8::2/humidity 30 %RH at 1320078429",
            "2001:db8::1/temperature 12.3 Cel at 1320078429",
            "2001:db8::1/humidity 67 %RH at 1320078429",
        ],
    );
    check(
        "5.1.7 setting an actuator",
        r#"[{"bn":"urn:dev:ow:10e2073a01080063:"},
            {"n":"temp","u":"Cel","v":23.1},
            {"n":"heat","u":"/","v":1},
            {"n":"fan","u":"/","v":0}]"#,
        &[
            "urn:dev:ow:10e2073a01080063:temp 23.1 Cel at 0",
            "urn:dev:ow:10e2073a01080063:heat 1 / at 0",
            "urn:dev:ow:10e2073a01080063:fan 0 / at 0",
        ],
    );
    check(
        "5.1.7 lights on",
        r#"[{"bt":1.320078429e+09,"bu":"/","n":"2001:db8::3","v":1},{"n":"2001:db8::4","v":1}]"#,
        &["2001:db8::3 1 / at 1320078429", "2001:db8::4 1 / at 1320078429"],
    );
    check(
        "5.1.7 lights off",
        r#"[{"bt":1.320078429e+09,"bu":"/","n":"2001:db8::3","v":0.5},{"n":"2001:db8::4","v":0.5},
            {"n":"2001:db8::3","t":0.1,"v":0},{"n":"2001:db8::4","t":0.1,"v":0}]"#,
        &[
            "2001:db8::3 0.5 / at 1320078429",
            "2001:db8::4 0.5 / at 1320078429",
            "2001:db8::3 0 / at 1320078429.1",
            "2001:db8::4 0 / at 1320078429.1",
        ],
    );
}

#[test]
fn base_fields_add_up_and_stay_until_given_anew() {
    check("empty", "[]", &[]);
    check("bv is added", r#"[{"bn":"a","bv":20,"v":1.5},{"v":-1}]"#, &["a 21.5 - at 0", "a 19 - at 0"]);
    check("bv alone", r#"[{"bn":"a","bv":20},{"n":"b"}]"#, &["a 20 - at 0", "ab 20 - at 0"]);
    check("bv leaves texts alone", r#"[{"bn":"a","bv":20,"vs":"x"}]"#, &["a \"x\" - at 0"]);
    check(
        "bs is added",
        r#"[{"n":"a","bs":100,"s":5},{"n":"b","v":1}]"#,
        &["a nothing - at 0 sum 105", "b 1 - at 0 sum 100"],
    );
    check(
        "bu is overridden",
        r#"[{"bn":"a","bu":"Cel","v":1},{"u":"K","v":2},{"v":3}]"#,
        &["a 1 Cel at 0", "a 2 K at 0", "a 3 Cel at 0"],
    );
    check("unknown fields are left out", r#"[{"n":"a","v":1,"x":{"y":[1]},"note":"hi"}]"#, &["a 1 - at 0"]);
    check("one version", r#"[{"bver":5,"n":"a","v":1},{"bver":5,"n":"b","v":1}]"#, &["a 1 - at 0", "b 1 - at 0"]);
    check("RFC 9100: secondary units", r#"[{"bver":26,"n":"a","u":"mm","v":1}]"#, &["a 1 mm at 0"]);
    let update = resolve(r#"[{"n":"a","v":1,"ut":60}]"#).expect("a good pack");
    assert_eq!(update[0].update_time, Some(60.0));
}

#[test]
fn packs_against_the_rules() {
    for (pack, want) in [
        (r#"[{"bver":11,"n":"a","v":1}]"#, Fault::Version(11)),
        (r#"[{"bver":42,"n":"a","v":1}]"#, Fault::Version(42)),
        (r#"[{"bver":9,"n":"a","v":1},{"bver":10,"n":"a","v":1}]"#, Fault::MixedVersions(2)),
        (r#"[{"n":"a","v":1},{"bver":5,"n":"a","v":1}]"#, Fault::MixedVersions(2)),
        (r#"[{"n":"a","v":1,"sec_":1}]"#, Fault::MustUnderstand { at: 1, field: "sec_".into() }),
        (r#"[{"v":1}]"#, Fault::Name { at: 1, name: String::new() }),
        (r#"[{"n":"-a","v":1}]"#, Fault::Name { at: 1, name: "-a".into() }),
        (r#"[{"n":"a b","v":1}]"#, Fault::Name { at: 1, name: "a b".into() }),
        (r#"[{"bn":"ä","n":"a","v":1}]"#, Fault::Name { at: 1, name: "äa".into() }),
        (r#"[{"n":"a"}]"#, Fault::Values(1)),
        (r#"[{"n":"a","v":1},{"n":"b","v":1,"vs":"x"}]"#, Fault::Values(2)),
        (r#"[{"n":"a","vb":true,"vd":""}]"#, Fault::Values(1)),
        (r#"[{"n":"a","bv":1.7e308,"v":1.7e308}]"#, Fault::Overflow(1)),
        (r#"[{"n":"a","bt":1.7e308,"t":1.7e308,"v":1}]"#, Fault::Overflow(1)),
    ] {
        assert_eq!(resolve(pack), Err(want), "{pack}");
    }
    for (pack, want) in [
        (r#"{"n":"a","v":1}"#, "expected a sequence"),
        (r#"[1]"#, "invalid type"),
        (r#"[{"n":"a","v":"1"}]"#, "invalid type: string"),
        (r#"[{"n":"a","v":1,"v":2}]"#, "duplicate field `v`"),
        (r#"[{"bn":"a","bn":"b","v":2}]"#, "duplicate field `bn`"),
        (r#"[{"bver":-1,"n":"a","v":1}]"#, "invalid value"),
        (r#"[{"bver":1.5,"n":"a","v":1}]"#, "invalid type: floating point"),
        (r#"[{"n":7,"v":1}]"#, "invalid type: integer"),
        (r#"[{"n":"a","v":1e999}]"#, "out of range"),
        (r#"[{"n":"a","v":NaN}]"#, "expected value"),
        (r#"[{"n":"a","v":1}"#, "EOF"),
    ] {
        let Err(Fault::NotAPack(told)) = resolve(pack) else { panic!("{pack} was taken") };
        assert!(told.contains(want), "{pack}: {told}");
    }
}

#[test]
fn a_rule_takes_what_it_knows_of_a_pack() {
    let map = &mut good(
        r#"
        [[topics]]
        topic = "senml/+"
        binds = "stall"
        place = "aisle"
        format = "senml"
        of = "water"
        names = { level = "level", temp = "temperature", "urn:dev:ow:1" = "humidity", batt = "battery" }
        "#,
    );
    let mut check = |now: WallClock, retained: bool, pack: &str, want: &str| {
        let heard = Heard { topic: "senml/3", payload: pack.as_bytes(), retained, now };
        assert_eq!(said(&decode(map, &heard)), want, "{pack}");
    };
    let noon = WallClock::Set(NOON);
    check(noon, false, r#"[{"n":"level","u":"m","v":0.212}]"#, "water of 3: 212.00 mm");
    check(noon, false, r#"[{"bn":"urn:dev:ow:10e2:","n":"level","u":"mm","v":212}]"#, "water of 3: 212.00 mm");
    check(noon, false, r#"[{"bn":"urn:dev:ow:10e2_","n":"level","u":"cm","v":21.2}]"#, "water of 3: 212.00 mm");
    check(noon, false, r#"[{"bn":"2001:db8::2/","n":"temp","u":"K","v":273.15}]"#, "climate of aisle: 0.00 °C");
    check(noon, false, r#"[{"n":"urn:dev:ow:1","u":"/","v":0.5}]"#, "climate of aisle: 50.00 % humid");
    check(noon, false, r#"[{"n":"batt","u":"%EL","v":98}]"#, "water of 3: 98.00 % battery");
    // Times: absolute, before now, now.
    check(
        noon,
        false,
        r#"[{"bn":"x:","bt":1320067464,"n":"temp","u":"Cel","v":23.1},{"t":0.5,"n":"temp","u":"Cel","v":23.2}]"#,
        "climate of aisle: 23.10 °C at 2011-10-31T13:24:24.000Z\nclimate of aisle: 23.20 °C at 2011-10-31T13:24:24.500Z",
    );
    check(
        noon,
        false,
        r#"[{"n":"temp","t":-60,"u":"Cel","v":1},{"n":"temp","t":0,"u":"Cel","v":2}]"#,
        "climate of aisle: 1.00 °C at 2026-06-18T11:59:00.000Z\nclimate of aisle: 2.00 °C",
    );
    check(
        noon,
        false,
        r#"[{"n":"temp","t":268435456,"u":"Cel","v":1}]"#,
        "climate of aisle: 1.00 °C at 1978-07-04T21:24:16.000Z",
    );
    check(
        noon,
        false,
        r#"[{"n":"temp","t":268435455,"u":"Cel","v":1}]"#,
        "climate of aisle: 1.00 °C at 2034-12-20T09:24:15.000Z",
    );
    check(WallClock::Unset, false, r#"[{"n":"temp","t":-60,"u":"Cel","v":1}]"#, "climate of aisle: 1.00 °C");
    check(
        noon,
        false,
        r#"[{"n":"temp","t":-1e12,"u":"Cel","v":1}]"#,
        r#"refused: "-1000000000000" is not a time as the rule says it is written"#,
    );
    check(
        noon,
        true,
        r#"[{"n":"temp","u":"Cel","v":1}]"#,
        "refused: a retained value without a time of its own: nobody knows how old it is, so it waits for the next one",
    );
    check(
        noon,
        true,
        r#"[{"n":"temp","t":1320067464,"u":"Cel","v":1}]"#,
        "climate of aisle: 1.00 °C at 2011-10-31T13:24:24.000Z",
    );
    // What does not fit, beside what does.
    check(
        noon,
        false,
        r#"[{"n":"temp","u":"F","v":70},{"n":"level","u":"m","v":1}]"#,
        "water of 3: 1000.00 mm\nrefused: temp: the unit \"F\" does not measure temperature",
    );
    check(noon, false, r#"[{"n":"temp","v":70}]"#, "refused: temp: the unit \"\" does not measure temperature");
    check(noon, false, r#"[{"n":"temp","vs":"warm"}]"#, "refused: temp: a number is wanted, and a text is there");
    check(noon, false, r#"[{"n":"temp","vb":true}]"#, "refused: temp: a number is wanted, and true or false is there");
    check(noon, false, r#"[{"n":"temp","s":12}]"#, "refused: temp: a number is wanted, and a sum alone is there");
    check(
        noon,
        false,
        r#"[{"n":"ground_level","u":"m","v":1},{"n":"wind","u":"m/s","v":1}]"#,
        "refused: none of the rule's pointers leads to a value (ground_level, wind)",
    );
    check(
        noon,
        false,
        r#"[{"n":"temp","u":"Cel","v":1},{"n":"temp","u":"Cel","v":1,"sig_":0}]"#,
        "refused: SenML: record 2: the field \"sig_\" must be understood, and is not",
    );
}
