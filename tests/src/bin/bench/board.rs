//! How long until what a sensor says is on a kiosk's board: from publishing to the event of the stream that shows it.

use std::collections::BTreeMap;
use std::sync::mpsc::RecvTimeoutError;
use std::time::{Duration, Instant};

use anyhow::{Context, bail};
use bellmare_barn::board::{Board, WaterView};
use bellmare_tests::board;
use bellmare_tests::hub::{Broker, Hub};
use bellmare_tests::mosquitto::Mosquitto;

use crate::figures::{Spread, settled};
use crate::sensors::{Sensors, topic};

/// A change that takes so long to show is lost.
const PATIENCE: Duration = Duration::from_secs(5);

/// When changes come.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Changes {
    /// Far enough apart that each may go out at once.
    Apart,
    /// 0 to 500 ms apart: many come within 250 ms of the board before, and wait for the next.
    AtAnyTime,
}

/// Publishes so many changes and looks for each.
pub fn measure(stalls: u32, count: u32, changes: Changes) -> anyhow::Result<Spread> {
    // Four of each sensor: from the fifth on its pace is known, and one reading alone counts no more.
    let count = count.min(4 * stalls);
    let mosquitto = Mosquitto::start();
    let mut hub = Hub::new(stalls, Broker::At(mosquitto.port), "");
    hub.start();
    settled(&hub);
    let boards = board::stream(&hub);
    let mut sensors = Sensors::connect(mosquitto.port).context("connecting to mosquitto")?;

    let (mut sent, mut due, mut dice) = (0, Instant::now() + Duration::from_millis(500), 1_u64);
    // By stall: what its sensor said, and when.
    let mut looked_for = BTreeMap::new();
    let mut times = Vec::new();
    while sent < count || !looked_for.is_empty() {
        let until = if sent < count { due } else { Instant::now() + PATIENCE };
        match boards.recv_timeout(until.saturating_duration_since(Instant::now())) {
            Ok((came, board)) => {
                looked_for.retain(|stall: &u32, (level, at): &mut (u32, Instant)| {
                    let shown = shows(&board, *stall, *level);
                    if shown {
                        times.push(came.duration_since(*at));
                    }
                    !shown
                });
            }
            Err(RecvTimeoutError::Timeout) if sent < count => {
                let (stall, level) = (sent % stalls + 1, 100 + 7 * (sent / stalls + sent) % 180);
                looked_for.insert(stall, (level, Instant::now()));
                sensors.publish(&topic(stall), &level.to_string()).context("publishing")?;
                sent += 1;
                dice = dice.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
                due = Instant::now()
                    + match changes {
                        Changes::Apart => Duration::from_millis(350),
                        Changes::AtAnyTime => Duration::from_millis((dice >> 33) % 500),
                    };
            }
            Err(RecvTimeoutError::Timeout) => bail!("changes that no board shows: {looked_for:?}"),
            Err(RecvTimeoutError::Disconnected) => bail!("the stream of boards ended"),
        }
    }
    Ok(Spread::of(times))
}

/// Whether the board shows this level, in mm of a straight bucket of 300 mm.
fn shows(board: &Board, stall: u32, level: u32) -> bool {
    let seen = board::stall(board, &stall.to_string()).map(|stall| stall.water);
    let percent = (f64::from(level) / 300.0 * 1000.0).round() / 10.0;
    matches!(seen, Some(WaterView::Known { percent: seen, .. }) if (seen - percent).abs() < 0.01)
}
