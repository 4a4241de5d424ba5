//! Where the parts of a page stand on this glass, and how large. What does not fit goes on a further page of it, a touch
//! away. It knows nothing of what a page is about.

use super::{Does, Item, Look, Sheet};
use crate::aisle::Tone;
use crate::aisle::frame::{Rect, is_wide};
use crate::sizes::{GLOVE_MM, GOOD_ARCMIN, LEAST_ARCMIN, Sizes};
use crate::text::{self, Weight};
use crate::words;

/// An item and where it stands.
#[derive(Clone, PartialEq, Debug)]
pub struct Placed {
    /// What.
    pub item: Item,
    /// Where.
    pub rect: Rect,
    /// Font size of its text.
    pub px: f32,
    /// Where its second target stands; nothing where it has none.
    pub aside: Rect,
}

/// A page on its glass.
#[derive(Clone, PartialEq, Debug)]
pub struct Laid {
    /// Font size of texts.
    pub base: f32,
    /// Font size of the title.
    pub title_px: f32,
    /// The title and what is under it.
    pub head: Rect,
    /// Title.
    pub title: String,
    /// What is under it.
    pub below: String,
    /// Font size of that.
    pub below_px: f32,
    /// The title's shape.
    pub tone: Tone,
    /// Everything else, the buttons last.
    pub placed: Vec<Placed>,
    /// How many pages it takes.
    pub pages: usize,
}

/// What one column of items asks for.
struct Column<'a> {
    items: &'a [Item],
    x: f32,
    w: f32,
}

/// Lays a page out; `page` is taken round.
pub fn lay_out(sheet: &Sheet, sizes: &Sizes, page: usize) -> Laid {
    let least = sizes.arm_font(LEAST_ARCMIN);
    let (w, h) = (sizes.panel.width_px, sizes.panel.height_px);
    let largest = sizes.arm_font(GOOD_ARCMIN).max((h / 25.0).min(w / 32.0)).min(h / 20.0).max(least);
    // As large as it all fits on one page; where it never does, as small as can be read, on several.
    let tried =
        (0..=8).map(|step| largest - (largest - least) * step as f32 / 8.0).map(|base| at(sheet, sizes, page, base));
    let mut last = None;
    for laid in tried {
        if laid.pages == 1 {
            return laid;
        }
        last = Some(laid);
    }
    last.unwrap_or_else(|| at(sheet, sizes, page, least))
}

fn at(sheet: &Sheet, sizes: &Sizes, page: usize, base: f32) -> Laid {
    let (w, h) = (sizes.panel.width_px, sizes.panel.height_px);
    let gap = sizes.touch_gap().max(base * 0.4);
    let inner = w - 2.0 * gap;
    let title_px = text::fit(&sheet.title, inner - base * 2.6, base * 1.6, Weight::Bold).max(base);
    let room = inner / 1.03;
    // A little smaller rather than in a second line.
    let in_one = text::fit(&sheet.below, room, base, Weight::Regular);
    let (below_px, below_lines) = match sheet.below.as_str() {
        "" => (base, 0),
        _ if in_one >= sizes.arm_font(LEAST_ARCMIN).max(base * 0.9) => (in_one, 1),
        below => (base, text::lines(below, room, base, Weight::Regular)),
    };
    let head = Rect::new(gap, gap * 0.4, inner, title_px * 1.25 + below_lines as f32 * base * 1.31 + gap * 0.2);
    let top = head.bottom() + gap * 0.3;

    let mut placed = Vec::new();
    let foot_rows = foot(sheet, sizes, gap, false);
    let (mut pages, mut shown) = body(sheet, sizes, base, gap, top, foot_top(h, gap, &foot_rows, sizes) - gap, page);
    let rows = if pages > 1 {
        // A way on takes room at the foot, which may make one page more.
        let rows = foot(sheet, sizes, gap, true);
        (pages, shown) = body(sheet, sizes, base, gap, top, foot_top(h, gap, &rows, sizes) - gap, page);
        rows
    } else {
        foot_rows
    };
    // Where there is room it stands a little apart from the title.
    let lowest = shown.iter().map(|placed| placed.rect.bottom()).fold(top, f32::max);
    let apart = (foot_top(h, gap, &rows, sizes) - gap - lowest).clamp(0.0, gap * 0.6);
    for placed in &mut shown {
        placed.rect.y += apart;
        placed.aside.y += apart;
    }
    placed.append(&mut shown);
    let (_, mut buttons) = place_foot(&rows, sizes, gap, base);
    for placed in buttons.iter_mut().filter(|placed| placed.item.does == Some(Does::More)) {
        placed.item.below = words::of(page % pages.max(1) + 1, pages);
    }
    placed.append(&mut buttons);
    Laid {
        base,
        title_px,
        head,
        title: sheet.title.clone(),
        below: sheet.below.clone(),
        below_px,
        tone: sheet.tone,
        placed,
        pages,
    }
}

