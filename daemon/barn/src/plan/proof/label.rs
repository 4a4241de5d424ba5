//! A partial plan at a minute of the day: what has begun by then, and all that matters of it for what comes after.

use super::items::{Cost, GROOMS, HALVES, Items, NEVER};
use crate::plan::day::{Hand, Job, Minute};
use crate::plan::search::state::Half;

/// No label, no step.
pub(super) const NONE: u32 = u32::MAX;
/// A brusher: staff.
pub(super) const STAFF: u8 = u8::MAX;
/// A brusher: a groom who is not to be had any more.
const GONE: u8 = u8::MAX - 1;
/// No item.
pub(super) const NOTHING: u8 = u8::MAX;

/// How far a half has come.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum Stage {
    /// Nothing has begun.
    Open = 0,
    /// The brush has.
    Brushed = 1,
    /// Tack or put away has.
    Done = 2,
}

/// What labels are compared by first.
#[derive(Clone, Copy)]
pub(super) struct Mark {
    pub(super) stages: u64,
    /// What is paid; without shares of `busiest` where that counts as it is.
    pub(super) worth: Cost,
    /// By groom: when to be had again.
    pub(super) free: [i16; GROOMS],
}

impl Mark {
    /// Whether all grooms are to be had no later.
    pub(super) fn no_later(&self, other: &Mark) -> bool {
        self.free.iter().zip(&other.free).all(|(free, others)| free <= others)
    }
}

/// A partial plan.
#[derive(Clone)]
pub(super) struct Label {
    /// Two bits by item.
    stages: u64,
    /// Items before the first are done; from the second on nothing has begun.
    pub(super) window: (u8, u8),
    /// What the items before the window have cost above their own least.
    pub(super) settled: Cost,
    /// What all items have paid.
    total: Cost,
    /// By groom: when free again, and minutes worked.
    pub(super) free: [i16; GROOMS],
    pub(super) worked: [Minute; GROOMS],
    /// By groom: the item whose brush or early tack ends when the groom is free, and which something must follow at once.
    pub(super) held: [u8; GROOMS],
    /// By item: the end of its brush until it is tacked, the end of its put away.
    pub(super) ends: [i16; HALVES],
    /// By item: who brushed.
    brusher: [u8; HALVES],
    /// By item: what it has paid.
    pub(super) paid: [Cost; HALVES],
    /// The last step that led here.
    pub(super) step: u32,
    /// Another one made it needless.
    pub(super) dead: bool,
    /// It waits for a later minute.
    pub(super) waits: bool,
}

impl Label {
    /// Nothing has begun but what had. Items before `first` count as done long ago.
    pub(super) fn new(items: &Items, first: usize) -> Label {
        let mut label = Label {
            stages: 0,
            window: (first as u8, first as u8),
            settled: 0,
            total: 0,
            free: [0; GROOMS],
            worked: [0; GROOMS],
            held: [NOTHING; GROOMS],
            ends: [0; HALVES],
            brusher: [STAFF; HALVES],
            paid: [0; HALVES],
            step: NONE,
            dead: false,
            waits: false,
        };
        for k in 0..first {
            label.stages |= (Stage::Done as u64) << (2 * k);
        }
        for (worked, &begun) in label.worked.iter_mut().zip(&items.begun) {
            *worked = begun;
        }
        for (k, item) in items.items.iter().enumerate().skip(first) {
            if let Some((hand, end)) = item.brushed {
                let groom = items.grooms.iter().position(|&groom| hand == Hand::of(groom));
                label.set(k, Stage::Brushed);
                label.ends[k] = end.max(0) as i16;
                label.brusher[k] = groom.map_or(if hand == Hand::STAFF { STAFF } else { GONE }, |g| g as u8);
                label.pay(k, items.paid_at_first(k));
            }
        }
        label
    }

    pub(super) fn stage(&self, k: usize) -> Stage {
        match self.stages >> (2 * k) & 3 {
            0 => Stage::Open,
            1 => Stage::Brushed,
            _ => Stage::Done,
        }
    }

