//! How long a reading takes from when it is due to be published until its acknowledgement by the hub, which the hub sends
//! once the commit that holds it is on the disk.

use std::time::{Duration, Instant};

use anyhow::Context;
use bellmare_tests::hub::{Broker, Hub};
use bellmare_tests::mosquitto::Mosquitto;
use bellmare_tests::wait::until;

use crate::figures::{Spread, settled};
use crate::relay::Relay;
use crate::sensors::{Sensors, reading, wait_until};

/// Readings a second.
pub const RATE: u64 = 1_000;
/// Readings before the first that counts.
const WARM_UP: u64 = RATE;

/// What was measured.
pub struct Latency {
    /// From due to acknowledged.
    pub spread: Spread,
    /// Readings a second, from the first acknowledgement to the last: less than came where the hub falls behind.
    pub rate: f64,
}

/// Publishes 1,000 readings a second for a while. With a delay, each commit takes so much longer.
pub fn measure(stalls: u32, seconds: u64, commit_delay: Option<Duration>) -> anyhow::Result<Latency> {
    let mosquitto = Mosquitto::start();
    let relay = Relay::to(mosquitto.port).context("standing between hub and broker")?;
    let mut hub = Hub::new(stalls, Broker::At(relay.port), "");
    if let Some(delay) = commit_delay {
        let delay = format!("--commit-delay-ms={}", delay.as_millis());
        hub = hub.run_by(std::env::current_exe().context("finding this program")?, vec!["slow-hub".to_owned(), delay]);
    }
    hub.start();
    settled(&hub);

    let mut sensors = Sensors::connect(mosquitto.port).context("connecting to mosquitto")?;
    let all = WARM_UP + seconds * RATE;
    let began = Instant::now() + Duration::from_millis(10);
    let due = |n: u64| began + Duration::from_secs(1) * n as u32 / RATE as u32;
    for n in 0..all {
        let (topic, payload) = reading(n, stalls);
        wait_until(due(n));
        sensors.publish(&topic, &payload).context("publishing")?;
    }
    until("the hub acknowledges every reading", Duration::from_secs(60), || {
        let kept = relay.count();
        if kept as u64 >= all { Ok(()) } else { Err(format!("{kept} of {all}")) }
    });
    let counted: Vec<_> = relay.kept().into_iter().filter(|(n, _)| *n >= WARM_UP).collect();
    let times = || counted.iter().map(|(_, at)| *at);
    let (first, last) = times().min().zip(times().max()).context("nothing was acknowledged")?;
    let rate = counted.len() as f64 / last.duration_since(first).as_secs_f64();
    let spread = Spread::of(counted.iter().map(|(n, at)| at.duration_since(due(*n))).collect());
    Ok(Latency { spread, rate })
}
