//! How an entry becomes columns and comes back the same to the bit. Knows nothing of files, transactions or order.
//!
//! The numbers and words here are on cards in barns: add to them, never change or reuse one.

use std::collections::BTreeMap;

use bellmare_barn::id::{BucketId, PlaceId, StallId};
use bellmare_barn::input::{Input, Measured, Reading, Sensor};
use bellmare_barn::time::{Mono, Now, Wall, WallClock};
use bellmare_barn::units::{Celsius, Dbm, Millimetres, Percent, RelativeHumidity};
use rusqlite::Row;
use rusqlite::types::{FromSql, FromSqlError, FromSqlResult, ToSql, ToSqlOutput, Value, ValueRef};

use super::{Delivery, Entry};

/// A number as SQLite keeps it to the bit. SQLite has no NaN and may lose the sign of zero, so these two go in as an
/// INTEGER that holds the bits; all others are a plain REAL.
#[derive(Clone, Copy)]
pub(super) struct Number(pub(super) f64);

impl ToSql for Number {
    fn to_sql(&self) -> rusqlite::Result<ToSqlOutput<'_>> {
        let minus_zero = self.0 == 0.0 && self.0.is_sign_negative();
        Ok(ToSqlOutput::Owned(if self.0.is_nan() || minus_zero {
            Value::Integer(self.0.to_bits().cast_signed())
        } else {
            Value::Real(self.0)
        }))
    }
}

impl FromSql for Number {
    fn column_result(value: ValueRef<'_>) -> FromSqlResult<Self> {
        match value {
            ValueRef::Real(number) => Ok(Self(number)),
            ValueRef::Integer(bits) => Ok(Self(f64::from_bits(bits.cast_unsigned()))),
            _ => Err(FromSqlError::InvalidType),
        }
    }
}

/// Table words for a sensor: its kind and its name.
pub(super) fn sensor_words(sensor: &Sensor) -> (&'static str, &str) {
    match sensor {
        Sensor::Water(stall) => ("water", stall.as_str()),
        Sensor::Bucket(bucket) => ("bucket", bucket.as_str()),
        Sensor::Climate(place) => ("climate", place.as_str()),
    }
}

/// The sensor of these table words; `None` for a kind that this version does not know.
pub(super) fn sensor_from(kind: &str, name: &str) -> Option<Sensor> {
    match kind {
        "water" => Some(Sensor::Water(StallId::new(name))),
        "bucket" => Some(Sensor::Bucket(BucketId::new(name))),
        "climate" => Some(Sensor::Climate(PlaceId::new(name))),
        _ => None,
    }
}

/// Table number of a quantity, and its value.
pub(super) fn quantity(measured: Measured) -> (i64, Number) {
    match measured {
        Measured::Level(v) => (1, Number(v.0)),
        Measured::Temperature(v) => (2, Number(v.0)),
        Measured::Humidity(v) => (3, Number(v.0)),
        Measured::Battery(v) => (4, Number(v.0)),
        Measured::Signal(v) => (5, Number(v.0)),
    }
}

fn measured_from(quantity: i64, Number(value): Number) -> Option<Measured> {
    match quantity {
        1 => Some(Measured::Level(Millimetres(value))),
        2 => Some(Measured::Temperature(Celsius(value))),
        3 => Some(Measured::Humidity(RelativeHumidity(value))),
        4 => Some(Measured::Battery(Percent(value))),
        5 => Some(Measured::Signal(Dbm(value))),
        _ => None,
    }
}

