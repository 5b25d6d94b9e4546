//! Names of captures, and which one came before.
//!
//! A run's first file is `RUN.pcapng`, its next ones `RUN.2.pcapng` and so on.
//! `RUN` is the run's first second in UTC without colons, which some systems
//! forbid in names; a second run in the same second gets `-2`.

use std::io::{self, Read};
use std::path::Path;

use sha2::{Digest, Sha256};

use super::pcapng::{Fault, Pcapng};
use super::write::hex;
use crate::disk::Disk;
use crate::input::Finished;
use crate::stamp::Wall;
use crate::text::Text;

/// A torn end longer than this is not cut: it is no batch that a crash cut short.
const TORN_MAX: u64 = 1024 * 1024;

/// How much of a file is digested at a time.
const PIECE: u64 = 256 * 1024;

/// A name that no file in `DATA/captures` has, for a run that begins at `wall`.
///
/// # Errors
/// The disk refuses.
pub fn new_run<D: Disk>(disk: &D, dir: &Path, wall: Wall) -> io::Result<String> {
    let there = disk.list(dir)?;
    let time: String = wall.rfc3339()[..19]
        .chars()
        .filter(|c| !matches!(c, '-' | ':'))
        .collect();
    let mut run = format!("{time}Z");
    let mut again = 1;
    while there.iter().any(|name| run_of(name) == Some(&run)) {
        again += 1;
        run = format!("{time}Z-{again}");
    }
    Ok(format!("{run}.pcapng"))
}

/// The name of the file after `name` in the same run.
pub fn further(name: &str) -> String {
    let (run, part) = split(name).unwrap_or((name, 1));
    format!("{run}.{}.pcapng", part + 1)
}

/// The run that a file belongs to; `None` for a file that is not a capture of ours.
pub fn run_of(name: &str) -> Option<&str> {
    Some(split(name)?.0)
}

/// When a capture's run began.
pub fn began(name: &str) -> Option<Wall> {
    let run = run_of(name)?.as_bytes();
    let digits = |from: usize, to: usize| core::str::from_utf8(run.get(from..to)?).ok();
    let (date, time) = (digits(0, 8)?, digits(9, 15)?);
    Wall::parse(&format!(
        "{}-{}-{}T{}:{}:{}Z",
        date.get(..4)?,
        date.get(4..6)?,
        date.get(6..)?,
        time.get(..2)?,
        time.get(2..4)?,
        time.get(4..)?
    ))
}

/// A run and the place of a file in it, from 1.
pub fn split(name: &str) -> Option<(&str, u32)> {
    let stem = name.strip_suffix(".pcapng")?;
    match stem.rsplit_once('.') {
        None => Some((stem, 1)),
        Some((run, part)) => part.parse().ok().filter(|p| *p > 1).map(|part| (run, part)),
    }
}

/// The capture before a new run, cut to its last whole block if a crash tore
/// it, and what was cut, in words.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Before {
    /// For the new run's `Begin`.
    pub finished: Option<Finished>,
    /// What was wrong with it, for `Begin.repaired`.
    pub repaired: Option<String>,
}

/// Finds, repairs and digests the capture before: the one that the log's last
/// rows name, or the newest.
///
/// # Errors
/// The disk refuses.
pub fn before<D: Disk>(disk: &D, dir: &Path, last_named: Option<&str>) -> io::Result<Before> {
    let mut there = disk.list(dir)?;
    there.retain(|name| run_of(name).is_some());
    let name = match last_named.filter(|named| there.iter().any(|t| t == named)) {
        Some(named) => named.to_owned(),
        None => match there.into_iter().max_by(|a, b| split(a).cmp(&split(b))) {
            Some(newest) => newest,
            None => return Ok(Before::default()),
        },
    };
    let path = dir.join(&name);
    let repaired = cut_torn_end(disk, &path)?.map(|cut| {
        format!("captures/{name}: its last {cut} bytes were not a whole block and were cut off")
    });
    let finished = Finished {
        capture: Text::clean(&name),
        sha256: Text::clean(&digest(disk, &path)?),
    };
    Ok(Before {
        finished: Some(finished),
        repaired,
    })
}

fn cut_torn_end<D: Disk>(disk: &D, path: &Path) -> io::Result<Option<u64>> {
    let torn = match Pcapng::new(OnDisk { disk, path, at: 0 }).torn_end() {
        Err(Fault::Io(e)) => return Err(e),
        // Damage, not a crash: it is left as it is, and `verify` names it.
        Err(_) => None,
        Ok(torn) => torn,
    };
    let Some(end) = torn else { return Ok(None) };
    let cut = disk.len(path)? - end;
    if cut > TORN_MAX {
        return Ok(None);
    }
    disk.cut(path, end)?;
    Ok(Some(cut))
}

/// SHA-256 of a whole file, in hexadecimal.
///
/// # Errors
/// The disk refuses.
pub fn digest<D: Disk>(disk: &D, path: &Path) -> io::Result<String> {
    let mut digest = Sha256::new();
    let mut at = 0;
    loop {
        let piece = disk.read(path, at, PIECE)?;
        if piece.is_empty() {
            return Ok(hex(&digest.finalize()));
        }
        digest.update(&piece);
        at += piece.len() as u64;
    }
}

/// A file read piece by piece.
pub struct OnDisk<'a, D> {
    /// The disk.
    pub disk: &'a D,
    /// The file.
    pub path: &'a Path,
    /// How far it is read.
    pub at: u64,
}

impl<D: Disk> Read for OnDisk<'_, D> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let bytes = self.disk.read(self.path, self.at, buffer.len() as u64)?;
        buffer[..bytes.len()].copy_from_slice(&bytes);
        self.at += bytes.len() as u64;
        Ok(bytes.len())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::disk::double::Double;

    #[test]
    fn names_are_new_and_say_when() {
        let (disk, dir) = (Double::default(), Path::new("captures"));
        let wall = Wall(1_764_074_645_123_456_789);
        let mut names = Vec::new();
        for _ in 0..3 {
            let name = new_run(&disk, dir, wall).expect("lists");
            disk.put(&dir.join(&name), b"");
            assert_eq!(
                began(&name).map(Wall::rfc3339).as_deref(),
                Some("2025-11-25T12:44:05.000Z")
            );
            names.push(name);
        }
        assert_eq!(
            names,
            [
                "20251125T124405Z.pcapng",
                "20251125T124405Z-2.pcapng",
                "20251125T124405Z-3.pcapng"
            ]
        );
        assert_eq!(further(&names[0]), "20251125T124405Z.2.pcapng");
        assert_eq!(further(&further(&names[1])), "20251125T124405Z-2.3.pcapng");
        assert_eq!(began("notes.txt"), None);
        assert_eq!(began("ä.pcapng"), None);
    }
}
