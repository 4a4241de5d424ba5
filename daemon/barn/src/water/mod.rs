//! Water: what a vessel holds, what was drunk, poured in and lost, what a horse usually drinks, and when it will be gone.
//!
//! ```text
//!  reading ─▶ vessel (height) ─▶ settle (rests and changes) ─┐
//!             drink (what a horse can), mark (filled to) ────┤
//!                                steady, leak (falls alone) ─┼─▶ bucket (flows, faults) ─▶ supply (a place: state, log)
//!                                stuck (repeats) ────────────┘                                   │
//!                                             round (which to fill) ◀─ dry ◀─ intake (a horse) ◀─┘
//! ```

pub mod bucket;
pub mod drink;
pub mod dry;
pub mod guide;
pub mod intake;
pub mod leak;
pub mod mark;
pub mod settle;
pub mod steady;
pub mod stuck;
pub mod supply;
pub mod vessel;
