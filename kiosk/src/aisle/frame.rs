//! Where the parts of the aisle picture stand, and how large its texts are. It decides between three arrangements by
//! what fits at a readable size, and knows nothing of what the parts say.
//!
//! ```text
//! Joint                     Split, page by page              Single, page by page
//! clock  lessons   heat     clock  lessons   heat            clock  lessons   heat
//! ======= alarm =======     ======= alarm =======            ======= alarm =======
//! [ ][ left  row ][ ]       [ left row  ][ ] | on    | next  [ one row  ][ ] | on
//! next jobs   on shift      [ right row ][ ] | shift | jobs  [          ][ ] | shift
//! [ ][ right row ][ ]
//! ```

use bellmare_barn::language::Language;

use super::heat;
use super::strip::{self, Stands};
use crate::sizes::{LEAST_ARCMIN, Sizes};
use crate::text::{self, LINE, Weight};

/// A rectangle in pixels from the upper left corner of the glass.
#[derive(Clone, Copy, PartialEq, Debug, Default)]
pub struct Rect {
    /// Left edge.
    pub x: f32,
    /// Upper edge.
    pub y: f32,
    /// Width.
    pub w: f32,
    /// Height.
    pub h: f32,
}

impl Rect {
    /// A rectangle.
    pub fn new(x: f32, y: f32, w: f32, h: f32) -> Self {
        Self { x, y, w, h }
    }

    /// The right edge.
    pub fn right(&self) -> f32 {
        self.x + self.w
    }

    /// The lower edge.
    pub fn bottom(&self) -> f32 {
        self.y + self.h
    }
}

/// Font sizes in pixels.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Type {
    /// Read from the aisle.
    pub far: f32,
    /// Read from half as far.
    pub near: f32,
    /// Numbers and times of quiet stalls.
    pub quiet: f32,
    /// Labels: read at two steps, never smaller than arm's length asks for.
    pub small: f32,
}

impl Type {
    /// The sizes for that visual angle from the aisle.
    pub fn new(sizes: &Sizes, arcmin: f32) -> Self {
        Self::of(sizes, sizes.aisle_font(arcmin))
    }

    fn of(sizes: &Sizes, far: f32) -> Self {
        let least = sizes.arm_font(LEAST_ARCMIN);
        let near = (far * 0.5).max(least).min(far);
        let quiet = (far * 0.42).max(least).min(near);
        Self { far, near, quiet, small: (far * 0.36).max(least).min(quiet) }
    }
}

/// What the frame must hold.
#[derive(Clone, Copy, Debug)]
pub struct Wanted<'a> {
    /// The glass and the distance.
    pub sizes: &'a Sizes,
    /// The fonts to try.
    pub types: Type,
    /// Whether the hub is silent.
    pub silent: bool,
    /// How the notices stand.
    pub strips: Stands,
    /// True where clock and heat give up being touched, for the room of it.
    pub low_head: bool,
    /// How many jobs there are.
    pub jobs: usize,
    /// True where job and person must stand one above the other.
    pub stacked_jobs: bool,
    /// How many lines the names of those on shift take in the smallest font.
    pub shift_lines: usize,
    /// A time as wide as any that the clock can show.
    pub widest_time: &'static str,
    /// What the heat box takes.
    pub heat: heat::Takes,
    /// Whether the page is named at the foot.
    pub footer: bool,
}

impl<'a> Wanted<'a> {
    /// Nothing but stalls.
    pub fn bare(sizes: &'a Sizes, types: Type) -> Self {
        Self {
            sizes,
            types,
            silent: false,
            strips: Stands::default(),
            low_head: false,
            jobs: 0,
            stacked_jobs: false,
            shift_lines: 1,
            widest_time: "",
            heat: heat::Takes::default(),
            footer: true,
        }
    }
}

/// How the rows and the work share the glass.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Mode {
    /// Both rows, and the work between them.
    Joint,
    /// Both rows on a page; the work has a page of its own.
    Split,
    /// One row on a page; the work has a page of its own.
    Single,
}

