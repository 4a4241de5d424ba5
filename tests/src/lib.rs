//! What journeys share: the real programs, started and ended; real clients; waiting with a deadline.

pub mod board;
pub mod client;
pub mod hub;
pub mod mosquitto;
pub mod wait;