/// The rows of buttons, with the way to a further page where there is one.
fn foot(sheet: &Sheet, sizes: &Sizes, gap: f32, more: bool) -> Vec<Vec<Item>> {
    let most = most_buttons(sizes, gap);
    let mut ways = sheet.ways.clone();
    if more {
        let item = Item::button(words::more_pages(), Does::More);
        // Into the last row that has room for it, before the way back.
        let row = ways.iter_mut().rev().find(|row| row.len() < most);
        match row {
            Some(row) => row.insert(row.len().saturating_sub(1), item),
            None => ways.push(vec![item]),
        }
    }
    broken(&ways, sizes, gap)
}

/// How many buttons stand side by side on this glass.
fn most_buttons(sizes: &Sizes, gap: f32) -> usize {
    let inner = sizes.panel.width_px - 2.0 * gap;
    (((inner + gap) / (sizes.touch() + gap)) as usize).max(1)
}

/// Rows that are too long for the glass broken into rows of about the same length.
pub fn broken(rows: &[Vec<Item>], sizes: &Sizes, gap: f32) -> Vec<Vec<Item>> {
    let most = most_buttons(sizes, gap);
    let parts = rows.iter().flat_map(|row| {
        let each = row.len().div_ceil(row.len().div_ceil(most).max(1)).max(1);
        row.chunks(each).map(<[Item]>::to_vec)
    });
    parts.collect()
}

/// Places rows of buttons at the foot of the glass: where they begin, and each button.
pub fn place_foot(rows: &[Vec<Item>], sizes: &Sizes, gap: f32, base: f32) -> (f32, Vec<Placed>) {
    let inner = sizes.panel.width_px - 2.0 * gap;
    let button = button_height(sizes, rows.len());
    let top = foot_top(sizes.panel.height_px, gap, rows, sizes);
    let mut placed = Vec::new();
    for (row, at_row) in rows.iter().zip(0_u8..) {
        let y = top + f32::from(at_row) * (button + gap);
        let count = row.len().max(1) as f32;
        let each = (inner - gap * (count - 1.0)) / count;
        for (item, at) in row.iter().zip(0_u8..) {
            let rect = Rect::new(gap + f32::from(at) * (each + gap), y, each, button);
            placed.push(Placed { px: base * 1.15, item: item.clone(), rect, aside: Rect::default() });
        }
    }
    (top, placed)
}

fn button_height(sizes: &Sizes, rows: usize) -> f32 {
    let h = sizes.panel.height_px;
    // Two rows of the size for gloves would leave a small glass nothing to read.
    let glove = sizes.px(GLOVE_MM);
    let share = if rows > 1 { 0.13 } else { 0.17 };
    glove.min(h * share).max(sizes.touch())
}

fn foot_top(h: f32, gap: f32, rows: &[Vec<Item>], sizes: &Sizes) -> f32 {
    h - gap * 0.8 - rows.len() as f32 * (button_height(sizes, rows.len()) + gap) + gap
}

