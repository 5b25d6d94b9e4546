//! Sheets: those that come with the program and those of the folder `sheets`
//! beside the models, one a file, named after it.
//!
//! A file with a mistake is left out and named with its line and column; it is
//! never read by half. Whether a sheet may be used on a motor is not asked here.

use std::path::{Path, PathBuf};

use serde::Deserialize;
use toml::Spanned;

use super::{Catalogue, CatalogueError, Problem, bytes};
use crate::limits::{Point, Search, Sheet, SheetStep, SkipBy, Test};
use crate::quantity::Volts;
use crate::text::{Text, instead};

/// The sheets that come with the program, as text.
const SHIPPED: [(&str, &str); 4] = [
    ("dar", include_str!("sheets/dar.toml")),
    ("find-fault", include_str!("sheets/find-fault.toml")),
    ("find-leads", include_str!("sheets/find-leads.toml")),
    ("pi", include_str!("sheets/pi.toml")),
];

/// The keys of a step, for one that is written wrongly.
const POINT: &str = "a test and a place such as \"winding all\" or \"insulation all_to_ground\"";

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Written {
    title: Spanned<String>,
    search: Option<Spanned<String>>,
    #[serde(default)]
    step: Vec<Step>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Step {
    point: Spanned<String>,
    test_voltage: Option<Spanned<f64>>,
    #[serde(default)]
    marks_s: Vec<u32>,
    bands: Option<Spanned<String>>,
    skip: Option<Spanned<String>>,
    say: Option<Spanned<String>>,
}

/// A mistake at an offset of the text.
type Wrong = (usize, String);

/// The sheets that come with the program.
pub fn shipped() -> Vec<Sheet> {
    let read = |(name, text): &(&str, &str)| read(name, Path::new(name), text);
    // A test reads each of them.
    SHIPPED.iter().filter_map(|s| read(s).ok()).collect()
}

/// Reads the text of a sheet called `name`; `path` names it in problems.
///
/// # Errors
/// The first mistake, with its place and what to write.
pub fn read(name: &str, path: &Path, text: &str) -> Result<Sheet, Box<Problem>> {
    sheet(name, text).map_err(|(offset, message)| {
        let before = text.get(..offset).unwrap_or(text);
        let start = before.rfind('\n').map_or(0, |at| at + 1);
        Box::new(Problem {
            file: path.to_owned(),
            line: before.matches('\n').count() as u64 + 1,
            column: format!("column {}", before[start..].chars().count() + 1),
            message,
        })
    })
}

fn sheet(name: &str, text: &str) -> Result<Sheet, Wrong> {
    let fits = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || matches!(c, '-' | '_');
    if name.is_empty() || !name.chars().all(fits) {
        let message = format!(
            "expected a file name of small letters, digits and - such as spring-round.toml, found {name:?}"
        );
        return Err((0, message));
    }
    let written: Written = toml::from_str(text).map_err(|e| {
        let offset = e.span().map_or(0, |span| span.start);
        (offset, e.message().to_owned())
    })?;
    let steps: Result<Vec<SheetStep>, Wrong> = written.step.iter().map(step).collect();
    let steps = steps?;
    if steps.is_empty() {
        return Err((
            0,
            String::from("it has no step: write at least one [[step]] with its point"),
        ));
    }
    Ok(Sheet {
        name: Text::clean(name),
        title: words(&written.title, "title")?,
        steps,
        search: written.search.as_ref().map(search).transpose()?,
    })
}

fn search(word: &Spanned<String>) -> Result<Search, Wrong> {
    Search::from_word(word.get_ref()).ok_or_else(|| {
        let known = instead(word.get_ref(), Search::ALL.iter().map(|s| s.word()));
        (
            word.span().start,
            format!("search: nothing is found by {:?}; {known}", word.get_ref()),
        )
    })
}

fn step(written: &Step) -> Result<SheetStep, Wrong> {
    let at = written.point.span().start;
    let text = written.point.get_ref().trim();
    let Some((test, name)) = text.split_once(' ') else {
        return Err((at, format!("point: expected {POINT}, found {text:?}")));
    };
    let Some(test) = Test::from_word(test) else {
        let known = instead(test, Test::ALL.iter().map(|t| t.word()));
        return Err((at, format!("point: no test {test:?}; {known}")));
    };
    let name = name.trim();
    let fits = |b: u8| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'_';
    if name.is_empty() || !name.bytes().all(fits) {
        return Err((
            at,
            format!("point: expected small letters, digits and _ after the test, found {name:?}"),
        ));
    }
    let skip = match &written.skip {
        None => SkipBy::Anyone,
        Some(word) => SkipBy::from_word(word.get_ref()).ok_or_else(|| {
            let message = format!(
                "skip: expected anyone or nobody, found {:?}",
                word.get_ref()
            );
            (word.span().start, message)
        })?,
    };
    let optional =
        |value: &Option<Spanned<String>>, key| value.as_ref().map(|v| words(v, key)).transpose();
    Ok(SheetStep {
        point: Point::new(test, name),
        test_voltage: written.test_voltage.as_ref().map(|v| Volts(*v.get_ref())),
        marks_s: written.marks_s.clone(),
        bands: optional(&written.bands, "bands")?,
        skip,
        say: optional(&written.say, "say")?.unwrap_or_default(),
    })
}

fn words(value: &Spanned<String>, key: &str) -> Result<Text, Wrong> {
    Text::new(value.get_ref()).map_err(|e| (value.span().start, format!("{key}: {e}")))
}

impl Catalogue {
    /// The sheet of that name, of the shop or shipped.
    ///
    /// # Errors
    /// There is none, with the nearest.
    pub fn sheet(&self, name: &str) -> Result<Sheet, CatalogueError> {
        let shipped = shipped();
        let all = self.sheets.iter().chain(&shipped);
        let found = all.clone().find(|s| s.name.as_str() == name);
        found.cloned().ok_or_else(|| CatalogueError::Sheet {
            name: name.to_owned(),
            instead: instead(name, all.map(|s| s.name.as_str())),
        })
    }

    /// Reads every `NAME.toml` of a folder, in the order of their names.
    pub(super) fn add_sheets(&mut self, folder: &Path) -> Result<(), CatalogueError> {
        let files = std::fs::read_dir(folder).map_err(|source| CatalogueError::Read {
            path: folder.to_owned(),
            source,
        })?;
        let mut paths: Vec<PathBuf> = files.flatten().map(|file| file.path()).collect();
        paths.retain(|path| path.extension().is_some_and(|e| e == "toml"));
        paths.sort();
        for path in paths {
            let bytes = bytes(&path)?;
            let problem = |message: &str| Problem {
                file: path.clone(),
                line: 1,
                column: String::from("column 1"),
                message: message.to_owned(),
            };
            let name = path.file_stem().unwrap_or_default().to_string_lossy();
            if SHIPPED.iter().any(|(shipped, _)| *shipped == name) {
                self.problems.push(problem(
                    "this name is a shipped sheet's: name the file otherwise",
                ));
                continue;
            }
            match core::str::from_utf8(&bytes) {
                Err(_) => self
                    .problems
                    .push(problem("expected UTF-8, found other bytes")),
                Ok(text) => match read(&name, &path, text) {
                    Ok(sheet) => self.sheets.push(sheet),
                    Err(problem) => self.problems.push(*problem),
                },
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::limits::profile::shipped_bands;

    fn check(text: &str, wanted: &str) {
        let said = match read("round", Path::new("sheets/round.toml"), text) {
            Ok(sheet) => {
                let of = |s: &SheetStep| s.point.to_string();
                sheet.steps.iter().map(of).collect::<Vec<_>>().join(", ")
            }
            Err(problem) => problem.to_string(),
        };
        assert_eq!(said, wanted, "{text}");
    }

    #[test]
    fn a_sheet_reads_in_its_order() {
        check(
            "title = \"round\"\n[[step]]\npoint = \"winding main\"\nskip = \"nobody\"\n[[step]]\npoint = \"ground all\"\n",
            "winding main, ground all",
        );
    }

    #[test]
    fn mistakes_have_their_place_and_what_to_write() {
        let step = |line: &str| format!("title = \"round\"\n[[step]]\n{line}\n");
        for (line, wanted) in [
            (
                "point = \"main\"",
                "3: column 9: point: expected a test and a place such as \"winding all\" or \"insulation all_to_ground\", found \"main\"",
            ),
            (
                "point = \"windng main\"",
                "3: column 9: point: no test \"windng\"; nearest: winding",
            ),
            (
                "point = \"winding Main\"",
                "3: column 9: point: expected small letters, digits and _ after the test, found \"Main\"",
            ),
            (
                "point = \"winding main\"\nskip = \"tester\"",
                "4: column 8: skip: expected anyone or nobody, found \"tester\"",
            ),
        ] {
            check(&step(line), &format!("sheets/round.toml:{wanted}"));
        }
        check(
            "title = \"round\"\n",
            "sheets/round.toml:1: column 1: it has no step: write at least one [[step]] with its point",
        );
    }

    #[test]
    fn a_search_is_one_that_is_known() {
        let with = |word: &str| {
            format!(
                "title = \"run\"\nsearch = \"{word}\"\n[[step]]\npoint = \"ground motor_to_ground\"\n"
            )
        };
        check(&with("fault_place"), "ground motor_to_ground");
        check(
            &with("fault_plase"),
            "sheets/round.toml:2: column 10: search: nothing is found by \"fault_plase\"; nearest: fault_place",
        );
    }

    #[test]
    fn an_unknown_key_is_named() {
        let text = "title = \"round\"\n[[step]]\npoint = \"winding all\"\nvolts = 500\n";
        let problem = read("round", Path::new("round.toml"), text).expect_err("refused");
        assert_eq!(problem.line, 4);
        assert!(problem.message.contains("volts"), "{problem}");
    }

    #[test]
    fn every_shipped_sheet_reads_and_names_bands_that_are_there() {
        assert_eq!(shipped().len(), SHIPPED.len());
        let bands = shipped_bands();
        for sheet in shipped() {
            for named in sheet.steps.iter().filter_map(|s| s.bands.as_ref()) {
                assert!(bands.iter().any(|b| b.name == *named), "{named}");
            }
        }
    }
}
