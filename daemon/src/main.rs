//! The command line of the hub.

#![forbid(unsafe_code)]

use std::io::{IsTerminal, Write as _};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::time::Duration;

use anyhow::{Context, anyhow, bail};
use bellmare_barn::book::Book;
use bellmare_barn::id::PersonId;
use bellmare_barn::units::{Celsius, Centimetres, RelativeHumidity};
use bellmare_hub::app::{self, Conduct, JOURNAL_FILE};
use bellmare_hub::broker::account_line;
use bellmare_hub::clock::Clock;
use bellmare_hub::demo;
use bellmare_hub::exchange;
use bellmare_hub::limits_page;
use bellmare_hub::messages::try_out::try_out;
use bellmare_hub::replay::{self, tell};
use bellmare_hub::settings::{EXIT_WRONG_SETTINGS, Log, LogLevel, LogTo, Settings, SettingsError};
use chrono::NaiveDate;
use clap::{Parser, Subcommand};
use tokio::signal::unix::{SignalKind, signal};
use tracing::level_filters::LevelFilter;
use tracing_subscriber::layer::SubscriberExt;
use tracing_subscriber::util::SubscriberInitExt;

mod alarms_list;
mod check_day;
mod heat_words;
mod load;
mod measure;
mod office;
mod plan_file;
mod set_pin;
mod water_table;

use check_day::DayOfBook;

