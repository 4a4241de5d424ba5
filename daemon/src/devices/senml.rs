//! SenML packs in JSON: RFC 8428, with the secondary units of RFC 8798 and the version numbers of RFC 9100.
//!
//! A pack is a list of records. Base fields (`bn`, `bt`, `bu`, `bv`, `bs`, `bver`) hold for their record and all that
//! follow until they are given anew; [`resolve`] folds them in, so that each [`Record`] stands for itself. A pack
//! against the rules is refused whole: half of a pack that was misunderstood is worse than none.

use bellmare_barn::input::Reading;
use bellmare_barn::time::{Wall, WallClock};
use serde::Deserialize;
use thiserror::Error;

use super::payload::{self, Reason};
use super::scale::{Quantity, Scale, Watch};
use super::topic_map::{Bound, Decoded};

/// Times below this many seconds, 2^28, count from now: RFC 8428 section 4.5.3.
const RELATIVE_BELOW: f64 = 268_435_456.0;

/// The version of RFC 8428.
const VERSION: u64 = 10;

/// The version that says "with secondary units" (feature 4): RFC 9100 section 2 and RFC 8798 section 4.
const VERSION_WITH_SECONDARY_UNITS: u64 = 26;

/// How a pack breaks the rules.
#[derive(Clone, PartialEq, Eq, Debug, Error)]
pub enum Fault {
    /// No list of records.
    #[error("no list of records: {0}")]
    NotAPack(String),
    /// A version this hub does not know.
    #[error("bver {0}: versions up to {VERSION}, and {VERSION_WITH_SECONDARY_UNITS}, are understood")]
    Version(u64),
    /// Two versions in one pack.
    #[error("record {0} gives another bver than the records before it")]
    MixedVersions(usize),
    /// A field whose name ends in `_` must be understood, and is not.
    #[error("record {at}: the field {field:?} must be understood, and is not")]
    MustUnderstand {
        /// Which record, counting from 1.
        at: usize,
        /// The field.
        field: String,
    },
    /// No name, or one of characters that no name has.
    #[error("record {at}: {name:?} is no name: A-Z a-z 0-9 - : . / _, the first a letter or a digit")]
    Name {
        /// Which record, counting from 1.
        at: usize,
        /// The whole name.
        name: String,
    },
    /// Not exactly one of v, vs, vb, vd.
    #[error("record {0}: exactly one of v, vs, vb and vd belongs there (none where there is a sum)")]
    Values(usize),
    /// Sums of base and own fields that do not fit a number.
    #[error("record {0}: a value or time too large for a number")]
    Overflow(usize),
}

/// What a record measured.
#[derive(Clone, PartialEq, Debug)]
pub enum Value {
    /// `v`.
    Number(f64),
    /// `vs`.
    Text(String),
    /// `vb`.
    Bool(bool),
    /// `vd`, in its base64url text.
    Data(String),
    /// Nothing but a sum.
    None,
}

/// A record that stands for itself.
#[derive(Clone, PartialEq, Debug)]
pub struct Record {
    /// Base name and name.
    pub name: String,
    /// Unit, where one is given.
    pub unit: Option<String>,
    /// What was measured.
    pub value: Value,
    /// Integral of the value over time, in the unit and seconds.
    pub sum: Option<f64>,
    /// Seconds: since 1970, or below 2^28 from now.
    pub time: f64,
    /// At most so many seconds until the next one.
    pub update_time: Option<f64>,
}

/// Which of a pack's names measures what.
#[derive(Clone, PartialEq, Debug)]
pub struct NameRule {
    /// The name: whole, or what stands behind the device's part of it.
    pub name: String,
    /// What it measures.
    pub quantity: Quantity,
    /// Whose sensor's.
    pub of: Watch,
}

