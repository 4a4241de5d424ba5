//! The journal of facts: every input of the barn, in the order in which the barn took it, in one SQLite file. It is the
//! truth. Snapshots of the barn lie beside it as a cache, which can always be thrown away and made again by replay.
//!
//! - An entry is kept once [`Journal::append`] has returned `Ok`: its transaction is synced to the disk (WAL,
//!   `synchronous=FULL`). Entries of one append are there all or none, after a power cut too.
//! - Each opening is a new *boot*. A running time ([`Mono`](bellmare_barn::time::Mono)) goes on over boots: the hub
//!   continues from [`Opening::last`].
//! - A *delivery* names the message by which an entry came, so that one that is sent again is known.
//!
//! Must not know: what inputs mean. It keeps them, and gives them back the same to the bit.

mod beside;
mod copies;
mod error;
mod file;
mod open;
pub mod outbox;
mod replay;
mod row;
mod schema;
#[cfg(test)]
mod tests;
mod thread;

use std::path::PathBuf;
use std::time::Duration;

use bellmare_barn::input::Input;
use bellmare_barn::time::Now;

pub use self::beside::Beside;
pub use self::error::JournalError;
pub use self::file::Journal;
pub use self::thread::{Keeper, NotKept};

/// Names the message by which an entry came: packet id and digest. A message that is delivered again has the same.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub struct Delivery(pub i64);

impl Delivery {
    /// Bits below the packet id. The highest of them is set where a client of the hub's own broker sent the message.
    const BITS: u32 = 48;
    const OF_CLIENT: u64 = 1 << (Self::BITS - 1);
    /// Bits of the digest where the client needs some too.
    const CLIENT_DIGEST_BITS: u32 = 24;

    /// A message that a broker sent the hub under a packet id, by a digest of what it says; its lower 47 bits count.
    pub fn of_session(packet_id: u16, digest: u64) -> Self {
        Self::new(packet_id, digest & (Self::OF_CLIENT - 1))
    }

    /// A message of a client of the hub's own broker: 23 bits for who, 24 for what.
    pub fn of_client(client: &str, packet_id: u16, digest: u64) -> Self {
        // FNV-1a: the same for ever, which the standard library's is not.
        let hash = client
            .bytes()
            .fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| (hash ^ u64::from(byte)).wrapping_mul(0x100_0000_01b3));
        let who = (hash ^ hash >> 32) << Self::CLIENT_DIGEST_BITS & (Self::OF_CLIENT - 1);
        let what = digest & ((1 << Self::CLIENT_DIGEST_BITS) - 1);
        Self::new(packet_id, Self::OF_CLIENT | who | what)
    }

    fn new(packet_id: u16, below: u64) -> Self {
        Self((u64::from(packet_id) << Self::BITS | below).cast_signed())
    }

    /// The packet id under which it came.
    pub fn packet_id(self) -> u16 {
        (self.0.cast_unsigned() >> Self::BITS) as u16
    }

    /// A number for the client that sent it, where that was one of the hub's own broker.
    pub fn client(self) -> Option<u32> {
        let below = self.0.cast_unsigned() & (2 * Self::OF_CLIENT - 1);
        let who = (below & (Self::OF_CLIENT - 1)) >> Self::CLIENT_DIGEST_BITS;
        (below & Self::OF_CLIENT != 0).then_some(u32::try_from(who).unwrap_or(u32::MAX))
    }
}

/// One input as it was taken.
#[derive(Clone, PartialEq, Debug)]
pub struct Entry {
    /// Its place: 1 for the first of the file, then one more each.
    pub seq: u64,
    /// In which boot it was taken.
    pub boot: u32,
    /// When it was taken.
    pub now: Now,
    /// By which message it came, where it came by one.
    pub delivery: Option<Delivery>,
    /// What happened.
    pub input: Input,
}

/// When SQLite waits for the disk.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub enum Synchronous {
    /// At each commit. The only one that keeps what the journal promises.
    #[default]
    Full,
    /// At checkpoints alone: a power cut takes commits back. For tests to show that they would notice.
    Normal,
    /// Never: a power cut may ruin the file. For tests to show that they would notice.
    Off,
}

impl Synchronous {
    fn word(self) -> &'static str {
        match self {
            Self::Full => "FULL",
            Self::Normal => "NORMAL",
            Self::Off => "OFF",
        }
    }
}

/// How to open a journal. The default is right for a barn.
#[derive(Clone, Debug)]
pub struct Options {
    /// When to wait for the disk.
    pub synchronous: Synchronous,
    /// SQLite's name of the file system to use, where it is not the system's own.
    pub vfs: Option<String>,
    /// Sleep so long in each commit, to try the hub with a slow card.
    pub commit_delay: Duration,
    /// How long to wait for another program to let go of the file.
    pub lock_wait: Duration,
    /// Look over the whole file on opening where it is no larger. Past it, damage is found as it is read.
    pub check_up_to_bytes: u64,
    /// Bring the log into the file once it has so many pages of 4 KiB. Fewer write the same pages more often.
    pub checkpoint_pages: u32,
}

impl Default for Options {
    fn default() -> Self {
        Self {
            synchronous: Synchronous::Full,
            vfs: None,
            commit_delay: Duration::ZERO,
            lock_wait: Duration::from_secs(2),
            // A card reads some 20 MiB a second: the check then takes 3 s of the 10 s in which a hub should be there.
            check_up_to_bytes: 64 << 20,
            checkpoint_pages: 1000,
        }
    }
}

/// What was found on opening.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Found {
    /// No file, or an empty one: this is a new journal.
    Nothing,
    /// A journal.
    Kept,
    /// A damaged file. It was moved aside, whole, and a new journal begun: somebody should be told.
    Damaged {
        /// Where it is now.
        set_aside: PathBuf,
        /// What was wrong with it.
        why: String,
    },
}

/// How the journal opened.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Opening {
    /// The number of this boot: 1 for the first of the file, greater each time.
    pub boot: u32,
    /// When the last entry was taken; `None` in a new file.
    pub last: Option<Now>,
    /// What was there.
    pub found: Found,
}

/// What a replay met.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct Replay {
    /// Entries given.
    pub read: u64,
    /// Entries that should be there and are not.
    pub missing: u64,
    /// Entries that are there, and that this version can not read.
    pub unreadable: u64,
    /// The first of these, and why.
    pub first_unreadable: Option<(u64, String)>,
}

/// Numbers for the metrics.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct Counts {
    /// Entries in the file.
    pub entries: u64,
    /// Size of the file, its log left out.
    pub file_bytes: u64,
    /// Size of its log.
    pub log_bytes: u64,
    /// Commits since opening.
    pub commits: u64,
    /// Appends that failed since opening.
    pub failed_appends: u64,
    /// Snapshots kept since opening.
    pub snapshots: u64,
}
