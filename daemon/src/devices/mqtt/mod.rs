//! The connection to the broker: what is heard goes to the hub, and what the hub has committed is acknowledged.
//!
//! One task polls the connection and does nothing slow: it decodes, hands on, and polls again. The session is the
//! broker's to keep (`clean_start` off, one client id), so a message of QoS 1 that was not acknowledged comes again after
//! a reconnect; an acknowledgement is only good on the connection that brought its message, and [`Acker`] drops it on
//! any other. The hub tells a repeat by its [`Delivery`], never by the DUP flag alone: most messages marked DUP were
//! never committed.
//!
//! A cut line is tried again for ever. [`Intake::Line`] says `Up` once the broker has granted every subscription, and
//! `Down` once for each new reason. What the broker kept for the hub may come before `Up`.

mod settings;

use std::net::Ipv6Addr;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use bellmare_barn::input::{Input, Line};
use bellmare_barn::time::WallClock;
use rumqttc::v5::mqttbytes::QoS;
use rumqttc::v5::mqttbytes::v5::{Filter, LastWill, Packet, Publish, SubAck, SubscribeReasonCode};
use rumqttc::v5::{AsyncClient, ConnectionError, Event, EventLoop, MqttOptions};
use rumqttc::{NetworkOptions, Outgoing, TlsConfiguration, Transport};
use sha2::{Digest, Sha256};
use tokio::sync::mpsc::error::TrySendError;
use tokio::sync::{mpsc, watch};
use tokio::time::{Instant, sleep, timeout};

use super::ledger::Ledger;
use super::payload::Reason;
use super::topic_map::{Heard, Outcome, TopicMap};
use crate::journal::Delivery;

pub use settings::Mqtt;

/// So many messages of QoS 1 may be on their way and not acknowledged.
pub const RECEIVE_MAXIMUM: u16 = 1000;

/// Room for acknowledgements that are due and not sent, and for our own requests. Not [`RECEIVE_MAXIMUM`], though a broker
/// that keeps to it needs no more: mosquitto 2.0.11 does not count what it takes from its queue, and in a burst had over
/// 65,535 messages under way. An acknowledgement that is dropped leaves the broker waiting for it until the line is next
/// cut. So there is room for twice the queue of `deploy/mosquitto`; it takes up memory only as it fills.
const REQUESTS: usize = 250_000;

/// The least that the channel to the hub should hold: what the broker may send unacknowledged twice over (a cut line
/// brings it again), and room for QoS 0.
pub const INTAKE_CAPACITY: usize = 4096;

/// Packets above this the broker keeps to itself: MQTT 5 has us say so. A payload has its own, lower limit.
const MAX_PACKET: u32 = 256 * 1024;

/// A dead line is noticed within twice this.
const KEEP_ALIVE: Duration = Duration::from_secs(15);

/// For so long a hub that is behind may hold up reading; after it the line is cut, and the messages come again.
const PATIENCE: Duration = Duration::from_secs(10);

/// A connection that stood this long was a good one: the next attempt comes soon.
const STOOD: Duration = Duration::from_secs(20);

/// What comes in.
#[derive(Clone, PartialEq, Debug)]
pub enum Intake {
    /// A message that says something to the barn.
    Message(Message),
    /// The line to the broker came up or went down.
    Line(Line),
}

/// A message that says something to the barn.
#[derive(Clone, PartialEq, Debug)]
pub struct Message {
    /// What it says: never nothing.
    pub inputs: Vec<Input>,
    /// What tells it from other messages, where it can come twice: QoS 1.
    pub delivery: Option<Delivery>,
    /// True where the broker says that it sent it before. It may never have been committed.
    pub dup: bool,
    /// To be given to [`Acker::ack`] once it is committed.
    pub ack: Option<Ack>,
}

