//! How a journal is opened: locked for this hub alone, checked, brought to the latest schema. A file that is damaged
//! never keeps the hub from starting: it is set aside under another name, nothing of it deleted, and a new one begun.
//!
//! Knows nothing of entries.

use std::fs::{self, File};
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use rusqlite::types::FromSql;
use rusqlite::{Connection, ErrorCode, OpenFlags};

use super::error::JournalError;
use super::schema::{APPLICATION_ID, LATEST, migrations};
use super::{Found, Options};

/// What SQLite puts beside a database, by what it adds to the name; first the database itself.
const PARTS: [&str; 4] = ["", "-wal", "-shm", "-journal"];

/// Opens the file, or a new one in place of one that is damaged.
pub(super) fn open(path: &Path, options: &Options) -> Result<(Connection, Found), JournalError> {
    if let Some(why) = plainly_damaged(path) {
        return anew(path, options, why);
    }
    match open_whole(path, options) {
        Ok(opened) => Ok(opened),
        Err(JournalError::Damaged { source, .. }) => anew(path, options, source.to_string()),
        Err(other) => Err(other),
    }
}

/// Sets aside whatever is there, and begins a new file.
pub(super) fn anew(path: &Path, options: &Options, why: String) -> Result<(Connection, Found), JournalError> {
    let moved = set_aside(path).map_err(|source| JournalError::SetAside { path: path.to_owned(), source })?;
    let (connection, _) = open_whole(path, options)?;
    Ok((connection, Found::Damaged { set_aside: moved, why }))
}

/// Opens a file that must be whole, or absent.
fn open_whole(path: &Path, options: &Options) -> Result<(Connection, Found), JournalError> {
    let failed = |doing: &str, source: rusqlite::Error| match source.sqlite_error_code() {
        Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => {
            JournalError::Locked { path: path.to_owned(), source }
        }
        _ => JournalError::sqlite(format!("{doing} the journal {}", path.display()), source),
    };
    let mut connection = connect(path, options).map_err(|e| failed("open", e))?;
    set_up(&connection, options).map_err(|e| failed("open", e))?;
    let found = look(path, &connection).map_err(|e| failed("read", e))??;
    check(&connection, options).map_err(|e| failed("check", e))?;
    enter_wal(&connection, options).map_err(|e| failed("prepare", e))?;
    migrations().to_latest(&mut connection).map_err(|source| match source {
        // The code of a full disk or a lock matters more than which statement met it.
        rusqlite_migration::Error::RusqliteError { err, .. } => failed("bring to the latest schema", err),
        source => JournalError::Migrate { path: path.to_owned(), to: LATEST, source },
    })?;
    Ok((connection, found))
}

/// Opens with `psow=0`: SQLite then never counts on a card leaving the rest of a sector alone while it writes a part of
/// it, and begins each commit in a sector of its own. It costs a page a commit; cards are cheap and do tear.
fn connect(path: &Path, options: &Options) -> rusqlite::Result<Connection> {
    let mut uri = String::from("file:");
    for &byte in path.as_os_str().as_encoded_bytes() {
        if byte.is_ascii_alphanumeric() || b"/-_.".contains(&byte) {
            uri.push(char::from(byte));
        } else {
            uri.push_str(&format!("%{byte:02X}"));
        }
    }
    uri.push_str("?psow=0");
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE
        | OpenFlags::SQLITE_OPEN_CREATE
        | OpenFlags::SQLITE_OPEN_URI
        | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    match &options.vfs {
        Some(vfs) => Connection::open_with_flags_and_vfs(uri, flags, vfs.as_str()),
        None => Connection::open_with_flags(uri, flags),
    }
}

/// Settings of the connection. Exclusive locking keeps a second hub out, and does without the shared-memory file, which
/// could not be made on a full disk. Cells are checked as they are read, so that damage is found and not followed.
fn set_up(connection: &Connection, options: &Options) -> rusqlite::Result<()> {
    connection.busy_timeout(options.lock_wait)?;
    connection.set_prepared_statement_cache_capacity(32);
    connection.execute_batch(
        "PRAGMA locking_mode = EXCLUSIVE;
         PRAGMA cell_size_check = ON;
         PRAGMA trusted_schema = OFF;
         PRAGMA temp_store = MEMORY;",
    )
}

/// Takes the lock, and tells whose file it is.
fn look(path: &Path, connection: &Connection) -> rusqlite::Result<Result<Found, JournalError>> {
    let owner: i64 = ask(connection, "PRAGMA application_id")?;
    let schema: i64 = ask(connection, "PRAGMA user_version")?;
    let empty = ask::<i64>(connection, "SELECT count(*) FROM sqlite_schema")? == 0;
    if empty {
        return Ok(Ok(Found::Nothing));
    }
    if owner != APPLICATION_ID {
        return Ok(Err(JournalError::Foreign { path: path.to_owned() }));
    }
    if schema > LATEST {
        return Ok(Err(JournalError::Newer { path: path.to_owned(), found: schema, known: LATEST }));
    }
    Ok(Ok(Found::Kept))
}

