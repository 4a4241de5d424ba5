//! From the bytes of one file to rows of cells: encodings, delimiters, headings, lines. RFC 4180, and what spreadsheets
//! really write beside it. Knows columns by name and nothing of what they mean.
//!
//! - Encoding: UTF-8 with or without a byte-order mark, UTF-16 with one, else Windows-1252, with a remark.
//! - Delimiter: the one of comma, semicolon and tab that finds the most known headings. A `sep=;` line above is obeyed.
//! - Lines end in CRLF, LF or CR. A line break inside quotes belongs to its cell.
//! - Headings: case, spaces and hyphens do not matter, nor does their order. A column without a heading must be empty; an
//!   optional one may be left out.
//! - Blank lines and rows of delimiters alone are skipped.

use csv::StringRecord;
use encoding_rs::{Encoding, UTF_8, WINDOWS_1252};

use super::columns::File;
use super::faults::Faults;

/// A file larger than this is no book: 2,000 stalls with all that belongs to them are under 1 MiB.
pub(super) const LARGEST_FILE_BYTES: u64 = 16 * 1024 * 1024;

const DELIMITERS: [u8; 3] = [b',', b';', b'\t'];

/// A file as rows.
pub(super) struct Sheet {
    pub(super) file: &'static File,
    pub(super) delimiter: u8,
    pub(super) rows: Vec<Row>,
    /// Where each of the file's columns stands in a row; none where its heading is missing.
    places: Vec<Option<usize>>,
}

/// A row that is not blank.
pub(super) struct Row {
    /// The physical line where it starts, from 1.
    pub(super) line: usize,
    /// True where it has too few or too many cells: said already, and only its first cells can be trusted.
    pub(super) ragged: bool,
    cells: StringRecord,
}

impl Sheet {
    /// The trimmed cell of a row; none where the column is missing: said already, unless it is optional.
    pub(super) fn cell<'r>(&self, row: &'r Row, column: &str) -> Option<&'r str> {
        let at = self.file.columns.iter().position(|name| *name == column)?;
        row.cells.get(self.places[at]?).map(str::trim)
    }

    /// True where every row could be told apart and has this column.
    pub(super) fn has(&self, column: &str) -> bool {
        self.file.columns.iter().position(|name| *name == column).is_some_and(|at| self.places[at].is_some())
    }
}

/// Reads a file. `None` where no row of it can be read; why is among the faults then.
pub(super) fn parse(
    file: &'static File,
    bytes: &[u8],
    faults: &mut Faults,
    remarks: &mut Vec<String>,
) -> Option<Sheet> {
    let text = decode(file, bytes, faults, remarks)?;
    let lines = Lines::of(&text);
    let (start, told) = separator_line(&text);
    let body = &text[start..];
    let delimiter = told.unwrap_or_else(|| likely_delimiter(file, body));

    if let Err((at, wrong)) = check_quotes(body.as_bytes(), delimiter) {
        faults.state(file.name, lines.at(start + at), None, wrong, QUOTING);
        return None;
    }

    let mut records = records(body, delimiter).map(|(at, record)| (lines.at(start + at), record));
    let Some((line, headings)) = records.next() else {
        faults.file(file.name, "is empty", format!("a first row of headings: {}", file.columns.join(", ")));
        return None;
    };
    let names: Vec<String> = headings.iter().map(heading).collect();
    if !names.iter().any(|name| file.columns.contains(&name.as_str())) {
        let found = headings.iter().collect::<Vec<_>>().join(" ");
        let allowed = format!("a first row of headings: {}", file.columns.join(", "));
        faults.value(file.name, line, None, found, allowed);
        return None;
    }
    let places = file.columns.iter().map(|column| names.iter().position(|name| name == column)).collect::<Vec<_>>();
    let missing = |(column, place): &(&&str, &Option<usize>)| place.is_none() && !file.optional.contains(column);
    for (column, _) in file.columns.iter().zip(&places).filter(missing) {
        faults.state(file.name, line, Some(column), "is missing", "a heading of that name");
    }
    for (i, name) in names.iter().enumerate().filter(|(_, name)| !name.is_empty()) {
        if !file.columns.contains(&name.as_str()) {
            faults.state(file.name, line, Some(name), "is not known", file.columns.join(", "));
        } else if names[..i].contains(name) {
            faults.state(file.name, line, Some(name), "stands there twice", "each heading once");
        }
    }

    // Spreadsheets write empty columns to the right of the last one that was ever used.
    let width = names.iter().rposition(|name| !name.is_empty()).map_or(0, |last| last + 1);
    let mut rows = Vec::new();
    for (line, cells) in records {
        let used = (0..cells.len()).rev().find(|i| !cells[*i].trim().is_empty()).map_or(0, |last| last + 1);
        let ragged = cells.len() < width || used > width;
        if ragged {
            let count = if used > width { used } else { cells.len() };
            let allowed = format!("{width}, as in the row of headings");
            faults.state(file.name, line, None, format!("{count} cells"), allowed);
        } else {
            for (i, _) in names.iter().enumerate().filter(|(_, name)| name.is_empty()) {
                if let Some(value) = cells.get(i).map(str::trim).filter(|value| !value.is_empty()) {
                    let allowed = format!("nothing, as column {} has no heading", i + 1);
                    faults.value(file.name, line, None, value, allowed);
                }
            }
        }
        rows.push(Row { line, ragged, cells });
    }
    Some(Sheet { file, delimiter, rows, places })
}