/// What names a message: a digest of packet id, topic and payload.
fn delivery(pkid: u16, topic: &[u8], payload: &[u8]) -> Delivery {
    let mut digest = Sha256::new();
    digest.update(pkid.to_be_bytes());
    digest.update((topic.len() as u64).to_be_bytes());
    digest.update(topic);
    digest.update(payload);
    let digest: [u8; 32] = digest.finalize().into();
    Delivery(digest.iter().take(8).fold(0, |key, byte| key << 8 | i64::from(*byte)))
}

/// A message to be acknowledged, and the connection that brought it.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Ack {
    connection: u64,
    pkid: u16,
}

/// Acknowledges messages. Clones share the connection.
#[derive(Clone)]
pub struct Acker {
    client: AsyncClient,
    connection: Arc<Mutex<u64>>,
}

impl Acker {
    /// Acknowledges a message, unless its connection is gone: then it comes again, or its session was lost. Never waits.
    pub fn ack(&self, ack: Ack) {
        // Held over the send, so that no line can be cut in between.
        let connection = self.connection.lock().unwrap_or_else(PoisonError::into_inner);
        if ack.connection != *connection {
            return;
        }
        let mut publish = Publish::new(String::new(), QoS::AtLeastOnce, Vec::new(), None);
        publish.pkid = ack.pkid;
        // The queue holds as many as can be due, so this says that something else is wrong.
        if self.client.try_ack(&publish).is_err() {
            tracing::warn!(pkid = ack.pkid, "an acknowledgement found no room; its message comes again");
        }
    }
}

/// A connection that is not yet running.
pub struct Connection {
    events: EventLoop,
    acker: Acker,
    availability: String,
}

impl Connection {
    /// Prepares a connection; nothing is sent until [`Connection::run`].
    pub fn new(mqtt: &Mqtt) -> Self {
        let availability = format!("{}/hub/availability", mqtt.prefix);
        // The library joins host and port by a colon, so an address of IPv6 needs its brackets.
        let host = match mqtt.host.parse::<Ipv6Addr>() {
            Ok(address) => format!("[{address}]"),
            Err(_) => mqtt.host.clone(),
        };
        let mut options = MqttOptions::new(mqtt.client_id.clone(), host, mqtt.port);
        options.set_clean_start(false);
        options.set_session_expiry_interval(Some(u32::try_from(mqtt.session_expiry.as_secs()).unwrap_or(u32::MAX)));
        options.set_receive_maximum(Some(RECEIVE_MAXIMUM));
        options.set_max_packet_size(Some(MAX_PACKET));
        options.set_manual_acks(true);
        options.set_keep_alive(KEEP_ALIVE);
        // Unless told, it would set aside room for 65,536 messages of our own.
        options.set_outgoing_inflight_upper_limit(64);
        options.set_last_will(LastWill::new(availability.clone(), "offline", QoS::AtLeastOnce, true, None));
        let mut network = NetworkOptions::new();
        network.set_tcp_nodelay(true);
        options.set_network_options(network);
        if let Some((user, password)) = &mqtt.login {
            options.set_credentials(user, password);
        }
        if let Some(tls) = &mqtt.tls {
            options.set_transport(Transport::tls_with_config(TlsConfiguration::Rustls(tls.clone())));
        }
        let (client, events) = AsyncClient::new(options, REQUESTS);
        Self { events, acker: Acker { client, connection: Arc::default() }, availability }
    }

    /// What acknowledges this connection's messages.
    pub fn acker(&self) -> Acker {
        self.acker.clone()
    }

