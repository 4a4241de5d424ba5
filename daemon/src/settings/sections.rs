//! The sections of the settings, key by key, and the rules between keys. No default here opens the hub to others than its
//! own machine, and none is a password.

use std::fs;
use std::net::{Ipv4Addr, Ipv6Addr, SocketAddr};
use std::path::{Path, PathBuf};

use bellmare_barn::id::KioskId;
use bellmare_barn::limits::{DisplayUnits, Limits};

use super::section::Section;
use super::{
    Accounts, Broker, Data, Log, LogLevel, LogTo, Login, Mqtt, Secret, Settings, Tls, TopicRule, Web, limits, messages,
    zone,
};

pub(super) const UNITS: &[(&str, DisplayUnits)] =
    &[("us", DisplayUnits::UsCustomary), ("metric", DisplayUnits::Metric)];

pub(super) const LOG_TO: &[(&str, LogTo)] =
    &[("auto", LogTo::Auto), ("stderr", LogTo::Stderr), ("journald", LogTo::Journald)];

pub(super) const LOG_LEVELS: &[(&str, LogLevel)] = &[
    ("error", LogLevel::Error),
    ("warn", LogLevel::Warn),
    ("info", LogLevel::Info),
    ("debug", LogLevel::Debug),
    ("trace", LogLevel::Trace),
];

/// 22 characters of base64 hold the 128 bits that nobody guesses.
const KIOSK_KEY_CHARS: std::ops::RangeInclusive<usize> = 22..=200;

/// Reads everything. Where a value is wrong, and told, the settings hold the default in its place.
pub(super) fn read(mut root: Section, base: &Path) -> Settings {
    let mut barn = Limits::default();
    read_barn(root.section("barn"), &mut barn);
    let data = data(root.section("data"), base);
    let mqtt = mqtt(root.section("mqtt"), base);
    let web = web(root.section("web"));
    let messages = messages::read(root.section("messages"), base);
    let limits::Read { water, heat, frost, sensors, lessons, shift, plan, care, aisle, alarms, tell } =
        limits::read(root.section("limits"));
    let log = log(root.section("log"));
    let topics = root.list::<TopicRule>("topics");
    root.finish();
    let mut limits = Limits { water, heat, frost, sensors, lessons, shift, plan, care, aisle, alarms, tell, ..barn };
    limits.tell.reachable = messages.people.keys().cloned().collect();
    Settings { data, mqtt, web, messages, limits, log, topics }
}

fn read_barn(mut s: Section, barn: &mut Limits) {
    if let Some(name) = s.text("name", 1..=60) {
        barn.barn = name;
    }
    let zone = s.judge("time_zone", |name| zone::parse(name).ok_or_else(|| zone::allowed(name)));
    if let Some(zone) = zone {
        barn.zone = zone;
    }
    if let Some(units) = s.choice("units", UNITS) {
        barn.units = units;
    }
    s.finish();
}

fn data(mut s: Section, base: &Path) -> Data {
    let folder = s.path("folder", base).unwrap_or_else(|| PathBuf::from("/var/lib/bellmare"));
    let book = s.path("book", base);
    s.finish();
    Data { folder, book }
}

fn mqtt(mut s: Section, base: &Path) -> Mqtt {
    let external = s.choice("broker", &[("embedded", false), ("external", true)]).unwrap_or(false);
    let login = login(&mut s, base);
    let broker = if external { external_broker(&mut s, base) } else { embedded_broker(&mut s, base) };
    let client_id = s.text("client_id", 1..=60).unwrap_or_else(|| "bellmare-hub".to_owned());
    let prefix = s.judge("prefix", topic_levels);
    let watch = s.list::<String>("watch");
    s.finish();
    Mqtt { broker, login, client_id, prefix: prefix.unwrap_or_else(|| "barn".to_owned()), watch }
}

/// The first levels of topics.
pub(super) fn topic_levels(prefix: &str) -> Result<String, String> {
    let sound = prefix.len() <= 200
        && !prefix.contains(['+', '#'])
        && !prefix.starts_with('$')
        && !prefix.chars().any(char::is_control)
        && prefix.split('/').all(|level| !level.is_empty());
    let allowed = "topic levels such as \"barn\" or \"hill/barn\", without + and #";
    if sound { Ok(prefix.to_owned()) } else { Err(allowed.to_owned()) }
}

