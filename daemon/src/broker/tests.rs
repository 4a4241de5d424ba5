//! The hub's own broker and a sensor of bare packets: what is acknowledged, when, and what the hub hears. Waits have a
//! deadline; that nothing was acknowledged is known by what came after it.

use std::net::{Ipv4Addr, SocketAddr};
use std::time::Duration;

use bellmare_barn::input::{Input, Line, Measured};
use bellmare_barn::time::WallClock;
use tempfile::TempDir;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;
use tokio::sync::mpsc;
use tokio::time::{Instant, timeout};

use super::*;
use crate::devices::intake::{Ack, INTAKE_CAPACITY, Intake, Message};
use crate::devices::ledger::Ledger;
use crate::devices::rules::{TopicRule, topic_map};

const DEADLINE: Duration = Duration::from_secs(20);

const LEVEL: &str = "barn/stall/1/water";
const STATE: &str = "barn/stall/1/water/state";

const PUBACK: u8 = 0x40;
const PUBREC: u8 = 0x50;
const PINGRESP: u8 = 0xd0;

/// A broker and what it has the hub hear.
struct Barn {
    folder: TempDir,
    accounts: Option<Accounts>,
    broker: Option<Broker>,
    hearing: Hearing,
    heard: mpsc::Receiver<Intake>,
}

impl Barn {
    async fn start() -> Self {
        Self::start_with(None).await
    }

    /// One that lets in whom these lines of passwords and permissions name.
    async fn start_with(accounts: Option<[&str; 2]>) -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        let rule = |topic: &str, format: &str| TopicRule {
            topic: topic.into(),
            binds: Some("stall".into()),
            format: format.into(),
            ..TopicRule::default()
        };
        let level = TopicRule {
            quantity: Some("level".into()),
            unit: Some("mm".into()),
            ..rule("barn/stall/+/water", "number")
        };
        let state = TopicRule { of: Some("water".into()), ..rule("barn/stall/+/water/state", "presence") };
        let mut complaints = Vec::new();
        let map = topic_map("barn", &[], &[level, state], &mut complaints);
        assert_eq!(complaints, []);
        let (out, heard) = mpsc::channel(INTAKE_CAPACITY);
        let ears = Arc::new(Ears::new(map, Arc::new(Ledger::default()), || WallClock::Unset, out));
        let hearing = Hearing { ears, availability: "barn/hub/availability".to_owned(), lamp: None };
        let accounts = accounts.map(|[passwords, permissions]| {
            let file = |name: &str, text: &str| {
                let path = folder.path().join(name);
                std::fs::write(&path, text).expect("written");
                path
            };
            Accounts { passwords: file("passwords", passwords), permissions: Some(file("permissions", permissions)) }
        });
        let mut barn = Self { folder, accounts, broker: None, hearing, heard };
        barn.again().await;
        assert_eq!(barn.next().await, Intake::Line(Line::Up));
        barn
    }

    async fn again(&mut self) {
        let listen = SocketAddr::from((Ipv4Addr::LOCALHOST, 0));
        let (data, accounts) = (self.folder.path().join("broker"), self.accounts.clone());
        let settings = BrokerSettings { listen, data, accounts };
        self.broker = Some(Broker::start(settings, Some(self.hearing.clone())).await.expect("any free port"));
    }

    async fn stop(&mut self) {
        self.broker.take().expect("it runs").stop().await.expect("it stops");
        assert!(matches!(self.next().await, Intake::Line(Line::Down(_))));
    }

    async fn sensor(&self, id: &str) -> Sensor {
        Sensor::connect(self.address(), id, None, None).await
    }

    fn address(&self) -> SocketAddr {
        self.broker.as_ref().expect("it runs").address()
    }

    async fn next(&mut self) -> Intake {
        timeout(DEADLINE, self.heard.recv()).await.expect("something is heard in time").expect("the ears are there")
    }

    async fn message(&mut self) -> Message {
        match self.next().await {
            Intake::Message(message) => message,
            Intake::Line(line) => panic!("{line:?} and no message"),
        }
    }

    async fn presence(&mut self) -> bool {
        let message = self.message().await;
        assert_eq!((message.delivery, message.dup), (None, false));
        match &message.inputs[..] {
            [Input::Presence(presence)] => presence.online,
            other => panic!("{other:?} and no presence"),
        }
    }
}

fn millimetres(message: &Message) -> f64 {
    match &message.inputs[..] {
        [Input::Reading(reading)] => match reading.measured {
            Measured::Level(level) => level.get(),
            _ => panic!("{reading:?} and no level"),
        },
        other => panic!("{other:?} and no reading"),
    }
}

