//! Against real brokers on loopback: the hub's own, and mosquitto with the settings of `deploy/mosquitto`. Waits have a
//! deadline; nothing sleeps for luck.

use std::collections::VecDeque;
use std::net::{Ipv4Addr, SocketAddr};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};

use bellmare_barn::id::StallId;
use bellmare_barn::input::{Input, Measured, Reading, Sensor};
use bellmare_barn::time::WallClock;
use bellmare_barn::units::Millimetres;
use tokio::net::TcpStream;
use tokio::sync::mpsc;
use tokio::task::JoinHandle;

use super::*;
use crate::broker::{Accounts, Broker, BrokerError, BrokerSettings, account_line};
use crate::devices::intake::INTAKE_CAPACITY;
use crate::devices::ledger::Ledger;
use crate::devices::rules::{TopicRule, topic_map};
use crate::settings;

const DEADLINE: Duration = Duration::from_secs(20);

/// A broker of either make, on a port that stays the same when it is started again.
struct AnyBroker {
    make: Make,
    port: u16,
    folder: tempfile::TempDir,
    accounts: bool,
    /// Further lines for mosquitto's listener.
    more: String,
    running: Running,
}

#[derive(Clone, Copy, PartialEq, Debug)]
enum Make {
    Own,
    Mosquitto,
}

enum Running {
    No,
    Own(Broker),
    Mosquitto(Child),
}

