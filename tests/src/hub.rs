//! The real hub, as a process of its own, with a barn of the tests'.

use std::fmt::Write as _;
use std::fs;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, ExitStatus, Stdio};
use std::sync::OnceLock;
use std::time::{Duration, Instant};

use tempfile::TempDir;

use crate::wait::{free_port, until};

/// Which broker a hub of the tests uses.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Broker {
    /// Its own.
    Embedded,
    /// One on this port of loopback.
    At(u16),
}

/// A hub, its folder and its settings.
pub struct Hub {
    folder: TempDir,
    program: Option<(PathBuf, Vec<String>)>,
    process: Option<Child>,
    /// The port of its pages.
    pub web: u16,
    /// The port of the broker.
    pub mqtt: u16,
}

impl Hub {
    /// A hub with a barn of `stalls` stalls. `more` is added to its settings.
    pub fn new(stalls: u32, broker: Broker, more: &str) -> Self {
        let folder = tempfile::tempdir().expect("a folder for the hub");
        let web = free_port();
        let (mqtt, words) = match broker {
            Broker::Embedded => {
                let port = free_port();
                (port, format!("broker = \"embedded\"\nlisten = \"127.0.0.1:{port}\""))
            }
            Broker::At(port) => (port, format!("broker = \"external\"\nhost = \"127.0.0.1\"\nport = {port}")),
        };
        write_book(&folder.path().join("book"), stalls);
        let settings = format!(
            r#"[barn]
name = "Larkspur Hollow"
time_zone = "America/New_York"
units = "us"
[data]
folder = "data"
book = "book"
[mqtt]
{words}
[web]
listen = "127.0.0.1:{web}"
{more}
{TOPICS}"#
        );
        fs::write(folder.path().join("hub.toml"), settings).expect("settings written");
        Self { folder, program: None, process: None, web, mqtt }
    }

    /// Has it run by another program, which gets these arguments and the path of the settings.
    #[must_use]
    pub fn run_by(mut self, program: PathBuf, arguments: Vec<String>) -> Self {
        self.program = Some((program, arguments));
        self
    }

    /// Rewrites its settings.
    pub fn change_settings(&self, change: impl FnOnce(&str) -> String) {
        let text = fs::read_to_string(self.settings()).expect("settings read");
        fs::write(self.settings(), change(&text)).expect("settings written");
    }

    /// Starts it and waits until it answers.
    pub fn start(&mut self) -> &mut Self {
        self.start_with_key("")
    }

    /// Starts it and does not wait.
    pub fn start_unwatched(&mut self) -> &mut Self {
        let log = fs::OpenOptions::new().create(true).append(true).open(self.log_file()).expect("a log");
        let (program, arguments) = self
            .program
            .clone()
            .unwrap_or_else(|| (program().to_owned(), vec!["run".to_owned(), "--settings".to_owned()]));
        let mut command = Command::new(program);
        // Meant for another hub; this one would take them for settings.
        for (name, _) in std::env::vars_os().filter(|(name, _)| name.as_encoded_bytes().starts_with(b"BELLMARE_")) {
            command.env_remove(name);
        }
        let process =
            command.args(arguments).arg(self.settings()).stderr(Stdio::from(log)).spawn().expect("the hub starts");
        self.process = Some(process);
        self
    }

    /// Starts it and waits until it answers to who has this key.
    pub fn start_with_key(&mut self, key: &str) -> &mut Self {
        self.start_unwatched();
        let url = self.url("/board");
        until("the hub answers", Duration::from_secs(15), || {
            if let Some(ended) = self.process.as_mut().and_then(|process| process.try_wait().ok().flatten()) {
                panic!("the hub ended with {ended}:\n{}", self.log());
            }
            let request = ureq::get(&url).header("Authorization", format!("Bearer {key}"));
            request.call().map(drop).map_err(|why| format!("{why}\n{}", self.log()))
        });
        self
    }

    /// Kills it at once, as a power cut would.
    pub fn kill(&mut self) {
        if let Some(mut process) = self.process.take() {
            process.kill().expect("killed");
            process.wait().expect("gone");
        }
    }

    /// Asks it to end, and says how it did and how long it took.
    pub fn terminate(&mut self) -> (ExitStatus, Duration) {
        let mut process = self.process.take().expect("it runs");
        let began = Instant::now();
        let asked = Command::new("kill").args(["-TERM", &process.id().to_string()]).status().expect("kill runs");
        assert!(asked.success());
        let status = until("the hub ends", Duration::from_secs(10), || {
            process.try_wait().map_err(|why| why.to_string())?.ok_or_else(|| "it still runs".to_owned())
        });
        (status, began.elapsed())
    }

    /// Its process id.
    pub fn pid(&self) -> u32 {
        self.process.as_ref().expect("it runs").id()
    }

    /// The address of one of its pages.
    pub fn url(&self, path: &str) -> String {
        format!("http://127.0.0.1:{}{path}", self.web)
    }

    /// Its journal.
    pub fn journal(&self) -> PathBuf {
        self.folder.path().join("data/journal.db")
    }

