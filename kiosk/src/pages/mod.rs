//! Pages at arm's length that are made of the same parts: a title, lines to read, large targets, ways on and back. Each file
//! here says what one page holds and what each of its targets does; [`layout`] says where that stands. Pure: a page is drawn
//! from the board and from what the kiosk knows of who stands before it, and sends nothing itself.

pub mod alarm;
pub mod clock;
pub mod hay;
pub mod keypad;
pub mod layout;
pub mod person;
pub mod plots;
pub mod round;
pub mod shift;
pub mod staff;
pub mod stand_ins;
pub mod steps;
pub mod wrong;

use bellmare_barn::board::{Board, HorseView, PersonView, StallView};
use bellmare_barn::id::{HorseId, PersonId, StallId};
use bellmare_barn::input::Action;
use bellmare_barn::language::Language;

use crate::aisle::Tone;
use crate::app::Up;
use crate::card::{self, CardSide};
use crate::link::questions::StandInsAnswer;
use crate::sizes::Sizes;
use crate::words;

/// What a touch on a target does.
#[derive(Clone, PartialEq, Debug)]
pub enum Does {
    /// Puts another screen up.
    Open(Up),
    /// Sends this; the page stays.
    Give(Action),
    /// Sends this, then puts another screen up.
    GiveAndOpen(Action, Up),
    /// This person stands here now; then another screen.
    Greet(PersonId, Up),
    /// Signs this person in: they stand here now.
    SignIn(PersonId),
    /// Sends what was found of the horse that is checked, under this name.
    SendCheck(PersonId),
    /// Types a digit.
    Digit(u8),
    /// Takes the last digit out.
    Rub,
    /// Sends the clock that was typed.
    SetClock,
    /// The other language.
    Language,
    /// A minute in which touches do nothing.
    Wipe,
    /// Ends staff mode.
    EndStaff,
    /// The next page of this page.
    More,
}

/// What the kiosk knows besides the board.
#[derive(Clone, Copy, Debug)]
pub struct Here<'a> {
    /// The last board.
    pub board: &'a Board,
    /// Who stands before it, where they said.
    pub who: Option<&'a PersonId>,
    /// Who acts as staff.
    pub staff: Option<&'a PersonId>,
    /// In which language.
    pub language: Language,
    /// What the hub said of who could stand in, where it was asked.
    pub stand_ins: Option<&'a StandInsAnswer>,
}

impl<'a> Here<'a> {
    /// A board before which nobody stands.
    pub fn nobody(board: &'a Board, language: Language) -> Self {
        Self { board, who: None, staff: None, language, stand_ins: None }
    }

    /// A person of the board.
    pub fn person(&self, id: &PersonId) -> Option<&'a PersonView> {
        self.board.people.iter().find(|person| person.id == *id)
    }

    /// A stall of the board.
    pub fn stall(&self, id: &StallId) -> Option<&'a StallView> {
        self.board.stalls.iter().find(|stall| stall.id == *id)
    }

    /// A horse of the board and where it stands.
    pub fn horse(&self, id: &HorseId) -> Option<(&'a StallView, &'a HorseView)> {
        self.board.stalls.iter().find_map(|stall| {
            let horse = stall.horse.as_ref().filter(|horse| horse.id == *id)?;
            Some((stall, horse))
        })
    }
}

/// How an item looks.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub enum Look {
    /// A line to read.
    #[default]
    Line,
    /// Over what follows.
    Heading,
    /// A target with its words at the left.
    Target,
    /// A target with its word in the middle.
    Button,
}

/// A part of a page.
#[derive(Clone, PartialEq, Debug, Default)]
pub struct Item {
    /// How it looks.
    pub look: Look,
    /// Its word, or its line.
    pub text: String,
    /// What stands under it, smaller; may be empty.
    pub below: String,
    /// Its number in a row of steps; may be empty.
    pub turn: String,
    /// Its shape and colour.
    pub tone: Tone,
    /// Filled with its colour: what is most likely meant, or what was chosen.
    pub strong: bool,
    /// What a touch does; none where it can only be read.
    pub does: Option<Does>,
    /// A second target at its right end: its word, and what it does.
    pub aside: Option<(String, Does)>,
    /// Everything in one sentence, for who listens; the text and what is below it unless said.
    pub label: String,
}

