//! Which screen is up and what a touch does: the kiosk's own small state. It draws by handing pictures to [`ui`], and
//! sends by handing touches and questions to its [`Line`]; it knows no network, and of time only Slint's timers and the pace of keys.

mod glass;
mod hands;
mod screen;

use std::cell::RefCell;
use std::collections::BTreeMap;
use std::rc::{Rc, Weak};
use std::time::{Duration, Instant};

use bellmare_barn::board::Board;
use bellmare_barn::id::{HorseId, PersonId, RideId, StallId};
use bellmare_barn::input::Action;
use bellmare_barn::language::Language;
use bellmare_barn::refusal::Refusal;
use slint::{ComponentHandle, PlatformError, SharedString, Timer, TimerMode};

pub use self::screen::{Up, sizes};
use crate::aisle::Tone;
use crate::aisle::frame::Rect;
use crate::badge::Typed;
use crate::card::CardSide;
use crate::check::Entry;
use crate::fonts;
use crate::glass::Night;
use crate::link::questions::{Question, Reply, StandInsAnswer};
use crate::pages::Does;
use crate::pages::keypad::Tried;
use crate::pages::round::Part;
use crate::shapes;
use crate::sizes::Sizes;
use crate::ui::{self, App, Rows, Screens};
use crate::words;

/// How long a page stays.
pub const PAGE_STAYS: Duration = Duration::from_secs(8);
/// After so long without a touch the aisle picture comes back, and whoever stood here is taken to have gone.
pub const BACK_AFTER: Duration = Duration::from_secs(60);
/// How long the answer to a touch stays that is more than a word.
pub const ANSWER_STAYS: Duration = Duration::from_secs(6);
/// How long the word stays that it is done: what it did can be seen, and the word stands in the way of something.
pub const DONE_STAYS: Duration = Duration::from_secs(3);
/// What was entered of a horse and not sent is forgotten after so long without another key: it was measured too long ago.
pub const CHECK_KEPT: Duration = Duration::from_secs(600);
/// The hub is silent after so long without a word, in seconds. It speaks at least every five.
pub const SILENT_AFTER_S: u64 = 15;
/// A tap is greeted where it came so few seconds ago: a kiosk that starts does not greet who tapped in before.
const GREETED_WITHIN_S: u32 = 8;

/// A touch to be sent.
#[derive(Clone, PartialEq, Debug)]
pub struct Given {
    /// What it asks for.
    pub action: Action,
    /// Who stands before the kiosk, where they said.
    pub by: Option<PersonId>,
    /// What shows the hub that they act as staff.
    pub staff_token: Option<String>,
}

/// The way to the hub.
pub struct Line {
    /// Takes a touch away to be sent. False where too many wait already.
    pub give: Box<dyn Fn(Given) -> bool>,
    /// Takes a question away to be asked at once. False where it can not be.
    pub ask: Box<dyn Fn(Question) -> bool>,
}

impl Line {
    /// A line that takes everything and brings it nowhere: for pictures.
    pub fn nowhere() -> Self {
        Self { give: Box::new(|_| true), ask: Box::new(|_| true) }
    }
}

/// Is told where everything that can be touched stands, by its label.
type TellTargets = Box<dyn Fn(&[(String, Rect)])>;

/// What came of a touch.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Outcome {
    /// The hub has it.
    Done,
    /// The hub will not, and why.
    Refused(Refusal),
    /// The hub has answered with a status that it gives no reason for.
    Odd(u16),
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
    /// When the screen is dark.
    pub night: Night,
    /// Badge readers that stand beside it: who taps there is greeted here. Its own name is one of them.
    pub readers: Vec<String>,
    /// What it speaks while nobody stands here.
    pub language: Language,
}

/// Who acts as staff.
#[derive(Clone, PartialEq, Eq, Debug)]
struct Staff {
    person: PersonId,
    token: String,
}

#[derive(Default)]
struct State {
    board: Option<Rc<Board>>,
    silent_s: Option<u64>,
    up: Up,
    /// Which page of the screen, where it has several.
    page: usize,
    turn: usize,
    banner: Option<(String, Tone)>,
    /// Checks of horses that were begun and not sent: they are there again when somebody goes on.
    checks: BTreeMap<HorseId, Entry>,
    who: Option<PersonId>,
    staff: Option<Staff>,
    language: Language,
    /// Digits that were typed.
    typed: String,
    tried: Tried,
    stand_ins: Option<StandInsAnswer>,
    /// The last tap that was greeted, and whether it signed them in.
    greeted: Option<(PersonId, bool)>,
    /// What each thing that can be touched does, in the order in which it was drawn; and its second target.
    targets: Vec<(Option<Does>, Option<Does>)>,
}

