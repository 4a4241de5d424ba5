//! What somebody measured and saw of a horse, as they say it: no more than that it can be at all is decided here.

use std::fmt;
use std::ops::RangeInclusive;

use serde::{Deserialize, Serialize};

use crate::refusal::{Because, Refusal};
use crate::units::{Celsius, PerMinute, Seconds};

/// What can be measured of a living horse, or mistyped; beyond it there was a slip of the finger.
const TEMPERATURES_C: RangeInclusive<f64> = 30.0..=45.0;
const PULSES: RangeInclusive<f64> = 10.0..=250.0;
const BREATHS: RangeInclusive<f64> = 2.0..=180.0;
const REFILLS_S: RangeInclusive<f64> = 0.0..=15.0;

/// What somebody measured and saw. What was not looked at is not there.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub struct Observed {
    /// Rectal temperature.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub temperature: Option<Celsius>,
    /// Heart beats in a minute.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pulse: Option<PerMinute>,
    /// Breaths in a minute.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub breaths: Option<PerMinute>,
    /// How long the gum stays white after a finger has pressed it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub refill: Option<Seconds>,
    /// The colour of the gums.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub gums: Option<Gums>,
    /// Whether the gut is heard.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub gut: Option<GutSounds>,
    /// What was seen of the signs for which the vet is called.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub signs: Vec<Sign>,
}

/// The colour of the gums.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Gums {
    /// Pink and moist, as is printed for a horse that is well.
    Pink,
    /// Pale.
    Pale,
    /// Any other: red, blue, yellow, dry.
    Other,
}

/// Whether the gut is heard, ear or stethoscope at four places: high and low on both flanks.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum GutSounds {
    /// In all four, as is printed for a horse that is well.
    AllFour,
    /// Not in all four.
    NotAll,
}

/// Signs for which the vet is called at once: the list of the American Association of Equine Practitioners as printed by
/// saddlehorsereport.com, and three that Purdue's equine field service adds.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Sign {
    /// Bleeding that does not stop.
    Bleeding,
    /// Something stuck in the body: leave it there.
    ObjectInBody,
    /// An injured eye.
    Eye,
    /// Odd or aggressive behaviour.
    OddBehaviour,
    /// Stumbling.
    Stumbling,
    /// Hard breathing.
    HardBreathing,
    /// It does not eat.
    OffFeed,
    /// It paws, rolls, looks at its flank.
    ColicSigns,
    /// A wound over a joint or tendon, or with bone to be seen. Purdue.
    DeepWound,
    /// It is dull. Purdue.
    Dull,
}

impl fmt::Display for Sign {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Sign::Bleeding => "bleeding that does not stop",
            Sign::ObjectInBody => "something stuck in the body (leave it there)",
            Sign::Eye => "an injured eye",
            Sign::OddBehaviour => "odd or aggressive behaviour",
            Sign::Stumbling => "stumbling",
            Sign::HardBreathing => "hard breathing",
            Sign::OffFeed => "does not eat",
            Sign::ColicSigns => "paws, rolls or looks at its flank",
            Sign::DeepWound => "a wound over a joint or tendon, or with bone to be seen",
            Sign::Dull => "dull",
        })
    }
}

impl Sign {
    /// Who prints that the vet is to be called for it.
    pub fn source(self) -> &'static str {
        match self {
            Sign::DeepWound | Sign::Dull => "Purdue equine field service",
            _ => "AAEP list, saddlehorsereport.com",
        }
    }
}

impl Observed {
    /// Whether it can be right, and says anything at all.
    ///
    /// # Errors
    /// The first value that can not be, with what is allowed; or that nothing was looked at.
    pub fn check(&self) -> Result<(), Refusal> {
        let within = |what: &str, value: Option<f64>, range: &RangeInclusive<f64>, unit: &str| match value {
            Some(value) if !range.contains(&value) => {
                let (low, high) = (range.start(), range.end());
                Err(Because::OutOfRange.says(format!("{what} {value}: allowed is {low} to {high} {unit}")))
            }
            _ => Ok(()),
        };
        within("temperature", self.temperature.map(Celsius::get), &TEMPERATURES_C, "°C (86 to 113 °F)")?;
        within("pulse", self.pulse.map(PerMinute::get), &PULSES, "a minute")?;
        within("breaths", self.breaths.map(PerMinute::get), &BREATHS, "a minute")?;
        within("refill", self.refill.map(Seconds::get), &REFILLS_S, "seconds")?;
        if *self == Self::default() {
            return Err(Because::NothingSeen.says(
                "nothing was measured or seen: allowed is one of temperature, pulse, breaths, refill, gums, gut, \
                        signs, or several",
            ));
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_can_not_be_is_refused_with_what_is_allowed() {
        let check =
            |seen: Observed, why: &str| assert_eq!(seen.check().map_err(|refused| refused.why), Err(why.to_owned()));
        let temperature = Some(Celsius(101.5));
        check(
            Observed { temperature, ..Observed::default() },
            "temperature 101.5: allowed is 30 to 45 °C (86 to 113 °F)",
        );
        check(
            Observed { pulse: Some(PerMinute(5.0)), ..Observed::default() },
            "pulse 5: allowed is 10 to 250 a minute",
        );
        check(
            Observed { breaths: Some(PerMinute(1.0)), ..Observed::default() },
            "breaths 1: allowed is 2 to 180 a minute",
        );
        check(Observed { refill: Some(Seconds(-1.0)), ..Observed::default() }, "refill -1: allowed is 0 to 15 seconds");
        assert!(Observed::default().check().is_err());
        let well = Observed { temperature: Some(Celsius(37.8)), pulse: Some(PerMinute(30.0)), ..Observed::default() };
        assert_eq!(well.check(), Ok(()));
    }
}
