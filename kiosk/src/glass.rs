//! What the glass does besides showing: how bright it is and when, and that no picture stands still on it for days. Pure; the
//! board's local time is given to it.
//!
//! ```text
//! day ──(the evening's time)──> dim ──(a touch)──> night ──(a minute without one)──> dim ──(the morning's time)──> day
//! ```
//! *Dim* is for an aisle in the dark with nobody at the kiosk; *night* is as dark, with words bright enough for arm's length.

use std::fmt;
use std::str::FromStr;
use std::time::Duration;

use bellmare_barn::time::TimeOfDay;

/// So long after the last touch it is dim again.
pub const AWAKE: Duration = Duration::from_secs(60);
/// So often the picture moves by a pixel.
pub const MOVES_EVERY: Duration = Duration::from_secs(300);
/// So far it moves at most, in pixels, each way.
pub const MOVES_AT_MOST: u32 = 4;
/// So long touches do nothing while the glass is wiped, in seconds.
pub const WIPE_S: u32 = 60;

/// When it is night for the screen.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub enum Night {
    /// At no time.
    #[default]
    Never,
    /// At all times: a barn that is always dark.
    Always,
    /// From an evening's time till a morning's, in the barn's local time.
    Hours {
        /// When it begins.
        from: TimeOfDay,
        /// When it ends.
        till: TimeOfDay,
    },
}

/// How bright the screen is.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Light {
    /// Dark words on paper.
    Day,
    /// Light words on black, for who stands before it.
    Night,
    /// The same, darker, while nobody does.
    Dim,
}

impl Night {
    /// How bright to be: by the clock, where it is set, and by whether somebody has touched within [`AWAKE`].
    pub fn light(self, now: Option<TimeOfDay>, awake: bool) -> Light {
        let dark = match (self, now) {
            (Night::Always, _) => true,
            (Night::Never, _) | (Night::Hours { .. }, None) => false,
            (Night::Hours { from, till }, Some(now)) if from <= till => from <= now && now < till,
            (Night::Hours { from, till }, Some(now)) => from <= now || now < till,
        };
        match (dark, awake) {
            (false, _) => Light::Day,
            (true, true) => Light::Night,
            (true, false) => Light::Dim,
        }
    }
}

impl FromStr for Night {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let wrong = || format!("\"{text}\" is no time of night: 21:00-6:00, never or always");
        match text {
            "never" => Ok(Night::Never),
            "always" => Ok(Night::Always),
            hours => {
                let (from, till) = hours.split_once('-').ok_or_else(wrong)?;
                let (from, till) = (time(from).ok_or_else(wrong)?, time(till).ok_or_else(wrong)?);
                if from == till {
                    return Err(format!("\"{text}\" begins when it ends: say never or always"));
                }
                Ok(Night::Hours { from, till })
            }
        }
    }
}

impl fmt::Display for Night {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let clock = |time: TimeOfDay| format!("{}:{:02}", time.minutes() / 60, time.minutes() % 60);
        match *self {
            Night::Never => f.write_str("never"),
            Night::Always => f.write_str("always"),
            Night::Hours { from, till } => write!(f, "{}-{}", clock(from), clock(till)),
        }
    }
}

fn time(text: &str) -> Option<TimeOfDay> {
    let (hour, minute) = text.trim().split_once(':')?;
    let whole = minute.len() == 2 && (1..=2).contains(&hour.len());
    let digits = hour.bytes().chain(minute.bytes()).all(|c| c.is_ascii_digit());
    (whole && digits).then_some(())?;
    TimeOfDay::new(hour.parse().ok()?, minute.parse().ok()?)
}

/// Where the picture stands after so many moves: each one pixel from the one before, over all places from 0 to
/// [`MOVES_AT_MOST`] in x and y, and back the same way.
pub fn place(moves: u32) -> (u32, u32) {
    let side = MOVES_AT_MOST + 1;
    let last = side * side - 1;
    let at = moves % (2 * last);
    let at = if at > last { 2 * last - at } else { at };
    let (row, column) = (at / side, at % side);
    (if row.is_multiple_of(2) { column } else { side - 1 - column }, row)
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;

    fn at(text: &str) -> TimeOfDay {
        time(text).expect("a time")
    }

    #[test]
    fn night_goes_over_midnight_and_ends_on_the_minute() {
        let night: Night = "21:00-6:00".parse().expect("hours");
        let table =
            [("20:59", false), ("21:00", true), ("23:59", true), ("0:00", true), ("5:59", true), ("6:00", false)];
        for (now, dark) in table {
            let light = night.light(Some(at(now)), false);
            assert_eq!(light, if dark { Light::Dim } else { Light::Day }, "{now}");
        }
        assert_eq!(night.light(Some(at("22:00")), true), Light::Night);
        assert_eq!(night.light(Some(at("12:00")), true), Light::Day);
        assert_eq!(night.light(None, false), Light::Day, "a clock that is not set says nothing of the night");
        let noon: Night = "12:00-13:30".parse().expect("hours");
        assert_eq!(noon.light(Some(at("13:29")), false), Light::Dim);
        assert_eq!(noon.light(Some(at("13:30")), false), Light::Day);
        assert_eq!(noon.to_string(), "12:00-13:30");
    }

    #[test]
    fn what_is_no_time_of_night_is_refused() {
        for wrong in ["", "21:00", "21-6", "24:00-6:00", "21:60-6:00", "21:00-6:0", "+1:00-6:00", "6:00-6:00"] {
            let refused = wrong.parse::<Night>().expect_err(wrong);
            assert!(refused.contains("never or always"), "{refused}");
        }
        assert_eq!("never".parse(), Ok(Night::Never));
        assert_eq!("always".parse(), Ok(Night::Always));
    }

    #[test]
    fn the_picture_walks_by_one_pixel_at_a_time_over_all_places() {
        let mut places = BTreeSet::new();
        for moves in 0..200 {
            let ((x, y), (next_x, next_y)) = (place(moves), place(moves + 1));
            assert_eq!(x.abs_diff(next_x) + y.abs_diff(next_y), 1, "move {moves}");
            assert!(x <= MOVES_AT_MOST && y <= MOVES_AT_MOST);
            places.insert((x, y));
        }
        assert_eq!(places.len(), 25);
    }
}
