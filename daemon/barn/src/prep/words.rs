//! A day to be planned in the words of the barn: names in place of ids, so that the plan's reasons name horses, people and
//! tack as everybody does.

use std::collections::BTreeMap;

use crate::book::Book;
use crate::plan::day::STAFF;
use crate::plan::file::DayFile;

/// The day with the names by which people know horses, grooms and tack. Of a day to come: what has happened keeps its ids.
pub(super) fn in_words(book: &Book, mut file: DayFile) -> DayFile {
    let horses = labels(book.horses.values().map(|horse| (horse.id.as_str(), horse.name.as_str())));
    let people = labels(book.people.values().map(|person| (person.id.as_str(), person.name.as_str())));
    let tack = labels(book.tack.values().map(|piece| (piece.id.as_str(), piece.name.as_str())));
    let rename = |labels: &BTreeMap<&str, String>, id: &mut String| {
        if let Some(label) = labels.get(id.as_str()) {
            id.clone_from(label);
        }
    };
    file.horses.iter_mut().for_each(|horse| rename(&horses, &mut horse.id));
    file.grooms.iter_mut().for_each(|groom| rename(&people, &mut groom.id));
    file.gear.iter_mut().for_each(|piece| rename(&tack, piece));
    for ride in &mut file.rides {
        rename(&horses, &mut ride.horse);
        ride.gear.iter_mut().for_each(|piece| rename(&tack, piece));
    }
    file
}

/// A name for each id, with the id beside it where several have the name or it means the staff.
fn labels<'a>(named: impl Iterator<Item = (&'a str, &'a str)> + Clone) -> BTreeMap<&'a str, String> {
    let label = |(id, name): (&'a str, &'a str)| {
        let alone = name != STAFF && named.clone().filter(|(_, other)| *other == name).count() == 1;
        (id, if alone { name.to_owned() } else { format!("{name} ({id})") })
    };
    named.clone().map(label).collect()
}
