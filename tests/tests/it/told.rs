//! What needs a person reaches them: a forgotten bucket from the sensor to the mail, up the steps, taken by the link, refilled
//! and over; a flood of alarms in few messages. The hub's clock hurries, so that minutes of the barn pass in seconds; sensors,
//! mail and pages are real.

use std::fs;
use std::process::Command;
use std::time::Duration;

use bellmare_barn::board::{AlarmLine, Board};
use bellmare_barn::time::Wall;
use bellmare_hub::journal::{Journal, Options};
use bellmare_tests::client::{publish, publish_all};
use bellmare_tests::hub::{Broker, Hub};
use bellmare_tests::hurried::Hurried;
use bellmare_tests::mail::{Kind, Mail, MailServer};
use bellmare_tests::power::{Disk, Fault, Files, Vfs};
use bellmare_tests::wait::until;

const SOON: Duration = Duration::from_secs(30);
/// 2026-06-18, 12:00 in New York.
const NOON: Wall = Wall(1_781_798_400_000);
const PEOPLE: &[(&str, &str)] =
    &[("lena", "lena@barn.example"), ("yusra", "yusra@barn.example"), ("ruth", "ruth@barn.example")];

/// A barn with staff, an equine professional and a manager; nobody is here yet.
fn barn(stalls: u32, server: &MailServer, more: &str) -> Hub {
    let hub = Hub::new(stalls, Broker::Embedded, "");
    let link_base = format!("[messages]\nlink_base = \"http://127.0.0.1:{}\"\n", hub.web);
    let messages = server.settings(PEOPLE);
    hub.change_settings(|text| text.replacen("[[topics]]", &format!("{link_base}{messages}{more}\n[[topics]]"), 1));
    fs::write(
        hub.folder().join("book/people.csv"),
        "person,name,role,badge,grade\nana,Ana,groom,A1,2\nlena,Lena,staff,B2,3\nyusra,Yusra,equine_professional,C3,3\n\
         ruth,Ruth,manager,D4,3\n",
    )
    .expect("people");
    hub
}

fn board(hub: &Hub) -> Result<Board, String> {
    bellmare_tests::board::now(hub)
}

#[track_caller]
fn alarm(hub: &Hub, what: &str, mut look: impl FnMut(&AlarmLine) -> bool) -> AlarmLine {
    until(what, SOON, || {
        let alarms = board(hub)?.alarms;
        alarms.iter().find(|alarm| look(alarm)).cloned().ok_or_else(|| format!("{alarms:?}"))
    })
}

/// Waits for a mail to this address whose subject begins so.
#[track_caller]
fn mail(server: &MailServer, to: &str, begins: &str) -> Mail {
    until(&format!("{begins:?} to {to}"), SOON, || {
        let mails = server.mails();
        let found = mails.iter().find(|mail| mail.to == [to] && mail.subject.starts_with(begins));
        found
            .cloned()
            .ok_or_else(|| format!("{:?}", mails.iter().map(|mail| (&mail.to, &mail.subject)).collect::<Vec<_>>()))
    })
}

/// Waits until so many sensors have been heard.
#[track_caller]
fn heard(barn: &Hub, sensors: u32) {
    until("all are heard", SOON, || {
        let text = ureq::get(barn.url("/sensors")).call().and_then(|mut page| page.body_mut().read_to_string());
        let text = text.map_err(|why| why.to_string())?;
        let list: Vec<serde_json::Value> = serde_json::from_str(&text).map_err(|why| why.to_string())?;
        if list.len() >= sensors as usize { Ok(()) } else { Err(format!("{}", list.len())) }
    });
}

fn link(mail: &Mail) -> String {
    let line = mail.body.lines().find(|line| line.contains("/take/"));
    line.unwrap_or_else(|| panic!("no link in {:?}", mail.body)).to_owned()
}

