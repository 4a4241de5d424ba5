//! Horses that drink, hands that fill, sensors that look into buckets. It knows litres and turns them into what a sensor would
//! measure, with noise and with faults.

use bellmare_barn::book::{Gauge, Vessel};
use bellmare_barn::units::{Litres, Millimetres};
use bellmare_barn::water::vessel;

use super::chance::Chance;

/// A horse drinks some 25 to 45 litres on a summer day; common practice.
const LITRES_AN_HOUR: std::ops::Range<f64> = 1.0..1.9;
/// A bout takes a minute or two and some litres.
const BOUT_LITRES: std::ops::Range<f64> = 1.2..3.6;
/// What an ultrasonic sensor over a bucket is off by, either way.
const NOISE_MM: f64 = 1.2;

/// A bucket, the horse that drinks from it, and its sensor.
pub(super) struct Bucket {
    vessel: Vessel,
    litres: f64,
    thirst: f64,
    next_bout: f64,
    /// Litres that run out in an hour.
    leak: f64,
    chance: Chance,
}

impl Bucket {
    /// A bucket that is filled to a share of its volume, 0 to 1.
    pub(super) fn new(vessel: Vessel, share: f64, mut chance: Chance) -> Self {
        let thirst = chance.within(LITRES_AN_HOUR);
        let next_bout = chance.within(BOUT_LITRES);
        let mut bucket = Self { vessel, litres: 0.0, thirst, next_bout, leak: 0.0, chance };
        bucket.litres = bucket.full() * share;
        // Not everybody is thirsty at once.
        bucket.next_bout *= bucket.chance.within(0.3..1.0);
        bucket
    }

    /// An hour's share passes: the horse gets thirsty and, once enough, drinks.
    pub(super) fn pass(&mut self, hours: f64) {
        self.litres = (self.litres - self.leak * hours).max(0.0);
        self.next_bout -= self.thirst * hours;
        if self.next_bout <= 0.0 {
            let bout = self.chance.within(BOUT_LITRES);
            self.litres = (self.litres - bout).max(0.0);
            self.next_bout += bout;
        }
    }

    /// A crack that loses so many litres an hour; none mends it.
    pub(super) fn leak(&mut self, litres_an_hour: f64) {
        self.leak = litres_an_hour;
    }

    /// Its horse does not drink today.
    pub(super) fn leave_alone(&mut self) {
        self.thirst = 0.0;
        self.next_bout = f64::INFINITY;
    }

    /// Somebody with a hose.
    pub(super) fn fill(&mut self) {
        self.litres = self.full() * self.chance.within(0.93..0.99);
    }

    /// The horse puts its foot in it.
    pub(super) fn spill(&mut self) {
        self.litres = 0.0;
    }

    /// How full it is, 0 to 1.
    pub(super) fn share(&self) -> f64 {
        self.litres / self.full()
    }

    /// What its sensor measures, in millimetres.
    pub(super) fn measure(&mut self) -> f64 {
        let height = self.height() + self.chance.within(-NOISE_MM..NOISE_MM);
        match self.vessel.gauge {
            Gauge::Down { to_bottom } => to_bottom.get() - height,
            Gauge::Up { at_bottom } => at_bottom.get() + height,
        }
    }

    fn full(&self) -> f64 {
        vessel::full(&self.vessel).map_or(0.0, Litres::get)
    }

    fn volume_to(&self, height: f64) -> f64 {
        vessel::at(&self.vessel, Millimetres(height)).litres.get()
    }

    fn height(&self) -> f64 {
        let (mut low, mut high) = (0.0, vessel::top(&self.vessel.shape).get());
        for _ in 0..24 {
            let middle = f64::midpoint(low, high);
            if self.volume_to(middle) < self.litres { low = middle } else { high = middle }
        }
        low
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use bellmare_barn::book::Shape;

    #[test]
    fn the_sensor_sees_what_is_in_the_bucket() {
        let [bottom, top, height] = [260.0, 300.0, 305.0].map(Millimetres);
        let shape = Shape::Round { bottom, top, height };
        let vessel = Vessel { shape, gauge: Gauge::Down { to_bottom: Millimetres(400.0) } };
        let mut bucket = Bucket::new(vessel, 1.0, Chance::new(1));
        assert!((bucket.measure() - 95.0).abs() < 2.0, "full: 400 mm less 305 mm");
        bucket.spill();
        assert!((bucket.measure() - 400.0).abs() < 2.0);
        for _ in 0..600 {
            bucket.fill();
            bucket.pass(0.1);
            assert!((0.0..=1.0).contains(&bucket.share()));
        }
    }
}
