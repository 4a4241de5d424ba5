//! What the web asks of the hub, and how each question is answered: at once from the barn, beside the loop, or once it is kept.

use std::collections::BTreeMap;
use std::sync::Arc;

use bellmare_barn::alarm::record::Record;
use bellmare_barn::barn::NoTry;
use bellmare_barn::board::{AlarmLine, Board, SensorView};
use bellmare_barn::book::Book;
use bellmare_barn::effect::Answer;
use bellmare_barn::id::{BadgeId, KioskId, PersonId, RideId, TouchId};
use bellmare_barn::input::{Input, Pin, PinTried, TakenByLink, Touch};
use bellmare_barn::pins::PinHash;
use bellmare_barn::prep::stand_in::StandIn;
use bellmare_barn::refusal::Refusal;
use bellmare_barn::time::Wall;
use tokio::sync::oneshot;
use tracing::{info, warn};

use super::Loop;

/// What the web asks of the hub.
#[derive(Debug)]
pub enum Request {
    /// A touch at a kiosk.
    Touch(Touch, oneshot::Sender<Reply>),
    /// What a touch was answered that came before. Nobody is answered where none came.
    Answered(TouchId, oneshot::Sender<Reply>),
    /// A new book.
    Book(Arc<Book>, oneshot::Sender<Reply>),
    /// A person's new PIN, or none any more.
    Pin(Pin, oneshot::Sender<Reply>),
    /// The hash to check a PIN against, where it may be tried now.
    MayTryPin {
        /// Whose.
        person: PersonId,
        /// Where.
        kiosk: KioskId,
        /// For the hash.
        reply: oneshot::Sender<Result<PinHash, NoTry>>,
    },
    /// A PIN was tried.
    PinTried(PinTried, oneshot::Sender<Reply>),
    /// Who could take a ride of today.
    StandIns(RideId, oneshot::Sender<Result<Vec<StandIn>, Refusal>>),
    /// Whose badge this is.
    Whose(BadgeId, oneshot::Sender<Option<PersonId>>),
    /// What stands, and what was since then.
    Alarms(Option<Wall>, oneshot::Sender<Result<Vec<Record>, String>>),
    /// How every sensor is.
    Sensors(oneshot::Sender<Vec<SensorView>>),
    /// How these alarms are, for this person: the page of a link.
    Look(Vec<u64>, PersonId, oneshot::Sender<Looked>),
    /// A link was followed and its button pressed.
    Take(TakenByLink, oneshot::Sender<Reply>),
}

/// What the page of a link shows.
#[derive(Clone, PartialEq, Debug)]
pub struct Looked {
    /// The barn's name.
    pub barn: String,
    /// What the aisle calls the person; none where the book does not know them.
    pub name: Option<String>,
    /// Those of the alarms that are still on the board.
    pub alarms: Vec<AlarmLine>,
}

/// What the hub says to a request.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Reply {
    /// It is kept, and this is the barn's answer.
    Kept(Answer),
    /// It could not be written down: ask again.
    NotKept,
}

impl Loop {
    pub(super) fn request(&mut self, request: Request) {
        match request {
            Request::Touch(touch, reply) => {
                self.pending.hurry();
                self.pending.ask(touch.id.clone(), reply);
                self.step(Input::Touch(touch), None);
            }
            Request::Book(book, reply) => {
                self.pending.hurry();
                info!(stalls = book.stalls.len(), horses = book.horses.len(), rides = book.rides.len(), "a new book");
                self.step(Input::Book(book), None);
                self.pending.tell(reply, Answer::Done);
            }
            Request::Answered(touch, reply) => {
                if let Some(answer) = self.hub.barn.answered(&touch) {
                    self.pending.hurry();
                    self.pending.tell(reply, answer);
                }
            }
            Request::Pin(pin, reply) => self.pin(pin, reply),
            Request::MayTryPin { person, kiosk, reply } => {
                let now = self.hub.clock.now().mono;
                // Who asked may have gone.
                let _ = reply.send(self.hub.barn.may_try_pin(&person, &kiosk, now));
            }
            Request::PinTried(tried, reply) => {
                self.pending.hurry();
                let PinTried { kiosk, person, right } = &tried;
                match right {
                    true => info!(%kiosk, %person, "staff mode begins"),
                    false => warn!(%kiosk, %person, "a wrong PIN"),
                }
                self.step(Input::PinTried(tried), None);
                self.pending.tell(reply, Answer::Done);
            }
            Request::StandIns(ride, reply) => {
                // Each candidate is tried in a plan of its own: too long for the loop, so a copy of the barn does it.
                let (barn, now) = (self.hub.barn.clone(), self.hub.clock.now());
                tokio::task::spawn_blocking(move || {
                    // Who asked may have gone.
                    let _ = reply.send(barn.stand_ins(&ride, now));
                });
            }
            Request::Whose(badge, reply) => {
                let person = self.hub.barn.book().person_with(&badge).map(|person| person.id.clone());
                // Who asked may have gone.
                let _ = reply.send(person);
            }
            Request::Alarms(since, reply) => self.alarms(since, reply),
            Request::Sensors(reply) => {
                // Who asked may have gone.
                let _ = reply.send(self.hub.barn.sensors(self.hub.clock.now()));
            }
            Request::Look(alarms, person, reply) => {
                // As above.
                let _ = reply.send(self.look(&alarms, &person));
            }
            Request::Take(taken, reply) => {
                self.pending.hurry();
                self.pending.ask(taken.link.clone(), reply);
                self.step(Input::TakenByLink(taken), None);
            }
        }
    }

    fn pin(&mut self, pin: Pin, reply: oneshot::Sender<Reply>) {
        self.pending.hurry();
        let person = &pin.person;
        if pin.hash.is_some()
            && let Err(why) = self.hub.barn.may_have_pin(person)
        {
            return self.pending.tell(reply, Answer::Refused(why));
        }
        info!(%person, set = pin.hash.is_some(), "a PIN was changed");
        self.step(Input::Pin(pin), None);
        self.pending.tell(reply, Answer::Done);
    }

    /// What stands and what the journal has, together: the journal's thread is asked beside the loop.
    fn alarms(&self, since: Option<Wall>, reply: oneshot::Sender<Result<Vec<Record>, String>>) {
        let history = self.hub.keeper.alarms(since);
        let now: BTreeMap<u64, Record> =
            self.hub.barn.alarm_records().map(|record| (record.alarm.id, record.clone())).collect();
        tokio::spawn(async move {
            let kept = match history.await {
                Ok(kept) => kept.map_err(|why| crate::chain(&why)),
                Err(_) => Err("the journal is busy just now: ask again".to_owned()),
            };
            // What stands is the barn's to say: a row may not be kept yet.
            let list = kept.map(|kept| {
                let mut list: BTreeMap<u64, Record> =
                    kept.into_iter().map(|record| (record.alarm.id, record)).collect();
                let known = |id: &u64| list.contains_key(id);
                let fresh: Vec<_> =
                    now.into_iter().filter(|(id, record)| record.ended.is_none() || known(id)).collect();
                list.extend(fresh);
                list.into_values().collect()
            });
            // Who asked may have gone.
            let _ = reply.send(list);
        });
    }

    fn look(&self, alarms: &[u64], person: &PersonId) -> Looked {
        let Board { barn, alarms: standing, aside, people, .. } = self.hub.barn.board(self.hub.clock.now());
        Looked {
            barn,
            name: people.into_iter().find(|one| one.id == *person).map(|one| one.name),
            alarms: standing.into_iter().chain(aside).filter(|alarm| alarms.contains(&alarm.id)).collect(),
        }
    }
}
