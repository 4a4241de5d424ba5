//! What the barn has taken and the journal has not kept yet, and who waits for that: broker and sensors for their acknowledgements,
//! kiosks for their answers.

use std::time::{Duration, Instant};

use bellmare_barn::effect::Answer;
use bellmare_barn::id::TouchId;
use bellmare_barn::input::Input;
use bellmare_barn::time::Now;
use tokio::sync::oneshot;

use super::Reply;
use crate::devices::intake::Ack;
use crate::journal::{Beside, Delivery, Entry};
use crate::messages::letter::Letter;

/// So many entries a second are no quiet barn: waiting for company gains nothing.
const BUSY_A_SECOND: u32 = 20;
/// A snapshot is due after so many entries: a start then replays no more than these.
const SNAPSHOT_EVERY: u64 = 50_000;
/// And after so long, where anything has happened at all.
const SNAPSHOT_AFTER: Duration = Duration::from_secs(15 * 60);

pub(super) struct Pending {
    entries: Vec<Entry>,
    rows: Vec<Beside>,
    letters: Vec<Letter>,
    acks: Vec<Ack>,
    asked: Vec<(TouchId, oneshot::Sender<Reply>)>,
    answered: Vec<(oneshot::Sender<Reply>, Answer)>,
    last_seq: u64,
    last_kept: u64,
    urgent: bool,
    pace: Pace,
    snapshot: (u64, Instant),
}

/// How many entries came in this second and in the one before.
struct Pace {
    began: Instant,
    count: u32,
    before: u32,
}

impl Pending {
    pub(super) fn new(last_seq: u64) -> Self {
        let now = Instant::now();
        Self {
            entries: Vec::new(),
            rows: Vec::new(),
            letters: Vec::new(),
            acks: Vec::new(),
            asked: Vec::new(),
            answered: Vec::new(),
            last_seq,
            last_kept: last_seq,
            urgent: false,
            pace: Pace { began: now, count: 0, before: 0 },
            snapshot: (last_seq, now),
        }
    }

    pub(super) fn len(&self) -> usize {
        self.entries.len()
    }

    pub(super) fn is_empty(&self) -> bool {
        self.entries.is_empty() && self.rows.is_empty()
    }

    /// The number of the last entry that is kept.
    pub(super) fn last_kept(&self) -> u64 {
        self.last_kept
    }

    pub(super) fn enter(&mut self, boot: u32, now: Now, delivery: Option<Delivery>, input: Input) {
        self.last_seq += 1;
        self.pace.count += 1;
        self.entries.push(Entry { seq: self.last_seq, boot, now, delivery, input });
    }

    /// A letter goes out once all entered so far is kept, or can not be.
    pub(super) fn post(&mut self, letter: Letter) {
        self.letters.push(letter);
    }

    /// Letters that have not been handed over.
    pub(super) fn take_letters(&mut self) -> Vec<Letter> {
        std::mem::take(&mut self.letters)
    }

    /// A row to be kept with what is entered; at once, as somebody is to be told of it.
    pub(super) fn beside(&mut self, row: Beside) {
        self.urgent = true;
        self.rows.push(row);
    }

    /// The broker waits to be told that all entered so far is kept.
    pub(super) fn ack(&mut self, ack: Option<Ack>) {
        self.acks.extend(ack);
    }

    /// A sensor holds its line open until what it said is kept.
    pub(super) fn a_sensor_waits(&self) -> bool {
        self.acks.iter().any(|ack| matches!(ack, Ack::Sensor(_)))
    }

    /// A kiosk waits for the answer to its touch.
    pub(super) fn ask(&mut self, touch: TouchId, reply: oneshot::Sender<Reply>) {
        self.asked.push((touch, reply));
    }

    /// The barn's answer to a touch. Nobody may be waiting: the touch came from the journal, or the kiosk has gone.
    pub(super) fn answer(&mut self, touch: &TouchId, answer: Answer) {
        if let Some(place) = self.asked.iter().position(|(asked, _)| asked == touch) {
            let (_, reply) = self.asked.swap_remove(place);
            self.answered.push((reply, answer));
        }
    }

    /// Somebody waits to be told this once all entered so far is kept.
    pub(super) fn tell(&mut self, reply: oneshot::Sender<Reply>, answer: Answer) {
        self.answered.push((reply, answer));
    }

    /// What is entered now must not wait for company.
    pub(super) fn hurry(&mut self) {
        self.urgent = true;
    }

    pub(super) fn is_urgent(&mut self, now: Instant) -> bool {
        let second = Duration::from_secs(1);
        let passed = now.duration_since(self.pace.began);
        if passed >= second {
            let before = if passed < 2 * second { self.pace.count } else { 0 };
            self.pace = Pace { began: now, count: 0, before };
        }
        self.urgent || self.pace.count.max(self.pace.before) >= BUSY_A_SECOND
    }

    /// Everything not kept yet, to be kept.
    pub(super) fn take(&mut self) -> (Vec<Entry>, Vec<Beside>) {
        (std::mem::take(&mut self.entries), std::mem::take(&mut self.rows))
    }

    /// It could not be kept: it stays first in line.
    pub(super) fn put_back(&mut self, mut entries: Vec<Entry>, mut rows: Vec<Beside>) {
        entries.append(&mut self.entries);
        self.entries = entries;
        rows.append(&mut self.rows);
        self.rows = rows;
    }

    /// All is kept: answers go out here, and these acknowledgements may.
    pub(super) fn release(&mut self) -> impl Iterator<Item = Ack> + '_ {
        self.last_kept = self.last_seq;
        self.urgent = false;
        for (reply, answer) in self.answered.drain(..) {
            // The kiosk may have given up waiting; it will ask again and be answered alike.
            let _ = reply.send(Reply::Kept(answer));
        }
        self.acks.drain(..)
    }

    /// It can not be kept just now: who waits at a kiosk is told so, and may ask again.
    pub(super) fn refuse_waiting(&mut self) {
        for (reply, _) in self.answered.drain(..) {
            let _ = reply.send(Reply::NotKept);
        }
    }

    pub(super) fn snapshot_due(&mut self) -> bool {
        let (seq, at) = self.snapshot;
        let entries = self.last_kept.saturating_sub(seq);
        let due = entries >= SNAPSHOT_EVERY || (entries > 0 && at.elapsed() >= SNAPSHOT_AFTER);
        if due {
            self.snapshot = (self.last_kept, Instant::now());
        }
        due
    }
}
