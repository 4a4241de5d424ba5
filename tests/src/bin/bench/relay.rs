//! Stands between the hub and its broker and passes every byte on, so that it sees which reading goes to the hub and when
//! its acknowledgement comes back. Neither knows of it, and nothing in the hub was made for it.

use std::collections::HashMap;
use std::io::{self, Read, Write};
use std::net::{TcpListener, TcpStream};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Instant;

use crate::sensors::number_of;
use crate::wire::{Packet, Packets};

/// A relay that runs, until the program ends.
pub struct Relay {
    /// Where the hub connects.
    pub port: u16,
    kept: Arc<Mutex<Vec<(u64, Instant)>>>,
}

impl Relay {
    /// A relay to the broker on this port.
    pub fn to(broker: u16) -> io::Result<Self> {
        let listener = TcpListener::bind("127.0.0.1:0")?;
        let port = listener.local_addr()?.port();
        let kept = Arc::<Mutex<Vec<_>>>::default();
        let all = Arc::clone(&kept);
        std::thread::spawn(move || {
            for hub in listener.incoming() {
                // Where it fails, the hub finds its line cut and comes again.
                let _ = hub.and_then(|hub| join(hub, broker, &all));
            }
        });
        Ok(Self { port, kept })
    }

    /// How many readings the hub has acknowledged.
    pub fn count(&self) -> usize {
        self.kept.lock().unwrap_or_else(PoisonError::into_inner).len()
    }

    /// The readings that the hub has acknowledged, by number, each with when the acknowledgement passed.
    pub fn kept(&self) -> Vec<(u64, Instant)> {
        self.kept.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }
}

fn join(hub: TcpStream, broker: u16, kept: &Arc<Mutex<Vec<(u64, Instant)>>>) -> io::Result<()> {
    let broker = TcpStream::connect(("127.0.0.1", broker))?;
    hub.set_nodelay(true)?;
    broker.set_nodelay(true)?;
    // Readings on their way to the hub, by packet id.
    let under_way = Arc::<Mutex<HashMap<u16, u64>>>::default();
    let (there, back) = (Arc::clone(&under_way), under_way);
    pass(broker.try_clone()?, hub.try_clone()?, move |packet, _| {
        if let Some((id, payload)) = packet.published()
            && let Some(number) = number_of(payload)
        {
            there.lock().unwrap_or_else(PoisonError::into_inner).insert(id, number);
        }
    });
    let kept = Arc::clone(kept);
    pass(hub, broker, move |packet, came| {
        if let Some(id) = packet.acknowledges()
            && let Some(number) = back.lock().unwrap_or_else(PoisonError::into_inner).remove(&id)
        {
            kept.lock().unwrap_or_else(PoisonError::into_inner).push((number, came));
        }
    });
    Ok(())
}

/// Passes on what comes until either side is gone, and shows each packet with when it came.
fn pass(mut from: TcpStream, mut to: TcpStream, mut look: impl FnMut(Packet<'_>, Instant) + Send + 'static) {
    std::thread::spawn(move || {
        let (mut bytes, mut packets) = (vec![0; 64 * 1024], Packets::default());
        while let Ok(size @ 1..) = from.read(&mut bytes) {
            let came = Instant::now();
            // Looked at before it goes on: an answer must not overtake the look.
            packets.take(&bytes[..size], |packet| look(packet, came));
            if to.write_all(&bytes[..size]).is_err() {
                break;
            }
        }
        let _ = to.shutdown(std::net::Shutdown::Both);
    });
}