impl AnyBroker {
    /// `None`, said loudly, where mosquitto is not installed.
    async fn start(make: Make, accounts: bool) -> Option<Self> {
        if make == Make::Mosquitto && Command::new("mosquitto").arg("-h").output().is_err() {
            eprintln!("SKIPPED: mosquitto is not installed, so nothing was tried with it");
            return None;
        }
        let port = std::net::TcpListener::bind("127.0.0.1:0").expect("a port").local_addr().expect("bound").port();
        let folder = tempfile::tempdir().expect("a folder");
        let mut broker = Self { make, port, folder, accounts, more: String::new(), running: Running::No };
        broker.again().await;
        Some(broker)
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    async fn again(&mut self) {
        self.running = match self.make {
            Make::Own => {
                let accounts = self.accounts.then(|| own_accounts(self.folder.path()));
                let listen = SocketAddr::from((Ipv4Addr::LOCALHOST, self.port));
                let settings = BrokerSettings { listen, data: self.path("data"), accounts };
                Running::Own(Broker::start(settings, None).await.expect("the hub's own broker starts"))
            }
            Make::Mosquitto => {
                let conf = mosquitto_conf(
                    self.folder.path(),
                    &format!("{} 127.0.0.1\n{}", self.port, self.more),
                    self.accounts,
                );
                let log = std::fs::File::create(self.path("log")).expect("a log");
                let child = Command::new("mosquitto").arg("-c").arg(conf).stderr(log).stdout(Stdio::null()).spawn();
                Running::Mosquitto(child.expect("mosquitto starts"))
            }
        };
        let answers = async {
            while TcpStream::connect((Ipv4Addr::LOCALHOST, self.port)).await.is_err() {
                tokio::time::sleep(Duration::from_millis(20)).await;
            }
        };
        if timeout(DEADLINE, answers).await.is_err() {
            panic!("no broker: {}", std::fs::read_to_string(self.path("log")).unwrap_or_default());
        }
    }

    /// Ends it and lets it save what it keeps.
    async fn end(&mut self) {
        match std::mem::replace(&mut self.running, Running::No) {
            Running::No => {}
            Running::Own(broker) => broker.stop().await.expect("it stops"),
            Running::Mosquitto(mut child) => {
                let told = Command::new("kill").arg(child.id().to_string()).status();
                assert!(told.expect("kill runs").success());
                tokio::task::spawn_blocking(move || child.wait()).await.expect("joined").expect("ended");
            }
        }
    }
}

impl Drop for AnyBroker {
    fn drop(&mut self) {
        if let Running::Mosquitto(child) = &mut self.running {
            let _ = child.kill();
            let _ = child.wait();
        }
    }
}

const PASSWORDS: [(&str, &str); 4] = [("hub", "h"), ("3", "w"), ("door", "d"), ("aisle", "a")];

fn own_accounts(folder: &Path) -> Accounts {
    let lines = PASSWORDS.map(|(user, password)| account_line(user, password).expect("a hash"));
    let (passwords, permissions) = (folder.join("passwords"), folder.join("permissions"));
    std::fs::write(&passwords, lines.concat()).expect("written");
    std::fs::write(
        &permissions,
        "user hub topic barn/# permission readwrite\n\
         user hub topic homie/5/# permission read\n\
         user 3 topic barn/stall/3/# permission write\n\
         user door topic barn/reader/door/tap permission write\n",
    )
    .expect("written");
    Accounts { passwords, permissions: Some(permissions) }
}

/// The shipped settings beside Debian's own, with the folder of this test in place of the system's.
fn mosquitto_conf(folder: &Path, listener: &str, accounts: bool) -> PathBuf {
    let shipped = Path::new(env!("CARGO_MANIFEST_DIR")).join("../deploy/mosquitto");
    let passwords = folder.join("passwords");
    std::fs::write(&passwords, "").expect("written");
    for (user, password) in PASSWORDS {
        let made = Command::new("mosquitto_passwd").arg("-b").arg(&passwords).args([user, password]).status();
        assert!(made.expect("mosquitto_passwd runs").success());
    }
    let here = folder.display();
    let mut conf = std::fs::read_to_string(shipped.join("bellmare.conf"))
        .expect("the shipped settings")
        .replace("listener 1883", &format!("listener {listener}"))
        .replace("/etc/mosquitto/bellmare.passwords", &format!("{here}/passwords"))
        .replace("/etc/mosquitto/bellmare.acl", &shipped.join("bellmare.acl").display().to_string());
    if !accounts {
        conf = conf.replace("allow_anonymous false", "allow_anonymous true").replace("acl_file", "# acl_file");
    }
    let beside = folder.join("conf.d");
    std::fs::create_dir_all(&beside).expect("a folder");
    std::fs::write(beside.join("bellmare.conf"), conf).expect("written");
    // Debian's own, as far as it matters: the shipped settings must not say again what stands there.
    let path = folder.join("mosquitto.conf");
    let debian = format!("persistence true\npersistence_location {here}/\nuser root\ninclude_dir {here}/conf.d\n");
    std::fs::write(&path, debian).expect("written");
    path
}

/// The hub's end of a connection.
struct Hub {
    heard: mpsc::Receiver<Intake>,
    acker: Acker,
    ledger: Arc<Ledger>,
    stop: watch::Sender<bool>,
    task: JoinHandle<()>,
    /// What the broker had kept may come before it grants the subscriptions anew.
    early: VecDeque<Message>,
}

/// A line to a broker, with or without a certificate to trust.
fn line(host: &str, port: u16, ca_file: Option<PathBuf>) -> Mqtt {
    let tls = ca_file.map(|ca_file| settings::Tls { ca_file: Some(ca_file) });
    let settings = settings::Mqtt {
        broker: settings::Broker::External { host: host.to_owned(), port, tls },
        login: None,
        client_id: "bellmare-hub".to_owned(),
        prefix: "barn".to_owned(),
        watch: Vec::new(),
    };
    Mqtt::of(&settings).expect("good settings").expect("a broker elsewhere")
}

impl Hub {
    fn connect(port: u16, login: Option<(&str, &str)>, capacity: usize) -> Self {
        let mut mqtt = line("127.0.0.1", port, None);
        mqtt.login = login.map(|(user, password)| (user.to_owned(), password.to_owned()));
        Self::run(&mqtt, capacity)
    }

