//! What stands between the rows: which horse, what, who and by when, a person's next job once; and who is on shift. It takes
//! the jobs in the order of the board and makes none of its own.

use std::collections::BTreeSet;

use bellmare_barn::board::{Board, Job, Pace, Who};

use super::Tone;
use super::frame::{Frame, Rect, SHIFT_SHARE, Type, is_wide};
use crate::sizes::Sizes;
use crate::text::{self, Weight};
use crate::words;

/// One job.
#[derive(Clone, PartialEq, Debug)]
pub struct JobLine {
    /// Which stall's card it opens.
    pub stall: String,
    /// True where its tack is shown first, and not the steps.
    pub tack: bool,
    /// The horse.
    pub name: String,
    /// The job.
    pub job: String,
    /// Who is at it, or to do it; empty where it is nobody's.
    pub who: String,
    /// By when; the mount of what can not be had.
    pub by: String,
    /// The same, the time alone.
    pub time: String,
    /// How pressing.
    pub tone: Tone,
    /// The tone's word; empty where it is in time.
    pub word: String,
}

/// Where the columns of a job begin, from the left of the work's rectangle.
#[derive(Clone, Copy, PartialEq, Debug, Default)]
pub struct Columns {
    /// The horse.
    pub name: f32,
    /// The job.
    pub job: f32,
    /// Who.
    pub who: f32,
    /// By when.
    pub by: f32,
    /// Where the widest line ends.
    pub whole: f32,
    /// Font size of the tone's word.
    pub word_px: f32,
    /// True where there is room for a title before the lines.
    pub titled: bool,
    /// True where job and person stand one above the other.
    pub stacked: bool,
}

/// The work as drawn.
#[derive(Clone, PartialEq, Debug, Default)]
pub struct Work {
    /// The jobs whose turn it is.
    pub jobs: Vec<JobLine>,
    /// Where each job stands on the glass.
    pub rects: Vec<Rect>,
    /// True where the lines are high enough and far enough apart to be touched; a touch opens the horse's card.
    pub touchable: bool,
    /// Where their columns begin.
    pub columns: Columns,
    /// Which of how many, where they take turns.
    pub count: String,
    /// Said where there are none.
    pub empty: String,
    /// "On shift 5".
    pub shift_title: String,
    /// Their names.
    pub shift_names: String,
    /// Font size of the names: as large as fits.
    pub shift_px: f32,
}

/// Lays out the jobs and the people.
pub fn draw(board: &Board, frame: &Frame, sizes: &Sizes, turn: usize) -> Work {
    let mut lines = lines(board);
    let nothing = lines.is_empty();
    // A page of stalls alone has no room for jobs; a hair's breadth is not missed.
    let room = if frame.work.h > 0.0 { ((frame.work.h / frame.job_h + 0.02) as usize).max(1) } else { 0 };
    let pages = lines.len().div_ceil(room.max(1)).max(1);
    // Past the third page nobody is helped: the most pressing come again instead.
    let page = turn % pages.min(3);
    let count = if pages > 1 { words::of(page + 1, pages.min(3)) } else { String::new() };
    let mut columns = columns(&lines, &frame.types, frame.stacked_jobs, frame.work.w);
    if columns.whole > frame.work.w {
        // The word for what is late is worth more than the one before a time.
        lines.iter_mut().for_each(|line| line.by.clone_from(&line.time));
        columns = self::columns(&lines, &frame.types, frame.stacked_jobs, frame.work.w);
    }
    let here = board.people.iter().filter(|person| person.since.is_some()).count();
    let (shift_names, shift_px) = shift_fitted(board, frame);
    let jobs: Vec<JobLine> = lines.into_iter().skip(page * room).take(room).collect();
    let rects = places(jobs.len(), frame, sizes);
    let apart = rects.windows(2).all(|pair| pair[1].y - pair[0].bottom() >= sizes.touch_gap() - 0.5);
    let touchable = apart && rects.iter().all(|rect| rect.h >= sizes.touch());
    Work {
        shift_px,
        jobs,
        rects,
        touchable,
        columns,
        count,
        empty: if nothing { words::nothing_next() } else { String::new() },
        shift_title: words::on_shift(here),
        shift_names,
    }
}

