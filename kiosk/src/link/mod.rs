//! The line to the hub: boards in, touches out. Threads of their own, so that a hub that hangs never holds up the
//! screen. It knows addresses and bytes, and nothing of screens.

pub mod boards;
pub mod keep;
pub mod moment;
pub mod outbox;
pub mod questions;
pub mod sse;
pub mod touches;

use std::time::Duration;

use ureq::Agent;

/// Where the hub is and how the kiosk says who it is.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Hub {
    /// Its address, without a slash at the end.
    pub url: String,
    /// The kiosk's key, where the hub asks for one.
    pub key: Option<String>,
}

impl Hub {
    /// The hub at an address.
    pub fn new(url: &str, key: Option<String>) -> Self {
        Self { url: url.trim_end_matches('/').to_owned(), key }
    }

    /// What stands in the header that names the kiosk.
    fn bearer(&self) -> Option<String> {
        self.key.as_ref().map(|key| format!("Bearer {key}"))
    }
}

/// How long the hub may take to be found and to begin an answer.
const ANSWERS_WITHIN: Duration = Duration::from_secs(10);

/// A client that gives up: `body_within` is how long a whole answer may take.
fn agent(body_within: Duration) -> Agent {
    Agent::config_builder()
        .http_status_as_error(false)
        .timeout_connect(Some(ANSWERS_WITHIN))
        .timeout_send_request(Some(ANSWERS_WITHIN))
        .timeout_send_body(Some(ANSWERS_WITHIN))
        .timeout_recv_response(Some(ANSWERS_WITHIN))
        .timeout_recv_body(Some(body_within))
        .build()
        .into()
}

/// Waits that double from half a second to ten, until something works again.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Backoff(Duration);

impl Default for Backoff {
    fn default() -> Self {
        Self(Duration::from_millis(500))
    }
}

impl Backoff {
    /// How long to wait now; the next wait is twice as long.
    pub fn next_wait(&mut self) -> Duration {
        let wait = self.0;
        self.0 = (wait * 2).min(Duration::from_secs(10));
        wait
    }

    /// Something works again.
    pub fn reset(&mut self) {
        *self = Self::default();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn waits_double_up_to_ten_seconds_and_begin_anew() {
        let mut backoff = Backoff::default();
        let waits: Vec<u128> = (0..7).map(|_| backoff.next_wait().as_millis()).collect();
        assert_eq!(waits, [500, 1000, 2000, 4000, 8000, 10_000, 10_000]);
        backoff.reset();
        assert_eq!(backoff.next_wait().as_millis(), 500);
    }
}
