//! What staff have set the clock to, kept while the board runs. It is held beside the board's own running time and belongs to
//! one boot: after another nobody knows how long the board was off, and a clock that stood still is worse than none.

use std::fs;
use std::io;
use std::path::Path;

use bellmare_barn::time::Wall;
use serde::{Deserialize, Serialize};

/// The file's name in the data folder.
pub(super) const FILE: &str = "clock-by-hand.json";
/// Names this boot.
const BOOT_ID: &str = "/proc/sys/kernel/random/boot_id";
/// Seconds since then, those of sleep among them.
const UPTIME: &str = "/proc/uptime";

#[derive(Serialize, Deserialize)]
struct Kept {
    /// In which boot.
    boot: String,
    /// What the wall clock said at the board's start, in milliseconds since 1970.
    at_boot_ms: i64,
}

/// What the wall clock says now by what was kept; none where that was in another boot, or nothing was.
pub(super) fn read(file: &Path) -> Option<Wall> {
    let kept: Kept = serde_json::from_slice(&fs::read(file).ok()?).ok()?;
    let (boot, up_ms) = since_boot().ok()?;
    (kept.boot == boot).then(|| Wall(kept.at_boot_ms).plus(up_ms))
}

/// Keeps what the wall clock says now. A power cut ends the boot that it belongs to: it need not be synced.
pub(super) fn write(file: &Path, now: Wall) -> io::Result<()> {
    let (boot, up_ms) = since_boot()?;
    let kept = serde_json::to_vec(&Kept { boot, at_boot_ms: now.plus(-up_ms).0 })?;
    let part = file.with_extension("part");
    fs::write(&part, kept)?;
    fs::rename(part, file)
}

/// This boot's name, and how many milliseconds it has lasted.
fn since_boot() -> io::Result<(String, i64)> {
    let boot = fs::read_to_string(BOOT_ID)?.trim().to_owned();
    let uptime = fs::read_to_string(UPTIME)?;
    let seconds = uptime.split_whitespace().next().and_then(|seconds| seconds.parse::<f64>().ok());
    let seconds = seconds.ok_or_else(|| io::Error::new(io::ErrorKind::InvalidData, format!("{UPTIME}: {uptime:?}")))?;
    Ok((boot, (seconds * 1000.0) as i64))
}
