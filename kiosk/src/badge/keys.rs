//! Key codes of a reader's own device as the characters it meant. Readers are keyboards of the United States, whatever the
//! system's keyboard is: the codes are positions (Linux `input-event-codes.h`), and the letters those of that layout. Pure.

/// The keys of one device: which of its shifts is held.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct Keys {
    left_shift: bool,
    right_shift: bool,
}

const ENTER: u16 = 28;
const LEFT_SHIFT: u16 = 42;
const RIGHT_SHIFT: u16 = 54;
const KEYPAD_ENTER: u16 = 96;
const RELEASED: i32 = 0;
const PRESSED: i32 = 1;

/// Rows of keys whose codes follow each other: the first one's code, and what they write.
const ROWS: [(u16, &str); 8] = [
    (2, "1234567890"),
    (16, "qwertyuiop"),
    (30, "asdfghjkl"),
    (44, "zxcvbnm"),
    // The keypad.
    (71, "789"),
    (75, "456"),
    (79, "123"),
    (82, "0"),
];

impl Keys {
    /// Takes a key's code and what happened to it, as the device tells: 0 let go, 1 pressed, 2 held on. What was written;
    /// none where nothing was. A key that is no letter, digit or Enter writes the replacement character, which is in no badge.
    pub fn take(&mut self, code: u16, value: i32) -> Option<char> {
        match code {
            LEFT_SHIFT => self.left_shift = value != RELEASED,
            RIGHT_SHIFT => self.right_shift = value != RELEASED,
            // A reader does not hold a key down: what repeats was not typed.
            _ if value != PRESSED => {}
            ENTER | KEYPAD_ENTER => return Some('\n'),
            _ => return Some(self.written(code)),
        }
        None
    }

    fn written(self, code: u16) -> char {
        let found = ROWS.iter().find_map(|(first, row)| row.chars().nth(usize::from(code.checked_sub(*first)?)));
        let shifted = self.left_shift || self.right_shift;
        match found {
            Some(letter) if letter.is_ascii_lowercase() && shifted => letter.to_ascii_uppercase(),
            // Shift and a digit is a sign.
            Some(digit) if shifted && digit.is_ascii_digit() && code < 16 => char::REPLACEMENT_CHARACTER,
            Some(written) => written,
            None => char::REPLACEMENT_CHARACTER,
        }
    }
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use super::*;
    use crate::badge::Typed;

    /// Presses and lets go of keys.
    fn press(codes: &[u16]) -> String {
        let mut keys = Keys::default();
        codes
            .iter()
            .flat_map(|code| [keys.take(*code, 1), keys.take(*code, 2), keys.take(*code, 0)])
            .flatten()
            .collect()
    }

    #[test]
    fn digits_letters_and_enter_are_where_the_layout_has_them() {
        assert_eq!(press(&[11, 2, 3, 4, 5, 6, 7, 8, 9, 10, 28]), "0123456789\n");
        assert_eq!(press(&[82, 79, 80, 81, 75, 76, 77, 71, 72, 73, 96]), "0123456789\n");
        let letters =
            [30, 48, 46, 32, 18, 33, 34, 35, 23, 36, 37, 38, 50, 49, 24, 25, 16, 19, 31, 20, 22, 47, 17, 45, 21, 44];
        assert_eq!(press(&letters), "abcdefghijklmnopqrstuvwxyz");
    }

    #[test]
    fn shift_makes_capitals_while_it_is_held() {
        let mut keys = Keys::default();
        let mut play = |code, value| keys.take(code, value);
        assert_eq!((play(42, 1), play(30, 1), play(30, 0), play(42, 0)), (None, Some('A'), None, None));
        assert_eq!((play(54, 1), play(16, 1), play(2, 1), play(54, 0)), (None, Some('Q'), Some('\u{fffd}'), None));
        assert_eq!(play(30, 1), Some('a'));
    }

    #[test]
    fn a_device_that_is_read_key_by_key_gives_its_badge() {
        let (mut keys, mut typed) = (Keys::default(), Typed::default());
        let codes = [11, 5, 2, 3, 10, 10, 9, 28];
        let events = codes.iter().flat_map(|code| [(*code, 1), (*code, 0)]);
        let badges: Vec<String> = events
            .zip((0..).map(Duration::from_millis))
            .filter_map(|((code, value), at)| typed.take(keys.take(code, value)?, at))
            .collect();
        assert_eq!(badges, ["0412998"]);
        // A cursor key in between spoils it.
        assert_eq!(press(&[105]), "\u{fffd}");
    }
}
