//! Plots, where looking beats reading: a horse's water of today and of two weeks beside its habit; the heat of today with
//! what is expected and the lessons on it. Columns and lines by hand: they stand still, and two colours and a word tell them.

use bellmare_barn::board::{Board, HeatView};
use bellmare_barn::id::StallId;

use super::{Here, Item};
use crate::aisle::frame::{Rect, is_wide};
use crate::aisle::{Tone, heat};
use crate::app::Up;
use crate::card;
use crate::sizes::{GLOVE_MM, GOOD_ARCMIN, LEAST_ARCMIN, Sizes};
use crate::text::{self, Weight};
use crate::words;

/// A column.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Column {
    /// Where.
    pub rect: Rect,
    /// Its colour.
    pub tone: Tone,
    /// Pale: expected, and not measured.
    pub pale: bool,
}

/// A line across a plot, with its word.
#[derive(Clone, PartialEq, Debug)]
pub struct Level {
    /// From where to where, without height.
    pub rect: Rect,
    /// What it means.
    pub word: String,
    /// Where that stands, over the line.
    pub at: Rect,
    /// Its colour.
    pub tone: Tone,
}

/// A word at a place.
#[derive(Clone, PartialEq, Debug)]
pub struct Label {
    /// Where.
    pub rect: Rect,
    /// What.
    pub text: String,
    /// In the middle of its place, else from its left.
    pub middle: bool,
}

/// A page with one plot or two.
#[derive(Clone, PartialEq, Debug)]
pub struct Plots {
    /// Font size of texts.
    pub base: f32,
    /// Font size of the title.
    pub title_px: f32,
    /// Font size of the numbers at the axes.
    pub small: f32,
    /// The title and what is under it.
    pub head: Rect,
    /// The title.
    pub title: String,
    /// What is under it.
    pub below: String,
    /// All columns.
    pub columns: Vec<Column>,
    /// All lines.
    pub levels: Vec<Level>,
    /// All words.
    pub labels: Vec<Label>,
    /// The lines at the foot of the plots.
    pub axes: Vec<Rect>,
    /// Back.
    pub back: (Rect, Item),
    /// The plots in a sentence each, for who listens.
    pub said: String,
}

/// A plot before it has a place: columns by their heights over one axis.
struct Chart {
    title: String,
    /// Lower and upper end of each column in the plot's unit; none where nothing is known.
    bars: Vec<Option<(f64, f64, Tone, bool)>>,
    /// A word under a column, for some.
    ticks: Vec<(usize, String)>,
    /// Lines across, by their height.
    levels: Vec<(f64, String, Tone)>,
    /// Stretches of columns marked under the axis: from, to.
    spans: Vec<(f64, f64)>,
    /// What the axis begins and ends with.
    range: (f64, f64),
}

/// The water of a stall's horse; none where none stands there or nothing of it is known.
pub fn water(here: &Here<'_>, stall: &StallId, sizes: &Sizes) -> Option<Plots> {
    let view = here.stall(stall)?;
    let horse = view.horse.as_ref()?;
    let drinking = view.drinking.as_ref()?;
    let units = here.board.units;
    let much = |litres: f64| words::water(litres, units);
    let hours: Vec<_> = drinking.hours.iter().map(|litres| Some((0.0, *litres, Tone::Now, false))).collect();
    let most_hour = drinking.hours.iter().copied().fold(2.0, f64::max);
    let mut today = Chart {
        title: words::water_today(&much(drinking.today)),
        bars: hours,
        ticks: (0..24_u16).step_by(6).map(|hour| (usize::from(hour), words::hour_of_day(hour, units))).collect(),
        levels: vec![(most_hour, much(most_hour), Tone::Quiet)],
        spans: Vec::new(),
        range: (0.0, most_hour * 1.1),
    };
    today.bars.resize(24, None);
    let most_day = drinking
        .days
        .iter()
        .flatten()
        .copied()
        .chain(drinking.usual.map(|(usual, _)| usual))
        .fold(drinking.today.max(10.0), f64::max);
    let mut bars: Vec<_> = drinking.days.iter().map(|day| day.map(|litres| (0.0, litres, Tone::Now, false))).collect();
    bars.push(Some((0.0, drinking.today, Tone::Now, true)));
    let last = bars.len() - 1;
    let days = Chart {
        title: words::water_days(),
        ticks: vec![(0, words::days_ago(last)), (last.saturating_sub(7), words::days_ago(7)), (last, words::today())],
        bars,
        levels: drinking
            .usual
            .map(|(usual, _)| (usual, words::usually(&much(usual)), Tone::Ready))
            .into_iter()
            .collect(),
        spans: Vec::new(),
        range: (0.0, most_day * 1.15),
    };
    let title = words::water_of(&horse.name);
    let back = Item::button(words::back(), super::Does::Open(Up::card(stall.as_str())));
    let below = card::water(view, units).replace('\n', " · ");
    Some(lay_out(title, below, &[today, days], back, sizes))
}

