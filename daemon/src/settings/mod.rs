//! The settings: one TOML file, then `BELLMARE_` variables of the environment over it (`BELLMARE_MQTT__PORT` is `mqtt.port`).
//! All of it is looked at before anything starts, and everything wrong is told at once. Unknown keys are refused; a key
//! that would have no effect is refused too. What topics mean is decided where devices are read; their faults are told with
//! the rest.

mod limits;
pub mod messages;
mod print;
mod secret;
mod section;
mod sections;
#[cfg(test)]
mod tests;
mod zone;

use std::collections::BTreeMap;
use std::fs;
use std::io;
use std::net::SocketAddr;
use std::path::{Path, PathBuf};

use bellmare_barn::id::KioskId;
use bellmare_barn::limits::Limits;
use config::{Config, Environment, File, FileFormat};
use thiserror::Error;

pub use secret::Secret;

use crate::broker::Accounts;
use crate::complaint::Complaint;
use crate::devices::rules::{TopicRule, topic_map};
use section::{Section, Told};

/// The exit status for wrong settings, so that a supervisor does not start again and again on a typo: `EX_CONFIG` of
/// BSD's `sysexits.h`.
pub const EXIT_WRONG_SETTINGS: u8 = 78;

const ENVIRONMENT: &str = "BELLMARE";
const ENVIRONMENT_SEPARATOR: &str = "__";

/// All settings, sound.
#[derive(Clone, PartialEq, Debug)]
pub struct Settings {
    /// Where things are kept.
    pub data: Data,
    /// The broker.
    pub mqtt: Mqtt,
    /// Boards and touches for kiosks.
    pub web: Web,
    /// How what needs a person reaches them.
    pub messages: messages::Messages,
    /// The barn's name, time zone, units (section `barn`) and all its limits (section `limits`).
    pub limits: Limits,
    /// Where the log goes.
    pub log: Log,
    /// The list `topics`: what each topic says, and of which sensor.
    pub topics: Vec<TopicRule>,
}

/// Where things are kept.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Data {
    /// The folder of the journal. The hub makes it.
    pub folder: PathBuf,
    /// A folder of CSV files to load at the start where there is no book yet.
    pub book: Option<PathBuf>,
}

/// The broker, and how the hub is seen there.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Mqtt {
    /// Whose broker.
    pub broker: Broker,
    /// Who signs in: the hub at another's broker, everybody at its own.
    pub login: Option<Login>,
    /// The hub's name at the broker. Two hubs at one broker need two.
    pub client_id: String,
    /// The first levels of the barn's topics, without a slash at either end.
    pub prefix: String,
    /// Other trees of topics in which a sensor that nobody has placed is shown to people, such as `homie/5`.
    pub watch: Vec<String>,
}

/// Whose broker.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Broker {
    /// The hub's own.
    Embedded {
        /// Where sensors find it.
        listen: SocketAddr,
        /// Who may connect, where not everybody on this machine may. Compulsory beyond loopback.
        accounts: Option<Accounts>,
    },
    /// Another one.
    External {
        /// Its name or address.
        host: String,
        /// Its port.
        port: u16,
        /// How to be sure of it, where the line is encrypted.
        tls: Option<Tls>,
    },
}

/// How to be sure of a broker.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Tls {
    /// A file of certificates in PEM to trust in place of the system's.
    pub ca_file: Option<PathBuf>,
}

/// A name and a password.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Login {
    /// The name.
    pub user: String,
    /// The password, from the settings or from the file that they name.
    pub password: Secret,
}

/// Boards and touches for kiosks.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Web {
    /// Where kiosks find the hub.
    pub listen: SocketAddr,
    /// The key of each kiosk. Never empty where others than this machine can reach the hub.
    pub kiosk_keys: BTreeMap<KioskId, Secret>,
}

/// Where the log goes, and how much of it.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Log {
    /// Where to.
    pub to: LogTo,
    /// What is the least worth a line.
    pub level: LogLevel,
}

/// Where the log goes.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum LogTo {
    /// To the journal of systemd where the hub was started by it, else to stderr.
    Auto,
    /// To stderr.
    Stderr,
    /// To the journal of systemd.
    Journald,
}

/// What is the least worth a line.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum LogLevel {
    /// Something stopped.
    Error,
    /// Somebody may need to act.
    Warn,
    /// What the barn would call news.
    Info,
    /// For who looks for a fault; names of people appear.
    Debug,
    /// Everything.
    Trace,
}

/// Settings that can not be taken.
#[derive(Debug, Error)]
pub enum SettingsError {
    /// The file can not be read.
    #[error("reading the settings from {}", path.display())]
    Read {
        /// Which file.
        path: PathBuf,
        /// Why.
        source: io::Error,
    },
    /// The file is no TOML. The line itself is not shown: it may hold a secret.
    #[error("{} line {line}: not TOML: {why}", path.display())]
    Syntax {
        /// Which file.
        path: PathBuf,
        /// Where, from 1.
        line: usize,
        /// What is wrong with it.
        why: String,
    },
    /// The file and the environment can not be laid over each other.
    #[error("putting the settings together")]
    Merge(#[source] config::ConfigError),
    /// Values are wrong: all of them.
    #[error("wrong settings:\n{}", lines(.0))]
    Wrong(Vec<Complaint>),
}

fn lines(complaints: &[Complaint]) -> String {
    complaints.iter().map(Complaint::to_string).collect::<Vec<_>>().join("\n")
}

impl Settings {
    /// Reads the settings from a file, where there is one, and the environment. Paths in the file that are not absolute
    /// are meant from the file's folder.
    ///
    /// # Errors
    /// A file that can not be read or is no TOML; else everything that is wrong, together.
    pub fn load(
        path: Option<&Path>,
        env: impl IntoIterator<Item = (String, String)>,
    ) -> Result<Settings, SettingsError> {
        let mut layers = Config::builder();
        if let Some(path) = path {
            layers = layers.add_source(File::from_str(&read(path)?, FileFormat::Toml));
        }
        let environment = Environment::with_prefix(ENVIRONMENT)
            .prefix_separator("_")
            .separator(ENVIRONMENT_SEPARATOR)
            .source(Some(env.into_iter().collect()));
        let merged = layers.add_source(environment).build().map_err(SettingsError::Merge)?;

        let told = Told::default();
        let base = path.and_then(Path::parent).unwrap_or(Path::new(""));
        let settings = sections::read(Section::root(merged.cache, &told), base);
        let mut complaints = told.into_inner();
        topic_map(&settings.mqtt.prefix, &settings.mqtt.watch, &settings.topics, &mut complaints);
        if complaints.is_empty() { Ok(settings) } else { Err(SettingsError::Wrong(complaints)) }
    }
}

/// The file's text, known to be TOML. The `config` crate would quote a faulty line with whatever secret is in it.
fn read(path: &Path) -> Result<String, SettingsError> {
    let text = fs::read_to_string(path).map_err(|source| SettingsError::Read { path: path.to_owned(), source })?;
    if let Err(error) = text.parse::<toml::Table>() {
        let before = error.span().and_then(|span| text.get(..span.start)).unwrap_or_default();
        let line = before.matches('\n').count() + 1;
        return Err(SettingsError::Syntax { path: path.to_owned(), line, why: error.message().to_owned() });
    }
    Ok(text)
}
