//! Devices in: MQTT topics and payloads become [`Input`](bellmare_barn::input::Input)s.
//!
//! - [`rules`]: what the settings say about topics, and every fault in it.
//! - [`topic_map`]: which rule a topic falls under, whose sensor it binds, and what a message means.
//! - [`scale`], [`payload`], [`senml`], [`homie`]: one wire format each, and the units.
//! - [`ledger`]: what was refused and what had no place, for people to look at.
//! - [`intake`]: what is handed to the hub, and the ears that make it of a message.
//! - [`mqtt`]: the connection to a broker.
//!
//! Nothing here knows a limit or a stall of the barn: a value that parses is passed on, and whether it can be right is
//! the barn's to say. Nothing but [`mqtt`] knows that there is a network.

pub mod homie;
pub mod intake;
pub mod ledger;
pub mod mqtt;
pub mod payload;
pub mod rules;
pub mod scale;
pub mod senml;
pub mod topic_map;

#[cfg(test)]
mod tests;
