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

mod light;
mod settings;

use std::collections::VecDeque;
use std::net::Ipv6Addr;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use bellmare_barn::input::Line;
use rumqttc::v5::mqttbytes::QoS;
use rumqttc::v5::mqttbytes::v5::{Filter, LastWill, Packet, Publish, SubAck, SubscribeReasonCode};
use rumqttc::v5::{AsyncClient, ConnectionError, Event, EventLoop, MqttOptions};
use rumqttc::{NetworkOptions, Outgoing, TlsConfiguration, Transport};
use tokio::sync::watch;
use tokio::time::{Instant, sleep, timeout};

use self::light::Light;
use super::intake::{Ack, Deaf, Ears, Intake, Message, digest};
use crate::journal::Delivery;
use crate::messages::lamp::Lamp;

pub use settings::Mqtt;

/// So many messages of QoS 1 may be on their way and not acknowledged.
pub const RECEIVE_MAXIMUM: u16 = 1000;

/// Packets above this the broker keeps to itself: MQTT 5 has us say so. A payload has its own, lower limit.
const MAX_PACKET: u32 = 256 * 1024;

/// A dead line is noticed within twice this.
const KEEP_ALIVE: Duration = Duration::from_secs(15);

/// A connection that stood this long was a good one: the next attempt comes soon.
const STOOD: Duration = Duration::from_secs(20);

/// A message to be acknowledged, and the connection that brought it.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct SessionAck {
    connection: u64,
    pkid: u16,
}

/// Acknowledges messages. Clones share the connection.
#[derive(Clone)]
pub struct Acker {
    client: AsyncClient,
    due: Arc<Mutex<Due>>,
}

/// What is to be acknowledged and has not been handed to the client yet: its queue may be full for a moment, and an
/// acknowledgement that is let go would keep its place under way at the broker for as long as the connection stands.
#[derive(Default)]
struct Due {
    connection: u64,
    pkids: VecDeque<u16>,
}

impl Acker {
    /// Acknowledges a message, unless its connection is gone: then it comes again, or its session was lost. Never waits.
    pub fn ack(&self, ack: SessionAck) {
        let mut due = self.lock();
        if ack.connection == due.connection {
            due.pkids.push_back(ack.pkid);
            self.hand_over(&mut due);
        }
    }

    /// The connection moves: there may be room again.
    fn go_on(&self) {
        self.hand_over(&mut self.lock());
    }

    /// The lock is held over the sending, so that no line can be cut in between.
    fn hand_over(&self, due: &mut Due) {
        while let Some(pkid) = due.pkids.front() {
            let mut publish = Publish::new(String::new(), QoS::AtLeastOnce, Vec::new(), None);
            publish.pkid = *pkid;
            if self.client.try_ack(&publish).is_err() {
                return;
            }
            due.pkids.pop_front();
        }
    }

    /// The line is cut: what was due on it is due no more.
    fn forget(&self) {
        let mut due = self.lock();
        due.connection += 1;
        due.pkids.clear();
    }

    fn connection(&self) -> u64 {
        self.lock().connection
    }

    fn lock(&self) -> MutexGuard<'_, Due> {
        self.due.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// The topic that says `online` or `offline` of the hub.
pub fn availability(prefix: &str) -> String {
    format!("{prefix}/hub/availability")
}

/// A connection that is not yet running.
pub struct Connection {
    events: EventLoop,
    acker: Acker,
    availability: String,
    lamp: Option<Lamp>,
}

impl Connection {
    /// Prepares a connection; nothing is sent until [`Connection::run`].
    pub fn new(mqtt: &Mqtt, lamp: Option<Lamp>) -> Self {
        let availability = availability(&mqtt.prefix);
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
        let (client, events) = AsyncClient::new(options, usize::from(RECEIVE_MAXIMUM) + 128);
        Self { events, acker: Acker { client, due: Arc::default() }, availability, lamp }
    }

    /// What acknowledges this connection's messages.
    pub fn acker(&self) -> Acker {
        self.acker.clone()
    }

