//! The threads that carry letters out, one for each line, so that a mail server that hangs keeps no other line waiting. What
//! came of each letter comes back as a report. When to try is for the queue to say; the barn's clock tells the time, so that
//! in a demo days of waiting pass as quickly as everything else.

use std::collections::BTreeSet;
use std::sync::Arc;
use std::sync::mpsc::{self, RecvTimeoutError};
use std::time::{Duration, Instant};

use bellmare_barn::tell::message::{Outcome, To};
use tokio::sync::mpsc::UnboundedSender;
use tracing::{debug, info, warn};

use super::letter::Letter;
use super::mail::MailLine;
use super::queue::{Fault, Parcel, Queue, Report};
use super::webhook::WebhookLine;
use crate::clock::Clock;
use crate::complaint::Complaint;
use crate::journal::outbox::Settled;
use crate::metrics::Metrics;
use crate::settings::Settings;

/// The lines that there are.
pub(super) struct Lines {
    /// To the mail server.
    pub(super) mail: Option<MailLine>,
    /// To a program.
    pub(super) webhook: Option<WebhookLine>,
}

impl Lines {
    /// Those that the settings ask for.
    ///
    /// # Errors
    /// Where a file that they name can not be used.
    pub(super) fn of(settings: &Settings) -> Result<Self, Complaint> {
        let (messages, barn, zone) = (&settings.messages, &settings.limits.barn, settings.limits.zone);
        let mail = messages.mail.as_ref().map(|mail| MailLine::new(mail, &messages.people, barn));
        let webhook = messages.webhook.as_ref().map(|webhook| WebhookLine::new(webhook, barn, zone));
        Ok(Self { mail: mail.transpose()?, webhook: webhook.transpose()? })
    }
}

/// What a line's thread is told.
enum Order {
    /// Send this.
    Send(Box<Letter>),
    /// Send these, which have waited since before the hub started, oldest first; the alarms are over. One order, for a letter
    /// that is taken up before the next has come would go out by itself, and as if its alarm still stood.
    GoOn(Vec<Letter>, BTreeSet<u64>),
    /// An alarm is over.
    Over(u64),
}

/// Takes letters. The threads end when this goes.
pub(super) struct Post {
    mail: Option<mpsc::Sender<Order>>,
    webhook: Option<mpsc::Sender<Order>>,
    reports: UnboundedSender<Report>,
}

impl Post {
    /// Starts the threads. What came of letters goes to `reports`.
    ///
    /// # Errors
    /// As [`Lines::of`].
    pub(super) fn start(
        settings: &Settings,
        clock: &Clock,
        metrics: &Arc<Metrics>,
        reports: UnboundedSender<Report>,
    ) -> Result<Self, Complaint> {
        let lines = Lines::of(settings)?;
        let outdated_after = u64::from(settings.messages.outdated_after_min) * 60_000;
        let carrier = |name| {
            let (sender, orders) = mpsc::channel();
            let carrier = Carrier {
                name,
                orders,
                queue: Queue::new(outdated_after),
                clock: clock.clone(),
                metrics: Arc::clone(metrics),
                reports: reports.clone(),
                down: None,
            };
            (sender, carrier)
        };
        let mail = lines.mail.map(|line| {
            let (sender, carrier) = carrier("mail");
            std::thread::spawn(move || carrier.work(|parcel| line.send(parcel)));
            sender
        });
        let webhook = lines.webhook.map(|line| {
            let (sender, carrier) = carrier("webhook");
            let clock = clock.clone();
            std::thread::spawn(move || carrier.work(|parcel| line.send(parcel, clock.now().wall)));
            sender
        });
        Ok(Self { mail, webhook, reports })
    }

    /// True where a message to these has a way to go.
    pub(super) fn reaches(&self, to: &To) -> bool {
        self.line(to).is_some()
    }

    /// Has a letter sent.
    pub(super) fn send(&self, letter: Letter) {
        match self.line(letter.to()) {
            Some(line) => order(line, Order::Send(Box::new(letter))),
            None => self.no_way(&letter),
        }
    }

    /// Has letters sent that have waited since before the hub started. What is `over` may be out of date.
    pub(super) fn go_on(&self, letters: Vec<Letter>, over: &BTreeSet<u64>) {
        let (some_way, none): (Vec<_>, Vec<_>) = letters.into_iter().partition(|letter| self.reaches(letter.to()));
        none.iter().for_each(|letter| self.no_way(letter));
        let (to_people, to_programs) = some_way.into_iter().partition(|letter| matches!(letter.to(), To::Person(_)));
        for (line, letters) in [(&self.mail, to_people), (&self.webhook, to_programs)] {
            if let Some(line) = line {
                order(line, Order::GoOn(letters, over.clone()));
            }
        }
    }

