//! The broker inside the hub, for a barn that has no other: MQTT 3.1.1 and 5 over TCP, with sessions, retained messages
//! and queues in files.
//!
//! This is the only file that knows which broker it is. On loopback anybody on the board may connect; on any other
//! address accounts are compulsory. There is no TLS here: a barn that needs it runs mosquitto (`deploy/mosquitto`).

use std::io;
use std::net::{Ipv4Addr, SocketAddr};
use std::path::{Path, PathBuf};
use std::time::Duration;

use mqtt5::broker::auth::PasswordAuthProvider;
use mqtt5::broker::config::{AuthConfig, BrokerConfig, RateLimitConfig, StorageConfig};
use mqtt5::broker::server::{BrokerShutdownHandle, MqttBroker};
use thiserror::Error;
use tokio::net::TcpListener;
use tokio::task::JoinHandle;

/// Sessions of devices that stayed away this long are let go.
const SESSION_KEPT: Duration = Duration::from_secs(7 * 24 * 3600);

/// Packets above this are refused; what the hub reads is less than a quarter of it.
const MAX_PACKET: usize = 256 * 1024;

/// So many retained messages are kept: many times what a large centre has, and far from filling a card.
const MAX_RETAINED: usize = 20_000;

/// Stopping waits this long for connections to end.
const STOP_WITHIN: Duration = Duration::from_secs(8);

/// Where to listen and where to keep.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct BrokerSettings {
    /// Address; port 0 takes any free one.
    pub listen: SocketAddr,
    /// Folder for sessions and messages. Made where it is missing.
    pub data: PathBuf,
    /// Accounts. Compulsory beyond loopback.
    pub accounts: Option<Accounts>,
}

/// Who may connect, and who may say what.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Accounts {
    /// Lines of `user:hash`, the hash by argon2 in its PHC text (`$argon2id$…`), as [`account_line`] makes them.
    pub passwords: PathBuf,
    /// Lines of `user <name> topic <filter> permission <read|write|readwrite>`; without it every account may do
    /// everything.
    pub permissions: Option<PathBuf>,
}

impl BrokerSettings {
    /// Loopback, the port of MQTT, no accounts.
    pub fn on_loopback(data: PathBuf) -> Self {
        Self { listen: SocketAddr::from((Ipv4Addr::LOCALHOST, 1883)), data, accounts: None }
    }
}

/// Why the broker could not start or went down.
#[derive(Debug, Error)]
pub enum BrokerError {
    /// Listening to the barn's network without accounts.
    #[error(
        "listening on {0}, which others can reach, needs a password file (broker.passwords); \
         or listen on 127.0.0.1, for the board alone"
    )]
    NoAccounts(SocketAddr),
    /// The port is taken.
    #[error(
        "port {} on {} is in use, perhaps by a mosquitto: stop that one, or set broker.listen to another port, \
         or set mqtt.host to it and do without the hub's own broker", .0.port(), .0.ip()
    )]
    PortInUse(SocketAddr),
    /// The address can not be listened on.
    #[error("can not listen on {address}")]
    Listen {
        /// Which.
        address: SocketAddr,
        /// Why.
        source: io::Error,
    },
    /// A file or folder can not be used.
    #[error("can not use {}", path.display())]
    File {
        /// Which.
        path: PathBuf,
        /// Why.
        source: io::Error,
    },
    /// A line of the accounts is not as it should be.
    #[error("{} line {line}: {allowed}", path.display())]
    Account {
        /// In which file.
        path: PathBuf,
        /// Which line, from 1.
        line: usize,
        /// What is allowed.
        allowed: &'static str,
    },
    /// A name that the file of accounts can not hold.
    #[error("{0:?} can not be a user: one character or more, and no colon, # or control character among them")]
    User(String),
    /// Anything else it says of itself.
    #[error("the broker says: {0}")]
    Other(String),
}

/// A line for the file of accounts, with a hash of the password that can not be turned back.
pub fn account_line(user: &str, password: &str) -> Result<String, BrokerError> {
    if user.trim().is_empty() || user.contains([':', '#']) || user.chars().any(char::is_control) {
        return Err(BrokerError::User(user.to_owned()));
    }
    let hash = PasswordAuthProvider::hash_password(password).map_err(|error| BrokerError::Other(error.to_string()))?;
    Ok(format!("{}:{hash}\n", user.trim()))
}

/// A running broker. Dropping it stops it without waiting.
#[derive(Debug)]
pub struct Broker {
    address: SocketAddr,
    stop: Stop,
    running: JoinHandle<Result<(), BrokerError>>,
}

struct Stop(BrokerShutdownHandle);

impl std::fmt::Debug for Stop {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Stop")
    }
}

