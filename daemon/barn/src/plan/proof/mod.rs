//! Proofs for days small enough: the cheapest plan there is, or that a plan that is known is one.
//!
//! Every set of outings that a plan as cheap could miss is looked at by itself, so that in what follows all outings take place.
//! A day's work is a chain: what happens at ten hardly touches what happens at three, but for `busiest`. So it is solved from
//! its end (Russian doll search; Verfaillie, Lemaître and Schiex 1996): first the last half by itself, then the last two, and
//! so on. What the last few cost at least is what a plan for more of them can not pass by. Each of these small days is
//! solved by a march through its minutes ([`march`]). `busiest` is shared out among the grooms' minutes for that; a last
//! march over all halves counts it as it is.

mod costs;
mod items;
mod label;
mod least;
mod march;
mod missed;
mod open;
mod tight;

use super::day::{Day, Hand, Job, LAST_MINUTE, Minute};
use super::price::{Task, Tasks};
use super::search::table::Table;
use items::{Cost, GROOMS, HALVES, Items, NEVER};
use march::{End, March, Rest, Step};

/// A set of outings to be missed is worth as much as so many labels.
const LABELS_A_SET: u64 = 300;
/// The most sets that are looked at.
const MOST_SETS: u64 = 30;
/// After so many labels somebody may stop it.
const LABELS_BETWEEN_QUESTIONS: u64 = 256;

/// Up to so many open halves most days can be proved.
const LIKELY: usize = 20;

/// What is known when the effort is spent.
pub(super) struct Proof {
    /// A cost that no plan can be under.
    pub(super) bound: i64,
    /// A cheaper plan than the one that was known.
    pub(super) better: Option<Tasks>,
    /// How much of the effort was used.
    pub(super) spent: u64,
}

/// What may still be spent, in labels.
pub(super) struct Purse<'a> {
    left: u64,
    go_on: &'a mut dyn FnMut() -> bool,
}

impl Purse<'_> {
    /// Spends some; false where nothing is left, or somebody has said no.
    fn spend(&mut self, labels: u64) -> bool {
        let before = self.left;
        self.left = self.left.saturating_sub(labels);
        if before / LABELS_BETWEEN_QUESTIONS != self.left / LABELS_BETWEEN_QUESTIONS && !(self.go_on)() {
            self.left = 0;
        }
        self.left > 0
    }
}

/// Whether a proof can be tried: it gives a good bound at the least.
pub(super) fn possible(day: &Day, table: &Table) -> bool {
    let now = day.earliest();
    let there =
        table.blocks.iter().filter(|blocks| blocks.iter().all(|block| block.from > now || block.to < LAST_MINUTE));
    open_halves(day) <= HALVES && there.count() <= GROOMS
}

/// Whether it is likely to come to an end.
pub(super) fn likely(day: &Day) -> bool {
    open_halves(day) <= LIKELY
}

fn open_halves(day: &Day) -> usize {
    day.outings.iter().map(|o| usize::from(o.begun[1].is_none()) + usize::from(o.begun[2].is_none())).sum()
}

/// The best plan so far.
pub(super) struct Known<'a> {
    pub(super) cost: i64,
    /// What each groom works in it.
    pub(super) worked: &'a [Minute],
}

/// Looks for a plan cheaper than what is known, or proves that there is none, with so many labels at most.
pub(super) fn prove(day: &Day, table: &Table, known: &Known, labels: u64, go_on: &mut dyn FnMut() -> bool) -> Proof {
    let cost = known.cost;
    let mut proof = Proof { bound: i64::MAX, better: None, spent: 0 };
    let mut best = cost;
    let mut left = Purse { left: labels, go_on };
    let mut looked_at = 0;
    missed::sets(day, table, cost, &mut |missed, missing| {
        looked_at += 1;
        if looked_at > MOST_SETS {
            // Of the others nothing is known but that no plan costs less than nothing.
            proof.bound = 0;
            return false;
        }
        if missing < best {
            left.spend(LABELS_A_SET);
            let (bound, plan) = match Items::new(day, table, missed, known.worked) {
                Some(items) => prove_all(&items, best - missing, &mut left),
                None => (0, None),
            };
            proof.bound = proof.bound.min(bound + missing);
            if let Some(plan) = plan {
                best = bound + missing;
                proof.better = Some(plan);
            }
        }
        true
    });
    proof.spent = labels - left.left;
    proof.bound = proof.bound.min(best);
    proof
}