    fn set(&mut self, k: usize, stage: Stage) {
        self.stages = self.stages & !(3 << (2 * k)) | (stage as u64) << (2 * k);
        self.window.1 = self.window.1.max(k as u8 + 1);
    }

    fn pay(&mut self, k: usize, cost: Cost) {
        self.paid[k] += cost;
        self.total += cost;
    }

    /// Begins a job. `early`: it would rather end later.
    pub(super) fn begin(&mut self, items: &Items, k: usize, job: Job, hand: Option<usize>, start: Minute, early: bool) {
        let length = items.length(k, job);
        let end = (start + length) as i16;
        self.pay(k, items.cost(k, job, hand, start, self.brusher(items, k)));
        if job == Job::Tack {
            self.held.iter_mut().filter(|held| **held == k as u8).for_each(|held| *held = NOTHING);
        }
        if let Some(g) = hand {
            self.free[g] = end;
            self.worked[g] += length;
            self.held[g] = if early { k as u8 } else { NOTHING };
        }
        self.ends[k] = if job == Job::Tack { 0 } else { end };
        if job == Job::Brush {
            self.brusher[k] = hand.map_or(STAFF, |g| g as u8);
            self.set(k, Stage::Brushed);
            return;
        }
        self.set(k, Stage::Done);
        while usize::from(self.window.0) < items.items.len() && self.stage(usize::from(self.window.0)) == Stage::Done {
            let done = usize::from(self.window.0);
            self.settled += self.paid[done] - items.items[done].own;
            self.window.0 += 1;
        }
    }

    /// Who brushed, for the tack.
    fn brusher(&self, items: &Items, k: usize) -> Option<Hand> {
        match self.brusher[k] {
            _ if self.stage(k) != Stage::Brushed => None,
            STAFF => Some(Hand::STAFF),
            GONE => items.items[k].brushed.map(|(hand, _)| hand),
            g => Some(items.hand(Some(usize::from(g)))),
        }
    }

    /// Whether staff were called to brush, and the tack has not begun.
    pub(super) fn brushed_by_staff(&self, items: &Items, k: usize) -> bool {
        self.stage(k) == Stage::Brushed && self.brusher[k] == STAFF && items.items[k].brushed.is_none()
    }

    /// The least that an item costs in the end above its own least, from a minute on; and the same where grooms come to its
    /// next job no sooner than `later`.
    pub(super) fn excess(&self, items: &Items, k: usize, t: Minute, later: Minute) -> (Cost, Cost) {
        let item = &items.items[k];
        let stage = self.stage(k);
        if stage == Stage::Done {
            let excess = self.paid[k] - item.own;
            return (excess, excess);
        }
        let free = |&g: &usize| items.open[g].from(Minute::from(self.free[g]).max(t));
        let groom = item.cleared.iter().map(free).min().unwrap_or(Minute::MAX / 2);
        let gear =
            item.gear_before.iter().map(|&other| self.put_away(items, other, t) + items.dry()).max().unwrap_or(0);
        let (least, from, beyond) = if stage == Stage::Open && item.half == Half::Front {
            let horse = item.horse_before.iter().map(|&other| self.put_away(items, other, t)).max().unwrap_or(0);
            (&item.first_least, horse.max(t), at(&item.joint_least, gear) - item.own)
        } else {
            let brushed = if stage == Stage::Brushed { Minute::from(self.ends[k]) } else { 0 };
            (&item.last_least, t.max(gear).max(brushed), 0)
        };
        let excess = |from: Minute| self.paid[k] + at(least, from) - item.own;
        let by_staff = excess(from).max(self.excess_by_staff(items, k));
        let by_groom = |groom: Minute| excess(from.max(groom)).min(by_staff).max(beyond);
        (by_groom(groom), by_groom(groom.max(later)))
    }

