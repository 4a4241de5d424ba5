//! Sends touches to the hub, one after the other, each until it is answered. A hub that is silent or busy gets the same
//! touch again under the same id; what it refuses is told to the person.
//!
//! One thread owns the touches and brings each to the disk as it comes; another waits for the hub. So a touch is safe within
//! milliseconds, also while the hub lets an answer hang.

use std::sync::Arc;
use std::sync::mpsc::{self, Receiver, RecvTimeoutError, SyncSender, TrySendError, sync_channel};
use std::time::{Duration, Instant, SystemTime};

use bellmare_barn::effect::Answer;
use bellmare_barn::id::TouchId;

use super::keep::Folder;
use super::moment::Moment;
use super::outbox::{Kept, MOST, Outbox, Sent};
use super::{Backoff, Hub, agent};
use crate::app::{Given, Outcome};

/// What the owner of the touches hears.
enum Event {
    /// Somebody touched, then.
    Given(Given, Moment),
    /// What came of sending a touch; none where it must be sent again.
    Posted(TouchId, Option<Outcome>),
    /// The window is gone.
    Closed,
}

/// Where touches are put in. When it is dropped, sending ends; what waits is kept.
#[derive(Debug)]
pub struct Sender(SyncSender<Event>);

impl Sender {
    /// Hands a touch over; false where too many wait already.
    pub fn send(&self, given: Given) -> bool {
        match self.0.try_send(Event::Given(given, Moment::now())) {
            Ok(()) => true,
            Err(TrySendError::Full(_) | TrySendError::Disconnected(_)) => false,
        }
    }
}

impl Drop for Sender {
    fn drop(&mut self) {
        // Full, it ends with the program.
        let _ends = self.0.try_send(Event::Closed);
    }
}

/// Starts the threads that keep and send, and tells `tell` what came of each touch. What was kept in the folder is sent first.
///
/// # Errors
/// Where no thread can be started.
pub fn start(
    hub: Hub,
    kiosk: String,
    folder: Option<Arc<Folder>>,
    tell: impl Fn(Outcome) + Send + 'static,
) -> std::io::Result<Sender> {
    let (sender, events) = sync_channel(MOST);
    let (posts, to_post) = mpsc::channel::<Sent>();
    let posted = sender.clone();
    std::thread::Builder::new().name("to the hub".to_owned()).spawn(move || {
        let agent = agent(Duration::from_secs(10));
        for sent in to_post {
            let outcome = post(&agent, &hub, &sent);
            if posted.send(Event::Posted(sent.touch.id, outcome)).is_err() {
                return;
            }
        }
    })?;
    let mut owner = Owner { outbox: Outbox::new(&kiosk, boot()), disk: Disk { folder, complained: false }, posts };
    std::thread::Builder::new().name("touches".to_owned()).spawn(move || owner.run(&events, &tell))?;
    Ok(Sender(sender))
}

/// Tells this run of the program from all others, also on a board whose clock begins anew at each boot.
fn boot() -> u64 {
    let since = SystemTime::now().duration_since(SystemTime::UNIX_EPOCH).unwrap_or_default();
    // The address space is laid out anew at each start: that is random where the clock is not.
    let stack = std::ptr::from_ref(&since).addr() as u64;
    (since.as_nanos() as u64) ^ stack.rotate_left(32) ^ u64::from(std::process::id())
}

struct Owner {
    outbox: Outbox,
    disk: Disk,
    posts: mpsc::Sender<Sent>,
}

impl Owner {
    fn run(&mut self, events: &Receiver<Event>, tell: &impl Fn(Outcome)) {
        self.outbox.restore(self.disk.found(), &Moment::now());
        let mut backoff = Backoff::default();
        let (mut try_at, mut on_its_way) = (Instant::now(), false);
        loop {
            if !on_its_way && Instant::now() >= try_at {
                let next = self.outbox.next(&Moment::now());
                on_its_way = next.is_some_and(|sent| self.posts.send(sent).is_ok());
            }
            // With one on its way or none to send, wait for what happens; otherwise until the next try.
            let wait = match on_its_way || self.outbox.is_empty() {
                true => Duration::from_secs(3600),
                false => try_at.saturating_duration_since(Instant::now()),
            };
            match events.recv_timeout(wait) {
                Ok(Event::Given(given, touched)) => match self.outbox.push(given, touched) {
                    Some((number, kept)) => self.disk.keep(number, kept),
                    None => tell(Outcome::Lost),
                },
                Ok(Event::Posted(id, Some(outcome))) => {
                    on_its_way = false;
                    backoff.reset();
                    if let Some(number) = self.outbox.done(&id) {
                        self.disk.forget(number);
                    }
                    tell(outcome);
                }
                Ok(Event::Posted(_, None)) => {
                    on_its_way = false;
                    try_at = Instant::now() + backoff.next_wait();
                    tell(Outcome::Waits);
                }
                Err(RecvTimeoutError::Timeout) => {}
                Ok(Event::Closed) | Err(RecvTimeoutError::Disconnected) => return,
            }
        }
    }
}

/// The disk, where there is one; that it fails is told once.
struct Disk {
    folder: Option<Arc<Folder>>,
    complained: bool,
}

impl Disk {
    fn found(&mut self) -> Vec<(u64, Kept)> {
        let Some(folder) = &self.folder else { return Vec::new() };
        match folder.touches() {
            Ok(found) => {
                found.damaged.iter().for_each(|told| eprintln!("bellmare-kiosk: a touch is lost: {told}"));
                found.whole
            }
            Err(error) => {
                self.complain(&error);
                Vec::new()
            }
        }
    }

    fn keep(&mut self, number: u64, kept: &Kept) {
        if let Some(Err(error)) = self.folder.as_ref().map(|folder| folder.keep(number, kept)) {
            self.complain(&error);
        }
    }

    fn forget(&mut self, number: u64) {
        if let Some(Err(error)) = self.folder.as_ref().map(|folder| folder.forget(number)) {
            self.complain(&error);
        }
    }

    fn complain(&mut self, error: &std::io::Error) {
        if !self.complained {
            eprintln!("bellmare-kiosk: touches are kept in memory only: {error}");
            self.complained = true;
        }
    }
}

/// Sends a touch once; none where it must be sent again.
fn post(agent: &ureq::Agent, hub: &Hub, sent: &Sent) -> Option<Outcome> {
    let mut request = agent.post(format!("{}/touches", hub.url));
    if let Some(bearer) = hub.bearer() {
        request = request.header("Authorization", bearer);
    }
    let mut answer = request.send_json(sent).ok()?;
    let status = answer.status().as_u16();
    match status {
        200..=299 => match answer.body_mut().read_json::<Answer>().ok()? {
            Answer::Done => Some(Outcome::Done),
            Answer::Refused(why) => Some(Outcome::Refused(why)),
        },
        // The hub will not understand the same touch better a second time.
        400..=499 if status != 408 && status != 429 => match answer.body_mut().read_json::<Answer>() {
            Ok(Answer::Refused(why)) => Some(Outcome::Refused(why)),
            Ok(Answer::Done) | Err(_) => Some(Outcome::Odd(status)),
        },
        _ => None,
    }
}
