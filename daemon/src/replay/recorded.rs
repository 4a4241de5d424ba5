//! Recorded readings in CSV: `time,topic,payload`, read a row at a time, several files merged in order of time. Knows no
//! rule of the settings and no barn.
//!
//! A row's time is RFC 3339 with its offset. A payload with a comma, a quote or a line break is quoted as in RFC 4180. Each
//! file is in order of time by itself; of rows of the same time those of the file that was named first come first.

use std::borrow::Cow;
use std::cmp::Reverse;
use std::collections::BinaryHeap;
use std::fs::File;
use std::io::{self, BufRead, BufReader};
use std::path::{Path, PathBuf};

use bellmare_barn::time::Wall;
use chrono::DateTime;

use crate::exchange::{Fault, Found};

const COLUMNS: [&str; 3] = ["time", "topic", "payload"];
/// A longer row is a quote that is never closed.
const LONGEST_ROW: usize = 1 << 20;
/// MQTT's own limit.
const LONGEST_TOPIC: usize = 65_535;
/// 10000-01-01T00:00Z: the years that RFC 3339 can write end there, and what is before 1970 is no clock.
const TIMES: std::ops::Range<i64> = 0..253_402_300_800_000;

/// A message as it was recorded.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Row {
    /// When it was heard.
    pub time: Wall,
    /// On which topic.
    pub topic: String,
    /// What it said.
    pub payload: Vec<u8>,
}

/// A row that can not be read, or a file.
#[derive(Debug)]
pub enum Wrong {
    /// A row.
    Fault(Fault),
    /// A file.
    File {
        /// Which.
        path: PathBuf,
        /// Why.
        source: io::Error,
    },
}

/// One file, row by row.
pub struct Recorded {
    path: PathBuf,
    lines: BufReader<File>,
    /// The physical line that is read next, from 1.
    next_line: usize,
    /// The last row's time, and the line it stood in.
    last: Option<(Wall, usize)>,
    buffer: Vec<u8>,
}

impl Recorded {
    /// Opens a file and reads its headings.
    ///
    /// # Errors
    /// A file that can not be read, or has other headings.
    pub fn open(path: &Path) -> Result<Self, Wrong> {
        let wrong = |source| Wrong::File { path: path.to_owned(), source };
        let file = File::open(path).map_err(wrong)?;
        let mut this = Self {
            path: path.to_owned(),
            lines: BufReader::with_capacity(64 * 1024, file),
            next_line: 1,
            last: None,
            buffer: Vec::new(),
        };
        let line = this.take_row()?.unwrap_or(1);
        let row = this.buffer.strip_prefix("\u{feff}".as_bytes()).unwrap_or(&this.buffer);
        let headings = split(row).is_ok_and(|cells| cells.iter().map(|cell| &**cell).eq(COLUMNS.map(str::as_bytes)));
        if headings {
            return Ok(this);
        }
        let found = Found::Value(String::from_utf8_lossy(row).into_owned());
        Err(this.fault(line, None, found, format!("the headings {}", COLUMNS.join(","))))
    }

    /// The next row; none at the end of the file. After a fault the next call goes on with the row after.
    ///
    /// # Errors
    /// A row that can not be read.
    pub fn next_row(&mut self) -> Result<Option<Row>, Wrong> {
        let Some(line) = self.take_row()? else { return Ok(None) };
        let row = std::mem::take(&mut self.buffer);
        let read = self.read(line, &row);
        self.buffer = row;
        read.map(Some)
    }

    fn read(&mut self, line: usize, row: &[u8]) -> Result<Row, Wrong> {
        let [time, topic, payload] = split(row).map_err(|Odd { column, found, allowed }| {
            self.fault(line, column, Found::State(found), allowed.to_owned())
        })?;
        let quoted = |cell: &[u8]| Found::Value(String::from_utf8_lossy(cell).into_owned());
        let stamp = std::str::from_utf8(&time).ok().and_then(|text| DateTime::parse_from_rfc3339(text.trim()).ok());
        let Some(at) = stamp.map(|time| time.timestamp_millis()).filter(|millis| TIMES.contains(millis)) else {
            let allowed = "RFC 3339 with its offset, such as 2026-06-18T08:00:00-04:00 or 2026-06-18T12:00:00.250Z";
            return Err(self.fault(line, Some("time"), quoted(&time), allowed.to_owned()));
        };
        if let Some((last, before)) = self.last.filter(|(last, _)| last.0 > at) {
            let allowed = format!("a time not before the {last} of line {before}: a file is in order of time");
            return Err(self.fault(line, Some("time"), quoted(&time), allowed));
        }
        let name = std::str::from_utf8(&topic).ok().filter(|topic| {
            (1..=LONGEST_TOPIC).contains(&topic.len())
                && !topic.contains(['+', '#'])
                && !topic.contains(char::is_control)
        });
        let Some(name) = name else {
            let allowed = "the topic of a message, in UTF-8, without + and #";
            return Err(self.fault(line, Some("topic"), quoted(&topic), allowed.to_owned()));
        };
        self.last = Some((Wall(at), line));
        Ok(Row { time: Wall(at), topic: name.to_owned(), payload: payload.into_owned() })
    }

