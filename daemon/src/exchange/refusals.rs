//! The refusals, each by its words.

use std::io;

use chrono::NaiveDate;

use super::columns::FILES;
use super::small_barn::{FLAT, check, check_same, look, sound};
use super::{look_at_files, read_book, report};

#[test]
fn steps_and_languages_that_can_not_be() {
    check("people.csv", ",2,es", ",2,fr", &["people.csv line 2, column language: \"fr\": allowed is en, es"]);
    let long = "a".repeat(81);
    check(
        "chores.csv",
        "Tallar las cubetas",
        &long,
        &[&format!(
            "chores.csv line 2, column name_es: \"{}\"...: allowed is up to 80 characters on one line",
            &long[..60]
        )],
    );
    let check = |from: &str, to: &str, fault: &str| check("steps.csv", from, to, &[&format!("steps.csv {fault}")]);
    check("brush,2", "comb,2", "line 3, column job: \"comb\": allowed is brush, tack, lead_out, put_away");
    check(
        "brush,2",
        "brush,1",
        "line 3, column order: \"1\": allowed is each number once for a job; line 2 has it too",
    );
    check("brush,2", "brush,100", "line 3, column order: \"100\": allowed is 1 to 99");
    check("Curry", "", "line 3, column text: is empty: allowed is 1 to 80 characters");
    check("primero,yes", "primero,maybe", "line 2, column caution: \"maybe\": allowed is yes, no");
}

#[test]
fn buckets_that_can_not_be() {
    let check = |from: &str, to: &str, fault: &str| check("buckets.csv", from, to, &[&format!("buckets.csv {fault}")]);
    check(
        "2 far",
        &FLAT.replace("265", "365"),
        "line 2, column shape: \"flat_back\": allowed is the measures of a vessel must each be above 0 mm and fit each other; a \
         table must rise in both columns",
    );
    check(
        "round,260,300,,,,,,305",
        "round,260,300,200,,,,,305",
        "line 2, column depth_mm: \"200\": allowed is nothing: round is measured by bottom_mm, top_mm, height_mm",
    );
    check("2 far,2,", "2 far,29,", "line 2, column stall: \"29\": allowed is a stall of stalls.csv");
    check(
        "2 far,2,,",
        "2 far,2,north,",
        "line 2, column paddock: \"north\": allowed is nothing, as the bucket stands in a stall",
    );
    check(
        "2 far,2,,",
        "2 far,,,",
        "line 2, column stall: is empty: allowed is a stall, or else a paddock in the column paddock",
    );
    check(
        "2 far,2,",
        ",2,",
        "line 2, column bucket: is empty: allowed is a name: the stall has a bucket of its own already",
    );
    check(
        "trough,,north",
        ",,north",
        "line 3, column bucket: is empty: allowed is a name: only a stall's own bucket has none",
    );
    check(
        "up,12",
        "down,12",
        "line 3, column sensor_empty_mm: \"12\": allowed is 600 (height_mm) to 5000 for a sensor that looks down",
    );
    check(
        "trough,,,,1200,500,,,600,,up",
        "table,,,,,,,,,0=0; 100=5; 90=9,up",
        "line 3, column shape: \"table\": allowed is the measures of a vessel must each be above 0 mm and fit each other; a table \
         must rise in both columns",
    );
    check(
        "trough,,,,1200,500,,,600,,up",
        "table,,,,,,,,,0; 100=5,up",
        "line 3, column table: \"0; 100=5\": allowed is 2 to 200 levels in mm with their litres, such as 0=0; 100=5.2; 305=18.5",
    );
}

/// What is said of a height that can not be one.
const INCHES: &str = "hands, a point and 0 to 3 inches, such as 15.2 (four inches are a hand: after 15.3 comes 16.0); a \
                      quarter, half or three quarters of an inch may follow, such as 15.2 1/2";

