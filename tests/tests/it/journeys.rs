//! From a sensor's publish to what a person sees, through the real hub and real brokers.

use std::process::Command;
use std::time::{Duration, Instant};

use bellmare_barn::board::{AlarmWhat, Board, HeatBand, HeatView, LineView, WaterState, WaterView};
use bellmare_barn::effect::Answer;
use bellmare_barn::refusal::Because;
use bellmare_tests::board::{here, now, shows, stall, stream};
use bellmare_tests::client::publish;
use bellmare_tests::hub::{Broker, Hub};
use bellmare_tests::mosquitto::Mosquitto;
use bellmare_tests::wait::until;
use serde_json::json;

const SECOND: Duration = Duration::from_secs(1);
/// Long enough for a machine that is busy with other tests.
const SOON: Duration = Duration::from_secs(5);
/// Empty is an alarm at once: the wait for it is the barn's own, and is tried there in simulated time.
const AT_ONCE: &str = "[limits.water]\nempty_alarm_after_min = 0";

fn empty_alarm(board: &Board, number: &str) -> bool {
    board.alarms.iter().any(|alarm| {
        !alarm.over && matches!(&alarm.what, AlarmWhat::BucketEmpty { stall, .. } if stall.as_str() == number)
    })
}

fn a_bucket_runs_empty_and_is_filled(hub: &Hub) {
    publish(hub.mqtt, "barn/stall/2/water", "240");
    shows(hub, "stall 2 is known", SOON, |board| match stall(board, "2")?.water {
        WaterView::Known { percent: 80.0, state: WaterState::Enough, .. } => Some(()),
        _ => None,
    });
    let boards = stream(hub);
    let published = Instant::now();
    publish(hub.mqtt, "barn/stall/2/water", "3");
    let seen = loop {
        let (came, board) = boards.recv_timeout(Duration::from_secs(5)).expect("a board with the alarm");
        if empty_alarm(&board, "2") {
            assert!(matches!(
                stall(&board, "2").expect("stall 2").water,
                WaterView::Known { state: WaterState::Empty, .. }
            ));
            break came.duration_since(published);
        }
    };
    assert!(seen < SECOND, "the board said so after {seen:?}");
    assert_eq!(standing(hub), 1);
    publish(hub.mqtt, "barn/stall/2/water", "285");
    shows(hub, "the alarm ends", SOON, |board| (!empty_alarm(board, "2")).then_some(()));
    assert_eq!(standing(hub), 0);
}

/// How many alarms stand, by the metrics.
fn standing(hub: &Hub) -> i64 {
    let text = ureq::get(hub.url("/metrics")).call().and_then(|mut page| page.body_mut().read_to_string());
    let text = text.expect("metrics");
    let value = text.lines().find_map(|line| line.strip_prefix("bellmare_alarms_standing "));
    value.and_then(|count| count.parse().ok()).expect("a count of alarms")
}

#[test]
fn a_bucket_runs_empty_over_the_embedded_broker() {
    let mut hub = Hub::new(4, Broker::Embedded, AT_ONCE);
    a_bucket_runs_empty_and_is_filled(hub.start());
}

#[test]
fn a_bucket_runs_empty_over_mosquitto() {
    let mosquitto = Mosquitto::start();
    let mut hub = Hub::new(4, Broker::At(mosquitto.port), AT_ONCE);
    a_bucket_runs_empty_and_is_filled(hub.start());
}

