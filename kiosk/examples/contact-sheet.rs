//! Draws the contact sheet of a saved board into a PNG: `tests/contact-sheet` builds and runs it.

use std::path::Path;

use anyhow::Context;
use bellmare_kiosk::contact::{draw, grey, rows, screens, stack};
use bellmare_kiosk::picture::write_png;
use bellmare_kiosk::run::read_board;

/// Width of a picture on the sheet, in pixels.
const WIDTH: u32 = 320;

fn main() -> anyhow::Result<()> {
    let mut arguments = std::env::args().skip(1);
    let wanted = "what is wanted is: contact-sheet BOARD.json OUT.png [--grey]";
    let (board, out) = (arguments.next().context(wanted)?, arguments.next().context(wanted)?);
    let in_grey = arguments.next();
    anyhow::ensure!(in_grey.as_deref().is_none_or(|word| word == "--grey") && arguments.next().is_none(), wanted);
    let board = read_board(Path::new(&board))?;
    println!("from the left: {}", screens().join(", "));
    let mut pictures = Vec::new();
    for row in rows() {
        let drawn = draw(row, &board, WIDTH)?;
        pictures.push(if in_grey.is_some() { grey(&drawn) } else { drawn });
        println!("row {}: {}", pictures.len(), row.name());
    }
    write_png(&stack(&pictures), Path::new(&out))
}