/// The kiosk's window and what drives it.
pub struct Kiosk {
    app: App,
    rows: Rows,
    settings: Settings,
    state: RefCell<State>,
    line: RefCell<Line>,
    on_drawn: RefCell<Option<TellTargets>>,
    page_timer: Timer,
    back_timer: Timer,
    answer_timer: Timer,
    check_timer: Timer,
    typed: RefCell<Typed>,
    began: Instant,
    pane: glass::Pane,
}

impl Kiosk {
    /// Makes the window; it is not shown yet.
    ///
    /// # Errors
    /// Where the platform can not make a window.
    pub fn new(settings: Settings, line: Line) -> Result<Rc<Self>, PlatformError> {
        let app = App::new()?;
        let language = settings.language;
        words::set_language(language);
        words::speak_through(&app);
        fonts::register();
        shapes::draw_for(&app);
        let kiosk = Rc::new(Self {
            rows: Rows::attach(&app),
            app,
            settings,
            state: RefCell::new(State { language, ..State::default() }),
            line: RefCell::new(line),
            on_drawn: RefCell::default(),
            page_timer: Timer::default(),
            back_timer: Timer::default(),
            answer_timer: Timer::default(),
            check_timer: Timer::default(),
            typed: RefCell::default(),
            began: Instant::now(),
            pane: glass::Pane::default(),
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

    /// In which language it speaks.
    pub fn language(&self) -> Language {
        self.state.borrow().language
    }

    /// Who stands before it, where they said.
    pub fn who(&self) -> Option<PersonId> {
        self.state.borrow().who.clone()
    }

    /// A board came: it is the picture from now on.
    pub fn hear(self: &Rc<Self>, board: Board) {
        let mut state = self.state.borrow_mut();
        state.board = Some(Rc::new(board));
        state.silent_s = None;
        drop(state);
        self.greet_taps();
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
        match outcome {
            Outcome::Done => self.say_for(DONE_STAYS, words::kept(), Tone::Ready),
            Outcome::Refused(why) => self.say(words::refused(&why), Tone::Alarm),
            Outcome::Odd(status) => self.say(words::hub_answered(status), Tone::Alarm),
            Outcome::Waits => self.say(words::waits(), Tone::Unknown),
            Outcome::Lost => self.say(words::too_many(), Tone::Alarm),
        }
    }

    /// What came of a question.
    pub fn reply(self: &Rc<Self>, reply: Reply) {
        match reply {
            Reply::Staff { person, token, .. } => self.be_staff(person, token),
            Reply::NotStaff { person, refusal, wait_s } => self.not_staff(&person, &refusal, wait_s),
            Reply::Whose(Ok(person)) => self.staff_badge(person),
            Reply::Whose(Err(why)) => self.answer(Outcome::Refused(why)),
            Reply::StandIns(answer) => {
                self.state.borrow_mut().stand_ins = Some(answer);
                self.redraw();
            }
        }
    }

    /// A badge was held to the kiosk's own reader.
    ///
    /// Where staff are asked for it names who they are; everywhere else it signs somebody in or out.
    pub fn badge(self: &Rc<Self>, badge: &str) {
        self.touched();
        if matches!(self.up(), Up::ChooseStaff { .. } | Up::Pin { .. }) {
            self.ask(Question::Whose { badge: badge.into() });
        } else {
            self.give(Action::Badge(badge.into()));
        }
    }

    /// A key was pressed: readers that type are read so.
    fn typed_key(self: &Rc<Self>, text: &str) {
        let at = self.began.elapsed();
        let badge = text.chars().find_map(|typed| self.typed.borrow_mut().take(typed, at));
        if let Some(badge) = badge {
            self.badge(&badge);
        }
    }

    /// Puts a screen up, as a touch would.
    pub fn open(self: &Rc<Self>, up: Up) {
        let ask = match &up {
            Up::StandIns { ride } => Some(ride.clone()),
            _ => None,
        };
        {
            let mut state = self.state.borrow_mut();
            if state.up != up {
                state.page = 0;
                state.typed.clear();
                state.tried = Tried::Not;
            }
            state.up = up;
        }
        if let Some(ride) = ask {
            self.ask_stand_ins(ride);
        }
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

    /// Speaks this language from now on.
    pub fn speak(&self, language: Language) {
        self.state.borrow_mut().language = language;
        self.redraw();
    }

    /// The sizes in force for the window as it is.
    pub fn sizes(&self) -> Sizes {
        let window = self.app.window();
        let size = window.size().to_logical(window.scale_factor());
        sizes(&self.settings, size.width.max(1.0), size.height.max(1.0))
    }

    /// A line that answers a touch, for a few seconds.
    fn say(self: &Rc<Self>, text: String, tone: Tone) {
        self.say_for(ANSWER_STAYS, text, tone);
    }

    fn say_for(self: &Rc<Self>, stays: Duration, text: String, tone: Tone) {
        self.state.borrow_mut().banner = Some((text, tone));
        let weak = Rc::downgrade(self);
        self.answer_timer.start(TimerMode::SingleShot, stays, move || {
            run(&weak, |kiosk| {
                kiosk.state.borrow_mut().banner = None;
                kiosk.redraw();
            });
        });
        self.redraw();
    }

    /// Starts the minute after which the aisle comes back, and nobody is taken to stand here any more.
    fn touched(self: &Rc<Self>) {
        self.wake();
        let weak = Rc::downgrade(self);
        self.back_timer.start(TimerMode::SingleShot, BACK_AFTER, move || {
            run(&weak, |kiosk| {
                kiosk.end_staff();
                {
                    let mut state = kiosk.state.borrow_mut();
                    state.up = Up::Aisle;
                    state.who = None;
                    state.language = kiosk.settings.language;
                }
                kiosk.redraw();
            });
        });
    }

    /// True where it was taken away to be sent.
    fn give(self: &Rc<Self>, action: Action) -> bool {
        let for_staff = needs_staff(&action);
        if for_staff && self.state.borrow().silent_s.is_some() {
            // Kept for later it would come when staff mode is long over.
            self.say(words::hub_must_answer(), Tone::Unknown);
            return false;
        }
        let given = {
            let state = self.state.borrow();
            let staff = state.staff.as_ref();
            let by = staff.map(|staff| staff.person.clone()).or_else(|| state.who.clone());
            Given { action, by, staff_token: staff.filter(|_| for_staff).map(|staff| staff.token.clone()) }
        };
        let taken = (self.line.borrow().give)(given);
        if !taken {
            self.answer(Outcome::Lost);
        } else if self.state.borrow().silent_s.is_some() {
            self.answer(Outcome::Waits);
        }
        taken
    }

    fn ask(&self, question: Question) -> bool {
        (self.line.borrow().ask)(question)
    }

    fn ask_stand_ins(&self, ride: RideId) {
        let token = self.state.borrow().staff.as_ref().map(|staff| staff.token.clone());
        self.state.borrow_mut().stand_ins = None;
        if let Some(token) = token {
            self.ask(Question::StandIns { ride, token });
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
        aisle.on_steps_touched(with_text(|kiosk, stall| {
            kiosk.open(Up::Card { stall: StallId::from(stall), side: CardSide::Steps });
        }));
        aisle.on_alarm_touched(with_text(|kiosk, alarm| {
            if let Ok(alarm) = alarm.parse() {
                kiosk.open(Up::Alarm { alarm });
            }
        }));
        aisle.on_shift_touched(with(|kiosk| kiosk.open(Up::Shift)));
        aisle.on_round_touched(with(|kiosk| kiosk.open(Up::Round { part: Part::Chores })));
        aisle.on_heat_touched(with(|kiosk| kiosk.open(Up::Heat)));
        aisle.on_language_touched(with(|kiosk| kiosk.does(Does::Language)));

        self.app.global::<ui::Card>().on_way_touched(with_number(|kiosk, at| kiosk.target(place(at), false)));
        self.app.global::<ui::Card>().on_water_touched(with(|kiosk| {
            if let Up::Card { stall, .. } = kiosk.up() {
                kiosk.open(Up::Water { stall });
            }
        }));
        let sheet = self.app.global::<ui::Sheet>();
        sheet.on_touched(with_number(|kiosk, at| kiosk.target(place(at), false)));
        sheet.on_aside_touched(with_number(|kiosk, at| kiosk.target(place(at), true)));
        self.app.global::<ui::Plot>().on_back_touched(with_number(|kiosk, at| kiosk.target(place(at), false)));

        let check = self.app.global::<ui::Check>();
        check.on_key_touched(with_number(|kiosk, key| kiosk.key(place(key))));
        check.on_way_touched(with_number(|kiosk, way| kiosk.check_way(way)));

        self.app.global::<ui::Badges>().on_key(with_text(|kiosk, key| kiosk.typed_key(key)));
        self.connect_glass();
        self.app.global::<Screens>().on_resized(with(|kiosk| kiosk.redraw()));
        self.page_timer.start(TimerMode::Repeated, PAGE_STAYS, with(|kiosk| kiosk.turn()));
    }
}

/// True for what only staff may ask for.
fn needs_staff(action: &Action) -> bool {
    matches!(
        action,
        Action::AnswerHay { .. }
            | Action::WrongOver { .. }
            | Action::PutAside { .. }
            | Action::TakeUp { .. }
            | Action::SetClock { .. }
            | Action::Scratch { .. }
            | Action::StandIn { .. }
    )
}

/// What the screens count from 0.
fn place(number: i32) -> usize {
    usize::try_from(number).unwrap_or(usize::MAX)
}

fn run(weak: &Weak<Kiosk>, act: impl FnOnce(&Rc<Kiosk>)) {
    if let Some(kiosk) = weak.upgrade() {
        act(&kiosk);
    }
}
