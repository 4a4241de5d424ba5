//! What a number on the wire measures and in which unit it is written; turns it into the core's units.
//!
//! Factors are exact by definition (an inch is 25.4 mm, a foot 304.8 mm, 0 °C is 273.15 K). Whether a value can be true
//! is not decided here.

use bellmare_barn::input::Measured;
use bellmare_barn::units::{Celsius, Dbm, Fahrenheit, Millimetres, Percent, RelativeHumidity};

/// What a number measures.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub enum Quantity {
    /// Height of the water, or the distance to it.
    Level,
    /// Air temperature.
    Temperature,
    /// Relative humidity of the air.
    Humidity,
    /// What is left in a sensor's battery.
    Battery,
    /// How strongly a sensor's radio is heard.
    Signal,
}

impl Quantity {
    /// Every quantity, for messages that say what is allowed.
    pub const WORDS: &str = "level, temperature, humidity, battery or signal";

    /// By its word in the settings.
    pub fn parse(word: &str) -> Option<Self> {
        Some(match word {
            "level" => Self::Level,
            "temperature" => Self::Temperature,
            "humidity" => Self::Humidity,
            "battery" => Self::Battery,
            "signal" => Self::Signal,
            _ => return None,
        })
    }

    /// Its word in the settings.
    pub fn word(self) -> &'static str {
        match self {
            Self::Level => "level",
            Self::Temperature => "temperature",
            Self::Humidity => "humidity",
            Self::Battery => "battery",
            Self::Signal => "signal",
        }
    }

    /// The units it can be written in, as the settings spell them.
    pub fn units(self) -> &'static str {
        match self {
            Self::Level => "mm, cm, m, in or ft",
            Self::Temperature => "C, F or K",
            Self::Humidity | Self::Battery => "% or 1 (a fraction of the whole)",
            Self::Signal => "dBm",
        }
    }

    /// Whose sensor measures it, where only one kind can.
    pub fn natural_watch(self) -> Option<Watch> {
        match self {
            Self::Level => Some(Watch::Water),
            Self::Temperature | Self::Humidity => Some(Watch::Climate),
            Self::Battery | Self::Signal => None,
        }
    }
}

/// Which of the two kinds of sensor is meant.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub enum Watch {
    /// The one over a stall's bucket.
    Water,
    /// The one in a place's air.
    Climate,
}

impl Watch {
    /// By its word in the settings.
    pub fn parse(word: &str) -> Option<Self> {
        match word {
            "water" => Some(Self::Water),
            "climate" => Some(Self::Climate),
            _ => None,
        }
    }
}

/// A quantity in a unit that fits it: the only way to make a [`Measured`] of a number.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Scale {
    quantity: Quantity,
    unit: Unit,
}

#[derive(Clone, Copy, PartialEq, Debug)]
enum Unit {
    /// A length, by its millimetres.
    Length(f64),
    Celsius,
    Fahrenheit,
    Kelvin,
    /// A share, by how many percent one of it is.
    Share(f64),
    Dbm,
    /// Decibels over one watt: 30 below the same in milliwatts.
    Dbw,
}

impl Scale {
    /// By the settings' spelling of the unit; `None` where the unit does not fit the quantity.
    pub fn of_settings(quantity: Quantity, unit: &str) -> Option<Self> {
        let unit = match (quantity, unit) {
            (Quantity::Level, "mm") => Unit::Length(1.0),
            (Quantity::Level, "cm") => Unit::Length(10.0),
            (Quantity::Level, "m") => Unit::Length(1000.0),
            (Quantity::Level, "in") => Unit::Length(25.4),
            (Quantity::Level, "ft") => Unit::Length(304.8),
            (Quantity::Temperature, "C") => Unit::Celsius,
            (Quantity::Temperature, "F") => Unit::Fahrenheit,
            (Quantity::Temperature, "K") => Unit::Kelvin,
            (Quantity::Humidity | Quantity::Battery, "%") => Unit::Share(1.0),
            (Quantity::Humidity | Quantity::Battery, "1") => Unit::Share(100.0),
            (Quantity::Signal, "dBm") => Unit::Dbm,
            _ => return None,
        };
        Some(Self { quantity, unit })
    }

    /// By a SenML unit: RFC 8428 section 12.1, and the secondary units of RFC 8798 section 3. In these registries `F`
    /// is the farad and `/` a plain ratio.
    pub fn of_senml(quantity: Quantity, unit: &str) -> Option<Self> {
        let unit = match (quantity, unit) {
            (Quantity::Level, "m") => Unit::Length(1000.0),
            (Quantity::Level, "cm") => Unit::Length(10.0),
            (Quantity::Level, "mm") => Unit::Length(1.0),
            (Quantity::Level, "km") => Unit::Length(1_000_000.0),
            (Quantity::Temperature, "Cel") => Unit::Celsius,
            (Quantity::Temperature, "K") => Unit::Kelvin,
            (Quantity::Humidity, "%RH") | (Quantity::Battery, "%EL") => Unit::Share(1.0),
            (Quantity::Humidity | Quantity::Battery, "/") => Unit::Share(100.0),
            (Quantity::Humidity | Quantity::Battery, "%" | "/100") => Unit::Share(1.0),
            (Quantity::Humidity | Quantity::Battery, "/1000") => Unit::Share(0.1),
            (Quantity::Signal, "dBm") => Unit::Dbm,
            (Quantity::Signal, "dBW") => Unit::Dbw,
            _ => return None,
        };
        Some(Self { quantity, unit })
    }

