//! A file system for SQLite on a [`Disk`]. The only module with `unsafe`, because SQLite's interface is C's.
//!
//! Why it is sound:
//! - SQLite calls a method of a file only between its `xOpen` and its `xClose`, with the memory that it gave to `xOpen`,
//!   which holds a [`File`] at its start: `szOsFile` says how much it needs.
//! - A file holds an `Arc` of the disk, taken in `xOpen` and given back in `xClose`. The file system's own is in
//!   `pAppData` from registration until [`Vfs`] is dropped; a `Vfs` must outlive the connections that use it by name,
//!   and one that does not would find its name gone, not its memory: the memory is never given back.
//! - No function here can unwind into C: a poisoned lock is taken all the same, and slices are checked by `Disk`.
//!
//! The methods are of version 1, without shared memory: SQLite then keeps a write-ahead log only for a connection with
//! exclusive locking, which is how the journal opens its file. The disk claims nothing (`xDeviceCharacteristics` is 0, no
//! powersafe overwrite), so SQLite counts on nothing.

use std::ffi::{CStr, CString, c_char, c_int, c_void};
use std::ptr;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use rusqlite::ffi;

use super::disk::Failure;
use super::{Disk, SECTOR};

type Shared = Arc<Mutex<Disk>>;

/// A disk, registered with SQLite under a name.
pub struct Vfs {
    name: CString,
    raw: *mut ffi::sqlite3_vfs,
    disk: Shared,
}

impl Vfs {
    /// Registers the disk. The name must be its own among all that exist at the time.
    pub fn register(name: &str, disk: Disk) -> Self {
        let name = CString::new(name).expect("a name without NUL");
        let disk = Arc::new(Mutex::new(disk));
        let app_data: *mut Shared = Box::into_raw(Box::new(disk.clone()));
        let raw = Box::into_raw(Box::new(ffi::sqlite3_vfs {
            iVersion: 1,
            szOsFile: size_of::<File>() as c_int,
            mxPathname: 512,
            pNext: ptr::null_mut(),
            zName: name.as_ptr(),
            pAppData: app_data.cast(),
            xOpen: Some(open),
            xDelete: Some(delete),
            xAccess: Some(access),
            xFullPathname: Some(full_pathname),
            xDlOpen: None,
            xDlError: None,
            xDlSym: None,
            xDlClose: None,
            xRandomness: Some(randomness),
            xSleep: Some(sleep),
            xCurrentTime: Some(current_time),
            xGetLastError: None,
            xCurrentTimeInt64: None,
            xSetSystemCall: None,
            xGetSystemCall: None,
            xNextSystemCall: None,
        }));
        // SAFETY: `raw` and what it points to live as long as the process.
        let code = unsafe { ffi::sqlite3_vfs_register(raw, 0) };
        assert_eq!(code, ffi::SQLITE_OK, "SQLite takes the file system");
        Self { name, raw, disk }
    }

    /// The disk.
    pub fn disk(&self) -> MutexGuard<'_, Disk> {
        lock(&self.disk)
    }

    /// Puts another disk in its place. No file may be open.
    pub fn replace(&self, disk: Disk) {
        *self.disk() = disk;
    }

    /// The name under which SQLite knows it.
    pub fn name(&self) -> &str {
        self.name.to_str().expect("it was made from a str")
    }
}

impl Drop for Vfs {
    fn drop(&mut self) {
        // SAFETY: `raw` was registered. Its memory stays, a few hundred bytes a test, should SQLite still know of it.
        unsafe { ffi::sqlite3_vfs_unregister(self.raw) };
        // The name must stay with it.
        std::mem::forget(std::mem::take(&mut self.name));
    }
}

/// An open file. SQLite looks at `base` and gives the rest to the methods.
#[repr(C)]
struct File {
    base: ffi::sqlite3_file,
    /// From `Arc::into_raw`.
    disk: *const Mutex<Disk>,
    number: u32,
    /// The folder must be synced with it, the first time: it may be new, and SQLite counts on its name.
    sync_folder: bool,
}

static METHODS: ffi::sqlite3_io_methods = ffi::sqlite3_io_methods {
    iVersion: 1,
    xClose: Some(close),
    xRead: Some(read),
    xWrite: Some(write),
    xTruncate: Some(truncate),
    xSync: Some(sync),
    xFileSize: Some(file_size),
    xLock: Some(lock_file),
    xUnlock: Some(lock_file),
    xCheckReservedLock: Some(check_reserved_lock),
    xFileControl: Some(file_control),
    xSectorSize: Some(sector_size),
    xDeviceCharacteristics: Some(device_characteristics),
    xShmMap: None,
    xShmLock: None,
    xShmBarrier: None,
    xShmUnmap: None,
    xFetch: None,
    xUnfetch: None,
};

