//! What is made of the whole journal: snapshots of the barn, a cache beside the facts, and backups of the file.

use std::fs::{self, File};
use std::ops::ControlFlow;
use std::path::Path;

use rusqlite::backup::{Backup, StepResult};
use rusqlite::{Connection, params};
use sha2::{Digest, Sha256};

use super::{Counts, Journal, JournalError, open};

/// How many snapshots are kept: the newest, and one more should that be damaged.
const SNAPSHOTS_KEPT: i64 = 2;

/// Pages copied by a backup before it lets others in: 256 KiB.
const BACKUP_STEP_PAGES: i32 = 64;

impl Journal {
    /// Keeps the barn as it was after entry `seq`, in a form of the caller's numbered `format`. The newest two stay.
    ///
    /// # Errors
    /// [`SnapshotAhead`](JournalError::SnapshotAhead), or what the disk says. The older snapshots are then still there.
    pub fn store_snapshot(&self, seq: u64, format: u32, bytes: &[u8]) -> Result<(), JournalError> {
        if seq > self.last_seq() {
            return Err(JournalError::SnapshotAhead { snapshot: seq, last: self.last_seq() });
        }
        let write = || -> rusqlite::Result<()> {
            let transaction = self.transaction()?;
            transaction
                .prepare_cached("INSERT OR REPLACE INTO snapshots (seq, format, digest, body) VALUES (?1, ?2, ?3, ?4)")?
                .execute(params![seq.cast_signed(), format, Sha256::digest(bytes).as_slice(), bytes])?;
            transaction
                .prepare_cached(
                    "DELETE FROM snapshots WHERE seq NOT IN (SELECT seq FROM snapshots ORDER BY seq DESC LIMIT ?1)",
                )?
                .execute([SNAPSHOTS_KEPT])?;
            self.commit(transaction)
        };
        write().map_err(|source| {
            self.doubt_log();
            JournalError::sqlite(format!("keep a snapshot of entry {seq}"), source)
        })?;
        self.counts.set(Counts { snapshots: self.counts.get().snapshots + 1, ..self.counts.get() });
        Ok(())
    }

    /// The newest snapshot of this format that is whole, and the entry after which it was made.
    ///
    /// # Errors
    /// As [`replay`](Self::replay). Replay from 0 then does without it.
    pub fn latest_snapshot(&self, format: u32) -> Result<Option<(u64, Vec<u8>)>, JournalError> {
        let read = || -> rusqlite::Result<Option<(u64, Vec<u8>)>> {
            let mut snapshots = self
                .connection
                .prepare_cached("SELECT seq, digest, body FROM snapshots WHERE format = ?1 ORDER BY seq DESC")?;
            let mut rows = snapshots.query([format])?;
            while let Some(row) = rows.next()? {
                let (digest, body) = (row.get_ref(1)?.as_blob()?, row.get_ref(2)?.as_blob()?);
                if Sha256::digest(body).as_slice() == digest {
                    return Ok(Some((row.get::<_, i64>(0)?.cast_unsigned(), body.to_vec())));
                }
            }
            Ok(None)
        };
        read().map_err(|source| JournalError::sqlite("read the latest snapshot", source))
    }

    /// Copies the journal to a file, whole and consistent, which [`open`](Self::open) opens. `between` is called after
    /// each 256 KiB; it may append, and what it appends is in the copy; where it breaks, the copy is given up. An older
    /// file of that name is replaced at the end.
    ///
    /// # Errors
    /// What either disk says, or [`Stopped`](JournalError::Stopped). An older file of that name is then still there.
    pub fn backup(&self, to: &Path, mut between: impl FnMut() -> ControlFlow<()>) -> Result<(), JournalError> {
        let doing = || format!("back the journal up to {}", to.display());
        let part = open::with_suffix(to, ".part");
        let remove = || match fs::remove_file(&part) {
            Err(why) if why.kind() != std::io::ErrorKind::NotFound => Err(why),
            _ => Ok(()),
        };
        remove().map_err(|source| JournalError::System { doing: doing(), source })?;
        let mut copy = || -> rusqlite::Result<ControlFlow<()>> {
            let mut copy = Connection::open(&part)?;
            // Synced once, at the end; until then it has another name.
            copy.execute_batch("PRAGMA journal_mode = OFF; PRAGMA synchronous = OFF;")?;
            let steps = Backup::new(&self.connection, &mut copy)?;
            while steps.step(BACKUP_STEP_PAGES)? != StepResult::Done {
                if between().is_break() {
                    return Ok(ControlFlow::Break(()));
                }
            }
            Ok(ControlFlow::Continue(()))
        };
        let failed = match copy() {
            Ok(ControlFlow::Continue(())) => None,
            Ok(ControlFlow::Break(())) => Some(JournalError::Stopped { doing: doing() }),
            Err(source) => Some(JournalError::sqlite(doing(), source)),
        };
        if let Some(failed) = failed {
            // Why it failed matters more than a leftover, which the next backup removes.
            let _ = remove();
            return Err(failed);
        }
        let place = || -> std::io::Result<()> {
            File::open(&part)?.sync_all()?;
            fs::rename(&part, to)?;
            open::sync_folder_of(to)
        };
        place().map_err(|source| JournalError::System { doing: doing(), source })
    }
}
