//! What somebody measured and saw of a horse, held against the horse's own resting record and against what is printed for
//! adult horses. The outcome is a caution in words that says what differs from what and who decides: never a diagnosis.
//!
//! ```text
//!   at rest            own record known:    caution beyond the margin around it, or outside of every printed range
//!                      own record unknown:  caution outside of any printed range: the cautious side
//!   0-10 min after     pulse and breaths are not judged: count again
//!   10-30 min after    pulse over 60
//!   after work         temperature over 102 °F, over 103.5, over 105
//! ```
//! Refill, gums, gut sounds and the signs for which the vet is called are judged alike at any time.

use serde::{Deserialize, Serialize};

use crate::book::Resting;
use crate::limits::CareLimits;
use crate::units::{Celsius, Fahrenheit, PerMinute};

use super::observed::{Gums, GutSounds, Observed};
use super::published::{Of, Printed, of_adults};

/// What endurance gates allow 20 to 30 minutes after: proposal text of 2002. A walk lesson should be far below.
pub const PULSE_AT_A_GATE: f64 = 64.0;
/// A temperature over this after work is a worry: vet column, worldpolonews.com 2018.
pub const AFTER_WORK_WORRY: Fahrenheit = Fahrenheit(103.5);
/// And over this it is urgent: the same.
pub const AFTER_WORK_URGENT: Fahrenheit = Fahrenheit(105.0);

/// Degrees and counts come through other units: what lies this near to a bound lies on it.
const SLACK: f64 = 1e-6;

/// Whether the horse had worked when it was looked at.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Condition {
    /// It had not worked for a while, or nobody knows of any work.
    AtRest,
    /// So many minutes after work, up to [`CareLimits::after_work`]; none where it was still at work.
    AfterWork(u32),
}

impl Condition {
    /// So many minutes after work, if it was ever that.
    pub fn after(minutes: Option<u32>, limits: &CareLimits) -> Self {
        minutes.filter(|minutes| *minutes <= limits.after_work.0).map_or(Condition::AtRest, Condition::AfterWork)
    }
}

/// How pressing it is.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Urgency {
    /// Nothing differs.
    #[default]
    Fine,
    /// Tell the equine professional.
    Tell,
    /// Call the vet now.
    VetNow,
}

impl Urgency {
    /// What to do, and whose word counts. Empty where nothing differs.
    pub fn advice(self) -> &'static str {
        match self {
            Urgency::Fine => "",
            Urgency::Tell => "Tell the equine professional, who decides whether to ask the vet. This is no diagnosis.",
            Urgency::VetNow => {
                "Call the vet now and tell the equine professional; nothing by mouth before the vet has spoken. This is no \
                 diagnosis."
            }
        }
    }
}

/// What a caution is about.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Vital {
    /// Rectal temperature.
    Temperature,
    /// Heart beats.
    Pulse,
    /// Breaths.
    Breaths,
    /// Capillary refill.
    Refill,
    /// The colour of the gums.
    Gums,
    /// Gut sounds.
    Gut,
    /// A sign for which the vet is called whatever was measured.
    Sign,
}

/// What differs from what.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub struct Judgement {
    /// How pressing, the worst of it.
    pub urgency: Urgency,
    /// Each difference in a sentence of its own.
    pub cautions: Vec<String>,
    /// What each of them is about, in the same order.
    #[serde(default)]
    pub about: Vec<Vital>,
    /// What was not judged, and when it can be.
    pub notes: Vec<String>,
}

impl Judgement {
    fn add(&mut self, about: Vital, urgency: Urgency, caution: String) {
        self.urgency = self.urgency.max(urgency);
        self.cautions.push(caution);
        self.about.push(about);
    }
}

/// Holds what was observed against the horse's own record and what is printed.
pub fn judge(seen: &Observed, own: &Resting, condition: Condition, limits: &CareLimits) -> Judgement {
    let mut found = Judgement::default();
    match condition {
        Condition::AtRest => at_rest(seen, own, limits, &mut found),
        Condition::AfterWork(minutes) => after_work(seen, minutes, limits, &mut found),
    }
    at_any_time(seen, &mut found);
    found
}