/// The heat of today.
pub fn heat(here: &Here<'_>, sizes: &Sizes) -> Plots {
    let board = here.board;
    let back = super::back();
    let below = match &board.heat {
        HeatView::Known { .. } => heat_words(board),
        HeatView::Unknown { .. } => words::heat_unknown(),
    };
    if board.heat_today.is_empty() {
        let below = format!("{below} · {}", words::too_little_known());
        return lay_out(words::heat_today(), below, &[], back, sizes);
    }
    let low = board.heat_today.iter().map(|hour| hour.low).fold(f64::MAX, f64::min);
    let high = board.heat_today.iter().map(|hour| hour.high).fold(f64::MIN, f64::max);
    let bands = heat::bands(board);
    let (low, high) = (
        (low - 15.0).min(bands.first().map_or(low, |band| band.0 - 25.0)),
        (high + 10.0).max(bands.first().map_or(high, |band| band.0 + 10.0)),
    );
    let mut bars = vec![None; 24];
    for hour in &board.heat_today {
        let at = usize::from(hour.at.minutes() / 60).min(23);
        let tone = bands.iter().rev().find(|band| hour.sum >= band.0).map_or(Tone::Now, |band| band.2);
        bars[at] = Some(if hour.measured { (low, hour.sum, tone, false) } else { (hour.low, hour.high, tone, true) });
    }
    let spans = board.lessons.iter().map(|lesson| {
        let start = f64::from(lesson.start.minutes()) / 60.0;
        (start, start + f64::from(lesson.minutes) / 60.0)
    });
    let chart = Chart {
        title: words::together(&[&words::heat_key(), &words::lessons_below()]),
        bars,
        ticks: (0..24_u16).step_by(3).map(|hour| (usize::from(hour), words::hour_of_day(hour, board.units))).collect(),
        levels: bands.into_iter().filter(|band| band.0 < high).collect(),
        spans: spans.collect(),
        range: (low, high),
    };
    lay_out(words::heat_today(), below, &[chart], back, sizes)
}

fn heat_words(board: &Board) -> String {
    let drawn = heat::draw(&board.heat, board.units);
    words::together(&[&drawn.words(), &drawn.figures()])
}

fn lay_out(title: String, below: String, charts: &[Chart], back: Item, sizes: &Sizes) -> Plots {
    let (w, h) = (sizes.panel.width_px, sizes.panel.height_px);
    let base =
        sizes.arm_font(GOOD_ARCMIN).max((h / 25.0).min(w / 32.0)).min(h / 20.0).max(sizes.arm_font(LEAST_ARCMIN));
    let small = (base * 0.75).max(sizes.arm_font(LEAST_ARCMIN));
    let gap = sizes.touch_gap().max(base * 0.4);
    let inner = w - 2.0 * gap;
    let below_lines = text::lines(&below, inner / 1.03, base, Weight::Regular) as f32;
    let head = Rect::new(gap, gap * 0.6, inner, base * 2.0 + below_lines * base * 1.31);
    let button = sizes.px(GLOVE_MM).min(h * 0.15).max(sizes.touch());
    let back_rect = Rect::new(gap, h - gap * 0.8 - button, inner, button);
    let mut plots = Plots {
        base,
        title_px: text::fit(&title, inner, base * 1.6, Weight::Bold),
        small,
        head,
        title,
        below,
        columns: Vec::new(),
        levels: Vec::new(),
        labels: Vec::new(),
        axes: Vec::new(),
        back: (back_rect, back),
        said: String::new(),
    };
    let (top, bottom) = (head.bottom() + gap, back_rect.y - gap);
    let count = charts.len().max(1) as f32;
    for (at, chart) in charts.iter().enumerate() {
        let at = at as f32;
        let rect = if is_wide(sizes) {
            let each = (inner - gap * 2.0 * (count - 1.0)) / count;
            Rect::new(gap + at * (each + gap * 2.0), top, each, bottom - top)
        } else {
            let each = (bottom - top - gap * (count - 1.0)) / count;
            Rect::new(gap, top + at * (each + gap), inner, each)
        };
        place(chart, rect, small, &mut plots);
    }
    plots.said = charts.iter().map(|chart| chart.title.clone()).collect::<Vec<_>>().join(", ");
    plots
}

