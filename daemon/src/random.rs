//! Random bits of the system's, for tokens and salts.

use std::fs::File;
use std::io::{self, Read};

/// 128 random bits.
///
/// # Errors
/// Where the system gives none.
pub fn bits() -> io::Result<[u8; 16]> {
    let mut bits = [0_u8; 16];
    File::open("/dev/urandom")?.read_exact(&mut bits)?;
    Ok(bits)
}

/// So many random bytes as hexadecimal digits, two for each.
///
/// # Errors
/// Where the system gives none.
pub fn hex(bytes: usize) -> io::Result<String> {
    let mut bits = vec![0_u8; bytes];
    File::open("/dev/urandom")?.read_exact(&mut bits)?;
    Ok(bits.iter().map(|byte| format!("{byte:02x}")).collect())
}