/// One sign at rest.
struct AtRest {
    what: &'static str,
    of: Of,
    value: f64,
    own: Option<f64>,
    margin: f64,
    show: fn(f64) -> String,
    /// How a difference is shown.
    by: fn(f64) -> String,
}

fn at_rest(seen: &Observed, own: &Resting, limits: &CareLimits, found: &mut Judgement) {
    let temperature = seen.temperature.map(|value| AtRest {
        what: "temperature",
        of: Of::Temperature,
        value: value.get(),
        own: own.temperature.map(Celsius::get),
        margin: limits.own_temperature_apart.get(),
        show: degrees,
        by: |by| format!("{by:.1} °C ({:.1} °F)", by * 9.0 / 5.0),
    });
    let rate = |what, of, value: PerMinute, own: Option<PerMinute>, margin| AtRest {
        what,
        of,
        value: value.get(),
        own: own.map(PerMinute::get),
        margin,
        show: |value| format!("{value:.0} a minute"),
        by: |by| format!("{by:.0}"),
    };
    let pulse = seen.pulse.map(|value| rate("pulse", Of::Pulse, value, own.pulse, limits.own_pulse_apart.get()));
    let breaths =
        seen.breaths.map(|value| rate("breaths", Of::Breaths, value, own.breaths, limits.own_breaths_apart.get()));
    let signs = [(Vital::Temperature, temperature), (Vital::Pulse, pulse), (Vital::Breaths, breaths)];
    for (vital, sign) in signs.into_iter().filter_map(|(vital, sign)| Some((vital, sign?))) {
        if let Some(caution) = sign.differs() {
            found.add(vital, Urgency::Tell, caution);
        }
    }
    for row in of_adults(Of::CallVetAbove) {
        if let Some(value) = seen.temperature.filter(|value| is_over(row, value.get())) {
            let of = degrees(value.get());
            found.add(
                Vital::Temperature,
                Urgency::VetNow,
                format!("temperature {of}: the vet is to be called {}", row.told()),
            );
        }
    }
    for row in of_adults(Of::InvestigateAbove) {
        if let Some(value) = seen.pulse.filter(|value| is_over(row, value.get())) {
            found.add(
                Vital::Pulse,
                Urgency::Tell,
                format!("pulse {:.0} at rest: to be looked into {}", value.get(), row.told()),
            );
        }
    }
}

fn is_over(row: &Printed, value: f64) -> bool {
    row.low.is_some_and(|low| value > row.counted(low) + SLACK)
}

impl AtRest {
    /// What it differs from, if it is to be said.
    fn differs(&self) -> Option<String> {
        let outside: Vec<bool> = of_adults(self.of).map(|row| self.outside(row)).collect();
        let (any, all) = (outside.contains(&true), !outside.contains(&false));
        let away = self.own.map(|own| (own, self.value - own));
        let caution = match away {
            Some((_, away)) => away.abs() > self.margin + SLACK || all,
            None => any,
        };
        if !caution {
            return None;
        }
        let own = match away {
            None => "no resting record of its own is written down".to_owned(),
            Some((own, away)) => {
                let (by, own) = ((self.by)(away.abs()), (self.show)(own));
                match away {
                    _ if away.abs() <= self.margin + SLACK => format!("near its own {own} at rest"),
                    0.0.. => format!("{by} above its own {own} at rest"),
                    _ => format!("{by} below its own {own} at rest"),
                }
            }
        };
        let held = match (any, all) {
            (_, true) => "outside of all",
            (true, false) => "outside of some",
            (false, _) => "within all",
        };
        let printed: Vec<String> = of_adults(self.of).map(Printed::told).collect();
        let value = (self.show)(self.value);
        Some(format!("{} {value}: {own}; {held} printed for adults: {}", self.what, printed.join(", ")))
    }

