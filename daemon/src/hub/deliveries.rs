//! Which messages have been taken lately, so that one which the broker sends again is not taken twice.
//!
//! A broker sends again what it was not told of having arrived: the message with the same packet id, marked as sent again.
//! The mark alone says nothing (most such messages were never taken), and a packet id alone is used over and over; both,
//! with a digest of topic and payload, name a message.

use std::collections::{HashSet, VecDeque};

use crate::journal::Delivery;

/// How many are remembered: a broker has at most `receive_maximum` (1,000) under way.
const REMEMBERED: usize = 4_000;

/// The last messages taken.
#[derive(Debug, Default)]
pub struct Deliveries {
    order: VecDeque<Delivery>,
    known: HashSet<Delivery>,
}

impl Deliveries {
    /// How many to ask of the journal on starting.
    pub const REMEMBERED: u32 = REMEMBERED as u32;

    /// Those that the journal knows, newest first.
    pub fn of(newest_first: Vec<Delivery>) -> Self {
        let mut deliveries = Self::default();
        newest_first.into_iter().rev().for_each(|delivery| deliveries.take(delivery));
        deliveries
    }

    /// A message is taken.
    pub fn take(&mut self, delivery: Delivery) {
        if !self.known.insert(delivery) {
            return;
        }
        self.order.push_back(delivery);
        if self.order.len() > REMEMBERED
            && let Some(oldest) = self.order.pop_front()
        {
            self.known.remove(&oldest);
        }
    }

    /// True where it was taken lately.
    pub fn knows(&self, delivery: Delivery) -> bool {
        self.known.contains(&delivery)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_last_ones_are_known_and_older_ones_are_not() {
        let mut deliveries = Deliveries::of(vec![Delivery(2), Delivery(1)]);
        assert!(deliveries.knows(Delivery(1)) && deliveries.knows(Delivery(2)));
        for n in 3..=REMEMBERED as i64 + 1 {
            deliveries.take(Delivery(n));
        }
        assert!(!deliveries.knows(Delivery(1)), "the oldest goes first");
        assert!(deliveries.knows(Delivery(2)));
    }
}
