//! The aisle picture: from a board to everything that is drawn, where, how large and in which words. Pure: the same
//! board, glass, distance and turn give the same picture. It knows nothing of the toolkit that draws it.
//!
//! Terms: a *page* is a part of the barn that fits at a readable size; a *turn* counts page turns since the start; a
//! *loud* stall needs somebody, a *quiet* one does not.

pub mod frame;
pub mod heat;
pub mod stalls;
pub mod strip;
pub mod timeline;
pub mod work;

use bellmare_barn::board::{Board, Clock, StallView};
use bellmare_barn::book::Side;
use bellmare_barn::language::Language;

use crate::sizes::{GOOD_ARCMIN, LEAST_ARCMIN, Sizes};
use crate::words;
use frame::{Frame, Mode, Rect, Type, Wanted};
use heat::HeatBox;
use stalls::Cell;
use strip::Notice;
use timeline::Timeline;
use work::Work;

/// How pressing or how known a thing is. Each has a colour, a shape and a word.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug, Default)]
pub enum Tone {
    /// Nothing to say.
    #[default]
    Quiet,
    /// Done, or fine.
    Ready,
    /// Not known.
    Unknown,
    /// To be minded: it keeps a horse or a person from harm.
    Mind,
    /// Time to be at it.
    Now,
    /// Low: water, or how many horses of a lesson are ready (drawn without a shape).
    Low,
    /// A battery is low.
    Battery,
    /// Heat: begin to watch.
    Hot,
    /// A horse differs from what is written of it.
    Care,
    /// Frost: buckets and pipes.
    Cold,
    /// Behind its time.
    Late,
    /// Heat: critical to monitor.
    Critical,
    /// The hub can not do its work.
    Fault,
    /// Empty; act now.
    Alarm,
    /// Call the vet now.
    Vet,
    /// Worse than anything: do not go on.
    Stop,
}

/// What the aisle picture is drawn from.
#[derive(Clone, Copy, Debug)]
pub struct View<'a> {
    /// The last board that came.
    pub board: &'a Board,
    /// The glass and the distance.
    pub sizes: Sizes,
    /// The aisle to show; all of them in turn where none is named.
    pub aisle: Option<&'a str>,
    /// How often pages have turned.
    pub turn: usize,
    /// For how many seconds the hub has been silent, where it has.
    pub silent_s: Option<u64>,
    /// What it speaks.
    pub language: Language,
}

/// The whole picture.
#[derive(Clone, PartialEq, Debug)]
pub struct Scene {
    /// The glass and the distance it was drawn for.
    pub sizes: Sizes,
    /// Where things stand and how large they are.
    pub frame: Frame,
    /// The clock's words.
    pub clock: String,
    /// True where the clock can be believed.
    pub clock_known: bool,
    /// The other language, a touch on the clock away.
    pub language: String,
    /// The rounds: their word, what is left of them, how pressing that is.
    pub round: (String, String, Tone),
    /// The day's lessons.
    pub timeline: Timeline,
    /// The heat.
    pub heat: HeatBox,
    /// What is said across the whole width, most lasting first: the silent hub, then the notice whose turn it is.
    pub strips: Vec<Notice>,
    /// The stalls of this page.
    pub cells: Vec<Cell>,
    /// The jobs of this page.
    pub work: Work,
    /// Which part of the barn this is, where there are more pages than one.
    pub page: String,
    /// Which page, from 0.
    pub page_index: usize,
    /// How many pages there are.
    pub pages: usize,
}

/// Draws up the picture.
pub fn picture(view: &View) -> Scene {
    let aisles = aisles(view);
    let silent = view.silent_s.map(|for_s| strip::silent(for_s, view.board.clock, view.board.units));
    let notices = strip::notices(view.board);
    let strips = |types: &Type| {
        let mut stands = strip::stands(&notices, types, &view.sizes);
        // A silent hub has a line of its own, which must fit too.
        stands.below |=
            silent.as_ref().is_some_and(|silent| strip::stands(std::slice::from_ref(silent), types, &view.sizes).below);
        stands
    };

    let mut chosen = None;
    for arcmin in sizes_to_try() {
        let types = Type::new(&view.sizes, arcmin);
        let wanted = Wanted {
            sizes: &view.sizes,
            types,
            silent: silent.is_some(),
            strips: strips(&types),
            low_head: false,
            jobs: view.board.next.len(),
            stacked_jobs: work::stacked(view.board, &types, &view.sizes),
            shift_lines: work::shift_lines(view.board, &types, &view.sizes),
            widest_time: words::widest_time(view.board.units),
            heat: heat::takes(&view.board.heat, view.board.units, &types),
            footer: false,
        };
        let least = arcmin <= LEAST_ARCMIN;
        if let Some(frame) = Frame::roomy(&wanted) {
            let pages = stalls::pages(&aisles, view.board, &frame, &view.sizes);
            if pages.len() <= 1 {
                chosen = Some((frame, pages));
                break;
            }
        }
        if least {
            let arrange = |footer: bool| {
                let frame = Frame::tight(&Wanted { footer, ..wanted });
                let pages = stalls::pages(&aisles, view.board, &frame, &view.sizes);
                (frame, pages)
            };
            let whole = arrange(false);
            let one_page = whole.0.mode == Mode::Joint && whole.1.len() <= 1;
            chosen = Some(if one_page { whole } else { arrange(true) });
        }
    }
    // The last size tried always gives a frame.
    let (frame, stall_pages) = chosen.unwrap_or_else(|| {
        let types = Type::new(&view.sizes, LEAST_ARCMIN);
        (Frame::tight(&Wanted::bare(&view.sizes, types)), Vec::new())
    });
    compose(view, frame, &stall_pages, silent, notices)
}

