//! Water: what a bucket can hold, and what is in it.

pub mod bucket;
pub mod vessel;
