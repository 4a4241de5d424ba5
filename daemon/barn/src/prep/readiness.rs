//! How far each horse's preparation is, and whether it is in time. Three links close in order: brushed, tacked, led out.
//!
//! A horse is *ready by* its mount time less the lead; its preparation should *start by* that, less the minutes that
//! brushing and tacking take. It is *late* from the moment at which what is still to do no longer fits, whatever the plan
//! had hoped. A horse that stays tacked between two rides is not prepared again.

use crate::board::{Links, Pace};
use crate::id::PersonId;
use crate::input::{Mark, Step};
use crate::plan::day::Job;
use crate::time::{Mono, Today};
use crate::work::{Stage, Work};

use super::day::{Known, Live};
use super::outing::{Mounted, Outing, outings};
use super::progress::FORGOTTEN;

/// A groom may well begin this many minutes before it is needed. Common practice; no source.
const EARLY: i64 = 10;

/// A ride of today with what is known of its preparation.
#[derive(Clone, PartialEq, Debug)]
pub struct Readiness<'a> {
    /// The ride, its lesson, and its minutes of the day.
    pub one: Mounted<'a>,
    /// The ride that its outing has its name from.
    pub outing: &'a crate::id::RideId,
    /// True where the horse is put away after this ride, and not after a later one.
    pub last: bool,
    /// When it must be ready.
    pub ready_by: i64,
    /// When its preparation should begin.
    pub start_by: i64,
    /// How far each step is.
    pub links: Links,
    /// Whether it is in time.
    pub pace: Pace,
    /// So many minutes after it must be ready it would be, were somebody at it without a pause; negative where it is early.
    pub late_by: i64,
    /// The first step before the ride that is not done; none where all are.
    pub next: Option<NextStep>,
    /// True while somebody should still see it: until it is over and the horse put away.
    pub current: bool,
}

impl Readiness<'_> {
    /// Its horse was taken out before it was led out: it is not ridden.
    pub fn is_off(&self, live: &Live<'_>) -> bool {
        let taken_out = live.scratched.contains(&self.one.ride.horse);
        taken_out && self.links.put_away != Mark::Done && !live.was_led_out(&self.one.ride.id)
    }
}

/// A step that is to be done next.
#[derive(Clone, PartialEq, Debug)]
pub struct NextStep {
    /// Which.
    pub step: Step,
    /// By which minute of the day it must be done.
    pub done_by: i64,
    /// Who is at it, where somebody is and said so.
    pub who: Option<PersonId>,
}

/// All rides of today, by mount time, with how far each is.
pub fn readiness<'a>(known: &Known<'a>, live: &Live<'a>) -> Vec<Readiness<'a>> {
    let limits = &known.limits.plan;
    let (stay, walk_back) = (i64::from(limits.stay_tacked.0), i64::from(limits.walk_back.0));
    let all = outings(known.book, live.today.day(), stay, &|one| live.dismount(one, walk_back));
    let mut list: Vec<Readiness<'a>> = Vec::new();
    for outing in &all {
        let first = outing.first().ride;
        for (k, one) in outing.rides.iter().enumerate() {
            let lead = i64::from(known.limits.lessons.ready_lead.0);
            let minutes = |job| i64::from(known.habits.estimate(outing.horse, job, false).minutes);
            let links = links(live, outing, one);
            // A later ride needs nothing of its own, unless the first went without the horse.
            let prepared = k == 0 || live.today.now() >= outing.first().mount && links.tack == Mark::Open;
            let (brush, tack) = if prepared { (minutes(Job::Brush), minutes(Job::Tack)) } else { (0, 0) };
            let ready_by = one.mount - lead;
            let to_do = left(live, outing, Job::Brush, brush) + left(live, outing, Job::Tack, tack);
            let start_by = ready_by - brush - tack;
            let over = one.dismount
                + if links.tack == Mark::Done && links.put_away != Mark::Done { walk_back + FORGOTTEN } else { 0 };
            list.push(Readiness {
                one: *one,
                outing: &first.id,
                last: k + 1 == outing.rides.len(),
                ready_by,
                start_by,
                links,
                late_by: live.today.now() + to_do - ready_by,
                pace: pace(links, to_do, live.today.now(), ready_by, start_by),
                next: next(live.work, one, links, ready_by, tack),
                current: live.today.now() < over,
            });
        }
    }
    list.sort_by(|a, b| (a.one.mount, &a.one.ride.id).cmp(&(b.one.mount, &b.one.ride.id)));
    list
}

fn links(live: &Live<'_>, outing: &Outing<'_>, one: &Mounted<'_>) -> Links {
    let job = |job| live.stage(outing, job).map_or(Mark::Open, Stage::mark);
    let own = |step| live.work.stage(&one.ride.id, step).map_or(Mark::Open, Stage::mark);
    Links {
        brush: job(Job::Brush),
        tack: job(Job::Tack),
        lead_out: own(Step::LeadOut),
        bring_back: own(Step::BringBack),
        put_away: job(Job::PutAway),
    }
}

/// Minutes that a job still takes: all of it, what is left of it once begun (at least one), or none.
fn left(live: &Live<'_>, outing: &Outing<'_>, job: Job, minutes: i64) -> i64 {
    match live.stage(outing, job) {
        None => minutes,
        Some(Stage { done: Some(_), .. }) => 0,
        Some(stage) => (minutes - spent(live.today, stage.from())).max(1),
    }
}

fn spent(today: &Today, since: Mono) -> i64 {
    (today.now() - today.minute(since)).max(0)
}

fn next(work: &Work, one: &Mounted<'_>, links: Links, ready_by: i64, tack: i64) -> Option<NextStep> {
    let (step, done_by) = if links.brush != Mark::Done {
        (Step::Brush, ready_by - tack)
    } else if links.tack != Mark::Done {
        (Step::Tack, ready_by)
    } else if links.lead_out != Mark::Done {
        (Step::LeadOut, one.mount)
    } else {
        return None;
    };
    let at_it = work.stage(&one.ride.id, step).filter(|stage| stage.done.is_none());
    Some(NextStep { step, done_by, who: at_it.and_then(|stage| stage.by.clone()) })
}

fn pace(links: Links, to_do: i64, now: i64, ready_by: i64, start_by: i64) -> Pace {
    if links.lead_out == Mark::Done || links.tack == Mark::Done {
        Pace::Ready
    } else if to_do == 0 {
        // It is readied with the ride before, whose pace says how that goes.
        Pace::Later
    } else if now + to_do > ready_by {
        Pace::Late
    } else if now + EARLY >= start_by {
        Pace::Now
    } else {
        Pace::Later
    }
}
