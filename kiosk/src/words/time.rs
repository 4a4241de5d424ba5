//! Times, lengths of time, quantities.

use bellmare_barn::limits::DisplayUnits;
use bellmare_barn::time::TimeOfDay;
use slint::ComponentHandle;

use super::ask;
use crate::ui::SayTime;

/// Litres in a US gallon (exact by definition: 231 cubic inches).
const LITRES_PER_GALLON: f64 = 3.785_411_784;

/// A time as the wall clock in the barn shows it: twelve hours where the barn counts in gallons, twenty-four otherwise.
pub fn time(time: TimeOfDay, units: DisplayUnits) -> String {
    let (hour, minute) = (time.minutes() / 60, time.minutes() % 60);
    match units {
        DisplayUnits::Metric => format!("{hour}:{minute:02}"),
        DisplayUnits::UsCustomary => format!("{}:{minute:02}", twelve(hour)),
    }
}

/// A time as wide as any: digits are not of one width.
pub fn widest_time(units: DisplayUnits) -> &'static str {
    match units {
        DisplayUnits::Metric => "20:00",
        DisplayUnits::UsCustomary => "10:00",
    }
}

/// A whole hour on the time line.
pub fn hour(hour: u16, units: DisplayUnits) -> String {
    match units {
        DisplayUnits::Metric => hour.to_string(),
        DisplayUnits::UsCustomary => twelve(hour % 24).to_string(),
    }
}

fn twelve(hour: u16) -> u16 {
    match hour % 12 {
        0 => 12,
        other => other,
    }
}

/// A length of time in whole minutes, in the largest unit that says enough.
pub fn minutes(minutes: u32) -> String {
    match minutes {
        0..=119 => format!("{minutes} min"),
        120..=2879 => format!("{} h", minutes / 60),
        _ => {
            let days = (minutes / 1440).to_string();
            ask(|app| app.global::<SayTime>().invoke_days(days.into()))
        }
    }
}

/// A length of time in whole seconds.
pub fn seconds(seconds: u64) -> String {
    if seconds < 120 { format!("{seconds} s") } else { minutes((seconds / 60) as u32) }
}

/// A quantity of water.
pub fn water(litres: f64, units: DisplayUnits) -> String {
    match units {
        DisplayUnits::Metric => format!("{litres:.0} l"),
        DisplayUnits::UsCustomary => format!("{:.1} gal", litres / LITRES_PER_GALLON),
    }
}

/// An air temperature given in degrees Celsius.
pub fn temperature(celsius: f64, units: DisplayUnits) -> String {
    match units {
        DisplayUnits::Metric => format!("{celsius:.0} °C"),
        DisplayUnits::UsCustomary => format!("{:.0} °F", celsius * 1.8 + 32.0),
    }
}

/// For how long something has been so.
pub fn for_minutes(for_min: u32) -> String {
    ask(|app| app.global::<SayTime>().invoke_lasting(minutes(for_min).into()))
}

/// By when a job is to be done.
pub fn by(time: &str) -> String {
    ask(|app| app.global::<SayTime>().invoke_by(time.into()))
}

/// Until when something lasts.
pub fn till(time: &str) -> String {
    ask(|app| app.global::<SayTime>().invoke_till(time.into()))
}

/// The next ride after this one.
pub fn then(time: &str) -> String {
    ask(|app| app.global::<SayTime>().invoke_then(time.into()))
}

/// When the rider mounts.
pub fn mount(time: &str) -> String {
    ask(|app| app.global::<SayTime>().invoke_mount(time.into()))
}

/// So many of so many: horses ready, or a page of several.
pub fn of(part: usize, whole: usize) -> String {
    let (part, whole) = (part.to_string(), whole.to_string());
    ask(|app| app.global::<SayTime>().invoke_part_of(part.into(), whole.into()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::text::{Weight, width};

    #[test]
    fn no_time_is_wider_than_the_widest() {
        for units in [DisplayUnits::Metric, DisplayUnits::UsCustomary] {
            let most = width(widest_time(units), 1.0, Weight::Bold);
            let times = (0..1440).filter_map(TimeOfDay::from_minutes).map(|at| time(at, units));
            let wider: Vec<String> = times.filter(|time| width(time, 1.0, Weight::Bold) > most + 1e-4).collect();
            assert!(wider.is_empty(), "{units:?}: {wider:?}");
        }
    }
}
