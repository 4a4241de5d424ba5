//! What would have been said, as lines for a person or as JSON for a program. Times are the barn's own, with the short name
//! of its zone: on the night when clocks go back an hour comes twice.

use bellmare_barn::board::Priority;
use bellmare_barn::time::{Wall, WallClock, Zone};
use serde_json::{Value, json};

use super::{Event, Summary};

/// One event as a line.
pub fn line(event: &Event, zone: Zone) -> String {
    let Event { at, turn, alarm } = event;
    format!("{} {turn:<6} {:<6} {}", local(*at, zone), priority(alarm.priority), alarm.what)
}

/// One event as a JSON object.
pub fn object(event: &Event, zone: Zone) -> Value {
    let Event { at, turn, alarm } = event;
    json!({
        "event": turn.to_string(), "time": at.to_string(), "local": local(*at, zone), "alarm": alarm.id,
        "priority": alarm.priority, "text": alarm.what.to_string(), "what": alarm.what,
    })
}

/// What there was to play, as lines.
pub fn closing(summary: &Summary, zone: Zone) -> String {
    let Summary { rows, span, raised, ended, standing, account } = summary;
    let span = match span {
        Some((from, to)) => format!(" from {} to {}", local(*from, zone), local(*to, zone)),
        None => String::new(),
    };
    let since = |raised: WallClock| raised.get().map_or_else(String::new, |at| format!("since {} ", local(at, zone)));
    let standing: Vec<String> =
        standing.iter().map(|alarm| format!("{}{}", since(alarm.raised.wall), alarm.what)).collect();
    let refused: u64 = account.refused.values().map(|one| one.count).sum::<u64>() + account.refused_elsewhere;
    let mut why: Vec<String> = account
        .refused
        .iter()
        .map(|(topic, one)| format!("{topic}: {}, the last as {}", one.count, one.reason))
        .collect();
    if account.refused_elsewhere > 0 {
        why.push(format!("elsewhere: {}", account.refused_elsewhere));
    }
    let mut unplaced: Vec<String> = account
        .unplaced
        .iter()
        .map(|(topic, one)| format!("{topic}: {}, the last said {:?}", many(one.count, "message"), one.excerpt))
        .collect();
    if account.unplaced_elsewhere > 0 {
        unplaced.push(format!("elsewhere: {}", many(account.unplaced_elsewhere, "message")));
    }
    let (topics, alarms) = (many(account.unplaced.len() as u64, "topic"), many(*raised, "alarm"));
    [
        format!("{}{span}.\n", many(*rows, "message")),
        list(&format!("{alarms} raised, {ended} ended, {} standing at the end", standing.len()), &standing),
        list(&format!("{} refused", many(refused, "message")), &why),
        list(&format!("{topics} that no rule places"), &unplaced),
    ]
    .concat()
}

/// A heading, and what it counts, a line each.
fn list(heading: &str, lines: &[String]) -> String {
    let end = if lines.is_empty() { "." } else { ":" };
    let lines: String = lines.iter().map(|line| format!("  {line}\n")).collect();
    format!("{heading}{end}\n{lines}")
}

/// The same as a JSON object.
pub fn closing_object(summary: &Summary) -> Value {
    let Summary { rows, span, raised, ended, standing, account } = summary;
    let standing = standing.iter().map(|alarm| json!({ "alarm": alarm.id, "text": alarm.what.to_string() }));
    let standing: Vec<Value> = standing.collect();
    json!({
        "event": "end", "messages": rows, "from": span.map(|(from, _)| from.to_string()),
        "to": span.map(|(_, to)| to.to_string()), "raised": raised, "ended": ended, "standing": standing,
        "refused": account.refused, "refused_elsewhere": account.refused_elsewhere,
        "unplaced": account.unplaced, "unplaced_elsewhere": account.unplaced_elsewhere,
    })
}

fn local(at: Wall, zone: Zone) -> String {
    at.utc().with_timezone(&zone.0).format("%Y-%m-%d %H:%M:%S %Z").to_string()
}

fn priority(priority: Priority) -> &'static str {
    match priority {
        Priority::High => "high",
        Priority::Medium => "medium",
        Priority::Low => "low",
    }
}

fn many(count: u64, thing: &str) -> String {
    if count == 1 { format!("1 {thing}") } else { format!("{count} {thing}s") }
}