    fn outside(&self, row: &Printed) -> bool {
        row.low.is_some_and(|low| self.value < row.counted(low) - SLACK)
            || row.high.is_some_and(|high| self.value > row.counted(high) + SLACK)
    }
}

fn after_work(seen: &Observed, minutes: u32, limits: &CareLimits, found: &mut Judgement) {
    if let Some(value) = seen.temperature {
        let (fahrenheit, of) = (value.fahrenheit().get() - SLACK, degrees(value.get()));
        let (worry, urgent) = (AFTER_WORK_WORRY.get(), AFTER_WORK_URGENT.get());
        let column = "vet column, worldpolonews.com 2018";
        if fahrenheit > urgent {
            found.add(
                Vital::Temperature,
                Urgency::VetNow,
                format!(
                    "temperature {of} after work: over {urgent} °F is urgent ({column}); cool it with water meanwhile"
                ),
            );
        } else if fahrenheit > worry {
            let caution =
                format!("temperature {of} after work: over {worry} °F is a worry ({column}); cool it with water");
            found.add(Vital::Temperature, Urgency::Tell, caution);
        } else if let Some(row) = of_adults(Of::CallVetAbove).find(|row| is_over(row, value.get())) {
            let caution = format!(
                "temperature {of} after work: of a horse at rest the vet is to be called {}; measure again when it has rested",
                row.told()
            );
            found.add(Vital::Temperature, Urgency::Tell, caution);
        }
    }
    let (sooner, later) = (limits.count_again.0, limits.count_again.0 + 5);
    if minutes < sooner && (seen.pulse.is_some() || seen.breaths.is_some()) {
        found.notes.push(format!(
            "pulse and breaths {minutes} minutes after work say little: count again {sooner} to {later} minutes after"
        ));
        return;
    }
    let most = limits.pulse_after_work;
    if let Some(pulse) = seen.pulse.filter(|pulse| pulse.get() > most.get() + SLACK) {
        let whose =
            if most == CareLimits::default().pulse_after_work { "from memory, no source" } else { "set by the barn" };
        found.add(
            Vital::Pulse,
            Urgency::Tell,
            format!(
                "pulse {:.0} a minute {minutes} minutes after work: over {} at {sooner} to {later} minutes is to be looked at \
                 ({whose}), and endurance gates allow {PULSE_AT_A_GATE} at 20 to 30 (proposal text of 2002)",
                pulse.get(),
                most.get()
            ),
        );
    }
    if seen.breaths.is_some() {
        found.notes.push("breaths after work are not judged: no range is printed for them".to_owned());
    }
}

fn at_any_time(seen: &Observed, found: &mut Judgement) {
    if let Some(refill) = seen.refill {
        for row in of_adults(Of::Refill).filter(|row| row.high.is_some_and(|high| refill.get() > high + SLACK)) {
            found.add(Vital::Refill, Urgency::Tell, format!("refill {refill}: printed is {}", row.told()));
        }
    }
    match seen.gums {
        None | Some(Gums::Pink) => {}
        Some(Gums::Pale) => {
            found.add(Vital::Gums, Urgency::Tell, "gums pale: printed is moist and pink (several)".to_owned())
        }
        Some(Gums::Other) => {
            found.add(
                Vital::Gums,
                Urgency::Tell,
                "gums neither pink nor pale: printed is moist and pink (several)".to_owned(),
            );
        }
    }
    if seen.gut == Some(GutSounds::NotAll) {
        let caution = "gut sounds not heard in all four places: printed is in all four (several)";
        found.add(Vital::Gut, Urgency::Tell, caution.to_owned());
    }
    for sign in &seen.signs {
        found.add(Vital::Sign, Urgency::VetNow, format!("{sign}: the vet is to be called ({})", sign.source()));
    }
}

