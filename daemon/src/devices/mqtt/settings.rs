//! How to reach the broker, as written in the settings and as checked. Files that the settings name are read here, once.

use std::fmt;
use std::net::Ipv6Addr;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use rustls::pki_types::CertificateDer;
use rustls::pki_types::pem::PemObject;
use rustls::{ClientConfig, RootCertStore};
use serde::Deserialize;

use crate::complaint::Complaint;

/// `[mqtt]`, as written.
#[derive(Clone, PartialEq, Eq, Debug, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct MqttSettings {
    /// The broker's name or address.
    pub host: String,
    /// Its port; 1883 unless told, 8883 with TLS.
    pub port: Option<u16>,
    /// The name under which the broker keeps messages for the hub while it is away: one hub, one name, for ever.
    pub client_id: String,
    /// The barn's own tree of topics. Below it, `hub/` is the hub's.
    pub prefix: String,
    /// Further trees whose topics without a rule are shown to people.
    pub watch: Vec<String>,
    /// Who the hub is to the broker.
    pub user: Option<String>,
    /// File with its password: the first line.
    pub password_file: Option<PathBuf>,
    /// Encrypt, and check who the broker is.
    pub tls: bool,
    /// File with the certificates (PEM) of whoever vouches for the broker; the system's own unless told.
    pub ca_file: Option<PathBuf>,
    /// For how long the broker keeps messages for a hub that is away, in hours: 1 to 8,760.
    pub session_expiry_hours: u32,
}

impl Default for MqttSettings {
    fn default() -> Self {
        Self {
            host: "127.0.0.1".to_owned(),
            port: None,
            client_id: "bellmare-hub".to_owned(),
            prefix: "barn".to_owned(),
            watch: vec!["homie/5".to_owned()],
            user: None,
            password_file: None,
            tls: false,
            ca_file: None,
            session_expiry_hours: 7 * 24,
        }
    }
}

/// How to reach the broker, free of faults.
#[derive(Clone)]
pub struct Mqtt {
    /// Name or address.
    pub host: String,
    /// Port.
    pub port: u16,
    /// Name of the session.
    pub client_id: String,
    /// The barn's own tree of topics.
    pub prefix: String,
    /// User and password.
    pub login: Option<(String, String)>,
    /// How to encrypt.
    pub tls: Option<Arc<ClientConfig>>,
    /// For how long the broker keeps messages for a hub that is away.
    pub session_expiry: Duration,
}

impl fmt::Debug for Mqtt {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Mqtt")
            .field("host", &self.host)
            .field("port", &self.port)
            .field("client_id", &self.client_id)
            .field("user", &self.login.as_ref().map(|(user, _)| user))
            .field("tls", &self.tls.is_some())
            .finish_non_exhaustive()
    }
}

impl MqttSettings {
    /// Checks the settings and reads the files they name. Each fault is pushed to `complaints`; `None` where there was
    /// one.
    pub fn check(&self, complaints: &mut Vec<Complaint>) -> Option<Mqtt> {
        let before = complaints.len();
        let mut add = |key: &str, value: &dyn fmt::Display, allowed: &str| {
            complaints.push(Complaint::new(format!("mqtt.{key}"), value, allowed));
        };
        if self.host.trim().is_empty() {
            add("host", &self.host, "a name or an address");
        }
        if self.tls && self.host.trim().parse::<Ipv6Addr>().is_ok() {
            add("host", &self.host, "with tls: a name, or an address of IPv4");
        }
        let port = self.port.unwrap_or(if self.tls { 8883 } else { 1883 });
        if port == 0 {
            add("port", &port, "1 to 65535");
        }
        let plain = |c: char| c.is_ascii_alphanumeric() || c == '-' || c == '_';
        if self.client_id.is_empty() || self.client_id.len() > 64 || !self.client_id.chars().all(plain) {
            add("client_id", &self.client_id, "1 to 64 of A-Z a-z 0-9 - _");
        }
        if !(1..=8760).contains(&self.session_expiry_hours) {
            add("session_expiry_hours", &self.session_expiry_hours, "1 to 8760");
        }
        let login = match (&self.user, &self.password_file) {
            (None, None) => None,
            (Some(user), Some(file)) => match password(file) {
                Ok(password) => Some((user.clone(), password)),
                Err(fault) => {
                    add("password_file", &file.display(), &fault);
                    None
                }
            },
            (Some(user), None) => {
                add("user", user, "only together with password_file");
                None
            }
            (None, Some(file)) => {
                add("password_file", &file.display(), "only together with user");
                None
            }
        };
        let tls = match (self.tls, &self.ca_file) {
            (false, None) => None,
            (false, Some(file)) => {
                add("ca_file", &file.display(), "only together with tls = true");
                None
            }
            (true, file) => match client_config(file.as_deref()) {
                Ok(config) => Some(Arc::new(config)),
                Err(fault) => {
                    let file = file.as_ref().map(|file| file.display().to_string()).unwrap_or_default();
                    add("ca_file", &file, &fault);
                    None
                }
            },
        };
        (complaints.len() == before).then(|| Mqtt {
            host: self.host.trim().to_owned(),
            port,
            client_id: self.client_id.clone(),
            prefix: self.prefix.clone(),
            login,
            tls,
            session_expiry: Duration::from_secs(u64::from(self.session_expiry_hours) * 3600),
        })
    }
}

