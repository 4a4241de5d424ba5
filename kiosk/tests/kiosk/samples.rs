//! The saved boards of an invented barn.

use std::path::PathBuf;

use bellmare_barn::board::Board;
use bellmare_kiosk::run::read_board;

/// Every saved board.
pub const ALL: [&str; 6] = ["morning", "trouble", "quiet", "four", "sixty", "whole"];

/// Where a saved board is.
pub fn file(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("samples").join(format!("{name}.json"))
}

/// A saved board.
pub fn board(name: &str) -> Board {
    read_board(&file(name)).expect("a sample is a board")
}
