//! Digits by large keys: a PIN, a date and a time. What is typed of a PIN is never shown.

use bellmare_barn::id::PersonId;

use super::{Does, Here, Item, clock};
use crate::aisle::frame::Rect;
use crate::app::Up;
use crate::sizes::{GOOD_ARCMIN, LEAST_ARCMIN, Sizes};
use crate::text::{self, Weight};
use crate::words;

/// How many digits a PIN has.
pub const PIN_DIGITS: usize = 6;

/// What the hub has said of the last PIN.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub enum Tried {
    /// Nothing was asked.
    #[default]
    Not,
    /// It is being looked at.
    Asked,
    /// It was refused, and why.
    Refused(String),
}

/// A page of keys.
#[derive(Clone, PartialEq, Debug)]
pub struct Keypad {
    /// Font size of texts.
    pub base: f32,
    /// Font size of the title.
    pub title_px: f32,
    /// Font size of what was typed.
    pub value_px: f32,
    /// Title and what is under it.
    pub head: Rect,
    /// What was typed.
    pub middle: Rect,
    /// The title.
    pub title: String,
    /// What is under it.
    pub below: String,
    /// What was typed, or dots for it.
    pub value: String,
    /// The keys and the ways, each where it stands.
    pub keys: Vec<(Rect, Item)>,
}

/// The keys for a PIN.
pub fn pin(here: &Here<'_>, person: &PersonId, typed: &str, tried: &Tried, sizes: &Sizes) -> Option<Keypad> {
    let name = &here.person(person)?.name;
    let dots: String = (0..PIN_DIGITS).map(|at| if at < typed.len() { "● " } else { "○ " }).collect();
    let below = match tried {
        Tried::Not => words::six_digits(),
        Tried::Asked => words::a_moment(),
        Tried::Refused(why) => why.clone(),
    };
    let back = Item::button(words::back(), Does::Open(Up::Aisle));
    Some(lay_out(words::pin_of(name), below, dots.trim_end().to_owned(), [back, rub()], sizes))
}

/// The keys for the clock.
pub fn clock(typed: &str, sizes: &Sizes) -> Keypad {
    let shown = clock::shown(typed);
    let (below, set) = match clock::read(typed) {
        Some(_) => (words::clock_how(), Item::button(words::set(), Does::SetClock).strong(crate::aisle::Tone::Ready)),
        None if typed.len() == clock::DIGITS => (words::no_such_time(), rub()),
        None => (words::clock_how(), rub()),
    };
    let back = Item::button(words::back(), Does::Open(Up::Aisle));
    lay_out(words::clock_title(), below.to_owned(), shown, [back, set], sizes)
}

fn rub() -> Item {
    Item::button(words::rub_out(), Does::Rub)
}

fn lay_out(title: String, below: String, value: String, corners: [Item; 2], sizes: &Sizes) -> Keypad {
    let (w, h) = (sizes.panel.width_px, sizes.panel.height_px);
    let base =
        sizes.arm_font(GOOD_ARCMIN).max((h / 25.0).min(w / 32.0)).min(h / 20.0).max(sizes.arm_font(LEAST_ARCMIN));
    let gap = sizes.touch_gap().max(base * 0.3);
    let inner = w - 2.0 * gap;
    // Three by four as on a telephone; on a low glass two rows of six.
    let across: usize = if h < 4.0 * sizes.touch() + base * 6.0 + 6.0 * gap { 6 } else { 3 };
    let rows = 12 / across;
    let title_px = base * 1.5;
    let head = Rect::new(gap, gap * 0.5, inner, title_px * 1.2 + base * 1.3);
    let digit = |digit: u8| Item::button(digit.to_string(), Does::Digit(digit));
    let [back, last] = corners;
    let mut items: Vec<Item> = (1..=9).map(digit).collect();
    let (back_at, last_at) = if across == 3 { (9, 11) } else { (5, 11) };
    items.insert(items.len(), digit(0));
    items.insert(back_at.min(items.len()), back);
    items.insert(last_at.min(items.len()), last);

    let keys_w = if across == 3 { inner.min(sizes.px(150.0)).max(inner * 0.5) } else { inner };
    let x = (w - keys_w) / 2.0;
    let value_h = base * 2.2;
    let top = head.bottom() + value_h + gap;
    let each_h = ((h - gap - top + gap) / rows as f32 - gap).max(sizes.touch());
    let each_w = (keys_w + gap) / across as f32 - gap;
    let keys = items.into_iter().enumerate().map(|(at, item)| {
        let (column, row) = ((at % across) as f32, (at / across) as f32);
        (Rect::new(x + column * (each_w + gap), top + row * (each_h + gap), each_w, each_h), item)
    });
    Keypad {
        base,
        title_px: text::fit(&title, inner, title_px, Weight::Bold),
        value_px: text::fit(&value, inner, base * 1.8, Weight::Bold),
        head,
        middle: Rect::new(gap, head.bottom(), inner, value_h),
        title,
        below,
        value,
        keys: keys.collect(),
    }
}

impl Keypad {
    /// Everything that can be touched, by its label.
    pub fn targets(&self) -> Vec<(String, Rect)> {
        self.keys.iter().map(|(rect, item)| (item.label(), *rect)).collect()
    }
}
