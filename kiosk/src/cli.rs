//! The command line, and what of it can not be. It starts nothing.

use std::path::PathBuf;

use clap::{Parser, ValueEnum};

use crate::app::Settings;

/// The touchscreen in the aisle.
#[derive(Parser, Clone, PartialEq, Debug)]
#[command(name = "bellmare-kiosk", version, about)]
pub struct Cli {
    /// Where the hub is.
    #[arg(long, value_name = "URL", default_value = "http://127.0.0.1:8470")]
    pub hub: String,
    /// The kiosk's key at the hub, where the hub asks for one.
    #[arg(long, value_name = "KEY", env = "BELLMARE_KIOSK_KEY", hide_env_values = true)]
    pub key: Option<String>,
    /// What this kiosk is called in the hub's records.
    #[arg(long, value_name = "NAME", default_value = "kiosk")]
    pub name: String,
    /// Width and height of the picture in millimetres, as measured on the glass: 476x268.
    #[arg(long, value_name = "WxH", value_parser = pair)]
    pub panel_mm: Option<(f32, f32)>,
    /// From how far the aisle picture is read, in metres: 0.3 to 10. Six times the diagonal and 3 at most where not said.
    #[arg(long, value_name = "METRES", value_parser = metres)]
    pub distance_m: Option<f32>,
    /// The aisle to show; all of them in turn where none is named.
    #[arg(long, value_name = "NAME")]
    pub aisle: Option<String>,
    /// Take the whole display.
    #[arg(long)]
    pub fullscreen: bool,
    /// Draw into a PNG file, with no display.
    #[arg(long, value_name = "FILE", group = "drawn")]
    pub picture: Option<PathBuf>,
    /// Draw this saved board, as JSON; - reads it from standard input.
    #[arg(long, value_name = "FILE", requires = "drawn", conflicts_with = "every")]
    pub board: Option<PathBuf>,
    /// How large the picture is in pixels.
    #[arg(long, value_name = "WxH", default_value = "1920x1080", value_parser = pixels, requires = "drawn")]
    pub size: (u32, u32),
    /// Which screen to draw.
    #[arg(long, value_enum, default_value_t = Drawn::Aisle, requires = "drawn")]
    pub screen: Drawn,
    /// Whose card to draw.
    #[arg(long, value_name = "ID", required_if_eq_any([("screen", "card"), ("screen", "check")]))]
    pub stall: Option<String>,
    /// Which page of the aisle to draw, from 1.
    #[arg(long, value_name = "N", default_value_t = 1, value_parser = clap::value_parser!(u32).range(1..=1000))]
    pub page: u32,
    /// Draw as if the hub had been silent for so many seconds.
    #[arg(long, value_name = "SECONDS")]
    pub silent: Option<u64>,
    /// Follow the hub and draw the aisle anew every so many seconds.
    #[arg(long, value_name = "SECONDS", requires = "drawn", value_parser = clap::value_parser!(u64).range(1..=86_400))]
    pub every: Option<u64>,
    /// Stop after so many seconds.
    #[arg(long = "for", value_name = "SECONDS", requires = "every")]
    pub for_s: Option<u64>,
}

/// A screen that can be drawn.
#[derive(Clone, Copy, PartialEq, Eq, Debug, ValueEnum)]
pub enum Drawn {
    /// The aisle picture.
    Aisle,
    /// The card of `--stall`.
    Card,
    /// The first page on which the horse of `--stall` is checked.
    Check,
    /// The names.
    SignIn,
}

impl Cli {
    /// What the kiosk is told of itself.
    pub fn settings(&self) -> Settings {
        Settings { panel_mm: self.panel_mm, distance_m: self.distance_m, aisle: self.aisle.clone() }
    }
}

fn pair(text: &str) -> Result<(f32, f32), String> {
    let wrong = || format!("\"{text}\" is not a width and a height like 476x268");
    let (width, height) = text.split_once('x').ok_or_else(wrong)?;
    let (width, height): (f32, f32) = (width.parse().map_err(|_| wrong())?, height.parse().map_err(|_| wrong())?);
    let allowed = 20.0..=5000.0;
    if allowed.contains(&width) && allowed.contains(&height) {
        Ok((width, height))
    } else {
        Err(format!("\"{text}\": each side is 20 to 5000 millimetres"))
    }
}

fn pixels(text: &str) -> Result<(u32, u32), String> {
    let wrong = || format!("\"{text}\" is not a width and a height like 1280x800");
    let (width, height) = text.split_once('x').ok_or_else(wrong)?;
    let (width, height): (u32, u32) = (width.parse().map_err(|_| wrong())?, height.parse().map_err(|_| wrong())?);
    let allowed = 320..=7680;
    if allowed.contains(&width) && allowed.contains(&height) {
        Ok((width, height))
    } else {
        Err(format!("\"{text}\": each side is 320 to 7680 pixels"))
    }
}

fn metres(text: &str) -> Result<f32, String> {
    let distance: f32 = text.parse().map_err(|_| format!("\"{text}\" is not a number of metres"))?;
    if (0.3..=10.0).contains(&distance) { Ok(distance) } else { Err(format!("\"{text}\": 0.3 to 10 metres")) }
}
