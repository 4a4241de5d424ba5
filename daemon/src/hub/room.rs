//! How much room is left on the disk that holds the journal. The barn is told what matters to it, and not each byte.

use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use bellmare_barn::input::Room;
use tracing::debug;

/// It is measured so often.
const MEASURE_EVERY: Duration = Duration::from_secs(60);
/// While more than this is free it is nobody's business how much.
const PLENTY: u64 = 8 << 30;

/// Measures the disk now and then.
#[derive(Debug)]
pub struct Gauge {
    folder: PathBuf,
    measured: Option<Instant>,
    told: Option<Room>,
}

impl Gauge {
    /// Of the disk that holds this folder.
    pub fn new(folder: &Path) -> Self {
        Self { folder: folder.to_owned(), measured: None, told: None }
    }

    /// What is to be told, where it is time and something has changed.
    pub fn look(&mut self) -> Option<Room> {
        if self.measured.is_some_and(|at| at.elapsed() < MEASURE_EVERY) {
            return None;
        }
        self.measured = Some(Instant::now());
        match rustix::fs::statvfs(&self.folder) {
            Ok(disk) => {
                let bytes = |blocks: u64| blocks.saturating_mul(disk.f_frsize);
                let room = Room { free: bytes(disk.f_bavail), of: bytes(disk.f_blocks) };
                let news = is_news(self.told, room);
                news.then(|| *self.told.insert(room))
            }
            Err(why) => {
                debug!(%why, folder = %self.folder.display(), "the disk can not be measured");
                None
            }
        }
    }
}

/// Whether a change by a twentieth or more may matter to anybody.
fn is_news(told: Option<Room>, room: Room) -> bool {
    match told {
        None => room.free < PLENTY,
        Some(told) => told.free.min(room.free) < PLENTY && told.free.abs_diff(room.free) > told.free / 20,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_matters_is_told_and_nothing_else() {
        let room = |free| Room { free, of: 64 << 30 };
        // told before, measured now, news
        for (told, now, news) in [
            (None, room(PLENTY), false),
            (None, room(PLENTY - 1), true),
            (Some(room(1000)), room(960), false),
            (Some(room(1000)), room(940), true),
            (Some(room(1000)), room(1060), true),
            (Some(room(1000)), room(PLENTY), true),
            (Some(room(2 * PLENTY)), room(3 * PLENTY), false),
        ] {
            assert_eq!(is_news(told, now), news, "{told:?} {now:?}");
        }
    }

    #[test]
    fn a_real_disk_is_measured_once_a_minute() {
        let folder = tempfile::tempdir().expect("a folder for the test");
        let mut gauge = Gauge::new(folder.path());
        let first = gauge.look();
        assert!(first.is_none_or(|room| room.free <= room.of), "{first:?}");
        assert!(gauge.measured.is_some());
        assert_eq!(gauge.look(), None);
    }
}
