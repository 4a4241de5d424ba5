//! Heat: from air temperature and humidity to what a barn should do about it.
//!
//! [`psychrometrics`] says how much water the air holds, [`indices`] say what that means for a horse, for people and for
//! a thermometer in the sun, [`bands`] and [`people`] turn that into cautions that do not flicker, [`advice`] says what to do
//! about them; [`record`] keeps the air of the last days and [`forecast`] says from it how the next hours may go. All are plain
//! functions of what they are given: they know no sensor, no place and no alarm.
//!
//! Words:
//! - **horse sum**: degrees Fahrenheit plus percent humidity. Not a temperature, and not the heat index.
//! - **heat index**: of the US National Weather Service (NWS), for people in the shade. 150 on one scale is not 150 on
//!   the other, so neither is ever called just "the index".
//! - **WBGT**: wet-bulb globe temperature, in degrees Celsius. Ours are estimates: nobody has hung up a globe.
//!
//! A number here makes somebody go and look. Whether a horse works is for the equine professional in charge and the
//! veterinarian to say, and local rules come first.
//!
//! Each formula is fitted to some stretch of temperature and humidity and says nothing outside of it. It refuses with
//! [`OutOfRange`] there, and never guesses.

use std::fmt;

use crate::units::{Celsius, Fahrenheit, RelativeHumidity};

pub mod advice;
pub mod bands;
pub(crate) mod edge;
pub mod forecast;
pub mod indices;
pub mod people;
pub mod psychrometrics;
pub mod record;

pub use bands::Bands;
pub use indices::{HorseSum, heat_index, wbgt_measured, wbgt_measured_in_sun, wbgt_open_air, wbgt_shade};
pub use people::PeopleBands;
pub use psychrometrics::{dew_point, saturation_vapour_pressure, wet_bulb};

/// A formula was asked outside of the stretch for which it holds.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct OutOfRange {
    /// What was asked for.
    pub formula: Formula,
    /// What is out of range.
    pub quantity: Quantity,
    /// What it was, in the unit of [`Quantity`].
    pub value: f64,
    /// The lowest that is allowed.
    pub low: f64,
    /// The highest that is allowed.
    pub high: f64,
}

/// A formula of this module.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Formula {
    /// [`saturation_vapour_pressure`].
    SaturationVapourPressure,
    /// [`dew_point`].
    DewPoint,
    /// [`wet_bulb`].
    WetBulb,
    /// [`HorseSum::new`].
    HorseSum,
    /// [`heat_index`].
    HeatIndex,
    /// [`wbgt_shade`].
    WbgtShade,
    /// [`wbgt_open_air`].
    WbgtOpenAir,
    /// [`wbgt_measured`].
    WbgtMeasured,
    /// [`wbgt_measured_in_sun`].
    WbgtMeasuredInSun,
}

/// What a formula takes.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Quantity {
    /// Air temperature in degrees Celsius.
    Temperature,
    /// Relative humidity in percent.
    Humidity,
    /// What a wet thermometer in still, unshaded air shows, in degrees Celsius.
    NaturalWetBulb,
    /// What a thermometer in a black globe shows, in degrees Celsius.
    Globe,
}

impl fmt::Display for OutOfRange {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let formula = match self.formula {
            Formula::SaturationVapourPressure => "saturation vapour pressure",
            Formula::DewPoint => "dew point",
            Formula::WetBulb => "wet bulb",
            Formula::HorseSum => "horse sum",
            Formula::HeatIndex => "NWS heat index",
            Formula::WbgtShade => "WBGT in the shade",
            Formula::WbgtOpenAir => "WBGT in the open air",
            Formula::WbgtMeasured => "WBGT of a globe without sun",
            Formula::WbgtMeasuredInSun => "WBGT of a globe in the sun",
        };
        let (quantity, unit) = match self.quantity {
            Quantity::Temperature => ("air temperature", "°C"),
            Quantity::Humidity => ("relative humidity", "%"),
            Quantity::NaturalWetBulb => ("natural wet bulb", "°C"),
            Quantity::Globe => ("globe", "°C"),
        };
        let Self { value, low, high, .. } = self;
        write!(f, "{formula}: {quantity} of {value:.1} {unit} is outside of {low:.1} to {high:.1} {unit}")
    }
}

