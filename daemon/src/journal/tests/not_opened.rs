//! Files that are not opened: another program's, a later hub's, one that another hub has, and damaged ones, which are set aside.

use super::*;

#[test]
fn a_later_schema_is_refused_and_left_alone() {
    let bench = Bench::with(1);
    let later = Connection::open(bench.path()).expect("a file");
    later.pragma_update(None, "user_version", 99).expect("set");
    later.close().expect("closed");
    let refused = bench.refused();
    assert!(matches!(refused, JournalError::Newer { found: 99, known: schema::LATEST, .. }), "{refused}");
    assert_eq!(bench.names(), ["journal.db".to_owned()].into());
}

#[test]
fn a_database_of_another_program_is_refused_and_left_alone() {
    let bench = Bench::new();
    let other = Connection::open(bench.path()).expect("a file");
    other.execute_batch("CREATE TABLE songs (name TEXT); INSERT INTO songs VALUES ('one')").expect("a table");
    other.close().expect("closed");
    let before = fs::read(bench.path()).expect("a file");
    let refused = bench.refused();
    assert!(matches!(refused, JournalError::Foreign { .. }), "{refused}");
    assert_eq!(fs::read(bench.path()).expect("a file"), before);
}

#[test]
fn a_second_hub_is_refused() {
    let bench = Bench::new();
    let (first, _) = bench.open();
    let refused = bench.refused();
    assert!(matches!(refused, JournalError::Locked { .. }), "{refused}");
    assert!(refused.to_string().contains("journal.db"), "{refused}");
    drop(first);
    bench.open();
}

#[test]
fn what_can_not_be_opened_is_said_with_its_name() {
    let bench = Bench::new();
    let nowhere = bench.folder.path().join("no/such/folder/journal.db");
    let refused = Journal::open(&nowhere, &bench.options).expect_err("no folder");
    assert!(refused.to_string().contains("no/such/folder/journal.db"), "{refused}");
    assert!(refused.source().is_some());
}

/// Does damage to a closed journal of 2,000 readings, and expects a start with a new one.
fn check_damage(what: &str, damage: impl Fn(&Path)) {
    let bench = Bench::with(2000);
    damage(&bench.path());
    let damaged = fs::read(bench.path()).ok();
    let (journal, opening) = bench.open();
    let Found::Damaged { set_aside, why } = &opening.found else { panic!("{what}: {:?}", opening.found) };
    assert!(!why.is_empty(), "{what}");
    assert_eq!(*set_aside, bench.folder.path().join("journal.db.damaged-1"), "{what}");
    assert_eq!(fs::read(set_aside).ok(), damaged, "{what}: nothing of it is lost");
    assert_eq!((opening.boot, opening.last, journal.last_seq()), (1, None, 0), "{what}");
    journal.append(&readings([1])).expect("the new one works");
}

#[test]
fn a_damaged_file_is_set_aside_whole_and_a_new_one_begun() {
    let edit = |path: &Path, change: &dyn Fn(&mut Vec<u8>)| {
        let mut bytes = fs::read(path).expect("a file");
        change(&mut bytes);
        fs::write(path, bytes).expect("written");
    };
    check_damage("not a database", |path| edit(path, &|bytes| bytes[..16].copy_from_slice(b"Dear barn diary,")));
    check_damage("zeroed", |path| edit(path, &|bytes| bytes.fill(0)));
    check_damage("cut", |path| edit(path, &|bytes| bytes.truncate(bytes.len() / 2)));
    check_damage("a page flipped", |path| {
        edit(path, &|bytes| bytes[3 * 4096..4 * 4096].iter_mut().for_each(|b| *b = !*b))
    });
    check_damage("a schema page zeroed", |path| edit(path, &|bytes| bytes[100..4096].fill(0)));
    check_damage("gone, its log left", |path| {
        fs::rename(path, path.with_file_name("journal.db-wal")).expect("moved");
    });
}

#[test]
fn a_second_damaged_file_has_its_own_name() {
    let bench = Bench::new();
    for n in 1..=2 {
        fs::write(bench.path(), format!("not a database, number {n}")).expect("written");
        fs::write(bench.folder.path().join("journal.db-wal"), format!("its log, number {n}")).expect("written");
        bench.open().0.close().expect("closed");
    }
    let names: Vec<_> = bench.names().into_iter().collect();
    let damaged = ["damaged-1", "damaged-1-wal", "damaged-2", "damaged-2-wal"].map(|n| format!("journal.db.{n}"));
    assert_eq!(names, [&["journal.db".to_owned()], &damaged[..]].concat());
}

#[test]
fn damage_past_the_size_that_is_checked_is_met_later_and_can_be_set_aside_then() {
    let bench = Bench::with(2000);
    let mut bytes = fs::read(bench.path()).expect("a file");
    // A leaf of the readings in the middle of the file.
    let middle = bytes.len() / 2 / 4096 * 4096;
    bytes[middle..middle + 4096].fill(0xff);
    fs::write(bench.path(), bytes).expect("written");
    let options = Options { check_up_to_bytes: 0, ..bench.options.clone() };
    let (journal, opening) = Journal::open(&bench.path(), &options).expect("it opens");
    assert_eq!(opening.found, Found::Kept);
    let met = journal.replay(0, |_| ControlFlow::Continue(())).expect_err("damage");
    assert!(met.is_damage(), "{met}");
    drop(journal);
    let (journal, opening) = Journal::open_afresh(&bench.path(), &options, "replay met damage").expect("a new one");
    assert!(matches!(opening.found, Found::Damaged { why, .. } if why == "replay met damage"));
    assert_eq!(journal.last_seq(), 0);
}
