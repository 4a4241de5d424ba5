//! Which screen is up and what a touch does: the kiosk's own small state. It draws by handing pictures to [`ui`], and
//! sends by handing actions to whoever gave it a [`Send`]; it knows no network and reads no clock but Slint's timers.

use std::cell::RefCell;
use std::collections::BTreeMap;
use std::rc::{Rc, Weak};
use std::time::Duration;

use bellmare_barn::board::Board;
use bellmare_barn::id::{HorseId, PersonId, StallId};
use bellmare_barn::input::Action;
use bellmare_barn::limits::DisplayUnits;
use slint::{ComponentHandle, PlatformError, SharedString, Timer, TimerMode};

use crate::aisle::{self, Tone, View};
use crate::card::{self, CardSide, Pressed};
use crate::check::{self, Entry, Sign};
use crate::people::{self, Asked};
use crate::sizes::{LEAST_ARCMIN, Panel, Sizes};
use crate::ui::{self, App, Banner, Rows, Screens};
use crate::words;

/// How long a page stays.
pub const PAGE_STAYS: Duration = Duration::from_secs(8);
/// After so long without a touch the aisle picture comes back.
pub const BACK_AFTER: Duration = Duration::from_secs(60);
/// How long the answer to a touch stays.
pub const ANSWER_STAYS: Duration = Duration::from_secs(6);
/// What was entered of a horse and not sent is forgotten after so long without another key: it was measured too long ago.
pub const CHECK_KEPT: Duration = Duration::from_secs(600);
/// The hub is silent after so long without a word, in seconds. It speaks at least every five.
pub const SILENT_AFTER_S: u64 = 15;

/// Takes an action away to be sent. False where too many wait already.
pub type Send = Box<dyn Fn(Action) -> bool>;

/// What came of a touch.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Outcome {
    /// The hub has it.
    Done,
    /// The hub will not, and why.
    Refused(String),
    /// The hub does not answer; the touch is kept.
    Waits,
    /// Too many wait; this one is not kept.
    Lost,
}

/// What the kiosk is told of itself.
#[derive(Clone, PartialEq, Debug, Default)]
pub struct Settings {
    /// Width and height of the picture in millimetres, where measured.
    pub panel_mm: Option<(f32, f32)>,
    /// From how far the aisle is read, where said.
    pub distance_m: Option<f32>,
    /// Which aisle to show; all where none is named.
    pub aisle: Option<String>,
}

/// Which screen is up.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Up {
    /// The aisle picture.
    Aisle,
    /// A stall's card.
    Card {
        /// Which stall's.
        stall: StallId,
        /// Which side of it, where it has two.
        side: CardSide,
    },
    /// A page on which the horse of a stall is checked.
    Check {
        /// Which stall's.
        stall: StallId,
        /// Which page.
        sign: Sign,
    },
    /// Names.
    People {
        /// For what.
        asked: Asked,
        /// Which page of them.
        page: usize,
    },
}

impl Up {
    /// The card of a stall, with its tack up.
    pub fn card(stall: &str) -> Self {
        Up::Card { stall: StallId::from(stall), side: CardSide::Tack }
    }
}

struct State {
    board: Option<Rc<Board>>,
    silent_s: Option<u64>,
    up: Up,
    turn: usize,
    banner: Option<(String, Tone)>,
    /// Checks of horses that were begun and not sent: they are there again when somebody goes on.
    checks: BTreeMap<HorseId, Entry>,
}

/// The kiosk's window and what drives it.
pub struct Kiosk {
    app: App,
    rows: Rows,
    settings: Settings,
    state: RefCell<State>,
    send: RefCell<Send>,
    page_timer: Timer,
    back_timer: Timer,
    answer_timer: Timer,
    check_timer: Timer,
}

impl Kiosk {
    /// Makes the window; it is not shown yet.
    ///
    /// # Errors
    /// Where the platform can not make a window.
    pub fn new(settings: Settings, send: Send) -> Result<Rc<Self>, PlatformError> {
        let app = App::new()?;
        let kiosk = Rc::new(Self {
            rows: Rows::attach(&app),
            app,
            settings,
            state: RefCell::new(State {
                board: None,
                silent_s: None,
                up: Up::Aisle,
                turn: 0,
                banner: None,
                checks: BTreeMap::new(),
            }),
            send: RefCell::new(send),
            page_timer: Timer::default(),
            back_timer: Timer::default(),
            answer_timer: Timer::default(),
            check_timer: Timer::default(),
        });
        kiosk.connect();
        kiosk.redraw();
        Ok(kiosk)
    }

