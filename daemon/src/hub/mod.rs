//! The hub's loop: one task owns the barn. Everything that happens comes to it, everything that must be done leaves it.
//!
//! Each turn, in this order:
//!
//! 1. **gather** whatever has arrived: messages, touches, a new book, a deadline of the barn's;
//! 2. **step** the barn with each, and note what it orders;
//! 3. **commit** what arrived to the journal, all of it at once; alarms go out even where that fails;
//! 4. **acknowledge** to the broker or the sensor and **answer** the kiosks what is now kept, and nothing else;
//! 5. **publish** the board, at most a few times a second;
//! 6. **wait** for the next arrival, the barn's next deadline, or the next minute on its clock.
//!
//! A crash between any two may bring a message again and loses none. Plans are made beside the loop, in `planner`, and come
//! back as inputs; so does what became of the letters to people, which are written down in step 3 with what caused them.
//!
//! A commit costs a small board's card more than anything else does. A reading that changes nothing on the screen may wait
//! a little for company while the barn is quiet, and a moment where its sensor waits to be told that it is kept; a tap, a touch, a line going down or anything that somebody would see
//! is committed at once.
//!
//! When the journal can not be written, nothing is acknowledged and kiosks are told so; the barn goes on watching, alarms
//! go out, and what is not kept yet is offered again every second. Once [`MOST_PENDING`] wait, nothing more is taken in.

pub mod deliveries;
pub mod feed;
mod keep;
mod pending;
pub mod planner;
mod requests;
pub mod room;
pub mod start;

use std::sync::Arc;
use std::time::{Duration, Instant};

use bellmare_barn::barn::Barn;
use bellmare_barn::board::AlarmLine;
use bellmare_barn::effect::Effect;
use bellmare_barn::input::{Input, Line, NewPlan, Sent};
use bellmare_barn::time::Now;
use tokio::sync::{mpsc, watch};
use tokio::time::sleep_until;
use tracing::{info, warn};

use self::deliveries::Deliveries;
use self::feed::Feed;
use self::pending::Pending;
use self::planner::Planner;
pub use self::requests::{Looked, Reply, Request};
use crate::clock::{self, Clock};
use crate::devices::intake::{Intake, Message};
use crate::devices::ledger::Ledger;
use crate::devices::mqtt::Acker;
use crate::journal::outbox::Change;
use crate::journal::{Beside, Keeper};
use crate::messages::Messages;
use crate::messages::lamp::{self, Picture};
use crate::messages::queue::Report;
use crate::metrics::Metrics;

/// Messages taken in one turn.
const GATHER: usize = 1_000;
/// Entries not kept yet beyond which nothing more is taken in. Each is some hundred bytes.
pub const MOST_PENDING: usize = 20_000;
/// Boards are published at most so often.
const BOARD_GAP: Duration = Duration::from_millis(250);
/// The watchdog is told at least this often that the loop turns.
const HEARTBEAT: Duration = Duration::from_secs(2);

/// What the loop works with.
pub struct Hub {
    /// The barn.
    pub barn: Barn,
    /// The clock.
    pub clock: Clock,
    /// The journal's thread.
    pub keeper: Keeper,
    /// This boot's number.
    pub boot: u32,
    /// The number of the journal's last entry.
    pub last_seq: u64,
    /// Messages taken lately.
    pub deliveries: Deliveries,
    /// Tells a broker elsewhere what is kept.
    pub acker: Option<Acker>,
    /// What nobody could use.
    pub ledger: Arc<Ledger>,
    /// Numbers.
    pub metrics: Arc<Metrics>,
    /// Where boards go.
    pub feed: Feed,
    /// Who makes plans.
    pub planner: Planner,
    /// How long a reading that changes nothing may wait for company.
    pub linger: Duration,
    /// Who carries messages.
    pub messages: Messages,
    /// Where the broker is told what stands, and under which prefix.
    pub lamp: Option<(String, watch::Sender<Picture>)>,
    /// Measures the disk of the journal.
    pub disk: room::Gauge,
}

/// What comes back to the loop from what runs beside it.
pub struct Back {
    /// Plans that people are to see.
    pub plans: mpsc::UnboundedReceiver<NewPlan>,
    /// What became of letters.
    pub reports: mpsc::UnboundedReceiver<Report>,
}

struct Loop {
    hub: Hub,
    pending: Pending,
    /// When the last failed commit is tried again.
    try_again: Option<Instant>,
    /// When the oldest reading that may wait has waited long enough.
    commit_by: Option<Instant>,
    /// The board shows something that has changed.
    dirty: bool,
    last_board: Option<Instant>,
    last_now: Option<Now>,
    last_beat: Option<Instant>,
    /// Topics without a place and messages refused, as the board shows them.
    totals: (u32, u64),
}