    /// Reads the next row that is not blank into the buffer, without its line end; the line where it starts.
    fn take_row(&mut self) -> Result<Option<usize>, Wrong> {
        loop {
            self.buffer.clear();
            let line = self.next_line;
            loop {
                let source = |source| Wrong::File { path: self.path.clone(), source };
                let read = self.lines.read_until(b'\n', &mut self.buffer).map_err(source)?;
                self.next_line += 1;
                let open = self.buffer.iter().filter(|byte| **byte == b'"').count() % 2 == 1;
                if open && (read == 0 || self.buffer.len() > LONGEST_ROW) {
                    let found = Found::State("a quote is never closed".to_owned());
                    return Err(self.fault(line, None, found, QUOTING.to_owned()));
                }
                if !open {
                    break;
                }
            }
            if self.buffer.is_empty() {
                return Ok(None);
            }
            if self.buffer.last() == Some(&b'\n') {
                self.buffer.pop();
            }
            if self.buffer.last() == Some(&b'\r') {
                self.buffer.pop();
            }
            if !self.buffer.is_empty() {
                return Ok(Some(line));
            }
        }
    }

    fn fault(&self, line: usize, column: Option<&str>, found: Found, allowed: String) -> Wrong {
        let file = self.path.display().to_string();
        Wrong::Fault(Fault { file, line: Some(line), column: column.map(str::to_owned), found, allowed })
    }
}

/// A cell: of the row itself where nothing in it was quoted twice.
type Bytes<'a> = Cow<'a, [u8]>;

/// What is wrong with a row before its cells are looked at.
struct Odd {
    column: Option<&'static str>,
    found: String,
    allowed: &'static str,
}

const QUOTING: &str = "a quote at both ends of a cell, with nothing outside of them, and two for one inside";

/// The three cells of a row.
fn split(row: &[u8]) -> Result<[Bytes<'_>; 3], Odd> {
    let mut cells: [Bytes<'_>; 3] = Default::default();
    let mut rest = Some(row);
    let mut count = 0;
    while let Some(text) = rest {
        let column = COLUMNS.get(count).copied();
        let (cell, after) =
            cell(text).ok_or(Odd { column, found: "has a quote out of place".to_owned(), allowed: QUOTING })?;
        if let Some(place) = cells.get_mut(count) {
            *place = cell;
        }
        count += 1;
        rest = after;
    }
    if count == COLUMNS.len() {
        return Ok(cells);
    }
    let allowed = "3, time,topic,payload; a payload with a comma is quoted";
    Err(Odd { column: None, found: format!("{count} cells"), allowed })
}

/// The first cell of a text, and what stands behind the comma after it.
fn cell(text: &[u8]) -> Option<(Bytes<'_>, Option<&[u8]>)> {
    let Some(quoted) = text.strip_prefix(b"\"") else {
        let end = text.iter().position(|byte| *byte == b',').unwrap_or(text.len());
        let cell = &text[..end];
        return (!cell.contains(&b'"')).then(|| (Cow::Borrowed(cell), text.get(end + 1..)));
    };
    let mut cell: Bytes<'_> = Cow::Borrowed(&[]);
    let mut rest = quoted;
    loop {
        let end = rest.iter().position(|byte| *byte == b'"')?;
        match &mut cell {
            Cow::Borrowed(part) if part.is_empty() => *part = &rest[..end],
            whole => whole.to_mut().extend_from_slice(&rest[..end]),
        }
        match rest.get(end + 1) {
            None => return Some((cell, None)),
            Some(b',') => return Some((cell, Some(&rest[end + 2..]))),
            Some(b'"') => {
                cell.to_mut().push(b'"');
                rest = &rest[end + 2..];
            }
            Some(_) => return None,
        }
    }
}

/// All rows of several files, in order of time.
pub struct Merged {
    files: Vec<Recorded>,
    /// The next row of each file that has one, by its time and the file's turn.
    heads: BinaryHeap<Reverse<(i64, usize)>>,
    rows: Vec<Option<Row>>,
}

impl Merged {
    /// Opens the files.
    ///
    /// # Errors
    /// The first that can not be read, or whose first row can not.
    pub fn open(paths: &[PathBuf]) -> Result<Self, Wrong> {
        let files = paths.iter().map(|path| Recorded::open(path)).collect::<Result<Vec<_>, _>>()?;
        let mut this = Self { rows: vec![None; files.len()], heads: BinaryHeap::with_capacity(files.len()), files };
        for at in 0..this.files.len() {
            this.refill(at)?;
        }
        Ok(this)
    }

    fn refill(&mut self, at: usize) -> Result<(), Wrong> {
        if let Some(row) = self.files[at].next_row()? {
            self.heads.push(Reverse((row.time.0, at)));
            self.rows[at] = Some(row);
        }
        Ok(())
    }

    /// The next row; none after the last.
    ///
    /// # Errors
    /// A row that can not be read.
    pub fn next_row(&mut self) -> Result<Option<Row>, Wrong> {
        let Some(Reverse((_, at))) = self.heads.pop() else { return Ok(None) };
        let row = self.rows[at].take();
        self.refill(at)?;
        Ok(row)
    }
}
