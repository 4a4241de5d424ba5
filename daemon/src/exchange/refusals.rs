//! The refusals, each by its words, and what spreadsheets write beside the standard.

use std::collections::BTreeMap;
use std::io;

use bellmare_barn::board::Job;
use bellmare_barn::book::{Away, Days, Expected, Gauge, Resting, Shape, Stirrups, Vessel, WaterPlace, WorkLimits};
use bellmare_barn::hands::Hands;
use bellmare_barn::id::{BadgeId, HorseId, LessonId, PersonId, RideId};
use bellmare_barn::language::Language;
use bellmare_barn::time::TimeOfDay;
use bellmare_barn::units::{Celsius, Kilograms, Millimetres, Minutes, PerMinute};
use chrono::NaiveDate;

use super::columns::FILES;
use super::{Outcome, look_at_files, read_book, report};

/// A small barn without a fault.
pub(super) const SOUND: [(&str, &str); 12] = [
    (
        "stalls.csv",
        "stall,aisle,side,bucket_bottom_mm,bucket_top_mm,bucket_height_mm,sensor_looks,sensor_empty_mm\n\
         1,main,left,260,300,305,down,420\n\
         2,main,right,260,300.5,305,up,0\n\
         3,main,right,,,,,\n",
    ),
    (
        "horses.csv",
        "horse,name,stall,grade,brush_min,tack_min,put_away_min,notes,notes_es,rides_a_day,minutes_in_a_row,minutes_a_day,\
         days_a_week,load_kg,weight_kg,height_hands,resting_temp_c,resting_pulse,resting_breaths\n\
         bella,Bella,1,1,15,10,15,\"Ties well.\nMind the left hind.\",\"Se deja amarrar.\",3,60,120,5,82.5,455.5,14.2,37.8,36,12\n\
         moss,Moss,2,3,20,10,15,,,,,,,,,,,,\n",
    ),
    ("tack.csv", "tack,kind,name,size,place\ns1,saddle,saddle 1,17 inch,rack 1\np1,pad,wool pad,,rack 1\n"),
    (
        "fits.csv",
        "horse,use,order,tack,note,note_es\nbella,lesson,1,p1,,\nbella,lesson,2,s1,,\nmoss,lead line,1,p1,low,bajo\n",
    ),
    ("people.csv", "person,name,role,badge,grade,language\nana,Ana,groom,04A1B2C3,2,es\nteo,Teo,instructor,,3,\n"),
    ("lessons.csv", "lesson,days,start,minutes,instructor,place\nmon9,Mon Wed,9:00,45,teo,arena\n"),
    ("rides.csv", "ride,lesson,horse,use,left_stirrup,right_stirrup,load_kg\nr1,mon9,bella,lesson,12,13,70.5\n"),
    (
        "chores.csv",
        "chore,name,name_es,place,place_es,days,by\nwater,Scrub the buckets,Tallar las cubetas,aisle,pasillo,daily,10:00\n",
    ),
    ("shifts.csv", "person,days,from,to\nana,Mon Wed,7:30,13:00\nana,Mon Wed,14:00,18:00\n"),
    ("away.csv", "horse,days,from,to,why\nmoss,daily,12:00,13:00,turn-out\nmoss,2026-06-18,8:00,9:00,farrier\n"),
    (
        "buckets.csv",
        "bucket,stall,paddock,shape,bottom_mm,top_mm,depth_mm,length_mm,width_mm,bottom_length_mm,bottom_width_mm,height_mm,\
         table,sensor_looks,sensor_empty_mm\n\
         2 far,2,,round,260,300,,,,,,305,,up,0\n\
         trough,,north,trough,,,,1200,500,,,600,,up,12\n",
    ),
    (
        "steps.csv",
        "job,order,text,text_es,caution\nbrush,1,Speak first,Habla primero,yes\nbrush,2,Curry,,\nput away,1,Latch it,,no\n",
    ),
];

pub(super) type Files = BTreeMap<&'static str, Vec<u8>>;

pub(super) fn sound() -> Files {
    SOUND.iter().map(|(name, text)| (*name, text.as_bytes().to_vec())).collect()
}

pub(super) fn look(files: &Files) -> Outcome {
    look_at_files(|name| files.get(name).cloned().ok_or_else(|| io::ErrorKind::NotFound.into()))
}

/// The sound barn with one text of one file changed: exactly these faults.
#[track_caller]
fn check(file: &'static str, from: &str, to: &str, faults: &[&str]) {
    let mut files = sound();
    let text = String::from_utf8(files[file].clone()).expect("the sound barn is UTF-8");
    assert!(text.contains(from), "{from:?} is not in {file}");
    files.insert(file, text.replacen(from, to, 1).into_bytes());
    let said = match look(&files).book {
        Ok(_) => String::new(),
        Err(faults) => faults.to_string(),
    };
    assert_eq!(said, faults.join("\n"));
}

