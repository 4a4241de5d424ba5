//! What matters of the rest of a day for what comes before it: all ways to do it, and not its cheapest plan alone.
//!
//! Where `busiest` counts as it is, plans for the morning can not be compared without those for the afternoon: who works more
//! in the one may work less in the other, and a march through both looks at every pair. But a day has minutes at which nothing
//! is under way and nothing that is left can begin yet for what a plan may cost. From there on what came before matters only by
//! the minutes that everybody has worked. So the ways to do the rest are found once, those of the last stretch first, each with
//! its cost and minutes, and a plan that has come so far takes all of them at a glance.

use super::Purse;
use super::items::{Cost, GROOMS, Items};
use super::label::Label;
use super::march::{Counts, End, March, Rest, Step};
use crate::plan::day::Minute;

/// A way to do the items from one on.
#[derive(Clone)]
struct Way {
    /// What it costs above the least of the items, with a share of `busiest` for each minute.
    above: Cost,
    /// By groom: minutes worked.
    worked: [Minute; GROOMS],
    plan: Vec<Step>,
}

/// All ways to do the items from one on that cost no more than a limit, but for those that another one makes needless.
pub(super) struct Ways {
    limit: Cost,
    ways: Vec<Way>,
}

/// Finds all ways to do the rest of a day from each of the items on before which a plan is likely to rest, as far as plans for all
/// items may cost no more than `limit`, and as far as `left` goes. By item.
pub(super) fn ways(items: &Items, rest: &[Rest], limit: Cost, left: &mut Purse) -> Vec<Option<Ways>> {
    let n = items.items.len();
    let mut ways: Vec<Option<Ways>> = (0..n).map(|_| None).collect();
    for first in (1..n).rev() {
        // What those before it are likely to leave.
        let limit = limit - (rest[0].above - rest[first].above);
        let soonest = soonest(items, rest, first, limit);
        let over = |step: &Step| step.item >= first || step.start + items.length(step.item, step.job) <= soonest;
        if !rest[0].plan.iter().all(over) {
            continue;
        }
        let mut march = March::new(items, rest, first, limit, Counts::Ways, &ways);
        if march.run(left) == End::Stopped {
            break;
        }
        ways[first] = Some(Ways { limit, ways: march.into_ways() });
    }
    ways
}

/// The first minute at which any of the items from one on can begin in a plan for them that costs no more than `limit`: the items
/// behind it are not to be had for less than they cost by themselves.
fn soonest(items: &Items, rest: &[Rest], first: usize, limit: Cost) -> Minute {
    let soonest = |k: usize| {
        let item = &items.items[k];
        // A tack whose brush has begun is paid in part already, and may be for less.
        if item.brushed.is_some() { 0 } else { item.soonest(item.own + limit - rest[k + 1].above) }
    };
    (first..items.items.len()).map(soonest).min().unwrap_or(Minute::MAX)
}

/// What has been found so far of all ways.
#[derive(Default)]
pub(super) struct Found(Vec<Way>);

impl Found {
    /// Keeps a way, unless another one is no dearer whatever is worked before.
    fn keep(&mut self, items: &Items, way: Way) {
        let by_shares = |way: &Way| -> Cost {
            items.share.iter().zip(&way.worked).map(|(share, &worked)| share * Cost::from(worked)).sum()
        };
        let busiest = items.scale * items.day.costs.busiest;
        let beats = |a: &Way, b: &Way| {
            let more = a.worked.iter().zip(&b.worked).map(|(a, b)| Cost::from(a - b)).max().unwrap_or(0);
            a.above - by_shares(a) + busiest * more.max(0) <= b.above - by_shares(b)
        };
        if !self.0.iter().any(|other| beats(other, &way)) {
            self.0.retain(|other| !beats(&way, other));
            self.0.push(way);
        }
    }
}

