//! How to reach the broker: the settings, with the certificates that they name read once.

use std::fmt;
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

use rustls::pki_types::CertificateDer;
use rustls::pki_types::pem::PemObject;
use rustls::{ClientConfig, RootCertStore};

use crate::complaint::Complaint;
use crate::settings;

/// For how long a broker keeps messages for a hub that is away: a week of repairs.
const SESSION_EXPIRY: Duration = Duration::from_secs(7 * 24 * 3600);

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

impl Mqtt {
    /// The line that the settings describe; `None` where the hub is its own broker.
    ///
    /// # Errors
    /// Where no certificate to trust can be read.
    pub fn of(settings: &settings::Mqtt) -> Result<Option<Self>, Complaint> {
        let settings::Broker::External { host, port, tls } = &settings.broker else { return Ok(None) };
        let tls = tls.as_ref().map(|tls| {
            client_config(tls.ca_file.as_deref()).map(Arc::new).map_err(|fault| {
                let file = tls.ca_file.as_ref().map(|file| file.display().to_string()).unwrap_or_default();
                Complaint::new("mqtt.ca_file", file, fault)
            })
        });
        Ok(Some(Self {
            host: host.clone(),
            port: *port,
            client_id: settings.client_id.clone(),
            prefix: settings.prefix.clone(),
            login: settings.login.as_ref().map(|login| (login.user.clone(), login.password.expose().to_owned())),
            tls: tls.transpose()?,
            session_expiry: SESSION_EXPIRY,
        }))
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
    use crate::settings::{Broker, Login, Secret, Tls};

    fn settings(broker: Broker) -> settings::Mqtt {
        settings::Mqtt {
            broker,
            login: None,
            client_id: "hub".to_owned(),
            prefix: "barn".to_owned(),
            watch: Vec::new(),
        }
    }

    #[test]
    fn the_hubs_own_broker_needs_no_line() {
        let listen = "127.0.0.1:1883".parse().expect("an address");
        let mqtt = Mqtt::of(&settings(Broker::Embedded { listen, accounts: None })).expect("no file to read");
        assert!(mqtt.is_none());
    }

    #[test]
    fn certificates_that_can_not_be_read_are_named() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = |name: &str, text: &str| {
            let path = folder.path().join(name);
            std::fs::write(&path, text).expect("a file");
            path
        };
        let empty = path("empty", "");
        let pem = path("bad.pem", "-----BEGIN CERTIFICATE-----\nAAAA\n-----END CERTIFICATE-----\n");
        for file in [empty, pem, folder.path().join("none")] {
            let tls = Some(Tls { ca_file: Some(file.clone()) });
            let settings = settings(Broker::External { host: "a".to_owned(), port: 8883, tls });
            let complaint = Mqtt::of(&settings).expect_err("no certificate");
            assert_eq!((complaint.key.as_str(), complaint.value), ("mqtt.ca_file", file.display().to_string()));
        }
    }

    #[test]
    fn the_password_is_not_shown() {
        let mut settings = settings(Broker::External { host: "a".to_owned(), port: 1883, tls: None });
        settings.login = Some(Login { user: "hub".to_owned(), password: Secret::new("oats and hay") });
        let mqtt = Mqtt::of(&settings).expect("no file to read").expect("a broker elsewhere");
        assert_eq!(mqtt.login, Some(("hub".to_owned(), "oats and hay".to_owned())));
        assert!(!format!("{mqtt:?}").contains("oats"));
    }
}
