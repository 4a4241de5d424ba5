//! What must never be printed, logged or written down again: a password, a kiosk's key.

use std::fmt;

use subtle::ConstantTimeEq;

/// A secret. It has no `Display` and no `Serialize`, and its `Debug` says nothing.
#[derive(Clone)]
pub struct Secret(String);

impl Secret {
    /// Wraps it.
    pub fn new(secret: impl Into<String>) -> Self {
        Self(secret.into())
    }

    /// The secret itself, for whoever must send it.
    pub fn expose(&self) -> &str {
        &self.0
    }

    /// True where `offered` is the secret. Takes as long for a near miss as for a far one of the same length.
    pub fn is(&self, offered: &str) -> bool {
        self.0.as_bytes().ct_eq(offered.as_bytes()).into()
    }
}

impl PartialEq for Secret {
    fn eq(&self, other: &Self) -> bool {
        self.is(&other.0)
    }
}

impl Eq for Secret {}

impl fmt::Debug for Secret {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Secret(not shown)")
    }
}
