//! How long from starting the program until a kiosk has its board, with a journal that is long.

use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};

use anyhow::{Context, anyhow};
use bellmare_barn::barn::Barn;
use bellmare_barn::id::{PlaceId, StallId};
use bellmare_barn::input::{Input, Line, Measured, Reading, Sensor};
use bellmare_barn::time::{Mono, Now, Wall, WallClock};
use bellmare_barn::units::{Celsius, Millimetres};
use bellmare_hub::exchange::{read_book, report};
use bellmare_hub::hub::start::SNAPSHOT_FORMAT;
use bellmare_hub::journal::{Entry, Journal, Options};
use bellmare_tests::hub::{Broker, Hub};

/// Facts in the journal.
pub const FACTS: u64 = 1_000_000;
/// The hub keeps a snapshot after so many entries at the latest.
const SNAPSHOT_EVERY: u64 = 50_000;
/// Entries of one commit.
const BATCH: u64 = 1_000;

/// What helps the start.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Snapshots {
    /// As the hub keeps them, and ended by a power cut when the next was due: the most that is left to replay.
    AsTheHubDoes,
    /// None: everything is replayed, as after a change of their format.
    None,
}

/// A start, and how large the journal is in MiB.
pub struct Start {
    /// How long until the board was there: the slower of two.
    pub took: Duration,
    /// The file's size.
    pub mib: f64,
}

/// Starts a hub with such a journal.
pub fn measure(stalls: u32, snapshots: Snapshots) -> anyhow::Result<Start> {
    let mut hub = Hub::new(stalls, Broker::Embedded, "");
    write(&hub, stalls, snapshots).context("writing a long journal")?;
    let mib = std::fs::metadata(hub.journal()).context("looking at the journal")?.len() as f64 / f64::from(1 << 20);
    let mut once = || {
        let began = Instant::now();
        hub.start();
        let took = began.elapsed();
        hub.kill();
        took
    };
    Ok(Start { took: once().max(once()), mib })
}

/// Writes a journal as a hub does, of a barn where each sensor speaks once a minute.
fn write(hub: &Hub, stalls: u32, snapshots: Snapshots) -> anyhow::Result<()> {
    let book = read_book(&hub.folder().join("book")).map_err(|faults| anyhow!("{}", report(&faults)))?;
    let path = hub.journal();
    std::fs::create_dir_all(path.parent().context("the journal is in a folder")?)?;
    let (journal, opening) = Journal::open(&path, &Options::default())?;
    let apart_ms = 60_000 / u64::from(stalls);
    let ended = SystemTime::now().duration_since(UNIX_EPOCH)?.as_millis() as i64;
    let wall = |seq: u64| Wall(ended - ((FACTS - seq) * apart_ms) as i64);
    let mut barn = Barn::new();
    let mut batch = Vec::new();
    for seq in 1..=FACTS {
        let now = Now { mono: Mono(seq * apart_ms), wall: WallClock::Set(wall(seq)) };
        let input = match seq {
            1 => Input::Started,
            2 => Input::Book(book.clone().into()),
            3 => Input::Broker(Line::Up),
            _ => Input::Reading(reading(seq, stalls)),
        };
        barn.step(now, input.clone());
        batch.push(Entry { seq, boot: opening.boot, now, delivery: None, input });
        if seq % BATCH == 0 {
            journal.append(&batch)?;
            batch.clear();
            journal.tend()?;
        }
        // Not the last one, which the power cut took.
        if snapshots == Snapshots::AsTheHubDoes && seq % SNAPSHOT_EVERY == 0 && seq < FACTS {
            journal.store_snapshot(seq, SNAPSHOT_FORMAT, &serde_json::to_vec(&barn)?)?;
        }
    }
    journal.append(&batch)?;
    journal.close()?;
    Ok(())
}

/// Water mostly, and now and then the warmth of the aisle.
fn reading(seq: u64, stalls: u32) -> Reading {
    let (stall, step) = (seq % u64::from(stalls) + 1, seq / u64::from(stalls));
    let (sensor, measured) = if seq.is_multiple_of(20) {
        let warmth = 18.0 + (seq / 20 % 90) as f64 / 10.0;
        (Sensor::Climate(PlaceId::new("aisle")), Measured::Temperature(Celsius(warmth)))
    } else {
        let level = 100.0 + (step % 360).min(360 - step % 360) as f64;
        (Sensor::Water(StallId::new(stall.to_string())), Measured::Level(Millimetres(level)))
    };
    Reading { sensor, measured, own_time: None }
}
