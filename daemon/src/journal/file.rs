//! The open journal: who holds it, and how entries are kept, all or none. How they come back is in `replay`, what is made
//! of the whole file in `copies`.

use std::cell::{Cell, RefCell};
use std::collections::HashMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::time::Duration;

use bellmare_barn::input::Sensor;
use rusqlite::{Connection, Transaction, TransactionBehavior, params};

use super::replay::{known_sensors, last_entry};
use super::{Beside, Counts, Entry, Found, JournalError, Opening, Options, beside, open, row};

/// An open journal: the only one on its file.
///
/// Methods take `&self` so that a [backup](Journal::backup) can let appends in between its steps; the type is not `Sync`.
#[derive(Debug)]
pub struct Journal {
    pub(super) connection: Connection,
    pub(super) path: PathBuf,
    commit_delay: Duration,
    boot: u32,
    checkpoint_pages: i64,
    /// Whether the boot is written down. On a full disk it can not be; the next append then does it first.
    boot_kept: Cell<bool>,
    /// Whether the log must be begun anew before anything is added to it: see [`Journal::start_log_anew`].
    log_in_doubt: Cell<bool>,
    /// Pages in the log.
    log_pages: Cell<i64>,
    last_seq: Cell<u64>,
    sensors: RefCell<HashMap<Sensor, i64>>,
    pub(super) counts: Cell<Counts>,
}

impl Journal {
    /// Opens the file, or begins one. Its folder must exist.
    ///
    /// # Errors
    /// [`Locked`](JournalError::Locked), [`Newer`](JournalError::Newer), [`Foreign`](JournalError::Foreign), or what the
    /// disk says. A damaged file is no error: see [`Found::Damaged`].
    pub fn open(path: &Path, options: &Options) -> Result<(Self, Opening), JournalError> {
        let (connection, found) = open::open(path, options)?;
        match Self::begin(path, options, connection, found) {
            Err(JournalError::Damaged { source, .. }) => Self::open_afresh(path, options, &source.to_string()),
            begun => begun,
        }
    }

    /// Sets aside the file that is there, whatever it is, and begins a new one: for damage found later than on opening.
    ///
    /// # Errors
    /// As [`open`](Self::open).
    pub fn open_afresh(path: &Path, options: &Options, why: &str) -> Result<(Self, Opening), JournalError> {
        let (connection, found) = open::anew(path, options, why.to_owned())?;
        Self::begin(path, options, connection, found)
    }

    fn begin(
        path: &Path,
        options: &Options,
        connection: Connection,
        found: Found,
    ) -> Result<(Self, Opening), JournalError> {
        let read = |source| JournalError::sqlite(format!("read the journal {}", path.display()), source);
        let (last_seq, last) = last_entry(&connection).map_err(read)?;
        let sensors = known_sensors(&connection).map_err(read)?;
        let boot =
            connection.query_row("SELECT coalesce(max(boot), 0) + 1 FROM boots", [], |row| row.get(0)).map_err(read)?;
        let journal = Self {
            connection,
            path: path.to_owned(),
            commit_delay: options.commit_delay,
            boot,
            checkpoint_pages: options.checkpoint_pages.into(),
            boot_kept: Cell::new(false),
            log_in_doubt: Cell::new(true),
            log_pages: Cell::new(0),
            last_seq: Cell::new(last_seq),
            sensors: RefCell::new(sensors.into_iter().map(|(id, sensor)| (sensor, id)).collect()),
            counts: Cell::default(),
        };
        // A disk that takes nothing just now does not keep the journal from being read.
        journal.boot_kept.set(journal.write_boot().is_ok());
        Ok((journal, Opening { boot, last, found }))
    }

    /// Number of the last entry kept; 0 in a new file.
    pub fn last_seq(&self) -> u64 {
        self.last_seq.get()
    }

    /// Number of this boot.
    pub fn boot(&self) -> u32 {
        self.boot
    }

