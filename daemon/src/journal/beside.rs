//! What is kept beside the entries, in the same transaction with what caused it: rows that a person asks for and that would
//! cost a whole replay to find. Written again, a row takes the place of the older one of its number.

use bellmare_barn::alarm::record::Record;
use bellmare_barn::time::Wall;
use rusqlite::{Connection, OptionalExtension, params};

use super::outbox::{self, Change};
use super::{Journal, JournalError};

/// How long the history of alarms is kept, in milliseconds: a year and a month, so that a summer can be laid beside the last.
const HISTORY_MS: i64 = 400 * 24 * 3_600_000;
/// And how many alarms of it at most. A barn that has 24 a day reaches it in a little more than a year.
const HISTORY_MOST: i64 = 10_000;

/// A row.
#[derive(Clone, PartialEq, Debug)]
pub enum Beside {
    /// What became of an alarm.
    Alarm(Box<Record>),
    /// What must be told to somebody, or what came of it.
    Outbox(Change),
}

/// Writes the rows within a transaction that is open.
pub(super) fn write(connection: &Connection, rows: &[Beside]) -> rusqlite::Result<()> {
    for row in rows {
        match row {
            Beside::Alarm(record) => write_alarm(connection, record)?,
            Beside::Outbox(change) => outbox::apply(connection, change)?,
        }
    }
    Ok(())
}

fn write_alarm(connection: &Connection, record: &Record) -> rusqlite::Result<()> {
    let body = serde_json::to_string(record).map_err(|why| rusqlite::Error::ToSqlConversionFailure(why.into()))?;
    let id = record.alarm.id.cast_signed();
    let raised = record.alarm.raised.wall.get().map(|wall| wall.0);
    let known: Option<i64> = connection
        .prepare_cached("SELECT id FROM alarms WHERE id = ?1")?
        .query_row([id], |row| row.get(0))
        .optional()?;
    connection
        .prepare_cached("INSERT OR REPLACE INTO alarms (id, raised, stands, body) VALUES (?1, ?2, ?3, ?4)")?
        .execute(params![id, raised, record.ended.is_none(), body])?;
    if known.is_none() {
        // What stands stays, however old.
        connection
            .prepare_cached("DELETE FROM alarms WHERE NOT stands AND (raised < ?1 OR id <= ?2)")?
            .execute(params![raised.map(|raised| raised - HISTORY_MS), id - HISTORY_MOST])?;
    }
    Ok(())
}

impl Journal {
    /// The history of alarms, oldest first: those that were raised since then, and those that stand. A row that this version
    /// can not read is left out.
    ///
    /// # Errors
    /// What the disk says.
    pub fn alarms(&self, since: Option<Wall>) -> Result<Vec<Record>, JournalError> {
        let read = || -> rusqlite::Result<Vec<Record>> {
            let mut alarms = self
                .connection
                .prepare_cached("SELECT body FROM alarms WHERE stands OR raised IS NULL OR raised >= ?1 ORDER BY id")?;
            let rows = alarms.query_map([since.map_or(i64::MIN, |since| since.0)], |row| row.get::<_, String>(0))?;
            let mut list = Vec::new();
            for body in rows {
                list.extend(serde_json::from_str::<Record>(&body?).ok());
            }
            Ok(list)
        };
        read().map_err(|source| JournalError::sqlite("read the history of alarms", source))
    }
}
