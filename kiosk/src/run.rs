//! Puts the parts together: a window that follows the hub, a picture of a saved board, or pictures of a live hub. What
//! goes wrong here is told on standard error and by the exit status: 2 for wrong arguments or a wrong board, 1 otherwise.

use std::cell::RefCell;
use std::fmt;
use std::io::Read;
use std::path::Path;
use std::rc::Rc;
use std::sync::mpsc;
use std::time::{Duration, Instant};

use anyhow::Context;
use bellmare_barn::board::{Board, VERSION};
use slint::{ComponentHandle, LogicalSize, Timer, TimerMode};

use crate::app::{Kiosk, Outcome, Settings, Up, sizes};
use crate::check::Sign;
use crate::cli::{Cli, Drawn};
use crate::link::Hub;
use crate::link::boards::{self, Word};
use crate::link::touches;
use crate::people::Asked;
use crate::picture::{Canvas, write_png};
use crate::sizes::LEAST_ARCMIN;

/// Why the kiosk stopped.
#[derive(Debug)]
pub enum Stopped {
    /// What was asked for can not be: arguments, the board file.
    Asked(anyhow::Error),
    /// It could not be done.
    Failed(anyhow::Error),
}

impl Stopped {
    /// The exit status.
    pub fn code(&self) -> u8 {
        match self {
            Stopped::Asked(_) => 2,
            Stopped::Failed(_) => 1,
        }
    }
}

impl fmt::Display for Stopped {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Stopped::Asked(error) | Stopped::Failed(error) => write!(f, "{error:#}"),
        }
    }
}

impl From<anyhow::Error> for Stopped {
    fn from(error: anyhow::Error) -> Self {
        Stopped::Failed(error)
    }
}

/// Does what the command line asks for.
///
/// # Errors
/// See [`Stopped`].
pub fn run(cli: &Cli) -> Result<(), Stopped> {
    match (&cli.picture, &cli.board, cli.every) {
        (Some(picture), Some(board), _) => draw_saved(cli, picture, board),
        (Some(picture), None, Some(every)) => follow(cli, picture, Duration::from_secs(every)),
        (Some(_), None, None) => Err(Stopped::Asked(anyhow::anyhow!(
            "--picture needs a board: --board FILE for a saved one, or --every SECONDS to follow a hub"
        ))),
        (None, _, _) => Ok(live(cli)?),
    }
}

/// Reads a saved board; `-` is standard input.
///
/// # Errors
/// Where it can not be read, or is not a board of this version: says where and what.
pub fn read_board(file: &Path) -> anyhow::Result<Board> {
    let (name, text) = if file == Path::new("-") {
        let mut text = String::new();
        let read = std::io::stdin().read_to_string(&mut text);
        read.context("standard input: can not be read")?;
        ("standard input".to_owned(), text)
    } else {
        let name = file.display().to_string();
        let text = std::fs::read_to_string(file).with_context(|| format!("{name}: can not be read"))?;
        (name, text)
    };
    let board: Board = serde_json::from_str(&text).with_context(|| format!("{name}: is not a board"))?;
    anyhow::ensure!(
        board.version == VERSION,
        "{name}: is a board of version {}, this kiosk shows version {VERSION}",
        board.version
    );
    Ok(board)
}

/// Draws one screen of a saved board on a canvas of its own.
fn draw_saved(cli: &Cli, picture: &Path, board: &Path) -> Result<(), Stopped> {
    let board = read_board(board).map_err(Stopped::Asked)?;
    let up = match cli.screen {
        Drawn::Aisle => Up::Aisle,
        Drawn::SignIn => Up::People { asked: Asked::SignIn, page: cli.page as usize - 1 },
        Drawn::Card | Drawn::Check => {
            let stall = cli.stall.as_deref().unwrap_or_default();
            if !board.stalls.iter().any(|view| view.id.as_str() == stall) {
                let known: Vec<&str> = board.stalls.iter().map(|view| view.id.as_str()).collect();
                let why = anyhow::anyhow!("--stall {stall}: the board's stalls are {}", known.join(", "));
                return Err(Stopped::Asked(why));
            }
            match cli.screen {
                Drawn::Check => Up::Check { stall: stall.into(), sign: Sign::default() },
                _ => Up::card(stall),
            }
        }
    };
    let canvas = Canvas::new(cli.size.0, cli.size.1)?;
    let kiosk = window(cli, Box::new(|_| true))?;
    kiosk.hear(board);
    if up == Up::Aisle {
        (1..cli.page).for_each(|_| kiosk.turn());
    }
    kiosk.last_word(Duration::from_secs(cli.silent.unwrap_or(0)));
    kiosk.open(up);
    Ok(write_png(&canvas.draw(), picture)?)
}

