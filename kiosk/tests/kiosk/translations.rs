//! Every word of the kiosk has its Spanish: none is missing, none is left over, none has lost a place to fill in.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use bellmare_barn::board::Board;
use bellmare_barn::language::Language;
use bellmare_barn::refusal::Because;
use bellmare_kiosk::app::{Settings, sizes};
use bellmare_kiosk::card;
use bellmare_kiosk::pages::{Here, round};
use bellmare_kiosk::words;
use rspolib::POFile;

use crate::samples;

/// What is the same in both languages, and meant so.
const SAME: [&str; 4] = ["PIN", "No", "{} am", "{} pm"];

/// A text to translate.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Debug)]
struct Said {
    context: Option<String>,
    one: String,
    many: Option<String>,
}

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn slint_files(folder: &Path, files: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).expect("a folder of screens") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            slint_files(&path, files);
        } else if path.extension().is_some_and(|ext| ext == "slint") {
            files.push(path);
        }
    }
}

/// A string literal at the beginning of `code`, and what follows it.
fn literal(code: &str) -> Option<(String, &str)> {
    let mut text = String::new();
    let mut chars = code.trim_start().strip_prefix('"')?.char_indices();
    let rest = code.trim_start().strip_prefix('"')?;
    while let Some((at, c)) = chars.next() {
        match c {
            '"' => return Some((text, rest[at + 1..].trim_start())),
            '\\' => text.push(match chars.next()?.1 {
                'n' => '\n',
                other => other,
            }),
            other => text.push(other),
        }
    }
    None
}

/// What a screen's source asks to have translated: `@tr("context" => "one" | "many" % n, ...)`.
fn asked(code: &str) -> Vec<Said> {
    let calls = code.split("@tr(").skip(1);
    let said = calls.map(|call| {
        let (first, rest) = literal(call).unwrap_or_else(|| panic!("a text begins: {}", &call[..call.len().min(60)]));
        let (context, one, rest) = match rest.strip_prefix("=>") {
            Some(rest) => {
                let (one, rest) = literal(rest).expect("a text after its context");
                (Some(first), one, rest)
            }
            None => (None, first, rest),
        };
        let many = rest.strip_prefix('|').map(|rest| literal(rest).expect("a text for many").0);
        Said { context, one, many }
    });
    said.collect()
}

/// The places to fill in.
fn places(text: &str) -> BTreeSet<&str> {
    text.split('{').skip(1).filter_map(|rest| Some(rest.split_once('}')?.0)).collect()
}

fn spanish() -> POFile {
    rspolib::pofile(root().join("lang/es/LC_MESSAGES/bellmare-kiosk.po").as_path()).expect("the Spanish can be read")
}

fn all_asked() -> BTreeMap<Said, String> {
    let mut files = Vec::new();
    slint_files(&root().join("ui"), &mut files);
    let mut all = BTreeMap::new();
    for file in files {
        let code = std::fs::read_to_string(&file).expect("a screen");
        all.extend(asked(&code).into_iter().map(|said| (said, file.display().to_string())));
    }
    all
}

