//! `bellmare-hub tape`, `hands` and `vitals`: what the barn knows of a horse's measures, asked at a terminal. Every quantity
//! is given with its unit, as 76 is a girth in inches and a slip in centimetres.

use anyhow::bail;
use bellmare_barn::book::Resting;
use bellmare_barn::care::observed::{Gums, GutSounds, Observed};
use bellmare_barn::care::tape::{CAUTIONS, ERROR, Estimate, KG_PER_LB, weigh};
use bellmare_barn::care::vitals::{Condition, Urgency, judge};
use bellmare_barn::hands::{CM_PER_INCH, Hands};
use bellmare_barn::limits::CareLimits;
use bellmare_barn::units::{Celsius, Centimetres, Fahrenheit, PerMinute, Seconds};
use clap::{Args, ValueEnum};
use serde_json::json;

/// A length with its unit: `180cm`, `76in`.
pub(crate) fn length(text: &str) -> Result<Centimetres, String> {
    let allowed = || "a length with its unit, such as 180cm or 71.5in".to_owned();
    let text = text.trim();
    let (number, cm) = match (text.strip_suffix("cm"), text.strip_suffix("in")) {
        (Some(number), _) => (number, 1.0),
        (_, Some(number)) => (number, CM_PER_INCH),
        _ => return Err(allowed()),
    };
    let number = decimal(number).ok_or_else(allowed)?;
    Ok(Centimetres(number * cm))
}

/// A temperature with its unit: `101.5F`, `38.6C`.
pub(crate) fn temperature(text: &str) -> Result<Celsius, String> {
    let allowed = || "a temperature with its unit, such as 101.5F or 38.6C".to_owned();
    let text = text.trim();
    match (text.strip_suffix(['F', 'f']), text.strip_suffix(['C', 'c'])) {
        (Some(number), _) => decimal(number).map(|number| Fahrenheit(number).celsius()).ok_or_else(allowed),
        (_, Some(number)) => decimal(number).map(Celsius).ok_or_else(allowed),
        _ => Err(allowed()),
    }
}

/// A plain number above nothing; neither an exponent nor infinity.
fn decimal(text: &str) -> Option<f64> {
    let text = text.trim();
    let clear = text.bytes().all(|byte| byte.is_ascii_digit() || byte == b'.');
    text.parse().ok().filter(|_| clear)
}

/// Prints what each rule makes of a tape's two lengths.
///
/// # Errors
/// A length that no tape on a horse reads.
pub(crate) fn tape(girth: Centimetres, length: Centimetres, as_json: bool) -> anyhow::Result<()> {
    let estimates = weigh(girth, length).map_err(anyhow::Error::msg)?;
    let pounds = |one: &Estimate| one.weight.get() / KG_PER_LB;
    if as_json {
        let rules = estimates.iter().map(|one| {
            json!({
                "rule": one.rule, "formula": one.rule.formula(), "source": one.rule.source(),
                "kg": rounded(one.weight.get()), "lb": rounded(pounds(one)),
            })
        });
        let rules: Vec<_> = rules.collect();
        let error = rounded(ERROR.get());
        println!(
            "{}",
            json!({
                "girth_cm": rounded(girth.get()), "length_cm": rounded(length.get()), "rules": rules,
                "error_kg": error, "cautions": CAUTIONS,
            })
        );
        return Ok(());
    }
    println!("Heart girth {}, length {}, by every rule:", both(girth), both(length));
    for one in &estimates {
        println!(
            "{:>7.1} kg {:>7.1} lb  {} ({})",
            one.weight.get(),
            pounds(one),
            one.rule.formula(),
            one.rule.source()
        );
    }
    CAUTIONS.iter().for_each(|caution| println!("{caution}"));
    Ok(())
}

fn both(length: Centimetres) -> String {
    format!("{:.1} cm ({:.1} in)", length.get(), length.get() / CM_PER_INCH)
}

/// To a tenth: no tape knows more.
fn rounded(value: f64) -> f64 {
    (value * 10.0).round() / 10.0
}

