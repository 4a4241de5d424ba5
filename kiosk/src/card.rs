//! A horse's card: what a groom needs at arm's length, where it stands on the glass, and which step comes next. Pure; it
//! sends nothing.

use bellmare_barn::board::{
    Board, HorseView, Job, Links, Pace, RideView, StallView, VitalsLine, WaterState, WaterView,
};
use bellmare_barn::care::vitals::Urgency;
use bellmare_barn::id::StallId;
use bellmare_barn::input::{Action, Mark, Said, Step};
use bellmare_barn::limits::DisplayUnits;

use crate::aisle::Tone;
use crate::aisle::frame::{Rect, is_wide};
use crate::aisle::stalls::{self, Cell};
use crate::sizes::{GOOD_ARCMIN, LEAST_ARCMIN, Sizes};
use crate::text::{self, Weight};
use crate::words;

/// A piece of tack on the card.
#[derive(Clone, PartialEq, Debug)]
pub struct TackLine {
    /// Its turn.
    pub turn: String,
    /// What, and how.
    pub name: String,
    /// Where it hangs.
    pub place: String,
}

/// The card.
#[derive(Clone, PartialEq, Debug)]
pub struct Card {
    /// Where things stand.
    pub frame: CardFrame,
    /// The horse, or the stall where none stands in it.
    pub name: String,
    /// The stall.
    pub stall: String,
    /// When, and by whom taught; or that there is no ride.
    pub ride: String,
    /// The ride after.
    pub then: String,
    /// Whether it is in time.
    pub pace: Tone,
    /// The pace's word; empty where it is in time.
    pub pace_word: String,
    /// Tack in the order it goes on.
    pub tack: Vec<TackLine>,
    /// Left and right, where stirrups are used.
    pub stirrups: Option<(u8, u8)>,
    /// Handling notes, one line each.
    pub notes: String,
    /// Who should not handle it alone.
    pub grade: String,
    /// Water in a sentence.
    pub water: String,
    /// The stall as the aisle draws it: its bucket and links.
    pub cell: Cell,
    /// How far it is, in words.
    pub state: String,
    /// The step to begin or finish next; none where there is nothing left.
    pub next: Option<(Step, Mark)>,
    /// True where the horse is back and its tack comes off.
    pub back: bool,
    /// How long that step is taken to last, and on how many times that rests; empty where it takes a groom no time.
    pub takes: String,
    /// The step that can be taken back.
    pub last: Option<Step>,
    /// Which side is up.
    pub side: CardSide,
    /// What came of the last check of the horse, and how pressing that is; empty where nobody checked it today.
    pub checked: String,
    /// How pressing it is.
    pub checked_tone: Tone,
    /// True where the horse can be checked from this side of the card.
    pub check: bool,
}

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
    /// Width of the ride's line.
    pub ride_w: f32,
    /// Height of a piece of tack.
    pub tack_h: f32,
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
    /// The buttons of the work.
    pub work: Rect,
    /// Undo and back.
    pub ways: Rect,
    /// Higher than wide.
    pub tall: bool,
    /// True where the glass is so small that handling has a side of its own.
    pub two_sides: bool,
}

/// Which side of a card is up, where it has two.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub enum CardSide {
    /// Tack and stirrups.
    #[default]
    Tack,
    /// Handling and water.
    Handling,
}

