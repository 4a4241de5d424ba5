//! Where the parts of a card stand on the glass, and how large. It knows what they say, and not why.

use super::{Card, TackLine};
use crate::aisle::frame::{Rect, is_small, is_wide};
use crate::pages::Item;
use crate::pages::layout::{Placed, broken, place_foot};
use crate::sizes::{GOOD_ARCMIN, LEAST_ARCMIN, Sizes};
use crate::text::{self, Weight};
use crate::words;

/// Where the parts of a card stand.
#[derive(Clone, Copy, PartialEq, Debug, Default)]
pub struct CardFrame {
    /// Font size of its texts.
    pub base: f32,
    /// Font size of the horse's name.
    pub title: f32,
    /// Font size of the notes.
    pub notes_px: f32,
    /// Font size of the ride's line.
    pub ride_px: f32,
    /// Width of the ride's line, and of what stands under it.
    pub ride_w: f32,
    /// Font size of what stands under it.
    pub then_px: f32,
    /// Height of a piece of tack.
    pub tack_h: f32,
    /// Where the first piece begins, under its title; on a small glass it has none.
    pub tack_top: f32,
    /// Between touch targets.
    pub gap: f32,
    /// Name and ride.
    pub head: Rect,
    /// Tack.
    pub tack: Rect,
    /// Stirrups.
    pub stirrups: Rect,
    /// Notes and water.
    pub notes: Rect,
    /// Higher than wide.
    pub tall: bool,
    /// True where the glass is so small that handling is on the other side only.
    pub two_sides: bool,
}

/// Places a card's parts and its buttons, as large as all of it fits; of what may stand under the ride, from all of it to the
/// least, as much as there is room for.
pub(super) fn frame(card: &mut Card, then: &[String], ways: &[Vec<Item>], sizes: &Sizes) -> CardFrame {
    let (w, h) = (sizes.panel.width_px, sizes.panel.height_px);
    let least = sizes.arm_font(LEAST_ARCMIN);
    let largest = sizes.arm_font(GOOD_ARCMIN).max((h / 25.0).min(w / 26.0));
    // From the largest down in steps of a twentieth until all of it fits; the least is taken as it comes.
    let steps = (0..=20).map(move |step| largest - (largest - least) * step as f32 / 20.0);
    let whole = steps.clone().map(|base| lay_out(card, ways, sizes, base, false)).find(|(frame, _)| fits(card, frame));
    let halved =
        || steps.clone().map(|base| lay_out(card, ways, sizes, base, true)).find(|(frame, _)| fits(card, frame));
    let laid = whole.or_else(halved).unwrap_or_else(|| lay_out(card, ways, sizes, least, true));
    let mut frame = laid.0;
    card.ways = laid.1;
    fit_tack(card, &frame, least);
    fit_notes(card, &mut frame, least);
    fit_then(card, &mut frame, then, least);
    frame
}

/// Makes what is too long for its row smaller, and no smaller than can be read.
fn fit_tack(card: &mut Card, frame: &CardFrame, least: f32) {
    for tack in &mut card.tack {
        let room = frame.tack.w - beside_name(tack, frame.base);
        tack.px = text::fit(&tack.name, room, frame.base, Weight::Bold).max(least.min(frame.base));
    }
}

/// Width of the longest piece of tack in one line, with its turn and its place.
fn tack_width(card: &Card, base: f32) -> f32 {
    let width = |tack: &TackLine| text::width(&tack.name, base, Weight::Bold) + beside_name(tack, base);
    card.tack.iter().map(width).fold(0.0, f32::max)
}

/// Width that what is said of the stirrups takes; ui/parts/stirrups.slint has the same.
fn stirrups_least((left, right): (u8, u8), base: f32, height: f32) -> f32 {
    let size = base.min((height - base * 1.5) / 8.0);
    text::width(&words::same_or_not(left, right), size * 0.95, Weight::Bold) + size * 2.6
}

/// Width of a piece's turn and place beside its name, with the gaps of ui/card.slint.
fn beside_name(tack: &TackLine, base: f32) -> f32 {
    text::width(&tack.place, base, Weight::SemiBold) + base * 3.6
}

/// Says as much under the ride as is not too small, and the least of it as small as that may be.
fn fit_then(card: &mut Card, frame: &mut CardFrame, then: &[String], least: f32) {
    let (room, largest) = (frame.ride_w / 1.03, frame.base * 0.8);
    let least = least.min(largest);
    let good = (least + largest) / 2.0;
    let said = then.iter().find(|then| text::width(then, good, Weight::Regular) <= room);
    card.then = said.or(then.last()).cloned().unwrap_or_default();
    frame.then_px = text::fit(&card.then, room, largest, Weight::Regular).max(least);
}

