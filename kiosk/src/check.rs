//! Checking a horse: what was measured and seen is entered one thing at a time by large keys, and sent as one touch under
//! the name of who looked. Pure; it judges nothing, the hub does.
//!
//! A value stands as not measured until a key is pressed; the first press brings a usual one to begin from, so that nothing
//! is sent that nobody entered.

use bellmare_barn::board::Board;
use bellmare_barn::care::observed::{Gums, GutSounds, Observed};
use bellmare_barn::care::vitals::Vital;
use bellmare_barn::id::{HorseId, PersonId, StallId};
use bellmare_barn::input::{Action, Vitals};
use bellmare_barn::limits::DisplayUnits;
use bellmare_barn::units::{Celsius, Fahrenheit, PerMinute, Seconds};

use crate::aisle::frame::Rect;
use crate::sizes::{GLOVE_MM, GOOD_ARCMIN, LEAST_ARCMIN, Sizes};
use crate::text::{self, Weight};
use crate::words;

/// What is entered on a page.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub enum Sign {
    /// Rectal temperature.
    #[default]
    Temperature,
    /// Heart beats in a minute.
    Pulse,
    /// Breaths in a minute.
    Breaths,
    /// Capillary refill.
    Refill,
    /// The colour of the gums.
    Gums,
    /// Gut sounds.
    Gut,
}

/// What a caution is about, and what was found: "pulse 46 in a minute". Nothing where the vet is called for more than a number.
pub fn found(about: Vital, seen: &Observed, units: DisplayUnits) -> Option<String> {
    let fahrenheit = units == DisplayUnits::UsCustomary;
    let degrees = |of: Celsius| if fahrenheit { of.fahrenheit().get() } else { of.get() };
    let number = |sign, number: String| (sign, words::sign_value(sign, &number, units));
    let (sign, value) = match about {
        Vital::Temperature => number(Sign::Temperature, format!("{:.1}", degrees(seen.temperature?))),
        Vital::Pulse => number(Sign::Pulse, format!("{:.0}", seen.pulse?.get())),
        Vital::Breaths => number(Sign::Breaths, format!("{:.0}", seen.breaths?.get())),
        Vital::Refill => number(Sign::Refill, format!("{:.1}", seen.refill?.get())),
        Vital::Gums => (Sign::Gums, words::gums(seen.gums?)),
        Vital::Gut => (Sign::Gut, words::gut(seen.gut?)),
        Vital::Sign => return None,
    };
    Some(format!("{} {value}", words::sign(sign)))
}

impl Sign {
    /// All of them, in the order of the pages.
    pub const ALL: [Sign; 6] = [Sign::Temperature, Sign::Pulse, Sign::Breaths, Sign::Refill, Sign::Gums, Sign::Gut];

    /// The page after; none after the last.
    pub fn next(self) -> Option<Sign> {
        Self::ALL.into_iter().skip_while(|sign| *sign != self).nth(1)
    }

    /// The page before; none before the first.
    pub fn before(self) -> Option<Sign> {
        Self::ALL.into_iter().rev().skip_while(|sign| *sign != self).nth(1)
    }

    /// How its number is counted; none where a word is chosen.
    fn count(self, units: DisplayUnits) -> Option<Count> {
        Some(match (self, units) {
            (Sign::Temperature, DisplayUnits::UsCustomary) => Count::new(10, 1000, [1, 10], 900..=1100),
            (Sign::Temperature, DisplayUnits::Metric) => Count::new(10, 378, [1, 5], 320..=440),
            (Sign::Pulse, _) => Count::new(1, 36, [1, 10], 10..=250),
            (Sign::Breaths, _) => Count::new(1, 12, [1, 5], 2..=180),
            (Sign::Refill, _) => Count::new(2, 4, [1, 2], 0..=20),
            (Sign::Gums | Sign::Gut, _) => return None,
        })
    }
}

/// How a number is counted: in so many parts of its unit.
struct Count {
    parts: i32,
    usual: i32,
    steps: [i32; 2],
    range: std::ops::RangeInclusive<i32>,
}

impl Count {
    fn new(parts: i32, usual: i32, steps: [i32; 2], range: std::ops::RangeInclusive<i32>) -> Self {
        Self { parts, usual, steps, range }
    }

    /// The keys from the large step down to the large step up.
    fn keys(&self) -> [i32; 4] {
        [-self.steps[1], -self.steps[0], self.steps[0], self.steps[1]]
    }

    fn shown(&self, count: i32) -> String {
        if self.parts == 1 { count.to_string() } else { format!("{:.1}", f64::from(count) / f64::from(self.parts)) }
    }
}

