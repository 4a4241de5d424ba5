//! The air of the barn: heat for horses and for people, at each place; sensors that disagree; what the next hours may bring;
//! frost. Joins `climate`, `doubt`, `frost` and `heat::forecast`, each of which knows nothing of the others.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::Barn;
use super::day_heat::{self, Expected};
use super::view::tenth;
use crate::alarm::{Cause, Verdict, whole_minutes};
use crate::board::{AheadView, AlarmWhat, HeatBand, HeatHour, HeatView, PeopleBand, Priority};
use crate::book::Lesson;
use crate::climate::{Climate, Heat};
use crate::doubt::{Doubt, Said};
use crate::effect::Effect;
use crate::frost::{Cold, Frost};
use crate::heat::advice::for_both;
use crate::heat::forecast::outlook::{Bandings, Leave, Reach, SAID_FROM, TAKEN_BACK, cold_from};
use crate::heat::forecast::{Air as ForecastAir, Forecast, LEADS};
use crate::heat::indices::heat_index;
use crate::heat::record::hour_of;
use crate::id::{LessonId, PlaceId};
use crate::input::{Measured, Sensor};
use crate::time::{LocalDay, Mono, Now, TimeOfDay, Today, Wall};
use crate::timers::Timer;
use crate::units::{Celsius, Minutes};

/// The next hours are looked at anew so often.
const LOOK_EVERY: Minutes = Minutes(10);

/// What is known of the air.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub(super) struct Air {
    climates: BTreeMap<PlaceId, Climate>,
    doubt: Doubt,
    frost: Frost,
    outlooks: BTreeMap<PlaceId, Outlook>,
}

/// What is expected of a place.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
struct Outlook {
    /// When it was looked at: all minutes count from here.
    at: Wall,
    /// Bands that are expected, rising.
    reaches: Vec<Reach>,
    /// When the band that stood is left.
    leave: Option<Leave>,
    /// When it is expected to be freezing.
    cold_from: Option<u32>,
    /// The hours to come.
    #[serde(default)]
    hours: Vec<Expected>,
}

/// Readings.
impl Barn {
    /// A climate sensor measured; true where that changes what is shown.
    pub(super) fn read_air(
        &mut self,
        place: &PlaceId,
        measured: Measured,
        (at, wall): (Mono, Option<Wall>),
        now: Now,
        effects: &mut Vec<Effect>,
    ) -> bool {
        let limits = &self.limits.heat;
        let climate = self.air.climates.entry(place.clone()).or_default();
        let seen = |climate: &Climate| {
            climate
                .heat()
                .map(|heat| (heat.temperature.get().round(), heat.humidity.get().round(), heat.band, heat.people))
        };
        let before = seen(climate);
        match measured {
            Measured::Temperature(value) => climate.temperature(value, at, limits),
            Measured::Humidity(value) => climate.humidity(value, at, limits),
            _ => {}
        }
        let changed = seen(climate) != before;
        if let Some(wall) = wall {
            self.record_air(place, measured, wall);
        }
        if changed {
            self.judge_heat(place, now, effects);
        }
        if self.timers.armed_at(&Timer::Forecast).is_none() {
            self.timers.arm(Timer::Forecast, now.mono.plus(LOOK_EVERY.as_millis()));
        }
        changed
    }

    /// Once a reading has been heard: what follows from all places together.
    pub(super) fn judge_air(&mut self, now: Now, effects: &mut Vec<Effect>) {
        self.judge_doubt(now, effects);
        self.judge_frost(now, effects);
    }

    /// Writes a reading down for later, and nothing else.
    pub(super) fn record_air(&mut self, place: &PlaceId, measured: Measured, at: Wall) {
        let climate = self.air.climates.entry(place.clone()).or_default();
        match measured {
            Measured::Temperature(value) => climate.record_temperature(value, at),
            Measured::Humidity(value) => climate.record_humidity(value, at),
            _ => {}
        }
    }

    /// Places whose sensor speaks.
    fn speaking(&self, now: Mono) -> impl Iterator<Item = (&PlaceId, &Climate)> {
        self.air.climates.iter().filter(move |(place, _)| {
            let heard = self.sensors.get(&Sensor::Climate((*place).clone()));
            heard.is_some_and(|heard| heard.last().is_some() && !heard.is_silent(&self.limits.sensors, now))
        })
    }

    /// The lowest air temperature that a sensor tells now.
    pub(super) fn coldest(&self, now: Mono) -> Option<Celsius> {
        let temperatures = self.speaking(now).filter_map(|(_, climate)| climate.last_temperature());
        temperatures.min_by(|a, b| a.get().total_cmp(&b.get()))
    }

