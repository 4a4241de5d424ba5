//! The list of stand-ins as an aisle may see it. Of weight and load it says nothing: a horse that can not carry a rider is one
//! that the office knows more of, and so is one of which that is not known. Of limits it tells no figure. What is left out
//! here is for the office's eyes.

use serde::{Deserialize, Serialize};

use super::stand_in::{Caution, Cost, Reason, StandIn};
use crate::board::HeatBand;
use crate::id::HorseId;
use crate::time::TimeOfDay;

/// A horse for a ride, for staff at a kiosk.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct ForAisle {
    /// Which horse.
    pub horse: HorseId,
    /// Its barn name.
    pub name: String,
    /// Nothing that is written down speaks against it.
    pub fits: bool,
    /// What speaks against it.
    pub why_not: Vec<Said<WhyNot>>,
    /// What to mind all the same.
    pub cautions: Vec<Said<Mind>>,
    /// What it costs the plan, in words; none where it does not fit.
    pub cost: Option<String>,
    /// The same as a value.
    #[serde(default)]
    pub plan: Option<Cost>,
}

/// Something, and the same in plain English.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Said<T> {
    /// What.
    pub what: T,
    /// In words.
    pub text: String,
}

/// Why a horse does not fit.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum WhyNot {
    /// It does no more work today.
    Scratched,
    /// It is away.
    Away {
        /// From when.
        from: TimeOfDay,
        /// Until when.
        to: TimeOfDay,
    },
    /// It is in another ride.
    Ridden {
        /// Where.
        place: String,
        /// From when.
        from: TimeOfDay,
        /// Until when.
        to: TimeOfDay,
    },
    /// It would be above the work that was set for it.
    TooMuchWork,
    /// The office knows why.
    AskOffice,
    /// It has no tack for that use.
    NoTack {
        /// Which use.
        usage: String,
    },
    /// The ride needs stirrups, and its tack has none.
    NoStirrups,
    /// Some of its tack is on another horse.
    TackTaken {
        /// What people call the pieces.
        pieces: Vec<String>,
        /// On which horse.
        on: String,
        /// From when.
        from: TimeOfDay,
        /// Until when it is off and dry.
        to: TimeOfDay,
    },
}

/// What to mind with a horse that fits.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Mind {
    /// The office must be asked first.
    AskOffice,
    /// It is hot.
    Heat(HeatBand),
}

impl ForAisle {
    /// What an aisle may see of a horse for a ride.
    pub fn of(one: &StandIn) -> Self {
        Self {
            horse: one.horse.clone(),
            name: one.name.clone(),
            fits: one.fits,
            why_not: one.why_not.iter().map(why_not).collect(),
            cautions: one.cautions.iter().map(mind).collect(),
            cost: one.cost.map(|cost| cost.to_string()),
            plan: one.cost,
        }
    }
}

fn why_not(reason: &Reason) -> Said<WhyNot> {
    let (what, text) = match reason {
        Reason::Away { from, to, .. } => {
            (WhyNot::Away { from: *from, to: *to }, Some(format!("is away from {from} to {to}")))
        }
        Reason::Load => (WhyNot::AskOffice, Some("is not for this ride: the office knows why".to_owned())),
        Reason::Above(_) => {
            let text = "would have more work than the equine professional has set";
            (WhyNot::TooMuchWork, Some(text.to_owned()))
        }
        Reason::Scratched => (WhyNot::Scratched, None),
        Reason::Ridden { place, from, to } => (WhyNot::Ridden { place: place.clone(), from: *from, to: *to }, None),
        Reason::NoTack { usage } => (WhyNot::NoTack { usage: usage.clone() }, None),
        Reason::NoStirrups => (WhyNot::NoStirrups, None),
        Reason::TackTaken { pieces, on, from, to } => {
            (WhyNot::TackTaken { pieces: pieces.clone(), on: on.clone(), from: *from, to: *to }, None)
        }
    };
    Said { what, text: text.unwrap_or_else(|| reason.to_string()) }
}

fn mind(caution: &Caution) -> Said<Mind> {
    match caution {
        Caution::LoadNotKnown => {
            Said { what: Mind::AskOffice, text: "ask the office first whether it is for this ride".to_owned() }
        }
        Caution::Heat(band) => Said { what: Mind::Heat(*band), text: caution.to_string() },
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::prep::work_limits::{Above, Carries};

    #[test]
    fn an_aisle_learns_nothing_of_weight_load_or_limits() {
        let noon = TimeOfDay::NOON;
        let one = StandIn {
            horse: "juniper".into(),
            name: "Juniper".to_owned(),
            fits: false,
            carries: Carries::No,
            why_not: vec![
                Reason::Load,
                Reason::Above(Above::MinutesADay { minutes: 95, most: 90 }),
                Reason::Away { why: "lame".to_owned(), from: noon, to: noon },
                Reason::NoStirrups,
            ],
            cautions: vec![Caution::LoadNotKnown, Caution::Heat(HeatBand::Critical)],
            cost: None,
        };
        let json = serde_json::to_string(&ForAisle::of(&one)).expect("plain data");
        for hidden in ["load", "carr", "weigh", "95", "90", "lame"] {
            assert!(!json.to_lowercase().contains(hidden), "{hidden}: {json}");
        }
        let texts: Vec<_> = ForAisle::of(&one).why_not.into_iter().map(|said| said.text).collect();
        assert_eq!(
            texts,
            [
                "is not for this ride: the office knows why",
                "would have more work than the equine professional has set",
                "is away from 12:00 to 12:00",
                "has no stirrups, which the ride needs",
            ]
        );
    }
}
