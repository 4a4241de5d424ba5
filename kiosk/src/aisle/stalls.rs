//! The stalls of the picture: which of them needs somebody, in which words, how wide it stands, and which share a page.
//! It decides no colours; it knows no hub.

use bellmare_barn::board::{Board, MissedView, Pace, RideView, StallView, WaterState, WaterView};
use bellmare_barn::book::Side;
use bellmare_barn::input::Mark;
use bellmare_barn::limits::DisplayUnits;

use super::frame::{Frame, Mode, Rect, Type};
use super::{Rows, Tone};
use crate::sizes::Sizes;
use crate::text::{self, Weight};
use crate::words;

/// What is drawn for a bucket.
#[derive(Clone, Copy, PartialEq, Debug, Default)]
pub enum Vessel {
    /// There is none.
    #[default]
    None,
    /// A level, as a share of the full bucket, 0 to 1.
    Level(f32),
    /// A question mark, and never a level.
    Unknown,
}

/// A stall as drawn.
#[derive(Clone, PartialEq, Debug, Default)]
pub struct Cell {
    /// Which stall, to open its card by.
    pub id: String,
    /// Where it stands.
    pub rect: Rect,
    /// True where it needs somebody.
    pub loud: bool,
    /// True where its gap faces down, to the aisle.
    pub upper: bool,
    /// The horse's barn name; empty where none stands there.
    pub name: String,
    /// Font size of the name; 0 where a quiet stall has no room for it.
    pub name_px: f32,
    /// How it is, in a word or two.
    pub word: String,
    /// What the word leaves out; empty where it does not fit.
    pub detail: String,
    /// The next mount time; empty where there is none.
    pub mount: String,
    /// How pressing it is.
    pub tone: Tone,
    /// Its bucket.
    pub vessel: Vessel,
    /// How its bucket is.
    pub vessel_tone: Tone,
    /// The bucket's word.
    pub vessel_word: String,
    /// Since when the bucket is not known.
    pub vessel_since: String,
    /// Brushed, tacked, led out; none without a ride that can go.
    pub links: Option<[Mark; 3]>,
    /// True where the horse is ready.
    pub ready: bool,
    /// Everything in one sentence, for who listens and for tests.
    pub label: String,
}

/// The stalls that share a page, and on which row each stands.
#[derive(Clone, PartialEq, Debug)]
pub struct Page<'a> {
    upper: Vec<&'a StallView>,
    lower: Vec<&'a StallView>,
}

impl Page<'_> {
    /// The first and the last stall of each row.
    pub fn spans(&self) -> Vec<(String, String)> {
        let span = |row: &Vec<&StallView>| Some((row.first()?.id.to_string(), row.last()?.id.to_string()));
        [&self.upper, &self.lower].into_iter().filter_map(span).collect()
    }
}

/// Breaks the aisles into pages. Stalls that face each other stay on the same page.
pub fn pages<'a>(aisles: &[Rows<'a>], board: &Board, frame: &Frame, sizes: &Sizes) -> Vec<Page<'a>> {
    let room = frame.upper.w;
    let gap = frame.gap;
    let need = |stall: &&'a StallView| -> f32 { width_needed(board, stall, &frame.types, frame.low, sizes) + gap };
    let mut pages = Vec::new();
    for rows in aisles {
        if frame.mode == Mode::Single {
            for (row, upper) in [(&rows.left, true), (&rows.right, false)] {
                for part in break_row(row.iter().map(need), room + gap) {
                    let part = row[part].to_vec();
                    let (upper, lower) = if upper { (part, Vec::new()) } else { (Vec::new(), part) };
                    pages.push(Page { upper, lower });
                }
            }
        } else {
            let length = rows.left.len().max(rows.right.len());
            let needs = |row: &[&'a StallView], at: usize| row.get(at).map_or(0.0, need);
            let mut start = 0;
            while start < length {
                let (mut end, mut left, mut right) = (start, 0.0, 0.0);
                while end < length {
                    left += needs(&rows.left, end);
                    right += needs(&rows.right, end);
                    if end > start && (left > room + gap || right > room + gap) {
                        break;
                    }
                    end += 1;
                }
                let part = |row: &[&'a StallView]| {
                    row.get(start.min(row.len())..end.min(row.len())).unwrap_or_default().to_vec()
                };
                pages.push(Page { upper: part(&rows.left), lower: part(&rows.right) });
                start = end;
            }
        }
    }
    pages
}

