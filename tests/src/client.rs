//! A sensor of the tests': publishes at QoS 1 and knows what the broker has acknowledged.

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
