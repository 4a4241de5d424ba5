//! What the settings say about topics, read loosely and checked strictly: every fault of every rule is named at once.
//!
//! ```toml
//! [[topics]]
//! topic = "barn/stall/+/water"    # a `+` stands for one level of the topic
//! binds = "stall"                 # and this says what it names: stall, bucket, place or reader
//! format = "number"
//! quantity = "level"
//! unit = "mm"
//! ```
//! Where there are several `+`, `plus = 2` says which of them names it; the others stand for anything. `stall = "3"`,
//! `bucket = "north trough"`, `place = "aisle"` and `reader = "door"` name a fixed one. `of = "water"` or `"climate"` says whose battery, signal or
//! presence it is, where the rule binds both.

use std::collections::BTreeMap;

use bellmare_barn::id::{BucketId, PlaceId, ReaderId, StallId};
use serde::{Deserialize, Serialize};

use super::homie::Property;
use super::payload::{self, Field, MAX_NAME, PresenceWords, TapFormat, TimeAt, TimeUnit};
use super::scale::{Quantity, Scale, Watch};
use super::senml::NameRule;
use super::topic_map::{self, Bind, Filter, Format, Naming, Rule, TopicMap};
use crate::complaint::Complaint;

/// One `[[topics]]`, as written.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct TopicRule {
    /// The topic, with `+` for any one level. For Homie: the device, `homie/5/<device>`.
    pub topic: String,
    /// `number`, `json`, `senml`, `presence`, `tap` or `homie`.
    pub format: String,
    /// What a `+` names: `stall`, `bucket`, `place` or `reader`.
    pub binds: Option<String>,
    /// Which `+` names it, from 1, where there are several.
    pub plus: Option<usize>,
    /// A fixed stall.
    pub stall: Option<String>,
    /// A fixed vessel that is not a stall's own.
    pub bucket: Option<String>,
    /// A fixed place.
    pub place: Option<String>,
    /// A fixed badge reader.
    pub reader: Option<String>,
    /// Number: what it measures.
    pub quantity: Option<String>,
    /// Number: in which unit.
    pub unit: Option<String>,
    /// Whose battery, signal or presence: `water` or `climate`.
    pub of: Option<String>,
    /// JSON: the numbers in it.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub fields: Vec<FieldRule>,
    /// JSON and JSON taps: when it was.
    pub time: Option<TimeRule>,
    /// SenML: names and what they measure.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    pub names: BTreeMap<String, String>,
    /// Homie: properties and what they measure.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub properties: Vec<PropertyRule>,
    /// Presence: the word for there; `online` unless told.
    pub online: Option<String>,
    /// Presence: the word for not there; `offline` unless told.
    pub offline: Option<String>,
    /// Presence in JSON: pointer to the word.
    pub pointer: Option<String>,
    /// Tap in JSON: pointer to the badge.
    pub badge: Option<String>,
}

/// One number in a JSON payload, as written.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FieldRule {
    /// JSON Pointer, RFC 6901.
    pub pointer: String,
    /// What it measures.
    pub quantity: String,
    /// In which unit.
    pub unit: String,
    /// Whose battery or signal.
    pub of: Option<String>,
}

/// A time in a JSON payload, as written.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TimeRule {
    /// JSON Pointer, RFC 6901.
    pub pointer: String,
    /// `s` or `ms` since 1970, or `rfc3339`.
    pub unit: String,
}

/// One property of a Homie device, as written.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PropertyRule {
    /// `node/property`.
    pub property: String,
    /// What it measures.
    pub quantity: String,
    /// In which unit, where the device's own word is not to be taken.
    pub unit: Option<String>,
    /// Whose battery or signal.
    pub of: Option<String>,
}