impl std::error::Error for OutOfRange {}

/// The stretch for which a formula holds, both ends included.
struct Validity {
    formula: Formula,
    celsius: (f64, f64),
    humidity: (f64, f64),
}

impl Validity {
    /// Refuses what is outside, and what is no number.
    fn check(&self, air: Celsius, humidity: RelativeHumidity) -> Result<(), OutOfRange> {
        within(self.formula, Quantity::Temperature, air.get(), self.celsius)?;
        within(self.formula, Quantity::Humidity, humidity.get(), self.humidity)
    }
}

/// Refuses what is outside of a range, and what is no number.
fn within(formula: Formula, quantity: Quantity, value: f64, (low, high): (f64, f64)) -> Result<(), OutOfRange> {
    if (low..=high).contains(&value) { Ok(()) } else { Err(OutOfRange { formula, quantity, value, low, high }) }
}

/// An end of a range that its source gives in degrees Fahrenheit.
const fn from_fahrenheit(end: Fahrenheit) -> f64 {
    (end.0 - 32.0) * 5.0 / 9.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_refusal_says_what_where_and_what_is_allowed() {
        let refused = wet_bulb(Celsius(61.2), RelativeHumidity(40.0)).expect_err("above 50 °C");
        assert_eq!(refused.to_string(), "wet bulb: air temperature of 61.2 °C is outside of 0.0 to 50.0 °C");
        let refused = wbgt_measured(Celsius(41.0), Celsius(50.0)).expect_err("above 40 °C");
        let told = "WBGT of a globe without sun: natural wet bulb of 41.0 °C is outside of 5.0 to 40.0 °C";
        assert_eq!(refused.to_string(), told);
        let refused = dew_point(Celsius(20.0), RelativeHumidity(0.0)).expect_err("dry air has no dew point");
        assert_eq!(refused.to_string(), "dew point: relative humidity of 0.0 % is outside of 1.0 to 100.0 %");
    }

    #[test]
    fn both_ends_are_allowed_and_a_step_beyond_is_not() {
        type Ask = fn(Celsius, RelativeHumidity) -> Result<(), OutOfRange>;
        type Range = (f64, f64);
        let formulas: [(Ask, Range, Range); 6] = [
            (|t, rh| dew_point(t, rh).map(drop), (-40.0, 50.0), (1.0, 100.0)),
            (|t, rh| wet_bulb(t, rh).map(drop), (0.0, 50.0), (5.0, 100.0)),
            (|t, rh| HorseSum::new(t, rh).map(drop), (-60.0, 60.0), (0.0, 100.0)),
            (|t, rh| heat_index(t, rh).map(drop), (40.0 / 9.0, 50.0), (0.0, 100.0)),
            (|t, rh| wbgt_shade(t, rh).map(drop), (0.0, 50.0), (5.0, 100.0)),
            (|t, rh| wbgt_open_air(t, rh).map(drop), (0.0, 50.0), (0.0, 100.0)),
        ];
        for (ask, (cold, hot), (dry, damp)) in formulas {
            for (t, rh) in [(cold, 50.0), (hot, 50.0), (20.0, dry), (20.0, damp)] {
                assert_eq!(ask(Celsius(t), RelativeHumidity(rh)), Ok(()));
            }
            let beyond = [(cold - 0.01, 50.0), (hot + 0.01, 50.0), (20.0, dry - 0.01), (20.0, damp + 0.01)];
            for (t, rh) in beyond.into_iter().chain([(f64::NAN, 50.0), (20.0, f64::NAN), (f64::INFINITY, 50.0)]) {
                assert!(ask(Celsius(t), RelativeHumidity(rh)).is_err(), "{t} °C, {rh} % went through");
            }
        }
        assert!(
            saturation_vapour_pressure(Celsius(-40.0)).is_ok() && saturation_vapour_pressure(Celsius(50.0)).is_ok()
        );
        assert!(saturation_vapour_pressure(Celsius(-40.1)).is_err());
        assert!(saturation_vapour_pressure(Celsius(f64::NAN)).is_err());
    }
}
