//! What people call things, for the plan's reasons: names in place of ids, and the clock on the wall.

use std::collections::BTreeMap;

use crate::book::Book;
use crate::plan::day::STAFF;
use crate::plan::file::WordsFile;
use crate::time::{LocalDay, TimeOfDay};

/// The barn's words for a day.
pub(super) fn words(book: &Book, day: LocalDay) -> WordsFile {
    WordsFile {
        grooms: labels(book.people.values().map(|person| (person.id.as_str(), person.name.as_str()))),
        horses: labels(book.horses.values().map(|horse| (horse.id.as_str(), horse.name.as_str()))),
        gear: labels(book.tack.values().map(|piece| (piece.id.as_str(), piece.name.as_str()))),
        // Clocks change in the night; by noon they run as they will all day.
        clock_ahead: i64::from(TimeOfDay::NOON.minutes()) - day.minute_of(TimeOfDay::NOON),
    }
}

/// A name for each id, with the id beside it where several have the name or it means the staff.
fn labels<'a>(named: impl Iterator<Item = (&'a str, &'a str)>) -> BTreeMap<String, String> {
    let named: Vec<(&str, &str)> = named.collect();
    let mut bearers: BTreeMap<&str, usize> = BTreeMap::new();
    named.iter().for_each(|(_, name)| *bearers.entry(name).or_default() += 1);
    let label = |(id, name): &(&str, &str)| {
        let alone = *name != STAFF && bearers.get(name) == Some(&1);
        ((*id).to_owned(), if alone { (*name).to_owned() } else { format!("{name} ({id})") })
    };
    named.iter().map(label).collect()
}
