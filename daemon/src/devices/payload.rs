//! Plain payloads: a bare number, a JSON object read by JSON Pointers (RFC 6901), a word for presence, a badge.
//!
//! Also home of [`Reason`]: everything for which a payload is refused. A payload that parses is passed on as it is; no
//! range of any quantity is known here.

use bellmare_barn::id::BadgeId;
use bellmare_barn::input::{Input, Presence, Reading, Tap};
use bellmare_barn::time::Wall;
use chrono::DateTime;
use serde_json::Value;
use thiserror::Error;

use super::scale::{Scale, Watch};
use super::senml;
use super::topic_map::{Bound, Decoded};

/// The longest payload that is read, in bytes. A reading has some hundred; a Homie description some thousand.
pub const MAX_PAYLOAD: usize = 64 * 1024;

/// The longest name of a stall, place, reader or badge, in characters.
pub const MAX_NAME: usize = 64;

/// Why a payload was not taken, or not all of it.
#[derive(Clone, PartialEq, Debug, Error)]
pub enum Reason {
    /// Longer than [`MAX_PAYLOAD`].
    #[error("the payload has {0} bytes, and {MAX_PAYLOAD} are read at most")]
    TooBig(usize),
    /// Bytes that are no text.
    #[error("the payload is not UTF-8 text")]
    NotUtf8,
    /// Nothing, or nothing but spaces.
    #[error("the payload is empty")]
    Empty,
    /// Text that is no number.
    #[error("{0:?} is not a number: a number is written like 212, -4.5 or 2.1e2")]
    NotANumber(String),
    /// Not a number by its own account, infinite, or beyond what fits.
    #[error("{0:?} is not a finite number")]
    NotFinite(String),
    /// No JSON, or JSON nested too deeply.
    #[error("the payload is not JSON that can be read: {0}")]
    NotJson(String),
    /// JSON in which no pointer of the rule leads anywhere.
    #[error("none of the rule's pointers leads to a value ({0})")]
    NothingThere(String),
    /// A pointer leads to a value of another kind.
    #[error("{at}: {wanted} is wanted, and {found} is there")]
    WrongKind {
        /// The pointer, or the name.
        at: String,
        /// The kind wanted.
        wanted: &'static str,
        /// The kind found.
        found: &'static str,
    },
    /// A time outside of the years 1970 to 9999, or not written as the rule says.
    #[error("{0:?} is not a time as the rule says it is written")]
    BadTime(String),
    /// A word for presence that the rule does not name.
    #[error("{found:?} is neither {online:?} nor {offline:?}")]
    NoPresence {
        /// What was said.
        found: String,
        /// The rule's word for there.
        online: String,
        /// The rule's word for not there.
        offline: String,
    },
    /// A name out of a topic or payload that can not be one.
    #[error("{0:?} can not be a name: one to {MAX_NAME} characters, none of them a control character")]
    BadName(String),
    /// A retained message says what was once measured, and not when.
    #[error("a retained value without a time of its own: nobody knows how old it is, so it waits for the next one")]
    OldNews,
    /// A pack against the rules of SenML.
    #[error("SenML: {0}")]
    Senml(#[from] senml::Fault),
    /// A unit that does not fit what the rule says is measured.
    #[error("{name}: the unit {unit:?} does not measure {quantity}")]
    Unit {
        /// The record's or property's name.
        name: String,
        /// Its unit.
        unit: String,
        /// What the rule says it measures.
        quantity: &'static str,
    },
    /// A Homie device that has not described itself, under a rule that names no unit.
    #[error("{0}: no $description heard yet, and the rule names no unit")]
    NotDescribed(String),
    /// A Homie state outside of the convention.
    #[error("{0:?} is not a state: init, ready, disconnected, sleeping or lost")]
    NoState(String),
    /// The rule says whose sensor it is, but binds none of that kind.
    #[error("the rule binds no sensor of that kind")]
    NoSensor,
}

/// One value in a JSON payload.
#[derive(Clone, PartialEq, Debug)]
pub struct Field {
    /// JSON Pointer to the number.
    pub pointer: String,
    /// What it measures.
    pub scale: Scale,
    /// Whose sensor's.
    pub of: Watch,
}

/// Where a payload says when it was measured.
#[derive(Clone, PartialEq, Debug)]
pub struct TimeAt {
    /// JSON Pointer to the time.
    pub pointer: String,
    /// How it is written.
    pub unit: TimeUnit,
}

/// How a time is written.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum TimeUnit {
    /// Seconds since 1970, whole or not.
    Seconds,
    /// Milliseconds since 1970.
    Millis,
    /// Text after RFC 3339.
    Rfc3339,
}

