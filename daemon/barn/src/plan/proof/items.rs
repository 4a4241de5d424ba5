//! The halves that are still open, each by itself: when each of its jobs may begin, who may do it, and the least that it can
//! cost with everybody free.
//!
//! Costs are in parts of a unit so fine that a share of `busiest` for each groom is whole. `busiest` is at least any average
//! of the grooms' minutes; here each groom's minute has a fixed share of it, and what the busiest one works above that
//! average is a matter of whole plans.
use super::open::Open;
use crate::plan::day::{Day, Hand, Job, Minute, Outing, Span};
use crate::plan::search::state::Half;
use crate::plan::search::table::{Table, own_window};

/// A cost, in parts of a unit.
pub(super) type Cost = i64;
/// What can not be.
pub(super) const NEVER: Cost = Cost::MAX / 8;
/// The most grooms who are still to be had, and the most open halves.
pub(super) const GROOMS: usize = 4;
pub(super) const HALVES: usize = 32;

/// An even share of a minute of `busiest` is so many parts of its cost, so that less than one can be moved.
const SHARES: Cost = 2;
/// Minutes between who works most and least, beyond which something keeps them apart: half of the others' share goes to who
/// works most,
const FAR_APART: Minute = 12;
/// and beyond so many all of it.
const VERY_FAR_APART: Minute = 20;

/// A half that is still open. Minutes count from [`Items::first`].
pub(super) struct Item {
    pub(super) outing: usize,
    pub(super) half: Half,
    /// The brush has begun; who does it, and when it ends.
    pub(super) brushed: Option<(Hand, Minute)>,
    /// When its last job, tack or put away, may begin, as far as its own outing and what has begun go; and its brush.
    pub(super) release: Minute,
    pub(super) brush_release: Minute,
    pub(super) ready: Minute,
    /// Items that must have ended before its first job begins, and before its last; the latter with the girth dry.
    pub(super) horse_before: Vec<usize>,
    pub(super) gear_before: Vec<usize>,
    /// Of a put away: the front of its outing, where that is open.
    pub(super) front: Option<usize>,
    /// Grooms who may do it, by index in [`Items::grooms`].
    pub(super) cleared: Vec<usize>,
    /// The least that the half can cost, and the last minute from which on it still can.
    pub(super) own: Cost,
    pub(super) natural: Minute,
    /// What a job costs that staff do.
    pub(super) staff: Cost,
    /// The least cost by the minute at which the first job begins, if that is a brush, and at which the last one begins; and
    /// where it begins then or later; `joint_least` is that of a whole front whose tack begins then or later.
    pub(super) first_at: Vec<Cost>,
    pub(super) first_least: Vec<Cost>,
    pub(super) joint_least: Vec<Cost>,
    /// The least cost where the item begins by a minute.
    pub(super) sooner: Vec<Cost>,
    pub(super) last_at: Vec<Cost>,
    pub(super) last_least: Vec<Cost>,
}

/// All open halves of a day, in order of time.
pub(super) struct Items<'a> {
    pub(super) day: &'a Day,
    /// By outing.
    pub(super) missed: Vec<bool>,
    /// The minute from which minutes count, and how many there are.
    pub(super) first: Minute,
    pub(super) minutes: usize,
    /// Parts of a unit of cost.
    pub(super) scale: Cost,
    /// Grooms who are still to be had, as indices of the day.
    pub(super) grooms: Vec<usize>,
    /// By groom here: when to be had, what a minute costs, minutes begun.
    pub(super) open: Vec<Open>,
    pub(super) share: Vec<Cost>,
    pub(super) begun: Vec<Minute>,
    /// What of `busiest` is paid without any share.
    pub(super) idle: Cost,
    /// The most minutes begun by anybody.
    pub(super) most_begun: Minute,
    /// By horse.
    pub(super) horses: Vec<Open>,
    pub(super) items: Vec<Item>,
    /// What is sure to be paid: what has begun, and `own` of all.
    pub(super) base: Cost,
}