fn place(chart: &Chart, rect: Rect, small: f32, plots: &mut Plots) {
    let line = small * 1.3;
    plots.labels.push(Label {
        rect: Rect::new(rect.x, rect.y, rect.w, line),
        text: chart.title.clone(),
        middle: false,
    });
    let under = if chart.spans.is_empty() { line } else { line * 2.2 };
    let field = Rect::new(rect.x, rect.y + line * 1.3, rect.w, (rect.h - line * 1.3 - under).max(1.0));
    let (from, to) = chart.range;
    let y = |value: f64| field.bottom() - ((value - from) / (to - from)).clamp(0.0, 1.0) as f32 * field.h;
    let each = field.w / chart.bars.len().max(1) as f32;
    for (at, bar) in chart.bars.iter().enumerate() {
        let Some((low, high, tone, pale)) = *bar else { continue };
        let x = field.x + at as f32 * each;
        let height = (y(low) - y(high)).max(if high > low { 2.0 } else { 0.0 });
        let rect = Rect::new(x + each * 0.12, y(high), each * 0.76, height);
        plots.columns.push(Column { rect, tone, pale });
    }
    for (value, word, tone) in &chart.levels {
        let rect = Rect::new(field.x, y(*value), field.w, line);
        let wide = text::width(word, small, Weight::Bold) + small * 0.6;
        let over = Rect::new(field.right() - wide, rect.y - small * 1.25, wide, small * 1.2);
        let at = least_hidden(over, field.x, each, &plots.columns);
        plots.levels.push(Level { rect, word: word.clone(), at, tone: *tone });
    }
    let mut free = field.x;
    for (at, word) in &chart.ticks {
        let wide = text::width(word, small, Weight::SemiBold) + small;
        let middle = field.x + (*at as f32 + if chart.bars.len() == 24 { 0.0 } else { 0.5 }) * each;
        let x = (middle - wide / 2.0).clamp(field.x, (field.right() - wide).max(field.x));
        // A word that would stand on the one before is left out.
        if x >= free - small * 0.5 {
            free = x + wide;
            let rect = Rect::new(x, field.bottom() + small * 0.1, wide, line);
            plots.labels.push(Label { rect, text: word.clone(), middle: true });
        }
    }
    for (start, end) in &chart.spans {
        let (x, x_end) = (field.x + *start as f32 * each, field.x + *end as f32 * each);
        let rect = Rect::new(x, field.bottom() + line, (x_end - x - 2.0).max(2.0), line * 0.45);
        plots.columns.push(Column { rect, tone: Tone::Unknown, pale: false });
    }
    plots.axes.push(Rect::new(field.x, field.bottom(), field.w, 2.0));
}

/// Where a word hides the least of the columns: from its place to the left, a step at a time, and no further than `from`.
fn least_hidden(word: Rect, from: f32, step: f32, columns: &[Column]) -> Rect {
    let hidden = |at: &Rect| -> f32 {
        let shared = columns.iter().map(|Column { rect, .. }| {
            let wide = (at.right().min(rect.right()) - at.x.max(rect.x)).max(0.0);
            let high = (at.bottom().min(rect.bottom()) - at.y.max(rect.y)).max(0.0);
            wide * high
        });
        shared.sum()
    };
    let steps = ((word.x - from) / step).max(0.0) as u16;
    let places = (0..=steps).map(|at| Rect { x: word.x - f32::from(at) * step, ..word });
    places.min_by(|a, b| hidden(a).total_cmp(&hidden(b))).unwrap_or(word)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_word_stands_where_it_hides_the_least_and_else_at_the_right() {
        let column = |x: f32, y: f32| Column { rect: Rect::new(x, y, 8.0, 100.0 - y), tone: Tone::Now, pale: false };
        let word = Rect::new(70.0, 40.0, 30.0, 10.0);
        let at = |columns: &[Column]| least_hidden(word, 0.0, 10.0, columns).x;
        assert_eq!(at(&[]), 70.0);
        assert_eq!(at(&[column(0.0, 10.0), column(20.0, 60.0)]), 70.0);
        assert_eq!(at(&[column(80.0, 10.0), column(90.0, 10.0)]), 50.0);
        // High columns everywhere but for the first: what is hidden there is a part of one.
        let high: Vec<Column> =
            (0..10_u8).map(|n| column(f32::from(n) * 10.0, if n == 3 { 45.0 } else { 10.0 })).collect();
        assert_eq!(at(&high), 30.0);
    }
}
