//! Waiting, never by a bare sleep: for something to be so, until a deadline, and then telling what was so instead.

use std::net::TcpListener;
use std::time::{Duration, Instant};

/// Looks every few milliseconds until `look` finds what is waited for.
///
/// # Panics
/// At the deadline, with what `look` saw last.
#[track_caller]
pub fn until<T>(what: &str, within: Duration, mut look: impl FnMut() -> Result<T, String>) -> T {
    let began = Instant::now();
    loop {
        match look() {
            Ok(found) => return found,
            Err(seen) if began.elapsed() > within => panic!("not within {within:?}: {what}; last seen: {seen}"),
            Err(_) => std::thread::sleep(Duration::from_millis(5)),
        }
    }
}

/// A port that nobody listens on just now.
pub fn free_port() -> u16 {
    let listener = TcpListener::bind("127.0.0.1:0").expect("a free port on loopback");
    listener.local_addr().expect("it has an address").port()
}
