//! Every fault in a rule is named with its key, what stands there and what is allowed.

use super::*;

/// Checks the complaints about one rule, as `key = value: allowed is …`.
fn check(rule: &str, want: &[&str]) {
    let (_, complaints) = compile(&format!("[[topics]]\n{rule}"));
    let got: Vec<_> = complaints.iter().map(ToString::to_string).collect();
    assert_eq!(got, want, "{rule}");
}

#[test]
fn unknown_keys_are_refused() {
    for (toml, key) in [
        ("[[topics]]\ntopic = \"a\"\ntopik = \"b\"", "topik"),
        ("[[topics]]\nfields = [{ pointer = \"/t\", quantity = \"level\", unit = \"mm\", scale = 2 }]", "scale"),
        ("[[topics]]\ntime = { pointer = \"/t\", unit = \"s\", zone = \"UTC\" }", "zone"),
        ("[[topics]]\nproperties = [{ property = \"a/b\", quantity = \"level\", units = \"mm\" }]", "units"),
    ] {
        let told = read(toml).expect_err(toml).to_string();
        assert!(told.contains(key), "{told}");
    }
}

#[test]
fn topics_and_formats() {
    let number = "format = \"number\"\nquantity = \"level\"\nunit = \"mm\"\n";
    for topic in ["", "a//b", "/a", "a/", "a/#", "#", "a/b+", "$SYS/x", "a\\u0007"] {
        let (_, complaints) = compile(&format!("[[topics]]\ntopic = \"{topic}\"\nstall = \"3\"\n{number}"));
        assert_eq!(complaints.len(), 1, "{topic}");
        assert_eq!(complaints[0].key, "topics[0].topic", "{topic}");
    }
    check(
        "topic = \"a\"\nstall = \"3\"\nformat = \"xml\"",
        &["topics[0].format = \"xml\": allowed is number, json, senml, presence, tap or homie"],
    );
    check(
        "topic = \"homie/4/x\"\nstall = \"3\"\nformat = \"homie\"\nproperties = [{ property = \"a/b\", quantity = \"level\" }]",
        &[
            "topics[0].topic = \"homie/4/x\": allowed is a Homie 5 device: <domain>/5/<device>, like homie/5/stall-3 or homie/5/+",
        ],
    );
    for (first, second) in [("a/b", "a/b"), ("a/+", "a/b"), ("+/b", "a/b")] {
        let rule = |topic: &str| format!("[[topics]]\ntopic = \"{topic}\"\nstall = \"3\"\n{number}");
        let (_, complaints) = compile(&(rule(first) + &rule(second)));
        let told: Vec<_> = complaints.iter().map(ToString::to_string).collect();
        let allowed = "one that topics[0] does not have already; or put this rule before it";
        assert_eq!(told, [format!("topics[1].topic = {second:?}: allowed is {allowed}")], "{first} {second}");
        assert_eq!(compile(&(rule("a/b") + &rule("a/+"))).1, [], "the other way round both have topics");
    }
    check(
        &format!("topic = \"barn/hub/x\"\nstall = \"3\"\n{number}"),
        &["topics[0].topic = \"barn/hub/x\": allowed is a topic outside of barn/hub, which is the hub's own"],
    );
    let mut complaints = Vec::new();
    topic_map("barn/#", &["homie/".to_owned()], &[], &mut complaints);
    let keys: Vec<_> = complaints.iter().map(|complaint| complaint.key.as_str()).collect();
    assert_eq!(keys, ["mqtt.prefix", "mqtt.watch[0]"]);
}

#[test]
fn bindings() {
    let number = "format = \"number\"\nquantity = \"level\"\nunit = \"mm\"";
    for (rule, want) in [
        ("topic = \"a/+\"\nbinds = \"horse\"", "binds = \"horse\": allowed is stall, bucket, place or reader"),
        (
            "topic = \"a\"\nbinds = \"stall\"",
            "plus = \"\": allowed is left out together with binds: the topic has no +",
        ),
        (
            "topic = \"a/+\"\nbinds = \"stall\"\nplus = 2",
            "plus = \"2\": allowed is 1, or left out: the topic has one +",
        ),
        (
            "topic = \"+/+\"\nbinds = \"stall\"",
            "plus = \"\": allowed is which of the topic's 2 + names the stall: 1 to 2",
        ),
        (
            "topic = \"+/+\"\nbinds = \"stall\"\nplus = 0",
            "plus = \"0\": allowed is which of the topic's 2 + names the stall: 1 to 2",
        ),
        ("topic = \"a/+\"\nplus = 1", "binds = \"\": allowed is stall, bucket, place or reader, since plus is given"),
        (
            "topic = \"a/+\"\nbinds = \"stall\"\nstall = \"3\"",
            "binds = \"stall\": allowed is the + or the fixed stall, not both",
        ),
        ("topic = \"a/+\"", "binds = \"\": allowed is stall, with a + in the topic; or a fixed one: stall = \"...\""),
        (
            "topic = \"a/+\"\nbinds = \"place\"",
            "binds = \"\": allowed is stall, with a + in the topic; or a fixed one: stall = \"...\"",
        ),
        ("topic = \"a\"\nstall = \" \"", "stall = \" \": allowed is a name of 1 to 64 characters"),
        (
            "topic = \"a\"\nstall = \"3\"\nof = \"climate\"",
            "of = \"climate\": allowed is left out: level can only be of one kind",
        ),
        ("topic = \"a\"\nstall = \"3\"\nof = \"air\"", "of = \"air\": allowed is water or climate"),
    ] {
        check(&format!("{rule}\n{number}"), &[&format!("topics[0].{want}")]);
    }
    let battery = "format = \"number\"\nquantity = \"battery\"\nunit = \"%\"";
    check(&format!("topic = \"a\"\nstall = \"3\"\n{battery}"), &[]);
    check(&format!("topic = \"a\"\nplace = \"aisle\"\n{battery}"), &[]);
    check(
        &format!("topic = \"a\"\nplace = \"aisle\"\nstall = \"3\"\n{battery}"),
        &["topics[0].of = \"\": allowed is water or climate, since the rule binds a stall and a place"],
    );
    check(
        "topic = \"a\"\nformat = \"presence\"",
        &["topics[0].binds = \"\": allowed is stall or place, or a fixed stall or place"],
    );
    check(
        "topic = \"a/+\"\nbinds = \"stall\"\nformat = \"tap\"",
        &["topics[0].binds = \"stall\": allowed is reader, with a + in the topic; or a fixed one: reader = \"...\""],
    );
}