fn lay_out(card: &Card, ways: &[Vec<Item>], sizes: &Sizes, base: f32, two_sides: bool) -> (CardFrame, Vec<Placed>) {
    let w = sizes.panel.width_px;
    let tall = !is_wide(sizes);
    let gap = sizes.touch_gap().max(base * 0.5);
    let margin = gap;
    let inner = w - 2.0 * margin;
    let title = base * 1.9;
    let head_h = if tall { title * 1.2 + base * 2.4 } else { title * 1.15 };
    let head = Rect::new(margin, gap * 0.6, inner, head_h);
    let top = head.bottom() + gap * 0.8;
    let mut frame = CardFrame { base, title, gap, head, tall, two_sides, ..CardFrame::default() };
    let ride_room = if tall { inner } else { inner - head_left(card, title, base) };
    frame.ride_w = ride_room;
    frame.ride_px = text::fit(&card.ride, ride_room / 1.03, base * 1.15, Weight::SemiBold);
    let (foot, placed) = place_foot(&broken(ways, sizes, gap), sizes, gap, base);
    let bottom = foot - gap * 0.8;
    let height = bottom - top;
    if tall {
        let share = if two_sides { 0.7 } else { 0.6 };
        let tack_h = (base * 1.5 + card.tack.len().max(1) as f32 * base * 2.1).min(height * share);
        frame.tack = Rect::new(margin, top, inner, tack_h);
        let lower = Rect::new(margin, top + tack_h + gap, inner, bottom - top - tack_h - gap);
        let stirrups = if card.stirrups.is_some() { inner * 0.4 } else { 0.0 };
        frame.stirrups = Rect::new(lower.x, lower.y, stirrups, lower.h.min(base * 14.0));
        let x = if stirrups > 0.0 { lower.x + stirrups + gap * 1.5 } else { lower.x };
        frame.notes = Rect::new(x, lower.y, inner - (x - lower.x), lower.h);
    } else {
        let widest = (base * 8.6).min(if two_sides { inner * 0.4 } else { inner * 0.26 });
        let stirrups = match card.stirrups {
            None => 0.0,
            // What they are is known at a glance; the end of a long piece of tack is not.
            Some(stirrups) if two_sides => {
                let narrowest = stirrups_least(stirrups, base, height).min(widest);
                (inner - gap * 1.5 - tack_width(card, base)).clamp(narrowest, widest)
            }
            Some(_) => widest,
        };
        let space = if stirrups > 0.0 { gap * 3.0 } else { gap * 1.5 };
        let tack = if two_sides { inner - stirrups - gap * 1.5 } else { (inner - stirrups - space) * 0.58 };
        frame.tack = Rect::new(margin, top, tack, height);
        frame.stirrups = Rect::new(margin + tack + gap * 1.5, top, stirrups, height);
        let x = if stirrups > 0.0 { frame.stirrups.right() + gap * 1.5 } else { margin + tack + gap * 1.5 };
        frame.notes = Rect::new(x, top, w - margin - x, height);
    }
    if two_sides {
        frame.notes = Rect::default();
    }
    let pieces = card.tack.len().max(1) as f32;
    frame.tack_top = if is_small(sizes) { 0.0 } else { base * 1.5 };
    frame.tack_h = ((frame.tack.h - frame.tack_top) / pieces).min(base * 2.7);
    (frame, placed)
}

/// Width of the horse's name, its stall and its pace.
fn head_left(card: &Card, title: f32, base: f32) -> f32 {
    let pace = match card.pace_word.as_str() {
        "" => 0.0,
        word => base * 2.2 + text::width(word, base * 1.2, Weight::Bold),
    };
    let stall = text::width(&card.stall, base * 1.2, Weight::Regular);
    text::width(&card.name, title, Weight::Bold) + stall + pace + base * 1.6
}

fn fits(card: &Card, frame: &CardFrame) -> bool {
    let base = frame.base;
    if frame.notes.w > 0.0 && notes_height(card, frame, base * 0.9) > notes_room(card, frame, base * 0.9) {
        return false;
    }
    if frame.tack.w <= 0.0 {
        return true;
    }
    let rows = card.tack.is_empty() || frame.tack_h >= base * 1.35;
    let stirrups = card.stirrups.is_none() || frame.stirrups.h > base * 8.0;
    rows && stirrups && tack_width(card, base) < frame.tack.w
}

/// Height left for the notes of that font size, under their title and the last check, and over the water.
fn notes_room(card: &Card, frame: &CardFrame, font_px: f32) -> f32 {
    let grade = if card.grade.is_empty() { 0.0 } else { frame.base * 1.6 };
    let checked = checked_height(card, frame, font_px);
    let checked = if checked > 0.0 { checked + frame.base * 0.3 } else { 0.0 };
    frame.notes.h - frame.base * (1.5 + 3.7 + 0.35) - grade - checked
}

/// Height of what came of the last check; nothing where nobody checked.
pub fn checked_height(card: &Card, frame: &CardFrame, font_px: f32) -> f32 {
    if card.checked.is_empty() {
        return 0.0;
    }
    let room = (frame.notes.w - frame.base * 1.4) / 1.02;
    text::lines(&card.checked, room, font_px, Weight::Bold) as f32 * font_px * 1.3
}

fn notes_height(card: &Card, frame: &CardFrame, font_px: f32) -> f32 {
    let lines: usize =
        card.notes.lines().map(|note| text::lines(note, frame.notes.w / 1.02, font_px, Weight::Regular)).sum();
    lines as f32 * font_px * 1.3
}

fn fit_notes(card: &Card, frame: &mut CardFrame, least: f32) {
    let mut font_px = frame.base;
    while font_px > least
        && frame.notes.w > 0.0
        && notes_height(card, frame, font_px) > notes_room(card, frame, font_px)
    {
        font_px *= 0.97;
    }
    frame.notes_px = font_px.max(least);
}
