//! Water in air: how much it can hold, when it dews, how cold a wet thermometer gets. All at sea level: at 1,000 m the
//! wet bulb is a few tenths of a degree lower, so that here it errs on the warm, cautious side.
//!
//! Knows nothing of horses or people.

use super::{Formula, OutOfRange, Validity};
use crate::units::{Celsius, Pascals, RelativeHumidity};

/// Pressure of water vapour in saturated air over liquid water.
///
/// Magnus form with the constants of Alduchov and Eskridge 1996, "Improved Magnus Form Approximation of Saturation Vapor
/// Pressure", J. Appl. Meteor. 35:601: e = 610.94 Pa · exp(17.625 t / (243.04 + t)). Holds from -40 to 50 °C, within 0.4 %.
///
/// # Errors
/// [`OutOfRange`] outside of -40 to 50 °C.
pub fn saturation_vapour_pressure(air: Celsius) -> Result<Pascals, OutOfRange> {
    const VALID: Validity =
        Validity { formula: Formula::SaturationVapourPressure, celsius: MAGNUS_CELSIUS, humidity: (0.0, 100.0) };
    VALID.check(air, RelativeHumidity(100.0))?;
    Ok(Pascals(MAGNUS_PASCALS * magnus_exponent(air).exp()))
}

/// The temperature at which air begins to dew, over liquid water.
///
/// The inverse of [`saturation_vapour_pressure`], by the same source. Against the ASHRAE formulation at 5 to 50 °C it is
/// within 0.06 °C wherever the dew point is above freezing. Below, it is the dew point over water and not the (higher)
/// frost point over ice.
///
/// # Errors
/// [`OutOfRange`] outside of -40 to 50 °C and 1 to 100 %: bone-dry air never dews.
pub fn dew_point(air: Celsius, humidity: RelativeHumidity) -> Result<Celsius, OutOfRange> {
    const VALID: Validity = Validity { formula: Formula::DewPoint, celsius: MAGNUS_CELSIUS, humidity: (1.0, 100.0) };
    VALID.check(air, humidity)?;
    let exponent = (humidity.get() / 100.0).ln() + magnus_exponent(air);
    Ok(Celsius(MAGNUS_OFFSET * exponent / (MAGNUS_SLOPE - exponent)))
}

/// The relative humidity of air at this temperature with this dew point: [`dew_point`] turned round, held at 100 %. For those
/// who have made the dew point by [`dew_point`], and so are in its range.
pub(super) fn relative_humidity(air: Celsius, dew_point: Celsius) -> RelativeHumidity {
    RelativeHumidity((100.0 * (magnus_exponent(dew_point) - magnus_exponent(air)).exp()).min(100.0))
}

/// The temperature that a wet, ventilated thermometer shows.
///
/// Stull 2011, "Wet-Bulb Temperature from Relative Humidity and Air Temperature", J. Appl. Meteor. Climatol. 50:2267, a
/// fit at 1013.25 hPa. The paper prints -1.0 to +0.65 °C of error, mean 0.3 °C, for 5 to 99 % and -20 to 50 °C with the
/// cold and dry corner left out. Three things are ours, each for a reason:
/// - it is taken from 0 °C up: below, and dry, the fit is off by up to 3.9 °C, and nobody asks about heat there;
/// - above 99 % it answers the air temperature, from which the wet bulb is then 0.2 °C away at the most: a
///   humidity sensor that dew has wetted says 100 %, and the answer must not fail just then;
/// - it is held at the air temperature where the fit overshoots it (by up to 0.6 °C near freezing).
///
/// # Errors
/// [`OutOfRange`] outside of 0 to 50 °C and 5 to 100 %.
pub fn wet_bulb(air: Celsius, humidity: RelativeHumidity) -> Result<Celsius, OutOfRange> {
    STULL.check(air, humidity)?;
    Ok(stull(air, humidity))
}

/// Where [`stull`] holds; other formulas that stand on it have the same range under their own name.
pub(super) const STULL: Validity = Validity { formula: Formula::WetBulb, celsius: (0.0, 50.0), humidity: (5.0, 100.0) };

/// [`wet_bulb`] for those who have checked the range.
pub(super) fn stull(air: Celsius, humidity: RelativeHumidity) -> Celsius {
    let (t, rh) = (air.get(), humidity.get());
    if rh > 99.0 {
        return air;
    }
    let fit = t * (0.151_977 * (rh + 8.313_659).sqrt()).atan() + (t + rh).atan() - (rh - 1.676_331).atan()
        + 0.003_918_38 * rh.powf(1.5) * (0.023_101 * rh).atan()
        - 4.686_035;
    Celsius(fit.min(t))
}

const MAGNUS_CELSIUS: (f64, f64) = (-40.0, 50.0);
const MAGNUS_PASCALS: f64 = 610.94;
const MAGNUS_SLOPE: f64 = 17.625;
const MAGNUS_OFFSET: f64 = 243.04;

fn magnus_exponent(air: Celsius) -> f64 {
    MAGNUS_SLOPE * air.get() / (MAGNUS_OFFSET + air.get())
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn saturated_air_dews_at_its_own_temperature() {
        for t in -40..=50 {
            let air = Celsius(f64::from(t));
            let dew = dew_point(air, RelativeHumidity(100.0)).expect("in range");
            assert!((dew.get() - air.get()).abs() < 1e-9, "{air} dews at {dew}");
        }
    }

    #[test]
    fn the_wet_bulb_of_saturated_air_is_its_temperature() {
        // 99 % is the last of the fit; over it the air temperature stands in.
        assert_eq!(wet_bulb(Celsius(24.0), RelativeHumidity(99.1)), Ok(Celsius(24.0)));
        let last = wet_bulb(Celsius(24.0), RelativeHumidity(99.0)).expect("in range");
        assert!((23.8..=24.0).contains(&last.get()), "{last}");
    }

    proptest! {
        // Physics: dew point <= wet bulb <= air. The fit of the wet bulb undershoots the dew point near freezing in
        // almost saturated air, by 0.08 °C at 0 °C and 99 %.
        #[test]
        fn dew_point_wet_bulb_and_air_are_in_order(t in 0.0..=50.0, rh in 5.0..=100.0) {
            let (air, humidity) = (Celsius(t), RelativeHumidity(rh));
            let wet = wet_bulb(air, humidity)?;
            prop_assert!(wet <= air);
            prop_assert!(dew_point(air, humidity)?.get() <= wet.get() + 0.08);
        }

        #[test]
        fn warmer_air_at_the_same_humidity_holds_more_water(t in 0.0..=49.9, rh in 5.0..=100.0, step in 0.01..=0.1) {
            let (cooler, warmer, humidity) = (Celsius(t), Celsius(t + step), RelativeHumidity(rh));
            prop_assert!(saturation_vapour_pressure(cooler)? < saturation_vapour_pressure(warmer)?);
            prop_assert!(dew_point(cooler, humidity)? < dew_point(warmer, humidity)?);
            prop_assert!(wet_bulb(cooler, humidity)? < wet_bulb(warmer, humidity)?);
        }

        // The fit alone falls by 0.02 °C at 0 °C and 5 %: nothing that a thermometer could show.
        #[test]
        fn damper_air_has_a_higher_wet_bulb(t in 0.0..=50.0, rh in 5.0..=99.5, step in 0.01..=0.5) {
            let dry = wet_bulb(Celsius(t), RelativeHumidity(rh))?;
            let damp = wet_bulb(Celsius(t), RelativeHumidity(rh + step))?;
            prop_assert!(dry.get() <= damp.get() + 0.02);
        }
    }
}
