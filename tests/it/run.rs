//! Running a command in a folder of its own, and saying what is expected of it.

use std::path::PathBuf;
use std::process::{Command, Stdio};

/// What a command did.
pub(crate) struct Ran {
    pub(crate) code: Option<i32>,
    pub(crate) stdout: String,
    pub(crate) stderr: String,
}

/// A folder with files in it, in which commands run.
pub(crate) struct Folder(tempfile::TempDir);

impl Folder {
    pub(crate) fn new(files: &[(&str, &str)]) -> Self {
        let folder = Self(tempfile::tempdir().expect("a temporary folder"));
        for (name, text) in files {
            let path = folder.path(name);
            std::fs::create_dir_all(path.parent().expect("is in the folder")).expect("a folder");
            std::fs::write(path, text).expect("a file");
        }
        folder
    }

    pub(crate) fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    pub(crate) fn command(&self, args: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_stillohm"));
        command
            .args(args)
            .current_dir(self.0.path())
            .stdin(Stdio::null());
        command
    }

    pub(crate) fn run(&self, args: &[&str]) -> Ran {
        let output = self.command(args).output().expect("the program starts");
        Ran {
            code: output.status.code(),
            stdout: String::from_utf8(output.stdout).expect("UTF-8 on stdout"),
            stderr: String::from_utf8(output.stderr).expect("UTF-8 on stderr"),
        }
    }
}

/// Runs words that blanks divide in a folder; checks the code and that what is
/// said, on either stream, holds each of `words`.
#[track_caller]
pub(crate) fn says(folder: &Folder, args: &str, code: i32, words: &[&str]) {
    let args: Vec<&str> = args.split(' ').collect();
    let ran = folder.run(&args);
    let said = format!("{}{}", ran.stdout, ran.stderr);
    assert_eq!(ran.code, Some(code), "{args:?}: {said}");
    for words in words {
        assert!(said.contains(words), "{args:?}: {words:?} is not in {said}");
    }
}

/// Runs `args` in a folder with `files`; checks the code and that stdout and
/// stderr hold what is said.
#[macro_export]
macro_rules! ran {
    ([$(($file:expr, $text:expr)),* $(,)?] $($arg:expr)* => $code:literal $(, stdout $out:expr)* $(, stderr $err:expr)* $(,)?) => {{
        let folder = $crate::run::Folder::new(&[$(($file, $text)),*]);
        let args: &[&str] = &[$($arg),*];
        let ran = folder.run(args);
        assert_eq!(ran.code, Some($code), "{args:?}\nstdout: {}\nstderr: {}", ran.stdout, ran.stderr);
        $(assert!(ran.stdout.contains($out), "{args:?}: {:?} is not on stdout: {}", $out, ran.stdout);)*
        $(assert!(ran.stderr.contains($err), "{args:?}: {:?} is not on stderr: {}", $err, ran.stderr);)*
        ran
    }};
}