#[test]
fn a_forgotten_bucket_is_told_climbs_is_taken_by_link_and_is_over() {
    let server = MailServer::start(Kind::StartTls);
    let barn = barn(2, &server, "");
    let hub = Hurried::start(&barn.settings(), NOON, 60);
    let told = |what: &str| println!("{} {what}", hub.time());
    publish(barn.mqtt, "barn/badge/door", "B2");
    publish(barn.mqtt, "barn/stall/1/water", "250");
    told("Lena signs in, the bucket of stall 1 is full");
    heard(&barn, 1);
    told("it is emptied, and forgotten");
    until("the kiosk says so", SOON, || {
        // The sensor says so again and again, as sensors do: one reading alone may be a slip.
        publish(barn.mqtt, "barn/stall/1/water", "3");
        let alarms = board(&barn)?.alarms;
        let says = alarms.iter().any(|alarm| alarm.text.contains("stall 1") && !alarm.over);
        if says { Ok(()) } else { Err(format!("{alarms:?}")) }
    });
    told("the kiosk says so");
    let first = mail(&server, "lena@barn.example", "Stall 1, ");
    told(&format!("mail to Lena, staff: {}", first.subject));
    let second = mail(&server, "yusra@barn.example", "Not taken for ");
    told(&format!("mail to Yusra, equine professional: {}", second.subject));
    let pressing = mail(&server, "lena@barn.example", "Worse: ");
    told(&format!("empty for half an hour, mail to Lena: {}", pressing.subject));
    let third = mail(&server, "ruth@barn.example", "Not taken for ");
    told(&format!("mail to Ruth, manager: {}", third.subject));
    assert!(third.body.contains("Told before: Lena at "), "{}", third.body);
    assert!(third.body.contains("Yusra at "), "{}", third.body);
    assert!([&first, &second, &third].iter().all(|mail| mail.encrypted && !mail.references.is_empty()));
    assert_eq!(first.references, third.references, "a mail program keeps them together");

    let link = link(&third);
    let page = ureq::get(&link).call().expect("a page").body_mut().read_to_string().expect("text");
    assert!(page.contains("I take it (Ruth)") && page.contains("Nobody has taken it yet"), "{page}");
    let looked = alarm(&barn, "it stands", |alarm| alarm.text.contains("stall 1"));
    assert_eq!(looked.seen_by, None, "looking takes nothing");
    let page = ureq::post(&link).send_empty().expect("a page").body_mut().read_to_string().expect("text");
    assert!(page.contains("Noted") && page.contains("Ruth has taken it"), "{page}");
    told("Ruth takes it by the link");
    let taken = alarm(&barn, "the kiosk says who", |alarm| alarm.seen_by.is_some());
    assert_eq!(taken.seen_by.as_deref(), Some("Ruth"));
    assert_eq!(taken.told, ["Lena", "Yusra", "Ruth"]);
    let again = ureq::post(&link).send_empty().expect("a page").body_mut().read_to_string().expect("text");
    assert!(again.contains("Ruth has taken it"), "{again}");
    mail(&server, "lena@barn.example", "Taken by Ruth: ");
    told("mail to Lena: taken by Ruth");

    publish(barn.mqtt, "barn/stall/1/water", "290");
    told("the bucket is refilled");
    until("it is over", SOON, || {
        let board = board(&barn)?;
        if board.alarms.iter().all(|alarm| alarm.over) { Ok(()) } else { Err(format!("{:?}", board.alarms)) }
    });
    told("over");
    let forged = link.replace("/take/", "/take/A");
    let refused = ureq::get(&forged).config().http_status_as_error(false).build().call().expect("an answer");
    assert_eq!(refused.status(), 404);
    let all = server.mails();
    println!("{} mails: {:?}", all.len(), all.iter().map(|mail| (&mail.to[0], &mail.subject)).collect::<Vec<_>>());
    assert!(all.len() <= 7, "three were told, two of them again that it presses, and that it is taken");
    hub.stop();
}

/// The disk is full: nothing can be written down, and a forgotten bucket is told all the same. With room again all is written.
#[test]
fn what_can_not_be_written_down_is_told_all_the_same() {
    let vfs = Vfs::register("told-on-a-full-disk", Disk::new(&Files::new()));
    let server = MailServer::start(Kind::Plain);
    let barn = barn(2, &server, "[limits.water]\nempty_alarm_after_min = 1\n");
    let journal = Options { vfs: Some(vfs.name().to_owned()), ..Options::default() };
    let hub = Hurried::on(&barn.settings(), NOON, 10, journal);
    publish(barn.mqtt, "barn/badge/door", "B2");
    publish(barn.mqtt, "barn/stall/1/water", "250");
    let used = vfs.disk().used();
    vfs.disk().set_fault(Fault::Full(used));
    // Nothing is acknowledged from now on, so nobody waits for it.
    let said = ["-p", &barn.mqtt.to_string(), "-q", "0", "-t", "barn/stall/1/water", "-m", "3"];
    assert!(Command::new("mosquitto_pub").args(said).status().expect("mosquitto-clients are installed").success());
    let first = until("it is told", SOON, || {
        let mails = server.mails();
        let found = mails.iter().find(|mail| mail.body.contains("bucket empty"));
        found.cloned().ok_or_else(|| format!("{:?}", mails.iter().map(|mail| &mail.subject).collect::<Vec<_>>()))
    });
    println!("told with a full disk: {}", first.subject);
    assert!(vfs.disk().failed() > 0, "the disk was full");
    vfs.disk().set_fault(Fault::None);
    until("it can be written again", SOON, || {
        let page = ureq::get(barn.url("/metrics")).call().and_then(|mut page| page.body_mut().read_to_string());
        let page = page.map_err(|why| why.to_string())?;
        let all = ["bellmare_journal_up 1", "bellmare_messages_waiting 0"];
        if all.iter().all(|line| page.contains(line)) { Ok(()) } else { Err(page) }
    });
    hub.stop();
    let journal = Options { vfs: Some(vfs.name().to_owned()), ..Options::default() };
    let (journal, _) = Journal::open(&barn.journal(), &journal).expect("no hub runs");
    let outbox = journal.outbox().expect("read");
    let id = first.id.trim_matches(['<', '>']).split('@').next().unwrap_or_default().to_owned();
    assert!(outbox.known.contains(&id), "{id} is not among {:?}", outbox.known);
    assert_eq!(outbox.waiting.len(), 0, "{:?}", outbox.waiting);
}

