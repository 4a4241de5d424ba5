//! Badge readers that type: characters one after the other, faster than a person, and Enter. Here they become a badge, from
//! wherever they come: keys that reach the window, or a device of the reader's own. Pure; it knows no window and no device.
//!
//! Terms: what follows the last character after more than [`GAP`] is another badge; a *badge* is 4 to 32 letters and digits.

pub mod keys;
pub mod reader;

use std::ops::RangeInclusive;
use std::time::Duration;

/// So long after the last character a new badge begins. A reader types every 1 to 20 ms; a person, every 150 and more.
pub const GAP: Duration = Duration::from_millis(100);
/// So many characters a badge has.
pub const LENGTH: RangeInclusive<usize> = 4..=32;

/// What was typed of a badge so far.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct Typed {
    text: String,
    last: Option<Duration>,
    spoilt: bool,
}

impl Typed {
    /// Takes a character that came at that time, counted from any fixed moment; a badge where it was the Enter after one.
    /// Shift and the like, which windows tell as characters too, are passed over.
    pub fn take(&mut self, typed: char, at: Duration) -> Option<String> {
        let enter = matches!(typed, '\n' | '\r');
        if !enter && !is_written(typed) {
            return None;
        }
        if self.last.is_none_or(|last| at.saturating_sub(last) > GAP) {
            *self = Self::default();
        }
        self.last = Some(at);
        if enter {
            let whole = std::mem::take(self);
            return (!whole.spoilt && LENGTH.contains(&whole.text.len())).then_some(whole.text);
        }
        // What is no badge spoils all that is typed with it: half of another text is not taken for one.
        self.spoilt |= !typed.is_ascii_alphanumeric() || self.text.len() >= *LENGTH.end();
        if !self.spoilt {
            self.text.push(typed);
        }
        None
    }
}

/// False for keys that write nothing: control characters, and the private ones that Slint gives to function keys.
fn is_written(typed: char) -> bool {
    !typed.is_control() && !('\u{e000}'..='\u{f8ff}').contains(&typed)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Types a text, so many milliseconds between its characters, from a moment on.
    fn play(typed: &mut Typed, text: &str, from_ms: u64, every_ms: u64) -> Vec<String> {
        let times = (0..).map(|at| Duration::from_millis(from_ms + at * every_ms));
        text.chars().zip(times).filter_map(|(c, at)| typed.take(c, at)).collect()
    }

    #[test]
    fn what_is_and_what_is_no_badge() {
        let longest = "7".repeat(32);
        let table = [
            ("0412998\n", 5, vec!["0412998"]),
            ("0412998\r", 5, vec!["0412998"]),
            ("04aF12\n", 100, vec!["04aF12"]),
            ("0412998\n0412999\n", 5, vec!["0412998", "0412999"]),
            // A Shift before each capital letter.
            ("\u{10}A\u{10}B12\n", 5, vec!["AB12"]),
            // Too short, too long, too slow, with what no badge has, and no Enter.
            ("123\n", 5, vec![]),
            ("0412998\n", 101, vec![]),
            ("12-34\n", 5, vec![]),
            ("12 34\n", 5, vec![]),
            ("\n\n", 5, vec![]),
            ("0412998", 5, vec![]),
        ];
        for (text, every_ms, badges) in table {
            assert_eq!(play(&mut Typed::default(), text, 0, every_ms), badges, "{text:?} every {every_ms} ms");
        }
        assert_eq!(play(&mut Typed::default(), &format!("{longest}\n"), 0, 5), [longest.as_str()]);
        assert!(play(&mut Typed::default(), &format!("{longest}7\n"), 0, 5).is_empty());
    }

    #[test]
    fn what_was_broken_off_is_forgotten() {
        let mut typed = Typed::default();
        assert!(play(&mut typed, "0412", 0, 5).is_empty());
        // The last came at 15 ms: at 115 it would still belong to it.
        assert_eq!(play(&mut typed, "9955\n", 116, 5), ["9955"]);
        assert!(play(&mut typed, "12-3", 1000, 5).is_empty());
        assert_eq!(play(&mut typed, "9955\n", 2000, 5), ["9955"]);
        // An Enter that comes late ends nothing.
        assert!(play(&mut typed, "9955", 3000, 5).is_empty());
        assert!(play(&mut typed, "\n", 3200, 5).is_empty());
    }
}