/// How presence is said.
#[derive(Clone, PartialEq, Debug)]
pub struct PresenceWords {
    /// The word for there.
    pub online: String,
    /// The word for not there.
    pub offline: String,
    /// JSON Pointer to the word, where the payload is JSON.
    pub pointer: Option<String>,
    /// Whose sensor's.
    pub of: Watch,
}

/// How a badge reader says whose badge it saw.
#[derive(Clone, PartialEq, Debug, Default)]
pub struct TapFormat {
    /// JSON Pointer to the badge, where the payload is JSON.
    pub badge: Option<String>,
    /// Where it says when.
    pub time: Option<TimeAt>,
}

/// A bare number.
pub fn number_message(scale: Scale, of: Watch, bound: &Bound, payload: &[u8], retained: bool) -> Decoded {
    let read = || -> Result<Input, Reason> {
        let number = number(text(payload)?)?;
        let reading = Reading { sensor: bound.sensor(of)?.clone(), measured: scale.measured(number), own_time: None };
        fresh(reading, retained)
    };
    Decoded::from_one(read())
}

/// A JSON object: every field that is there, and the first complaint about those that are there and wrong.
pub fn json_message(fields: &[Field], time: Option<&TimeAt>, bound: &Bound, payload: &[u8], retained: bool) -> Decoded {
    let (value, own_time) = match json(payload).and_then(|value| Ok((own_time(time, &value)?, value))) {
        Ok((own_time, value)) => (value, own_time),
        Err(reason) => return Decoded::refused(reason),
    };
    let mut decoded = Decoded::default();
    for field in fields {
        let Some(found) = value.pointer(&field.pointer) else { continue };
        let read = || -> Result<Input, Reason> {
            let number = json_number(&field.pointer, found)?;
            let sensor = bound.sensor(field.of)?.clone();
            fresh(Reading { sensor, measured: field.scale.measured(number), own_time }, retained)
        };
        decoded.push(read());
    }
    if decoded == Decoded::default() {
        let pointers: Vec<_> = fields.iter().map(|field| field.pointer.as_str()).collect();
        decoded.push(Err(Reason::NothingThere(pointers.join(", "))));
    }
    decoded
}

/// A word for presence. A retained one speaks of now: that is what availability topics are for.
pub fn presence_message(words: &PresenceWords, bound: &Bound, payload: &[u8]) -> Decoded {
    let read = || -> Result<Input, Reason> {
        let parsed;
        let word = match &words.pointer {
            None => text(payload)?,
            Some(pointer) => {
                parsed = json(payload)?;
                json_text(pointer, parsed.pointer(pointer))?
            }
        };
        let online = match word {
            _ if word == words.online => true,
            _ if word == words.offline => false,
            _ => {
                return Err(Reason::NoPresence {
                    found: excerpt(word.as_bytes()),
                    online: words.online.clone(),
                    offline: words.offline.clone(),
                });
            }
        };
        Ok(Input::Presence(Presence { sensor: bound.sensor(words.of)?.clone(), online }))
    };
    Decoded::from_one(read())
}

/// A badge at a reader. A retained tap would sign somebody in again with every reconnect, so it is refused whatever
/// time it names.
pub fn tap_message(format: &TapFormat, bound: &Bound, payload: &[u8], retained: bool) -> Decoded {
    let read = || -> Result<Input, Reason> {
        if retained {
            return Err(Reason::OldNews);
        }
        let reader = bound.reader()?.clone();
        let Some(pointer) = &format.badge else {
            let badge = BadgeId::from(name(text(payload)?)?);
            return Ok(Input::Tap(Tap { reader, badge, own_time: None }));
        };
        let value = json(payload)?;
        let badge = match value.pointer(pointer) {
            Some(Value::Number(number)) if number.is_u64() => BadgeId::new(number.to_string()),
            other => BadgeId::from(name(json_text(pointer, other)?)?),
        };
        Ok(Input::Tap(Tap { reader, badge, own_time: own_time(format.time.as_ref(), &value)? }))
    };
    Decoded::from_one(read())
}

/// A reading, unless it is retained and does not say when it was measured.
pub(super) fn fresh(reading: Reading, retained: bool) -> Result<Input, Reason> {
    if retained && reading.own_time.is_none() {
        return Err(Reason::OldNews);
    }
    Ok(Input::Reading(reading))
}

