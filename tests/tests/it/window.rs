//! The kiosk in a real window with real clicks, on a display that nobody sees (Xvfb), before a real hub: a groom signs in, takes
//! the next job, begins it, is done, and says that something is wrong.

use std::fs;
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};

use bellmare_barn::board::{Board, HorseView};
use bellmare_barn::input::Mark;
use bellmare_tests::board::{here, shows, stall};
use bellmare_tests::hub::{Broker, Hub};
use bellmare_tests::wait::until;

/// A crowded machine draws late.
const PATIENCE: Duration = Duration::from_secs(40);

/// A click that was heard has been answered after so long.
const ANSWERED_WITHIN: Duration = Duration::from_secs(2);

struct Display {
    server: Child,
    name: String,
}

impl Display {
    fn new() -> Self {
        let mut server = Command::new("Xvfb")
            .args(["-displayfd", "1", "-screen", "0", "1280x800x24", "-nolisten", "tcp"])
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("Xvfb starts: tests/run installs it");
        let mut number = String::new();
        let told = server.stdout.take().expect("it tells its display");
        BufReader::new(told).read_line(&mut number).expect("a number");
        Self { server, name: format!(":{}", number.trim()) }
    }
}

impl Drop for Display {
    fn drop(&mut self) {
        let _ = self.server.kill();
        let _ = self.server.wait();
    }
}

/// The kiosk's window, and a hand before it.
struct Window {
    display: Display,
    kiosk: Child,
    targets: PathBuf,
    clicks: u32,
}

impl Window {
    fn open(program: &Path, hub: &Hub) -> Self {
        let display = Display::new();
        let targets = hub.folder().join("targets");
        // What a window before this one told.
        let _none = fs::remove_file(&targets);
        let kiosk = Command::new(program)
            .args(["--hub", &hub.url(""), "--name", "aisle", "--night", "never", "--targets"])
            .arg(&targets)
            .arg("--keep")
            .arg(hub.folder().join("kept"))
            .env("DISPLAY", &display.name)
            .env_remove("WAYLAND_DISPLAY")
            .stderr(Stdio::null())
            .spawn()
            .expect("the kiosk starts");
        Self { display, kiosk, targets, clicks: 0 }
    }

    /// Waits until what begins with this label can be touched.
    fn shows(&self, label: &str) {
        until(label, PATIENCE, || {
            let text = fs::read_to_string(&self.targets).map_err(|why| why.to_string())?;
            middle(&text, label).map(|_| ()).ok_or(text)
        });
    }

    /// Clicks in the middle of what begins with this label, once it is there.
    fn click(&mut self, label: &str) {
        let (x, y) = until(label, PATIENCE, || {
            let text = fs::read_to_string(&self.targets).map_err(|why| why.to_string())?;
            middle(&text, label).ok_or(text)
        });
        let clicked = Command::new("xdotool")
            .args(["mousemove", &x.to_string(), &y.to_string(), "click", "1"])
            .env("DISPLAY", &self.display.name)
            .status()
            .expect("xdotool runs: tests/run installs it");
        assert!(clicked.success(), "{label}");
        self.clicks += 1;
    }

    /// Clicks there until that has come up: a window that has only just been opened may miss the first one. It is given time to
    /// answer each, or the next would land on what has come up meanwhile.
    fn click_until(&mut self, label: &str, comes: &str) {
        let mut clicked: Option<Instant> = None;
        until(comes, PATIENCE, || {
            let text = fs::read_to_string(&self.targets).map_err(|why| why.to_string())?;
            if middle(&text, comes).is_some() {
                return Ok(());
            }
            if clicked.is_none_or(|at| at.elapsed() > ANSWERED_WITHIN) {
                self.click(label);
                clicked = Some(Instant::now());
            }
            Err(text)
        });
        self.clicks = 1;
    }

    fn clicks(&mut self) -> u32 {
        std::mem::take(&mut self.clicks)
    }
}

impl Drop for Window {
    fn drop(&mut self) {
        let _ = self.kiosk.kill();
        let _ = self.kiosk.wait();
    }
}

