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

pub use crate::dice::Dice;
pub use disk::{Disk, Fault, Files, Op};
pub use platter::{Honesty, Platter};
pub use vfs::Vfs;

/// The disk writes sectors of so many bytes, and tears between and within them.
pub const SECTOR: usize = 512;
