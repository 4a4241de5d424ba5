//! The hub within the test's own process and with a clock that hurries, so that hours of a barn pass in seconds. Sensors, mail
//! and pages are real. Killed, it ends between two steps of its own, as a process would.

use std::path::Path;
use std::sync::mpsc;
use std::time::Duration;

use bellmare_barn::time::{TimeOfDay, Wall, WallClock};
use bellmare_hub::app::{self, Conduct};
use bellmare_hub::clock::Clock;
use bellmare_hub::journal::Options;
use bellmare_hub::settings::Settings;
use tokio::sync::oneshot;

/// A hub that runs.
pub struct Hurried {
    /// Its clock.
    pub clock: Clock,
    zone: bellmare_barn::time::Zone,
    /// True has it end well, false at once.
    end: Option<oneshot::Sender<bool>>,
    thread: Option<std::thread::JoinHandle<()>>,
}

impl Hurried {
    /// Starts one by these settings, `speed` times as fast as time, at this moment of its own. Waits until it runs.
    pub fn start(settings: &Path, from: Wall, speed: u32) -> Self {
        Self::on(settings, from, speed, Options::default())
    }

    /// The same, with a journal that is opened so.
    pub fn on(settings: &Path, from: Wall, speed: u32, journal: Options) -> Self {
        let settings = Settings::load(Some(settings), []).expect("sound settings");
        let zone = settings.limits.zone;
        let (started, running) = mpsc::channel();
        let (end, told) = oneshot::channel();
        let thread = std::thread::spawn(move || {
            let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().expect("a runtime");
            let well = runtime.block_on(async {
                let clock = |last| Clock::hurried(from, speed, last);
                let conduct = Conduct { linger: Duration::from_millis(50), journal };
                let running = app::start(&settings, clock, conduct).await.expect("the hub starts");
                started.send(running.clock.clone()).expect("the test waits");
                let well = told.await.unwrap_or(false);
                if well {
                    running.stop().await;
                }
                well
            });
            if !well {
                // Its tasks are dropped where they are.
                drop(runtime);
            }
        });
        let clock = running.recv_timeout(Duration::from_secs(30)).expect("the hub starts");
        Self { clock, zone, end: Some(end), thread: Some(thread) }
    }

    /// Now, by its clock.
    pub fn now(&self) -> Wall {
        match self.clock.now().wall {
            WallClock::Set(wall) => wall,
            WallClock::Unset => Wall(0),
        }
    }

    /// The time of day, by its clock.
    pub fn time(&self) -> TimeOfDay {
        self.zone.time_of_day(self.now())
    }

    /// Ends it well.
    pub fn stop(mut self) {
        self.finish(true);
    }

    /// Ends it at once.
    pub fn kill(mut self) {
        self.finish(false);
    }

    fn finish(&mut self, well: bool) {
        if let Some(end) = self.end.take() {
            // It may have ended by itself, which joining tells.
            let _ = end.send(well);
        }
        if let Some(thread) = self.thread.take()
            && thread.join().is_err()
            && !std::thread::panicking()
        {
            panic!("the hub did not end well");
        }
    }
}

impl Drop for Hurried {
    fn drop(&mut self) {
        self.finish(false);
    }
}
