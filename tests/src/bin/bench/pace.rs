//! How many readings a second go from publishing to an acknowledged commit, with mosquitto in between: through the hub,
//! and for comparison through a short Python program of paho-mqtt and sqlite3 that commits what has arrived.
//!
//! Two ways each. *Live*: consumer there and at rest; from the first publish until the last reading is kept and its
//! acknowledgement has arrived. Sensors, broker and consumer share the processors. *Stored*: all readings wait in the broker
//! before the consumer starts; from its first commit until the same end. The sensors are then not in the way, and it shows
//! what the consumer can do.
//!
//! That all is acknowledged is seen by the bytes that arrived over the hub's connection: each acknowledgement has four. A
//! ping of two every 15 s is not told from them. After each run the consumer is ended. Its file must hold every reading once,
//! and the broker, asked in the consumer's name, must have none left.

use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, ChildStdout, Command, Stdio};
use std::time::{Duration, Instant};

use anyhow::{Context, bail, ensure};
use bellmare_tests::hub::{Broker, Hub};
use bellmare_tests::mosquitto::Mosquitto;
use bellmare_tests::wait::until;

use crate::figures::{bytes_arrived, connections, metric, readings_kept, settled};
use crate::sensors::{Sensors, left_for, reading};

const HUB: &str = "bellmare-hub";
const PAHO: &str = "paho-sqlite";
/// Bytes of an acknowledgement.
const ACK: u64 = 4;
/// Messages that the sensors have under way to the broker.
const UNDER_WAY: u64 = 2_000;
/// So long a run may take.
const PATIENCE: Duration = Duration::from_secs(120);
/// The broker holds whatever a slow consumer leaves: what is measured is the consumer, not what gets lost before it.
const QUEUE: u32 = 1_000_000;

/// Readings a second through the hub, live.
pub fn hub_live(stalls: u32, count: u64) -> anyhow::Result<f64> {
    let mut mosquitto = Mosquitto::with_queue(QUEUE);
    let mut hub = Hub::new(stalls, Broker::At(mosquitto.port), "");
    hub.start();
    let before = settled(&hub);
    let own = own_bytes(&hub);
    let began = Instant::now();
    let took = while_publishing(mosquitto.port, stalls, count, || {
        until_kept(&hub, before + count, own + ACK * count);
        Ok(began.elapsed())
    })?;
    end(hub, &mut mosquitto, count)?;
    Ok(count as f64 / took.as_secs_f64())
}

/// Readings a second through the hub, stored before it starts.
pub fn hub_stored(stalls: u32, count: u64) -> anyhow::Result<f64> {
    let mut mosquitto = Mosquitto::with_queue(QUEUE);
    let mut hub = Hub::new(stalls, Broker::At(mosquitto.port), "");
    // Once before, so that the broker has its session.
    hub.start();
    let before = settled(&hub);
    let own = own_bytes(&hub);
    hub.terminate();
    publish(mosquitto.port, stalls, count)?;
    hub.start();
    // That it started and that the line came up are entries too.
    let first = until("the hub keeps its first readings", PATIENCE, || {
        let kept = metric(&hub, "bellmare_journal_entries")?.saturating_sub(before + 2);
        if kept > 0 { Ok((kept, Instant::now())) } else { Err("none".to_owned()) }
    });
    until_kept(&hub, before + 2 + count, own + ACK * count);
    let took = first.1.elapsed();
    end(hub, &mut mosquitto, count)?;
    ensure!(first.0 < count, "all were kept before anybody looked: measure with more");
    Ok((count - first.0) as f64 / took.as_secs_f64())
}

/// Readings a second through the Python program, live.
pub fn paho_live(python: &Path, stalls: u32, count: u64) -> anyhow::Result<f64> {
    let mut mosquitto = Mosquitto::with_queue(QUEUE);
    let folder = tempfile::tempdir().context("a folder for the Python program")?;
    let mut program = Program::start(python, mosquitto.port, folder.path(), count)?;
    program.says("ready")?;
    let began = Instant::now();
    let took = while_publishing(mosquitto.port, stalls, count, || {
        program.says("first")?;
        program.says("last")?;
        Ok(began.elapsed())
    })?;
    program.end(&mut mosquitto, folder.path(), count)?;
    Ok(count as f64 / took.as_secs_f64())
}

/// Readings a second through the Python program, stored before it starts.
pub fn paho_stored(python: &Path, stalls: u32, count: u64) -> anyhow::Result<f64> {
    let mut mosquitto = Mosquitto::with_queue(QUEUE);
    let folder = tempfile::tempdir().context("a folder for the Python program")?;
    let mut before = Program::start(python, mosquitto.port, folder.path(), 0)?;
    before.says("ready")?;
    before.wait()?;
    publish(mosquitto.port, stalls, count)?;
    let mut program = Program::start(python, mosquitto.port, folder.path(), count)?;
    let (first, first_at) = program.says("first")?;
    let (last, last_at) = program.says("last")?;
    program.end(&mut mosquitto, folder.path(), count)?;
    ensure!(first < last, "all were kept in one commit: measure with more");
    Ok((last - first) as f64 / (last_at - first_at))
}

