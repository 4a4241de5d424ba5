//! The sensors and readers of the invented barn. Each publishes as its kind does: the left row's water as bare numbers, the
//! right row's as SenML, the aisle's climate as JSON, the arena's as a Homie device, badges as text.

use std::collections::BTreeSet;
use std::net::SocketAddr;
use std::time::Duration;

use bellmare_barn::book::{Book, Role, Side};
use bellmare_barn::time::Wall;
use bellmare_barn::units::Fahrenheit;
use chrono::NaiveDate;
use rumqttc::v5::mqttbytes::QoS;
use rumqttc::v5::mqttbytes::v5::LastWill;
use rumqttc::v5::{AsyncClient, MqttOptions};
use tokio::sync::watch;
use tokio::task::JoinHandle;

use super::World;
use super::chance::Chance;
use super::script::{self, Turn};
use super::water::Bucket;

/// A sensor speaks once a minute.
const CADENCE_MS: u64 = 60_000;
/// Every so many minutes a sensor tells its battery.
const BATTERY_EVERY: u64 = 20;
/// An hour in milliseconds.
const HOUR_MS: i64 = 3_600_000;
/// The aisle is so many degrees Fahrenheit cooler than the arena,
const AISLE_COOLER_F: f64 = 3.0;
/// and so many percent drier.
const AISLE_DRIER: f64 = 1.0;
/// What a sensor reads with straw before it, in millimetres: nothing is nearer that it can tell.
const STRAW_MM: f64 = 25.0;

/// All of them.
pub(super) struct Devices {
    world: World,
    broker: SocketAddr,
    stalls: Vec<StallSensor>,
    /// Vessels besides those of the stalls, by name.
    others: Vec<(String, Bucket)>,
    badges: Vec<(u16, &'static str, String)>,
    done: BTreeSet<usize>,
    minute: u64,
}

struct StallSensor {
    stall: String,
    side: Side,
    bucket: Bucket,
    battery: f64,
    speaks: bool,
    blocked: bool,
    /// What it says again and again.
    stuck: Option<f64>,
}

impl Devices {
    pub(super) fn new(world: World, book: &Book, broker: SocketAddr) -> Self {
        let with_bucket = book.stalls.iter().filter_map(|stall| stall.vessel.clone().map(|vessel| (stall, vessel)));
        let mut stalls: Vec<StallSensor> = with_bucket
            .enumerate()
            .map(|(place, (stall, vessel))| {
                let share = script::SHARES.iter().find(|(at, _)| *at == place).map_or(0.9, |(_, share)| *share);
                let seed = place as u64 + 1;
                StallSensor {
                    stall: stall.id.to_string(),
                    side: stall.side,
                    bucket: Bucket::new(vessel, share, Chance::new(seed)),
                    battery: 62.0 + 2.0 * (place % 17) as f64,
                    speaks: place != script::NEVER_HEARD,
                    blocked: false,
                    stuck: None,
                }
            })
            .collect();
        let others = book.buckets.iter().enumerate().map(|(n, bucket)| {
            (bucket.id.to_string(), Bucket::new(bucket.vessel.clone(), 0.8, Chance::new(1000 + n as u64)))
        });
        let others = others.collect();
        if let Some(sensor) = stalls.get_mut(script::LEFT_ALONE) {
            sensor.bucket.leave_alone();
        }
        // The demo's clock is set; without one nobody is on any sheet.
        let today = world.zone.date(world.clock.now().wall.get().unwrap_or(Wall(0)));
        let badges = badges(book, today);
        Self { world, broker, stalls, others, badges, done: BTreeSet::new(), minute: 0 }
    }

    pub(super) async fn run(mut self, mut stop: watch::Receiver<bool>) {
        let (client, line) = connect("demo-devices", self.broker, None);
        announce_arena(&client);
        self.tell_of_days_before(&client);
        let mut own_line = self.find_line();
        loop {
            self.turns(&mut own_line);
            self.taps(&client);
            self.oddities(&client);
            self.publish(&client, own_line.as_ref().map(|(client, _)| client));
            self.minute += 1;
            tokio::select! {
                () = self.world.sleep_ms(CADENCE_MS) => {}
                // An error means that the demo is gone.
                _ = stop.wait_for(|stop| *stop) => break,
            }
        }
        line.abort();
        if let Some((_, line)) = own_line {
            line.abort();
        }
    }

