//! Reading whatever a person gives: a capture, a hexlog or a text file.
//!
//! The kind is told by content. A run's further files are read on from its
//! first one, as if they were one file.

use std::fs::File;
use std::io::{BufReader, Read};
use std::path::{Path, PathBuf};

use super::hexlog::{self, Hexlog};
use super::names::further;
use super::pcapng::{Fault, Pcapng};
use super::text::{Pace, TextFile};
use crate::input::Input;

/// What a file is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// A capture: it carries its own `Begin`, unless others wrote it.
    Pcapng,
    /// A hexlog: bytes of one port, with time, without `Begin`.
    Hexlog,
    /// Text: bytes of one port, without time or `Begin`.
    Text,
}

/// What is wrong with a file.
#[derive(Debug, thiserror::Error)]
#[error("{}: {fault}", path.display())]
pub struct CaptureError {
    /// The file.
    pub path: PathBuf,
    /// What is wrong.
    pub fault: Fault,
}

/// The inputs of a file, streamed.
pub struct Inputs {
    path: PathBuf,
    source: Source,
    torn: Vec<(PathBuf, u64)>,
    failed: bool,
}

enum Source {
    Pcapng(Pcapng<File>),
    Hexlog(Hexlog<BufReader<File>>),
    Text(TextFile<File>),
}

/// Tells what a file is by its content.
///
/// # Errors
/// It cannot be read.
pub fn kind(path: &Path) -> Result<Kind, CaptureError> {
    let mut head = Vec::new();
    open(path)?
        .take(4096)
        .read_to_end(&mut head)
        .map_err(|e| CaptureError {
            path: path.to_owned(),
            fault: e.into(),
        })?;
    if head.starts_with(&super::write::SECTION.to_le_bytes()) {
        return Ok(Kind::Pcapng);
    }
    let text = String::from_utf8_lossy(&head);
    let mut lines = text
        .lines()
        .map(str::trim)
        .filter(|l| !l.is_empty() && !l.starts_with('#'));
    let named = path
        .extension()
        .is_some_and(|e| e.eq_ignore_ascii_case("hexlog"));
    if named || lines.next().is_some_and(hexlog::looks_like) {
        return Ok(Kind::Hexlog);
    }
    Ok(Kind::Text)
}

/// Opens a file for reading its inputs; `pace` is for text only.
///
/// # Errors
/// It cannot be read.
pub fn read(path: &Path, pace: Pace) -> Result<Inputs, CaptureError> {
    let source = match kind(path)? {
        Kind::Pcapng => Source::Pcapng(Pcapng::new(open(path)?)),
        Kind::Hexlog => Source::Hexlog(Hexlog::new(BufReader::new(open(path)?))),
        Kind::Text => Source::Text(TextFile::new(open(path)?, pace)),
    };
    Ok(Inputs {
        path: path.to_owned(),
        source,
        torn: Vec::new(),
        failed: false,
    })
}

fn open(path: &Path) -> Result<File, CaptureError> {
    File::open(path).map_err(|e| CaptureError {
        path: path.to_owned(),
        fault: e.into(),
    })
}

impl Inputs {
    /// What the file is.
    pub fn kind(&self) -> Kind {
        match self.source {
            Source::Pcapng(_) => Kind::Pcapng,
            Source::Hexlog(_) => Kind::Hexlog,
            Source::Text(_) => Kind::Text,
        }
    }

    /// Files that a crash tore, each with the offset behind its last whole
    /// block; complete once the inputs are at their end.
    pub fn torn(&self) -> &[(PathBuf, u64)] {
        &self.torn
    }

    fn next_input(&mut self) -> Result<Option<Input>, CaptureError> {
        loop {
            let next = match &mut self.source {
                Source::Pcapng(reader) => reader.next_input(),
                Source::Hexlog(reader) => reader.next().transpose(),
                Source::Text(reader) => reader.next().transpose().map_err(Fault::Io),
            };
            let next = next.map_err(|fault| CaptureError {
                path: self.path.clone(),
                fault,
            })?;
            if next.is_some() || !self.next_file()? {
                return Ok(next);
            }
        }
    }

