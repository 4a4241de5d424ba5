//! The people of the invented barn, at a kiosk of theirs: they look at the board as anybody would, begin and finish what it
//! gives them to do, bring horses back, take note of alarms, and say what `said` has them say.

use std::collections::BTreeMap;
use std::net::SocketAddr;
use std::time::Duration;

use bellmare_barn::board::{AlarmWhat, Board, Clock, Job, NextJob, PersonView, Priority, RideView, Who};
use bellmare_barn::book::Role;
use bellmare_barn::id::{HorseId, PersonId, RideId};
use bellmare_barn::input::{Action, Mark, Said, Step, Touch};
use tokio::sync::watch;

use super::World;
use super::said::said;
use crate::settings::Settings;

/// They look at the board this often, in the barn's milliseconds.
const LOOK_EVERY_MS: u64 = 30_000;
/// Minutes that a job takes a good pair of hands.
const BRUSH: u16 = 11;
const TACK: u16 = 8;
const PUT_AWAY: u16 = 11;
/// Minutes from the last dismount to the stall.
const WALK_BACK: u32 = 4;
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
        self.bring_back(&board, minute)?;
        self.begin(&board, minute)?;
        self.take_note(&board)?;
        for (by, action) in said(&board, minute) {
            self.touch_by(by, action)?;
        }
        Ok(())
    }

    fn finish(&mut self, minute: u16) -> Result<(), ureq::Error> {
        let done: Vec<_> =
            self.busy.iter().filter(|(_, busy)| busy.until <= minute).map(|(who, _)| who.clone()).collect();
        for who in done {
            if let Some(Busy { ride, horse, step, .. }) = self.busy.remove(&who) {
                self.touch(Action::Work(Said { ride, horse, step, mark: Mark::Done, by: Some(who) }))?;
            }
        }
        Ok(())
    }

    /// Whoever is free begins what is theirs by the plan; a horse leader takes the next horse that is ready, and staff do
    /// what they are called to.
    fn begin(&mut self, board: &Board, minute: u16) -> Result<(), ureq::Error> {
        for person in board.people.iter().filter(|person| person.since.is_some()) {
            if self.busy.contains_key(&person.id) {
                continue;
            }
            let Some(job) = board.next.iter().find(|job| self.is_for(person, job, minute)) else { continue };
            let (step, takes) = match job.job {
                Job::Brush => (Step::Brush, BRUSH),
                Job::Tack => (Step::Tack, TACK),
                Job::LeadOut => (Step::LeadOut, 1),
                Job::PutAway => (Step::PutAway, PUT_AWAY),
            };
            let (ride, horse, by) = (job.ride.clone(), job.horse.clone(), Some(person.id.clone()));
            let busy = Busy { ride: ride.clone(), horse: horse.clone(), step, until: minute + takes };
            self.busy.insert(person.id.clone(), busy);
            self.touch(Action::Work(Said { ride, horse, step, mark: Mark::Begun, by }))?;
        }
        Ok(())
    }

    fn is_for(&self, person: &PersonView, job: &NextJob, minute: u16) -> bool {
        let due = match job.job {
            Job::LeadOut => minute + LEAD_OUT >= job.done_by.minutes(),
            Job::Brush | Job::Tack | Job::PutAway => minute >= job.start_by.minutes(),
        };
        let theirs = match (&job.who, person.role) {
            (Who::Person { id, .. }, _) => *id == person.id,
            (Who::Staff, role) => matches!(role, Role::Staff | Role::EquineProfessional),
            (Who::Open, Role::HorseLeader) => job.job == Job::LeadOut,
            (Who::Open, _) => false,
        };
        let at_once = self.busy.values().all(|busy| busy.ride != job.ride);
        due && theirs && !job.under_way && at_once
    }

    /// Horse leaders bring a horse back when its lesson is over.
    fn bring_back(&mut self, board: &Board, minute: u16) -> Result<(), ureq::Error> {
        let Some(leader) = board.people.iter().find(|p| p.since.is_some() && p.role == Role::HorseLeader) else {
            return Ok(());
        };
        let horses = board.stalls.iter().filter_map(|stall| stall.horse.as_ref());
        let rides = horses.flat_map(|horse| horse.rides.iter().map(move |ride| (horse, ride)));
        let over = |ride: &RideView| {
            let minutes = board.lessons.iter().find(|lesson| lesson.start == ride.mount).map_or(45, |l| l.minutes);
            u32::from(minute) >= u32::from(ride.mount.minutes()) + minutes + WALK_BACK
        };
        let out = |ride: &RideView| ride.links.lead_out == Mark::Done && ride.links.bring_back != Mark::Done;
        let back: Vec<_> = rides
            .filter(|(_, ride)| out(ride) && over(ride))
            .map(|(horse, ride)| (horse.id.clone(), ride.id.clone()))
            .collect();
        for (horse, ride) in back {
            let by = Some(leader.id.clone());
            self.touch(Action::Work(Said { ride, horse, step: Step::BringBack, mark: Mark::Done, by }))?;
        }
        Ok(())
    }

    fn take_note(&mut self, board: &Board) -> Result<(), ureq::Error> {
        let staff = |person: &&PersonView| {
            person.since.is_some() && matches!(person.role, Role::Staff | Role::Manager | Role::EquineProfessional)
        };
        let Some(staff) = board.people.iter().find(staff) else { return Ok(()) };
        let unseen = board.alarms.iter().find(|alarm| {
            let pressing = alarm.priority == Priority::High || matches!(alarm.what, AlarmWhat::Wrong { .. });
            alarm.seen_by.is_none() && !alarm.over && pressing && alarm.for_min >= NOTED_AFTER
        });
        match unseen {
            Some(alarm) => self.touch(Action::Acknowledge { alarm: alarm.id, by: staff.id.clone() }),
            None => Ok(()),
        }
    }

    fn touch(&mut self, action: Action) -> Result<(), ureq::Error> {
        self.touch_by(None, action)
    }

    fn touch_by(&mut self, by: Option<PersonId>, action: Action) -> Result<(), ureq::Error> {
        self.touches += 1;
        let id = format!("demo-{}-{}", std::process::id(), self.touches);
        let touch = Touch { id: id.as_str().into(), kiosk: "demo".into(), held_ms: 0, by, staff: None, action };
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
