//! The hub: thin shells that carry what happens into the pure barn, and its orders out.
//!
//! [`devices`] hears sensors and badge readers, [`web`] serves boards and takes touches, [`journal`] keeps what happened,
//! [`hub`] is the loop that owns the barn, [`app`] puts them together.

#![forbid(unsafe_code)]

pub mod app;
pub mod broker;
pub mod clock;
pub mod complaint;
pub mod demo;
pub mod devices;
pub mod exchange;
pub mod hub;
pub mod journal;
pub mod limits_page;
pub mod messages;
pub mod metrics;
pub mod pin;
pub mod random;
pub mod replay;
pub mod settings;
mod watchdog;
pub mod web;

/// An error with all its causes, in one line.
pub fn chain(error: &dyn std::error::Error) -> String {
    let mut text = error.to_string();
    let mut source = error.source();
    while let Some(cause) = source {
        text.push_str(": ");
        text.push_str(&cause.to_string());
        source = cause.source();
    }
    text
}