fn publish(port: u16, stalls: u32, count: u64) -> anyhow::Result<()> {
    let mut sensors = Sensors::connect(port).context("connecting to mosquitto")?;
    sensors.publish_all((0..count).map(|n| reading(n, stalls)), UNDER_WAY).context("publishing")
}

/// Watches while everything is published, and sees to it that the broker has acknowledged all of it.
fn while_publishing<T>(
    port: u16,
    stalls: u32,
    count: u64,
    watch: impl FnOnce() -> anyhow::Result<T>,
) -> anyhow::Result<T> {
    std::thread::scope(|scope| {
        let published = scope.spawn(|| publish(port, stalls, count));
        let watched = watch();
        published.join().expect("publishing does not panic")?;
        watched
    })
}

/// What the hub has sent before any reading: to connect, to subscribe, that it is there. The same after each start.
fn own_bytes(hub: &Hub) -> u64 {
    let mut last = None;
    until("the hub has nothing to say to the broker", PATIENCE, || {
        let bytes = bytes_arrived(hub.pid(), hub.mqtt)?;
        if last.replace(bytes) == Some(bytes) { Ok(bytes) } else { Err(format!("{bytes} bytes")) }
    })
}

fn until_kept(hub: &Hub, entries: u64, bytes: u64) {
    until("the hub keeps every reading", PATIENCE, || {
        let kept = metric(hub, "bellmare_journal_entries")?;
        if kept >= entries { Ok(()) } else { Err(format!("{kept} of {entries} entries")) }
    });
    until("the hub acknowledges every reading", PATIENCE, || {
        let arrived = bytes_arrived(hub.pid(), hub.mqtt)?;
        if arrived >= bytes { Ok(()) } else { Err(format!("{} are on their way", (bytes - arrived) / ACK)) }
    });
}

fn end(mut hub: Hub, mosquitto: &mut Mosquitto, count: u64) -> anyhow::Result<()> {
    hub.terminate();
    readings_kept(&hub, count)?;
    nothing_left(HUB, mosquitto)
}

fn nothing_left(client: &str, mosquitto: &mut Mosquitto) -> anyhow::Result<()> {
    // Whoever takes over a session takes away what the broker has not read yet from the one before.
    until("the broker has read everything", PATIENCE, || match connections(mosquitto.port)? {
        0 => Ok(()),
        open => Err(format!("{open} connections")),
    });
    let left = left_for(client, mosquitto.port)
        .with_context(|| format!("asking the broker what is left; it says: {:?}", mosquitto.log()))?;
    ensure!(left == 0, "{left} readings were not acknowledged by {client}");
    Ok(())
}

/// The Python program.
struct Program {
    process: Child,
    lines: std::io::Lines<BufReader<ChildStdout>>,
}

impl Program {
    fn start(python: &Path, port: u16, folder: &Path, count: u64) -> anyhow::Result<Self> {
        let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/bin/bench/paho_sqlite.py");
        let mut process = Command::new(python)
            .arg(script)
            .args([&port.to_string(), PAHO])
            .arg(folder.join("readings.db"))
            .arg(count.to_string())
            .stdout(Stdio::piped())
            .spawn()
            .with_context(|| format!("starting {}", python.display()))?;
        let out = process.stdout.take().context("its output")?;
        Ok(Self { process, lines: BufReader::new(out).lines() })
    }

    /// Waits until it says this, and gives the two numbers that follow: readings kept, and when by its running clock.
    fn says(&mut self, word: &str) -> anyhow::Result<(u64, f64)> {
        loop {
            let line = self.lines.next().with_context(|| format!("the Python program ended before {word:?}"))??;
            let parts: Vec<_> = line.split_whitespace().collect();
            let [said, kept, at] = parts[..] else { bail!("the Python program says {line:?}") };
            if said == word {
                return Ok((kept.parse()?, at.parse()?));
            }
        }
    }

    fn wait(mut self) -> anyhow::Result<()> {
        let status = self.process.wait()?;
        ensure!(status.success(), "the Python program ended with {status}");
        Ok(())
    }

    fn end(self, mosquitto: &mut Mosquitto, folder: &Path, count: u64) -> anyhow::Result<()> {
        self.wait()?;
        let file = rusqlite::Connection::open(folder.join("readings.db"))?;
        let kept: i64 = file.query_row("SELECT count(*) FROM readings", [], |row| row.get(0))?;
        ensure!(kept.cast_unsigned() == count, "the Python program kept {kept} readings and not {count}");
        nothing_left(PAHO, mosquitto)
    }
}