#[test]
fn wrong_limits_loads_and_times_are_refused() {
    let horses = "horses.csv";
    for (column, from, to, value, allowed) in [
        ("rides_a_day", "\",3,", "\",0,", "0", "1 to 20"),
        ("minutes_in_a_row", ",60,", ",4,", "4", "5 to 600"),
        ("minutes_a_day", ",120,", ",901,", "901", "5 to 900"),
        ("days_a_week", ",5,82", ",8,82", "8", "1 to 7"),
        ("load_kg", "82.5", "9.9", "9.9", "10 to 400"),
        ("weight_kg", "455.5", "45", "45", "50 to 1500"),
        ("height_hands", "14.2", "4.3", "4.3", "5.0 to 22.0 hands"),
        ("height_hands", "14.2", "15.4", "15.4", INCHES),
        ("height_hands", "14.2", "14.20", "14.20", INCHES),
        ("height_hands", "14.2", "58 in", "58 in", INCHES),
        ("resting_temp_c", "37.8", "100", "100", "36 to 40"),
        ("resting_pulse", ",36,", ",36.5,", "36.5", "15 to 140"),
        ("resting_breaths", ",12\n", ",3\n", "3", "4 to 80"),
    ] {
        check(horses, from, to, &[&format!("horses.csv line 2, column {column}: {value:?}: allowed is {allowed}")]);
    }
    check("rides.csv", "70.5", "heavy", &["rides.csv line 2, column load_kg: \"heavy\": allowed is 5 to 400"]);
    check(
        "shifts.csv",
        "7:30,13:00",
        "13:00,13:00",
        &["shifts.csv line 2, column to: \"13:00\": allowed is a time later than the 13:00 of from, on the same day"],
    );
    check(
        "shifts.csv",
        "ana,Mon Wed,14:00",
        "ana,\"Tue, Wed\",12:59",
        &[
            "shifts.csv line 3, column from: \"12:59\": allowed is a time of its own; line 2 has ana from 7:30 to 13:00 on \
           such a day",
        ],
    );
    // It begins when the other ends, or on other days: both are well.
    check("shifts.csv", "14:00", "13:00", &[]);
    check("shifts.csv", "ana,Mon Wed,14:00", "ana,Tue Thu,8:00", &[]);
    check("shifts.csv", "ana,Mon Wed,14:00", "teo,Mon Wed,8:00", &[]);
    check(
        "shifts.csv",
        "ana,Mon Wed,14:00",
        "nora,Mon Wed,14:00",
        &["shifts.csv line 3, column person: \"nora\": allowed is a person of people.csv"],
    );
    // 2026-06-18 is one of the days that are daily.
    check(
        "away.csv",
        "8:00,9:00",
        "12:30,14:00",
        &[
            "away.csv line 3, column from: \"12:30\": allowed is a time of its own; line 2 has moss from 12:00 to 13:00 on \
           such a day",
        ],
    );
    check(
        "away.csv",
        "moss,daily",
        "mos,daily",
        &["away.csv line 2, column horse: \"mos\": allowed is a horse of horses.csv; did you mean \"moss\"?"],
    );
    check("away.csv", "turn-out", "", &["away.csv line 2, column why: is empty: allowed is 1 to 40 characters"]);
    let mut files = sound();
    let rows: String = (0..402).map(|n| format!("ana,{},9:00,10:00\n", date(n))).collect();
    files.insert("shifts.csv", format!("person,days,from,to\n{rows}").into_bytes());
    let faults = look(&files).book.expect_err("too many rows");
    assert_eq!(faults.count(), 2);
    assert!(faults.list()[0].to_string().ends_with("allowed is up to 400 rows of one name"), "{faults}");
}

fn date(n: u64) -> NaiveDate {
    NaiveDate::from_ymd_opt(2026, 1, 1).expect("a date") + chrono::Days::new(n)
}

