//! The command line, and what of it can not be. It starts nothing.

use std::path::PathBuf;

use anyhow::Context;
use bellmare_barn::board::Board;
use bellmare_barn::language::Language;
use clap::{Parser, ValueEnum};

use crate::app::{Settings, Up};
use crate::card::CardSide;
use crate::check::Sign;
use crate::glass::Night;
use crate::pages::round::Part;

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
    /// A badge reader that stands beside the kiosk, by its name at the hub: who taps there is greeted here. May be given again.
    #[arg(long, value_name = "NAME")]
    pub reader: Vec<String>,
    /// The language of the words until somebody who reads another one taps in: english or spanish.
    #[arg(long, value_name = "LANGUAGE", default_value = "english", value_parser = language)]
    pub language: Language,
    /// A badge reader that types, on its own device: /dev/input/by-id/... It is grabbed. One that types into the window needs
    /// nothing.
    #[arg(long, value_name = "DEVICE", conflicts_with = "drawn")]
    pub badge_reader: Option<PathBuf>,
    /// When the screen is dark, by the barn's local time: from an evening till a morning, never or always.
    #[arg(long, value_name = "HOURS", default_value = "21:00-6:00")]
    pub night: Night,
    /// Where touches that wait for the hub and the last board are kept over a restart. Where not said: what systemd gives,
    /// bellmare-kiosk in the user's folder for state, or /var/lib/bellmare-kiosk.
    #[arg(long, value_name = "FOLDER", conflicts_with = "drawn")]
    pub keep: Option<PathBuf>,
    /// Write where everything that can be touched stands into this file, a line each: x, y, width, height, label. For tests with
    /// real clicks.
    #[arg(long, value_name = "FILE", hide = true, conflicts_with = "drawn")]
    pub targets: Option<PathBuf>,
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
    #[arg(long, value_name = "ID", required_if_eq_any([("screen", "card"), ("screen", "steps"), ("screen", "check"), ("screen", "wrong"), ("screen", "water")]))]
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
    /// The steps of the job at hand and the handling of the horse of `--stall`.
    Steps,
    /// The first page on which the horse of `--stall` is checked.
    Check,
    /// What is wrong with the horse of `--stall`.
    Wrong,
    /// The water of the horse of `--stall`.
    Water,
    /// Who is in the barn.
    Shift,
    /// What the first who is here does next.
    Person,
    /// The chores.
    Chores,
    /// The filling round.
    Fill,
    /// The stalls to clean.
    Stalls,
    /// Questions for hay.
    Hay,
    /// The most pressing alarm.
    Alarm,
    /// Whose PIN.
    WhosePin,
    /// The digits of a PIN.
    Pin,
    /// The clock's digits.
    Clock,
    /// The heat of today.
    Heat,
}

impl Drawn {
    /// True where it is drawn of one stall.
    pub fn of_a_stall(self) -> bool {
        matches!(self, Drawn::Card | Drawn::Steps | Drawn::Check | Drawn::Wrong | Drawn::Water)
    }
}

impl Cli {
    /// What the kiosk is told of itself.
    pub fn settings(&self) -> Settings {
        let mut readers = self.reader.clone();
        readers.push(self.name.clone());
        Settings {
            panel_mm: self.panel_mm,
            distance_m: self.distance_m,
            aisle: self.aisle.clone(),
            night: self.night,
            readers,
            language: self.language,
        }
    }

    /// The screen to draw of a saved board.
    ///
    /// # Errors
    /// Where the board has nothing for it: says what it has.
    pub fn up(&self, board: &Board) -> anyhow::Result<Up> {
        let stall = self.stall.as_deref().unwrap_or_default();
        let view = board.stalls.iter().find(|view| view.id.as_str() == stall);
        if self.screen.of_a_stall() && view.is_none() {
            let known: Vec<&str> = board.stalls.iter().map(|view| view.id.as_str()).collect();
            anyhow::bail!("--stall {stall}: the board's stalls are {}", known.join(", "));
        }
        let staff = || Box::new(Up::Staff);
        Ok(match self.screen {
            Drawn::Aisle => Up::Aisle,
            Drawn::Card => Up::card(stall),
            Drawn::Steps => Up::Card { stall: stall.into(), side: CardSide::Steps },
            Drawn::Check => Up::Check { stall: stall.into(), sign: Sign::default() },
            Drawn::Wrong => {
                let horse = view.and_then(|view| view.horse.as_ref());
                let horse = horse.with_context(|| format!("--stall {stall}: no horse stands in it"))?;
                Up::Wrong { horse: horse.id.clone() }
            }
            Drawn::Water => Up::Water { stall: stall.into() },
            Drawn::Shift => Up::Shift,
            Drawn::Person => {
                let here = board.people.iter().find(|person| person.since.is_some());
                Up::Person { person: here.context("--screen person: nobody is here on this board")?.id.clone() }
            }
            Drawn::Chores => Up::Round { part: Part::Chores },
            Drawn::Fill => Up::Round { part: Part::Water },
            Drawn::Stalls => Up::Round { part: Part::Stalls },
            Drawn::Hay => Up::Round { part: Part::Hay },
            Drawn::Alarm => {
                Up::Alarm { alarm: board.alarms.first().context("--screen alarm: none stands on this board")?.id }
            }
            Drawn::WhosePin => Up::ChooseStaff { then: staff() },
            Drawn::Pin => {
                let person = board.people.iter().find(|person| person.staff);
                let person = person.context("--screen pin: nobody on this board is staff")?.id.clone();
                Up::Pin { person, then: staff() }
            }
            Drawn::Clock => Up::Clock,
            Drawn::Heat => Up::Heat,
        })
    }
}

fn language(text: &str) -> Result<Language, String> {
    match text {
        "english" | "en" => Ok(Language::English),
        "spanish" | "es" => Ok(Language::Spanish),
        _ => Err(format!("\"{text}\" is not a language of the kiosk: english or spanish")),
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