#[test]
fn all_faults_of_a_file_are_told_at_once() {
    let (_, complaints) = compile(
        r#"
        [[topics]]
        topic = "a"
        stall = "3"
        format = "number"
        quantity = "depth"
        unit = "mm"
        [[topics]]
        topic = "b"
        stall = "3"
        place = "aisle"
        format = "json"
        unit = "mm"
        fields = [
            { pointer = "t", quantity = "temperature", unit = "celsius" },
            { pointer = "/a~2", quantity = "humidity", unit = "%" },
            { pointer = "/b", quantity = "wind", unit = "m" },
        ]
        time = { pointer = "/ts", unit = "min" }
        [[topics]]
        topic = "c"
        reader = "door"
        format = "tap"
        online = "on"
        time = { pointer = "/ts", unit = "s" }
        [[topics]]
        topic = "d"
        stall = "3"
        format = "presence"
        online = "x"
        offline = "x"
        pointer = "x"
        [[topics]]
        topic = "homie/5/e"
        stall = "3"
        format = "homie"
        properties = [{ property = "level", quantity = "level", unit = "C" }]
        [[topics]]
        topic = "f"
        stall = "3"
        format = "senml"
        names = { a = "depth", b = "temperature" }
        [[topics]]
        topic = "g"
        stall = "3"
        format = "senml"
        [[topics]]
        topic = "h"
        stall = "3"
        format = "json"
        [[topics]]
        topic = "homie/5/i"
        stall = "3"
        format = "homie"
        "#,
    );
    let got: Vec<_> = complaints.iter().map(ToString::to_string).collect();
    assert_eq!(
        got,
        [
            "topics[0].quantity = \"depth\": allowed is level, temperature, humidity, battery or signal",
            "topics[1].unit = \"given\": allowed is only where format is number",
            "topics[1].fields[0].pointer = \"t\": allowed is a JSON Pointer (RFC 6901): empty, or like /batt/pct; ~0 stands for ~ and ~1 for /",
            "topics[1].fields[0].unit = \"celsius\": allowed is for temperature: C, F or K",
            "topics[1].fields[1].pointer = \"/a~2\": allowed is a JSON Pointer (RFC 6901): empty, or like /batt/pct; ~0 stands for ~ and ~1 for /",
            "topics[1].fields[2].quantity = \"wind\": allowed is level, temperature, humidity, battery or signal",
            "topics[1].time.unit = \"min\": allowed is s or ms since 1970, or rfc3339",
            "topics[2].online = \"given\": allowed is only where format is presence",
            "topics[2].badge = \"\": allowed is a JSON Pointer to the badge, since time has one",
            "topics[3].offline = \"x\": allowed is a word, and another one than online",
            "topics[3].pointer = \"x\": allowed is a JSON Pointer (RFC 6901): empty, or like /batt/pct; ~0 stands for ~ and ~1 for /",
            "topics[4].properties[0].property = \"level\": allowed is node/property",
            "topics[4].properties[0].unit = \"C\": allowed is for level: mm, cm, m, in or ft",
            "topics[5].names.a = \"depth\": allowed is level, temperature, humidity, battery or signal",
            "topics[5].binds = \"\": allowed is place, with a + in the topic; or a fixed one: place = \"...\"",
            "topics[6].names = \"\": allowed is one name or more: { level = \"level\", temp = \"temperature\" }",
            "topics[7].fields = \"\": allowed is one field or more: { pointer = \"/t\", quantity = \"temperature\", unit = \"C\" }",
            "topics[8].properties = \"\": allowed is one or more: { property = \"sensor/level\", quantity = \"level\" }",
        ]
    );
}

#[test]
fn letters_of_names_keep_their_case() {
    let map = &mut good(
        "[[topics]]\ntopic = \"Barn/X\"\nstall = \"East\"\nformat = \"senml\"\nnames = { Level = \"level\" }",
    );
    let decoded = decode(map, &heard("Barn/X", br#"[{"n":"Level","u":"m","v":1}]"#));
    assert_eq!(said(&decoded), "water of East: 1000.00 mm");
}