/// Draws up the card of a stall; none where the board has no such stall.
pub fn draw(board: &Board, stall: &StallId, side: CardSide, sizes: &Sizes) -> Option<Card> {
    let view = board.stalls.iter().find(|view| view.id == *stall)?;
    let units = board.units;
    let ride = ride(view);
    let horse = view.horse.as_ref();
    let cell = stalls::cell(view, units);
    let time = |at| words::time(at, units);
    let (ride_line, then) = match (horse, ride) {
        (None, _) => (words::NO_HORSE.to_owned(), String::new()),
        (Some(_), None) => (words::NO_RIDE.to_owned(), String::new()),
        (Some(horse), Some(ride)) => (
            words::ride(&time(ride.ready_by), &time(ride.mount), &ride.instructor),
            then(board, horse, ride).unwrap_or_default(),
        ),
    };
    let back = ride.is_some_and(stalls::is_back);
    let (pace, pace_word) = match ride.and_then(|ride| stalls::doing(ride).0) {
        Some(Pace::Late) => (Tone::Late, words::LATE),
        Some(Pace::Ready) => (Tone::Ready, words::READY),
        Some(Pace::Now) => (Tone::Now, if back { words::BACK_FROM_RIDE } else { "" }),
        Some(Pace::Later) | None => (Tone::Quiet, ""),
    };
    let notes = horse.map(|horse| horse.notes.join("\n")).unwrap_or_default();
    let checked = horse.and_then(|horse| horse.vitals.as_ref()).and_then(|vitals| vitals.last.first());
    let mut card = Card {
        frame: CardFrame::default(),
        name: horse.map_or_else(|| words::stall(view.id.as_str()), |horse| horse.name.clone()),
        stall: if horse.is_some() { words::stall(view.id.as_str()) } else { String::new() },
        ride: ride_line,
        then,
        pace,
        pace_word: pace_word.to_owned(),
        tack: ride.map(tack).unwrap_or_default(),
        stirrups: ride.and_then(|ride| ride.stirrups).map(|stirrups| (stirrups.left, stirrups.right)),
        notes: if notes.is_empty() && horse.is_some() { words::NO_NOTES.to_owned() } else { notes },
        grade: horse.and_then(|horse| words::grade(horse.grade)).unwrap_or_default().to_owned(),
        water: water(view, units),
        state: ride.map(state).unwrap_or_default(),
        next: ride.and_then(next),
        back,
        takes: horse.zip(ride).and_then(|(horse, ride)| takes(horse, next(ride)?.0)).unwrap_or_default(),
        last: ride.and_then(last),
        side,
        cell,
        checked: checked.map(last_check).unwrap_or_default(),
        checked_tone: match checked.map_or(Urgency::Fine, |last| last.urgency) {
            Urgency::Fine => Tone::Ready,
            Urgency::Tell => Tone::Care,
            Urgency::VetNow => Tone::Vet,
        },
        check: horse.is_some(),
    };
    card.frame = frame(&card, sizes);
    // On a small glass there is room for it on the side of handling only, where nothing is undone.
    if card.frame.two_sides {
        card.check &= side == CardSide::Handling;
        card.last = card.last.filter(|_| side == CardSide::Tack);
    }
    Some(card)
}

/// What came of a check, with the first of what differs: the rest is for who is called.
/// How much there is to drink and till when it lasts, and how much was drunk.
fn water(stall: &StallView, units: DisplayUnits) -> String {
    let mut there = words::bucket_whole(&stall.water, units);
    let Some(drinking) = &stall.drinking else { return there };
    let enough = matches!(stall.water, WaterView::Known { state: WaterState::Enough, .. });
    if let Some(dry) = drinking.runs_dry.filter(|_| enough) {
        there = format!("{there}, {}", words::may_be_gone(dry.earliest, units));
    }
    format!("{there}\n{}", words::drank(drinking, units))
}

fn last_check(last: &VitalsLine) -> String {
    let checked = words::checked(last.urgency, &last.by, last.ago_min);
    match last.cautions.first().and_then(|caution| caution.split(';').next()) {
        Some(caution) => format!("{checked}. {caution}"),
        None => checked,
    }
}

/// How long a step is taken to last.
fn takes(horse: &HorseView, step: Step) -> Option<String> {
    let job = match step {
        Step::Brush => Job::Brush,
        Step::Tack => Job::Tack,
        Step::PutAway => Job::PutAway,
        Step::LeadOut | Step::BringBack => return None,
    };
    let time = horse.minutes.iter().find(|time| time.job == job)?;
    Some(words::takes(time.minutes, time.times))
}

/// Why the horse can not go, or when it goes again.
fn then(board: &Board, horse: &HorseView, ride: &RideView) -> Option<String> {
    if let Some(missed) = board.missed.iter().find(|missed| missed.ride == ride.id) {
        return Some(words::can_not_go(&missed.why));
    }
    horse.rides.get(1).map(|next| words::then(&words::time(next.mount, board.units)))
}

