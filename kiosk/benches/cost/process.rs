//! The real program in a real window, with a hub of the bench's own: how soon a board is on the screen, what idling costs, how
//! much memory it has, and how soon it shows a first picture.

use std::io::{BufRead, BufReader, Write};
use std::net::{TcpListener, TcpStream};
use std::process::{Child, Command, Stdio};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use anyhow::Context;
use bellmare_barn::board::Board;

use crate::screen::{Part, Screen};
use crate::{Figure, PANEL, barn, later, percentile, resident_mb};

/// Where the clock stands: every board changes it.
const CLOCK: Part = Part { x: 10, y: 10, w: 180, h: 90 };
/// The day's paper, as the screen has it.
const PAPER: [u8; 3] = [0xe4, 0xee, 0xf3];
const WITHIN: Duration = Duration::from_secs(20);
/// The hub is heard at least so often.
const HUB_SPEAKS_EVERY: Duration = Duration::from_secs(5);

/// A program that is needed and is not there.
pub fn missing() -> Option<&'static str> {
    let there = Command::new("Xvfb").arg("-help").stdout(Stdio::null()).stderr(Stdio::null()).status();
    there.is_err().then_some("Xvfb")
}

pub fn measure(quick: bool) -> anyhow::Result<Vec<Figure>> {
    let board = barn()?;
    let screen = Screen::new(PANEL.0, PANEL.1)?;
    let hub = Hub::new(&board)?;
    let mut starts = Vec::new();
    for _ in 0..if quick { 2 } else { 5 } {
        let began = Instant::now();
        let kiosk = Kiosk::start(&screen, &hub)?;
        wait(|| Ok(is_drawn(&screen.pixels(CLOCK)?)))?;
        starts.push(began.elapsed().as_secs_f64());
        drop(kiosk);
        wait(|| Ok(!is_drawn(&screen.pixels(CLOCK)?)))?;
    }

    let kiosk = Kiosk::start(&screen, &hub)?;
    wait(|| Ok(is_drawn(&screen.pixels(CLOCK)?)))?;
    let mut shown = Vec::new();
    for minute in 0..if quick { 100 } else { 1000 } {
        let before = screen.pixels(CLOCK)?;
        let began = hub.send(&later(&board, minute)?)?;
        wait(|| Ok(screen.pixels(CLOCK)? != before))?;
        shown.push(began.elapsed().as_secs_f64() * 1000.0);
        // Boards do not come on the heels of each other; a frame's time and a bit, and not always the same bit.
        std::thread::sleep(Duration::from_millis(17 + (minute % 13) as u64));
    }
    let resident = resident_mb(kiosk.0.id())?;

    let idle = Duration::from_secs(if quick { 15 } else { 60 });
    let (began, before) = (Instant::now(), kiosk.cpu_s()?);
    while began.elapsed() < idle {
        hub.write(": here\n\n")?;
        std::thread::sleep(HUB_SPEAKS_EVERY.min(idle.saturating_sub(began.elapsed())));
    }
    let used = (kiosk.cpu_s()? - before) / began.elapsed().as_secs_f64() * 100.0;

    let figure =
        |what, found, goal, unit, how: &str| Figure { what, found, goal: Some(goal), unit, how: how.to_owned() };
    let boards = shown.len();
    Ok(vec![
        figure(
            "a board on the screen, 99 of 100",
            percentile(&mut shown, 0.99),
            33.0,
            "ms",
            &format!("{boards} boards"),
        ),
        Figure { goal: None, ..figure("the same, median", percentile(&mut shown, 0.5), 0.0, "ms", "") },
        figure("idle", used, 0.2, "%", &format!("of a core over {} s, pages turning", idle.as_secs())),
        figure("resident", resident, 32.0, "MB", "in a window, after these boards"),
        figure("start to first picture", percentile(&mut starts, 0.5), 0.5, "s", "median; the barn is on it"),
    ])
}

fn wait(mut holds: impl FnMut() -> anyhow::Result<bool>) -> anyhow::Result<()> {
    let until = Instant::now() + WITHIN;
    while !holds()? {
        anyhow::ensure!(Instant::now() < until, "the window did not change within {} s", WITHIN.as_secs());
        std::thread::sleep(Duration::from_micros(300));
    }
    Ok(())
}

