//! Which messages have been taken, so that one which the broker sends again is not taken twice.
//!
//! A broker sends again what it was not told of having arrived: the message under the same packet id, marked as sent again.
//! The mark alone says nothing (most such messages were never taken), and a packet id is used over and over. But a broker
//! gives a packet id to another message only once the first is acknowledged. So what is sent again under an id is either
//! the message last taken under it, which its digest tells, or was never taken. How long ago that was does not matter:
//! brokers have been seen to send again what lay under 50,000 others.

use std::collections::BTreeMap;

use crate::journal::Delivery;

/// The last message taken under each packet id: 65,535 at the most.
#[derive(Debug, Default)]
pub struct Deliveries(BTreeMap<u16, Delivery>);

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
        self.0.insert(delivery.packet_id(), delivery);
    }

    /// True where it is the one last taken under its packet id.
    pub fn knows(&self, delivery: Delivery) -> bool {
        self.0.get(&delivery.packet_id()) == Some(&delivery)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_last_message_of_each_packet_id_is_known_however_long_ago() {
        let mut deliveries = Deliveries::of(vec![Delivery::new(7, 22), Delivery::new(8, 11), Delivery::new(7, 11)]);
        assert!(deliveries.knows(Delivery::new(7, 22)));
        assert!(!deliveries.knows(Delivery::new(7, 11)), "its id has gone to another: it was acknowledged");
        for n in 0..200_000_u64 {
            deliveries.take(Delivery::new(1000 + (n % 60_000) as u16, n));
        }
        assert!(deliveries.knows(Delivery::new(8, 11)));
        assert!(!deliveries.knows(Delivery::new(9, 11)));
    }
}