/// What has been entered so far. Numbers are counted in parts of the unit that people see.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct Entry {
    numbers: [Option<i32>; 4],
    gums: Option<Gums>,
    gut: Option<GutSounds>,
}

const GUMS: [Gums; 3] = [Gums::Pink, Gums::Pale, Gums::Other];
const GUT: [GutSounds; 2] = [GutSounds::AllFour, GutSounds::NotAll];

impl Entry {
    /// A key of a page was pressed, counted from the left.
    pub fn press(&mut self, sign: Sign, key: usize, units: DisplayUnits) {
        match (sign, sign.count(units)) {
            (_, Some(count)) => {
                let (Some(step), Some(number)) = (count.keys().get(key).copied(), self.number(sign)) else { return };
                let value = number.map_or(count.usual, |value| value + step);
                *number = Some(value.clamp(*count.range.start(), *count.range.end()));
            }
            (Sign::Gums, None) => self.gums = GUMS.get(key).copied().or(self.gums),
            (_, None) => self.gut = GUT.get(key).copied().or(self.gut),
        }
    }

    /// It was not measured after all.
    pub fn clear(&mut self, sign: Sign) {
        match sign {
            Sign::Gums => self.gums = None,
            Sign::Gut => self.gut = None,
            _ => {
                if let Some(number) = self.number(sign) {
                    *number = None;
                }
            }
        }
    }

    /// True where nothing was entered.
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }

    fn number(&mut self, sign: Sign) -> Option<&mut Option<i32>> {
        self.numbers.get_mut(sign as usize)
    }

    /// What stands on a page; none where it was not measured.
    fn value(&self, sign: Sign, units: DisplayUnits) -> Option<String> {
        match (sign, sign.count(units)) {
            (_, Some(_)) => Some(words::sign_value(sign, &self.counted(sign, units)?, units)),
            (Sign::Gums, None) => self.gums.map(words::gums),
            (_, None) => self.gut.map(words::gut),
        }
    }

    /// The number that was entered, as it is shown.
    fn counted(&self, sign: Sign, units: DisplayUnits) -> Option<String> {
        let number = (*self.numbers.get(sign as usize)?)?;
        Some(sign.count(units)?.shown(number))
    }

    /// All of it in a line.
    pub fn summary(&self, units: DisplayUnits) -> String {
        let told = Sign::ALL.into_iter().filter_map(|sign| {
            let value = match self.counted(sign, units) {
                Some(number) => words::sign_short(sign, &number, units),
                None => self.value(sign, units)?,
            };
            Some(if sign == Sign::Temperature { value } else { format!("{} {value}", words::sign(sign)) })
        });
        told.collect::<Vec<_>>().join(" · ")
    }

    /// What the hub is told, in its units.
    pub fn observed(&self, units: DisplayUnits) -> Observed {
        let number = |sign: Sign| {
            let count = sign.count(units)?;
            let value = self.numbers.get(sign as usize).copied().flatten()?;
            Some(f64::from(value) / f64::from(count.parts))
        };
        Observed {
            temperature: number(Sign::Temperature).map(|degrees| match units {
                DisplayUnits::UsCustomary => Fahrenheit(degrees).celsius(),
                DisplayUnits::Metric => Celsius(degrees),
            }),
            pulse: number(Sign::Pulse).map(PerMinute),
            breaths: number(Sign::Breaths).map(PerMinute),
            refill: number(Sign::Refill).map(Seconds),
            gums: self.gums,
            gut: self.gut,
            signs: Vec::new(),
        }
    }
}

/// The touch that sends what was entered; none where nothing was.
pub fn action(board: &Board, horse: &HorseId, entry: &Entry, by: PersonId) -> Option<Action> {
    if entry.is_empty() {
        return None;
    }
    let seen = entry.observed(board.units);
    Some(Action::Vitals(Vitals { horse: horse.clone(), by, after_work_min: None, seen }))
}

/// Which horse stands there.
pub fn horse(board: &Board, stall: &StallId) -> Option<HorseId> {
    board.stalls.iter().find(|view| view.id == *stall)?.horse.as_ref().map(|horse| horse.id.clone())
}

/// A key.
#[derive(Clone, PartialEq, Debug)]
pub struct Key {
    /// Where.
    pub rect: Rect,
    /// What stands on it.
    pub text: String,
    /// What it does, for who listens.
    pub label: String,
    /// True where it is the word that was chosen.
    pub chosen: bool,
}

