//! Who may connect to the embedded broker, and who may say what there: two files, read whole and checked line by line.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use mqtt5::broker::auth::{AuthRateLimiter, RateLimitedAuthProvider};
use mqtt5::broker::{AclManager, AllowAllAuthProvider, AuthProvider, ComprehensiveAuthProvider, PasswordAuthProvider};

use super::BrokerError;

/// So many wrong passwords of an address within [`WRONG_WITHIN_S`] seconds lock it out for [`LOCKED_OUT_S`]: a minute, not
/// more, since several sensors may come from one address.
const WRONG_PASSWORDS: u32 = 10;
const WRONG_WITHIN_S: u64 = 60;
const LOCKED_OUT_S: u64 = 60;

/// Who may connect, and who may say what.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Accounts {
    /// Lines of `user:hash`, the hash by argon2 in its PHC text (`$argon2id$…`), as [`account_line`] makes them.
    pub passwords: PathBuf,
    /// Lines of `user <name> topic <filter> permission <read|write|readwrite>`; without it every account may do
    /// everything.
    pub permissions: Option<PathBuf>,
}

/// A line for the file of accounts, with a hash of the password that can not be turned back.
pub fn account_line(user: &str, password: &str) -> Result<String, BrokerError> {
    if user.trim().is_empty() || user.contains([':', '#']) || user.chars().any(char::is_control) {
        return Err(BrokerError::User(user.to_owned()));
    }
    let hash = PasswordAuthProvider::hash_password(password).map_err(|error| BrokerError::Other(error.to_string()))?;
    Ok(format!("{}:{hash}\n", user.trim()))
}

/// What tells the broker who may do what. Where there are no accounts everybody may do everything.
pub(super) async fn provider(accounts: Option<&Accounts>) -> Result<Arc<dyn AuthProvider>, BrokerError> {
    let Some(accounts) = accounts else { return Ok(Arc::new(AllowAllAuthProvider)) };
    check_accounts(accounts)?;
    let other = |error: mqtt5::MqttError| BrokerError::Other(error.to_string());
    let passwords = PasswordAuthProvider::from_file(&accounts.passwords).await.map_err(other)?;
    let known: Arc<dyn AuthProvider> = match &accounts.permissions {
        None => Arc::new(passwords),
        Some(permissions) => {
            let permissions = AclManager::from_file(permissions).await.map_err(other)?;
            Arc::new(ComprehensiveAuthProvider::with_providers(passwords, permissions))
        }
    };
    let limit = AuthRateLimiter::new(WRONG_PASSWORDS, WRONG_WITHIN_S, LOCKED_OUT_S);
    Ok(Arc::new(RateLimitedAuthProvider::new(known, Arc::new(limit))))
}

/// The broker would pass over a line it can not read, and somebody would wonder for a long time.
fn check_accounts(accounts: &Accounts) -> Result<(), BrokerError> {
    let password = |line: &str| {
        line.split_once(':').is_some_and(|(user, hash)| !user.trim().is_empty() && hash.starts_with("$argon2"))
    };
    check_lines(&accounts.passwords, "user:hash, the hash by argon2 ($argon2id$...)", password)?;
    let Some(permissions) = &accounts.permissions else { return Ok(()) };
    let permission = |line: &str| match line.split_whitespace().collect::<Vec<_>>()[..] {
        ["user", _, "topic", _, "permission", word] => matches!(word, "read" | "write" | "readwrite" | "deny"),
        _ => false,
    };
    check_lines(permissions, "user <name> topic <filter> permission <read, write, readwrite or deny>", permission)
}

fn check_lines(path: &Path, allowed: &'static str, good: impl Fn(&str) -> bool) -> Result<(), BrokerError> {
    let text = std::fs::read_to_string(path).map_err(|source| BrokerError::File { path: path.to_owned(), source })?;
    for (at, line) in (1..).zip(text.lines()) {
        let line = line.trim();
        if !(line.is_empty() || line.starts_with('#') || good(line)) {
            return Err(BrokerError::Account { path: path.to_owned(), line: at, allowed });
        }
    }
    Ok(())
}