impl Item {
    /// A line to read.
    pub fn line(text: impl Into<String>) -> Self {
        Self { text: text.into(), ..Self::default() }
    }

    /// Words over what follows.
    pub fn heading(text: impl Into<String>) -> Self {
        Self { look: Look::Heading, text: text.into(), ..Self::default() }
    }

    /// A target in the body of a page.
    pub fn target(text: impl Into<String>, does: Does) -> Self {
        Self { look: Look::Target, text: text.into(), does: Some(does), ..Self::default() }
    }

    /// A target at the foot of a page.
    pub fn button(text: impl Into<String>, does: Does) -> Self {
        Self { look: Look::Button, text: text.into(), does: Some(does), ..Self::default() }
    }

    /// With smaller words under it.
    pub fn below(mut self, below: impl Into<String>) -> Self {
        self.below = below.into();
        self
    }

    /// With a shape and a colour.
    pub fn tone(mut self, tone: Tone) -> Self {
        self.tone = tone;
        self
    }

    /// Filled with its colour.
    pub fn strong(mut self, tone: Tone) -> Self {
        (self.strong, self.tone) = (true, tone);
        self
    }

    /// With a second target at its end.
    pub fn aside(mut self, text: impl Into<String>, does: Does) -> Self {
        self.aside = Some((text.into(), does));
        self
    }

    /// What is said of it to who listens.
    pub fn label(&self) -> String {
        match (self.label.is_empty(), self.below.is_empty()) {
            (false, _) => self.label.clone(),
            (true, true) => self.text.clone(),
            (true, false) => format!("{}, {}", self.text, self.below),
        }
    }
}

/// A page as it is said, before anybody knows how large the glass is.
#[derive(Clone, PartialEq, Debug, Default)]
pub struct Sheet {
    /// What it is about.
    pub title: String,
    /// More on that; may be empty.
    pub below: String,
    /// Its shape.
    pub tone: Tone,
    /// What stands on it.
    pub items: Vec<Item>,
    /// What stands beside that where the glass is wide, and after it where it is not.
    pub beside: Vec<Item>,
    /// How wide a target must be at least, in font sizes: narrow words stand in more columns.
    pub least_width: f32,
    /// Rows of buttons at the foot, the last row lowest.
    pub ways: Vec<Vec<Item>>,
}

/// Draws up the page of a screen; none where the screen is no such page, or what it is about has left the board.
pub fn sheet(up: &Up, here: &Here<'_>, sizes: &Sizes) -> Option<Sheet> {
    match up {
        Up::Card { stall, side: CardSide::Steps } => {
            let stall = here.stall(stall)?;
            steps::sheet(here, stall, card::ways(here, stall, CardSide::Steps, sizes))
        }
        Up::Checked { stall, found } => Some(shift::checked(here, stall, found)),
        Up::Shift => Some(shift::sheet(here)),
        Up::Person { person } => person::sheet(here, person),
        Up::Round { part } => Some(round::sheet(here, *part)),
        Up::Wrong { horse } => wrong::sheet(here, horse),
        Up::Alarm { alarm } => alarm::sheet(here, *alarm),
        Up::Staff => staff::sheet(here),
        Up::ChooseStaff { then } => Some(staff::choose(here, then)),
        Up::StandIns { ride } => stand_ins::sheet(here, ride),
        Up::Aisle | Up::Card { .. } | Up::Check { .. } | Up::Pin { .. } | Up::Clock | Up::Water { .. } | Up::Heat => {
            None
        }
    }
}

/// Back to the aisle.
pub fn back() -> Item {
    Item::button(words::back(), Does::Open(Up::Aisle))
}

/// To the other language: named in that language.
pub fn other_language(here: &Here<'_>) -> Item {
    Item::button(words::other_language(here.language), Does::Language)
}