#[test]
fn every_word_has_its_spanish() {
    let spanish = spanish();
    let all = all_asked();
    assert!(all.len() > 150, "{} words were found", all.len());
    let mut wrong = Vec::new();
    for (said, file) in &all {
        let of = |text: &str| format!("{file}: \"{}\": {text}", said.one);
        let entry = spanish.entries.iter().find(|entry| entry.msgid == said.one && entry.msgctxt == said.context);
        let Some(entry) = entry else {
            wrong.push(of("is not in the .po file"));
            continue;
        };
        if entry.msgid_plural != said.many {
            wrong.push(of("its plural is another one in the .po file"));
        }
        if entry.fuzzy() {
            wrong.push(of("is marked as not sure"));
        }
        let texts: Vec<&str> = match said.many {
            Some(_) => entry.msgstr_plural.iter().map(String::as_str).collect(),
            None => entry.msgstr.iter().map(String::as_str).collect(),
        };
        let forms = if said.many.is_some() { 2 } else { 1 };
        if texts.len() != forms || texts.iter().any(|text| text.trim().is_empty()) {
            wrong.push(of("is not translated in every form"));
        }
        for text in texts {
            if places(text) != places(&said.one) {
                wrong.push(of(&format!("its places are not those of \"{text}\"")));
            }
            if text == said.one && !SAME.contains(&text) {
                wrong.push(of("says the same in Spanish"));
            }
        }
    }
    for entry in &spanish.entries {
        let asked = Said { context: entry.msgctxt.clone(), one: entry.msgid.clone(), many: entry.msgid_plural.clone() };
        if !all.contains_key(&asked) {
            wrong.push(format!("the .po file: \"{}\" is asked for by no screen", entry.msgid));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn why_something_was_not_done_is_said_in_both_languages() {
    let said = |language| {
        words::set_language(language);
        let of = |because: &Because| words::because(&because.says("in the hub's words"));
        Because::ALL.iter().map(of).collect::<Vec<_>>()
    };
    let (english, spanish) = (said(Language::English), said(Language::Spanish));
    for ((because, english), spanish) in Because::ALL.iter().zip(&english).zip(&spanish) {
        let known = *because != Because::Other;
        assert_eq!(english == "in the hub's words", !known, "{because:?}");
        assert_eq!(english != spanish, known, "{because:?}: {english:?} and {spanish:?}");
    }
    assert_eq!(
        words::refused(&Because::TooLate.says("too late")),
        "No se hizo: fue hace más de cinco minutos: avise al personal"
    );
    let distinct: BTreeSet<&String> = spanish.iter().collect();
    assert_eq!(distinct.len(), Because::ALL.len(), "no two reasons are told alike");
}

#[test]
fn no_text_stands_in_the_rust_of_a_screen_unsaid() {
    // A word of English between quotes, in what draws: two letters and a space, or a letter and a capital before it.
    let drawing = ["aisle/heat.rs", "aisle/stalls.rs", "aisle/strip.rs", "aisle/work.rs", "card.rs", "check.rs"];
    let pages = std::fs::read_dir(root().join("src/pages"))
        .expect("pages")
        .map(|entry| format!("pages/{}", entry.expect("a file").file_name().to_string_lossy()));
    for file in drawing.map(str::to_owned).into_iter().chain(pages) {
        let code = std::fs::read_to_string(root().join("src").join(&file)).expect("a source");
        let code = code.lines().filter(|line| !line.trim_start().starts_with("//"));
        let code = code.take_while(|line| !line.starts_with("#[cfg(test)]") && !line.contains("fn as_text"));
        for line in code {
            for text in line.split('"').skip(1).step_by(2) {
                let spoken = text.split([' ', '·', ',']).filter(|word| word.len() > 2);
                let spoken: Vec<&str> = spoken.filter(|word| word.chars().all(char::is_alphabetic)).collect();
                assert!(spoken.len() < 2, "{file}: \"{text}\" is said in English only");
            }
        }
    }
}

#[test]
fn the_language_may_change_at_any_time() {
    assert_eq!(words::on_shift(3), "On shift 3");
    words::set_language(Language::Spanish);
    assert_eq!(words::on_shift(3), "En turno 3");
    assert_eq!(
        (words::takes(12, 1), words::takes(12, 9)),
        ("unos 12 min, de 1 vez".into(), "unos 12 min, de 9 veces".into())
    );
    words::set_language(Language::English);
    assert_eq!(
        (words::takes(12, 1), words::takes(12, 9)),
        ("about 12 min, from 1 time".into(), "about 12 min, from 9 times".into())
    );
}

#[test]
fn the_barns_own_notes_follow_the_language_where_they_are_written_in_it() {
    let mut board = samples::board("morning");
    let horse = board.stalls[2].horse.as_mut().expect("Pepper");
    horse.notes = vec!["Speak first.".to_owned()];
    let notes = |board: &_| {
        let sizes = sizes(&Settings::default(), 1280.0, 800.0);
        card::draw(&Here::nobody(board, words::language()), &"3".into(), &sizes).expect("a card").notes
    };
    words::set_language(Language::Spanish);
    assert_eq!(notes(&board), "Speak first.");
    board.stalls[2].horse.as_mut().expect("Pepper").notes_spanish = vec!["Hable primero.".to_owned()];
    assert_eq!(notes(&board), "Hable primero.");
    words::set_language(Language::English);
    assert_eq!(notes(&board), "Speak first.");
}

#[test]
fn where_a_chore_is_follows_the_language_where_it_is_written_in_it() {
    let mut board = samples::board("whole");
    let chore = &mut board.chores[0];
    (chore.done, chore.place, chore.place_spanish) = (None, "aisle".to_owned(), String::new());
    let below = |board: &Board, language| {
        words::set_language(language);
        round::chore(&Here::nobody(board, language), &board.chores[0]).below
    };
    assert!(below(&board, Language::Spanish).starts_with("aisle · "));
    board.chores[0].place_spanish = "pasillo".to_owned();
    assert!(below(&board, Language::Spanish).starts_with("pasillo · "));
    assert!(below(&board, Language::English).starts_with("aisle · "));
}