    /// Goes on with the run's next file, if there is one.
    fn next_file(&mut self) -> Result<bool, CaptureError> {
        let Source::Pcapng(reader) = &self.source else {
            return Ok(false);
        };
        if let Some(end) = reader.torn() {
            self.torn.push((self.path.clone(), end));
        }
        let Some(name) = self.path.file_name().and_then(|n| n.to_str()) else {
            return Ok(false);
        };
        let next = self.path.with_file_name(further(name));
        if !name.ends_with(".pcapng") || !next.is_file() {
            return Ok(false);
        }
        self.source = Source::Pcapng(Pcapng::new(open(&next)?));
        self.path = next;
        Ok(true)
    }
}

impl Iterator for Inputs {
    type Item = Result<Input, CaptureError>;

    fn next(&mut self) -> Option<Self::Item> {
        if self.failed {
            return None;
        }
        let next = self.next_input().transpose();
        self.failed = matches!(next, Some(Err(_)));
        next
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::capture::tests::{WALL, begin, text};
    use crate::capture::write::Writer;
    use crate::disk::RealDisk;
    use crate::input::What;
    use crate::stamp::Stamp;

    fn file(name: &str, content: &[u8]) -> (tempfile::TempDir, PathBuf) {
        let dir = tempfile::tempdir().expect("a folder");
        let path = dir.path().join(name);
        std::fs::write(&path, content).expect("writes");
        (dir, path)
    }

    fn check(name: &str, content: &[u8], expected: Kind) {
        let (_dir, path) = file(name, content);
        assert_eq!(kind(&path).expect("reads"), expected, "{name}");
    }

    #[test]
    fn the_kind_is_told_by_content() {
        check("a.txt", b"# at the pond\n\n0.5 < 41\n", Kind::Hexlog);
        check("a.txt", b"0.5 < 4G\n", Kind::Hexlog);
        check("a.hexlog", b"what is this", Kind::Hexlog);
        check("a.pcapng", b"12.3 OHM\r\n", Kind::Text);
        check("a.txt", b"12.3\n12.4\n", Kind::Text);
        check("empty", b"", Kind::Text);
        check("a.bin", &[0x0A, 0x0D, 0x0D, 0x0A, 0, 0], Kind::Pcapng);
    }

    #[test]
    fn an_error_names_file_and_place_and_ends_the_inputs() {
        let (_dir, path) = file("a.hexlog", b"0 < 41\n1 > 4\n2 < 41\n");
        let said: Vec<_> = read(&path, Pace::AtOnce).expect("opens").collect();
        assert_eq!(said.len(), 2);
        let error = said[1].as_ref().expect_err("an odd digit").to_string();
        assert!(
            error.contains("a.hexlog: line 2: expected two hexadecimal digits"),
            "{error}"
        );
        let missing = read(Path::new("no such file"), Pace::AtOnce).map(|_| ());
        assert!(
            missing
                .expect_err("missing")
                .to_string()
                .starts_with("no such file: cannot be read")
        );
    }

    #[test]
    fn a_run_reads_on_through_its_files_and_says_which_is_torn() {
        let dir = tempfile::tempdir().expect("a folder");
        let names = ["20251125T124405Z.pcapng", "20251125T124405Z.2.pcapng"];
        let mut written = Vec::new();
        for (n, name) in names.iter().enumerate() {
            let at = Stamp::from_seconds(n as f64 * 3.0);
            let first = Input {
                at,
                what: What::Begin(Box::new(begin(name))),
            };
            let end = Input {
                at,
                what: What::End { why: text("done") },
            };
            let mut writer = Writer::create(RealDisk, dir.path(), name, WALL).expect("creates");
            writer
                .append(&[first.clone(), end.clone()])
                .expect("writes");
            writer.finish().expect("finishes");
            written.extend([first, end]);
        }
        let last = dir.path().join(names[1]);
        let whole = std::fs::read(&last).expect("reads");
        std::fs::write(&last, &whole[..whole.len() - 5]).expect("writes");
        let mut inputs = read(&dir.path().join(names[0]), Pace::AtOnce).expect("opens");
        let seen: Vec<_> = inputs.by_ref().collect::<Result<_, _>>().expect("reads");
        assert_eq!(seen, written[..3]);
        assert_eq!(inputs.torn().len(), 1);
        assert_eq!(inputs.torn()[0].0, last);
    }
}
