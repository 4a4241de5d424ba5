//! The kiosk from a board to what a person sees and what a touch sends. One binary for all of it.

mod badges;
mod command;
mod contact;
mod fit;
mod glass;
mod grey;
mod kept;
mod link;
mod looks;
mod pictures;
mod rows;
mod samples;
mod sizes;
mod touches;
mod translations;
mod two_touches;
