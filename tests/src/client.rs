//! A sensor of the tests': publishes at QoS 1 and knows what the broker has acknowledged.

use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

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

/// Publishes these messages in order and connects again whenever the broker is lost, sending again what was not
/// acknowledged, until it is told that it is `over` and all that it has sent is acknowledged. Comes back with how many
/// that were.
pub fn publish_doggedly(
    port: u16,
    id: &str,
    mut messages: impl Iterator<Item = (String, String)>,
    under_way: u16,
    over: &AtomicBool,
) -> u32 {
    let mut options = MqttOptions::new(id, "127.0.0.1", port);
    options.set_clean_start(false);
    options.set_session_expiry_interval(Some(3600));
    options.set_outgoing_inflight_upper_limit(under_way);
    options.set_keep_alive(Duration::from_secs(30));
    let (client, mut connection) = Client::new(options, usize::from(under_way));
    let (mut sent, mut acknowledged) = (0, 0);
    let mut fill = |sent: &mut u32, acknowledged: u32| {
        while !over.load(Ordering::Relaxed) && *sent - acknowledged < u32::from(under_way) {
            let Some((topic, payload)) = messages.next() else { return };
            client.publish(topic, QoS::AtLeastOnce, false, payload).expect("there is room for what may be under way");
            *sent += 1;
        }
    };
    fill(&mut sent, acknowledged);
    for event in connection.iter() {
        match event {
            Ok(Event::Incoming(Packet::PubAck(_))) => acknowledged += 1,
            Ok(_) => {}
            // The hub is being started again.
            Err(_) => std::thread::sleep(Duration::from_millis(5)),
        }
        fill(&mut sent, acknowledged);
        if over.load(Ordering::Relaxed) && acknowledged == sent {
            break;
        }
    }
    acknowledged
}