/// Where everything stands.
#[derive(Clone, PartialEq, Debug)]
pub struct Frame {
    /// The arrangement.
    pub mode: Mode,
    /// Fonts.
    pub types: Type,
    /// Space between parts.
    pub gap: f32,
    /// True where clock and heat are large enough to be touched. On a small glass an alarm takes that room.
    pub head_touched: bool,
    /// The clock, and beside it the other language.
    pub clock: Rect,
    /// Width of the clock alone.
    pub clock_w: f32,
    /// The lessons.
    pub timeline: Rect,
    /// The heat.
    pub heat: Rect,
    /// How its words stand there.
    pub heat_lines: heat::Lines,
    /// The notices: the silent hub first, where it is, then the one whose turn it is.
    pub strips: Vec<Rect>,
    /// True where a notice has its age under its text.
    pub strip_below: bool,
    /// The upper row; the only one where [`Mode::Single`].
    pub upper: Rect,
    /// The lower row.
    pub lower: Rect,
    /// True where rows are too low for a line of links under the word.
    pub short: bool,
    /// True where a quiet stall has its bucket and its words side by side.
    pub low: bool,
    /// The jobs; nothing on a page without them.
    pub work: Rect,
    /// Height of one job.
    pub job_h: f32,
    /// True where job and person stand one above the other.
    pub stacked_jobs: bool,
    /// Who is on shift, and the way to sign in.
    pub shift: Rect,
    /// The way to the rounds.
    pub round: Rect,
    /// The foot, where the page is named.
    pub footer: Rect,
}

/// The share of a wide glass that the people on shift get beside the jobs.
pub const SHIFT_SHARE: f32 = 0.26;
/// The share of a wide glass that the lessons want beside clock and heat.
const LESSONS_SHARE: f32 = 0.25;
/// Space inside a stall's frame, as a share of the far font; ui/parts/stall.slint has the same.
pub const PAD: f32 = 0.11;
/// Height of the line of links, as a share of the near font; ui/parts/stall.slint has the same.
pub const LINKS: f32 = 0.98;

/// Distance of a name and the word under it, as a share of the far font, where the glass is low: no letter reaches the other's.
pub const CLOSE: f32 = 1.04;

/// The heights that depend on the fonts alone.
struct Heights {
    tall: f32,
    short: f32,
    job: f32,
}

impl Frame {
    /// Everything on one page with room for three jobs; none where that does not fit.
    pub fn roomy(wanted: &Wanted) -> Option<Self> {
        let heights = heights(wanted);
        let jobs = wanted.jobs.clamp(1, 3) as f32;
        Self::joint(wanted, heights.tall, jobs * heights.job, false)
    }

    /// The best arrangement for these fonts; smaller fonts where not even one row fits.
    pub fn tight(wanted: &Wanted) -> Self {
        let heights = heights(wanted);
        let jobs = wanted.jobs.clamp(1, 2) as f32;
        Self::joint(wanted, heights.tall, jobs * heights.job, false)
            .or_else(|| Self::joint(wanted, heights.tall, heights.job, false))
            .or_else(|| Self::joint(wanted, heights.short, heights.job, true))
            // All of it on one picture is worth more than a touch on the clock; both ways lead from other pages too.
            .or_else(|| Self::joint(&Wanted { low_head: true, ..*wanted }, heights.short, heights.job, true))
            .or_else(|| Self::paged(wanted, Mode::Split, heights.tall, false))
            .or_else(|| Self::paged(wanted, Mode::Split, heights.short, true))
            .or_else(|| Self::paged(wanted, Mode::Single, heights.tall, false))
            .or_else(|| Self::paged(wanted, Mode::Single, heights.short, true))
            .unwrap_or_else(|| {
                let types = Type::of(wanted.sizes, wanted.types.far * 0.95);
                if types.far < wanted.sizes.arm_font(LEAST_ARCMIN) {
                    // A glass this small shows nothing well; it is filled all the same.
                    return Self::paged(wanted, Mode::Single, 0.0, true).unwrap_or_else(|| Self::outline(wanted).0);
                }
                Self::tight(&Wanted { types, ..*wanted })
            })
    }

    /// Lays the page of jobs over the rows.
    pub fn show_work_page(&mut self) {
        let bottom = self.lower.bottom().max(self.upper.bottom());
        let width = self.upper.w;
        self.work = Rect::new(self.upper.x, self.upper.y, width, bottom - self.upper.y);
    }

