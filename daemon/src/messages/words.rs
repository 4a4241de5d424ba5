//! What a message says, as the subject and the text of a mail: what, where, since when, what to do, who has been told, who took
//! it. The barn's own words are laid out here and none of its rules made; no rider is in them. Whether a horse is well is for
//! the equine professional and the vet, and the texts say so where it matters.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use bellmare_barn::board::Priority;
use bellmare_barn::input::WhyAside;
use bellmare_barn::tell::message::{About, Message, Told};
use chrono::NaiveDate;

use super::digest;
use super::letter::Letter;
use super::queue::{Parcel, Sum};

/// Lines of a summary that are written out; of the rest only the number is told.
const MOST_LINES: usize = 100;
/// What stands under each message.
const FOOT: &str = "The hub watches and reminds. What to do for a horse is for your equine professional and your vet.";

/// A text for a person.
#[derive(Clone, PartialEq, Eq, Debug)]
pub(super) struct Text {
    /// In one line: what, and where.
    pub(super) subject: String,
    /// Whole.
    pub(super) body: String,
}

/// What is sent, in words.
pub(super) fn words(parcel: &Parcel, barn: &str) -> Text {
    let (subject, body) = match parcel {
        Parcel::One(letter) => (subject(&letter.message, barn), letter_body(letter, barn)),
        Parcel::Sum(sum) => summed(sum),
    };
    let body = format!("{}\n\n-- \n{barn}. {FOOT}\nMessage {}.\n", body.trim_end(), parcel.id());
    Text { subject, body }
}

/// What and where, in one line.
pub(super) fn subject(message: &Message, barn: &str) -> String {
    let what = match message.alarms.as_slice() {
        [] => String::new(),
        [one] => headline(one),
        [first, rest @ ..] => format!("{} alarms: {}, and {} more", message.alarms.len(), headline(first), rest.len()),
    };
    match &message.about {
        About::Many { raised } if *raised as usize > message.alarms.len() => {
            let first = message.alarms.first().map_or_else(String::new, |first| format!(", first {}", headline(first)));
            format!("{raised} alarms in ten minutes{first}")
        }
        About::Raised | About::Many { .. } if message.priority == Priority::High => format!("Urgent: {what}"),
        About::Raised | About::Many { .. } => capital(&what),
        About::Worse => format!("Worse: {what}"),
        About::Climbed { untaken_min } => format!("Not taken for {untaken_min} min: {what}"),
        About::Taken => match message.alarms.first().map(|told| (&told.taken_by, &told.aside)) {
            Some((_, Some((until, _)))) => format!("Put aside until {until}: {what}"),
            Some((Some(by), None)) => format!("Taken by {by}: {what}"),
            _ => format!("Taken: {what}"),
        },
        About::Ended => format!("Over: {what}"),
        About::Chattering { .. } => format!("Comes and goes: {what}"),
        About::Digest(digest) => digest::subject(digest, barn),
        About::Test => format!("Test from {barn}"),
    }
}

/// An alarm in one line: where and whose, then what.
pub(super) fn headline(told: &Told) -> String {
    if told.place.is_empty() { told.what.clone() } else { format!("{}: {}", told.place, told.what) }
}

/// A day, such as "Thu 18 Jun".
pub(super) fn day(date: NaiveDate) -> String {
    date.format("%a %-d %b").to_string()
}

/// Begins a sentence.
pub fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |first| first.to_uppercase().chain(chars).collect())
}

/// Since when it stands.
pub(super) fn since(told: &Told) -> Option<String> {
    told.since.map(|(date, time)| format!("{}, {time}", day(date)))
}

fn letter_body(letter: &Letter, barn: &str) -> String {
    let message = &letter.message;
    let opening = match &message.about {
        About::Raised => String::new(),
        About::Worse => "This has got worse, or is back after it was put aside.".to_owned(),
        About::Climbed { untaken_min } => {
            format!("Others have been told of this, and nobody has taken it for {untaken_min} minutes.")
        }
        About::Taken | About::Ended => String::new(),
        About::Chattering { times } => {
            format!("This came {times} times within the hour. You will hear no more of it until it keeps still.")
        }
        About::Many { raised } if *raised as usize > message.alarms.len() => format!(
            "{raised} alarms were raised within ten minutes. The most pressing are told here; the board in the barn has all."
        ),
        About::Many { .. } => String::new(),
        About::Digest(content) => return digest::body(content),
        About::Test => {
            return format!(
                "This is a test, asked for by hand. If you can read this, messages of {barn} reach you here.\nThere is nothing to do."
            );
        }
    };
    let mut body = opening;
    let short = matches!(message.about, About::Taken | About::Ended);
    for told in &message.alarms {
        if !body.is_empty() {
            body.push_str("\n\n");
        }
        body.push_str(&if short { short_alarm(message, told) } else { alarm(told) });
    }
    if letter.asks()
        && let Some(link) = &letter.link
    {
        // Writing to a string does not fail.
        let _ = write!(
            body,
            "\n\nI take it:\n{link}\nThe link works on the barn's network, once, for a day. Any kiosk does the same."
        );
    }
    body
}

