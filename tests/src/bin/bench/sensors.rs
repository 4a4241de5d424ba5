//! The sensors of a whole barn on one connection: what they say, and how it gets to the broker.

use std::io::{self, Read, Write};
use std::net::TcpStream;
use std::sync::{Arc, Condvar, Mutex, PoisonError};
use std::time::{Duration, Instant};

use crate::wire::{self, Packets};

/// Bytes put by before they are sent, where there is no hurry.
const BATCH: usize = 8 * 1024;
/// So long a broker may take for an acknowledgement before something is wrong.
const PATIENCE: Duration = Duration::from_secs(30);

/// The topic of a stall's water sensor.
pub fn topic(stall: u32) -> String {
    format!("barn/stall/{stall}/water")
}

/// Reading `n` of a barn: its topic and payload. Stall after stall says a level that has moved by 1 mm since its last one,
/// between 100 and 280 mm, where no bucket is low. The decimals are `n`, so that each reading can be told from any other.
pub fn reading(n: u64, stalls: u32) -> (String, String) {
    let (stall, step) = (n % u64::from(stalls) + 1, n / u64::from(stalls) % 360);
    let level = 100 + step.min(360 - step);
    (format!("barn/stall/{stall}/water"), format!("{level}.{n:07}"))
}

/// The number of a reading, from its payload.
pub fn number_of(payload: &[u8]) -> Option<u64> {
    std::str::from_utf8(payload).ok()?.split_once('.')?.1.parse().ok()
}

/// A connection to a broker.
pub struct Sensors {
    line: TcpStream,
    put_by: Vec<u8>,
    sent: u64,
    acknowledged: Arc<Acknowledged>,
}

#[derive(Default)]
struct Acknowledged {
    count: Mutex<u64>,
    more: Condvar,
}

impl Sensors {
    /// Connects.
    pub fn connect(port: u16) -> io::Result<Self> {
        let mut line = TcpStream::connect(("127.0.0.1", port))?;
        line.set_nodelay(true)?;
        line.write_all(&wire::connect("barn-sensors")?)?;
        let mut answer = [0; 4];
        line.read_exact(&mut answer)?;
        if answer[3] != 0 {
            return Err(io::Error::other(format!("the broker refuses with code {}", answer[3])));
        }
        let acknowledged = Arc::<Acknowledged>::default();
        let (mut from, count) = (line.try_clone()?, Arc::clone(&acknowledged));
        std::thread::spawn(move || {
            let (mut bytes, mut packets) = (vec![0; 64 * 1024], Packets::default());
            // An error means that the line is gone; whoever waits for an acknowledgement will notice.
            while let Ok(size @ 1..) = from.read(&mut bytes) {
                let mut came = 0;
                packets.take(&bytes[..size], |packet| came += u64::from(packet.acknowledges().is_some()));
                *count.count.lock().unwrap_or_else(PoisonError::into_inner) += came;
                count.more.notify_all();
            }
        });
        Ok(Self { line, put_by: Vec::new(), sent: 0, acknowledged })
    }

    /// Publishes one message at once.
    pub fn publish(&mut self, topic: &str, payload: &str) -> io::Result<()> {
        self.put(topic, payload)?;
        self.send()
    }

    /// Publishes these, with at most so many under way, and waits until the broker has acknowledged each.
    pub fn publish_all(&mut self, messages: impl Iterator<Item = (String, String)>, under_way: u64) -> io::Result<()> {
        for (topic, payload) in messages {
            self.put(&topic, &payload)?;
            if self.put_by.len() >= BATCH {
                self.send()?;
                self.wait_until_under_way(under_way)?;
            }
        }
        self.send()?;
        self.wait_until_under_way(0)
    }

    fn put(&mut self, topic: &str, payload: &str) -> io::Result<()> {
        // 1 to 65,535, and again from 1.
        let id = (self.sent % 65_535 + 1) as u16;
        self.sent += 1;
        self.put_by.extend(wire::publish(topic, id, payload.as_bytes())?);
        Ok(())
    }

    fn send(&mut self) -> io::Result<()> {
        self.line.write_all(&self.put_by)?;
        self.put_by.clear();
        Ok(())
    }

    fn wait_until_under_way(&self, at_most: u64) -> io::Result<()> {
        let count = self.acknowledged.count.lock().unwrap_or_else(PoisonError::into_inner);
        let waited = self.acknowledged.more.wait_timeout_while(count, PATIENCE, |count| self.sent - *count > at_most);
        let (count, ended) = waited.unwrap_or_else(PoisonError::into_inner);
        if ended.timed_out() {
            return Err(io::Error::other(format!("the broker has acknowledged {} of {}", *count, self.sent)));
        }
        Ok(())
    }
}

impl Drop for Sensors {
    fn drop(&mut self) {
        // Also ends the thread that reads.
        let _ = self.line.shutdown(std::net::Shutdown::Both);
    }
}

/// How many readings a broker still has for a client that went away: takes over its session, and counts what comes until
/// nothing has come for a moment.
pub fn left_for(client: &str, port: u16) -> io::Result<usize> {
    let mut line = TcpStream::connect(("127.0.0.1", port))?;
    line.write_all(&wire::connect_again(client)?)?;
    line.set_read_timeout(Some(Duration::from_millis(300)))?;
    let (mut bytes, mut packets, mut left) = (vec![0; 64 * 1024], Packets::default(), 0);
    loop {
        match line.read(&mut bytes) {
            Ok(0) => return Err(io::Error::other(format!("the broker has no session for {client}"))),
            Ok(size) => packets.take(&bytes[..size], |packet| {
                left += usize::from(packet.published().is_some_and(|(_, payload)| number_of(payload).is_some()));
            }),
            Err(why) if matches!(why.kind(), io::ErrorKind::WouldBlock | io::ErrorKind::TimedOut) => return Ok(left),
            Err(why) => return Err(why),
        }
    }
}

/// Waits until it is time.
pub fn wait_until(due: Instant) {
    std::thread::sleep(due.saturating_duration_since(Instant::now()));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_reading_is_told_by_its_decimals_and_its_bucket_is_never_low() {
        for n in [0, 1, 359 * 20, 360 * 20 + 3, 1_234_567] {
            let (_, payload) = reading(n, 20);
            assert_eq!(number_of(payload.as_bytes()), Some(n), "{payload}");
            let level: f64 = payload.parse().expect("a number");
            assert!((100.0..=281.0).contains(&level), "{payload}");
        }
        assert_eq!(reading(21, 20).0, topic(2));
    }
}
