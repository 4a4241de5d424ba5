//! The hub: thin shells that carry what happens into the pure barn, and its orders out.

#![forbid(unsafe_code)]

pub mod broker;
pub mod complaint;
pub mod devices;
pub mod exchange;
pub mod journal;
pub mod settings;
