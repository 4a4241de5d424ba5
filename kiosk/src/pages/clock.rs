//! A date and a time by digits: year, month, day, hour, minute.

use bellmare_barn::input::Action;
use bellmare_barn::time::TimeOfDay;
use chrono::NaiveDate;

/// Four for the year, two for each of the others.
pub const DIGITS: usize = 12;

/// What was typed, as it stands on the glass; what is missing is an underscore.
pub fn shown(typed: &str) -> String {
    let digit = |at: usize| typed.chars().nth(at).unwrap_or('_');
    let part = |from: usize, to: usize| (from..to).map(digit).collect::<String>();
    format!("{}-{}-{}  {}:{}", part(0, 4), part(4, 6), part(6, 8), part(8, 10), part(10, 12))
}

/// The day and time that were typed; none where there is no such day or time, or digits are missing.
pub fn read(typed: &str) -> Option<(NaiveDate, TimeOfDay)> {
    let number = |from: usize, to: usize| typed.get(from..to)?.parse::<u32>().ok();
    if typed.len() != DIGITS {
        return None;
    }
    let date = NaiveDate::from_ymd_opt(i32::try_from(number(0, 4)?).ok()?, number(4, 6)?, number(6, 8)?)?;
    let (hour, minute) = (number(8, 10)?, number(10, 12)?);
    if hour > 23 || minute > 59 {
        return None;
    }
    Some((date, TimeOfDay::from_minutes(u16::try_from(hour * 60 + minute).ok()?)?))
}

/// The touch that sets it.
pub fn action(typed: &str) -> Option<Action> {
    let (date, time) = read(typed)?;
    Some(Action::SetClock { date, time })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_day_and_a_time_are_read_and_what_can_not_be_is_not() {
        let read_as = |typed| read(typed).map(|(date, time)| format!("{date} {time}"));
        assert_eq!(read_as("202606180912").as_deref(), Some("2026-06-18 9:12"));
        for wrong in ["", "20260618091", "202602300912", "202606182400", "202606180960", "202613010000"] {
            assert_eq!(read_as(wrong), None, "{wrong}");
        }
        assert_eq!(shown("20260"), "2026-0_-__  __:__");
    }
}