    /// What the script has for this minute.
    fn turns(&mut self, own_line: &mut Option<(AsyncClient, JoinHandle<()>)>) {
        let now = self.world.time();
        for (n, (hour, minute, place, turn)) in script::TURNS.iter().enumerate() {
            if !script::has_come((*hour, *minute), now) || !self.done.insert(n) {
                continue;
            }
            match turn {
                Turn::LoseLine => {
                    // Its task goes without a word, so the broker tells its last will.
                    if let Some((_, line)) = own_line.take() {
                        line.abort();
                    }
                }
                Turn::FindLine => *own_line = self.find_line(),
                _ => {}
            }
            let Some(sensor) = self.stalls.get_mut(*place) else { continue };
            match turn {
                Turn::Spill => sensor.bucket.spill(),
                Turn::Fill => sensor.bucket.fill(),
                Turn::Stop => sensor.speaks = false,
                Turn::Resume => sensor.speaks = true,
                Turn::Blocked => sensor.blocked = true,
                Turn::Clear => sensor.blocked = false,
                Turn::Leak(litres_an_hour) => sensor.bucket.leak(*litres_an_hour),
                Turn::Stuck => sensor.stuck = Some(sensor.bucket.measure()),
                Turn::SetRight => sensor.stuck = None,
                Turn::Battery(left) => sensor.battery = *left,
                Turn::LoseLine | Turn::FindLine => {}
            }
        }
        for (n, round) in script::ROUNDS.iter().enumerate() {
            if script::has_come(*round, now) && self.done.insert(1000 + n) {
                let dry = |sensor: &&mut StallSensor| sensor.bucket.share() < script::ROUND_FILLS;
                self.stalls.iter_mut().filter(dry).for_each(|sensor| sensor.bucket.fill());
            }
        }
    }