fn decode(file: &File, bytes: &[u8], faults: &mut Faults, remarks: &mut Vec<String>) -> Option<String> {
    const WORKBOOKS: [&[u8]; 2] = [b"PK\x03\x04", b"\xD0\xCF\x11\xE0"];
    if WORKBOOKS.iter().any(|magic| bytes.starts_with(magic)) {
        faults.file(file.name, "is a workbook", "plain text: save the sheet as CSV");
        return None;
    }
    match Encoding::for_bom(bytes) {
        Some((encoding, mark)) if encoding != UTF_8 => {
            let (text, wrong) = encoding.decode_without_bom_handling(&bytes[mark..]);
            if wrong {
                faults.file(file.name, format!("is not sound {}", encoding.name()), "UTF-8");
                return None;
            }
            Some(text.into_owned())
        }
        mark => {
            let rest = &bytes[mark.map_or(0, |(_, length)| length)..];
            Some(std::str::from_utf8(rest).map(str::to_owned).unwrap_or_else(|_| {
                remarks.push(format!(
                    "{}: not UTF-8, so it was read as Windows-1252: look at the letters with accents",
                    file.name
                ));
                WINDOWS_1252.decode_without_bom_handling(rest).0.into_owned()
            }))
        }
    }
}

/// A first line `sep=;`, which a spreadsheet reads as an order: where the rest begins, and the delimiter.
fn separator_line(text: &str) -> (usize, Option<u8>) {
    let end = text.find(['\r', '\n']).unwrap_or(text.len());
    match text[..end].trim_matches('"').strip_prefix("sep=").map(str::as_bytes) {
        Some([delimiter, ..]) if DELIMITERS.contains(delimiter) => (end, Some(*delimiter)),
        _ => (0, None),
    }
}

/// The delimiter that finds the most known headings; the comma where none finds any.
fn likely_delimiter(file: &File, body: &str) -> u8 {
    let known = |delimiter: u8| {
        records(body, delimiter).next().map_or(0, |(_, headings)| {
            headings.iter().filter(|cell| file.columns.contains(&heading(cell).as_str())).count()
        })
    };
    let mut best = (known(DELIMITERS[0]), DELIMITERS[0]);
    for delimiter in &DELIMITERS[1..] {
        let count = known(*delimiter);
        if count > best.0 {
            best = (count, *delimiter);
        }
    }
    best.1
}

fn heading(cell: &str) -> String {
    let words = cell.split(|c: char| c.is_whitespace() || c == '_' || c == '-').filter(|word| !word.is_empty());
    words.map(str::to_lowercase).collect::<Vec<_>>().join("_")
}

/// The records that are not blank, each with the byte of the body where it starts.
fn records(body: &str, delimiter: u8) -> impl Iterator<Item = (usize, StringRecord)> {
    let reader =
        csv::ReaderBuilder::new().delimiter(delimiter).has_headers(false).flexible(true).from_reader(body.as_bytes());
    reader.into_records().filter_map(Result::ok).filter_map(move |record| {
        if record.iter().all(|cell| cell.trim().is_empty()) {
            return None;
        }
        // The crate counts blank lines, and the second half of a CRLF, to the record after them.
        let at = usize::try_from(record.position()?.byte()).ok()?;
        let breaks = body.as_bytes().get(at..)?.iter().take_while(|byte| matches!(byte, b'\r' | b'\n')).count();
        Some((at + breaks, record))
    })
}

const QUOTING: &str =
    "a quote at both ends of a cell, with nothing outside of them, and two for one inside (\"the \"\"grey\"\" mare\")";

/// The crate forgives wrong quotes, and then a lost one swallows the rest of the file. So they are checked first.
/// The error is the byte where the row starts, and what is wrong.
fn check_quotes(body: &[u8], delimiter: u8) -> Result<(), (usize, &'static str)> {
    enum At {
        Start,
        Space,
        Plain,
        Quoted,
        Closed,
    }
    let (mut at, mut row) = (At::Start, 0);
    for (i, &byte) in body.iter().enumerate() {
        at = match (at, byte) {
            (At::Quoted, b'"') => At::Closed,
            (At::Quoted, _) => At::Quoted,
            (At::Closed, b'"') => At::Quoted,
            (_, b'\r' | b'\n') => {
                row = i + 1;
                At::Start
            }
            (_, byte) if byte == delimiter => At::Start,
            (At::Closed, _) => return Err((row, "there is text after a closing quote")),
            (At::Start, b'"') => At::Quoted,
            (At::Space, b'"') => return Err((row, "there is a space before an opening quote")),
            (At::Start | At::Space, b' ' | b'\t') => At::Space,
            _ => At::Plain,
        };
    }
    match at {
        At::Quoted => Err((row, "a quote is never closed")),
        _ => Ok(()),
    }
}

/// Where the physical lines of a text start. CRLF, LF and CR end a line alike.
struct Lines(Vec<usize>);

impl Lines {
    fn of(text: &str) -> Self {
        let bytes = text.as_bytes();
        let ends = (0..bytes.len()).filter(|&i| match bytes[i] {
            b'\n' => true,
            b'\r' => bytes.get(i + 1) != Some(&b'\n'),
            _ => false,
        });
        Self(std::iter::once(0).chain(ends.map(|i| i + 1)).collect())
    }

    /// The line of a byte, from 1.
    fn at(&self, byte: usize) -> usize {
        self.0.partition_point(|start| *start <= byte)
    }
}
