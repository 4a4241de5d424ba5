//! Whose turn a chore is, and whether it was done. No chance is in it: the same days give the same turns.
//!
//! Each time a chore is due, everybody who can be counted on at its time is *owed* an equal share of it, and who has the turn
//! pays for the whole. The turn is of whoever is owed most, less half a turn for each that they have that day; among equals in
//! order of ids. So who comes twice a week gets a turn as often as is fair for twice a week, and nobody is ever far from their share. It
//! is how a car pool is kept fair (Fagin and Williams 1983, from memory).
//!
//! A turn stays for the day as long as that person comes; one who is not there any more loses it to the next. A turn counts
//! whether or not somebody said that the chore was done, or a barn that crosses nothing off would ask one person for ever. Where
//! somebody else did it, they have had the turn, and whose turn it was is still owed it. Knows people and chores by their ids
//! alone; who can be counted on is for the barn to say.

use std::collections::{BTreeMap, BTreeSet};

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use crate::done::{Done, NoUndo};
use crate::id::{ChoreId, PersonId};
use crate::time::Mono;

/// One whole turn. Divided by any number up to ten without a rest, and above that nearly so.
const WHOLE: i64 = 2520;
/// Each turn that somebody has on the same day already counts against so much that they are owed: nobody does it all in a day to
/// be even in a quarter of a year.
const A_TURN_MORE: i64 = WHOLE / 2;

/// Today's chores, and what everybody is owed of each.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub struct Chores {
    date: Option<NaiveDate>,
    today: BTreeMap<ChoreId, Turn>,
    owed: BTreeMap<ChoreId, BTreeMap<PersonId, i64>>,
}

/// How it stands with one chore today.
#[derive(Clone, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
pub struct Turn {
    /// Whose turn it is; none where nobody can be counted on.
    pub whose: Option<PersonId>,
    /// Who has done it, and when.
    pub done: Option<Done>,
    /// Whose turn it was when its time came.
    pays: Option<PersonId>,
    /// Who could be counted on at its time, as it was last known before.
    among: BTreeSet<PersonId>,
}

impl Chores {
    /// A day begins: the turns of the day before are reckoned up.
    pub fn turn_to(&mut self, date: NaiveDate) {
        if self.date.replace(date) == Some(date) {
            return;
        }
        for (chore, turn) in std::mem::take(&mut self.today) {
            self.reckon(chore, turn);
        }
    }

    /// Of which day this is.
    pub fn date(&self) -> Option<NaiveDate> {
        self.date
    }

    /// Who can be counted on for a chore of today, in any order: whose turn is it? `over`: its time has passed, and it is asked
    /// who can still do it. Says whether it is another's turn now.
    pub fn decide(&mut self, chore: &ChoreId, able: &BTreeSet<PersonId>, over: bool) -> bool {
        let before = self.today.get(chore);
        if before.is_some_and(|turn| turn.done.is_some()) {
            return false;
        }
        let keeps = before.and_then(|turn| turn.whose.clone()).filter(|person| able.contains(person));
        let whose = keeps.or_else(|| self.next(chore, able));
        let turn = self.today.entry(chore.clone()).or_default();
        if !over {
            turn.among.clone_from(able);
            turn.pays.clone_from(&whose);
        }
        let changed = turn.whose != whose;
        turn.whose = whose;
        changed
    }

    /// How it stands with a chore.
    pub fn turn(&self, chore: &ChoreId) -> Option<&Turn> {
        self.today.get(chore)
    }

    /// Somebody has done a chore. Where somebody has said so already, that stands.
    pub fn done(&mut self, chore: &ChoreId, done: Done) {
        self.today.entry(chore.clone()).or_default().done.get_or_insert(done);
    }

    /// It was not done after all.
    ///
    /// # Errors
    /// Why it can not be taken back.
    pub fn take_back(&mut self, chore: &ChoreId, at: Mono) -> Result<(), NoUndo> {
        let turn = self.today.get_mut(chore).ok_or(NoUndo::Nothing)?;
        turn.done.as_ref().ok_or(NoUndo::Nothing)?.undo(at)?;
        turn.done = None;
        Ok(())
    }

