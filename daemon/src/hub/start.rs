//! How a barn comes back: from the last snapshot that can be read, and the inputs kept after it. A snapshot is a cache: one
//! that can not be read, or that belongs to another version, costs time and nothing else.

use std::ops::ControlFlow;

use bellmare_barn::barn::Barn;
use tracing::{info, warn};

use super::deliveries::Deliveries;
use crate::journal::{Journal, JournalError};

/// Snapshots of another format are not looked at. Count up when a change of the barn's state would misread an old one.
pub const SNAPSHOT_FORMAT: u32 = 9;

/// The barn as it was, and what the loop needs to go on from there.
#[derive(Debug)]
pub struct Restored {
    /// The barn.
    pub barn: Barn,
    /// The journal's last entry.
    pub last_seq: u64,
    /// Messages taken.
    pub deliveries: Deliveries,
    /// Entries that were replayed.
    pub replayed: u64,
}

/// Brings the barn back.
///
/// # Errors
/// Where the journal can not be read.
pub fn restore(journal: &Journal) -> Result<Restored, JournalError> {
    let (after, mut barn) = match journal.latest_snapshot(SNAPSHOT_FORMAT)? {
        Some((seq, bytes)) if seq <= journal.last_seq() => match serde_json::from_slice(&bytes) {
            Ok(barn) => (seq, barn),
            Err(why) => {
                warn!(%why, seq, "the snapshot can not be read; replaying the whole journal");
                (0, Barn::new())
            }
        },
        Some((seq, _)) => {
            warn!(seq, last = journal.last_seq(), "the snapshot is ahead of the journal; replaying the whole journal");
            (0, Barn::new())
        }
        None => (0, Barn::new()),
    };
    let replay = journal.replay(after, |entry| {
        // What it ordered was carried out when it happened.
        barn.step(entry.now, entry.input);
        ControlFlow::Continue(())
    })?;
    if replay.missing + replay.unreadable > 0 {
        warn!(replay.missing, replay.unreadable, first = ?replay.first_unreadable, "the journal has gaps");
    }
    info!(snapshot = after, replayed = replay.read, "the barn is as it was");
    Ok(Restored {
        barn,
        last_seq: journal.last_seq(),
        deliveries: Deliveries::of(journal.recent_deliveries(Deliveries::LOOK_BACK)?),
        replayed: replay.read,
    })
}