/// Forty sensors lose their line at once.
#[test]
fn forty_sensors_lost_at_once_are_one_message_within_half_a_minute() {
    const SENSORS: u32 = 40;
    let server = MailServer::start(Kind::Plain);
    let barn = barn(SENSORS, &server, "");
    let hub = Hurried::start(&barn.settings(), NOON, 10);
    publish(barn.mqtt, "barn/badge/door", "B2");
    let say = |topic: &str, word: &str| {
        let messages = (1..=SENSORS).map(|n| (format!("barn/stall/{n}/{topic}"), word.to_owned()));
        assert_eq!(publish_all(barn.mqtt, "forty", messages, 40), SENSORS as usize);
    };
    say("water", "250");
    say("water/state", "online");
    heard(&barn, SENSORS);
    let lost = hub.now();
    say("water/state", "offline");
    let first = server.wait_for(1, SOON);
    let took = hub.now().since(lost);
    println!("{SENSORS} sensors lost at {}: told after {} s: {}", hub.time(), took / 1000, first[0].subject);
    // Ten minutes of the barn later there is still no other.
    until("ten minutes pass", Duration::from_secs(70), || {
        let left = 600_000 - hub.now().since(lost);
        if left <= 0 { Ok(()) } else { Err(format!("{left} ms are left")) }
    });
    let to_lena = server.mails().iter().filter(|mail| mail.to == ["lena@barn.example"]).count();
    println!("{to_lena} messages to her in ten minutes");
    assert_eq!(to_lena, 1, "{:?}", server.mails().iter().map(|mail| &mail.subject).collect::<Vec<_>>());
    assert!(took <= 30_000, "{took} ms");
    hub.stop();
}

/// Forty buckets run dry, some water is brought, more run dry: nobody gets more than three messages of it.
#[test]
fn a_flood_is_at_most_three_messages() {
    const STALLS: u32 = 40;
    let server = MailServer::start(Kind::Plain);
    let barn = barn(STALLS, &server, "[limits.water]\nempty_alarm_after_min = 1\n");
    let hub = Hurried::start(&barn.settings(), NOON, 30);
    publish(barn.mqtt, "barn/badge/door", "B2");
    let began = hub.now();
    let say = |level: &str| {
        let messages = (1..=STALLS).map(|n| (format!("barn/stall/{n}/water"), level.to_owned()));
        assert_eq!(publish_all(barn.mqtt, "flood", messages, 40), STALLS as usize);
    };
    say("250");
    heard(&barn, STALLS);
    say("3");
    until("all of them are alarms", SOON, || {
        let count = board(&barn)?.alarms.iter().filter(|alarm| !alarm.over).count();
        if count >= STALLS as usize { Ok(()) } else { Err(format!("{count}")) }
    });
    until("ten minutes pass", Duration::from_secs(60), || {
        let left = 600_000 - hub.now().since(began);
        if left <= 0 { Ok(()) } else { Err(format!("{left} ms are left")) }
    });
    let mails = server.mails();
    for (_, address) in PEOPLE {
        let of_them: Vec<&String> =
            mails.iter().filter(|mail| mail.to == [*address]).map(|mail| &mail.subject).collect();
        println!("{STALLS} buckets empty within minutes: {} messages to {address}: {of_them:?}", of_them.len());
        assert!(of_them.len() <= 3, "{of_them:?}");
    }
    assert!(!mails.is_empty());
    hub.stop();
}
