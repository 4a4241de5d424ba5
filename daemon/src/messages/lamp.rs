//! What stands, as topics that the broker keeps, for a lamp, a horn or a board of somebody else's: one for each alarm, taken
//! away when it is over, and one for all together. They are a picture and no messages: who connects late sees the same.
//!
//! ```text
//!  PREFIX/alarms/17       {"alarm":17,"priority":"high","text":"stall 3: ...","seen_by":null,"aside":false}
//!  PREFIX/alarms/summary  {"high":1,"highest":"high","medium":0,"low":2,"not_seen":1}
//! ```

use std::collections::BTreeMap;

use bellmare_barn::board::{AlarmLine, Priority};
use serde_json::json;
use tokio::sync::watch;

/// Payloads by topic: all that the broker is to keep under the prefix.
pub type Picture = BTreeMap<String, String>;

/// What whoever speaks to the broker needs to have it keep the picture.
#[derive(Clone, Debug)]
pub struct Lamp {
    /// The first levels of its topics.
    pub prefix: String,
    /// The picture; empty before the first.
    pub wanted: watch::Receiver<Picture>,
}

impl Lamp {
    /// All of its topics.
    pub fn filter(&self) -> String {
        format!("{}/alarms/+", self.prefix)
    }

    /// True for a topic that is the hub's own to publish: what is kept there and not in the picture is from before.
    pub fn owns(&self, topic: &str) -> bool {
        topic.strip_prefix(self.prefix.as_str()).is_some_and(|rest| rest.starts_with("/alarms/"))
    }
}

/// What stands, by topics.
pub fn picture(prefix: &str, alarms: &[AlarmLine]) -> Picture {
    let standing: Vec<&AlarmLine> = alarms.iter().filter(|alarm| !alarm.over).collect();
    // What is put aside is seen to, and turns no lamp on.
    let counted = |priority: Priority| {
        standing.iter().filter(|alarm| alarm.priority == priority && alarm.aside.is_none()).count()
    };
    let highest = standing.iter().filter(|alarm| alarm.aside.is_none()).map(|alarm| alarm.priority).min();
    let not_seen = standing.iter().filter(|alarm| alarm.seen_by.is_none() && alarm.aside.is_none()).count();
    let summary = json!({
        "highest": highest,
        "high": counted(Priority::High),
        "medium": counted(Priority::Medium),
        "low": counted(Priority::Low),
        "not_seen": not_seen,
    });
    let mut picture = Picture::from([(format!("{prefix}/alarms/summary"), summary.to_string())]);
    for alarm in standing {
        let object = json!({
            "alarm": alarm.id,
            "priority": alarm.priority,
            "text": alarm.text,
            "seen_by": alarm.seen_by,
            "aside": alarm.aside.is_some(),
        });
        picture.insert(format!("{prefix}/alarms/{}", alarm.id), object.to_string());
    }
    picture
}

/// What must be published, retained, so that the broker keeps `wanted` where it keeps `kept`. An empty payload takes a topic away.
pub fn changes(kept: &Picture, wanted: &Picture) -> Vec<(String, String)> {
    let gone = kept.keys().filter(|topic| !wanted.contains_key(*topic)).map(|topic| (topic.clone(), String::new()));
    let new = wanted.iter().filter(|(topic, payload)| kept.get(*topic) != Some(*payload));
    gone.chain(new.map(|(topic, payload)| (topic.clone(), payload.clone()))).collect()
}

#[cfg(test)]
mod tests {
    use bellmare_barn::board::AlarmWhat;

    use super::*;

    fn alarm(id: u64, priority: Priority, over: bool) -> AlarmLine {
        AlarmLine {
            id,
            priority,
            what: AlarmWhat::BrokerDown,
            text: format!("alarm {id}"),
            for_min: 3,
            seen_by: None,
            over,
            aside: None,
            told: Vec::new(),
            chattering: false,
        }
    }

    #[test]
    fn each_alarm_that_stands_has_a_topic_and_the_highest_is_told() {
        let alarms =
            [alarm(1, Priority::Medium, false), alarm(2, Priority::High, true), alarm(3, Priority::Low, false)];
        let picture = picture("hill/barn", &alarms);
        let topics: Vec<&str> = picture.keys().map(String::as_str).collect();
        assert_eq!(topics, ["hill/barn/alarms/1", "hill/barn/alarms/3", "hill/barn/alarms/summary"]);
        assert_eq!(
            picture["hill/barn/alarms/summary"],
            r#"{"high":0,"highest":"medium","low":1,"medium":1,"not_seen":2}"#
        );
    }

    #[test]
    fn only_what_changes_is_said_and_what_is_over_is_taken_away() {
        let before = picture("b", &[alarm(1, Priority::High, false), alarm(2, Priority::Low, false)]);
        let after = picture("b", &[alarm(2, Priority::Low, false)]);
        let said = changes(&before, &after);
        assert_eq!(said[0], ("b/alarms/1".to_owned(), String::new()));
        assert_eq!(said[1].0, "b/alarms/summary");
        assert_eq!(said.len(), 2);
        assert_eq!(changes(&after, &after), []);
        assert_eq!(changes(&Picture::new(), &picture("b", &[])).len(), 1, "nothing stands: that is said too");
    }
}
