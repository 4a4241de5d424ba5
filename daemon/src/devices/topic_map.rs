//! Which rule a topic falls under, whose sensor it binds, and what a message on it means.
//!
//! A map is made by [`rules::topic_map`](super::rules::topic_map) and owned by the one task that hears messages. It
//! remembers what each topic bound, so that a known topic costs one look-up; the memory is bounded and can be thrown away
//! at any time. The first rule that fits a topic has it.

use std::collections::HashMap;

use bellmare_barn::id::{BucketId, PlaceId, ReaderId, StallId};
use bellmare_barn::input::{Input, Sensor};
use bellmare_barn::time::WallClock;

use super::homie::{Descriptions, Part, Property};
use super::payload::{self, Field, MAX_PAYLOAD, PresenceWords, Reason, TapFormat, TimeAt};
use super::scale::{Scale, Watch};
use super::senml::{self, NameRule};

/// So many topics are remembered; one more, and the memory starts anew.
const MAX_REMEMBERED: usize = 4096;

/// A longer topic is worked out each time, so that nobody fills the memory with a few.
const MAX_REMEMBERED_BYTES: usize = 256;

/// A message as it came in.
#[derive(Clone, Copy, Debug)]
pub struct Heard<'a> {
    /// On which topic.
    pub topic: &'a str,
    /// What it says.
    pub payload: &'a [u8],
    /// True where the broker kept it from before we asked: then its age is unknown.
    pub retained: bool,
    /// The clock on arrival, for times that count from now.
    pub now: WallClock,
}

/// What a message means.
#[derive(Clone, PartialEq, Debug)]
pub enum Outcome {
    /// A rule names the topic.
    Placed(Decoded),
    /// The topic is in a tree of the barn's and no rule names it: a new sensor, or a topic mistyped.
    Unplaced,
    /// The hub's own topic, or one in no tree of the barn's.
    Ignored,
}

/// What a rule made of a payload.
#[derive(Clone, PartialEq, Debug, Default)]
pub struct Decoded {
    /// What happened. Empty where a message says nothing to the barn, such as a description.
    pub inputs: Vec<Input>,
    /// Why some or all of it was not taken; the first reason, where there are several.
    pub refused: Option<Reason>,
}

impl Decoded {
    /// Nothing taken.
    pub fn refused(reason: Reason) -> Self {
        Self { inputs: Vec::new(), refused: Some(reason) }
    }

    /// One input or one reason.
    pub fn from_one(read: Result<Input, Reason>) -> Self {
        let mut decoded = Self::default();
        decoded.push(read);
        decoded
    }

    /// Adds an input, or the reason for its lack.
    pub fn push(&mut self, read: Result<Input, Reason>) {
        match read {
            Ok(input) => self.inputs.push(input),
            Err(reason) => {
                self.refused.get_or_insert(reason);
            }
        }
    }
}

/// Topics and what they mean.
#[derive(Clone, PartialEq, Debug, Default)]
pub struct TopicMap {
    rules: Vec<Rule>,
    /// Trees whose topics without a rule are shown to people.
    trees: Vec<String>,
    /// The hub's own tree.
    own: String,
    remembered: HashMap<Box<str>, Bound>,
    descriptions: Descriptions,
}

/// One rule, free of faults.
#[derive(Clone, PartialEq, Debug)]
pub struct Rule {
    /// Which topics.
    pub filter: Filter,
    /// Whose sensors.
    pub naming: Naming,
    /// What the payload says.
    pub format: Format,
}

/// How a rule's payloads are read.
#[derive(Clone, PartialEq, Debug)]
pub enum Format {
    /// A bare number.
    Number(Scale, Watch),
    /// A JSON object.
    Json(Vec<Field>, Option<TimeAt>),
    /// A SenML pack.
    Senml(Vec<NameRule>),
    /// A word for presence.
    Presence(PresenceWords),
    /// A badge at a reader.
    Tap(TapFormat),
    /// A Homie 5 device; the filter names it without what stands behind.
    Homie(Vec<Property>),
}

/// A topic by its levels.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Filter {
    /// Its levels; `None` is a `+`.
    pub levels: Vec<Option<String>>,
    /// True where further levels follow: a device's nodes.
    pub deeper: bool,
}

impl Filter {
    /// The filter as MQTT writes it.
    pub fn text(&self) -> String {
        let levels: Vec<_> = self.levels.iter().map(|level| level.as_deref().unwrap_or("+")).collect();
        levels.join("/") + if self.deeper { "/#" } else { "" }
    }

