//! A year of hourly air at three airports, and how well this project's forecast would have done there. `tests/reference`
//! says where the air comes from; the benchmark prints these figures and a test holds the core of them.
//!
//! Each airport is taken for a barn of its own that knows nothing but its own last days. It looks ahead once an hour.

use std::path::Path;

use anyhow::{Context, bail};
use bellmare_barn::board::HeatBand;
use bellmare_barn::heat::HorseSum;
use bellmare_barn::heat::forecast::outlook::{Bandings, SAID_FROM};
use bellmare_barn::heat::forecast::{Air, Forecast};
use bellmare_barn::heat::record::{HOUR_MS, Record};
use bellmare_barn::limits::HeatLimits;
use bellmare_barn::time::Wall;
use bellmare_barn::units::{Celsius, RelativeHumidity};

/// The leads that are measured, in hours.
pub const LEADS: [usize; 3] = [1, 2, 3];
/// Hours of local time that count as the day: lessons are held in it.
const DAY: std::ops::Range<i64> = 7..20;

/// An airport and its year.
pub struct Airport {
    /// Its three letters.
    pub name: String,
    first: i64,
    air: Vec<Option<(Celsius, RelativeHumidity)>>,
}

/// Reads the year of each airport.
///
/// # Errors
/// Where the file is not there or is not what it says.
pub fn airports() -> anyhow::Result<Vec<Airport>> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("reference/airport-air.csv");
    let text = std::fs::read_to_string(&path).with_context(|| path.display().to_string())?;
    let mut lines = text.lines().filter(|line| !line.starts_with('#'));
    let head = lines.next().context("no head")?;
    let mut airports: Vec<Airport> = head
        .split(',')
        .filter_map(|column| column.strip_suffix("_t"))
        .map(|name| Airport { name: name.to_uppercase(), first: 0, air: Vec::new() })
        .collect();
    for line in lines {
        let cells: Vec<&str> = line.split(',').collect();
        let hour: i64 = cells[0].parse().with_context(|| line.to_owned())?;
        if cells.len() != 1 + 2 * airports.len() {
            bail!("{line}: {} cells", cells.len());
        }
        for (airport, pair) in airports.iter_mut().zip(cells[1..].chunks(2)) {
            if airport.air.is_empty() {
                airport.first = hour;
            }
            airport.air.resize((hour - airport.first) as usize, None);
            let number = |cell: &str| cell.parse::<f64>().ok().map(|tenths| tenths / 10.0);
            let air = number(pair[0]).zip(number(pair[1]));
            airport.air.push(air.map(|(t, rh)| (Celsius(t), RelativeHumidity(rh))));
        }
    }
    Ok(airports)
}

impl Airport {
    fn at(&self, hour: i64) -> Option<(Celsius, RelativeHumidity)> {
        *self.air.get(usize::try_from(hour - self.first).ok()?)?
    }

    /// Goes through the year and looks ahead at each hour that has a forecast.
    pub fn live(&self, limits: &HeatLimits, year: &mut Year) {
        let mut record = Record::default();
        for (n, air) in self.air.iter().enumerate() {
            let hour = self.first + n as i64;
            // What was measured stands for the hour: at its middle.
            let now = Wall(hour * HOUR_MS + HOUR_MS / 2);
            let Some((t, rh)) = *air else { continue };
            record.temperature(t, now);
            record.humidity(rh, now);
            let Some(forecast) = Air::new(t, rh).and_then(|air| Forecast::new(&record, now, air, 3)) else { continue };
            year.all.take(self, hour, &forecast);
            if is_warm_day(now) {
                year.warm_days.take(self, hour, &forecast);
                year.bands(self, hour, &forecast, limits);
            }
        }
    }
}

/// True by day from May to September.
fn is_warm_day(now: Wall) -> bool {
    let local = now.utc().with_timezone(&chrono_tz::America::New_York);
    (5..=9).contains(&chrono::Datelike::month(&local)) && DAY.contains(&i64::from(chrono::Timelike::hour(&local)))
}

/// What came of all forecasts.
#[derive(Default)]
pub struct Year {
    /// All hours.
    pub all: Score,
    /// Those of the day from May to September, when heat is a matter.
    pub warm_days: Score,
    /// For "watch" and "critical", on warm days: did they come within three hours where they were not yet? Called from each of
    /// [`CHANCES`] on.
    pub bands: [[Calls; 3]; 2],
}

/// From which chance on a band is called, 0 to 1. The one in the middle is what the barn says.
pub const CHANCES: [f64; 3] = [0.25, SAID_FROM, 0.55];

/// What came of some forecasts.
#[derive(Default)]
pub struct Score {
    /// For each of [`LEADS`].
    pub leads: [Lead; 3],
    /// Hours with a forecast.
    pub hours: usize,
}

/// Errors at one lead.
#[derive(Default)]
pub struct Lead {
    /// Of the temperature, in degrees Celsius.
    pub temperature: Errors,
    /// Of the horse sum.
    pub sum: Errors,
    /// How often the sum came within its range of one in ten to nine in ten.
    pub within: usize,
    /// How wide that range was, added up.
    pub width: f64,
}

