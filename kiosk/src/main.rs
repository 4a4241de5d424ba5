//! The kiosk program: a window that follows the hub, or a picture with no display.

use std::process::ExitCode;

use bellmare_kiosk::cli::Cli;
use bellmare_kiosk::run;
use clap::Parser;

fn main() -> ExitCode {
    let cli = Cli::parse();
    match run::run(&cli) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("bellmare-kiosk: {error}");
            ExitCode::from(error.code())
        }
    }
}