#[test]
fn wrong_values_are_refused_with_what_is_allowed() {
    let horses = "horses.csv";
    check(horses, "Bella,1,1,", "Bella,1,7,", &["horses.csv line 2, column grade: \"7\": allowed is 1 to 3"]);
    // The row before spans two lines: the fault names the line that an editor shows.
    check(horses, "Moss,2,3,", "Moss,2,0,", &["horses.csv line 4, column grade: \"0\": allowed is 1 to 3"]);
    check(horses, "Moss,2,3,", "Moss,2,,", &["horses.csv line 4, column grade: is empty: allowed is 1 to 3"]);
    check(horses, "2,3,20", "2,3,20.5", &["horses.csv line 4, column brush_min: \"20.5\": allowed is 1 to 240"]);
    check(horses, "2,3,20", "2,3,-20", &["horses.csv line 4, column brush_min: \"-20\": allowed is 1 to 240"]);
    check(horses, ",Moss,", ",,", &["horses.csv line 4, column name: is empty: allowed is 1 to 40 characters"]);
    check(
        horses,
        "Moss,",
        "\"Mo\nss\",",
        &["horses.csv line 4, column name: \"Mo\\nss\": allowed is up to 40 characters on one line"],
    );
    let stalls = "stalls.csv";
    check(stalls, "main,left", "main,port", &["stalls.csv line 2, column side: \"port\": allowed is left, right"]);
    check(stalls, "down", "across", &["stalls.csv line 2, column sensor_looks: \"across\": allowed is down, up"]);
    check(stalls, "260", "26", &["stalls.csv line 2, column bucket_bottom_mm: \"26\": allowed is 50 to 2000"]);
    check(stalls, "260", "2e2", &["stalls.csv line 2, column bucket_bottom_mm: \"2e2\": allowed is 50 to 2000"]);
    check(
        stalls,
        "260,300,305",
        "300,260,305",
        &["stalls.csv line 2, column bucket_top_mm: \"260\": allowed is at least the 300 of bucket_bottom_mm, up to \
           2000"],
    );
    check(
        stalls,
        "420",
        "200",
        &[
            "stalls.csv line 2, column sensor_empty_mm: \"200\": allowed is 305 (bucket_height_mm) to 5000 for a sensor \
           that looks down",
        ],
    );
    check(
        stalls,
        "up,0",
        "up,1200",
        &["stalls.csv line 3, column sensor_empty_mm: \"1200\": allowed is 0 to 1000 for a sensor that looks up"],
    );
    check(
        stalls,
        "305,down,420",
        ",down,420",
        &[
            "stalls.csv line 2, column bucket_height_mm: is empty: allowed is a value, as the row has a bucket (for none \
           leave its five columns empty)",
        ],
    );
    check(stalls, "3,main", "3/4,main", &["stalls.csv line 4, column stall: \"3/4\": allowed is a name without / + #"]);
    check(
        "tack.csv",
        "pad,wool",
        "rug,wool",
        &["tack.csv line 3, column kind: \"rug\": allowed is pad, saddle, surcingle, girth, stirrups, bridle, reins, \
           halter, other"],
    );
    check(
        "people.csv",
        "groom",
        "farrier",
        &["people.csv line 2, column role: \"farrier\": allowed is groom, horse_leader, side_walker, instructor, \
           equine_professional, staff, manager"],
    );
    check("people.csv", "04A1B2C3,2", "04A1B2C3,4", &["people.csv line 2, column grade: \"4\": allowed is 0 to 3"]);
    check(
        "people.csv",
        "04A1B2C3",
        "4.12E+11",
        &["people.csv line 2, column badge: \"4.12E+11\": allowed is the name itself: a spreadsheet took it for a \
           number; make the column text"],
    );
    check("rides.csv", "12,13", "12,41", &["rides.csv line 2, column right_stirrup: \"41\": allowed is 1 to 40"]);
    check(
        "rides.csv",
        "12,13",
        "12,",
        &["rides.csv line 2, column right_stirrup: is empty: allowed is 1 to 40, as the left one is given, or neither"],
    );
    check(
        "rides.csv",
        "12,13",
        ",13",
        &["rides.csv line 2, column left_stirrup: is empty: allowed is 1 to 40, as the right one is given, or neither"],
    );
}

#[test]
fn times_and_days_that_are_not_clear_are_refused() {
    for time in ["9.05", "905", "24:00", "9:60", "13:05 PM", "0:30 AM", "9:5", "9:05:30", "0.375", "noon", "9:05:00:00"]
    {
        let fault =
            format!("lessons.csv line 2, column start: {time:?}: allowed is a time such as 9:05, 14:30 or 2:30 PM");
        check("lessons.csv", "9:00", time, &[&fault]);
    }
    for time in ["09:00", "9:00 AM", "9:00am", "9:00 a.m.", "09:00:00", " 9:00 "] {
        check_same("lessons.csv", "9:00", time);
    }
    for days in ["6/18/2026", "2026-02-30", "26-06-18", "Mon Mon", "Mo We", "Mon-Fri", "someday"] {
        let fault = format!(
            "lessons.csv line 2, column days: {days:?}: allowed is a date such as 2026-06-18, weekdays such as Mon Wed \
             Fri each once, or daily"
        );
        check("lessons.csv", "Mon Wed", days, &[&fault]);
    }
    for days in ["Wed Mon", "\"monday, wednesday\"", "MON;WED"] {
        check_same("lessons.csv", "Mon Wed", days);
    }
}