    /// The worst place that speaks. A place that is doubted may always warn, but it may not say alone that all is well.
    pub(super) fn worst(&self, now: Mono) -> Option<(&PlaceId, Heat)> {
        let speaking: Vec<_> =
            self.speaking(now).filter_map(|(place, climate)| Some((place, climate.heat()?))).collect();
        let rank = |heat: &Heat| (heat.band, heat.sum.get());
        let worst =
            speaking.iter().max_by(|(_, a), (_, b)| rank(a).partial_cmp(&rank(b)).unwrap_or(std::cmp::Ordering::Equal));
        let (place, heat) = *worst?;
        let alone = speaking.len() == 1 && self.air.doubt.doubted(&self.limits.heat.doubt, now).contains(place);
        (!alone || heat.band > HeatBand::CarryOn).then_some((place, heat))
    }
}

/// Alarms.
impl Barn {
    pub(super) fn judge_heat(&mut self, place: &PlaceId, now: Now, effects: &mut Vec<Effect>) {
        let Some(climate) = self.air.climates.get(place) else { return };
        let (horses, people, again) = climate.alarm(&self.limits.heat, now.mono);
        if let Some(at) = again {
            self.timers.arm(Timer::Heat(place.clone()), at);
        }
        let holds = |priority: Option<Priority>, what: AlarmWhat| {
            priority.map_or(Verdict::Gone, |priority| Verdict::Holds { delay: 0, priority, what })
        };
        let priority = match horses {
            HeatBand::CarryOn | HeatBand::Watch => None,
            HeatBand::Critical => Some(Priority::Medium),
            HeatBand::Stop => Some(Priority::High),
        };
        let verdict = holds(priority, AlarmWhat::Heat { place: place.clone(), band: horses });
        self.alarms.assess(Cause::Heat(place.clone()), verdict, now, &mut self.timers, effects);
        let priority = match people {
            PeopleBand::NoCaution | PeopleBand::Caution | PeopleBand::ExtremeCaution => None,
            PeopleBand::Danger => Some(Priority::Medium),
            PeopleBand::ExtremeDanger => Some(Priority::High),
        };
        let verdict = holds(priority, AlarmWhat::PeopleHeat { place: place.clone(), band: people });
        self.alarms.assess(Cause::PeopleHeat(place.clone()), verdict, now, &mut self.timers, effects);
    }

    pub(super) fn judge_doubt(&mut self, now: Now, effects: &mut Vec<Effect>) {
        let heat = |(place, climate): (&PlaceId, &Climate)| {
            let Heat { temperature, humidity, .. } = climate.heat()?;
            Some((place.clone(), Said { temperature, humidity }))
        };
        let said: BTreeMap<_, _> = self.speaking(now.mono).filter_map(heat).collect();
        let limits = &self.limits.heat.doubt;
        self.air.doubt.assess(&said, limits, now.mono);
        let places = self.air.doubt.doubted(limits, now.mono);
        if let Some(at) = self.air.doubt.next_deadline(limits, now.mono) {
            self.timers.arm(Timer::Doubt, at);
        }
        let verdict = if places.is_empty() {
            Verdict::Gone
        } else {
            let what = AlarmWhat::ClimateDoubtful { places, of: u32::try_from(said.len()).unwrap_or(u32::MAX) };
            Verdict::Holds { delay: 0, priority: Priority::Low, what }
        };
        self.alarms.assess(Cause::ClimateDoubt, verdict, now, &mut self.timers, effects);
    }

    /// The coldest place now, and the night ahead.
    fn judge_frost(&mut self, now: Now, effects: &mut Vec<Effect>) {
        let limits = &self.limits.frost;
        let temperature = |(place, climate): (&PlaceId, &Climate)| {
            let air = climate.last_temperature()?;
            let hour_ago = now.wall.get().and_then(|wall| climate.record().air(hour_of(wall) - 1));
            Some((place.clone(), air, hour_ago.map(|(before, _)| before)))
        };
        let coldest = self.speaking(now.mono).filter_map(temperature).min_by(|a, b| a.1.get().total_cmp(&b.1.get()));
        let Some((place, air, hour_ago)) = coldest else { return };
        self.air.frost.assess(air, hour_ago, limits, now.mono);
        let cold = self.air.frost.cold(limits, now.mono);
        let holds = |priority, delay: Minutes, place, from| Verdict::Holds {
            delay: delay.as_millis(),
            priority,
            what: AlarmWhat::Frost { place, from },
        };
        let verdict = match (cold, self.frost_ahead()) {
            (Cold::Freezing, _) => holds(Priority::Medium, Minutes(0), place, None),
            (Cold::Near, _) => holds(Priority::Low, limits.alarm_after, place, None),
            (Cold::None, Some((place, from))) => holds(Priority::Low, Minutes(0), place, Some(from)),
            (Cold::None, None) => Verdict::Gone,
        };
        self.alarms.assess(Cause::Frost, verdict, now, &mut self.timers, effects);
    }

