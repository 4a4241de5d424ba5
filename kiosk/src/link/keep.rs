//! What a kiosk keeps on disk: touches that wait for the hub, a file each, and the last board. A file is whole or it is not
//! there: it is written beside, brought to the disk, and renamed. What can not be read is set aside under another name and told.
//! It knows no touch and no board but as JSON.
//!
//! ```text
//! FOLDER/lock               held while a kiosk uses the folder
//! FOLDER/touch-000042.json  a touch; the number keeps their order
//! FOLDER/board.json         the last board
//! FOLDER/*.damaged          what could not be read
//! ```

use std::fs::{self, File, TryLockError};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use serde::Serialize;
use serde::de::DeserializeOwned;

/// The folder of one kiosk.
#[derive(Debug)]
pub struct Folder {
    path: PathBuf,
    /// Let go when the folder is closed, or the program is gone however that came about.
    _lock: File,
}

/// What stood in the folder.
#[derive(Debug)]
pub struct Found<T> {
    /// What could be read, in order, each with its number.
    pub whole: Vec<(u64, T)>,
    /// What could not, and what became of it.
    pub damaged: Vec<String>,
}

const BOARD: &str = "board.json";

impl Folder {
    /// Opens the folder, which is made where it is not there. One kiosk at a time has it.
    ///
    /// # Errors
    /// Where it can not be made or written, or another kiosk has it: says which.
    pub fn open(path: &Path) -> io::Result<Self> {
        fs::create_dir_all(path)?;
        let lock = File::options().create(true).truncate(false).write(true).open(path.join("lock"))?;
        match lock.try_lock() {
            Ok(()) => Ok(Self { path: path.to_owned(), _lock: lock }),
            Err(TryLockError::WouldBlock) => Err(io::Error::other("another kiosk keeps its touches there")),
            Err(TryLockError::Error(error)) => Err(error),
        }
    }

    /// Keeps a touch under its number; when this returns it is on the disk.
    ///
    /// # Errors
    /// Where it can not be written.
    pub fn keep<T: Serialize>(&self, number: u64, touch: &T) -> io::Result<()> {
        self.write(&file_of(number), touch)
    }

    /// A touch needs to be kept no longer.
    ///
    /// # Errors
    /// Where its file can not be removed. One that is not there is no error.
    pub fn forget(&self, number: u64) -> io::Result<()> {
        match fs::remove_file(self.path.join(file_of(number))) {
            Err(error) if error.kind() != io::ErrorKind::NotFound => Err(error),
            // Not brought to the disk at once: it is sent once more at worst, under the same id.
            _ => Ok(()),
        }
    }

    /// The touches that are kept.
    ///
    /// # Errors
    /// Where the folder can not be read.
    pub fn touches<T: DeserializeOwned>(&self) -> io::Result<Found<T>> {
        let mut numbers: Vec<u64> = Vec::new();
        for entry in fs::read_dir(&self.path)? {
            numbers.extend(entry?.file_name().to_str().and_then(number_of));
        }
        numbers.sort_unstable();
        let mut found = Found { whole: Vec::new(), damaged: Vec::new() };
        for number in numbers {
            match self.read(&file_of(number)) {
                Ok(touch) => found.whole.extend(touch.map(|touch| (number, touch))),
                Err(told) => found.damaged.push(told),
            }
        }
        Ok(found)
    }

    /// Keeps the last board.
    ///
    /// # Errors
    /// Where it can not be written.
    pub fn keep_board<T: Serialize>(&self, board: &T) -> io::Result<()> {
        self.write(BOARD, board)
    }

    /// The board that was kept; none where none was.
    ///
    /// # Errors
    /// Says what became of one that can not be read.
    pub fn board<T: DeserializeOwned>(&self) -> Result<Option<T>, String> {
        self.read(BOARD)
    }

    fn write<T: Serialize>(&self, name: &str, what: &T) -> io::Result<()> {
        let bytes = serde_json::to_vec(what)?;
        let beside = self.path.join(format!("{name}.part"));
        let mut file = File::create(&beside)?;
        file.write_all(&bytes)?;
        file.sync_all()?;
        fs::rename(&beside, self.path.join(name))?;
        // The name is on the disk only when its folder is.
        File::open(&self.path)?.sync_all()
    }

    fn read<T: DeserializeOwned>(&self, name: &str) -> Result<Option<T>, String> {
        let file = self.path.join(name);
        let why = match fs::read(&file) {
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(None),
            Err(error) => return Err(format!("{}: can not be read: {error}", file.display())),
            Ok(bytes) => match serde_json::from_slice(&bytes) {
                Ok(read) => return Ok(Some(read)),
                Err(error) => error,
            },
        };
        let aside = self.path.join(format!("{name}.damaged"));
        let became = match fs::rename(&file, &aside) {
            Ok(()) => format!("set aside as {}", aside.display()),
            Err(error) => format!("can not be set aside: {error}"),
        };
        Err(format!("{}: {why}; {became}", file.display()))
    }
}

