//! The shape of each tone, so that a state is told without its colour. Signs in them, "!" and "?", are letters and stand in
//! `ui/parts/glyph.slint`.

use crate::ui::Tone;

/// A part of a shape.
#[derive(Clone, Copy, Debug)]
pub(super) enum Part {
    /// Filled, with an outline so thick as a share of the usual.
    Body { path: &'static str, edge: f32 },
    /// Filled in the colour of marks.
    Mark { path: &'static str },
    /// A line in the colour of marks, so wide in hundredths of the shape.
    Stroke { path: &'static str, width: f32 },
}

const ROUND: &str = "M 50 6 C 74 6 94 26 94 50 C 94 74 74 94 50 94 C 26 94 6 74 6 50 C 6 26 26 6 50 6 Z";
const TRIANGLE: &str = "M 50 8 L 96 92 L 4 92 Z";
const DIAMOND: &str = "M 50 3 L 97 50 L 50 97 L 3 50 Z";
const DROP: &str = "M 50 6 C 58 24 84 44 84 64 C 84 82 69 95 50 95 C 31 95 16 82 16 64 C 16 44 42 24 50 6 Z";
const RAYS: &str = "M 42 14 L 50 1 L 58 14 Z M 70 19 L 85 15 L 81 30 Z M 86 42 L 99 50 L 86 58 Z M 81 70 L 85 85 L 70 81 Z M 58 86 L 50 99 L 42 86 Z M 30 81 L 15 85 L 19 70 Z M 14 58 L 1 50 L 14 42 Z M 19 30 L 15 15 L 30 19 Z";
const DISC: &str = "M 50 20 C 67 20 80 33 80 50 C 80 67 67 80 50 80 C 33 80 20 67 20 50 C 20 33 33 20 50 20 Z";
const HEART: &str = "M 50 94 C 20 70 4 52 4 32 C 4 16 15 7 28 7 C 38 7 46 13 50 22 C 54 13 62 7 72 7 C 85 7 96 16 96 32 C 96 52 80 70 50 94 Z";
const FLAKE: &str = "M 44 4 L 56 4 L 56 39.6 L 86.8 21.8 L 92.8 32.2 L 62 50 L 92.8 67.8 L 86.8 78.2 L 56 60.4 L 56 96 L 44 96 L 44 60.4 L 13.2 78.2 L 7.2 67.8 L 38 50 L 7.2 32.2 L 13.2 21.8 L 44 39.6 Z";
const BATTERY: &str = "M 38 6 L 62 6 L 62 16 L 78 16 L 78 95 L 22 95 L 22 16 L 38 16 Z";
const ARROW: &str = "M 18 10 L 90 50 L 18 90 Z";
const OCTAGON: &str = "M 32 6 L 68 6 L 94 32 L 94 68 L 68 94 L 32 94 L 6 68 L 6 32 Z";
const SQUARE: &str = "M 18 8 L 82 8 A 10 10 0 0 1 92 18 L 92 82 A 10 10 0 0 1 82 92 L 18 92 A 10 10 0 0 1 8 82 L 8 18 A 10 10 0 0 1 18 8 Z";

const fn body(path: &'static str) -> Part {
    Part::Body { path, edge: 1.0 }
}

/// What the shape of a tone is made of, from below.
pub(super) fn parts(tone: Tone) -> &'static [Part] {
    match tone {
        Tone::Quiet => &[],
        // Empty, act now.
        Tone::Alarm => const { &[body(TRIANGLE)] },
        // To be minded.
        Tone::Mind => const { &[body(DIAMOND)] },
        Tone::Low => const { &[body(DROP)] },
        // Hot: a sun; where it is critical, with an exclamation mark in its disc.
        Tone::Hot | Tone::Critical => const { &[Part::Body { path: RAYS, edge: 0.7 }, body(DISC)] },
        // A horse differs from what is written of it: a heart; where the vet is to be called, with an exclamation mark in it.
        Tone::Care | Tone::Vet => const { &[body(HEART)] },
        Tone::Cold => const { &[body(FLAKE)] },
        // A battery with little left in it.
        Tone::Battery => const { &[body(BATTERY), Part::Mark { path: "M 32 26 L 68 26 L 68 70 L 32 70 Z" }] },
        // Behind: a clock.
        Tone::Late => const { &[body(ROUND), Part::Stroke { path: "M 50 20 L 50 54 L 72 66", width: 10.0 }] },
        // Time to be at it.
        Tone::Now => const { &[body(ARROW)] },
        // Do not go on.
        Tone::Stop => const { &[body(OCTAGON)] },
        // Fine: a tick on a round.
        Tone::Ready => const { &[body(ROUND), Part::Stroke { path: "M 27 52 L 44 69 L 74 34", width: 12.0 }] },
        // Not known: a square with a question mark. The hub can not do its work: one with an exclamation mark.
        Tone::Unknown | Tone::Fault => const { &[body(SQUARE)] },
    }
}
