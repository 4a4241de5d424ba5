//! A badge reader on its own device of the system (evdev), grabbed so that what it types reaches nothing else. It is opened
//! again and again: a reader may be plugged in after the kiosk has started. Not tried on a board; what the keys mean is in
//! [`keys`](super::keys).

use std::path::Path;
use std::time::{Duration, Instant};

use evdev::{Device, EventSummary};

use super::Typed;
use super::keys::Keys;

/// How long to wait before a reader that is not there is looked for again.
const AGAIN_AFTER: Duration = Duration::from_secs(2);

/// What was heard of a reader.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Heard {
    /// A badge.
    Badge(String),
    /// The reader is there.
    There,
    /// It is not, or can not be read, and why.
    Gone(String),
}

/// Reads until `tell` says false. To be run on a thread of its own.
pub fn listen(device: &Path, mut tell: impl FnMut(Heard) -> bool) {
    loop {
        let Some(error) = read(device, &mut tell) else { return };
        if !tell(Heard::Gone(format!("{}: {error}", device.display()))) {
            return;
        }
        std::thread::sleep(AGAIN_AFTER);
    }
}

/// Reads until the device is gone, and says why; none where nobody wants to hear of it any more.
fn read(device: &Path, tell: &mut impl FnMut(Heard) -> bool) -> Option<std::io::Error> {
    let mut open = match Device::open(device) {
        Ok(open) => open,
        Err(error) => return Some(error),
    };
    if let Err(error) = open.grab() {
        return Some(error);
    }
    if !tell(Heard::There) {
        return None;
    }
    let (mut keys, mut typed, began) = (Keys::default(), Typed::default(), Instant::now());
    loop {
        let events = match open.fetch_events() {
            Ok(events) => events,
            Err(error) => return Some(error),
        };
        // The device's own times are of a clock that may be set meanwhile.
        let at = began.elapsed();
        for event in events {
            let EventSummary::Key(_, key, value) = event.destructure() else { continue };
            let badge = keys.take(key.code(), value).and_then(|written| typed.take(written, at));
            if let Some(badge) = badge
                && !tell(Heard::Badge(badge))
            {
                return None;
            }
        }
    }
}