/// Makes a map of the rules. `prefix` is the barn's own tree of topics; topics of `watch` that no rule names are shown to
/// people too. Each fault is pushed to `complaints`; the map is whole only where none was.
pub fn topic_map(prefix: &str, watch: &[String], topics: &[TopicRule], complaints: &mut Vec<Complaint>) -> TopicMap {
    for (key, tree) in std::iter::once(("mqtt.prefix".to_owned(), prefix))
        .chain(watch.iter().enumerate().map(|(at, tree)| (format!("mqtt.watch[{at}]"), tree.as_str())))
    {
        if !is_plain_topic(tree) {
            complaints.push(Complaint::new(key, tree, "levels of a topic, without + or #, like barn or homie/5"));
        }
    }
    let own = format!("{prefix}/hub");
    let mut rules = Vec::with_capacity(topics.len());
    let mut filters: Vec<(usize, String)> = Vec::with_capacity(topics.len());
    for (at, written) in topics.iter().enumerate() {
        let mut faults = Faults { key: format!("topics[{at}]"), complaints };
        if topic_map::is_in(&own, &written.topic) {
            faults.add("topic", &written.topic, format!("a topic outside of {own}, which is the hub's own"));
        }
        let Some(filter) = filter(written, &mut faults) else { continue };
        // The first rule that fits a topic has it, so this one would never be asked.
        let text = filter.text();
        if let Some((other, _)) = filters.iter().find(|(_, other)| topic_map::covers(other, &text)) {
            let allowed = format!("one that topics[{other}] does not have already; or put this rule before it");
            faults.add("topic", &written.topic, allowed);
        }
        filters.push((at, text));
        rules.extend(rule(written, filter, &mut faults));
    }
    TopicMap::new(rules, prefix, watch.to_vec())
}

/// Where faults of one rule are gathered.
struct Faults<'c> {
    key: String,
    complaints: &'c mut Vec<Complaint>,
}

impl Faults<'_> {
    fn add(&mut self, key: &str, value: &str, allowed: impl Into<String>) {
        self.complaints.push(Complaint::new(format!("{}.{key}", self.key), value, allowed));
    }

    /// The value, or a fault where there is none.
    fn want<T>(&mut self, key: &str, value: &str, found: Option<T>, allowed: impl Into<String>) -> Option<T> {
        if found.is_none() {
            self.add(key, value, allowed);
        }
        found
    }
}

fn rule(written: &TopicRule, filter: Filter, faults: &mut Faults<'_>) -> Option<Rule> {
    unused_keys(written, faults);
    let naming = naming(written, &filter, faults)?;
    let format = format(written, &naming, faults)?;
    Some(Rule { filter, naming, format })
}

fn filter(written: &TopicRule, faults: &mut Faults<'_>) -> Option<Filter> {
    let is_level = |level: &str| level == "+" || is_plain_topic(level);
    let topic = &written.topic;
    let homie = written.format == "homie";
    let levels: Vec<&str> = topic.split('/').collect();
    if !levels.iter().all(|level| is_level(level)) {
        faults.add("topic", topic, "levels parted by /, each a name or a + alone, and no #");
        return None;
    }
    if homie && (levels.len() < 3 || levels[levels.len() - 2] != "5") {
        faults.add("topic", topic, "a Homie 5 device: <domain>/5/<device>, like homie/5/stall-3 or homie/5/+");
        return None;
    }
    let levels = levels.into_iter().map(|level| (level != "+").then(|| level.to_owned())).collect();
    Some(Filter { levels, deeper: homie })
}