/// An alarm, whole.
fn alarm(told: &Told) -> String {
    let mut lines = vec![format!("{}.", capital(&headline(told)).trim_end_matches('.'))];
    match (since(told), told.over) {
        (Some(since), false) => lines.push(format!("Since {since}. {}.", pressing(told.alarm.priority))),
        (None, false) => lines.push(format!("{}.", pressing(told.alarm.priority))),
        (Some(since), true) => lines.push(format!("It was so from {since}, and is over.")),
        (None, true) => lines.push("It is over.".to_owned()),
    }
    if !told.over && !told.to_do.is_empty() {
        lines.push(format!("What to do: {}", told.to_do));
    }
    let before: Vec<String> = told
        .told
        .iter()
        .map(|who| who.at.map_or_else(|| who.name.clone(), |at| format!("{} at {at}", who.name)))
        .collect();
    if !before.is_empty() {
        lines.push(format!("Told before: {}.", before.join(", ")));
    }
    lines.extend(handled(told));
    lines.join("\n")
}

/// What is said of an alarm that somebody has taken, or that is over.
fn short_alarm(message: &Message, told: &Told) -> String {
    let mut line = format!("{}.", capital(&headline(told)).trim_end_matches('.'));
    if message.about == About::Ended {
        line.push_str(" It is over; there is nothing left to do.");
    }
    if let Some(handled) = handled(told) {
        line.push(' ');
        line.push_str(&handled);
    }
    line
}

/// Who is at it, or put it aside.
fn handled(told: &Told) -> Option<String> {
    match (&told.taken_by, &told.aside) {
        (by, Some((until, why))) => {
            let why = match why {
                WhyAside::BeingSeenTo => "somebody is at it",
                WhyAside::Waits => "it waits for somebody or something",
                WhyAside::NotSo => "it was looked at and is not so",
            };
            let by = by.as_ref().map_or_else(String::new, |by| format!(" by {by}"));
            Some(format!("Put aside{by} until {until}: {why}. It comes back by itself."))
        }
        (Some(by), None) => Some(format!("{by} has taken it.")),
        (None, None) => None,
    }
}

fn pressing(priority: Priority) -> &'static str {
    match priority {
        Priority::High => "Urgent: a horse or a person may come to harm",
        Priority::Medium => "To be seen to today",
        Priority::Low => "To know of",
    }
}

/// What was held up while the line was down: each alarm once, what stands first.
fn summed(sum: &Sum) -> (String, String) {
    let mut alarms: BTreeMap<u64, (&Told, bool)> = BTreeMap::new();
    let mut others = Vec::new();
    for letter in &sum.letters {
        for told in &letter.message.alarms {
            let over = told.over || letter.message.about == About::Ended || sum.over.contains(&told.alarm.id);
            let known = alarms.entry(told.alarm.id).or_insert((told, over));
            *known = (told, known.1 || over);
        }
        if letter.message.alarms.is_empty() {
            others.push(subject(&letter.message, "the barn"));
        }
    }
    let line = |told: &Told| {
        let taken = told.taken_by.as_ref().map_or_else(String::new, |by| format!(", taken by {by}"));
        format!("  {}{}{taken}\n", since(told).map_or_else(String::new, |since| format!("{since}  ")), headline(told))
    };
    let (over, stand): (Vec<_>, Vec<_>) = alarms.values().partition(|(_, over)| *over);
    let mut body = "These could not be sent in time and are told together.\n".to_owned();
    let mut left = MOST_LINES;
    for (heading, list) in [("Not known to be over:", &stand), ("Over by now:", &over)] {
        if list.is_empty() {
            continue;
        }
        let shown = list.len().min(left);
        left -= shown;
        body.push_str(&format!("\n{heading}\n"));
        list.iter().take(shown).for_each(|(told, _)| body.push_str(&line(told)));
        if shown < list.len() {
            body.push_str(&format!("  and {} more\n", list.len() - shown));
        }
    }
    if !others.is_empty() {
        body.push_str("\nAnd these, which nobody needs any more:\n");
        others.iter().take(MOST_LINES).for_each(|other| body.push_str(&format!("  {other}\n")));
    }
    let subject = match stand.len() {
        0 => format!("Sent late: {} alarms, all over by now", over.len()),
        stand => format!("Sent late: {} alarms, {stand} not known to be over", over.len() + stand),
    };
    (subject, body)
}

#[cfg(test)]
mod tests;
