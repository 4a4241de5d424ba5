//! One OS thread owns the journal, because SQLite blocks and the hub must not. Commits come first. Snapshots and backups
//! wait until no commit does, and a backup lets commits in between its steps.
//!
//! Must not know: what a failed commit means for the hub. The entries go back to it, and it decides.

use std::collections::VecDeque;
use std::ops::ControlFlow;
use std::path::PathBuf;
use std::thread::JoinHandle;

use bellmare_barn::alarm::record::Record;
use bellmare_barn::time::Wall;
use thiserror::Error;
use tokio::sync::mpsc::error::TryRecvError;
use tokio::sync::{mpsc, oneshot};
use tracing::{debug, warn};

use super::{Beside, Counts, Entry, Journal, JournalError};

/// Orders that may wait. The hub waits for each commit, so more than a few never do.
const ORDERS_WAITING: usize = 16;

/// Entries that could not be kept, given back to be offered again.
#[derive(Debug, Error)]
#[error("could not keep {} entries", entries.len())]
pub struct NotKept {
    /// The entries, as they were given.
    pub entries: Vec<Entry>,
    /// The rows beside them.
    pub rows: Vec<Beside>,
    /// Why.
    #[source]
    pub why: Box<JournalError>,
}

/// The hub's end of the journal's thread. Dropped, it closes the journal and waits for that.
#[derive(Debug)]
pub struct Keeper {
    orders: Option<mpsc::Sender<Order>>,
    thread: Option<JoinHandle<Result<(), JournalError>>>,
}

#[derive(Debug)]
enum Order {
    Commit(Vec<Entry>, Vec<Beside>, oneshot::Sender<Result<Vec<Entry>, NotKept>>),
    Alarms(Option<Wall>, oneshot::Sender<Result<Vec<Record>, JournalError>>),
    Snapshot(Snapshot),
    Backup(PathBuf, oneshot::Sender<Result<(), JournalError>>),
    Counts(oneshot::Sender<Counts>),
}

#[derive(Debug)]
struct Snapshot {
    seq: u64,
    format: u32,
    bytes: Vec<u8>,
}

impl Keeper {
    /// Starts the thread.
    ///
    /// # Errors
    /// [`System`](JournalError::System) where the system has no thread to give.
    pub fn spawn(journal: Journal) -> Result<Self, JournalError> {
        let (sender, orders) = mpsc::channel(ORDERS_WAITING);
        let desk = Desk { orders, waiting: Waiting::default(), open: true };
        let thread = std::thread::Builder::new()
            .name("journal".to_owned())
            .spawn(move || desk.work(journal))
            .map_err(|source| JournalError::System { doing: "start the journal's thread".to_owned(), source })?;
        Ok(Self { orders: Some(sender), thread: Some(thread) })
    }

    /// Keeps the entries and the rows beside them, all or none, and gives the entries back. Where this future is dropped before its end, they may be kept
    /// or not.
    ///
    /// # Errors
    /// [`NotKept`], with the entries: offer them again.
    pub async fn commit(&self, entries: Vec<Entry>, rows: Vec<Beside>) -> Result<Vec<Entry>, NotKept> {
        let (answer, answered) = oneshot::channel();
        let ended = |entries, rows| NotKept { entries, rows, why: Box::new(JournalError::Ended) };
        let Some(orders) = &self.orders else { return Err(ended(entries, rows)) };
        if let Err(mpsc::error::SendError(order)) = orders.send(Order::Commit(entries, rows, answer)).await {
            let Order::Commit(entries, rows, _) = order else { return Err(ended(Vec::new(), Vec::new())) };
            return Err(ended(entries, rows));
        }
        answered.await.unwrap_or_else(|_| Err(ended(Vec::new(), Vec::new())))
    }

    /// The history of alarms since then, and what stands. The answer comes through the channel, so that nobody need wait for
    /// it who has other things to do.
    pub fn alarms(&self, since: Option<Wall>) -> oneshot::Receiver<Result<Vec<Record>, JournalError>> {
        let (answer, answered) = oneshot::channel();
        if let Some(Err(why)) = self.orders.as_ref().map(|orders| orders.try_send(Order::Alarms(since, answer))) {
            debug!(%why, "no room to ask for the history of alarms just now");
        }
        answered
    }

    /// Keeps a snapshot when no commit waits. One that comes before it is written takes its place. Failure is logged and
    /// no more: a snapshot is a cache.
    pub fn snapshot(&self, seq: u64, format: u32, bytes: Vec<u8>) {
        let order = Order::Snapshot(Snapshot { seq, format, bytes });
        if self.orders.as_ref().is_none_or(|orders| orders.try_send(order).is_err()) {
            debug!(seq, "no room for a snapshot just now");
        }
    }

