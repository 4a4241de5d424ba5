//! PINs of staff: what one may be, how it is hashed, how it is checked. A PIN says who acts and opens nothing from outside: it
//! is six digits because wet hands type it, and slowed down because six digits are few (`bellmare_barn::pins`).
//!
//! Hashed by argon2id with 19 MiB, two passes, one lane: the first choice of the OWASP Password Storage Cheat Sheet (from
//! memory). Knows neither whose a PIN is nor where hashes are kept.

use std::fmt;
use std::str::FromStr;

use argon2::password_hash::{Output, ParamsString, PasswordHash, Salt, SaltString};
use argon2::{Algorithm, Argon2, Block, Params, Version};
use bellmare_barn::pins::PinHash;
use subtle::ConstantTimeEq;
use thiserror::Error;

use crate::random;

/// Digits of a PIN.
const DIGITS: usize = 6;
/// No hash of another maker's may ask for more memory than this, in KiB.
const MOST_KIB: u32 = 64 * 1024;
/// The least that is taken from the system for a hash, in KiB. glibc gives what is above 32 MiB back to the system at once;
/// of less it would keep all. Only what is written to counts as used.
const TAKEN_KIB: usize = 33 * 1024;

/// A PIN in clear. Its `Debug` says nothing.
#[derive(Clone, PartialEq, Eq)]
pub struct Pin(String);

/// Why a PIN is none, or can not be hashed or checked.
#[derive(Debug, Error)]
pub enum PinError {
    /// It is not six digits.
    #[error("a PIN is {DIGITS} digits")]
    Form,
    /// Everybody would try it first.
    #[error(
        "that PIN is the first that anybody would try: allowed is {DIGITS} digits that are not all the same and do not count \
         up or down"
    )]
    Trivial,
    /// The system gives no random bits for a salt.
    #[error("getting random bits")]
    Random(#[from] std::io::Error),
    /// What is no hash of this kind.
    #[error("not a hash of a PIN: allowed is argon2id in its PHC text, of at most {MOST_KIB} KiB")]
    Hash,
}

impl Pin {
    /// A new PIN, which must not be one that everybody would try first.
    ///
    /// # Errors
    /// In words for whoever typed it.
    pub fn new(text: &str) -> Result<Self, PinError> {
        let pin: Self = text.parse()?;
        let steps: Vec<i8> = pin.0.as_bytes().windows(2).map(|two| (two[1] as i8) - (two[0] as i8)).collect();
        let steady = steps.windows(2).all(|two| two[0] == two[1]);
        if steady && matches!(steps.first(), Some(-1..=1)) { Err(PinError::Trivial) } else { Ok(pin) }
    }

    /// Its hash, with a salt of its own.
    ///
    /// # Errors
    /// Where the system gives no random bits.
    pub fn hash(&self) -> Result<PinHash, PinError> {
        let params = Params::default();
        let salt = SaltString::encode_b64(&random::bits()?).map_err(|_| PinError::Hash)?;
        let output = self.output(&params, Version::default(), salt.as_salt(), Params::DEFAULT_OUTPUT_LEN)?;
        let hash = PasswordHash {
            algorithm: Algorithm::Argon2id.ident(),
            version: Some(Version::default().into()),
            params: ParamsString::try_from(&params).map_err(|_| PinError::Hash)?,
            salt: Some(salt.as_salt()),
            hash: Some(output),
        };
        Ok(PinHash::new(hash.to_string()))
    }

    /// Whether this is the PIN of a hash. Takes some 50 to 500 ms of one core and 19 MiB, and is the same for a near miss.
    ///
    /// # Errors
    /// Where the hash is none.
    pub fn is(&self, hash: &PinHash) -> Result<bool, PinError> {
        let (hash, params, version) = parse(hash)?;
        let (Some(salt), Some(known)) = (hash.salt, hash.hash) else { return Err(PinError::Hash) };
        let output = self.output(&params, version, salt, known.len())?;
        Ok(output.as_bytes().ct_eq(known.as_bytes()).into())
    }

    fn output(&self, params: &Params, version: Version, salt: Salt<'_>, length: usize) -> Result<Output, PinError> {
        let mut bits = [0; Salt::MAX_LENGTH];
        let salt = salt.decode_b64(&mut bits).map_err(|_| PinError::Hash)?;
        let argon2 = Argon2::new(Algorithm::Argon2id, version, params.clone());
        let mut memory = Vec::with_capacity(params.block_count().max(TAKEN_KIB));
        memory.resize(params.block_count(), Block::default());
        Output::init_with(length, |out| {
            Ok(argon2.hash_password_into_with_memory(self.0.as_bytes(), salt, out, &mut memory)?)
        })
        .map_err(|_| PinError::Hash)
    }
}

