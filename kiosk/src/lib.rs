//! The touchscreen in the aisle. It receives boards from the hub and nothing else, turns them into pictures, and sends
//! touches back. Everything that decides is pure and in plain Rust; the screens in `ui/` only draw.
//!
//! ```text
//! link -> Board -> aisle | card | check | people (pure: sizes, words, places) -> ui -> screens
//! link <- Touch <- app  <------------------------------------------- touches
//! ```

// Not `forbid`: the code that Slint generates for the screens allows itself some.
#![deny(unsafe_code)]

pub mod aisle;
pub mod app;
pub mod badge;
pub mod card;
pub mod check;
pub mod cli;
pub mod contact;
mod fonts;
pub mod glass;
pub mod link;
pub mod live;
pub mod pages;
pub mod picture;
pub mod run;
mod shapes;
pub mod sizes;
pub mod text;
pub mod ui;
pub mod words;
