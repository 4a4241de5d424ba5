//! `bellmare-hub alarms`: what stands and what was, for a person or as JSON. Asks the hub where one runs, and reads its journal
//! where none does.

use std::fmt::Write as _;

use anyhow::{Context, bail};
use bellmare_barn::alarm::record::{HowEnded, PutAside, Record};
use bellmare_barn::board::Priority;
use bellmare_barn::input::WhyAside;
use bellmare_barn::tell::words;
use bellmare_barn::time::{Now, TimeOfDay, Wall, Zone};
use bellmare_hub::app::JOURNAL_FILE;
use bellmare_hub::clock::Clock;
use bellmare_hub::journal::{Journal, JournalError, Options};
use bellmare_hub::settings::Settings;
use bellmare_hub::web::OfficeToken;
use chrono::{Days, NaiveDate};
use serde_json::json;

/// So many days back unless told.
const DAYS_BACK: u64 = 7;

/// Prints the list.
pub(crate) fn alarms(settings: &Settings, since: Option<NaiveDate>, as_json: bool) -> anyhow::Result<()> {
    let zone = settings.limits.zone;
    let since = since.unwrap_or_else(|| {
        // Where the clock is not set, everything is shown.
        let today = zone.date(Clock::system(None).now().wall.get().unwrap_or(Wall(0)));
        today.checked_sub_days(Days::new(DAYS_BACK)).unwrap_or(today)
    });
    let midnight = TimeOfDay::new(0, 0).map_or(Wall(0), |midnight| zone.instant(since, midnight));
    let records = read(settings, midnight)?;
    if as_json {
        let (stands, was): (Vec<_>, Vec<_>) = records.iter().partition(|record| record.ended.is_none());
        println!("{}", json!({ "since": since, "stands": stands, "was": was }));
    } else {
        print!("{}", page(&records, since, zone));
    }
    Ok(())
}

fn read(settings: &Settings, since: Wall) -> anyhow::Result<Vec<Record>> {
    let path = settings.data.folder.join(JOURNAL_FILE);
    if !path.exists() {
        bail!("there is no journal {}: has this hub ever run? (data.folder)", path.display());
    }
    match Journal::open(&path, &Options::default()) {
        Ok((journal, _)) => Ok(journal.alarms(Some(since))?),
        Err(JournalError::Locked { .. }) => ask(settings, since),
        Err(why) => Err(why).context("opening the journal"),
    }
}

fn ask(settings: &Settings, since: Wall) -> anyhow::Result<Vec<Record>> {
    let token = OfficeToken::read(&settings.data.folder.join(OfficeToken::FILE)).context("reading the office token")?;
    let url = format!("http://{}/alarms?since={}", settings.web.listen, since.0);
    let mut answer = ureq::get(&url)
        .header("Authorization", &format!("Bearer {}", token.as_str()))
        .call()
        .with_context(|| format!("asking the hub at {url}"))?;
    answer.body_mut().read_json().with_context(|| format!("reading what the hub says at {url}"))
}

fn page(records: &[Record], since: NaiveDate, zone: Zone) -> String {
    let mut stands: Vec<&Record> = records.iter().filter(|record| record.ended.is_none()).collect();
    stands.sort_by_key(|record| (record.alarm.priority, record.alarm.id));
    let was: Vec<&Record> = records.iter().filter(|record| record.ended.is_some()).collect();
    let mut page = String::new();
    for (title, list) in [("Stands now".to_owned(), stands), (format!("Was, since {since}"), was)] {
        // Writing to a String can not fail.
        let _ =
            writeln!(page, "{title}: {}", if list.is_empty() { "nothing".to_owned() } else { list.len().to_string() });
        for record in list {
            page += &line(record, zone);
        }
    }
    page
}

fn line(record: &Record, zone: Zone) -> String {
    let priority = match record.alarm.priority {
        Priority::High => "high",
        Priority::Medium => "medium",
        Priority::Low => "low",
    };
    let at = when(record.alarm.raised, zone);
    let mut line = format!("  {:>5}  {at}  {priority:<6}  {}\n", record.alarm.id, words::line(&record.alarm.what));
    let mut more = Vec::new();
    if record.chattered {
        more.push("came and went".to_owned());
    }
    let told: Vec<String> = record.told.iter().map(|(person, at)| format!("{person} {}", when(*at, zone))).collect();
    if !told.is_empty() {
        more.push(format!("told {}", told.join(", ")));
    }
    if let Some((by, at)) = &record.seen {
        more.push(format!("taken by {by} {}", when(*at, zone)));
    }
    for PutAside { by, at, for_min, why } in &record.aside {
        let why = match why {
            WhyAside::BeingSeenTo => "being seen to",
            WhyAside::Waits => "it waits",
            WhyAside::NotSo => "not so",
        };
        more.push(format!("put aside by {by} {} for {for_min} min: {why}", when(*at, zone)));
    }
    match &record.ended {
        Some((at, HowEnded::Gone)) => more.push(format!("over {}", when(*at, zone))),
        Some((at, HowEnded::Covered(root))) => {
            more.push(format!("taken in by another, \"{}\", {}", root.rule().says(), when(*at, zone)));
        }
        Some((at, HowEnded::OutOfService)) => more.push(format!("taken out of service {}", when(*at, zone))),
        None => {}
    }
    if !more.is_empty() {
        let _ = writeln!(line, "         {}", more.join("; "));
    }
    line
}

fn when(now: Now, zone: Zone) -> String {
    match now.wall.get() {
        Some(wall) => {
            let time = zone.time_of_day(wall);
            format!("{} {time:>5}", zone.date(wall))
        }
        None => "clock not set   ".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use bellmare_barn::alarm::{Alarm, Cause};
    use bellmare_barn::board::AlarmWhat;
    use bellmare_barn::book::WaterPlace;
    use bellmare_barn::time::{Mono, WallClock};

    use super::*;

    #[test]
    fn a_person_reads_who_was_told_and_who_took_it() {
        let zone = Zone(chrono_tz::America::New_York);
        let date = NaiveDate::from_ymd_opt(2026, 6, 18).expect("a date");
        let at = |hour, minute| {
            let time = TimeOfDay::new(hour, minute).expect("a time");
            Now { mono: Mono(0), wall: WallClock::Set(zone.instant(date, time)) }
        };
        let what = AlarmWhat::BucketEmpty { stall: "3".into(), horse: Some("Pepper".to_owned()) };
        let mut record = Record {
            alarm: Alarm { id: 7, priority: Priority::High, what: what.clone(), raised: at(8, 11) },
            cause: Cause::Empty(WaterPlace::Stall("3".into())),
            text: what.to_string(),
            seen: Some(("mara".into(), at(8, 22))),
            aside: Vec::new(),
            told: vec![("lena".into(), at(8, 11)), ("mara".into(), at(8, 21))],
            chattered: false,
            ended: None,
        };
        let first = "      7  2026-06-18  8:11  high    stall 3, Pepper: bucket empty and not refilled\n";
        let second = "         told lena 2026-06-18  8:11, mara 2026-06-18  8:21; taken by mara 2026-06-18  8:22";
        let stands = page(std::slice::from_ref(&record), date, zone);
        assert_eq!(stands, format!("Stands now: 1\n{first}{second}\nWas, since 2026-06-18: nothing\n"));
        record.ended = Some((at(8, 40), HowEnded::Gone));
        let was = page(&[record], date, zone);
        let expected =
            format!("Stands now: nothing\nWas, since 2026-06-18: 1\n{first}{second}; over 2026-06-18  8:40\n");
        assert_eq!(was, expected);
    }
}
