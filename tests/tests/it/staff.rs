//! Staff by PIN and the clock by hand, over real HTTP: what a kiosk may do with a PIN, without, and with a wrong one.

use std::io::Write;
use std::process::{Command, Output, Stdio};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, UNIX_EPOCH};

use bellmare_barn::board::{Board, Clock};
use bellmare_barn::effect::Answer;
use bellmare_barn::refusal::Because;
use bellmare_hub::app::{self, Conduct};
use bellmare_hub::clock::Clock as HubClock;
use bellmare_hub::settings::Settings;
use bellmare_tests::board::{now, shows};
use bellmare_tests::hub::{Broker, Hub, program};
use serde_json::{Value, json};

const PIN: &str = "832641";
const SOON: Duration = Duration::from_secs(10);

fn pin_command(hub: &Hub, person: &str, typed: &str, more: &[&str]) -> Output {
    let mut child = Command::new(program())
        .args(["pin", person, "--settings"])
        .arg(hub.settings())
        .args(more)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program starts");
    // With --clear it reads nothing and may have ended.
    let _ = child.stdin.take().expect("a pipe").write_all(format!("{typed}\n").as_bytes());
    child.wait_with_output().expect("it ends")
}

fn said(output: &Output) -> String {
    String::from_utf8_lossy(&output.stdout).into_owned() + &String::from_utf8_lossy(&output.stderr)
}

/// Posts JSON; the status and the answer.
fn post(url: &str, body: &Value, headers: &[(&str, &str)]) -> (u16, Value) {
    let agent: ureq::Agent = ureq::Agent::config_builder().http_status_as_error(false).build().into();
    let request = headers.iter().fold(agent.post(url), |request, (name, value)| request.header(*name, *value));
    let mut answer = request.send_json(body).expect("the hub answers");
    (answer.status().as_u16(), answer.body_mut().read_json().expect("with JSON"))
}

fn get(url: &str, headers: &[(&str, &str)]) -> (u16, Value) {
    let agent: ureq::Agent = ureq::Agent::config_builder().http_status_as_error(false).build().into();
    let request = headers.iter().fold(agent.get(url), |request, (name, value)| request.header(*name, *value));
    let mut answer = request.call().expect("the hub answers");
    (answer.status().as_u16(), answer.body_mut().read_json().expect("with JSON"))
}

fn show(hub: &Hub, kiosk: &str, person: &str, pin: &str) -> (u16, Value) {
    post(&hub.url("/staff"), &json!({ "kiosk": kiosk, "person": person, "pin": pin }), &[])
}

fn token(hub: &Hub) -> String {
    let (status, answer) = show(hub, "aisle", "lena", PIN);
    assert_eq!((status, &answer["ends_s"]), (200, &json!(60)), "{answer}");
    let token = answer["token"].as_str().expect("a token").to_owned();
    assert!(token.len() == 32 && token.bytes().all(|byte| byte.is_ascii_hexdigit()), "{token}");
    token
}

fn scratch(id: &str, out: bool, more: Value) -> Value {
    let mut touch =
        json!({ "id": id, "kiosk": "aisle", "action": { "scratch": { "horse": "h1", "out": out, "by": "lena" } } });
    touch.as_object_mut().expect("an object").extend(more.as_object().expect("an object").clone());
    touch
}

fn has_pin(board: &Board, id: &str) -> bool {
    board.people.iter().any(|person| person.id.as_str() == id && person.has_pin)
}

fn scratched(board: &Board) -> bool {
    board.stalls[0].horse.as_ref().is_some_and(|horse| horse.scratched)
}