/// As [`check`], for a change that is allowed.
#[track_caller]
fn check_same(file: &'static str, from: &str, to: &str) {
    check(file, from, to, &[]);
    let mut files = sound();
    let text = String::from_utf8(files[file].clone()).expect("the sound barn is UTF-8");
    files.insert(file, text.replacen(from, to, 1).into_bytes());
    assert_eq!(look(&files).book, look(&sound()).book);
}

#[test]
fn the_small_barn_is_read() {
    let book = look(&sound()).book.expect("a sound book");
    assert_eq!(book.stalls.len(), 3);
    assert_eq!(book.stalls[2].vessel, None);
    let at: Vec<_> = book.buckets.iter().map(|bucket| (bucket.id.as_str(), bucket.at.clone())).collect();
    assert_eq!(at, [("2 far", WaterPlace::Stall("2".into())), ("trough", WaterPlace::Paddock("north".into()))]);
    let bella = &book.horses[&HorseId::from("bella")];
    assert_eq!(bella.notes, ["Ties well.", "Mind the left hind."]);
    assert_eq!(book.lessons[&LessonId::from("mon9")].days, Days::Weekly(vec![0, 2]));
    assert_eq!(book.rides[&RideId::from("r1")].stirrups, Some(Stirrups { left: 12, right: 13 }));
    assert_eq!(book.people[&PersonId::from("ana")].badge, Some(BadgeId::from("04A1B2C3")));
}

#[test]
fn what_is_written_in_two_languages_is_read_in_both() {
    let book = look(&sound()).book.expect("a sound book");
    let person = |id: &str| book.people[&PersonId::from(id)].language;
    assert_eq!((person("ana"), person("teo")), (Language::Spanish, Language::English));
    assert_eq!(book.horses[&HorseId::from("bella")].notes_spanish, ["Se deja amarrar."]);
    let water = &book.chores[&"water".into()];
    assert_eq!((&*water.name_spanish, &*water.place_spanish), ("Tallar las cubetas", "pasillo"));
    assert_eq!(book.fits[2].note_spanish, "bajo");
    let steps: Vec<_> = book.steps.iter().map(|step| (step.job, step.order, step.caution)).collect();
    assert_eq!(steps, [(Job::Brush, 1, true), (Job::Brush, 2, false), (Job::PutAway, 1, false)]);
    assert_eq!(book.steps[0].text.in_language(Language::Spanish), "Habla primero");
    assert_eq!(book.steps[1].text.in_language(Language::Spanish), "Curry", "nobody has written it in Spanish");
}

#[test]
fn a_book_of_before_there_were_two_languages_and_steps_is_read() {
    let mut files = sound();
    files.remove("steps.csv");
    for (file, from, to) in [
        (
            "people.csv",
            "grade,language\nana,Ana,groom,04A1B2C3,2,es\nteo,Teo,instructor,,3,",
            "grade\nana,Ana,groom,04A1B2C3,2\nteo,Teo,instructor,,3",
        ),
        (
            "chores.csv",
            "name,name_es,place,place_es,days,by\nwater,Scrub the buckets,Tallar las cubetas,aisle,pasillo,",
            "name,place,days,by\nwater,Scrub the buckets,aisle,",
        ),
        (
            "fits.csv",
            "note,note_es\nbella,lesson,1,p1,,\nbella,lesson,2,s1,,\nmoss,lead line,1,p1,low,bajo",
            "note\nbella,lesson,1,p1,\nbella,lesson,2,s1,\nmoss,lead line,1,p1,low",
        ),
    ] {
        let text = String::from_utf8(files[file].clone()).expect("UTF-8");
        assert!(text.contains(from), "{file}: {text}");
        files.insert(file, text.replacen(from, to, 1).into_bytes());
    }
    let book = look(&files).book.unwrap_or_else(|faults| panic!("{faults}"));
    assert_eq!((book.steps.len(), book.people[&PersonId::from("ana")].language), (0, Language::English));
    assert_eq!(book.chores[&"water".into()].name_spanish, "");
    assert_eq!(book.chores[&"water".into()].place_spanish, "");
}

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
fn a_book_without_a_file_of_buckets_has_those_of_its_stalls() {
    let mut files = sound();
    files.remove("buckets.csv");
    let book = look(&files).book.expect("a sound book");
    assert_eq!((book.buckets.len(), &book.stalls[2].vessel), (0, &None));
}

const FLAT: &str = ",3,,flat_back,270,310,265,,,,,330,,down,440\n2 far";