fn embedded_broker(s: &mut Section, base: &Path) -> Broker {
    for key in ["host", "port", "tls", "ca_file"] {
        s.refuse(key, "as mqtt.broker is \"embedded\"");
    }
    let listen = s.address("listen").unwrap_or_else(|| loopback(1883));
    let passwords = s.path("accounts_file", base);
    let permissions = s.path("permissions_file", base);
    if passwords.is_none() && permissions.is_some() {
        s.complain("permissions_file", "", "only together with mqtt.accounts_file");
    }
    let accounts = passwords.map(|passwords| Accounts { passwords, permissions });
    if !listen.ip().is_loopback() && accounts.is_none() {
        let allowed = "a loopback address, or mqtt.accounts_file: others can reach this one";
        s.complain("listen", listen, allowed);
    }
    Broker::Embedded { listen, accounts }
}

fn external_broker(s: &mut Section, base: &Path) -> Broker {
    for key in ["listen", "accounts_file", "permissions_file"] {
        s.refuse(key, "as mqtt.broker is \"external\"");
    }
    let tls = s.flag("tls").unwrap_or(false);
    if !s.has("host") {
        s.complain("host", "", "the broker's name or address, as mqtt.broker is \"external\"");
    }
    let host = s.text("host", 1..=253).unwrap_or_default();
    if tls && host.parse::<Ipv6Addr>().is_ok() {
        s.complain("host", &host, "with tls: a name, or an address of IPv4");
    }
    let port = s.whole("port", 1..=65_535).and_then(|port| u16::try_from(port).ok());
    let ca_file = s.has("ca_file").then(|| s.path("ca_file", base)).flatten();
    if let (Some(ca_file), false) = (&ca_file, tls) {
        s.complain("ca_file", ca_file.display(), "nothing, as mqtt.tls is false");
    }
    let tls = tls.then_some(Tls { ca_file });
    // The ports that IANA keeps for MQTT, plain and encrypted.
    let port = port.unwrap_or(if tls.is_some() { 8883 } else { 1883 });
    Broker::External { host, port, tls }
}

/// A name and a password, both or neither.
pub(super) fn login(s: &mut Section, base: &Path) -> Option<Login> {
    let named = s.has("user");
    let given = s.has("password") || s.has("password_file");
    let password = secret_or_file(s, ("password", "password_file"), 1..=200, base);
    let user = s.text("user", 1..=100);
    match (named, given) {
        (true, false) => {
            let allowed = format!("a password, or {}, as {} is set", s.key("password_file"), s.key("user"));
            s.complain("password", "", allowed);
        }
        (false, true) => s.complain("user", "", "a name, as a password is set"),
        _ => {}
    }
    Some(Login { user: user?, password: password? })
}

/// A secret that stands in the settings, or alone on the first line of a file of its own.
pub(super) fn secret_or_file(
    s: &mut Section,
    (key, file): (&'static str, &'static str),
    chars: std::ops::RangeInclusive<usize>,
    base: &Path,
) -> Option<Secret> {
    if s.has(key) && s.has(file) {
        s.refuse(file, &format!("as {} is set", s.key(key)));
    }
    let secret = s.secret(key, chars);
    match s.path(file, base) {
        Some(path) => first_line(s, file, &path),
        None => secret,
    }
}

fn first_line(s: &Section, file: &'static str, path: &Path) -> Option<Secret> {
    const ALLOWED: &str = "a readable file with the secret on its first line";
    match fs::read_to_string(path) {
        Ok(text) => {
            let line = text.lines().next().unwrap_or_default();
            if line.is_empty() {
                s.complain(file, path.display(), ALLOWED);
            }
            (!line.is_empty()).then(|| Secret::new(line))
        }
        Err(error) => {
            s.complain(file, path.display(), format!("{ALLOWED} ({error})"));
            None
        }
    }
}

fn web(mut s: Section) -> Web {
    let listen = s.address("listen").unwrap_or_else(|| loopback(8470));
    let keys = s.secrets("kiosk_keys", KIOSK_KEY_CHARS);
    for (i, (name, key)) in keys.iter().enumerate() {
        if let Some((other, _)) = keys[..i].iter().find(|(_, other)| other == key) {
            s.complain(&format!("kiosk_keys.{name}"), "(not shown)", format!("a key of its own; {other} has this one"));
        }
    }
    if !listen.ip().is_loopback() && keys.is_empty() {
        s.complain("listen", listen, "a loopback address, or web.kiosk_keys: others can reach this one");
    }
    s.finish();
    Web { listen, kiosk_keys: keys.into_iter().map(|(name, key)| (KioskId::new(name), key)).collect() }
}

fn log(mut s: Section) -> Log {
    let to = s.choice("to", LOG_TO).unwrap_or(LogTo::Auto);
    let level = s.choice("level", LOG_LEVELS).unwrap_or(LogLevel::Info);
    s.finish();
    Log { to, level }
}

fn loopback(port: u16) -> SocketAddr {
    SocketAddr::from((Ipv4Addr::LOCALHOST, port))
}
