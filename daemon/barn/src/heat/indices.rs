//! What temperature and humidity together mean: the horse sum, the heat index of people, and two estimates of WBGT.
//!
//! None of them knows wind, sun, fitness, coat, age or how used to heat a horse is. Which of them was used is always said
//! beside the number: they differ by more than any sensor is wrong.

use super::psychrometrics::{STULL, stull};
use super::{Formula, OutOfRange, Quantity, Validity, from_fahrenheit, within};
use crate::units::{Celsius, Fahrenheit, RelativeHumidity};

/// The horse sum: degrees Fahrenheit plus percent humidity.
///
/// US Equestrian's heat-alert clarification gives it with its limits of 130, 150 and 180, and attributes it to the
/// American Association of Equine Practitioners. It warns too much in cool damp air (70 °F and 90 % make 160) and too
/// little in dry heat (40 °C and 25 % make 129).
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct HorseSum {
    air: Fahrenheit,
    humidity: RelativeHumidity,
}

impl HorseSum {
    /// The sum of this air.
    ///
    /// # Errors
    /// [`OutOfRange`] outside of -60 to 60 °C, where no air over a barn has been, and 0 to 100 %.
    pub fn new(air: Celsius, humidity: RelativeHumidity) -> Result<Self, OutOfRange> {
        const VALID: Validity = Validity { formula: Formula::HorseSum, celsius: (-60.0, 60.0), humidity: (0.0, 100.0) };
        VALID.check(air, humidity)?;
        Ok(Self { air: air.fahrenheit(), humidity })
    }

    /// The air temperature that it was made of.
    pub fn air(self) -> Celsius {
        self.air.celsius()
    }

    /// The humidity that it was made of.
    pub fn humidity(self) -> RelativeHumidity {
        self.humidity
    }

    /// The sum. It has no unit.
    pub fn get(self) -> f64 {
        self.air.get() + self.humidity.get()
    }

    /// True where humidity makes up over half of the sum: sweat dries badly. That is, where the percent are more than
    /// the degrees Fahrenheit. It means something only where the sum is high: cold air in winter is humid too.
    ///
    /// Source: American Association of Equine Practitioners, post of 9 July 2021.
    pub fn humid(self) -> bool {
        self.humidity.get() > self.air.get()
    }
}

/// The heat index of the US National Weather Service: how warm it feels to people, in the shade with a light wind. Full
/// sun can add 8 °C (15 °F; OSHA, "About the Heat Index").
///
/// Rothfusz 1990, technical attachment SR 90-23, with both adjustments and the simple form for mild air, as on
/// <https://www.wpc.ncep.noaa.gov/html/heatindex_equation.shtml>. The printed chart leaves the adjustment for humid air
/// out and so shows up to 2.3 °F less at 80 to 86 °F and 90 to 100 %.
///
/// Held at 58.3 °C (137 °F), the last value of the printed chart: beyond it the regression leaves the data that it was fitted
/// to and runs away (over 300 °F). The highest class of danger begins at 125 °F, so nothing is hidden by it.
///
/// # Errors
/// [`OutOfRange`] outside of 4.4 to 50 °C (40 to 122 °F; below, it is no measure of anything) and 0 to 100 %.
pub fn heat_index(air: Celsius, humidity: RelativeHumidity) -> Result<Celsius, OutOfRange> {
    const VALID: Validity = Validity {
        formula: Formula::HeatIndex,
        celsius: (from_fahrenheit(Fahrenheit(40.0)), 50.0),
        humidity: (0.0, 100.0),
    };
    VALID.check(air, humidity)?;
    let (t, rh) = (air.fahrenheit().get(), humidity.get());
    let simple = 0.5 * (t + 61.0 + (t - 68.0) * 1.2 + rh * 0.094);
    let felt = if (simple + t) / 2.0 < 80.0 { simple } else { rothfusz(t, rh) + adjustment(t, rh) };
    Ok(Fahrenheit(felt.min(HEAT_INDEX_TOP.get())).celsius())
}