/// The same for a day none of whose outings are missed: the bound, and the cheaper plan with just that cost.
fn prove_all(items: &Items, cost: i64, left: &mut Purse) -> (i64, Option<Tasks>) {
    // The least sum above `base` that is not better than what is known.
    let goal = items.scale * (cost - 1) - items.base + 1;
    let whole = |above: Cost| (items.base + above + items.scale - 1).div_euclid(items.scale).min(cost);
    if items.base >= NEVER || goal <= 0 {
        return (cost, None);
    }
    let n = items.items.len();
    let mut rest = vec![Rest::default(); n + 1];
    for first in (0..n).rev() {
        rest[first].above = rest[first + 1].above;
        match solve(items, &rest, first, goal, false, left) {
            Solved::Best(best) => rest[first] = best,
            Solved::None => return (cost, None),
            Solved::NotYet(above) => return (whole(above), None),
        }
    }
    // The last one again, with `busiest` as it is.
    match solve(items, &rest, 0, goal, true, left) {
        Solved::Best(best) => (whole(best.above), Some(tasks(items, &best.plan))),
        Solved::None => (cost, None),
        Solved::NotYet(above) => (whole(above), None),
    }
}

/// What came of solving the items from one on.
enum Solved {
    /// The cheapest plan.
    Best(Rest),
    /// None of their plans is cheap enough.
    None,
    /// The effort is spent; all their plans cost so much above the least of the items, or more.
    NotYet(Cost),
}

/// Solves the items from one on. The limit grows step by step: a march under a low limit is short.
fn solve(items: &Items, rest: &[Rest], first: usize, goal: Cost, exact: bool, left: &mut Purse) -> Solved {
    let mut low = rest[first].above;
    let mut dive = March::new(items, rest, first, low.min(goal - 1), exact);
    if let Some(above) = dive.dive(left) {
        return Solved::Best(Rest { above, plan: dive.into_plan() });
    }
    let (mut room, mut spent_before) = (0, 0);
    while low < goal {
        let limit = (low + room).min(goal - 1);
        let before = left.left;
        let mut march = March::new(items, rest, first, limit, exact);
        match march.run(left) {
            End::Found(above) => return Solved::Best(Rest { above, plan: march.into_plan() }),
            End::None => low = limit + 1,
            End::Stopped => return Solved::NotYet(low),
        }
        let spent = before - left.left;
        room = if spent > 2 * spent_before { 2 } else { 8 } * room + items.scale;
        spent_before = spent;
    }
    Solved::None
}

/// The plan that the steps make.
fn tasks(items: &Items, steps: &[Step]) -> Tasks {
    let day = items.day;
    let nobody = Task { hand: Hand::STAFF, start: 0 };
    let begun = |i: usize| {
        [Job::Brush, Job::Tack, Job::PutAway].map(|job| {
            day.outings[i].begun[job as usize].map_or(nobody, |begun| Task { hand: begun.hand, start: begun.span.from })
        })
    };
    let mut tasks: Tasks = (0..day.outings.len()).map(|i| (!items.missed[i]).then(|| begun(i))).collect();
    for step in steps {
        if let Some(tasks) = &mut tasks[items.items[step.item].outing] {
            tasks[step.job as usize] = Task { hand: items.hand(step.hand), start: step.start + items.first };
        }
    }
    tasks
}
