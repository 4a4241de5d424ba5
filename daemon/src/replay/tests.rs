//! A small recorded day: exactly what it says, the same as a running barn says, and what other limits would have said. And
//! every row that can not be read, by its words.

use std::fs;
use std::path::{Path, PathBuf};

use bellmare_barn::time::Wall;
use bellmare_barn::units::Minutes;

use super::recorded::Row;
use super::*;
use crate::exchange;

fn demo_data(file: &str) -> PathBuf {
    Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/../demo-data")).join(file)
}

fn recorded() -> Vec<PathBuf> {
    ["recorded/water.csv", "recorded/air.csv"].map(demo_data).to_vec()
}

fn settings() -> Settings {
    Settings::load(Some(&demo_data("settings.toml")), []).expect("the settings of the invented barn")
}

fn book() -> Book {
    exchange::read_book(&demo_data("")).expect("the invented barn")
}

/// What is said of these files, event by event, and in all.
fn play(settings: &Settings, files: &[PathBuf]) -> (Vec<Event>, Summary) {
    let mut said = Vec::new();
    let summary = replay(settings, book(), files, |event| {
        said.push(event.clone());
        Ok(())
    });
    (said, summary.expect("the files are sound"))
}

fn lines(said: &[Event], settings: &Settings) -> Vec<String> {
    said.iter().map(|event| tell::line(event, settings.limits.zone)).collect()
}

#[test]
fn a_recorded_day_says_exactly_this() {
    let settings = settings();
    assert_eq!(check(&recorded()).expect("sound files"), 68);
    let (said, summary) = play(&settings, &recorded());
    let text = lines(&said, &settings).join("\n") + "\n" + &tell::closing(&summary, settings.limits.zone);
    // Made by `bellmare-hub replay` itself, and read line by line against the recorded rows.
    assert_eq!(text, fs::read_to_string(demo_data("recorded/said.txt")).expect("what was said"));
    let objects: Vec<_> = said.iter().map(|event| tell::object(event, settings.limits.zone)).collect();
    assert_eq!(objects[1]["local"], "2026-06-18 08:32:32 EDT");
    assert_eq!(tell::closing_object(&summary)["refused"]["barn/stall/1/water"]["count"], 1);
}

/// The rows of a file as they were written, by a reader of another make.
fn rows(path: &Path) -> Vec<(Wall, String, String)> {
    let mut reader = csv::Reader::from_path(path).expect("a file");
    let rows = reader.deserialize::<(chrono::DateTime<chrono::Utc>, String, String)>();
    rows.map(|row| row.expect("a row")).map(|(at, topic, said)| (Wall(at.timestamp_millis()), topic, said)).collect()
}

#[test]
fn a_running_barn_that_nobody_wakes_says_the_same() {
    let settings = settings();
    let mut all: Vec<_> = recorded().iter().flat_map(|path| rows(path)).collect();
    all.sort_by_key(|(at, ..)| *at);
    let mut topics = topic_map("barn", &settings.mqtt.watch, &settings.topics, &mut Vec::new());
    let mut barn = Barn::new();
    // It runs for a while already, and hears of time only when something happens.
    let at = |wall: Wall| Now { mono: Mono((wall.0 - all[0].0.0) as u64 + 99), wall: WallClock::Set(wall) };
    let limits = Arc::new(settings.limits.clone());
    for input in [Input::Started, Input::Limits(limits), Input::Book(Arc::new(book())), Input::Broker(Line::Up)] {
        barn.step(at(all[0].0), input);
    }
    let mut said = Vec::new();
    for (wall, topic, payload) in &all {
        let now = WallClock::Set(*wall);
        let heard = Heard { topic, payload: payload.as_bytes(), retained: false, now };
        let Outcome::Placed(decoded) = topics.decode(&heard) else { continue };
        for input in decoded.inputs {
            for effect in barn.step(at(*wall), input) {
                match effect {
                    Effect::Raise(alarm) => said.push((true, alarm.id, alarm.raised.wall, alarm.what.to_string())),
                    Effect::End(alarm) => said.push((false, alarm.id, alarm.raised.wall, alarm.what.to_string())),
                    _ => {}
                }
            }
        }
    }
    let (replayed, _) = play(&settings, &recorded());
    let replayed: Vec<_> = replayed
        .into_iter()
        .map(|Event { turn, alarm, .. }| (turn != Turn::Ended, alarm.id, alarm.raised.wall, alarm.what.to_string()))
        .collect();
    assert_eq!(replayed.len(), 8);
    assert_eq!(replayed, said);
}

#[test]
fn other_limits_would_have_said_something_else() {
    let mut patient = settings();
    patient.limits.water.empty_alarm_after = Minutes(30);
    patient.limits.heat.critical = 160.0;
    let (said, summary) = play(&patient, &recorded());
    let lines = lines(&said, &patient);
    assert!(!lines.iter().any(|line| line.contains("08:3") && line.contains("Moss")), "{lines:?}");
    assert_eq!(
        lines.last().map(String::as_str),
        Some("2026-06-18 09:57:32 EDT raised high   Moss, stall 3: bucket empty and not refilled")
    );
    assert_eq!(summary.raised - summary.ended, summary.standing.len() as u64);
}

