//! Chance that comes out the same each time.

use std::f64::consts::TAU;

/// A small generator of numbers that look random: SplitMix64, after Steele, Lea and Flood 2014. The same seed gives the same
/// numbers.
#[derive(Clone, Debug)]
pub struct Dice(u64);

impl Dice {
    /// From any seed.
    pub fn new(seed: u64) -> Self {
        Self(seed)
    }

    /// The next number.
    pub fn roll(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// A number under `end`, which is over 0.
    pub fn under(&mut self, end: usize) -> usize {
        (self.roll() % end as u64) as usize
    }

    /// A number from 0 to 1, evenly.
    pub fn share(&mut self) -> f64 {
        // 53 bits make every double in 0..1 that is a multiple of 2^-53.
        (self.roll() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// A number within a range, evenly.
    pub fn within(&mut self, range: std::ops::Range<f64>) -> f64 {
        range.start + (range.end - range.start) * self.share()
    }

    /// True so often.
    pub fn happens(&mut self, share: f64) -> bool {
        self.share() < share
    }

    /// Normally distributed about zero, with that standard deviation (Box and Muller 1958).
    pub fn normal(&mut self, deviation: f64) -> f64 {
        let radius = (-2.0 * (1.0 - self.share()).ln()).sqrt();
        deviation * radius * (TAU * self.share()).cos()
    }
}