fn naming(written: &TopicRule, filter: &Filter, faults: &mut Faults<'_>) -> Option<Naming> {
    let fixed = [
        ("stall", &written.stall),
        ("bucket", &written.bucket),
        ("place", &written.place),
        ("reader", &written.reader),
    ];
    for (key, name) in fixed {
        if let Some(name) = name {
            faults.want(key, name, payload::name(name).ok(), format!("a name of 1 to {MAX_NAME} characters"));
        }
    }
    let pluses: Vec<usize> =
        filter.levels.iter().enumerate().filter(|(_, level)| level.is_none()).map(|(at, _)| at).collect();
    let level = match written.binds.as_deref() {
        None if written.plus.is_some() => {
            faults.add("binds", "", "stall, bucket, place or reader, since plus is given");
            return None;
        }
        None => None,
        Some(word) => {
            let bind = match word {
                "stall" => Some(Bind::Stall),
                "bucket" => Some(Bind::Bucket),
                "place" => Some(Bind::Place),
                "reader" => Some(Bind::Reader),
                _ => None,
            };
            let bind = faults.want("binds", word, bind, "stall, bucket, place or reader")?;
            let fixed = match bind {
                Bind::Stall => &written.stall,
                Bind::Bucket => &written.bucket,
                Bind::Place => &written.place,
                Bind::Reader => &written.reader,
            };
            if fixed.is_some() {
                faults.add("binds", word, format!("the + or the fixed {word}, not both"));
                return None;
            }
            let at = match (written.plus, pluses.len()) {
                (None, 1) => Some(0),
                (Some(plus), many) if (1..=many).contains(&plus) => Some(plus - 1),
                (plus, many) => {
                    let value = plus.map(|plus| plus.to_string()).unwrap_or_default();
                    let allowed = match many {
                        0 => "left out together with binds: the topic has no +".to_owned(),
                        1 => "1, or left out: the topic has one +".to_owned(),
                        many => format!("which of the topic's {many} + names the {word}: 1 to {many}"),
                    };
                    faults.add("plus", &value, allowed);
                    return None;
                }
            }?;
            Some((pluses[at], bind))
        }
    };
    Some(Naming {
        level,
        stall: written.stall.as_deref().map(|name| StallId::from(name.trim())),
        bucket: written.bucket.as_deref().map(|name| BucketId::from(name.trim())),
        place: written.place.as_deref().map(|name| PlaceId::from(name.trim())),
        reader: written.reader.as_deref().map(|name| ReaderId::from(name.trim())),
    })
}

/// Keys that the format gives no meaning are faults: whoever wrote them expects something of them.
fn unused_keys(written: &TopicRule, faults: &mut Faults<'_>) {
    let keys: [(&str, bool, &[&str]); 11] = [
        ("quantity", written.quantity.is_some(), &["number"]),
        ("unit", written.unit.is_some(), &["number"]),
        ("of", written.of.is_some(), &["number", "senml", "presence"]),
        ("fields", !written.fields.is_empty(), &["json"]),
        ("time", written.time.is_some(), &["json", "tap"]),
        ("names", !written.names.is_empty(), &["senml"]),
        ("properties", !written.properties.is_empty(), &["homie"]),
        ("online", written.online.is_some(), &["presence"]),
        ("offline", written.offline.is_some(), &["presence"]),
        ("pointer", written.pointer.is_some(), &["presence"]),
        ("badge", written.badge.is_some(), &["tap"]),
    ];
    for (key, given, formats) in keys {
        if given && !formats.contains(&written.format.as_str()) {
            faults.add(key, "given", format!("only where format is {}", formats.join(" or ")));
        }
    }
}

fn format(written: &TopicRule, naming: &Naming, faults: &mut Faults<'_>) -> Option<Format> {
    match written.format.as_str() {
        "number" => number(written, naming, faults),
        "json" => json(written, naming, faults),
        "senml" => senml(written, naming, faults),
        "presence" => presence(written, naming, faults),
        "tap" => tap(written, naming, faults),
        "homie" => homie(written, naming, faults),
        other => {
            faults.add("format", other, "number, json, senml, presence, tap or homie");
            None
        }
    }
}

fn number(written: &TopicRule, naming: &Naming, faults: &mut Faults<'_>) -> Option<Format> {
    let word = written.quantity.as_deref().unwrap_or_default();
    let quantity = faults.want("quantity", word, Quantity::parse(word), Quantity::WORDS)?;
    let scale = scale("unit", quantity, written.unit.as_deref().unwrap_or_default(), faults);
    let of = watch("of", Some(quantity), written.of.as_deref(), naming, faults);
    Some(Format::Number(scale?, of?))
}

