//! Chance that comes out the same each time: the demo's day is the same day for everybody who looks at it.
//! SplitMix64, after Steele, Lea and Flood 2014.

/// A seeded sequence.
#[derive(Clone, Debug)]
pub(super) struct Chance(u64);

impl Chance {
    pub(super) fn new(seed: u64) -> Self {
        Self(seed)
    }

    /// A number within a range, evenly.
    pub(super) fn within(&mut self, range: std::ops::Range<f64>) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^= z >> 31;
        // 53 bits make every double in 0..1 that is a multiple of 2^-53.
        let unit = (z >> 11) as f64 / (1_u64 << 53) as f64;
        range.start + (range.end - range.start) * unit
    }
}
