//! Who is told of what needs a person, and when. Terms: an alarm is *told* to a person by a message, which the hub's shells
//! carry; it *climbs* while nobody takes it, from staff on shift to the equine professional to the manager; somebody *takes*
//! it by saying so at a kiosk or by following the link in a message. What can wait is told in the *digest* of the morning.
//!
//! - `case` is one alarm on its way up, `outlet` what waits for one receiver: several alarms of one moment are one message, and
//!   a receiver gets at most three in ten minutes.
//! - `who` says which step is whose, `words` how an alarm reads, `digest` what the morning brings.
//!
//! This folder knows persons by their ids, roles and whether they are here; it knows no address, no channel and no water.

pub mod digest;
pub mod message;
pub mod quiet;
pub mod who;
pub mod words;

mod case;
mod outlet;
mod teller;

pub use self::teller::{Teller, Times};
