//! Sends touches to the hub, one after the other, each until it is answered. A hub that is silent or busy gets the same
//! touch again under the same id; what it refuses is told to the person.

use std::sync::mpsc::{Receiver, RecvTimeoutError, SyncSender, TrySendError, sync_channel};
use std::time::{Duration, Instant, SystemTime};

use bellmare_barn::effect::Answer;
use bellmare_barn::input::{Action, Touch};

use super::outbox::{MOST, Outbox};
use super::{Backoff, Hub, agent};
use crate::app::Outcome;

/// Where actions are put in. Cheap to clone.
#[derive(Clone, Debug)]
pub struct Sender(SyncSender<Action>);

impl Sender {
    /// Hands an action over; false where too many wait already.
    pub fn send(&self, action: Action) -> bool {
        match self.0.try_send(action) {
            Ok(()) => true,
            Err(TrySendError::Full(_) | TrySendError::Disconnected(_)) => false,
        }
    }
}

/// Starts the thread that sends, and tells `tell` what came of each touch.
///
/// # Errors
/// Where no thread can be started.
pub fn start(hub: Hub, kiosk: String, tell: impl Fn(Outcome) + Send + 'static) -> std::io::Result<Sender> {
    let (sender, receiver) = sync_channel(MOST);
    let outbox = Outbox::new(&kiosk, boot());
    std::thread::Builder::new().name("touches".to_owned()).spawn(move || run(&hub, outbox, &receiver, &tell))?;
    Ok(Sender(sender))
}

/// Tells this run of the program from all others, also on a board whose clock begins anew at each boot.
fn boot() -> u64 {
    let since = SystemTime::now().duration_since(SystemTime::UNIX_EPOCH).unwrap_or_default();
    // The address space is laid out anew at each start: that is random where the clock is not.
    let stack = std::ptr::from_ref(&since).addr() as u64;
    (since.as_nanos() as u64) ^ stack.rotate_left(32) ^ u64::from(std::process::id())
}

fn run(hub: &Hub, mut outbox: Outbox, receiver: &Receiver<Action>, tell: &impl Fn(Outcome)) {
    let agent = agent(Duration::from_secs(10));
    let mut backoff = Backoff::default();
    let mut try_at = Instant::now();
    loop {
        // With nothing to send, wait for a touch; otherwise for a touch or the next try.
        let wait = match outbox.is_empty() {
            true => Duration::from_secs(3600),
            false => try_at.saturating_duration_since(Instant::now()),
        };
        match receiver.recv_timeout(wait) {
            Ok(action) => {
                if !outbox.push(action, Instant::now()) {
                    tell(Outcome::Lost);
                }
            }
            Err(RecvTimeoutError::Timeout) => {}
            Err(RecvTimeoutError::Disconnected) => return,
        }
        if Instant::now() < try_at {
            continue;
        }
        while let Some(touch) = outbox.next(Instant::now()) {
            match post(&agent, hub, &touch) {
                Some(outcome) => {
                    outbox.done(&touch.id);
                    backoff.reset();
                    tell(outcome);
                }
                None => {
                    try_at = Instant::now() + backoff.next_wait();
                    tell(Outcome::Waits);
                    break;
                }
            }
        }
    }
}

/// Sends a touch once; none where it must be sent again.
fn post(agent: &ureq::Agent, hub: &Hub, touch: &Touch) -> Option<Outcome> {
    let mut request = agent.post(format!("{}/touches", hub.url));
    if let Some(bearer) = hub.bearer() {
        request = request.header("Authorization", bearer);
    }
    let mut answer = request.send_json(touch).ok()?;
    let status = answer.status().as_u16();
    match status {
        200..=299 => match answer.body_mut().read_json::<Answer>().ok()? {
            Answer::Done => Some(Outcome::Done),
            Answer::Refused(why) => Some(Outcome::Refused(why)),
        },
        // The hub will not understand the same touch better a second time.
        400..=499 if status != 408 && status != 429 => match answer.body_mut().read_json::<Answer>() {
            Ok(Answer::Refused(why)) => Some(Outcome::Refused(why)),
            Ok(Answer::Done) | Err(_) => Some(Outcome::Refused(format!("the hub answered {status}"))),
        },
        _ => None,
    }
}