    /// The window.
    pub fn app(&self) -> &App {
        &self.app
    }

    /// Which screen is up.
    pub fn up(&self) -> Up {
        self.state.borrow().up.clone()
    }

    /// A board came: it is the picture from now on.
    pub fn hear(&self, board: Board) {
        let mut state = self.state.borrow_mut();
        state.board = Some(Rc::new(board));
        state.silent_s = None;
        drop(state);
        self.redraw();
    }

    /// So long ago the hub last said anything.
    pub fn last_word(&self, ago: Duration) {
        let silent = Some(ago.as_secs()).filter(|ago| *ago > SILENT_AFTER_S);
        if self.state.borrow().silent_s != silent {
            self.state.borrow_mut().silent_s = silent;
            self.redraw();
        }
    }

    /// Says what came of a touch.
    pub fn answer(self: &Rc<Self>, outcome: Outcome) {
        let (text, tone) = match outcome {
            Outcome::Done => (words::KEPT.to_owned(), Tone::Ready),
            Outcome::Refused(why) => (words::refused(&why), Tone::Alarm),
            Outcome::Waits => (words::WAITS.to_owned(), Tone::Unknown),
            Outcome::Lost => (words::TOO_MANY.to_owned(), Tone::Alarm),
        };
        self.state.borrow_mut().banner = Some((text, tone));
        let weak = Rc::downgrade(self);
        self.answer_timer.start(TimerMode::SingleShot, ANSWER_STAYS, move || {
            if let Some(kiosk) = weak.upgrade() {
                kiosk.state.borrow_mut().banner = None;
                kiosk.redraw();
            }
        });
        self.redraw();
    }

    /// Puts a screen up, as a touch would.
    pub fn open(self: &Rc<Self>, up: Up) {
        self.state.borrow_mut().up = up;
        self.touched();
        self.redraw();
    }

    /// Turns the pages of the aisle picture by one.
    pub fn turn(&self) {
        {
            let mut state = self.state.borrow_mut();
            state.turn = state.turn.wrapping_add(1);
        }
        self.redraw();
    }

    /// The sizes in force for the window as it is.
    pub fn sizes(&self) -> Sizes {
        let window = self.app.window();
        let size = window.size().to_logical(window.scale_factor());
        sizes(&self.settings, size.width.max(1.0), size.height.max(1.0))
    }

    /// Draws what is up anew.
    pub fn redraw(&self) {
        let state = self.state.borrow();
        let sizes = self.sizes();
        let screens = self.app.global::<Screens>();
        let banner = state.banner.as_ref();
        screens.set_banner(Banner {
            text: banner.map(|(text, _)| SharedString::from(text)).unwrap_or_default(),
            tone: ui::tone(banner.map(|(_, tone)| *tone).unwrap_or_default()),
            size: sizes.arm_font(LEAST_ARCMIN) * 1.5,
        });
        let Some(board) = state.board.as_deref() else {
            screens.set_waiting(words::NO_BOARD.into());
            screens.set_waiting_why(words::NO_BOARD_WHY.into());
            screens.set_size(sizes.aisle_font(LEAST_ARCMIN).min(sizes.panel.width_px / 14.0));
            screens.set_current(ui::Screen::Waiting);
            return;
        };
        let shown = match &state.up {
            Up::Aisle => None,
            Up::Card { stall, side } => card::draw(board, stall, *side, &sizes).map(|card| {
                self.rows.show_card(&self.app, &card);
                ui::Screen::Card
            }),
            Up::Check { stall, sign } => {
                let entry = check::horse(board, stall).and_then(|horse| state.checks.get(&horse).cloned());
                check::draw(board, stall, *sign, &entry.unwrap_or_default(), &sizes).map(|page| {
                    self.rows.show_check(&self.app, &page);
                    ui::Screen::Check
                })
            }
            Up::People { asked, page } => {
                self.rows.show_people(&self.app, &people::draw(board, asked, *page, &sizes));
                Some(ui::Screen::People)
            }
        };
        // A stall that is no longer on the board has no card: the aisle is shown instead.
        let screen = shown.unwrap_or_else(|| {
            let view = View {
                board,
                sizes,
                aisle: self.settings.aisle.as_deref(),
                turn: state.turn,
                silent_s: state.silent_s,
            };
            self.rows.show_aisle(&self.app, &aisle::picture(&view));
            ui::Screen::Aisle
        });
        screens.set_current(screen);
    }