    /// An alarm is over: what is still to be said of it may be out of date.
    pub(super) fn over(&self, alarm: u64) {
        for line in [&self.mail, &self.webhook].into_iter().flatten() {
            order(line, Order::Over(alarm));
        }
    }

    fn no_way(&self, letter: &Letter) {
        // Nobody listening means that the hub is about to end.
        let _ = self.reports.send(Report {
            letter: letter.id.clone(),
            message: letter.number(),
            outcome: Some(Outcome::Failed("no way is set by which to reach them".to_owned())),
            settled: Some(Settled::GivenUp),
        });
    }

    fn line(&self, to: &To) -> Option<&mpsc::Sender<Order>> {
        match to {
            To::Person(_) => self.mail.as_ref(),
            To::Everyone => self.webhook.as_ref(),
        }
    }
}

fn order(line: &mpsc::Sender<Order>, order: Order) {
    // A thread that has ended has told so; its letters wait in the outbox for the next start.
    let _ = line.send(order);
}

/// One line's thread.
struct Carrier {
    name: &'static str,
    orders: mpsc::Receiver<Order>,
    queue: Queue,
    clock: Clock,
    metrics: Arc<Metrics>,
    reports: UnboundedSender<Report>,
    /// Why the line is down, as it was last logged.
    down: Option<String>,
}

impl Carrier {
    /// Until nobody is left to give orders.
    fn work(mut self, send: impl Fn(&Parcel) -> Result<(), Fault>) {
        while self.wait() {
            let now = self.clock.now().mono;
            let Some(parcel) = self.queue.take(now) else { continue };
            let sent = send(&parcel);
            let now = self.clock.now().mono;
            let before = self.queue.len();
            let reports = match sent {
                Ok(()) => {
                    self.tell_up(&parcel);
                    self.metrics.messages_sent.inc_by(parcel.letters().len() as u64);
                    self.queue.sent(&parcel)
                }
                Err(fault) => {
                    self.tell_fault(&parcel, fault.clone());
                    self.metrics.messages_failed.inc();
                    self.queue.failed(&parcel, &fault, now)
                }
            };
            self.metrics.messages_waiting.dec_by((before - self.queue.len()) as i64);
            for report in reports {
                if self.reports.send(report).is_err() {
                    return;
                }
            }
        }
    }

    /// Takes orders until something is to be tried. False where nobody is left to give any.
    fn wait(&mut self) -> bool {
        loop {
            let left = match self.queue.next() {
                None => None,
                Some(at) => match self.clock.when(at).checked_duration_since(Instant::now()) {
                    None => Some(Duration::ZERO),
                    Some(left) => Some(left),
                },
            };
            let order = match left {
                None => self.orders.recv().map_err(|_| RecvTimeoutError::Disconnected),
                Some(left) => self.orders.recv_timeout(left),
            };
            match order {
                Ok(order) => self.take(order),
                Err(RecvTimeoutError::Timeout) => return true,
                Err(RecvTimeoutError::Disconnected) => return false,
            }
        }
    }

    fn take(&mut self, order: Order) {
        let before = self.queue.len();
        match order {
            Order::Send(letter) => self.queue.add(*letter, false),
            Order::GoOn(letters, over) => {
                letters.into_iter().for_each(|letter| self.queue.add(letter, true));
                over.into_iter().for_each(|alarm| self.queue.over(alarm));
            }
            Order::Over(alarm) => self.queue.over(alarm),
        }
        self.metrics.messages_waiting.inc_by((self.queue.len() - before) as i64);
    }

    fn tell_up(&mut self, parcel: &Parcel) {
        if self.down.take().is_some() {
            info!(line = self.name, "messages go out again");
        }
        debug!(line = self.name, id = parcel.id(), to = ?parcel.to(), "sent");
    }

    fn tell_fault(&mut self, parcel: &Parcel, fault: Fault) {
        match fault {
            Fault::Line(why) if self.down.as_ref() != Some(&why) => {
                warn!(line = self.name, %why, waiting = self.queue.len(), "messages can not be sent; trying again");
                self.down = Some(why);
            }
            Fault::Line(_) => {}
            Fault::Refused(why) => {
                warn!(line = self.name, id = parcel.id(), "a message was refused; trying again");
                debug!(line = self.name, id = parcel.id(), to = ?parcel.to(), %why, "refused");
            }
        }
    }
}
