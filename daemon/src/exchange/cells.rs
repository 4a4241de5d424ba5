//! From a cell to a value: each parser either gives the value, or notes a fault that says what is allowed and gives
//! nothing. What is not clear is refused and never guessed. Knows no file and no reference between them.

use std::ops::RangeInclusive;

use bellmare_barn::book::Days;
use bellmare_barn::hands::Hands;
use bellmare_barn::time::TimeOfDay;
use chrono::NaiveDate;

use super::faults::Faults;
use super::sheet::{Row, Sheet};

/// Characters of an id, or of a use: it must fit on a door and on a screen.
pub(super) const ID_CHARS: usize = 40;
/// Characters of a name, a size, a place.
pub(super) const TEXT_CHARS: usize = 80;
/// Characters of all handling notes of a horse together, line breaks counted.
pub(super) const NOTES_CHARS: usize = 2_000;

/// Heights that a horse can have: from the smallest miniature to over the tallest draught horse.
const HEIGHTS: RangeInclusive<Hands> = Hands::of_inches(4 * 5)..=Hands::of_inches(4 * 22);

pub(super) const WEEKDAYS: [&str; 7] = ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"];
const WEEKDAYS_LONG: [&str; 7] = ["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"];

/// The cells of one row, and where to complain.
pub(super) struct Cells<'a> {
    pub(super) sheet: &'a Sheet,
    pub(super) row: &'a Row,
    pub(super) faults: &'a mut Faults,
}

impl Cells<'_> {
    /// Notes that what stands in a column is not allowed.
    pub(super) fn refuse(&mut self, column: &'static str, allowed: impl Into<String>) {
        let (file, line) = (self.sheet.file.name, self.row.line);
        match self.sheet.cell(self.row, column) {
            Some("") => self.faults.state(file, line, Some(column), "is empty", allowed),
            Some(value) => self.faults.value(file, line, Some(column), value, allowed),
            None => {}
        }
    }

    /// True where nothing stands in the column.
    pub(super) fn is_empty(&self, column: &'static str) -> bool {
        self.sheet.cell(self.row, column).is_none_or(str::is_empty)
    }

    /// The name of a thing, as the barn wrote it.
    pub(super) fn id(&mut self, column: &'static str) -> Option<String> {
        let value = self.sheet.cell(self.row, column)?;
        if looks_like_a_spoilt_number(value) {
            self.refuse(column, "the name itself: a spreadsheet took it for a number; make the column text");
            return None;
        }
        self.filled(column, ID_CHARS)
    }

    /// Text on one line that must be there.
    pub(super) fn filled(&mut self, column: &'static str, chars: usize) -> Option<String> {
        if self.is_empty(column) {
            self.refuse(column, format!("1 to {chars} characters"));
            return None;
        }
        self.text(column, chars)
    }

    /// Text on one line that may be empty.
    pub(super) fn text(&mut self, column: &'static str, chars: usize) -> Option<String> {
        let value = self.sheet.cell(self.row, column)?;
        if value.chars().count() > chars || value.chars().any(char::is_control) {
            self.refuse(column, format!("up to {chars} characters on one line"));
            return None;
        }
        Some(value.to_owned())
    }

    /// Text on several lines, blank ones left out.
    pub(super) fn lines(&mut self, column: &'static str, chars: usize) -> Option<Vec<String>> {
        let value = self.sheet.cell(self.row, column)?;
        let odd = |c: char| c.is_control() && !matches!(c, '\n' | '\r');
        if value.chars().count() > chars || value.chars().any(odd) {
            self.refuse(column, format!("up to {chars} characters, on as many lines as you like"));
            return None;
        }
        let lines = value.split(['\n', '\r']).map(str::trim).filter(|line| !line.is_empty());
        Some(lines.map(str::to_owned).collect())
    }

    /// A whole number.
    pub(super) fn whole(&mut self, column: &'static str, range: RangeInclusive<u32>) -> Option<u32> {
        let value = self.sheet.cell(self.row, column)?;
        let digits = !value.is_empty() && value.bytes().all(|byte| byte.is_ascii_digit());
        let number = value.parse().ok().filter(|number| digits && range.contains(number));
        if number.is_none() {
            self.refuse(column, format!("{} to {}", range.start(), range.end()));
        }
        number
    }

    /// What `read` makes of a cell that may be empty: `Some(None)` where it is, `None` where it is wrong.
    pub(super) fn perhaps<T>(
        &mut self,
        column: &'static str,
        read: impl FnOnce(&mut Self, &'static str) -> Option<T>,
    ) -> Option<Option<T>> {
        if self.is_empty(column) { Some(None) } else { read(self, column).map(Some) }
    }

    /// A whole number of at most 255.
    pub(super) fn small(&mut self, column: &'static str, range: RangeInclusive<u8>) -> Option<u8> {
        let number = self.whole(column, u32::from(*range.start())..=u32::from(*range.end()))?;
        u8::try_from(number).ok()
    }

    /// A number with or without decimals. A decimal comma is read where the semicolon parts the cells: there alone it
    /// can not be meant otherwise.
    pub(super) fn decimal(&mut self, column: &'static str, range: RangeInclusive<f64>) -> Option<f64> {
        let value = self.sheet.cell(self.row, column)?;
        let plain = if self.sheet.delimiter == b';' { value.replacen(',', ".", 1) } else { value.to_owned() };
        let clear = !plain.is_empty()
            && plain.bytes().all(|byte| byte.is_ascii_digit() || byte == b'.')
            && !plain.starts_with('.')
            && !plain.ends_with('.');
        let number = plain.parse().ok().filter(|number| clear && range.contains(number));
        if number.is_none() {
            self.refuse(column, format!("{} to {}", range.start(), range.end()));
        }
        number
    }

    /// A height in hands. As with [`Cells::decimal`], a comma is read for the point where the semicolon parts the cells.
    pub(super) fn hands(&mut self, column: &'static str) -> Option<Hands> {
        let value = self.sheet.cell(self.row, column)?;
        let plain = if self.sheet.delimiter == b';' { value.replacen(',', ".", 1) } else { value.to_owned() };
        match plain.parse::<Hands>() {
            Ok(hands) if HEIGHTS.contains(&hands) => Some(hands),
            Ok(_) => {
                self.refuse(column, format!("{} to {} hands", HEIGHTS.start(), HEIGHTS.end()));
                None
            }
            Err(why) => {
                self.refuse(column, why.to_string());
                None
            }
        }
    }

    /// One word of a list. Case, spaces and hyphens do not matter.
    pub(super) fn choice<T: Copy>(&mut self, column: &'static str, words: &[(&'static str, T)]) -> Option<T> {
        let value = self.sheet.cell(self.row, column)?;
        let word = value.to_lowercase().replace([' ', '-'], "_");
        let found = words.iter().find(|(name, _)| *name == word);
        if found.is_none() {
            let names: Vec<&str> = words.iter().map(|(name, _)| *name).collect();
            self.refuse(column, names.join(", "));
        }
        found.map(|(_, value)| *value)
    }

    /// A time of day.
    pub(super) fn time(&mut self, column: &'static str) -> Option<TimeOfDay> {
        let time = time_of_day(self.sheet.cell(self.row, column)?);
        if time.is_none() {
            self.refuse(column, "a time such as 9:05, 14:30 or 2:30 PM");
        }
        time
    }

    /// A date or weekdays.
    pub(super) fn days(&mut self, column: &'static str) -> Option<Days> {
        let days = days(self.sheet.cell(self.row, column)?);
        if days.is_none() {
            self.refuse(column, "a date such as 2026-06-18, weekdays such as Mon Wed Fri each once, or daily");
        }
        days
    }
}

