//! The disk as programs see it while the power is on. Every change is noted as an [`Op`]. Knows nothing of SQLite.

use std::collections::BTreeMap;
use std::sync::Arc;

/// File names and what is in the files.
pub type Files = BTreeMap<String, Vec<u8>>;

/// One change of the disk, or a word of the test's own in between.
#[derive(Clone, Debug)]
pub enum Op {
    /// A file was made, empty.
    Create(String, u32),
    /// A name was taken away; true where the folder was synced with it.
    Delete(String, bool),
    /// Bytes were written at an offset.
    Write(u32, usize, Arc<[u8]>),
    /// A file was cut or lengthened to so many bytes.
    Truncate(u32, usize),
    /// A file was synced; true where its folder was too.
    Sync(u32, bool),
    /// A sync failed: nobody knows what reached the disk, and a later sync does not make up for it.
    FailedSync(u32),
    /// The test's own: so many entries are acknowledged.
    Acknowledged(u64),
}

/// What is to go wrong.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Fault {
    /// Nothing.
    None,
    /// Calls from this one to the one before the second fail, counted from 0 with reads and all.
    Calls(u64, u64),
    /// All files together can not grow past so many bytes.
    Full(u64),
}

/// What a call failed of.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Failure {
    /// The disk answered with an error.
    Broken,
    /// There is no room.
    Full,
    /// There is no such file.
    Absent,
}

/// A disk with the power on.
#[derive(Debug)]
pub struct Disk {
    names: BTreeMap<String, u32>,
    contents: BTreeMap<u32, Vec<u8>>,
    next: u32,
    fault: Fault,
    calls: u64,
    failed: u64,
    ops: Vec<Op>,
}

impl Disk {
    /// A disk with these files on it.
    pub fn new(files: &Files) -> Self {
        let mut disk = Self {
            names: BTreeMap::new(),
            contents: BTreeMap::new(),
            next: 0,
            fault: Fault::None,
            calls: 0,
            failed: 0,
            ops: Vec::new(),
        };
        for (name, bytes) in files {
            disk.names.insert(name.clone(), disk.next);
            disk.contents.insert(disk.next, bytes.clone());
            disk.next += 1;
        }
        disk
    }

    /// Files with the numbers under which [`Op`]s speak of them.
    pub fn numbered(files: &Files) -> impl Iterator<Item = (&String, u32, &Vec<u8>)> {
        files.iter().zip(0..).map(|((name, bytes), file)| (name, file, bytes))
    }

    /// Lets something go wrong from now on; calls are counted anew.
    pub fn set_fault(&mut self, fault: Fault) {
        (self.fault, self.calls, self.failed) = (fault, 0, 0);
    }

    /// How many calls the fault has failed.
    pub fn failed(&self) -> u64 {
        self.failed
    }

    /// Notes that so many entries are acknowledged.
    pub fn acknowledge(&mut self, entries: u64) {
        self.ops.push(Op::Acknowledged(entries));
    }

    /// What was done so far.
    pub fn ops(&self) -> &[Op] {
        &self.ops
    }

    /// Bytes in all files.
    pub fn used(&self) -> u64 {
        self.names.values().filter_map(|file| self.contents.get(file)).map(|bytes| bytes.len() as u64).sum()
    }

    /// Counts a call, and fails it where that is wanted.
    fn call(&mut self) -> Result<(), Failure> {
        let n = self.calls;
        self.calls += 1;
        match self.fault {
            Fault::Calls(from, to) if (from..to).contains(&n) => {
                self.failed += 1;
                Err(Failure::Broken)
            }
            _ => Ok(()),
        }
    }

    /// The file's number; with `create` it is made where it is not there.
    pub(super) fn open(&mut self, name: &str, create: bool) -> Result<u32, Failure> {
        self.call()?;
        match self.names.get(name) {
            Some(&file) => Ok(file),
            None if create => {
                let file = self.next;
                self.next += 1;
                self.names.insert(name.to_owned(), file);
                self.contents.insert(file, Vec::new());
                self.ops.push(Op::Create(name.to_owned(), file));
                Ok(file)
            }
            None => Err(Failure::Absent),
        }
    }

    /// Whether there is such a file with something in it: SQLite's own file system for Unix means this by "exists".
    pub(super) fn exists(&mut self, name: &str) -> Result<bool, Failure> {
        self.call()?;
        Ok(self.names.get(name).and_then(|file| self.contents.get(file)).is_some_and(|bytes| !bytes.is_empty()))
    }

    pub(super) fn delete(&mut self, name: &str, sync: bool) -> Result<(), Failure> {
        self.call()?;
        self.names.remove(name).ok_or(Failure::Absent)?;
        self.ops.push(Op::Delete(name.to_owned(), sync));
        Ok(())
    }

    /// Fills the buffer with what is there, and tells how much that was.
    pub(super) fn read(&mut self, file: u32, offset: usize, buffer: &mut [u8]) -> Result<usize, Failure> {
        self.call()?;
        let bytes = self.contents.get(&file).ok_or(Failure::Absent)?;
        let there = bytes.get(offset..).unwrap_or_default();
        let n = there.len().min(buffer.len());
        buffer[..n].copy_from_slice(&there[..n]);
        Ok(n)
    }

    /// Writes. One that fails has written a part: half, or what there was room for.
    pub(super) fn write(&mut self, file: u32, offset: usize, data: &[u8]) -> Result<(), Failure> {
        let broken = self.call();
        let length = self.contents.get(&file).ok_or(Failure::Absent)?.len();
        let grows = (offset + data.len()).saturating_sub(length) as u64;
        let (written, result) = match (broken, self.fault) {
            (Err(broken), _) => (data.len() / 2, Err(broken)),
            (Ok(()), Fault::Full(room)) if grows > 0 && self.used() + grows > room => {
                self.failed += 1;
                let lacks = (self.used() + grows).saturating_sub(room) as usize;
                (data.len().saturating_sub(lacks), Err(Failure::Full))
            }
            _ => (data.len(), Ok(())),
        };
        if written > 0 {
            let data = &data[..written];
            put(self.contents.entry(file).or_default(), offset, data);
            self.ops.push(Op::Write(file, offset, data.into()));
        }
        result
    }

    pub(super) fn truncate(&mut self, file: u32, length: usize) -> Result<(), Failure> {
        self.call()?;
        self.contents.get_mut(&file).ok_or(Failure::Absent)?.resize(length, 0);
        self.ops.push(Op::Truncate(file, length));
        Ok(())
    }

    pub(super) fn sync(&mut self, file: u32, folder: bool) -> Result<(), Failure> {
        let result = self.call();
        self.ops.push(if result.is_ok() { Op::Sync(file, folder) } else { Op::FailedSync(file) });
        result
    }

    pub(super) fn length(&mut self, file: u32) -> Result<usize, Failure> {
        self.call()?;
        self.contents.get(&file).map(Vec::len).ok_or(Failure::Absent)
    }
}

/// Writes at an offset; a gap before it reads as zeros.
pub(super) fn put(bytes: &mut Vec<u8>, offset: usize, data: &[u8]) {
    let end = offset + data.len();
    if bytes.len() < end {
        bytes.resize(end, 0);
    }
    bytes[offset..end].copy_from_slice(data);
}