    fn publish(&mut self, client: &AsyncClient, own_line: Option<&AsyncClient>) {
        let tell_battery = self.minute.is_multiple_of(BATTERY_EVERY);
        for (place, sensor) in self.stalls.iter_mut().enumerate() {
            sensor.bucket.pass(1.0 / 60.0);
            let sees = if sensor.blocked { STRAW_MM } else { sensor.bucket.measure() };
            let level = sensor.stuck.unwrap_or(sees);
            let client = if place == script::OWN_LINE { own_line } else { Some(client) };
            let Some(client) = client.filter(|_| sensor.speaks) else { continue };
            let stall = &sensor.stall;
            if sensor.side == Side::Left || place == script::OWN_LINE {
                say(client, &format!("barn/stall/{stall}/water"), &format!("{level:.0}"));
                if tell_battery {
                    say(client, &format!("barn/stall/{stall}/water/battery"), &format!("{:.0}", sensor.battery));
                }
            } else {
                let metres = level / 1000.0;
                let battery = sensor.battery;
                let pack = format!(
                    r#"[{{"bn":"urn:dev:ow:10e2073a010{place:02}:","n":"level","u":"m","v":{metres:.3}}},{{"n":"battery","u":"%EL","v":{battery:.0}}}]"#
                );
                say(client, &format!("barn/stall/{stall}/pack"), &pack);
            }
        }
        for (name, bucket) in &mut self.others {
            bucket.pass(1.0 / 60.0);
            say(client, &format!("barn/bucket/{name}/water"), &format!("{:.0}", bucket.measure()));
        }
        let (fahrenheit, humidity) = script::air(f64::from(self.world.time().minutes()));
        let arena = Fahrenheit(fahrenheit).celsius().get();
        let aisle = Fahrenheit(fahrenheit - AISLE_COOLER_F).celsius().get();
        let aisle_humidity = humidity - AISLE_DRIER;
        say(client, "barn/place/aisle/climate", &format!(r#"{{"air":{{"t":{aisle:.2},"rh":{aisle_humidity:.1}}}}}"#));
        say(client, "homie/5/arena-air/air/temperature", &format!("{arena:.2}"));
        say(client, "homie/5/arena-air/air/humidity", &format!("{humidity:.1}"));
    }

    /// A logger at each place tells what it has kept of the last days, hour by hour, a pack for each day.
    fn tell_of_days_before(&self, client: &AsyncClient) {
        let Some(now) = self.world.clock.now().wall.get() else { return };
        let zone = self.world.zone;
        for days in (0..=script::DAYS_KEPT).rev() {
            let day = zone.day(zone.date(now.plus(-days * 24 * HOUR_MS)));
            // Of today up to now, by the script of the days before: its own begins at eight.
            let hours = (0..24).map(|hour| hour * 60 + 30).filter(|minute| day.wall(*minute) < now);
            let kept = hours.filter_map(|minute| Some((minute, script::air_before(days.max(1), minute as f64)?)));
            let kept: Vec<_> = kept.collect();
            for (place, cooler, drier) in [("arena", 0.0, 0.0), ("aisle", AISLE_COOLER_F, AISLE_DRIER)] {
                let records = kept.iter().map(|(minute, (fahrenheit, humidity))| {
                    let seconds = day.wall(*minute).0 / 1000;
                    let celsius = Fahrenheit(fahrenheit - cooler).celsius().get();
                    format!(
                        r#"{{"n":"temperature","u":"Cel","v":{celsius:.2},"t":{seconds}}},{{"n":"humidity","u":"%RH","v":{:.1},"t":{seconds}}}"#,
                        humidity - drier
                    )
                });
                let records: Vec<_> = records.collect();
                if !records.is_empty() {
                    say(client, &format!("barn/place/{place}/logger"), &format!("[{}]", records.join(",")));
                }
            }
        }
    }

    fn taps(&mut self, client: &AsyncClient) {
        let now = self.world.time().minutes();
        let (due, later): (Vec<_>, _) = std::mem::take(&mut self.badges).into_iter().partition(|tap| tap.0 <= now);
        self.badges = later;
        for (_, reader, badge) in due {
            say(client, &format!("barn/badge/{reader}"), &badge);
        }
    }

    fn oddities(&mut self, client: &AsyncClient) {
        let now = self.world.time();
        if script::has_come(script::GARBLED, now) && self.done.insert(2000) {
            say(client, "barn/place/aisle/climate", r#"{"air":{"t":"warm"}}"#);
        }
        if script::has_come(script::UNPLACED, now) {
            say(client, "barn/hayloft/smoke", "0.02");
        }
    }

    fn find_line(&self) -> Option<(AsyncClient, JoinHandle<()>)> {
        let stall = &self.stalls.get(script::OWN_LINE)?.stall;
        let topic = format!("barn/stall/{stall}/water/state");
        let will = LastWill::new(topic.clone(), "offline", QoS::AtLeastOnce, true, None);
        let line = connect(&format!("demo-water-{stall}"), self.broker, Some(will));
        keep(&line.0, &topic, "online");
        Some(line)
    }
}

/// When who holds a badge to which reader: grooms by the shift sheet, or soon after the day begins; the others one by one,
/// of whom some go home after noon; and a stranger tries.
fn badges(book: &Book, day: NaiveDate) -> Vec<(u16, &'static str, String)> {
    let order =
        [Role::Staff, Role::Groom, Role::HorseLeader, Role::Manager, Role::EquineProfessional, Role::SideWalker];
    let mut people: Vec<_> = book.people.values().filter(|person| order.contains(&person.role)).collect();
    people.sort_by_key(|person| (order.iter().position(|role| *role == person.role), person.id.clone()));
    let (hour, minute, times, stranger) = script::STRANGER;
    let mut taps: Vec<_> = (0..times).map(|n| (hour * 60 + minute + n, "door", stranger.to_owned())).collect();
    let begins = script::BEGINS.3 * 60 + script::BEGINS.4;
    let badged = people.into_iter().filter_map(|person| Some((person, person.badge.as_ref()?.to_string())));
    for (n, (person, badge)) in (0_u16..).zip(badged) {
        if person.role == Role::Groom {
            for line in book.shifts.iter().filter(|line| line.person == person.id && line.days.include(day)) {
                let comes = (line.from.minutes().saturating_sub(4) + n % 3).max(begins + n % 3);
                taps.push((comes, "door", badge.clone()));
                taps.push((line.to.minutes() + 2 + n % 3, "back-door", badge.clone()));
            }
            continue;
        }
        taps.push((begins + 1 + 2 * n, "door", badge.clone()));
        if n % 4 == 3 {
            taps.push((12 * 60 + 5 + n, "back-door", badge));
        }
    }
    taps
}

fn announce_arena(client: &AsyncClient) {
    let description = r#"{"homie":"5.0","version":1,"name":"Arena air","nodes":{"air":{"name":"Air","properties":{"temperature":{"name":"Temperature","datatype":"float","unit":"°C","retained":true},"humidity":{"name":"Humidity","datatype":"float","unit":"%","retained":true}}}}}"#;
    keep(client, "homie/5/arena-air/$state", "init");
    keep(client, "homie/5/arena-air/$description", description);
    keep(client, "homie/5/arena-air/$state", "ready");
}

/// A line to the broker that comes back by itself while its task runs.
fn connect(id: &str, broker: SocketAddr, will: Option<LastWill>) -> (AsyncClient, JoinHandle<()>) {
    let mut options = MqttOptions::new(id, broker.ip().to_string(), broker.port());
    options.set_keep_alive(Duration::from_secs(5));
    options.set_outgoing_inflight_upper_limit(64);
    if let Some(will) = will {
        options.set_last_will(will);
    }
    let (client, mut line) = AsyncClient::new(options, 512);
    let task = tokio::spawn(async move {
        loop {
            if line.poll().await.is_err() {
                tokio::time::sleep(Duration::from_millis(200)).await;
            }
        }
    });
    (client, task)
}

fn say(client: &AsyncClient, topic: &str, payload: &str) {
    publish(client, topic, payload, false);
}

fn keep(client: &AsyncClient, topic: &str, payload: &str) {
    publish(client, topic, payload, true);
}

fn publish(client: &AsyncClient, topic: &str, payload: &str, retain: bool) {
    if let Err(why) = client.try_publish(topic, QoS::AtLeastOnce, retain, payload.to_owned()) {
        // A sensor has no room either when its broker is away for long.
        tracing::debug!(topic, %why, "a made-up reading was lost");
    }
}
