//! Draws the contact sheet of a saved board into a PNG: `tests/contact-sheet` builds and runs it.

use std::path::Path;

use anyhow::Context;
use bellmare_kiosk::contact::{draw, rows, screens, stack};
use bellmare_kiosk::picture::write_png;
use bellmare_kiosk::run::read_board;

/// Width of a picture on the sheet, in pixels.
const WIDTH: u32 = 320;

fn main() -> anyhow::Result<()> {
    let mut arguments = std::env::args().skip(1);
    let wanted = "what is wanted is: contact-sheet BOARD.json OUT.png";
    let (board, out) = (arguments.next().context(wanted)?, arguments.next().context(wanted)?);
    anyhow::ensure!(arguments.next().is_none(), wanted);
    let board = read_board(Path::new(&board))?;
    println!("from the left: {}", screens().join(", "));
    let mut pictures = Vec::new();
    for row in rows() {
        pictures.push(draw(row, &board, WIDTH)?);
        println!("row {}: {}", pictures.len(), row.name());
    }
    write_png(&stack(&pictures), Path::new(&out))
}
