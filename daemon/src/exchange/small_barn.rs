//! A small barn, sound in every file: what is read of it, in every way that a sheet may be written. Other tests begin with it.

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

use super::{Outcome, look_at_files};

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

/// A bucket with a flat back of a name that it is given, before the first of buckets.csv.
pub(super) const FLAT: &str = ",3,,flat_back,270,310,265,,,,,330,,down,440\n2 far";

pub(super) type Files = BTreeMap<&'static str, Vec<u8>>;

pub(super) fn sound() -> Files {
    SOUND.iter().map(|(name, text)| (*name, text.as_bytes().to_vec())).collect()
}

pub(super) fn look(files: &Files) -> Outcome {
    look_at_files(|name| files.get(name).cloned().ok_or_else(|| io::ErrorKind::NotFound.into()))
}

/// The sound barn with one text of one file changed: exactly these faults.
#[track_caller]
pub(super) fn check(file: &'static str, from: &str, to: &str, faults: &[&str]) {
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
pub(super) fn check_same(file: &'static str, from: &str, to: &str) {
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
fn a_book_without_a_file_of_buckets_has_those_of_its_stalls() {
    let mut files = sound();
    files.remove("buckets.csv");
    let book = look(&files).book.expect("a sound book");
    assert_eq!((book.buckets.len(), &book.stalls[2].vessel), (0, &None));
}

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
