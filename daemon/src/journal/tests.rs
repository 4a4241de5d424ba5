//! The journal on a real file system: what goes in comes back, and what is wrong with a file is said.

use std::collections::BTreeSet;
use std::error::Error;
use std::fs;
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use bellmare_barn::alarm::record::{HowEnded, Record};
use bellmare_barn::alarm::{Alarm, Cause};
use bellmare_barn::board::{AlarmWhat, Priority};
use bellmare_barn::book::{Book, Bucket, Gauge, Shape, Side, Stall, Vessel, WaterPlace};
use bellmare_barn::care::observed::{Observed, Sign};
use bellmare_barn::care::seen::Seen;
use bellmare_barn::id::{BadgeId, HorseId, KioskId, PersonId, PlaceId, ReaderId, RideId, StallId, TouchId};
use bellmare_barn::input::{
    Action, ClockSource, Input, Line, Mark, Measured, Pin, PinTried, Presence, Reading, Room, Said, Sensor, Sent, Step,
    TakenByLink, Tap, Touch, Vitals,
};
use bellmare_barn::limits::Limits;
use bellmare_barn::pins::PinHash;
use bellmare_barn::tell::message::{MessageId, Outcome};
use bellmare_barn::time::{Mono, Now, TimeOfDay, Wall, WallClock};
use bellmare_barn::units::{Celsius, Dbm, Litres, Millimetres, Percent, RelativeHumidity};
use chrono::NaiveDate;
use rusqlite::Connection;

use super::outbox::{Change, Settled};
use super::*;

mod not_opened;

struct Bench {
    folder: tempfile::TempDir,
    options: Options,
}

impl Bench {
    fn new() -> Self {
        let options = Options { lock_wait: Duration::from_millis(10), ..Options::default() };
        Self { folder: tempfile::tempdir().expect("a folder"), options }
    }

    fn path(&self) -> PathBuf {
        self.folder.path().join("journal.db")
    }

    fn open(&self) -> (Journal, Opening) {
        Journal::open(&self.path(), &self.options).expect("a journal")
    }

    fn refused(&self) -> JournalError {
        Journal::open(&self.path(), &self.options).expect_err("a refusal")
    }

    /// A journal of `n` readings, closed.
    fn with(n: u64) -> Self {
        let bench = Self::new();
        let (journal, _) = bench.open();
        journal.append(&readings(1..=n)).expect("kept");
        journal.close().expect("closed");
        bench
    }

    fn names(&self) -> BTreeSet<String> {
        let names = fs::read_dir(self.folder.path()).expect("a folder");
        names.map(|entry| entry.expect("an entry").file_name().into_string().expect("a name")).collect()
    }
}

fn entry(seq: u64, input: Input) -> Entry {
    let now = Now { mono: Mono(1000 * seq), wall: WallClock::Set(Wall(1_780_000_000_000 + 1000 * seq.cast_signed())) };
    Entry { seq, boot: 1, now, delivery: None, input }
}

fn reading(measured: Measured) -> Input {
    Input::Reading(Reading { sensor: Sensor::Water(StallId::new("7")), measured, own_time: None })
}

fn readings(seqs: impl IntoIterator<Item = u64>) -> Vec<Entry> {
    seqs.into_iter().map(|seq| entry(seq, reading(Measured::Level(Millimetres(seq as f64 / 7.0))))).collect()
}

fn all(journal: &Journal) -> Vec<Entry> {
    after(journal, 0).0
}

fn after(journal: &Journal, seq: u64) -> (Vec<Entry>, Replay) {
    let mut entries = Vec::new();
    let replay = journal.replay(seq, |entry| {
        entries.push(entry);
        ControlFlow::Continue(())
    });
    (entries, replay.expect("a replay"))
}

