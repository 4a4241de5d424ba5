//! What a disk has really kept at a cut of the power. The rules, harsher than most disks:
//!
//! - A write counts once its file was synced after it. Until then each of its sectors is lost, kept or garbage, and
//!   writes reach the disk in any order. Garbage takes the whole sector, what stood beside the write in it too.
//! - A change of length counts likewise.
//! - A new or deleted name counts once the folder was synced; until then some of them, from the oldest on, may be there.
//! - After a sync that failed, what it should have kept is kept or lost for good: a later sync does not bring it back.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::disk::put;
use super::{Dice, Disk, Files, Op, SECTOR};

/// Whether the disk does what it says.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Honesty {
    /// Synced is synced.
    Honest,
    /// It says "synced" and does nothing, as some cards do.
    Lying,
}

/// What the disk has kept so far, and what is on its way there.
#[derive(Clone, Debug)]
pub struct Platter {
    honesty: Honesty,
    dice: Dice,
    names: BTreeMap<String, u32>,
    contents: BTreeMap<u32, Vec<u8>>,
    names_pending: Vec<Naming>,
    pending: Vec<(u32, Change)>,
}

#[derive(Clone, Debug)]
enum Naming {
    Create(String, u32),
    Delete(String),
}

#[derive(Clone, Debug)]
enum Change {
    Write(usize, Arc<[u8]>),
    Truncate(usize),
}

/// What becomes of a change at a cut.
#[derive(Clone, Copy)]
enum Fate {
    Lost,
    Kept,
    Torn,
}

impl Platter {
    /// A disk that has kept these files.
    pub fn new(files: &Files, honesty: Honesty) -> Self {
        let mut platter = Self {
            honesty,
            dice: Dice::new(0),
            names: BTreeMap::new(),
            contents: BTreeMap::new(),
            names_pending: Vec::new(),
            pending: Vec::new(),
        };
        for (name, file, bytes) in Disk::numbered(files) {
            platter.names.insert(name.clone(), file);
            platter.contents.insert(file, bytes.clone());
        }
        platter
    }

    /// The disk takes the next operation.
    pub fn take(&mut self, op: &Op) {
        match op {
            Op::Create(name, file) => {
                self.contents.insert(*file, Vec::new());
                self.names_pending.push(Naming::Create(name.clone(), *file));
            }
            Op::Delete(name, sync) => {
                self.names_pending.push(Naming::Delete(name.clone()));
                if *sync {
                    self.sync_folder();
                }
            }
            Op::Write(file, offset, data) => self.pending.push((*file, Change::Write(*offset, data.clone()))),
            Op::Truncate(file, length) => self.pending.push((*file, Change::Truncate(*length))),
            Op::Sync(file, folder) if self.honesty == Honesty::Honest => {
                for change in self.drain(*file) {
                    apply(self.contents.entry(*file).or_default(), &change, Fate::Kept, &mut self.dice);
                }
                if *folder {
                    self.sync_folder();
                }
            }
            Op::Sync(..) | Op::Acknowledged(_) => {}
            Op::FailedSync(file) => {
                for change in self.drain(*file) {
                    let fate = if self.dice.under(2) == 0 { Fate::Kept } else { Fate::Lost };
                    apply(self.contents.entry(*file).or_default(), &change, fate, &mut self.dice);
                }
            }
        }
    }

    /// The files that a start after a cut right now finds. Seed 0 loses all that is not synced, seed 1 keeps it all and
    /// tears the last write, each other seed is a mixture of its own.
    pub fn cut(&self, seed: u64) -> Files {
        let mut dice = Dice::new(seed);
        let mut names = self.names.clone();
        let renamed = match seed {
            0 => 0,
            1 => self.names_pending.len(),
            _ => dice.under(self.names_pending.len() + 1),
        };
        for naming in &self.names_pending[..renamed] {
            apply_name(&mut names, naming);
        }
        let mut pending: Vec<_> = self.pending.iter().collect();
        let last = pending.len().saturating_sub(1);
        // Half of the mixtures are in another order too.
        if seed > 1 && dice.under(2) == 0 {
            for i in (1..pending.len()).rev() {
                pending.swap(i, dice.under(i + 1));
            }
        }
        let mut contents: BTreeMap<u32, Vec<u8>> = BTreeMap::new();
        for file in names.values() {
            contents.insert(*file, self.contents.get(file).cloned().unwrap_or_default());
        }
        // How much of it was on the disk already: from little to most.
        let kept_of_8 = 1 + dice.under(7);
        for (i, (file, change)) in pending.into_iter().enumerate() {
            let fate = match seed {
                0 => Fate::Lost,
                1 if i == last => Fate::Torn,
                1 => Fate::Kept,
                _ if dice.under(4) == 0 => Fate::Torn,
                _ if dice.under(8) < kept_of_8 => Fate::Kept,
                _ => Fate::Lost,
            };
            if let Some(bytes) = contents.get_mut(file) {
                apply(bytes, change, fate, &mut dice);
            }
        }
        names.into_iter().map(|(name, file)| (name, contents.get(&file).cloned().unwrap_or_default())).collect()
    }

    /// True where a cut right now can do no damage: everything is synced.
    pub fn is_settled(&self) -> bool {
        self.pending.is_empty() && self.names_pending.is_empty()
    }

    fn drain(&mut self, file: u32) -> Vec<Change> {
        self.pending.extract_if(.., |(of, _)| *of == file).map(|(_, change)| change).collect()
    }

    fn sync_folder(&mut self) {
        if self.honesty == Honesty::Honest {
            for naming in self.names_pending.drain(..) {
                apply_name(&mut self.names, &naming);
            }
        }
    }
}

fn apply_name(names: &mut BTreeMap<String, u32>, naming: &Naming) {
    match naming {
        Naming::Create(name, file) => names.insert(name.clone(), *file),
        Naming::Delete(name) => names.remove(name),
    };
}

fn apply(bytes: &mut Vec<u8>, change: &Change, fate: Fate, dice: &mut Dice) {
    match (change, fate) {
        (_, Fate::Lost) => {}
        (Change::Truncate(length), Fate::Kept | Fate::Torn) => bytes.resize(*length, 0),
        (Change::Write(offset, data), Fate::Kept) => put(bytes, *offset, data),
        (Change::Write(offset, data), Fate::Torn) => {
            let (mut at, end) = (*offset, offset + data.len());
            while at < end {
                let sector = at / SECTOR * SECTOR;
                let next = (sector + SECTOR).min(end);
                match dice.under(3) {
                    0 => {}
                    1 => put(bytes, at, &data[at - offset..next - offset]),
                    _ => {
                        put(bytes, at, &data[at - offset..next - offset]);
                        let all = (sector + SECTOR).min(bytes.len());
                        bytes[sector..all].fill_with(|| dice.roll() as u8);
                    }
                }
                at = next;
            }
        }
    }
}