/// The touch that a button of the card means; none where the card has changed under the finger.
pub fn action(board: &Board, stall: &StallId, pressed: Pressed) -> Option<Action> {
    let view = board.stalls.iter().find(|view| view.id == *stall)?;
    let horse = view.horse.as_ref()?;
    let ride = ride(view)?;
    let (step, mark) = match pressed {
        Pressed::Begin => (next(ride)?.0, Mark::Begun),
        Pressed::Done => (next(ride)?.0, Mark::Done),
        Pressed::Undo => (last(ride)?, Mark::Open),
    };
    Some(Action::Work(Said { ride: ride.id.clone(), horse: horse.id.clone(), step, mark, by: None }))
}

/// The buttons of a card that send something.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Pressed {
    /// The next step was begun.
    Begin,
    /// The next step is done.
    Done,
    /// The last step was not done after all.
    Undo,
}

fn ride(view: &StallView) -> Option<&RideView> {
    view.horse.as_ref().and_then(|horse| horse.rides.first())
}

/// The steps of a ride; a horse that goes on under the same tack is not put away after it.
fn steps(ride: &RideView) -> Vec<(Step, Mark)> {
    let Links { brush, tack, lead_out, bring_back, put_away } = ride.links;
    let mut steps =
        vec![(Step::Brush, brush), (Step::Tack, tack), (Step::LeadOut, lead_out), (Step::BringBack, bring_back)];
    if ride.last {
        steps.push((Step::PutAway, put_away));
    }
    steps
}

fn next(ride: &RideView) -> Option<(Step, Mark)> {
    steps(ride).into_iter().find(|(_, mark)| *mark != Mark::Done)
}

fn last(ride: &RideView) -> Option<Step> {
    steps(ride).into_iter().rev().find(|(_, mark)| *mark != Mark::Open).map(|(step, _)| step)
}

fn state(ride: &RideView) -> String {
    match steps(ride).into_iter().rev().find(|(_, mark)| *mark != Mark::Open) {
        Some((step, Mark::Begun)) => words::begun(step).to_owned(),
        Some((step, _)) => words::done(step).to_lowercase(),
        None => words::NOT_BEGUN.to_owned(),
    }
}

fn tack(ride: &RideView) -> Vec<TackLine> {
    ride.tack
        .iter()
        .enumerate()
        .map(|(at, tack)| TackLine {
            turn: (at + 1).to_string(),
            name: if tack.note.is_empty() { tack.name.clone() } else { format!("{}, {}", tack.name, tack.note) },
            place: tack.place.clone(),
        })
        .collect()
}

fn frame(card: &Card, sizes: &Sizes) -> CardFrame {
    let (w, h) = (sizes.panel.width_px, sizes.panel.height_px);
    let least = sizes.arm_font(LEAST_ARCMIN);
    let largest = sizes.arm_font(GOOD_ARCMIN).max((h / 25.0).min(w / 26.0));
    // From the largest down in steps of a twentieth until all of it fits; the least is taken as it comes.
    let steps = (0..=20).map(move |step| largest - (largest - least) * step as f32 / 20.0);
    let whole = steps.clone().map(|base| lay_out(card, sizes, base, false)).find(|frame| fits(card, frame));
    let halved = || steps.clone().map(|base| lay_out(card, sizes, base, true)).find(|frame| fits(card, frame));
    let mut frame = whole.or_else(halved).unwrap_or_else(|| lay_out(card, sizes, least, true));
    fit_notes(card, &mut frame, least);
    frame
}