    fn run(mqtt: &Mqtt, capacity: usize) -> Self {
        let rule = TopicRule {
            topic: "barn/stall/+/water".into(),
            binds: Some("stall".into()),
            format: "number".into(),
            quantity: Some("level".into()),
            unit: Some("mm".into()),
            ..TopicRule::default()
        };
        let mut complaints = Vec::new();
        let map = topic_map("barn", &["homie/5".into()], &[rule], &mut complaints);
        assert_eq!(complaints, []);
        let connection = Connection::new(mqtt, None);
        let (out, heard) = mpsc::channel(capacity);
        let (stop, stopped) = watch::channel(false);
        let (acker, ledger) = (connection.acker(), Arc::new(Ledger::default()));
        let ears = Ears::new(map, ledger.clone(), || WallClock::Unset, out);
        let task = tokio::spawn(connection.run(ears, stopped));
        Self { heard, acker, ledger, stop, task, early: VecDeque::new() }
    }

    async fn up(port: u16) -> Self {
        let mut hub = Self::connect(port, None, INTAKE_CAPACITY);
        hub.becomes_up().await;
        hub
    }

    async fn next(&mut self) -> Intake {
        timeout(DEADLINE, self.heard.recv()).await.expect("something is heard in time").expect("it runs")
    }

    async fn becomes_up(&mut self) {
        loop {
            match self.next().await {
                Intake::Line(Line::Up) => return,
                Intake::Line(Line::Down(reason)) => assert!(!reason.is_empty()),
                Intake::Message(message) => self.early.push_back(message),
            }
        }
    }

    async fn message(&mut self) -> Message {
        if let Some(message) = self.early.pop_front() {
            return message;
        }
        match self.next().await {
            Intake::Message(message) => message,
            Intake::Line(line) => panic!("{line:?} and no message"),
        }
    }

    fn ack(&self, ack: Option<Ack>) {
        match ack {
            Some(Ack::Session(ack)) => self.acker.ack(ack),
            other => panic!("{other:?} of a message of QoS 1"),
        }
    }