/// Steps the barn with `first`, then runs until `stop` says so or nobody is left to send; then commits what is there, keeps
/// a snapshot and closes.
pub async fn run(
    hub: Hub,
    first: Vec<Input>,
    mut intake: mpsc::Receiver<Intake>,
    mut requests: mpsc::Receiver<Request>,
    mut back: Back,
    mut stop: watch::Receiver<bool>,
) {
    let mut this = Loop {
        pending: Pending::new(hub.last_seq),
        hub,
        try_again: None,
        commit_by: None,
        dirty: true,
        last_board: None,
        last_now: None,
        last_beat: None,
        totals: (0, 0),
    };
    // It could be opened and read.
    this.hub.metrics.journal_up.set(1);
    this.count_entries();
    first.into_iter().for_each(|input| this.step(input, None));
    this.look_at_clock();
    this.go_on();
    this.pending.hurry();
    this.commit_if_due().await;
    this.publish_if_due();
    crate::watchdog::ready();
    let mut gathered = Vec::with_capacity(GATHER);
    loop {
        let wake = this.wake();
        let open = this.pending.len() < MOST_PENDING;
        tokio::select! {
            biased;
            _ = stop.changed() => break,
            Some(request) = requests.recv() => this.request(request),
            Some(plan) = back.plans.recv() => this.plan(plan),
            Some(report) = back.reports.recv() => this.report(report),
            taken = intake.recv_many(&mut gathered, GATHER), if open => {
                if taken == 0 {
                    break;
                }
                this.intake(&mut gathered);
            }
            () = sleep_until(wake.into()) => {}
        }
        // A request may have come alone: take what the sensors sent meanwhile into the same commit.
        while gathered.len() < GATHER && this.pending.len() < MOST_PENDING {
            let Ok(message) = intake.try_recv() else { break };
            gathered.push(message);
        }
        this.intake(&mut gathered);
        this.time_passes();
        this.commit_if_due().await;
        this.publish_if_due();
        this.beat();
    }
    crate::watchdog::stopping();
    // What went out until now need not go out again.
    while let Ok(report) = back.reports.try_recv() {
        this.report(report);
    }
    this.close().await;
}

impl Loop {
    /// Steps 1 and 2 for what came from the devices.
    fn intake(&mut self, gathered: &mut Vec<Intake>) {
        for one in gathered.drain(..) {
            match one {
                Intake::Message(message) => self.message(message),
                Intake::Line(line) => {
                    self.hub.metrics.broker_up.set(i64::from(line == Line::Up));
                    match &line {
                        Line::Up => info!("the broker is reached"),
                        Line::Down(why) => warn!(%why, "the broker can not be reached"),
                    }
                    self.pending.hurry();
                    self.step(Input::Broker(line), None);
                }
            }
        }
    }

    fn message(&mut self, message: Message) {
        if let Some(delivery) = message.delivery {
            if message.dup && self.hub.deliveries.knows(delivery) {
                self.hub.metrics.repeats.inc();
                self.pending.ack(message.ack);
                return;
            }
            self.hub.deliveries.take(delivery);
        }
        let mut delivery = message.delivery;
        for input in message.inputs {
            if !matches!(input, Input::Reading(_)) {
                self.pending.hurry();
            }
            self.step(input, delivery.take());
        }
        self.pending.ack(message.ack);
    }

    /// People have waited for it.
    fn plan(&mut self, plan: NewPlan) {
        self.pending.hurry();
        self.step(Input::Plan(Arc::new(plan)), None);
    }

    /// What became of a letter: the barn must know, and the outbox.
    fn report(&mut self, report: Report) {
        self.pending.hurry();
        if let Some(how) = report.settled {
            self.pending.beside(Beside::Outbox(Change::Settle { id: report.letter, how }));
        }
        if let Some(outcome) = report.outcome {
            self.step(Input::Sent(Sent { message: report.message, outcome }), None);
        }
    }

    /// Takes up the messages that waited when the hub started.
    fn go_on(&mut self) {
        let board = self.hub.barn.board(self.hub.clock.now());
        let standing = board.alarms.iter().chain(&board.aside).filter(|alarm| !alarm.over).map(|alarm| alarm.id);
        self.hub.messages.go_on(&standing.collect());
    }

    /// The wall clock may have been set, and a deadline may be due. Neither need wait for anything to arrive.
    fn time_passes(&mut self) {
        self.look_at_clock();
        let now = self.hub.clock.now();
        let stepped = self.last_now.is_some_and(|before| clock::stepped(before, now));
        if stepped {
            warn!(wall = ?now.wall, "the wall clock was set");
            self.pending.hurry();
            self.step(Input::Clock, None);
        } else if self.hub.barn.next_deadline().is_some_and(|at| at <= now.mono) {
            let effects = self.hub.barn.step(now, Input::Tick);
            self.carry_out(effects);
        }
        let minute = |now: Now| now.wall.get().map(|wall| wall.0.div_euclid(60_000));
        self.dirty |= self.last_now.is_none_or(|before| minute(before) != minute(now));
        self.last_now = Some(now);
    }

