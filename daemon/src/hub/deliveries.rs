//! Which messages have been taken, so that one which is sent again is not taken twice.
//!
//! Who sends again sends what was never acknowledged to him: the message under the same packet id, marked as sent again. The
//! mark alone says nothing (most such messages were never taken), and a packet id is used over and over. But it is given to
//! another message only once the first is acknowledged. So what is sent again under an id is either the message last taken
//! under it, which its digest tells, or was never taken.
//!
//! A broker has a session with the hub and 65,535 ids in it; how long ago a message was taken does not matter, for brokers
//! have been seen to send again what lay under 50,000 others. A client of the hub's own broker is acknowledged in the order
//! of its messages, so that only the last ones, as many as it may have on their way, can come again.

use std::collections::{BTreeMap, VecDeque};

use crate::broker::CLIENT_WINDOW;
use crate::journal::Delivery;

/// So many clients are remembered, those who were heard last: more than can be connected at once.
const CLIENTS: usize = 2_000;

/// What was taken last.
#[derive(Debug, Default)]
pub struct Deliveries {
    /// The last message taken under each packet id of the session.
    session: BTreeMap<u16, Delivery>,
    /// The last messages of each client of the hub's own broker, oldest first.
    clients: BTreeMap<u32, Client>,
    taken: u64,
}

#[derive(Debug, Default)]
struct Client {
    last: VecDeque<Delivery>,
    /// When it was heard, counted in messages of all.
    heard: u64,
}

impl Deliveries {
    /// How many of the last ones to ask of the journal on starting: every packet id twice.
    pub const LOOK_BACK: u32 = 2 * 65_536;

    /// Those that the journal knows, newest first.
    pub fn of(newest_first: Vec<Delivery>) -> Self {
        let mut deliveries = Self::default();
        newest_first.into_iter().rev().for_each(|delivery| deliveries.take(delivery));
        deliveries
    }

    /// A message is taken.
    pub fn take(&mut self, delivery: Delivery) {
        let Some(id) = delivery.client() else {
            self.session.insert(delivery.packet_id(), delivery);
            return;
        };
        self.taken += 1;
        let client = self.clients.entry(id).or_default();
        client.heard = self.taken;
        if client.last.len() >= usize::from(CLIENT_WINDOW) {
            client.last.pop_front();
        }
        client.last.push_back(delivery);
        if self.clients.len() > CLIENTS {
            self.forget_one();
        }
    }

    /// True where it is the one last taken under its packet id.
    pub fn knows(&self, delivery: Delivery) -> bool {
        let id = delivery.packet_id();
        let last = match delivery.client() {
            None => self.session.get(&id),
            Some(client) => self
                .clients
                .get(&client)
                .and_then(|client| client.last.iter().rev().find(|last| last.packet_id() == id)),
        };
        last == Some(&delivery)
    }

    /// Forgets the client that was not heard for longest.
    fn forget_one(&mut self) {
        if let Some(id) = self.clients.iter().min_by_key(|(_, client)| client.heard).map(|(id, _)| *id) {
            self.clients.remove(&id);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_last_message_of_each_packet_id_is_known_however_long_ago() {
        let of = Delivery::of_session;
        let mut deliveries = Deliveries::of(vec![of(7, 22), of(8, 11), of(7, 11)]);
        assert!(deliveries.knows(of(7, 22)));
        assert!(!deliveries.knows(of(7, 11)), "its id has gone to another: it was acknowledged");
        for n in 0..200_000_u64 {
            deliveries.take(of(1000 + (n % 60_000) as u16, n));
        }
        assert!(deliveries.knows(of(8, 11)));
        assert!(!deliveries.knows(of(9, 11)));
    }

    #[test]
    fn clients_have_their_own_packet_ids_and_as_many_last_messages_as_can_be_on_their_way() {
        let of = Delivery::of_client;
        let mut deliveries = Deliveries::of(vec![of("b", 1, 22), of("a", 1, 22), of("a", 1, 11), of("a", 2, 11)]);
        deliveries.take(Delivery::of_session(1, 33));
        assert!(deliveries.knows(of("a", 1, 22)) && deliveries.knows(of("b", 1, 22)));
        assert!(!deliveries.knows(of("a", 1, 11)), "its id has gone to another: it was acknowledged");
        assert!(!deliveries.knows(of("b", 2, 11)), "another client's");
        assert!(!deliveries.knows(Delivery::of_session(1, 22)), "another way");
        for n in 0..u64::from(CLIENT_WINDOW) - 3 {
            deliveries.take(of("a", 100 + n as u16, n));
        }
        assert!(deliveries.knows(of("a", 2, 11)));
        deliveries.take(of("a", 99, 0));
        assert!(!deliveries.knows(of("a", 2, 11)), "it could not be on its way any more");
        for n in 0..CLIENTS {
            deliveries.take(of(&format!("client {n}"), 1, 1));
        }
        assert!(deliveries.knows(of("client 0", 1, 1)) && !deliveries.knows(of("a", 99, 0)));
        assert_eq!(deliveries.clients.len(), CLIENTS);
    }
}
