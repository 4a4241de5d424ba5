//! What a screen shows of the barn's water. Nothing here changes anything.

use std::collections::BTreeMap;

use super::Barn;
use super::aisle_view;
use super::day_view::Shown;
use super::view::tenth;
use crate::alarm::whole_minutes;
use crate::board::{DrinkingView, FillView, PaddockView, RunsDryView, WaterHappened, WaterState, WaterView, WhyFill};
use crate::book::{Horse, WaterPlace};
use crate::id::StallId;
use crate::sensor::Heard;
use crate::time::{Mono, Now, TimeOfDay, Today};
use crate::units::Litres;
use crate::water::dry::{AHEAD_MIN, RunsDry, runs_dry};
use crate::water::guide;

/// The water of a place.
pub(super) fn water(barn: &Barn, place: &WaterPlace, now: Mono) -> WaterView {
    let Some(supply) = barn.waters.places.get(place) else { return WaterView::NoBucket };
    let minutes = |since: Mono| whole_minutes(now.since(since));
    let heard: Vec<Option<&Heard>> = supply.buckets().keys().map(|sensor| barn.sensors.get(sensor)).collect();
    let silent = heard.iter().flatten().find(|heard| heard.is_silent(&barn.limits.sensors, now));
    match (supply.content(), silent, supply.fault()) {
        (Some(content), Some(heard), _) => {
            WaterView::Silent { last_percent: tenth(content.percent.get()), for_min: heard.last().map_or(0, minutes) }
        }
        (_, _, Some((fault, since))) => WaterView::Faulty { for_min: minutes(since), fault: Some(fault) },
        (Some(content), None, None) => WaterView::Known {
            litres: tenth(content.litres.get()),
            percent: tenth(content.percent.get()),
            state: content.state,
            for_min: minutes(content.since),
        },
        (None, _, None) => WaterView::NeverHeard,
    }
}

/// What a horse drinks; none where its stall has no water, or nothing is known of it.
pub(super) fn drinking(day: &Shown<'_>, horse: &Horse, today: Option<&Today>, now: Mono) -> Option<DrinkingView> {
    let barn = day.barn;
    let place = WaterPlace::Stall(horse.stall.clone());
    let supply = barn.waters.places.get(&place)?;
    let intake = barn.waters.horses.get(&horse.id)?;
    let today = today?;
    let date = today.day().date();
    let hour = usize::from(today.day().time(today.now()).minutes() / 60);
    let litres = intake.days().next_back().filter(|day| day.date == date).map_or(0.0, |day| day.total().get());
    let last = supply.happened().next_back().map(|one| WaterHappened {
        how: one.how,
        litres: tenth(one.litres.get()),
        ago_min: whole_minutes(now.since(one.to)),
    });
    Some(DrinkingView {
        today: tenth(litres),
        usual: intake.habit(date).map(|habit| (tenth(habit.litres.get()), habit.days)),
        // In fives: a guide is no finer, and a horse's weight is the office's business.
        guide: horse
            .weight
            .zip(day.coldest)
            .map(|(weight, air)| (guide::litres_a_day(weight, air).get() / 5.0).round() * 5.0),
        dry_min: intake.dry_min(),
        runs_dry: day.dry.get(&horse.stall).and_then(|dry| {
            Some(RunsDryView {
                earliest: time_in(today, dry.earliest?),
                usual: dry.usual.map(|minutes| time_in(today, minutes)),
                latest: dry.latest.map(|minutes| time_in(today, minutes)),
                days: dry.days,
            })
        }),
        last,
        hours: intake.hours(date, hour).map(|litres| tenth(litres.get())).collect(),
        days: intake.days_before(date).map(|litres| litres.map(|litres| tenth(litres.get()))).collect(),
    })
}

/// Paddocks with water.
pub(super) fn paddocks(barn: &Barn, now: Now) -> Vec<PaddockView> {
    let paddocks = barn.waters.places.keys().filter_map(|place| match place {
        WaterPlace::Paddock(paddock) => Some((paddock, place)),
        WaterPlace::Stall(_) => None,
    });
    paddocks
        .map(|(paddock, place)| PaddockView {
            paddock: paddock.clone(),
            water: water(barn, place, now.mono),
            filled: aisle_view::filled(barn, place, now),
        })
        .collect()
}

/// Which water to fill now: what is empty, low, may be gone before the next round, or is not known, as somebody has to look.
pub(super) fn round(day: &Shown<'_>, today: Option<&Today>, now: Mono) -> Vec<FillView> {
    let barn = day.barn;
    let stalls = barn.book.stalls.iter().map(|stall| WaterPlace::Stall(stall.id.clone()));
    let paddocks = barn.waters.places.keys().filter(|place| matches!(place, WaterPlace::Paddock(_))).cloned();
    stalls.chain(paddocks).filter_map(|place| stop(day, place, today, now)).collect()
}

fn stop(day: &Shown<'_>, place: WaterPlace, today: Option<&Today>, now: Mono) -> Option<FillView> {
    let barn = day.barn;
    if barn.is_just_filled(&place, now) {
        return None;
    }
    let supply = barn.waters.places.get(&place)?;
    let horse = if let WaterPlace::Stall(stall) = &place { barn.horse_at(stall) } else { None };
    let why = match water(barn, &place, now) {
        WaterView::NoBucket => return None,
        // An empty stall's bucket, or a sensor that nobody has hung up yet, sends nobody running.
        WaterView::NeverHeard => return None,
        WaterView::Silent { .. } | WaterView::Faulty { .. } => WhyFill::Unknown,
        WaterView::Known { state: WaterState::Empty, .. } => WhyFill::Empty,
        WaterView::Known { state: WaterState::Low, .. } => WhyFill::Low,
        WaterView::Known { .. } => {
            let earliest = day.dry.get(&horse?.stall)?.earliest?;
            if earliest > barn.limits.water.round_ahead.0 {
                return None;
            }
            WhyFill::RunsDry(time_in(today?, earliest))
        }
    };
    let litres = supply.content().filter(|_| why != WhyFill::Unknown);
    let litres = litres.map(|content| tenth((supply.full().get() - content.litres.get()).max(0.0)));
    Some(FillView { place, horse: horse.map(|horse| horse.name.clone()), litres, why })
}

/// When the water of each stall will be gone, by what its horse drinks: down to what counts as empty. What can not be said is
/// left out.
pub(super) fn dry<'a>(barn: &'a Barn, today: &Today, now: Mono) -> BTreeMap<&'a StallId, RunsDry> {
    let (date, minute) = (today.day().date(), u32::from(today.day().time(today.now()).minutes()));
    let of = |horse: &'a Horse| {
        let place = WaterPlace::Stall(StallId::clone(&horse.stall));
        if !barn.is_known(&place, now) {
            return None;
        }
        let supply = barn.waters.places.get(&place)?;
        let left = supply.content()?.litres.get() - supply.full().get() * barn.limits.water.empty.get() / 100.0;
        let dry = runs_dry(barn.waters.horses.get(&horse.id)?, Litres(left.max(0.0)), date, minute)?;
        Some((&horse.stall, dry))
    };
    barn.book.horses.values().filter_map(of).collect()
}

fn time_in(today: &Today, minutes: u32) -> TimeOfDay {
    today.day().time(today.now() + i64::from(minutes.min(AHEAD_MIN)))
}
