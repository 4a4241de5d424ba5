//! The broker's door: lets clients in, and has the hub hear what they say.
//!
//! A publish is heard after the broker has found that its client may say it, and before it is passed on to others. Where it
//! says something to the barn, its acknowledgement is held back in the same breath. A will is heard when the broker has
//! published it. Messages that the broker keeps are heard once, before the first client is let in.

use std::collections::HashMap;
use std::future::Future;
use std::net::SocketAddr;
use std::pin::Pin;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use bellmare_barn::input::Line;
use mqtt5::QoS;
use mqtt5::broker::client_handler::ClientHandler;
use mqtt5::broker::config::BrokerConfig;
use mqtt5::broker::resource_monitor::ResourceMonitor;
use mqtt5::broker::router::MessageRouter;
use mqtt5::broker::storage::StorageBackend;
use mqtt5::broker::sys_topics::BrokerStats;
use mqtt5::broker::transport::BrokerTransport;
use mqtt5::broker::{
    AuthProvider, BrokerEventHandler, ClientConnectEvent, ClientDisconnectEvent, ClientPublishEvent, DynamicStorage,
    PublishAction,
};
use mqtt5::packet::publish::PublishPacket;
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::{broadcast, oneshot};
use tokio::task::{AbortHandle, JoinSet};
use tokio::time::{interval, sleep, timeout};

use super::Hearing;
use super::gate::Gate;
use super::stream::Stream;
use crate::devices::intake::{Ack, Deaf, Ears, Intake, Message, digest};
use crate::journal::Delivery;
use crate::messages::lamp::{self, Lamp, Picture};

/// How often what has outlived its time is thrown away: sessions and messages, and counts of who connected.
const TIDY: Duration = Duration::from_secs(3600);
const TIDY_COUNTS: Duration = Duration::from_secs(60);

/// Clients have so long to hear that the broker stops.
const GOODBYE: Duration = Duration::from_secs(1);

/// A connection that could not be let in, for want of open files as a rule, is tried again after so long.
const DOOR_JAMS: Duration = Duration::from_millis(100);

/// What the door works with.
pub(super) struct Door {
    pub(super) listener: TcpListener,
    pub(super) config: BrokerConfig,
    pub(super) router: Arc<MessageRouter>,
    pub(super) auth: Arc<dyn AuthProvider>,
    pub(super) storage: Arc<DynamicStorage>,
    pub(super) stats: Arc<BrokerStats>,
    pub(super) monitor: Arc<ResourceMonitor>,
    pub(super) hearing: Option<Hearing>,
}

impl Door {
    /// Lets clients in until `stop` says so or is dropped.
    pub(super) async fn run(mut self, mut stop: oneshot::Receiver<()>) {
        if let Some(hearing) = &self.hearing {
            self.config.event_handler = Some(Arc::new(Listener {
                ears: Arc::clone(&hearing.ears),
                storage: Arc::clone(&self.storage),
                auth: Arc::clone(&self.auth),
                router: Arc::clone(&self.router),
                delayed: Arc::default(),
            }));
        }
        let config = Arc::new(self.config.clone());
        let (goodbye, _) = broadcast::channel(1);
        let mut clients = JoinSet::new();
        let (mut tidy, mut tidy_counts) = (interval(TIDY), interval(TIDY_COUNTS));
        tokio::select! {
            () = self.open() => {}
            _ = &mut stop => return,
        }
        let mut lamp = self.hearing.as_ref().and_then(|hearing| hearing.lamp.clone());
        let mut kept = self.kept_for(lamp.as_ref()).await;
        loop {
            tokio::select! {
                _ = &mut stop => break,
                Some(_) = clients.join_next() => {}
                Some(wanted) = next_picture(&mut lamp, &kept) => {
                    self.show(&kept, &wanted).await;
                    kept = wanted;
                }
                _ = tidy.tick() => self.tidy().await,
                _ = tidy_counts.tick() => self.monitor.cleanup_expired_windows().await,
                connection = self.listener.accept() => match connection {
                    Ok((socket, from)) if self.monitor.can_accept_connection(from.ip()).await => {
                        clients.spawn(self.client(socket, from, Arc::clone(&config), goodbye.subscribe()));
                    }
                    Ok((_, from)) => tracing::warn!(%from, "turned away: too many clients"),
                    Err(why) => {
                        tracing::warn!(%why, "a client could not be let in");
                        sleep(DOOR_JAMS).await;
                    }
                },
            }
        }
        self.close(goodbye, clients).await;
    }