#[test]
fn a_pin_is_set_by_command_with_a_hub_and_without_and_stays() {
    let mut hub = Hub::new(2, Broker::Embedded, "");
    hub.start();
    for (person, typed, why) in [
        ("lena", "12345", "a PIN is 6 digits"),
        ("lena", "111111", "the first that anybody would try: allowed is 6 digits"),
        ("ana", PIN, "ana needs no PIN: allowed are staff, instructors, equine professionals and managers"),
        ("moss", PIN, "the book has no person moss"),
    ] {
        let refused = pin_command(&hub, person, typed, &[]);
        assert!(!refused.status.success() && said(&refused).contains(why), "{}", said(&refused));
    }
    assert!(!has_pin(&now(&hub).expect("a board"), "lena"));
    let set = pin_command(&hub, "lena", PIN, &[]);
    assert_eq!((set.status.success(), said(&set).trim()), (true, "The PIN of lena is set."));
    shows(&hub, "Lena has a PIN", SOON, |board| has_pin(board, "lena").then_some(()));
    let taken = pin_command(&hub, "lena", "", &["--clear"]);
    assert_eq!((taken.status.success(), said(&taken).trim()), (true, "lena has no PIN any more."));
    shows(&hub, "Lena has none", SOON, |board| (!has_pin(board, "lena")).then_some(()));
    hub.terminate();
    let refused = pin_command(&hub, "ana", PIN, &[]);
    assert!(!refused.status.success() && said(&refused).contains("ana needs no PIN"), "{}", said(&refused));
    let set = pin_command(&hub, "lena", PIN, &[]);
    assert_eq!((set.status.success(), said(&set).trim()), (true, "The PIN of lena is set; no hub was running."));
    hub.start();
    assert!(has_pin(&now(&hub).expect("a board"), "lena"));
    token(&hub);
    // A power cut, and the same again from the journal.
    hub.kill();
    hub.start();
    token(&hub);
    let log = hub.log();
    assert!(log.contains("staff mode begins") && !log.contains("argon2") && !log.contains(PIN), "{log}");
}

#[test]
fn wrong_pins_are_slowed_down_over_a_power_cut_and_an_alarm_is_acknowledged_meanwhile() {
    let mut hub = Hub::new(2, Broker::Embedded, "");
    hub.start();
    assert_eq!(show(&hub, "aisle", "lena", PIN).1["why"], "Lena has no PIN yet: whoever looks after the hub sets one");
    assert!(pin_command(&hub, "lena", PIN, &[]).status.success());
    assert_eq!(
        show(&hub, "aisle", "lena", "12").1,
        json!({ "why": "a PIN is 6 digits", "because": "wrong_pin", "wait_s": 0 })
    );
    for wait in [0, 0, 30] {
        let (status, answer) = show(&hub, "aisle", "lena", "832642");
        assert_eq!((status, answer["wait_s"].as_u64()), (401, Some(wait)), "{answer}");
    }
    hub.kill();
    hub.start();
    // The right one waits too, and at every kiosk; so does who else tries at this one.
    for kiosk in ["aisle", "tack-room"] {
        let (status, answer) = show(&hub, kiosk, "lena", PIN);
        assert_eq!((status, &answer["why"]), (401, &json!("too many wrong PINs: wait")), "{answer}");
        assert!(matches!(answer["wait_s"].as_u64(), Some(1..=30)), "{answer}");
    }
    assert_eq!(hub.log().matches("a wrong PIN").count(), 3, "{}", hub.log());
    let dull = json!({ "vitals": { "horse": "h1", "by": "ana", "signs": ["dull"] } });
    let touch = |id: &str, action: Value| {
        let answer = post(&hub.url("/touches"), &json!({ "id": id, "kiosk": "aisle", "action": action }), &[]);
        assert_eq!(answer, (200, json!({ "answer": "done" })));
    };
    touch("v1", dull);
    let alarm = shows(&hub, "the horse's alarm", SOON, |board| board.alarms.first().map(|alarm| alarm.id));
    touch("a1", json!({ "acknowledge": { "alarm": alarm, "by": "ana" } }));
    shows(&hub, "somebody has seen it", SOON, |board| board.alarms.first()?.seen_by.as_ref().map(drop));
}

