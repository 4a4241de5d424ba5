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
    /// Temperature, humidity and horse sum.
    pub figures: String,
}

/// Puts the heat into words.
pub fn draw(heat: &HeatView, units: DisplayUnits) -> HeatBox {
    match heat {
        HeatView::Unknown { for_min } => HeatBox {
            tone: Tone::Unknown,
            word: words::heat_unknown(),
            figures: for_min.map_or(words::never_heard(), words::heat_silent),
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
            let word = words::band(*band);
            let word = more.map_or(word.clone(), |more| format!("{word} · {more}"));
            let climate = words::climate(*temperature, *humidity, *band, units);
            HeatBox { tone: tone(*band), word, figures: format!("{climate} · {}", words::horse_sum(*horse_sum)) }
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

/// How wide the box must be, its shape and margins included.
pub fn width(heat: &HeatView, units: DisplayUnits, types: &Type) -> f32 {
    let heat = draw(heat, units);
    let word = text::width(&heat.word, word_px(&heat, types), Weight::SemiBold);
    let figures = text::width(&heat.figures, types.small, Weight::Regular);
    word.max(figures) * 1.03 + types.near * 2.2
}

/// Font size of the band's words: smaller where there are many.
pub fn word_px(heat: &HeatBox, types: &Type) -> f32 {
    let bands = [HeatBand::CarryOn, HeatBand::Watch, HeatBand::Critical, HeatBand::Stop];
    let room = bands.map(|band| text::width(&words::band(band), types.near, Weight::SemiBold));
    let room = room.into_iter().fold(0.0, f32::max);
    text::fit(&heat.word, room, types.near, Weight::SemiBold).max(types.small.min(types.near))
}

impl HeatBox {
    /// The heat as a line of text.
    pub fn as_text(&self) -> String {
        format!("heat [{:?}] {}, {}", self.tone, self.word, self.figures)
    }
}