fn middle(targets: &str, label: &str) -> Option<(i32, i32)> {
    targets.lines().find_map(|line| {
        let mut parts = line.splitn(5, ' ');
        let mut number = || parts.next()?.parse::<f32>().ok();
        let (x, y, w, h) = (number()?, number()?, number()?, number()?);
        let found = parts.next()?.starts_with(label);
        found.then_some(((x + w / 2.0) as i32, (y + h / 2.0) as i32))
    })
}

/// A barn in whose time zone it is noon now, with a lesson in the afternoon.
fn at_noon() -> Hub {
    let hub = Hub::new(2, Broker::Embedded, "");
    let since = SystemTime::now().duration_since(UNIX_EPOCH).expect("after 1970");
    let west = (since.as_secs() / 3600 % 24) as i64 - 12;
    let zone = format!("Etc/GMT{west:+}");
    hub.change_settings(|text| text.replace("America/New_York", &zone));
    let lessons = "lesson,days,start,minutes,instructor,place\nl1,daily,13:30,45,lena,arena\n";
    fs::write(book(&hub).join("lessons.csv"), lessons).expect("a page of the book");
    hub
}

fn book(hub: &Hub) -> PathBuf {
    Path::new(hub.folder()).join("book")
}

fn horse(board: &Board) -> Option<&HorseView> {
    stall(board, "1")?.horse.as_ref()
}

#[test]
fn a_groom_signs_in_takes_the_next_job_and_calls_for_help_with_real_clicks() {
    let Some(kiosk) = std::env::var_os("KIOSK_PROGRAM") else {
        println!("skipped: KIOSK_PROGRAM names no kiosk; tests/run builds one and names it");
        return;
    };
    let mut hub = at_noon();
    hub.start();
    let mut window = Window::open(Path::new(&kiosk), &hub);

    window.click_until("Sign in or out", "Ana, groom");
    window.click("Ana, groom");
    shows(&hub, "Ana is here", PATIENCE, |board| (here(board) == ["Ana"]).then_some(()));
    assert_eq!(window.clicks(), 2);

    // Her own page is up, with what is next.
    window.click("Horse 1, brush");
    window.click("Begin brushing");
    let brush = |mark| move |board: &Board| (horse(board)?.rides.first()?.links.brush == mark).then_some(());
    shows(&hub, "begun", PATIENCE, brush(Mark::Begun));
    // The kiosk has heard of it too, and its buttons stand where they now stand.
    window.shows("Undo");
    window.click("Brushed");
    shows(&hub, "done", PATIENCE, brush(Mark::Done));
    window.click("Wrong, with this horse");
    let by = shows(&hub, "something is wrong", PATIENCE, |board| horse(board)?.wrong.clone()).by;
    assert_eq!(by.as_deref(), Some("Ana"), "the kiosk knows who stands before it");
    window.click("breathes hard");
    shows(&hub, "what was seen", PATIENCE, |board| horse(board)?.wrong.as_ref()?.vet_now.then_some(()));
}

#[test]
fn a_kiosk_that_starts_with_the_hub_away_shows_the_last_board() {
    let Some(kiosk) = std::env::var_os("KIOSK_PROGRAM") else {
        println!("skipped: KIOSK_PROGRAM names no kiosk; tests/run builds one and names it");
        return;
    };
    let mut hub = at_noon();
    hub.start();
    let window = Window::open(Path::new(&kiosk), &hub);
    window.shows("stall 1, Horse 1");
    let kept = hub.folder().join("kept/board.json");
    until("the board is kept", PATIENCE, || kept.exists().then_some(()).ok_or_else(|| "no file".to_owned()));
    drop(window);
    hub.kill();

    let mut window = Window::open(Path::new(&kiosk), &hub);
    window.click_until("stall 1, Horse 1", "Begin brushing");
    // What is touched meanwhile is sent when the hub is there again.
    window.click("Begin brushing");
    hub.start();
    shows(&hub, "begun", PATIENCE, |board| (horse(board)?.rides.first()?.links.brush == Mark::Begun).then_some(()));
}
