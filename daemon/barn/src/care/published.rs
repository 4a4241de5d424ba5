//! What is printed of a horse's vital signs at rest, row by row with its source. Sources differ, so all of them are kept, and
//! whoever judges takes the cautious side and names them. `tests/reference/vital-signs.csv` holds this table to the digit.
//!
//! The book writes down no ages: horses are held against the rows for adults. The others are here to be looked up.

use crate::units::{Celsius, Fahrenheit};

/// Whose sign.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Age {
    /// A grown horse.
    Adult,
    /// A foal.
    Foal,
    /// A foal of the first days.
    NewbornFoal,
    /// A yearling.
    Yearling,
}

impl Age {
    /// In words.
    pub fn word(self) -> &'static str {
        match self {
            Age::Adult => "adult",
            Age::Foal => "foal",
            Age::NewbornFoal => "newborn foal",
            Age::Yearling => "yearling",
        }
    }
}

/// Which sign.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Of {
    /// Rectal temperature.
    Temperature,
    /// Heart beats.
    Pulse,
    /// Breaths.
    Breaths,
    /// How long the gum stays white after a finger has pressed it.
    Refill,
    /// How long a fold of skin stands.
    SkinRecoil,
    /// The temperature above which the vet is to be called.
    CallVetAbove,
    /// The pulse at rest above which the horse is to be looked into.
    InvestigateAbove,
}

impl Of {
    /// In words.
    pub fn word(self) -> &'static str {
        match self {
            Of::Temperature => "rectal temp",
            Of::Pulse => "pulse",
            Of::Breaths => "respiration",
            Of::Refill => "capillary refill",
            Of::SkinRecoil => "skin recoil",
            Of::CallVetAbove => "call vet if temp above",
            Of::InvestigateAbove => "pulse at rest above: investigate",
        }
    }
}

/// One printed range.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Printed {
    /// Whose.
    pub age: Age,
    /// Of what.
    pub of: Of,
    /// From; nothing is too little where none is printed.
    pub low: Option<f64>,
    /// To; nothing is too much where none is printed.
    pub high: Option<f64>,
    /// In which unit it is printed.
    pub unit: &'static str,
    /// Where it is printed.
    pub source: &'static str,
}

const fn printed(age: Age, of: Of, range: (f64, f64), unit: &'static str, source: &'static str) -> Printed {
    Printed { age, of, low: Some(range.0), high: Some(range.1), unit, source }
}

const fn up_to(of: Of, high: f64, unit: &'static str, source: &'static str) -> Printed {
    Printed { age: Age::Adult, of, low: None, high: Some(high), unit, source }
}

const fn over(of: Of, low: f64, unit: &'static str, source: &'static str) -> Printed {
    Printed { age: Age::Adult, of, low: Some(low), high: None, unit, source }
}

/// All of them. Each was read, some in a reprint.
pub const PRINTED: [Printed; 16] = [
    printed(Age::Adult, Of::Temperature, (99.0, 101.0), "F", "one reprint of common table"),
    printed(Age::Adult, Of::Temperature, (99.0, 101.5), "F", "equine clinic"),
    printed(Age::Adult, Of::Temperature, (37.5, 38.5), "C", "Kang et al. 2023"),
    printed(Age::Adult, Of::Pulse, (28.0, 44.0), "bpm", "reprint"),
    printed(Age::Adult, Of::Pulse, (28.0, 40.0), "bpm", "practice"),
    printed(Age::Adult, Of::Breaths, (10.0, 24.0), "/min", "reprint"),
    printed(Age::Adult, Of::Breaths, (8.0, 16.0), "/min", "practice"),
    up_to(Of::Refill, 2.0, "s", "several"),
    up_to(Of::SkinRecoil, 1.0, "s", "stable page citing extension"),
    printed(Age::Foal, Of::Temperature, (99.5, 102.1), "F", "reprint"),
    printed(Age::NewbornFoal, Of::Pulse, (80.0, 120.0), "bpm", "practice"),
    printed(Age::Foal, Of::Pulse, (60.0, 80.0), "bpm", "practice"),
    printed(Age::Yearling, Of::Pulse, (40.0, 60.0), "bpm", "practice"),
    printed(Age::Foal, Of::Breaths, (20.0, 40.0), "/min", "reprint"),
    over(Of::CallVetAbove, 102.0, "F", "Purdue equine field service"),
    over(Of::InvestigateAbove, 50.0, "bpm", "4-H page"),
];

impl Printed {
    /// A bound of it in the unit that the barn counts in: degrees Celsius for temperatures, as printed for the rest.
    pub fn counted(&self, bound: f64) -> f64 {
        if self.unit == "F" { Celsius::get(Fahrenheit(bound).celsius()) } else { bound }
    }

    /// As printed: "99 to 101 °F (equine clinic)".
    pub fn told(&self) -> String {
        let unit = match self.unit {
            "F" => " °F",
            "C" => " °C",
            "s" => " s",
            _ => "",
        };
        let range = match (self.low, self.high) {
            (Some(low), Some(high)) => format!("{low} to {high}{unit}"),
            (None, Some(high)) => format!("up to {high}{unit}"),
            (Some(low), None) => format!("over {low}{unit}"),
            (None, None) => String::new(),
        };
        format!("{range} ({})", self.source)
    }
}

/// What is printed of a sign of adults, in the order of the table.
pub fn of_adults(of: Of) -> impl Iterator<Item = &'static Printed> {
    PRINTED.iter().filter(move |row| row.age == Age::Adult && row.of == of)
}
