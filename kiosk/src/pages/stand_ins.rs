//! Who could take a ride, and what speaks against the others. The equine professional chooses.

use bellmare_barn::board::OpenRide;
use bellmare_barn::id::RideId;
use bellmare_barn::input::Action;
use bellmare_barn::prep::for_aisle::ForAisle;

use super::{Does, Here, Item, Look, Sheet, back};
use crate::aisle::Tone;
use crate::app::Up;
use crate::words;

/// The page; none where no horse of the board has that ride, or had it and was taken out.
pub fn sheet(here: &Here<'_>, ride: &RideId) -> Option<Sheet> {
    let units = here.board.units;
    let (stall, horse, mount) = here.board.stalls.iter().find_map(|stall| {
        let horse = stall.horse.as_ref()?;
        let goes = horse.rides.iter().map(|view| (&view.id, view.mount));
        let open = horse.open_rides.iter().map(|open| (&open.id, open.mount));
        let (_, mount) = goes.chain(open).find(|(id, _)| *id == ride)?;
        Some((stall, horse, mount))
    })?;
    let open = horse.open_rides.iter().find(|open| open.id == *ride);
    let items = match here.stand_ins.filter(|answer| answer.ride == *ride).map(|answer| &answer.horses) {
        None => vec![Item::line(words::asking())],
        Some(Err(refusal)) => vec![Item::line(words::because(refusal)).tone(Tone::Unknown)],
        Some(Ok(list)) => list.iter().map(|one| stand_in(one, open, here)).collect(),
    };
    let others = horse.open_rides.iter().filter(|open| open.id != *ride).map(|open| {
        let page = Does::Open(Up::StandIns { ride: open.id.clone() });
        Item::button(words::mount(&words::time(open.mount, units)), page).below(words::stand_ins())
    });
    let to_card = Item::button(words::to_card(), Does::Open(Up::card(stall.id.as_str())));
    Some(Sheet {
        title: words::in_place_of(&words::time(mount, units), &horse.name),
        below: words::who_chooses(),
        items,
        least_width: 16.0,
        ways: vec![[to_card].into_iter().chain(others).chain([back()]).collect()],
        ..Sheet::default()
    })
}

/// A horse; `open` where the ride has none.
fn stand_in(one: &ForAisle, open: Option<&OpenRide>, here: &Here<'_>) -> Item {
    let units = here.board.units;
    let mut why: Vec<String> = one.why_not.iter().map(|reason| words::reason(&reason.what, units)).collect();
    why.extend(one.cautions.iter().map(|caution| words::mind(caution.what)));
    why.extend(one.plan.iter().flat_map(words::plan_cost));
    if why.is_empty() {
        why.push(words::nothing_against());
    }
    let missed = one.plan.is_some_and(|cost| cost.missed > 0);
    let tone = match (one.fits, one.cautions.is_empty() && !missed) {
        (true, true) => Tone::Ready,
        (true, false) => Tone::Mind,
        (false, _) => Tone::Stop,
    };
    let does = here.horse(&one.horse).map(|(stall, _)| Does::Open(Up::card(stall.id.as_str())));
    let item =
        Item { look: Look::Target, text: one.name.clone(), below: why.join(" · "), tone, does, ..Item::default() };
    let Some(open) = open.filter(|_| chooses(here)) else { return item };
    let goes = |horse| Does::Give(Action::StandIn { ride: open.id.clone(), horse });
    if open.instead.as_ref().is_some_and(|other| other.id == one.horse) {
        let below = words::goes_at(&one.name, &words::time(open.mount, units));
        return item.below(below).strong(Tone::Ready).aside(words::undo(), goes(None));
    }
    if one.fits { item.aside(words::goes(), goes(Some(one.horse.clone()))) } else { item }
}

/// Whether whoever acts as staff may say who goes.
fn chooses(here: &Here<'_>) -> bool {
    here.staff.and_then(|staff| here.person(staff)).is_some_and(|person| person.role.chooses_horses())
}
