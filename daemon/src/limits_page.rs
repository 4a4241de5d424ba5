//! `bellmare-hub limits`: every limit in force on one page in Markdown, with what it means and where it comes from, for who
//! answers for the barn. Made by the program, so that it can not say another figure than the program goes by.
//!
//! [`LIMITS`] is the one list of meanings and sources by key. A test holds it against what `bellmare-hub settings` prints: a
//! limit without its row, or a row without its limit, is an error.

use std::collections::BTreeMap;
use std::fmt::Display;

use bellmare_barn::book::{Book, Horse};
use bellmare_barn::care::published::PRINTED;
use bellmare_barn::care::{tape, vitals};
use bellmare_barn::limits::Limits;
use bellmare_barn::units::Kilograms;
use toml::{Table, Value};

use crate::settings::Settings;

/// Where a limit that the barn has not set comes from.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Source {
    /// It is printed there.
    Printed(&'static str),
    /// It follows from something else.
    Follows(&'static str),
    /// Common practice of the trade.
    Practice,
    /// It was chosen for this program.
    Chosen,
}

impl Source {
    fn words(self) -> String {
        match self {
            Source::Printed(source) | Source::Follows(source) => source.to_owned(),
            Source::Practice => "common practice of the trade, no source".to_owned(),
            Source::Chosen => "chosen for this program, no source".to_owned(),
        }
    }
}

/// A limit: its key under `limits` in the settings, its unit, what it means, where it comes from.
pub type About = (&'static str, &'static str, &'static str, Source);

const US_EQUESTRIAN: &str = "US Equestrian, heat-alert clarification, usef.org, which attributes it to the AAEP";

const NWS_LADDER: &str = "US National Weather Service, its newer ladder (an older one has 105 and 130); for the shade, full sun \
                          adds up to 15 °F (OSHA)";
const MEMORY: Source = Source::Printed("from memory, verify");

/// Every limit of the settings, in their order.
pub const LIMITS: &[About] = &[
    ("water.low_percent", "%", "at or under this share a bucket is low: fill it on the next round", Source::Practice),
    (
        "water.empty_percent",
        "%",
        "at or under this share it counts as empty: what is left can not be drunk",
        Source::Practice,
    ),
    ("water.deadband_percent", "%", "a level rises this far past a limit before it is left again", Source::Chosen),
    (
        "water.empty_alarm_after_min",
        "min",
        "empty for so long and not refilled is an alarm; empty just after a drink is normal",
        Source::Practice,
    ),
    (
        "water.empty_presses_after_min",
        "min",
        "empty for so long, or in critical heat, its alarm is high; medium before",
        Source::Practice,
    ),
    ("water.low_alarm_after_min", "min", "low for so long and not refilled is said", Source::Practice),
    ("water.round_ahead_min", "min", "the filling round takes in what may run dry within this", Source::Practice),
    (
        "water.not_drinking_after_min",
        "min",
        "a horse that stood in its stall so long without drinking is a caution, or for longer than its own longest pause and \
         a quarter",
        Source::Printed("a web guide: a level that does not fall in 6 to 8 h of stall time"),
    ),
    (
        "water.not_drinking_at_most_min",
        "min",
        "and after this whatever its own longest pause",
        Source::Printed("half a day; from memory, verify"),
    ),
    ("water.drinks_little_percent", "%", "under this share of its habit in 24 h is a caution", Source::Practice),
    (
        "water.drinks_much_percent",
        "%",
        "over this share of its habit in 24 h is a caution",
        Source::Follows("from 20 to 30 °C intake nearly doubles, which must not be one: NRC 2007, from memory, verify"),
    ),
    ("water.amount_alarm_after_min", "min", "too little or too much lasts so long before it is said", Source::Chosen),
    (
        "water.ice_below_c",
        "°C",
        "at this air temperature and below a bucket freezes in time",
        Source::Follows("water freezes at 0 °C by definition; the margin is common practice"),
    ),
    ("water.ice_after_min", "min", "so cold for so long, and not drunk from: look for ice", Source::Practice),
    ("heat.watch_sum", "°F + %", "horse sum from which to begin to watch", Source::Printed(US_EQUESTRIAN)),
    (
        "heat.critical_sum",
        "°F + %",
        "horse sum from which it is critical to monitor; taken inclusive, the cautious side",
        Source::Printed(US_EQUESTRIAN),
    ),
    (
        "heat.stop_sum",
        "°F + %",
        "horse sum from which to choose another time; taken inclusive, the cautious side",
        Source::Printed(US_EQUESTRIAN),
    ),
    (
        "heat.deadband_sum",
        "°F + %",
        "the sum falls this far under a limit before its band is left",
        Source::Follows("a sensor error of 0.5 °C and 2 % moves the sum by 2.9 (computed)"),
    ),
    ("heat.alarm_after_min", "min", "a higher band lasts so long before it is an alarm", Source::Chosen),
    ("heat.from_air_c", "°C", "in colder air the sum says nothing: cold air is nearly always damp", MEMORY),
    (
        "heat.watch_wbgt_c",
        "°C WBGT",
        "open-air WBGT estimate from which to begin to watch, whatever the sum: dry heat",
        Source::Printed("FEI: measures begin over 28 °C, as reported of Versailles 2024, equnews.com"),
    ),
    (
        "heat.critical_wbgt_c",
        "°C WBGT",
        "open-air WBGT estimate from which it is critical to monitor",
        Source::Printed(
            "a step of the FEI's ladder, from memory, verify; Schroter and Marlin 1995 give 32.5 for fit horses",
        ),
    ),
    (
        "heat.stop_air_c",
        "°C",
        "air temperature from which to choose another time, however dry",
        Source::Printed("Equestrian Australia 2019: 40 °C with 25 % is not compatible with safe competition"),
    ),
    ("heat.deadband_c", "°C", "the three before are left so far under", Source::Chosen),
    ("heat.people_caution_f", "°F", "NWS heat index for people: caution", Source::Printed(NWS_LADDER)),
    ("heat.people_extreme_caution_f", "°F", "NWS heat index for people: extreme caution", Source::Printed(NWS_LADDER)),
    ("heat.people_danger_f", "°F", "NWS heat index for people: danger", Source::Printed(NWS_LADDER)),
    ("heat.people_extreme_danger_f", "°F", "NWS heat index for people: extreme danger", Source::Printed(NWS_LADDER)),
    ("heat.people_deadband_f", "°F", "the index falls so far under a step before it is left", Source::Chosen),
    ("heat.doubt_apart_c", "°C", "climate sensors whose air is further apart are doubted", MEMORY),
    (
        "heat.doubt_dew_point_apart_c",
        "°C",
        "and those whose dew points are: places of one barn share their air",
        MEMORY,
    ),
    ("heat.doubt_after_min", "min", "they stay apart so long before that is said", Source::Chosen),
    (
        "heat.lesson_ahead_min",
        "min",
        "a lesson that begins within this and is expected in critical heat is told ahead",
        Source::Chosen,
    ),
    ("frost.near_c", "°C", "at or under this while the air falls: ready buckets and pipes", MEMORY),
    ("frost.freezing_c", "°C", "at or under this: look at buckets and pipes", MEMORY),
    ("frost.deadband_c", "°C", "the air rises so far past a limit before it is left", Source::Chosen),
    ("frost.alarm_after_min", "min", "so cold for so long before it is an alarm", Source::Chosen),
    ("sensors.silent_after_gaps", "gaps", "a sensor is silent after so many of its own usual gaps", Source::Chosen),
    ("sensors.silent_at_least_min", "min", "but never before this, however often it speaks", Source::Chosen),
    ("sensors.silent_at_most_min", "min", "and after this in any case", Source::Chosen),
    ("sensors.battery_low_percent", "%", "at or under this a sensor's battery is low", Source::Chosen),
    (
        "sensors.own_time_ahead_min",
        "min",
        "a sensor's own time is believed up to this much ahead of arrival",
        Source::Chosen,
    ),
    ("sensors.own_time_behind_min", "min", "and up to this much behind", Source::Chosen),
    ("lessons.ready_lead_min", "min", "a horse is ready so long before its rider mounts", Source::Practice),
    ("shift.same_tap_s", "s", "a second tap of one badge within this is the same tap", Source::Chosen),
    ("shift.day_ends", "", "who is still signed in then is signed out, marked as assumed", Source::Chosen),
    ("plan.walk_back_min", "min", "from the last dismount to the stall", Source::Practice),
    ("plan.stand_min", "min", "a horse that is back may stand under its tack so long", Source::Practice),
    ("plan.girth_dry_min", "min", "a disinfected girth hangs so long before its next use", Source::Practice),
    (
        "plan.stay_tacked_min",
        "min",
        "a horse whose next ride under the same tack follows within this stays tacked; work so close is without a rest",
        Source::Practice,
    ),
    ("plan.promise_min", "min", "so far ahead the plan that people have seen is a promise", Source::Practice),
    ("plan.stays_min", "min", "who is here and on no sheet is taken to stay so long", Source::Practice),
    ("plan.waited_for_min", "min", "who is on the sheet and not here is waited for so long", Source::Practice),
    ("plan.calm", "", "a plan that costs less than this much less is not worth unrest", Source::Chosen),
    (
        "care.own_temperature_apart_c",
        "°C",
        "a temperature may lie so far from the horse's own at rest: one degree Fahrenheit",
        Source::Practice,
    ),
    ("care.own_pulse_apart_per_min", "a minute", "the same for the pulse", Source::Practice),
    ("care.own_breaths_apart_per_min", "a minute", "the same for breaths", Source::Practice),
    ("care.after_work_min", "min", "so long after work a horse is judged as one that has worked", MEMORY),
    ("care.count_again_min", "min", "sooner than this after work pulse and breaths are not judged", MEMORY),
    ("care.pulse_after_work_per_min", "a minute", "a pulse over this after light work is to be looked at", MEMORY),
    (
        "aisle.hay_unanswered_min",
        "min",
        "a question for hay that nobody has answered for so long is an alarm",
        Source::Practice,
    ),
    (
        "alarms.off_delay_s",
        "s",
        "a line that was down or a sensor that was silent must be well for so long before its alarm ends",
        Source::Chosen,
    ),
    (
        "alarms.chatter_raises",
        "",
        "a cause that comes so often in an hour comes and goes: that is said once",
        Source::Printed("EEMUA 191 and ISA-18.2 speak of three a minute for an operator; from memory, verify"),
    ),
    ("alarms.chatter_steady_min", "min", "it is over once it has kept still for so long", Source::Chosen),
    (
        "alarms.many_silent",
        "",
        "so many sensors silent within ten minutes are one alarm: a line or a radio",
        Source::Chosen,
    ),
    (
        "alarms.silent_pressing_min",
        "min",
        "a sensor that is silent for so long is told to a person; until then the digest is soon enough",
        Source::Chosen,
    ),
    (
        "alarms.flood",
        "",
        "more alarms than this in ten minutes are a flood, told as one summary",
        Source::Printed("EEMUA 191, a vendor's reprint: 10 in ten minutes"),
    ),
    ("alarms.disk_low_mib", "MiB", "less room on the hub's disk is said; a tenth of it is pressing", Source::Chosen),
    ("alarms.late_min", "min", "a horse that will be late for its lesson by so long is said", Source::Chosen),
    ("alarms.nobody_before_min", "min", "nobody is signed in so long before a lesson", Source::Chosen),
    ("alarms.clock_after_min", "min", "the clock is not set for so long after the hub started", Source::Chosen),
    ("alarms.out_of_service", "", "sensors and rules that raise nothing; the digest names them", Source::Chosen),
    ("tell.high_second_min", "min", "a high alarm that nobody took goes on to the equine professional", Source::Chosen),
    ("tell.high_third_min", "min", "and to the manager", Source::Chosen),
    ("tell.medium_second_min", "min", "a medium one goes on to the equine professional, by day", Source::Chosen),
    ("tell.medium_third_min", "min", "and to the manager", Source::Chosen),
    ("tell.quiet_from", "", "what is not high waits from here", Source::Chosen),
    ("tell.quiet_to", "", "until here", Source::Chosen),
    ("tell.digest_at", "", "when the digest of the morning is sent", Source::Chosen),
    ("tell.heartbeat_on", "", "the day on which it is sent even where there is nothing to say", Source::Chosen),
];

/// The page.
pub fn page(settings: &Settings, book: Option<&Book>) -> String {
    let unset = Settings { limits: Limits::default(), ..settings.clone() };
    let (in_force, proposed) = (in_force(settings), in_force(&unset));
    let mut page = Page::default();
    page.0 += &format!("# Limits in force: {}\n\n", settings.limits.barn);
    page.0 += "Prompts to go and look, never a diagnosis or a permission. The veterinarian, the equine professional, the \
               instructor and local rules decide.\n\n## Settings\n\n";
    page.row(["key", "value", "what it means", "source"]);
    page.row(["---"; 4]);
    for (key, unit, means, source) in LIMITS {
        let Some(value) = in_force.get(*key) else { continue };
        let source = if proposed.get(*key) == Some(value) {
            source.words()
        } else {
            let proposed = proposed.get(*key).map_or_else(String::new, shown);
            format!("set by the barn; proposed is {proposed} ({})", source.words())
        };
        page.row([&format!("limits.{key}"), &with_unit(shown(value), unit), *means, &source]);
    }
    if let Some(book) = book {
        horses(&mut page, book);
    }
    held(&mut page);
    page.0
}

/// The limits as the settings print them, by key.
fn in_force(settings: &Settings) -> BTreeMap<String, Value> {
    // What the settings print is TOML, which a test of theirs shows; should it not be, the page holds nothing wrong.
    let printed: Table = settings.print().parse().unwrap_or_default();
    let sections = printed.get("limits").and_then(Value::as_table).into_iter().flatten();
    let keys = sections.filter_map(|(section, keys)| Some((section, keys.as_table()?)));
    keys.flat_map(|(section, keys)| keys.iter().map(move |(key, value)| (format!("{section}.{key}"), value.clone())))
        .collect()
}

fn horses(page: &mut Page, book: &Book) {
    page.0 += "\n## Horses\n\nSet by the equine professional; what is empty is not limited by this program.\n\n";
    page.row(["horse", "rides a day", "minutes in a row", "minutes a day", "days a week", "load kg, all told"]);
    page.row(["---"; 6]);
    for Horse { name, most, .. } in book.horses.values() {
        page.row([
            name.clone(),
            perhaps(most.rides_a_day),
            perhaps(most.minutes_in_a_row.map(|minutes| minutes.0)),
            perhaps(most.minutes_a_day.map(|minutes| minutes.0)),
            perhaps(most.days_a_week),
            perhaps(most.load.map(Kilograms::get)),
        ]);
    }
}

/// What the program holds and no setting changes.
fn held(page: &mut Page) {
    page.0 += "\n## Figures that are no settings\n\nAll that is printed of a vital sign is told, as sources differ; a horse is \
               held against its own resting record first.\n\n";
    page.row(["figure", "value", "source"]);
    page.row(["---"; 3]);
    for row in &PRINTED {
        let range = row.told();
        let range = range.strip_suffix(&format!(" ({})", row.source)).unwrap_or(&range);
        let unit = if row.unit == "bpm" || row.unit == "/min" { " a minute" } else { "" };
        page.row([&format!("{}: {}", row.age.word(), row.of.word()), &format!("{range}{unit}"), row.source]);
    }
    let column = "vet column, worldpolonews.com 2018";
    let rows = [
        ("after work: temperature is a worry over", format!("{} °F", vitals::AFTER_WORK_WORRY.get()), column),
        ("after work: temperature is urgent over", format!("{} °F", vitals::AFTER_WORK_URGENT.get()), column),
        ("weight tape: seen to be off by", format!("{:.0} kg (100 lb)", tape::ERROR.get()), "thewayofhorses.com"),
    ];
    for (figure, value, source) in rows {
        page.row([figure, value.as_str(), source]);
    }
    for rule in tape::Rule::ALL {
        page.row(["weight tape", &rule.formula(), rule.source()]);
    }
}

#[derive(Default)]
struct Page(String);

impl Page {
    fn row<const N: usize>(&mut self, cells: [impl Display; N]) {
        for cell in cells {
            self.0 += &format!("| {} ", cell.to_string().replace('|', "\\|"));
        }
        self.0 += "|\n";
    }
}

fn shown(value: &Value) -> String {
    value.as_str().map_or_else(|| value.to_string(), str::to_owned)
}

fn with_unit(value: String, unit: &str) -> String {
    if unit.is_empty() { value } else { format!("{value} {unit}") }
}

fn perhaps<T: Display>(value: Option<T>) -> String {
    value.map_or_else(String::new, |value| value.to_string())
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;
    use std::path::Path;

    use bellmare_barn::units::{Minutes, Percent};

    use super::*;
    use crate::exchange::read_book;

    fn settings() -> Settings {
        Settings::load(None, []).expect("the defaults are sound")
    }

    #[test]
    fn every_limit_that_the_settings_print_has_its_row_and_no_row_is_left_over() {
        let printed: BTreeSet<String> = in_force(&settings()).into_keys().collect();
        assert!(printed.len() > 20, "{printed:?}");
        let told: BTreeSet<String> = LIMITS.iter().map(|(key, ..)| (*key).to_owned()).collect();
        let without: Vec<_> = printed.difference(&told).collect();
        let left_over: Vec<_> = told.difference(&printed).collect();
        assert!(without.is_empty(), "limits without a row in LIMITS: unit, meaning and source of {without:?}");
        assert!(left_over.is_empty(), "rows of LIMITS that no setting has: {left_over:?}");
        assert_eq!(told.len(), LIMITS.len(), "a row twice");
    }

    #[test]
    fn what_the_barn_has_set_is_told_from_what_is_proposed() {
        let proposed = page(&settings(), None);
        assert!(!proposed.contains("set by the barn"), "{proposed}");
        assert!(
            proposed
                .contains("| limits.heat.watch_sum | 130.0 °F + % | horse sum from which to begin to watch | US Eq")
        );
        let mut own = settings();
        own.limits.water.low = Percent(30.0);
        own.limits.plan.stand = Minutes(20);
        let page = page(&own, None);
        assert!(page.contains(
            "set by the barn; proposed is 25.0 (common practice of the trade, no source) |\n| limits.water.empty_percent"
        ));
        assert_eq!(page.matches("set by the barn").count(), 2);
    }

    #[test]
    fn horses_have_their_own_and_figures_their_sources() {
        let book = read_book(Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/../demo-data"))).expect("a sound book");
        let page = page(&settings(), Some(&book));
        assert!(page.contains("| Biscuit | 3 | 45 | 120 |  | 82.5 |"), "{page}");
        assert!(page.contains(
            "| adult: pulse | 28 to 44 a minute | reprint |\n| adult: pulse | 28 to 40 a minute | practice |"
        ));
        assert!(page.contains("| weight tape | kg = girth x girth x length in cm / 11900 | Carroll & Huntington 1988"));
        // As many cells in each row as in its heading, so that it is a table.
        let mut cells = 0;
        for line in page.lines() {
            let here = line.replace("\\|", "").matches('|').count();
            assert!(cells == 0 || here == 0 || here == cells, "{line}");
            cells = here;
        }
    }
}
