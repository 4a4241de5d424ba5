//! The other side of a horse's card: how it likes to be handled, and the steps of the job at hand, in the barn's own words.

use bellmare_barn::board::{HorseView, StallView};
use bellmare_barn::language::Language;

use super::{Here, Item, Sheet};
use crate::aisle::Tone;
use crate::card;
use crate::words;

/// The page of a stall with a horse in it; none where none stands there.
pub fn sheet(here: &Here<'_>, stall: &StallView, ways: Vec<Vec<Item>>) -> Option<Sheet> {
    let horse = stall.horse.as_ref()?;
    let job = card::job(horse);
    let mut items = vec![Item::heading(words::job_title(job))];
    let steps = here.board.steps.iter().filter(|step| step.job == job);
    items.extend(steps.zip(1_u32..).map(|(step, number)| {
        let line = Item { turn: number.to_string(), ..Item::line(step.text.in_language(here.language)) };
        if step.caution { Item { strong: true, ..line.tone(Tone::Mind) } } else { line }
    }));
    if items.len() == 1 {
        items.push(Item::line(words::no_steps()));
    }
    Some(Sheet {
        title: words::horse_and_stall(&horse.name, stall.id.as_str()),
        below: card::ride_line(here.board, horse),
        items,
        beside: handling(here, stall, horse),
        least_width: 14.0,
        ways,
        ..Sheet::default()
    })
}

fn handling(here: &Here<'_>, stall: &StallView, horse: &HorseView) -> Vec<Item> {
    let mut items = vec![Item::heading(words::handling())];
    if let Some(grade) = words::grade(horse.grade) {
        items.push(Item { strong: true, ..Item::line(grade).tone(Tone::Mind) });
    }
    let notes = notes(horse, here.language);
    if notes.is_empty() {
        items.push(Item::line(words::no_notes()));
    }
    items.extend(notes.iter().map(Item::line));
    items.extend(card::last_check_line(horse, here.board.units));
    items.push(Item::heading(words::water_title()));
    items.extend(card::water(stall, here.board.units).lines().map(Item::line));
    items
}

/// How it likes to be handled, in a language that somebody has written it in.
pub fn notes(horse: &HorseView, language: Language) -> &[String] {
    match language {
        Language::Spanish if !horse.notes_spanish.is_empty() => &horse.notes_spanish,
        Language::Spanish | Language::English => &horse.notes,
    }
}
