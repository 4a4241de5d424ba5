//! From what a level sensor reads to litres in the bucket.
//!
//! Decides how high the water stands, how much that is, and whether it can be at all. Knows nothing of drinking, of
//! refills or of how much is enough.

use std::f64::consts::PI;
use std::fmt;

use crate::book::{Gauge, Shape, Vessel};
use crate::units::{Litres, Millimetres, Percent};

/// What a vessel holds.
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
    /// The measures of the vessel are not those of a vessel.
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
    Ok(at(vessel, height(vessel, reading)?))
}

/// How high the water stands over the bottom by a reading, in millimetres; up to [`OVERRUN`] under or over the vessel, as
/// whoever looks for changes must not lose them at its ends.
///
/// # Errors
/// As [`level`].
pub fn height(vessel: &Vessel, reading: Millimetres) -> Result<Millimetres, Refused> {
    full(vessel)?;
    let height = match vessel.gauge {
        Gauge::Down { to_bottom } => to_bottom.get() - reading.get(),
        Gauge::Up { at_bottom } => reading.get() - at_bottom.get(),
    };
    let top = top(&vessel.shape).get();
    let (low, high) = (-OVERRUN * top, (1.0 + OVERRUN) * top);
    if (low..=high).contains(&height) {
        Ok(Millimetres(height))
    } else {
        let [height, low, high] = [height, low, high].map(Millimetres);
        Err(Refused::Implausible { reading, height, low, high })
    }
}

/// What is in it at a height; under the bottom nothing, over the top what it holds when full.
pub fn at(vessel: &Vessel, height: Millimetres) -> Level {
    let top = top(&vessel.shape);
    let height = Millimetres(height.get().clamp(0.0, top.get().max(0.0)));
    let litres = filled_to(&vessel.shape, height);
    let full = filled_to(&vessel.shape, top).get();
    Level { height, litres, percent: Percent(if full > 0.0 { 100.0 * litres.get() / full } else { 0.0 }) }
}

/// What the vessel holds when full.
///
/// # Errors
/// [`Refused::NotAVessel`] where a measure of the vessel is not above zero, or they contradict each other.
pub fn full(vessel: &Vessel) -> Result<Litres, Refused> {
    if is_vessel(&vessel.shape) { Ok(filled_to(&vessel.shape, top(&vessel.shape))) } else { Err(Refused::NotAVessel) }
}

/// The height to which it is filled.
pub fn top(shape: &Shape) -> Millimetres {
    match shape {
        Shape::FlatBack { height, .. } | Shape::Round { height, .. } | Shape::Trough { height, .. } => *height,
        Shape::Drum { across, .. } => *across,
        Shape::Table { table } => table.last().map_or(Millimetres(0.0), |(height, _)| *height),
    }
}

fn is_vessel(shape: &Shape) -> bool {
    let some = |measures: &[Millimetres]| measures.iter().all(|m| m.get().is_finite() && m.get() > 0.0);
    match shape {
        Shape::Round { bottom, top, height } => some(&[*bottom, *top, *height]),
        Shape::FlatBack { bottom, top, depth, height } => some(&[*bottom, *top, *depth, *height]) && depth <= top,
        Shape::Trough { bottom_length, bottom_width, top_length, top_width, height } => {
            some(&[*bottom_length, *bottom_width, *top_length, *top_width, *height])
        }
        Shape::Drum { across, long } => some(&[*across, *long]),
        Shape::Table { table } => {
            let number = |(height, litres): &(Millimetres, Litres)| {
                height.get().is_finite() && litres.get().is_finite() && height.get() >= 0.0 && litres.get() >= 0.0
            };
            let rises = |pair: &[(Millimetres, Litres)]| pair[0].0 < pair[1].0 && pair[0].1 < pair[1].1;
            table.len() >= 2 && table.iter().all(number) && table.windows(2).all(rises)
        }
    }
}

const CUBIC_MILLIMETRES_PER_LITRE: f64 = 1e6;

