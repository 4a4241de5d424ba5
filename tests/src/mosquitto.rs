//! A real mosquitto with the configuration that deploy/ ships, on a port of its own.

use std::fs;
use std::path::PathBuf;
use std::process::{Child, Command, Stdio};
use std::time::Duration;

use tempfile::TempDir;

use crate::wait::{free_port, until};

/// A mosquitto that runs.
pub struct Mosquitto {
    folder: TempDir,
    process: Option<Child>,
    /// Its port on loopback.
    pub port: u16,
}

impl Mosquitto {
    /// Starts one that lets everybody in and keeps what it must over a restart.
    pub fn start() -> Self {
        Self::with_queue(100_000)
    }

    /// The same, with room for so many messages to a client that is away or slow.
    pub fn with_queue(messages: u32) -> Self {
        let folder = tempfile::tempdir().expect("a folder for mosquitto");
        let port = free_port();
        let settings = format!(
            "per_listener_settings false\nlistener {port} 127.0.0.1\nallow_anonymous true\npersistence true\n\
             persistence_location {}/\nautosave_interval 60\nmax_inflight_messages 1000\n\
             max_queued_messages {messages}\npersistent_client_expiration 7d\nlog_type error\nuser root\n",
            folder.path().display()
        );
        fs::write(folder.path().join("mosquitto.conf"), settings).expect("settings written");
        let mut this = Self { folder, process: None, port };
        this.again();
        this
    }

    /// Starts it again after it was killed or ended.
    pub fn again(&mut self) {
        let log = fs::OpenOptions::new().create(true).append(true).open(self.log_file()).expect("a log");
        let process = Command::new(binary())
            .arg("-c")
            .arg(self.folder.path().join("mosquitto.conf"))
            .stderr(Stdio::from(log))
            .spawn()
            .expect("mosquitto is installed: apt-get install mosquitto");
        self.process = Some(process);
        until("mosquitto listens", Duration::from_secs(10), || {
            std::net::TcpStream::connect(("127.0.0.1", self.port)).map(drop).map_err(|why| why.to_string())
        });
    }

    /// What it has complained of, and how it ended if it did by itself.
    pub fn log(&mut self) -> String {
        let ended = self.process.as_mut().and_then(|process| process.try_wait().ok().flatten());
        let text = fs::read_to_string(self.log_file()).unwrap_or_default();
        match ended {
            None => text,
            Some(status) => format!("{text}mosquitto ended: {status}"),
        }
    }

    fn log_file(&self) -> PathBuf {
        self.folder.path().join("mosquitto.log")
    }

    /// Kills it.
    pub fn kill(&mut self) {
        if let Some(mut process) = self.process.take() {
            process.kill().expect("killed");
            process.wait().expect("gone");
        }
    }
}

impl Drop for Mosquitto {
    fn drop(&mut self) {
        self.kill();
    }
}

/// Debian puts it where only root looks.
fn binary() -> PathBuf {
    let sbin = PathBuf::from("/usr/sbin/mosquitto");
    if sbin.exists() { sbin } else { PathBuf::from("mosquitto") }
}
