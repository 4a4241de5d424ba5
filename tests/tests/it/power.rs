//! The journal through power cuts, disk errors and a full disk. A script of appends runs on a [`Disk`]; then the power is
//! cut at each write and each sync that it made, with several kinds of damage each, and the journal opened again.
//!
//! `BELLMARE_CUTS=100000 cargo test -p bellmare-tests --test it power -- --nocapture` makes so many cuts.

use std::fmt;
use std::ops::ControlFlow;
use std::path::Path;
use std::sync::Arc;
use std::time::Instant;

use bellmare_barn::book::{Book, Fit};
use bellmare_barn::id::{BadgeId, HorseId, KioskId, PersonId, PlaceId, ReaderId, StallId, TackId, TouchId};
use bellmare_barn::input::{Action, Input, Measured, Presence, Reading, Sensor, Tap, Touch};
use bellmare_barn::time::{Mono, Now, Wall, WallClock};
use bellmare_barn::units::{Celsius, Millimetres};
use bellmare_hub::journal::{Delivery, Entry, Journal, JournalError, Options, Synchronous};
use bellmare_tests::power::{Dice, Disk, Fault, Files, Honesty, Op, Platter, Vfs};
use rusqlite::{Connection, OpenFlags};

const FORMAT: u32 = 1;

/// A name on the disk of the test; there is no such folder on the machine's own.
const PATH: &str = "/power/journal.db";

/// What the barn sends: entries in batches, one append each.
struct Script {
    entries: Vec<Entry>,
    /// Where each batch ends: its last number.
    ends: Vec<u64>,
}

impl Script {
    /// Batches of 1 to 4 entries; most are readings.
    fn new(seed: u64, batches: usize) -> Self {
        let mut dice = Dice::new(seed);
        let mut script = Self { entries: Vec::new(), ends: Vec::new() };
        for _ in 0..batches {
            for _ in 0..1 + dice.under(4) {
                let seq = script.entries.len() as u64 + 1;
                script.entries.push(Entry {
                    seq,
                    boot: 1,
                    now: Now {
                        mono: Mono(dice.roll()),
                        wall: if dice.under(9) == 0 {
                            WallClock::Unset
                        } else {
                            WallClock::Set(Wall(dice.roll() as i64))
                        },
                    },
                    delivery: (dice.under(2) == 0).then(|| Delivery(dice.roll() as i64)),
                    input: input(seq, &mut dice),
                });
            }
            script.ends.push(script.entries.len() as u64);
        }
        script
    }

    fn batches(&self) -> impl Iterator<Item = &[Entry]> {
        let mut from = 0;
        self.ends.iter().map(move |&end| &self.entries[std::mem::replace(&mut from, end as usize)..end as usize])
    }

    /// The end of the batch that follows entry `last`.
    fn end_after(&self, last: u64) -> u64 {
        self.ends.iter().copied().find(|&end| end > last).unwrap_or(last)
    }
}

fn input(seq: u64, dice: &mut Dice) -> Input {
    let name = |kind: &str, n: usize| format!("{kind} {n}");
    match dice.under(150) {
        0 => {
            let fit = |n| Fit {
                horse: HorseId::new(name("horse", n)),
                usage: "lesson".to_owned(),
                order: 1,
                tack: TackId::new(name("saddle", n)),
                note: String::new(),
                note_spanish: String::new(),
            };
            // Some books take more than a page, so that their rows overflow.
            Input::Book(Arc::new(Book { fits: (0..dice.under(90)).map(fit).collect(), ..Book::default() }))
        }
        1..5 => Input::Tick,
        5..10 => {
            Input::Presence(Presence { sensor: Sensor::Water(StallId::new(name("", dice.under(60)))), online: false })
        }
        10..20 => {
            Input::Tap(Tap { reader: ReaderId::new("door"), badge: BadgeId::new(name("badge", 4)), own_time: None })
        }
        20..30 => Input::Touch(Touch {
            id: TouchId::new(name("touch", seq as usize)),
            kiosk: KioskId::new("aisle"),
            held_ms: 0,
            by: None,
            staff: None,
            action: Action::SignIn(PersonId::new("june")),
        }),
        _ => {
            let value = (dice.roll() >> 11) as f64 / 1e9;
            let (sensor, measured) = if dice.under(2) == 0 {
                (Sensor::Water(StallId::new(name("", dice.under(60)))), Measured::Level(Millimetres(value)))
            } else {
                (Sensor::Climate(PlaceId::new("aisle")), Measured::Temperature(Celsius(value)))
            };
            Input::Reading(Reading { sensor, measured, own_time: Some(Wall(dice.roll() as i64)) })
        }
    }
}

