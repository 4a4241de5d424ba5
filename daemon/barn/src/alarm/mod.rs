//! The life of an alarm, after ISA-18.2 / IEC 62682. An alarm exists only where somebody must do something; there is one
//! per cause, raised once and ended once, however many readings say the same.
//!
//! ```text
//!            holds for its delay                 somebody has seen it
//!  normal ───────────────────────▶ unacknowledged ───────────────────▶ acknowledged
//!    ▲                                  │ cause gone                        │ cause gone
//!    │   seen, or shown long enough     ▼                                   │
//!    ├───────────────────── returned, unacknowledged                        │
//!    └──────────────────────────────────────────────────────────────────────┘
//!
//!  unacknowledged, acknowledged ──put aside──▶ shelved ──time over, taken up, worse──▶ unacknowledged
//!  any ──a root alarm takes it in──▶ suppressed ──root over──▶ unacknowledged, where it still holds
//!  any ──taken out of service──▶ out of service ──put back──▶ normal
//! ```
//!
//! A returned alarm that comes back before it is forgotten is raised again under a new number. Whether a cause holds,
//! with its deadband, is for the concern to say; this folder knows no water and no heat.
//!
//! - `alarms` keeps all of them, and their delays on and off; `people` is what people and settings do to them, `look` what others
//!   ask, `history` the rows that are at hand.
//! - `aside` is shelving, `chatter` what comes and goes, `roots` what follows from what.
//! - `record` is a row of the history.

mod alarms;
mod aside;
pub mod cause;
mod chatter;
mod history;
mod look;
mod people;
pub mod record;
mod roots;
#[cfg(test)]
mod tests;

use serde::{Deserialize, Serialize};

pub use self::alarms::Alarms;
pub use self::aside::Shelf;
pub use self::cause::Cause;
use crate::board::{AlarmWhat, Priority};
#[cfg(test)]
use crate::effect::Effect;
use crate::id::PersonId;
use crate::time::Now;

/// An alarm as it is told.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Alarm {
    /// Its number, never used again.
    pub id: u64,
    /// How pressing.
    pub priority: Priority,
    /// What, and where.
    pub what: AlarmWhat,
    /// When it was raised.
    pub raised: Now,
}

/// What a concern says of a cause.
#[derive(Clone, PartialEq, Debug)]
pub enum Verdict {
    /// It holds: an alarm once it has lasted for the delay.
    Holds {
        /// How long it must last, in milliseconds.
        delay: u64,
        /// How pressing it is.
        priority: Priority,
        /// What to say.
        what: AlarmWhat,
    },
    /// It does not hold.
    Gone,
}

/// State of an alarm that stands, or stood a moment ago.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub enum State {
    /// Stands, and nobody has seen it.
    Unacknowledged,
    /// Stands, and this person has seen it.
    Acknowledged(PersonId),
    /// Its cause is gone, and nobody had seen it.
    Returned,
    /// Stands, and staff have put it aside for a while.
    Shelved(Shelf),
}

/// An alarm and its state.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Standing {
    /// The alarm.
    pub alarm: Alarm,
    /// Its state.
    pub state: State,
    /// True where it comes and goes, and nothing more is said of it until it keeps still.
    pub chattering: bool,
    /// True while its cause is gone, and not for long enough.
    leaving: bool,
    /// True where its raising was said: one that is raised while it is put aside is not.
    said: bool,
}

/// Where in the standard's picture a cause is.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub enum Phase {
    /// Nothing to say. A cause that has not held for its delay is normal.
    Normal,
    /// Stands, and nobody has seen it.
    Unacknowledged,
    /// Stands, and somebody has seen it.
    Acknowledged,
    /// Gone, and nobody had seen it.
    Returned,
    /// Put aside.
    Shelved,
    /// Taken in by an alarm that it follows from. In the standard: suppressed by design.
    Suppressed,
    /// Out of service.
    OutOfService,
}

/// Something about an alarm that people may have to be told, by its number.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum News {
    /// It was raised.
    Raised(u64),
    /// It got worse.
    Worse(u64),
    /// It is back after it was put aside.
    Back(u64),
    /// Somebody has seen it.
    Taken(u64),
    /// Staff have put it aside.
    Aside(u64),
    /// It comes and goes: so often within the hour.
    Chattering(u64, u32),
    /// It is over.
    Ended(u64),
}

/// Milliseconds as whole minutes, cut off.
pub(crate) fn whole_minutes(millis: u64) -> u32 {
    u32::try_from(millis / 60_000).unwrap_or(u32::MAX)
}
