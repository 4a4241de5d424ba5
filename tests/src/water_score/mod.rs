//! How well the hub finds again what was true in a made-up barn: the barn is fed with what the sensors said, and what it
//! says is held against what happened.

pub(crate) mod feed;
mod score;

pub use feed::{Told, feed};
pub use score::{Counts, score};
