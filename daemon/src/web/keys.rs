//! Who may do what over HTTP. On loopback a kiosk needs no key: whoever is on the board itself can do worse. On any other
//! address each kiosk has its own; the settings see to it that there is at least one.

use std::fs::{self, OpenOptions};
use std::io::{self, Write};
use std::os::unix::fs::OpenOptionsExt;
use std::path::Path;

use bellmare_barn::id::KioskId;
use subtle::ConstantTimeEq;

use crate::random;

/// 128 bits.
const OFFICE_BYTES: usize = 16;

/// Keys of kiosks. None: whoever can reach the address may.
#[derive(Default)]
pub struct Keys(Vec<(KioskId, String)>);

/// Whom a request comes from, where kiosks have keys: then its own word on that does not count.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Admitted(pub Option<KioskId>);

impl Keys {
    /// These keys, or none at all.
    pub fn new(keys: Vec<(KioskId, String)>) -> Self {
        Self(keys)
    }

    /// Whose key this is; anybody where none is asked for; none where it is nobody's.
    pub fn admit(&self, key: Option<&str>) -> Option<Admitted> {
        if self.0.is_empty() {
            return Some(Admitted(None));
        }
        let key = key?;
        self.0.iter().find(|(_, known)| same(known, key)).map(|(kiosk, _)| Admitted(Some(kiosk.clone())))
    }
}

/// The token of the office: 128 random bits in a file that only the hub's user can read. It changes the book.
pub struct OfficeToken(String);

impl OfficeToken {
    /// The file's name in the data folder.
    pub const FILE: &str = "office.token";

    /// Reads the token of a data folder, or makes one.
    ///
    /// # Errors
    /// Where it can be neither read nor written.
    pub fn of(data: &Path) -> io::Result<Self> {
        secret_file(&data.join(Self::FILE), OFFICE_BYTES).map(Self)
    }

    /// Reads a token.
    ///
    /// # Errors
    /// Where there is none, or what stands there is no token.
    pub fn read(path: &Path) -> io::Result<Self> {
        read_secret(path, OFFICE_BYTES).map(Self)
    }

    /// True for the right one. None is never right.
    pub fn admits(&self, token: Option<&str>) -> bool {
        token.is_some_and(|token| same(&self.0, token))
    }

    /// The token, to be sent.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

/// The secret in a file that only the hub's user can read: so many random bytes as hexadecimal digits. Made where there is none.
///
/// # Errors
/// Where it can be neither read nor written, or what stands there is no such secret.
pub fn secret_file(path: &Path, bytes: usize) -> io::Result<String> {
    match read_secret(path, bytes) {
        Err(why) if why.kind() == io::ErrorKind::NotFound => {}
        read => return read,
    }
    let secret = random::hex(bytes)?;
    let mut file = OpenOptions::new().write(true).create_new(true).mode(0o600).open(path)?;
    file.write_all(secret.as_bytes())?;
    file.sync_all()?;
    Ok(secret)
}

fn read_secret(path: &Path, bytes: usize) -> io::Result<String> {
    let secret = fs::read_to_string(path)?.trim().to_owned();
    if secret.len() == 2 * bytes && secret.bytes().all(|byte| byte.is_ascii_hexdigit()) {
        return Ok(secret);
    }
    let why = format!("{}: allowed is {} hexadecimal digits; remove it to get a new one", path.display(), 2 * bytes);
    Err(io::Error::new(io::ErrorKind::InvalidData, why))
}

/// Takes as long for a near miss as for a far one.
pub(super) fn same(known: &str, given: &str) -> bool {
    known.as_bytes().ct_eq(given.as_bytes()).into()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn without_keys_everybody_may_and_with_keys_only_who_has_one() {
        assert_eq!(Keys::default().admit(None), Some(Admitted(None)));
        let key = |kiosk: &str| (kiosk.into(), format!("{kiosk}-kiosk-key"));
        let keys = Keys::new(vec![key("first"), key("second")]);
        assert_eq!(keys.admit(Some("second-kiosk-key")), Some(Admitted(Some("second".into()))));
        for wrong in [None, Some(""), Some("first-kiosk-ke"), Some("first-kiosk-keys")] {
            assert_eq!(keys.admit(wrong), None, "{wrong:?}");
        }
    }

    #[test]
    fn a_token_is_made_once_and_stays() {
        let data = tempfile::tempdir().expect("a folder");
        let first = OfficeToken::of(data.path()).expect("made");
        let again = OfficeToken::of(data.path()).expect("read");
        assert!(first.admits(Some(again.as_str())));
        assert!(!first.admits(None));
        assert!(!first.admits(Some(&"0".repeat(32))));
        fs::write(data.path().join(OfficeToken::FILE), "short").expect("written");
        assert!(OfficeToken::of(data.path()).is_err());
    }
}
