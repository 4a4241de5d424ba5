//! Touches that were answered, so that a repeat is answered alike and changes nothing.

use std::collections::VecDeque;

use serde::{Deserialize, Serialize};

use crate::effect::Answer;
use crate::id::TouchId;

/// How many are remembered: many times what a dozen kiosks can have kept while the hub was silent.
const REMEMBERED: usize = 4096;

/// The last touches and their answers.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub struct Touches(VecDeque<(TouchId, Answer)>);

impl Touches {
    /// What was answered to this touch, if it came before.
    pub fn answered(&self, id: &TouchId) -> Option<&Answer> {
        self.0.iter().rev().find(|(other, _)| other == id).map(|(_, answer)| answer)
    }

    /// Remembers an answer, and forgets the oldest.
    pub fn remember(&mut self, id: TouchId, answer: Answer) {
        if self.0.len() == REMEMBERED {
            self.0.pop_front();
        }
        self.0.push_back((id, answer));
    }
}
