//! One alarm on its way up: which step is next and when, who has been asked, and whether somebody has taken it.

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use super::message::About;
use crate::board::Priority;
use crate::id::PersonId;
use crate::limits::TellLimits;
use crate::time::{Mono, Now};

/// Why something waits for a receiver.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub(super) enum Why {
    /// See [`About`].
    Raised,
    /// See [`About`].
    Worse,
    /// See [`About`].
    Climbed,
    /// See [`About`].
    Chattering(u32),
    /// See [`About`].
    Taken,
    /// See [`About`].
    Ended,
}

impl Why {
    /// True where somebody must act; a notice says that nobody need any more.
    pub(super) fn is_active(self) -> bool {
        !matches!(self, Why::Taken | Why::Ended)
    }

    pub(super) fn about(self, untaken_min: u32) -> About {
        match self {
            Why::Raised => About::Raised,
            Why::Worse => About::Worse,
            Why::Climbed => About::Climbed { untaken_min },
            Why::Chattering(times) => About::Chattering { times },
            Why::Taken => About::Taken,
            Why::Ended => About::Ended,
        }
    }
}

/// An alarm that people are told of.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub(super) struct Case {
    /// Since when nobody has taken it.
    pub(super) since: Mono,
    /// When its first step was, or is to be; later steps count from here.
    base: Mono,
    /// The next step.
    pub(super) step: usize,
    /// What the first step is told.
    pub(super) first: Why,
    /// Who waits for a message or has had one.
    pub(super) asked: BTreeSet<PersonId>,
    /// Who has been told, in order.
    pub(super) told: Vec<(PersonId, Now)>,
    /// Whether machines have been told.
    pub(super) machines: bool,
    /// Somebody has taken it: it climbs no further.
    pub(super) taken: bool,
}

impl Case {
    pub(super) fn new(first: Why, now: Mono) -> Self {
        Self {
            since: now,
            base: now,
            step: 0,
            first,
            asked: BTreeSet::new(),
            told: Vec::new(),
            machines: false,
            taken: false,
        }
    }

    /// It begins at its first step again: what it says is another thing now.
    pub(super) fn anew(&mut self, first: Why, now: Mono) {
        let told = std::mem::take(&mut self.told);
        let machines = self.machines;
        *self = Self { told, machines, ..Self::new(first, now) };
    }

    /// When the next step is due. What is low does not climb.
    pub(super) fn due(&self, priority: Priority, limits: &TellLimits) -> Option<Mono> {
        if self.taken { None } else { Some(self.base.plus(offset(self.step, priority, limits)?)) }
    }

    /// The next step is due at that time.
    pub(super) fn put(&mut self, due: Mono, priority: Priority, limits: &TellLimits) {
        let Some(offset) = offset(self.step, priority, limits) else { return };
        self.base = Mono(due.0.saturating_sub(offset));
    }
}

/// How long after the first step this one is, in milliseconds.
fn offset(step: usize, priority: Priority, limits: &TellLimits) -> Option<u64> {
    let (second, third) = match priority {
        Priority::High => (limits.high_second, limits.high_third),
        Priority::Medium => (limits.medium_second, limits.medium_third),
        Priority::Low => return None,
    };
    match step {
        0 => Some(0),
        1 => Some(second.as_millis()),
        2 => Some(third.as_millis()),
        _ => None,
    }
}
