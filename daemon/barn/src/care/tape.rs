//! A horse's weight from two lengths and a tape: heart girth squared times length, by a divisor. Sources print divisors that
//! differ by a third of a percent, and the tape itself errs by more; so all of them are told, with the error, and none is
//! called the weight. Good enough for feed and for what it may carry. Never for a dose of medicine: that is the vet's.
//!
//! Heart girth goes around behind the elbow and over the highest point of the withers; length from the point of the shoulder
//! to the point of the buttock.

use serde::Serialize;

use crate::hands::CM_PER_INCH;
use crate::units::{Centimetres, Kilograms};

/// Kilograms in a pound, exact by definition.
pub const KG_PER_LB: f64 = 0.453_592_37;

/// How far a tape has been seen to be off: 100 lb (thewayofhorses.com).
pub const ERROR: Kilograms = Kilograms(100.0 * KG_PER_LB);

/// What a tape on a horse can read; beyond it there was a slip, or the other unit. No source.
const GIRTHS_CM: std::ops::RangeInclusive<f64> = 75.0..=270.0;
const LENGTHS_CM: std::ops::RangeInclusive<f64> = 60.0..=270.0;

/// A rule.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Rule {
    /// Carroll & Huntington 1988, Equine Vet J 20:41, 281 horses: the average divisor printed in the abstract.
    CarrollHuntington,
    /// The same as textbooks carry it. From memory, verify.
    Textbook11880,
    /// The same as other textbooks carry it. From memory, verify.
    Textbook11877,
    /// In inches and pounds, by 330: an extension sheet after Arkansas.
    Inches330,
}

impl Rule {
    /// All of them.
    pub const ALL: [Rule; 4] = [Rule::CarrollHuntington, Rule::Textbook11880, Rule::Textbook11877, Rule::Inches330];

    /// The divisor: cubic centimetres for a kilogram, or, of the last, cubic inches for a pound.
    pub fn divisor(self) -> f64 {
        match self {
            Rule::CarrollHuntington => 11_900.0,
            Rule::Textbook11880 => 11_880.0,
            Rule::Textbook11877 => 11_877.0,
            Rule::Inches330 => 330.0,
        }
    }

    /// As it is printed.
    pub fn formula(self) -> String {
        let (length, weight) = if self == Rule::Inches330 { ("in", "lb") } else { ("cm", "kg") };
        format!("{weight} = girth x girth x length in {length} / {}", self.divisor())
    }

    /// Where it is printed.
    pub fn source(self) -> &'static str {
        match self {
            Rule::CarrollHuntington => "Carroll & Huntington 1988, Equine Vet J 20:41, abstract",
            Rule::Textbook11880 | Rule::Textbook11877 => "textbooks after Carroll & Huntington; from memory, verify",
            Rule::Inches330 => "extension sheet after Arkansas",
        }
    }

    fn weight(self, girth: Centimetres, length: Centimetres) -> Kilograms {
        let volume = girth.get() * girth.get() * length.get();
        match self {
            Rule::Inches330 => Kilograms(volume / (CM_PER_INCH * CM_PER_INCH * CM_PER_INCH) / 330.0 * KG_PER_LB),
            _ => Kilograms(volume / self.divisor()),
        }
    }
}

/// What a rule says.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Estimate {
    /// By which rule.
    pub rule: Rule,
    /// What it says the horse weighs.
    pub weight: Kilograms,
}

/// What each rule says of these lengths.
///
/// # Errors
/// A length that a tape on a horse can not read, with what is allowed.
pub fn weigh(girth: Centimetres, length: Centimetres) -> Result<[Estimate; 4], String> {
    for (what, value, range) in [("heart girth", girth, GIRTHS_CM), ("length", length, LENGTHS_CM)] {
        if !range.contains(&value.get()) {
            let (low, high) = (*range.start(), *range.end());
            return Err(format!(
                "{what} {value}: allowed is {low} to {high} cm, {:.0} to {:.0} in",
                low / CM_PER_INCH,
                high / CM_PER_INCH
            ));
        }
    }
    Ok(Rule::ALL.map(|rule| Estimate { rule, weight: rule.weight(girth, length) }))
}

/// For which horses the rules are not made, and what they are not good for.
pub const CAUTIONS: [&str; 3] = [
    "The rules are for grown horses; young ones have divisors of their own (a yearling 301 and a weanling 280 on the sheet in \
     inches). Ponies, draught horses and mares in foal fit them less well (from memory, verify).",
    "A tape errs: 100 lb (45 kg) has been seen (thewayofhorses.com). Measure twice, standing square, and weigh on a scale \
     where one is to be had.",
    "Not for doses of medicine: those are the vet's.",
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_no_tape_reads_is_refused() {
        for (girth, length, why) in [
            (76.0 / 2.54, 160.0, "heart girth 29.9 cm: allowed is 75 to 270 cm, 30 to 106 in"),
            (180.0, 1600.0, "length 1600.0 cm: allowed is 60 to 270 cm, 24 to 106 in"),
            (f64::NAN, 160.0, "heart girth NaN cm: allowed is 75 to 270 cm, 30 to 106 in"),
        ] {
            assert_eq!(weigh(Centimetres(girth), Centimetres(length)), Err(why.to_owned()));
        }
    }
}