/// Spread evenly over the room there is, a touch gap apart where that is to be had.
fn places(count: usize, frame: &Frame, sizes: &Sizes) -> Vec<Rect> {
    let area = frame.work;
    let pitch = (area.h / count.max(1) as f32).min(frame.job_h * 1.6);
    // A little closer than the words alone would stand, where that leaves a line high enough to be touched.
    let apart = pitch - frame.gap;
    let h = if apart >= sizes.touch() { apart } else { apart.max(frame.job_h.min(pitch) * 0.88) };
    let top = area.y + (area.h - pitch * count as f32) / 2.0 + (pitch - h) / 2.0;
    (0..count).map(|at| Rect::new(area.x, top + pitch * at as f32, area.w, h)).collect()
}

fn on_shift(board: &Board) -> Vec<&str> {
    let here = board.people.iter().filter(|person| person.since.is_some());
    here.map(|person| person.name.as_str()).collect()
}

fn shift_names(board: &Board) -> String {
    let names = on_shift(board);
    if names.is_empty() { words::nobody() } else { names.join(", ") }
}

/// The names and their font size, as large as fits. Where they do not fit in the smallest either, the last ones are a number.
fn shift_fitted(board: &Board, frame: &Frame) -> (String, f32) {
    let whole = shift_names(board);
    let font_px = shift_px(&whole, frame);
    if shift_fits(&whole, font_px, frame) {
        return (whole, font_px);
    }
    let names = on_shift(board);
    let some = (1..names.len()).rev().map(|count| format!("{} +{}", names[..count].join(", "), names.len() - count));
    let fitted = some.into_iter().find(|some| shift_fits(some, font_px, frame));
    (fitted.unwrap_or(whole), font_px)
}

fn shift_fits(names: &str, font_px: f32, frame: &Frame) -> bool {
    let types = &frame.types;
    let room_h = frame.shift.h - types.near * 1.2 - types.small * 2.02;
    let room_w = frame.shift.w - types.small * 1.3;
    text::lines(names, room_w / 1.02, font_px, Weight::Regular) as f32 * font_px * 1.3 <= room_h + 0.5
}

/// How many lines the names take in the smallest font.
pub fn shift_lines(board: &Board, types: &Type, sizes: &Sizes) -> usize {
    let share = if is_wide(sizes) { SHIFT_SHARE } else { 1.0 };
    // The way to the rounds stands beside them.
    let room = (sizes.panel.width_px - types.far * 0.5) * share - types.small * 1.3 - sizes.touch() * 1.5;
    text::lines(&shift_names(board), room, types.small, Weight::Regular)
}

fn shift_px(names: &str, frame: &Frame) -> f32 {
    let types = &frame.types;
    let room_w = frame.shift.w - types.small * 1.3;
    let mut font_px = if room_w > types.near * 8.0 { types.near * 1.15 } else { types.near * 0.9 };
    while font_px > types.small && !shift_fits(names, font_px, frame) {
        font_px *= 0.95;
    }
    font_px.max(types.small)
}

/// True where job and person must stand one above the other, in the smaller font, for a line to fit.
pub fn stacked(board: &Board, types: &Type, sizes: &Sizes) -> bool {
    let lines = lines(board);
    columns(&lines, types, false, f32::MAX).whole > jobs_room(types, sizes)
}

/// About the width that the jobs get; the frame gives the people a quarter beside them on a wide glass.
fn jobs_room(types: &Type, sizes: &Sizes) -> f32 {
    let width = sizes.panel.width_px - types.far * 0.5;
    if is_wide(sizes) { width * (0.98 - SHIFT_SHARE) } else { width }
}

