//! Puts the parts together: a window that follows the hub, a picture of a saved board, or pictures of a live hub. What
//! goes wrong here is told on standard error and by the exit status: 2 for wrong arguments or a wrong board, 1 otherwise.

use std::fmt;
use std::io::Read;
use std::path::Path;
use std::rc::Rc;
use std::sync::mpsc;
use std::time::{Duration, Instant};

use anyhow::Context;
use bellmare_barn::board::{Board, VERSION};
use slint::{ComponentHandle, Rgb8Pixel, SharedPixelBuffer};

use crate::app::{Kiosk, Line, Up};
use crate::cli::Cli;
use crate::link::Hub;
use crate::link::boards::{self, Word};
use crate::live::{complain, live, spawn};
use crate::picture::{Canvas, write_png};

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

/// Draws one screen of a saved board into a file.
fn draw_saved(cli: &Cli, picture: &Path, board: &Path) -> Result<(), Stopped> {
    let board = read_board(board).map_err(Stopped::Asked)?;
    Ok(write_png(&drawn(cli, board)?, picture)?)
}

/// One screen of a board, as the command line asks for it, on a canvas of its own: this thread has no other window.
///
/// # Errors
/// Where the board has nothing for that screen, or the thread has a window.
pub fn drawn(cli: &Cli, board: Board) -> Result<SharedPixelBuffer<Rgb8Pixel>, Stopped> {
    let up = cli.up(&board).map_err(Stopped::Asked)?;
    let canvas = Canvas::new(cli.size.0, cli.size.1)?;
    let kiosk = window(cli, Line::nowhere())?;
    kiosk.hear(board);
    if up == Up::Aisle {
        (1..cli.page).for_each(|_| kiosk.turn());
    }
    kiosk.last_word(Duration::from_secs(cli.silent.unwrap_or(0)));
    // To open a screen is a touch, which wakes it at night; the aisle is there without one.
    if up != Up::Aisle {
        kiosk.open(up);
    }
    Ok(canvas.draw())
}

/// Follows a hub with no display: the aisle into a file every so often. One line when it is first written.
fn follow(cli: &Cli, picture: &Path, every: Duration) -> Result<(), Stopped> {
    let canvas = Canvas::new(cli.size.0, cli.size.1)?;
    let kiosk = window(cli, Line::nowhere())?;
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

fn window(cli: &Cli, line: Line) -> anyhow::Result<Rc<Kiosk>> {
    let kiosk = Kiosk::new(cli.settings(), line).context("no window can be made")?;
    kiosk.app().show().context("the window can not be shown")?;
    Ok(kiosk)
}