    /// When each of what was done can not be taken back any more.
    pub fn undo_ends(&self) -> impl Iterator<Item = Mono> {
        self.today.values().filter_map(|turn| turn.done.as_ref()).map(Done::undo_ends)
    }

    /// Chores and people that have left the book are owed nothing, and no turn is theirs.
    pub fn retain(&mut self, chore: impl Fn(&ChoreId) -> bool, person: impl Fn(&PersonId) -> bool) {
        self.today.retain(|id, _| chore(id));
        for turn in self.today.values_mut() {
            turn.whose.take_if(|whose| !person(whose));
            turn.pays.take_if(|pays| !person(pays));
            turn.among.retain(&person);
        }
        self.owed.retain(|id, _| chore(id));
        for owed in self.owed.values_mut() {
            owed.retain(|id, _| person(id));
        }
    }

    fn next(&self, chore: &ChoreId, able: &BTreeSet<PersonId>) -> Option<PersonId> {
        let owed = |person: &PersonId| self.owed.get(chore).and_then(|owed| owed.get(person)).copied().unwrap_or(0);
        let turns = |person: &PersonId| -> i64 {
            let theirs = self.today.iter().filter(|(id, turn)| *id != chore && turn.whose.as_ref() == Some(person));
            theirs.map(|_| 1).sum()
        };
        able.iter().min_by_key(|person| turns(person) * A_TURN_MORE - owed(person)).cloned()
    }