fn password(file: &Path) -> Result<String, String> {
    let text = std::fs::read_to_string(file).map_err(|error| format!("a file the hub can read ({error})"))?;
    match text.lines().next().map(str::trim_end) {
        Some(line) if !line.is_empty() => Ok(line.to_owned()),
        _ => Err("a file whose first line is the password".to_owned()),
    }
}

/// What the hub trusts: the file's certificates, or the system's. The client library is built without a provider of its
/// own and is handed this whole, so the old webpki that it still names is an error type to it and checks nothing.
fn client_config(ca_file: Option<&Path>) -> Result<ClientConfig, String> {
    let mut roots = RootCertStore::empty();
    match ca_file {
        Some(file) => {
            let pem = std::fs::read(file).map_err(|error| format!("a file the hub can read ({error})"))?;
            for certificate in CertificateDer::pem_slice_iter(&pem) {
                let certificate = certificate.map_err(|error| format!("certificates in PEM ({error})"))?;
                roots.add(certificate).map_err(|error| format!("certificates in PEM ({error})"))?;
            }
        }
        None => {
            roots.add_parsable_certificates(rustls_native_certs::load_native_certs().certs);
        }
    }
    if roots.is_empty() {
        return Err("a file with at least one certificate in PEM; the system has none of its own".to_owned());
    }
    // The provider is named, so that nothing depends on who in the process installs one first.
    ClientConfig::builder_with_provider(Arc::new(rustls::crypto::ring::default_provider()))
        .with_safe_default_protocol_versions()
        .map(|config| config.with_root_certificates(roots).with_no_client_auth())
        .map_err(|error| error.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(change: impl FnOnce(&mut MqttSettings), want: &[&str]) {
        let mut settings = MqttSettings::default();
        change(&mut settings);
        let mut complaints = Vec::new();
        let mqtt = settings.check(&mut complaints);
        let got: Vec<_> = complaints.iter().map(ToString::to_string).collect();
        assert_eq!(got, want, "{settings:?}");
        assert_eq!(mqtt.is_some(), want.is_empty());
    }

    #[test]
    fn faults_are_named() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = |name: &str, text: &str| {
            let path = folder.path().join(name);
            std::fs::write(&path, text).expect("a file");
            path
        };
        let empty = path("empty", "");
        let pem = path("bad.pem", "-----BEGIN CERTIFICATE-----\nAAAA\n-----END CERTIFICATE-----\n");
        check(|_| {}, &[]);
        check(|s| s.host = " ".into(), &["mqtt.host = \" \": allowed is a name or an address"]);
        check(|s| s.host = "::1".into(), &[]);
        check(|s| s.port = Some(0), &["mqtt.port = \"0\": allowed is 1 to 65535"]);
        check(|s| s.client_id = "a/b".into(), &["mqtt.client_id = \"a/b\": allowed is 1 to 64 of A-Z a-z 0-9 - _"]);
        check(|s| s.session_expiry_hours = 0, &["mqtt.session_expiry_hours = \"0\": allowed is 1 to 8760"]);
        check(|s| s.user = Some("hub".into()), &["mqtt.user = \"hub\": allowed is only together with password_file"]);
        check(
            |s| (s.user, s.password_file) = (Some("hub".into()), Some(empty.clone())),
            &[&format!(
                "mqtt.password_file = {:?}: allowed is a file whose first line is the password",
                empty.display().to_string()
            )],
        );
        check(
            |s| s.ca_file = Some(empty.clone()),
            &[&format!("mqtt.ca_file = {:?}: allowed is only together with tls = true", empty.display().to_string())],
        );
        let mut complaints = Vec::new();
        for file in [empty, pem, folder.path().join("none")] {
            let settings = MqttSettings { tls: true, ca_file: Some(file), ..MqttSettings::default() };
            assert!(settings.check(&mut complaints).is_none());
        }
        assert_eq!(complaints.len(), 3);
    }

    #[test]
    fn the_password_is_read_and_not_shown() {
        let folder = tempfile::tempdir().expect("a folder");
        let file = folder.path().join("password");
        std::fs::write(&file, "oats and hay\n").expect("a file");
        let settings = MqttSettings { user: Some("hub".into()), password_file: Some(file), ..MqttSettings::default() };
        let mqtt = settings.check(&mut Vec::new()).expect("good settings");
        assert_eq!(mqtt.login, Some(("hub".to_owned(), "oats and hay".to_owned())));
        assert_eq!(mqtt.port, 1883);
        assert!(!format!("{mqtt:?}").contains("oats"));
    }
}
