//! What waits for one line, and when it is tried: a mail server, a program that takes messages over HTTP.
//!
//! Terms: the line is *down* from an attempt that did not reach it until one that did; while it is, everything waits together,
//! and attempts come ever more seldom. A receiver may *refuse* a letter while the line is up: then that letter waits alone. A
//! letter that was held up is *out of date* once it is old or what it tells is over. Two and more of these to one receiver are
//! told in one letter, so that a line that comes back does not bring a hundred.
//!
//! Pure: it knows times, and neither clocks nor lines.

use std::collections::{BTreeMap, BTreeSet, VecDeque};

use bellmare_barn::tell::message::{MessageId, Outcome, To};
use bellmare_barn::time::Mono;
use sha2::{Digest as _, Sha256};

use super::letter::Letter;
use crate::journal::outbox::Settled;

/// The first attempt after one that failed, in milliseconds.
const FIRST_PAUSE: u64 = 5_000;
/// Pauses double up to this.
const LONGEST_PAUSE: u64 = 15 * 60_000;
/// A letter that has not gone out for so long is told to have failed, so that others are told of what it says.
const FAILED_AFTER: u64 = 2 * 60_000;
/// A letter that could not be sent for so long is given up: nobody asks for last week's alarms.
const GIVEN_UP_AFTER: u64 = 7 * 24 * 3_600_000;

/// Why an attempt failed.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Fault {
    /// The line: nothing can be sent by it just now.
    Line(String),
    /// The letter was refused; others may pass.
    Refused(String),
}

/// What is sent in one go.
#[derive(Clone, PartialEq, Debug)]
pub enum Parcel {
    /// A letter as it was written.
    One(Box<Letter>),
    /// What was held up and is out of date, in one.
    Sum(Sum),
}

/// Letters to one receiver that are out of date.
#[derive(Clone, PartialEq, Debug)]
pub struct Sum {
    /// Made of those of the letters: the same where the same letters are summed up again.
    pub id: String,
    /// To whom.
    pub to: To,
    /// What is summed up, oldest first.
    pub letters: Vec<Letter>,
    /// The alarms among them that are over.
    pub over: BTreeSet<u64>,
}

/// What became of a letter, for the barn and for the outbox.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Report {
    /// Which letter.
    pub letter: String,
    /// Its message.
    pub message: MessageId,
    /// For the barn; none where it has been told before.
    pub outcome: Option<Outcome>,
    /// For the outbox; none where it waits on.
    pub settled: Option<Settled>,
}

#[derive(Clone, PartialEq, Debug)]
struct Waiting {
    letter: Letter,
    /// How often it was refused, and until when it waits alone.
    refused: u32,
    not_before: Mono,
    /// True where it was tried in vain, or has waited since before the hub started.
    held_up: bool,
    /// True where the barn knows that it has not gone out.
    told: bool,
}

#[derive(Clone, PartialEq, Debug)]
struct Down {
    attempts: u32,
    since: Mono,
    last: Mono,
    next: Mono,
}

/// What waits for one line.
#[derive(Clone, PartialEq, Debug)]
pub struct Queue {
    waiting: VecDeque<Waiting>,
    over: BTreeSet<u64>,
    down: Option<Down>,
    outdated_after: u64,
}

impl Queue {
    /// An empty one. What was held up is out of date after so many milliseconds.
    pub fn new(outdated_after: u64) -> Self {
        Self { waiting: VecDeque::new(), over: BTreeSet::new(), down: None, outdated_after }
    }

    /// How many wait.
    pub fn len(&self) -> usize {
        self.waiting.len()
    }

    /// True where nothing waits.
    pub fn is_empty(&self) -> bool {
        self.waiting.is_empty()
    }

    /// Takes a letter, `held_up` where it has waited since before the hub started. One that waits already changes nothing. A new
    /// letter has a line that is down tried soon: it may be up again, and the letter may be pressing.
    pub fn add(&mut self, letter: Letter, held_up: bool) {
        if self.waiting.iter().any(|waiting| waiting.letter.id == letter.id) {
            return;
        }
        self.waiting.push_back(Waiting { letter, refused: 0, not_before: Mono(0), held_up, told: false });
        if let Some(down) = &mut self.down {
            down.next = down.next.min(down.last.plus(FIRST_PAUSE));
        }
    }

    /// An alarm is over.
    pub fn over(&mut self, alarm: u64) {
        if self.waiting.iter().any(|waiting| waiting.letter.alarms().any(|told| told == alarm)) {
            self.over.insert(alarm);
        }
    }

    /// When there is something to try; none where nothing waits.
    pub fn next(&self) -> Option<Mono> {
        let ready = self.waiting.iter().map(|waiting| waiting.not_before).min()?;
        Some(self.down.as_ref().map_or(ready, |down| ready.max(down.next)))
    }