fn json(written: &TopicRule, naming: &Naming, faults: &mut Faults<'_>) -> Option<Format> {
    if written.fields.is_empty() {
        faults.add("fields", "", "one field or more: { pointer = \"/t\", quantity = \"temperature\", unit = \"C\" }");
        return None;
    }
    let mut fields = Vec::new();
    for (at, field) in written.fields.iter().enumerate() {
        pointer(&format!("fields[{at}].pointer"), &field.pointer, faults);
        let key = format!("fields[{at}].quantity");
        let quantity = faults.want(&key, &field.quantity, Quantity::parse(&field.quantity), Quantity::WORDS);
        let Some(quantity) = quantity else { continue };
        let scale = scale(&format!("fields[{at}].unit"), quantity, &field.unit, faults);
        let of = watch(&format!("fields[{at}].of"), Some(quantity), field.of.as_deref(), naming, faults);
        if let (Some(scale), Some(of)) = (scale, of) {
            fields.push(Field { pointer: field.pointer.clone(), scale, of });
        }
    }
    Some(Format::Json(fields, time(written, faults)))
}

fn senml(written: &TopicRule, naming: &Naming, faults: &mut Faults<'_>) -> Option<Format> {
    if written.names.is_empty() {
        faults.add("names", "", "one name or more: { level = \"level\", temp = \"temperature\" }");
        return None;
    }
    let mut names = Vec::new();
    for (name, word) in &written.names {
        let key = format!("names.{name}");
        let Some(quantity) = faults.want(&key, word, Quantity::parse(word), Quantity::WORDS) else { continue };
        // What can only be one kind's is that kind's, whatever `of` says of the batteries beside it.
        let of = quantity.natural_watch().is_none().then_some(written.of.as_deref()).flatten();
        if let Some(of) = watch("of", Some(quantity), of, naming, faults) {
            names.push(NameRule { name: name.clone(), quantity, of });
        }
    }
    Some(Format::Senml(names))
}

fn presence(written: &TopicRule, naming: &Naming, faults: &mut Faults<'_>) -> Option<Format> {
    let online = written.online.as_deref().unwrap_or("online").trim();
    let offline = written.offline.as_deref().unwrap_or("offline").trim();
    if online.is_empty() || offline.is_empty() || online == offline {
        faults.add("offline", offline, "a word, and another one than online");
    }
    if let Some(at) = &written.pointer {
        pointer("pointer", at, faults);
    }
    let of = watch("of", None, written.of.as_deref(), naming, faults)?;
    let (online, offline) = (online.to_owned(), offline.to_owned());
    Some(Format::Presence(PresenceWords { online, offline, pointer: written.pointer.clone(), of }))
}

fn tap(written: &TopicRule, naming: &Naming, faults: &mut Faults<'_>) -> Option<Format> {
    if naming.reader.is_none() && !matches!(naming.level, Some((_, Bind::Reader))) {
        faults.add("binds", written.binds.as_deref().unwrap_or_default(), bound_by("reader"));
    }
    match &written.badge {
        Some(at) => pointer("badge", at, faults),
        None if written.time.is_some() => faults.add("badge", "", "a JSON Pointer to the badge, since time has one"),
        None => {}
    }
    Some(Format::Tap(TapFormat { badge: written.badge.clone(), time: time(written, faults) }))
}

fn homie(written: &TopicRule, naming: &Naming, faults: &mut Faults<'_>) -> Option<Format> {
    if written.properties.is_empty() {
        faults.add("properties", "", "one or more: { property = \"sensor/level\", quantity = \"level\" }");
        return None;
    }
    let mut properties = Vec::new();
    for (at, property) in written.properties.iter().enumerate() {
        let parts: Vec<_> = property.property.split('/').collect();
        if parts.len() != 2 || !parts.iter().all(|part| is_plain_topic(part)) {
            faults.add(&format!("properties[{at}].property"), &property.property, "node/property");
        }
        let key = format!("properties[{at}].quantity");
        let quantity = faults.want(&key, &property.quantity, Quantity::parse(&property.quantity), Quantity::WORDS);
        let Some(quantity) = quantity else { continue };
        let unit = format!("properties[{at}].unit");
        let scale = property.unit.as_deref().and_then(|word| scale(&unit, quantity, word, faults));
        let of = watch(&format!("properties[{at}].of"), Some(quantity), property.of.as_deref(), naming, faults);
        if let Some(of) = of {
            properties.push(Property { path: property.property.clone(), quantity, scale, of });
        }
    }
    Some(Format::Homie(properties))
}