    /// Starts the minute after which the aisle comes back.
    fn touched(self: &Rc<Self>) {
        let weak = Rc::downgrade(self);
        self.back_timer.start(TimerMode::SingleShot, BACK_AFTER, move || {
            if let Some(kiosk) = weak.upgrade() {
                kiosk.state.borrow_mut().up = Up::Aisle;
                kiosk.redraw();
            }
        });
    }

    fn press(self: &Rc<Self>, pressed: Pressed) {
        self.touched();
        let action = {
            let state = self.state.borrow();
            match (&state.up, state.board.as_deref()) {
                (Up::Card { stall, .. }, Some(board)) => card::action(board, stall, pressed),
                _ => None,
            }
        };
        self.give(action);
    }

    /// Changes what was entered of the horse that is being checked.
    fn enter(self: &Rc<Self>, change: impl FnOnce(&mut Entry, Sign, DisplayUnits)) {
        {
            let mut state = self.state.borrow_mut();
            let (Up::Check { stall, sign }, Some(board)) = (state.up.clone(), state.board.clone()) else { return };
            let Some(horse) = check::horse(&board, &stall) else { return };
            change(state.checks.entry(horse).or_default(), sign, board.units);
        }
        let weak = Rc::downgrade(self);
        self.check_timer.start(TimerMode::SingleShot, CHECK_KEPT, move || {
            if let Some(kiosk) = weak.upgrade() {
                kiosk.state.borrow_mut().checks.clear();
                kiosk.redraw();
            }
        });
        self.touched();
        self.redraw();
    }

    /// One of the ways of a page: back, take the value out, or on.
    fn check_way(self: &Rc<Self>, way: i32) {
        let Up::Check { stall, sign } = self.up() else { return };
        match way {
            0 => self.open(match sign.before() {
                Some(sign) => Up::Check { stall, sign },
                None => Up::Card { stall, side: CardSide::Tack },
            }),
            1 => self.enter(|entry, sign, _| entry.clear(sign)),
            _ => match sign.next() {
                Some(sign) => self.open(Up::Check { stall, sign }),
                None => self.ask_who_checked(stall),
            },
        }
    }

    fn ask_who_checked(self: &Rc<Self>, stall: StallId) {
        let found = {
            let state = self.state.borrow();
            let Some(board) = state.board.as_deref() else { return };
            let entry = check::horse(board, &stall).and_then(|horse| state.checks.get(&horse));
            entry.map(|entry| entry.summary(board.units)).unwrap_or_default()
        };
        self.open(Up::People { asked: Asked::Checked { stall, found }, page: 0 });
    }

    /// Sends a check under the name of who made it.
    fn send_check(self: &Rc<Self>, stall: &StallId, id: &str) {
        let Some(board) = self.state.borrow().board.clone() else { return };
        let known = board.people.iter().any(|person| person.id.as_str() == id);
        let Some(horse) = check::horse(&board, stall).filter(|_| known) else { return };
        let entry = self.state.borrow().checks.get(&horse).cloned().unwrap_or_default();
        if self.give(check::action(&board, &horse, &entry, PersonId::new(id))) {
            self.state.borrow_mut().checks.remove(&horse);
        }
        // What the hub says to it is on the card.
        self.open(Up::Card { stall: stall.clone(), side: CardSide::Handling });
    }

    fn name(self: &Rc<Self>, id: &str) {
        if let Up::People { asked: Asked::Checked { stall, .. }, .. } = self.up() {
            return self.send_check(&stall, id);
        }
        let action = {
            let state = self.state.borrow();
            match (&state.up, state.board.as_deref()) {
                (Up::People { asked, .. }, Some(board)) => people::action(board, asked, id),
                _ => None,
            }
        };
        self.give(action);
        self.open(Up::Aisle);
    }

