//! A reserve: a file of real bytes, freed when the disk is full.
//!
//! A full disk stops the log until a restart. The reserve leaves room for what
//! has to be written then all the same: the copy of a torn tail, the rows that
//! say what happened.

use std::io;
use std::path::Path;

use super::Disk;

const NAME: &str = "reserve";
const BYTES: usize = 1024 * 1024;

/// Makes the reserve in `DATA` if it is not there whole. Says whether it is
/// there now: on a full disk there is none, and that is no reason not to start.
///
/// # Errors
/// The disk refuses for another reason than being full.
pub fn keep<D: Disk>(disk: &D, data: &Path) -> io::Result<bool> {
    let path = data.join(NAME);
    let there = disk.list(data)?.iter().any(|name| name == NAME);
    if there && disk.len(&path)? == BYTES as u64 {
        return Ok(true);
    }
    if there {
        disk.remove(&path)?;
    }
    match fill(disk, &path) {
        Ok(()) => Ok(true),
        Err(e) if full(&e) => {
            release(disk, data)?;
            Ok(false)
        }
        Err(e) => Err(e),
    }
}

/// Gives the reserve's room back, if there is one.
///
/// # Errors
/// The disk refuses.
pub fn release<D: Disk>(disk: &D, data: &Path) -> io::Result<()> {
    match disk.remove(&data.join(NAME)) {
        Err(e) if e.kind() == io::ErrorKind::NotFound => Ok(()),
        other => other,
    }
}

/// Whether an error says that there is no room.
pub fn full(error: &io::Error) -> bool {
    matches!(
        error.kind(),
        io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded
    )
}

fn fill<D: Disk>(disk: &D, path: &Path) -> io::Result<()> {
    let mut file = disk.create(path)?;
    // Not zeros: some file systems store those without taking room.
    let bytes: Vec<u8> = (0..BYTES).map(|n| (n % 251) as u8 + 1).collect();
    disk.append(&mut file, &bytes)?;
    disk.sync(&file)
}

#[cfg(test)]
mod tests {
    use super::super::double::{Double, Fate};
    use super::*;

    #[test]
    fn a_reserve_is_made_once_and_given_back() {
        let (disk, data) = (Double::default(), Path::new("data"));
        assert!(keep(&disk, data).expect("makes"));
        let path = data.join(NAME);
        assert_eq!(disk.len(&path).expect("there"), BYTES as u64);
        disk.put(&path, b"half made");
        assert!(keep(&disk, data).expect("makes again"));
        assert_eq!(disk.len(&path).expect("there"), BYTES as u64);
        release(&disk, data).expect("removes");
        release(&disk, data).expect("nothing to remove");
        assert_eq!(disk.bytes(&path), None);
    }

    #[test]
    fn a_full_disk_has_no_reserve_and_is_no_error() {
        let (disk, data) = (Double::default(), Path::new("data"));
        disk.writes_half();
        disk.fated(Fate::Fail(2));
        assert!(!keep(&disk, data).expect("full, not broken"));
        assert_eq!(disk.bytes(&data.join(NAME)), None);
    }
}