    /// Copies the journal to a file, between commits.
    ///
    /// # Errors
    /// What either disk says; [`Stopped`](JournalError::Stopped) where the journal is closed meanwhile.
    pub async fn backup(&self, to: PathBuf) -> Result<(), JournalError> {
        let (answer, answered) = oneshot::channel();
        self.send(Order::Backup(to, answer)).await?;
        answered.await.map_err(|_| JournalError::Ended)?
    }

    /// Numbers for the metrics.
    ///
    /// # Errors
    /// [`Ended`](JournalError::Ended).
    pub async fn counts(&self) -> Result<Counts, JournalError> {
        let (answer, answered) = oneshot::channel();
        self.send(Order::Counts(answer)).await?;
        answered.await.map_err(|_| JournalError::Ended)
    }

    /// Ends the thread: waiting commits and the last snapshot are kept, the file is closed. Blocks until then.
    ///
    /// # Errors
    /// What the disk says. Everything committed is kept nevertheless.
    pub fn close(mut self) -> Result<(), JournalError> {
        self.end()
    }

    async fn send(&self, order: Order) -> Result<(), JournalError> {
        let orders = self.orders.as_ref().ok_or(JournalError::Ended)?;
        orders.send(order).await.map_err(|_| JournalError::Ended)
    }

    fn end(&mut self) -> Result<(), JournalError> {
        drop(self.orders.take());
        match self.thread.take() {
            Some(thread) => thread.join().unwrap_or(Err(JournalError::Ended)),
            None => Ok(()),
        }
    }
}

impl Drop for Keeper {
    fn drop(&mut self) {
        if let Err(why) = self.end() {
            warn!(error = &why as &dyn std::error::Error, "the journal did not close cleanly; nothing is lost by it");
        }
    }
}

/// The thread's side.
struct Desk {
    orders: mpsc::Receiver<Order>,
    waiting: Waiting,
    /// False once the hub's end is gone.
    open: bool,
}

/// Work that waits for a moment without commits.
#[derive(Default)]
struct Waiting {
    snapshot: Option<Snapshot>,
    backups: VecDeque<(PathBuf, oneshot::Sender<Result<(), JournalError>>)>,
}

impl Desk {
    fn work(mut self, journal: Journal) -> Result<(), JournalError> {
        loop {
            self.serve(&journal);
            if let Err(why) = journal.tend() {
                warn!(error = &why as &dyn std::error::Error, "the journal's log grows; nothing is lost by it");
            }
            if let Some(snapshot) = self.waiting.snapshot.take() {
                keep_snapshot(&journal, &snapshot);
            } else if let Some((to, answer)) = self.waiting.backups.pop_front() {
                let done = journal.backup(&to, || {
                    self.serve(&journal);
                    if self.open { ControlFlow::Continue(()) } else { ControlFlow::Break(()) }
                });
                // Whoever asked may have gone.
                let _ = answer.send(done);
            } else if !self.open {
                return journal.close();
            } else {
                match self.orders.blocking_recv() {
                    Some(order) => self.waiting.take(&journal, order),
                    None => self.open = false,
                }
            }
        }
    }

    /// Takes every order that is there, without waiting for more.
    fn serve(&mut self, journal: &Journal) {
        loop {
            match self.orders.try_recv() {
                Ok(order) => self.waiting.take(journal, order),
                Err(TryRecvError::Empty) => return,
                Err(TryRecvError::Disconnected) => {
                    self.open = false;
                    return;
                }
            }
        }
    }
}

impl Waiting {
    /// Does at once what is urgent, and puts the rest by. Whoever asked may have gone: then nobody hears the answer.
    fn take(&mut self, journal: &Journal, order: Order) {
        match order {
            Order::Commit(entries, rows, answer) => {
                let _ = answer.send(match journal.append_with(&entries, &rows) {
                    Ok(()) => Ok(entries),
                    Err(why) => Err(NotKept { entries, rows, why: Box::new(why) }),
                });
            }
            Order::Alarms(since, answer) => {
                let _ = answer.send(journal.alarms(since));
            }
            Order::Snapshot(snapshot) => self.snapshot = Some(snapshot),
            Order::Backup(to, answer) => self.backups.push_back((to, answer)),
            Order::Counts(answer) => {
                let _ = answer.send(journal.counts());
            }
        }
    }
}

fn keep_snapshot(journal: &Journal, snapshot: &Snapshot) {
    let Snapshot { seq, format, bytes } = snapshot;
    if let Err(why) = journal.store_snapshot(*seq, *format, bytes) {
        warn!(error = &why as &dyn std::error::Error, seq, "a snapshot was not kept; the next start takes longer");
    }
}