/// What a snapshot of the barn after this entry holds.
fn snapshot_of(seq: u64) -> Vec<u8> {
    let mut dice = Dice::new(seq);
    (0..3000).map(|_| dice.roll() as u8).collect()
}

fn options(vfs: &Vfs, synchronous: Synchronous) -> Options {
    // Few pages between checkpoints, so that many of them are cut.
    Options { synchronous, vfs: Some(vfs.name().to_owned()), checkpoint_pages: 40, ..Options::default() }
}

fn open(vfs: &Vfs, synchronous: Synchronous) -> Result<Journal, JournalError> {
    Journal::open(Path::new(PATH), &options(vfs, synchronous)).map(|(journal, _)| journal)
}

/// Runs the script with the power on, closing and opening the journal half-way, and tells what the disk was asked to do.
fn busy_minute(vfs: &Vfs, script: &Script, synchronous: Synchronous) -> Vec<Op> {
    vfs.replace(Disk::new(&Files::new()));
    let mut journal = open(vfs, synchronous).expect("a journal");
    for (n, batch) in script.batches().enumerate() {
        journal.append(batch).expect("kept");
        vfs.disk().acknowledge(journal.last_seq());
        journal.tend().expect("tended");
        if n % 30 == 20 {
            journal.store_snapshot(journal.last_seq(), FORMAT, &snapshot_of(journal.last_seq())).expect("kept");
        }
        if n == script.ends.len() / 2 {
            journal.close().expect("closed");
            journal = open(vfs, synchronous).expect("a journal");
        }
    }
    journal.close().expect("closed");
    vfs.disk().ops().to_vec()
}

/// What was found after the cuts.
#[derive(Default, PartialEq, Eq, Debug)]
struct Tally {
    /// Operations at which the power was cut.
    points: u64,
    /// Cuts: points times kinds of damage.
    cuts: u64,
    /// Cuts of the start after a cut, among these.
    again: u64,
    /// Cuts after which something acknowledged was not there, or not the same.
    lost: u64,
    /// Cuts after which a part of an append was there.
    half: u64,
    /// Cuts after which the file was damaged, or the journal could not go on.
    corrupt: u64,
}

impl fmt::Display for Tally {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { points, cuts, again, lost, half, corrupt } = self;
        write!(f, "{points:>6} {cuts:>8} {again:>8} {lost:>7} {half:>7} {corrupt:>7}")
    }
}

/// Opens what a cut has left and looks at everything in it. `acknowledged` entries must be there.
fn look(vfs: &Vfs, script: &Script, acknowledged: u64, files: &Files, tally: &mut Tally) {
    vfs.replace(Disk::new(files));
    if let Err(why) = go_on(vfs, script, acknowledged, tally) {
        tally.corrupt += 1;
        if tally.corrupt == 1 {
            println!("first damage: {why:#}");
        }
    }
}

fn go_on(vfs: &Vfs, script: &Script, acknowledged: u64, tally: &mut Tally) -> anyhow::Result<()> {
    let (journal, opening) = Journal::open(Path::new(PATH), &options(vfs, Synchronous::Full))?;
    let mut same = 0;
    let replay = journal.replay(0, |entry| {
        let ours = script.entries.get(same as usize) == Some(&entry);
        same += u64::from(ours);
        if ours { ControlFlow::Continue(()) } else { ControlFlow::Break(()) }
    })?;
    let there = journal.last_seq();
    let all_same = there == same && replay.read == same && replay.missing == 0 && replay.unreadable == 0;
    if !all_same || there < acknowledged {
        tally.lost += 1;
    } else if there != acknowledged && there != script.end_after(acknowledged) {
        tally.half += 1;
    }
    anyhow::ensure!(there == 0 || opening.boot > 1, "a boot had the number of one before");
    if let Some((seq, bytes)) = journal.latest_snapshot(FORMAT)? {
        anyhow::ensure!(seq <= there && bytes == snapshot_of(seq), "a snapshot is not what it was");
    }
    // Where the start ends, for a cut within it.
    vfs.disk().acknowledge(there);
    let next = Entry { seq: there + 1, boot: opening.boot, ..script.entries[0].clone() };
    journal.append(std::slice::from_ref(&next))?;
    let mut last = None;
    journal.replay(there, |entry| {
        last = Some(entry);
        ControlFlow::Continue(())
    })?;
    anyhow::ensure!(last == Some(next), "the entry after the cut is not what it was");
    drop(journal);
    check_integrity(vfs)
}

