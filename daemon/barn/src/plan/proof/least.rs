//! The least that a label can end with.

use super::items::{Cost, GROOMS};
use super::label::{Label, Stage};
use super::march::{Counts, March};
use crate::plan::day::{Job, Minute};
use crate::plan::search::state::Half;

impl March<'_> {
    /// Whether a label may still end within the limit.
    pub(super) fn within(&self, label: &Label, t: Minute) -> bool {
        let bound = self.bound(label, t);
        bound <= self.limit
    }

    /// The least that a label can end with, above the least of its items; or some of that, where it is over the limit already. Whatever item is the first of those that are left to
    /// `rest`, the plan has paid for those before it, and can not have the others for less than they cost by themselves.
    fn bound(&self, label: &Label, t: Minute) -> Cost {
        let (from, to) = (usize::from(label.window.0), usize::from(label.window.1));
        let n = self.items.items.len();
        let free = || label.free[..self.items.open.len()].iter().map(|&free| Minute::from(free).max(t));
        let (soonest, latest) = (free().min().unwrap_or(t), free().max().unwrap_or(t));
        // Each groom goes to one item next. All others wait until one of these is done.
        let shortest = self.shortest[from];
        let mut next = [0; GROOMS];
        let (mut sum, mut bound) = (label.settled, 0);
        for k in from..n {
            let saved: Cost = next.iter().sum();
            bound = bound.max(sum - saved + self.rest[k].above);
            if bound > self.limit {
                return bound;
            }
            if k >= to && self.items.items[k].natural > latest.max(soonest + shortest) {
                break;
            }
            let (excess, later) = label.excess(self.items, k, t, soonest + shortest);
            sum += later;
            let mut gain = later - excess;
            for best in &mut next[..self.items.open.len()] {
                if gain > *best {
                    std::mem::swap(best, &mut gain);
                }
            }
        }
        bound = bound.max(sum - next.iter().sum::<Cost>());
        if self.counts != Counts::Whole || bound > self.limit {
            return bound;
        }
        let (mut left, mut all) = (0, true);
        for k in from..self.items.items.len() {
            let (item, stage) = (&self.items.items[k], label.stage(k));
            if stage != Stage::Done {
                left += self.items.length(k, if item.half == Half::Rear { Job::PutAway } else { Job::Tack });
                all &= label.excess_by_staff(self.items, k) > self.limit;
                if stage == Stage::Open && item.half == Half::Front {
                    left += self.items.length(k, Job::Brush);
                }
            }
        }
        // A plan costs whole units.
        let bound = self.items.base + bound + label.uneven(self.items, left, all);
        (bound + self.items.scale - 1).div_euclid(self.items.scale) * self.items.scale - self.items.base
    }
}