    /// Runs until `stop` says true or nobody is left on either channel, reconnecting for ever. `clock` is asked once for
    /// each message.
    pub async fn run(
        mut self,
        map: TopicMap,
        ledger: Arc<Ledger>,
        clock: impl Fn() -> WallClock,
        out: mpsc::Sender<Intake>,
        mut stop: watch::Receiver<bool>,
    ) {
        let filters = map.subscriptions();
        let mut ears = Ears { map, ledger, clock, out, acker: self.acker.clone() };
        let mut attempt: u32 = 0;
        let mut told = None;
        loop {
            let began = Instant::now();
            let fault = tokio::select! {
                fault = self.listen(&filters, &mut ears, &mut told) => fault,
                _ = stop.wait_for(|stop| *stop) => break,
            };
            let Cut::Line(reason) = fault else { return };
            self.forget();
            attempt = if began.elapsed() >= STOOD { 0 } else { attempt.saturating_add(1) };
            tracing::debug!(%reason, attempt, "the line to the broker is cut");
            let wait = async {
                let line = Line::Down(reason);
                if told.as_ref() != Some(&line) {
                    tracing::warn!(?line, "no line to the broker; trying again for ever");
                    told = Some(line.clone());
                    ears.out.send(Intake::Line(line)).await?;
                }
                sleep(backoff(attempt)).await;
                Ok::<_, mpsc::error::SendError<Intake>>(())
            };
            tokio::select! {
                waited = wait => if waited.is_err() { return },
                _ = stop.wait_for(|stop| *stop) => break,
            }
        }
        if told == Some(Line::Up) {
            self.leave().await;
        }
    }

    /// Connects and listens until the line is cut.
    async fn listen(
        &mut self,
        filters: &[String],
        ears: &mut Ears<impl Fn() -> WallClock>,
        told: &mut Option<Line>,
    ) -> Cut {
        loop {
            let packet = match self.events.poll().await {
                Ok(Event::Incoming(packet)) => packet,
                Ok(Event::Outgoing(_)) => continue,
                Err(error) => return Cut::Line(reason(&error)),
            };
            match packet {
                Packet::ConnAck(_) => {
                    let filters = filters.iter().map(|filter| Filter {
                        path: filter.clone(),
                        qos: QoS::AtLeastOnce,
                        nolocal: true,
                        ..Filter::default()
                    });
                    if self.acker.client.try_subscribe_many(filters).is_err() {
                        return Cut::Line("no room to subscribe".to_owned());
                    }
                }
                Packet::SubAck(granted) => {
                    if let Some(filter) = denied(&granted, filters) {
                        return Cut::Line(format!("the broker denies the hub to hear {filter}"));
                    }
                    tracing::info!("the line to the broker is up");
                    let _ = self.acker.client.try_publish(&self.availability, QoS::AtLeastOnce, true, "online");
                    *told = Some(Line::Up);
                    if let Err(cut) = ears.pass(Intake::Line(Line::Up)).await {
                        return cut;
                    }
                }
                Packet::Publish(publish) => {
                    if let Err(cut) = ears.hear(&publish).await {
                        return cut;
                    }
                }
                _ => {}
            }
        }
    }

    /// Makes sure that nothing of the connection that was cut reaches the next one: no acknowledgement, which would
    /// name another message there; no message that was read and not handed on, which comes again; and no request of
    /// ours, since all of them are made anew.
    fn forget(&mut self) {
        *self.acker.connection.lock().unwrap_or_else(PoisonError::into_inner) += 1;
        self.events.clean();
        self.events.pending.clear();
        self.events.state.events.clear();
    }

    /// Says good-bye, as far as the line allows within two seconds.
    async fn leave(&mut self) {
        let client = &self.acker.client;
        let said = client.try_publish(&self.availability, QoS::AtLeastOnce, true, "offline");
        if said.is_err() || client.try_disconnect().is_err() {
            return;
        }
        let goodbye = async {
            loop {
                match self.events.poll().await {
                    Ok(Event::Outgoing(Outgoing::Disconnect)) | Err(_) => return,
                    Ok(_) => {}
                }
            }
        };
        let _ = timeout(Duration::from_secs(2), goodbye).await;
    }
}

/// Why listening ended.
enum Cut {
    /// The line is cut; the words are for people.
    Line(String),
    /// Nobody is left to hear.
    NobodyHears,
}

/// Turns what is heard into what the hub takes.
struct Ears<C> {
    map: TopicMap,
    ledger: Arc<Ledger>,
    clock: C,
    out: mpsc::Sender<Intake>,
    acker: Acker,
}