/// The hub of a therapeutic riding barn: hears sensors and badges over MQTT, knows the lessons, and shows kiosks one live
/// picture of what must be done.
#[derive(Parser)]
#[command(name = "bellmare-hub", version)]
struct Cli {
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    /// Run the hub.
    Run {
        /// The settings, TOML. Variables like BELLMARE_WEB__LISTEN override it.
        #[arg(long, value_name = "FILE")]
        settings: Option<PathBuf>,
    },
    /// Print the settings in force, without secrets.
    Settings {
        /// The settings, TOML.
        #[arg(long, value_name = "FILE")]
        settings: Option<PathBuf>,
    },
    /// Check a folder of CSV files: prints every fault with its file, line and column. Changes nothing.
    Check {
        /// The folder.
        dir: PathBuf,
        /// Look at this day too, such as 2026-06-18: what would go wrong, a line each, and how many grooms it takes.
        #[arg(long, value_name = "DATE", value_parser = check_day::date)]
        day: Option<NaiveDate>,
        /// The settings whose limits and time zone hold for the day.
        #[arg(long, value_name = "FILE", requires = "day")]
        settings: Option<PathBuf>,
    },
    /// List every other horse for a ride, those that fit first, and why the others do not. The equine professional chooses.
    StandIns {
        /// The folder of CSV files.
        dir: PathBuf,
        /// The day of the ride, such as 2026-06-18.
        #[arg(long, value_name = "DATE", value_parser = check_day::date)]
        day: NaiveDate,
        /// The ride, by its name in rides.csv.
        #[arg(long)]
        ride: String,
        /// The settings whose limits and time zone hold for the day.
        #[arg(long, value_name = "FILE")]
        settings: Option<PathBuf>,
    },
    /// Check a folder of CSV files and make it the book of the barn, whole. With a fault the old book stays.
    Load {
        /// The folder.
        dir: PathBuf,
        /// The settings of the hub whose book it is.
        #[arg(long, value_name = "FILE")]
        settings: Option<PathBuf>,
    },
    /// Plan the day in a day file: who brushes, tacks up and puts away which horse when. Prints the plan file.
    Plan {
        /// The day file, JSON.
        day: PathBuf,
        /// How many steps to try; what a day of its size is worth unless told. The same effort gives the same plan.
        #[arg(long, value_name = "STEPS")]
        effort: Option<u64>,
    },
    /// Print how many litres are in a vessel of the book, level by level, and what its sensor reads then.
    WaterTable {
        /// The folder of CSV files.
        dir: PathBuf,
        /// The stall whose bucket it is, or the vessel's name in buckets.csv.
        #[arg(long, value_name = "NAME")]
        bucket: String,
        /// Millimetres from row to row, 1 to 1000.
        #[arg(long, default_value_t = 20, value_parser = clap::value_parser!(u32).range(1..=1000))]
        step: u32,
    },
    /// Every limit in force as a page in Markdown: what it means, and where it comes from.
    Limits {
        /// The settings, TOML.
        #[arg(long, value_name = "FILE")]
        settings: Option<PathBuf>,
        /// The folder of CSV files with the horses' own limits; that of the settings unless told.
        #[arg(long, value_name = "DIR")]
        book: Option<PathBuf>,
    },
    /// Play recorded readings again in simulated time, with any settings: prints what would have been said, and when.
    Replay {
        /// CSV with the headings time,topic,payload, each file in order of time; several are merged.
        #[arg(required = true, value_name = "FILE")]
        files: Vec<PathBuf>,
        /// The settings whose topics, limits and time zone hold.
        #[arg(long, value_name = "FILE")]
        settings: PathBuf,
        /// The folder of CSV files with the book; that of the settings unless told.
        #[arg(long, value_name = "DIR")]
        book: Option<PathBuf>,
        /// A JSON object a line.
        #[arg(long)]
        json: bool,
    },
    /// What a horse weighs by tape: heart girth and length, in centimetres or inches, by every rule and with the error.
    Tape {
        /// Around behind the elbow and over the highest point of the withers: 180cm, 71in.
        #[arg(value_parser = measure::length)]
        girth: Centimetres,
        /// From the point of the shoulder to the point of the buttock: 160cm, 63in.
        #[arg(value_parser = measure::length)]
        length: Centimetres,
        /// As JSON.
        #[arg(long)]
        json: bool,
    },
    /// A height in hands, inches and centimetres.
    Hands {
        /// In hands, or with a unit: 15.2, 62in, 157.5cm.
        height: String,
        /// As JSON.
        #[arg(long)]
        json: bool,
    },
    /// What differs of a horse's vital signs from its own at rest and from what is printed for adults. No diagnosis.
    Vitals(measure::VitalsArgs),
    /// Say what air means for horses and people: `heat 90F 65%` or `heat 32C 65%`. Prints every figure with its name and unit.
    Heat {
        /// Air temperature, such as 90F or 32C.
        #[arg(value_parser = heat_words::temperature, allow_hyphen_values = true)]
        air: Celsius,
        /// Relative humidity, such as 65%.
        #[arg(value_parser = heat_words::humidity, allow_hyphen_values = true)]
        humidity: RelativeHumidity,
        /// For machines.
        #[arg(long)]
        json: bool,
        /// The settings whose limits hold for the bands.
        #[arg(long, value_name = "FILE")]
        settings: Option<PathBuf>,
    },
    /// Send a test message to these people, or to everybody who has an address, and to the webhook. Prints what came of each.
    MessageTest {
        /// People by their names in people.csv and in messages.people; all of them unless told.
        people: Vec<String>,
        /// The settings.
        #[arg(long, value_name = "FILE")]
        settings: Option<PathBuf>,
    },
    /// What needs somebody now, and what did: who was told, who took it, how it ended. Works beside a hub that runs.
    Alarms {
        /// The settings of the hub.
        #[arg(long, value_name = "FILE")]
        settings: Option<PathBuf>,
        /// From this day on, such as 2026-06-18; the last week unless told.
        #[arg(long, value_name = "DATE", value_parser = check_day::date)]
        since: Option<NaiveDate>,
        /// As JSON.
        #[arg(long)]
        json: bool,
    },
    /// Make a line for mqtt.accounts_file: reads the password from standard input, prints the user and its hash.
    Account {
        /// The user.
        user: String,
    },
    /// Set the PIN with which somebody acts as staff at a kiosk: asks for it twice, or reads a line of standard input.
    Pin {
        /// Who, by their name in people.csv.
        person: String,
        /// Take the PIN away.
        #[arg(long)]
        clear: bool,
        /// The settings of the hub.
        #[arg(long, value_name = "FILE")]
        settings: Option<PathBuf>,
    },
    /// Run an invented barn: real broker, real hub, made-up horses, grooms and sensors.
    Demo {
        /// How many times as fast as a real day, 1 to 600.
        #[arg(long, default_value_t = 60, value_parser = clap::value_parser!(u32).range(1..=600))]
        speed: u32,
        /// End after so many seconds.
        #[arg(long = "for", value_name = "SECONDS")]
        seconds: Option<u64>,
        /// Settings and book of the invented barn.
        #[arg(long, value_name = "DIR", default_value = "demo-data")]
        barn: PathBuf,
        /// Where to keep its journal; a folder of its own for a moment unless told.
        #[arg(long, value_name = "DIR")]
        data: Option<PathBuf>,
    },
}