fn lay_out(card: &Card, sizes: &Sizes, base: f32, two_sides: bool) -> CardFrame {
    let (w, h) = (sizes.panel.width_px, sizes.panel.height_px);
    let tall = !is_wide(sizes);
    let gap = sizes.touch_gap().max(base * 0.5);
    let margin = gap;
    let inner = w - 2.0 * margin;
    let title = base * 1.9;
    let button = sizes.px(crate::sizes::GLOVE_MM).max(base * 3.0).min(h * 0.17).max(sizes.touch());
    let head_h = if tall { title * 1.2 + base * 2.4 } else { title * 1.15 };
    let head = Rect::new(margin, gap * 0.6, inner, head_h);
    let top = head.bottom() + gap * 0.8;
    let mut frame = CardFrame { base, title, gap, head, tall, two_sides, ..CardFrame::default() };
    let ride_room = if tall { inner } else { inner - head_left(card, title, base) };
    frame.ride_w = ride_room;
    frame.ride_px = text::fit(&card.ride, ride_room / 1.03, base * 1.15, Weight::SemiBold);
    if tall {
        frame.ways = Rect::new(margin, h - margin - button, inner, button);
        frame.work = Rect::new(margin, frame.ways.y - gap - button, inner, button);
        let bottom = frame.work.y - gap;
        let share = if two_sides { 0.7 } else { 0.6 };
        let tack_h = (base * 1.5 + card.tack.len().max(1) as f32 * base * 2.1).min((bottom - top) * share);
        frame.tack = Rect::new(margin, top, inner, tack_h);
        let lower = Rect::new(margin, top + tack_h + gap, inner, bottom - top - tack_h - gap);
        let stirrups = if card.stirrups.is_some() { inner * 0.4 } else { 0.0 };
        frame.stirrups = Rect::new(lower.x, lower.y, stirrups, lower.h.min(base * 14.0));
        let x = if stirrups > 0.0 { lower.x + stirrups + gap * 1.5 } else { lower.x };
        frame.notes = Rect::new(x, lower.y, inner - (x - lower.x), lower.h);
    } else {
        let y = h - margin * 0.8 - button;
        frame.work = Rect::new(margin, y, inner * if two_sides { 0.44 } else { 0.58 }, button);
        frame.ways = Rect::new(frame.work.right() + gap, y, inner - frame.work.w - gap, button);
        let height = y - gap * 0.8 - top;
        let widest = if two_sides { inner * 0.4 } else { inner * 0.26 };
        let stirrups = if card.stirrups.is_some() { (base * 8.6).min(widest) } else { 0.0 };
        let space = if stirrups > 0.0 { gap * 3.0 } else { gap * 1.5 };
        let tack = if two_sides { inner - stirrups - gap * 1.5 } else { (inner - stirrups - space) * 0.58 };
        frame.tack = Rect::new(margin, top, tack, height);
        frame.stirrups = Rect::new(margin + tack + gap * 1.5, top, stirrups, height);
        let x = if stirrups > 0.0 { frame.stirrups.right() + gap * 1.5 } else { margin + tack + gap * 1.5 };
        frame.notes = Rect::new(x, top, w - margin - x, height);
    }
    if two_sides {
        let all = Rect::new(margin, top, inner, frame.notes.bottom() - top);
        match card.side {
            CardSide::Tack => frame.notes = Rect::default(),
            CardSide::Handling => {
                (frame.tack, frame.stirrups, frame.notes) = (Rect::default(), Rect::default(), all);
            }
        }
    }
    let pieces = card.tack.len().max(1) as f32;
    frame.tack_h = ((frame.tack.h - base * 1.5) / pieces).min(base * 2.7);
    frame
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
    let widest = card.tack.iter().map(|tack| {
        text::width(&tack.name, base, Weight::Bold) + text::width(&tack.place, base, Weight::SemiBold) + base * 3.6
    });
    let rows = card.tack.is_empty() || frame.tack_h >= base * 1.6;
    let buttons = card.next.is_none_or(|(step, mark)| {
        let (count, word) = if mark == Mark::Begun { (1.0, words::done(step)) } else { (2.0, words::begin(step)) };
        frame.two_sides || text::width(word, base * 1.2, Weight::Bold) + base * 0.6 < (frame.work.w - frame.gap) / count
    });
    let stirrups = card.stirrups.is_none() || frame.stirrups.h > base * 8.0;
    rows && buttons && stirrups && widest.fold(0.0, f32::max) < frame.tack.w
}

/// Height left for the notes of that font size, under their title and the last check, and over the water.
fn notes_room(card: &Card, frame: &CardFrame, font_px: f32) -> f32 {
    let grade = if card.grade.is_empty() { 0.0 } else { frame.base * 1.6 };
    let checked = checked_height(card, frame, font_px);
    let checked = if checked > 0.0 { checked + frame.base * 0.3 } else { 0.0 };
    frame.notes.h - frame.base * (1.5 + 3.7) - grade - checked
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
