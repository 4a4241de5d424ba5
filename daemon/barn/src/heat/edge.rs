//! One limit with a deadband and a clock: the small machine that every caution of the air is built of.
//!
//! ```text
//!            value >= limit                lasted long enough
//!   Under ------------------> Over(since) - - - - - - - - - - -> Over, and an alarm
//!     ^                           |                                     |
//!     '---------------------------'-------------------------------------'
//!                   value <  limit - deadband
//! ```
//!
//! Between limit and limit - deadband nothing changes, so that a value that hovers about a limit neither flickers on a
//! screen nor calls anybody twice. Several limits on one value are several edges, each with a clock of its own: a value
//! that goes back and forth over the upper one has been over the lower one all the while.
//!
//! Knows no horse, no place and no unit.

use serde::{Deserialize, Serialize};

use crate::time::Mono;
use crate::units::Minutes;

/// One limit.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(crate) enum Edge {
    /// Not reached, or left again.
    #[default]
    Under,
    /// Reached, and not left since.
    Over {
        /// When it was reached.
        since: Mono,
    },
}

/// Far below what a sensor resolves, far above what arithmetic loses.
const ROUNDING: f64 = 1e-9;

impl Edge {
    /// This edge after a new value.
    pub(crate) fn assess(self, value: f64, limit: f64, deadband: f64, now: Mono) -> Self {
        match self {
            // A temperature that was given as 70 °F comes back from Celsius as 69.999...: still 70.
            Edge::Under if value >= limit - ROUNDING => Edge::Over { since: now },
            Edge::Over { .. } if value < limit - deadband - ROUNDING => Edge::Under,
            unchanged => unchanged,
        }
    }

    /// True while the limit is reached.
    pub(crate) fn is_over(self) -> bool {
        self != Edge::Under
    }

    /// When it will have lasted so long, or has.
    pub(crate) fn due(self, after: Minutes) -> Option<Mono> {
        match self {
            Edge::Under => None,
            Edge::Over { since } => Some(since.plus(after.as_millis())),
        }
    }

    /// True where it has lasted so long.
    pub(crate) fn lasted(self, after: Minutes, now: Mono) -> bool {
        self.due(after).is_some_and(|due| due <= now)
    }
}

/// The highest step whose edge holds: the last of those for which it does, in rising order.
pub(crate) fn highest<Step: Copy>(steps: &[(Step, Edge)], holds: impl Fn(Edge) -> bool) -> Option<Step> {
    steps.iter().rev().find(|(_, edge)| holds(*edge)).map(|(step, _)| *step)
}

/// When an edge of these will have lasted so long that has not yet: the soonest. Never in the past.
pub(crate) fn next_due<'a>(edges: impl IntoIterator<Item = &'a Edge>, after: Minutes, now: Mono) -> Option<Mono> {
    edges.into_iter().filter_map(|edge| edge.due(after)).filter(|due| *due > now).min()
}