fn check_integrity(vfs: &Vfs) -> anyhow::Result<()> {
    let file = Connection::open_with_flags_and_vfs(PATH, OpenFlags::SQLITE_OPEN_READ_WRITE, vfs.name())?;
    file.execute_batch("PRAGMA locking_mode = EXCLUSIVE")?;
    let verdict: String = file.query_row("PRAGMA integrity_check", [], |row| row.get(0))?;
    anyhow::ensure!(verdict == "ok", "{verdict}");
    Ok(())
}

/// Cuts the power at each write and sync of the run, with `seeds` kinds of damage each.
fn cut_everywhere(vfs: &Vfs, script: &Script, ops: &[Op], honesty: Honesty, seeds: u64, tally: &mut Tally) {
    let mut platter = Platter::new(&Files::new(), honesty);
    let mut acknowledged = 0;
    for (at, op) in ops.iter().enumerate() {
        // A cut in a sync has synced nothing; what a write has to do is under way.
        let is_sync = matches!(op, Op::Sync(..));
        if !is_sync {
            platter.take(op);
        }
        match op {
            Op::Acknowledged(entries) => acknowledged = *entries,
            Op::Write(..) | Op::Sync(..) => {
                tally.points += 1;
                for n in 0..seeds {
                    // The two extremes at each point, then mixtures that no other point has.
                    let seed = if n < 2 { n } else { (at as u64) << 32 | n };
                    let files = platter.cut(seed);
                    tally.cuts += 1;
                    look(vfs, script, acknowledged, &files, tally);
                    if n + 1 == seeds && honesty == Honesty::Honest {
                        cut_again(vfs, script, acknowledged, &files, seed, tally);
                    }
                }
            }
            _ => {}
        }
        if is_sync {
            platter.take(op);
        }
    }
}

/// The power is cut once more while the journal starts after a cut. The disk has just seen that start.
fn cut_again(vfs: &Vfs, script: &Script, acknowledged: u64, files: &Files, seed: u64, tally: &mut Tally) {
    let ops = vfs.disk().ops().to_vec();
    let start = ops.iter().position(|op| matches!(op, Op::Acknowledged(_))).unwrap_or_default();
    if start == 0 {
        return;
    }
    let mut dice = Dice::new(seed);
    let mut platter = Platter::new(files, Honesty::Honest);
    for op in &ops[..=dice.under(start)] {
        platter.take(op);
    }
    tally.cuts += 1;
    tally.again += 1;
    look(vfs, script, acknowledged, &platter.cut(dice.roll()), tally);
}

/// Kinds of damage at each point, so that about as many cuts are made as the environment asks for.
fn seeds(points: usize, usual: u64) -> u64 {
    match std::env::var("BELLMARE_CUTS") {
        Ok(cuts) => cuts.parse::<u64>().expect("BELLMARE_CUTS is a number").div_ceil(points as u64).max(3),
        Err(_) => usual,
    }
}

fn points(ops: &[Op]) -> usize {
    ops.iter().filter(|op| matches!(op, Op::Write(..) | Op::Sync(..))).count()
}

fn report(what: &str, tally: &Tally, since: Instant) {
    println!("{:<26} points     cuts    again    lost    half corrupt", "");
    let rate = tally.cuts as f64 / since.elapsed().as_secs_f64();
    println!("{what:<26} {tally}  ({rate:.0} cuts/s)");
}

