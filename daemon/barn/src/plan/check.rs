//! From a day file to a [`Day`]: finds every fault, and joins rides into outings.
//!
//! It goes through the file in its order, notes faults, and puts something harmless in the place of what is wrong, so
//! that the rest can still be looked at. Only a file without a fault becomes a day.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Debug;

use super::day::{Begun, Day, Fault, Groom, Hand, Horse, JOBS, LAST_MINUTE, Minute, Outing, STAFF, Span};
use super::file::{DayFile, JobsFile, RideFile};

/// The most grooms, horses, pieces of gear and rides of a day file, each.
const MOST: usize = 1000;
/// The greatest cost and weight. Their product over a whole day stays far from the end of an `i64`.
const GREATEST_COST: i64 = 1_000_000;
const GREATEST_WEIGHT: i64 = 1000;

/// Ids of one kind and their indices.
type Index<'a> = BTreeMap<&'a str, usize>;

pub(super) struct Checker<'a> {
    file: &'a DayFile,
    faults: Vec<Fault>,
}

impl<'a> Checker<'a> {
    pub(super) fn new(file: &'a DayFile) -> Self {
        Self { file, faults: Vec::new() }
    }

    pub(super) fn day(mut self) -> Result<Day, Vec<Fault>> {
        self.limits_and_costs();
        let grooms_by_id = self.index("grooms", "groom", self.file.grooms.iter().map(|groom| groom.id.as_str()));
        let horses_by_id = self.index("horses", "horse", self.file.horses.iter().map(|horse| horse.id.as_str()));
        let gear_by_id = self.gear();
        let grooms = self.grooms();
        let horses = self.horses();
        let now = self.file.now.map(|now| self.minute("now", now));
        let clock_ahead = self.clock_ahead();
        let mut outings = self.outings(&horses_by_id, &gear_by_id);
        self.progress(&mut outings, &grooms_by_id);
        self.published(&mut outings, &grooms_by_id);
        if !self.faults.is_empty() {
            return Err(self.faults);
        }
        let gear = self.file.gear.clone();
        let gear_names = gear.iter().map(|id| name(&self.file.words.gear, id)).collect();
        let (limits, costs) = (self.file.limits, self.file.costs);
        Ok(Day { limits, costs, grooms, horses, gear, gear_names, clock_ahead, outings, now })
    }

    fn fault(&mut self, place: impl Into<String>, value: impl Debug, allowed: impl Into<String>) {
        self.faults.push(Fault { place: place.into(), value: format!("{value:?}"), allowed: allowed.into() });
    }

    /// A number within a range; 0 in its place where it is not.
    fn number(&mut self, place: &str, value: i64, most: i64) -> i64 {
        if (0..=most).contains(&value) {
            return value;
        }
        self.fault(place, value, format!("0 to {most}"));
        0
    }

    fn minute(&mut self, place: &str, value: i64) -> Minute {
        self.number(place, value, i64::from(LAST_MINUTE)) as Minute
    }

    fn clock_ahead(&mut self) -> Minute {
        let ahead = self.file.words.clock_ahead;
        if !(-180..=180).contains(&ahead) {
            self.fault("words.clock_ahead", ahead, "-180 to 180");
            return 0;
        }
        ahead as Minute
    }

    /// How long a job takes: a minute or more. The search keeps jobs on a line apart by their minutes.
    fn length(&mut self, place: &str, value: i64) -> Minute {
        if (1..=i64::from(LAST_MINUTE)).contains(&value) {
            return value as Minute;
        }
        self.fault(place, value, format!("1 to {LAST_MINUTE}"));
        1
    }

    /// Ids, each once.
    fn index(&mut self, list: &str, what: &str, ids: impl Iterator<Item = &'a str>) -> Index<'a> {
        let mut index = Index::new();
        for (i, id) in ids.enumerate() {
            let place = format!("{list}[{i}].id");
            if id.is_empty() || id == STAFF {
                self.fault(&place, id, format!("an id of a {what}, not empty and not \"{STAFF}\""));
            }
            if let Some(first) = index.insert(id, i) {
                self.fault(&place, id, format!("an id that no other {what} has; {list}[{first}] has it"));
            }
        }
        if index.len() > MOST {
            self.fault(list, index.len(), format!("up to {MOST}"));
        }
        index
    }

    fn gear(&mut self) -> Index<'a> {
        let file = self.file;
        let mut index = Index::new();
        for (i, id) in file.gear.iter().enumerate() {
            if let Some(first) = index.insert(id.as_str(), i) {
                self.fault(format!("gear[{i}]"), id, format!("an id that no other gear has; gear[{first}] has it"));
            }
        }
        if index.len() > MOST {
            self.fault("gear", index.len(), format!("up to {MOST}"));
        }
        index
    }

