//! What the jobs of an item cost, by the minute at which they begin.
//!
//! A brush pays its wait up to *ready* at once, and the tack pays from ready to its start (before ready: gets back), so that
//! each job's cost is known when it begins.

use super::items::{Cost, Items, NEVER};
use crate::plan::day::{Hand, Job, Minute};
use crate::plan::search::state::Half;
use crate::plan::search::table::own_window;

impl Items<'_> {
    /// Fills the tables of an item.
    pub(super) fn weigh(&mut self, k: usize) {
        let item = &self.items[k];
        let i = item.outing;
        let outing = &self.day.outings[i];
        let last = if item.half == Half::Front { Job::Tack } else { Job::PutAway };
        let to = own_window(self.day, i, last).1 - self.first;
        let mut last_at = vec![NEVER; self.minutes];
        for start in item.release.max(0)..=to.min(self.minutes as Minute - 1) {
            last_at[start as usize] = self.least_by_anyone(k, last, start);
        }
        let last_least = suffix(&last_at);
        let (mut first_at, mut first_least, mut own) = (Vec::new(), Vec::new(), last_least[0]);
        let mut joint = last_at.clone();
        if item.half == Half::Front {
            if let Some((_, end)) = item.brushed {
                own = own.saturating_add(self.brushed_by(k, end)).min(NEVER);
            } else {
                first_at = vec![NEVER; self.minutes];
                joint.fill(NEVER);
                let mut least_brush = NEVER;
                let from = item.brush_release.max(0) as usize;
                for (start, first_at) in first_at.iter_mut().enumerate().skip(from) {
                    let end = start + outing.minutes[0] as usize;
                    // No tack can begin after that.
                    if last_least.get(end).is_none_or(|&least| least >= NEVER) {
                        break;
                    }
                    let brush = self.least_by_anyone(k, Job::Brush, start as Minute);
                    *first_at = (brush + last_least[end]).min(NEVER);
                    least_brush = least_brush.min(brush);
                    joint[end] = (least_brush + last_at[end]).min(NEVER);
                }
                first_least = suffix(&first_at);
                own = first_least[0];
            }
        }
        let item = &mut self.items[k];
        item.joint_least = suffix(&joint);
        (item.first_at, item.first_least, item.last_at, item.last_least) = (first_at, first_least, last_at, last_least);
        item.own = own;
        item.sooner = if item.first_at.is_empty() { item.last_at.clone() } else { item.first_at.clone() };
        for t in 1..item.sooner.len() {
            item.sooner[t] = item.sooner[t].min(item.sooner[t - 1]);
        }
        let least = if item.first_least.is_empty() { &item.last_least } else { &item.first_least };
        item.natural = least.partition_point(|&cost| cost <= least[0]) as Minute - 1;
    }

    fn least_by_anyone(&self, k: usize, job: Job, start: Minute) -> Cost {
        let item = &self.items[k];
        let length = self.length(k, job);
        if !self.horses[self.day.outings[item.outing].horse].fits(start, length) {
            return NEVER;
        }
        let grooms = item.cleared.iter().filter(|&&g| self.open[g].fits(start, length)).map(|&g| Some(g));
        let by = |hand: Option<usize>| self.cost(k, job, hand, start, item.brushed.map(|(hand, _)| hand));
        grooms.chain([None]).map(by).min().unwrap_or(NEVER)
    }

    /// How long a job of an item takes.
    pub(super) fn length(&self, k: usize, job: Job) -> Minute {
        self.day.outings[self.items[k].outing].minutes[job as usize]
    }

    /// What a job costs that begins then: hands, work, and its wait. `hand` is a groom, or `None` for staff; `brusher` is who
    /// brushed, for a tack, where that is known.
    pub(super) fn cost(&self, k: usize, job: Job, hand: Option<usize>, start: Minute, brusher: Option<Hand>) -> Cost {
        let (costs, item) = (&self.day.costs, &self.items[k]);
        let outing = &self.day.outings[item.outing];
        let length = outing.minutes[job as usize];
        let who = self.hand(hand);
        let broken = outing.promised[job as usize].is_some_and(|promised| promised != who);
        let work = hand.map_or(item.staff, |g| self.share[g] * Cost::from(length));
        let reshuffle = if broken { self.scale * costs.reshuffle } else { 0 };
        let times = match job {
            Job::Brush => self.brushed_by(k, start + length),
            Job::Tack => {
                let late = Cost::from(start + length - item.ready);
                let late = if late > 0 { costs.late * outing.weight * late } else { -late * costs.saddled_wait };
                let handover = if brusher.is_some_and(|brusher| brusher != who) { costs.handover } else { 0 };
                self.scale * (late + handover + costs.brushed_wait * Cost::from(start - item.ready))
            }
            Job::PutAway => self.waiting(Cost::from(start + self.first - outing.back)),
        };
        work + reshuffle + times
    }

    fn brushed_by(&self, k: usize, end: Minute) -> Cost {
        self.scale * self.day.costs.brushed_wait * Cost::from(self.items[k].ready - end)
    }

    /// What waiting brushed from a minute to ready costs; nothing after it.
    pub(super) fn brush_wait(&self, k: usize, from: Minute) -> Cost {
        self.brushed_by(k, from).max(0)
    }

    /// What is paid of a front whose brush has begun before all.
    pub(super) fn paid_at_first(&self, k: usize) -> Cost {
        self.items[k].brushed.map_or(0, |(_, end)| self.brushed_by(k, end))
    }

    pub(super) fn waiting(&self, wait: Cost) -> Cost {
        let (costs, wait) = (&self.day.costs, wait.max(0));
        self.scale * (costs.back_wait * wait + costs.standing * (wait - self.day.limits.stand).max(0))
    }
}

fn suffix(at: &[Cost]) -> Vec<Cost> {
    let mut least = at.to_vec();
    for t in (1..least.len()).rev() {
        least[t - 1] = least[t - 1].min(least[t]);
    }
    least
}
