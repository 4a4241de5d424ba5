//! Steps 3 and 4 of a turn: what arrived is written down, and only then acknowledged and answered; and the snapshots.

use std::time::{Duration, Instant};

use bellmare_barn::input::{Input, Line};
use tracing::{error, info, warn};

use super::{Loop, start};
use crate::devices::intake::Ack;

/// How long to wait before a failed commit is tried again.
const TRY_AGAIN: Duration = Duration::from_secs(1);
/// A reading waits for company no longer than this where its sensor waits for the acknowledgement: long enough for all that
/// a device says in one breath, and short enough that one which sends a message at a time is soon counted as busy.
const SENSOR_WAITS: Duration = Duration::from_millis(40);

impl Loop {
    /// Commits what should wait no longer.
    pub(super) async fn commit_if_due(&mut self) {
        if self.pending.is_empty() {
            // Repeats alone: their first arrival is kept.
            self.release();
            return;
        }
        let now = Instant::now();
        if self.try_again.is_some_and(|at| now < at) {
            return self.pending.refuse_waiting();
        }
        if self.try_again.is_none() && !self.pending.is_urgent(now) {
            let linger =
                if self.pending.a_sensor_waits() { self.hub.linger.min(SENSOR_WAITS) } else { self.hub.linger };
            let by = self.commit_by.map_or(now + linger, |by| by.min(now + linger));
            self.commit_by = Some(by);
            if now < by {
                return;
            }
        }
        self.commit().await;
    }

    async fn commit(&mut self) {
        let letters = self.pending.take_letters();
        let (entries, rows) = self.pending.take();
        let count = entries.len();
        let began = Instant::now();
        match self.hub.keeper.commit(entries, rows).await {
            Ok(_) => {
                self.hub.metrics.commits.inc();
                self.hub.metrics.commit_seconds.observe(began.elapsed().as_secs_f64());
                self.commit_by = None;
                self.release();
                self.count_entries();
                if self.try_again.take().is_some() {
                    info!(count, "the journal can be written again");
                    self.hub.metrics.journal_up.set(1);
                    self.step(Input::Journal(Line::Up), None);
                    self.pending.hurry();
                }
                self.snapshot_if_due();
            }
            Err(not_kept) => {
                self.hub.metrics.failed_commits.inc();
                let why = crate::chain(&not_kept.why);
                self.pending.put_back(not_kept.entries, not_kept.rows);
                self.pending.refuse_waiting();
                if self.try_again.is_none() {
                    error!(why, count, "the journal can not be written; nothing is acknowledged until it can");
                    self.hub.metrics.journal_up.set(0);
                    self.step(Input::Journal(Line::Down(why)), None);
                }
                self.try_again = Some(Instant::now() + TRY_AGAIN);
            }
        }
        // Whether they could be written down or not: rather twice than never.
        letters.into_iter().for_each(|letter| self.hub.messages.send(letter));
    }

    pub(super) fn count_entries(&self) {
        self.hub.metrics.journal_entries.set(i64::try_from(self.pending.last_kept()).unwrap_or(i64::MAX));
    }

    fn release(&mut self) {
        for ack in self.pending.release() {
            match ack {
                Ack::Sensor(held) => held.release(),
                Ack::Session(ack) => {
                    if let Some(acker) = &self.hub.acker {
                        acker.ack(ack);
                    }
                }
            }
        }
    }

    fn snapshot_if_due(&mut self) {
        if self.pending.is_empty() && self.pending.snapshot_due() {
            self.snapshot();
        }
    }

    fn snapshot(&mut self) {
        match serde_json::to_vec(&self.hub.barn) {
            Ok(bytes) => self.hub.keeper.snapshot(self.pending.last_kept(), start::SNAPSHOT_FORMAT, bytes),
            Err(why) => warn!(%why, "no snapshot could be made; starting will take longer"),
        }
    }

    pub(super) async fn close(mut self) {
        if !self.pending.is_empty() {
            self.commit().await;
        }
        if self.pending.is_empty() {
            self.release();
            self.snapshot();
        }
        if let Err(why) = self.hub.keeper.close() {
            error!(why = crate::chain(&why), "the journal did not close well; what was acknowledged is kept");
        }
    }
}
