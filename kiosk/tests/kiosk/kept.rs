//! Touches outlive the kiosk: killed between a touch and the hub's answer, it sends what it kept after its next start.

use std::net::TcpListener;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::Arc;
use std::sync::mpsc;
use std::time::{Duration, Instant};

use bellmare_barn::id::PersonId;
use bellmare_barn::input::{Action, Touch};
use bellmare_kiosk::app::{Given, Outcome};
use bellmare_kiosk::link::Hub;
use bellmare_kiosk::link::keep::Folder;
use bellmare_kiosk::link::outbox::Kept;
use bellmare_kiosk::link::touches::{self, Sender};

use crate::link::{reply, serve};

const WITHIN: Duration = Duration::from_secs(30);
/// Where a process of the test keeps its touches; it is one that is to be killed where this is set.
const KILLED: &str = "BELLMARE_KIOSK_THAT_IS_KILLED";

fn sign_in(person: &str) -> Given {
    Given { action: Action::SignIn(PersonId::from(person)), by: None, staff_token: None }
}

fn start(url: &str, folder: &Path, tell: impl Fn(Outcome) + Send + 'static) -> Sender {
    let folder = Arc::new(Folder::open(folder).expect("a folder"));
    touches::start(Hub::new(url, None), "aisle".to_owned(), Some(folder), tell).expect("threads")
}

/// The kiosk that is killed: its hub takes a touch and never answers.
fn touch_until_killed(folder: &Path) -> ! {
    let hub = TcpListener::bind("127.0.0.1:0").expect("a port");
    let sender = start(&format!("http://{}", hub.local_addr().expect("an address")), folder, |_| {});
    for person in ["ana", "theo", "ruth"] {
        assert!(sender.send(sign_in(person)));
    }
    loop {
        std::thread::park();
    }
}

fn files(folder: &Path) -> Vec<PathBuf> {
    let Ok(entries) = std::fs::read_dir(folder) else { return Vec::new() };
    let mut files: Vec<PathBuf> = entries.filter_map(|entry| Some(entry.ok()?.path())).collect();
    files.retain(|file| file.extension().is_some_and(|extension| extension == "json"));
    files.sort();
    files
}

fn until(what: &str, mut holds: impl FnMut() -> bool) {
    let end = Instant::now() + WITHIN;
    while !holds() {
        assert!(Instant::now() < end, "{what}");
        std::thread::sleep(Duration::from_millis(5));
    }
}

#[test]
fn touches_outlive_a_kill_and_are_sent_once_each_under_their_ids() {
    if let Some(folder) = std::env::var_os(KILLED) {
        touch_until_killed(Path::new(&folder));
    }
    let place = tempfile::tempdir().expect("a folder");
    let folder = place.path().join("kiosk");
    let mut kiosk = Command::new(std::env::current_exe().expect("this test"))
        .args(["--exact", "kept::touches_outlive_a_kill_and_are_sent_once_each_under_their_ids", "--nocapture"])
        .env(KILLED, &folder)
        .stdout(Stdio::null())
        .spawn()
        .expect("the test runs again");
    until("three touches are on the disk", || files(&folder).len() == 3);
    kiosk.kill().expect("killed");
    kiosk.wait().expect("gone");
    let kept: Vec<Kept> = files(&folder)
        .iter()
        .map(|file| serde_json::from_str(&std::fs::read_to_string(file).expect("read")).expect("a touch"))
        .collect();

    let (url, asked) = serve(|_, _, stream| reply(stream, "200 OK", r#"{"answer":"done"}"#));
    let (tell, outcomes) = mpsc::channel();
    let sender = start(&url, &folder, move |outcome| {
        let _gone = tell.send(outcome);
    });
    let sent = || -> Touch {
        let asked = asked.recv_timeout(WITHIN).expect("a request");
        serde_json::from_str(&asked.body).expect("a touch")
    };
    for kept in &kept {
        let touch = sent();
        assert_eq!((&touch.id, &touch.action), (&kept.touch.id, &kept.touch.action));
        // The same run of the system: it is known how long it was held.
        assert!(touch.held_ms < 600_000, "{} ms", touch.held_ms);
        assert_eq!(outcomes.recv_timeout(WITHIN), Ok(Outcome::Done));
    }
    until("nothing is kept any more", || files(&folder).is_empty());
    drop(sender);
    until("the first one has let go of the folder", || Folder::open(&folder).is_ok());

    let after = start(&url, &folder, |_| {});
    assert!(after.send(sign_in("dot")));
    let touch = sent();
    assert_eq!(touch.action, Action::SignIn(PersonId::from("dot")), "the others do not come again");
    assert!(kept.iter().all(|kept| kept.touch.id != touch.id));
}

#[test]
fn a_damaged_touch_does_not_hold_up_the_others() {
    let place = tempfile::tempdir().expect("a folder");
    let folder = place.path().join("kiosk");
    let nowhere = TcpListener::bind("127.0.0.1:0").expect("a port").local_addr().expect("an address");
    let sender = start(&format!("http://{nowhere}"), &folder, |_| {});
    for person in ["ana", "theo"] {
        assert!(sender.send(sign_in(person)));
    }
    until("both are on the disk", || files(&folder).len() == 2);
    drop(sender);
    until("it has let go of the folder", || Folder::open(&folder).is_ok());
    std::fs::write(&files(&folder)[0], "{").expect("damaged");

    let (url, asked) = serve(|_, _, stream| reply(stream, "200 OK", r#"{"answer":"done"}"#));
    let _sender = start(&url, &folder, |_| {});
    let asked = asked.recv_timeout(WITHIN).expect("a request");
    let touch: Touch = serde_json::from_str(&asked.body).expect("a touch");
    assert_eq!(touch.action, Action::SignIn(PersonId::from("theo")));
}