/// The last value of the printed chart of the heat index.
const HEAT_INDEX_TOP: Fahrenheit = Fahrenheit(137.0);

/// The nine terms, in degrees Fahrenheit and percent.
fn rothfusz(t: f64, rh: f64) -> f64 {
    -42.379 + 2.049_015_23 * t + 10.143_331_27 * rh
        - 0.224_755_41 * t * rh
        - 0.006_837_83 * t * t
        - 0.054_817_17 * rh * rh
        + 0.001_228_74 * t * t * rh
        + 0.000_852_82 * t * rh * rh
        - 0.000_001_99 * t * t * rh * rh
}

/// What is taken off in dry air and put on in humid air.
fn adjustment(t: f64, rh: f64) -> f64 {
    if rh < 13.0 && (80.0..=112.0).contains(&t) {
        -(13.0 - rh) / 4.0 * ((17.0 - (t - 95.0).abs()) / 17.0).sqrt()
    } else if rh > 85.0 && (80.0..=87.0).contains(&t) {
        (rh - 85.0) / 10.0 * (87.0 - t) / 5.0
    } else {
        0.0
    }
}

/// An estimate of WBGT in the shade: ISO 7243's 0.7 natural wet bulb + 0.3 globe, with the wet bulb of [`stull`] for the
/// first and the air for the second. Right for an aisle in a light draught; under a hot roof or in still air the true one
/// is higher. For people and horses standing in the shade only.
///
/// # Errors
/// [`OutOfRange`] outside of 0 to 50 °C and 5 to 100 %, as the wet bulb.
pub fn wbgt_shade(air: Celsius, humidity: RelativeHumidity) -> Result<Celsius, OutOfRange> {
    const VALID: Validity = Validity { formula: Formula::WbgtShade, ..STULL };
    VALID.check(air, humidity)?;
    Ok(Celsius(0.7 * stull(air, humidity).get() + 0.3 * air.get()))
}

/// An estimate of WBGT in the open air, in moderate sun and a light wind: 0.567 t + 0.393 e + 3.94, with e the vapour
/// pressure in hPa from 6.105 exp(17.27 t / (237.7 + t)). Australian Bureau of Meteorology, after the American College of
/// Sports Medicine 1984. 4 to 16 °C above [`wbgt_shade`] at 20 to 40 °C, and the scale on which Equestrian Australia's
/// worked pairs stand.
///
/// # Errors
/// [`OutOfRange`] outside of 0 to 50 °C and 0 to 100 %. Its source prints no range: below freezing there is no heat to
/// measure, and above 50 °C nobody has compared it.
pub fn wbgt_open_air(air: Celsius, humidity: RelativeHumidity) -> Result<Celsius, OutOfRange> {
    const VALID: Validity = Validity { formula: Formula::WbgtOpenAir, celsius: (0.0, 50.0), humidity: (0.0, 100.0) };
    VALID.check(air, humidity)?;
    let t = air.get();
    // The source's own constants, and not those of `saturation_vapour_pressure`: the three were fitted together.
    let vapour_hpa = humidity.get() / 100.0 * 6.105 * (17.27 * t / (237.7 + t)).exp();
    Ok(Celsius(0.567 * t + 0.393 * vapour_hpa + 3.94))
}

/// WBGT as ISO 7243:2017 defines it without sun: 0.7 natural wet bulb + 0.3 globe, in degrees Celsius. For a barn that has
/// hung up a globe; [`wbgt_shade`] is its estimate from air temperature and humidity.
///
/// # Errors
/// [`OutOfRange`] outside of what the standard asks of the instruments: natural wet bulb 5 to 40 °C, globe 20 to 120 °C (these
/// ranges are from memory of the standard).
pub fn wbgt_measured(natural_wet_bulb: Celsius, globe: Celsius) -> Result<Celsius, OutOfRange> {
    instruments(Formula::WbgtMeasured, natural_wet_bulb, globe)?;
    Ok(Celsius(0.7 * natural_wet_bulb.get() + 0.3 * globe.get()))
}