#[test]
fn nothing_acknowledged_is_lost_wherever_the_power_is_cut() {
    let vfs = Vfs::register("cut-full", Disk::new(&Files::new()));
    // Runs of sixty appends each: what there is to look at after each cut stays small.
    let runs: Vec<_> = (1..=2).map(|seed| Script::new(seed, 60)).collect();
    let runs: Vec<_> = runs.into_iter().map(|script| (busy_minute(&vfs, &script, Synchronous::Full), script)).collect();
    let seeds = seeds(runs.iter().map(|(ops, _)| points(ops)).sum(), 3);
    let since = Instant::now();
    let mut tally = Tally::default();
    for (ops, script) in &runs {
        cut_everywhere(&vfs, script, ops, Honesty::Honest, seeds, &mut tally);
    }
    report("synchronous FULL", &tally, since);
    assert!(tally.points > 1000, "the minute was not busy: {tally:?}");
    assert_eq!((tally.lost, tally.half, tally.corrupt), (0, 0, 0), "{tally:?}");
}

/// The same cuts where the promise can not hold must find it broken, or they show nothing.
fn check_harness_catches(what: &str, synchronous: Synchronous, honesty: Honesty) -> Tally {
    let vfs = Vfs::register(what, Disk::new(&Files::new()));
    let script = Script::new(3, 40);
    let ops = busy_minute(&vfs, &script, synchronous);
    let since = Instant::now();
    let mut tally = Tally::default();
    cut_everywhere(&vfs, &script, &ops, honesty, 3, &mut tally);
    report(what, &tally, since);
    tally
}

#[test]
fn cuts_find_that_synchronous_normal_loses_what_was_acknowledged() {
    let tally = check_harness_catches("synchronous NORMAL", Synchronous::Normal, Honesty::Honest);
    assert!(tally.lost > 0, "{tally:?}");
    assert_eq!(tally.corrupt, 0, "it takes commits back, and does no more: {tally:?}");
}

#[test]
fn cuts_find_that_synchronous_off_ruins_the_file() {
    let tally = check_harness_catches("synchronous OFF", Synchronous::Off, Honesty::Honest);
    assert!(tally.lost > 0 && tally.corrupt > 0, "{tally:?}");
}

#[test]
fn cuts_find_a_card_that_lies_about_syncing() {
    let tally = check_harness_catches("a lying card", Synchronous::Full, Honesty::Lying);
    assert!(tally.lost > 0, "{tally:?}");
}

/// Runs a short script in which some calls fail or the disk is full. What fails is tried again; `relieve` is called before
/// the second time. Tells what was said each time, and leaves the disk with everything done.
fn insist(vfs: &Vfs, script: &Script, relieve: impl Fn()) -> Vec<JournalError> {
    let mut said = Vec::new();
    let mut journal = None;
    for batch in script.batches() {
        // Once with an error, once more before relief, and then it must work.
        for attempt in 1.. {
            if attempt == 3 {
                relieve();
            }
            let failed = match &journal {
                None => open(vfs, Synchronous::Full).map(|opened| journal = Some(opened)),
                Some(_) => Ok(()),
            };
            let failed = failed.and_then(|()| match &journal {
                Some(journal) => append_or_nothing(journal, batch),
                None => Ok(()),
            });
            match failed {
                Ok(()) => break,
                Err(why) if attempt < 4 => said.push(why),
                Err(why) => panic!("it does not recover: {}\nbefore: {said:?}", text(why)),
            }
        }
        let journal = journal.as_ref().expect("it is open by now");
        vfs.disk().acknowledge(journal.last_seq());
        said.extend(journal.tend().err());
        if batch[0].seq % 3 == 0 {
            // A snapshot is a cache: where it fails, nothing else does.
            said.extend(journal.store_snapshot(journal.last_seq(), FORMAT, &snapshot_of(journal.last_seq())).err());
        }
    }
    said.extend(journal.and_then(|journal| journal.close().err()));
    said
}

/// Appends; where that fails, what was there before is there still, and nothing else.
fn append_or_nothing(journal: &Journal, batch: &[Entry]) -> Result<(), JournalError> {
    let before = journal.last_seq();
    let result = journal.append(batch);
    if result.is_err() {
        assert_eq!(journal.last_seq(), before);
        // Reading may meet the error that is still on; it must not meet more than was there.
        if let Ok(replay) = journal.replay(0, |_| ControlFlow::Continue(())) {
            assert_eq!((replay.read, replay.missing, replay.unreadable), (before, 0, 0));
        }
    }
    result
}