impl FromStr for Pin {
    type Err = PinError;

    fn from_str(text: &str) -> Result<Self, PinError> {
        let digits = text.len() == DIGITS && text.bytes().all(|byte| byte.is_ascii_digit());
        if digits { Ok(Self(text.to_owned())) } else { Err(PinError::Form) }
    }
}

impl fmt::Debug for Pin {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Pin(not shown)")
    }
}

/// Whether a text is a hash that a PIN can be checked against.
///
/// # Errors
/// Where it is none.
pub fn check_hash(hash: &PinHash) -> Result<(), PinError> {
    let (hash, ..) = parse(hash)?;
    if hash.salt.is_some() && hash.hash.is_some() { Ok(()) } else { Err(PinError::Hash) }
}

fn parse(hash: &PinHash) -> Result<(PasswordHash<'_>, Params, Version), PinError> {
    let hash = PasswordHash::new(hash.expose()).map_err(|_| PinError::Hash)?;
    let params = Params::try_from(&hash).map_err(|_| PinError::Hash)?;
    let version = hash.version.map_or(Ok(Version::default()), Version::try_from).map_err(|_| PinError::Hash)?;
    let known = hash.algorithm == Algorithm::Argon2id.ident() && params.m_cost() <= MOST_KIB;
    if known { Ok((hash, params, version)) } else { Err(PinError::Hash) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pin_is_six_digits_and_not_the_first_that_anybody_tries() {
        for trivial in ["000000", "777777", "123456", "345678", "654321", "987654"] {
            assert!(matches!(Pin::new(trivial), Err(PinError::Trivial)), "{trivial}");
            assert!(trivial.parse::<Pin>().is_ok(), "one that is tried is only wrong");
        }
        for wrong in ["", "12345", "1234567", "12345a", " 83264", "８３２６４１", "-83264"] {
            assert!(matches!(Pin::new(wrong), Err(PinError::Form)), "{wrong}");
        }
        for good in ["832641", "112233", "024680", "098765"] {
            assert!(Pin::new(good).is_ok(), "{good}");
        }
        let said = PinError::Trivial.to_string();
        assert!(said.contains("allowed is 6 digits"), "{said}");
    }

    #[test]
    fn a_hash_knows_its_pin_and_no_other() {
        let pin = Pin::new("832641").expect("a PIN");
        let (hash, again) = (pin.hash().expect("hashed"), pin.hash().expect("hashed"));
        assert!(hash.expose().starts_with("$argon2id$v=19$m=19456,t=2,p=1$"), "{}", hash.expose());
        assert_ne!(hash, again, "each has its own salt");
        check_hash(&hash).expect("a hash");
        assert!(pin.is(&hash).expect("checked"));
        assert!(!Pin::new("832642").expect("a PIN").is(&hash).expect("checked"));
        assert!(!format!("{pin:?} {hash:?}").contains("832641"));
    }

    /// Made by the reference implementation: `printf 832641 | argon2 somesaltofours -id -t 2 -k 19456 -p 1 -l 32 -e`.
    const FROM_OUTSIDE: &str = include_str!("pin_from_outside.txt");

    #[test]
    fn a_hash_of_another_program_is_read() {
        let hash = PinHash::new(FROM_OUTSIDE.trim());
        assert!("832641".parse::<Pin>().expect("digits").is(&hash).expect("checked"));
        assert!(!"832640".parse::<Pin>().expect("digits").is(&hash).expect("checked"));
    }

    #[test]
    fn what_is_no_hash_is_refused() {
        for wrong in [
            "",
            "832641",
            "$argon2id$v=19$m=19456,t=2,p=1",
            "$argon2i$v=19$m=19456,t=2,p=1$c29tZXNhbHRvZm91cnM$1111111111111111111111111111111111111111111",
            "$argon2id$v=19$m=4194304,t=2,p=1$c29tZXNhbHRvZm91cnM$1111111111111111111111111111111111111111111",
        ] {
            let hash = PinHash::new(wrong);
            assert!(check_hash(&hash).is_err(), "{wrong}");
            assert!("832641".parse::<Pin>().expect("digits").is(&hash).is_err(), "{wrong}");
        }
    }
}