/// A page.
#[derive(Clone, PartialEq, Debug)]
pub struct Check {
    /// Font size of texts.
    pub base: f32,
    /// Font size of the title.
    pub title_px: f32,
    /// Font size of the value.
    pub value_px: f32,
    /// Name and sign.
    pub head: Rect,
    /// The value.
    pub middle: Rect,
    /// Which horse, which sign.
    pub title: String,
    /// How it is measured, and which page it is.
    pub below: String,
    /// What stands entered, or that nothing does.
    pub value: String,
    /// True where it was entered.
    pub known: bool,
    /// The keys.
    pub keys: Vec<Key>,
    /// Back, take out, next: the latter two where there is something for them to do.
    pub ways: [Option<Key>; 3],
}

/// Draws up a page; none where the board has no horse in that stall.
pub fn draw(board: &Board, stall: &StallId, sign: Sign, entry: &Entry, sizes: &Sizes) -> Option<Check> {
    let horse = board.stalls.iter().find(|view| view.id == *stall)?.horse.as_ref()?;
    let units = board.units;
    let (w, h) = (sizes.panel.width_px, sizes.panel.height_px);
    let base = sizes.arm_font(GOOD_ARCMIN).max((h / 25.0).min(w / 32.0)).min(h / 20.0);
    let base = base.max(sizes.arm_font(LEAST_ARCMIN));
    let gap = sizes.touch_gap().max(base * 0.5);
    let button = sizes.px(GLOVE_MM).min(h * 0.2).max(sizes.touch());
    let inner = w - 2.0 * gap;
    let head = Rect::new(gap, gap * 0.5, inner, base * 3.2);
    let foot_y = h - gap - button;
    let keys_y = foot_y - gap - button;
    let middle = Rect::new(gap, head.bottom(), inner, keys_y - gap - head.bottom());
    let row = |y: f32, count: usize| {
        let width = (inner - gap * (count as f32 - 1.0)) / count as f32;
        (0..count).map(move |at| Rect::new(gap + at as f32 * (width + gap), y, width, button))
    };
    let known = entry.value(sign, units);
    let value = known.clone().unwrap_or_else(|| words::not_measured(sign.count(units).is_some()));
    let largest = (middle.h * 0.6).min(base * 4.0);
    let keys = key_words(sign, entry, units);
    let keys = row(keys_y, keys.len()).zip(keys).map(|(rect, (text, label, chosen))| Key { rect, text, label, chosen });
    let way = |rect, text: String| Key { rect, label: text.clone(), text, chosen: false };
    let mut ways = row(foot_y, 3);
    let mut place = || ways.next().unwrap_or_default();
    let (back, out, next) = (place(), place(), place());
    let next_word = match sign.next() {
        Some(next) => Some(words::next_sign(next)),
        None if entry.is_empty() => None,
        None => Some(words::who_looked()),
    };
    let title = words::check_title(&horse.name, sign);
    let at = Sign::ALL.into_iter().take_while(|other| *other != sign).count() + 1;
    Some(Check {
        base,
        title_px: text::fit(&title, inner / 1.03, base * 1.6, Weight::Bold),
        value_px: text::fit(&value, inner / 1.05, if known.is_some() { largest } else { base * 1.2 }, Weight::Bold),
        head,
        middle,
        title,
        below: format!("{} · {}", words::of(at, Sign::ALL.len()), words::how_to(sign)),
        known: known.is_some(),
        value,
        keys: keys.collect(),
        ways: [
            Some(way(back, words::back())),
            known.is_some().then(|| way(out, words::take_out())),
            next_word.map(|text| way(next, text)),
        ],
    })
}

/// What stands on each key, what it does, and whether it was chosen.
fn key_words(sign: Sign, entry: &Entry, units: DisplayUnits) -> Vec<(String, String, bool)> {
    match (sign, sign.count(units)) {
        (_, Some(count)) => {
            let key = |step: i32| {
                let (mark, by) = (if step < 0 { "−" } else { "+" }, count.shown(step.abs()));
                (format!("{mark} {by}"), words::step(sign, step > 0, &by), false)
            };
            count.keys().map(key).to_vec()
        }
        (Sign::Gums, None) => {
            let key = |gums| (words::gums(gums), words::gums(gums), entry.gums == Some(gums));
            GUMS.map(key).to_vec()
        }
        (_, None) => GUT.map(|gut| (words::gut(gut), words::gut(gut), entry.gut == Some(gut))).to_vec(),
    }
}

impl Check {
    /// Everything that can be touched: by its label, and where.
    pub fn targets(&self) -> Vec<(String, Rect)> {
        let keys = self.keys.iter().chain(self.ways.iter().flatten());
        keys.map(|key| (key.label.clone(), key.rect)).collect()
    }
}