    /// The topic's levels under this filter and what stands behind them; `None` where it does not fit.
    fn split<'t>(&self, topic: &'t str) -> Option<(Vec<&'t str>, &'t str)> {
        let mut found = Vec::with_capacity(self.levels.len());
        let mut rest = Some(topic);
        for level in &self.levels {
            let (head, tail) = match rest?.split_once('/') {
                Some((head, tail)) => (head, Some(tail)),
                None => (rest?, None),
            };
            if level.as_deref().is_some_and(|level| level != head) {
                return None;
            }
            found.push(head);
            rest = tail;
        }
        match (self.deeper, rest) {
            (true, Some(tail)) => Some((found, tail)),
            (false, None) => Some((found, "")),
            _ => None,
        }
    }
}

/// Whose sensors a rule speaks of.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct Naming {
    /// Which level of the topic names what.
    pub level: Option<(usize, Bind)>,
    /// A fixed stall.
    pub stall: Option<StallId>,
    /// A fixed vessel that is not a stall's own.
    pub bucket: Option<BucketId>,
    /// A fixed place.
    pub place: Option<PlaceId>,
    /// A fixed reader.
    pub reader: Option<ReaderId>,
}

/// What a `+` names.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Bind {
    /// A stall.
    Stall,
    /// A vessel that is not a stall's own.
    Bucket,
    /// A place.
    Place,
    /// A badge reader.
    Reader,
}

/// What one topic is bound to.
#[derive(Clone, PartialEq, Debug)]
pub struct Bound {
    rule: usize,
    water: Option<Sensor>,
    climate: Option<Sensor>,
    reader: Option<ReaderId>,
    /// The device and what of it the topic is, under a Homie rule.
    homie: Option<(String, Part)>,
}

impl Bound {
    /// The sensor of that kind.
    pub fn sensor(&self, watch: Watch) -> Result<&Sensor, Reason> {
        let sensor = match watch {
            Watch::Water => &self.water,
            Watch::Climate => &self.climate,
        };
        sensor.as_ref().ok_or(Reason::NoSensor)
    }

    /// The badge reader.
    pub fn reader(&self) -> Result<&ReaderId, Reason> {
        self.reader.as_ref().ok_or(Reason::NoSensor)
    }
}

impl TopicMap {
    /// A map of rules in their order; `prefix` is the barn's own tree, and topics of `trees` that no rule names are
    /// unplaced.
    pub fn new(rules: Vec<Rule>, prefix: &str, mut trees: Vec<String>) -> Self {
        trees.push(prefix.to_owned());
        Self { rules, trees, own: format!("{prefix}/hub"), ..Self::default() }
    }

    /// Every filter to subscribe to, none within another: overlapping ones may bring a message twice.
    pub fn subscriptions(&self) -> Vec<String> {
        let rules = self.rules.iter().map(|rule| rule.filter.text());
        let trees = self.trees.iter().map(|tree| format!("{tree}/#"));
        let mut all: Vec<String> = rules.chain(trees).collect();
        all.sort();
        all.dedup();
        all.iter().filter(|one| !all.iter().any(|other| other != *one && covers(other, one))).cloned().collect()
    }

    /// What a message means.
    pub fn decode(&mut self, heard: &Heard<'_>) -> Outcome {
        if is_in(&self.own, heard.topic) {
            return Outcome::Ignored;
        }
        if !self.remembered.contains_key(heard.topic) {
            let bound = match self.bind(heard.topic) {
                Ok(Some(bound)) => bound,
                Ok(None) if self.trees.iter().any(|tree| is_in(tree, heard.topic)) => return Outcome::Unplaced,
                Ok(None) => return Outcome::Ignored,
                Err(reason) => return Outcome::Placed(Decoded::refused(reason)),
            };
            if heard.topic.len() > MAX_REMEMBERED_BYTES {
                return Outcome::Placed(read(&self.rules, &mut self.descriptions, &bound, heard));
            }
            if self.remembered.len() >= MAX_REMEMBERED {
                self.remembered.clear();
            }
            self.remembered.insert(heard.topic.into(), bound);
        }
        match self.remembered.get(heard.topic) {
            Some(bound) => Outcome::Placed(read(&self.rules, &mut self.descriptions, bound, heard)),
            None => Outcome::Ignored,
        }
    }