fn main() -> ExitCode {
    match run(Cli::parse().command) {
        Ok(()) => ExitCode::SUCCESS,
        Err(why) => {
            eprintln!("bellmare-hub: {why:#}");
            let wrong_settings = why.downcast_ref::<SettingsError>().is_some()
                || matches!(why.downcast_ref::<app::StartError>(), Some(app::StartError::Settings(_)));
            if wrong_settings { ExitCode::from(EXIT_WRONG_SETTINGS) } else { ExitCode::FAILURE }
        }
    }
}

fn run(command: Command) -> anyhow::Result<()> {
    match command {
        Command::Run { settings } => {
            let settings = load_settings(settings.as_deref())?;
            begin_log(settings.log)?;
            runtime()?.block_on(hub(&settings))
        }
        Command::Settings { settings } => {
            print!("{}", load_settings(settings.as_deref())?.print());
            Ok(())
        }
        Command::Check { dir, day: None, .. } => check(&dir),
        Command::Check { dir, day: Some(day), settings } => DayOfBook::read(&dir, day, perhaps(settings)?)?.check(),
        Command::StandIns { dir, day, ride, settings } => {
            DayOfBook::read(&dir, day, perhaps(settings)?)?.stand_ins(&ride)
        }
        Command::Load { dir, settings } => {
            let settings = load_settings(settings.as_deref())?;
            load::load(&dir, &settings, &settings.data.folder.join(JOURNAL_FILE))
        }
        Command::Plan { day, effort } => {
            println!("{}", plan_file::plan_file(&day, effort)?);
            Ok(())
        }
        Command::WaterTable { dir, bucket, step } => {
            print!("{}", water_table::water_table(&dir, &bucket, f64::from(step))?);
            Ok(())
        }
        Command::Limits { settings, book } => {
            let settings = load_settings(settings.as_deref())?;
            let book = book.or_else(|| settings.data.book.clone()).map(|dir| read_book(&dir)).transpose()?;
            print!("{}", limits_page::page(&settings, book.as_ref()));
            Ok(())
        }
        Command::Replay { files, settings, book, json } => {
            let settings = load_settings(Some(&settings))?;
            let book = book.or_else(|| settings.data.book.clone());
            play_again(&files, &settings, book.as_deref(), json)
        }
        Command::Tape { girth, length, json } => measure::tape(girth, length, json),
        Command::Hands { height, json } => measure::hands(&height, json),
        Command::Vitals(args) => measure::vitals(&args),
        Command::Heat { air, humidity, json, settings } => {
            let limits = perhaps(settings)?.map(|settings| settings.limits).unwrap_or_default();
            let words = heat_words::Words::of(air, humidity, &limits.heat);
            println!("{}", if json { words.json().to_string() } else { words.text() });
            Ok(())
        }
        Command::MessageTest { people, settings } => message_test(&load_settings(settings.as_deref())?, &people),
        Command::Alarms { settings, since, json } => {
            alarms_list::alarms(&load_settings(settings.as_deref())?, since, json)
        }
        Command::Account { user } => {
            let mut password = String::new();
            std::io::stdin().read_line(&mut password).context("reading the password")?;
            print!("{}", account_line(&user, password.trim_end_matches(['\r', '\n']))?);
            Ok(())
        }
        Command::Pin { person, clear, settings } => {
            let settings = load_settings(settings.as_deref())?;
            set_pin::set_pin(&person, clear, &settings)
        }
        Command::Demo { speed, seconds, barn, data } => {
            let (settings, _folder) = demo::settings(&barn, data)?;
            begin_log(settings.log)?;
            runtime()?.block_on(async {
                let demo = demo::start(&settings, speed).await?;
                println!("An invented barn runs {speed} times as fast as a real one: http://{}/board", demo.web());
                until_told_to_stop(seconds.map(Duration::from_secs)).await?;
                demo.stop().await;
                Ok(())
            })
        }
    }
}

fn load_settings(path: Option<&Path>) -> Result<Settings, SettingsError> {
    Settings::load(path, std::env::vars())
}

fn perhaps(path: Option<PathBuf>) -> Result<Option<Settings>, SettingsError> {
    path.map(|path| load_settings(Some(&path))).transpose()
}

fn runtime() -> anyhow::Result<tokio::runtime::Runtime> {
    // One thread: the work is small, and SQLite has its own.
    tokio::runtime::Builder::new_current_thread().enable_all().build().context("starting the runtime")
}

async fn hub(settings: &Settings) -> anyhow::Result<()> {
    let mut running =
        app::start(settings, |last| Clock::system_with(&settings.data.folder, last), Conduct::default()).await?;
    tokio::select! {
        told = until_told_to_stop(None) => told?,
        () = running.ended() => bail!("the hub's loop has ended by itself; the log says why"),
    }
    running.stop().await;
    Ok(())
}

