//! Chance that comes out the same each time: SplitMix64, after Steele, Lea and Flood 2014. The same day and effort give the
//! same plan, on every machine.

/// A seeded sequence.
pub(in crate::plan) struct Chance(u64);

impl Chance {
    pub(in crate::plan) fn new(seed: u64) -> Self {
        Self(seed)
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        mixed(self.0)
    }

    /// 0 to `end` - 1, as good as evenly; 0 where `end` is 0.
    pub(in crate::plan) fn below(&mut self, end: usize) -> usize {
        // The high half of the product: no remainder, and no bias that a search would notice.
        ((u128::from(self.next()) * end as u128) >> 64) as usize
    }

    /// A whole number whose chance falls to 1/e for each `mean` that it is greater; `mean` in 1,024ths. Made of whole numbers only,
    /// the logarithm as a line from each power of two to the next.
    pub(in crate::plan) fn exponential(&mut self, mean: u64) -> u64 {
        let bits = self.next() | 1;
        let halvings = u64::from(bits.leading_zeros());
        let beyond = (bits << halvings) >> 53 & 1023;
        let halvings = (halvings + 1) * 1024 - beyond;
        // The natural logarithm of two is 710 1,024ths.
        (mean * halvings * 710) >> 30
    }

    /// True once in `times`.
    pub(in crate::plan) fn once_in(&mut self, times: usize) -> bool {
        self.below(times) == 0
    }

    pub(in crate::plan) fn shuffle<T>(&mut self, items: &mut [T]) {
        for i in (1..items.len()).rev() {
            items.swap(i, self.below(i + 1));
        }
    }
}

/// As many bits, each of which hangs on all that were given.
pub(super) fn mixed(bits: u64) -> u64 {
    let mut z = bits;
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}
