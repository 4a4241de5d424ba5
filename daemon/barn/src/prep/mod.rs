//! From the barn to a day that can be planned, and from a plan to what people see of it.
//!
//! The planner (`plan`) knows ids and minutes; the barn knows lessons, a shift sheet, badges and touches. Here is what joins
//! them: which rides make one outing, how long this horse takes, who can be counted on until when, what has begun, and
//! whether a new plan is worth the unrest. Nothing here searches, and nothing here draws.

pub mod calm;
pub mod clashes;
pub mod day;
pub mod findings;
pub mod for_aisle;
pub mod hands;
pub mod minutes;
mod needed;
pub mod on_hand;
pub mod outing;
pub mod progress;
pub mod readiness;
pub mod stand_in;
mod words;
pub mod work_limits;

pub use day::{Known, Live, day_file};
pub use minutes::Habits;
pub use outing::{Outing, outings};
