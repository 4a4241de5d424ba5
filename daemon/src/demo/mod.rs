//! An invented barn on an invented day. What is made up here is the world outside the hub: horses, hands, sensors, badges,
//! a kiosk. Sensors and readers publish through the broker and the kiosk touches over HTTP, as real ones do; the hub can not
//! tell the difference. Its clock runs faster, and nothing else does.

mod chance;
mod devices;
mod hands;
mod said;
mod script;
mod water;

use std::net::SocketAddr;
use std::path::{Path, PathBuf};

use bellmare_barn::time::{TimeOfDay, Wall, Zone};
use chrono::NaiveDate;
use tempfile::TempDir;
use thiserror::Error;
use tokio::sync::watch;
use tokio::task::JoinHandle;

use crate::app::{self, Conduct, Running, StartError};
use crate::broker::{Broker, Hearing};
use crate::clock::Clock;
use crate::exchange::{self, Faults};
use crate::settings::{Settings, SettingsError};

/// The settings of the invented barn, in its folder.
const SETTINGS_FILE: &str = "settings.toml";

/// Why there is no demo.
#[derive(Debug, Error)]
pub enum DemoError {
    /// The invented barn's book has faults.
    #[error("the book of the invented barn has faults:\n{}", exchange::report(.0))]
    Book(Faults),
    /// The hub does not start.
    #[error(transparent)]
    Start(#[from] StartError),
    /// The demo pulls the plug of its broker, so it must be its own.
    #[error("the demo's settings must say mqtt.broker = \"embedded\"")]
    Broker,
    /// The day on which the demo begins is none.
    #[error("the demo's day is not in the calendar")]
    Day,
}

/// A demo that runs.
pub struct Demo {
    running: Running,
    stop: watch::Sender<bool>,
    devices: JoinHandle<()>,
    hands: std::thread::JoinHandle<()>,
    broker: JoinHandle<Option<Broker>>,
}

/// The settings of the invented barn in `barn`; its journal is kept in `data`, or in a folder that goes with the second of
/// what is returned.
///
/// # Errors
/// Where the settings are wrong, or no folder can be made.
pub fn settings(barn: &Path, data: Option<PathBuf>) -> Result<(Settings, Option<TempDir>), SettingsError> {
    let mut settings = Settings::load(Some(&barn.join(SETTINGS_FILE)), std::env::vars())?;
    let (folder, kept) = match data {
        Some(data) => (data, None),
        None => {
            let made = tempfile::Builder::new().prefix("bellmare-demo-").tempdir();
            let made = made.map_err(|source| SettingsError::Read { path: std::env::temp_dir(), source })?;
            (made.path().to_owned(), Some(made))
        }
    };
    settings.data.folder = folder;
    settings.data.book = Some(barn.to_owned());
    Ok((settings, kept))
}

/// Starts the hub, then the world around it.
///
/// # Errors
/// Where the hub does not start.
pub async fn start(settings: &Settings, speed: u32) -> Result<Demo, DemoError> {
    let begins = begins(settings.limits.zone).ok_or(DemoError::Day)?;
    let book = exchange::read_book(settings.data.book.as_deref().unwrap_or(Path::new("."))).map_err(DemoError::Book)?;
    let clock = |last| Clock::hurried(begins, speed, last);
    let mut running = app::start(settings, clock, Conduct::default()).await?;
    let (stop, stopped) = watch::channel(false);
    let world = World { clock: running.clock.clone(), zone: settings.limits.zone };
    let broker = running.broker.take();
    let Some((address, hearing)) = broker.as_ref().map(Broker::address).zip(running.hearing.clone()) else {
        return Err(DemoError::Broker);
    };
    let devices = devices::Devices::new(world.clone(), &book, address);
    let hands = hands::Hands::new(world.clone(), running.web, settings);
    Ok(Demo {
        running,
        devices: tokio::spawn(devices.run(stopped.clone())),
        hands: hands.start(stopped.clone()),
        broker: tokio::spawn(cut_the_line(world, broker, hearing, settings.clone(), stopped)),
        stop,
    })
}

impl Demo {
    /// Where the hub's pages are.
    pub fn web(&self) -> SocketAddr {
        self.running.web
    }

    /// Ends the world, then the hub.
    pub async fn stop(mut self) {
        // Nobody listening means that all have ended already.
        let _ = self.stop.send(true);
        let (_, broker) = tokio::join!(self.devices, self.broker);
        self.running.broker = broker.ok().flatten();
        self.running.stop().await;
        if self.hands.join().is_err() {
            tracing::error!("the demo's hands did not end well");
        }
    }
}

/// What everybody in the invented world knows: the time.
#[derive(Clone)]
struct World {
    clock: Clock,
    zone: Zone,
}

impl World {
    /// The time of day.
    fn time(&self) -> TimeOfDay {
        let wall = self.clock.now().wall.get().unwrap_or(Wall(0));
        self.zone.time_of_day(wall)
    }

    /// Sleeps for so long in the barn.
    async fn sleep_ms(&self, millis: u64) {
        tokio::time::sleep(self.clock.real(millis)).await;
    }
}

fn begins(zone: Zone) -> Option<Wall> {
    let (year, month, day, hour, minute) = script::BEGINS;
    Some(zone.instant(NaiveDate::from_ymd_opt(year, month, day)?, TimeOfDay::new(hour, minute)?))
}

/// Shortly after noon somebody pulls the broker's plug, and ten minutes later puts it back.
async fn cut_the_line(
    world: World,
    mut broker: Option<Broker>,
    hearing: Hearing,
    settings: Settings,
    mut stop: watch::Receiver<bool>,
) -> Option<Broker> {
    let mut plug = async || {
        while !script::has_come(script::BROKER_GOES, world.time()) {
            world.sleep_ms(30_000).await;
        }
        if let Some(broker) = broker.take()
            && let Err(why) = broker.stop().await
        {
            tracing::error!(why = crate::chain(&why), "the demo's broker did not stop");
        }
        while !script::has_come(script::BROKER_BACK, world.time()) {
            world.sleep_ms(30_000).await;
        }
        match app::own_broker(&settings, hearing.clone()).await {
            Ok(again) => broker = again,
            Err(why) => tracing::error!(why = crate::chain(&why), "the demo's broker does not start again"),
        }
        std::future::pending::<()>().await;
    };
    tokio::select! {
        () = plug() => {}
        // An error means that the demo is gone.
        _ = stop.wait_for(|stop| *stop) => {}
    }
    broker
}
