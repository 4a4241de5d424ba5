//! Letters to people, kept beside the facts that they follow from and in the same transaction: a letter is there where its
//! cause is, after a power cut too. What a letter says, and to whom it goes, is not known here.
//!
//! ```text
//!  waiting ──▶ sent        it went out
//!          ──▶ summed up   its line was down for long; one letter told of it and of others
//!          ──▶ given up    nobody could be reached with it for days
//! ```

use rusqlite::{Connection, params};

use super::{Journal, JournalError, open};

/// So many settled letters are remembered by their ids. A start that finds a letter ordered again looks no further back.
const REMEMBERED: u32 = 1_000;

/// What became of a letter.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub enum Settled {
    /// It went out.
    Sent,
    /// Another letter told of it.
    SummedUp,
    /// It could not be sent for so long that nobody would want it any more.
    GivenUp,
}

impl Settled {
    fn number(self) -> i64 {
        match self {
            Self::Sent => 1,
            Self::SummedUp => 2,
            Self::GivenUp => 3,
        }
    }
}

/// A change of what waits to be told.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Change {
    /// A letter is to be sent. One of an id that is there already changes nothing.
    Write {
        /// Its id, the same whenever it is ordered again.
        id: String,
        /// Whatever its sender wants to know of it.
        body: String,
    },
    /// A letter waits no more.
    Settle {
        /// Its id.
        id: String,
        /// What became of it.
        how: Settled,
    },
}

/// What waits, and what is remembered, on opening.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct Outbox {
    /// A name that this journal was given when it was begun. No other has it.
    pub name: String,
    /// Bodies of the letters that wait, in the order in which they were written.
    pub waiting: Vec<String>,
    /// Ids of letters that wait or were settled lately.
    pub known: Vec<String>,
}

impl Journal {
    /// What waits to be told.
    ///
    /// # Errors
    /// What the disk says.
    pub fn outbox(&self) -> Result<Outbox, JournalError> {
        let column = |sql: &str| -> rusqlite::Result<Vec<String>> {
            let mut statement = self.connection.prepare(sql)?;
            let rows = statement.query_map([], |row| row.get(0))?;
            rows.collect()
        };
        let read = || -> rusqlite::Result<Outbox> {
            Ok(Outbox {
                name: open::ask(&self.connection, "SELECT name FROM outbox_name")?,
                waiting: column("SELECT body FROM outbox WHERE state = 0 ORDER BY place")?,
                known: column(&format!(
                    "SELECT id FROM outbox ORDER BY state = 0 DESC, place DESC LIMIT {REMEMBERED}"
                ))?,
            })
        };
        read().map_err(|source| JournalError::sqlite("read what waits to be told", source))
    }
}

/// Makes a change within a transaction that is open.
pub(super) fn apply(connection: &Connection, change: &Change) -> rusqlite::Result<()> {
    match change {
        Change::Write { id, body } => connection
            .prepare_cached("INSERT INTO outbox (id, state, body) VALUES (?1, 0, ?2) ON CONFLICT (id) DO NOTHING")?
            .execute(params![id, body]),
        Change::Settle { id, how } => connection
            .prepare_cached("UPDATE outbox SET state = ?2, body = '' WHERE id = ?1 AND state = 0")?
            .execute(params![id, how.number()]),
    }
    .map(drop)
}
