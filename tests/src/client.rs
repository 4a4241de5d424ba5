//! A sensor of the tests': publishes at QoS 1 and knows what the broker has acknowledged.

use std::collections::VecDeque;
use std::io::{self, BufReader, Read, Write};
use std::net::TcpStream;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use rumqttc::v5::mqttbytes::QoS;
use rumqttc::v5::mqttbytes::v5::Packet;
use rumqttc::v5::{Client, Event, MqttOptions};

/// Publishes these messages in order, so many under way at once, and waits until the broker has acknowledged each.
/// Comes back with how many it has: all of them, unless the broker was lost.
pub fn publish_all(port: u16, id: &str, messages: impl Iterator<Item = (String, String)>, under_way: u16) -> usize {
    let mut options = MqttOptions::new(id, "127.0.0.1", port);
    options.set_outgoing_inflight_upper_limit(under_way);
    options.set_keep_alive(Duration::from_secs(30));
    let (client, mut connection) = Client::new(options, usize::from(under_way));
    let messages: Vec<_> = messages.collect();
    let count = messages.len();
    let sending = std::thread::spawn(move || {
        for (topic, payload) in messages {
            if client.publish(topic, QoS::AtLeastOnce, false, payload).is_err() {
                return;
            }
        }
        // The client must outlive its last acknowledgement.
        std::thread::park();
    });
    let mut acknowledged = 0;
    for event in connection.iter() {
        match event {
            Ok(Event::Incoming(Packet::PubAck(_))) => acknowledged += 1,
            Ok(_) => {}
            Err(_) => break,
        }
        if acknowledged == count {
            break;
        }
    }
    sending.thread().unpark();
    drop(connection);
    sending.join().expect("the sending thread ends");
    acknowledged
}

/// Publishes one message and waits for its acknowledgement.
pub fn publish(port: u16, topic: &str, payload: &str) {
    let id = format!("test-{}-{topic}", std::process::id()).replace('/', "-");
    let one = std::iter::once((topic.to_owned(), payload.to_owned()));
    assert_eq!(publish_all(port, &id, one, 10), 1, "the broker takes {topic}");
}

/// A sensor that does not give up: publishes these messages in order at QoS 1, so many under way at once, and connects
/// again whenever the broker is lost. What was not acknowledged it sends again first, marked, as the standard has it. Goes
/// on until it is told that it is `over` and all that it has sent is acknowledged. Comes back with how many messages that
/// were.
pub fn publish_doggedly(
    port: u16,
    id: &str,
    messages: impl Iterator<Item = (String, String)>,
    under_way: usize,
    over: &AtomicBool,
) -> u32 {
    let mut dogged = Dogged { unacknowledged: VecDeque::new(), acknowledged: 0, last_id: 0, messages, under_way, over };
    let began = Instant::now();
    while !dogged.is_done() {
        // An error means that the hub is being started again.
        let _ = Sensor::connect(port, id).and_then(|sensor| dogged.talk(sensor));
        std::thread::sleep(Duration::from_millis(2));
        assert!(began.elapsed() < Duration::from_secs(300), "{} wait in vain", dogged.unacknowledged.len());
    }
    dogged.acknowledged
}

struct Dogged<'o, M> {
    /// Packet ids, topics and payloads, in the order in which they were first sent.
    unacknowledged: VecDeque<(u16, String, String)>,
    acknowledged: u32,
    last_id: u16,
    messages: M,
    under_way: usize,
    over: &'o AtomicBool,
}

impl<M: Iterator<Item = (String, String)>> Dogged<'_, M> {
    fn is_done(&self) -> bool {
        self.over.load(Ordering::Relaxed) && self.unacknowledged.is_empty()
    }

    fn talk(&mut self, mut sensor: Sensor) -> io::Result<()> {
        for (id, topic, payload) in &self.unacknowledged {
            sensor.publish(true, *id, topic, payload)?;
        }
        while !self.is_done() {
            while self.unacknowledged.len() < self.under_way && !self.over.load(Ordering::Relaxed) {
                let Some((topic, payload)) = self.messages.next() else { break };
                self.last_id = self.last_id % u16::MAX + 1;
                let (id, topic, payload) = &*self.unacknowledged.push_back_mut((self.last_id, topic, payload));
                sensor.publish(false, *id, topic, payload)?;
            }
            if let Some((id, ..)) = self.unacknowledged.front() {
                assert_eq!(sensor.hear()?, (PUBACK, *id), "in the order of sending");
                self.unacknowledged.pop_front();
                self.acknowledged += 1;
            }
        }
        Ok(())
    }
}

/// The first byte of an acknowledgement at QoS 1.
pub const PUBACK: u8 = 0x40;
/// And of a sign of life.
pub const PINGRESP: u8 = 0xd0;

/// A sensor in MQTT 3.1.1, packet by packet: the library above neither marks what it sends again nor shows what it hears.
pub struct Sensor {
    line: TcpStream,
    /// Read and not looked at yet.
    read: BufReader<TcpStream>,
}

impl Sensor {
    /// Connects, and goes on with the session that it has.
    pub fn connect(port: u16, id: &str) -> io::Result<Self> {
        let mut line = TcpStream::connect(("127.0.0.1", port))?;
        line.set_nodelay(true)?;
        line.set_read_timeout(Some(Duration::from_secs(20)))?;
        let mut connect = vec![0, 4, b'M', b'Q', b'T', b'T', 4, 0, 0, 60];
        connect.extend(text(id));
        line.write_all(&packet(0x10, &connect))?;
        let mut this = Self { read: BufReader::new(line.try_clone()?), line };
        this.hear()?;
        Ok(this)
    }

    /// Publishes at QoS 1.
    pub fn publish(&mut self, dup: bool, id: u16, topic: &str, payload: &str) -> io::Result<()> {
        let mut body = text(topic);
        body.extend(id.to_be_bytes());
        body.extend(payload.as_bytes());
        self.line.write_all(&packet(if dup { 0x3a } else { 0x32 }, &body))
    }

    /// Asks for a sign of life.
    pub fn ping(&mut self) -> io::Result<()> {
        self.line.write_all(&packet(0xc0, &[]))
    }

    /// The next packet's first byte, and the packet id where it has one.
    pub fn hear(&mut self) -> io::Result<(u8, u16)> {
        let mut header = [0; 2];
        self.read.read_exact(&mut header)?;
        let mut body = vec![0; usize::from(header[1])];
        self.read.read_exact(&mut body)?;
        Ok((header[0], body.first_chunk().map_or(0, |id| u16::from_be_bytes(*id))))
    }
}

fn text(text: &str) -> Vec<u8> {
    let length = u16::try_from(text.len()).expect("a short text").to_be_bytes();
    length.into_iter().chain(text.bytes()).collect()
}

fn packet(first: u8, body: &[u8]) -> Vec<u8> {
    let length = u8::try_from(body.len()).ok().filter(|length| *length < 128).expect("a short packet");
    [&[first, length], body].concat()
}
