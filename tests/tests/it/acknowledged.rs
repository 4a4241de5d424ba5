//! The hub with its own broker, and a sensor that looks at every packet: it is acknowledged soon, but never before its
//! message is written down, and what it therefore sends again is taken once.

use std::ops::ControlFlow;
use std::path::Path;
use std::sync::mpsc;
use std::time::{Duration, Instant};

use bellmare_barn::input::Input;
use bellmare_hub::app::{self, Conduct, JOURNAL_FILE};
use bellmare_hub::clock::Clock;
use bellmare_hub::journal::{Journal, Options};
use bellmare_hub::settings::Settings;
use bellmare_tests::client::{PINGRESP, PUBACK, Sensor};
use bellmare_tests::power::{Disk, Fault, Files, Vfs};
use bellmare_tests::wait::until;
use tokio::sync::oneshot;

const LEVEL: &str = "barn/stall/1/water";

const SETTINGS: &str = r#"
[barn]
name = "Larkspur Hollow"
time_zone = "America/New_York"
[data]
folder = "data"
[mqtt]
listen = "127.0.0.1:0"
[web]
listen = "127.0.0.1:0"
[[topics]]
topic = "barn/stall/+/water"
binds = "stall"
format = "number"
quantity = "level"
unit = "mm"
"#;

/// Runs a hub in a thread of its own, as in a process of its own. Dropping the sender stops it.
fn hub(settings: Settings, conduct: Conduct) -> (u16, String, oneshot::Sender<()>, std::thread::JoinHandle<Duration>) {
    let (ready, is_ready) = mpsc::channel();
    let (stop, stopped) = oneshot::channel::<()>();
    let running = std::thread::spawn(move || {
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().expect("a runtime");
        runtime.block_on(async {
            let hub = app::start(&settings, Clock::system, conduct).await.expect("it starts");
            let broker = hub.broker.as_ref().expect("a broker of its own").address();
            ready.send((broker.port(), format!("http://{}/metrics", hub.web))).expect("somebody waits");
            // The other end is dropped and nothing said.
            let _ = stopped.await;
            let began = Instant::now();
            hub.stop().await;
            began.elapsed()
        })
    });
    let (port, metrics) = is_ready.recv().expect("it starts");
    (port, metrics, stop, running)
}

#[test]
fn what_can_not_be_written_down_is_not_acknowledged_and_comes_again() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("hub.toml");
    std::fs::write(&file, SETTINGS).expect("written");
    let settings = Settings::load(Some(&file), std::iter::empty()).expect("good settings");
    let journal_file = settings.data.folder.join(JOURNAL_FILE);
    let vfs = Vfs::register("acknowledged", Disk::new(&Files::new()));
    let options = Options { vfs: Some(vfs.name().to_owned()), ..Options::default() };
    let conduct = Conduct { journal: options.clone(), ..Conduct::default() };
    let (port, metrics, stop, running) = hub(settings, conduct);

    let mut sensor = Sensor::connect(port, "a").expect("it is let in");
    let began = Instant::now();
    sensor.publish(false, 1, LEVEL, "240").expect("sent");
    assert_eq!(sensor.hear().expect("an answer"), (PUBACK, 1));
    // In a quiet barn a reading may wait ten seconds for company, but not while its sensor waits.
    assert!(began.elapsed() < Duration::from_secs(5), "{:?}", began.elapsed());

    let used = vfs.disk().used();
    vfs.disk().set_fault(Fault::Full(used));
    // There may be some room in the file; it takes a few readings to run out of it.
    let mut last = 1;
    let journal_is = |up: u8| {
        let page = ureq::get(&metrics).call().and_then(|mut page| page.body_mut().read_to_string());
        page.is_ok_and(|page| page.contains(&format!("bellmare_journal_up {up}")))
    };
    until("the journal can not be written", Duration::from_secs(20), || {
        last += 1;
        sensor.publish(false, last, LEVEL, &format!("{}", 100 + last)).expect("sent");
        if journal_is(0) { Ok(()) } else { Err(format!("{last} readings")) }
    });
    let mut acknowledged = 1;
    sensor.ping().expect("sent");
    loop {
        match sensor.hear().expect("an answer") {
            (PUBACK, id) if id == acknowledged + 1 => acknowledged = id,
            (PINGRESP, _) => break,
            other => panic!("{other:?} after {acknowledged}"),
        }
    }
    assert!(acknowledged < last, "there was always room");
    // Nor on another connection, however often it is sent.
    drop(sensor);
    let mut sensor = Sensor::connect(port, "a").expect("it is let in");
    for id in acknowledged + 1..=last {
        sensor.publish(true, id, LEVEL, &format!("{}", 100 + id)).expect("sent");
    }
    sensor.ping().expect("sent");
    assert_eq!(sensor.hear().expect("an answer"), (PINGRESP, 0));

    vfs.disk().set_fault(Fault::None);
    for id in acknowledged + 1..=last {
        assert_eq!(sensor.hear().expect("an answer"), (PUBACK, id));
    }
    drop(stop);
    let took = running.join().expect("it ends");
    assert!(took < Duration::from_secs(2), "it took {took:?} to stop");
    let mut readings = 0;
    let (journal, _) = Journal::open(Path::new(&journal_file), &options).expect("it opens");
    let count = |entry: bellmare_hub::journal::Entry| {
        readings += u16::from(matches!(entry.input, Input::Reading(_)));
        ControlFlow::Continue(())
    };
    journal.replay(0, count).expect("it is whole");
    assert_eq!(readings, last, "those that came twice are there once");
}