#[test]
fn a_row_of_buckets_without_a_name_is_the_stalls_own() {
    let mut files = sound();
    let text = String::from_utf8(files["buckets.csv"].clone()).expect("UTF-8").replacen("2 far", FLAT, 1);
    files.insert("buckets.csv", text.into_bytes());
    let book = look(&files).book.expect("a sound book");
    let [bottom, top, depth, height] = [270.0, 310.0, 265.0, 330.0].map(Millimetres);
    let gauge = Gauge::Down { to_bottom: Millimetres(440.0) };
    let flat = Vessel { shape: Shape::FlatBack { bottom, top, depth, height }, gauge };
    assert_eq!((&book.stalls[2].vessel, book.buckets.len()), (&Some(flat), 2));
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

#[test]
fn limits_loads_shifts_and_absences_are_read() {
    let book = look(&sound()).book.expect("a sound book");
    assert_eq!(
        book.horses[&HorseId::from("bella")].most,
        WorkLimits {
            rides_a_day: Some(3),
            minutes_in_a_row: Some(Minutes(60)),
            minutes_a_day: Some(Minutes(120)),
            days_a_week: Some(5),
            load: Some(Kilograms(82.5)),
        }
    );
    assert_eq!(book.horses[&HorseId::from("moss")].most, WorkLimits::default());
    assert_eq!(book.rides[&RideId::from("r1")].load, Some(Kilograms(70.5)));
    let time = |hour, minute| TimeOfDay::new(hour, minute).expect("a time");
    let (person, days) = (PersonId::from("ana"), Days::Weekly(vec![0, 2]));
    assert_eq!(book.shifts[1], Expected { person, days, from: time(14, 0), to: time(18, 0) });
    let days = Days::On(NaiveDate::from_ymd_opt(2026, 6, 18).expect("a date"));
    let why = "farrier".to_owned();
    assert_eq!(book.away[1], Away { horse: HorseId::from("moss"), days, from: time(8, 0), to: time(9, 0), why });
}

#[test]
fn a_sheet_from_before_limits_and_loads_is_read_without_them() {
    let mut files = sound();
    files.insert(
        "horses.csv",
        b"horse,name,stall,grade,brush_min,tack_min,put_away_min,notes\nbella,Bella,1,1,15,10,15,\n\
          moss,Moss,2,3,20,10,15,\n"
            .to_vec(),
    );
    files.insert(
        "rides.csv",
        b"ride,lesson,horse,use,left_stirrup,right_stirrup\nr1,mon9,bella,lesson,12,13\n".to_vec(),
    );
    let book = look(&files).book.unwrap_or_else(|faults| panic!("{faults}"));
    assert!(book.horses.values().all(|horse| horse.most == WorkLimits::default()));
    assert_eq!(book.rides[&RideId::from("r1")].load, None);
}

#[test]
fn weight_height_and_resting_record_are_read() {
    let book = look(&sound()).book.expect("a sound book");
    let bella = &book.horses[&HorseId::from("bella")];
    assert_eq!(bella.weight, Some(Kilograms(455.5)));
    assert_eq!(bella.height, Some(Hands::of_inches(58)));
    let resting =
        Resting { temperature: Some(Celsius(37.8)), pulse: Some(PerMinute(36.0)), breaths: Some(PerMinute(12.0)) };
    assert_eq!(bella.resting, resting);
    let moss = &book.horses[&HorseId::from("moss")];
    assert_eq!((moss.weight, moss.height, moss.resting), (None, None, Resting::default()));
    // A spreadsheet makes 15 of 15.0, and a part of an inch may follow.
    check("horses.csv", "14.2", "15", &[]);
    check("horses.csv", "14.2", "14.2 1/2", &[]);
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
fn what_spreadsheets_write_beside_the_standard_is_read() {
    let people = "people.csv";
    check_same(people, "person,name,role,badge,grade", "Person, NAME ,Role,Badge,Grade");
    let turned = "language,grade,badge,role,name,person\nES,2,04A1B2C3,Groom,Ana,ana\n,3,,instructor,Teo,teo\n";
    check_same(people, SOUND[4].1, turned);
    check_same(
        people,
        "language\nana,Ana,groom,04A1B2C3,2,es\n",
        "language,,\n,,,,,,,\n\r\n  \nana,Ana,groom,04A1B2C3,2,es,,\n",
    );
    check_same(people, "person,", "sep=,\r\nperson,");
    check_same("fits.csv", "lead line,", "\"lead line\",");
    check_same("horses.csv", "Ties well.\nMind", "Ties well.\r\n\r\nMind");
    check_same("stalls.csv", "bucket_bottom_mm,bucket_top_mm", "Bucket bottom mm,bucket-top-mm");
    // An inch mark inside a cell is no quote.
    check("tack.csv", "17 inch", "17\"", &[]);

    let accented = SOUND[4].1.replace("Teo", "Téo");
    let mut files = sound();
    files.insert(people, accented.clone().into_bytes());
    let meant = look(&files).book;
    files.insert(people, encoding_rs::WINDOWS_1252.encode(&accented).0.into_owned());
    let Outcome { book, remarks } = look(&files);
    assert_eq!(book, meant);
    assert_eq!(remarks, ["people.csv: not UTF-8, so it was read as Windows-1252: look at the letters with accents"]);
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