    /// Runs until `stop` says true or nobody is left on either channel, reconnecting for ever.
    pub async fn run(mut self, ears: Ears, mut stop: watch::Receiver<bool>) {
        let filters = ears.filters();
        let light = self.lamp.clone().map(|lamp| Light::start(lamp, self.acker.client.clone()));
        let mut attempt: u32 = 0;
        let mut told = None;
        loop {
            let began = Instant::now();
            let fault = tokio::select! {
                fault = self.listen(&filters, &ears, light.as_ref(), &mut told) => fault,
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
                    match ears.pass(Intake::Line(line.clone())).await {
                        Ok(()) => told = Some(line),
                        Err(Deaf::Behind) => {}
                        Err(Deaf::Gone) => return false,
                    }
                }
                sleep(backoff(attempt)).await;
                true
            };
            tokio::select! {
                go_on = wait => if !go_on { return },
                _ = stop.wait_for(|stop| *stop) => break,
            }
        }
        if told == Some(Line::Up) {
            self.leave().await;
        }
    }

    /// Connects and listens until the line is cut.
    async fn listen(&mut self, filters: &[String], ears: &Ears, light: Option<&Light>, told: &mut Option<Line>) -> Cut {
        loop {
            let packet = match self.events.poll().await {
                Ok(Event::Incoming(packet)) => packet,
                Ok(Event::Outgoing(_)) => {
                    self.acker.go_on();
                    continue;
                }
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
                    // What is kept there from before must be heard, though it was this client that said it.
                    let lit = light.map(|light| Filter { path: light.filter(), ..Filter::default() });
                    if self.acker.client.try_subscribe_many(filters.chain(lit)).is_err() {
                        return Cut::Line("no room to subscribe".to_owned());
                    }
                }
                Packet::SubAck(granted) => {
                    if let Some(filter) = denied(&granted, filters) {
                        return Cut::Line(format!("the broker denies the hub to hear {filter}"));
                    }
                    tracing::info!("the line to the broker is up");
                    let _ = self.acker.client.try_publish(&self.availability, QoS::AtLeastOnce, true, "online");
                    if let Some(light) = light {
                        light.up();
                    }
                    *told = Some(Line::Up);
                    if let Err(deaf) = ears.pass(Intake::Line(Line::Up)).await {
                        return deaf.into();
                    }
                }
                Packet::Publish(publish) if light.is_some_and(|light| light.hears(&publish)) => {
                    self.pass_over(&publish);
                }
                Packet::Publish(publish) => {
                    if let Err(cut) = hear(ears, &self.acker, &publish).await {
                        return cut;
                    }
                }
                _ => {}
            }
        }
    }

    /// A message that says nothing to the barn: there is nothing to commit before it is acknowledged.
    fn pass_over(&self, publish: &Publish) {
        if publish.qos != QoS::AtMostOnce {
            self.acker.ack(SessionAck { connection: self.acker.connection(), pkid: publish.pkid });
        }
    }

    /// Makes sure that nothing of the connection that was cut reaches the next one: no acknowledgement, which would
    /// name another message there; no message that was read and not handed on, which comes again; and no request of
    /// ours, since all of them are made anew.
    fn forget(&mut self) {
        self.acker.forget();
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

impl From<Deaf> for Cut {
    fn from(deaf: Deaf) -> Self {
        match deaf {
            Deaf::Behind => Self::Line("the hub takes no messages".to_owned()),
            Deaf::Gone => Self::NobodyHears,
        }
    }
}

/// Hears a message, and hands on what it says to the barn.
async fn hear(ears: &Ears, acker: &Acker, publish: &Publish) -> Result<(), Cut> {
    let ack =
        (publish.qos != QoS::AtMostOnce).then(|| SessionAck { connection: acker.connection(), pkid: publish.pkid });
    let inputs = ears.decode(&publish.topic, &publish.payload, publish.retain);
    if inputs.is_empty() {
        // Nothing to commit, so nothing to wait for.
        if let Some(ack) = ack {
            acker.ack(ack);
        }
        return Ok(());
    }
    let delivery = ack.map(|ack| Delivery::of_session(ack.pkid, digest(&publish.topic, &publish.payload)));
    let message = Intake::Message(Message { inputs, delivery, dup: publish.dup, ack: ack.map(Ack::Session) });
    let passed = if ack.is_some() { ears.pass(message).await } else { ears.pass_if_room(message) };
    passed.map_err(Cut::from)
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
