//! The morning's digest in words: what stood, what came often, what nobody took, batteries, and the barn's own alarm rate
//! beside what is published. Only what there is gets a heading.

use bellmare_barn::tell::message::{Digest, Rate};

use super::words::{capital, day, headline, since};

/// In one line.
pub(super) fn subject(digest: &Digest, barn: &str) -> String {
    let date = day(digest.date);
    match (digest.standing.len(), digest.heartbeat) {
        (0, true) => format!("{barn}, {date}: all is watched, nothing stands"),
        (0, false) => format!("{barn}, {date}: the last {} hours", digest.hours),
        (1, _) => format!("{barn}, {date}: 1 alarm stands"),
        (standing, _) => format!("{barn}, {date}: {standing} alarms stand"),
    }
}

/// Whole.
pub(super) fn body(digest: &Digest) -> String {
    let mut body = Vec::new();
    if digest.heartbeat {
        body.push("This comes once a week whatever happens: as long as it does, the hub watches and its messages reach you.\n".to_owned());
    }
    let standing = digest.standing.iter().map(|told| {
        let since = since(told).map_or_else(String::new, |since| format!(" (since {since})"));
        let taken = told.taken_by.as_ref().map_or_else(String::new, |by| format!(", taken by {by}"));
        format!("{}{since}{taken}", headline(told))
    });
    list(&mut body, "Stands now", standing);
    list(&mut body, "Nobody took", digest.untaken.iter().cloned());
    list(&mut body, "Could wait for this", digest.low.iter().cloned());
    list(&mut body, "Came often", digest.often.iter().map(|(what, times)| format!("{times} times: {what}")));
    let batteries = digest.batteries.iter().map(|(sensor, left)| format!("{sensor}: {:.0} % left", left.get()));
    list(&mut body, "Batteries to change soon", batteries);
    list(&mut body, "Out of service, watched by nobody", digest.out_of_service.iter().cloned());
    list(&mut body, &format!("Alarms in the last {} hours", digest.hours), rate(&digest.rate).into_iter());
    let talkers = digest.talkers.iter().map(|one| format!("{}, {} times. {}", one.rule, one.times, one.change));
    list(&mut body, "The rules that talk most, and what to change", talkers);
    body.join("\n")
}

fn list(body: &mut Vec<String>, heading: &str, lines: impl Iterator<Item = String>) {
    let lines: String = lines.map(|line| format!("  {}\n", capital(&line))).collect();
    if !lines.is_empty() {
        body.push(format!("{heading}:\n{lines}"));
    }
}

fn rate(rate: &Rate) -> Vec<String> {
    let [high, medium, low] = rate.by_priority;
    let mut lines = vec![
        format!("{} raised: {high} urgent, {medium} for the day, {low} to know of", rate.raised),
        format!(
            "{} at most in ten minutes; {} stood for more than a day; {} came and went",
            rate.most_in_ten_min, rate.stale, rate.chattering
        ),
        format!("{} messages to persons", rate.messages),
    ];
    lines.extend(rate.targets.iter().cloned());
    lines
}