/// Every kind of input, with what is hardest to keep of each.
fn every_kind() -> Vec<Input> {
    let third = Millimetres(1.0 / 3.0);
    let gauge = Gauge::Up { at_bottom: third };
    let vessel = Vessel { shape: Shape::Round { bottom: third, top: Millimetres(0.1 + 0.2), height: third }, gauge };
    let table = Shape::Table { table: vec![(Millimetres(0.0), Litres(0.1 + 0.2)), (third, Litres(7.0))] };
    let trough =
        Bucket { id: "north".into(), at: WaterPlace::Paddock("north".into()), vessel: Vessel { shape: table, gauge } };
    let stall = Stall { id: StallId::new("7 \"é\""), aisle: String::new(), side: Side::Left, vessel: Some(vessel) };
    let touch = |action| {
        Input::Touch(Touch {
            id: TouchId::new("k1-1"),
            kiosk: KioskId::new("k1"),
            held_ms: u64::from(u32::MAX),
            by: None,
            staff: None,
            action,
        })
    };
    let person = || PersonId::new("june");
    let climate = |measured| {
        let sensor = Sensor::Climate(PlaceId::new("aisle"));
        Input::Reading(Reading { sensor, measured, own_time: Some(Wall(i64::MAX)) })
    };
    vec![
        Input::Book(Arc::new(Book { stalls: vec![stall], buckets: vec![trough], ..Book::default() })),
        Input::Limits(Arc::new(Limits::default())),
        reading(Measured::Level(Millimetres(0.1 + 0.2))),
        climate(Measured::Temperature(Celsius(-40.0))),
        climate(Measured::Humidity(RelativeHumidity(f64::MIN_POSITIVE))),
        climate(Measured::Battery(Percent(f64::MAX))),
        climate(Measured::Signal(Dbm(f64::NEG_INFINITY))),
        Input::Presence(Presence { sensor: Sensor::Water(StallId::new("7")), online: false }),
        Input::Tap(Tap { reader: ReaderId::new("door"), badge: BadgeId::new("0042"), own_time: None }),
        touch(Action::SignIn(person())),
        touch(Action::SignOut(person())),
        touch(Action::Acknowledge { alarm: u64::MAX, by: person() }),
        touch(Action::Work(Said {
            ride: RideId::new("r1"),
            horse: HorseId::new("juniper"),
            step: Step::Tack,
            mark: Mark::Done,
            by: None,
        })),
        touch(Action::Vitals(Vitals {
            horse: HorseId::new("juniper"),
            by: person(),
            after_work_min: Some(12),
            seen: Observed {
                temperature: Some(Celsius(37.0 + 0.1 + 0.2)),
                signs: vec![Sign::Dull],
                ..Observed::default()
            },
        })),
        touch(Action::Badge(BadgeId::new("0042"))),
        touch(Action::Filled { place: WaterPlace::Paddock("north".into()), undo: true }),
        touch(Action::Cleaned { stall: StallId::new("7 \"é\""), undo: false }),
        touch(Action::Chore { chore: "muck".into(), undo: true }),
        touch(Action::AskHay { horse: HorseId::new("juniper"), undo: false }),
        touch(Action::AnswerHay { ask: u64::MAX, allowed: true }),
        touch(Action::Wrong { horse: HorseId::new("juniper"), seen: Seen::ALL.to_vec(), undo: false }),
        touch(Action::WrongOver { horse: HorseId::new("juniper") }),
        Input::Touch(Touch {
            id: TouchId::new("k1-2"),
            kiosk: KioskId::new("k1"),
            held_ms: 0,
            by: Some(person()),
            staff: Some(person()),
            action: Action::Cleaned { stall: StallId::new("7"), undo: true },
        }),
        Input::Broker(Line::Down("refused".to_owned())),
        Input::Journal(Line::Up),
        Input::Sent(Sent { message: MessageId(7), outcome: Outcome::Failed("550 no such mailbox".to_owned()) }),
        Input::TakenByLink(TakenByLink { link: "link 7".into(), alarms: vec![3, 4], by: person() }),
        Input::Disk(Room { free: 1, of: u64::MAX }),
        Input::Started,
        Input::Clock,
        Input::ClockSource(ClockSource::ByHand),
        Input::Pin(Pin { person: person(), hash: Some(PinHash::new("$argon2id$v=19$m=19456,t=2,p=1$c2FsdA$aGFzaA")) }),
        Input::Pin(Pin { person: person(), hash: None }),
        Input::PinTried(PinTried { kiosk: KioskId::new("k1"), person: person(), right: false }),
        touch(Action::SetClock { date: NaiveDate::MIN, time: TimeOfDay::NOON }),
        Input::Tick,
    ]
}