impl Broker {
    /// Starts it inside the runtime that calls this, and returns once it takes connections. Works on a current-thread
    /// runtime.
    pub async fn start(settings: BrokerSettings) -> Result<Self, BrokerError> {
        let address = settings.listen;
        if !address.ip().is_loopback() && settings.accounts.is_none() {
            return Err(BrokerError::NoAccounts(address));
        }
        if let Some(accounts) = &settings.accounts {
            check_accounts(accounts)?;
        }
        std::fs::create_dir_all(&settings.data)
            .map_err(|source| BrokerError::File { path: settings.data.clone(), source })?;
        try_address(address).await?;

        let other = |error: mqtt5::MqttError| BrokerError::Other(error.to_string());
        let mut broker = MqttBroker::with_config(config(settings)).await.map_err(other)?;
        let address = broker.local_addr().unwrap_or(address);
        let stop = Stop(broker.shutdown_handle());
        let mut ready = broker.ready_receiver();
        let running = tokio::spawn(async move { broker.run().await.map_err(other) });
        // An error means that it ended before it was ready, and its own words say why.
        if ready.wait_for(|ready| *ready).await.is_err() {
            return match running.await {
                Ok(Err(error)) => Err(error),
                Ok(Ok(())) => Err(BrokerError::Other("it ended before it was ready".to_owned())),
                Err(error) => Err(BrokerError::Other(error.to_string())),
            };
        }
        tracing::info!(%address, "the hub's own broker listens");
        Ok(Self { address, stop, running })
    }

    /// Where it listens: with the port it was given, where any would do.
    pub fn address(&self) -> SocketAddr {
        self.address
    }

    /// True while it runs.
    pub fn is_running(&self) -> bool {
        !self.running.is_finished()
    }

    /// Stops it, connections first.
    pub async fn stop(mut self) -> Result<(), BrokerError> {
        self.stop.0.shutdown();
        match tokio::time::timeout(STOP_WITHIN, &mut self.running).await {
            Ok(Ok(ended)) => ended,
            Ok(Err(error)) => Err(BrokerError::Other(error.to_string())),
            Err(_) => Err(BrokerError::Other("it did not end in time".to_owned())),
        }
    }
}

impl Drop for Broker {
    fn drop(&mut self) {
        self.stop.0.shutdown();
        self.running.abort();
    }
}

fn config(settings: BrokerSettings) -> BrokerConfig {
    let accounts = match settings.accounts {
        None => AuthConfig::new().with_allow_anonymous(true),
        Some(accounts) => {
            let mut auth = AuthConfig::new().with_allow_anonymous(false).with_password_file(accounts.passwords);
            if let Some(permissions) = accounts.permissions {
                auth = auth.with_acl_file(permissions);
            }
            // Wrong passwords cost a minute, not five: a sensor and the hub may come from one address.
            auth.rate_limit = RateLimitConfig { enabled: true, max_attempts: 10, window_secs: 60, lockout_secs: 60 };
            auth
        }
    };
    let storage = StorageConfig::new().with_base_dir(settings.data).with_max_queued_messages_per_client(100_000);
    BrokerConfig::default()
        .with_bind_address(settings.listen)
        .with_max_clients(1000)
        .with_session_expiry(SESSION_KEPT)
        .with_max_packet_size(MAX_PACKET)
        .with_max_retained_messages(MAX_RETAINED)
        .with_max_retained_message_size(MAX_PACKET)
        // As many as the hub's client takes unacknowledged: a smaller window would cut its batches.
        .with_max_outbound_inflight(crate::devices::mqtt::RECEIVE_MAXIMUM)
        .with_sys_topics_enabled(false)
        .with_auth(accounts)
        .with_storage(storage)
}

/// Says in our words why an address can not be had; the broker binds it again a moment later.
async fn try_address(address: SocketAddr) -> Result<(), BrokerError> {
    match TcpListener::bind(address).await {
        Ok(_) => Ok(()),
        Err(error) if error.kind() == io::ErrorKind::AddrInUse => Err(BrokerError::PortInUse(address)),
        Err(source) => Err(BrokerError::Listen { address, source }),
    }
}

/// The broker would pass over a line it can not read, and somebody would wonder for a long time.
fn check_accounts(accounts: &Accounts) -> Result<(), BrokerError> {
    let password = |line: &str| {
        line.split_once(':').is_some_and(|(user, hash)| !user.trim().is_empty() && hash.starts_with("$argon2"))
    };
    check_lines(&accounts.passwords, "user:hash, the hash by argon2 ($argon2id$...)", password)?;
    let Some(permissions) = &accounts.permissions else { return Ok(()) };
    let permission = |line: &str| match line.split_whitespace().collect::<Vec<_>>()[..] {
        ["user", _, "topic", _, "permission", word] => matches!(word, "read" | "write" | "readwrite" | "deny"),
        _ => false,
    };
    check_lines(permissions, "user <name> topic <filter> permission <read, write, readwrite or deny>", permission)
}

fn check_lines(path: &Path, allowed: &'static str, good: impl Fn(&str) -> bool) -> Result<(), BrokerError> {
    let text = std::fs::read_to_string(path).map_err(|source| BrokerError::File { path: path.to_owned(), source })?;
    for (at, line) in (1..).zip(text.lines()) {
        let line = line.trim();
        if !(line.is_empty() || line.starts_with('#') || good(line)) {
            return Err(BrokerError::Account { path: path.to_owned(), line: at, allowed });
        }
    }
    Ok(())
}
