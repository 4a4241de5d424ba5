//! The heat line: temperature, humidity, the horse sum and its band in a word. It decides no limits; the hub has.

use bellmare_barn::board::{Board, HeatBand, HeatView};
use bellmare_barn::heat::advice::Advice;
use bellmare_barn::limits::DisplayUnits;

use super::Tone;
use super::frame::Type;
use crate::text::{self, Weight};
use crate::words;

/// The heat as drawn.
#[derive(Clone, PartialEq, Debug)]
pub struct HeatBox {
    /// The band, as a tone.
    pub tone: Tone,
    /// The band in words.
    pub word: String,
    /// What is ahead, why it is worse than it looks, or what to do; may be empty.
    pub more: String,
    /// Temperature and humidity, or how long nothing was heard.
    pub climate: String,
    /// The horse sum; empty where it is not known.
    pub sum: String,
}

/// Puts the heat into words.
pub fn draw(heat: &HeatView, units: DisplayUnits) -> HeatBox {
    match heat {
        HeatView::Unknown { for_min } => HeatBox {
            tone: Tone::Unknown,
            word: words::heat_unknown(),
            more: String::new(),
            climate: for_min.map_or(words::never_heard(), words::heat_silent),
            sum: String::new(),
        },
        HeatView::Known {
            temperature,
            humidity,
            horse_sum,
            band,
            humid,
            dry,
            people: _,
            advice,
            ahead,
            heat_index: _,
            place: _,
        } => {
            let more = ahead
                .as_ref()
                .map(|ahead| words::heat_ahead(ahead, units))
                .or_else(|| why(*band, *humid, *dry))
                .or_else(|| what_to_do(advice));
            HeatBox {
                tone: tone(*band),
                word: words::band(*band),
                more: more.unwrap_or_default(),
                climate: words::climate(*temperature, *humidity, *band, units),
                sum: words::horse_sum(*horse_sum),
            }
        }
    }
}

/// Why it is worse than it looks, where it is.
fn why(band: HeatBand, humid: bool, dry: bool) -> Option<String> {
    match band {
        HeatBand::CarryOn => None,
        _ if dry => Some(words::dry()),
        _ => humid.then(words::humid),
    }
}

/// The first two things to do, as short as they can be said. The line holds no more.
fn what_to_do(advice: &[Advice]) -> Option<String> {
    let short: Vec<_> = advice.iter().filter_map(|advice| words::advice_short(*advice)).take(2).collect();
    (!short.is_empty()).then(|| short.join(", "))
}

/// A band as a tone, the same in the heat's own place and in an alarm.
pub fn tone(band: HeatBand) -> Tone {
    match band {
        HeatBand::CarryOn => Tone::Ready,
        HeatBand::Watch => Tone::Hot,
        HeatBand::Critical => Tone::Critical,
        HeatBand::Stop => Tone::Stop,
    }
}

/// The horse sums at which the bands begin, from the lowest, with their words and tones.
pub fn bands(board: &Board) -> Vec<(f64, String, Tone)> {
    let bands = [HeatBand::Watch, HeatBand::Critical, HeatBand::Stop];
    let named = |(sum, band): (&f64, HeatBand)| (*sum, words::band(band), tone(band));
    board.heat_bands.iter().zip(bands).map(named).collect()
}

/// How the words stand in the box.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub enum Lines {
    /// The band and what is more in one line, the figures under them.
    #[default]
    Joined,
    /// What is more in a line of its own between the two, or where there is nothing the figures in two: less wide, where the box is
    /// high enough.
    Apart,
    /// The band and what is more under it; the figures are on the page of the heat.
    Brief,
}

/// What the box takes.
#[derive(Clone, Copy, PartialEq, Debug, Default)]
pub struct Takes {
    /// How wide it is with its words joined, shape and margins included.
    pub joined: f32,
    /// How wide with them apart.
    pub apart: f32,
    /// How high it must be for that.
    pub high: f32,
    /// How wide where it is brief.
    pub brief: f32,
}

/// What the box takes in these fonts.
pub fn takes(heat: &HeatView, units: DisplayUnits, types: &Type) -> Takes {
    let heat = draw(heat, units);
    let wide = |lines| {
        let [word, more, figures] = heat.lines(lines);
        let word = text::width(&word, word_px(&heat, lines, types), Weight::SemiBold);
        let more = text::width(&more, types.small, Weight::SemiBold);
        let figures = figures.lines().map(|line| text::width(line, types.small, Weight::Regular)).fold(0.0, f32::max);
        word.max(more).max(figures) * 1.03 + types.near * 2.2
    };
    // As in ui/aisle.slint.
    let high = types.near * 1.12 + types.small * 2.8;
    Takes { joined: wide(Lines::Joined), apart: wide(Lines::Apart), high, brief: wide(Lines::Brief) }
}

/// Font size of the first line: smaller where there are many words in it.
pub fn word_px(heat: &HeatBox, lines: Lines, types: &Type) -> f32 {
    let bands = [HeatBand::CarryOn, HeatBand::Watch, HeatBand::Critical, HeatBand::Stop];
    let room = bands.map(|band| text::width(&words::band(band), types.near, Weight::SemiBold));
    let room = room.into_iter().fold(0.0, f32::max);
    let [word, ..] = heat.lines(lines);
    text::fit(&word, room, types.near, Weight::SemiBold).max(types.small.min(types.near))
}

impl HeatBox {
    /// Its band and what is more in one.
    pub fn words(&self) -> String {
        words::together(&[&self.word, &self.more])
    }

    /// All figures in one.
    pub fn figures(&self) -> String {
        words::together(&[&self.climate, &self.sum])
    }

    /// The band's line, a line for what is more, and the figures in one or two; the latter two may be empty.
    pub fn lines(&self, lines: Lines) -> [String; 3] {
        let (word, more) = (self.word.clone(), self.more.clone());
        match lines {
            Lines::Joined => [self.words(), String::new(), self.figures()],
            Lines::Apart if more.is_empty() && !self.sum.is_empty() => {
                [word, more, format!("{}\n{}", self.climate, self.sum)]
            }
            Lines::Brief if !more.is_empty() => [word, more, String::new()],
            Lines::Apart | Lines::Brief => [word, more, self.figures()],
        }
    }

    /// The heat as a line of text.
    pub fn as_text(&self) -> String {
        format!("heat [{:?}] {}, {}", self.tone, self.words(), self.figures())
    }
}
