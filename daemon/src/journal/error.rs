//! What can go wrong with the journal, said as what was attempted. Display never repeats its source: print the chain.

use std::path::PathBuf;

use rusqlite::ErrorCode;
use thiserror::Error;

/// Why the journal could not do what it was asked.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum JournalError {
    /// Another program has the file open: a second hub, or a tool that reads it.
    #[error("could not open the journal {path}: another program has it open; only one hub may use it")]
    Locked {
        /// The journal.
        path: PathBuf,
        /// What SQLite said.
        source: rusqlite::Error,
    },
    /// A later version of the hub wrote the file. It is left as it is.
    #[error(
        "could not open the journal {path}: it has schema {found}, and this hub knows schemas up to {known}; \
         start the later version of the hub that wrote it, or restore an older backup"
    )]
    Newer {
        /// The journal.
        path: PathBuf,
        /// The schema in the file.
        found: i64,
        /// The latest schema that this hub knows.
        known: i64,
    },
    /// The file is a database, and no journal. It is left as it is.
    #[error("could not open the journal {path}: it is a database of another program")]
    Foreign {
        /// The file.
        path: PathBuf,
    },
    /// A damaged file was found and could not be moved out of the way.
    #[error("could not set the damaged journal {path} aside")]
    SetAside {
        /// The file.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// An entry does not follow the one before it. Nothing was written.
    #[error("could not append entry {found}: entry {expected} comes next")]
    OutOfOrder {
        /// The number that comes next.
        expected: u64,
        /// The number that was offered.
        found: u64,
    },
    /// A snapshot of more than has been kept. Nothing was written.
    #[error("could not keep a snapshot of entry {snapshot}: the journal ends with entry {last}")]
    SnapshotAhead {
        /// What the snapshot says it has seen.
        snapshot: u64,
        /// The last entry.
        last: u64,
    },
    /// An entry has no written form. Nothing was written.
    #[error("could not write entry {seq} down")]
    Encode {
        /// Which entry.
        seq: u64,
        /// Why.
        source: serde_json::Error,
    },
    /// The disk is full. What was attempted did not happen, and may be tried again.
    #[error("could not {doing}: the disk is full")]
    Full {
        /// What was attempted.
        doing: String,
        /// What SQLite said.
        source: rusqlite::Error,
    },
    /// The disk refused to read or write. What was attempted did not happen, and may be tried again.
    #[error("could not {doing}: the disk failed")]
    Disk {
        /// What was attempted.
        doing: String,
        /// What SQLite said.
        source: rusqlite::Error,
    },
    /// The file is not whole. [`Journal::open_afresh`](super::Journal::open_afresh) sets it aside.
    #[error("could not {doing}: the file is damaged")]
    Damaged {
        /// What was attempted.
        doing: String,
        /// What SQLite said.
        source: rusqlite::Error,
    },
    /// Anything else that SQLite said.
    #[error("could not {doing}")]
    Sqlite {
        /// What was attempted.
        doing: String,
        /// What SQLite said.
        source: rusqlite::Error,
    },
    /// The schema could not be brought up to date.
    #[error("could not bring the journal {path} to schema {to}")]
    Migrate {
        /// The journal.
        path: PathBuf,
        /// The schema wanted.
        to: i64,
        /// Why.
        source: rusqlite_migration::Error,
    },
    /// A file or thread of the journal's could not be made or moved.
    #[error("could not {doing}")]
    System {
        /// What was attempted.
        doing: String,
        /// What the system said.
        source: std::io::Error,
    },
    /// It was given up because the journal was to be closed.
    #[error("could not {doing}: the journal was to be closed")]
    Stopped {
        /// What was attempted.
        doing: String,
    },
    /// The thread that keeps the journal has ended.
    #[error("could not reach the journal: its thread has ended")]
    Ended,
}

impl JournalError {
    /// An error of SQLite's, by its code.
    pub(super) fn sqlite(doing: impl Into<String>, source: rusqlite::Error) -> Self {
        let doing = doing.into();
        match source.sqlite_error_code() {
            Some(ErrorCode::DiskFull) => Self::Full { doing, source },
            Some(ErrorCode::SystemIoFailure | ErrorCode::CannotOpen | ErrorCode::ReadOnly) => {
                Self::Disk { doing, source }
            }
            Some(ErrorCode::DatabaseCorrupt | ErrorCode::NotADatabase) => Self::Damaged { doing, source },
            _ => Self::Sqlite { doing, source },
        }
    }

    /// True where the file itself is not whole, so that trying again can not help.
    pub fn is_damage(&self) -> bool {
        matches!(self, Self::Damaged { .. })
    }
}
