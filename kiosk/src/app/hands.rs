//! What a touch does, once it is known what was touched; and who stands before the kiosk.

use std::rc::Rc;

use bellmare_barn::id::{PersonId, StallId};
use bellmare_barn::input::Action;
use bellmare_barn::language::Language;
use bellmare_barn::limits::DisplayUnits;
use bellmare_barn::refusal::Refusal;
use slint::TimerMode;

use super::{CHECK_KEPT, GREETED_WITHIN_S, Kiosk, Staff, Up, run};
use crate::aisle::Tone;
use crate::card::CardSide;
use crate::check::{self, Entry, Sign};
use crate::link::questions::Question;
use crate::pages::keypad::{PIN_DIGITS, Tried};
use crate::pages::{Does, clock};
use crate::words;

impl Kiosk {
    /// The thing that was drawn in that place was touched, or its second target.
    pub(super) fn target(self: &Rc<Self>, at: usize, aside: bool) {
        let does = self
            .state
            .borrow()
            .targets
            .get(at)
            .and_then(|(does, other)| if aside { other.clone() } else { does.clone() });
        self.touched();
        if let Some(does) = does {
            self.does(does);
        }
    }

    pub(super) fn does(self: &Rc<Self>, does: Does) {
        match does {
            Does::Open(up) => self.open(up),
            Does::Give(action) => {
                self.give(action);
                self.redraw();
            }
            Does::GiveAndOpen(action, up) => {
                let out = matches!(&action, Action::SignOut(person) if self.who().as_ref() == Some(person));
                // What could not be taken away is still there to be touched again.
                if self.give(action) {
                    if out {
                        self.nobody();
                    }
                    self.open(up);
                }
            }
            Does::Greet(person, up) => {
                self.greet(&person);
                self.open(up);
            }
            Does::SignIn(person) => {
                if self.give(Action::SignIn(person.clone())) {
                    self.greet(&person);
                    self.open(Up::Person { person });
                }
            }
            Does::SendCheck(person) => self.send_check(person),
            Does::Digit(digit) => self.digit(digit),
            Does::Rub => {
                self.state.borrow_mut().typed.pop();
                self.redraw();
            }
            Does::SetClock => {
                let action = clock::action(&self.state.borrow().typed);
                if action.is_some_and(|action| self.give(action)) {
                    self.open(Up::Staff);
                }
            }
            Does::Language => {
                self.touched();
                self.speak(match self.language() {
                    Language::English => Language::Spanish,
                    Language::Spanish => Language::English,
                });
            }
            Does::Wipe => self.wipe(),
            Does::EndStaff => {
                self.end_staff();
                self.open(Up::Aisle);
            }
            Does::More => {
                self.state.borrow_mut().page += 1;
                self.redraw();
            }
        }
    }

    /// This person stands here now: their language, their name on what they touch.
    pub(super) fn greet(&self, person: &PersonId) {
        let mut state = self.state.borrow_mut();
        let language = state
            .board
            .as_ref()
            .and_then(|board| board.people.iter().find(|one| one.id == *person).map(|one| one.language));
        state.language = language.unwrap_or(state.language);
        // Who comes after staff does not act as staff.
        if state.who.as_ref() != Some(person) {
            state.staff = state.staff.take().filter(|staff| staff.person == *person);
        }
        state.who = Some(person.clone());
    }

    fn nobody(&self) {
        let mut state = self.state.borrow_mut();
        state.who = None;
        state.language = self.settings.language;
    }

    /// Greets who has just tapped in beside this kiosk, and says goodbye to who tapped out.
    pub(super) fn greet_taps(self: &Rc<Self>) {
        let newest = {
            let state = self.state.borrow();
            let Some(board) = state.board.as_deref() else { return };
            let ours = |reader: &str| self.settings.readers.iter().any(|ours| ours == reader);
            let tap = board.tapped.iter().find(|tap| ours(tap.reader.as_str()));
            let Some(tap) = tap.filter(|tap| tap.ago_s <= GREETED_WITHIN_S) else { return };
            let name = board.people.iter().find(|person| person.id == tap.person).map(|person| person.name.clone());
            (tap.person.clone(), tap.here, name.unwrap_or_default())
        };
        let (person, here, name) = newest;
        if self.state.borrow().greeted.as_ref() == Some(&(person.clone(), here)) {
            return;
        }
        self.state.borrow_mut().greeted = Some((person.clone(), here));
        if here {
            self.greet(&person);
            self.open(Up::Person { person });
        } else {
            if self.who().as_ref() == Some(&person) {
                self.nobody();
            }
            self.say(words::signed_out(&name), Tone::Ready);
        }
    }

