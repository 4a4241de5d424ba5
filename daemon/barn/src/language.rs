//! The languages that people here read, and what the barn has written in them.

use serde::{Deserialize, Serialize};

/// A language of the kiosk's words.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Language {
    /// English.
    #[default]
    English,
    /// Spanish.
    Spanish,
}

impl Language {
    /// What was written in this language; where nobody has written it in that, in the barn's first.
    pub fn of<'a>(self, english: &'a str, spanish: &'a str) -> &'a str {
        match self {
            Language::Spanish if !spanish.is_empty() => spanish,
            Language::Spanish | Language::English => english,
        }
    }
}

/// What the barn has written, in the languages it has written it in.
#[derive(Clone, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
pub struct Text {
    /// In English; the barn's first language.
    pub english: String,
    /// In Spanish; empty where nobody has written it.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub spanish: String,
}

impl Text {
    /// In this language; where nobody has written it in that, in the barn's first.
    pub fn in_language(&self, language: Language) -> &str {
        language.of(&self.english, &self.spanish)
    }
}
