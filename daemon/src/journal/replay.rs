//! How entries come back: two tables merged by their one sequence. Reads only.

use std::collections::BTreeMap;
use std::ops::ControlFlow;

use bellmare_barn::input::Sensor;
use bellmare_barn::time::Now;
use rusqlite::{Connection, OptionalExtension, Row};

use super::{Delivery, Entry, Journal, JournalError, Replay, row};

impl Journal {
    /// Gives each entry after `after_seq`, in order, until `each` breaks. An entry that can not be read is left out and
    /// counted: one bad row does not take the rest of the barn with it.
    ///
    /// # Errors
    /// [`Damaged`](JournalError::Damaged) where the file is not whole, or what the disk says.
    pub fn replay(
        &self,
        after_seq: u64,
        mut each: impl FnMut(Entry) -> ControlFlow<()>,
    ) -> Result<Replay, JournalError> {
        self.merge(after_seq, &mut each)
            .map_err(|source| JournalError::sqlite(format!("replay the entries after entry {after_seq}"), source))
    }

    fn merge(&self, after_seq: u64, each: &mut dyn FnMut(Entry) -> ControlFlow<()>) -> rusqlite::Result<Replay> {
        let select = |columns, table| format!("SELECT {columns} FROM {table} WHERE seq > ?1 ORDER BY seq");
        let mut readings = self.connection.prepare_cached(&select(row::READING, "readings"))?;
        let mut facts = self.connection.prepare_cached(&select(row::FACT, "facts"))?;
        let sensors = known_sensors(&self.connection)?;
        let after = after_seq.cast_signed();
        let mut readings = Cursor::start(readings.query([after])?, |row| row::reading(row, &sensors))?;
        let mut facts = Cursor::start(facts.query([after])?, row::fact)?;
        let (mut replay, mut expected) = (Replay::default(), after_seq + 1);
        loop {
            let next = match (readings.seq(), facts.seq()) {
                (Some(reading), fact) if fact.is_none_or(|fact| reading < fact) => readings.advance()?,
                _ => facts.advance()?,
            };
            let Some((seq, read)) = next else { return Ok(replay) };
            replay.missing += seq.saturating_sub(expected);
            expected = seq + 1;
            match read {
                Ok(entry) => {
                    replay.read += 1;
                    if each(entry).is_break() {
                        return Ok(replay);
                    }
                }
                Err(why) => {
                    replay.unreadable += 1;
                    replay.first_unreadable.get_or_insert((seq, why));
                }
            }
        }
    }

    /// Deliveries of the last entries, newest first, at most `n`. Looks back over 16 `n` entries and no further.
    ///
    /// # Errors
    /// As [`replay`](Self::replay).
    pub fn recent_deliveries(&self, n: u32) -> Result<Vec<Delivery>, JournalError> {
        let sql = "SELECT delivery FROM (
                SELECT seq, delivery FROM readings WHERE seq > ?1 AND delivery IS NOT NULL
                UNION ALL SELECT seq, delivery FROM facts WHERE seq > ?1 AND delivery IS NOT NULL)
            ORDER BY seq DESC LIMIT ?2";
        let after = self.last_seq().saturating_sub(16 * u64::from(n)).cast_signed();
        let read = || -> rusqlite::Result<Vec<Delivery>> {
            let mut deliveries = self.connection.prepare_cached(sql)?;
            deliveries.query_map([after, i64::from(n)], |row| row.get(0).map(Delivery))?.collect()
        };
        read().map_err(|source| JournalError::sqlite("read the last deliveries", source))
    }
}

/// Rows of one table, of which the number of the next is known.
struct Cursor<'s, F> {
    rows: rusqlite::Rows<'s>,
    read: F,
    next: Option<(u64, row::Read)>,
}

impl<'s, F: Fn(&Row<'_>) -> rusqlite::Result<row::Read>> Cursor<'s, F> {
    fn start(rows: rusqlite::Rows<'s>, read: F) -> rusqlite::Result<Self> {
        let mut cursor = Self { rows, read, next: None };
        cursor.advance()?;
        Ok(cursor)
    }

    fn seq(&self) -> Option<u64> {
        self.next.as_ref().map(|(seq, _)| *seq)
    }

    /// Gives the next row and looks at the one after it.
    fn advance(&mut self) -> rusqlite::Result<Option<(u64, row::Read)>> {
        let next = match self.rows.next()? {
            Some(row) => {
                let seq = row.get::<_, i64>(0)?.cast_unsigned();
                let read = match (self.read)(row) {
                    // Not an error of SQLite's: a column holds what it should not. That is this row's fault alone.
                    Err(why) if why.sqlite_error_code().is_none() => Err(why.to_string()),
                    read => read?,
                };
                Some((seq, read))
            }
            None => None,
        };
        Ok(std::mem::replace(&mut self.next, next))
    }
}

/// Number and time of the last entry.
pub(super) fn last_entry(connection: &Connection) -> rusqlite::Result<(u64, Option<Now>)> {
    let last = |table| {
        let sql = format!("SELECT seq, mono, wall FROM {table} ORDER BY seq DESC LIMIT 1");
        let read = |row: &Row<'_>| Ok((row.get::<_, i64>(0)?.cast_unsigned(), row::now(row, 1)?));
        connection.query_row(&sql, [], read).optional()
    };
    let newest = [last("readings")?, last("facts")?].into_iter().flatten().max_by_key(|(seq, _)| *seq);
    Ok(newest.map_or((0, None), |(seq, now)| (seq, Some(now))))
}

/// Sensors by their number in the file. One of a kind that a later version wrote is left out.
pub(super) fn known_sensors(connection: &Connection) -> rusqlite::Result<BTreeMap<i64, Sensor>> {
    let mut sensors = connection.prepare_cached("SELECT id, kind, name FROM sensors")?;
    let mut rows = sensors.query([])?;
    let mut known = BTreeMap::new();
    while let Some(row) = rows.next()? {
        if let Some(sensor) = row::sensor_from(row.get_ref(1)?.as_str()?, row.get_ref(2)?.as_str()?) {
            known.insert(row.get(0)?, sensor);
        }
    }
    Ok(known)
}