/// Where a kiosk keeps its things if nobody says: what systemd gave it, the user's folder for state, or that of a board.
pub fn usual_folder(variable: impl Fn(&str) -> Option<String>) -> PathBuf {
    let set = |name: &str| variable(name).filter(|value| Path::new(value).is_absolute());
    // Systemd may name several, with colons between.
    let given = set("STATE_DIRECTORY").map(|folders| PathBuf::from(folders.split(':').next().unwrap_or_default()));
    let state = || set("XDG_STATE_HOME").map(PathBuf::from);
    let home = || set("HOME").filter(|home| home != "/").map(|home| Path::new(&home).join(".local/state"));
    given
        .or_else(|| state().or_else(home).map(|state| state.join("bellmare-kiosk")))
        .unwrap_or_else(|| PathBuf::from("/var/lib/bellmare-kiosk"))
}

fn file_of(number: u64) -> String {
    format!("touch-{number:06}.json")
}

fn number_of(name: &str) -> Option<u64> {
    name.strip_prefix("touch-")?.strip_suffix(".json")?.parse().ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A folder that goes away with its test.
    fn folder() -> (tempfile::TempDir, Folder) {
        let place = tempfile::tempdir().expect("a folder");
        let folder = Folder::open(&place.path().join("kiosk")).expect("opened");
        (place, folder)
    }

    #[test]
    fn what_is_kept_is_there_again_in_order_until_it_is_forgotten() {
        let (place, folder) = folder();
        for number in [2, 1_000_000, 10] {
            folder.keep(number, &format!("touch {number}")).expect("kept");
        }
        folder.forget(10).expect("forgotten");
        folder.forget(10).expect("twice is no harm");
        drop(folder);
        let again = Folder::open(&place.path().join("kiosk")).expect("opened again");
        let found: Found<String> = again.touches().expect("read");
        assert_eq!(found.whole, [(2, "touch 2".to_owned()), (1_000_000, "touch 1000000".to_owned())]);
        assert!(found.damaged.is_empty(), "{:?}", found.damaged);
    }

    #[test]
    fn a_damaged_file_is_set_aside_and_told_and_the_others_are_read() {
        let (place, folder) = folder();
        for number in 1..=3 {
            folder.keep(number, &number).expect("kept");
        }
        let file = place.path().join("kiosk/touch-000002.json");
        fs::write(&file, "").expect("damaged");
        // A file that was being written when the power went.
        fs::write(place.path().join("kiosk/touch-000004.json.part"), "4").expect("written");
        let found: Found<u64> = folder.touches().expect("read");
        assert_eq!(found.whole, [(1, 1), (3, 3)]);
        assert_eq!(found.damaged.len(), 1);
        assert!(found.damaged[0].contains("touch-000002.json: EOF while parsing"), "{:?}", found.damaged);
        assert!(found.damaged[0].ends_with("touch-000002.json.damaged"), "{:?}", found.damaged);
        assert!(!file.exists());
        assert!(file.with_extension("json.damaged").exists());
    }

    #[test]
    fn the_last_board_is_kept() {
        let (_place, folder) = folder();
        assert_eq!(folder.board::<u64>(), Ok(None));
        for board in [7, 8] {
            folder.keep_board(&board).expect("kept");
        }
        assert_eq!(folder.board::<u64>(), Ok(Some(8)));
        assert!(folder.board::<String>().expect_err("it is no text").contains("set aside"));
        assert_eq!(folder.board::<u64>(), Ok(None));
    }

    #[test]
    fn two_kiosks_do_not_share_a_folder() {
        let (place, _folder) = folder();
        let refused = Folder::open(&place.path().join("kiosk")).expect_err("it is taken");
        assert!(refused.to_string().contains("another kiosk"), "{refused}");
    }

    #[test]
    fn the_usual_folder_is_where_the_system_keeps_state() {
        let among = |set: &'static [(&str, &str)]| {
            let variable =
                move |name: &str| set.iter().find(|(key, _)| *key == name).map(|(_, value)| (*value).to_owned());
            usual_folder(variable).display().to_string()
        };
        assert_eq!(among(&[]), "/var/lib/bellmare-kiosk");
        assert_eq!(among(&[("HOME", "/")]), "/var/lib/bellmare-kiosk");
        assert_eq!(among(&[("HOME", "/home/ana")]), "/home/ana/.local/state/bellmare-kiosk");
        assert_eq!(among(&[("HOME", "/home/ana"), ("XDG_STATE_HOME", "/state")]), "/state/bellmare-kiosk");
        assert_eq!(among(&[("XDG_STATE_HOME", "not absolute")]), "/var/lib/bellmare-kiosk");
        assert_eq!(among(&[("STATE_DIRECTORY", "/var/lib/a:/var/lib/b"), ("HOME", "/home/ana")]), "/var/lib/a");
    }
}
