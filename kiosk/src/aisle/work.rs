//! What stands between the rows: which horse, what, who and by when; and who is on shift. It takes the jobs in the order
//! of the board and makes none of its own.

use bellmare_barn::board::{Board, Pace};

use super::Tone;
use super::frame::{Frame, Type};
use crate::text::{self, Weight};
use crate::words;

/// One job.
#[derive(Clone, PartialEq, Debug)]
pub struct JobLine {
    /// Which stall's card it opens.
    pub stall: String,
    /// The horse.
    pub name: String,
    /// The job.
    pub job: String,
    /// Who is at it; empty where nobody said.
    pub who: String,
    /// By when.
    pub by: String,
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
}

/// The work as drawn.
#[derive(Clone, PartialEq, Debug, Default)]
pub struct Work {
    /// The jobs whose turn it is.
    pub jobs: Vec<JobLine>,
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
}

/// Lays out the jobs and the people.
pub fn draw(board: &Board, frame: &Frame, turn: usize) -> Work {
    let lines = lines(board);
    let room = ((frame.work.h / frame.job_h) as usize).max(1);
    let pages = lines.len().div_ceil(room).max(1);
    // Past the third page nobody is helped: the most pressing come again instead.
    let page = turn % pages.min(3);
    let count = if pages > 1 { format!("{} of {}", page + 1, pages.min(3)) } else { String::new() };
    let columns = columns(&lines, &frame.types, frame.job_lines);
    let here: Vec<&str> =
        board.people.iter().filter(|person| person.since.is_some()).map(|person| person.name.as_str()).collect();
    Work {
        jobs: lines.into_iter().skip(page * room).take(room).collect(),
        columns,
        count,
        empty: if board.next.is_empty() { words::NOTHING_NEXT.to_owned() } else { String::new() },
        shift_title: words::on_shift(here.len()),
        shift_names: if here.is_empty() { words::NOBODY.to_owned() } else { here.join(", ") },
    }
}

/// One line where all four columns fit beside the people, two otherwise.
pub fn lines_per_job(board: &Board, types: &Type, width_px: f32) -> usize {
    let lines = lines(board);
    let widest = lines.iter().map(|line| by_width(line, types)).fold(0.0, f32::max);
    let whole = columns(&lines, types, 1).by + widest;
    let share = if width_px > types.far * 14.0 { 0.71 } else { 0.97 };
    if whole <= width_px * share { 1 } else { 2 }
}

fn lines(board: &Board) -> Vec<JobLine> {
    let line = |job: &bellmare_barn::board::NextJob| {
        let (tone, word) = match job.pace {
            Pace::Late => (Tone::Late, words::LATE),
            Pace::Now => (Tone::Now, ""),
            Pace::Ready => (Tone::Ready, words::READY),
            Pace::Later => (Tone::Quiet, ""),
        };
        JobLine {
            stall: job.stall.to_string(),
            name: job.name.clone(),
            job: words::job(job.job).to_owned(),
            who: job.who.clone().unwrap_or_default(),
            by: words::by(&words::time(job.done_by, board.units)),
            tone,
            word: word.to_owned(),
        }
    };
    board.next.iter().map(line).collect()
}

fn by_width(line: &JobLine, types: &Type) -> f32 {
    let word = text::width(&line.word, types.far, Weight::Bold);
    let space = if word > 0.0 { types.far * 1.2 } else { 0.0 };
    text::width(&line.by, types.far, Weight::Bold) + word + space
}

fn columns(lines: &[JobLine], types: &Type, job_lines: usize) -> Columns {
    let widest = |of: &dyn Fn(&JobLine) -> f32| lines.iter().map(of).fold(0.0, f32::max) * 1.02;
    let gap = types.far * 0.45;
    let title = text::width(words::NEXT, types.near, Weight::Bold) + gap * 0.8;
    let name = widest(&|line| text::width(&line.name, types.far, Weight::Bold));
    if job_lines > 1 {
        let job = widest(&|line| text::width(&line.job, types.near, Weight::Regular));
        return Columns { name: 0.0, job: 0.0, who: job + gap, by: name + gap };
    }
    let job = widest(&|line| text::width(&line.job, types.far, Weight::Regular));
    let who = widest(&|line| text::width(&line.who, types.far, Weight::SemiBold));
    let job_x = title + name + gap;
    let who_x = job_x + job + gap;
    let by = if who > 0.0 { who_x + who + gap } else { who_x };
    Columns { name: title, job: job_x, who: who_x, by }
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
