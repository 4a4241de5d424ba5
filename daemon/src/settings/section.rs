//! A section of the settings as it is taken apart: each key is asked for once, by its type and range, and every fault goes
//! to one list. What is left over at the end is a key that nobody knows. Knows no section by name.

use std::cell::RefCell;
use std::net::SocketAddr;
use std::ops::RangeInclusive;
use std::path::PathBuf;

use bellmare_barn::time::TimeOfDay;
use config::{Map, Value, ValueKind};
use serde::de::DeserializeOwned;

use super::secret::Secret;
use crate::complaint::Complaint;

/// Where all faults go.
pub(super) type Told = RefCell<Vec<Complaint>>;

/// What is shown of a secret in a complaint.
const NOT_SHOWN: &str = "(not shown)";

/// One section.
pub(super) struct Section<'t> {
    path: String,
    table: Map<String, Value>,
    asked: Vec<&'static str>,
    told: &'t Told,
}

impl<'t> Section<'t> {
    /// All settings.
    pub(super) fn root(value: Value, told: &'t Told) -> Self {
        Self::of(String::new(), Some(value), told)
    }

    fn of(path: String, value: Option<Value>, told: &'t Told) -> Self {
        let table = match value.map(|value| (value.origin().map(str::to_owned), value.kind)) {
            None | Some((_, ValueKind::Nil)) => Map::new(),
            Some((_, ValueKind::Table(table))) => table,
            Some((origin, kind)) => {
                let value = Value::new(origin.as_ref(), kind);
                let allowed = from_where(&path, &value, "a section of its own");
                // It may be a secret that stands where its section should.
                told.borrow_mut().push(Complaint::new(path.as_str(), NOT_SHOWN, allowed));
                Map::new()
            }
        };
        Self { path, table, asked: Vec::new(), told }
    }