    /// Its settings.
    pub fn settings(&self) -> PathBuf {
        self.folder.path().join("hub.toml")
    }

    /// Its folder.
    pub fn folder(&self) -> &Path {
        self.folder.path()
    }

    /// What it has logged.
    pub fn log(&self) -> String {
        let mut text = String::new();
        if let Ok(mut file) = fs::File::open(self.log_file()) {
            file.read_to_string(&mut text).expect("a log of text");
        }
        text
    }

    fn log_file(&self) -> PathBuf {
        self.folder.path().join("hub.log")
    }
}

impl Drop for Hub {
    fn drop(&mut self) {
        if std::thread::panicking() {
            eprintln!("--- the hub's log ---\n{}", self.log());
        }
        if let Some(mut process) = self.process.take() {
            // It may have ended by itself.
            let _ = process.kill();
            let _ = process.wait();
        }
    }
}

/// The hub's program: the one that `HUB_PROGRAM` names, or one built as these tests are.
pub fn program() -> &'static Path {
    static PROGRAM: OnceLock<PathBuf> = OnceLock::new();
    PROGRAM.get_or_init(|| std::env::var_os("HUB_PROGRAM").map_or_else(build, PathBuf::from))
}

fn build() -> PathBuf {
    let this = std::env::current_exe().expect("this test is a file");
    // target/PROFILE/deps/it-0123 for a test, target/PROFILE/bench for a program.
    let folder = this.parent().expect("in a folder");
    let folder = if folder.ends_with("deps") { folder.parent().expect("in target") } else { folder };
    let profile = match folder.file_name().and_then(|name| name.to_str()) {
        Some("debug") | None => "dev",
        Some(other) => other,
    };
    let mut cargo = Command::new(std::env::var("CARGO").unwrap_or_else(|_| "cargo".to_owned()));
    // What cargo tells this test of its own crate would make build scripts of others run again, at every turn.
    for (name, _) in std::env::vars().filter(|(name, _)| name.starts_with("CARGO_")) {
        if name != "CARGO_HOME" && name != "CARGO_TARGET_DIR" {
            cargo.env_remove(name);
        }
    }
    let built = cargo
        .args(["build", "--quiet", "-p", "bellmare-hub", "--profile", profile])
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .status()
        .expect("cargo runs");
    assert!(built.success(), "the hub must build");
    folder.join("bellmare-hub")
}

/// Where sensors of the tests publish.
const TOPICS: &str = r#"
[[topics]]
topic = "barn/stall/+/water"
binds = "stall"
format = "number"
quantity = "level"
unit = "mm"
[[topics]]
topic = "barn/stall/+/water/state"
binds = "stall"
format = "presence"
of = "water"
[[topics]]
topic = "barn/stall/+/pack"
binds = "stall"
format = "senml"
names = { level = "level" }
[[topics]]
topic = "barn/place/+/climate"
binds = "place"
format = "json"
fields = [
  { pointer = "/t", quantity = "temperature", unit = "C" },
  { pointer = "/rh", quantity = "humidity", unit = "%" },
]
[[topics]]
topic = "barn/badge/+"
binds = "reader"
format = "tap"
"#;

/// A book of so many stalls with a bucket of 300 mm whose sensor reads its height, a horse in each, Ana and Lena.
pub fn write_book(folder: &Path, stalls: u32) {
    fs::create_dir_all(folder).expect("a folder for the book");
    let write = |name: &str, text: &str| fs::write(folder.join(name), text).expect("a page of the book");
    let mut stall_rows =
        String::from("stall,aisle,side,bucket_bottom_mm,bucket_top_mm,bucket_height_mm,sensor_looks,sensor_empty_mm\n");
    let mut horse_rows = String::from("horse,name,stall,grade,brush_min,tack_min,put_away_min,notes\n");
    for n in 1..=stalls {
        let side = if n % 2 == 1 { "left" } else { "right" };
        writeln!(stall_rows, "{n},main,{side},280,280,300,up,0").expect("text grows");
        writeln!(horse_rows, "h{n},Horse {n},{n},1,15,10,15,").expect("text grows");
    }
    write("stalls.csv", &stall_rows);
    write("horses.csv", &horse_rows);
    write("tack.csv", "tack,kind,name,size,place\ns1,saddle,saddle 1,17 inch,rack 1\n");
    write("fits.csv", "horse,use,order,tack,note\nh1,lesson,1,s1,\n");
    write("people.csv", "person,name,role,badge,grade\nana,Ana,groom,A1,2\nlena,Lena,staff,B2,3\n");
    write(
        "lessons.csv",
        "lesson,days,start,minutes,instructor,place\nl1,Mon Tue Wed Thu Fri Sat Sun,10:00,45,lena,arena\n",
    );
    write("rides.csv", "ride,lesson,horse,use,left_stirrup,right_stirrup\nr1,l1,h1,lesson,9,11\n");
    write("chores.csv", "chore,name,place,days,by\nscrub,Scrub the buckets,aisle,daily,17:00\n");
    write("shifts.csv", "person,days,from,to\nana,daily,8:00,18:00\n");
    write("away.csv", "horse,days,from,to,why\n");
}
