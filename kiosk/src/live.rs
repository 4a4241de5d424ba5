//! The window in the aisle. Threads of its own listen to the hub, send touches, ask questions and read badges; each puts what it
//! heard into one channel and rings a bell in the window's loop, which sleeps meanwhile. Nothing is looked for at intervals but
//! the age of the last word.

use std::cell::{Cell, OnceCell, RefCell};
use std::path::Path;
use std::rc::Rc;
use std::sync::Arc;
use std::sync::mpsc::{self, Receiver};
use std::time::{Duration, Instant};

use anyhow::Context;
use bellmare_barn::board::{Board, VERSION};
use serde::{Deserialize, Serialize};
#[cfg(feature = "desktop")]
use slint::winit_030::WinitWindowAccessor;
use slint::{ComponentHandle, LogicalSize, Timer, TimerMode, Weak};

use crate::aisle::frame::Rect;
use crate::app::{Kiosk, Line, Outcome, SILENT_AFTER_S, Settings, sizes};
use crate::badge::reader;
use crate::cli::Cli;
use crate::link::Hub;
use crate::link::boards::{self, Word};
use crate::link::keep::{Folder, usual_folder};
use crate::link::moment::Moment;
use crate::link::questions::{self, Reply};
use crate::link::touches;
use crate::sizes::LEAST_ARCMIN;
use crate::ui::{self, App};

/// The last board is brought to the disk so often at most: an SD card is worn by being written to.
const BOARD_KEPT_EVERY: Duration = Duration::from_secs(300);

/// What a thread has heard.
enum Heard {
    Word(Word),
    Outcome(Outcome),
    Reply(Reply),
    Badge(String),
}

/// Tells the window's loop what was heard, and wakes it.
#[derive(Clone)]
struct Bell {
    heard: mpsc::Sender<Heard>,
    app: Weak<App>,
}

impl Bell {
    /// False where the window is gone.
    fn ring(&self, heard: Heard) -> bool {
        let told = self.heard.send(heard).is_ok();
        told && self.app.upgrade_in_event_loop(|app| app.global::<ui::Bell>().invoke_rung()).is_ok()
    }
}

/// The board as it is kept.
#[derive(Serialize, Deserialize)]
struct KeptBoard {
    heard: Moment,
    board: Board,
}

struct Live {
    kiosk: Rc<Kiosk>,
    heard: Receiver<Heard>,
    last_word: Cell<Instant>,
    /// How old the last word was when that began to count: that of a board from before this start.
    aged: Cell<Duration>,
    complained: RefCell<String>,
}

/// Shows the window and follows the hub until it is closed.
///
/// # Errors
/// Where there is no window or no thread to be had.
pub fn live(cli: &Cli) -> anyhow::Result<()> {
    let hub = Hub::new(&cli.hub, cli.key.clone());
    let folder = open_folder(cli);
    let (asker, sender) = (Rc::new(OnceCell::new()), Rc::new(OnceCell::new()));
    let (ask, give) = (asker.clone(), sender.clone());
    let line = Line {
        give: Box::new(move |given| give.get().is_some_and(|sender: &touches::Sender| sender.send(given))),
        ask: Box::new(move |question| ask.get().is_some_and(|asker: &questions::Asker| asker.ask(question))),
    };
    let kiosk = Kiosk::new(cli.settings(), line).context("no window can be made")?;
    if let Some(file) = cli.targets.clone() {
        kiosk.tell_targets(move |targets| write_targets(&file, targets));
    }
    let aged = folder.as_deref().and_then(|folder| last_board(&kiosk, folder));
    kiosk.app().show().context("the window can not be shown")?;
    if cli.fullscreen {
        kiosk.app().window().set_fullscreen(true);
    } else {
        kiosk.app().window().set_size(LogicalSize::new(1280.0, 800.0));
    }
    say_if_unreadable(&cli.settings(), &kiosk);

    let (words, heard) = mpsc::channel();
    let bell = Bell { heard: words, app: kiosk.app().as_weak() };
    let told = bell.clone();
    let started = touches::start(hub.clone(), cli.name.clone(), folder.clone(), move |outcome| {
        // The window is gone when nobody takes it; then there is nobody to tell.
        let _gone = told.ring(Heard::Outcome(outcome));
    })?;
    let _first = sender.set(started);
    let told = bell.clone();
    let started = questions::start(hub.clone(), cli.name.clone(), move |reply| {
        let _gone = told.ring(Heard::Reply(reply));
    })?;
    let _first = asker.set(started);
    if let Some(device) = cli.badge_reader.clone() {
        let told = bell.clone();
        spawn("badges", move || listen_to_badges(&device, &told))?;
    }
    spawn("boards", move || listen_to_boards(&hub, folder.as_deref(), &bell))?;

    let live = Rc::new(Live {
        kiosk,
        heard,
        last_word: Cell::new(Instant::now()),
        aged: Cell::new(aged.unwrap_or_default()),
        complained: RefCell::default(),
    });
    live.look();
    let weak = Rc::downgrade(&live);
    let look = move || {
        if let Some(live) = weak.upgrade() {
            live.look();
        }
    };
    live.kiosk.app().global::<ui::Bell>().on_rung(look.clone());
    let age = Timer::default();
    age.start(TimerMode::Repeated, Duration::from_secs(1), look);
    live.kiosk.app().run()?;
    Ok(())
}