fn lock(disk: &Mutex<Disk>) -> MutexGuard<'_, Disk> {
    disk.lock().unwrap_or_else(PoisonError::into_inner)
}

fn code(result: Result<(), Failure>, broken: c_int) -> c_int {
    match result {
        Ok(()) => ffi::SQLITE_OK,
        Err(Failure::Full) => ffi::SQLITE_FULL,
        Err(Failure::Broken | Failure::Absent) => broken,
    }
}

/// # Safety
/// `vfs` was registered by [`Vfs::register`].
unsafe fn shared<'a>(vfs: *mut ffi::sqlite3_vfs) -> &'a Shared {
    // SAFETY: `pAppData` is a `Shared` that is never freed.
    unsafe { &*(*vfs).pAppData.cast::<Shared>() }
}

/// # Safety
/// `file` is between a successful [`open`] and its [`close`].
unsafe fn opened<'a>(file: *mut ffi::sqlite3_file) -> (MutexGuard<'a, Disk>, &'a mut File) {
    // SAFETY: `open` put a `File` there, whose disk is held until `close`. SQLite uses a file from one thread at a time.
    unsafe {
        let file = &mut *file.cast::<File>();
        (lock(&*file.disk), file)
    }
}

/// # Safety
/// `name` is a C string.
unsafe fn text<'a>(name: *const c_char) -> Option<&'a str> {
    if name.is_null() {
        return None;
    }
    // SAFETY: as asked of the caller; SQLite keeps names for the length of the call at least.
    unsafe { CStr::from_ptr(name) }.to_str().ok()
}

unsafe extern "C" fn open(
    vfs: *mut ffi::sqlite3_vfs,
    name: ffi::sqlite3_filename,
    file: *mut ffi::sqlite3_file,
    flags: c_int,
    flags_out: *mut c_int,
) -> c_int {
    // SAFETY: SQLite gives `szOsFile` bytes at `file`, a C string or null as `name`, and null or an int as `flags_out`.
    unsafe {
        // Null methods: SQLite then does not close a file that did not open.
        (*file).pMethods = ptr::null();
        let Some(name) = text(name) else { return ffi::SQLITE_CANTOPEN };
        let create = flags & ffi::SQLITE_OPEN_CREATE != 0;
        let Ok(number) = lock(shared(vfs)).open(name, create) else { return ffi::SQLITE_CANTOPEN };
        // As SQLite's own file system for Unix does it.
        let counts_on_name = flags & (ffi::SQLITE_OPEN_WAL | ffi::SQLITE_OPEN_MAIN_JOURNAL) != 0;
        let disk = Arc::into_raw(shared(vfs).clone());
        let base = ffi::sqlite3_file { pMethods: &METHODS };
        file.cast::<File>().write(File { base, disk, number, sync_folder: create && counts_on_name });
        if !flags_out.is_null() {
            *flags_out = flags;
        }
    }
    ffi::SQLITE_OK
}

unsafe extern "C" fn close(file: *mut ffi::sqlite3_file) -> c_int {
    // SAFETY: the file is open, and SQLite does not use it again; the count taken in `open` is given back once.
    unsafe {
        let file = file.cast::<File>();
        drop(Arc::from_raw((*file).disk));
        (*file).base.pMethods = ptr::null();
    }
    ffi::SQLITE_OK
}

unsafe extern "C" fn read(file: *mut ffi::sqlite3_file, to: *mut c_void, amount: c_int, offset: i64) -> c_int {
    // SAFETY: the file is open, and SQLite gives `amount` bytes at `to`.
    let ((mut disk, file), buffer) =
        unsafe { (opened(file), std::slice::from_raw_parts_mut(to.cast::<u8>(), amount as usize)) };
    match disk.read(file.number, offset as usize, buffer) {
        Ok(n) if n == buffer.len() => ffi::SQLITE_OK,
        Ok(n) => {
            buffer[n..].fill(0);
            ffi::SQLITE_IOERR_SHORT_READ
        }
        Err(_) => ffi::SQLITE_IOERR_READ,
    }
}

unsafe extern "C" fn write(file: *mut ffi::sqlite3_file, from: *const c_void, amount: c_int, offset: i64) -> c_int {
    // SAFETY: the file is open, and SQLite gives `amount` bytes at `from`.
    let ((mut disk, file), data) =
        unsafe { (opened(file), std::slice::from_raw_parts(from.cast::<u8>(), amount as usize)) };
    code(disk.write(file.number, offset as usize, data), ffi::SQLITE_IOERR_WRITE)
}