/// Paper, and a clock on it.
fn is_drawn(pixels: &[u8]) -> bool {
    let paper = pixels.chunks_exact(4).filter(|pixel| pixel[..3] == PAPER).count();
    let ink = pixels.chunks_exact(4).filter(|pixel| pixel[..3].iter().all(|channel| *channel < 0x30)).count();
    paper > pixels.len() / 16 && ink > 200
}

fn event(board: &Board) -> anyhow::Result<String> {
    Ok(format!("event: board\ndata: {}\n\n", serde_json::to_string(board)?))
}

/// The kiosk, ended with what holds it.
struct Kiosk(Child);

impl Kiosk {
    fn start(screen: &Screen, hub: &Hub) -> anyhow::Result<Self> {
        let keep = std::env::temp_dir().join(format!("bellmare-bench-kiosk-{}", std::process::id()));
        // A start with nothing kept: the picture is the hub's.
        let _was_there = std::fs::remove_dir_all(&keep);
        let kiosk = Command::new(env!("CARGO_BIN_EXE_bellmare-kiosk"))
            .args(["--hub", &hub.url, "--night", "never", "--keep"])
            .arg(&keep)
            .env("DISPLAY", &screen.display)
            .env_remove("WAYLAND_DISPLAY")
            .env_remove("WAYLAND_SOCKET")
            .env("SLINT_BACKEND", "winit-software")
            .env("SLINT_SCALE_FACTOR", "1")
            .spawn()
            .context("the kiosk can not be started")?;
        Ok(Self(kiosk))
    }

    /// Seconds of a core that it has used.
    fn cpu_s(&self) -> anyhow::Result<f64> {
        let stat = std::fs::read_to_string(format!("/proc/{}/stat", self.0.id()))?;
        let after_name = stat.rsplit_once(')').context("no name")?.1;
        let fields: Vec<&str> = after_name.split_whitespace().collect();
        // utime and stime, in hundredths of a second on every Linux of today.
        let ticks = |at: usize| fields.get(at).context("too few fields").and_then(|field| Ok(field.parse::<f64>()?));
        Ok((ticks(11)? + ticks(12)?) / 100.0)
    }
}

impl Drop for Kiosk {
    fn drop(&mut self) {
        // Nothing is left to do where it is gone already.
        let _gone = self.0.kill().and_then(|()| self.0.wait());
    }
}

/// A hub that says what the bench tells it; a kiosk that asks anew gets the last board.
struct Hub {
    url: String,
    said: Arc<Mutex<Said>>,
}

#[derive(Default)]
struct Said {
    stream: Option<TcpStream>,
    last: String,
}

impl Hub {
    fn new(first: &Board) -> anyhow::Result<Self> {
        let listener = TcpListener::bind("127.0.0.1:0")?;
        let url = format!("http://{}", listener.local_addr()?);
        let said = Arc::new(Mutex::new(Said { stream: None, last: event(first)? }));
        let shared = said.clone();
        std::thread::spawn(move || {
            for stream in listener.incoming().flatten() {
                // A kiosk that is gone again asks anew or was ended.
                let _gone = serve(stream, &shared);
            }
        });
        Ok(Self { url, said })
    }

    fn send(&self, board: &Board) -> anyhow::Result<Instant> {
        let text = event(board)?;
        self.said().last.clone_from(&text);
        self.write(&text)
    }

    /// Tells it, and when.
    fn write(&self, text: &str) -> anyhow::Result<Instant> {
        let mut said = self.said();
        let began = Instant::now();
        if let Some(stream) = &mut said.stream {
            // Where the kiosk renews its stream just now it gets the last board over the new one.
            let _gone = stream.write_all(text.as_bytes());
        }
        Ok(began)
    }

    fn said(&self) -> MutexGuard<'_, Said> {
        self.said.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

fn serve(mut stream: TcpStream, said: &Mutex<Said>) -> std::io::Result<()> {
    stream.set_nodelay(true)?;
    let mut head = BufReader::new(stream.try_clone()?);
    let mut line = String::new();
    while head.read_line(&mut line)? > 0 && line != "\r\n" {
        line.clear();
    }
    let mut said = said.lock().unwrap_or_else(PoisonError::into_inner);
    stream.write_all(b"HTTP/1.1 200 OK\r\nContent-Type: text/event-stream\r\nConnection: close\r\n\r\n")?;
    stream.write_all(said.last.as_bytes())?;
    said.stream = Some(stream);
    Ok(())
}
