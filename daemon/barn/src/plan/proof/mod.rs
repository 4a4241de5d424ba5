//! Proofs for days small enough: the cheapest plan there is, or that a plan that is known is one.
//!
//! Every set of outings that a plan as cheap could miss is looked at by itself, so that in what follows all outings take place.
//! A day's work is a chain: what happens at ten hardly touches what happens at three, but for `busiest`. So it is solved from
//! its end (Russian doll search; Verfaillie, Lemaître and Schiex 1996): first the last half by itself, then the last two, and
//! so on. What the last few cost at least is what a plan for more of them can not pass by. Each of these small days is
//! solved by a march through its minutes ([`march`]). `busiest` is shared out among the grooms' minutes for that; a last
//! march over all halves counts it as it is ([`ways`]).

mod among;
mod costs;
mod items;
mod label;
mod least;
mod march;
mod missed;
mod open;
mod tight;
mod ways;

use super::day::{Day, Hand, Job, LAST_MINUTE, Minute};
use super::price::{Task, Tasks};
use super::search::state::Half;
use super::search::table::Table;
use items::{Cost, GROOMS, HALVES, Items, NEVER};
use march::{Counts, End, March, Rest, Step};
use ways::ways;

/// A set of outings to be missed is worth as much as so many labels.
const LABELS_A_SET: u64 = 300;
/// The most sets that are looked at.
const MOST_SETS: u64 = 30;
/// After so many labels somebody may stop it.
const LABELS_BETWEEN_QUESTIONS: u64 = 256;

/// The first limit of a march over the least that there can be, in units of cost, and by how much each next one is further.
const FIRST_ROOM: Cost = 8;
const MORE_ROOM: Cost = 4;
/// Once a march has taken so many labels the next one goes all the way.
const MANY: u64 = 100;

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
    pub(super) tasks: &'a Tasks,
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
                Some(items) => prove_all(&items, &shown(&items, known.tasks), best - missing, &mut left),
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

/// The same for a day none of whose outings are missed: the bound, and the cheaper plan with just that cost. `shown` is what the
/// plan that is known has for the items from each on.
fn prove_all(items: &Items, shown: &[Rest], cost: i64, left: &mut Purse) -> (i64, Option<Tasks>) {
    // The least sum above `base` that is not better than what is known.
    let goal = items.scale * (cost - 1) - items.base + 1;
    let whole = |above: Cost| (items.base + above + items.scale - 1).div_euclid(items.scale).min(cost);
    if items.base >= NEVER || goal <= 0 {
        return (cost, None);
    }
    let rest = match rests(items, shown, goal, left) {
        Ok(rest) => rest,
        Err(Solved::NotYet(above)) => return (whole(above), None),
        Err(_) => return (cost, None),
    };
    // The whole day again, with `busiest` as it is.
    match march_up(items, &rest, 0, (rest[0].above, goal), Counts::Whole, left) {
        Solved::Best(best) => (whole(best.above), Some(tasks(items, &best.plan))),
        Solved::None => (cost, None),
        Solved::NotYet(above) => (whole(above), None),
    }
}

/// Solves the items from each on by themselves, those of the last first; what came of the first that has no solution.
fn rests(items: &Items, shown: &[Rest], goal: Cost, left: &mut Purse) -> Result<Vec<Rest>, Solved> {
    let n = items.items.len();
    let mut rest = vec![Rest::default(); n + 1];
    for first in (0..n).rev() {
        rest[first].above = rest[first + 1].above;
        match solve(items, &rest, first, goal, shown.get(first), left) {
            Solved::Best(best) => rest[first] = best,
            solved => return Err(solved),
        }
    }
    Ok(rest)
}

/// What a plan that is known has for the items from each on; nothing where it misses what is not missed here.
fn shown(items: &Items, known: &Tasks) -> Vec<Rest> {
    let mut shown = vec![Rest::default()];
    for (k, item) in items.items.iter().enumerate().rev() {
        let Some(tasks) = known[item.outing] else { return Vec::new() };
        let mut rest = shown[shown.len() - 1].clone();
        rest.above += items.paid_at_first(k) - item.own;
        let mut brusher = item.brushed.map(|(hand, _)| hand);
        let jobs: &[Job] = match (item.half, item.brushed) {
            (Half::Rear, _) => &[Job::PutAway],
            (Half::Front, Some(_)) => &[Job::Tack],
            (Half::Front, None) => &[Job::Brush, Job::Tack],
        };
        for &job in jobs {
            let Task { hand, start } = tasks[job as usize];
            let groom = items.grooms.iter().position(|&groom| hand == Hand::of(groom));
            if groom.is_none() && hand != Hand::STAFF {
                return Vec::new();
            }
            let start = start - items.first;
            rest.above += items.cost(k, job, groom, start, brusher);
            rest.plan.push(Step::new(k, job, groom, start));
            brusher = Some(hand);
        }
        shown.push(rest);
    }
    shown.reverse();
    shown
}

/// What came of solving the items from one on.
#[derive(Debug)]
enum Solved {
    /// The cheapest plan.
    Best(Rest),
    /// None of their plans is cheap enough.
    None,
    /// The effort is spent; all their plans cost so much above the least of the items, or more.
    NotYet(Cost),
}

/// Solves the items from one on, of which a plan may be known.
fn solve(items: &Items, rest: &[Rest], first: usize, goal: Cost, shown: Option<&Rest>, left: &mut Purse) -> Solved {
    let low = rest[first].above;
    let mut dive = March::new(items, rest, first, low.min(goal - 1), Counts::Shares, &[]);
    if let Some(above) = dive.dive(left) {
        return Solved::Best(Rest { above, plan: dive.into_plan() });
    }
    // What is known need only be bettered.
    let known = shown.filter(|shown| shown.above < goal);
    match (march_up(items, rest, first, (low, known.map_or(goal, |known| known.above)), Counts::Shares, left), known) {
        (Solved::None, Some(known)) => Solved::Best(known.clone()),
        (solved, _) => solved,
    }
}

/// Looks for the cheapest plan of the items from one on that costs `low` at the least and less than `goal` above the least of
/// the items. The limit grows step by step: a march under a low limit is short.
fn march_up(
    items: &Items,
    rest: &[Rest],
    first: usize,
    (mut low, goal): (Cost, Cost),
    counts: Counts,
    left: &mut Purse,
) -> Solved {
    let mut room = 0;
    while low < goal {
        let limit = if goal - low <= 2 * room { goal - 1 } else { low + room };
        let before = left.left;
        let limit = limit.min(goal - 1);
        let ways = if counts == Counts::Whole { ways(items, rest, limit, left) } else { Vec::new() };
        let mut march = March::new(items, rest, first, limit, counts, &ways);
        match march.run(left) {
            End::Found(above) => return Solved::Best(Rest { above, plan: march.into_plan() }),
            End::None => low = limit + 1,
            End::Stopped => return Solved::NotYet(low),
        }
        let spent = before - left.left;
        room = if spent > MANY { goal } else { (FIRST_ROOM * items.scale).max(MORE_ROOM * room) };
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