/// WBGT as ISO 7243:2017 defines it in the sun: 0.7 natural wet bulb + 0.2 globe + 0.1 air, in degrees Celsius.
///
/// # Errors
/// [`OutOfRange`] as [`wbgt_measured`], and for air outside of 10 to 60 °C.
pub fn wbgt_measured_in_sun(natural_wet_bulb: Celsius, globe: Celsius, air: Celsius) -> Result<Celsius, OutOfRange> {
    let formula = Formula::WbgtMeasuredInSun;
    instruments(formula, natural_wet_bulb, globe)?;
    within(formula, Quantity::Temperature, air.get(), (10.0, 60.0))?;
    Ok(Celsius(0.7 * natural_wet_bulb.get() + 0.2 * globe.get() + 0.1 * air.get()))
}

fn instruments(formula: Formula, natural_wet_bulb: Celsius, globe: Celsius) -> Result<(), OutOfRange> {
    within(formula, Quantity::NaturalWetBulb, natural_wet_bulb.get(), (5.0, 40.0))?;
    within(formula, Quantity::Globe, globe.get(), (20.0, 120.0))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn humid_is_over_half_and_not_half() {
        let sum = |f: f64, rh| HorseSum::new(Fahrenheit(f).celsius(), RelativeHumidity(rh)).expect("in range");
        assert!(!sum(77.0, 77.0).humid());
        assert!(sum(77.0, 77.1).humid());
        assert!(!sum(77.0, 76.9).humid());
    }

    #[test]
    fn the_heat_index_stops_at_the_top_of_its_chart() {
        let top = HEAT_INDEX_TOP.celsius();
        assert_eq!(heat_index(Celsius(50.0), RelativeHumidity(100.0)), Ok(top));
        assert!(heat_index(Fahrenheit(110.0).celsius(), RelativeHumidity(40.0)).expect("in range") < top);
    }

    #[test]
    fn adjustments_begin_and_end_where_the_text_says() {
        assert_eq!(adjustment(95.0, 13.0), 0.0);
        assert!((adjustment(95.0, 12.6) - -0.1).abs() < 1e-12);
        assert!((adjustment(95.0, 9.0) - -1.0).abs() < 1e-12);
        assert_eq!((adjustment(79.9, 5.0), adjustment(112.1, 5.0)), (0.0, 0.0));
        assert_eq!(adjustment(82.0, 85.0), 0.0);
        assert!((adjustment(82.0, 85.5) - 0.05).abs() < 1e-12);
        assert!((adjustment(82.0, 95.0) - 1.0).abs() < 1e-12);
        assert_eq!((adjustment(79.9, 95.0), adjustment(87.1, 95.0)), (0.0, 0.0));
    }

    proptest! {
        // Where the simple form hands over to the regression the NWS text itself steps down: by at most 1.4 °F (0.8 °C)
        // in bone-dry air, in which a human feels least.
        #[test]
        fn warmer_air_never_counts_for_less(t in 5.0..=49.0, rh in 5.0..=100.0, step in 0.05..=1.0) {
            let (cooler, warmer, humidity) = (Celsius(t), Celsius(t + step), RelativeHumidity(rh));
            prop_assert!(HorseSum::new(cooler, humidity)?.get() < HorseSum::new(warmer, humidity)?.get());
            prop_assert!(wbgt_shade(cooler, humidity)? < wbgt_shade(warmer, humidity)?);
            prop_assert!(wbgt_open_air(cooler, humidity)? < wbgt_open_air(warmer, humidity)?);
            prop_assert!(heat_index(cooler, humidity)?.get() <= heat_index(warmer, humidity)?.get() + 0.8);
        }

        #[test]
        fn sun_never_counts_for_less_than_shade(t in 0.0..=50.0, rh in 5.0..=100.0) {
            let (air, humidity) = (Celsius(t), RelativeHumidity(rh));
            prop_assert!(wbgt_shade(air, humidity)? < wbgt_open_air(air, humidity)?);
        }
    }
}
