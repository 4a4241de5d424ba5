//! One fault in a setting: where it stands, what it says, what is allowed. Everything wrong is gathered before anybody is
//! told, so that a person mends a file once and not ten times.

use std::fmt;

/// One fault.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Complaint {
    /// The key, dotted: `mqtt.port`, `topics[3].unit`.
    pub key: String,
    /// What stands there.
    pub value: String,
    /// What is allowed there.
    pub allowed: String,
}

impl Complaint {
    /// A fault at a key.
    pub fn new(key: impl Into<String>, value: impl fmt::Display, allowed: impl Into<String>) -> Self {
        Self { key: key.into(), value: value.to_string(), allowed: allowed.into() }
    }
}

impl fmt::Display for Complaint {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} = {:?}: allowed is {}", self.key, self.value, self.allowed)
    }
}