#[test]
fn every_kind_of_input_comes_back_over_a_restart() {
    let bench = Bench::new();
    let (journal, opening) = bench.open();
    assert_eq!(opening, Opening { boot: 1, last: None, found: Found::Nothing });
    let mut entries: Vec<_> = (1..).zip(every_kind()).map(|(seq, input)| entry(seq, input)).collect();
    entries[2].now = Now { mono: Mono(u64::MAX), wall: WallClock::Unset };
    entries[3].delivery = Some(Delivery(i64::MIN));
    entries[4].now.wall = WallClock::Set(Wall(i64::MIN));
    entries[8].boot = u32::MAX;
    journal.append(&entries).expect("kept");
    assert_eq!(all(&journal), entries);
    journal.close().expect("closed");

    let (journal, opening) = bench.open();
    assert_eq!(opening, Opening { boot: 2, last: entries.last().map(|e| e.now), found: Found::Kept });
    assert_eq!(journal.last_seq(), entries.len() as u64);
    let (back, replay) = after(&journal, 0);
    assert_eq!(back, entries);
    assert_eq!(replay, Replay { read: entries.len() as u64, ..Replay::default() });
    assert_eq!(after(&journal, 5).0, entries[5..]);
}

#[test]
fn numbers_come_back_to_the_bit() {
    let odd = [
        0.0,
        -0.0,
        1.0,
        -1.0,
        0.1,
        5e-324,
        f64::MAX,
        f64::INFINITY,
        f64::NAN,
        -f64::NAN,
        1e300,
        9_007_199_254_740_993.0,
    ];
    let bench = Bench::new();
    let (journal, _) = bench.open();
    let entries: Vec<_> =
        (1..).zip(odd).map(|(seq, value)| entry(seq, reading(Measured::Signal(Dbm(value))))).collect();
    journal.append(&entries).expect("kept");
    let back: Vec<_> = all(&journal).into_iter().map(|entry| entry.input).collect();
    for (value, back) in odd.into_iter().zip(back) {
        let Input::Reading(Reading { measured: Measured::Signal(Dbm(got)), .. }) = back else { panic!("{back:?}") };
        assert_eq!(got.to_bits(), value.to_bits(), "{value}");
    }
}

#[test]
fn entries_must_go_on_from_the_last_and_are_kept_all_or_none() {
    let bench = Bench::new();
    let (journal, _) = bench.open();
    journal.append(&readings(1..=3)).expect("kept");
    for wrong in [vec![3], vec![5], vec![0], vec![4, 6], vec![4, 4], vec![4, 5, 5]] {
        let refused = journal.append(&readings(wrong.clone())).expect_err("out of order");
        assert!(matches!(refused, JournalError::OutOfOrder { .. }), "{wrong:?}: {refused}");
    }
    // The second of these can not be written: its place is taken behind the journal's back.
    journal.connection.execute_batch("INSERT INTO facts VALUES (5, 'tick', 'null', NULL, 1, 0, NULL)").expect("a row");
    journal.append(&[entry(4, Input::Tick), entry(5, Input::Tick)]).expect_err("a collision");
    assert_eq!(journal.last_seq(), 3);
    journal.connection.execute_batch("DELETE FROM facts").expect("none left, so none of the two was kept");
    assert_eq!(journal.connection.changes(), 1);
    journal.append(&readings(4..=5)).expect("a later append works");
    journal.append(&[]).expect("nothing to do");
    assert_eq!(all(&journal), readings(1..=5));
    assert_eq!(journal.counts().failed_appends, 1);
}

#[test]
fn a_sensor_first_heard_in_a_failed_append_is_known_in_the_next() {
    let bench = Bench::new();
    let (journal, _) = bench.open();
    journal.connection.execute_batch("INSERT INTO facts VALUES (2, 'tick', 'null', NULL, 1, 0, NULL)").expect("a row");
    journal.append(&[readings([1]), vec![entry(2, Input::Tick)]].concat()).expect_err("a collision");
    journal.connection.execute_batch("DELETE FROM facts").expect("gone");
    journal.append(&readings([1])).expect("kept");
    assert_eq!(all(&journal), readings([1]));
}

/// Bytes of a page in the log, its head included.
const LOG_PAGE: u64 = 4096 + 24;

