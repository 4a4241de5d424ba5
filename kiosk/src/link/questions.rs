//! Questions to the hub whose answer only the kiosk needs: is this PIN right, who could stand in. They are asked at once
//! or not at all: nothing of it is kept for later.

use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::time::Duration;

use bellmare_barn::id::{BadgeId, PersonId, RideId};
use bellmare_barn::prep::for_aisle::ForAisle;
use bellmare_barn::refusal::{Because, Refusal};
use serde::{Deserialize, Serialize};

use super::{Hub, agent};

/// A question.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Question {
    /// Is this the PIN of that person?
    Pin {
        /// Whose.
        person: PersonId,
        /// Six digits.
        pin: String,
    },
    /// Whose badge is this? Asked where it shall sign nobody in or out.
    Whose {
        /// Which.
        badge: BadgeId,
    },
    /// Staff mode is over.
    EndStaff {
        /// The token that ends.
        token: String,
    },
    /// Who could take this ride?
    StandIns {
        /// Which ride.
        ride: RideId,
        /// The token of who acts as staff.
        token: String,
    },
}

/// Who could take a ride, or why that is not known.
#[derive(Clone, PartialEq, Debug)]
pub struct StandInsAnswer {
    /// Which ride.
    pub ride: RideId,
    /// Every other horse, those that fit first; or why not.
    pub horses: Result<Vec<ForAisle>, Refusal>,
}

/// An answer.
#[derive(Clone, PartialEq, Debug)]
pub enum Reply {
    /// The PIN is right.
    Staff {
        /// Whose it is.
        person: PersonId,
        /// What their touches carry from now on.
        token: String,
        /// After how many seconds without a touch that ends.
        ends_s: u64,
    },
    /// It is not, or can not be asked now.
    NotStaff {
        /// Whose it would have been.
        person: PersonId,
        /// Why.
        refusal: Refusal,
        /// How many seconds to wait before the next try.
        wait_s: u64,
    },
    /// Whose badge it is; why that is not known.
    Whose(Result<PersonId, Refusal>),
    /// Who could stand in.
    StandIns(StandInsAnswer),
}

/// Where questions are put. Cheap to clone.
#[derive(Clone, Debug)]
pub struct Asker(SyncSender<Question>);

impl Asker {
    /// Asks; false where the line is busy with too many already.
    pub fn ask(&self, question: Question) -> bool {
        self.0.try_send(question).is_ok()
    }
}

/// A PIN is typed again sooner than this many questions wait.
const MOST: usize = 8;
/// A hub that takes longer is taken for silent: argon2id takes a small board a second or two.
const WITHIN: Duration = Duration::from_secs(10);

/// Starts the thread that asks, and tells `tell` what came of each question.
///
/// # Errors
/// Where no thread can be started.
pub fn start(hub: Hub, kiosk: String, tell: impl Fn(Reply) + Send + 'static) -> std::io::Result<Asker> {
    let (sender, receiver) = sync_channel(MOST);
    std::thread::Builder::new().name("questions".to_owned()).spawn(move || run(&hub, &kiosk, &receiver, &tell))?;
    Ok(Asker(sender))
}

fn run(hub: &Hub, kiosk: &str, receiver: &Receiver<Question>, tell: &impl Fn(Reply)) {
    let agent = agent(WITHIN);
    while let Ok(question) = receiver.recv() {
        match question {
            Question::Pin { person, pin } => tell(ask_pin(&agent, hub, kiosk, person, &pin)),
            Question::Whose { badge } => tell(Reply::Whose(ask_whose(&agent, hub, &badge))),
            Question::EndStaff { token } => {
                // Where the hub does not hear it, staff mode ends by itself a minute later.
                let _unheard = with_key(hub, agent.post(format!("{}/staff/end", hub.url)))
                    .send_json(serde_json::json!({ "kiosk": kiosk, "token": token }));
            }
            Question::StandIns { ride, token } => {
                let horses = ask_stand_ins(&agent, hub, &ride, &token);
                tell(Reply::StandIns(StandInsAnswer { ride, horses }));
            }
        }
    }
}

#[derive(Serialize)]
struct Shown<'a> {
    kiosk: &'a str,
    person: &'a PersonId,
    pin: &'a str,
}

#[derive(Deserialize)]
struct Admitted {
    token: String,
    ends_s: u64,
}

#[derive(Deserialize, Default)]
struct Turned {
    #[serde(flatten)]
    refusal: Option<Refusal>,
    #[serde(default)]
    wait_s: u64,
}

/// What the hub says of it, or that it has answered with nothing that is known.
fn turned(answer: &mut ureq::http::Response<ureq::Body>) -> (Refusal, u64) {
    let Turned { refusal, wait_s } = answer.body_mut().read_json().unwrap_or_default();
    (refusal.unwrap_or_else(|| no_answer(format!("the hub answered {}", answer.status()))), wait_s)
}

fn no_answer(why: impl ToString) -> Refusal {
    Because::NoAnswer.says(why.to_string())
}

fn ask_pin(agent: &ureq::Agent, hub: &Hub, kiosk: &str, person: PersonId, pin: &str) -> Reply {
    let request = with_key(hub, agent.post(format!("{}/staff", hub.url)));
    let unheard = |refusal| Reply::NotStaff { person: person.clone(), refusal, wait_s: 0 };
    let mut answer = match request.send_json(Shown { kiosk, person: &person, pin }) {
        Ok(answer) => answer,
        Err(why) => return unheard(no_answer(why)),
    };
    if answer.status().is_success() {
        return match answer.body_mut().read_json::<Admitted>() {
            Ok(Admitted { token, ends_s }) => Reply::Staff { person, token, ends_s },
            Err(why) => unheard(no_answer(why)),
        };
    }
    let (refusal, wait_s) = turned(&mut answer);
    Reply::NotStaff { person, refusal, wait_s }
}

#[derive(Deserialize)]
struct Named {
    person: PersonId,
}

fn ask_whose(agent: &ureq::Agent, hub: &Hub, badge: &BadgeId) -> Result<PersonId, Refusal> {
    let request = with_key(hub, agent.get(format!("{}/badges/{badge}", hub.url)));
    let mut answer = request.call().map_err(no_answer)?;
    if answer.status().is_success() {
        return answer.body_mut().read_json::<Named>().map(|named| named.person).map_err(no_answer);
    }
    Err(turned(&mut answer).0)
}

#[derive(Deserialize)]
struct Horses {
    horses: Vec<ForAisle>,
}

fn ask_stand_ins(agent: &ureq::Agent, hub: &Hub, ride: &RideId, token: &str) -> Result<Vec<ForAisle>, Refusal> {
    let request = with_key(hub, agent.get(format!("{}/stand-ins/{ride}", hub.url))).header("Staff-Token", token);
    let mut answer = request.call().map_err(no_answer)?;
    if answer.status().is_success() {
        return answer.body_mut().read_json::<Horses>().map(|list| list.horses).map_err(no_answer);
    }
    Err(turned(&mut answer).0)
}

fn with_key<B>(hub: &Hub, request: ureq::RequestBuilder<B>) -> ureq::RequestBuilder<B> {
    match hub.bearer() {
        Some(bearer) => request.header("Authorization", bearer),
        None => request,
    }
}