/// Follows a hub with no display: the aisle into a file every so often. One line when it is first written.
fn follow(cli: &Cli, picture: &Path, every: Duration) -> Result<(), Stopped> {
    let canvas = Canvas::new(cli.size.0, cli.size.1)?;
    let kiosk = window(cli, Box::new(|_| true))?;
    let (words, heard) = mpsc::channel();
    let hub = Hub::new(&cli.hub, cli.key.clone());
    spawn("boards", move || boards::listen(&hub, |word| words.send(word).is_ok()))?;

    let began = Instant::now();
    let end = cli.for_s.map(|seconds| began + Duration::from_secs(seconds));
    let (mut last_word, mut write_at, mut has_board, mut written) = (began, began, false, false);
    let mut complained = String::new();
    loop {
        let now = Instant::now();
        if end.is_some_and(|end| now >= end) {
            return if written { Ok(()) } else { Err(never_heard(cli, &complained)) };
        }
        if has_board && now >= write_at {
            kiosk.last_word(now.duration_since(last_word));
            write_png(&canvas.draw(), picture)?;
            if !written {
                println!("{}: written, again every {} s", picture.display(), every.as_secs());
                written = true;
            }
            write_at = now + every;
        }
        let until = [Some(write_at).filter(|_| has_board), end, Some(now + Duration::from_secs(1))];
        let until = until.into_iter().flatten().min().unwrap_or(now);
        match heard.recv_timeout(until.saturating_duration_since(Instant::now())) {
            Ok(Word::Board(board)) => {
                kiosk.hear(*board);
                (last_word, has_board) = (Instant::now(), true);
            }
            Ok(Word::Alive) => last_word = Instant::now(),
            Ok(Word::Unreachable(why) | Word::NotUnderstood(why)) => complain(&mut complained, why),
            Err(_) => {}
        }
        canvas.pass(now.elapsed());
    }
}

fn never_heard(cli: &Cli, why: &str) -> Stopped {
    Stopped::Failed(anyhow::anyhow!("no board came from {}: {why}", cli.hub))
}

/// Says why nothing is heard, once for each reason.
fn complain(before: &mut String, why: String) {
    if *before != why {
        eprintln!("bellmare-kiosk: {why}");
        *before = why;
    }
}

/// The window in the aisle.
fn live(cli: &Cli) -> anyhow::Result<()> {
    let hub = Hub::new(&cli.hub, cli.key.clone());
    let (outcomes, answers) = mpsc::channel::<Outcome>();
    let sender = touches::start(hub.clone(), cli.name.clone(), move |outcome| {
        // The window is gone when nobody takes it; then there is nobody to tell.
        let _gone = outcomes.send(outcome);
    })?;
    let kiosk = window(cli, Box::new(move |action| sender.send(action)))?;
    if cli.fullscreen {
        kiosk.app().window().set_fullscreen(true);
    } else {
        kiosk.app().window().set_size(LogicalSize::new(1280.0, 800.0));
    }
    say_if_unreadable(&cli.settings(), &kiosk);

    let (words, heard) = mpsc::channel();
    spawn("boards", move || boards::listen(&hub, |word| words.send(word).is_ok()))?;
    let last_word = Rc::new(RefCell::new(Instant::now()));
    let complained = RefCell::new(String::new());
    let weak = Rc::downgrade(&kiosk);
    let look = Timer::default();
    // Ten times a second is soon enough for an eye and nothing to a processor.
    look.start(TimerMode::Repeated, Duration::from_millis(100), move || {
        let Some(kiosk) = weak.upgrade() else { return };
        for word in heard.try_iter() {
            match word {
                Word::Board(board) => {
                    kiosk.hear(*board);
                    *last_word.borrow_mut() = Instant::now();
                }
                Word::Alive => *last_word.borrow_mut() = Instant::now(),
                Word::Unreachable(why) | Word::NotUnderstood(why) => {
                    complain(&mut complained.borrow_mut(), why);
                }
            }
        }
        answers.try_iter().for_each(|outcome| kiosk.answer(outcome));
        kiosk.last_word(last_word.borrow().elapsed());
    });
    kiosk.app().run()?;
    Ok(())
}

/// A panel that is too small for its distance is told to who set it up, not to who stands before it.
fn say_if_unreadable(settings: &Settings, kiosk: &Kiosk) {
    let now = kiosk.sizes();
    let sizes = sizes(settings, now.panel.width_px, now.panel.height_px);
    let lines = sizes.panel.height_px / (sizes.aisle_font(LEAST_ARCMIN) * crate::text::LINE);
    if lines < 6.0 {
        eprintln!(
            "bellmare-kiosk: this panel holds only {lines:.1} lines that can be read from {} m; a shorter --distance-m or a larger panel shows more",
            sizes.distance_m
        );
    }
}

fn window(cli: &Cli, send: crate::app::Send) -> anyhow::Result<Rc<Kiosk>> {
    let kiosk = Kiosk::new(cli.settings(), send).context("no window can be made")?;
    kiosk.app().show().context("the window can not be shown")?;
    Ok(kiosk)
}

fn spawn(name: &str, work: impl FnOnce() + Send + 'static) -> anyhow::Result<()> {
    std::thread::Builder::new().name(name.to_owned()).spawn(work).context("no thread can be started")?;
    Ok(())
}
