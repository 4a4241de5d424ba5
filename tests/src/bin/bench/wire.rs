//! As much of MQTT as a measure needs: packets found in a stream of bytes, and the few that sensors send. A whole client
//! would take the processor that the hub and the broker are measured on.

use std::io;

const CONNECT: u8 = 0x10;
const PUBLISH: u8 = 0x30;
const PUBACK: u8 = 0x40;
const AT_LEAST_ONCE: u8 = 0x02;

/// One packet.
#[derive(Clone, Copy, Debug)]
pub struct Packet<'b> {
    first: u8,
    body: &'b [u8],
}

impl<'b> Packet<'b> {
    /// The packet id that is acknowledged, where this is a PUBACK.
    pub fn acknowledges(self) -> Option<u16> {
        (self.first & 0xf0 == PUBACK).then(|| number(self.body, 0)).flatten()
    }

    /// Packet id and payload, where this is a PUBLISH of MQTT 5 at QoS 1.
    pub fn published(self) -> Option<(u16, &'b [u8])> {
        if self.first & 0xf0 != PUBLISH || self.first & 0x06 != AT_LEAST_ONCE {
            return None;
        }
        let id_at = 2 + usize::from(number(self.body, 0)?);
        let id = number(self.body, id_at)?;
        let after_id = self.body.get(id_at + 2..)?;
        let (properties, width) = length(after_id)?;
        Some((id, after_id.get(width + properties..)?))
    }
}

/// Finds packets in a stream.
#[derive(Debug, Default)]
pub struct Packets(Vec<u8>);

impl Packets {
    /// Takes what came, and gives each packet that is whole by now.
    pub fn take(&mut self, came: &[u8], mut each: impl FnMut(Packet<'_>)) {
        self.0.extend_from_slice(came);
        let mut done = 0;
        while let [first, rest @ ..] = &self.0[done..]
            && let Some((size, width)) = length(rest)
            && let Some(body) = rest.get(width..width + size)
        {
            each(Packet { first: *first, body });
            done += 1 + width + size;
        }
        self.0.drain(..done);
    }
}

/// CONNECT of MQTT 3.1.1, with a clean session.
pub fn connect(client: &str) -> io::Result<Vec<u8>> {
    packet(CONNECT, &[b"\0\x04MQTT\x04\x02\0\0", &text(client)?])
}

/// CONNECT of MQTT 5 to a session that is there.
pub fn connect_again(client: &str) -> io::Result<Vec<u8>> {
    // No clean start, no keep alive, and as the one property a session that is kept for an hour.
    packet(CONNECT, &[b"\0\x04MQTT\x05\0\0\0", b"\x05\x11\0\0\x0e\x10", &text(client)?])
}

/// PUBLISH of MQTT 3.1.1 at QoS 1.
pub fn publish(topic: &str, id: u16, payload: &[u8]) -> io::Result<Vec<u8>> {
    packet(PUBLISH | AT_LEAST_ONCE, &[&text(topic)?, &id.to_be_bytes(), payload])
}

fn packet(first: u8, parts: &[&[u8]]) -> io::Result<Vec<u8>> {
    let size: usize = parts.iter().map(|part| part.len()).sum();
    let mut bytes = vec![first];
    match size {
        0..0x80 => bytes.push(size as u8),
        0x80..0x4000 => bytes.extend([size as u8 | 0x80, (size >> 7) as u8]),
        _ => return Err(io::Error::new(io::ErrorKind::InvalidInput, "a packet over 16 KiB")),
    }
    parts.iter().for_each(|part| bytes.extend_from_slice(part));
    Ok(bytes)
}

fn text(words: &str) -> io::Result<Vec<u8>> {
    let size = u16::try_from(words.len()).map_err(|why| io::Error::new(io::ErrorKind::InvalidInput, why))?;
    Ok([&size.to_be_bytes(), words.as_bytes()].concat())
}

fn number(bytes: &[u8], at: usize) -> Option<u16> {
    bytes.get(at..at + 2)?.try_into().ok().map(u16::from_be_bytes)
}

/// A length of one to four bytes, seven bits in each, the lowest first; and how many bytes it took.
fn length(bytes: &[u8]) -> Option<(usize, usize)> {
    let mut size = 0;
    for (at, byte) in bytes.iter().take(4).enumerate() {
        size |= usize::from(byte & 0x7f) << (7 * at);
        if byte & 0x80 == 0 {
            return Some((size, at + 1));
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn packets_are_found_however_the_stream_is_cut() {
        // Topic "a", packet id 0x0102, no properties, payload "7"; then its acknowledgement.
        let stream = b"\x32\x07\0\x01a\x01\x02\0\x37\x40\x02\x01\x02";
        for cut in 0..stream.len() {
            let (mut packets, mut found) = (Packets::default(), Vec::new());
            for part in [&stream[..cut], &stream[cut..]] {
                packets.take(part, |packet| {
                    found.push((packet.published().map(|(id, payload)| (id, payload.to_vec())), packet.acknowledges()));
                });
            }
            assert_eq!(found, [(Some((0x0102, b"7".to_vec())), None), (None, Some(0x0102))], "cut at {cut}");
        }
    }

    #[test]
    fn a_long_packet_says_its_length_in_two_bytes() {
        let bytes = publish("t", 1, &[b'0'; 200]).expect("it fits");
        assert_eq!(bytes[..3], [0x32, 0x80 | 77, 1], "2 + 1 + 2 + 200 bytes follow");
    }
}