/// What the hub's loop does once a message is committed.
fn committed(message: Message) {
    match message.ack {
        Some(Ack::Sensor(held)) => held.release(),
        other => panic!("{other:?}: nobody waits"),
    }
}

/// A sensor in MQTT 3.1.1, by its bytes.
struct Sensor(TcpStream);

impl Sensor {
    async fn connect(address: SocketAddr, id: &str, will: Option<(&str, &str)>, login: Option<(&str, &str)>) -> Self {
        let mut line = TcpStream::connect(address).await.expect("it listens");
        let flags = if will.is_some() { 0b100 } else { 0 } | if login.is_some() { 0b1100_0000 } else { 0 };
        let mut body = [&[0, 4][..], b"MQTT", &[4, flags, 0, 60]].concat();
        body.extend(text(id));
        for (one, two) in will.into_iter().chain(login) {
            body.extend(text(one));
            body.extend(text(two));
        }
        line.write_all(&packet(0x10, &body)).await.expect("written");
        let mut connack = [0; 4];
        timeout(DEADLINE, line.read_exact(&mut connack)).await.expect("in time").expect("an answer");
        assert_eq!((connack[0], connack[3]), (0x20, 0), "it is let in");
        Self(line)
    }

    async fn publish(&mut self, flags: u8, id: u16, topic: &str, payload: &str) {
        let mut body = text(topic);
        if flags & 0b110 != 0 {
            body.extend(id.to_be_bytes());
        }
        body.extend(payload.as_bytes());
        self.0.write_all(&packet(0x30 | flags, &body)).await.expect("written");
    }

    /// Asks for a sign of life, and looks that this and nothing else is what comes next.
    async fn hears_nothing_else(&mut self) {
        self.0.write_all(&packet(0xc0, &[])).await.expect("written");
        assert_eq!(self.next().await, Some((PINGRESP, 0)));
    }

    /// The next packet's first byte, and the packet id where it has one. `None` at the end.
    async fn next(&mut self) -> Option<(u8, u16)> {
        let mut header = [0; 2];
        let read = timeout(DEADLINE, self.0.read_exact(&mut header)).await.expect("something comes in time");
        read.ok()?;
        let mut body = vec![0; usize::from(header[1])];
        self.0.read_exact(&mut body).await.ok()?;
        Some((header[0], body.first_chunk().map_or(0, |id| u16::from_be_bytes(*id))))
    }
}

fn text(text: &str) -> Vec<u8> {
    [&(text.len() as u16).to_be_bytes(), text.as_bytes()].concat()
}

fn packet(first: u8, body: &[u8]) -> Vec<u8> {
    assert!(body.len() < 128, "a short packet");
    [&[first, body.len() as u8], body].concat()
}

#[tokio::test]
async fn a_sensor_is_acknowledged_when_its_message_is_committed_and_waits_with_all_it_has() {
    let mut barn = Barn::start().await;
    let mut sensor = barn.sensor("a").await;
    for (id, level) in [(1, "201"), (2, "202"), (3, "203")] {
        sensor.publish(0b0010, id, LEVEL, level).await;
    }
    // Says nothing to the barn, and keeps its turn all the same.
    sensor.publish(0b0010, 4, "barn/elsewhere", "x").await;
    // Exactly once, as far as the sensor can know.
    sensor.publish(0b0100, 5, LEVEL, "205").await;
    let mut messages = Vec::new();
    for level in [201.0, 202.0, 203.0, 205.0] {
        let message = barn.message().await;
        assert_eq!((millimetres(&message), message.dup), (level, false));
        messages.push(message);
    }
    sensor.hears_nothing_else().await;

    let [first, second, third, fifth] = messages.try_into().expect("four of them");
    committed(second);
    sensor.hears_nothing_else().await;
    committed(first);
    assert_eq!(sensor.next().await, Some((PUBACK, 1)));
    assert_eq!(sensor.next().await, Some((PUBACK, 2)));
    sensor.hears_nothing_else().await;
    committed(third);
    assert_eq!(sensor.next().await, Some((PUBACK, 3)));
    assert_eq!(sensor.next().await, Some((PUBACK, 4)));
    sensor.hears_nothing_else().await;
    committed(fifth);
    assert_eq!(sensor.next().await, Some((PUBREC, 5)));

    // Another sensor is not held up by one that waits.
    sensor.publish(0b0010, 6, LEVEL, "206").await;
    let waits = barn.message().await;
    let mut other = barn.sensor("b").await;
    other.publish(0b0010, 1, LEVEL, "301").await;
    committed(barn.message().await);
    assert_eq!(other.next().await, Some((PUBACK, 1)));
    // QoS 0 is heard, and nobody waits for anything.
    other.publish(0, 0, LEVEL, "302").await;
    let message = barn.message().await;
    assert_eq!((millimetres(&message), message.delivery, message.ack), (302.0, None, None));
    sensor.hears_nothing_else().await;
    drop(waits);
}