    /// A section within.
    pub(super) fn section(&mut self, key: &'static str) -> Section<'t> {
        let value = self.take(key);
        Section::of(self.key(key), value, self.told)
    }

    /// True where the key is set.
    pub(super) fn has(&self, key: &str) -> bool {
        self.table.contains_key(key)
    }

    /// Notes a fault of a value that was taken already.
    pub(super) fn complain(&self, key: &str, value: impl std::fmt::Display, allowed: impl Into<String>) {
        self.told.borrow_mut().push(Complaint::new(self.key(key), value, allowed));
    }

    /// A key that has no effect here: better refused than believed.
    pub(super) fn refuse(&mut self, key: &'static str, because: &str) {
        if let Some(value) = self.take(key) {
            let value =
                if key.contains("password") || key.contains("secret") { NOT_SHOWN.to_owned() } else { shown(&value) };
            self.complain(key, value, format!("nothing, {because}"));
        }
    }

    /// Text on one line.
    pub(super) fn text(&mut self, key: &'static str, chars: RangeInclusive<usize>) -> Option<String> {
        let allowed = format!("text of {} to {} characters on one line", chars.start(), chars.end());
        self.parse(key, allowed, |value| match &value.kind {
            ValueKind::String(text) => {
                let sound = chars.contains(&text.chars().count()) && !text.chars().any(char::is_control);
                sound.then(|| text.clone())
            }
            _ => None,
        })
    }

    /// A path. One in the file that is not absolute is meant from the file's own folder.
    pub(super) fn path(&mut self, key: &'static str, base: &std::path::Path) -> Option<PathBuf> {
        let in_file = self.table.get(key).is_some_and(|value| !is_from_environment(value));
        let path = PathBuf::from(self.text(key, 1..=1000)?);
        Some(if in_file { base.join(path) } else { path })
    }

    /// A secret of visible ASCII.
    pub(super) fn secret(&mut self, key: &'static str, chars: RangeInclusive<usize>) -> Option<Secret> {
        let value = self.take(key)?;
        let secret = secret(&value, &chars);
        if secret.is_none() {
            self.complain(key, NOT_SHOWN, from_where(&self.key(key), &value, &secret_allowed(&chars)));
        }
        secret
    }

    /// A table of texts by names that the barn gave, each by a rule of the caller's, which says what is allowed.
    pub(super) fn texts<T>(&mut self, key: &'static str, rule: impl Fn(&str) -> Result<T, String>) -> Vec<(String, T)> {
        let section = self.section(key);
        let mut table: Vec<_> = section.table.into_iter().collect();
        table.sort_by(|(a, _), (b, _)| a.cmp(b));
        let mut texts = Vec::new();
        for (name, value) in table {
            let text = shown(&value);
            match rule(&text) {
                Ok(read) => texts.push((name, read)),
                Err(allowed) => {
                    let named = format!("{key}.{name}");
                    self.complain(&named, &text, from_where(&self.key(&named), &value, &allowed));
                }
            }
        }
        texts
    }

    /// A table of secrets by names that the barn gave.
    pub(super) fn secrets(&mut self, key: &'static str, chars: RangeInclusive<usize>) -> Vec<(String, Secret)> {
        const NAME: &str = "names of 1 to 40 letters a-z, digits, - and _";
        let section = self.section(key);
        let mut table: Vec<_> = section.table.into_iter().collect();
        table.sort_by(|(a, _), (b, _)| a.cmp(b));
        let mut secrets = Vec::new();
        for (name, value) in table {
            let plain = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-' || c == '_';
            if !(1..=40).contains(&name.len()) || !name.chars().all(plain) {
                self.complain(key, &name, NAME);
            }
            match secret(&value, &chars) {
                Some(secret) => secrets.push((name, secret)),
                None => self.complain(&format!("{key}.{name}"), NOT_SHOWN, secret_allowed(&chars)),
            }
        }
        secrets
    }

    /// A whole number.
    pub(super) fn whole(&mut self, key: &'static str, range: RangeInclusive<u32>) -> Option<u32> {
        let allowed = format!("a whole number of {} to {}", range.start(), range.end());
        self.parse(key, allowed, |value| {
            let number = match &value.kind {
                ValueKind::I64(number) => u32::try_from(*number).ok(),
                ValueKind::String(text) if is_from_environment(value) => text.parse().ok(),
                _ => None,
            };
            number.filter(|number| range.contains(number))
        })
    }

    /// A number with or without decimals.
    pub(super) fn number(&mut self, key: &'static str, range: RangeInclusive<f64>) -> Option<f64> {
        let allowed = format!("a number of {} to {}", range.start(), range.end());
        self.parse(key, allowed, |value| {
            let number = match &value.kind {
                ValueKind::I64(number) => i32::try_from(*number).ok().map(f64::from),
                ValueKind::Float(number) => Some(*number),
                ValueKind::String(text) if is_from_environment(value) => text.parse().ok(),
                _ => None,
            };
            number.filter(|number| range.contains(number))
        })
    }

    /// True or false.
    pub(super) fn flag(&mut self, key: &'static str) -> Option<bool> {
        self.parse(key, "true or false".to_owned(), |value| match &value.kind {
            ValueKind::Boolean(flag) => Some(*flag),
            ValueKind::String(text) if is_from_environment(value) => text.parse().ok(),
            _ => None,
        })
    }

    /// One word of a list.
    pub(super) fn choice<T: Copy>(&mut self, key: &'static str, words: &[(&'static str, T)]) -> Option<T> {
        let names: Vec<String> = words.iter().map(|(name, _)| format!("{name:?}")).collect();
        self.parse(key, names.join(" or "), |value| match &value.kind {
            ValueKind::String(text) => words.iter().find(|(name, _)| name == text).map(|(_, word)| *word),
            _ => None,
        })
    }

    /// A time of day.
    pub(super) fn time(&mut self, key: &'static str) -> Option<TimeOfDay> {
        self.parse(key, "a time such as \"23:00\"".to_owned(), |value| match &value.kind {
            ValueKind::String(text) => {
                let (hour, minute) = text.split_once(':')?;
                let digits = |text: &str| text.bytes().all(|byte| byte.is_ascii_digit());
                let clear = (1..=2).contains(&hour.len()) && minute.len() == 2 && digits(hour) && digits(minute);
                TimeOfDay::new(hour.parse().ok()?, minute.parse().ok()?).filter(|_| clear)
            }
            _ => None,
        })
    }

    /// An address to listen on.
    pub(super) fn address(&mut self, key: &'static str) -> Option<SocketAddr> {
        let allowed = "an IP address and a port, such as \"127.0.0.1:8470\" or \"[::1]:8470\"".to_owned();
        self.parse(key, allowed, |value| match &value.kind {
            ValueKind::String(text) => text.parse().ok(),
            _ => None,
        })
    }

    /// A list of things that serde can read; each that it can not is complained of in its place.
    pub(super) fn list<T: DeserializeOwned>(&mut self, key: &'static str) -> Vec<T> {
        let list = self.parse(key, format!("a list: [[{key}]]"), |value| match &value.kind {
            ValueKind::Array(list) => Some(list.clone()),
            _ => None,
        });
        let mut read = Vec::new();
        for (at, value) in list.unwrap_or_default().into_iter().enumerate() {
            match value.clone().try_deserialize() {
                Ok(one) => read.push(one),
                Err(why) => {
                    let key = format!("{}[{at}]", self.key(key));
                    self.told.borrow_mut().push(Complaint::new(key, shown(&value), why.to_string()));
                }
            }
        }
        read
    }

    /// Text by a rule of the caller's, which says what is allowed.
    pub(super) fn judge<T>(&mut self, key: &'static str, rule: impl FnOnce(&str) -> Result<T, String>) -> Option<T> {
        let value = self.take(key)?;
        let text = shown(&value);
        rule(&text).map_err(|allowed| self.complain(key, &text, from_where(&self.key(key), &value, &allowed))).ok()
    }

    fn parse<T>(&mut self, key: &'static str, allowed: String, read: impl FnOnce(&Value) -> Option<T>) -> Option<T> {
        let value = self.take(key)?;
        let read = read(&value);
        if read.is_none() {
            self.complain(key, shown(&value), from_where(&self.key(key), &value, &allowed));
        }
        read
    }

    /// Complains of every key that nobody asked for.
    pub(super) fn finish(mut self) {
        let mut unknown: Vec<_> = std::mem::take(&mut self.table).into_iter().collect();
        unknown.sort_by(|(a, _), (b, _)| a.cmp(b));
        for (key, value) in unknown {
            let near = self.asked.iter().find(|known| strsim::osa_distance(known, &key) <= 2);
            let allowed = match near {
                Some(near) => format!("a known key; did you mean {}?", self.key(near)),
                None => format!("a known key: {}", self.asked.join(", ")),
            };
            // It may be a secret under a misspelt name.
            self.complain(&key, NOT_SHOWN, from_where(&self.key(&key), &value, &allowed));
        }
    }

    fn take(&mut self, key: &'static str) -> Option<Value> {
        self.asked.push(key);
        self.table.remove(key).filter(|value| !matches!(value.kind, ValueKind::Nil))
    }

    /// The key's whole name.
    pub(super) fn key(&self, key: &str) -> String {
        if self.path.is_empty() { key.to_owned() } else { format!("{}.{key}", self.path) }
    }
}