impl Live {
    /// Takes what was heard, and says how old the last word is.
    fn look(&self) {
        let mut changed = false;
        for heard in self.heard.try_iter() {
            changed |= !matches!(heard, Heard::Word(Word::Alive));
            match heard {
                Heard::Word(Word::Board(board)) => {
                    self.is_there();
                    self.kiosk.hear(*board);
                }
                Heard::Word(Word::Alive) => self.is_there(),
                Heard::Word(Word::Unreachable(why) | Word::NotUnderstood(why)) => {
                    complain(&mut self.complained.borrow_mut(), why);
                }
                Heard::Outcome(outcome) => self.kiosk.answer(outcome),
                Heard::Reply(reply) => self.kiosk.reply(reply),
                Heard::Badge(badge) => self.kiosk.badge(&badge),
            }
        }
        self.kiosk.last_word(self.aged.get() + self.last_word.get().elapsed());
        if changed {
            draw_soon(&self.kiosk);
        }
    }

    fn is_there(&self) {
        self.last_word.set(Instant::now());
        self.aged.set(Duration::ZERO);
    }
}

/// Has what has changed drawn as soon as the loop comes to it. By itself the window's system draws on X11 at the next beat of a
/// timer that only starts with the change: 16 ms later, for nothing.
#[cfg(feature = "desktop")]
fn draw_soon(kiosk: &Kiosk) {
    // Where there is no window of that system there is none to hurry.
    let _none = kiosk.app().window().with_winit_window(|window| window.request_redraw());
}

#[cfg(not(feature = "desktop"))]
fn draw_soon(_: &Kiosk) {}

/// Where everything that can be touched stands. Whoever reads finds the whole of it or what was before.
fn write_targets(file: &Path, targets: &[(String, Rect)]) {
    let lines = targets.iter().map(|(label, rect)| format!("{} {} {} {} {label}\n", rect.x, rect.y, rect.w, rect.h));
    let aside = file.with_extension("new");
    let written = std::fs::write(&aside, lines.collect::<String>()).and_then(|()| std::fs::rename(&aside, file));
    if let Err(why) = written {
        eprintln!("bellmare-kiosk: {}: {why}", file.display());
    }
}

fn open_folder(cli: &Cli) -> Option<Arc<Folder>> {
    let path = cli.keep.clone().unwrap_or_else(|| usual_folder(|name| std::env::var(name).ok()));
    match Folder::open(&path) {
        Ok(folder) => Some(Arc::new(folder)),
        Err(error) => {
            eprintln!("bellmare-kiosk: nothing is kept over a restart: {}: {error}", path.display());
            None
        }
    }
}

/// Shows the board that was kept, and says how long ago it was heard; at least as silent as that is the hub. Where that can not
/// be known it is taken to be just too old.
fn last_board(kiosk: &Rc<Kiosk>, folder: &Folder) -> Option<Duration> {
    match folder.board::<KeptBoard>() {
        Ok(Some(kept)) if kept.board.version == VERSION => {
            let too_old = Duration::from_secs(SILENT_AFTER_S + 1);
            let age = kept.heard.before(&Moment::now()).unwrap_or(too_old).max(too_old);
            kiosk.hear(kept.board);
            kiosk.last_word(age);
            Some(age)
        }
        // Another version's board is not guessed at.
        Ok(_) => None,
        Err(told) => {
            eprintln!("bellmare-kiosk: the last board is lost: {told}");
            None
        }
    }
}

fn listen_to_boards(hub: &Hub, folder: Option<&Folder>, bell: &Bell) {
    let mut kept_at: Option<Instant> = None;
    let mut complained = String::new();
    boards::listen(hub, |word| {
        let due = kept_at.is_none_or(|at| at.elapsed() >= BOARD_KEPT_EVERY);
        let kept = match (&word, folder) {
            (Word::Board(board), Some(folder)) if due => {
                Some((folder, KeptBoard { heard: Moment::now(), board: Board::clone(board) }))
            }
            _ => None,
        };
        // On the screen first.
        let wanted = bell.ring(Heard::Word(word));
        if let Some((folder, kept)) = kept {
            kept_at = Some(Instant::now());
            if let Err(error) = folder.keep_board(&kept) {
                complain(&mut complained, format!("the last board is not kept over a restart: {error}"));
            }
        }
        wanted
    });
}

/// Hands each badge to the window; says once that a reader is gone, and once that it is back.
fn listen_to_badges(device: &Path, bell: &Bell) {
    let mut complained = String::new();
    reader::listen(device, |heard| match heard {
        reader::Heard::Badge(badge) => bell.ring(Heard::Badge(badge)),
        reader::Heard::There => {
            if !std::mem::take(&mut complained).is_empty() {
                eprintln!("bellmare-kiosk: {}: the badge reader is there", device.display());
            }
            true
        }
        reader::Heard::Gone(why) => {
            complain(&mut complained, format!("no badge is read: {why}"));
            true
        }
    });
}

/// Says why something is not heard, once for each reason.
pub(crate) fn complain(before: &mut String, why: String) {
    if *before != why {
        eprintln!("bellmare-kiosk: {why}");
        *before = why;
    }
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

pub(crate) fn spawn(name: &str, work: impl FnOnce() + Send + 'static) -> anyhow::Result<()> {
    std::thread::Builder::new().name(name.to_owned()).spawn(work).context("no thread can be started")?;
    Ok(())
}
