//! How wide a text comes out in the kiosk's own fonts, so that a layout can be decided before anything is drawn. It
//! reads the same font files that the screens embed, and knows nothing of what the texts say.

use std::sync::OnceLock;

use ttf_parser::Face;

use crate::fonts::OTHERS;

/// A weight of the kiosk's font.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Weight {
    /// 400.
    Regular,
    /// 600.
    SemiBold,
    /// 700.
    Bold,
}

const REGULAR: &[u8] = include_bytes!("../ui/fonts/AtkinsonHyperlegibleNext_400Regular.ttf");
const SEMI_BOLD: &[u8] = include_bytes!("../ui/fonts/AtkinsonHyperlegibleNext_600SemiBold.ttf");
const BOLD: &[u8] = include_bytes!("../ui/fonts/AtkinsonHyperlegibleNext_700Bold.ttf");

/// Advance widths of the characters up to those of punctuation, as shares of the font size: Latin, Greek, Cyrillic.
type Widths = [f32; 0x2100];

/// What a character that the font lacks is taken for: about as wide as a digit.
const UNKNOWN_WIDTH: f32 = 0.62;

/// A line's height as a share of the font size, where lines stand close.
pub const LINE: f32 = 1.12;

/// Width in pixels of `text` at a font size in pixels. Kerning is left out; it takes away more than it adds.
pub fn width(text: &str, font_px: f32, weight: Weight) -> f32 {
    let widths = widths(weight);
    let ems: f32 = text.chars().map(|c| widths.get(c as usize).copied().unwrap_or(UNKNOWN_WIDTH)).sum();
    ems * font_px
}

/// The largest font size up to `largest_px` at which `text` is no wider than `room_px`.
pub fn fit(text: &str, room_px: f32, largest_px: f32, weight: Weight) -> f32 {
    let whole = width(text, 1.0, weight);
    if whole <= 0.0 { largest_px } else { largest_px.min(room_px / whole) }
}

/// How many lines `text` takes at a font size when broken at spaces to `room_px`.
pub fn lines(text: &str, room_px: f32, font_px: f32, weight: Weight) -> usize {
    broken(text, room_px, font_px, weight).len().max(1)
}

/// The lines of `text` at a font size when broken at spaces to `room_px`; none of nothing.
pub fn broken(text: &str, room_px: f32, font_px: f32, weight: Weight) -> Vec<String> {
    let space = width(" ", font_px, weight);
    let (mut lines, mut used): (Vec<String>, f32) = (Vec::new(), 0.0);
    for word in text.split_whitespace() {
        let wide = width(word, font_px, weight);
        match lines.last_mut() {
            Some(line) if used + space + wide <= room_px => {
                line.push(' ');
                line.push_str(word);
                used += space + wide;
            }
            _ => {
                lines.push(word.to_owned());
                used = wide;
            }
        }
    }
    lines
}

fn widths(weight: Weight) -> &'static Widths {
    static TABLES: [OnceLock<Box<Widths>>; 3] = [const { OnceLock::new() }; 3];
    let (slot, own) = match weight {
        Weight::Regular => (0, REGULAR),
        Weight::SemiBold => (1, SEMI_BOLD),
        Weight::Bold => (2, BOLD),
    };
    TABLES[slot].get_or_init(|| Box::new(read([OTHERS[slot], own])))
}

/// The widths in the last of the fonts that has a character.
fn read(fonts: [&[u8]; 2]) -> Widths {
    let mut widths = [UNKNOWN_WIDTH; 0x2100];
    // A test reads them all; a font that cannot be read leaves every width at its rough value.
    for face in fonts.into_iter().filter_map(|bytes| Face::parse(bytes, 0).ok()) {
        let unit = f32::from(face.units_per_em());
        for (code, width) in widths.iter_mut().enumerate() {
            let glyph = char::from_u32(code as u32).and_then(|c| face.glyph_index(c));
            if let Some(advance) = glyph.and_then(|glyph| face.glyph_hor_advance(glyph)) {
                *width = f32::from(advance) / unit;
            }
        }
    }
    widths
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_weight_is_read_from_its_file() {
        for weight in [Weight::Regular, Weight::SemiBold, Weight::Bold] {
            let narrow = width("iiii", 100.0, weight);
            let wide = width("mmmm", 100.0, weight);
            assert!(wide > narrow * 2.0, "{weight:?}: {narrow} against {wide}");
        }
        for name in ["Ζέφυρος", "Буран", "Żubr", "Nguyễn Ánh"] {
            let rough = name.chars().count() as f32 * UNKNOWN_WIDTH;
            let regular = width(name, 1.0, Weight::Regular);
            assert!((regular - rough).abs() > 0.01 && regular < width(name, 1.0, Weight::Bold), "{name}: {regular}");
        }
        assert!(width("Juniper", 100.0, Weight::Bold) > width("Juniper", 100.0, Weight::Regular));
    }

    #[test]
    fn lines_break_at_spaces_only() {
        let room = width("be patient", 20.0, Weight::Regular) + 1.0;
        assert_eq!(lines("right hind be patient", room, 20.0, Weight::Regular), 2);
        assert_eq!(lines("", room, 20.0, Weight::Regular), 1);
    }
}