    /// By a Homie unit: the convention recommends `°C`, `°F`, `%`, `m` and `ft`, and allows others.
    pub fn of_homie(quantity: Quantity, unit: &str) -> Option<Self> {
        match unit {
            "°C" => Self::of_settings(quantity, "C"),
            "°F" => Self::of_settings(quantity, "F"),
            other => Self::of_settings(quantity, other),
        }
    }

    /// What is measured.
    pub fn quantity(self) -> Quantity {
        self.quantity
    }

    /// The number in the core's units.
    pub fn measured(self, number: f64) -> Measured {
        let value = match self.unit {
            Unit::Length(factor) | Unit::Share(factor) => number * factor,
            Unit::Celsius | Unit::Dbm => number,
            Unit::Fahrenheit => Fahrenheit(number).celsius().get(),
            Unit::Kelvin => number - 273.15,
            Unit::Dbw => number + 30.0,
        };
        match self.quantity {
            Quantity::Level => Measured::Level(Millimetres(value)),
            Quantity::Temperature => Measured::Temperature(Celsius(value)),
            Quantity::Humidity => Measured::Humidity(RelativeHumidity(value)),
            Quantity::Battery => Measured::Battery(Percent(value)),
            Quantity::Signal => Measured::Signal(Dbm(value)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use Quantity::*;

    type Reader = fn(Quantity, &str) -> Option<Scale>;

    fn check(reader: Reader, quantity: Quantity, unit: &str, number: f64, want: Option<f64>) {
        let got = reader(quantity, unit).map(|scale| match scale.measured(number) {
            Measured::Level(v) => v.get(),
            Measured::Temperature(v) => v.get(),
            Measured::Humidity(v) => v.get(),
            Measured::Battery(v) => v.get(),
            Measured::Signal(v) => v.get(),
        });
        match (got, want) {
            (Some(got), Some(want)) => {
                assert!((got - want).abs() <= want.abs() * 1e-14, "{quantity:?} {number} {unit}: {got}, wanted {want}");
            }
            (got, want) => assert_eq!(got, want, "{quantity:?} {number} {unit}"),
        }
    }

    #[test]
    fn units_of_the_settings() {
        let reader: Reader = Scale::of_settings;
        for (quantity, unit, number, want) in [
            (Level, "mm", 212.0, Some(212.0)),
            (Level, "cm", 21.2, Some(212.0)),
            (Level, "m", 0.212, Some(212.0)),
            (Level, "in", 10.0, Some(254.0)),
            (Level, "ft", 1.0, Some(304.8)),
            (Temperature, "C", -40.0, Some(-40.0)),
            (Temperature, "F", -40.0, Some(-40.0)),
            (Temperature, "F", 212.0, Some(100.0)),
            (Temperature, "K", 273.15, Some(0.0)),
            (Humidity, "%", 55.0, Some(55.0)),
            (Humidity, "1", 0.55, Some(55.0)),
            (Humidity, "1", 1.0, Some(100.0)),
            (Battery, "%", 98.0, Some(98.0)),
            (Battery, "1", 0.5, Some(50.0)),
            (Signal, "dBm", -71.0, Some(-71.0)),
            (Level, "C", 1.0, None),
            (Level, "", 1.0, None),
            (Level, "MM", 1.0, None),
            (Temperature, "%", 1.0, None),
            (Humidity, "mm", 1.0, None),
            (Battery, "V", 1.0, None),
            (Signal, "dB", 1.0, None),
        ] {
            check(reader, quantity, unit, number, want);
        }
    }

    #[test]
    fn units_of_senml_and_homie() {
        let reader: Reader = Scale::of_senml;
        for (quantity, unit, number, want) in [
            (Level, "m", 0.212, Some(212.0)),
            (Level, "mm", 212.0, Some(212.0)),
            (Level, "cm", 21.2, Some(212.0)),
            (Temperature, "Cel", 23.1, Some(23.1)),
            (Temperature, "K", 300.15, Some(27.0)),
            (Humidity, "%RH", 20.3, Some(20.3)),
            (Humidity, "/", 0.203, Some(20.3)),
            (Humidity, "/1000", 203.0, Some(20.3)),
            (Battery, "%EL", 98.0, Some(98.0)),
            (Battery, "/100", 98.0, Some(98.0)),
            (Signal, "dBW", -101.0, Some(-71.0)),
            (Signal, "dBm", -71.0, Some(-71.0)),
            // The farad, not Fahrenheit; seconds of battery left, not a share of it.
            (Temperature, "F", 72.0, None),
            (Battery, "EL", 3600.0, None),
            (Temperature, "", 72.0, None),
        ] {
            check(reader, quantity, unit, number, want);
        }
        let reader: Reader = Scale::of_homie;
        for (quantity, unit, number, want) in [
            (Temperature, "°C", 21.0, Some(21.0)),
            (Temperature, "°F", 50.0, Some(10.0)),
            (Level, "mm", 212.0, Some(212.0)),
            (Humidity, "%", 40.0, Some(40.0)),
            (Level, "°C", 1.0, None),
        ] {
            check(reader, quantity, unit, number, want);
        }
    }
}
