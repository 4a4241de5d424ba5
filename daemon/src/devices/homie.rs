//! Homie 5 devices as they are: `<domain>/5/<device>/<node>/<property>`, with `$state` and `$description` beside the
//! nodes.
//!
//! The settings say which property of a device measures what, and the device itself says in which unit, unless the
//! settings do. A device's `$state` is the presence of the sensors its properties feed: `ready` and `sleeping` are
//! there (a sleeper said that it will be back, and its silence is judged by its own cadence), `disconnected` and `lost`
//! are not, and neither is a device that took its state back; `init` says nothing yet.

use std::collections::HashMap;

use bellmare_barn::input::{Input, Presence, Reading};

use super::payload::{self, Reason};
use super::scale::{Quantity, Scale, Watch};
use super::topic_map::{Bound, Decoded};

/// At most so many devices' descriptions are kept; a rule with `+` would otherwise let anybody fill the memory.
const MAX_DEVICES: usize = 1024;

/// One property that the settings name.
#[derive(Clone, PartialEq, Debug)]
pub struct Property {
    /// `node/property`.
    pub path: String,
    /// What it measures.
    pub quantity: Quantity,
    /// In which unit by the settings, where they say it.
    pub scale: Option<Scale>,
    /// Whose sensor's.
    pub of: Watch,
}

/// What stands behind the device's name in a topic.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Part {
    /// `$state`.
    State,
    /// `$description`.
    Description,
    /// A property that the rule names, by its place in the rule.
    Property(usize),
    /// Anything else of a device's: another property, a `/set`, a `$target`, a log.
    Aside,
}

impl Part {
    /// By the topic behind the device's name, without the slash.
    pub fn of(tail: &str, properties: &[Property]) -> Self {
        match tail {
            "$state" => Self::State,
            "$description" => Self::Description,
            path => properties.iter().position(|property| property.path == path).map_or(Self::Aside, Self::Property),
        }
    }
}

/// What the devices said of the properties that the rules name.
#[derive(Clone, PartialEq, Debug, Default)]
pub struct Descriptions {
    /// Per device, in the order of its rule's properties.
    heard: HashMap<String, Vec<Declared>>,
}

/// What a description says of one property.
#[derive(Clone, PartialEq, Debug, Default)]
struct Declared {
    datatype: Option<String>,
    unit: Option<String>,
}

impl Descriptions {
    /// One message of a device.
    pub fn message(
        &mut self,
        (device, part): (&str, Part),
        properties: &[Property],
        bound: &Bound,
        payload: &[u8],
        retained: bool,
    ) -> Decoded {
        match part {
            Part::Aside => Decoded::default(),
            Part::State => state(properties, bound, payload),
            Part::Description => match self.describe(device, properties, payload) {
                Ok(()) => Decoded::default(),
                Err(reason) => Decoded::refused(reason),
            },
            Part::Property(at) => {
                let Some(property) = properties.get(at) else { return Decoded::default() };
                let declared = self.heard.get(device).and_then(|heard| heard.get(at));
                Decoded::from_one(
                    value(property, declared, bound, payload).and_then(|reading| payload::fresh(reading, retained)),
                )
            }
        }
    }

    fn describe(&mut self, device: &str, properties: &[Property], payload: &[u8]) -> Result<(), Reason> {
        if payload.is_empty() {
            self.heard.remove(device);
            return Ok(());
        }
        let description = payload::json(payload)?;
        let declared = properties
            .iter()
            .map(|property| {
                let (node, name) = property.path.split_once('/').unwrap_or_default();
                let found = &description["nodes"][node]["properties"][name];
                let text = |key: &str| found[key].as_str().map(str::to_owned);
                Declared { datatype: text("datatype"), unit: text("unit") }
            })
            .collect();
        if self.heard.len() >= MAX_DEVICES && !self.heard.contains_key(device) {
            self.heard.clear();
        }
        self.heard.insert(device.to_owned(), declared);
        Ok(())
    }
}

fn state(properties: &[Property], bound: &Bound, payload: &[u8]) -> Decoded {
    let online = match payload {
        b"ready" | b"sleeping" => true,
        b"disconnected" | b"lost" | b"" => false,
        b"init" => return Decoded::default(),
        other => return Decoded::refused(Reason::NoState(payload::excerpt(other))),
    };
    let mut decoded = Decoded::default();
    for watch in [Watch::Water, Watch::Climate] {
        if properties.iter().any(|property| property.of == watch) {
            decoded
                .push(bound.sensor(watch).map(|sensor| Input::Presence(Presence { sensor: sensor.clone(), online })));
        }
    }
    decoded
}

fn value(property: &Property, declared: Option<&Declared>, bound: &Bound, payload: &[u8]) -> Result<Reading, Reason> {
    if let Some(datatype) = declared.and_then(|declared| declared.datatype.as_deref())
        && !matches!(datatype, "integer" | "float")
    {
        return Err(Reason::WrongKind {
            at: property.path.clone(),
            wanted: "a property of datatype integer or float",
            found: "another datatype in its $description",
        });
    }
    let scale = match (property.scale, declared) {
        (Some(scale), _) => scale,
        (None, None) => return Err(Reason::NotDescribed(property.path.clone())),
        (None, Some(declared)) => {
            let unit = declared.unit.as_deref().unwrap_or_default();
            Scale::of_homie(property.quantity, unit).ok_or_else(|| Reason::Unit {
                name: property.path.clone(),
                unit: payload::excerpt(unit.as_bytes()),
                quantity: property.quantity.word(),
            })?
        }
    };
    let number = payload::number(payload::text(payload)?)?;
    Ok(Reading { sensor: bound.sensor(property.of)?.clone(), measured: scale.measured(number), own_time: None })
}