fn degrees(celsius: f64) -> String {
    format!("{celsius:.1} °C ({:.1} °F)", Celsius(celsius).fahrenheit().get())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::care::observed::Sign;
    use crate::units::{Minutes, Seconds};

    const OWN: Resting =
        Resting { temperature: Some(Celsius(37.8)), pulse: Some(PerMinute(36.0)), breaths: Some(PerMinute(12.0)) };
    const NONE: Resting = Resting { temperature: None, pulse: None, breaths: None };

    fn seen(fahrenheit: f64, pulse: f64, breaths: f64) -> Observed {
        Observed {
            temperature: Some(Fahrenheit(fahrenheit).celsius()),
            pulse: Some(PerMinute(pulse)),
            breaths: Some(PerMinute(breaths)),
            ..Observed::default()
        }
    }

    /// How pressing it is, and how each caution and note begins.
    #[track_caller]
    fn check(seen: &Observed, own: &Resting, condition: Condition, urgency: Urgency, begins: &[&str]) {
        let found = judge(seen, own, condition, &CareLimits::default());
        let told: Vec<&String> = found.cautions.iter().chain(&found.notes).collect();
        assert_eq!(told.len(), begins.len(), "{told:?}");
        for (told, begin) in told.iter().zip(begins) {
            assert!(told.starts_with(begin), "{told:?} does not begin with {begin:?}");
        }
        assert_eq!(found.urgency, urgency, "{told:?}");
    }

    #[test]
    fn a_horse_is_held_against_itself_before_others() {
        use Condition::AtRest;
        use Urgency::{Fine, Tell, VetNow};
        check(&seen(100.0, 36.0, 12.0), &OWN, AtRest, Fine, &[]);
        check(&seen(100.0, 36.0, 12.0), &NONE, AtRest, Fine, &[]);
        // 42 is within one printed range and not within the other: a horse without a record is looked at, Biscuit is not.
        check(&seen(100.0, 42.0, 12.0), &OWN, AtRest, Fine, &[]);
        check(&seen(100.0, 42.0, 12.0), &NONE, AtRest, Tell, &["pulse 42 a minute: no resting record of its own"]);
        // 45 is 9 above its own, and outside of both.
        check(
            &seen(100.0, 45.0, 12.0),
            &OWN,
            AtRest,
            Tell,
            &["pulse 45 a minute: 9 above its own 36 a minute at rest"],
        );
        // 28 would be well for others.
        check(&seen(100.0, 27.9, 12.0), &OWN, AtRest, Tell, &["pulse 28 a minute: 8 below its own 36"]);
        check(&seen(100.0, 36.0, 19.0), &OWN, AtRest, Tell, &["breaths 19 a minute: 7 above its own 12"]);
        check(&seen(101.0, 36.0, 12.0), &NONE, AtRest, Fine, &[]);
        check(&seen(101.1, 36.0, 12.0), &NONE, AtRest, Tell, &["temperature 38.4 °C (101.1 °F): no resting record"]);
        check(&seen(102.0, 36.0, 12.0), &OWN, AtRest, Tell, &["temperature 38.9 °C (102.0 °F): 1.1 °C (2.0 °F) above"]);
        check(&seen(102.1, 36.0, 12.0), &OWN, AtRest, VetNow, &["temperature 38.9", "temperature 38.9"]);
        check(&seen(100.0, 51.0, 12.0), &OWN, AtRest, Tell, &["pulse 51 a minute: 15 above", "pulse 51 at rest"]);
    }

    #[test]
    fn a_record_outside_of_all_that_is_printed_hides_nothing() {
        let own = Resting { pulse: Some(PerMinute(48.0)), ..OWN };
        check(
            &seen(100.0, 46.0, 12.0),
            &own,
            Condition::AtRest,
            Urgency::Tell,
            &[
                "pulse 46 a minute: near its own 48 a minute at rest; outside of all printed for adults: 28 to 44 (reprint), \
               28 to 40 (practice)",
            ],
        );
    }

    #[test]
    fn after_work_is_judged_apart() {
        use Condition::AfterWork;
        use Urgency::{Fine, Tell, VetNow};
        let hot = |fahrenheit| Observed { temperature: Some(Fahrenheit(fahrenheit).celsius()), ..Observed::default() };
        let pulse = |pulse| Observed { pulse: Some(PerMinute(pulse)), ..Observed::default() };
        check(&pulse(72.0), &OWN, AfterWork(9), Fine, &["pulse and breaths 9 minutes after work say little"]);
        check(&pulse(60.0), &OWN, AfterWork(10), Fine, &[]);
        check(&pulse(61.0), &OWN, AfterWork(10), Tell, &["pulse 61 a minute 10 minutes after work"]);
        check(
            &pulse(61.0),
            &OWN,
            Condition::after(Some(30), &CareLimits::default()),
            Tell,
            &["pulse 61 a minute 30 minutes after work"],
        );
        check(&pulse(44.0), &OWN, Condition::after(Some(31), &CareLimits::default()), Fine, &[]);
        check(
            &pulse(45.0),
            &OWN,
            Condition::after(Some(31), &CareLimits::default()),
            Tell,
            &["pulse 45 a minute: 9 above its own"],
        );
        check(&hot(102.0), &OWN, AfterWork(5), Fine, &[]);
        check(
            &hot(103.0),
            &OWN,
            AfterWork(5),
            Tell,
            &["temperature 39.4 °C (103.0 °F) after work: of a horse at rest"],
        );
        check(
            &hot(103.6),
            &OWN,
            AfterWork(5),
            Tell,
            &["temperature 39.8 °C (103.6 °F) after work: over 103.5 °F is a worry"],
        );
        check(
            &hot(105.1),
            &OWN,
            AfterWork(5),
            VetNow,
            &["temperature 40.6 °C (105.1 °F) after work: over 105 °F is urgent"],
        );
    }

    #[test]
    fn a_barn_may_set_its_own_margins() {
        let limits = CareLimits {
            own_pulse_apart: PerMinute(12.0),
            after_work: Minutes(60),
            count_again: Minutes(15),
            pulse_after_work: PerMinute(56.0),
            ..CareLimits::default()
        };
        let pulse = |pulse| Observed { pulse: Some(PerMinute(pulse)), ..Observed::default() };
        let told = |seen: &Observed, condition| judge(seen, &OWN, condition, &limits);
        assert_eq!(judge(&pulse(25.0), &OWN, Condition::AtRest, &CareLimits::default()).urgency, Urgency::Tell);
        // Eleven under its own is within its margin, and outside of all that is printed.
        assert!(told(&pulse(25.0), Condition::AtRest).cautions[0].contains("near its own 36"));
        assert_eq!(Condition::after(Some(45), &limits), Condition::AfterWork(45));
        let soon = told(&pulse(70.0), Condition::AfterWork(14));
        assert!(soon.notes[0].ends_with("count again 15 to 20 minutes after"), "{:?}", soon.notes);
        let over = told(&pulse(57.0), Condition::AfterWork(45));
        assert!(
            over.cautions[0].contains("over 56 at 15 to 20 minutes") && over.cautions[0].contains("(set by the barn)")
        );
    }

    #[test]
    fn what_is_seen_counts_at_any_time() {
        for condition in [Condition::AtRest, Condition::AfterWork(5)] {
            let seen = Observed {
                refill: Some(Seconds(2.5)),
                gums: Some(Gums::Pale),
                gut: Some(GutSounds::NotAll),
                ..Observed::default()
            };
            check(
                &seen,
                &OWN,
                condition,
                Urgency::Tell,
                &["refill 2.5 s: printed is up to 2 s", "gums pale", "gut sounds"],
            );
            let well = Observed {
                refill: Some(Seconds(2.0)),
                gums: Some(Gums::Pink),
                gut: Some(GutSounds::AllFour),
                ..Observed::default()
            };
            check(&well, &OWN, condition, Urgency::Fine, &[]);
            let signs = Observed { signs: vec![Sign::OffFeed, Sign::Dull], ..well };
            check(
                &signs,
                &OWN,
                condition,
                Urgency::VetNow,
                &["does not eat: the vet is to be called (AAEP", "dull: the vet"],
            );
        }
    }
}