    fn joint(wanted: &Wanted, row: f32, jobs: f32, short: bool) -> Option<Self> {
        let (mut frame, top, bottom) = Self::outline(wanted);
        let heights = heights(wanted);
        let row = row.max(wanted.sizes.touch());
        let gap = frame.gap;
        let shift_h = shift_height(wanted);
        let stacked = !is_wide(wanted.sizes);
        let middle = if stacked { jobs + shift_h + gap } else { jobs.max(shift_h) };
        let spare = bottom - top - 2.0 * row - 2.0 * gap - middle;
        if spare < 0.0 {
            return None;
        }
        // What is to spare goes to more jobs first, then to the rows, then between the jobs.
        let wanted_jobs = wanted.jobs.clamp(1, 5) as f32 * heights.job;
        let jobs_room = if stacked { jobs } else { middle };
        let whole_jobs = (((jobs_room + spare) / heights.job).floor() * heights.job).min(wanted_jobs);
        let more_jobs = (whole_jobs - jobs_room).clamp(0.0, spare);
        let row_more = ((spare - more_jobs) / 2.0).min(row * 0.3);
        let row = row + row_more;
        let middle = bottom - top - 2.0 * row - 2.0 * gap;
        let (x, w) = (gap, wanted.sizes.panel.width_px - 2.0 * gap);
        let middle_y = top + row + gap;
        frame.mode = Mode::Joint;
        frame.short = short;
        frame.low = short && row < quiet_height(&wanted.types);
        frame.upper = Rect::new(x, top, w, row);
        frame.lower = Rect::new(x, bottom - row, w, row);
        if stacked {
            frame.work = Rect::new(x, middle_y, w, middle - shift_h - gap);
            frame.shift = Rect::new(x, middle_y + middle - shift_h, w, shift_h);
        } else {
            let shift_w = (w * SHIFT_SHARE).max(shift_width(wanted) + gap + round_width(wanted));
            frame.work = Rect::new(x, middle_y, w - shift_w - 2.0 * gap, middle);
            frame.shift = Rect::new(x + w - shift_w, middle_y, shift_w, middle);
        }
        frame.part_shift(wanted);
        Some(frame)
    }

    fn paged(wanted: &Wanted, mode: Mode, row: f32, short: bool) -> Option<Self> {
        let (mut frame, top, mut bottom) = Self::outline(wanted);
        let gap = frame.gap;
        let x = gap;
        let mut w = wanted.sizes.panel.width_px - 2.0 * gap;
        if is_wide(wanted.sizes) {
            // The way to the rounds stands under those on shift, or beside them where that is too low.
            let high = bottom - top >= 2.0 * wanted.sizes.touch() + gap;
            let (people, round) = (shift_width(wanted), round_width(wanted));
            let shift_w = if high { people.max(round) } else { people + gap + round };
            frame.shift = Rect::new(x + w - shift_w, top, shift_w, bottom - top);
            w -= shift_w + gap;
        } else {
            let shift_h = shift_height(wanted);
            frame.shift = Rect::new(x, bottom - shift_h, w, shift_h);
            bottom -= shift_h + gap;
        }
        let room = bottom - top;
        let each = if mode == Mode::Split { (room - gap) / 2.0 } else { room };
        if each < row.max(wanted.sizes.touch()) {
            return None;
        }
        frame.mode = mode;
        frame.short = short;
        frame.low = short && each < quiet_height(&wanted.types);
        frame.upper = Rect::new(x, top, w, each);
        frame.lower = if mode == Mode::Split { Rect::new(x, bottom - each, w, each) } else { Rect::default() };
        frame.part_shift(wanted);
        Some(frame)
    }

    /// Gives the way to the rounds its place beside those on shift, or under them where that is too narrow for both.
    fn part_shift(&mut self, wanted: &Wanted) {
        let (all, gap, touch) = (self.shift, self.gap, wanted.sizes.touch());
        let width = round_width(wanted);
        if all.w >= shift_width(wanted) + gap + width {
            self.shift = Rect::new(all.x, all.y, all.w - gap - width, all.h);
            self.round = Rect::new(self.shift.right() + gap, all.y, width, all.h);
        } else {
            self.shift = Rect::new(all.x, all.y, all.w, all.h - gap - touch);
            self.round = Rect::new(all.x, self.shift.bottom() + gap, all.w, touch);
        }
    }