/// How an input goes into the tables.
pub(super) enum Shape<'a> {
    /// A row of `readings`.
    Reading(&'a Reading),
    /// A row of `facts`: its kind, and the JSON of what the kind carries.
    Fact(&'static str, String),
}

/// The table form of an input.
pub(super) fn shape(input: &Input) -> serde_json::Result<Shape<'_>> {
    let (kind, body) = match input {
        Input::Reading(reading) => return Ok(Shape::Reading(reading)),
        Input::Book(book) => ("book", serde_json::to_string(book)),
        Input::Limits(limits) => ("limits", serde_json::to_string(limits)),
        Input::Presence(presence) => ("presence", serde_json::to_string(presence)),
        Input::Tap(tap) => ("tap", serde_json::to_string(tap)),
        Input::Touch(touch) => ("touch", serde_json::to_string(touch)),
        Input::Broker(line) => ("broker", serde_json::to_string(line)),
        Input::Journal(line) => ("journal", serde_json::to_string(line)),
        Input::Plan(plan) => ("plan", serde_json::to_string(plan)),
        Input::Pin(pin) => ("pin", serde_json::to_string(pin)),
        Input::PinTried(tried) => ("pin_tried", serde_json::to_string(tried)),
        Input::ClockSource(source) => ("clock_source", serde_json::to_string(source)),
        Input::Sent(sent) => ("sent", serde_json::to_string(sent)),
        Input::TakenByLink(taken) => ("taken_by_link", serde_json::to_string(taken)),
        Input::Disk(room) => ("disk", serde_json::to_string(room)),
        Input::Started => ("started", Ok("null".to_owned())),
        Input::Clock => ("clock", Ok("null".to_owned())),
        Input::Tick => ("tick", Ok("null".to_owned())),
    };
    body.map(|body| Shape::Fact(kind, body))
}

/// A row of the journal, or why this version can not read it. The latter is no error of the file's: a later version may
/// have written it, or one byte may have flipped.
pub(super) type Read = Result<Entry, String>;

/// Columns of [`reading`], in its order.
pub(super) const READING: &str = "seq, delivery, boot, mono, wall, sensor, quantity, value, own_time";

/// A row of `readings`, selected as [`READING`].
pub(super) fn reading(row: &Row<'_>, sensors: &BTreeMap<i64, Sensor>) -> rusqlite::Result<Read> {
    let (sensor, quantity, value): (i64, i64, Number) = (row.get(5)?, row.get(6)?, row.get(7)?);
    let own_time: Option<i64> = row.get(8)?;
    let Some(sensor) = sensors.get(&sensor) else { return Ok(Err(format!("sensor {sensor} is not known"))) };
    let Some(measured) = measured_from(quantity, value) else {
        return Ok(Err(format!("quantity {quantity} is not known")));
    };
    let input = Input::Reading(Reading { sensor: sensor.clone(), measured, own_time: own_time.map(Wall) });
    Ok(Ok(entry(row, input)?))
}

/// Columns of [`fact`], in its order.
pub(super) const FACT: &str = "seq, delivery, boot, mono, wall, kind, body";

/// A row of `facts`, selected as [`FACT`].
pub(super) fn fact(row: &Row<'_>) -> rusqlite::Result<Read> {
    let (kind, body) = (row.get_ref(5)?.as_str()?, row.get_ref(6)?.as_str()?);
    // The tag goes back around the body, and serde reads it as it would have read the whole.
    let whole = match serde_json::to_string(kind) {
        Ok(kind) => format!("{{{kind}:{body}}}"),
        Err(why) => return Ok(Err(why.to_string())),
    };
    match serde_json::from_str(&whole) {
        Ok(input) => Ok(Ok(entry(row, input)?)),
        Err(why) => Ok(Err(format!("a fact of kind {kind:?}: {why}"))),
    }
}

/// What both tables begin with.
fn entry(row: &Row<'_>, input: Input) -> rusqlite::Result<Entry> {
    let (seq, delivery): (i64, Option<i64>) = (row.get(0)?, row.get(1)?);
    Ok(Entry {
        seq: seq.cast_unsigned(),
        boot: row.get(2)?,
        now: now(row, 3)?,
        delivery: delivery.map(Delivery),
        input,
    })
}

/// Both clocks, from the columns `mono` and `wall` that begin at `column`.
pub(super) fn now(row: &Row<'_>, column: usize) -> rusqlite::Result<Now> {
    let (mono, wall): (i64, Option<i64>) = (row.get(column)?, row.get(column + 1)?);
    let wall = wall.map_or(WallClock::Unset, |millis| WallClock::Set(Wall(millis)));
    Ok(Now { mono: Mono(mono.cast_unsigned()), wall })
}