    /// Where frost is expected first, and when.
    fn frost_ahead(&self) -> Option<(PlaceId, TimeOfDay)> {
        let first =
            |(place, outlook): (&PlaceId, &Outlook)| Some((outlook.at.plus(millis(outlook.cold_from?)), place.clone()));
        let (at, place) = self.air.outlooks.iter().filter_map(first).min()?;
        Some((place, self.limits.zone.time_of_day(at)))
    }
}

/// The next hours.
impl Barn {
    /// Looks at the next hours of every place that speaks, and again later.
    pub(super) fn look_ahead(&mut self, now: Now, effects: &mut Vec<Effect>) {
        let before = std::mem::take(&mut self.air.outlooks);
        let today = Today::of(self.limits.zone, now);
        let mut speaks = false;
        let mut outlooks = BTreeMap::new();
        for (place, climate) in self.speaking(now.mono) {
            speaks = true;
            let (Some(today), Some(wall), Some(heat)) = (&today, now.wall.get(), climate.heat()) else { continue };
            let said = before.get(place);
            if let Some(outlook) = self.outlook(climate, &heat, wall, today.day(), said) {
                outlooks.insert(place.clone(), outlook);
            }
        }
        if outlooks != before {
            effects.push(Effect::Redraw);
        }
        self.air.outlooks = outlooks;
        if speaks {
            self.timers.arm(Timer::Forecast, now.mono.plus(LOOK_EVERY.as_millis()));
        }
        self.judge_ahead(now, effects);
        self.judge_air(now, effects);
    }

    fn outlook(
        &self,
        climate: &Climate,
        heat: &Heat,
        at: Wall,
        day: LocalDay,
        said: Option<&Outlook>,
    ) -> Option<Outlook> {
        let air = ForecastAir::new(heat.temperature, heat.humidity)?;
        let forecast = Forecast::new(climate.record(), at, air, LEADS)?;
        let left_of_day = day.date().succ_opt().map_or(0, |next| {
            let midnight = self.limits.zone.day(next).wall(0);
            u32::try_from(midnight.since(at) / 60_000).unwrap_or(0)
        });
        let bandings = Bandings::new(&forecast, &self.limits.heat, left_of_day);
        let enough = |was_said: bool| if was_said { TAKEN_BACK } else { SAID_FROM };
        let was_said = |band| said.is_some_and(|said| said.reaches.iter().any(|reach| reach.band == band));
        let expected = |reach: &Reach| reach.band > heat.band && reach.chance >= enough(was_said(reach.band));
        let reaches = [HeatBand::Watch, HeatBand::Critical, HeatBand::Stop].into_iter();
        let was_cold = said.is_some_and(|said| said.cold_from.is_some());
        Some(Outlook {
            at,
            reaches: reaches.filter_map(|band| bandings.reach(band)).filter(expected).collect(),
            leave: bandings.leave(heat.band),
            cold_from: cold_from(&forecast, self.limits.frost.freezing, enough(was_cold)),
            hours: day_heat::expected(&forecast, at),
        })
    }

    /// A lesson soon that is expected in a band that calls somebody, and is not in it yet.
    fn judge_ahead(&mut self, now: Now, effects: &mut Vec<Effect>) {
        let verdict = self.lesson_ahead(now).map_or(Verdict::Gone, |what| {
            // A lesson that should be held at another time must be seen to today.
            let stop = matches!(what, AlarmWhat::HeatAhead { band: HeatBand::Stop, .. });
            Verdict::Holds { delay: 0, priority: if stop { Priority::Medium } else { Priority::Low }, what }
        });
        self.alarms.assess(Cause::HeatAhead, verdict, now, &mut self.timers, effects);
    }

    fn lesson_ahead(&self, now: Now) -> Option<AlarmWhat> {
        let today = Today::of(self.limits.zone, now)?;
        let soon = today.now() + i64::from(self.limits.heat.ahead.0);
        let stands = self.worst(now.mono).map_or(HeatBand::CarryOn, |(_, heat)| heat.band);
        for band in [HeatBand::Stop, HeatBand::Critical].into_iter().filter(|band| *band > stands) {
            let touched = |(place, outlook): (&PlaceId, &Outlook)| {
                let reach = outlook.reaches.iter().find(|reach| reach.band == band)?;
                let day = today.day();
                let from = day.minute(outlook.at.plus(millis(reach.from)));
                let lesson =
                    self.lessons_within(day, from, reach.until.map(|until| day.minute(outlook.at.plus(millis(until)))));
                let lesson = lesson.into_iter().find(|lesson| day.minute_of(lesson.start) <= soon)?;
                Some((lesson.start, from, place.clone()))
            };
            if let Some((lesson, from, place)) = self.air.outlooks.iter().filter_map(touched).min() {
                return Some(AlarmWhat::HeatAhead { place, band, from: today.day().time(from), lesson });
            }
        }
        None
    }

