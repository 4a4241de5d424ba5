//! `bellmare-hub heat`: what a temperature and a humidity mean, every figure by its name, with its unit and the form of it
//! that was used. A figure that is out of its formula's range says so, with the range; the others stand all the same.

use bellmare_barn::board::{HeatBand, PeopleBand};
use bellmare_barn::heat::advice::for_both;
use bellmare_barn::heat::{
    Bands, HorseSum, OutOfRange, PeopleBands, dew_point, heat_index, saturation_vapour_pressure, wbgt_open_air,
    wbgt_shade, wet_bulb,
};
use bellmare_barn::limits::HeatLimits;
use bellmare_barn::time::Mono;
use bellmare_barn::units::{Celsius, Fahrenheit, Pascals, RelativeHumidity};
use serde_json::{Value, json};

/// Reads a temperature with its unit.
///
/// # Errors
/// In words: what it was and what is allowed.
pub(crate) fn temperature(text: &str) -> Result<Celsius, String> {
    let allowed = "a temperature with its unit, such as 90F or 32C";
    let wrong = || format!("{text:?} is no temperature: allowed is {allowed}");
    let text = text.trim();
    let number = |number: &str| {
        let number = number.trim_end().trim_end_matches('°').trim_end();
        number.parse::<f64>().ok().filter(|number| number.is_finite()).ok_or_else(wrong)
    };
    match text.char_indices().next_back() {
        Some((end, 'F' | 'f')) => Ok(Fahrenheit(number(&text[..end])?).celsius()),
        Some((end, 'C' | 'c')) => Ok(Celsius(number(&text[..end])?)),
        _ => Err(wrong()),
    }
}

/// Reads a relative humidity.
///
/// # Errors
/// In words: what it was and what is allowed.
pub(crate) fn humidity(text: &str) -> Result<RelativeHumidity, String> {
    let wrong = || format!("{text:?} is no relative humidity: allowed is 0% to 100%, such as 65%");
    let number = text.trim().strip_suffix('%').ok_or_else(wrong)?.trim_end();
    let number = number.parse::<f64>().map_err(|_| wrong())?;
    if (0.0..=100.0).contains(&number) { Ok(RelativeHumidity(number)) } else { Err(wrong()) }
}

/// What there is to say of some air.
pub(crate) struct Words {
    air: Celsius,
    humidity: RelativeHumidity,
    figures: Vec<Figure>,
    horses: (HeatBand, bool),
    people: PeopleBand,
}

/// A figure, or why there is none.
struct Figure {
    key: &'static str,
    name: &'static str,
    value: Result<Quantity, OutOfRange>,
}

enum Quantity {
    Temperature(Celsius),
    Pressure(Pascals),
    Sum(f64),
}

impl Words {
    /// Everything that is known of this air, with the bands of these limits.
    pub(crate) fn of(air: Celsius, humidity: RelativeHumidity, limits: &HeatLimits) -> Self {
        let sum = HorseSum::new(air, humidity);
        let bands = sum.map(|sum| Bands::default().assess(sum, limits, Mono(0))).unwrap_or_default();
        let celsius = |key, name, value: Result<Celsius, OutOfRange>| Figure {
            key,
            name,
            value: value.map(Quantity::Temperature),
        };
        let figures = vec![
            Figure {
                key: "saturation_vapour_pressure_pa",
                name: "saturation vapour pressure, over water",
                value: saturation_vapour_pressure(air).map(Quantity::Pressure),
            },
            celsius("dew_point_c", "dew point, over water", dew_point(air, humidity)),
            celsius("wet_bulb_c", "wet bulb, ventilated, at sea level", wet_bulb(air, humidity)),
            Figure {
                key: "horse_sum",
                name: "horse sum, degrees Fahrenheit plus percent",
                value: sum.map(|sum| Quantity::Sum(sum.get())),
            },
            celsius("nws_heat_index_c", "NWS heat index, for people in the shade", heat_index(air, humidity)),
            celsius("wbgt_shade_estimate_c", "WBGT, estimate in the shade", wbgt_shade(air, humidity)),
            celsius(
                "wbgt_open_air_estimate_c",
                "WBGT, estimate in the open air, moderate sun and light wind",
                wbgt_open_air(air, humidity),
            ),
        ];
        let people = PeopleBands::default().assess(air, humidity, &limits.people, Mono(0)).shown();
        Self { air, humidity, figures, horses: (bands.shown(), bands.shown() > bands.by_sum()), people }
    }

    /// For a person.
    pub(crate) fn text(&self) -> String {
        let width = self.figures.iter().map(|figure| figure.name.chars().count()).max().unwrap_or(0);
        let mut lines = vec![format!("Air of {} with {:.0} % relative humidity", both(self.air), self.humidity.get())];
        for Figure { name, value, .. } in &self.figures {
            let value = match value {
                Ok(Quantity::Temperature(value)) => both(*value),
                Ok(Quantity::Pressure(value)) => format!("{value:.0}"),
                Ok(Quantity::Sum(value)) => format!("{value:.1}"),
                Err(refused) => format!("not known: {refused}"),
            };
            lines.push(format!("  {name:<width$}  {value}"));
        }
        let (band, dry) = self.horses;
        let why = if dry { ", by the floor for dry heat and not by the sum" } else { "" };
        lines.push(format!("Horses: {}{why}", horses(band)));
        lines.push(format!("People: {}, in the shade; full sun adds up to 15 °F (8 °C)", people(self.people)));
        lines.extend(for_both(band, self.people).iter().map(|advice| format!("  - {advice}")));
        lines.push("Shade and open air are estimates from air alone: a globe or a hot roof may say more.".to_owned());
        lines.join("\n")
    }

