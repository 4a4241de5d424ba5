//! A disk whose power can be cut. SQLite runs on it unchanged; what is on it after a cut is then worked out for as many
//! cuts, and as many kinds of damage, as one likes.
//!
//! - [`Disk`] is the disk while the power is on, with the system's cache over it: SQLite sees all that it wrote. It notes
//!   each operation, and can fail one, or fill up.
//! - [`Platter`] is what the disk has really kept. It is fed the same operations up to a cut, and gives the files that
//!   a start after the cut would find: what was synced is there, the rest is lost, kept, torn or out of order, by seed.
//! - [`Vfs`] lets SQLite use a disk. It is the only module with `unsafe`.

mod disk;
mod platter;
mod vfs;

pub use disk::{Disk, Fault, Files, Op};
pub use platter::{Honesty, Platter};
pub use vfs::Vfs;

/// The disk writes sectors of so many bytes, and tears between and within them.
pub const SECTOR: usize = 512;

/// A small generator of numbers that look random: SplitMix64. The same seed gives the same numbers.
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
}