#[test]
fn a_tap_signs_a_groom_in_and_a_touch_out_once() {
    let mut hub = Hub::new(2, Broker::Embedded, "");
    hub.start();
    publish(hub.mqtt, "barn/badge/door", "A1");
    shows(&hub, "Ana is here", SOON, |board| (here(board) == ["Ana"]).then_some(()));
    publish(hub.mqtt, "barn/badge/door", "C0FFEE");
    shows(&hub, "an unknown badge is shown", SOON, |board| {
        board.taps.iter().any(|tap| tap.badge.as_str() == "C0FFEE" && tap.reader.as_str() == "door").then_some(())
    });
    let touch = |id: &str, action: serde_json::Value| -> Answer {
        let touch = json!({ "id": id, "kiosk": "aisle", "action": action });
        let mut answer = ureq::post(hub.url("/touches")).send_json(touch).expect("an answer");
        answer.body_mut().read_json().expect("of the documented form")
    };
    assert_eq!(touch("t1", json!({ "sign_out": "ana" })), Answer::Done);
    assert_eq!(touch("t2", json!({ "sign_in": "lena" })), Answer::Done);
    assert_eq!(touch("t1", json!({ "sign_out": "ana" })), Answer::Done, "a repeat is answered alike");
    shows(&hub, "Lena alone is here", SOON, |board| (here(board) == ["Lena"]).then_some(()));
    let Answer::Refused(why) = touch("t3", json!({ "sign_in": "nobody" })) else { panic!("nobody is no person") };
    assert_eq!(why, Because::NotInBook.says("the book has no person nobody"));
    // What was answered is kept.
    hub.kill();
    hub.start();
    shows(&hub, "Lena is still here", SOON, |board| (here(board) == ["Lena"]).then_some(()));
}

#[test]
fn a_sensor_goes_silent() {
    let quick = "[limits.sensors]\nsilent_at_least_min = 1\nsilent_at_most_min = 1";
    let mut hub = Hub::new(2, Broker::Embedded, quick);
    hub.start();
    publish(hub.mqtt, "barn/stall/1/water", "200");
    let spoke = Instant::now();
    heard(&hub, "1", 66.7);
    shows(&hub, "stall 1 is silent", Duration::from_secs(75), |board| match stall(board, "1")?.water {
        WaterView::Silent { for_min: 1, .. } => {
            board.alarms.iter().any(|alarm| matches!(alarm.what, AlarmWhat::SensorSilent { .. })).then_some(())
        }
        WaterView::Silent { .. } => None,
        WaterView::Known { .. } => None,
        other => panic!("{other:?} is neither fresh nor silent"),
    });
    let after = spoke.elapsed();
    assert!((59..70).contains(&after.as_secs()), "silent after {after:?}");
}

#[test]
fn a_last_will_is_silence_at_once() {
    let mut hub = Hub::new(2, Broker::Embedded, "");
    hub.start();
    publish(hub.mqtt, "barn/stall/1/water", "200");
    publish(hub.mqtt, "barn/stall/1/water/state", "offline");
    shows(&hub, "stall 1 is silent", SOON, |board| {
        matches!(stall(board, "1")?.water, WaterView::Silent { .. }).then_some(())
    });
}

#[test]
fn the_broker_dies_and_returns() {
    let mut mosquitto = Mosquitto::start();
    let mut hub = Hub::new(2, Broker::At(mosquitto.port), AT_ONCE);
    hub.start();
    publish(mosquitto.port, "barn/stall/1/water", "200");
    shows(&hub, "stall 1 is known", SOON, |board| {
        matches!(stall(board, "1")?.water, WaterView::Known { .. }).then_some(())
    });
    mosquitto.kill();
    shows(&hub, "the hub says that it is cut off", SOON, |board| {
        matches!(board.hub.broker, LineView::Down { .. }).then_some(())
    });
    shows(&hub, "one alarm, and for the broker alone", 15 * SECOND, |board| {
        let what: Vec<_> = board.alarms.iter().map(|alarm| &alarm.what).collect();
        (what == [&AlarmWhat::BrokerDown]).then_some(())
    });
    mosquitto.again();
    shows(&hub, "the line is back", 40 * SECOND, |board| (board.hub.broker == LineView::Up).then_some(()));
    publish(mosquitto.port, "barn/stall/1/water", "3");
    shows(&hub, "and sensors are heard", SOON, |board| empty_alarm(board, "1").then_some(()));
}

