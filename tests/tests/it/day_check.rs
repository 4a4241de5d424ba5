//! A day of a book looked at beforehand, through the real program: its lines, and how it ends.

use std::fs;
use std::path::Path;
use std::process::{Command, Output};

use bellmare_tests::hub::{program, write_book};

fn hub(arguments: &[&str], book: &Path) -> Output {
    let [command, rest @ ..] = arguments else { panic!("a command") };
    let mut hub = Command::new(program());
    hub.arg(command).arg(book).args(rest).output().expect("the hub runs")
}

fn said(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).expect("text")
}

#[test]
fn a_day_with_nothing_wrong_ends_well_and_one_with_something_does_not() {
    let folder = tempfile::tempdir().expect("a folder");
    let book = folder.path();
    write_book(book, 2);
    // The ride of this book has stirrup lengths.
    fs::write(
        book.join("tack.csv"),
        "tack,kind,name,size,place\ns1,saddle,saddle 1,17 inch,rack 1\np1,stirrups,stirrups 1,,rack 1\n",
    )
    .expect("tack");
    fs::write(book.join("fits.csv"), "horse,use,order,tack,note\nh1,lesson,1,s1,\nh1,lesson,2,p1,\n").expect("fits");
    let well = hub(&["check", "--day", "2026-06-18"], book);
    assert_eq!(
        said(&well).lines().collect::<Vec<_>>(),
        [
            "Thursday 2026-06-18: 1 ride.",
            "Grooms by hour:",
            " hour  on the sheet  needed",
            " 8:00             1       0",
            " 9:00             1       1",
            "10:00             1       0",
            // Back at 10:50, it may stand until somebody comes at 11:00.
            "11:00             1       1",
            "12:00             1       0",
            "13:00             1       0",
            "14:00             1       0",
            "15:00             1       0",
            "16:00             1       0",
            "17:00             1       0",
            "Nothing wrong was found.",
        ]
    );
    assert_eq!(well.status.code(), Some(0));

    fs::write(book.join("away.csv"), "horse,days,from,to,why\nh1,Thu,10:30,12:00,farrier\n").expect("absences");
    let wrong = hub(&["check", "--day", "2026-06-18"], book);
    let line = "10:30-10:45 Horse 1 is away from 10:30 to 12:00 (farrier) and ridden in the arena from 10:00 to 10:45; what \
                would do: another horse for the ride, or another time for one of the two";
    assert_eq!(said(&wrong).lines().nth(1), Some(line));
    assert_eq!(wrong.status.code(), Some(1));
    assert_eq!(hub(&["check", "--day", "2026-06-19"], book).status.code(), Some(0), "a Friday");
    assert_eq!(hub(&["check", "--day", "18.6.2026"], book).status.code(), Some(2), "no date");
    // Without a day the book alone is looked at, and it is sound.
    assert_eq!(hub(&["check"], book).status.code(), Some(0));
}

#[test]
fn stand_ins_are_listed_and_the_equine_professional_chooses() {
    let folder = tempfile::tempdir().expect("a folder");
    write_book(folder.path(), 2);
    let list = hub(&["stand-ins", "--day", "2026-06-18", "--ride", "r1"], folder.path());
    assert_eq!(
        said(&list).lines().collect::<Vec<_>>(),
        [
            "The equine professional chooses the horse; this list only helps to look.",
            "Horse 2 does not fit: has no tack for lesson",
        ]
    );
    assert_eq!(list.status.code(), Some(0));
    let none = hub(&["stand-ins", "--day", "2026-06-18", "--ride", "r2"], folder.path());
    assert_eq!(none.status.code(), Some(1));
    let why = String::from_utf8_lossy(&none.stderr).into_owned();
    assert!(why.contains("\"r2\" is no ride on 2026-06-18; allowed is one of that day: r1"), "{why}");
}
