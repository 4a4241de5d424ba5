//! Which sets of outings a plan may miss.

use crate::plan::day::Day;
use crate::plan::search::table::Table;

/// Calls `look` with every set of outings that costs less than `cost` to miss and leaves none that are in each other's way, and
/// with that cost, until it says no.
pub(super) fn sets(day: &Day, table: &Table, cost: i64, look: &mut dyn FnMut(&[bool], i64) -> bool) {
    let n = day.outings.len();
    // Each is looked at once both have been decided: those that can not be missed are from the first.
    let mut decided = vec![Vec::new(); n + 1];
    for &(a, b) in &table.conflicts {
        let when = [a, b].into_iter().filter(|&k| day.outings[k].can_be_missed()).map(|k| k + 1).max();
        decided[when.unwrap_or(0)].push((a, b));
    }
    let mut missed = vec![false; n];
    extend(day, &decided, 0, cost, 0, &mut missed, look);
}

/// Every set that has been chosen up to an outing, and its extensions by later ones. `conflicts` are by how many outings have to be
/// decided before they are.
fn extend(
    day: &Day,
    conflicts: &[Vec<(usize, usize)>],
    from: usize,
    cost: i64,
    missing: i64,
    missed: &mut [bool],
    look: &mut dyn FnMut(&[bool], i64) -> bool,
) -> bool {
    // Both of these stay, whatever is added.
    if conflicts[from].iter().any(|&(a, b)| !missed[a] && !missed[b]) {
        return true;
    }
    if from == day.outings.len() {
        return look(missed, missing);
    }
    if !extend(day, conflicts, from + 1, cost, missing, missed, look) {
        return false;
    }
    let more = missing + day.costs.missed * day.outings[from].weight;
    if more >= cost || !day.outings[from].can_be_missed() {
        return true;
    }
    missed[from] = true;
    let go_on = extend(day, conflicts, from + 1, cost, more, missed, look);
    missed[from] = false;
    go_on
}