#[test]
fn what_is_named_must_be_there_and_once() {
    check(
        "horses.csv",
        "Moss,2",
        "Moss,9",
        &["horses.csv line 4, column stall: \"9\": allowed is a stall of stalls.csv"],
    );
    check(
        "horses.csv",
        "Moss,2",
        "Moss,1",
        &["horses.csv line 4, column stall: \"1\": allowed is a stall of its own; the horse of line 2 stands there"],
    );
    check(
        "stalls.csv",
        "\n3,",
        "\n2,",
        &["stalls.csv line 4, column stall: \"2\": allowed is each name once; line 3 has it too"],
    );
    check(
        "fits.csv",
        "moss,",
        "Mos,",
        &["fits.csv line 4, column horse: \"Mos\": allowed is a horse of horses.csv; did you mean \"moss\"?"],
    );
    check(
        "fits.csv",
        "lesson,2,s1",
        "lesson,2,s9x",
        &["fits.csv line 3, column tack: \"s9x\": allowed is a piece of tack of tack.csv"],
    );
    check(
        "fits.csv",
        "lesson,2",
        "lesson,1",
        &["fits.csv line 3, column order: \"1\": allowed is each number once for a horse and use; line 2 has it too"],
    );
    check(
        "fits.csv",
        "2,s1",
        "2,p1",
        &["fits.csv line 3, column tack: \"p1\": allowed is each piece once for a horse and use; line 2 has it too"],
    );
    check(
        "people.csv",
        "instructor,,",
        "instructor,04a1b2c3,",
        &[
            "people.csv line 3, column badge: \"04a1b2c3\": allowed is a badge of their own; the person of line 2 has it",
        ],
    );
    check(
        "lessons.csv",
        "teo",
        "nora",
        &["lessons.csv line 2, column instructor: \"nora\": allowed is a person of people.csv"],
    );
    check(
        "rides.csv",
        "mon9",
        "tue",
        &["rides.csv line 2, column lesson: \"tue\": allowed is a lesson of lessons.csv"],
    );
    check(
        "rides.csv",
        ",lesson,12",
        ",lead line,12",
        &[
            "rides.csv line 2, column use: \"lead line\": allowed is a use for which fits.csv has tack; for \"bella\" that \
           is lesson",
        ],
    );
    check(
        "rides.csv",
        "12,13,70.5\n",
        "12,13,70.5\nr2,mon9,bella,lesson,,,\n",
        &["rides.csv line 3, column horse: \"bella\": allowed is each horse once in a lesson; line 2 has it too"],
    );
}

#[test]
fn a_fault_is_told_once_and_not_again_by_all_that_name_it() {
    check("horses.csv", "Bella,1,1,", "Bella,1,x,", &["horses.csv line 2, column grade: \"x\": allowed is 1 to 3"]);
    check(
        "tack.csv",
        "s1,saddle,saddle 1,17 inch,rack 1",
        "s1,saddle,saddle 1,17 inch",
        &["tack.csv line 2: 4 cells: allowed is 5, as in the row of headings"],
    );
    let mut files = sound();
    files.remove("horses.csv");
    let faults = look(&files).book.expect_err("no horses");
    assert_eq!(
        faults.to_string(),
        "horses.csv: is missing: allowed is a file of that name with the headings horse, name, stall, grade, brush_min, \
         tack_min, put_away_min, notes, notes_es, rides_a_day, minutes_in_a_row, minutes_a_day, days_a_week, \
         load_kg, weight_kg, height_hands, resting_temp_c, resting_pulse, resting_breaths"
    );
}

#[test]
fn every_fault_of_every_file_is_told() {
    let mut files = sound();
    files.insert("chores.csv", b"chore,name,place,days,by\n,Sweep,aisle,never,25:00\n".to_vec());
    files.insert("people.csv", b"person,name,role,badge,grade\nana,Ana,boss,,9\nteo,Teo,instructor,,3\n".to_vec());
    let faults = look(&files).book.expect_err("faulty");
    let told: Vec<_> =
        faults.list().iter().map(|f| (f.file.as_str(), f.line, f.column.as_deref().unwrap_or(""))).collect();
    assert_eq!(
        told,
        [
            ("people.csv", Some(2), "role"),
            ("people.csv", Some(2), "grade"),
            ("chores.csv", Some(2), "chore"),
            ("chores.csv", Some(2), "days"),
            ("chores.csv", Some(2), "by"),
        ]
    );
    let report = report(&faults);
    assert!(report.ends_with("\n\n5 faults in 2 files. The book was not taken; nothing has changed.\n"), "{report}");
}