impl<'a> Items<'a> {
    /// The day without the outings that are missed. `known`: what each groom works in a plan that is known. `None` where it is too large, or of a kind that is not looked at here.
    pub(super) fn new(day: &'a Day, table: &Table, missed: &[bool], known: &[Minute]) -> Option<Items<'a>> {
        let strange = |((outing, &missed), brushing): ((&Outing, &bool), &Option<_>)| {
            let under_way = outing.begun[0].is_some_and(|brush| brush.under_way);
            let [brush, tack, put_away] = outing.begun.map(|begun| begun.is_some());
            // Noted out of order; or missed with a groom at it, who does two things at once.
            tack && !brush || put_away && !tack || missed && under_way && brushing.is_none()
        };
        let empty = |away: &Vec<Span>| away.iter().any(|away| away.from == away.to);
        if day.outings.iter().zip(missed).zip(&table.brushing).any(strange)
            || day.grooms.iter().any(|groom| empty(&groom.away))
            || day.horses.iter().any(|horse| empty(&horse.away))
        {
            return None;
        }
        let first = day.earliest();
        let ends = day.grooms.iter().flat_map(|groom| groom.away.iter().chain([&groom.shift])).map(|span| span.to);
        let away = day.horses.iter().flat_map(|horse| horse.away.iter().map(|away| away.to));
        let backs = day.outings.iter().map(|outing| outing.back);
        let last = ends.chain(away).chain(backs).max().unwrap_or(first).max(first) + 1;
        let minutes = (last - first) as usize;
        let open = |blocks: &[Span]| Open::new(blocks, first, minutes);
        let mut blocks = table.blocks.clone();
        for (brushing, _) in table.brushing.iter().zip(missed).filter(|(_, missed)| !**missed) {
            brushing.iter().for_each(|&(groom, span)| blocks[groom].push(span));
        }
        let all: Vec<Open> = blocks.iter().map(|blocks| open(blocks)).collect();
        let grooms: Vec<usize> = (0..all.len()).filter(|&g| all[g].from(0) < minutes as Minute).collect();
        let present = || day.outings.iter().zip(missed).filter(|(_, missed)| !**missed).map(|(outing, _)| outing);
        let halves = present().flat_map(|outing| [outing.can_be_missed(), outing.begun[2].is_none()]);
        if grooms.len() > GROOMS || halves.filter(|&half| half).count() > HALVES {
            return None;
        }
        let mut begun = vec![0; day.grooms.len()];
        for done in present().flat_map(|outing| outing.begun.iter().flatten()) {
            if let Some(groom) = done.hand.groom() {
                begun[groom] += done.span.to - done.span.from;
            }
        }
        let mut items = Items {
            day,
            missed: missed.to_vec(),
            first,
            minutes,
            scale: SHARES * grooms.len().max(1) as Cost,
            open: all.into_iter().enumerate().filter(|(g, _)| grooms.contains(g)).map(|(_, open)| open).collect(),
            share: Vec::new(),
            idle: 0,
            most_begun: begun.iter().copied().max().unwrap_or(0),
            begun: grooms.iter().map(|&groom| begun[groom]).collect(),
            grooms,
            horses: day.horses.iter().map(|horse| open(&horse.away)).collect(),
            items: Vec::new(),
            base: 0,
        };
        items.share_out(&begun, missed, known);
        items.gather(table, missed);
        items.sum_up();
        Some(items)
    }

    /// How `busiest` is shared among the grooms' minutes: evenly; all for one of them, who may be gone already (then `idle` has
    /// it); whatever makes the work dearest. Where that is evenly, a little more for whom the plan that is known gives most:
    /// fewer plans are equal then.
    fn share_out(&mut self, begun: &[Minute], missed: &[bool], known: &[Minute]) {
        let n = self.grooms.len();
        let whole = self.scale * self.day.costs.busiest;
        let even = vec![whole / n.max(1) as Cost; n];
        let by_one = (0..n).map(|one| (0..n).map(|g| if g == one { whole } else { 0 }).collect());
        let dearest = by_one.chain([even.clone()]).max_by_key(|share| self.worth(share, begun, missed));
        self.share = dearest.unwrap_or_default();
        let idle = whole * Cost::from(self.most_begun);
        if idle > self.worth(&self.share, begun, missed) {
            self.share = vec![0; n];
            self.idle = idle;
        } else if self.share == even
            && n > 1
            && let Some(most) = (0..n).max_by_key(|&g| (known[self.grooms[g]], n - g))
        {
            let least = self.grooms.iter().map(|&groom| known[groom]).min().unwrap_or(0);
            let apart = known[self.grooms[most]] - least;
            if apart <= FAR_APART {
                return;
            }
            let part = if apart > VERY_FAR_APART { 1 } else { 2 };
            for (g, share) in self.share.iter_mut().enumerate() {
                let each = even[g] / part;
                *share += if g == most { each * (n as Cost - 1) } else { -each };
            }
        }
    }

    /// What all work costs at these shares, where everything is done in its best time.
    fn worth(&self, share: &[Cost], begun: &[Minute], missed: &[bool]) -> Cost {
        let (day, n) = (self.day, self.grooms.len());
        let mut sum: Cost = (0..n).map(|g| share[g] * Cost::from(begun[self.grooms[g]])).sum();
        for (outing, _) in day.outings.iter().zip(missed).filter(|(_, missed)| !**missed) {
            let tack = outing.ready - outing.minutes[1];
            for (job, start) in [tack - outing.minutes[0], tack, outing.back].into_iter().enumerate() {
                let (start, length) = ((start - self.first).max(0), outing.minutes[job]);
                let able = |g: &usize| day.cleared(self.grooms[*g], outing.horse) && self.open[*g].fits(start, length);
                if outing.begun[job].is_none() {
                    sum += (0..n).filter(able).map(|g| share[g]).min().unwrap_or(0) * Cost::from(length);
                }
            }
        }
        sum
    }

    fn gather(&mut self, table: &Table, missed: &[bool]) {
        let day = self.day;
        let mut halves: Vec<(Minute, usize, Half)> = Vec::new();
        for (i, outing) in day.outings.iter().enumerate().filter(|(i, _)| !missed[*i]) {
            if outing.can_be_missed() {
                halves.push((outing.ready - outing.minutes[1] - outing.minutes[0], i, Half::Front));
            }
            if outing.begun[2].is_none() {
                halves.push((outing.back, i, Half::Rear));
            }
        }
        halves.sort_unstable();
        let find = |i: usize, half: Half| halves.iter().position(|&(_, k, other)| (k, other) == (i, half));
        let rears = |before: &[usize]| before.iter().filter_map(|&k| find(k, Half::Rear)).collect();
        for &(_, i, half) in &halves {
            let outing = &day.outings[i];
            let front = half == Half::Front;
            let job = if front { Job::Tack } else { Job::PutAway };
            let item = Item {
                outing: i,
                half,
                brushed: outing.begun[0].filter(|_| front).map(|begun| (begun.hand, begun.span.to - self.first)),
                release: self.release(table, i, job) - self.first,
                brush_release: if front { self.release(table, i, Job::Brush) - self.first } else { 0 },
                ready: outing.ready - self.first,
                horse_before: if front { rears(&table.horse_before[i]) } else { Vec::new() },
                gear_before: if front { rears(&table.gear_before[i]) } else { Vec::new() },
                front: if front { None } else { find(i, Half::Front) },
                cleared: (0..self.grooms.len()).filter(|&g| day.cleared(self.grooms[g], outing.horse)).collect(),
                own: 0,
                natural: 0,
                staff: self.scale * day.costs.staff * outing.weight,
                first_at: Vec::new(),
                first_least: Vec::new(),
                joint_least: Vec::new(),
                sooner: Vec::new(),
                last_at: Vec::new(),
                last_least: Vec::new(),
            };
            self.items.push(item);
        }
        for k in 0..self.items.len() {
            self.after_others(k);
            self.weigh(k);
        }
    }

    /// All outings take place: gear and horse come to a front no earlier than the put aways before it can end.
    fn after_others(&mut self, k: usize) {
        let end = |&other: &usize| self.items[other].release.max(0) + self.length(other, Job::PutAway);
        let horse = self.items[k].horse_before.iter().map(end).max().unwrap_or(0);
        let gear = self.items[k].gear_before.iter().map(|other| end(other) + self.dry()).max().unwrap_or(0);
        let item = &mut self.items[k];
        item.brush_release = item.brush_release.max(horse);
        item.release = item.release.max(gear);
    }

    /// How long a girth has to hang.
    pub(super) fn dry(&self) -> Minute {
        self.day.limits.girth_dry as Minute
    }

    /// The earliest start that the outing itself and what has begun allow.
    fn release(&self, table: &Table, i: usize, job: Job) -> Minute {
        let begun = |k: &usize| self.day.outings[*k].begun[2].map(|begun| begun.span.to);
        let dry = self.day.limits.girth_dry as Minute;
        let own = own_window(self.day, i, job).0;
        match job {
            Job::Brush => table.horse_before[i].iter().filter_map(begun).max().unwrap_or(own).max(own),
            Job::Tack => table.gear_before[i].iter().filter_map(begun).max().map_or(own, |end| own.max(end + dry)),
            Job::PutAway => own,
        }
    }

    fn sum_up(&mut self) {
        let day = self.day;
        self.base = self.idle + (0..self.grooms.len()).map(|g| self.share[g] * Cost::from(self.begun[g])).sum::<Cost>();
        for outing in &day.outings {
            let [Some(brush), Some(tack), put_away] = outing.begun else { continue };
            let late = Cost::from(tack.span.to - outing.ready);
            let wait = Cost::from(tack.span.from - brush.span.to).max(0);
            let handover = if brush.hand == tack.hand { 0 } else { day.costs.handover };
            let late = day.costs.late * outing.weight * late.max(0) + day.costs.saddled_wait * (-late).max(0);
            let back = put_away.map_or(0, |begun| self.waiting(Cost::from(begun.span.from - outing.back)));
            self.base += self.scale * (late + day.costs.brushed_wait * wait + handover) + back;
        }
        for item in &self.items {
            self.base = self.base.saturating_add(item.own).min(NEVER);
        }
    }

    pub(super) fn hand(&self, hand: Option<usize>) -> Hand {
        hand.map_or(Hand::STAFF, |g| Hand::of(self.grooms[g]))
    }
}

impl Item {
    /// The first minute at which it can begin for a cost.
    pub(super) fn soonest(&self, cost: Cost) -> Minute {
        self.sooner.partition_point(|&least| least > cost) as Minute
    }
}
