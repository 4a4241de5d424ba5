//! What is wrong with a book, said so that a person at a spreadsheet finds the cell: file, line, column, what stands
//! there, what is allowed. Knows nothing of how a file is read.

use std::fmt;

/// One fault in the book's files.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Fault {
    /// The file's name; the folder's where that is what is wrong.
    pub file: String,
    /// The physical line where the row starts, from 1; none where the whole file is meant.
    pub line: Option<usize>,
    /// The column's name; none where the whole row is meant.
    pub column: Option<String>,
    /// What stands there.
    pub found: Found,
    /// What is allowed there.
    pub allowed: String,
}

/// What stands where a fault is.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Found {
    /// The cell as it was read.
    Value(String),
    /// Something that can not be quoted: "is missing", "5 cells".
    State(String),
}

/// More characters of a value than this say nothing more.
const VALUE_SHOWN: usize = 60;

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.file)?;
        if let Some(line) = self.line {
            write!(f, " line {line}")?;
        }
        if let Some(column) = &self.column {
            write!(f, ", column {column}")?;
        }
        match &self.found {
            Found::Value(value) if value.chars().count() > VALUE_SHOWN => {
                let head: String = value.chars().take(VALUE_SHOWN).collect();
                write!(f, ": {head:?}...")?;
            }
            Found::Value(value) => write!(f, ": {value:?}")?,
            Found::State(state) => write!(f, ": {state}")?,
        }
        write!(f, ": allowed is {}", self.allowed)
    }
}

/// All faults of a book, in the order of its files and rows: at least one.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct Faults {
    list: Vec<Fault>,
    untold: usize,
}

impl Faults {
    /// A file of garbage has a fault in every row. Nobody reads more than this, and a small board must hold them.
    pub const KEPT: usize = 1_000;

    /// The faults, the first [`Faults::KEPT`] of them.
    pub fn list(&self) -> &[Fault] {
        &self.list
    }

    /// How many were found, kept or not.
    pub fn count(&self) -> usize {
        self.list.len() + self.untold
    }

    pub(super) fn is_empty(&self) -> bool {
        self.list.is_empty()
    }

    fn push(&mut self, fault: Fault) {
        if self.list.len() < Self::KEPT {
            self.list.push(fault);
        } else {
            self.untold += 1;
        }
    }

    /// A fault of a whole file, or of the folder.
    pub(super) fn file(&mut self, file: impl Into<String>, state: impl Into<String>, allowed: impl Into<String>) {
        let found = Found::State(state.into());
        self.push(Fault { file: file.into(), line: None, column: None, found, allowed: allowed.into() });
    }

    /// A fault of a row, or of a heading, that can not be quoted.
    pub(super) fn state(
        &mut self,
        file: &str,
        line: usize,
        column: Option<&str>,
        state: impl Into<String>,
        allowed: impl Into<String>,
    ) {
        self.row(file, line, column, Found::State(state.into()), allowed.into());
    }

    /// A fault of a value.
    pub(super) fn value(
        &mut self,
        file: &str,
        line: usize,
        column: Option<&str>,
        value: impl Into<String>,
        allowed: impl Into<String>,
    ) {
        self.row(file, line, column, Found::Value(value.into()), allowed.into());
    }

    fn row(&mut self, file: &str, line: usize, column: Option<&str>, found: Found, allowed: String) {
        let column = column.map(str::to_owned);
        self.push(Fault { file: file.to_owned(), line: Some(line), column, found, allowed });
    }
}

/// One fault a line.
impl fmt::Display for Faults {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, fault) in self.list.iter().enumerate() {
            if i > 0 {
                writeln!(f)?;
            }
            write!(f, "{fault}")?;
        }
        if self.untold > 0 {
            write!(f, "\nand {} more", self.untold)?;
        }
        Ok(())
    }
}

impl std::error::Error for Faults {}

/// The faults as a person reads them at a terminal: one a line, then how many in how many files.
pub fn report(faults: &Faults) -> String {
    let mut files: Vec<&str> = faults.list.iter().map(|fault| fault.file.as_str()).collect();
    files.sort_unstable();
    files.dedup();
    let (count, of) = (faults.count(), files.len());
    let fault_s = if count == 1 { "fault" } else { "faults" };
    let file_s = if of == 1 { "file" } else { "files" };
    format!("{faults}\n\n{count} {fault_s} in {of} {file_s}. The book was not taken; nothing has changed.\n")
}