    /// What is to be sent now. It goes on waiting until [`sent`](Self::sent) says that it went out.
    pub fn take(&mut self, now: Mono) -> Option<Parcel> {
        if self.next().is_none_or(|at| now < at) {
            return None;
        }
        let mut outdated: BTreeMap<&To, Vec<&Letter>> = BTreeMap::new();
        for waiting in &self.waiting {
            if waiting.not_before <= now && self.is_outdated(waiting, now) {
                outdated.entry(waiting.letter.to()).or_default().push(&waiting.letter);
            }
        }
        if let Some((to, letters)) = outdated.into_iter().find(|(_, letters)| letters.len() > 1) {
            let letters: Vec<Letter> = letters.into_iter().cloned().collect();
            let over = letters.iter().flat_map(Letter::alarms).filter(|alarm| self.over.contains(alarm)).collect();
            return Some(Parcel::Sum(Sum { id: sum_id(&letters), to: to.clone(), letters, over }));
        }
        let one = self.waiting.iter().find(|waiting| waiting.not_before <= now)?;
        Some(Parcel::One(Box::new(one.letter.clone())))
    }

    /// It went out: the line is up.
    pub fn sent(&mut self, parcel: &Parcel) -> Vec<Report> {
        self.down = None;
        let (outcome, settled) = match parcel {
            Parcel::One(_) => (Outcome::Accepted, Settled::Sent),
            Parcel::Sum(_) => (Outcome::Outdated, Settled::SummedUp),
        };
        let report = |letter: &Letter| Report {
            letter: letter.id.clone(),
            message: letter.number(),
            outcome: Some(outcome.clone()),
            settled: Some(settled),
        };
        let reports = parcel.letters().iter().map(report).collect();
        self.waiting.retain(|waiting| parcel.letters().iter().all(|letter| letter.id != waiting.letter.id));
        self.forget_over();
        reports
    }

    /// It did not go out.
    pub fn failed(&mut self, parcel: &Parcel, fault: &Fault, now: Mono) -> Vec<Report> {
        let why = match fault {
            Fault::Line(why) => {
                let down = self.down.get_or_insert(Down { attempts: 0, since: now, last: now, next: now });
                (down.last, down.next) = (now, now.plus(pause(down.attempts)));
                down.attempts += 1;
                why
            }
            Fault::Refused(why) => {
                self.down = None;
                why
            }
        };
        let down_for = self.down.as_ref().map(|down| now.since(down.since));
        let mut reports = Vec::new();
        for waiting in &mut self.waiting {
            let of_parcel = parcel.letters().iter().any(|letter| letter.id == waiting.letter.id);
            let refused = of_parcel && down_for.is_none();
            if refused {
                waiting.not_before = now.plus(pause(waiting.refused));
                waiting.refused += 1;
            }
            // While the line is down all are held up, tried or not.
            let held_up = of_parcel || down_for.is_some();
            waiting.held_up |= held_up;
            let age = now.since(waiting.letter.message.made.mono);
            let long = age.max(down_for.unwrap_or(0)) >= FAILED_AFTER;
            let given_up = held_up && age >= GIVEN_UP_AFTER;
            if given_up || (!waiting.told && (refused || (held_up && long))) {
                reports.push(Report {
                    letter: waiting.letter.id.clone(),
                    message: waiting.letter.number(),
                    outcome: (!waiting.told).then(|| Outcome::Failed(why.clone())),
                    settled: given_up.then_some(Settled::GivenUp),
                });
                waiting.told = true;
            }
        }
        let given_up = |letter: &str| reports.iter().any(|one| one.settled.is_some() && one.letter == letter);
        self.waiting.retain(|waiting| !given_up(&waiting.letter.id));
        self.forget_over();
        reports
    }

    fn is_outdated(&self, waiting: &Waiting, now: Mono) -> bool {
        let mut alarms = waiting.letter.alarms().peekable();
        let all_over = alarms.peek().is_some() && alarms.all(|alarm| self.over.contains(&alarm));
        waiting.held_up && (all_over || now.since(waiting.letter.message.made.mono) >= self.outdated_after)
    }

    fn forget_over(&mut self) {
        let told: BTreeSet<u64> = self.waiting.iter().flat_map(|waiting| waiting.letter.alarms()).collect();
        self.over.retain(|alarm| told.contains(alarm));
    }
}

impl Parcel {
    /// By which a receiver knows that it came before.
    pub fn id(&self) -> &str {
        match self {
            Self::One(letter) => &letter.id,
            Self::Sum(sum) => &sum.id,
        }
    }

    /// To whom.
    pub fn to(&self) -> &To {
        match self {
            Self::One(letter) => letter.to(),
            Self::Sum(sum) => &sum.to,
        }
    }

    /// The letters in it.
    pub fn letters(&self) -> &[Letter] {
        match self {
            Self::One(letter) => std::slice::from_ref(letter),
            Self::Sum(sum) => &sum.letters,
        }
    }
}

/// How long to wait after so many attempts that failed before.
fn pause(before: u32) -> u64 {
    FIRST_PAUSE.saturating_mul(1 << before.min(20)).min(LONGEST_PAUSE)
}

fn sum_id(letters: &[Letter]) -> String {
    let mut hash = Sha256::new();
    letters.iter().for_each(|letter| hash.update(format!("{}\n", letter.id)));
    let digest = hash.finalize();
    let journal = letters.first().map_or("", |letter| letter.journal.as_str());
    let digits: String = digest.iter().take(8).map(|byte| format!("{byte:02x}")).collect();
    format!("{journal}-sum-{digits}")
}

#[cfg(test)]
mod tests;
