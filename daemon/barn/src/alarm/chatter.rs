//! What comes and goes. A cause that has come several times within an hour *chatters*: that is said once, and nothing more
//! until it *keeps still*, gone or standing, for a while.
//!
//! A cause comes when its alarm is raised, and when it holds again while its alarm waits to end.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::Cause;
use crate::time::Mono;

/// An hour, in milliseconds.
const HOUR_MS: u64 = 3_600_000;

/// When each cause came within the last hour.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub(super) struct Chatter {
    #[serde(with = "crate::pairs")]
    came: BTreeMap<Cause, Vec<Mono>>,
}

impl Chatter {
    /// The cause came once more. How often within the hour, counted up to `most`.
    pub(super) fn came(&mut self, cause: &Cause, now: Mono, most: u32) -> u32 {
        self.came.retain(|_, times| times.last().is_some_and(|last| now.since(*last) < HOUR_MS));
        let times = self.came.entry(cause.clone()).or_default();
        times.retain(|at| now.since(*at) < HOUR_MS);
        if times.len() >= most as usize && !times.is_empty() {
            times.remove(0);
        }
        times.push(now);
        u32::try_from(times.len()).unwrap_or(u32::MAX)
    }

    /// It has kept still.
    pub(super) fn still(&mut self, cause: &Cause) {
        self.came.remove(cause);
    }
}