/// A pack: a reading for each record whose name the rule knows; other records are left out.
pub fn message(names: &[NameRule], bound: &Bound, payload: &[u8], retained: bool, now: WallClock) -> Decoded {
    let pack = match payload::text(payload).and_then(|text| Ok(resolve(text)?)) {
        Ok(pack) => pack,
        Err(reason) => return Decoded::refused(reason),
    };
    let mut decoded = Decoded::default();
    let mut known = false;
    for record in &pack {
        let Some(rule) = rule_for(names, &record.name) else { continue };
        known = true;
        decoded.push(reading(rule, bound, record, now).and_then(|reading| payload::fresh(reading, retained)));
    }
    if !known {
        let names: Vec<_> = pack.iter().map(|record| record.name.as_str()).collect();
        decoded.push(Err(Reason::NothingThere(payload::excerpt(names.join(", ").as_bytes()))));
    }
    decoded
}

/// Reads a pack and folds its base fields into its records. Records of nothing but base fields are gone.
pub fn resolve(json: &str) -> Result<Vec<Record>, Fault> {
    let raw: Vec<Raw> = serde_json::from_str(json).map_err(|error| Fault::NotAPack(error.to_string()))?;
    let mut base = Base::default();
    let mut pack = Vec::with_capacity(raw.len());
    for (at, raw) in (1..).zip(raw) {
        if let Some(field) = raw.others.keys().find(|field| field.ends_with('_')) {
            return Err(Fault::MustUnderstand { at, field: field.clone() });
        }
        base.take(at, &raw)?;
        if raw.is_base_only() {
            continue;
        }
        pack.push(base.fold(at, raw)?);
    }
    Ok(pack)
}

/// The fields of RFC 8428 section 4; serde refuses a field given twice and a value of another kind.
#[derive(Deserialize)]
struct Raw {
    bn: Option<String>,
    bt: Option<f64>,
    bu: Option<String>,
    bv: Option<f64>,
    bs: Option<f64>,
    bver: Option<u64>,
    n: Option<String>,
    u: Option<String>,
    v: Option<f64>,
    vs: Option<String>,
    vb: Option<bool>,
    vd: Option<String>,
    s: Option<f64>,
    t: Option<f64>,
    ut: Option<f64>,
    #[serde(flatten)]
    others: std::collections::BTreeMap<String, serde::de::IgnoredAny>,
}

impl Raw {
    fn is_base_only(&self) -> bool {
        let own_value = self.v.is_some() || self.vs.is_some() || self.vb.is_some() || self.vd.is_some();
        let own = self.n.is_some() || self.u.is_some() || self.s.is_some() || self.t.is_some() || self.ut.is_some();
        let base = self.bn.is_some() || self.bt.is_some() || self.bu.is_some() || self.bver.is_some();
        base && !own && !own_value && self.bv.is_none() && self.bs.is_none()
    }
}

/// The base fields in force.
#[derive(Default)]
struct Base {
    name: String,
    time: f64,
    unit: Option<String>,
    value: Option<f64>,
    sum: Option<f64>,
    version: Option<u64>,
}

impl Base {
    fn take(&mut self, at: usize, raw: &Raw) -> Result<(), Fault> {
        if let Some(version) = raw.bver {
            if version > VERSION && version != VERSION_WITH_SECONDARY_UNITS {
                return Err(Fault::Version(version));
            }
            // All records of a pack have one version; one that is given late holds against the default before it.
            let before = if at == 1 { version } else { self.version.unwrap_or(VERSION) };
            if before != version {
                return Err(Fault::MixedVersions(at));
            }
            self.version = Some(version);
        }
        if let Some(name) = &raw.bn {
            self.name.clone_from(name);
        }
        if raw.bu.is_some() {
            self.unit.clone_from(&raw.bu);
        }
        self.time = raw.bt.unwrap_or(self.time);
        self.value = raw.bv.or(self.value);
        self.sum = raw.bs.or(self.sum);
        Ok(())
    }

