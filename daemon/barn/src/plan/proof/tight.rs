//! Jobs stand tight: what a plan that could be made cheaper by moving one job looks like.
//!
//! A put away or a late tack that could have begun a minute earlier, a brush or an early tack that could have begun a minute
//! later: where waiting costs anything the plan with that job moved is cheaper, and this one need not be looked at.

use super::label::{Label, NOTHING, Stage};
use super::march::March;
use crate::plan::day::{Job, Minute};

impl March<'_> {
    /// Whether a job of this kind that could begin a minute nearer to where it would rather be is sure to be dearer for it.
    pub(super) fn tight(&self, job: Job) -> bool {
        let costs = &self.items.day.costs;
        match job {
            Job::Brush => costs.brushed_wait > 0,
            Job::Tack => costs.saddled_wait > costs.brushed_wait && costs.late + costs.brushed_wait > 0,
            Job::PutAway => costs.back_wait > 0,
        }
    }

    /// Whether a groom's brush or early tack could end a minute later, as nothing follows it at once.
    pub(super) fn loose(&self, label: &Label, g: usize, next: Minute) -> bool {
        let (held, end) = (label.held[g], Minute::from(label.free[g]));
        if held == NOTHING || end >= next {
            return false;
        }
        let k = usize::from(held);
        let job = if label.stage(k) == Stage::Done { Job::Tack } else { Job::Brush };
        let length = self.items.length(k, job);
        let later = end - length + 1;
        self.tight(job) && self.items.open[g].fits(later, length) && self.horse(k).fits(later, length)
    }

    /// The same for a brush by staff, which its tack has to follow.
    pub(super) fn loose_staff(&self, label: &Label, next: Minute) -> bool {
        self.tight(Job::Brush)
            && (usize::from(label.window.0)..usize::from(label.window.1)).any(|k| {
                let (end, length) = (Minute::from(label.ends[k]), self.items.length(k, Job::Brush));
                label.brushed_by_staff(self.items, k) && end < next && self.horse(k).fits(end - length + 1, length)
            })
    }
}
