//! A program that takes messages over HTTP. Each is a POST with an id by which it knows a repeat, and a signature where it and
//! the hub share a secret: the headers `webhook-id`, `webhook-timestamp` and `webhook-signature` of the Standard Webhooks
//! convention (from memory), for which there are libraries in most languages. The signature is `v1,` and the Base64 of
//! HMAC-SHA256 over `ID.TIMESTAMP.BODY`. Any answer of 200 to 299 says that it has the message.

use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use bellmare_barn::time::{WallClock, Zone};
use hmac::{Hmac, Mac};
use rustls::pki_types::CertificateDer;
use rustls::pki_types::pem::PemObject;
use sha2::Sha256;
use ureq::Agent;
use ureq::tls::{Certificate, RootCerts, TlsConfig};

use super::queue::{Fault, Parcel};
use super::{cap, machine};
use crate::complaint::Complaint;
use crate::settings::messages::{Webhook, WebhookFormat};

/// A program that does not answer within this is not reached.
const PATIENCE: Duration = Duration::from_secs(20);
/// Answers that refuse one message and say nothing of the next: the rest of 400 to 499 but these is a matter of the line.
const OF_THE_LINE: [u16; 6] = [401, 403, 404, 407, 408, 429];

/// Where messages go.
pub(super) struct WebhookLine {
    agent: Agent,
    url: String,
    key: Option<Vec<u8>>,
    format: WebhookFormat,
    barn: String,
    zone: Zone,
}

impl WebhookLine {
    /// Connects to nothing yet.
    ///
    /// # Errors
    /// Where certificates or a secret that the settings name can not be used.
    pub(super) fn new(webhook: &Webhook, barn: &str, zone: Zone) -> Result<Self, Complaint> {
        let mut config = Agent::config_builder().timeout_global(Some(PATIENCE)).max_redirects(0);
        if webhook.url.starts_with("https") {
            // The provider is named, so that nothing depends on who in the process installs one first.
            let provider = Arc::new(rustls::crypto::ring::default_provider());
            let tls = TlsConfig::builder()
                .root_certs(roots(webhook.ca_file.as_deref())?)
                .unversioned_rustls_crypto_provider(provider);
            config = config.tls_config(tls.build());
        }
        let key = webhook.secret.as_ref().map(|secret| key(secret.expose())).transpose()?;
        Ok(Self {
            agent: config.build().into(),
            url: webhook.url.clone(),
            key,
            format: webhook.format,
            barn: barn.to_owned(),
            zone,
        })
    }

    /// Sends a parcel.
    ///
    /// # Errors
    /// Why it was not taken.
    pub(super) fn send(&self, parcel: &Parcel, now: WallClock) -> Result<(), Fault> {
        let (kind, body) = match self.format {
            WebhookFormat::Json => ("application/json", machine::object(parcel, &self.barn).to_string()),
            WebhookFormat::Cap => {
                let alert = cap::alert(parcel, &self.barn, self.zone).map_err(|why| Fault::Refused(why.to_string()))?;
                ("application/cap+xml", alert)
            }
        };
        let seconds = now.get().map_or(0, |wall| wall.0.div_euclid(1000)).to_string();
        let mut request = self
            .agent
            .post(&self.url)
            .header("content-type", kind)
            .header("webhook-id", parcel.id())
            .header("webhook-timestamp", &seconds);
        if let Some(key) = &self.key {
            request = request.header("webhook-signature", signature(key, parcel.id(), &seconds, &body));
        }
        match request.send(body.as_bytes()) {
            Ok(answer) if answer.status().is_success() => Ok(()),
            Ok(answer) => Err(Fault::Line(format!("it answered {}", answer.status()))),
            Err(ureq::Error::StatusCode(code)) if (400..500).contains(&code) && !OF_THE_LINE.contains(&code) => {
                Err(Fault::Refused(format!("it answered {code}")))
            }
            Err(ureq::Error::StatusCode(code)) => Err(Fault::Line(format!("it answered {code}"))),
            Err(why) => Err(Fault::Line(crate::chain(&why))),
        }
    }
}

/// What the receiver compares, in the form of its header.
fn signature(key: &[u8], id: &str, seconds: &str, body: &str) -> String {
    // HMAC takes a key of any length.
    let Ok(mut mac) = Hmac::<Sha256>::new_from_slice(key) else { return String::new() };
    mac.update(format!("{id}.{seconds}.{body}").as_bytes());
    format!("v1,{}", STANDARD.encode(mac.finalize().into_bytes()))
}

/// The secret as it is written; `whsec_` and Base64 stand for the bytes, as that convention has it.
fn key(secret: &str) -> Result<Vec<u8>, Complaint> {
    let Some(encoded) = secret.strip_prefix("whsec_") else { return Ok(secret.as_bytes().to_vec()) };
    STANDARD.decode(encoded).map_err(|_| {
        Complaint::new(
            "messages.webhook.secret",
            "(not shown)",
            "Base64 after \"whsec_\", or a secret that does not begin so",
        )
    })
}

/// The system's certificates, and those of the file.
fn roots(ca_file: Option<&Path>) -> Result<RootCerts, Complaint> {
    let mut roots: Vec<Certificate<'static>> = rustls_native_certs::load_native_certs()
        .certs
        .iter()
        .map(|certificate| Certificate::from_der(certificate).to_owned())
        .collect();
    if let Some(file) = ca_file {
        let complain = |why: String| Complaint::new("messages.webhook.ca_file", file.display(), why);
        let pem = std::fs::read(file).map_err(|why| complain(format!("a file the hub can read ({why})")))?;
        for certificate in CertificateDer::pem_slice_iter(&pem) {
            let certificate = certificate.map_err(|why| complain(format!("certificates in PEM ({why})")))?;
            roots.push(Certificate::from_der(&certificate).to_owned());
        }
    }
    if roots.is_empty() {
        let allowed = "a file with at least one certificate in PEM; the system has none of its own";
        return Err(Complaint::new("messages.webhook.ca_file", "", allowed));
    }
    Ok(RootCerts::new_with_certs(&roots))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_signature_is_the_one_that_others_compute() {
        // printf '%s' 'msg_1.1700000000.{"a":1}' | openssl dgst -sha256 -hmac 'correct horse battery' -binary | base64
        let key = key("correct horse battery").expect("plain");
        let made = signature(&key, "msg_1", "1700000000", "{\"a\":1}");
        assert_eq!(made, "v1,UyvHB+4RD6exhc9VgbZUXFcgXEFqB4uxVvEEr1GTxUs=");
        assert_eq!(super::key("whsec_AAEC").expect("Base64"), [0, 1, 2]);
        assert!(super::key("whsec_*").is_err());
    }
}
