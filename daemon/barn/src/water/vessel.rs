//! From what a level sensor reads to litres in the bucket.
//!
//! Decides how high the water stands, how much that is, and whether it can be at all. Knows nothing of drinking, of
//! refills or of how much is enough.

use std::f64::consts::PI;
use std::fmt;

use crate::book::{Gauge, Vessel};
use crate::units::{Litres, Millimetres, Percent};

/// What a bucket holds.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Level {
    /// Height of the water over the bottom, 0 to the vessel's height.
    pub height: Millimetres,
    /// Volume, 0 to [`full`].
    pub litres: Litres,
    /// Share of the full volume, 0 to 100. Not of the height: a bucket that widens holds less than half at half height.
    pub percent: Percent,
}

/// A reading from which no level follows.
#[derive(Clone, Copy, PartialEq, Debug)]
pub enum Refused {
    /// The water would stand far under the bottom or far over the top.
    Implausible {
        /// What the sensor read.
        reading: Millimetres,
        /// How high the water would stand.
        height: Millimetres,
        /// The lowest height that is let pass.
        low: Millimetres,
        /// The highest height that is let pass.
        high: Millimetres,
    },
    /// The measures of the vessel are not those of a bucket.
    NotAVessel,
}

/// How far under the bottom or over the top the water may seem to stand, as a share of the vessel's height. A bucket that
/// is filled to its brim and not to its line is about a tenth over (4.5 of 5 gallons); the rest is the sensor's own error.
pub const OVERRUN: f64 = 0.15;

/// The level that a reading means. Within [`OVERRUN`] a height outside of the vessel counts as its bottom or its top.
///
/// # Errors
/// [`Refused::Implausible`] beyond that, and for what is no number; [`Refused::NotAVessel`] where a measure of the vessel
/// is not above zero.
pub fn level(vessel: &Vessel, reading: Millimetres) -> Result<Level, Refused> {
    let full = full(vessel)?;
    let height = match vessel.gauge {
        Gauge::Down { to_bottom } => to_bottom.get() - reading.get(),
        Gauge::Up { at_bottom } => reading.get() - at_bottom.get(),
    };
    let top = vessel.height.get();
    let (low, high) = (-OVERRUN * top, (1.0 + OVERRUN) * top);
    if !(low..=high).contains(&height) {
        let [height, low, high] = [height, low, high].map(Millimetres);
        return Err(Refused::Implausible { reading, height, low, high });
    }
    let height = Millimetres(height.clamp(0.0, top));
    let litres = filled_to(vessel, height);
    Ok(Level { height, litres, percent: Percent(100.0 * litres.get() / full.get()) })
}

/// What the vessel holds when full.
///
/// # Errors
/// [`Refused::NotAVessel`] where a measure of the vessel is not above zero.
pub fn full(vessel: &Vessel) -> Result<Litres, Refused> {
    let measures = [vessel.bottom, vessel.top, vessel.height];
    if measures.iter().all(|measure| measure.get().is_finite() && measure.get() > 0.0) {
        Ok(filled_to(vessel, vessel.height))
    } else {
        Err(Refused::NotAVessel)
    }
}

/// Volume of a frustum of a cone: V = pi h / 12 (a² + a b + b²), with a and b the diameters of its two ends (Heron of
/// Alexandria, Metrica II; any geometry book). The upper end is the surface of the water.
fn filled_to(vessel: &Vessel, height: Millimetres) -> Litres {
    let (bottom, top, h) = (vessel.bottom.get(), vessel.top.get(), height.get());
    let surface = bottom + (top - bottom) * h / vessel.height.get();
    const CUBIC_MILLIMETRES_PER_LITRE: f64 = 1e6;
    let cubic_millimetres = PI * h / 12.0 * (bottom * bottom + bottom * surface + surface * surface);
    Litres(cubic_millimetres / CUBIC_MILLIMETRES_PER_LITRE)
}

impl fmt::Display for Refused {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Refused::Implausible { reading, height, low, high } => {
                write!(
                    f,
                    "a level reading of {reading:.0} puts the water at {height:.0}, outside of {low:.0} to {high:.0}"
                )
            }
            Refused::NotAVessel => {
                f.write_str("the bucket's bottom and top diameter and its height must each be above 0 mm")
            }
        }
    }
}