/// The payload as text without the space around it.
pub(super) fn text(payload: &[u8]) -> Result<&str, Reason> {
    let text = std::str::from_utf8(payload).map_err(|_| Reason::NotUtf8)?.trim();
    if text.is_empty() { Err(Reason::Empty) } else { Ok(text) }
}

/// A decimal number that is finite.
pub(super) fn number(text: &str) -> Result<f64, Reason> {
    match text.parse::<f64>() {
        Ok(number) if number.is_finite() => Ok(number),
        Ok(_) => Err(Reason::NotFinite(excerpt(text.as_bytes()))),
        Err(_) => Err(Reason::NotANumber(excerpt(text.as_bytes()))),
    }
}

/// JSON, nested no deeper than serde_json goes (128).
pub(super) fn json(payload: &[u8]) -> Result<Value, Reason> {
    serde_json::from_str(text(payload)?).map_err(|error| Reason::NotJson(error.to_string()))
}

/// A name as the barn may have written it.
pub(super) fn name(text: &str) -> Result<&str, Reason> {
    let text = text.trim();
    let fits = !text.is_empty() && text.chars().count() <= MAX_NAME && !text.chars().any(char::is_control);
    if fits { Ok(text) } else { Err(Reason::BadName(excerpt(text.as_bytes()))) }
}

/// Seconds since 1970 as an instant of the years up to 9999.
pub(super) fn instant(seconds: f64) -> Option<Wall> {
    let millis = (seconds * 1000.0).round();
    // 10000-01-01T00:00Z, the first year that RFC 3339 can not write.
    (0.0..253_402_300_800_000.0).contains(&millis).then_some(Wall(millis as i64))
}

/// At most 80 characters of a payload for people to look at; what can not be printed is a dot.
pub fn excerpt(payload: &[u8]) -> String {
    printable(payload, 80)
}

/// At most so many characters of it; what can not be printed is a dot, and a cut shows as an ellipsis.
pub fn printable(bytes: &[u8], max: usize) -> String {
    // No character has more than 4 bytes; one more shows that there is more.
    let head = String::from_utf8_lossy(&bytes[..bytes.len().min(4 * max + 4)]);
    let printable = |c: char| if c.is_control() || c == char::REPLACEMENT_CHARACTER { '.' } else { c };
    let mut short: String = head.chars().take(max).map(printable).collect();
    if head.chars().nth(max).is_some() {
        short.pop();
        short.push('…');
    }
    short
}

fn own_time(at: Option<&TimeAt>, value: &Value) -> Result<Option<Wall>, Reason> {
    let Some(at) = at else { return Ok(None) };
    // A device without a clock leaves its time out, or null.
    let Some(found) = value.pointer(&at.pointer).filter(|found| !found.is_null()) else { return Ok(None) };
    let wall = match at.unit {
        TimeUnit::Seconds => instant(json_number(&at.pointer, found)?),
        TimeUnit::Millis => instant(json_number(&at.pointer, found)? / 1000.0),
        TimeUnit::Rfc3339 => DateTime::parse_from_rfc3339(json_text(&at.pointer, Some(found))?)
            .ok()
            .and_then(|time| instant(time.timestamp_millis() as f64 / 1000.0)),
    };
    wall.map(Some).ok_or_else(|| Reason::BadTime(excerpt(found.to_string().as_bytes())))
}

fn json_number(at: &str, value: &Value) -> Result<f64, Reason> {
    value.as_f64().filter(|number| number.is_finite()).ok_or_else(|| Reason::WrongKind {
        at: at.to_owned(),
        wanted: "a number",
        found: kind(Some(value)),
    })
}

fn json_text<'v>(at: &str, value: Option<&'v Value>) -> Result<&'v str, Reason> {
    value.and_then(Value::as_str).ok_or_else(|| Reason::WrongKind {
        at: at.to_owned(),
        wanted: "a text",
        found: kind(value),
    })
}

fn kind(value: Option<&Value>) -> &'static str {
    match value {
        None => "nothing",
        Some(Value::Null) => "null",
        Some(Value::Bool(_)) => "true or false",
        Some(Value::Number(_)) => "a number",
        Some(Value::String(_)) => "a text",
        Some(Value::Array(_)) => "a list",
        Some(Value::Object(_)) => "an object",
    }
}