#[test]
fn files_are_merged_in_order_of_time_whatever_their_number_and_turn() {
    let folder = tempfile::tempdir().expect("a folder");
    let all: Vec<(usize, String)> =
        (0..60).map(|i| (i % 3, format!("2026-06-18T08:{:02}:00Z,t{i},\"{i},\n\"\"x\"\"\"\r\n", i / 2))).collect();
    let files: Vec<PathBuf> = (0..3).map(|n| folder.path().join(format!("{n}.csv"))).collect();
    for (n, file) in files.iter().enumerate() {
        let rows: String = all.iter().filter(|(of, _)| *of == n).map(|(_, row)| row.as_str()).collect();
        fs::write(file, format!("\u{feff}time,topic,payload\r\n\r\n{rows}")).expect("a file");
    }
    let mut merged = Merged::open(&files).unwrap_or_else(|_| panic!("sound files"));
    let mut times = Vec::new();
    let mut seen = Vec::new();
    while let Ok(Some(Row { time, topic, payload })) = merged.next_row() {
        let number: usize = topic[1..].parse().expect("a number");
        assert_eq!(payload, format!("{number},\n\"x\"").as_bytes());
        times.push((time, number % 3));
        seen.push(number);
    }
    assert!(times.is_sorted(), "of the same time, by the file's turn");
    seen.sort_unstable();
    assert_eq!(seen, (0..60).collect::<Vec<_>>());
}

/// A file of these rows under the headings is refused with exactly this.
#[track_caller]
fn refuses(text: &str, told: &[&str]) {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("r.csv");
    fs::write(&path, text).expect("a file");
    let said = match check(&[path]) {
        Ok(rows) => vec![format!("{rows} rows")],
        Err(ReplayError::Faults { list, .. }) => list.iter().map(ToString::to_string).collect(),
        Err(other) => panic!("{other}"),
    };
    let prefix = format!("{}/", folder.path().display());
    let said: Vec<&str> = said.iter().map(|line| line.trim_start_matches(prefix.as_str())).collect();
    assert_eq!(said, told, "{text}");
}

#[test]
fn a_row_that_can_not_be_read_is_told_with_line_column_and_what_is_allowed() {
    const HEAD: &str = "time,topic,payload\n";
    const TIMES: &str = "RFC 3339 with its offset, such as 2026-06-18T08:00:00-04:00 or 2026-06-18T12:00:00.250Z";
    let row = |row: &str| format!("{HEAD}2026-06-18T08:00:00Z,a,1\n\n{row}\n2026-06-18T09:00:00Z,a,1");
    refuses(&row("2026-06-18T08:00:00Z,a,"), &["3 rows"]);
    refuses("", &["r.csv line 1: \"\": allowed is the headings time,topic,payload"]);
    refuses(
        "topic,time,payload\n",
        &["r.csv line 1: \"topic,time,payload\": allowed is the headings time,topic,payload"],
    );
    for time in ["2026-06-18 8:00", "2026-06-18T08:00:00", "1969-12-31T23:59:59Z", "", "1781784000"] {
        let fault = format!("r.csv line 4, column time: {time:?}: allowed is {TIMES}");
        refuses(&row(&format!("{time},a,1")), &[&fault]);
    }
    let earlier = "r.csv line 4, column time: \"2026-06-18T07:59:59Z\": allowed is a time not before the \
                   2026-06-18T08:00:00.000Z of line 2: a file is in order of time";
    refuses(&row("2026-06-18T07:59:59Z,a,1"), &[earlier]);
    for topic in ["", "barn/+", "barn/#"] {
        let fault = format!(
            "r.csv line 4, column topic: {topic:?}: allowed is the topic of a message, in UTF-8, without + and #"
        );
        refuses(&row(&format!("2026-06-18T08:00:00Z,{topic},1")), &[&fault]);
    }
    let cells = "allowed is 3, time,topic,payload; a payload with a comma is quoted";
    refuses(&row("2026-06-18T08:00:00Z,a"), &[&format!("r.csv line 4: 2 cells: {cells}")]);
    refuses(&row("2026-06-18T08:00:00Z,a,1,2"), &[&format!("r.csv line 4: 4 cells: {cells}")]);
    let quotes = "allowed is a quote at both ends of a cell, with nothing outside of them, and two for one inside";
    let out_of_place = format!("r.csv line 4, column payload: has a quote out of place: {quotes}");
    refuses(&row("2026-06-18T08:00:00Z,a,{\"t\":1}"), &[&out_of_place]);
    refuses(&row("2026-06-18T08:00:00Z,a,\"x\"y"), &[&out_of_place]);
    let never = format!("r.csv line 4: a quote is never closed: {quotes}");
    refuses(&row("2026-06-18T08:00:00Z,a,\"x"), &[&never]);
}

#[test]
fn all_faults_are_told_up_to_a_point_and_a_file_that_is_not_there_is_named() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("r.csv");
    fs::write(&path, format!("time,topic,payload\n{}", "x,a,1\n".repeat(25))).expect("a file");
    let faults = check(&[path.clone(), path]).expect_err("no row is sound").to_string();
    assert_eq!(faults.lines().count(), 22, "{faults}");
    assert!(faults.ends_with("and 30 more"), "{faults}");
    let missing = check(&[folder.path().join("none.csv")]).expect_err("no file");
    assert!(missing.to_string().ends_with("none.csv"), "{missing}");
}

#[test]
fn no_rows_say_nothing() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("r.csv");
    fs::write(&path, "time,topic,payload\n").expect("a file");
    let (said, summary) = play(&settings(), &[path]);
    assert_eq!((said, &summary), (Vec::new(), &Summary::default()));
    let text = tell::closing(&summary, settings().limits.zone);
    assert_eq!(
        text,
        "0 messages.\n0 alarms raised, 0 ended, 0 standing at the end.\n0 messages refused.\n0 topics that no rule places.\n"
    );
}