    /// Gone without a word, as by kill -9: the socket closes and nothing is said.
    async fn crash(self) {
        self.task.abort();
        let _ = self.task.await;
    }
}

fn level(stall: &str, millimetres: f64) -> Vec<Input> {
    let sensor = Sensor::Water(StallId::from(stall));
    vec![Input::Reading(Reading { sensor, measured: Measured::Level(Millimetres(millimetres)), own_time: None })]
}

/// Publishes by another client and waits until the broker has all of it: of QoS 0 nobody says so, but the broker has it
/// once it has what was sent behind it.
async fn publish(port: u16, qos: QoS, messages: &[(&str, &str)]) {
    let (client, mut events) = AsyncClient::new(MqttOptions::new("sensor", "127.0.0.1", port), messages.len() + 2);
    for (topic, payload) in messages {
        client.try_publish(*topic, qos, false, payload.as_bytes().to_vec()).expect("room");
    }
    client.try_publish("barn/end", QoS::AtLeastOnce, false, "").expect("room");
    let mut due = if qos == QoS::AtMostOnce { 1 } else { messages.len() + 1 };
    let done = async {
        while due > 0 {
            if let Event::Incoming(Packet::PubAck(_)) = events.poll().await.expect("the broker takes it") {
                due -= 1;
            }
        }
    };
    timeout(DEADLINE, done).await.expect("published in time");
}

/// Publishes by mosquitto's own client, in MQTT 3.1.1 unless told, as most sensors do.
async fn mosquitto_pub(port: u16, arguments: &[&str]) -> String {
    let mut command = Command::new("mosquitto_pub");
    command.args(["-q", "1", "-p", &port.to_string()]).args(arguments);
    let run = tokio::task::spawn_blocking(move || command.output().expect("mosquitto_pub runs"));
    let output = timeout(DEADLINE, run).await.expect("in time").expect("joined");
    assert!(output.status.success(), "{output:?}");
    String::from_utf8_lossy(&output.stderr).into_owned()
}

async fn unacknowledged_comes_again(make: Make) {
    let Some(broker) = AnyBroker::start(make, false).await else { return };
    let port = broker.port;
    let mut hub = Hub::up(port).await;
    mosquitto_pub(port, &["-t", "barn/stall/3/water", "-m", "212"]).await;
    let first = hub.message().await;
    assert_eq!((&first.inputs, first.dup), (&level("3", 212.0), false));
    hub.crash().await;

    let mut hub = Hub::up(port).await;
    let again = hub.message().await;
    assert_eq!((&again.inputs, again.dup), (&level("3", 212.0), true), "it was not acknowledged, so it comes again");
    assert_eq!(again.delivery, first.delivery, "and is known as the same");
    hub.ack(again.ack);
    publish(port, QoS::AtLeastOnce, &[("barn/stall/4/water", "180")]).await;
    let second = hub.message().await;
    assert_eq!(second.inputs, level("4", 180.0));
    assert_ne!(second.delivery, first.delivery);
    hub.crash().await;

    let mut hub = Hub::up(port).await;
    assert_eq!(hub.message().await.inputs, level("4", 180.0), "the acknowledged one does not come again");
    hub.stop.send_replace(true);
    timeout(DEADLINE, hub.task).await.expect("it ends when told").expect("well");
}

async fn a_broker_that_dies_is_found_again(make: Make) {
    let Some(mut broker) = AnyBroker::start(make, false).await else { return };
    let port = broker.port;
    let mut hub = Hub::up(port).await;
    publish(port, QoS::AtLeastOnce, &[("barn/stall/3/water", "212")]).await;
    let before = hub.message().await;
    broker.end().await;
    let Intake::Line(Line::Down(reason)) = hub.next().await else { panic!("it is cut") };
    assert!(!reason.is_empty());
    broker.again().await;
    hub.becomes_up().await;
    let after = hub.message().await;
    assert_eq!(after.inputs, level("3", 212.0), "the session was kept");
    assert_ne!(before.ack, after.ack);

    // An acknowledgement of the line that was cut does not count on this one.
    hub.ack(before.ack);
    publish(port, QoS::AtLeastOnce, &[("barn/stall/4/water", "180")]).await;
    assert_eq!(hub.message().await.inputs, level("4", 180.0), "the subscription holds");
    hub.crash().await;
    let mut hub = Hub::up(port).await;
    assert_eq!(hub.message().await.inputs, level("3", 212.0));
    assert_eq!(hub.message().await.inputs, level("4", 180.0));
}

async fn says_whether_it_is_there(make: Make) {
    let Some(broker) = AnyBroker::start(make, false).await else { return };
    let (client, mut events) = AsyncClient::new(MqttOptions::new("watcher", "127.0.0.1", broker.port), 4);
    client.try_subscribe("barn/hub/availability", QoS::AtLeastOnce).expect("room");
    let (said, mut says) = mpsc::channel(8);
    let watcher = tokio::spawn(async move {
        while let Ok(event) = events.poll().await {
            if let Event::Incoming(Packet::Publish(publish)) = event
                && said.send(String::from_utf8_lossy(&publish.payload).into_owned()).await.is_err()
            {
                return;
            }
        }
    });
    let mut next = async || timeout(DEADLINE, says.recv()).await.expect("in time").expect("it watches");
    let hub = Hub::up(broker.port).await;
    assert_eq!(next().await, "online");
    hub.crash().await;
    assert_eq!(next().await, "offline", "by last will");
    let hub = Hub::up(broker.port).await;
    assert_eq!(next().await, "online");
    hub.stop.send_replace(true);
    timeout(DEADLINE, hub.task).await.expect("it ends when told").expect("well");
    assert_eq!(next().await, "offline", "by its own word");
    watcher.abort();
}

async fn what_says_nothing_is_acknowledged_at_once(make: Make) {
    let Some(broker) = AnyBroker::start(make, false).await else { return };
    let mut hub = Hub::up(broker.port).await;
    // More than may be unacknowledged: were they not acknowledged, the last would never come.
    let refused = [("barn/stall/3/water", "full"); 600];
    let unplaced = [("barn/stall/3/watr", "212"); 600];
    publish(broker.port, QoS::AtLeastOnce, &refused).await;
    publish(broker.port, QoS::AtLeastOnce, &unplaced).await;
    publish(broker.port, QoS::AtLeastOnce, &[("barn/stall/3/water", "212")]).await;
    assert_eq!(hub.message().await.inputs, level("3", 212.0));
    let account = hub.ledger.account();
    assert_eq!(account.refused["barn/stall/3/water"].count, 600);
    assert_eq!(account.unplaced["barn/stall/3/watr"].count, 600);
    hub.crash().await;
}

async fn a_flood_without_receipt_leaves_room_for_what_has_one(make: Make) {
    let Some(broker) = AnyBroker::start(make, false).await else { return };
    let mut hub = Hub::connect(broker.port, None, 16);
    hub.becomes_up().await;
    let flood: Vec<_> = (0..200).map(|at| ("barn/stall/3/water", if at % 2 == 0 { "1" } else { "2" })).collect();
    publish(broker.port, QoS::AtMostOnce, &flood).await;
    let all_there = async {
        while hub.ledger.account().overflowed < 200 - 8 {
            tokio::time::sleep(Duration::from_millis(10)).await;
        }
    };
    timeout(DEADLINE, all_there).await.expect("what finds no room is counted");
    publish(broker.port, QoS::AtLeastOnce, &[("barn/stall/4/water", "180")]).await;
    for _ in 0..8 {
        let message = hub.message().await;
        assert_eq!((message.delivery, message.ack), (None, None), "QoS 0 takes half the room");
    }
    assert_eq!(hub.message().await.inputs, level("4", 180.0));
    hub.crash().await;
}

async fn a_hub_that_is_behind_holds_up_and_loses_nothing(make: Make) {
    let Some(broker) = AnyBroker::start(make, false).await else { return };
    let mut hub = Hub::connect(broker.port, None, 8);
    hub.becomes_up().await;
    let levels: Vec<String> = (0..300).map(|level| level.to_string()).collect();
    let messages: Vec<_> = levels.iter().map(|level| ("barn/stall/3/water", level.as_str())).collect();
    publish(broker.port, QoS::AtLeastOnce, &messages).await;
    for level_mm in 0..300 {
        let message = hub.message().await;
        assert_eq!((message.inputs, message.dup), (level("3", f64::from(level_mm)), false));
        hub.ack(message.ack);
    }
    hub.crash().await;
}

async fn accounts_keep_devices_to_their_own(make: Make) {
    let Some(broker) = AnyBroker::start(make, true).await else { return };
    let port = broker.port;
    let mut hub = Hub::connect(port, Some(("hub", "wrong")), INTAKE_CAPACITY);
    let Intake::Line(Line::Down(reason)) = hub.next().await else { panic!("a wrong password does") };
    assert!(reason.starts_with("the broker refuses the hub: "), "{reason}");
    hub.crash().await;

    let mut hub = Hub::connect(port, Some(("hub", "h")), INTAKE_CAPACITY);
    hub.becomes_up().await;
    for (user, password, topic) in [
        ("3", "w", "barn/stall/4/water"),
        ("3", "w", "barn/reader/door/tap"),
        ("3", "w", "barn/hub/availability"),
        ("door", "d", "barn/stall/3/water"),
    ] {
        let told = mosquitto_pub(port, &["-V", "5", "-u", user, "-P", password, "-t", topic, "-m", "999"]).await;
        assert!(told.contains("Not authorized"), "{user} on {topic}: {told}");
    }
    mosquitto_pub(port, &["-u", "door", "-P", "d", "-t", "barn/reader/door/tap", "-m", "04A1"]).await;
    mosquitto_pub(port, &["-u", "3", "-P", "w", "-t", "barn/stall/3/water", "-m", "212"]).await;
    assert_eq!(hub.message().await.inputs, level("3", 212.0), "and nothing of what was denied");
    let unplaced: Vec<_> = hub.ledger.account().unplaced.into_keys().collect();
    assert_eq!(unplaced, ["barn/reader/door/tap"], "the reader's own came through");
    hub.crash().await;
}

macro_rules! with_each_broker {
    ($($scenario:ident),+ $(,)?) => {
        mod own { $(#[tokio::test] async fn $scenario() { super::$scenario(super::Make::Own).await; })+ }
        mod mosquitto { $(#[tokio::test] async fn $scenario() { super::$scenario(super::Make::Mosquitto).await; })+ }
    };
}

with_each_broker!(
    unacknowledged_comes_again,
    a_broker_that_dies_is_found_again,
    says_whether_it_is_there,
    what_says_nothing_is_acknowledged_at_once,
    a_flood_without_receipt_leaves_room_for_what_has_one,
    a_hub_that_is_behind_holds_up_and_loses_nothing,
    accounts_keep_devices_to_their_own,
);

/// Certificates by openssl: one that vouches, and the broker's own for 127.0.0.1.
fn certificates(folder: &Path, of: &str) {
    let script = format!(
        "openssl req -x509 -newkey rsa:2048 -nodes -keyout {of}-ca.key -out {of}-ca.pem -days 2 -subj /CN={of} \
         -addext basicConstraints=critical,CA:TRUE &&
         openssl req -newkey rsa:2048 -nodes -keyout {of}.key -out {of}.csr -subj /CN=broker &&
         printf 'subjectAltName=IP:127.0.0.1\\nbasicConstraints=CA:FALSE\\n' > {of}.ext &&
         openssl x509 -req -in {of}.csr -CA {of}-ca.pem -CAkey {of}-ca.key -CAcreateserial -days 2 -extfile {of}.ext -out {of}.pem"
    );
    let made = Command::new("sh").args(["-c", &script]).current_dir(folder).output().expect("sh runs");
    assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stderr));
}

#[tokio::test]
async fn tls_is_spoken_to_the_broker_that_is_vouched_for_and_no_other() {
    let Some(mut broker) = AnyBroker::start(Make::Mosquitto, false).await else { return };
    if Command::new("openssl").arg("version").output().is_err() {
        eprintln!("SKIPPED: openssl is not installed, so TLS was not tried");
        return;
    }
    broker.end().await;
    certificates(broker.folder.path(), "barn");
    certificates(broker.folder.path(), "stranger");
    let here = broker.folder.path().display();
    broker.more = format!("cafile {here}/barn-ca.pem\ncertfile {here}/barn.pem\nkeyfile {here}/barn.key\n");
    broker.again().await;
    let trusting = |ca: &str| line("127.0.0.1", broker.port, Some(broker.path(ca)));

    let mut hub = Hub::run(&trusting("stranger-ca.pem"), INTAKE_CAPACITY);
    let Intake::Line(Line::Down(reason)) = hub.next().await else { panic!("nobody vouches for it") };
    assert!(reason.contains("certificate"), "{reason}");
    hub.crash().await;

    let mut hub = Hub::run(&trusting("barn-ca.pem"), INTAKE_CAPACITY);
    hub.becomes_up().await;
    let ca = broker.path("barn-ca.pem").display().to_string();
    mosquitto_pub(broker.port, &["-h", "127.0.0.1", "--cafile", &ca, "-t", "barn/stall/3/water", "-m", "212"]).await;
    assert_eq!(hub.message().await.inputs, level("3", 212.0));
    hub.crash().await;
}

#[tokio::test]
async fn a_broker_is_reached_over_ipv6() {
    let Ok(free) = std::net::TcpListener::bind((Ipv6Addr::LOCALHOST, 0)) else {
        eprintln!("SKIPPED: this machine has no IPv6");
        return;
    };
    drop(free);
    let folder = tempfile::tempdir().expect("a folder");
    let listen = SocketAddr::from((Ipv6Addr::LOCALHOST, 0));
    let settings = BrokerSettings { listen, data: folder.path().to_owned(), accounts: None };
    let broker = Broker::start(settings, None).await.expect("any free port");
    let mut hub = Hub::run(&line("::1", broker.address().port(), None), INTAKE_CAPACITY);
    hub.becomes_up().await;
    hub.crash().await;
    broker.stop().await.expect("it stops");
}

#[tokio::test]
async fn the_hubs_own_broker_says_why_it_can_not_start() {
    let folder = tempfile::tempdir().expect("a folder");
    let data = folder.path().join("data");
    let any = SocketAddr::from((Ipv4Addr::LOCALHOST, 0));
    let first = BrokerSettings { listen: any, data: data.clone(), accounts: None };
    let first = Broker::start(first, None).await.expect("any free port");
    assert_ne!(first.address().port(), 0);
    let check = async |settings: BrokerSettings, want: &str| {
        let error = Broker::start(settings, None).await.expect_err(want).to_string();
        assert!(error.contains(want), "{error}");
    };
    let taken = first.address();
    let taken_settings = BrokerSettings { listen: taken, data: folder.path().join("other"), accounts: None };
    assert!(
        matches!(Broker::start(taken_settings.clone(), None).await, Err(BrokerError::PortInUse(port)) if port == taken)
    );
    check(taken_settings, &format!("port {} on 127.0.0.1 is in use", taken.port())).await;
    let open = SocketAddr::from((Ipv4Addr::UNSPECIFIED, 0));
    check(
        BrokerSettings { listen: open, data: data.clone(), accounts: None },
        "needs a password file (broker.passwords)",
    )
    .await;
    let accounts = |passwords: &str| {
        let path = folder.path().join("passwords");
        std::fs::write(&path, passwords).expect("written");
        Some(Accounts { passwords: path, permissions: None })
    };
    let bad = accounts("# who\nhub:$argon2id$x\nhub:secret\n");
    check(BrokerSettings { listen: any, data: data.clone(), accounts: bad }, "passwords line 3: user:hash").await;
    let missing = Some(Accounts { passwords: folder.path().join("none"), permissions: None });
    check(BrokerSettings { listen: any, data, accounts: missing }, "can not use ").await;
    let file = folder.path().join("passwords");
    check(BrokerSettings { listen: any, data: file, accounts: None }, "can not use ").await;
    assert!(matches!(account_line("a:b", "x"), Err(BrokerError::User(_))));
    assert!(matches!(account_line(" ", "x"), Err(BrokerError::User(_))));
    assert!(first.is_running());
    first.stop().await.expect("it stops");
}

#[test]
fn waits_longer_and_never_too_long() {
    for (attempt, low, high) in [(0, 100, 125), (1, 100, 125), (2, 150, 250), (5, 1_200, 2_000), (9, 19_200, 30_000)] {
        let millis = backoff(attempt).as_millis();
        assert!((low..=high).contains(&millis), "{attempt}: {millis} ms");
    }
    for attempt in 9..1000 {
        assert!((19_200..=30_000).contains(&backoff(attempt).as_millis()), "{attempt}");
    }
    assert!(backoff(u32::MAX) <= Duration::from_secs(30));
}

#[test]
fn an_acknowledgement_that_finds_no_room_waits_for_it() {
    let connection = Connection::new(&line("127.0.0.1", 1, None), None);
    let acker = connection.acker();
    // Nobody polls the connection, so its queue fills; a broker may well have sent more than it should.
    for pkid in 1..=5_000 {
        acker.ack(SessionAck { connection: 0, pkid });
    }
    let waiting: Vec<_> = acker.lock().pkids.iter().copied().collect();
    assert!(!waiting.is_empty() && waiting.len() < 5_000, "{} wait", waiting.len());
    assert_eq!(waiting.last(), Some(&5_000));
    assert!(waiting.is_sorted(), "in the order of their arrival");
    acker.forget();
    assert!(acker.lock().pkids.is_empty(), "none outlives its connection");
}
