//! Water: what a bucket holds.

pub mod vessel;