    /// Tells the hub of what is retained, and that its sensors are about to be heard.
    async fn open(&self) {
        let Some(Hearing { ears, lamp, .. }) = &self.hearing else { return };
        for filter in ears.filters() {
            for kept in self.router.get_retained_messages(&filter).await {
                if lamp.as_ref().is_some_and(|lamp| lamp.owns(&kept.topic_name)) {
                    continue;
                }
                let inputs = ears.decode(kept.topic_name.as_bytes(), &kept.payload, true);
                hear_once(ears, inputs).await;
            }
        }
        self.say("online").await;
        // The hub has just been started; where it has ended again, all this ends as well.
        let _ = ears.pass(Intake::Line(Line::Up)).await;
    }

    async fn close(&self, goodbye: broadcast::Sender<()>, mut clients: JoinSet<()>) {
        self.say("offline").await;
        // Those who hear it are waiting for it: let them have it before the goodbye.
        tokio::task::yield_now().await;
        // Nobody listening means that there are no clients.
        let _ = goodbye.send(());
        let all_gone = async { while clients.join_next().await.is_some() {} };
        if timeout(GOODBYE, all_gone).await.is_err() {
            tracing::debug!("clients of the broker were cut off");
            clients.shutdown().await;
        }
        if let Err(why) = self.storage.shutdown().await {
            tracing::error!(%why, "the broker could not write down its sessions");
        }
        if let Some(hearing) = &self.hearing {
            let line = Line::Down("the hub's own broker has stopped".to_owned());
            // On ending the hub has gone before its broker.
            let _ = hearing.ears.pass(Intake::Line(line)).await;
        }
    }

    /// Says of the hub that it is there or not, to whoever hears and whoever asks later.
    async fn say(&self, word: &'static str) {
        let Some(hearing) = &self.hearing else { return };
        let mut publish = PublishPacket::new(hearing.availability.clone(), word, QoS::AtLeastOnce);
        publish.retain = true;
        self.router.route_message(&publish, None).await;
    }

    /// What is kept for a lamp from before.
    async fn kept_for(&self, lamp: Option<&Lamp>) -> Picture {
        let Some(lamp) = lamp else { return Picture::new() };
        let kept = self.router.get_retained_messages(&lamp.filter()).await;
        let text = |payload: &[u8]| String::from_utf8_lossy(payload).into_owned();
        kept.iter().map(|kept| (kept.topic_name.to_string(), text(&kept.payload))).collect()
    }

    /// Has others see what stands.
    async fn show(&self, kept: &Picture, wanted: &Picture) {
        for (topic, payload) in lamp::changes(kept, wanted) {
            let mut publish = PublishPacket::new(topic, payload.into_bytes(), QoS::AtLeastOnce);
            publish.retain = true;
            self.router.route_message(&publish, None).await;
        }
    }

    async fn tidy(&self) {
        if let Err(why) = self.storage.cleanup_expired().await {
            tracing::warn!(%why, "the broker could not throw away old messages");
        }
        self.router.sweep_sessions().await;
    }

    /// One client, until it goes.
    fn client(
        &self,
        socket: TcpStream,
        from: SocketAddr,
        config: Arc<BrokerConfig>,
        goodbye: broadcast::Receiver<()>,
    ) -> impl Future<Output = ()> + Send + 'static {
        // An acknowledgement is a few bytes: it must not wait for more.
        if let Err(why) = socket.set_nodelay(true) {
            tracing::debug!(%from, %why, "acknowledgements may be slow");
        }
        let connection = Arc::new(Connection::default());
        let transport = BrokerTransport::WebSocket(Box::new(Stream::new(socket, Arc::clone(&connection.gate))));
        let handler = ClientHandler::new(
            transport,
            from,
            config,
            Arc::clone(&self.router),
            Arc::clone(&self.auth),
            Some(Arc::clone(&self.storage)),
            Arc::clone(&self.stats),
            Arc::clone(&self.monitor),
            goodbye,
        );
        CONNECTION.scope(connection, async move {
            if let Err(why) = handler.run().await {
                tracing::debug!(%from, %why, "a client of the broker is gone");
            }
        })
    }
}

/// The picture to be shown, once it differs from what is; never where there is no lamp. One that is empty has not been
/// painted yet.
async fn next_picture(lamp: &mut Option<Lamp>, kept: &Picture) -> Option<Picture> {
    let lamp = lamp.as_mut()?;
    let wanted = lamp.wanted.wait_for(|wanted| !wanted.is_empty() && wanted != kept).await.ok()?;
    Some(wanted.clone())
}

/// What the door knows of a connection.
#[derive(Default)]
struct Connection {
    gate: Arc<Gate>,
    will: Mutex<Option<Will>>,
}

tokio::task_local! {
    /// The connection whose task this is: the broker names a client to its listener, and not the connection.
    static CONNECTION: Arc<Connection>;
}

struct Will {
    topic: Arc<str>,
    payload: Vec<u8>,
    delay: Duration,
}

/// Hears what the broker tells of its clients.
struct Listener {
    ears: Arc<Ears>,
    storage: Arc<DynamicStorage>,
    auth: Arc<dyn AuthProvider>,
    router: Arc<MessageRouter>,
    /// Wills that are heard unless their clients come back before.
    delayed: Arc<Mutex<HashMap<Arc<str>, AbortHandle>>>,
}

