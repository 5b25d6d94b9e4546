//! A log file from its end: what is looked for is most often new.

use std::io;
use std::path::Path;

use memchr::memchr;

use crate::disk::Disk;

/// How much of a file is read at once. Larger than any row.
const BLOCK: u64 = 1 << 20;

/// Gives whole lines of a file, the last block first, until `act` has found
/// something. Inside a block lines stand in their order.
///
/// # Errors
/// The disk's own.
pub fn backwards<D: Disk, T>(
    disk: &D,
    path: &Path,
    mut act: impl FnMut(&[u8]) -> Option<T>,
) -> io::Result<Option<T>> {
    let mut end = disk.len(path)?;
    // The beginning of a line whose end was in the block behind.
    let mut rest: Vec<u8> = Vec::new();
    while end > 0 {
        let from = end.saturating_sub(BLOCK);
        let mut block = disk.read(path, from, end - from)?;
        block.extend_from_slice(&rest);
        let whole = match memchr(b'\n', &block) {
            Some(feed) if from > 0 => feed + 1,
            None if from > 0 => block.len(),
            _ => 0,
        };
        if let Some(found) = act(&block[whole..]) {
            return Ok(Some(found));
        }
        block.truncate(whole);
        rest = block;
        end = from;
    }
    Ok(None)
}