    fn limits_and_costs(&mut self) {
        let l = self.file.limits;
        for (name, value) in [
            ("ready_lead", l.ready_lead),
            ("walk_back", l.walk_back),
            ("stand", l.stand),
            ("girth_dry", l.girth_dry),
            ("stay_tacked", l.stay_tacked),
            ("promise", l.promise),
        ] {
            self.minute(&format!("limits.{name}"), value);
        }
        let c = self.file.costs;
        for (name, value) in [
            ("missed", c.missed),
            ("staff", c.staff),
            ("late", c.late),
            ("standing", c.standing),
            ("back_wait", c.back_wait),
            ("saddled_wait", c.saddled_wait),
            ("brushed_wait", c.brushed_wait),
            ("handover", c.handover),
            ("reshuffle", c.reshuffle),
            ("busiest", c.busiest),
        ] {
            self.number(&format!("costs.{name}"), value, GREATEST_COST);
        }
    }

    /// A span that does not end before it begins.
    fn span(&mut self, from_place: &str, from: i64, to_place: &str, to: i64) -> Span {
        let span = Span { from: self.minute(from_place, from), to: self.minute(to_place, to) };
        if to < from {
            self.fault(to_place, to, format!("a minute not before {from_place}, which is {from}"));
        }
        span
    }

    fn away(&mut self, place: &str, away: &[[i64; 2]]) -> Vec<Span> {
        away.iter()
            .enumerate()
            .map(|(i, &[from, to])| {
                self.span(&format!("{place}.away[{i}][0]"), from, &format!("{place}.away[{i}][1]"), to)
            })
            .collect()
    }

    fn grooms(&mut self) -> Vec<Groom> {
        let file = self.file;
        let groom = |(i, groom): (usize, &super::file::GroomFile)| Groom {
            id: groom.id.clone(),
            name: name(&file.words.grooms, &groom.id),
            shift: self.span(&format!("grooms[{i}].on"), groom.on, &format!("grooms[{i}].off"), groom.off),
            grade: self.number(&format!("grooms[{i}].grade"), groom.grade, GREATEST_COST),
            away: self.away(&format!("grooms[{i}]"), &groom.away),
        };
        file.grooms.iter().enumerate().map(groom).collect()
    }

    fn horses(&mut self) -> Vec<Horse> {
        let file = self.file;
        let horse = |(i, horse): (usize, &super::file::HorseFile)| Horse {
            id: horse.id.clone(),
            name: name(&file.words.horses, &horse.id),
            grade: self.number(&format!("horses[{i}].grade"), horse.grade, GREATEST_COST),
            away: self.away(&format!("horses[{i}]"), &horse.away),
        };
        file.horses.iter().enumerate().map(horse).collect()
    }

    /// One ride as an outing of its own.
    fn ride(&mut self, i: usize, ride: &RideFile, horses: &Index, gear: &Index) -> Outing {
        let at = |name: &str| format!("rides[{i}].{name}");
        let horse = horses.get(ride.horse.as_str()).copied().unwrap_or_else(|| {
            self.fault(at("horse"), &ride.horse, "the id of one of the horses");
            0
        });
        let mut set = BTreeSet::new();
        for (k, id) in ride.gear.iter().enumerate() {
            match gear.get(id.as_str()) {
                None => self.fault(at(&format!("gear[{k}]")), id, "the id of a piece of gear"),
                Some(&piece) if !set.insert(piece) => {
                    self.fault(at(&format!("gear[{k}]")), id, "each piece of gear once");
                }
                Some(_) => {}
            }
        }
        let mount = self.minute(&at("mount"), ride.mount);
        let minutes = self.minute(&at("minutes"), ride.minutes);
        if mount + minutes > LAST_MINUTE {
            self.fault(at("minutes"), minutes, format!("a dismount by minute {LAST_MINUTE}; the mount is {mount}"));
        }
        let lengths = [("brush", ride.brush), ("tack", ride.tack), ("put_away", ride.put_away)];
        Outing {
            id: ride.id.clone(),
            horse,
            gear: set.into_iter().collect(),
            weight: self.number(&at("weight"), ride.weight, GREATEST_WEIGHT),
            mount,
            ready: mount - self.file.limits.ready_lead.clamp(0, i64::from(LAST_MINUTE)) as Minute,
            back: mount + minutes + self.file.limits.walk_back.clamp(0, i64::from(LAST_MINUTE)) as Minute,
            minutes: lengths.map(|(name, value)| self.length(&at(name), value)),
            begun: [None; 3],
            promised: [None; 3],
        }
    }