/// Places what stands between head and foot; how many pages it takes, and what is on this one.
fn body(sheet: &Sheet, sizes: &Sizes, base: f32, gap: f32, top: f32, bottom: f32, page: usize) -> (usize, Vec<Placed>) {
    let inner = sizes.panel.width_px - 2.0 * gap;
    let wide = is_wide(sizes) && !sheet.beside.is_empty() && !sheet.items.is_empty();
    let columns = if wide {
        let left = inner * 0.56;
        vec![
            Column { items: &sheet.items, x: gap, w: left },
            Column { items: &sheet.beside, x: gap + left + gap * 1.5, w: inner - left - gap * 1.5 },
        ]
    } else {
        vec![]
    };
    if wide {
        let flows: Vec<_> =
            columns.iter().map(|column| flow(column, sheet.least_width, sizes, base, gap, top, bottom)).collect();
        let pages = flows.iter().map(Vec::len).max().unwrap_or(1).max(1);
        let shown = flows.into_iter().flat_map(|flow| flow.into_iter().nth(page % pages).unwrap_or_default()).collect();
        return (pages, shown);
    }
    let all: Vec<Item> = sheet.items.iter().chain(&sheet.beside).cloned().collect();
    let column = Column { items: &all, x: gap, w: inner };
    let flow = flow(&column, sheet.least_width, sizes, base, gap, top, bottom);
    let pages = flow.len().max(1);
    (pages, flow.into_iter().nth(page % pages).unwrap_or_default())
}

/// Items one after the other, targets side by side where they fit, broken into pages: with fewer of them side by side where that
/// takes fewer pages, because long words need less height then.
fn flow(
    column: &Column<'_>,
    least_width: f32,
    sizes: &Sizes,
    base: f32,
    gap: f32,
    top: f32,
    bottom: f32,
) -> Vec<Vec<Placed>> {
    let ways = (0..=2).map(|fewer| flow_of(column, (least_width, fewer), sizes, base, gap, top, bottom));
    ways.min_by_key(Vec::len).unwrap_or_default()
}

fn flow_of(
    column: &Column<'_>,
    (least_width, fewer): (f32, usize),
    sizes: &Sizes,
    base: f32,
    gap: f32,
    top: f32,
    bottom: f32,
) -> Vec<Vec<Placed>> {
    let (touch, w) = (sizes.touch(), column.w);
    let mut rows: Vec<(f32, Vec<Placed>)> = Vec::new();
    let mut waiting: Vec<&Item> = Vec::new();
    let close = |waiting: &mut Vec<&Item>, rows: &mut Vec<(f32, Vec<Placed>)>| {
        let second = waiting.iter().map(|item| aside_width(item, base, touch, gap)).fold(0.0, f32::max);
        let least = (least_width.max(5.0) * base + second).max(touch);
        let across = (((w + gap) / (least + gap)) as usize).saturating_sub(fewer).max(1);
        let cell_w = (w - gap * (across as f32 - 1.0)) / across as f32;
        for group in waiting.chunks(across) {
            let height = group
                .iter()
                .map(|item| target_height(item, cell_w - aside_width(item, base, touch, gap), base))
                .fold(touch, f32::max);
            let cells = group.iter().enumerate().map(|(at, item)| {
                let rect = Rect::new(column.x + at as f32 * (cell_w + gap), 0.0, cell_w, height);
                let second = aside_width(item, base, touch, gap);
                let rect = Rect::new(rect.x, 0.0, cell_w - second, height);
                let aside = match second {
                    0.0 => Rect::default(),
                    second => Rect::new(rect.right() + gap, 0.0, second - gap, height),
                };
                let px = text_px(item, rect.w, base);
                Placed { item: (*item).clone(), rect, px, aside }
            });
            rows.push((height + gap, cells.collect()));
        }
        waiting.clear();
    };
    for item in column.items {
        match item.look {
            Look::Target | Look::Button => waiting.push(item),
            Look::Line | Look::Heading => {
                close(&mut waiting, &mut rows);
                let height = line_height(item, w, base);
                let rect = Rect::new(column.x, 0.0, w, height);
                let px = if item.look == Look::Heading { base * 0.95 } else { base };
                rows.push((height + gap * 0.2, vec![Placed { item: item.clone(), rect, px, aside: Rect::default() }]));
            }
        }
    }
    close(&mut waiting, &mut rows);

    let mut pages: Vec<Vec<Placed>> = Vec::new();
    let mut shown: Vec<Placed> = Vec::new();
    let mut y = top;
    for (at, (height, cells)) in rows.iter().enumerate() {
        // A heading stays with what it stands over.
        let with_next = match cells.first().map(|cell| cell.item.look) {
            Some(Look::Heading) => rows.get(at + 1).map_or(0.0, |(next, _)| *next),
            _ => 0.0,
        };
        if !shown.is_empty() && y + height + with_next - gap > bottom {
            pages.push(std::mem::take(&mut shown));
            y = top;
        }
        shown.extend(cells.iter().cloned().map(|mut cell| {
            cell.rect.y = y;
            cell.aside.y = y;
            cell
        }));
        y += height;
    }
    pages.push(shown);
    pages
}