    /// Everybody who could be counted on gets their share, and who had the turn pays for it.
    fn reckon(&mut self, chore: ChoreId, turn: Turn) {
        let Turn { done, pays, mut among, .. } = turn;
        let Some(pays) = done.and_then(|done| done.by).or(pays) else { return };
        among.insert(pays.clone());
        let share = WHOLE / i64::try_from(among.len()).unwrap_or(WHOLE).min(WHOLE);
        let owed = self.owed.entry(chore).or_default();
        let mut whole = 0;
        for person in among {
            *owed.entry(person).or_default() += share;
            whole += share;
        }
        *owed.entry(pays).or_default() -= whole;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const CHORES: [&str; 5] = ["buckets", "feed", "girths", "muck", "sweep"];

    fn day(n: u64) -> NaiveDate {
        NaiveDate::from_ymd_opt(2026, 6, 1).expect("a Monday") + chrono::Days::new(n)
    }

    fn able(people: &[&str]) -> BTreeSet<PersonId> {
        people.iter().map(|person| PersonId::from(*person)).collect()
    }

    fn whose(chores: &Chores, chore: &str) -> String {
        let turn = chores.turn(&chore.into()).and_then(|turn| turn.whose.as_ref());
        turn.map_or_else(|| "nobody".to_owned(), ToString::to_string)
    }

    /// So many days on which these can be counted on, each day's by its number; how often everybody had each chore, and how
    /// often was theirs by right.
    fn weeks(days: u64, there: impl Fn(u64) -> Vec<&'static str>) -> BTreeMap<(&'static str, String), (u32, f64)> {
        let mut chores = Chores::default();
        let mut had: BTreeMap<_, (u32, f64)> = BTreeMap::new();
        for n in 0..days {
            let there = there(n);
            chores.turn_to(day(n));
            let mut turns: BTreeMap<String, usize> = BTreeMap::new();
            for chore in CHORES {
                chores.decide(&chore.into(), &able(&there), false);
                for person in &there {
                    had.entry((chore, (*person).to_owned())).or_default().1 += 1.0 / there.len() as f64;
                }
                had.entry((chore, whose(&chores, chore))).or_default().0 += 1;
                *turns.entry(whose(&chores, chore)).or_default() += 1;
            }
            let most = turns.values().copied().max().unwrap_or(0);
            assert!(most <= CHORES.len().div_ceil(there.len()) + 1, "day {n}: one does it all: {turns:?}");
        }
        had
    }

    #[test]
    fn over_a_quarter_of_a_year_everybody_has_their_share_of_each_chore() {
        for ((chore, person), (had, share)) in weeks(91, |_| vec!["ana", "linus", "oona", "tomas"]) {
            assert!((f64::from(had) - share).abs() < 1.5, "{person} had {chore} {had} times of {share}");
        }
    }

    #[test]
    fn who_comes_seldom_has_the_share_of_who_comes_seldom() {
        // As on a real sheet: other people on other days, and one who is there every day.
        let there = |n: u64| match n % 7 {
            0 | 2 | 4 => vec!["ana", "oona", "tomas"],
            1 | 3 => vec!["linus", "priya", "tomas"],
            _ => vec!["ana", "tomas"],
        };
        let had = weeks(364, there);
        assert_eq!(had.len(), 5 * CHORES.len());
        for ((chore, person), (had, share)) in had {
            assert!((f64::from(had) - share).abs() < 1.5, "{person} had {chore} {had} times of {share}");
        }
    }

    #[test]
    fn a_turn_stays_with_who_comes_and_goes_to_the_next_where_they_do_not() {
        let mut chores = Chores::default();
        chores.turn_to(day(0));
        chores.decide(&"feed".into(), &able(&["oona", "tomas"]), false);
        assert_eq!(whose(&chores, "feed"), "oona");
        chores.decide(&"feed".into(), &able(&["ana", "oona", "tomas"]), false);
        assert_eq!(whose(&chores, "feed"), "oona", "Ana has come, and is owed as much");
        chores.decide(&"feed".into(), &able(&["tomas"]), false);
        assert_eq!(whose(&chores, "feed"), "tomas");
        chores.decide(&"feed".into(), &able(&["oona", "tomas"]), false);
        assert_eq!(whose(&chores, "feed"), "tomas", "it was given away");
        chores.decide(&"feed".into(), &able(&[]), true);
        assert_eq!(whose(&chores, "feed"), "nobody");
        // Oona and Tomas were there at its time and the turn was Tomas's, so that Oona is next.
        chores.turn_to(day(1));
        chores.decide(&"feed".into(), &able(&["oona", "tomas"]), false);
        assert_eq!(whose(&chores, "feed"), "oona");
    }

    #[test]
    fn who_did_it_had_the_turn_and_who_did_not_is_still_owed_it() {
        let mut chores = Chores::default();
        let all = able(&["ana", "oona", "tomas"]);
        chores.turn_to(day(0));
        chores.decide(&"feed".into(), &all, false);
        assert_eq!(whose(&chores, "feed"), "ana");
        chores.done(&"feed".into(), Done { at: Mono(1), by: Some("tomas".into()) });
        chores.done(&"feed".into(), Done { at: Mono(2), by: Some("oona".into()) });
        assert_eq!(chores.turn(&"feed".into()).and_then(|turn| turn.done.clone()?.by), Some("tomas".into()));
        for (n, next) in [(1, "ana"), (2, "oona"), (3, "ana"), (4, "oona")] {
            chores.turn_to(day(n));
            chores.decide(&"feed".into(), &all, false);
            assert_eq!(whose(&chores, "feed"), next, "day {n}");
        }
    }

    #[test]
    fn what_was_crossed_off_can_be_taken_back_and_the_book_may_forget() {
        let mut chores = Chores::default();
        chores.turn_to(day(0));
        assert_eq!(chores.take_back(&"feed".into(), Mono(1)), Err(NoUndo::Nothing));
        chores.decide(&"feed".into(), &able(&["ana"]), false);
        chores.done(&"feed".into(), Done { at: Mono(1), by: None });
        assert_eq!(chores.take_back(&"feed".into(), Mono(2)), Ok(()));
        assert_eq!(chores.turn(&"feed".into()).and_then(|turn| turn.done.clone()), None);
        chores.turn_to(day(1));
        chores.retain(|_| true, |person| person.as_str() != "ana");
        assert_eq!(chores.owed[&"feed".into()].len(), 0);
        chores.retain(|_| false, |_| true);
        assert_eq!(chores, Chores { date: Some(day(1)), ..Chores::default() });
    }
}
