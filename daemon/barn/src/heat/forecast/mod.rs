//! The air of the next hours, by this barn's own last days. Says temperature and dew point hour by hour, and how far off it
//! may be. Pure: the same record and the same air give the same forecast.
//!
//! - **Usual**: what an hour of the day was like on the last days; the nearer days count for more, and the hours beside it
//!   for half as much. Temperature and dew point each have their own.
//! - **Ahead of usual**: how far the air is from that now, and how that changed within the last hour.
//! - From these, for each lead, a line ([`fit`]) says the change of temperature and of dew point: the usual change, less
//!   what of being unusual wears off. It is drawn through the hours of the record, near weights that hold in most weather.
//! - **Paths**: how far off the same lines would have been, from each hour of the record about this time of day. Laid upon
//!   the forecast they are as many ways in which the next hours may go. All ranges and chances are counted among them:
//!   no law of errors is assumed.
//!
//! Under [`HOURS_NEEDED`] known hours nothing is said. It knows no weather map: a front that comes from elsewhere is a surprise,
//! and the ranges are as wide as such surprises were.

mod fit;
pub mod outlook;

use super::psychrometrics::{dew_point, relative_humidity};
use super::record::{HOUR_MS, Record};
use crate::time::Wall;
use crate::units::{Celsius, RelativeHumidity};
use fit::{FEATURES, Fit, Row};

/// Three days: with less, nothing is said.
pub const HOURS_NEEDED: usize = 72;
/// The furthest lead, in hours.
pub const LEADS: usize = 16;

/// Each day back counts for this much of the one after it.
const DAY_DECAY: f64 = 0.93;
/// Paths start from hours within so many of this time of day.
const ABOUT_NOW: i64 = 3;
/// With fewer paths than this nothing is said.
const LEAST_PATHS: usize = 8;
/// The driest air that is forecast, in percent: a dew point needs some water.
const DRIEST: f64 = 1.0;

/// Temperature and dew point in degrees Celsius.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Air {
    temperature: f64,
    dew_point: f64,
}

impl Air {
    /// Air as it is measured; none outside of -40 to 50 °C.
    pub fn new(temperature: Celsius, humidity: RelativeHumidity) -> Option<Self> {
        let dew = dew_point(temperature, RelativeHumidity(humidity.get().max(DRIEST))).ok()?;
        Some(Self { temperature: temperature.get(), dew_point: dew.get() })
    }

    /// Air temperature.
    pub fn temperature(self) -> Celsius {
        Celsius(self.temperature)
    }

    /// Relative humidity.
    pub fn humidity(self) -> RelativeHumidity {
        relative_humidity(Celsius(self.temperature), Celsius(self.dew_point))
    }

    fn plus(self, (temperature, dew): (f64, f64)) -> Self {
        // Held where the formulas hold, and never wetter than saturated.
        let temperature = (self.temperature + temperature).clamp(-40.0, 50.0);
        Self { temperature, dew_point: (self.dew_point + dew).min(temperature) }
    }

    fn towards(self, other: Self, share: f64) -> Self {
        let between = |a: f64, b: f64| a + (b - a) * share;
        Self {
            temperature: between(self.temperature, other.temperature),
            dew_point: between(self.dew_point, other.dew_point),
        }
    }
}

/// The next hours.
#[derive(Clone, PartialEq, Debug)]
pub struct Forecast {
    /// Now, in one hour, in two...
    middle: Vec<Air>,
    /// Ways in which it may go, each as long.
    paths: Vec<Vec<Air>>,
}

/// One quantity of a record, prepared: index 0 is the record's first hour.
struct Series {
    values: Vec<f64>,
    usual: Vec<f64>,
}

impl Series {
    fn new(values: Vec<f64>, leads: usize) -> Self {
        let usual = (0..values.len() + leads + 2).map(|hour| usual(&values, hour)).collect();
        Self { values, usual }
    }

    /// How far an hour is from the usual.
    fn unusual(&self, hour: usize) -> f64 {
        self.values[hour] - self.usual[hour]
    }
}