/// Everything is on the disk, and would be after cuts of the power on the way.
fn look_after_insisting(vfs: &Vfs, script: &Script, seed: u64, tally: &mut Tally) {
    let ops = vfs.disk().ops().to_vec();
    let mut dice = Dice::new(seed);
    let stops = [dice.under(ops.len()), dice.under(ops.len()), ops.len() - 1];
    let mut platter = Platter::new(&Files::new(), Honesty::Honest);
    let mut acknowledged = 0;
    for (at, op) in ops.iter().enumerate() {
        platter.take(op);
        if let Op::Acknowledged(entries) = op {
            acknowledged = *entries;
        }
        if stops.contains(&at) {
            tally.cuts += 1;
            look(vfs, script, acknowledged, &platter.cut(if at + 1 == ops.len() { 0 } else { dice.roll() }), tally);
        }
    }
    assert_eq!(acknowledged, script.entries.len() as u64);
}

fn text(why: JournalError) -> String {
    format!("{:#}", anyhow::Error::new(why))
}

#[test]
fn a_disk_error_at_any_call_is_said_and_survived() {
    let vfs = Vfs::register("disk-error", Disk::new(&Files::new()));
    let script = Script::new(4, 14);
    let (since, mut tally, mut said_in_all) = (Instant::now(), Tally::default(), 0);
    // One error alone, and a run of them.
    for length in [1, 3] {
        for call in 0.. {
            let mut disk = Disk::new(&Files::new());
            disk.set_fault(Fault::Calls(call, call + length));
            vfs.replace(disk);
            let said = insist(&vfs, &script, || vfs.disk().set_fault(Fault::None));
            if vfs.disk().failed() == 0 && said.is_empty() {
                break;
            }
            tally.points += 1;
            said_in_all += said.len();
            for why in said {
                assert!(!why.is_damage(), "call {call}: an error is no damage: {why}");
                let why = text(why);
                assert!(why.starts_with("could not "), "call {call}: {why}");
            }
            look_after_insisting(&vfs, &script, call, &mut tally);
        }
    }
    report("disk errors", &tally, since);
    assert!(said_in_all > 100, "hardly an error was said: {said_in_all}");
    assert_eq!((tally.lost, tally.half, tally.corrupt), (0, 0, 0), "{tally:?}");
}

#[test]
fn a_full_disk_is_said_and_survived() {
    let vfs = Vfs::register("disk-full", Disk::new(&Files::new()));
    let script = Script::new(4, 14);
    let (since, mut tally) = (Instant::now(), Tally::default());
    for mark in 0.. {
        let mut disk = Disk::new(&Files::new());
        disk.set_fault(Fault::Full(mark * 512));
        vfs.replace(disk);
        let said = insist(&vfs, &script, || vfs.disk().set_fault(Fault::None));
        if said.is_empty() {
            break;
        }
        tally.points += 1;
        for why in said {
            let why = text(why);
            assert!(why.contains("full"), "{mark} sectors: {why}");
        }
        look_after_insisting(&vfs, &script, mark, &mut tally);
    }
    report("disk full", &tally, since);
    assert!(tally.points > 100, "{tally:?}");
    assert_eq!((tally.lost, tally.half, tally.corrupt), (0, 0, 0), "{tally:?}");
}

#[test]
fn a_start_on_a_full_disk_reads_all_and_keeps_on_when_there_is_room() {
    let vfs = Vfs::register("start-full", Disk::new(&Files::new()));
    let script = Script::new(5, 30);
    busy_minute(&vfs, &script, Synchronous::Full);
    let used = vfs.disk().used();
    vfs.disk().set_fault(Fault::Full(used));
    let (journal, opening) = Journal::open(Path::new(PATH), &options(&vfs, Synchronous::Full)).expect("it opens");
    let replay = journal.replay(0, |_| ControlFlow::Continue(())).expect("a replay");
    assert_eq!((replay.read, replay.missing), (script.entries.len() as u64, 0));
    let next = Entry { seq: journal.last_seq() + 1, boot: opening.boot, ..script.entries[0].clone() };
    let full = journal.append(std::slice::from_ref(&next)).expect_err("no room");
    assert!(matches!(full, JournalError::Full { .. }), "{full}");
    vfs.disk().set_fault(Fault::None);
    journal.append(std::slice::from_ref(&next)).expect("there is room");
    journal.close().expect("closed");
    let (_, again) = Journal::open(Path::new(PATH), &options(&vfs, Synchronous::Full)).expect("it opens");
    assert!(again.boot > opening.boot, "the boot was written down with the first append");
}