    fn fold(&self, at: usize, raw: Raw) -> Result<Record, Fault> {
        let name = format!("{}{}", self.name, raw.n.as_deref().unwrap_or_default());
        if !is_name(&name) {
            return Err(Fault::Name { at, name: payload::excerpt(name.as_bytes()) });
        }
        let sum = match (self.sum, raw.s) {
            (None, None) => None,
            (base, own) => Some(finite(at, base.unwrap_or(0.0) + own.unwrap_or(0.0))?),
        };
        let value = match (raw.v, raw.vs, raw.vb, raw.vd) {
            (Some(v), None, None, None) => Value::Number(finite(at, v + self.value.unwrap_or(0.0))?),
            (None, Some(text), None, None) => Value::Text(text),
            (None, None, Some(yes), None) => Value::Bool(yes),
            (None, None, None, Some(data)) => Value::Data(data),
            // Where only one of base value and value is given, the other counts as zero.
            (None, None, None, None) => match (self.value, sum) {
                (Some(base), _) => Value::Number(base),
                (None, Some(_)) => Value::None,
                (None, None) => return Err(Fault::Values(at)),
            },
            _ => return Err(Fault::Values(at)),
        };
        let time = finite(at, self.time + raw.t.unwrap_or(0.0))?;
        Ok(Record { name, unit: raw.u.or_else(|| self.unit.clone()), value, sum, time, update_time: raw.ut })
    }
}

/// RFC 8428 section 4.5.1.
fn is_name(name: &str) -> bool {
    name.starts_with(|c: char| c.is_ascii_alphanumeric())
        && name.chars().all(|c| c.is_ascii_alphanumeric() || "-:./_".contains(c))
}

fn finite(at: usize, number: f64) -> Result<f64, Fault> {
    if number.is_finite() { Ok(number) } else { Err(Fault::Overflow(at)) }
}

/// The rule whose name is the record's, or the longest that is its end behind a `:` or `/`; behind a `_` too in
/// `urn:dev:` names, where it parts the device from what is on it (RFC 9039 section 3.2).
fn rule_for<'r>(names: &'r [NameRule], name: &str) -> Option<&'r NameRule> {
    names
        .iter()
        .filter(|rule| match name.strip_suffix(rule.name.as_str()) {
            None => false,
            Some("") => true,
            Some(front) => front.ends_with([':', '/']) || (front.ends_with('_') && name.starts_with("urn:dev:")),
        })
        .max_by_key(|rule| rule.name.len())
}

fn reading(rule: &NameRule, bound: &Bound, record: &Record, now: WallClock) -> Result<Reading, Reason> {
    let found = match &record.value {
        Value::Number(number) => Ok(*number),
        Value::Text(_) => Err("a text"),
        Value::Bool(_) => Err("true or false"),
        Value::Data(_) => Err("data"),
        Value::None => Err("a sum alone"),
    };
    let number = found.map_err(|found| Reason::WrongKind { at: record.name.clone(), wanted: "a number", found })?;
    let unit = record.unit.as_deref().unwrap_or_default();
    let scale = Scale::of_senml(rule.quantity, unit).ok_or_else(|| Reason::Unit {
        name: record.name.clone(),
        unit: payload::excerpt(unit.as_bytes()),
        quantity: rule.quantity.word(),
    })?;
    let own_time = own_time(record.time, now)?;
    Ok(Reading { sensor: bound.sensor(rule.of)?.clone(), measured: scale.measured(number), own_time })
}

/// When a record was measured. A time of "now" says no more than the arrival does, and a time before or after now needs
/// a clock to count from.
fn own_time(seconds: f64, now: WallClock) -> Result<Option<Wall>, Reason> {
    if seconds >= RELATIVE_BELOW {
        let wall = payload::instant(seconds).ok_or_else(|| Reason::BadTime(seconds.to_string()))?;
        return Ok(Some(wall));
    }
    if seconds == 0.0 {
        return Ok(None);
    }
    let Some(now) = now.get() else { return Ok(None) };
    let wall = payload::instant(now.0 as f64 / 1000.0 + seconds);
    wall.map(Some).ok_or_else(|| Reason::BadTime(seconds.to_string()))
}
