//! The barn as a pure state machine: what happens arrives as an [`Input`](input::Input), what must be done about it
//! leaves as an [`Effect`](effect::Effect), and what people should see is derived as a [`Board`](board::Board).
//!
//! This crate reads no clock, opens no file or socket, spawns nothing and draws no random number. Time comes in with
//! every input as a [`Now`](time::Now). The same inputs give the same barn, to the byte.

#![forbid(unsafe_code)]

pub mod alarm;
pub mod barn;
pub mod board;
pub mod book;
pub mod care;
pub mod chores;
pub mod climate;
pub mod done;
pub mod doubt;
pub mod effect;
pub mod frost;
pub mod hands;
pub mod hay;
pub mod heat;
pub mod id;
pub mod input;
pub mod language;
pub mod limits;
pub mod pins;
pub mod plan;
pub mod prep;
pub mod refusal;
pub mod sensor;
pub mod shift;
pub mod steps;
pub mod tell;
pub mod time;
pub mod timers;
pub mod touches;
pub mod units;
pub mod water;
pub mod work;

mod pairs;