/// Absolute errors added up, side by side over the same hours.
#[derive(Default, Clone, Copy)]
pub struct Errors {
    count: usize,
    /// The forecast's.
    forecast: f64,
    /// Those of "as it is now".
    persistence: f64,
    /// Those of "as yesterday at that hour".
    yesterday: f64,
}

/// Whether a band that was not reached yet was called, and came.
#[derive(Default, Clone, Copy, Debug)]
pub struct Calls {
    /// Called, and came.
    pub hits: usize,
    /// Not called, and came.
    pub misses: usize,
    /// Called, and did not come.
    pub false_alarms: usize,
    /// Not called, and did not come.
    pub rightly_quiet: usize,
}

impl Errors {
    fn add(&mut self, truth: f64, forecast: f64, now: f64, yesterday: f64) {
        self.count += 1;
        self.forecast += (forecast - truth).abs();
        self.persistence += (now - truth).abs();
        self.yesterday += (yesterday - truth).abs();
    }

    /// Mean absolute error of the forecast, of persistence, of yesterday.
    pub fn means(&self) -> [f64; 3] {
        [self.forecast, self.persistence, self.yesterday].map(|sum| sum / self.count as f64)
    }

    /// By how much the forecast is below the better of the other two, in percent.
    pub fn gain(&self) -> f64 {
        let [forecast, persistence, yesterday] = self.means();
        100.0 * (1.0 - forecast / persistence.min(yesterday))
    }

    /// Over how many hours.
    pub fn count(&self) -> usize {
        self.count
    }
}

impl Calls {
    /// Of what came, how much was called, 0 to 100.
    pub fn hit_rate(&self) -> f64 {
        100.0 * self.hits as f64 / (self.hits + self.misses) as f64
    }

    /// Of what was called, how much did not come, 0 to 100.
    pub fn false_alarm_ratio(&self) -> f64 {
        100.0 * self.false_alarms as f64 / (self.hits + self.false_alarms) as f64
    }

    /// Of what did not come, how much was called all the same, 0 to 100.
    pub fn false_alarm_rate(&self) -> f64 {
        100.0 * self.false_alarms as f64 / (self.false_alarms + self.rightly_quiet) as f64
    }
}

fn sum(t: Celsius, rh: RelativeHumidity) -> f64 {
    t.fahrenheit().get() + rh.get()
}

/// The band by the limits alone.
fn band(t: Celsius, rh: RelativeHumidity, limits: &HeatLimits) -> HeatBand {
    let sum = HorseSum::new(t, rh).ok();
    sum.map_or(HeatBand::CarryOn, |sum| {
        bellmare_barn::heat::Bands::default().assess(sum, limits, bellmare_barn::time::Mono(0)).shown()
    })
}

impl Score {
    fn take(&mut self, airport: &Airport, hour: i64, forecast: &Forecast) {
        self.hours += 1;
        let Some((t, rh)) = airport.at(hour) else { return };
        for (lead, score) in LEADS.into_iter().zip(&mut self.leads) {
            let ahead = lead as i64;
            let (Some(truth), Some(yesterday)) = (airport.at(hour + ahead), airport.at(hour + ahead - 24)) else {
                continue;
            };
            let minutes = 60 * lead as u32;
            let said = forecast.at(minutes);
            score.temperature.add(truth.0.get(), said.temperature().get(), t.get(), yesterday.0.get());
            let (came, was) = (sum(truth.0, truth.1), sum(yesterday.0, yesterday.1));
            score.sum.add(came, sum(said.temperature(), said.humidity()), sum(t, rh), was);
            let spread = forecast.spread(minutes, |air| sum(air.temperature(), air.humidity()));
            let (low, high) = (spread[spread.len() / 10], spread[spread.len() - 1 - spread.len() / 10]);
            score.within += usize::from((low..=high).contains(&came));
            score.width += high - low;
        }
    }
}

impl Year {
    fn bands(&mut self, airport: &Airport, hour: i64, forecast: &Forecast, limits: &HeatLimits) {
        let Some((t, rh)) = airport.at(hour) else { return };
        let coming: Option<Vec<_>> = (1..=3).map(|lead| airport.at(hour + lead)).collect();
        let Some(coming) = coming else { return };
        let bandings = Bandings::new(forecast, limits, 180);
        for (limit, calls) in [HeatBand::Watch, HeatBand::Critical].into_iter().zip(&mut self.bands) {
            if band(t, rh, limits) >= limit {
                continue;
            }
            let came = coming.iter().any(|(t, rh)| band(*t, *rh, limits) >= limit);
            let chance = bandings.chance(limit, 180);
            for (from, calls) in CHANCES.into_iter().zip(calls) {
                *match (chance >= from, came) {
                    (true, true) => &mut calls.hits,
                    (false, true) => &mut calls.misses,
                    (true, false) => &mut calls.false_alarms,
                    (false, false) => &mut calls.rightly_quiet,
                } += 1;
            }
        }
    }
}