/// Volume under a height within the vessel.
fn filled_to(shape: &Shape, height: Millimetres) -> Litres {
    let h = height.get();
    let cubic_millimetres = match shape {
        Shape::Round { bottom, top, height } => frustum(bottom.get(), top.get(), h, height.get()),
        // Each slice is the same share of its circle, all the way up.
        Shape::FlatBack { bottom, top, depth, height } => {
            cut_circle(depth.get() / top.get()) * frustum(bottom.get(), top.get(), h, height.get())
        }
        Shape::Trough { bottom_length, bottom_width, top_length, top_width, height } => {
            let lean = |bottom: Millimetres, top: Millimetres| {
                (bottom.get(), bottom.get() + (top.get() - bottom.get()) * h / height.get())
            };
            let (length, width) = (lean(*bottom_length, *top_length), lean(*bottom_width, *top_width));
            prismatoid(length, width, h)
        }
        Shape::Drum { across, long } => {
            PI / 4.0 * across.get() * across.get() * cut_circle(h / across.get()) * long.get()
        }
        Shape::Table { table } => return between(table, height),
    };
    Litres(cubic_millimetres / CUBIC_MILLIMETRES_PER_LITRE)
}

/// Volume of a frustum of a cone: V = pi h / 12 (a² + a b + b²), with a and b the diameters of its two ends (Heron of
/// Alexandria, Metrica II; any geometry book). The upper end is the surface of the water.
fn frustum(bottom: f64, top: f64, h: f64, height: f64) -> f64 {
    let surface = bottom + (top - bottom) * h / height;
    PI * h / 12.0 * (bottom * bottom + bottom * surface + surface * surface)
}

/// The share of a circle's area on one side of a chord, which is so far from the edge as a share of the diameter:
/// (acos q - q sqrt(1 - q²)) / pi with q = 1 - 2 share (area of a circular segment; any geometry book).
fn cut_circle(share: f64) -> f64 {
    let q = (1.0 - 2.0 * share).clamp(-1.0, 1.0);
    (q.acos() - q * (1.0 - q * q).sqrt()) / PI
}

/// Volume between two rectangles: h / 6 times lower, upper and four times middle face (prismatoid formula; any geometry
/// book). Each pair is a side below and above.
fn prismatoid(length: (f64, f64), width: (f64, f64), h: f64) -> f64 {
    let middle = f64::midpoint(length.0, length.1) * f64::midpoint(width.0, width.1);
    h / 6.0 * (length.0 * width.0 + 4.0 * middle + length.1 * width.1)
}