/// Spreadsheets make 4.12E+11 of a badge 412000000000 or 412E9.
fn looks_like_a_spoilt_number(value: &str) -> bool {
    let Some((number, exponent)) = value.split_once(['E', 'e']) else { return false };
    let digits = |text: &str| !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
    number.split(['.', ',']).all(digits) && exponent.strip_prefix(['+', '-']).is_some_and(digits)
}

/// `9:05`, `09:05`, `09:05:00`, `9:05 AM`. Neither `9.05` (a number?) nor `13:05 PM` nor `24:00`.
fn time_of_day(text: &str) -> Option<TimeOfDay> {
    let lower = text.to_ascii_lowercase().replace("a.m.", "am").replace("p.m.", "pm");
    let (clock, half) = match (lower.strip_suffix("am"), lower.strip_suffix("pm")) {
        (Some(clock), _) => (clock.trim_end(), Some(0)),
        (_, Some(clock)) => (clock.trim_end(), Some(12)),
        _ => (lower.as_str(), None),
    };
    let part = |text: &str, widths: RangeInclusive<usize>| {
        let clear = widths.contains(&text.len()) && text.bytes().all(|byte| byte.is_ascii_digit());
        text.parse::<u16>().ok().filter(|_| clear)
    };
    let mut parts = clock.split(':');
    let hour = part(parts.next()?, 1..=2)?;
    let minute = part(parts.next()?, 2..=2)?;
    if !matches!((parts.next(), parts.next()), (None | Some("00"), None)) {
        return None;
    }
    match half {
        None => TimeOfDay::new(hour, minute),
        Some(half) => (1..=12).contains(&hour).then(|| TimeOfDay::new(hour % 12 + half, minute))?,
    }
}

fn days(text: &str) -> Option<Days> {
    let lower = text.to_lowercase();
    if lower == "daily" {
        return Some(Days::Weekly((0..7).collect()));
    }
    if lower.starts_with(|c: char| c.is_ascii_digit()) {
        let iso = lower.len() == 10 && lower.bytes().filter(|byte| *byte == b'-').count() == 2;
        return NaiveDate::parse_from_str(&lower, "%Y-%m-%d").ok().filter(|_| iso).map(Days::On);
    }
    let mut week = Vec::new();
    for word in lower.split([' ', ',', ';']).filter(|word| !word.is_empty()) {
        let short = |name: &str| name.eq_ignore_ascii_case(word);
        let day =
            WEEKDAYS.iter().position(|name| short(name)).or_else(|| WEEKDAYS_LONG.iter().position(|n| short(n)))?;
        week.push(u8::try_from(day).ok()?);
    }
    week.sort_unstable();
    let each_once = week.windows(2).all(|pair| pair[0] < pair[1]);
    (!week.is_empty() && each_once).then_some(Days::Weekly(week))
}
