//! What a screen shows of the barn's water. Nothing here changes anything.

use super::Barn;
use super::view::tenth;
use crate::alarm::whole_minutes;
use crate::board::{DrinkingView, FillView, PaddockView, RunsDryView, WaterHappened, WaterState, WaterView, WhyFill};
use crate::book::{Horse, WaterPlace};
use crate::id::StallId;
use crate::sensor::Heard;
use crate::time::{Mono, TimeOfDay, Today};
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
pub(super) fn drinking(barn: &Barn, horse: &Horse, today: Option<&Today>, now: Mono) -> Option<DrinkingView> {
    let place = WaterPlace::Stall(horse.stall.clone());
    let supply = barn.waters.places.get(&place)?;
    let intake = barn.waters.horses.get(&horse.id)?;
    let date = today?.day().date();
    let litres = intake.days().next_back().filter(|day| day.date == date).map_or(0.0, |day| day.total().get());
    let last = supply.happened().next_back().map(|one| WaterHappened {
        how: one.how,
        litres: tenth(one.litres.get()),
        ago_min: whole_minutes(now.since(one.to)),
    });
    let air = barn.coldest(now);
    Some(DrinkingView {
        today: tenth(litres),
        usual: intake.habit(date).map(|habit| (tenth(habit.litres.get()), habit.days)),
        // In fives: a guide is no finer, and a horse's weight is the office's business.
        guide: horse.weight.zip(air).map(|(weight, air)| (guide::litres_a_day(weight, air).get() / 5.0).round() * 5.0),
        dry_min: intake.dry_min(),
        runs_dry: dry(barn, horse, today?, now).and_then(|dry| {
            Some(RunsDryView {
                earliest: time_in(today?, dry.earliest?),
                usual: dry.usual.and_then(|minutes| Some(time_in(today?, minutes))),
                latest: dry.latest.and_then(|minutes| Some(time_in(today?, minutes))),
                days: dry.days,
            })
        }),
        last,
        hours: Vec::new(),
        days: Vec::new(),
    })
}

/// Paddocks with water.
pub(super) fn paddocks(barn: &Barn, now: Mono) -> Vec<PaddockView> {
    let paddocks = barn.waters.places.keys().filter_map(|place| match place {
        WaterPlace::Paddock(paddock) => Some((paddock, place)),
        WaterPlace::Stall(_) => None,
    });
    paddocks.map(|(paddock, place)| PaddockView { paddock: paddock.clone(), water: water(barn, place, now) }).collect()
}

/// Which water to fill now: what is empty, low, may be gone before the next round, or is not known, as somebody has to look.
pub(super) fn round(barn: &Barn, today: Option<&Today>, now: Mono) -> Vec<FillView> {
    let stalls = barn.book.stalls.iter().map(|stall| WaterPlace::Stall(stall.id.clone()));
    let paddocks = barn.waters.places.keys().filter(|place| matches!(place, WaterPlace::Paddock(_))).cloned();
    stalls.chain(paddocks).filter_map(|place| stop(barn, place, today, now)).collect()
}

fn stop(barn: &Barn, place: WaterPlace, today: Option<&Today>, now: Mono) -> Option<FillView> {
    let supply = barn.waters.places.get(&place)?;
    let horse = if let WaterPlace::Stall(stall) = &place { barn.book.horse_in(stall) } else { None };
    let why = match water(barn, &place, now) {
        WaterView::NoBucket => return None,
        // An empty stall's bucket, or a sensor that nobody has hung up yet, sends nobody running.
        WaterView::NeverHeard => return None,
        WaterView::Silent { .. } | WaterView::Faulty { .. } => WhyFill::Unknown,
        WaterView::Known { state: WaterState::Empty, .. } => WhyFill::Empty,
        WaterView::Known { state: WaterState::Low, .. } => WhyFill::Low,
        WaterView::Known { .. } => {
            let earliest = dry(barn, horse?, today?, now)?.earliest?;
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

/// When a horse's water will be gone: down to what counts as empty.
fn dry(barn: &Barn, horse: &Horse, today: &Today, now: Mono) -> Option<RunsDry> {
    let place = WaterPlace::Stall(StallId::clone(&horse.stall));
    if !barn.is_known(&place, now) {
        return None;
    }
    let supply = barn.waters.places.get(&place)?;
    let left = supply.content()?.litres.get() - supply.full().get() * barn.limits.water.empty.get() / 100.0;
    let minute = u32::from(today.day().time(today.now()).minutes());
    runs_dry(barn.waters.horses.get(&horse.id)?, Litres(left.max(0.0)), today.day().date(), minute)
}

fn time_in(today: &Today, minutes: u32) -> TimeOfDay {
    today.day().time(today.now() + i64::from(minutes.min(AHEAD_MIN)))
}