type Told<'a, T> = Pin<Box<dyn Future<Output = T> + Send + 'a>>;

impl BrokerEventHandler for Listener {
    fn on_client_publish<'a>(&'a self, publish: ClientPublishEvent) -> Told<'a, PublishAction> {
        Box::pin(async move {
            self.publish(&publish).await;
            PublishAction::Continue
        })
    }

    fn on_client_connect<'a>(&'a self, client: ClientConnectEvent) -> Told<'a, ()> {
        Box::pin(self.connected(client))
    }

    fn on_client_disconnect<'a>(&'a self, client: ClientDisconnectEvent) -> Told<'a, ()> {
        Box::pin(self.disconnected(client))
    }
}

impl Listener {
    async fn publish(&self, publish: &ClientPublishEvent) {
        // Nobody kept it for the hub: it is said now.
        let inputs = self.ears.decode(publish.topic.as_bytes(), &publish.payload, false);
        if inputs.is_empty() {
            return;
        }
        let Some(packet_id) = publish.packet_id else {
            // QoS 0. Whether anybody is left to hear it makes no difference to the sensor.
            let message = Message { inputs, delivery: None, dup: false, ack: None };
            let _ = self.ears.pass_if_room(Intake::Message(message));
            return;
        };
        // Outside of a connection there is no client.
        let Ok(connection) = CONNECTION.try_with(Arc::clone) else { return };
        let Some((held, dup)) = connection.gate.hold(packet_id) else {
            // What can not be held back must not be acknowledged either.
            tracing::error!(client = %publish.client_id, packet_id, "cut off: the broker has lost count of its messages");
            return connection.gate.cut();
        };
        let says = digest(publish.topic.as_bytes(), &publish.payload);
        let delivery = Some(Delivery::of_client(&publish.client_id, packet_id, says));
        let message = Message { inputs, delivery, dup, ack: Some(Ack::Sensor(held)) };
        if self.ears.pass(Intake::Message(message)).await == Err(Deaf::Behind) {
            tracing::warn!(client = %publish.client_id, "cut off: the hub takes no messages");
            connection.gate.cut();
        }
    }

    async fn connected(&self, client: ClientConnectEvent) {
        if let Some(delayed) = self.delayed.lock().unwrap_or_else(PoisonError::into_inner).remove(&client.client_id) {
            delayed.abort();
        }
        let (Some(topic), Some(payload)) = (client.will_topic, client.will_payload) else { return };
        let session = self.storage.get_session(&client.client_id).await.ok().flatten();
        let delay = session.and_then(|session| session.will_publish_delay()).unwrap_or(0);
        let will = Will { topic, payload: payload.to_vec(), delay: Duration::from_secs(delay.into()) };
        // Outside of a connection there is no client.
        let _ = CONNECTION.try_with(|connection| {
            *connection.will.lock().unwrap_or_else(PoisonError::into_inner) = Some(will);
        });
    }

    async fn disconnected(&self, client: ClientDisconnectEvent) {
        let take = |connection: &Arc<Connection>| connection.will.lock().unwrap_or_else(PoisonError::into_inner).take();
        let Some(will) = CONNECTION.try_with(take).ok().flatten().filter(|_| client.unexpected) else { return };
        if !self.auth.authorize_publish(&client.client_id, client.user_id.as_deref(), &will.topic).await {
            return;
        }
        if will.delay.is_zero() {
            return hear_once(&self.ears, self.ears.decode(will.topic.as_bytes(), &will.payload, false)).await;
        }
        let (ears, all, router) = (Arc::clone(&self.ears), Arc::clone(&self.delayed), Arc::clone(&self.router));
        let id = Arc::clone(&client.client_id);
        let waiting = tokio::spawn(async move {
            sleep(will.delay).await;
            all.lock().unwrap_or_else(PoisonError::into_inner).remove(&id);
            // It may have come back before this connection's end was noticed.
            if router.is_connected(&id).await {
                return;
            }
            hear_once(&ears, ears.decode(will.topic.as_bytes(), &will.payload, false)).await;
        });
        let mut delayed = self.delayed.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(before) = delayed.insert(client.client_id, waiting.abort_handle()) {
            before.abort();
        }
    }
}

/// Hands on what comes once and waits for no acknowledgement.
async fn hear_once(ears: &Ears, inputs: Vec<bellmare_barn::input::Input>) {
    if inputs.is_empty() {
        return;
    }
    let message = Message { inputs, delivery: None, dup: false, ack: None };
    if ears.pass(Intake::Message(message)).await == Err(Deaf::Behind) {
        tracing::warn!("the hub takes no messages: a last will or a retained message was not heard");
    }
}
