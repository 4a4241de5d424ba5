//! placeholder
use crate::board::{AlarmWhat, Priority};
use crate::time::Now;
use serde::{Deserialize, Serialize};

/// An alarm as it is told.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Alarm {
    /// Its number.
    pub id: u64,
    /// How pressing.
    pub priority: Priority,
    /// What, and where.
    pub what: AlarmWhat,
    /// When it was raised.
    pub raised: Now,
}