    /// Lessons of a day that are held at some time from one minute of it up to another, or up to its end; by time.
    fn lessons_within(&self, day: LocalDay, from: i64, until: Option<i64>) -> Vec<&Lesson> {
        let is_held = |lesson: &&Lesson| {
            let start = day.minute_of(lesson.start);
            let end = start + i64::from(lesson.minutes.0);
            lesson.days.include(day.date()) && end > from && until.is_none_or(|until| start < until)
        };
        let mut lessons: Vec<_> = self.book.lessons.values().filter(is_held).collect();
        lessons.sort_by_key(|lesson| (lesson.start, &lesson.id));
        lessons
    }
}

/// What a screen shows.
impl Barn {
    pub(super) fn heat_view(&self, now: Now) -> HeatView {
        let Some((place, heat)) = self.worst(now.mono) else {
            let heard = self.air.climates.values().filter_map(Climate::heat).map(|heat| heat.measured).max();
            return HeatView::Unknown { for_min: heard.map(|at| whole_minutes(now.mono.since(at))) };
        };
        HeatView::Known {
            place: place.clone(),
            temperature: tenth(heat.temperature.get()),
            humidity: tenth(heat.humidity.get()),
            horse_sum: tenth(heat.sum.get()),
            heat_index: heat_index(heat.temperature, heat.humidity).ok().map(|felt| tenth(felt.get())),
            band: heat.band,
            humid: heat.sum.humid(),
            dry: heat.dry,
            people: heat.people,
            advice: for_both(heat.band, heat.people),
            ahead: self.ahead_view(place, &heat, now),
        }
    }

    /// The heat of today at the worst place, hour by hour: as measured, then as it was expected at the last look.
    pub(super) fn heat_today(&self, now: Now) -> Vec<HeatHour> {
        let (Some((place, _)), Some(wall)) = (self.worst(now.mono), now.wall.get()) else { return Vec::new() };
        let Some(climate) = self.air.climates.get(place) else { return Vec::new() };
        let expected = self.air.outlooks.get(place).map_or(&[][..], |outlook| &outlook.hours);
        day_heat::hours(climate.record(), expected, self.limits.zone, wall)
    }

    /// The highest band that is expected anywhere, or when the one that stands at the worst place is left.
    fn ahead_view(&self, place: &PlaceId, heat: &Heat, now: Now) -> Option<AheadView> {
        let day = Today::of(self.limits.zone, now)?.day();
        let time = |at: Wall, minutes: u32| self.limits.zone.time_of_day(at.plus(millis(minutes)));
        let minute = |at: Wall, minutes: u32| day.minute(at.plus(millis(minutes)));
        let lessons = |from: i64, until: Option<i64>| -> Vec<LessonId> {
            self.lessons_within(day, from, until).into_iter().map(|lesson| lesson.id.clone()).collect()
        };
        let higher =
            self.air.outlooks.values().flat_map(|outlook| outlook.reaches.iter().map(|reach| (outlook.at, reach)));
        // The highest band; of two places that reach it, the one that does so first.
        let first = higher
            .filter(|(_, reach)| reach.band > heat.band)
            .min_by_key(|(at, reach)| (std::cmp::Reverse(reach.band), at.plus(millis(reach.from))));
        if let Some((at, reach)) = first {
            let until = reach.until.map(|until| minute(at, until));
            return Some(AheadView::Reaches {
                band: reach.band,
                from: time(at, reach.from),
                earliest: time(at, reach.earliest),
                latest: reach.latest.map(|latest| time(at, latest)),
                until: reach.until.map(|until| time(at, until)),
                lessons: lessons(minute(at, reach.from), until),
            });
        }
        let outlook = self.air.outlooks.get(place)?;
        let leave = outlook.leave.as_ref().filter(|leave| leave.band == heat.band)?;
        let here = day.minute(now.wall.get()?);
        Some(AheadView::Leaves {
            band: leave.band,
            at: time(outlook.at, leave.at),
            earliest: time(outlook.at, leave.earliest),
            latest: leave.latest.map(|latest| time(outlook.at, latest)),
            lessons: lessons(here, Some(minute(outlook.at, leave.at))),
        })
    }
}

fn millis(minutes: u32) -> i64 {
    i64::from(minutes) * 60_000
}