#[tokio::test]
async fn what_a_sensor_sends_again_is_known_by_its_mark_and_its_delivery() {
    let mut barn = Barn::start().await;
    let mut sensor = barn.sensor("a").await;
    sensor.publish(0b0010, 7, LEVEL, "240").await;
    let first = barn.message().await;
    drop(sensor);
    let mut sensor = barn.sensor("a").await;
    sensor.publish(0b1010, 7, LEVEL, "240").await;
    sensor.publish(0b0010, 7, LEVEL, "240").await;
    let (again, new) = (barn.message().await, barn.message().await);
    assert_eq!((again.dup, new.dup), (true, false));
    assert_eq!(again.delivery, first.delivery);
    // What was due on the first connection comes to nothing on this one.
    committed(first);
    sensor.hears_nothing_else().await;
    committed(again);
    committed(new);
    assert_eq!((sensor.next().await, sensor.next().await), (Some((PUBACK, 7)), Some((PUBACK, 7))));

    let mut other = barn.sensor("b").await;
    other.publish(0b1010, 7, LEVEL, "240").await;
    other.publish(0b1010, 7, LEVEL, "241").await;
    let (same, differs) = (barn.message().await.delivery, barn.message().await.delivery);
    assert!(same.is_some() && same != differs, "another payload");
    let mut sensor = barn.sensor("a").await;
    sensor.publish(0b1010, 7, LEVEL, "240").await;
    assert_ne!(barn.message().await.delivery, same, "another client");
}

#[tokio::test]
async fn wills_and_retained_messages_are_heard_once() {
    let mut barn = Barn::start().await;
    let address = barn.address();
    let will = Some((STATE, "offline"));
    let lost = Sensor::connect(address, "a", will, None).await;
    drop(lost);
    assert!(!barn.presence().await);
    let mut leaves = Sensor::connect(address, "a", will, None).await;
    leaves.0.write_all(&packet(0xe0, &[])).await.expect("written");
    assert_eq!(leaves.next().await, None, "it is let go");

    let mut sensor = barn.sensor("b").await;
    sensor.publish(0b0011, 1, STATE, "online").await;
    let message = barn.message().await;
    assert!(message.delivery.is_some(), "and nothing of the will of one that took its leave");
    committed(message);
    assert_eq!(sensor.next().await, Some((PUBACK, 1)));
    barn.stop().await;
    barn.again().await;
    assert!(barn.presence().await, "it is kept for a hub that starts");
    assert_eq!(barn.next().await, Intake::Line(Line::Up));
    // And it knows those who come back.
    barn.sensor("b").await.hears_nothing_else().await;
}

#[tokio::test]
async fn what_a_sensor_may_not_say_is_not_heard() {
    let passwords = account_line("one", "w").expect("a hash");
    let permissions = "user one topic barn/stall/1/# permission write\n";
    let mut barn = Barn::start_with(Some([&passwords, permissions])).await;
    let will = Some(("barn/stall/2/water/state", "offline"));
    let mut sensor = Sensor::connect(barn.address(), "a", will, Some(("one", "w"))).await;
    sensor.publish(0b0010, 1, "barn/stall/2/water", "0").await;
    assert_eq!(sensor.next().await, Some((PUBACK, 1)), "MQTT 3.1.1 knows no other answer");
    sensor.publish(0b0010, 2, LEVEL, "240").await;
    let message = barn.message().await;
    assert_eq!(millimetres(&message), 240.0);
    committed(message);
    assert_eq!(sensor.next().await, Some((PUBACK, 2)));
    drop(sensor);
    let mut sensor = Sensor::connect(barn.address(), "a", None, Some(("one", "w"))).await;
    sensor.publish(0b0010, 3, LEVEL, "250").await;
    assert_eq!(millimetres(&barn.message().await), 250.0, "nor is its will");
}

#[tokio::test]
async fn stopping_does_not_wait_for_those_who_wait() {
    let mut barn = Barn::start().await;
    let mut sensor = barn.sensor("a").await;
    sensor.publish(0b0010, 1, LEVEL, "240").await;
    let message = barn.message().await;
    let began = Instant::now();
    barn.stop().await;
    assert!(began.elapsed() < Duration::from_secs(2), "{:?}", began.elapsed());
    committed(message);
    assert_eq!(sensor.next().await, None, "it is not acknowledged");
}
