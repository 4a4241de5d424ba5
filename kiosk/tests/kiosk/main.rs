//! The kiosk from a board to what a person sees and what a touch sends. One binary for all of it.

mod command;
mod fit;
mod link;
mod pictures;
mod rows;
mod samples;
mod sizes;
mod touches;