fn break_row(needs: impl Iterator<Item = f32>, room: f32) -> Vec<std::ops::Range<usize>> {
    let (mut parts, mut start, mut used, mut count) = (Vec::new(), 0, 0.0, 0);
    for (at, need) in needs.enumerate() {
        if at > start && used + need > room {
            parts.push(start..at);
            (start, used) = (at, 0.0);
        }
        used += need;
        count = at + 1;
    }
    if count > start {
        parts.push(start..count);
    }
    parts
}

/// Lays out a page's stalls.
pub fn cells(page: &Page, board: &Board, frame: &Frame, sizes: &Sizes) -> Vec<Cell> {
    let mut cells = row(&page.upper, board, frame.upper, frame, sizes);
    let lower = if frame.mode == Mode::Single { frame.upper } else { frame.lower };
    cells.extend(row(&page.lower, board, lower, frame, sizes));
    cells
}

/// One row: everybody gets what is needed, then the loud ones up to a half more, then all alike.
fn row(stalls: &[&StallView], board: &Board, rect: Rect, frame: &Frame, sizes: &Sizes) -> Vec<Cell> {
    let types = &frame.types;
    let mut cells: Vec<Cell> = stalls.iter().map(|stall| cell(board, stall)).collect();
    if cells.is_empty() {
        return cells;
    }
    let gaps = frame.gap * (cells.len() - 1) as f32;
    let mut widths: Vec<f32> =
        stalls.iter().map(|stall| width_needed(board, stall, types, frame.low, sizes).min(rect.w)).collect();
    let mut spare = (rect.w - gaps - widths.iter().sum::<f32>()).max(0.0);
    let loud = cells.iter().filter(|cell| cell.loud).count();
    if loud > 0 {
        let each = spare / loud as f32;
        for (width, _) in widths.iter_mut().zip(&cells).filter(|(_, cell)| cell.loud) {
            let more = each.min(*width * 0.35);
            *width += more;
            spare -= more;
        }
    }
    let each = spare / cells.len() as f32;
    let mut x = rect.x;
    for ((cell, stall), width) in cells.iter_mut().zip(stalls).zip(widths) {
        let width = width + each;
        cell.rect = Rect::new(x.round(), rect.y, width.round(), rect.h);
        cell.upper = stall.side == Side::Left;
        finish(cell, stall, board.units, frame);
        x += width + frame.gap;
    }
    cells
}

/// Space in a loud stall beside the texts: frame, bucket.
fn loud_margin(types: &Type) -> f32 {
    types.far * 0.3 + types.far * 1.0 + types.far * 0.16
}

fn width_needed(board: &Board, stall: &StallView, types: &Type, low: bool, sizes: &Sizes) -> f32 {
    let cell = cell(board, stall);
    if !cell.loud {
        let number = text::width(&cell.id, types.quiet, Weight::SemiBold);
        let mount = text::width("12:59", types.quiet, Weight::SemiBold);
        let mount = mount.max(text::width(&cell.mount, types.quiet, Weight::SemiBold));
        let words =
            [&cell.vessel_word, &cell.vessel_since].map(|word| text::width(word, types.small, Weight::SemiBold));
        if low {
            // The bucket takes a third of the width beside its words.
            let head = number + if cell.mount.is_empty() { 0.0 } else { mount + types.quiet * 0.4 };
            return (head + types.quiet * 0.6).max(words[0].max(words[1]) * 1.5 + types.quiet * 0.4).max(sizes.touch());
        }
        let ready = if cell.ready {
            text::width(&words::ready(), types.small, Weight::SemiBold) + types.small * 1.1
        } else {
            0.0
        };
        let widest = [number, mount, ready, words[0], words[1]].into_iter().fold(0.0, f32::max);
        return (widest + types.quiet * 0.4).max(sizes.touch());
    }
    let name = text::width(&cell.name, types.far, Weight::Bold) * 1.02;
    let word = types.far * 0.9 + text::width(&cell.word, types.far, Weight::SemiBold) * 1.02;
    (loud_margin(types) + name.max(word)).max(sizes.touch())
}

