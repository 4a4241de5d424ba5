//! What is sent, as an alert of OASIS Common Alerting Protocol 1.2. An alarm's first message is the alert of that alarm; later
//! ones update or cancel it and refer to it. Times are the barn's own with their distance from UTC, as the standard wants.

use bellmare_barn::board::{AlarmWhat, Priority};
use bellmare_barn::tell::message::{About, Told};
use bellmare_barn::time::{Now, Zone};
use quick_xml::Writer;
use quick_xml::events::{BytesDecl, BytesText, Event};

use super::letter::{Letter, thread};
use super::queue::{Parcel, Sum};
use super::words::{Text, capital, headline, since, words};

const NAMESPACE: &str = "urn:oasis:names:tc:emergency:cap:1.2";
/// Where the alert is written.
type Xml = Writer<Vec<u8>>;

/// The alert as XML.
///
/// # Errors
/// Only where writing to memory fails.
pub(super) fn alert(parcel: &Parcel, barn: &str, zone: Zone) -> std::io::Result<String> {
    let page = Page { text: words(parcel, barn), sender: sender(barn), barn: barn.to_owned(), zone };
    let mut xml = Writer::new(Vec::new());
    xml.write_event(Event::Decl(BytesDecl::new("1.0", Some("UTF-8"), None)))?;
    xml.create_element("alert").with_attribute(("xmlns", NAMESPACE)).write_inner_content(|xml| match parcel {
        Parcel::One(letter) => page.one(xml, letter),
        Parcel::Sum(sum) => page.summed(xml, sum),
    })?;
    Ok(String::from_utf8_lossy(&xml.into_inner()).into_owned())
}

struct Page {
    text: Text,
    sender: String,
    barn: String,
    zone: Zone,
}

impl Page {
    fn one(&self, xml: &mut Xml, letter: &Letter) -> std::io::Result<()> {
        let message = &letter.message;
        let first = match (&message.about, message.alarms.as_slice()) {
            (About::Raised, [one]) => Some(one),
            _ => None,
        };
        let kind = match &message.about {
            About::Raised | About::Many { .. } | About::Digest(_) | About::Test => "Alert",
            About::Ended => "Cancel",
            _ => "Update",
        };
        let status = match &message.about {
            About::Test => "Test",
            About::Digest(_) => "System",
            _ => "Actual",
        };
        match first {
            Some(told) => self.head(xml, &letter.thread(told.alarm.id), told.alarm.raised, status, kind)?,
            None => self.head(xml, &letter.id, message.made, status, kind)?,
        }
        let alarms: Vec<&Told> = message.alarms.iter().collect();
        self.tail(xml, &letter.journal, &alarms, kind != "Alert")?;
        for told in &alarms {
            self.info(xml, told, told.over || message.about == About::Ended)?;
        }
        if alarms.is_empty() { self.plain_info(xml) } else { Ok(()) }
    }

    /// What was held up is told in one alert, as text.
    fn summed(&self, xml: &mut Xml, sum: &Sum) -> std::io::Result<()> {
        let made = sum.letters.last().map(|letter| letter.message.made);
        self.head(xml, &sum.id, made.unwrap_or(UNKNOWN), "Actual", "Update")?;
        let journal = sum.letters.first().map_or("", |letter| letter.journal.as_str());
        let alarms: Vec<&Told> = sum.letters.iter().flat_map(|letter| &letter.message.alarms).collect();
        self.tail(xml, journal, &alarms, true)?;
        self.plain_info(xml)
    }

    fn head(&self, xml: &mut Xml, id: &str, sent: Now, status: &str, kind: &str) -> std::io::Result<()> {
        text(xml, "identifier", id)?;
        text(xml, "sender", &self.sender)?;
        text(xml, "sent", &time(sent, self.zone))?;
        text(xml, "status", status)?;
        text(xml, "msgType", kind)?;
        text(xml, "scope", "Restricted")?;
        text(xml, "restriction", "For the people of the barn")
    }

    /// Which alerts it follows, and which alarms it is about.
    fn tail(&self, xml: &mut Xml, journal: &str, alarms: &[&Told], follows: bool) -> std::io::Result<()> {
        let mut known: Vec<(String, String)> = Vec::new();
        for told in alarms {
            let name = thread(journal, told.alarm.id);
            let reference = format!("{},{name},{}", self.sender, time(told.alarm.raised, self.zone));
            if !known.iter().any(|(other, _)| *other == name) {
                known.push((name, reference));
            }
        }
        if follows && !known.is_empty() {
            text(xml, "references", &known.iter().map(|(_, one)| one.as_str()).collect::<Vec<_>>().join(" "))?;
        }
        if !known.is_empty() {
            text(xml, "incidents", &known.iter().map(|(name, _)| name.as_str()).collect::<Vec<_>>().join(" "))?;
        }
        Ok(())
    }

