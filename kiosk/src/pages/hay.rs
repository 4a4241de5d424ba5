//! Hay: who asked, what staff said. Nobody feeds before they have.

use bellmare_barn::board::HayView;
use bellmare_barn::id::HorseId;
use bellmare_barn::input::Action;

use super::{Does, Here, Item, Look, staff};
use crate::aisle::Tone;
use crate::app::Up;
use crate::pages::round::Part;
use crate::words;

/// A question as a line of the rounds: staff answer it with one touch.
pub fn question(here: &Here<'_>, question: &HayView) -> Item {
    let name = words::horse_and_stall(&question.name, question.stall.as_str());
    if let Some(answer) = &question.answer {
        let tone = if answer.allowed { Tone::Ready } else { Tone::Stop };
        return Item {
            look: Look::Line,
            text: format!(
                "{name}: {} · {}",
                words::hay_answer(answer.allowed),
                words::by_ago(&answer.by, answer.ago_min)
            ),
            tone,
            ..Item::default()
        };
    }
    let answer = |allowed| Does::Give(Action::AnswerHay { ask: question.ask, allowed });
    if here.staff.is_some() {
        return Item::target(format!("{name}: {}", words::yes_hay()), answer(true))
            .below(words::asks(question))
            .tone(Tone::Now)
            .aside(words::no(), answer(false));
    }
    let door = staff::door(here, Up::Round { part: Part::Hay });
    Item::target(name, Does::Open(door))
        .below(format!("{} · {}", words::asks(question), words::staff_answer()))
        .tone(Tone::Now)
}

/// The button of a card: ask, or what came of it.
pub fn button(here: &Here<'_>, horse: &HorseId) -> Item {
    let ask = |undo| Does::Give(Action::AskHay { horse: horse.clone(), undo });
    let fresh = || Item::button(words::hay_ask(), ask(false)).below(words::ask_staff());
    let Some(question) = here.board.hay.iter().find(|question| question.horse == *horse) else { return fresh() };
    match &question.answer {
        // Asked again after an answer it is a question of its own.
        Some(answer) => {
            let (word, tone) =
                if answer.allowed { (words::hay_yes(), Tone::Ready) } else { (words::hay_no(), Tone::Stop) };
            Item::button(word, ask(false)).below(words::by_ago(&answer.by, answer.ago_min)).strong(tone)
        }
        None if question.can_undo => {
            Item::button(words::hay_asked(), ask(true)).below(words::not_so()).strong(Tone::Now)
        }
        None => Item::button(words::hay_asked(), Does::Open(Up::Round { part: Part::Hay }))
            .below(words::asks(question))
            .strong(Tone::Now),
    }
}