/// Waits for SIGTERM, SIGINT, or the end of a time.
async fn until_told_to_stop(after: Option<Duration>) -> anyhow::Result<()> {
    let mut terminate = signal(SignalKind::terminate()).context("listening for SIGTERM")?;
    let mut interrupt = signal(SignalKind::interrupt()).context("listening for SIGINT")?;
    let time = async {
        match after {
            Some(after) => tokio::time::sleep(after).await,
            None => std::future::pending().await,
        }
    };
    tokio::select! {
        _ = terminate.recv() => tracing::info!("told to stop"),
        _ = interrupt.recv() => tracing::info!("told to stop"),
        () = time => {}
    }
    Ok(())
}

fn check(dir: &Path) -> anyhow::Result<()> {
    let outcome = exchange::look_at_book(dir);
    for remark in &outcome.remarks {
        println!("{remark}");
    }
    match outcome.book {
        Ok(book) => {
            println!(
                "{}: no fault. {} stalls, {} horses, {} pieces of tack, {} people, {} lessons, {} rides, {} chores, {} shifts, \
                 {} absences.",
                dir.display(),
                book.stalls.len(),
                book.horses.len(),
                book.tack.len(),
                book.people.len(),
                book.lessons.len(),
                book.rides.len(),
                book.chores.len(),
                book.shifts.len(),
                book.away.len()
            );
            Ok(())
        }
        Err(faults) => {
            println!("{}", exchange::report(&faults));
            bail!("the book in {} has faults", dir.display())
        }
    }
}

fn read_book(dir: &Path) -> anyhow::Result<Book> {
    exchange::read_book(dir).map_err(|faults| anyhow!("the book in {}\n{}", dir.display(), exchange::report(&faults)))
}

fn play_again(files: &[PathBuf], settings: &Settings, book: Option<&Path>, as_json: bool) -> anyhow::Result<()> {
    let book = match book {
        Some(dir) => read_book(dir)?,
        None => bail!("there is no book: allowed is --book DIR, or data.book in the settings"),
    };
    replay::check(files)?;
    let zone = settings.limits.zone;
    let mut out = std::io::BufWriter::new(std::io::stdout().lock());
    let summary = replay::replay(settings, book, files, |event| {
        if as_json {
            writeln!(out, "{}", tell::object(event, zone))
        } else {
            writeln!(out, "{}", tell::line(event, zone))
        }
    })?;
    if as_json {
        writeln!(out, "{}", tell::closing_object(&summary))?;
    } else {
        write!(out, "{}", tell::closing(&summary, zone))?;
    }
    out.flush().context("writing what was said")
}

fn message_test(settings: &Settings, people: &[String]) -> anyhow::Result<()> {
    let people: Vec<PersonId> = people.iter().map(|person| person.as_str().into()).collect();
    let tried = try_out(settings, &people, Clock::system(None).now()).map_err(app::StartError::Settings)?;
    if tried.is_empty() {
        bail!("nobody is to be reached: set messages.mail and messages.people, or messages.webhook");
    }
    for one in &tried {
        println!("{one}");
    }
    let failed = tried.iter().filter(|one| one.fault.is_some()).count();
    if failed > 0 {
        bail!("{failed} of {} test messages could not be sent", tried.len());
    }
    Ok(())
}

fn begin_log(log: Log) -> anyhow::Result<()> {
    let level = match log.level {
        LogLevel::Error => LevelFilter::ERROR,
        LogLevel::Warn => LevelFilter::WARN,
        LogLevel::Info => LevelFilter::INFO,
        LogLevel::Debug => LevelFilter::DEBUG,
        LogLevel::Trace => LevelFilter::TRACE,
    };
    let journald = match log.to {
        LogTo::Journald => true,
        LogTo::Stderr => false,
        LogTo::Auto => std::env::var_os("JOURNAL_STREAM").is_some(),
    };
    let lines = (!journald).then(|| {
        tracing_subscriber::fmt::layer().with_writer(std::io::stderr).with_ansi(std::io::stderr().is_terminal())
    });
    let journald = journald.then(tracing_journald::layer).transpose().context("logging to journald (log.to)")?;
    // The broker's own news are not the barn's.
    let filter = tracing_subscriber::filter::Targets::new().with_default(level).with_target("mqtt5", LevelFilter::WARN);
    tracing_subscriber::registry().with(filter).with(lines).with(journald).init();
    Ok(())
}
