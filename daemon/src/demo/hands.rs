//! The people of the invented barn, at a kiosk of theirs: they look at the board as anybody would, begin and finish what it
//! says is next, and take note of alarms.

use std::collections::BTreeMap;
use std::net::SocketAddr;
use std::time::Duration;

use bellmare_barn::board::{Board, Clock, Job, NextJob, Pace, PersonView, Priority};
use bellmare_barn::book::Role;
use bellmare_barn::id::{HorseId, PersonId, RideId};
use bellmare_barn::input::{Action, Mark, Step, Touch};
use tokio::sync::watch;

use super::World;
use crate::settings::Settings;

/// They look at the board this often, in the barn's milliseconds.
const LOOK_EVERY_MS: u64 = 30_000;
/// Minutes that a job takes a good pair of hands.
const BRUSH: u16 = 11;
const TACK: u16 = 8;
/// A horse is led out this many minutes before it is mounted.
const LEAD_OUT: u16 = 7;
/// Staff have taken note of an alarm after so many minutes.
const NOTED_AFTER: u32 = 4;

/// All hands.
pub(super) struct Hands {
    world: World,
    agent: ureq::Agent,
    url: String,
    key: Option<String>,
    busy: BTreeMap<PersonId, Busy>,
    touches: u32,
}

struct Busy {
    ride: RideId,
    horse: HorseId,
    step: Step,
    until: u16,
}

impl Hands {
    pub(super) fn new(world: World, web: SocketAddr, settings: &Settings) -> Self {
        let agent = ureq::Agent::config_builder().timeout_global(Some(Duration::from_secs(5))).build().into();
        let key = settings.web.kiosk_keys.values().next().map(|key| key.expose().to_owned());
        Self { world, agent, url: format!("http://{web}"), key, busy: BTreeMap::new(), touches: 0 }
    }

    pub(super) fn start(mut self, stop: watch::Receiver<bool>) -> std::thread::JoinHandle<()> {
        std::thread::spawn(move || {
            while !*stop.borrow() {
                // A hub that does not answer is looked at again: that is all a kiosk can do.
                if let Err(why) = self.look() {
                    tracing::debug!(%why, "no board");
                }
                let pause = self.world.clock.real(LOOK_EVERY_MS).max(Duration::from_millis(50));
                std::thread::sleep(pause.min(Duration::from_millis(500)));
            }
        })
    }

    fn look(&mut self) -> Result<(), ureq::Error> {
        let board: Board =
            self.with_key(self.agent.get(format!("{}/board", self.url))).call()?.body_mut().read_json()?;
        let Clock::Set { time, .. } = board.clock else { return Ok(()) };
        let minute = time.minutes();
        self.finish(minute)?;
        self.begin(&board, minute)?;
        self.take_note(&board)
    }

    fn finish(&mut self, minute: u16) -> Result<(), ureq::Error> {
        let done: Vec<_> =
            self.busy.iter().filter(|(_, busy)| busy.until <= minute).map(|(who, _)| who.clone()).collect();
        for who in done {
            if let Some(Busy { ride, horse, step, .. }) = self.busy.remove(&who) {
                self.touch(Action::Work { ride, horse, step, mark: Mark::Done, by: Some(who) })?;
            }
        }
        Ok(())
    }

    fn begin(&mut self, board: &Board, minute: u16) -> Result<(), ureq::Error> {
        for person in board.people.iter().filter(|person| can_help(person)) {
            if self.busy.contains_key(&person.id) {
                continue;
            }
            let Some(job) = board.next.iter().find(|job| self.is_open(job, minute)) else { return Ok(()) };
            let (step, takes) = match job.job {
                Job::Brush => (Step::Brush, BRUSH),
                Job::Tack => (Step::Tack, TACK),
                Job::LeadOut => (Step::LeadOut, 1),
            };
            let busy = Busy { ride: job.ride.clone(), horse: job.horse.clone(), step, until: minute + takes };
            let (ride, horse) = (busy.ride.clone(), busy.horse.clone());
            self.busy.insert(person.id.clone(), busy);
            self.touch(Action::Work { ride, horse, step, mark: Mark::Begun, by: Some(person.id.clone()) })?;
        }
        Ok(())
    }

    fn is_open(&self, job: &NextJob, minute: u16) -> bool {
        let due = match job.job {
            Job::LeadOut => minute + LEAD_OUT >= job.done_by.minutes(),
            Job::Brush | Job::Tack => matches!(job.pace, Pace::Now | Pace::Late),
        };
        due && job.who.is_none() && self.busy.values().all(|busy| busy.ride != job.ride)
    }

    fn take_note(&mut self, board: &Board) -> Result<(), ureq::Error> {
        let staff = |person: &&PersonView| {
            person.since.is_some() && matches!(person.role, Role::Staff | Role::Manager | Role::EquineProfessional)
        };
        let Some(staff) = board.people.iter().find(staff) else { return Ok(()) };
        let unseen = board.alarms.iter().find(|alarm| {
            alarm.seen_by.is_none() && !alarm.over && alarm.priority == Priority::High && alarm.for_min >= NOTED_AFTER
        });
        match unseen {
            Some(alarm) => self.touch(Action::Acknowledge { alarm: alarm.id, by: staff.id.clone() }),
            None => Ok(()),
        }
    }

    fn touch(&mut self, action: Action) -> Result<(), ureq::Error> {
        self.touches += 1;
        let id = format!("demo-{}-{}", std::process::id(), self.touches);
        let touch = Touch { id: id.as_str().into(), kiosk: "demo".into(), held_ms: 0, action };
        self.with_key(self.agent.post(format!("{}/touches", self.url))).send_json(&touch)?;
        Ok(())
    }

    fn with_key<B>(&self, request: ureq::RequestBuilder<B>) -> ureq::RequestBuilder<B> {
        match &self.key {
            Some(key) => request.header("Authorization", format!("Bearer {key}")),
            None => request,
        }
    }
}

fn can_help(person: &PersonView) -> bool {
    person.since.is_some() && matches!(person.role, Role::Groom | Role::HorseLeader)
}