    fn info(&self, xml: &mut Xml, told: &Told, over: bool) -> std::io::Result<()> {
        let (urgency, severity) = match told.alarm.priority {
            _ if over => ("Past", "Minor"),
            Priority::High => ("Immediate", "Severe"),
            Priority::Medium => ("Expected", "Moderate"),
            Priority::Low => ("Future", "Minor"),
        };
        xml.create_element("info").write_inner_content(|xml| {
            text(xml, "language", "en-US")?;
            text(xml, "category", category(&told.alarm.what))?;
            text(xml, "event", &told.what)?;
            text(xml, "responseType", if over { "AllClear" } else { "Assess" })?;
            text(xml, "urgency", urgency)?;
            text(xml, "severity", severity)?;
            text(xml, "certainty", certainty(&told.alarm.what))?;
            text(xml, "senderName", &self.barn)?;
            text(xml, "headline", &capital(&headline(told)))?;
            text(xml, "description", &description(told, over))?;
            if !told.to_do.is_empty() && !over {
                text(xml, "instruction", &told.to_do)?;
            }
            xml.create_element("parameter").write_inner_content(|xml| {
                text(xml, "valueName", "alarm")?;
                text(xml, "value", &told.alarm.id.to_string())
            })?;
            self.area(xml, &told.place)
        })?;
        Ok(())
    }

    fn plain_info(&self, xml: &mut Xml) -> std::io::Result<()> {
        xml.create_element("info").write_inner_content(|xml| {
            text(xml, "language", "en-US")?;
            text(xml, "category", "Other")?;
            text(xml, "event", "News of the barn")?;
            text(xml, "urgency", "Unknown")?;
            text(xml, "severity", "Unknown")?;
            text(xml, "certainty", "Observed")?;
            text(xml, "senderName", &self.barn)?;
            text(xml, "headline", &self.text.subject)?;
            text(xml, "description", &self.text.body)?;
            self.area(xml, "")
        })?;
        Ok(())
    }

    fn area(&self, xml: &mut Xml, place: &str) -> std::io::Result<()> {
        let place = if place.is_empty() { self.barn.clone() } else { format!("{}, {place}", self.barn) };
        xml.create_element("area").write_inner_content(|xml| text(xml, "areaDesc", &place))?;
        Ok(())
    }
}

const UNKNOWN: Now = Now { mono: bellmare_barn::time::Mono(0), wall: bellmare_barn::time::WallClock::Unset };

fn text(xml: &mut Xml, name: &str, words: &str) -> std::io::Result<()> {
    // Some control characters can not stand in XML at all.
    let sound: String = words.chars().filter(|c| !c.is_control() || matches!(c, '\n' | '\t')).collect();
    xml.create_element(name).write_text_content(BytesText::new(&sound)).map(drop)
}

fn description(told: &Told, over: bool) -> String {
    let mut lines = Vec::new();
    if let Some(since) = since(told) {
        lines.push(format!("Since {since}."));
    }
    if over {
        lines.push("It is over.".to_owned());
    }
    if !told.told.is_empty() {
        let names: Vec<&str> = told.told.iter().map(|who| who.name.as_str()).collect();
        lines.push(format!("Told before: {}.", names.join(", ")));
    }
    if let Some(by) = &told.taken_by {
        lines.push(format!("{by} has taken it."));
    }
    if lines.is_empty() { capital(&headline(told)) } else { lines.join("\n") }
}

/// Where the standard's list of categories has no better word, it has "Other".
fn category(what: &AlarmWhat) -> &'static str {
    match what {
        AlarmWhat::Heat { .. }
        | AlarmWhat::PeopleHeat { .. }
        | AlarmWhat::HeatAhead { .. }
        | AlarmWhat::Frost { .. }
        | AlarmWhat::Ice { .. } => "Met",
        AlarmWhat::NotDrinking { .. }
        | AlarmWhat::DrinksLittle { .. }
        | AlarmWhat::DrinksMuch { .. }
        | AlarmWhat::VitalsCaution { .. }
        | AlarmWhat::Wrong { .. } => "Health",
        AlarmWhat::BucketEmpty { .. }
        | AlarmWhat::BucketLow { .. }
        | AlarmWhat::TroughEmpty { .. }
        | AlarmWhat::TroughLow { .. }
        | AlarmWhat::Leak { .. }
        | AlarmWhat::SensorFaulty { .. }
        | AlarmWhat::ClimateDoubtful { .. }
        | AlarmWhat::SensorSilent { .. }
        | AlarmWhat::BatteryLow { .. }
        | AlarmWhat::BrokerDown
        | AlarmWhat::JournalDown => "Infra",
        _ => "Other",
    }
}

fn certainty(what: &AlarmWhat) -> &'static str {
    match what {
        AlarmWhat::HeatAhead { .. } | AlarmWhat::Frost { from: Some(_), .. } => "Likely",
        AlarmWhat::Ice { .. } | AlarmWhat::ClimateDoubtful { .. } => "Possible",
        _ => "Observed",
    }
}

/// A time as the standard wants it. UTC itself is written as -00:00. Without a clock it is the beginning of 1970.
fn time(at: Now, zone: Zone) -> String {
    let wall = at.wall.get().unwrap_or(bellmare_barn::time::Wall(0));
    let text = wall.utc().with_timezone(&zone.0).format("%Y-%m-%dT%H:%M:%S%:z").to_string();
    match text.strip_suffix("+00:00") {
        Some(utc) => format!("{utc}-00:00"),
        None => text,
    }
}

/// A name without spaces, commas and what XML would change.
fn sender(barn: &str) -> String {
    let name: String = barn.chars().map(|c| if c.is_alphanumeric() { c.to_ascii_lowercase() } else { '-' }).collect();
    format!("bellmare:{name}")
}