    /// Keeps the entries in one transaction, all or none. On `Ok` they outlast a power cut.
    ///
    /// # Errors
    /// [`OutOfOrder`](JournalError::OutOfOrder) where a number does not go on from the last; else what the disk says.
    /// Nothing is then appended, and the same entries may be offered again.
    pub fn append(&self, entries: &[Entry]) -> Result<(), JournalError> {
        self.append_with(entries, &[])
    }

    /// As [`append`](Self::append), and keeps these rows in the same transaction.
    ///
    /// # Errors
    /// As [`append`](Self::append).
    pub fn append_with(&self, entries: &[Entry], rows: &[Beside]) -> Result<(), JournalError> {
        let mut last = self.last_seq();
        for entry in entries {
            if entry.seq != last + 1 {
                return Err(JournalError::OutOfOrder { expected: last + 1, found: entry.seq });
            }
            last = entry.seq;
        }
        if entries.is_empty() && rows.is_empty() {
            return Ok(());
        }
        let written = self.write(entries, rows);
        let mut counts = self.counts.get();
        match &written {
            Ok(()) => counts.commits += 1,
            Err(_) => {
                counts.failed_appends += 1;
                self.doubt_log();
            }
        }
        self.counts.set(counts);
        written?;
        self.last_seq.set(last);
        Ok(())
    }