/// What a measured table says: a straight line between two of its rows. Under its first row there is what that has at
/// the most, in proportion.
fn between(table: &[(Millimetres, Litres)], height: Millimetres) -> Litres {
    let mut below = (0.0, 0.0);
    for (at, litres) in table {
        let (at, litres) = (at.get(), litres.get());
        if height.get() <= at {
            let share = if at > below.0 { (height.get() - below.0) / (at - below.0) } else { 1.0 };
            return Litres(below.1 + share * (litres - below.1));
        }
        below = (at, litres);
    }
    Litres(below.1)
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
                f.write_str("the measures of a vessel must each be above 0 mm and fit each other; a table must rise in both columns")
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
        of(Shape::Round { bottom, top, height })
    }

    fn of(shape: Shape) -> Vessel {
        Vessel { shape, gauge: Gauge::Up { at_bottom: Millimetres(0.0) } }
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
    fn a_flat_back_is_a_round_one_less_a_slice() {
        // Cut through the middle it is half; with nothing cut off, whole. At three quarters of the diameter what is cut off
        // is a segment of half a radius, 1/3 - sqrt(3)/(4 pi) = 0.19550 of the circle.
        let flat = |depth| {
            let [bottom, top, depth, height] = [280.0, 280.0, depth, 300.0].map(Millimetres);
            of(Shape::FlatBack { bottom, top, depth, height })
        };
        check(&flat(280.0), 300.0, 18.4726, 100.0);
        check(&flat(140.0), 300.0, 9.2363, 100.0);
        check(&flat(210.0), 300.0, 18.4726 * (1.0 - 0.195_501), 100.0);
        check(&flat(210.0), 150.0, 9.2363 * (1.0 - 0.195_501), 50.0);
    }

    #[test]
    fn a_trough_is_its_middle_times_its_height() {
        let trough = |bottom: (f64, f64), top: (f64, f64)| {
            let [bottom_length, bottom_width, top_length, top_width] =
                [bottom.0, bottom.1, top.0, top.1].map(Millimetres);
            of(Shape::Trough { bottom_length, bottom_width, top_length, top_width, height: Millimetres(600.0) })
        };
        // Straight walls: 12 · 5 · 6 dm.
        check(&trough((1200.0, 500.0), (1200.0, 500.0)), 600.0, 360.0, 100.0);
        check(&trough((1200.0, 500.0), (1200.0, 500.0)), 200.0, 120.0, 33.333);
        // A square pyramid of 6 dm at the foot and 9 dm high, stood on its head and cut at 3 dm: 1/3 (36 · 9 - 4 · 3) = 104.
        check(&trough((200.0, 200.0), (600.0, 600.0)), 600.0, 104.0, 100.0);
        // Only the long walls lean: a prism of trapezia, (4 + 6) / 2 · 6 · 10 dm.
        check(&trough((1000.0, 400.0), (1000.0, 600.0)), 600.0, 300.0, 100.0);
    }

    #[test]
    fn a_drum_on_its_side() {
        // 6 dm across and 9 dm long: pi / 4 · 36 · 9 = 254.469 L. Half full at half height, and at a quarter of it the
        // segment of half a radius, 0.195501 of the circle.
        let drum = of(Shape::Drum { across: Millimetres(600.0), long: Millimetres(900.0) });
        check(&drum, 600.0, 254.469, 100.0);
        check(&drum, 300.0, 127.2345, 50.0);
        check(&drum, 150.0, 254.469_005 * 0.195_501_1, 19.550);
        check(&drum, 450.0, 254.469_005 * (1.0 - 0.195_501_1), 80.450);
    }

    #[test]
    fn a_table_goes_straight_from_row_to_row() {
        let rows = |rows: &[(f64, f64)]| {
            let table = rows.iter().map(|(level, litres)| (Millimetres(*level), Litres(*litres))).collect();
            of(Shape::Table { table })
        };
        let table = rows(&[(0.0, 0.5), (100.0, 4.5), (250.0, 16.0)]);
        check(&table, 0.0, 0.5, 3.125);
        check(&table, 50.0, 2.5, 15.625);
        check(&table, 175.0, 10.25, 64.0625);
        check(&table, 250.0, 16.0, 100.0);
        // A first row that is not the bottom: down to it in proportion.
        check(&rows(&[(100.0, 5.0), (200.0, 12.0)]), 40.0, 2.0, 16.667);
        for wrong in
            [&[(0.0, 1.0)][..], &[(0.0, 1.0), (10.0, 1.0)], &[(10.0, 1.0), (10.0, 2.0)], &[(0.0, f64::NAN), (9.0, 2.0)]]
        {
            assert_eq!(full(&rows(wrong)), Err(Refused::NotAVessel), "{wrong:?}");
        }
    }

    #[test]
    fn a_round_vessel_is_read_from_books_that_knew_no_other() {
        let old = r#"{"bottom":260.0,"top":300.0,"height":305.0,"gauge":{"down":{"to_bottom":420.0}}}"#;
        let vessel: Vessel = serde_json::from_str(old).expect("an old book");
        let [bottom, top, height] = [260.0, 300.0, 305.0].map(Millimetres);
        let gauge = Gauge::Down { to_bottom: Millimetres(420.0) };
        assert_eq!(vessel, Vessel { shape: Shape::Round { bottom, top, height }, gauge });
        assert_eq!(serde_json::to_string(&vessel).expect("it can be written"), old);
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