#[test]
fn files_and_headings_that_are_wrong_are_refused() {
    let chores = "chores.csv";
    let headings = "chore,name,name_es,place,place_es,days,by";
    check(
        chores,
        headings,
        "chore,name,name_es,place,place_es,day,by",
        &[
            "chores.csv line 1, column days: is missing: allowed is a heading of that name",
            "chores.csv line 1, column day: is not known: allowed is chore, name, name_es, place, place_es, days, by",
        ],
    );
    check(
        chores,
        &format!("{headings}\nwater,Scrub the buckets,Tallar las cubetas,aisle,pasillo,daily,10:00"),
        &format!("{headings},By\nwater,Scrub the buckets,Tallar las cubetas,aisle,pasillo,daily,10:00,11:00"),
        &["chores.csv line 1, column by: stands there twice: allowed is each heading once"],
    );
    check(chores, "10:00", "10:00,11:00", &["chores.csv line 2: 8 cells: allowed is 7, as in the row of headings"]);
    check(
        chores,
        headings,
        "a|b",
        &[
            "chores.csv line 1: \"a|b\": allowed is a first row of headings: chore, name, name_es, place, place_es, days, by",
        ],
    );
    let quoting = "allowed is a quote at both ends of a cell, with nothing outside of them, and two for one inside \
                   (\"the \"\"grey\"\" mare\")";
    check(chores, "Scrub", "\"Scrub", &[&format!("chores.csv line 2: a quote is never closed: {quoting}")]);
    check(
        chores,
        "Scrub the buckets",
        "\"Scrub\" the buckets",
        &[&format!("chores.csv line 2: there is text after a closing quote: {quoting}")],
    );
    check(
        chores,
        "Scrub the buckets",
        " \"Scrub the buckets\"",
        &[&format!("chores.csv line 2: there is a space before an opening quote: {quoting}")],
    );

    for (bytes, said) in [
        (
            &b""[..],
            "chores.csv: is empty: allowed is a first row of headings: chore, name, name_es, place, place_es, days, by",
        ),
        (
            b"\n ,,\n",
            "chores.csv: is empty: allowed is a first row of headings: chore, name, name_es, place, place_es, days, by",
        ),
        (b"PK\x03\x04rest", "chores.csv: is a workbook: allowed is plain text: save the sheet as CSV"),
        (b"\xff\xfea", "chores.csv: is not sound UTF-16LE: allowed is UTF-8"),
    ] {
        let mut files = sound();
        files.insert(chores, bytes.to_vec());
        assert_eq!(look(&files).book.expect_err("faulty").to_string(), said);
    }

    let unreadable = look_at_files(|_| Err(io::ErrorKind::PermissionDenied.into())).book.expect_err("no file");
    assert_eq!(unreadable.count(), FILES.len());
    assert_eq!(
        unreadable.list()[0].to_string(),
        "stalls.csv: can not be read (permission denied): allowed is a file that the hub may read"
    );
}

#[test]
fn garbage_without_end_is_counted_and_not_kept() {
    let mut files = sound();
    let rows = "x,?,?,?,?\n".repeat(5_000);
    files.insert("chores.csv", format!("chore,name,place,days,by\n{rows}").into_bytes());
    let faults = look(&files).book.expect_err("faulty");
    assert_eq!(faults.list().len(), super::Faults::KEPT);
    // Days and time of each row, and all names but the first.
    assert_eq!(faults.count(), 5_000 * 2 + 4_999);
    assert!(faults.to_string().ends_with("\nand 13999 more"));
}

#[test]
fn a_folder_that_is_not_there_is_one_fault() {
    let folder = tempfile::tempdir().expect("a folder for the test");
    let faults = read_book(&folder.path().join("nowhere")).expect_err("no folder");
    assert_eq!(faults.count(), 1);
    assert!(faults.to_string().contains("nowhere: is not a folder"), "{faults}");
}