impl std::error::Error for Refused {}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::units::LITRES_PER_US_GALLON;

    fn up(bottom: f64, top: f64, height: f64) -> Vessel {
        let [bottom, top, height] = [bottom, top, height].map(Millimetres);
        Vessel { bottom, top, height, gauge: Gauge::Up { at_bottom: Millimetres(0.0) } }
    }

    fn check(vessel: &Vessel, reading: f64, litres: f64, percent: f64) {
        let level = level(vessel, Millimetres(reading)).expect("plausible");
        assert!((level.litres.get() - litres).abs() < 0.001, "{reading} mm: {:.4}, not {litres}", level.litres);
        assert!((level.percent.get() - percent).abs() < 0.01, "{reading} mm: {:.3}, not {percent}", level.percent);
    }

    #[test]
    fn a_cylinder_is_its_base_times_its_height() {
        // pi / 4 · 2.8² dm² · 3 dm = 18.4726 L
        let cylinder = up(280.0, 280.0, 300.0);
        check(&cylinder, 300.0, 18.4726, 100.0);
        check(&cylinder, 150.0, 9.2363, 50.0);
        check(&cylinder, 0.0, 0.0, 0.0);
    }

    #[test]
    fn a_frustum_is_a_cone_less_its_tip() {
        // Diameters 2 and 3 dm, 3 dm high: a cone of 9 dm over 3 dm less one of 6 dm over 2 dm, each a third of base
        // times height: pi / 12 · (9 · 9 - 4 · 6) = 57 pi / 12 = 14.9226 L. At half height, 2.5 dm across:
        // pi / 12 · (6.25 · 7.5 - 4 · 6) = 22.875 pi / 12 = 5.9887 L, 40.13 %.
        let bucket = up(200.0, 300.0, 300.0);
        check(&bucket, 300.0, 14.9226, 100.0);
        check(&bucket, 150.0, 5.9887, 40.132);
        // The same the other way up: what is missing above half height is what was there below.
        check(&up(300.0, 200.0, 300.0), 150.0, 14.9226 - 5.9887, 59.868);
    }

    #[test]
    fn a_bucket_of_five_us_gallons() {
        // 260 mm at the bottom, 295 at the top: (2.6² + 2.6 · 2.95 + 2.95²) pi / 12 = 6.05607 L per dm, so
        // 5 gal = 18.92706 L are 312.53 mm.
        check(&up(260.0, 295.0, 312.529), 312.529, 5.0 * LITRES_PER_US_GALLON, 100.0);
    }

    #[test]
    fn the_sensor_looks_down_or_up() {
        let mut bucket = up(280.0, 280.0, 300.0);
        bucket.gauge = Gauge::Up { at_bottom: Millimetres(20.0) };
        check(&bucket, 170.0, 9.2363, 50.0);
        bucket.gauge = Gauge::Down { to_bottom: Millimetres(420.0) };
        check(&bucket, 270.0, 9.2363, 50.0);
        check(&bucket, 420.0, 0.0, 0.0);
        check(&bucket, 120.0, 18.4726, 100.0);
    }

    #[test]
    fn a_little_beyond_is_full_or_empty_and_more_is_refused() {
        let bucket = up(280.0, 280.0, 300.0);
        check(&bucket, 345.0, 18.4726, 100.0);
        check(&bucket, -45.0, 0.0, 0.0);
        for reading in [345.1, -45.1, 9999.0, f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
            assert!(level(&bucket, Millimetres(reading)).is_err(), "{reading} mm went through");
        }
        assert_eq!(
            level(&bucket, Millimetres(400.0)).expect_err("far over the top").to_string(),
            "a level reading of 400 mm puts the water at 400 mm, outside of -45 mm to 345 mm"
        );
    }

    #[test]
    fn what_is_no_bucket_is_refused() {
        for vessel in [up(0.0, 280.0, 300.0), up(280.0, -1.0, 300.0), up(280.0, 280.0, 0.0), up(280.0, f64::NAN, 300.0)]
        {
            assert_eq!(level(&vessel, Millimetres(0.0)), Err(Refused::NotAVessel));
        }
    }

    proptest! {
        #[test]
        fn higher_water_is_more_water(
            (bottom, top) in (150.0..400.0, 150.0..400.0),
            height in 150.0..500.0,
            (a, b) in (0.0..1.0, 0.0..1.0),
        ) {
            let vessel = up(bottom, top, height);
            let at = |share: f64| level(&vessel, Millimetres(share * height));
            let (lower, higher) = (at(f64::min(a, b))?, at(f64::max(a, b))?);
            prop_assert!(lower.litres <= higher.litres && lower.percent <= higher.percent);
            prop_assert!(higher.litres.get() <= full(&vessel)?.get() + 1e-9);
            // Never more than the cylinder of the wider end, never less than that of the narrower.
            let cylinder = |across: f64| PI / 4.0 * across * across * higher.height.get() / 1e6;
            let litres = higher.litres.get();
            prop_assert!(cylinder(bottom.min(top)) <= litres + 1e-9 && litres <= cylinder(bottom.max(top)) + 1e-9);
        }
    }
}