#[test]
fn a_heat_wave_is_seen() {
    let mut hub = Hub::new(2, Broker::Embedded, "");
    hub.start();
    // 32.2 °C and 55 %: 90 °F + 55 = 145, worth watching.
    publish(hub.mqtt, "barn/place/arena/climate", r#"{"t": 32.2, "rh": 55}"#);
    let sum = shows(&hub, "the heat is known", SOON, |board| match &board.heat {
        HeatView::Known { horse_sum, .. } => Some(*horse_sum),
        HeatView::Unknown { .. } => None,
    });
    assert!((sum - 145.0).abs() < 0.1, "{sum}");
}

#[test]
fn an_alarm_that_gets_worse_or_outlives_the_hub_is_counted_once() {
    let mut hub = Hub::new(2, Broker::Embedded, "[limits.heat]\nalarm_after_min = 0");
    hub.start();
    // 35 °C and 60 %: 155, critical; 40 °C and 80 %: 184, choose another time.
    for payload in [r#"{"t": 35, "rh": 60}"#, r#"{"t": 40, "rh": 80}"#] {
        publish(hub.mqtt, "barn/place/arena/climate", payload);
    }
    let stop = |board: &Board| {
        board.alarms.iter().any(|alarm| matches!(alarm.what, AlarmWhat::Heat { band: HeatBand::Stop, .. }))
    };
    shows(&hub, "it is too hot", SOON, |board| stop(board).then_some(()));
    // One for horses and one for people.
    assert_eq!(standing(&hub), 2);
    hub.kill();
    hub.start();
    shows(&hub, "it still is", SOON, |board| stop(board).then_some(()));
    assert_eq!(standing(&hub), 2);
}

#[test]
fn what_nobody_can_use_changes_nothing_and_is_told() {
    let mut hub = Hub::new(2, Broker::Embedded, "");
    hub.start();
    publish(hub.mqtt, "barn/stall/1/water", "200");
    shows(&hub, "stall 1 is known", SOON, |board| {
        matches!(stall(board, "1")?.water, WaterView::Known { .. }).then_some(())
    });
    let before = now(&hub).expect("a board").stalls;
    for payload in ["", "NaN", "1e999", "full", "{", "[[[[[[", "12 mm", "\u{feff}12", &"9".repeat(70_000)] {
        publish(hub.mqtt, "barn/stall/1/water", payload);
    }
    for payload in [r#"{"t": "warm"}"#, r#"{"t": 900}"#, r#"{"rh": -1}"#, "null"] {
        publish(hub.mqtt, "barn/place/arena/climate", payload);
    }
    publish(hub.mqtt, "barn/stall/77/water", "200");
    publish(hub.mqtt, "barn/hayloft/smoke", "0.02");
    let board = shows(&hub, "all of it is counted", SOON, |board| {
        (board.refused >= 14 && board.unplaced == 1).then(|| board.clone())
    });
    assert_eq!(board.stalls, before, "and nothing changed");
    let unusable: serde_json::Value =
        ureq::get(hub.url("/unusable")).call().expect("a page").body_mut().read_json().expect("JSON");
    assert_eq!(unusable["unplaced"]["barn/hayloft/smoke"]["count"], 1);
    let why = |topic: &str| unusable["refused"][topic]["reason"].as_str().unwrap_or_default().to_owned();
    assert!(!why("barn/stall/1/water").is_empty(), "{unusable:#}");
    assert_eq!(why("water sensor of stall 77"), "stall 77 has no bucket in the book", "{unusable:#}");
}

/// A client of other people's: mosquitto_pub and paho-mqtt publish as ours do.
#[test]
fn foreign_clients_are_heard() {
    let mosquitto = Mosquitto::start();
    let mut own = Hub::new(3, Broker::Embedded, "");
    let mut other = Hub::new(3, Broker::At(mosquitto.port), "");
    for hub in [own.start(), other.start()] {
        let hub: &Hub = hub;
        let port = hub.mqtt.to_string();
        let sent = Command::new("mosquitto_pub")
            .args(["-p", &port, "-q", "1", "-t", "barn/stall/1/water", "-m", "150"])
            .status()
            .expect("mosquitto-clients are installed");
        assert!(sent.success());
        heard(hub, "1", 50.0);
        for (version, number, percent) in [("MQTTv5", "2", 40.0), ("MQTTv311", "3", 30.0)] {
            let pack = format!(r#"[{{"n":"level","u":"m","v":{}}}]"#, percent * 3.0 / 1000.0);
            let script = format!(
                "import paho.mqtt.client as m\n\
                 c = m.Client(m.CallbackAPIVersion.VERSION2, protocol=m.{version})\n\
                 c.connect('127.0.0.1', {port}); c.loop_start()\n\
                 i = c.publish('barn/stall/{number}/pack', '{pack}', qos=1)\n\
                 i.wait_for_publish(10); assert i.is_published(); c.disconnect()"
            );
            let python = std::env::var("PYTHON_WITH_PAHO").unwrap_or_else(|_| "python3".to_owned());
            let sent = Command::new(python).args(["-c", &script]).output().expect("python3 runs");
            assert!(sent.status.success(), "tests/run makes a Python with paho-mqtt: {sent:?}");
            heard(hub, number, percent);
        }
    }
}

fn heard(hub: &Hub, number: &str, expected: f64) {
    shows(hub, "the level is heard", SOON, |board| match stall(board, number)?.water {
        WaterView::Known { percent, .. } if (percent - expected).abs() < 0.2 => Some(()),
        _ => None,
    });
}

#[test]
fn told_to_stop_it_keeps_everything_and_ends_within_two_seconds() {
    for broker in [None, Some(Mosquitto::start())] {
        let which = broker.as_ref().map_or(Broker::Embedded, |broker| Broker::At(broker.port));
        let mut hub = Hub::new(2, which, "");
        hub.start();
        let boards = stream(&hub);
        publish(hub.mqtt, "barn/stall/1/water", "150");
        let (status, took) = hub.terminate();
        assert!(status.success(), "{status}");
        assert!(took < 2 * SECOND, "it took {took:?}, with a kiosk listening");
        drop(boards);
        hub.start();
        heard(&hub, "1", 50.0);
    }
}

#[test]
fn beyond_loopback_a_kiosk_needs_its_key() {
    let key = "QnJ1c2ggdGhlIGdyZXkgbWFyZQ";
    let mut hub = Hub::new(2, Broker::Embedded, "");
    hub.change_settings(|text| {
        let listen = format!("listen = \"127.0.0.1:{}\"", hub_web(text));
        text.replace(
            &listen,
            &format!("{}\nkiosk_keys = {{ aisle = \"{key}\" }}", listen.replace("127.0.0.1", "0.0.0.0")),
        )
    });
    hub.start_with_key(key);
    let status = |key: Option<&str>, path: &str| {
        let mut request = ureq::get(hub.url(path)).config().http_status_as_error(false).build();
        if let Some(key) = key {
            request = request.header("Authorization", format!("Bearer {key}"));
        }
        request.call().expect("an answer").status().as_u16()
    };
    assert_eq!(status(Some(key), "/board"), 200);
    for wrong in [None, Some("QnJ1c2ggdGhlIGdyZXkgbWFyZR"), Some("")] {
        assert_eq!(status(wrong, "/board"), 401);
        assert_eq!(status(wrong, "/unusable"), 401);
    }
}

fn hub_web(settings: &str) -> u16 {
    let after = settings.split("[web]\nlisten = \"127.0.0.1:").nth(1).expect("the address of the pages");
    after.split('"').next().and_then(|port| port.parse().ok()).expect("a port")
}

#[test]
fn a_book_is_loaded_whole_or_not_at_all() {
    let mut hub = Hub::new(2, Broker::Embedded, "");
    hub.start();
    let load = |hub: &Hub, folder: &str| {
        Command::new(bellmare_tests::hub::program())
            .arg("load")
            .arg(hub.folder().join(folder))
            .arg("--settings")
            .arg(hub.settings())
            .output()
            .expect("the hub's program runs")
    };
    bellmare_tests::hub::write_book(&hub.folder().join("new"), 5);
    let stalls = hub.folder().join("new/stalls.csv");
    let good = std::fs::read_to_string(&stalls).expect("a page");
    std::fs::write(&stalls, good.replace("3,main,left", "3,main,middle").replace("5,main", "4,main")).expect("spoilt");
    let refused = load(&hub, "new");
    assert!(!refused.status.success());
    let said = String::from_utf8_lossy(&refused.stdout).into_owned();
    assert!(said.contains("stalls.csv line 4, column side: \"middle\""), "{said}");
    assert!(said.contains("stalls.csv line 6, column stall: \"4\""), "all faults, not only the first: {said}");
    assert_eq!(now(&hub).expect("a board").stalls.len(), 2, "the old book stays");

    std::fs::write(&stalls, &good).expect("mended");
    let taken = load(&hub, "new");
    assert!(taken.status.success(), "{taken:?}");
    shows(&hub, "the new book", SOON, |board| (board.stalls.len() == 5).then_some(()));
    hub.kill();
    bellmare_tests::hub::write_book(&hub.folder().join("new"), 7);
    assert!(load(&hub, "new").status.success(), "without a hub it goes straight into the journal");
    hub.start();
    shows(&hub, "the newer book", SOON, |board| (board.stalls.len() == 7).then_some(()));
}

#[test]
fn wrong_settings_are_told_all_at_once_with_a_status_of_their_own() {
    let hub = Hub::new(1, Broker::Embedded, "[limits.heat]\nwatch_sum = 10\n[log]\nlevel = \"loud\"");
    let output = Command::new(bellmare_tests::hub::program())
        .args(["run", "--settings"])
        .arg(hub.settings())
        .output()
        .expect("the hub's program runs");
    assert_eq!(output.status.code(), Some(78));
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(said.contains("limits.heat.watch_sum = \"10\": allowed is a number of 80 to 250"), "{said}");
    assert!(said.contains("log.level = \"loud\": allowed is \"error\""), "both of them: {said}");
}

/// The real kiosk follows the real hub, with no display: what it draws changes with the barn.
#[test]
fn a_kiosk_draws_what_the_hub_says() {
    let Some(kiosk) = std::env::var_os("KIOSK_PROGRAM") else {
        println!("skipped: KIOSK_PROGRAM names no kiosk; tests/run builds one and names it");
        return;
    };
    let mut hub = Hub::new(6, Broker::Embedded, AT_ONCE);
    hub.start();
    publish(hub.mqtt, "barn/stall/2/water", "240");
    let picture = hub.folder().join("aisle.png");
    let mut kiosk = Command::new(kiosk)
        .args(["--every", "1", "--for", "60", "--size", "1280x800", "--hub", &hub.url(""), "--picture"])
        .arg(&picture)
        .spawn()
        .expect("the kiosk starts");
    let drawn = |after: Option<&[u8]>| {
        until("the kiosk draws", Duration::from_secs(30), || {
            let png = std::fs::read(&picture).map_err(|why| why.to_string())?;
            // The eight bytes of every PNG, then width and height in its first chunk (RFC 2083).
            let whole = png.starts_with(b"\x89PNG\r\n\x1a\n") && png.ends_with(b"IEND\xaeB`\x82");
            let size = (png.get(16..20), png.get(20..24));
            assert_eq!(size, (Some(&1280_u32.to_be_bytes()[..]), Some(&800_u32.to_be_bytes()[..])));
            assert!(whole, "a picture is there whole or not at all");
            if after.is_some_and(|before| before == png) { Err("the same picture".to_owned()) } else { Ok(png) }
        })
    };
    let calm = drawn(None);
    publish(hub.mqtt, "barn/stall/2/water", "3");
    shows(&hub, "the alarm", SOON, |board| empty_alarm(board, "2").then_some(()));
    drawn(Some(&calm));
    kiosk.kill().expect("it runs");
    kiosk.wait().expect("it ends");
}
