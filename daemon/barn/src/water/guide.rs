//! How much a horse of its weight drinks on such a day, by the books. A guide beside its own habit: grazing horses drink far
//! less, horses in work and on dry hay more.

use crate::units::{Celsius, Kilograms, Litres};

/// Litres a day for each 100 kg at 20 °C and below, at rest in a stall. A hoof-care practice's page gives 5 L for 100 kg;
/// NRC 2007, "Nutrient Requirements of Horses", the same for maintenance (from memory).
const COOL: f64 = 5.0;
/// At 30 °C: some 48 L for 500 kg at rest. NRC 2007, from memory.
const HOT: f64 = 9.6;

/// Litres a day of a horse at rest. From 20 to 30 °C in proportion; held at both ends, as no book that we know goes on.
pub fn litres_a_day(weight: Kilograms, air: Celsius) -> Litres {
    let share = ((air.get() - 20.0) / 10.0).clamp(0.0, 1.0);
    Litres(weight.get() / 100.0 * (COOL + share * (HOT - COOL)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn five_hundred_kilograms_as_in_the_books() {
        // NRC 2007 (from memory): 25 L at 20 °C, some 48 L at 30 °C, at rest.
        let litres = |celsius| litres_a_day(Kilograms(500.0), Celsius(celsius)).get();
        assert!((litres(20.0) - 25.0).abs() < 0.01 && (litres(-5.0) - 25.0).abs() < 0.01);
        assert!((litres(30.0) - 48.0).abs() < 0.01 && (litres(41.0) - 48.0).abs() < 0.01);
        // A clinic's page: 1,100 lb drink 6 to 10 US gallons a day in cool weather.
        let gallons = litres_a_day(Kilograms(499.0), Celsius(15.0)).us_gallons();
        assert!((6.0..=10.0).contains(&gallons), "{gallons}");
    }
}
