//! Gives jobs other places on lines, all at once: the whole of the change is made, whether it fits or not, and then the times are
//! made exact. Nothing is looked for, so that it takes a microsecond or two.

use super::round::{NOWHERE, Search, around, join};
use super::state::{Entry, FIXED, of_key};
use crate::plan::day::{Hand, Minute, Span};

/// A job that gets another place, or another hand, or both.
#[derive(Clone, Copy)]
pub(super) struct Put {
    /// Its number on lines.
    pub(super) job: u32,
    /// Whose line it goes to, and where there; `None` where staff do it.
    pub(super) to: Option<(usize, Place)>,
}

/// A place on a line.
#[derive(Clone, Copy)]
pub(super) enum Place {
    /// Right before an entry that stays.
    Before(Entry),
    /// Where it would stand if it began then. What it overlaps makes way.
    From(Minute),
}

impl Search<'_> {
    /// Makes a change where the plan gets dearer by no more than `limit`, or cheaper where that is below 0: by how much; the plan
    /// is as it was where `None`.
    pub(super) fn change(&mut self, puts: &[Put], limit: i64) -> Option<i64> {
        self.state.keep(&mut self.kept);
        let before = self.state.cost();
        let mut stretch = NOWHERE;
        for put in puts {
            let (i, job, _) = of_key(put.job);
            stretch = join(stretch, self.state.outings[i].slots[job].span);
            self.state.give(put.job, put.to.map_or(Hand::STAFF, |(groom, _)| Hand::of(groom)));
        }
        let by_hands = self.state.cost() - before;
        let dearer = self
            .put_on_lines(puts, &mut stretch)
            .and_then(|()| self.timing.arrange(&self.state, around(stretch), &self.kept.outings, limit - by_hands));
        match dearer {
            Some(dearer) => self.state.take_times(self.timing.starts(), dearer),
            None => self.state.take_back(&mut self.kept),
        }
        dearer.map(|dearer| by_hands + dearer)
    }

    /// Puts jobs that have their hands on the lines; `None` where one has no place there.
    fn put_on_lines(&mut self, puts: &[Put], stretch: &mut Span) -> Option<()> {
        for put in puts {
            let Some((groom, place)) = put.to else { continue };
            let (i, job, _) = of_key(put.job);
            let span = self.state.outings[i].slots[job].span;
            let length = span.to - span.from;
            let line = &self.state.lines[groom];
            let (at, start) = match place {
                Place::From(start) => (line.partition_point(|entry| entry.span.from <= start), start),
                Place::Before(next) => {
                    let is_next = |entry: &Entry| {
                        entry.job == next.job && (entry.job != FIXED || entry.span.from == next.span.from)
                    };
                    let at = line.iter().position(is_next)?;
                    let free_from = line[at.checked_sub(1)?].span.to;
                    (at, span.from.clamp(free_from, (line[at].span.from - length).max(free_from)))
                }
            };
            *stretch = join(*stretch, Span { from: start, to: start + length });
            self.state.insert(groom, at, put.job, start);
        }
        Some(())
    }
}