    /// True where it was taken away to be sent.
    fn give(self: &Rc<Self>, action: Option<Action>) -> bool {
        let Some(action) = action else { return false };
        let taken = (self.send.borrow())(action);
        if !taken {
            self.answer(Outcome::Lost);
        } else if self.state.borrow().silent_s.is_some() {
            self.answer(Outcome::Waits);
        }
        taken
    }

    fn more(self: &Rc<Self>) {
        let up = self.up();
        if let Up::People { asked, page } = up {
            self.open(Up::People { asked, page: page.wrapping_add(1) });
        }
    }

    fn connect(self: &Rc<Self>) {
        let weak = Rc::downgrade(self);
        let with = move |act: fn(&Rc<Self>)| {
            let weak = weak.clone();
            move || run(&weak, act)
        };
        let weak = Rc::downgrade(self);
        let with_text = move |act: fn(&Rc<Self>, &str)| {
            let weak = weak.clone();
            move |text: SharedString| run(&weak, |kiosk| act(kiosk, &text))
        };

        let weak = Rc::downgrade(self);
        let with_number = move |act: fn(&Rc<Self>, i32)| {
            let weak = weak.clone();
            move |number: i32| run(&weak, |kiosk| act(kiosk, number))
        };

        let aisle = self.app.global::<ui::Aisle>();
        aisle.on_stall_touched(with_text(|kiosk, stall| kiosk.open(Up::card(stall))));
        aisle.on_alarm_touched(with_text(|kiosk, alarm| {
            if let Ok(alarm) = alarm.parse() {
                kiosk.open(Up::People { asked: Asked::Seen { alarm }, page: 0 });
            }
        }));
        aisle.on_shift_touched(with(|kiosk| kiosk.open(Up::People { asked: Asked::SignIn, page: 0 })));

        let card = self.app.global::<ui::Card>();
        card.on_begin_touched(with(|kiosk| kiosk.press(Pressed::Begin)));
        card.on_done_touched(with(|kiosk| kiosk.press(Pressed::Done)));
        card.on_undo_touched(with(|kiosk| kiosk.press(Pressed::Undo)));
        card.on_side_touched(with(|kiosk| {
            if let Up::Card { stall, side } = kiosk.up() {
                let side = match side {
                    CardSide::Tack => CardSide::Handling,
                    CardSide::Handling => CardSide::Tack,
                };
                kiosk.open(Up::Card { stall, side });
            }
        }));
        card.on_check_touched(with(|kiosk| {
            if let Up::Card { stall, .. } = kiosk.up() {
                kiosk.open(Up::Check { stall, sign: Sign::default() });
            }
        }));
        card.on_back_touched(with(|kiosk| kiosk.open(Up::Aisle)));

        let check = self.app.global::<ui::Check>();
        check.on_key_touched(with_number(|kiosk, key| {
            let Ok(key) = usize::try_from(key) else { return };
            kiosk.enter(|entry, sign, units| entry.press(sign, key, units));
        }));
        check.on_way_touched(with_number(|kiosk, way| kiosk.check_way(way)));

        let people = self.app.global::<ui::People>();
        people.on_person_touched(with_text(|kiosk, id| kiosk.name(id)));
        people.on_more_touched(with(|kiosk| kiosk.more()));
        people.on_back_touched(with(|kiosk| kiosk.open(Up::Aisle)));

        self.app.global::<Screens>().on_resized(with(|kiosk| kiosk.redraw()));
        self.page_timer.start(TimerMode::Repeated, PAGE_STAYS, with(|kiosk| kiosk.turn()));
    }
}

fn run(weak: &Weak<Kiosk>, act: impl FnOnce(&Rc<Kiosk>)) {
    if let Some(kiosk) = weak.upgrade() {
        act(&kiosk);
    }
}

/// The sizes for a picture of so many pixels.
pub fn sizes(settings: &Settings, width_px: f32, height_px: f32) -> Sizes {
    let mut panel = Panel::usual(width_px, height_px);
    if let Some((width_mm, height_mm)) = settings.panel_mm {
        panel = Panel { width_mm, height_mm, ..panel };
    }
    Sizes { panel, distance_m: settings.distance_m.unwrap_or_else(|| panel.usual_distance_m()) }
}