/// The crate says this of values from the environment, which are text whatever they mean.
fn is_from_environment(value: &Value) -> bool {
    value.origin() == Some("the environment")
}

fn from_where(key: &str, value: &Value, allowed: &str) -> String {
    if is_from_environment(value) {
        let variable = format!("{}_{}", super::ENVIRONMENT, key.replace('.', super::ENVIRONMENT_SEPARATOR));
        format!("{allowed} (set by {})", variable.to_uppercase())
    } else {
        allowed.to_owned()
    }
}

fn shown(value: &Value) -> String {
    match &value.kind {
        ValueKind::Table(_) => "a section".to_owned(),
        ValueKind::Array(_) => "a list".to_owned(),
        _ => value.clone().into_string().unwrap_or_default(),
    }
}

fn secret(value: &Value, chars: &RangeInclusive<usize>) -> Option<Secret> {
    match &value.kind {
        ValueKind::String(text) => {
            let sound = chars.contains(&text.len()) && text.bytes().all(|byte| byte.is_ascii_graphic());
            sound.then(|| Secret::new(text.as_str()))
        }
        _ => None,
    }
}

fn secret_allowed(chars: &RangeInclusive<usize>) -> String {
    format!("{} to {} visible ASCII characters, no spaces", chars.start(), chars.end())
}