/// Has SQLite look over the whole file, where that is quick enough to start by.
fn check(connection: &Connection, options: &Options) -> rusqlite::Result<()> {
    let (pages, size): (i64, i64) = (ask(connection, "PRAGMA page_count")?, ask(connection, "PRAGMA page_size")?);
    let bytes = pages.saturating_mul(size).cast_unsigned();
    if bytes > options.check_up_to_bytes {
        return Ok(());
    }
    let verdict: String = ask(connection, "PRAGMA quick_check(1)")?;
    if verdict == "ok" {
        return Ok(());
    }
    let code = rusqlite::ffi::Error::new(rusqlite::ffi::SQLITE_CORRUPT);
    Err(rusqlite::Error::SqliteFailure(code, Some(verdict)))
}

/// Puts the file into write-ahead mode.
fn enter_wal(connection: &Connection, options: &Options) -> rusqlite::Result<()> {
    let mode: String = ask(connection, "PRAGMA journal_mode = WAL")?;
    if mode != "wal" {
        let code = rusqlite::ffi::Error::new(rusqlite::ffi::SQLITE_CANTOPEN);
        return Err(rusqlite::Error::SqliteFailure(code, Some(format!("it stays in mode {mode}"))));
    }
    connection.pragma_update(None, "synchronous", options.synchronous.word())?;
    // `Journal::tend` does it, where an error is seen.
    connection.pragma_update(None, "wal_autocheckpoint", 0)?;
    // After a checkpoint the log is cut back to this, should it ever have grown past it.
    connection.pragma_update(None, "journal_size_limit", 8 << 20)?;
    // KiB. It is written at its end and read from front to back: what is kept of it in memory serves nobody.
    connection.pragma_update(None, "cache_size", -512)?;
    if ask::<i64>(connection, "PRAGMA application_id")? != APPLICATION_ID {
        connection.pragma_update(None, "application_id", APPLICATION_ID)?;
    }
    Ok(())
}

/// The first column of the first row, the statement run to its end. `query_row` stops after the row, and an error that
/// SQLite meets while it then commits is told to nobody.
pub(super) fn ask<T: FromSql>(connection: &Connection, sql: &str) -> rusqlite::Result<T> {
    let mut statement = connection.prepare(sql)?;
    let mut rows = statement.query([])?;
    let answer = rows.next()?.ok_or(rusqlite::Error::QueryReturnedNoRows)?.get(0)?;
    while rows.next()?.is_some() {}
    Ok(answer)
}

/// What is wrong, where SQLite would not say so but delete the log: a database that is too short or no database, with a
/// log beside it. One whose rollback journal is there was cut off while it was made, and SQLite mends it.
fn plainly_damaged(path: &Path) -> Option<String> {
    let length = |part: &str| fs::metadata(with_suffix(path, part)).map_or(0, |meta| meta.len());
    if length("-wal") == 0 || length("-journal") > 0 {
        return None;
    }
    let mut head = [0; 512];
    match File::open(path).and_then(|mut file| file.read_exact(&mut head)) {
        Ok(()) if head.starts_with(b"SQLite format 3\0") => None,
        Ok(()) => Some("it does not begin as a database does, and its log is still there".to_owned()),
        Err(why) if [io::ErrorKind::NotFound, io::ErrorKind::UnexpectedEof].contains(&why.kind()) => {
            Some("most of it is gone, and its log is still there".to_owned())
        }
        // A disk that can not be read is for SQLite to say.
        Err(_) => None,
    }
}

/// Moves the file and what belongs to it to the first free `NAME.damaged-N`, and tells that name.
fn set_aside(path: &Path) -> io::Result<PathBuf> {
    let free = |n: &u32| {
        let name = with_suffix(path, &format!(".damaged-{n}"));
        PARTS.iter().all(|part| !with_suffix(&name, part).exists())
    };
    let Some(n) = (1..=u32::MAX).find(free) else { return Err(io::ErrorKind::AlreadyExists.into()) };
    let aside = with_suffix(path, &format!(".damaged-{n}"));
    for part in PARTS {
        let from = with_suffix(path, part);
        if from.exists() {
            fs::rename(&from, with_suffix(&aside, part))?;
        }
    }
    sync_folder_of(path)?;
    Ok(aside)
}

/// The path with something added to its last name.
pub(super) fn with_suffix(path: &Path, suffix: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(suffix);
    PathBuf::from(name)
}

/// Makes renames in the folder of this file last through a power cut.
pub(super) fn sync_folder_of(path: &Path) -> io::Result<()> {
    match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => File::open(folder)?.sync_all(),
        _ => File::open(".")?.sync_all(),
    }
}