#[test]
fn no_commit_ends_within_the_sector_in_which_the_next_begins() {
    let bench = Bench::with(3);
    let (journal, _) = bench.open();
    journal.append(&readings([4])).expect("kept");
    let before = journal.counts().log_bytes;
    journal.append(&readings([5])).expect("kept");
    // One page holds the reading; one more fills the sector.
    assert_eq!(journal.counts().log_bytes - before, 2 * LOG_PAGE);
}

#[test]
fn a_long_log_is_brought_in_when_asked_and_a_very_long_one_unasked() {
    for (tended, most) in [(true, 10 + 2), (false, 20 + 2)] {
        let mut bench = Bench::new();
        bench.options.checkpoint_pages = 10;
        let (journal, _) = bench.open();
        for seq in 1..=60 {
            journal.append(&readings([seq])).expect("kept");
            if tended {
                journal.tend().expect("tended");
            }
            let pages = journal.counts().log_bytes / LOG_PAGE;
            // The first append writes a page of each table it uses.
            assert!(pages <= most + 4, "{pages} pages at entry {seq}, tended: {tended}");
        }
        assert_eq!(all(&journal), readings(1..=60));
    }
}

#[test]
fn a_replay_can_be_broken_off() {
    let bench = Bench::with(5);
    let (journal, _) = bench.open();
    let replay =
        journal.replay(1, |entry| if entry.seq < 3 { ControlFlow::Continue(()) } else { ControlFlow::Break(()) });
    assert_eq!(replay.expect("a replay").read, 2);
}

#[test]
fn one_bad_row_is_left_out_and_counted() {
    let bench = Bench::with(6);
    let (journal, _) = bench.open();
    journal
        .connection
        .execute_batch(
            "DELETE FROM readings WHERE seq IN (2, 5);
             UPDATE readings SET quantity = 99 WHERE seq = 3;
             UPDATE readings SET sensor = 99 WHERE seq = 4;
             INSERT INTO facts VALUES (5, 'a kind to come', '{}', NULL, 1, 0, NULL), (7, 'tap', '{\"rea', NULL, 1, 0, NULL);",
        )
        .expect("rows");
    let (entries, replay) = after(&journal, 0);
    assert_eq!(entries, readings([1, 6]));
    let first_unreadable = Some((3, "quantity 99 is not known".to_owned()));
    assert_eq!(replay, Replay { read: 2, missing: 1, unreadable: 4, first_unreadable });
}

#[test]
fn the_newest_whole_snapshot_of_the_format_is_chosen() {
    let bench = Bench::with(9);
    let (journal, _) = bench.open();
    assert_eq!(journal.latest_snapshot(1).expect("none"), None);
    let ahead = journal.store_snapshot(10, 1, b"ahead").expect_err("ahead of the facts");
    assert!(matches!(ahead, JournalError::SnapshotAhead { snapshot: 10, last: 9 }), "{ahead}");
    for seq in [3, 5, 7] {
        journal.store_snapshot(seq, 1, format!("at {seq}").as_bytes()).expect("kept");
    }
    assert_eq!(journal.latest_snapshot(1).expect("one"), Some((7, b"at 7".to_vec())));
    assert_eq!(journal.latest_snapshot(2).expect("none"), None);
    journal.connection.execute_batch("UPDATE snapshots SET body = x'00' WHERE seq = 7").expect("damaged");
    assert_eq!(journal.latest_snapshot(1).expect("one"), Some((5, b"at 5".to_vec())));
    journal.store_snapshot(9, 2, b"").expect("kept");
    assert_eq!(journal.latest_snapshot(1).expect("the older was let go"), None);
    assert_eq!(journal.latest_snapshot(2).expect("one"), Some((9, Vec::new())));
}

#[test]
fn the_last_deliveries_come_newest_first() {
    let bench = Bench::new();
    let (journal, _) = bench.open();
    let mut entries = readings(1..=4);
    entries[1].input = Input::Tick;
    for (entry, delivery) in entries.iter_mut().zip([Some(10), Some(20), None, Some(40)]) {
        entry.delivery = delivery.map(Delivery);
    }
    journal.append(&entries).expect("kept");
    assert_eq!(journal.recent_deliveries(2).expect("two"), [Delivery(40), Delivery(20)]);
    assert_eq!(journal.recent_deliveries(9).expect("all"), [Delivery(40), Delivery(20), Delivery(10)]);
}