    fn digit(self: &Rc<Self>, digit: u8) {
        let up = self.up();
        let most = if up == Up::Clock { clock::DIGITS } else { PIN_DIGITS };
        let typed = {
            let mut state = self.state.borrow_mut();
            if state.tried == Tried::Asked || state.typed.len() >= most {
                return;
            }
            state.tried = Tried::Not;
            state.typed.push(char::from(b'0' + digit.min(9)));
            state.typed.clone()
        };
        if let Up::Pin { person, .. } = up
            && typed.len() == PIN_DIGITS
        {
            self.state.borrow_mut().typed.clear();
            let silent = self.state.borrow().silent_s.is_some();
            let asked = !silent && self.ask(Question::Pin { person, pin: typed });
            let tried = if asked { Tried::Asked } else { Tried::Refused(words::hub_must_answer()) };
            self.state.borrow_mut().tried = tried;
        }
        self.redraw();
    }

    /// Staff have shown their badge where they are asked who they are: now their PIN.
    pub(super) fn staff_badge(self: &Rc<Self>, person: PersonId) {
        if let Up::ChooseStaff { then } | Up::Pin { then, .. } = self.up() {
            self.open(Up::Pin { person, then });
        }
    }

    /// The hub has seen this person's PIN.
    pub(super) fn be_staff(self: &Rc<Self>, person: PersonId, token: String) {
        let Up::Pin { person: asked, then } = self.up() else {
            // They have walked away meanwhile.
            self.ask(Question::EndStaff { token });
            return;
        };
        if asked != person {
            self.ask(Question::EndStaff { token });
            return;
        }
        self.greet(&person);
        self.state.borrow_mut().staff = Some(Staff { person, token });
        self.open(*then);
    }

    pub(super) fn not_staff(self: &Rc<Self>, person: &PersonId, refusal: &Refusal, wait_s: u64) {
        if matches!(self.up(), Up::Pin { person: asked, .. } if asked == *person) {
            self.state.borrow_mut().tried = Tried::Refused(words::pin_refused(refusal, wait_s));
            self.redraw();
        }
    }

    pub(super) fn end_staff(&self) {
        let staff = self.state.borrow_mut().staff.take();
        if let Some(Staff { token, .. }) = staff {
            self.ask(Question::EndStaff { token });
        }
    }

    /// A key of a page of keys was pressed.
    pub(super) fn key(self: &Rc<Self>, key: usize) {
        match self.up() {
            Up::Check { .. } => self.enter(|entry, sign, units| entry.press(sign, key, units)),
            _ => self.target(key, false),
        }
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
            run(&weak, |kiosk| {
                kiosk.state.borrow_mut().checks.clear();
                kiosk.redraw();
            });
        });
        self.touched();
        self.redraw();
    }

    /// One of the ways of a page: back, take the value out, or on.
    pub(super) fn check_way(self: &Rc<Self>, way: i32) {
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
        self.open(Up::Checked { stall, found });
    }

    /// Sends a check under the name of who made it.
    fn send_check(self: &Rc<Self>, by: PersonId) {
        let Up::Checked { stall, .. } = self.up() else { return };
        let Some(board) = self.state.borrow().board.clone() else { return };
        let Some(horse) = check::horse(&board, &stall) else { return };
        let entry = self.state.borrow().checks.get(&horse).cloned().unwrap_or_default();
        let action = check::action(&board, &horse, &entry, by);
        if action.is_some_and(|action| self.give(action)) {
            self.state.borrow_mut().checks.remove(&horse);
        }
        // What the hub says to it stands beside the steps.
        self.open(Up::Card { stall, side: CardSide::Steps });
    }
}