/// What an hour is usually like, by the days before it; not a number where none of them is known.
fn usual(values: &[f64], hour: usize) -> f64 {
    let (mut sum, mut weight, mut day) = (0.0, 0.0, 1.0);
    let mut back = 24;
    while back <= hour + 1 {
        for (beside, share) in [(0, 0.25), (1, 0.5), (2, 0.25)] {
            // One hour after, the same hour, one hour before, of that day.
            let Some(at) = (hour + 1).checked_sub(back + beside) else { continue };
            if let Some(value) = values.get(at).filter(|value| value.is_finite()) {
                sum += day * share * value;
                weight += day * share;
            }
        }
        day *= DAY_DECAY;
        back += 24;
    }
    if weight > 0.0 { sum / weight } else { f64::NAN }
}

/// The features of a quantity at a moment: usual change, unusual now, its change, and the last two of the other quantity.
fn features(own: Moment, other: Moment) -> [f64; FEATURES] {
    [own.usual_change, own.unusual, own.turned, other.unusual, other.turned]
}

/// What is known of a quantity at a moment.
#[derive(Clone, Copy)]
struct Moment {
    usual_change: f64,
    unusual: f64,
    turned: f64,
}

/// What holds in most weather: most of the usual change comes, and of being unusual a little wears off each hour.
fn prior(usual: f64, lead: usize) -> [f64; FEATURES] {
    [usual, (-0.03 * lead as f64).max(-0.4), 0.1, 0.0, 0.0]
}

impl Forecast {
    /// The next `leads` hours (1 to [`LEADS`]) from `now`, at which the air is `air`. None while the record says too little.
    pub fn new(record: &Record, now: Wall, air: Air, leads: usize) -> Option<Self> {
        if record.known() < HOURS_NEEDED || !(1..=LEADS).contains(&leads) {
            return None;
        }
        let first = record.hours().start;
        let known = |hour: i64| record.air(hour).and_then(|(t, rh)| Air::new(t, rh));
        let series = |of: fn(Air) -> f64| {
            Series::new(record.hours().map(|hour| known(hour).map_or(f64::NAN, of)).collect(), leads)
        };
        let temperature = series(|air| air.temperature);
        let dew = series(|air| air.dew_point);

        // An hour's mean stands for its middle.
        let clock = (now.0 - first * HOUR_MS) as f64 / HOUR_MS as f64 - 0.5;
        // The last hour that was over by now, so that nothing is known that was not.
        let last =
            usize::try_from((now.0 - first * HOUR_MS).div_euclid(HOUR_MS) - 1).ok()?.min(temperature.values.len() - 1);
        let hour_of_day = |hour: usize| (first + hour as i64).rem_euclid(24);
        let now_of_day = (now.0 - HOUR_MS / 2).div_euclid(HOUR_MS).rem_euclid(24);
        let about_now = |hour: usize| {
            let apart = (hour_of_day(hour) - now_of_day).rem_euclid(24);
            apart.min(24 - apart) <= ABOUT_NOW
        };

        let mut middle = vec![air];
        let mut errors: Vec<Option<Vec<(f64, f64)>>> = vec![Some(Vec::new()); last + 1];
        for lead in 1..=leads {
            let seen = rows(&temperature, &dew, last, lead);
            let both: Vec<_> = seen.iter().map(|(_, both)| *both).collect();
            let fits = (
                Fit::of(both.iter().map(|(t, _)| t), prior(0.9, lead)),
                Fit::of(both.iter().map(|(_, d)| d), prior(0.5, lead)),
            );
            let t = moment(&temperature, air.temperature, clock, lead)?;
            let d = moment(&dew, air.dew_point, clock, lead)?;
            middle.push(air.plus((fits.0.says(&features(t, d)), fits.1.says(&features(d, t)))));
            let mut seen = seen.into_iter().peekable();
            for (hour, path) in errors.iter_mut().enumerate() {
                let row = seen.next_if(|(at, _)| *at == hour);
                match (&mut *path, row) {
                    (Some(path), Some((_, (t, d)))) => {
                        path.push((fits.0.error_left_out(&t), fits.1.error_left_out(&d)));
                    }
                    _ => *path = None,
                }
            }
        }
        let paths: Vec<_> = errors
            .iter()
            .enumerate()
            .filter(|(hour, _)| about_now(*hour))
            .filter_map(|(_, path)| path.as_ref())
            .map(|path| {
                let off = std::iter::once(&(0.0, 0.0)).chain(path);
                middle.iter().zip(off).map(|(air, off)| air.plus(*off)).collect()
            })
            .collect();
        (paths.len() >= LEAST_PATHS).then_some(Self { middle, paths })
    }

