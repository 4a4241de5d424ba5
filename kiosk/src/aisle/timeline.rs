//! The day's lessons on a line, with a mark at now. A lesson is a box as long as it lasts, or as its count needs where there
//! is room, filled as far as its horses are ready. It names no rider and no horse.

use bellmare_barn::board::{Board, Clock};

use super::Tone;
use super::frame::{Frame, Rect};
use crate::text::{self, Weight};
use crate::words;

/// A whole hour on the line.
#[derive(Clone, PartialEq, Debug)]
pub struct Tick {
    /// Where, from the left end of the line.
    pub x: f32,
    /// Its label; empty where it would not fit.
    pub label: String,
}

/// A lesson on the line.
#[derive(Clone, PartialEq, Debug)]
pub struct LessonBox {
    /// Where, from the upper left of the line's rectangle.
    pub rect: Rect,
    /// Horses ready of horses that go.
    pub text: String,
    /// Share of its horses that are ready, 0 to 1.
    pub ready: f32,
    /// Over (Quiet), going on (Now), or to come (Ready where all horses are).
    pub tone: Tone,
    /// In one sentence.
    pub label: String,
}

/// The line.
#[derive(Clone, PartialEq, Debug, Default)]
pub struct Timeline {
    /// Hours.
    pub ticks: Vec<Tick>,
    /// Lessons.
    pub lessons: Vec<LessonBox>,
    /// Where now is; none where the clock is not set.
    pub now_x: Option<f32>,
    /// Where the line runs, from the top of its rectangle.
    pub axis_y: f32,
    /// Said in place of lessons.
    pub empty: String,
}

/// Lays out the line in the frame's rectangle.
pub fn draw(board: &Board, frame: &Frame) -> Timeline {
    let Clock::Set { time: now, .. } = board.clock else {
        return Timeline { empty: words::clock_unset(), ..Timeline::default() };
    };
    if board.lessons.is_empty() {
        return Timeline { empty: words::no_lessons(), ..Timeline::default() };
    }
    let rect = frame.timeline;
    let types = &frame.types;
    let now = f32::from(now.minutes());
    let begins = board.lessons.iter().map(|lesson| f32::from(lesson.start.minutes()));
    let ends = board.lessons.iter().map(|lesson| f32::from(lesson.start.minutes()) + lesson.minutes as f32);
    let first = (begins.fold(now, f32::min) / 60.0).floor();
    let last = (ends.fold(now + 1.0, f32::max) / 60.0).ceil().max(first + 1.0);
    let margin = text::width("12", types.small, Weight::Regular) / 2.0;
    let px_per_min = (rect.w - 2.0 * margin) / ((last - first) * 60.0);
    let x_of = |minute: f32| margin + (minute - first * 60.0) * px_per_min;

    let label_h = types.small * 1.15;
    let axis_y = rect.h - label_h;
    let hour_px = 60.0 * px_per_min;
    let every = (text::width("12", types.small, Weight::Regular) * 1.6 / hour_px).ceil().max(1.0) as usize;
    let ticks = (first as u16..=last as u16)
        .map(|hour| {
            let labelled = (hour as usize - first as usize).is_multiple_of(every);
            let label = if labelled { words::hour(hour, board.units) } else { String::new() };
            Tick { x: x_of(f32::from(hour) * 60.0), label }
        })
        .collect();

    let mut lanes: Vec<f32> = Vec::new();
    let placed: Vec<usize> = board
        .lessons
        .iter()
        .map(|lesson| {
            let (begin, end) = (f32::from(lesson.start.minutes()), lesson.minutes as f32);
            let free = lanes.iter().position(|busy| *busy <= begin);
            let lane = free.unwrap_or(lanes.len());
            if lane == lanes.len() {
                lanes.push(0.0);
            }
            lanes[lane] = begin + end;
            lane
        })
        .collect();
    let lane_h = (axis_y - rect.h * 0.16) / lanes.len().max(1) as f32;
    // How far a box may reach: to the next one in its lane.
    let reach = |at: usize| {
        let later = board.lessons.iter().zip(&placed).skip(at + 1).find(|(_, lane)| **lane == placed[at]);
        later.map_or(rect.w, |(lesson, _)| x_of(f32::from(lesson.start.minutes()))) - 2.0
    };
    let lessons = board
        .lessons
        .iter()
        .enumerate()
        .map(|(at, lesson)| {
            let lane = placed[at];
            let begin = f32::from(lesson.start.minutes());
            let end = begin + lesson.minutes as f32;
            // Who has no horse is counted like one who waits for theirs.
            let riders = lesson.horses + lesson.without;
            let count = format!("{}/{riders}", lesson.ready);
            let needed = text::width(&count, types.small, Weight::SemiBold) + 7.0;
            let w = (lesson.minutes as f32 * px_per_min - 2.0).max(4.0);
            let w = w.max(needed.min(reach(at) - x_of(begin)));
            let h = (lane_h - 2.0).min(types.near * 1.3);
            let y = axis_y - (lane as f32 + 1.0) * h - lane as f32 * 2.0;
            let ways = [words::of(lesson.ready as usize, riders as usize), count];
            let fits = |of: &String| text::width(of, types.small, Weight::SemiBold) < w - 6.0 && h > types.small * 0.9;
            let of = ways.into_iter().find(fits).unwrap_or_default();
            let tone = if end <= now {
                Tone::Quiet
            } else if begin <= now {
                Tone::Now
            } else if lesson.ready >= riders {
                Tone::Ready
            } else {
                Tone::Low
            };
            let ready = if riders == 0 { 0.0 } else { lesson.ready as f32 / riders as f32 };
            LessonBox {
                rect: Rect::new(x_of(begin) + 1.0, y, w, h),
                text: of,
                ready: ready.min(1.0),
                tone,
                label: words::lesson(lesson, board.units),
            }
        })
        .collect();
    Timeline { ticks, lessons, now_x: Some(x_of(now)), axis_y, empty: String::new() }
}

impl Timeline {
    /// The line as text.
    pub fn as_text(&self) -> String {
        if !self.empty.is_empty() {
            return self.empty.clone();
        }
        let lessons = self.lessons.iter().map(|lesson| format!("{} [{:?}]", lesson.label, lesson.tone));
        lessons.collect::<Vec<_>>().join("; ")
    }
}
