//! Quantities with their units. No bare number crosses a module of the core.
//!
//! Ranges are those that the quantity can have at all (a humidity is 0 to 100 %), not those that a sensor or a formula
//! covers; each user of a quantity states its own.

use std::fmt;

use serde::{Deserialize, Serialize};

macro_rules! quantities {
    ($($(#[$doc:meta])* $name:ident, $unit:literal);+ $(;)?) => {$(
        $(#[$doc])*
        #[derive(Clone, Copy, PartialEq, PartialOrd, Debug, Default, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(pub f64);

        impl $name {
            #[doc = concat!("The number, in ", $unit, ".")]
            pub fn get(self) -> f64 {
                self.0
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                let digits = f.precision().unwrap_or(1);
                write!(f, "{:.digits$} {}", self.0, $unit)
            }
        }
    )+};
}

quantities! {
    /// Temperature on the Celsius scale.
    Celsius, "°C";
    /// Temperature on the Fahrenheit scale.
    Fahrenheit, "°F";
    /// Relative humidity over liquid water, 0 to 100.
    RelativeHumidity, "%";
    /// A share of a whole, 0 to 100: a battery, a fill.
    Percent, "%";
    /// Volume.
    Litres, "L";
    /// Length on the scale of a bucket.
    Millimetres, "mm";
    /// Mass.
    Kilograms, "kg";
    /// Pressure.
    Pascals, "Pa";
    /// Strength of a radio signal.
    Dbm, "dBm";
    /// How often in a minute: heart beats, breaths.
    PerMinute, "/min";
    /// A short time.
    Seconds, "s";
    /// Length on the scale of a horse.
    Centimetres, "cm";
}

impl Celsius {
    /// The same temperature on the other scale: 9/5 t + 32, exact by definition.
    pub fn fahrenheit(self) -> Fahrenheit {
        Fahrenheit(self.0 * 9.0 / 5.0 + 32.0)
    }
}

impl Fahrenheit {
    /// The same temperature on the other scale: 5/9 (t - 32), exact by definition.
    pub fn celsius(self) -> Celsius {
        Celsius((self.0 - 32.0) * 5.0 / 9.0)
    }
}

/// One US liquid gallon: 231 cubic inches of 25.4 mm, by definition (NIST Handbook 44, appendix C).
pub const LITRES_PER_US_GALLON: f64 = 3.785_411_784;

impl Litres {
    /// US liquid gallons; the imperial gallon is a fifth larger and is not used here.
    pub fn us_gallons(self) -> f64 {
        self.0 / LITRES_PER_US_GALLON
    }
}

/// Whole minutes as a length of time: never negative.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug, Default, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Minutes(pub u32);

impl Minutes {
    /// The same length in milliseconds.
    pub fn as_millis(self) -> u64 {
        u64::from(self.0) * 60_000
    }
}
