//! The kiosk program: a window that follows the hub, or a picture with no display.

use std::io::Read;
use std::path::Path;
use std::process::ExitCode;

use anyhow::{Context, Result};
use bellmare_barn::board::Board;
use bellmare_barn::id::StallId;
use bellmare_kiosk::app::{Kiosk, Up};
use bellmare_kiosk::cli::{Cli, Drawn};
use bellmare_kiosk::people::Asked;
use bellmare_kiosk::picture::{Canvas, write_png};
use clap::Parser;

fn main() -> ExitCode {
    let cli = Cli::parse();
    let done = match (&cli.picture, &cli.board) {
        (Some(picture), Some(board)) => draw(&cli, picture, board),
        _ => Ok(()),
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("bellmare-kiosk: {error:#}");
            ExitCode::from(2)
        }
    }
}

fn draw(cli: &Cli, picture: &Path, board: &Path) -> Result<()> {
    let board = read_board(board)?;
    let canvas = Canvas::new(cli.size.0, cli.size.1)?;
    let kiosk = Kiosk::new(cli.settings(), Box::new(|_| true))?;
    slint::ComponentHandle::show(kiosk.app())?;
    kiosk.hear(board);
    for _ in 1..cli.page { kiosk.turn(); }
    if let Some(s) = cli.silent { kiosk.last_word(std::time::Duration::from_secs(s)); }
    match cli.screen {
        Drawn::Aisle => {}
        Drawn::Card => kiosk.open(Up::Card(StallId::from(cli.stall.as_deref().unwrap_or_default()))),
        Drawn::SignIn => kiosk.open(Up::People { asked: Asked::SignIn, page: cli.page as usize - 1 }),
    }
    write_png(&canvas.draw(), picture)
}

fn read_board(file: &Path) -> Result<Board> {
    let mut text = String::new();
    if file == Path::new("-") {
        std::io::stdin().read_to_string(&mut text).context("standard input: can not be read")?;
    } else {
        text = std::fs::read_to_string(file).with_context(|| format!("{}: can not be read", file.display()))?;
    }
    serde_json::from_str(&text).with_context(|| format!("{}: is not a board", file.display()))
}
