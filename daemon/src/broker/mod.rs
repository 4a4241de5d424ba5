//! The broker inside the hub, for a barn that has no other: MQTT 3.1.1 and 5 over TCP, with sessions, retained messages
//! and queues in files.
//!
//! This folder alone knows which broker it is. On loopback anybody on the board may connect; on any other address accounts
//! are compulsory. There is no TLS here: a barn that needs it runs mosquitto (`deploy/mosquitto`).
//!
//! The hub hears it without a session of its own. What a sensor says is taken where the broker has found that the sensor may
//! say it and has not passed it on yet ([`door`]), and the sensor's acknowledgement waits until the hub has committed it
//! ([`gate`]). Last wills, and retained messages on starting, come the same way.

mod accounts;
mod door;
mod gate;
mod stream;
mod wire;

use std::io;
use std::net::{Ipv4Addr, SocketAddr};
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;

use mqtt5::broker::config::BrokerConfig;
use mqtt5::broker::resource_monitor::{ResourceLimits, ResourceMonitor};
use mqtt5::broker::router::MessageRouter;
use mqtt5::broker::storage::{QueueLimits, StorageBackend};
use mqtt5::broker::sys_topics::BrokerStats;
use mqtt5::broker::{DynamicStorage, FileBackend};
use thiserror::Error;
use tokio::net::TcpListener;
use tokio::sync::oneshot;
use tokio::task::JoinHandle;

use self::door::Door;
use crate::devices::intake::Ears;
use crate::messages::lamp::Lamp;

pub use self::accounts::{Accounts, account_line};
pub use self::gate::Held;

/// Sessions of devices that stayed away this long are let go.
const SESSION_KEPT: Duration = Duration::from_secs(7 * 24 * 3600);

/// Packets above this are refused; what the hub reads is less than a quarter of it.
const MAX_PACKET: usize = 256 * 1024;

/// So many retained messages are kept: many times what a large centre has, and far from filling a card.
const MAX_RETAINED: usize = 20_000;

/// So many clients at once.
const MAX_CLIENTS: usize = 1000;

/// So many messages wait for a client that is away, and so many bytes of them.
const MAX_QUEUED: QueueLimits = QueueLimits { max_messages: 100_000, max_bytes: 64 * 1024 * 1024 };

/// So many messages may be on their way to a client unacknowledged.
const OUTBOUND_WINDOW: u16 = 1000;

/// So many messages a client may have on their way to the hub and not acknowledged; MQTT 5 has us say so. The hub knows
/// as many of each client's last messages, should they come again.
pub const CLIENT_WINDOW: u16 = 256;

/// Stopping waits this long for all of it to end.
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

/// How the hub hears its own broker.
#[derive(Clone)]
pub struct Hearing {
    /// Who hears.
    pub ears: Arc<Ears>,
    /// The topic that says `online` or `offline` of the hub.
    pub availability: String,
    /// What the hub has the broker keep for a lamp or a horn.
    pub lamp: Option<Lamp>,
}

/// A running broker. Dropping it stops it without waiting.
#[derive(Debug)]
pub struct Broker {
    address: SocketAddr,
    /// Taken once it is told to stop.
    stop: Option<oneshot::Sender<()>>,
    running: JoinHandle<()>,
}

impl Broker {
    /// Starts it inside the runtime that calls this, and returns once it listens; sensors are let in when the hub has
    /// been told of what is retained. Works on a current-thread runtime. Without `hearing` it is a broker like any other.
    ///
    /// # Errors
    /// Where the address, the folder or the accounts can not be used.
    pub async fn start(settings: BrokerSettings, hearing: Option<Hearing>) -> Result<Self, BrokerError> {
        let address = settings.listen;
        if !address.ip().is_loopback() && settings.accounts.is_none() {
            return Err(BrokerError::NoAccounts(address));
        }
        let auth = accounts::provider(settings.accounts.as_ref()).await?;
        std::fs::create_dir_all(&settings.data)
            .map_err(|source| BrokerError::File { path: settings.data.clone(), source })?;
        let listener = listen(address).await?;
        let address = listener.local_addr().unwrap_or(address);

        let other = |error: mqtt5::MqttError| BrokerError::Other(error.to_string());
        let storage = FileBackend::with_queue_limits(&settings.data, MAX_QUEUED).await.map_err(other)?;
        let storage = Arc::new(DynamicStorage::File(storage));
        let router = MessageRouter::with_storage(Arc::clone(&storage)).with_fallback_queue_limits(MAX_QUEUED);
        let router = Arc::new(router.with_retained_limits(MAX_RETAINED, MAX_PACKET));
        let expiry = u32::try_from(SESSION_KEPT.as_secs()).unwrap_or(u32::MAX);
        router.recover_sessions(expiry).await.map_err(other)?;
        storage.cleanup_expired().await.map_err(other)?;
        router.initialize().await.map_err(other)?;

        let (stop, stopped) = oneshot::channel();
        let door = Door {
            listener,
            config: config(),
            router,
            auth,
            storage,
            stats: Arc::new(BrokerStats::new()),
            monitor: Arc::new(ResourceMonitor::new(limits())),
            hearing,
        };
        tracing::info!(%address, "the hub's own broker listens");
        Ok(Self { address, stop: Some(stop), running: tokio::spawn(door.run(stopped)) })
    }

    /// Where it listens: with the port it was given, where any would do.
    pub fn address(&self) -> SocketAddr {
        self.address
    }

    /// True while it runs.
    pub fn is_running(&self) -> bool {
        !self.running.is_finished()
    }

    /// Stops it, connections first. What waits for its acknowledgement then is not acknowledged.
    ///
    /// # Errors
    /// Where it does not end, or did not end well.
    pub async fn stop(mut self) -> Result<(), BrokerError> {
        // One that is dropped is told as well.
        drop(self.stop.take());
        match tokio::time::timeout(STOP_WITHIN, &mut self.running).await {
            Ok(Ok(())) => Ok(()),
            Ok(Err(error)) => Err(BrokerError::Other(error.to_string())),
            Err(_) => Err(BrokerError::Other("it did not end in time".to_owned())),
        }
    }
}

impl Drop for Broker {
    fn drop(&mut self) {
        self.running.abort();
    }
}

fn config() -> BrokerConfig {
    let mut config = BrokerConfig::default()
        .with_max_clients(MAX_CLIENTS)
        .with_session_expiry(SESSION_KEPT)
        .with_max_packet_size(MAX_PACKET)
        .with_max_retained_messages(MAX_RETAINED)
        .with_max_retained_message_size(MAX_PACKET)
        .with_max_outbound_inflight(OUTBOUND_WINDOW)
        .with_server_receive_maximum(CLIENT_WINDOW)
        .with_sys_topics_enabled(false);
    config.bind_addresses.clear();
    config
}

/// No limits but the number of clients: a barn's sensors are its own.
fn limits() -> ResourceLimits {
    ResourceLimits {
        max_connections: MAX_CLIENTS,
        max_connections_per_ip: MAX_CLIENTS,
        max_message_rate_per_client: 0,
        max_bandwidth_per_client: 0,
        max_connection_rate: 10_000,
        rate_limit_window: Duration::from_secs(1),
    }
}

async fn listen(address: SocketAddr) -> Result<TcpListener, BrokerError> {
    TcpListener::bind(address).await.map_err(|source| match source.kind() {
        io::ErrorKind::AddrInUse => BrokerError::PortInUse(address),
        _ => BrokerError::Listen { address, source },
    })
}

#[cfg(test)]
mod tests;
