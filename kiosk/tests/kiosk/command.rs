//! The program itself: pictures with no display, and what it says of wrong arguments.

use std::process::{Command, Output, Stdio};

use crate::samples;

fn kiosk(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_bellmare-kiosk"))
        .args(arguments)
        .stdin(Stdio::null())
        .env_remove("DISPLAY")
        .env_remove("WAYLAND_DISPLAY")
        .output()
        .expect("the kiosk runs")
}

fn refused(arguments: &[&str], says: &str) {
    let output = kiosk(arguments);
    let said = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{arguments:?}: {said}");
    assert!(said.contains(says), "{arguments:?}: {said}");
}

#[test]
fn a_saved_board_becomes_a_picture_of_the_size_asked_for() {
    let folder = Folder::new("size");
    let picture = folder.file("aisle.png");
    let board = samples::file("four");
    let board = board.to_str().expect("a name");
    let output = kiosk(&["--picture", &picture, "--board", board, "--size", "800x480"]);
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let file = std::fs::File::open(&picture).expect("a picture");
    let info = png::Decoder::new(std::io::BufReader::new(file)).read_info().expect("a PNG").info().clone();
    assert_eq!((info.width, info.height), (800, 480));
}

#[test]
fn wrong_arguments_say_what_is_allowed() {
    let board = samples::file("four");
    let board = board.to_str().expect("a name");
    refused(&["--panel-mm", "476"], "width and a height like 476x268");
    refused(&["--panel-mm", "5x268"], "20 to 5000 millimetres");
    refused(&["--language", "latin"], "english or spanish");
    refused(&["--night", "21-6"], "21:00-6:00, never or always");
    refused(&["--distance-m", "99"], "0.3 to 10 metres");
    refused(&["--picture", "a.png"], "--picture needs a board");
    refused(&["--picture", "a.png", "--board", board, "--size", "9x9"], "320 to 7680 pixels");
    refused(&["--picture", "a.png", "--board", board, "--screen", "card"], "--stall");
    refused(&["--picture", "a.png", "--board", board, "--screen", "card", "--stall", "99"], "stalls are 1, 2, 3, 4");
    refused(&["--board", board], "--picture");
}

#[test]
fn a_file_that_is_no_board_is_named() {
    let folder = Folder::new("wrong");
    let file = folder.file("wrong.json");
    std::fs::write(&file, "{\"version\": 1}").expect("written");
    refused(&["--picture", "a.png", "--board", &file], "wrong.json: is not a board: missing field");
    refused(&["--picture", "a.png", "--board", "nowhere.json"], "nowhere.json: can not be read");
    let newer = std::fs::read_to_string(samples::file("four")).expect("a sample");
    std::fs::write(&file, newer.replacen("\"version\": 1", "\"version\": 9", 1)).expect("written");
    refused(&["--picture", "a.png", "--board", &file], "is a board of version 9");
}

/// A folder that goes away with its test.
pub struct Folder(std::path::PathBuf);

impl Folder {
    /// A folder of that name for this process.
    pub fn new(name: &str) -> Self {
        let path = std::env::temp_dir().join(format!("bellmare-kiosk-{}-{name}", std::process::id()));
        std::fs::create_dir_all(&path).expect("a folder");
        Self(path)
    }

    /// A file in it.
    pub fn file(&self, name: &str) -> String {
        self.0.join(name).to_str().expect("a name").to_owned()
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _gone = std::fs::remove_dir_all(&self.0);
    }
}