/// What can not be had first; then each person's next job, and of what is nobody's or the staff's, each horse's.
fn lines(board: &Board) -> Vec<JobLine> {
    let time = |at| words::time(at, board.units);
    let missed = board.missed.iter().map(|missed| JobLine {
        stall: missed.stall.to_string(),
        tack: true,
        name: missed.name.clone(),
        job: words::can_not_go(),
        who: String::new(),
        by: time(missed.mount),
        time: time(missed.mount),
        tone: Tone::Late,
        word: String::new(),
    });
    let mut told = BTreeSet::new();
    let next = board.next.iter().filter(|job| match &job.who {
        Who::Person { id, .. } => told.insert(id.as_str()),
        Who::Staff | Who::Open => told.insert(job.horse.as_str()),
    });
    let next = next.map(|job| {
        let (tone, word) = match job.pace {
            Pace::Late => (Tone::Late, words::late()),
            Pace::Now => (Tone::Now, String::new()),
            Pace::Ready => (Tone::Ready, words::ready()),
            Pace::Later => (Tone::Quiet, String::new()),
        };
        JobLine {
            stall: job.stall.to_string(),
            tack: matches!(job.job, Job::Tack | Job::LeadOut),
            name: job.name.clone(),
            job: words::job(job.job),
            who: words::who(&job.who),
            by: words::by(&time(job.done_by)),
            time: time(job.done_by),
            tone,
            word,
        }
    });
    missed.chain(next).collect()
}

fn columns(lines: &[JobLine], types: &Type, stacked: bool, room: f32) -> Columns {
    let widest = |of: &dyn Fn(&JobLine) -> f32| lines.iter().map(of).fold(0.0, f32::max) * 1.02;
    let gap = types.far * 0.4;
    let name = widest(&|line| text::width(&line.name, types.far, Weight::Bold));
    let middle_px = if stacked { types.near } else { types.far };
    let job = widest(&|line| text::width(&line.job, middle_px, Weight::Regular));
    let who = widest(&|line| text::width(&line.who, middle_px, Weight::SemiBold));
    let by = widest(&|line| text::width(&line.by, types.far, Weight::Bold));
    let middle = if stacked {
        job.max(who)
    } else if who > 0.0 {
        job + gap + who
    } else {
        job
    };
    let word_of = |font_px: f32| {
        let word = |line: &JobLine| match line.word.as_str() {
            "" => text::width(&line.by, types.far, Weight::Bold),
            word => {
                text::width(&line.by, types.far, Weight::Bold)
                    + types.far * 1.05
                    + text::width(word, font_px, Weight::Bold)
            }
        };
        widest(&word).max(by)
    };
    let untitled = name + gap + middle + gap;
    let word_px = if untitled + word_of(types.far) > room { types.near } else { types.far };
    let title = text::width(&words::next(), types.near, Weight::Bold) + gap;
    let titled = title + untitled + word_of(word_px) <= room;
    let name_x = if titled { title } else { 0.0 };
    let job_x = name_x + name + gap;
    let who_x = if stacked { job_x } else { job_x + job + gap };
    let by_x = job_x + middle + gap;
    Columns { name: name_x, job: job_x, who: who_x, by: by_x, whole: by_x + word_of(word_px), word_px, titled, stacked }
}

impl Work {
    /// The jobs and the people as lines of text.
    pub fn as_text(&self) -> Vec<String> {
        let mut lines: Vec<String> = self
            .jobs
            .iter()
            .map(|job| {
                let who = if job.who.is_empty() { "-" } else { &job.who };
                format!("{} | {} | {who} | {} {}", job.name, job.job, job.by, job.word).trim_end().to_owned()
            })
            .collect();
        if !self.empty.is_empty() {
            lines.push(self.empty.clone());
        }
        if !self.count.is_empty() {
            lines.push(format!("jobs {}", self.count));
        }
        lines.push(format!("{}: {}", self.shift_title, self.shift_names));
        lines
    }
}