    /// The same where staff do its next job.
    pub(super) fn excess_by_staff(&self, items: &Items, k: usize) -> Cost {
        // A tack gets back what the brush paid for the time up to ready.
        let back = if self.stage(k) == Stage::Brushed { items.brush_wait(k, Minute::from(self.ends[k])) } else { 0 };
        self.paid[k] + items.items[k].staff - back - items.items[k].own
    }

    /// When a put away ends, or can end at the earliest.
    fn put_away(&self, items: &Items, k: usize, t: Minute) -> Minute {
        match self.stage(k) {
            Stage::Done => Minute::from(self.ends[k]),
            _ => items.items[k].release.max(t) + items.length(k, Job::PutAway),
        }
    }

    /// What two labels at the same stages and minute are compared by first.
    pub(super) fn mark(&self, items: &Items, t: Minute, exact: bool) -> Mark {
        let mut mark = Mark { stages: self.stages, worth: self.total, free: [0; GROOMS] };
        for (g, open) in items.open.iter().enumerate() {
            mark.free[g] = open.from(Minute::from(self.free[g]).max(t)).min(i16::MAX.into()) as i16;
            if exact {
                mark.worth -= items.share[g] * Cost::from(self.worked[g]);
            }
        }
        mark
    }

    /// Whether whatever follows on the other is as cheap on this one, whose mark is no worse by so much.
    pub(super) fn beats(&self, other: &Label, items: &Items, t: Minute, exact: bool, cheaper: Cost) -> bool {
        let mut dearer = -cheaper;
        if exact {
            let more = (0..items.share.len()).map(|g| Cost::from(self.worked[g] - other.worked[g]));
            dearer += items.scale * items.day.costs.busiest * more.max().unwrap_or(0).max(0);
        }
        // A put away matters for as long as its girth is not dry.
        let dry = t as i16 - items.day.limits.girth_dry as i16;
        // Of all items, also of those that there are not: no loop that ends early is as quick.
        let mut later = false;
        for (&end, &others) in self.ends.iter().zip(&other.ends) {
            later |= end > others.max(dry);
        }
        if dearer > 0 || later {
            return false;
        }
        for k in usize::from(self.window.0)..usize::from(self.window.1) {
            if self.stage(k) == Stage::Brushed && self.brusher[k] != other.brusher[k] {
                dearer += items.scale * items.day.costs.handover;
            }
        }
        dearer <= 0
    }

    /// By how much `busiest` is sure to be above the shares that are paid, where so many minutes are still to be worked;
    /// `all` by grooms.
    pub(super) fn uneven(&self, items: &Items, left: Minute, all: bool) -> Cost {
        let busiest = items.scale * items.day.costs.busiest;
        let worked = self.worked.iter().copied().max().unwrap_or(0);
        let most = Cost::from(worked.max(items.most_begun));
        let paid: Cost = items.share.iter().zip(&self.worked).map(|(share, &worked)| share * Cost::from(worked)).sum();
        let dearest = items.share.iter().copied().max().unwrap_or(0);
        let uneven = busiest * most - items.idle - paid - dearest * Cost::from(left);
        let even = items.idle == 0 && items.share.iter().all(|&share| share == dearest);
        if !(all && even && !items.share.is_empty()) {
            return uneven.max(0);
        }
        // Whole minutes can not always be shared out evenly.
        let sum = Cost::from(left) + self.worked.iter().map(|&worked| Cost::from(worked)).sum::<Cost>();
        let each = (sum + items.share.len() as Cost - 1).div_euclid(items.share.len() as Cost);
        uneven.max(busiest * each - dearest * sum).max(0)
    }
}

/// What stands in a table of least costs for a minute.
fn at(least: &[Cost], minute: Minute) -> Cost {
    least.get(minute as usize).copied().unwrap_or(NEVER)
}

/// The job that an item needs next.
pub(super) fn next_job(stage: Stage, half: Half) -> Job {
    match (stage, half) {
        (Stage::Open, Half::Front) => Job::Brush,
        (_, Half::Front) => Job::Tack,
        (_, Half::Rear) => Job::PutAway,
    }
}
