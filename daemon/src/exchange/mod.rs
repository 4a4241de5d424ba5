//! The book of the barn as a folder of CSV files, in and out. A faulty book is refused whole, with everything that is
//! wrong with it; nothing here changes the barn.

mod absences;
mod buckets;
mod cells;
mod columns;
#[cfg(test)]
mod demo_data;
mod export;
mod faults;
mod reader;
#[cfg(test)]
mod refusals;
#[cfg(test)]
mod round_trip;
mod sheet;
#[cfg(test)]
mod small_barn;
mod steps;

use std::io::{self, Read as _};
use std::path::Path;

use bellmare_barn::book::Book;

pub use export::{ExportError, export_book};
pub use faults::{Fault, Faults, Found, report};

use columns::FILES;

/// What reading a book gave.
#[derive(Debug)]
pub struct Outcome {
    /// The book, or all that is wrong with it.
    pub book: Result<Book, Faults>,
    /// What is no fault and yet should be looked at, a sentence each: a file in an old encoding.
    pub remarks: Vec<String>,
}

/// Reads the book from a folder and logs the remarks.
///
/// # Errors
/// All faults of all files, where there is one.
pub fn read_book(dir: &Path) -> Result<Book, Faults> {
    let Outcome { book, remarks } = look_at_book(dir);
    for remark in remarks {
        tracing::warn!(folder = %dir.display(), "{remark}");
    }
    book
}

/// Reads the book from a folder, for whoever shows the remarks to a person.
pub fn look_at_book(dir: &Path) -> Outcome {
    if !dir.is_dir() {
        let mut faults = Faults::default();
        let names: Vec<&str> = FILES.iter().map(|file| file.name).collect();
        faults.file(dir.display().to_string(), "is not a folder", format!("a folder with {}", names.join(", ")));
        return Outcome { book: Err(faults), remarks: Vec::new() };
    }
    look_at_files(|name| {
        let mut bytes = Vec::new();
        // One byte over the limit is enough to know that it is too large.
        std::fs::File::open(dir.join(name))?.take(sheet::LARGEST_FILE_BYTES + 1).read_to_end(&mut bytes)?;
        Ok(bytes)
    })
}

/// Reads the book from files that `open` finds by name: `stalls.csv`, `horses.csv` and so on.
pub fn look_at_files(mut open: impl FnMut(&'static str) -> io::Result<Vec<u8>>) -> Outcome {
    let (mut faults, mut remarks) = (Faults::default(), Vec::new());
    let sheets = FILES.map(|file| {
        let bytes = match open(file.name) {
            Ok(bytes) if bytes.len() as u64 > sheet::LARGEST_FILE_BYTES => {
                let allowed = format!("up to {} MiB", sheet::LARGEST_FILE_BYTES >> 20);
                faults.file(file.name, "is too large", allowed);
                return None;
            }
            Ok(bytes) => bytes,
            Err(error) if error.kind() == io::ErrorKind::NotFound && file.may_be_missing => return None,
            Err(error) if error.kind() == io::ErrorKind::NotFound => {
                let allowed = format!("a file of that name with the headings {}", file.columns.join(", "));
                faults.file(file.name, "is missing", allowed);
                return None;
            }
            Err(error) => {
                faults.file(file.name, format!("can not be read ({error})"), "a file that the hub may read");
                return None;
            }
        };
        sheet::parse(file, &bytes, &mut faults, &mut remarks)
    });
    let book = reader::book(sheets, &mut faults);
    Outcome { book: if faults.is_empty() { Ok(book) } else { Err(faults) }, remarks }
}
