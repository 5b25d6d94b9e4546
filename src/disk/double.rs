//! A disk of memory with two images: the live one that the program sees, and
//! the durable one that a crash leaves. For tests only.
//!
//! Every operation that changes something is counted, and the n-th can fail or
//! be the last one before the machine dies.

use std::collections::BTreeMap;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard};

use super::Disk;

/// What befalls an operation.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Fate {
    /// The n-th changing operation fails, later ones work.
    Fail(u64),
    /// The n-th changing operation and all after it fail: the program was
    /// killed or the power went.
    Die(u64),
}

/// What a crash leaves of bytes that were written and not synced.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Crash {
    /// All: the program was killed, the machine lives.
    KeepAll,
    /// The first n bytes of each file's unsynced part.
    Keep(usize),
    /// The first n bytes, and zeros where the rest was.
    Zeros(usize),
    /// Zeros for the first n bytes, the rest as it was written.
    Hole(usize),
}

#[derive(Clone, Debug, Default)]
struct Image {
    live: Vec<u8>,
    durable: Vec<u8>,
    name_durable: bool,
}

#[derive(Debug, Default)]
struct State {
    files: BTreeMap<PathBuf, Image>,
    changes: u64,
    fate: Option<Fate>,
    half_write: bool,
    unreadable: Option<PathBuf>,
}

/// A disk of memory.
#[derive(Clone, Debug, Default)]
pub(crate) struct Double(Arc<Mutex<State>>);

impl Double {
    fn state(&self) -> MutexGuard<'_, State> {
        self.0
            .lock()
            .expect("no test panics while it holds the disk")
    }

    /// From the next operation on: the n-th counts from 1.
    pub(crate) fn fated(&self, fate: Fate) {
        let mut state = self.state();
        state.changes = 0;
        state.fate = Some(fate);
    }

    /// A write that fails leaves half of its bytes.
    pub(crate) fn writes_half(&self) {
        self.state().half_write = true;
    }

    /// Reading this file fails.
    pub(crate) fn unreadable(&self, path: &Path) {
        self.state().unreadable = Some(path.to_owned());
    }

    /// The disk as it is found after a crash.
    pub(crate) fn crashed(&self, crash: Crash) -> Self {
        let mut after = State::default();
        for (path, image) in &self.state().files {
            let kept = match crash {
                Crash::KeepAll => image.live.clone(),
                _ if !image.name_durable => continue,
                // A cut is durable when it returns, so live is never shorter.
                Crash::Keep(n) => {
                    let end = image.live.len().min(image.durable.len() + n);
                    image.live[..end].to_vec()
                }
                Crash::Zeros(n) => {
                    let mut bytes = image.live.clone();
                    let from = image.live.len().min(image.durable.len() + n);
                    bytes[from..].fill(0);
                    bytes
                }
                Crash::Hole(n) => {
                    let mut bytes = image.live.clone();
                    let to = image.live.len().min(image.durable.len() + n);
                    bytes[image.durable.len()..to].fill(0);
                    bytes
                }
            };
            after.files.insert(
                path.clone(),
                Image {
                    live: kept.clone(),
                    durable: kept,
                    name_durable: true,
                },
            );
        }
        Self(Arc::new(Mutex::new(after)))
    }

    /// The bytes of a file as the program sees them.
    pub(crate) fn bytes(&self, path: &Path) -> Option<Vec<u8>> {
        self.state().files.get(path).map(|f| f.live.clone())
    }

    /// Puts a file there, durable.
    pub(crate) fn put(&self, path: &Path, bytes: &[u8]) {
        let image = Image {
            live: bytes.to_vec(),
            durable: bytes.to_vec(),
            name_durable: true,
        };
        self.state().files.insert(path.to_owned(), image);
    }

    fn change<T>(&self, act: impl FnOnce(&mut State, bool) -> io::Result<T>) -> io::Result<T> {
        let mut state = self.state();
        state.changes += 1;
        let n = state.changes;
        let fails = match state.fate {
            Some(Fate::Fail(at)) => n == at,
            Some(Fate::Die(at)) => n >= at,
            None => false,
        };
        act(&mut state, fails)
    }
}

fn no_space() -> io::Error {
    io::Error::from(io::ErrorKind::StorageFull)
}

fn missing() -> io::Error {
    io::Error::from(io::ErrorKind::NotFound)
}

impl Disk for Double {
    type File = PathBuf;

    fn create_dirs(&self, _: &Path) -> io::Result<()> {
        Ok(())
    }

    fn list(&self, dir: &Path) -> io::Result<Vec<String>> {
        let state = self.state();
        let inside = state.files.keys().filter(|p| p.parent() == Some(dir));
        Ok(inside
            .filter_map(|p| Some(p.file_name()?.to_str()?.to_owned()))
            .collect())
    }

    fn read(&self, path: &Path, from: u64, most: u64) -> io::Result<Vec<u8>> {
        let state = self.state();
        if state.unreadable.as_deref() == Some(path) {
            return Err(io::Error::other("medium error"));
        }
        let image = state.files.get(path).ok_or_else(missing)?;
        let from = usize::try_from(from).expect("small");
        let most = usize::try_from(most).unwrap_or(usize::MAX);
        let rest = image.live.get(from..).unwrap_or_default();
        Ok(rest[..rest.len().min(most)].to_vec())
    }

    fn len(&self, path: &Path) -> io::Result<u64> {
        Ok(self.state().files.get(path).ok_or_else(missing)?.live.len() as u64)
    }

    fn create(&self, path: &Path) -> io::Result<PathBuf> {
        self.change(|state, fails| {
            if fails {
                return Err(no_space());
            }
            if state.files.contains_key(path) {
                return Err(io::ErrorKind::AlreadyExists.into());
            }
            state.files.insert(path.to_owned(), Image::default());
            Ok(path.to_owned())
        })
    }

    fn open(&self, path: &Path) -> io::Result<PathBuf> {
        self.state().files.get(path).ok_or_else(missing)?;
        Ok(path.to_owned())
    }

    fn append(&self, file: &mut PathBuf, bytes: &[u8]) -> io::Result<()> {
        self.change(|state, fails| {
            let half = if state.half_write { bytes.len() / 2 } else { 0 };
            let image = state.files.get_mut(file).ok_or_else(missing)?;
            image
                .live
                .extend_from_slice(if fails { &bytes[..half] } else { bytes });
            if fails { Err(no_space()) } else { Ok(()) }
        })
    }

    fn sync(&self, file: &PathBuf) -> io::Result<()> {
        self.change(|state, fails| {
            if fails {
                return Err(no_space());
            }
            let image = state.files.get_mut(file).ok_or_else(missing)?;
            image.durable = image.live.clone();
            Ok(())
        })
    }

    fn sync_dir(&self, dir: &Path) -> io::Result<()> {
        self.change(|state, fails| {
            if fails {
                return Err(no_space());
            }
            for (path, image) in &mut state.files {
                image.name_durable |= path.parent() == Some(dir);
            }
            Ok(())
        })
    }

    fn cut(&self, path: &Path, len: u64) -> io::Result<()> {
        self.change(|state, fails| {
            if fails {
                return Err(no_space());
            }
            let image = state.files.get_mut(path).ok_or_else(missing)?;
            image.live.truncate(usize::try_from(len).expect("small"));
            image.durable = image.live.clone();
            Ok(())
        })
    }

    fn remove(&self, path: &Path) -> io::Result<()> {
        self.change(|state, fails| {
            if fails {
                return Err(no_space());
            }
            state.files.remove(path).map(|_| ()).ok_or_else(missing)
        })
    }
}