#[test]
fn a_touch_is_staffs_by_its_token_and_never_by_its_own_word() {
    let mut hub = Hub::new(2, Broker::Embedded, "");
    hub.start();
    let touches = hub.url("/touches");
    assert!(pin_command(&hub, "lena", PIN, &[]).status.success());
    let refused = |(status, answer): (u16, Value), expected: u16, why: &str| {
        assert_eq!((status, &answer["answer"]), (expected, &json!("refused")), "{answer}");
        assert!(answer["why"].as_str().is_some_and(|said| said.contains(why)), "{answer}");
    };
    refused(post(&touches, &scratch("t1", true, json!({})), &[]), 200, "show your PIN first");
    refused(post(&touches, &scratch("t2", true, json!({ "staff": "lena" })), &[]), 200, "show your PIN first");
    let made_up = json!({ "staff_token": "0123456789abcdef0123456789abcdef" });
    refused(post(&touches, &scratch("t3", true, made_up), &[]), 401, "staff mode has ended");
    let token = token(&hub);
    let with = || json!({ "staff_token": token });
    let mut elsewhere = scratch("t4", true, with());
    elsewhere["kiosk"] = json!("tack-room");
    refused(post(&touches, &elsewhere, &[]), 401, "staff mode has ended");
    assert_eq!(post(&touches, &scratch("t5", true, with()), &[]), (200, json!({ "answer": "done" })));
    shows(&hub, "the horse rests", SOON, |board| scratched(board).then_some(()));
    let clock = json!({ "id": "t6", "kiosk": "aisle", "staff_token": token,
        "action": { "set_clock": { "date": "2026-06-18", "time": 600 } } });
    refused(post(&touches, &clock, &[]), 200, "the hub's own clock is right");

    // Staff see who could stand in, and no weight.
    let stand_ins = hub.url("/stand-ins/r1");
    let (status, list) = get(&stand_ins, &[("Staff-Token", &token)]);
    assert_eq!(status, 200, "{list}");
    let second = &list["horses"][0];
    assert_eq!((&second["horse"], &second["fits"]), (&json!("h2"), &json!(false)));
    assert_eq!(second["why_not"][0]["what"], json!({ "no_tack": { "usage": "lesson" } }), "{second}");
    for hidden in ["carries", "load", "weight"] {
        assert!(!list.to_string().contains(hidden), "{list}");
    }
    assert_eq!(get(&stand_ins, &[]).0, 401);
    assert_eq!(get(&stand_ins, &[("Staff-Token", "0123456789abcdef0123456789abcdef")]).0, 401);

    let ended = post(&hub.url("/staff/end"), &with(), &[]);
    assert_eq!(ended, (200, json!({ "answer": "done" })));
    refused(post(&touches, &scratch("t7", false, with()), &[]), 401, "staff mode has ended");
    assert_eq!(get(&stand_ins, &[("Staff-Token", &token)]).0, 401);
    // Its answer was lost and it comes again: it has been done.
    assert_eq!(post(&touches, &scratch("t5", true, with()), &[]), (200, json!({ "answer": "done" })));
    assert!(scratched(&now(&hub).expect("a board")));
}

#[test]
fn where_kiosks_have_keys_a_pin_is_shown_at_the_one_whose_key_it_is() {
    let keys = "kiosk_keys = { aisle = \"aisle-0123456789abcdefghij\", tack-room = \"tack-0123456789abcdefghijk\" }";
    let mut hub = Hub::new(2, Broker::Embedded, keys);
    hub.start_with_key("aisle-0123456789abcdefghij");
    assert!(pin_command(&hub, "lena", PIN, &[]).status.success());
    let (aisle, tack) = ("Bearer aisle-0123456789abcdefghij", "Bearer tack-0123456789abcdefghijk");
    let body = json!({ "kiosk": "tack-room", "person": "lena", "pin": PIN });
    assert_eq!(post(&hub.url("/staff"), &body, &[]).0, 401);
    let (status, answer) = post(&hub.url("/staff"), &body, &[("Authorization", aisle)]);
    assert_eq!(status, 200, "{answer}");
    let touch = |id| scratch(id, true, json!({ "staff_token": answer["token"], "kiosk": "tack-room" }));
    assert_eq!(post(&hub.url("/touches"), &touch("t1"), &[("Authorization", tack)]).0, 401);
    let done = post(&hub.url("/touches"), &touch("t2"), &[("Authorization", aisle)]);
    assert_eq!(done, (200, json!({ "answer": "done" })));
    let hash = ureq::put(hub.url("/pins/lena")).header("Authorization", aisle).send_json(json!({ "hash": "x" }));
    assert!(matches!(hash, Err(ureq::Error::StatusCode(401))), "a kiosk's key sets no PIN: {hash:?}");
}