fn sizes_to_try() -> impl Iterator<Item = f32> {
    let steps = (GOOD_ARCMIN - LEAST_ARCMIN) as usize * 2;
    (0..=steps).map(|step| GOOD_ARCMIN - step as f32 / 2.0)
}

fn compose(
    view: &View,
    frame: Frame,
    stall_pages: &[stalls::Page],
    silent: Option<Notice>,
    notices: Vec<Notice>,
) -> Scene {
    let board = view.board;
    let stall_count = stall_pages.len().max(1);
    let split = frame.mode != Mode::Joint;
    let pages = if split { stall_count + 1 } else { stall_count };
    let page_index = view.turn % pages;
    let on_work_page = split && page_index == stall_count;

    let (cells, page) = if on_work_page {
        (Vec::new(), words::work_page(page_index + 1, pages))
    } else {
        match stall_pages.get(page_index) {
            Some(page) => {
                let cells = stalls::cells(page, board, &frame, &view.sizes);
                (cells, words::page(&page.spans(), page_index + 1, pages))
            }
            None => (Vec::new(), String::new()),
        }
    };

    let mut frame = frame;
    if on_work_page {
        frame.show_work_page();
    }
    let mut strips: Vec<Notice> = silent.into_iter().collect();
    if !notices.is_empty() {
        let count = notices.len();
        let index = view.turn % count;
        let mut notice = notices.into_iter().nth(index).unwrap_or_default();
        if count > 1 {
            notice.count = words::of(index + 1, count);
        }
        strips.push(notice);
    }
    // A silent hub and alarms: both stay, the silence first.
    for (notice, rect) in strips.iter_mut().zip(&frame.strips) {
        notice.rect = *rect;
        notice.below = frame.strip_below;
    }
    let (clock, clock_known) = match board.clock {
        Clock::Set { time, .. } => (words::time(time, board.units), view.silent_s.is_none()),
        Clock::Unset => (words::clock_unset_short(), false),
    };
    Scene {
        sizes: view.sizes,
        clock,
        clock_known,
        language: words::other_language(view.language).to_owned(),
        round: round(board),
        timeline: timeline::draw(board, &frame),
        heat: heat::draw(&board.heat, board.units),
        strips,
        cells,
        work: work::draw(board, &frame, &view.sizes, view.turn),
        page: if pages > 1 { page } else { String::new() },
        page_index,
        pages,
        frame,
    }
}

/// The way to the rounds: questions for hay first, then chores that are late, then how many are left.
fn round(board: &Board) -> (String, String, Tone) {
    let asked = board.hay.iter().filter(|question| question.answer.is_none()).count();
    let open = board.chores.iter().filter(|chore| chore.done.is_none());
    let (left, late) = open.fold((0, 0), |(left, late), chore| (left + 1, late + usize::from(chore.late)));
    let (below, tone) = match (asked, late, left) {
        (1.., _, _) => (words::hay_questions(asked), Tone::Now),
        (0, 1.., _) => (words::chores_late(late), Tone::Late),
        (0, 0, 0) => (String::new(), Tone::Quiet),
        (0, 0, left) => (words::chores_left(left), Tone::Quiet),
    };
    (words::round(), below, tone)
}

/// The two rows of each aisle, in their real order.
#[derive(Clone, PartialEq, Debug)]
pub struct Rows<'a> {
    /// Left of the door: the upper row.
    pub left: Vec<&'a StallView>,
    /// Right of the door: the lower row.
    pub right: Vec<&'a StallView>,
}

fn aisles<'a>(view: &View<'a>) -> Vec<Rows<'a>> {
    let mut names: Vec<&str> = Vec::new();
    for stall in &view.board.stalls {
        let wanted = view.aisle.is_none_or(|aisle| aisle == stall.aisle);
        if wanted && !names.contains(&stall.aisle.as_str()) {
            names.push(&stall.aisle);
        }
    }
    let row = |name: &str, side: Side| {
        view.board.stalls.iter().filter(|stall| stall.aisle == name && stall.side == side).collect::<Vec<_>>()
    };
    names.iter().map(|name| Rows { left: row(name, Side::Left), right: row(name, Side::Right) }).collect()
}

impl Scene {
    /// The picture in lines of text, top to bottom: what a test reads.
    pub fn as_text(&self) -> String {
        let mut lines = vec![format!("{} | {}", self.clock, self.timeline.as_text()), self.heat.as_text()];
        lines.extend(self.strips.iter().map(Notice::as_text));
        lines.extend(self.cells.iter().map(Cell::as_text));
        lines.extend(self.work.as_text());
        if !self.page.is_empty() {
            lines.push(self.page.clone());
        }
        lines.join("\n")
    }

    /// Every rectangle that can be touched, by its label.
    pub fn targets(&self) -> Vec<(String, Rect)> {
        let strips = self.strips.iter().filter(|notice| notice.alarm.is_some());
        let mut targets: Vec<_> = strips.map(|notice| (notice.label.clone(), notice.rect)).collect();
        targets.extend(self.cells.iter().map(|cell| (cell.label.clone(), cell.rect)));
        if self.work.touchable {
            let jobs = self.work.jobs.iter().zip(&self.work.rects);
            targets.extend(jobs.map(|(job, rect)| (format!("{} {}", job.name, job.job), *rect)));
        }
        targets.push((words::sign_in_out(), self.frame.shift));
        targets.push((self.round.0.clone(), self.frame.round));
        if self.frame.head_touched {
            targets.push((self.language.clone(), self.frame.clock));
            targets.push((self.heat.as_text(), self.frame.heat));
        }
        targets
    }
}