    /// The parts above the rows and the foot; where the rows may begin and must end.
    fn outline(wanted: &Wanted) -> (Self, f32, f32) {
        let Type { far, near, small, .. } = wanted.types;
        let (width, height) = (wanted.sizes.panel.width_px, wanted.sizes.panel.height_px);
        let gap = wanted.sizes.touch_gap().max(height * 0.008);
        let edge = gap.min(height * 0.012);
        let x = gap * 1.5;
        let touch = wanted.sizes.touch();
        let noticed = wanted.silent || wanted.strips.lines > 0;
        let head_touched = !(noticed && (is_small(wanted.sizes) || wanted.low_head));
        let line = (far * 1.16).max(near * LINE + small * LINE + gap * 1.2);
        let (line, under) = if head_touched { (line.max(touch), gap) } else { (line, edge) };
        let clock_w = text::width(wanted.widest_time, far * 1.12, Weight::Bold) + gap * 0.4;
        let pill = if head_touched { language_width(&wanted.types) } else { 0.0 };
        let clock = Rect::new(x, edge, (clock_w + pill).max(touch), line);
        // The lessons are worth another line in the heat's box, or the heat's figures.
        let takes = wanted.heat;
        let leaves_room = |wide: f32| {
            let left = width - clock.right() - 4.0 * gap - wide;
            !is_wide(wanted.sizes) || left >= width * LESSONS_SHARE
        };
        let (heat_lines, heat_w) = match () {
            () if leaves_room(takes.joined) => (heat::Lines::Joined, takes.joined),
            () if takes.high <= line && leaves_room(takes.apart) => (heat::Lines::Apart, takes.apart),
            () => (heat::Lines::Brief, takes.brief),
        };
        let heat_w = heat_w.min(width - clock.w - 3.5 * gap);
        let heat = Rect::new(width - gap - heat_w, edge, heat_w, line);
        let mut y = edge + line + under;
        let timeline = if is_wide(wanted.sizes) {
            Rect::new(clock.right() + gap, edge, heat.x - clock.right() - 3.0 * gap, line)
        } else {
            let rect = Rect::new(x, y, width - 2.0 * x, near * 1.3 + small * LINE);
            y = rect.bottom() + under;
            rect
        };
        let mut strips = Vec::new();
        let full = width - 2.0 * gap;
        let below = if wanted.strips.below { small * strip::BELOW } else { 0.0 };
        if wanted.silent {
            let h = far * 1.15 + below;
            strips.push(Rect::new(gap, y, full, h));
            y += h + gap;
        }
        if wanted.strips.lines > 0 {
            let lines = if wanted.strips.lines > 1 { CLOSE * 2.0 + 0.16 } else { LINE + 0.06 };
            let h = (far * lines + below).max(wanted.sizes.touch());
            strips.push(Rect::new(gap, y, full, h));
            y += h + gap;
        }
        let footer_h = if wanted.footer { small * 1.25 } else { 0.0 };
        let footer = Rect::new(gap, height - footer_h - edge * 0.25, full, footer_h);
        let bottom = if wanted.footer { footer.y - edge * 0.25 } else { height - edge };
        let frame = Self {
            mode: Mode::Single,
            types: wanted.types,
            gap,
            head_touched,
            clock,
            clock_w,
            timeline,
            heat,
            heat_lines,
            strips,
            strip_below: wanted.strips.below,
            upper: Rect::default(),
            lower: Rect::default(),
            short: false,
            low: false,
            work: Rect::default(),
            job_h: heights(wanted).job,
            stacked_jobs: wanted.stacked_jobs,
            shift: Rect::default(),
            round: Rect::default(),
            footer,
        };
        (frame, y, bottom)
    }
}

/// So low that two rows of buttons leave little else: a glass of 7 inch.
pub fn is_small(sizes: &Sizes) -> bool {
    sizes.panel.height_px < sizes.touch() * 5.0
}

/// Wider than high.
pub fn is_wide(sizes: &Sizes) -> bool {
    sizes.panel.width_px >= sizes.panel.height_px
}

fn heights(wanted: &Wanted) -> Heights {
    let Type { far, near, .. } = wanted.types;
    let pad = far * PAD;
    let two_lines = 2.0 * far * LINE;
    Heights { tall: 2.0 * pad + two_lines + near * LINKS, short: 2.0 * pad + 2.0 * far * CLOSE, job: far * LINE }
}

/// The least height of a quiet stall with everything one under the other.
fn quiet_height(types: &Type) -> f32 {
    types.quiet * 2.2 + types.small * 4.05 + 2.0 * types.far * PAD
}

fn shift_height(wanted: &Wanted) -> f32 {
    // Title, names, how; as ui/aisle.slint has them.
    let names = wanted.shift_lines.clamp(1, 2) as f32;
    (wanted.types.near * 1.2 + wanted.types.small * (1.3 * names + 2.02)).max(wanted.sizes.touch())
}

/// Width of the way to the other language beside the clock.
fn language_width(types: &Type) -> f32 {
    let name = |language| text::width(crate::words::other_language(language), types.small, Weight::SemiBold);
    name(Language::English).max(name(Language::Spanish)) + types.small * 1.2
}

/// Width of the way to the rounds beside those on shift.
fn round_width(wanted: &Wanted) -> f32 {
    let word = text::width(&crate::words::round(), wanted.types.near, Weight::Bold);
    (word + wanted.types.small * 1.2).max(wanted.sizes.touch())
}

fn shift_width(wanted: &Wanted) -> f32 {
    let title = text::width("On shift 99", wanted.types.near, Weight::Bold);
    let how = text::width(&crate::words::sign_in_out(), wanted.types.small, Weight::SemiBold);
    (title.max(how) + wanted.types.small * 1.2).max(wanted.sizes.touch())
}
