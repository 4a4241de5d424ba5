//! A horse's height at the withers in hands: one hand is four inches, one inch 25.4 mm, both exact by definition. What stands
//! after the point are inches, 0 to 3, and no decimals: 15.2 is 62 inches, and after 15.3 comes 16.0. So 15.4 and 15.25 are
//! no heights, and are refused rather than guessed at.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use crate::units::Centimetres;

/// Centimetres in an inch, exact by definition.
pub const CM_PER_INCH: f64 = 2.54;

/// Parts of an inch in which a height is counted: a measuring stick shows no finer ones.
const PARTS: u32 = 4;
const INCHES_IN_A_HAND: u32 = 4;

/// A height to the quarter of an inch, written as hands, a point, and inches: `15.2`, `15.2 1/2`.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Hands {
    quarter_inches: u32,
}

/// What was written can not be a height in hands.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct NotHands;

impl fmt::Display for NotHands {
    /// What is allowed, to stand after "allowed is".
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(
            "hands, a point and 0 to 3 inches, such as 15.2 (four inches are a hand: after 15.3 comes 16.0); a quarter, half \
             or three quarters of an inch may follow, such as 15.2 1/2",
        )
    }
}

impl std::error::Error for NotHands {}

impl Hands {
    /// A height of whole inches.
    pub const fn of_inches(inches: u32) -> Self {
        Self { quarter_inches: inches * PARTS }
    }

    /// A height of quarters of an inch.
    pub const fn of_quarter_inches(quarter_inches: u32) -> Self {
        Self { quarter_inches }
    }

    /// The height nearest to a length, to the quarter of an inch; what is less than nothing is nothing.
    pub fn nearest(length: Centimetres) -> Self {
        // The cast holds at the ends of its range.
        Self { quarter_inches: (length.get() / CM_PER_INCH * f64::from(PARTS)).round() as u32 }
    }

    /// The same in inches.
    pub fn inches(self) -> f64 {
        f64::from(self.quarter_inches) / f64::from(PARTS)
    }

    /// The same in centimetres.
    pub fn centimetres(self) -> Centimetres {
        // By quarters of 6.35 mm, so that whole inches keep their printed digits.
        Centimetres(f64::from(self.quarter_inches) * 254.0 / (100.0 * f64::from(PARTS)))
    }
}

impl FromStr for Hands {
    type Err = NotHands;

    fn from_str(text: &str) -> Result<Self, NotHands> {
        let mut words = text.split_whitespace();
        let number = words.next().ok_or(NotHands)?;
        let quarters = match words.next() {
            None => 0,
            Some("1/4") => 1,
            Some("1/2") => 2,
            Some("3/4") => 3,
            Some(_) => return Err(NotHands),
        };
        let (hands, inches) = number.split_once('.').unwrap_or((number, "0"));
        let digits = (1..=2).contains(&hands.len()) && hands.bytes().all(|byte| byte.is_ascii_digit());
        let inches = match inches {
            "0" => 0,
            "1" => 1,
            "2" => 2,
            "3" => 3,
            _ => return Err(NotHands),
        };
        let hands: u32 = hands.parse().ok().filter(|_| digits && words.next().is_none()).ok_or(NotHands)?;
        Ok(Self { quarter_inches: (hands * INCHES_IN_A_HAND + inches) * PARTS + quarters })
    }
}

impl TryFrom<String> for Hands {
    type Error = NotHands;

    fn try_from(text: String) -> Result<Self, NotHands> {
        text.parse()
    }
}

impl From<Hands> for String {
    fn from(hands: Hands) -> Self {
        hands.to_string()
    }
}

impl fmt::Display for Hands {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let inches = self.quarter_inches / PARTS;
        let part = match self.quarter_inches % PARTS {
            1 => " 1/4",
            2 => " 1/2",
            3 => " 3/4",
            _ => "",
        };
        write!(f, "{}.{}{part}", inches / INCHES_IN_A_HAND, inches % INCHES_IN_A_HAND)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_stands_after_the_point_is_inches() {
        for (text, inches, cm) in
            [("15.2", 62.0, 157.48), ("14.2", 58.0, 147.32), ("15", 60.0, 152.4), ("15.2 1/2", 62.5, 158.75)]
        {
            let hands: Hands = text.parse().unwrap_or_else(|_| panic!("{text} is a height"));
            assert_eq!((hands.inches(), hands.centimetres().get()), (inches, cm), "{text}");
            assert_eq!(Hands::nearest(hands.centimetres()), hands, "{text}");
        }
        for text in
            ["15.4", "15.9", "15.20", "15.25", "15.", ".2", "", "150.2", "-15.2", "15,2", "15.2 1/3", "15.2 1/2 x"]
        {
            assert_eq!(text.parse::<Hands>(), Err(NotHands), "{text}");
        }
    }

    #[test]
    fn a_height_is_written_as_it_is_read() {
        assert_eq!(Hands::of_inches(61).to_string(), "15.1", "one page prints 15.3");
        for quarters in 0..800 {
            let hands = Hands::of_quarter_inches(quarters);
            assert_eq!(hands.to_string().parse(), Ok(hands));
        }
    }
}