impl March<'_> {
    /// Takes all ways to do what is left, where these are known and nothing before it is in their way. False where that is not so.
    pub(super) fn hand_over(&mut self, label: &Label) -> bool {
        let next = usize::from(label.window.0);
        if label.window.0 != label.window.1 {
            return false;
        }
        if next == self.items.items.len() {
            if self.counts == Counts::Ways {
                self.join(label, &Way { above: 0, worked: [0; GROOMS], plan: Vec::new() });
            }
            return true;
        }
        let ways = self.ways;
        let Some(ways) = ways.get(next).and_then(Option::as_ref) else { return false };
        let room = self.limit - label.settled;
        if room > ways.limit || !self.clear(label, next, room) {
            return false;
        }
        for way in &ways.ways {
            self.join(label, way);
        }
        true
    }

    /// Ends a label with a way to do what is left.
    fn join(&mut self, label: &Label, way: &Way) {
        let mut whole = label.clone();
        for (worked, more) in whole.worked.iter_mut().zip(way.worked) {
            *worked += more;
        }
        let above = label.settled + way.above;
        if self.counts == Counts::Whole {
            self.found(above + whole.uneven(self.items, 0, true), label.step, &way.plan);
        } else if above <= self.limit {
            for (worked, begun) in whole.worked.iter_mut().zip(&self.items.begun) {
                *worked -= begun;
            }
            let plan = self.plan(label.step, &way.plan);
            self.found_ways.keep(self.items, Way { above, worked: whole.worked, plan });
        }
    }

    /// The ways that a march has found.
    fn into_ways(self) -> Vec<Way> {
        self.found_ways.0
    }

    /// Whether everybody and everything is to be had before any of the items from one on can begin for so much.
    fn clear(&self, label: &Label, next: usize, room: Cost) -> bool {
        let soonest = soonest(self.items, self.rest, next, room);
        let dry = self.items.dry();
        let ended = |&before: &usize| before >= next || Minute::from(label.ends[before]) + dry <= soonest;
        label.free[..self.items.open.len()].iter().all(|&free| Minute::from(free) <= soonest)
            && self.items.items[next..].iter().all(|item| item.horse_before.iter().chain(&item.gear_before).all(ended))
    }
}

#[cfg(test)]
mod tests {
    use super::super::rests;
    use super::*;
    use crate::plan::search::sample;
    use crate::plan::search::table::Table;

    /// What a march through a whole day finds, and for how many labels, with the ways to do the rest or without; and from how many
    /// items on these were known.
    fn march(day: &crate::plan::Day, room: Cost, with_ways: bool) -> (End, u64, usize) {
        let table = Table::new(day);
        let missed = vec![false; day.outings.len()];
        let items = Items::new(day, &table, &missed, &vec![0; day.grooms.len()]).expect("small enough");
        let mut go_on = || true;
        let mut left = Purse { left: 1_000_000, go_on: &mut go_on };
        let rest = rests(&items, &[], 300 * items.scale, &mut left).expect("a plan");
        let before = left.left;
        let limit = rest[0].above + room * items.scale;
        let ways = if with_ways { ways(&items, &rest, limit, &mut left) } else { Vec::new() };
        let mut march = March::new(&items, &rest, 0, limit, Counts::Whole, &ways);
        let end = march.run(&mut left);
        (end, before - left.left, ways.iter().flatten().count())
    }

    #[test]
    fn a_march_that_takes_the_rest_as_it_is_known_finds_what_one_to_the_end_finds() {
        let days = [
            vec![(500, 17), (505, 11), (640, 13), (645, 19), (780, 12)],
            vec![(480, 20), (490, 13), (660, 11), (665, 14)],
            vec![(480, 18), (560, 12), (640, 15), (720, 18)],
            // One horse after the other: nobody ever rests.
            vec![(500, 17), (520, 11), (540, 13)],
        ];
        let mut known = 0;
        for rides in &days {
            let day = sample::day(2, 0, rides);
            for room in [0, 3, 12] {
                let ((end, _, from), (to_the_end, ..)) = (march(&day, room, true), march(&day, room, false));
                assert_eq!(end, to_the_end, "{rides:?}, within {room}");
                assert_ne!(end, End::Stopped);
                known += from;
            }
        }
        assert!(known > 0, "the rest was known nowhere");
    }

    #[test]
    fn the_more_stretches_a_day_has_the_more_is_saved() {
        let rides = [(500, 17), (505, 11), (640, 13), (645, 19), (780, 12), (785, 16), (920, 14), (925, 18)];
        let day = sample::day(2, 0, &rides);
        let ((end, with, _), (to_the_end, without, _)) = (march(&day, 4, true), march(&day, 4, false));
        assert_eq!(end, to_the_end);
        assert!(with < without, "{with} labels, {without} to the end");
    }
}