    /// Joins the rides of a horse that follow each other under the same tack.
    fn outings(&mut self, horses: &Index, gear: &Index) -> Vec<Outing> {
        let file = self.file;
        self.index("rides", "ride", file.rides.iter().map(|ride| ride.id.as_str()));
        let mut rides: Vec<Outing> =
            file.rides.iter().enumerate().map(|(i, ride)| self.ride(i, ride, horses, gear)).collect();
        rides.sort_by(|a, b| (a.horse, a.mount, &a.id).cmp(&(b.horse, b.mount, &b.id)));
        let walk_back = file.limits.walk_back;
        let mut outings: Vec<Outing> = Vec::new();
        for ride in rides {
            match outings.last_mut() {
                Some(last)
                    if last.horse == ride.horse
                        && last.gear == ride.gear
                        && i64::from(ride.mount - last.back) + walk_back <= file.limits.stay_tacked =>
                {
                    last.back = ride.back;
                    last.minutes[2] = ride.minutes[2];
                    last.weight = last.weight.max(ride.weight);
                }
                _ => outings.push(ride),
            }
        }
        outings.sort_by(|a, b| (a.ready, &a.id).cmp(&(b.ready, &b.id)));
        outings
    }

    fn progress(&mut self, outings: &mut [Outing], grooms: &Index) {
        let file = self.file;
        let rides: BTreeSet<&str> = file.rides.iter().map(|ride| ride.id.as_str()).collect();
        let Some(now) = file.now else {
            if !file.progress.is_empty() {
                self.fault("now", "absent", "the minute it is, where there is progress");
            }
            return;
        };
        let mut seen = BTreeSet::new();
        for (i, p) in file.progress.iter().enumerate() {
            let at = |name: &str| format!("progress[{i}].{name}");
            if !rides.contains(p.ride.as_str()) {
                self.fault(at("ride"), &p.ride, "the id of one of the rides");
            }
            let Some(job) = JOBS.into_iter().find(|job| job.name() == p.job) else {
                self.fault(at("job"), &p.job, "\"brush\", \"tack\" or \"put_away\"");
                continue;
            };
            if !seen.insert((p.ride.as_str(), job)) {
                self.fault(at("job"), &p.job, format!("each job of {} once", p.ride));
            }
            let hand = match grooms.get(p.groom.as_str()) {
                Some(&groom) => Hand::of(groom),
                None if p.groom == STAFF => Hand::STAFF,
                None => {
                    self.fault(at("groom"), &p.groom, "the id of one of the grooms, or \"staff\"");
                    continue;
                }
            };
            let from = self.number(&at("from"), p.from, now) as Minute;
            if p.to.is_some_and(|to| to < p.from || to > now) {
                self.fault(at("to"), p.to, format!("null, or {} to {now}, from when it was begun to now", p.from));
            }
            // A ride that goes on under the tack of the ride before has no jobs of its own.
            let Some(outing) = outings.iter_mut().find(|outing| outing.id == p.ride) else { continue };
            let expected = (now as Minute + 1).max(from + outing.minutes[job as usize]);
            let to = p.to.map_or(expected, |to| to as Minute);
            outing.begun[job as usize] = Some(Begun { hand, span: Span { from, to }, under_way: p.to.is_none() });
        }
    }

    fn published(&mut self, outings: &mut [Outing], grooms: &Index) {
        let file = self.file;
        let Some(now) = file.now else {
            if !file.published.is_empty() {
                self.fault("now", "absent", "the minute it is, where a plan is published");
            }
            return;
        };
        for (ride, JobsFile { brush, tack, put_away }) in &file.published {
            for (job, promise) in JOBS.into_iter().zip([brush, tack, put_away]) {
                let Some(promise) = promise else { continue };
                let start = self.minute(&format!("published.{ride}.{}.start", job.name()), promise.start);
                if i64::from(start) >= now + file.limits.promise {
                    continue;
                }
                let hand = match grooms.get(promise.groom.as_str()) {
                    Some(&groom) => Hand::of(groom),
                    None if promise.groom == STAFF => Hand::STAFF,
                    None => Hand::GONE,
                };
                if let Some(outing) = outings.iter_mut().find(|outing| outing.id == *ride) {
                    outing.promised[job as usize] = Some(hand);
                }
            }
        }
    }
}

/// What people call it: by its id where they have no other word.
fn name(words: &BTreeMap<String, String>, id: &str) -> String {
    words.get(id).map_or(id, String::as_str).to_owned()
}
