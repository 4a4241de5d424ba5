//! The hub is killed at random moments under load, again and again. Every message that the broker has been told of having
//! arrived must be in the journal, and in it once.

use std::collections::BTreeMap;
use std::ops::ControlFlow;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use bellmare_barn::input::{Input, Measured};
use bellmare_hub::journal::{Journal, Options};
use bellmare_tests::client::{publish_all, publish_doggedly};
use bellmare_tests::hub::{Broker, Hub};
use bellmare_tests::mosquitto::Mosquitto;
use bellmare_tests::wait::until;

const KILLS: u32 = 50;
const STALLS: u32 = 20;
/// So many sensors at once speak to the hub's own broker.
const SENSORS: u32 = 4;
/// How many messages are sent in one go before the next look at whether the killing is over.
const GO: u32 = 500;
/// A go takes at least this long: 2,500 messages a second. Faster than the hub can be while it is killed all the time, the
/// broker's own queue (max_queued_messages) overflows, and that is not what is tried here.
const GO_TAKES: Duration = Duration::from_millis(200);

#[test]
fn killed_fifty_times_under_load_it_loses_nothing_and_takes_nothing_twice() {
    let mosquitto = Mosquitto::start();
    let mut hub = Hub::new(STALLS, Broker::At(mosquitto.port), "");
    // The session must be there before the first message, or the broker has nobody to keep it for.
    hub.start();
    wait_for_line(&hub);
    let over = AtomicBool::new(false);
    let port = mosquitto.port;
    let sent = std::thread::scope(|scope| {
        let sending = scope.spawn(|| {
            let mut next = 0;
            while !over.load(Ordering::Relaxed) {
                let began = Instant::now();
                let messages = (next..next + GO).map(message);
                let acknowledged = publish_all(port, "load", messages, 100);
                assert_eq!(acknowledged, GO as usize, "the broker takes everything");
                next += GO;
                std::thread::sleep(GO_TAKES.saturating_sub(began.elapsed()));
            }
            next
        });
        // Moments from the fraction of a millisecond to half a second into the hub's life, spread by the golden ratio.
        for n in 1..=KILLS {
            let share = (f64::from(n) * 0.618_033_988_749_895).fract();
            std::thread::sleep(Duration::from_secs_f64(0.5 * share * share));
            hub.kill();
            if n % 10 == 0 {
                // Now and then it is away for a while, so that the broker must keep what comes.
                std::thread::sleep(Duration::from_millis(300));
            }
            if n % 3 == 0 {
                hub.start_unwatched()
            } else {
                hub.start()
            };
        }
        over.store(true, Ordering::Relaxed);
        sending.join().expect("the load ends")
    });
    wait_for_rest(&hub, sent);
    let times = times_in_journal(&mut hub);
    let lost = (0..sent).filter(|n| !times.contains_key(n)).count();
    let twice = times.values().filter(|count| **count > 1).count();
    println!("{KILLS} kills, {sent} messages: {lost} lost, {twice} taken twice");
    assert_eq!((lost, twice), (0, 0));
}

/// The embedded broker dies with the hub. What it has acknowledged to a sensor must be in the journal, and what the sensor
/// sends again because it was not acknowledged must be there once.
#[test]
fn killed_fifty_times_with_its_own_broker_it_loses_nothing_and_takes_nothing_twice() {
    let mut hub = Hub::new(STALLS, Broker::Embedded, "");
    hub.start();
    let over = AtomicBool::new(false);
    let port = hub.mqtt;
    let told = std::thread::scope(|scope| {
        let sensors: Vec<_> = (0..SENSORS)
            .map(|sensor| {
                let messages = (0..).map(move |n| message(n * SENSORS + sensor));
                let over = &over;
                scope.spawn(move || publish_doggedly(port, &format!("load-{sensor}"), messages, 100, over))
            })
            .collect();
        for n in 1..=KILLS {
            let share = (f64::from(n) * 0.618_033_988_749_895).fract();
            std::thread::sleep(Duration::from_secs_f64(0.02 + 0.5 * share * share));
            hub.kill();
            if n % 3 == 0 {
                hub.start_unwatched()
            } else {
                hub.start()
            };
        }
        over.store(true, Ordering::Relaxed);
        sensors.into_iter().map(|sensor| sensor.join().expect("the load ends")).collect::<Vec<_>>()
    });
    let times = times_in_journal(&mut hub);
    let all = (0..SENSORS).zip(&told).flat_map(|(sensor, told)| (0..*told).map(move |n| n * SENSORS + sensor));
    let sent: u32 = told.iter().sum();
    let lost = all.filter(|n| !times.contains_key(n)).count();
    let twice = times.values().filter(|count| **count > 1).count();
    println!("{KILLS} kills with its own broker, {sent} messages: {lost} lost, {twice} taken twice");
    assert!(sent > 50 * KILLS, "that was no load: {told:?}");
    assert_eq!((lost, twice), (0, 0));
}

/// Waits until the hub listens.
fn wait_for_line(hub: &Hub) {
    until("the hub listens", Duration::from_secs(20), || {
        let log = hub.log();
        if log.contains("the line to the broker is up") { Ok(()) } else { Err(log) }
    });
}

/// Waits until everything has arrived: once nothing more does.
fn wait_for_rest(hub: &Hub, sent: u32) {
    let (mut last, mut since) = (0, Instant::now());
    until("everything has arrived", Duration::from_secs(90), || {
        let text = ureq::get(hub.url("/metrics")).call().and_then(|mut page| page.body_mut().read_to_string());
        let text = text.map_err(|why| why.to_string())?;
        let entries = text.lines().find_map(|line| line.strip_prefix("bellmare_journal_entries "));
        let entries = entries.and_then(|count| count.parse::<u32>().ok()).unwrap_or(0);
        if entries != last {
            (last, since) = (entries, Instant::now());
        }
        if since.elapsed() > Duration::from_secs(3) { Ok(()) } else { Err(format!("{entries} of {sent}")) }
    });
}

/// How often each message is in the journal, after the hub was ended.
fn times_in_journal(hub: &mut Hub) -> BTreeMap<u32, u32> {
    let (status, _) = hub.terminate();
    assert!(status.success());
    let mut times = BTreeMap::new();
    let (journal, _) = Journal::open(&hub.journal(), &Options::default()).expect("the journal opens");
    journal
        .replay(0, |entry| {
            if let Input::Reading(reading) = entry.input
                && let Measured::Level(level) = reading.measured
            {
                *times.entry((level.get() * 1000.0).round() as u32).or_insert(0) += 1;
            }
            ControlFlow::Continue(())
        })
        .expect("and is whole");
    times
}

/// Each message says its own number, in thousandths of a millimetre.
fn message(n: u32) -> (String, String) {
    (format!("barn/stall/{}/water", n % STALLS + 1), format!("{}.{:03}", n / 1000, n % 1000))
}
