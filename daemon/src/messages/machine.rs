//! What is sent, as JSON for a program. Fields may be added, and are never renamed.

use bellmare_barn::tell::message::{About, Told};
use serde_json::{Value, json};

use super::letter::Letter;
use super::queue::{Parcel, Sum};
use super::words::{headline, words};

/// The whole of it.
pub(super) fn object(parcel: &Parcel, barn: &str) -> Value {
    let text = words(parcel, barn);
    let mut object = match parcel {
        Parcel::One(letter) => one(letter),
        Parcel::Sum(sum) => summed(sum),
    };
    object["id"] = parcel.id().into();
    object["barn"] = barn.into();
    object["subject"] = text.subject.into();
    object["text"] = text.body.into();
    object
}

/// Why it is sent, in a word.
pub(super) fn word(about: &About) -> &'static str {
    match about {
        About::Raised => "raised",
        About::Worse => "worse",
        About::Climbed { .. } => "climbed",
        About::Taken => "taken",
        About::Ended => "ended",
        About::Chattering { .. } => "chattering",
        About::Many { .. } => "many",
        About::Digest(_) => "digest",
        About::Test => "test",
    }
}

fn one(letter: &Letter) -> Value {
    let message = &letter.message;
    let digest = if let About::Digest(digest) = &message.about { Some(digest) } else { None };
    json!({
        "about": word(&message.about),
        "made": message.made.wall.get().map(|wall| wall.to_string()),
        "priority": message.priority,
        "alarms": message.alarms.iter().map(|told| alarm(told, told.over)).collect::<Vec<_>>(),
        "digest": digest,
    })
}

fn summed(sum: &Sum) -> Value {
    let alarms = sum.letters.iter().flat_map(|letter| &letter.message.alarms);
    json!({
        "about": "sent_late",
        "made": sum.letters.last().and_then(|letter| letter.message.made.wall.get()).map(|wall| wall.to_string()),
        "priority": sum.letters.iter().map(|letter| letter.message.priority).min(),
        "alarms": alarms.map(|told| alarm(told, told.over || sum.over.contains(&told.alarm.id))).collect::<Vec<_>>(),
        "of": sum.letters.iter().map(|letter| letter.id.as_str()).collect::<Vec<_>>(),
    })
}

fn alarm(told: &Told, over: bool) -> Value {
    json!({
        "alarm": told.alarm.id,
        "priority": told.alarm.priority,
        "raised": told.alarm.raised.wall.get().map(|wall| wall.to_string()),
        "what": told.alarm.what,
        "text": headline(told),
        "to_do": told.to_do,
        "told": told.told.iter().map(|who| who.name.as_str()).collect::<Vec<_>>(),
        "taken_by": told.taken_by,
        "over": over,
    })
}