impl<C: Fn() -> WallClock> Ears<C> {
    async fn hear(&mut self, publish: &Publish) -> Result<(), Cut> {
        let now = (self.clock)();
        let ack = (publish.qos != QoS::AtMostOnce).then(|| Ack {
            connection: *self.acker.connection.lock().unwrap_or_else(PoisonError::into_inner),
            pkid: publish.pkid,
        });
        let inputs = self.decode(publish, now);
        if inputs.is_empty() {
            // Nothing to commit, so nothing to wait for.
            if let Some(ack) = ack {
                self.acker.ack(ack);
            }
            return Ok(());
        }
        let delivery = ack.map(|ack| delivery(ack.pkid, &publish.topic, &publish.payload));
        let message = Intake::Message(Message { inputs, delivery, dup: publish.dup, ack });
        if ack.is_some() {
            return self.pass(message).await;
        }
        // QoS 0 takes no room that QoS 1 may need.
        let kept_free = usize::from(RECEIVE_MAXIMUM).min(self.out.max_capacity() / 2);
        if self.out.capacity() <= kept_free {
            self.ledger.overflowed();
            return Ok(());
        }
        self.pass(message).await
    }

    fn decode(&mut self, publish: &Publish, now: WallClock) -> Vec<Input> {
        let Ok(topic) = std::str::from_utf8(&publish.topic) else {
            self.ledger.refused(&String::from_utf8_lossy(&publish.topic), &Reason::NotUtf8, now);
            return Vec::new();
        };
        let heard = Heard { topic, payload: &publish.payload, retained: publish.retain, now };
        match self.map.decode(&heard) {
            Outcome::Placed(decoded) => {
                match &decoded.refused {
                    None => {}
                    // What a broker keeps comes with every subscription; there is nothing for anybody to mend.
                    Some(Reason::OldNews) => self.ledger.old_news(),
                    Some(reason) => self.ledger.refused(topic, reason, now),
                }
                decoded.inputs
            }
            Outcome::Unplaced => {
                self.ledger.unplaced(topic, &publish.payload, now);
                Vec::new()
            }
            Outcome::Ignored => Vec::new(),
        }
    }

    /// Hands on what must not be lost. The channel has room for it unless the hub hangs; then reading waits a while, and
    /// after that the line is cut, so that the broker keeps what comes.
    async fn pass(&self, intake: Intake) -> Result<(), Cut> {
        match self.out.try_send(intake) {
            Ok(()) => Ok(()),
            Err(TrySendError::Closed(_)) => Err(Cut::NobodyHears),
            Err(TrySendError::Full(intake)) => match timeout(PATIENCE, self.out.send(intake)).await {
                Ok(Ok(())) => Ok(()),
                Ok(Err(_)) => Err(Cut::NobodyHears),
                Err(_) => Err(Cut::Line("the hub takes no messages".to_owned())),
            },
        }
    }
}

/// The first filter that the broker did not grant.
fn denied<'f>(granted: &SubAck, filters: &'f [String]) -> Option<&'f str> {
    let fails = |code: &SubscribeReasonCode| !matches!(code, SubscribeReasonCode::Success(_));
    let at = granted.return_codes.iter().position(fails)?;
    Some(filters.get(at).map_or("a topic", String::as_str))
}

/// The innermost cause, in plain words where it is a common one.
fn reason(error: &ConnectionError) -> String {
    match error {
        ConnectionError::Timeout(_) => "the broker does not answer".to_owned(),
        ConnectionError::ConnectionRefused(code) => format!("the broker refuses the hub: {code:?}"),
        ConnectionError::Io(error) => error.to_string(),
        other => other.to_string(),
    }
}

/// From 100 ms, doubling, to 30 s; a quarter more or less by the number of the attempt, so that attempts do not keep step
/// with a broker that comes and goes by the clock. Nothing is drawn by lot: what happened can be told again.
fn backoff(attempt: u32) -> Duration {
    let doubled = 100_u64.saturating_mul(1 << attempt.saturating_sub(1).min(20)).min(30_000);
    Duration::from_millis((doubled * (75 + u64::from(attempt) * 37 % 50) / 100).clamp(100, 30_000))
}

#[cfg(test)]
mod tests;
