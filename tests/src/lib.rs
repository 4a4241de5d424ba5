//! What the tests of whole programs share: the real programs started and ended, real clients, a disk that lies, waiting
//! with a deadline; a barn of made-up horses, buckets and sensors with the truth beside it. Nothing of the barn's own rules.

pub mod airports;
pub mod alarm_week;
pub mod board;
pub mod client;
pub mod dice;
pub mod hook;
pub mod hub;
pub mod hurried;
pub mod mail;
pub mod mosquitto;
pub mod power;
pub mod wait;
pub mod water_score;
pub mod water_world;