/// A hub inside of this test, whose system's clock is the test's.
struct Inside {
    stop: tokio::sync::oneshot::Sender<()>,
    thread: std::thread::JoinHandle<()>,
}

impl Inside {
    fn start(hub: &Hub, system: Arc<AtomicU64>) -> Self {
        let settings = Settings::load(Some(&hub.settings()), std::iter::empty()).expect("settings");
        let (stop, stopped) = tokio::sync::oneshot::channel();
        let thread = std::thread::spawn(move || {
            let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().expect("a runtime");
            runtime.block_on(async {
                let system = move || UNIX_EPOCH + Duration::from_millis(system.load(Ordering::Relaxed));
                let clock = |last| HubClock::over_with(system, &settings.data.folder, last);
                let running = app::start(&settings, clock, Conduct::default()).await.expect("it starts");
                // An error means that the test has failed: then it is time to stop.
                let _ = stopped.await;
                running.stop().await;
            });
        });
        Self { stop, thread }
    }

    fn stop(self) {
        self.stop.send(()).expect("it runs");
        self.thread.join().expect("it ends well");
    }
}

#[test]
fn a_board_that_boots_without_a_clock_is_told_the_time_at_a_kiosk() {
    let mut hub = Hub::new(2, Broker::Embedded, "");
    // The book gets into the journal by a hub with a clock; then the board loses it.
    hub.start();
    hub.terminate();
    assert!(pin_command(&hub, "lena", PIN, &[]).status.success());
    let system = Arc::new(AtomicU64::new(1_000));
    let start = || Inside::start(&hub, Arc::clone(&system));
    let running = start();
    let board = shows(&hub, "no clock", SOON, |board| (board.clock == Clock::Unset).then(|| board.clone()));
    assert!(board.lessons.is_empty() && !board.clock_by_hand);
    let token = token(&hub);
    let set = |id: &str, date: &str, time: u32| {
        let touch = json!({ "id": id, "kiosk": "aisle", "staff_token": token,
            "action": { "set_clock": { "date": date, "time": time } } });
        let (status, answer) = post(&hub.url("/touches"), &touch, &[]);
        assert_eq!(status, 200, "{answer}");
        serde_json::from_value::<Answer>(answer).expect("an answer")
    };
    let refused = Answer::Refused(Because::OutOfRange.says("date 2019-06-18: allowed is 2026-01-01 to 2099-12-31"));
    assert_eq!(set("c1", "2019-06-18", 590), refused);
    assert_eq!(set("c2", "2026-06-18", 590), Answer::Done);
    let at = |board: &Board, text: &str, by_hand: bool| {
        let Clock::Set { date, .. } = board.clock else { return None };
        (date.to_string() == text && board.clock_by_hand == by_hand && board.lessons.len() == 1).then_some(())
    };
    shows(&hub, "the day that was set", SOON, |board| at(board, "2026-06-18", true));
    // The hub starts again on the same board: it still knows.
    running.stop();
    let running = start();
    shows(&hub, "the day that was set", SOON, |board| at(board, "2026-06-18", true));
    // The network comes, and with it the right time.
    let right =
        chrono::NaiveDate::from_ymd_opt(2026, 6, 20).and_then(|date| date.and_hms_opt(14, 0, 0)).expect("a time");
    system.store(right.and_utc().timestamp_millis().cast_unsigned(), Ordering::Relaxed);
    shows(&hub, "the system's day", SOON, |board| at(board, "2026-06-20", false));
    running.stop();
    // Another boot without a clock: nothing is believed.
    system.store(1_000, Ordering::Relaxed);
    let kept = hub.journal().with_file_name("clock-by-hand.json");
    std::fs::write(kept, r#"{"boot":"another","at_boot_ms":1781784000000}"#).expect("written");
    let running = start();
    shows(&hub, "no clock", SOON, |board| (board.clock == Clock::Unset && !board.clock_by_hand).then_some(()));
    running.stop();
}