#[test]
fn a_file_of_the_first_schema_is_still_read() {
    let bench = Bench::new();
    let old = Connection::open(bench.path()).expect("a file");
    old.execute_batch(include_str!("kept/schema-1.sql")).expect("the old file");
    old.close().expect("closed");
    let (journal, opening) = bench.open();
    assert_eq!((opening.boot, opening.found), (3, Found::Kept));
    let (entries, replay) = after(&journal, 0);
    assert_eq!(replay, Replay { read: 5, ..Replay::default() });
    let tap = Tap { reader: ReaderId::new("door"), badge: BadgeId::new("0042"), own_time: None };
    assert_eq!(entries[1].input, Input::Tap(tap), "a field that is not known is passed over");
    let sensor = Sensor::Climate(PlaceId::new("aisle"));
    let reading =
        Reading { sensor, measured: Measured::Temperature(Celsius(21.5)), own_time: Some(Wall(1_780_000_000_000)) };
    assert_eq!(entries[2].input, Input::Reading(reading));
    assert_eq!(entries[2].delivery, Some(Delivery(-7)));
    assert_eq!(entries[4].now, Now { mono: Mono(9000), wall: WallClock::Unset });
    let six = Entry { seq: 6, ..readings([6]).remove(0) };
    journal.append(&[six]).expect("and it goes on");
}

#[test]
fn a_letter_waits_until_it_is_settled_and_is_written_once() {
    let write = |id: &str| Beside::Outbox(Change::Write { id: id.to_owned(), body: format!("body of {id}") });
    let settle = |id: &str, how| Beside::Outbox(Change::Settle { id: id.to_owned(), how });
    let bench = Bench::new();
    let (journal, _) = bench.open();
    let name = journal.outbox().expect("read").name;
    journal.append_with(&readings([1]), &[write("a"), write("b"), write("a")]).expect("kept");
    journal.append_with(&[], &[write("c"), settle("b", Settled::Sent)]).expect("kept without an entry");
    let refused = journal.append_with(&readings([9]), &[write("d")]);
    assert!(refused.is_err(), "out of order: neither is kept");
    journal.close().expect("closed");
    let (journal, _) = bench.open();
    journal.append_with(&[], &[write("b"), settle("c", Settled::GivenUp)]).expect("kept");
    let outbox = journal.outbox().expect("read");
    assert_eq!(outbox.waiting, ["body of a"], "what was settled does not wait again");
    assert_eq!(outbox.known, ["a", "c", "b"]);
    assert_eq!((outbox.name.len(), &outbox.name), (10, &name), "it stays");
    let other = Bench::new();
    assert_ne!(other.open().0.outbox().expect("read").name, name, "each journal has its own");
}

#[test]
fn a_backup_opens_as_a_journal_and_holds_what_was_appended_meanwhile() {
    let mut bench = Bench::with(20_000);
    // The log is brought into the file during the copy too.
    bench.options.checkpoint_pages = 2;
    let (journal, _) = bench.open();
    let to = bench.folder.path().join("backup.db");
    fs::write(&to, "an older backup").expect("written");
    let mut steps = 0;
    journal
        .backup(&to, || {
            steps += 1;
            journal.append(&readings([journal.last_seq() + 1])).expect("kept");
            ControlFlow::Continue(())
        })
        .expect("backed up");
    assert!(steps > 0, "one step copied it all: nothing was shown");
    let (copy, opening) = Journal::open(&to, &bench.options).expect("a journal");
    assert_eq!(opening.found, Found::Kept);
    assert_eq!(copy.last_seq(), 20_000 + steps);
    assert_eq!(all(&copy), all(&journal));

    let stopped = journal.backup(&to, || ControlFlow::Break(())).expect_err("given up");
    assert!(matches!(stopped, JournalError::Stopped { .. }), "{stopped}");
    assert!(!bench.names().contains("backup.db.part"));
}

fn wait_for<T>(future: impl Future<Output = T>) -> T {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_time().build().expect("a runtime");
    runtime.block_on(async { tokio::time::timeout(Duration::from_secs(20), future).await.expect("in time") })
}