/// Sets what depends on the width that the stall came to have.
fn finish(cell: &mut Cell, stall: &StallView, units: DisplayUnits, frame: &Frame) {
    let types = &frame.types;
    if cell.loud {
        let room = cell.rect.w - loud_margin(types);
        cell.name_px = text::fit(&cell.name, room / 1.02, types.far, Weight::Bold);
        if frame.short && cell.detail.is_empty() {
            cell.detail = cell.mount.clone();
        }
        let word = types.far * 0.9 + text::width(&cell.word, types.far, Weight::SemiBold) * 1.02;
        let detail = types.far * 0.3 + text::width(&cell.detail, types.near, Weight::Regular) * 1.05;
        if word + detail > room {
            cell.detail.clear();
        }
        return;
    }
    let number = text::width(&cell.id, types.quiet, Weight::SemiBold);
    // In a low row the mount stands on the same line.
    let mount = match (frame.low, cell.mount.as_str()) {
        (true, mount) if !mount.is_empty() => text::width(mount, types.quiet, Weight::SemiBold) + types.quiet * 0.8,
        _ => 0.0,
    };
    let room = cell.rect.w - number - mount - types.quiet * 1.1;
    let name_px = text::fit(&cell.name, room.max(0.0) / 1.03, types.quiet, Weight::SemiBold);
    cell.name_px = if name_px >= types.small { name_px } else { 0.0 };
    if let (false, WaterView::Known { litres, .. }) = (frame.low, stall.water) {
        let whole = format!("{} · {}", words::water(litres, units), cell.vessel_word);
        if text::width(&whole, types.small, Weight::Regular) < cell.rect.w - types.small * 0.5 {
            cell.vessel_word = whole;
        }
    }
}

/// What a stall says, before it has a place.
pub fn cell(board: &Board, stall: &StallView) -> Cell {
    let units = board.units;
    let (vessel, vessel_tone, vessel_since) = match stall.water {
        WaterView::NoBucket => (Vessel::None, Tone::Quiet, String::new()),
        WaterView::NeverHeard => (Vessel::Unknown, Tone::Unknown, String::new()),
        WaterView::Known { percent, state, .. } => {
            let tone = match state {
                WaterState::Enough => Tone::Quiet,
                WaterState::Low => Tone::Low,
                WaterState::Empty => Tone::Alarm,
            };
            (Vessel::Level((percent / 100.0).clamp(0.0, 1.0) as f32), tone, String::new())
        }
        WaterView::Silent { for_min, .. } | WaterView::Faulty { for_min, .. } => {
            (Vessel::Unknown, Tone::Unknown, words::minutes(for_min))
        }
    };
    // Two words stand one above the other in a narrow stall.
    let water = words::bucket(&stall.water);
    let (vessel_word, vessel_since) = match water.split_once(' ') {
        Some((first, second)) if vessel_since.is_empty() => (first.to_owned(), second.to_owned()),
        _ => (water.clone(), vessel_since),
    };
    let ride = stall.horse.as_ref().and_then(|horse| horse.rides.first());
    // Nobody is to hurry for a ride that is given up.
    let given_up = ride.is_some_and(|ride| missed(board, ride).is_some());
    let goes = ride.filter(|_| !given_up);
    // A horse that is only put away has no ride to be in time for.
    let rides = goes.filter(|ride| !ride.off);
    let name = stall.horse.as_ref().map(|horse| horse.name.clone()).unwrap_or_default();
    let mut cell = Cell {
        id: stall.id.to_string(),
        name,
        mount: rides.map(|ride| words::time(ride.mount, units)).unwrap_or_default(),
        vessel,
        vessel_tone,
        vessel_word,
        vessel_since,
        links: rides.map(links),
        ready: goes.is_some_and(|ride| ride.pace == Pace::Ready && ride.links.lead_out != Mark::Done),
        ..Cell::default()
    };
    let (pace, job) = goes.map(doing).unwrap_or_default();
    let unwell = stall.horse.as_ref().and_then(|horse| horse.wrong.as_ref());
    match (vessel_tone, pace) {
        _ if unwell.is_some() => {
            cell.tone = if unwell.is_some_and(|report| report.vet_now) { Tone::Vet } else { Tone::Care };
            cell.word = words::wrong_short();
        }
        (Tone::Alarm, _) => {
            cell.tone = Tone::Alarm;
            cell.word = water;
            if let WaterView::Known { for_min, .. } = stall.water {
                cell.detail = words::minutes(for_min);
            }
        }
        (_, Some(Pace::Late)) => {
            cell.tone = Tone::Late;
            cell.word = words::late();
            cell.detail = job;
        }
        (Tone::Low, pace) => {
            cell.tone = Tone::Low;
            cell.word = water;
            cell.detail = if pace == Some(Pace::Now) { job } else { String::new() };
        }
        (_, Some(Pace::Now)) => {
            cell.tone = Tone::Now;
            cell.word = job;
            cell.detail = if vessel_tone == Tone::Unknown { water } else { String::new() };
        }
        (_, Some(Pace::Ready)) => {
            cell.tone = Tone::Ready;
            cell.word = words::ready();
        }
        (_, Some(Pace::Later) | None) => {}
    }
    // Where a horse is not, that it rests or can not go, stands in place of a mount that it has not.
    if let (true, Some(horse)) = (cell.mount.is_empty(), &stall.horse) {
        cell.mount = if horse.scratched {
            words::rests()
        } else if let Some(away) = &horse.away {
            words::away_till(&words::time(away.until, units))
        } else if given_up {
            words::can_not_go()
        } else {
            String::new()
        };
    }
    cell.loud = cell.tone >= Tone::Now;
    if cell.loud && cell.name.is_empty() {
        cell.name = words::stall(&cell.id);
    }
    cell.label = label(&cell, stall, units);
    cell
}

