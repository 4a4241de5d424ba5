//! Who could take a ride, and what speaks against the others. The equine professional chooses.

use bellmare_barn::id::RideId;
use bellmare_barn::prep::for_aisle::ForAisle;

use super::{Does, Here, Item, Look, Sheet, back};
use crate::aisle::Tone;
use crate::app::Up;
use crate::words;

/// The page; none where no horse of the board has that ride.
pub fn sheet(here: &Here<'_>, ride: &RideId) -> Option<Sheet> {
    let units = here.board.units;
    let (stall, horse, view) = here.board.stalls.iter().find_map(|stall| {
        let horse = stall.horse.as_ref()?;
        let view = horse.rides.iter().find(|view| view.id == *ride)?;
        Some((stall, horse, view))
    })?;
    let items = match here.stand_ins.filter(|answer| answer.ride == *ride).map(|answer| &answer.horses) {
        None => vec![Item::line(words::asking())],
        Some(Err(refusal)) => vec![Item::line(words::because(refusal)).tone(Tone::Unknown)],
        Some(Ok(list)) => list.iter().map(|one| stand_in(one, here)).collect(),
    };
    Some(Sheet {
        title: words::in_place_of(&horse.name, &words::time(view.mount, units)),
        below: words::who_chooses(),
        items,
        least_width: 16.0,
        ways: vec![vec![Item::button(words::to_card(), Does::Open(Up::card(stall.id.as_str()))), back()]],
        ..Sheet::default()
    })
}

fn stand_in(one: &ForAisle, here: &Here<'_>) -> Item {
    let units = here.board.units;
    let mut why: Vec<String> = one.why_not.iter().map(|reason| words::reason(&reason.what, units)).collect();
    why.extend(one.cautions.iter().map(|caution| words::mind(caution.what)));
    if why.is_empty() {
        why.push(words::nothing_against());
    }
    let tone = match (one.fits, one.cautions.is_empty()) {
        (true, true) => Tone::Ready,
        (true, false) => Tone::Mind,
        (false, _) => Tone::Stop,
    };
    let does = here.horse(&one.horse).map(|(stall, _)| Does::Open(Up::card(stall.id.as_str())));
    Item { look: Look::Target, text: one.name.clone(), below: why.join(" · "), tone, does, ..Item::default() }
}
