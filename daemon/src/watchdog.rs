//! Tells systemd that the hub is ready, that its loop turns, and that it stops. Where there is no systemd, nothing happens.

use sd_notify::NotifyState;
use tracing::debug;

/// The hub is ready: it listens, and has its barn.
pub(crate) fn ready() {
    tell(&[NotifyState::Ready]);
}

/// The loop has turned: intake, journal and board have all moved.
pub(crate) fn alive() {
    tell(&[NotifyState::Watchdog]);
}

/// The hub is about to stop.
pub(crate) fn stopping() {
    tell(&[NotifyState::Stopping]);
}

fn tell(state: &[NotifyState<'_>]) {
    if let Err(why) = sd_notify::notify(state) {
        debug!(%why, "systemd could not be told");
    }
}