    fn bind(&self, topic: &str) -> Result<Option<Bound>, Reason> {
        let fits = |(at, rule): (usize, &Rule)| rule.filter.split(topic).map(|levels| (at, levels));
        let Some((at, (levels, tail))) = self.rules.iter().enumerate().find_map(fits) else { return Ok(None) };
        let rule = &self.rules[at];
        let naming = &rule.naming;
        let mut bound = Bound {
            rule: at,
            water: naming.stall.clone().map(Sensor::Water).or_else(|| naming.bucket.clone().map(Sensor::Bucket)),
            climate: naming.place.clone().map(Sensor::Climate),
            reader: naming.reader.clone(),
            homie: None,
        };
        if let Some((level, bind)) = naming.level {
            let name = payload::name(levels.get(level).copied().unwrap_or_default())?;
            match bind {
                Bind::Stall => bound.water = Some(Sensor::Water(StallId::from(name))),
                Bind::Bucket => bound.water = Some(Sensor::Bucket(BucketId::from(name))),
                Bind::Place => bound.climate = Some(Sensor::Climate(PlaceId::from(name))),
                Bind::Reader => bound.reader = Some(ReaderId::from(name)),
            }
        }
        if let Format::Homie(properties) = &rule.format {
            let device = payload::name(levels.last().copied().unwrap_or_default())?;
            bound.homie = Some((device.to_owned(), Part::of(tail, properties)));
        }
        Ok(Some(bound))
    }
}

fn read(rules: &[Rule], descriptions: &mut Descriptions, bound: &Bound, heard: &Heard<'_>) -> Decoded {
    let Heard { payload, retained, now, .. } = *heard;
    if payload.len() > MAX_PAYLOAD {
        return Decoded::refused(Reason::TooBig(payload.len()));
    }
    match &rules[bound.rule].format {
        Format::Number(scale, of) => payload::number_message(*scale, *of, bound, payload, retained),
        Format::Json(fields, time) => payload::json_message(fields, time.as_ref(), bound, payload, retained),
        Format::Senml(names) => senml::message(names, bound, payload, retained, now),
        Format::Presence(words) => payload::presence_message(words, bound, payload),
        Format::Tap(format) => payload::tap_message(format, bound, payload, retained),
        Format::Homie(properties) => match &bound.homie {
            Some((device, part)) => descriptions.message((device, *part), properties, bound, payload, retained),
            None => Decoded::default(),
        },
    }
}

/// True where the topic is the tree's root or below.
pub(super) fn is_in(tree: &str, topic: &str) -> bool {
    topic.strip_prefix(tree).is_some_and(|rest| rest.is_empty() || rest.starts_with('/'))
}

/// True where every topic of filter `inner` is one of `outer`.
pub(super) fn covers(outer: &str, inner: &str) -> bool {
    let (mut outer, mut inner) = (outer.split('/'), inner.split('/'));
    loop {
        match (outer.next(), inner.next()) {
            (None, None) | (Some("#"), _) => return true,
            (Some("+"), Some(level)) if level != "#" => {}
            (Some(ours), Some(level)) if ours == level => {}
            _ => return false,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_filter_within_another_is_not_asked_for() {
        for (outer, inner, want) in [
            ("barn/#", "barn/stall/+/water", true),
            ("barn/#", "barn", true),
            ("barn/#", "barn/#", true),
            ("barn/+", "barn/3", true),
            ("barn/+", "barn/#", false),
            ("barn/+/water", "barn/3/battery", false),
            ("barn/stall", "barn/stall/3", false),
            ("bar/#", "barn/stall", false),
            ("barn/stall/+", "barn/#", false),
        ] {
            assert_eq!(covers(outer, inner), want, "{outer} over {inner}");
        }
    }

    #[test]
    fn filters_split_topics() {
        let levels = |levels: &[&str], deeper| Filter {
            levels: levels.iter().map(|level| (*level != "+").then(|| (*level).to_owned())).collect(),
            deeper,
        };
        let water = levels(&["barn", "stall", "+", "water"], false);
        assert_eq!(water.text(), "barn/stall/+/water");
        let device = levels(&["homie", "5", "+"], true);
        assert_eq!(device.text(), "homie/5/+/#");
        for (filter, topic, want) in [
            (&water, "barn/stall/3/water", Some((vec!["barn", "stall", "3", "water"], ""))),
            (&water, "barn/stall//water", Some((vec!["barn", "stall", "", "water"], ""))),
            (&water, "barn/stall/3/water/x", None),
            (&water, "barn/stall/3", None),
            (&water, "", None),
            (&device, "homie/5/s3/$state", Some((vec!["homie", "5", "s3"], "$state"))),
            (&device, "homie/5/s3/a/b", Some((vec!["homie", "5", "s3"], "a/b"))),
            (&device, "homie/5/s3", None),
            (&device, "homie/4/s3/a", None),
        ] {
            assert_eq!(filter.split(topic), want, "{topic}");
        }
    }
}