/// Prints a height in hands, inches and centimetres.
///
/// # Errors
/// What is neither hands nor a length with its unit.
pub(crate) fn hands(text: &str, as_json: bool) -> anyhow::Result<()> {
    let height = match (text.parse::<Hands>(), length(text)) {
        (Ok(hands), _) => hands,
        (Err(_), Ok(length)) => Hands::nearest(length),
        (Err(why), Err(_)) => {
            bail!("{text:?} is no height: allowed is {why}; or a length with its unit, such as 157.5cm or 62in")
        }
    };
    let (inches, cm) = (height.inches(), height.centimetres().get());
    if as_json {
        println!("{}", json!({ "hands": height, "inches": inches, "cm": cm }));
        return Ok(());
    }
    let nearest = match length(text) {
        Ok(told) if (told.get() - cm).abs() > 1e-6 => ", to the nearest quarter of an inch",
        _ => "",
    };
    println!("{height} hands = {inches} in = {cm} cm{nearest}");
    Ok(())
}

/// What was measured and seen of a horse.
#[derive(Args)]
pub(crate) struct VitalsArgs {
    /// Rectal temperature with its unit: 101.5F, 38.6C.
    #[arg(long = "temp", value_name = "DEGREES", value_parser = temperature)]
    temperature: Option<Celsius>,
    /// Heart beats in a minute.
    #[arg(long, value_name = "BEATS")]
    pulse: Option<f64>,
    /// Breaths in a minute.
    #[arg(long)]
    breaths: Option<f64>,
    /// Capillary refill in seconds.
    #[arg(long, value_name = "SECONDS")]
    refill: Option<f64>,
    /// The colour of the gums.
    #[arg(long)]
    gums: Option<GumsArg>,
    /// Whether the gut is heard in all four places.
    #[arg(long)]
    gut: Option<GutArg>,
    /// How many minutes after its work, where it has worked.
    #[arg(long, value_name = "MINUTES")]
    after_work: Option<u32>,
    /// Its own temperature at rest when it is well.
    #[arg(long, value_name = "DEGREES", value_parser = temperature)]
    own_temp: Option<Celsius>,
    /// Its own pulse at rest.
    #[arg(long, value_name = "BEATS")]
    own_pulse: Option<f64>,
    /// Its own breaths at rest.
    #[arg(long, value_name = "BREATHS")]
    own_breaths: Option<f64>,
}

#[derive(Clone, Copy, ValueEnum)]
enum GumsArg {
    Pink,
    Pale,
    Other,
}

#[derive(Clone, Copy, ValueEnum)]
enum GutArg {
    AllFour,
    NotAll,
}

/// Prints what differs from what, and who decides.
///
/// # Errors
/// A value that can not be.
pub(crate) fn vitals(args: &VitalsArgs) -> anyhow::Result<()> {
    let seen = Observed {
        temperature: args.temperature,
        pulse: args.pulse.map(PerMinute),
        breaths: args.breaths.map(PerMinute),
        refill: args.refill.map(Seconds),
        gums: args.gums.map(|gums| match gums {
            GumsArg::Pink => Gums::Pink,
            GumsArg::Pale => Gums::Pale,
            GumsArg::Other => Gums::Other,
        }),
        gut: args.gut.map(|gut| match gut {
            GutArg::AllFour => GutSounds::AllFour,
            GutArg::NotAll => GutSounds::NotAll,
        }),
        signs: Vec::new(),
    };
    seen.check().map_err(anyhow::Error::msg)?;
    let own = Resting {
        temperature: args.own_temp,
        pulse: args.own_pulse.map(PerMinute),
        breaths: args.own_breaths.map(PerMinute),
    };
    let limits = CareLimits::default();
    let found = judge(&seen, &own, Condition::after(args.after_work, &limits), &limits);
    found.cautions.iter().chain(&found.notes).for_each(|line| println!("{line}"));
    match found.urgency {
        Urgency::Fine => println!("Nothing to caution about in what was told. This is no diagnosis."),
        pressing => println!("{}", pressing.advice()),
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_quantity_has_its_unit() {
        for (text, cm) in [("180cm", 180.0), ("76in", 193.04), (" 71.5 in", 181.61)] {
            assert_eq!(length(text).map(|length| (length.get() * 1e6).round() / 1e6), Ok(cm), "{text}");
        }
        for text in ["180", "1e2cm", "-5cm", "infcm", "cm", "76 ft", "", "18O cm"] {
            assert!(length(text).is_err(), "{text}");
        }
        assert_eq!(temperature("38.6C"), Ok(Celsius(38.6)));
        assert_eq!(temperature("212F"), Ok(Celsius(100.0)));
        for text in ["38.6", "101.5 K", "F", "-3F"] {
            assert!(temperature(text).is_err(), "{text}");
        }
    }
}