/// Width of a number and a shape before a text on an item so wide; ui/sheet.slint has the same. What is chosen and narrow has no
/// shape: its frame tells it, and its words stay as large as they were.
fn shape_room(item: &Item, w: f32, base: f32) -> f32 {
    let number = if item.turn.is_empty() { 0.0 } else { base * 1.5 };
    let shaped = item.tone != Tone::Quiet && !(item.strong && item.look == Look::Target && w < base * 8.0);
    number + if shaped { base * 1.7 } else { 0.0 }
}

/// A target's words are broken into lines; smaller they are made only where a single one is too long for the line.
fn text_px(item: &Item, w: f32, base: f32) -> f32 {
    let longest = item.text.split_whitespace().max_by_key(|word| word.chars().count()).unwrap_or_default();
    text::fit(longest, text_room(item, w, base), base, Weight::Bold)
}

/// Width of a second target, with the gap before it; nothing where there is none.
fn aside_width(item: &Item, base: f32, touch: f32, gap: f32) -> f32 {
    item.aside.as_ref().map_or(0.0, |(word, _)| (text::width(word, base, Weight::Bold) + base).max(touch) + gap)
}

fn text_room(item: &Item, w: f32, base: f32) -> f32 {
    (w - shape_room(item, w, base) - base * 1.3) / 1.02
}

fn target_height(item: &Item, w: f32, base: f32) -> f32 {
    let px = text_px(item, w, base);
    let room = text_room(item, w, base);
    let lines = text::lines(&item.text, room, px, Weight::Bold) as f32;
    let below = match item.below.as_str() {
        "" => 0.0,
        below => text::lines(below, room, base * 0.8, Weight::SemiBold) as f32,
    };
    lines * px * 1.36 + below * base * 1.09 + base * 0.6
}

fn line_height(item: &Item, w: f32, base: f32) -> f32 {
    let room = (w - shape_room(item, w, base)) / 1.02;
    let weight = if item.look == Look::Heading || item.strong { Weight::Bold } else { Weight::Regular };
    let lines = text::lines(&item.text, room, base, weight).max(1) as f32;
    lines * base * 1.36
}

impl Laid {
    /// Everything that can be touched, by its label.
    pub fn targets(&self) -> Vec<(String, Rect)> {
        let mut targets = Vec::new();
        for placed in &self.placed {
            if placed.item.does.is_some() {
                targets.push((placed.item.label(), placed.rect));
            }
            if let Some((word, _)) = &placed.item.aside {
                targets.push((format!("{}: {word}", placed.item.text), placed.aside));
            }
        }
        targets
    }

    /// The page in lines of text, as a test reads it.
    pub fn as_text(&self) -> String {
        let head = [&self.title, &self.below].into_iter().filter(|line| !line.is_empty()).cloned();
        let items = self.placed.iter().map(|placed| {
            let mark = if placed.item.does.is_some() { "> " } else { "" };
            format!("{mark}{}", placed.item.label())
        });
        head.chain(items).collect::<Vec<_>>().join("\n")
    }
}
