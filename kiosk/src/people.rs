//! Names to touch, as many on a page as stand in large targets. It decides what a touch on a name means.

use bellmare_barn::board::{Board, PersonView};
use bellmare_barn::id::{PersonId, StallId};
use bellmare_barn::input::Action;

use crate::aisle::frame::Rect;
use crate::sizes::{GLOVE_MM, GOOD_ARCMIN, LEAST_ARCMIN, Sizes};
use crate::text::{self, Weight};
use crate::words;

/// What names are asked for.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Asked {
    /// Who comes or goes.
    SignIn,
    /// Who has checked the horse of this stall; what they found waits to be sent.
    Checked {
        /// The stall.
        stall: StallId,
        /// What they found, in a line.
        found: String,
    },
    /// Who has seen this alarm.
    Seen {
        /// The alarm's number.
        alarm: u64,
    },
}

/// A name to touch.
#[derive(Clone, PartialEq, Debug)]
pub struct PersonCell {
    /// Whose.
    pub id: String,
    /// Where.
    pub rect: Rect,
    /// What the aisle calls them.
    pub name: String,
    /// Font size of the name.
    pub name_px: f32,
    /// What they do here.
    pub role: String,
    /// Since when they are here, or that they are not.
    pub state: String,
    /// True where they are signed in.
    pub here: bool,
    /// Everything in one sentence.
    pub label: String,
}

/// The screen.
#[derive(Clone, PartialEq, Debug)]
pub struct People {
    /// Font size of texts.
    pub base: f32,
    /// Font size of the title.
    pub title_px: f32,
    /// Between touch targets.
    pub gap: f32,
    /// The title.
    pub head: Rect,
    /// The buttons.
    pub foot: Rect,
    /// What is asked.
    pub title: String,
    /// More on that.
    pub below: String,
    /// The names of this page.
    pub cells: Vec<PersonCell>,
    /// Which page of how many; empty where there is one.
    pub page: String,
    /// How many pages there are.
    pub pages: usize,
}

/// Draws up a page of names.
pub fn draw(board: &Board, asked: &Asked, page: usize, sizes: &Sizes) -> People {
    let (w, h) = (sizes.panel.width_px, sizes.panel.height_px);
    let base = sizes.arm_font(GOOD_ARCMIN).max((h / 25.0).min(w / 32.0)).min(h / 20.0);
    let base = base.max(sizes.arm_font(LEAST_ARCMIN));
    let gap = sizes.touch_gap().max(base * 0.5);
    let button = sizes.px(GLOVE_MM).min(h * 0.17).max(sizes.touch());
    let head = Rect::new(gap, gap * 0.5, w - 2.0 * gap, base * 3.4);
    let foot = Rect::new(gap, h - gap - button, w - 2.0 * gap, button);
    let top = head.bottom() + gap * 0.5;
    let room_h = foot.y - gap - top;

    let people = chosen(board, asked);
    let least_w = (base * 8.2).max(sizes.touch());
    let least_h = (base * 3.9).max(sizes.touch());
    let columns = (((w - gap) / (least_w + gap)) as usize).max(1);
    let rows = (((room_h + gap) / (least_h + gap)) as usize).max(1);
    let each = columns * rows;
    let pages = people.len().div_ceil(each).max(1);
    let page = page % pages;
    let cell_w = (w - gap) / columns as f32 - gap;
    let cell_h = ((room_h + gap) / rows as f32 - gap).min(base * 5.0);
    let cells = people
        .into_iter()
        .skip(page * each)
        .take(each)
        .enumerate()
        .map(|(at, person)| {
            let (column, row) = ((at % columns) as f32, (at / columns) as f32);
            let rect = Rect::new(gap + column * (cell_w + gap), top + row * (cell_h + gap), cell_w, cell_h);
            cell(person, rect, base, board)
        })
        .collect();
    let (title, below) = match asked {
        Asked::Checked { found, .. } => (words::WHO_CHECKED.to_owned(), found.clone()),
        Asked::SignIn => (words::WHO_ARE_YOU.to_owned(), words::SIGN_IN_HOW.to_owned()),
        Asked::Seen { alarm } => {
            let what =
                board.alarms.iter().find(|line| line.id == *alarm).map(|line| words::alarm(&line.what, board.units));
            (words::WHO_HAS_SEEN.to_owned(), what.unwrap_or_default())
        }
    };
    People {
        base,
        title_px: base * 1.6,
        gap,
        head,
        foot,
        title,
        below,
        cells,
        page: if pages > 1 { words::of(page + 1, pages) } else { String::new() },
        pages,
    }
}

/// What touching a name means on this board.
pub fn action(board: &Board, asked: &Asked, id: &str) -> Option<Action> {
    let person = board.people.iter().find(|person| person.id.as_str() == id)?;
    let who: PersonId = person.id.clone();
    Some(match asked {
        // What they found is not on the board: the kiosk has it.
        Asked::Checked { .. } => return None,
        Asked::Seen { alarm } => Action::Acknowledge { alarm: *alarm, by: who },
        Asked::SignIn if person.since.is_some() => Action::SignOut(who),
        Asked::SignIn => Action::SignIn(who),
    })
}

/// An alarm is seen by somebody who is here; where nobody is signed in, by anybody.
fn chosen<'a>(board: &'a Board, asked: &Asked) -> Vec<&'a PersonView> {
    let here: Vec<_> = board.people.iter().filter(|person| person.since.is_some()).collect();
    match asked {
        Asked::Seen { .. } | Asked::Checked { .. } if !here.is_empty() => here,
        Asked::Seen { .. } | Asked::Checked { .. } | Asked::SignIn => board.people.iter().collect(),
    }
}

fn cell(person: &PersonView, rect: Rect, base: f32, board: &Board) -> PersonCell {
    let state =
        person.since.map_or(words::NOT_HERE.to_owned(), |since| words::here_since(&words::time(since, board.units)));
    let role = words::role(person.role).to_owned();
    PersonCell {
        id: person.id.to_string(),
        rect,
        name: person.name.clone(),
        name_px: text::fit(&person.name, rect.w - base * 2.2, base * 1.35, Weight::Bold),
        label: format!("{}, {role}, {state}", person.name),
        role,
        state,
        here: person.since.is_some(),
    }
}