unsafe extern "C" fn truncate(file: *mut ffi::sqlite3_file, length: i64) -> c_int {
    // SAFETY: the file is open.
    let (mut disk, file) = unsafe { opened(file) };
    code(disk.truncate(file.number, length as usize), ffi::SQLITE_IOERR_TRUNCATE)
}

unsafe extern "C" fn sync(file: *mut ffi::sqlite3_file, _flags: c_int) -> c_int {
    // SAFETY: the file is open.
    let (mut disk, file) = unsafe { opened(file) };
    let result = disk.sync(file.number, file.sync_folder);
    file.sync_folder &= result.is_err();
    code(result, ffi::SQLITE_IOERR_FSYNC)
}

unsafe extern "C" fn file_size(file: *mut ffi::sqlite3_file, length: *mut i64) -> c_int {
    // SAFETY: the file is open, and SQLite gives an i64 at `length`.
    let ((mut disk, file), length) = unsafe { (opened(file), &mut *length) };
    match disk.length(file.number) {
        Ok(n) => {
            *length = n as i64;
            ffi::SQLITE_OK
        }
        Err(_) => ffi::SQLITE_IOERR_FSTAT,
    }
}

/// One connection uses a disk at a time: locks are not what is tried here.
unsafe extern "C" fn lock_file(_file: *mut ffi::sqlite3_file, _level: c_int) -> c_int {
    ffi::SQLITE_OK
}

unsafe extern "C" fn check_reserved_lock(_file: *mut ffi::sqlite3_file, held: *mut c_int) -> c_int {
    // SAFETY: SQLite gives an int at `held`.
    unsafe { *held = 0 };
    ffi::SQLITE_OK
}

unsafe extern "C" fn file_control(_file: *mut ffi::sqlite3_file, _op: c_int, _arg: *mut c_void) -> c_int {
    ffi::SQLITE_NOTFOUND
}

unsafe extern "C" fn sector_size(_file: *mut ffi::sqlite3_file) -> c_int {
    SECTOR as c_int
}

unsafe extern "C" fn device_characteristics(_file: *mut ffi::sqlite3_file) -> c_int {
    0
}

unsafe extern "C" fn delete(vfs: *mut ffi::sqlite3_vfs, name: *const c_char, sync_folder: c_int) -> c_int {
    // SAFETY: `vfs` is ours, and `name` a C string.
    let (disk, name) = unsafe { (shared(vfs), text(name)) };
    let Some(name) = name else { return ffi::SQLITE_IOERR_DELETE };
    match lock(disk).delete(name, sync_folder != 0) {
        Err(Failure::Absent) => ffi::SQLITE_IOERR_DELETE_NOENT,
        result => code(result, ffi::SQLITE_IOERR_DELETE),
    }
}

unsafe extern "C" fn access(vfs: *mut ffi::sqlite3_vfs, name: *const c_char, _flags: c_int, out: *mut c_int) -> c_int {
    // SAFETY: `vfs` is ours, `name` a C string, and SQLite gives an int at `out`.
    let (disk, name, out) = unsafe { (shared(vfs), text(name), &mut *out) };
    let Some(name) = name else { return ffi::SQLITE_IOERR_ACCESS };
    match lock(disk).exists(name) {
        Ok(there) => {
            *out = c_int::from(there);
            ffi::SQLITE_OK
        }
        Err(_) => ffi::SQLITE_IOERR_ACCESS,
    }
}

unsafe extern "C" fn full_pathname(
    _vfs: *mut ffi::sqlite3_vfs,
    name: *const c_char,
    room: c_int,
    out: *mut c_char,
) -> c_int {
    // SAFETY: `name` is a C string, and SQLite gives `room` bytes at `out`.
    unsafe {
        let name = CStr::from_ptr(name).to_bytes_with_nul();
        if name.len() > room as usize {
            return ffi::SQLITE_CANTOPEN;
        }
        ptr::copy_nonoverlapping(name.as_ptr(), out.cast::<u8>(), name.len());
    }
    ffi::SQLITE_OK
}

unsafe extern "C" fn randomness(_vfs: *mut ffi::sqlite3_vfs, amount: c_int, out: *mut c_char) -> c_int {
    // SAFETY: SQLite gives `amount` bytes at `out`.
    unsafe { ptr::write_bytes(out, 7, amount as usize) };
    amount
}

unsafe extern "C" fn sleep(_vfs: *mut ffi::sqlite3_vfs, microseconds: c_int) -> c_int {
    microseconds
}

unsafe extern "C" fn current_time(_vfs: *mut ffi::sqlite3_vfs, out: *mut f64) -> c_int {
    // SAFETY: SQLite gives a double at `out`. It is noon of 2026-01-01 in the Julian days that SQLite counts.
    unsafe { *out = 2_461_042.0 };
    ffi::SQLITE_OK
}