    /// The air in so many minutes; held at the last hour after that.
    pub fn at(&self, minutes: u32) -> Air {
        along(&self.middle, minutes)
    }

    /// How far it reaches, in minutes.
    pub fn reach(&self) -> u32 {
        60 * (self.middle.len() as u32).saturating_sub(1)
    }

    /// A quantity of the air in so many minutes, on each path, from least to most.
    pub fn spread(&self, minutes: u32, quantity: impl Fn(Air) -> f64) -> Vec<f64> {
        let mut values: Vec<_> = self.paths.iter().map(|path| quantity(along(path, minutes))).collect();
        values.sort_by(f64::total_cmp);
        values
    }

    /// The share of paths, 0 to 1, on which something holds.
    fn share(&self, holds: impl Fn(&[Air]) -> bool) -> f64 {
        self.paths.iter().filter(|path| holds(path)).count() as f64 / self.paths.len() as f64
    }
}

fn along(path: &[Air], minutes: u32) -> Air {
    let (hour, into) = ((minutes / 60) as usize, f64::from(minutes % 60) / 60.0);
    let last = path.len() - 1;
    path[hour.min(last)].towards(path[(hour + 1).min(last)], into)
}

/// Every hour from which all is known: what it knew, and what came `lead` hours later.
fn rows(temperature: &Series, dew: &Series, last: usize, lead: usize) -> Vec<(usize, (Row, Row))> {
    let row = |hour: usize| {
        let one = |series: &Series| {
            let unusual = series.unusual(hour);
            Moment {
                usual_change: series.usual[hour + lead] - series.usual[hour],
                unusual,
                turned: unusual - series.unusual(hour - 1),
            }
        };
        let (t, d) = (one(temperature), one(dew));
        let came = |series: &Series| series.values[hour + lead] - series.values[hour];
        let both = ((features(t, d), came(temperature)), (features(d, t), came(dew)));
        let is_known = |(x, y): &Row| y.is_finite() && x.iter().all(|x| x.is_finite());
        (is_known(&both.0) && is_known(&both.1)).then_some((hour, both))
    };
    (1..(last + 1).saturating_sub(lead)).filter_map(row).collect()
}

/// What is known of a quantity now, between the hours of the record. `clock` counts hours from the middle of its first.
fn moment(series: &Series, value: f64, clock: f64, lead: usize) -> Option<Moment> {
    let between = |list: &[f64], at: f64| {
        let (before, into) = (at.floor(), at - at.floor());
        // Beyond the record's ends there is nothing, and what is not known stays so.
        let entry = |at: f64| if at < 0.0 { None } else { list.get(at as usize).copied() };
        let a = entry(before)?;
        let b = if into > 0.0 { entry(before + 1.0)? } else { a };
        Some(a + (b - a) * into).filter(|value| value.is_finite())
    };
    let usual_now = between(&series.usual, clock)?;
    let unusual = value - usual_now;
    let hour_ago = between(&series.values, clock - 1.0).zip(between(&series.usual, clock - 1.0));
    Some(Moment {
        usual_change: between(&series.usual, clock + lead as f64)? - usual_now,
        unusual,
        // Where the last hour is a gap, nothing is taken to have turned.
        turned: hour_ago.map_or(0.0, |(value, usual)| unusual - (value - usual)),
    })
}