    /// For a machine: a figure that is out of range is null, and `refused` says why.
    pub(crate) fn json(&self) -> Value {
        let mut whole = json!({
            "air_c": round(self.air.get()),
            "relative_humidity_percent": self.humidity.get(),
            "horses": self.horses.0,
            "horses_by_dry_heat": self.horses.1,
            "people": self.people,
            "advice": for_both(self.horses.0, self.people),
            "refused": {},
        });
        for Figure { key, value, .. } in &self.figures {
            let value = match value {
                Ok(
                    Quantity::Temperature(Celsius(value)) | Quantity::Pressure(Pascals(value)) | Quantity::Sum(value),
                ) => {
                    json!(round(*value))
                }
                Err(refused) => {
                    whole["refused"][*key] = json!(refused.to_string());
                    Value::Null
                }
            };
            whole[*key] = value;
        }
        whole
    }
}

fn both(value: Celsius) -> String {
    format!("{} ({})", value.fahrenheit(), value)
}

fn round(value: f64) -> f64 {
    (value * 100.0).round() / 100.0
}

fn horses(band: HeatBand) -> &'static str {
    match band {
        HeatBand::CarryOn => "carry on",
        HeatBand::Watch => "begin to watch",
        HeatBand::Critical => "critical to monitor",
        HeatBand::Stop => "choose another time",
    }
}

fn people(band: PeopleBand) -> &'static str {
    match band {
        PeopleBand::NoCaution => "no caution",
        PeopleBand::Caution => "caution",
        PeopleBand::ExtremeCaution => "extreme caution",
        PeopleBand::Danger => "danger",
        PeopleBand::ExtremeDanger => "extreme danger",
    }
}

#[cfg(test)]
mod tests {
    use bellmare_barn::limits::Limits;

    use super::*;

    fn words(air: &str, rh: &str) -> Words {
        let (air, rh) = (temperature(air).expect("a temperature"), humidity(rh).expect("a humidity"));
        Words::of(air, rh, &Limits::default().heat)
    }

    #[test]
    fn every_figure_says_its_name_and_unit() {
        let text = words("90F", "65%").text();
        let lines: Vec<&str> = text.lines().collect();
        assert_eq!(
            lines[..10],
            [
                "Air of 90.0 °F (32.2 °C) with 65 % relative humidity",
                "  saturation vapour pressure, over water                       4809 Pa",
                "  dew point, over water                                        76.7 °F (24.8 °C)",
                "  wet bulb, ventilated, at sea level                           80.3 °F (26.8 °C)",
                "  horse sum, degrees Fahrenheit plus percent                   155.0",
                "  NWS heat index, for people in the shade                      102.7 °F (39.3 °C)",
                "  WBGT, estimate in the shade                                  83.2 °F (28.5 °C)",
                "  WBGT, estimate in the open air, moderate sun and light wind  94.0 °F (34.5 °C)",
                "Horses: critical to monitor",
                "People: extreme caution, in the shade; full sun adds up to 15 °F (8 °C)",
            ]
        );
        assert!(text.contains("  - Call the vet at once"), "{text}");
        assert!(!text.to_lowercase().replace("nws heat index", "").contains("heat index"), "{text}");
    }

    #[test]
    fn celsius_says_the_same_and_machines_read_it_too() {
        let (fahrenheit, celsius) = (words("104F", "25%").json(), words("40 °C", "25 %").json());
        assert_eq!(fahrenheit, celsius);
        assert_eq!((fahrenheit["horse_sum"].as_f64(), fahrenheit["horses"].as_str()), (Some(129.0), Some("stop")));
        assert_eq!(fahrenheit["wbgt_open_air_estimate_c"].as_f64(), Some(33.84));
        assert_eq!(
            (fahrenheit["horses_by_dry_heat"].as_bool(), fahrenheit["refused"].as_object().map(|map| map.len())),
            (Some(true), Some(0))
        );
    }

    #[test]
    fn a_figure_out_of_range_says_so_and_the_rest_stands() {
        let cold = words("-5C", "80%");
        let text = cold.text();
        assert!(
            text.contains("not known: wet bulb: air temperature of -5.0 °C is outside of 0.0 to 50.0 °C"),
            "{text}"
        );
        assert!(
            text.contains("not known: NWS heat index: air temperature of -5.0 °C is outside of 4.4 to 50.0 °C"),
            "{text}"
        );
        assert!(text.contains("Horses: carry on\n") && text.contains("People: no caution"), "{text}");
        let json = cold.json();
        assert_eq!((json["wet_bulb_c"].is_null(), json["horse_sum"].as_f64()), (true, Some(103.0)));
        assert!(json["refused"]["wet_bulb_c"].is_string() && json["refused"]["horse_sum"].is_null());
    }

    #[test]
    fn what_can_not_be_read_is_told_with_what_is_allowed() {
        for wrong in ["90", "F", "warm", "9oF", "infC", "90K", ""] {
            let told =
                format!("{wrong:?} is no temperature: allowed is a temperature with its unit, such as 90F or 32C");
            assert_eq!(temperature(wrong), Err(told));
        }
        for wrong in ["65", "%", "101%", "-1%", "NaN%", "damp"] {
            let told = format!("{wrong:?} is no relative humidity: allowed is 0% to 100%, such as 65%");
            assert_eq!(humidity(wrong), Err(told));
        }
    }
}