    /// The barn must know whose word the time is.
    fn look_at_clock(&mut self) {
        let source = self.hub.clock.source();
        if source != self.hub.barn.clock_source() {
            info!(?source, "the wall clock comes from elsewhere now");
            self.pending.hurry();
            self.step(Input::ClockSource(source), None);
            self.dirty = true;
        }
    }

    /// The devices' refusals do not pass through here, and are on the board all the same.
    fn look_at_ledger(&mut self) {
        let totals = self.hub.ledger.totals();
        self.dirty |= totals != self.totals;
        self.totals = totals;
    }

    fn step(&mut self, input: Input, delivery: Option<crate::journal::Delivery>) {
        let now = self.hub.clock.now();
        self.hub.metrics.inputs.inc();
        self.pending.enter(self.hub.boot, now, delivery, input.clone());
        let effects = self.hub.barn.step(now, input);
        self.carry_out(effects);
    }

    /// Step 3's other half: what the barn orders. Answers wait for the commit; alarms do not.
    fn carry_out(&mut self, effects: Vec<Effect>) {
        for effect in effects {
            match effect {
                Effect::Raise(alarm) => {
                    self.hub.metrics.alarms_raised.inc();
                    self.pending.hurry();
                    warn!(alarm = alarm.id, priority = ?alarm.priority, "{}", alarm.what);
                }
                Effect::End(alarm) => {
                    self.pending.hurry();
                    self.hub.messages.over(alarm.id);
                    info!(alarm = alarm.id, "over: {}", alarm.what);
                }
                Effect::Answer { touch, answer } => self.pending.answer(&touch, answer),
                Effect::Refuse { from, why } => self.hub.ledger.refused_by_barn(&from, &why, self.hub.clock.now().wall),
                Effect::Plan(order) => self.hub.planner.order(order),
                Effect::SetClock(wall) => {
                    warn!(%wall, "the wall clock was set by hand");
                    if let Err(why) = self.hub.clock.set(wall) {
                        warn!(%why, "it can not be kept: when the hub starts again it must be set again");
                    }
                }
                Effect::Tell(message) => {
                    let wall = self.hub.clock.now().wall;
                    if let Some((letter, change)) = self.hub.messages.write(*message, wall) {
                        self.pending.beside(Beside::Outbox(change));
                        self.pending.post(letter);
                    }
                }
                Effect::Keep(record) => self.pending.beside(Beside::Alarm(record)),
                Effect::Redraw => {
                    self.dirty = true;
                    self.pending.hurry();
                }
            }
        }
    }

    /// Step 5.
    fn publish_if_due(&mut self) {
        let due = self.last_board.is_none_or(|last| last.elapsed() >= BOARD_GAP);
        if !self.dirty || !due {
            return;
        }
        let mut board = self.hub.barn.board(self.hub.clock.now());
        // What the barn refused stands in the ledger too.
        (board.unplaced, board.refused) = self.totals;
        if let Some((prefix, lamp)) = &self.hub.lamp {
            let alarms: Vec<AlarmLine> = board.alarms.iter().chain(&board.aside).cloned().collect();
            let picture = lamp::picture(prefix, &alarms);
            lamp.send_if_modified(|shown| {
                *shown != picture && {
                    *shown = picture;
                    true
                }
            });
        }
        let standing = board.alarms.iter().filter(|alarm| !alarm.over).count();
        // Counted and not kept along: an alarm may be raised again when it gets worse, and stand from before a restart.
        self.hub.metrics.alarms_standing.set(i64::try_from(standing).unwrap_or(i64::MAX));
        self.hub.feed.publish(&board);
        self.hub.metrics.boards.inc();
        self.last_board = Some(Instant::now());
        self.dirty = false;
    }

    /// The loop has turned, and all its steps with it.
    fn beat(&mut self) {
        if self.last_beat.is_none_or(|last| last.elapsed() >= HEARTBEAT) {
            crate::watchdog::alive();
            self.look_at_ledger();
            if let Some(room) = self.hub.disk.look() {
                self.step(Input::Disk(room), None);
            }
            self.last_beat = Some(Instant::now());
        }
    }

    /// Step 6: when to look again though nothing arrives.
    fn wake(&self) -> Instant {
        let now = Instant::now();
        let clock = &self.hub.clock;
        let board = self.dirty.then(|| self.last_board.map_or(now, |last| last + BOARD_GAP));
        let deadline = self.hub.barn.next_deadline().map(|at| clock.when(at));
        let minute = clock
            .now()
            .wall
            .get()
            .map(|wall| now + clock.real(60_000 - u64::try_from(wall.0.rem_euclid(60_000)).unwrap_or(0)));
        let commit = self.try_again.or(self.commit_by);
        [board, deadline, minute, commit].into_iter().flatten().fold(now + HEARTBEAT, Instant::min)
    }
}