fn scale(key: &str, quantity: Quantity, unit: &str, faults: &mut Faults<'_>) -> Option<Scale> {
    let allowed = format!("for {}: {}", quantity.word(), quantity.units());
    faults.want(key, unit, Scale::of_settings(quantity, unit), allowed)
}

/// Whose sensor is meant: the quantity's own kind, the one that is named, or the only one that the rule binds.
fn watch(
    key: &str,
    quantity: Option<Quantity>,
    of: Option<&str>,
    naming: &Naming,
    faults: &mut Faults<'_>,
) -> Option<Watch> {
    let named = match of {
        Some(word) => Some(faults.want(key, word, Watch::parse(word), "water or climate")?),
        None => None,
    };
    let water = naming.stall.is_some()
        || naming.bucket.is_some()
        || matches!(naming.level, Some((_, Bind::Stall | Bind::Bucket)));
    let climate = naming.place.is_some() || matches!(naming.level, Some((_, Bind::Place)));
    let natural = quantity.and_then(Quantity::natural_watch);
    if let (Some(quantity), Some(natural), Some(named)) = (quantity, natural, named)
        && natural != named
    {
        faults.add(key, of.unwrap_or_default(), format!("left out: {} can only be of one kind", quantity.word()));
        return None;
    }
    match natural.or(named) {
        Some(Watch::Water) if !water => faults.add("binds", "", bound_by("stall")),
        Some(Watch::Climate) if !climate => faults.add("binds", "", bound_by("place")),
        Some(watch) => return Some(watch),
        None => match (water, climate) {
            (true, false) => return Some(Watch::Water),
            (false, true) => return Some(Watch::Climate),
            (true, true) => faults.add(key, "", "water or climate, since the rule binds a stall and a place"),
            (false, false) => faults.add("binds", "", "stall or place, or a fixed stall or place"),
        },
    }
    None
}

fn bound_by(kind: &str) -> String {
    format!("{kind}, with a + in the topic; or a fixed one: {kind} = \"...\"")
}

fn time(written: &TopicRule, faults: &mut Faults<'_>) -> Option<TimeAt> {
    let time = written.time.as_ref()?;
    pointer("time.pointer", &time.pointer, faults);
    let unit = match time.unit.as_str() {
        "s" => Some(TimeUnit::Seconds),
        "ms" => Some(TimeUnit::Millis),
        "rfc3339" => Some(TimeUnit::Rfc3339),
        _ => None,
    };
    let unit = faults.want("time.unit", &time.unit, unit, "s or ms since 1970, or rfc3339")?;
    Some(TimeAt { pointer: time.pointer.clone(), unit })
}

/// RFC 6901 section 3: nothing, or parts that each begin with `/`, and `~` only before 0 or 1.
fn pointer(key: &str, text: &str, faults: &mut Faults<'_>) {
    let escapes = text.split('~').skip(1).all(|rest| rest.starts_with(['0', '1']));
    if !(text.is_empty() || text.starts_with('/')) || !escapes {
        faults.add(key, text, "a JSON Pointer (RFC 6901): empty, or like /batt/pct; ~0 stands for ~ and ~1 for /");
    }
}

fn is_plain_topic(text: &str) -> bool {
    text.split('/').all(|level| !level.is_empty())
        && !text.starts_with('$')
        && text.len() <= 200
        && !text.chars().any(|c| c == '+' || c == '#' || c.is_control())
}
