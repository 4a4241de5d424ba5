//! How much memory the hub has after it took some thousand readings, as fast as they came.

use std::time::Duration;

use anyhow::Context;
use bellmare_tests::hub::{Broker, Hub};
use bellmare_tests::mosquitto::Mosquitto;
use bellmare_tests::wait::until;

use crate::figures::{metric, resident, settled};
use crate::sensors::{Sensors, reading};

/// Readings before it is looked at.
pub const READINGS: u64 = 10_000;

/// Resident memory in MiB: at the end, and at its most.
pub fn measure(stalls: u32, own_broker: bool) -> anyhow::Result<(f64, f64)> {
    let mosquitto = (!own_broker).then(Mosquitto::start);
    let broker = mosquitto.as_ref().map_or(Broker::Embedded, |mosquitto| Broker::At(mosquitto.port));
    let mut hub = Hub::new(stalls, broker, "");
    hub.start();
    let before = settled(&hub);
    let mut sensors = Sensors::connect(hub.mqtt).context("connecting to the broker")?;
    sensors.publish_all((0..READINGS).map(|n| reading(n, stalls)), 1_000).context("publishing")?;
    until("the hub keeps every reading", Duration::from_secs(30), || {
        let kept = metric(&hub, "bellmare_journal_entries")? - before;
        if kept >= READINGS { Ok(()) } else { Err(format!("{kept} of {READINGS}")) }
    });
    resident(hub.pid())
}