#[test]
fn the_keeper_commits_backs_up_and_closes() {
    let bench = Bench::new();
    let keeper = Keeper::spawn(bench.open().0).expect("a thread");
    let to = bench.folder.path().join("backup.db");
    wait_for(async {
        assert_eq!(keeper.commit(readings(1..=3), Vec::new()).await.expect("kept"), readings(1..=3));
        let refused = keeper.commit(readings([9]), Vec::new()).await.expect_err("out of order");
        assert_eq!(refused.entries, readings([9]), "they come back");
        assert!(matches!(*refused.why, JournalError::OutOfOrder { expected: 4, found: 9 }));
        keeper.snapshot(2, 1, b"two".to_vec());
        keeper.snapshot(99, 1, b"ahead, which is logged and no more".to_vec());
        keeper.snapshot(3, 1, b"three".to_vec());
        keeper.backup(to.clone()).await.expect("backed up");
        let counts = keeper.counts().await.expect("counts");
        assert_eq!((counts.entries, counts.commits), (3, 1));
        assert!(counts.log_bytes > 0);
    });
    keeper.close().expect("closed");
    assert_eq!(bench.names(), ["backup.db", "journal.db"].map(str::to_owned).into(), "the log is brought in");
    let (journal, _) = bench.open();
    assert_eq!(all(&journal), readings(1..=3));
    assert_eq!(journal.latest_snapshot(1).expect("one"), Some((3, b"three".to_vec())));
    assert_eq!(all(&Journal::open(&to, &bench.options).expect("a journal").0), readings(1..=3));
}

#[test]
fn a_keeper_that_is_dropped_has_let_go_of_the_file() {
    let bench = Bench::new();
    drop(Keeper::spawn(bench.open().0).expect("a thread"));
    bench.open();
}

#[test]
fn the_history_of_alarms_is_kept_with_what_caused_it_and_within_bounds() {
    let bench = Bench::new();
    let (journal, _) = bench.open();
    let day = 24 * 3_600_000;
    let record = |id: u64, raised: Option<i64>, ended: bool| {
        let now =
            Now { mono: Mono(id), wall: raised.map_or(WallClock::Unset, |day_no| WallClock::Set(Wall(day_no * day))) };
        let alarm = Alarm { id, priority: Priority::Low, what: AlarmWhat::BrokerDown, raised: now };
        Record {
            alarm,
            cause: Cause::Broker,
            text: String::new(),
            seen: None,
            aside: Vec::new(),
            told: Vec::new(),
            chattered: false,
            ended: ended.then_some((now, HowEnded::Gone)),
        }
    };
    let row = |record: &Record| Beside::Alarm(Box::new(record.clone()));
    let (first, stands) = (record(1, Some(1), true), record(2, Some(2), false));
    journal.append_with(&readings([1]), &[row(&first), row(&stands)]).expect("kept");
    // With nothing but time passing there is no entry.
    let third = record(3, None, true);
    journal.append_with(&[], &[row(&third)]).expect("kept");
    journal.append_with(&readings([9]), &[row(&record(4, Some(3), true))]).expect_err("out of order: neither is kept");
    assert_eq!(journal.alarms(None).expect("all"), [first.clone(), stands.clone(), third.clone()]);
    assert_eq!(journal.alarms(Some(Wall(2 * day))).expect("late ones"), [stands.clone(), third.clone()]);
    // Written again, a row takes the older one's place.
    let over = record(2, Some(2), true);
    journal.append_with(&[], &[row(&over)]).expect("kept");
    assert_eq!(journal.alarms(None).expect("all"), [first, over, third.clone()]);
    // After more than a year the oldest go; what has no date goes by its number.
    let late = record(5, Some(402), true);
    journal.append_with(&[], &[row(&late)]).expect("kept");
    assert_eq!(journal.alarms(None).expect("all"), [record(2, Some(2), true), third, late]);
    let last = record(20_000, Some(402), false);
    journal.append_with(&[], &[row(&last)]).expect("kept");
    assert_eq!(journal.alarms(None).expect("all"), std::slice::from_ref(&last));
    journal.close().expect("closed");
    assert_eq!(bench.open().0.alarms(None).expect("all"), [last]);
}