/// How pressing a ride is, and what its horse needs next. One that is out needs nothing; one that is back is to be put away,
/// unless it goes out again as it is.
pub fn doing(ride: &RideView) -> (Option<Pace>, String) {
    let links = &ride.links;
    match links.lead_out {
        _ if is_back(ride) => (Some(Pace::Now), words::job(bellmare_barn::board::Job::PutAway)),
        Mark::Done => (Some(Pace::Later), String::new()),
        Mark::Open | Mark::Begun => {
            let next = next_job([links.brush, links.tack, links.lead_out]);
            (Some(ride.pace), next.unwrap_or_default())
        }
    }
}

/// How far a ride's horse is: brushed, tacked, led out.
pub fn links(ride: &RideView) -> [Mark; 3] {
    [ride.links.brush, ride.links.tack, ride.links.lead_out]
}

/// What is told of a ride that the plan gives up.
pub fn missed<'a>(board: &'a Board, ride: &RideView) -> Option<&'a MissedView> {
    board.missed.iter().find(|missed| missed.ride == ride.id)
}

/// True where a horse is back from its last ride under this tack, or does not go any more, and is to be put away.
pub fn is_back(ride: &RideView) -> bool {
    ride.last && (ride.off || ride.links.bring_back == Mark::Done) && ride.links.put_away != Mark::Done
}

fn next_job(links: [Mark; 3]) -> Option<String> {
    use bellmare_barn::board::Job;
    let jobs = [Job::Brush, Job::Tack, Job::LeadOut];
    links.iter().zip(jobs).find(|(mark, _)| **mark != Mark::Done).map(|(_, job)| words::job(job))
}

fn label(cell: &Cell, stall: &StallView, units: DisplayUnits) -> String {
    let mut parts = vec![words::stall(&cell.id)];
    if stall.horse.is_some() {
        parts.push(cell.name.clone());
    }
    parts.push(words::bucket_whole(&stall.water, units));
    match stall.horse.as_ref() {
        Some(horse) if horse.scratched => parts.push(words::scratched()),
        Some(horse) if horse.rides.is_empty() => {
            parts.extend(horse.away.as_ref().map(|away| words::away(&away.why, &words::time(away.until, units))));
        }
        _ if !cell.mount.is_empty() => parts.push(words::mount(&cell.mount)),
        _ => {}
    }
    if cell.ready {
        parts.push(words::ready());
    } else if matches!(cell.tone, Tone::Late | Tone::Now | Tone::Care | Tone::Vet) {
        parts.push([cell.word.as_str(), cell.detail.as_str()].join(" ").trim().to_owned());
    }
    parts.join(", ")
}

impl Cell {
    /// The stall as a line of text.
    pub fn as_text(&self) -> String {
        let voice = if self.loud { "LOUD " } else { "" };
        let links: String = self.links.map_or(String::new(), |links| {
            let marks = links.iter().map(|mark| match mark {
                Mark::Open => 'o',
                Mark::Begun => '+',
                Mark::Done => '*',
            });
            std::iter::once(' ').chain(marks).collect()
        });
        format!("{voice}[{:?}] {}{links}", self.tone, self.label)
    }
}
