//! As much of MQTT's packets as must be seen from outside the broker: where one ends, which publish is marked as sent again,
//! and which is acknowledged. The same in 3.1.1 and 5.

/// The longest fixed header: a type, and a length of four bytes.
const HEADER: usize = 5;

const PUBLISH: u8 = 3;
const PUBACK: u8 = 4;
const PUBREC: u8 = 5;

/// The packet id that a PUBACK or PUBREC names.
pub(super) fn acknowledged(packet: &[u8]) -> Option<u16> {
    if !matches!(packet.first()? >> 4, PUBACK | PUBREC) {
        return None;
    }
    let (_, body) = measure(packet)?;
    packet.get(body..).and_then(|rest| rest.first_chunk()).map(|id| u16::from_be_bytes(*id))
}

/// The length of the packet that begins here, and where its body does. `None` until enough of it is there.
fn measure(packet: &[u8]) -> Option<(usize, usize)> {
    let mut length = 0;
    for (at, byte) in packet.iter().enumerate().take(HEADER).skip(1) {
        length |= usize::from(byte & 0x7f) << (7 * (at - 1));
        // A fifth byte that says there is more is no MQTT; the broker has its own say on that.
        if byte & 0x80 == 0 || at == HEADER - 1 {
            return Some((at + 1 + length, at + 1));
        }
    }
    None
}

/// Cuts what is written into packets.
#[derive(Debug, Default)]
pub(super) struct Packets(Vec<u8>);

impl Packets {
    /// Takes what is written next, and hands on each packet that is whole.
    pub(super) fn feed(&mut self, bytes: &[u8], mut whole: impl FnMut(&[u8])) {
        self.0.extend_from_slice(bytes);
        let mut begins = 0;
        while let Some(rest) = self.0.get(begins..)
            && let Some((length, _)) = measure(rest)
            && let Some(packet) = rest.get(..length)
        {
            whole(packet);
            begins += length;
        }
        self.0.drain(..begins);
    }
}

/// Watches what is read for publishes, and keeps no more of them than a few numbers.
#[derive(Debug, Default)]
pub(super) struct Publishes {
    header: Vec<u8>,
    /// What is left of the body.
    left: usize,
    /// What has been seen of it.
    seen: usize,
    topic: usize,
    packet_id: u16,
}

impl Publishes {
    /// Takes what is read next, and tells of each publish of QoS 1 or 2: its packet id, and whether it is marked as sent
    /// again.
    pub(super) fn feed(&mut self, mut bytes: &[u8], mut arrives: impl FnMut(u16, bool)) {
        while let Some((byte, rest)) = bytes.split_first() {
            if self.left == 0 {
                self.header.push(*byte);
                bytes = rest;
                if let Some((length, body)) = measure(&self.header) {
                    (self.left, self.seen, self.topic, self.packet_id) = (length - body, 0, 0, 0);
                    if self.left == 0 {
                        self.header.clear();
                    }
                }
                continue;
            }
            let first = self.header.first().copied().unwrap_or(0);
            let names_itself = first >> 4 == PUBLISH && first & 0b110 != 0;
            let id_ends = 2 + self.topic + 2;
            // The topic's text and what stands behind the packet id are passed over in one go.
            let over = match self.seen {
                0 | 1 if names_itself => 0,
                seen if names_itself && seen < 2 + self.topic => 2 + self.topic - seen,
                seen if names_itself && seen < id_ends => 0,
                _ => self.left,
            };
            let step = over.max(1).min(self.left).min(bytes.len());
            if over == 0 {
                if self.seen < 2 {
                    self.topic = self.topic << 8 | usize::from(*byte);
                } else {
                    self.packet_id = self.packet_id << 8 | u16::from(*byte);
                    if self.seen + 1 == id_ends {
                        arrives(self.packet_id, first & 0b1000 != 0);
                    }
                }
            }
            bytes = bytes.get(step..).unwrap_or_default();
            self.seen += step;
            self.left -= step;
            if self.left == 0 {
                self.header.clear();
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn publish(flags: u8, topic: &str, packet_id: Option<u16>, payload: &[u8]) -> Vec<u8> {
        let mut body = (topic.len() as u16).to_be_bytes().to_vec();
        body.extend_from_slice(topic.as_bytes());
        body.extend(packet_id.iter().flat_map(|id| id.to_be_bytes()));
        body.extend_from_slice(payload);
        let mut packet = vec![PUBLISH << 4 | flags];
        let mut length = body.len();
        loop {
            packet.push((length % 128) as u8 | if length >= 128 { 0x80 } else { 0 });
            length /= 128;
            if length == 0 {
                break;
            }
        }
        packet.extend(body);
        packet
    }

    #[test]
    fn publishes_are_found_however_the_bytes_come() {
        let long = vec![0x3a; 20_000];
        let stream = [
            vec![0x10, 3, 1, 2, 3],
            publish(0b0010, "barn/stall/1/water", Some(513), b"240"),
            vec![0xc0, 0],
            publish(0, "barn/stall/1/water", None, b"12"),
            publish(0b1011, "a", Some(7), &long),
            publish(0b0100, &"t".repeat(300), Some(65_535), b""),
            vec![0xc0, 0],
        ]
        .concat();
        for step in [1, 2, 3, 7, 1000, stream.len()] {
            let (mut publishes, mut found) = (Publishes::default(), Vec::new());
            let (mut packets, mut lengths) = (Packets::default(), Vec::new());
            for bytes in stream.chunks(step) {
                publishes.feed(bytes, |id, dup| found.push((id, dup)));
                packets.feed(bytes, |packet| lengths.push(packet.len()));
            }
            assert_eq!(found, [(513, false), (7, true), (65_535, false)], "in steps of {step}");
            assert_eq!(lengths, [5, 27, 2, 24, 20_009, 307, 2], "in steps of {step}");
        }
    }

    #[test]
    fn acknowledgements_name_their_packet() {
        assert_eq!(acknowledged(&[0x40, 2, 1, 2]), Some(258));
        assert_eq!(acknowledged(&[0x50, 4, 0, 9, 0x10, 0]), Some(9));
        for other in [&[0xd0, 0][..], &[0x62, 2, 0, 9], &[0x40], &[0x40, 2, 0], &[]] {
            assert_eq!(acknowledged(other), None, "{other:?}");
        }
    }
}