    fn write(&self, entries: &[Entry], rows: &[Beside]) -> Result<(), JournalError> {
        let failed = |source| {
            let from = self.last_seq() + 1;
            JournalError::sqlite(format!("append {} entries from entry {from}", entries.len()), source)
        };
        let transaction = self.transaction().map_err(failed)?;
        if !self.boot_kept.get() {
            self.insert_boot().map_err(failed)?;
        }
        let mut new_sensors = HashMap::new();
        {
            let mut readings = transaction
                .prepare_cached(
                    "INSERT INTO readings (seq, delivery, boot, mono, wall, sensor, quantity, value, own_time)
                     VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)",
                )
                .map_err(failed)?;
            let mut facts = transaction
                .prepare_cached(
                    "INSERT INTO facts (seq, delivery, boot, mono, wall, kind, body)
                     VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
                )
                .map_err(failed)?;
            for entry in entries {
                let (seq, delivery) = (entry.seq.cast_signed(), entry.delivery.map(|d| d.0));
                let (mono, wall) = (entry.now.mono.0.cast_signed(), entry.now.wall.get().map(|w| w.0));
                match row::shape(&entry.input).map_err(|source| JournalError::Encode { seq: entry.seq, source })? {
                    row::Shape::Reading(reading) => {
                        let sensor = self.sensor_id(&reading.sensor, &mut new_sensors).map_err(failed)?;
                        let (quantity, value) = row::quantity(reading.measured);
                        let own_time = reading.own_time.map(|w| w.0);
                        readings
                            .execute(params![seq, delivery, entry.boot, mono, wall, sensor, quantity, value, own_time])
                    }
                    row::Shape::Fact(kind, body) => {
                        facts.execute(params![seq, delivery, entry.boot, mono, wall, kind, body])
                    }
                }
                .map_err(failed)?;
            }
        }
        beside::write(&self.connection, rows).map_err(failed)?;
        self.commit(transaction).map_err(failed)?;
        self.boot_kept.set(true);
        self.sensors.borrow_mut().extend(new_sensors);
        if !self.commit_delay.is_zero() {
            std::thread::sleep(self.commit_delay);
        }
        Ok(())
    }

    /// Brings the log into the file where it has grown long. Call it when nothing else waits; a log that is twice as long
    /// as it should be is brought in by the next append.
    ///
    /// # Errors
    /// What the disk says. Everything appended is kept nevertheless, in the log.
    pub fn tend(&self) -> Result<(), JournalError> {
        if self.log_pages.get() < self.checkpoint_pages {
            return Ok(());
        }
        let done = open::ask::<i64>(&self.connection, "PRAGMA wal_checkpoint(PASSIVE)");
        if done.is_err() {
            self.doubt_log();
        }
        // Where it failed it is tried again by the next append, and not by each call until then.
        self.log_pages.set(0);
        done.map(drop).map_err(|source| JournalError::sqlite("bring the journal's log into its file", source))
    }

    /// Begins to write. Dropped without a commit it takes everything back.
    pub(super) fn transaction(&self) -> rusqlite::Result<Transaction<'_>> {
        if !self.connection.is_autocommit() {
            // A transaction that failed could perhaps not even be taken back then. It can be now, or this fails too.
            self.connection.execute_batch("ROLLBACK")?;
        }
        if self.log_in_doubt.get() || self.log_pages.get() >= 2 * self.checkpoint_pages {
            self.start_log_anew()?;
        }
        Transaction::new_unchecked(&self.connection, TransactionBehavior::Immediate)
    }

    /// Commits what [`transaction`](Self::transaction) began.
    pub(super) fn commit(&self, transaction: Transaction<'_>) -> rusqlite::Result<()> {
        transaction.commit()?;
        // Not SQLite's own checkpoint after a commit, whose errors are told to nobody: this only asks for the length.
        let pages = self
            .connection
            .prepare_cached("PRAGMA wal_checkpoint(NOOP)")
            .and_then(|mut noop| noop.query_row([], |row| row.get(1)));
        self.log_pages.set(pages.unwrap_or(self.checkpoint_pages));
        Ok(())
    }

    /// Brings the log into the file, and leaves it empty. So it must be before the first append of a boot and after any
    /// error, for two reasons that cuts of the power have shown:
    /// - After a cut the last commit may end within a sector. The next would begin in that sector, and a second cut while
    ///   it is written would take both.
    /// - The filling after a commit, up to the end of its sector, is synced with the next. Where that sync fails, the
    ///   system may drop the filling for good; what is then added behind it is not found after a cut.
    pub(super) fn start_log_anew(&self) -> rusqlite::Result<()> {
        self.log_in_doubt.set(true);
        open::ask::<i64>(&self.connection, "PRAGMA wal_checkpoint(TRUNCATE)")?;
        self.log_in_doubt.set(false);
        self.log_pages.set(0);
        Ok(())
    }

    /// Has it that the next write begins the log anew: something failed.
    pub(super) fn doubt_log(&self) {
        self.log_in_doubt.set(true);
    }

    fn write_boot(&self) -> rusqlite::Result<()> {
        let write = || -> rusqlite::Result<()> {
            let transaction = self.transaction()?;
            self.insert_boot()?;
            self.commit(transaction)
        };
        write().inspect_err(|_| self.doubt_log())
    }

    fn insert_boot(&self) -> rusqlite::Result<()> {
        self.connection.prepare_cached("INSERT INTO boots (boot) VALUES (?1)")?.execute([self.boot]).map(drop)
    }

    /// The sensor's number in the file. One that is new counts only once its transaction is committed.
    fn sensor_id(&self, sensor: &Sensor, new: &mut HashMap<Sensor, i64>) -> rusqlite::Result<i64> {
        if let Some(&id) = self.sensors.borrow().get(sensor).or_else(|| new.get(sensor)) {
            return Ok(id);
        }
        let (kind, name) = row::sensor_words(sensor);
        self.connection.prepare_cached("INSERT INTO sensors (kind, name) VALUES (?1, ?2)")?.execute([kind, name])?;
        let id = self.connection.last_insert_rowid();
        new.insert(sensor.clone(), id);
        Ok(id)
    }

    /// Numbers for the metrics.
    pub fn counts(&self) -> Counts {
        let length = |path: &Path| fs::metadata(path).map_or(0, |meta| meta.len());
        Counts {
            entries: self.last_seq(),
            file_bytes: length(&self.path),
            log_bytes: length(&open::with_suffix(&self.path, "-wal")),
            ..self.counts.get()
        }
    }

    /// Brings the log into the file and closes both. Dropping does the same and tells nobody how it went.
    ///
    /// # Errors
    /// What the disk says. Everything appended is kept nevertheless, in the log.
    pub fn close(self) -> Result<(), JournalError> {
        let failed = |source| JournalError::sqlite(format!("close the journal {}", self.path.display()), source);
        self.start_log_anew().map_err(failed)?;
        self.connection
            .close()
            .map_err(|(_, source)| JournalError::sqlite(format!("close the journal {}", self.path.display()), source))
    }
}
