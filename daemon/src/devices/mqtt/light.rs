//! Has a broker elsewhere keep what stands, for a lamp or a horn: all of it after each connecting, then what changes. What it has
//! kept from before and nothing stands for any more is taken away.

use std::collections::BTreeSet;

use rumqttc::v5::AsyncClient;
use rumqttc::v5::mqttbytes::QoS;
use rumqttc::v5::mqttbytes::v5::Publish;
use tokio::sync::mpsc;

use crate::messages::lamp::{Lamp, Picture, changes};

enum Event {
    /// The broker hears us, and may have forgotten everything.
    Up,
    /// It keeps this topic.
    Kept(String),
}

/// The connection's end of it.
pub(super) struct Light {
    lamp: Lamp,
    events: mpsc::UnboundedSender<Event>,
}

impl Light {
    /// Starts to say what stands. Ends with what this gives back.
    pub(super) fn start(lamp: Lamp, client: AsyncClient) -> Self {
        let (events, heard) = mpsc::unbounded_channel();
        tokio::spawn(run(lamp.clone(), client, heard));
        Self { lamp, events }
    }

    /// What must be subscribed to.
    pub(super) fn filter(&self) -> String {
        self.lamp.filter()
    }

    /// The broker has granted every subscription.
    pub(super) fn up(&self) {
        // Nobody listening means that the hub is about to end.
        let _ = self.events.send(Event::Up);
    }

    /// True where a message is of the lamp's own topics: it is the hub's, and no sensor's.
    pub(super) fn hears(&self, publish: &Publish) -> bool {
        let Ok(topic) = std::str::from_utf8(&publish.topic) else { return false };
        let own = self.lamp.owns(topic);
        if own && !publish.payload.is_empty() {
            // As above.
            let _ = self.events.send(Event::Kept(topic.to_owned()));
        }
        own
    }
}

async fn run(mut lamp: Lamp, client: AsyncClient, mut events: mpsc::UnboundedReceiver<Event>) {
    let mut said = Picture::new();
    // What the broker keeps comes with the subscription: before it is granted, or before there is a first picture to hold it against.
    let mut kept = BTreeSet::new();
    let mut up = false;
    loop {
        tokio::select! {
            event = events.recv() => match event {
                Some(Event::Up) => (said, up) = (Picture::new(), true),
                Some(Event::Kept(topic)) => {
                    kept.insert(topic);
                }
                None => return,
            },
            changed = lamp.wanted.changed() => if changed.is_err() {
                return;
            },
        }
        let wanted = lamp.wanted.borrow_and_update().clone();
        if !up || wanted.is_empty() {
            continue;
        }
        // It may be our own of a moment ago; taking it away twice does no harm.
        let stale = std::mem::take(&mut kept).into_iter().filter(|topic| !wanted.contains_key(topic));
        said.extend(stale.map(|topic| (topic, String::new())));
        for (topic, payload) in changes(&said, &wanted) {
            // A full queue means that the line is as good as down; after that all is said anew.
            if client.try_publish(topic.as_str(), QoS::AtLeastOnce, true, payload.clone()).is_ok() {
                if payload.is_empty() {
                    said.remove(&topic);
                } else {
                    said.insert(topic, payload);
                }
            }
        }
    }
}
