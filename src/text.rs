//! Words from outside: whatever a person, a meter or a device name says.
//!
//! A `Text` is at most 200 characters, holds no control characters, and never
//! opens as a formula in a spreadsheet. Nothing else from outside reaches a row.

use core::fmt;
use std::sync::Arc;

use serde::{Deserialize, Serialize};

/// The longest text kept, in characters.
pub const CHARS_MAX: usize = 200;

/// Checked words, cheap to clone.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Text(Arc<str>);

/// Why words are refused, said so that they can be typed again.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum TextError {
    /// Longer than 200 characters.
    #[error("expected at most 200 characters, found {found}")]
    TooLong {
        /// How many there are.
        found: usize,
    },
    /// A control character or a line break.
    #[error("expected no control characters or line breaks, found one at character {at}")]
    Control {
        /// Its place, from 1.
        at: usize,
    },
    /// A spreadsheet would run it.
    #[error(
        "expected words that do not begin with {found:?}: a spreadsheet would run them as a formula"
    )]
    Formula {
        /// The first character.
        found: char,
    },
}

impl Text {
    /// Checks words typed by a person.
    ///
    /// # Errors
    /// Too long, a control character, or a formula's first character.
    pub fn new(words: &str) -> Result<Self, TextError> {
        let found = words.chars().count();
        if found > CHARS_MAX {
            return Err(TextError::TooLong { found });
        }
        if let Some(at) = words.chars().position(refused) {
            return Err(TextError::Control { at: at + 1 });
        }
        match words.trim_start().chars().next() {
            Some(found) if formula(found) => Err(TextError::Formula { found }),
            _ => Ok(Self(words.into())),
        }
    }

    /// Makes words of a device fit: control characters become spaces, what
    /// could be a formula gets an apostrophe before it, the rest is cut.
    pub fn clean(words: &str) -> Self {
        let mut kept: String = words
            .chars()
            .map(|c| if refused(c) { ' ' } else { c })
            .collect();
        if kept.trim_start().chars().next().is_some_and(formula) {
            kept.insert(0, '\'');
        }
        Self(kept.chars().take(CHARS_MAX).collect::<String>().into())
    }

    /// The words.
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// Whether nothing is said.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
}

/// Control characters, and the marks that turn or hide the letters beside them.
fn refused(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{2028}' | '\u{2029}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{feff}')
}

fn formula(c: char) -> bool {
    matches!(c, '=' | '+' | '-' | '@')
}

impl Default for Text {
    fn default() -> Self {
        Self("".into())
    }
}

impl fmt::Debug for Text {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Debug::fmt(&self.0, f)
    }
}

impl fmt::Display for Text {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&self.0)
    }
}

impl TryFrom<String> for Text {
    type Error = TextError;
    fn try_from(words: String) -> Result<Self, TextError> {
        Self::new(&words)
    }
}

impl From<Text> for String {
    fn from(text: Text) -> Self {
        text.0.as_ref().to_owned()
    }
}

impl core::str::FromStr for Text {
    type Err = TextError;
    fn from_str(words: &str) -> Result<Self, TextError> {
        Self::new(words)
    }
}

/// The names most like `name`, the nearest first, at most three; none when
/// nothing is like it. What a person mistyped is shown beside these.
///
/// ```
/// # use stillohm::text::nearest;
/// assert_eq!(nearest("txt-line", ["scpi-poll", "text-line"].into_iter()), ["text-line"]);
/// ```
pub fn nearest<'a>(name: &str, candidates: impl Iterator<Item = &'a str>) -> Vec<&'a str> {
    let name: Vec<char> = name.to_lowercase().chars().collect();
    let allowed = name.len().div_ceil(3);
    let mut found: Vec<(usize, &str)> = candidates
        .filter_map(|candidate| {
            let other: Vec<char> = candidate.to_lowercase().chars().collect();
            let begins = name.len() >= 3 && other.starts_with(&name);
            if !begins && other.len().abs_diff(name.len()) > allowed {
                return None;
            }
            let away = edits(&name, &other);
            (begins || away <= allowed).then_some((away, candidate))
        })
        .collect();
    found.sort();
    found.dedup();
    found.into_iter().take(3).map(|(_, c)| c).collect()
}

/// What an error says about an unknown name: `nearest: a, b`, or all there
/// are when they are few, or how many.
pub fn instead<'a>(name: &str, candidates: impl Iterator<Item = &'a str> + Clone) -> String {
    let near = nearest(name, candidates.clone());
    let all: Vec<&str> = candidates.take(17).collect();
    match (near.is_empty(), all.len()) {
        (false, _) => format!("nearest: {}", near.join(", ")),
        (true, 0) => String::from("there are none"),
        (true, 1..=16) => format!("there are: {}", all.join(", ")),
        (true, _) => String::from("nothing is like it"),
    }
}

/// Insertions, deletions, replacements and swaps of neighbours from `a` to `b`.
fn edits(a: &[char], b: &[char]) -> usize {
    let mut before: Vec<usize> = Vec::new();
    let mut last: Vec<usize> = (0..=b.len()).collect();
    for (i, x) in a.iter().enumerate() {
        let mut row = vec![i + 1];
        for (j, y) in b.iter().enumerate() {
            let mut best = (last[j] + usize::from(x != y))
                .min(last[j + 1] + 1)
                .min(row[j] + 1);
            if i > 0 && j > 0 && *x == b[j - 1] && a[i - 1] == *y {
                best = best.min(before[j - 1] + 1);
            }
            row.push(best);
        }
        before = core::mem::replace(&mut last, row);
    }
    last[b.len()]
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_person_hears_why_words_are_refused() {
        assert_eq!(
            Text::new("pump 3, east pond").map(|t| t.to_string()),
            Ok("pump 3, east pond".into())
        );
        assert_eq!(Text::new("a\nb"), Err(TextError::Control { at: 2 }));
        assert_eq!(Text::new(" =1+1"), Err(TextError::Formula { found: '=' }));
        assert_eq!(
            Text::new(&"x".repeat(201)),
            Err(TextError::TooLong { found: 201 })
        );
    }

    #[test]
    fn a_mistyped_name_gets_the_nearest_ones() {
        let names = ["text-line", "text-lines", "scpi-poll", "modbus-rtu-float"];
        let check = |name: &str, expected: &[&str]| {
            assert_eq!(nearest(name, names.into_iter()), expected, "{name}");
        };
        check("text_line", &["text-line", "text-lines"]);
        check("TEXT-LNIE", &["text-line", "text-lines"]);
        check("spci-poll", &["scpi-poll"]);
        check("modbus", &["modbus-rtu-float"]);
        check("zzz", &[]);
        assert_eq!(instead("zzz", ["a", "b"].into_iter()), "there are: a, b");
    }

    proptest! {
        #[test]
        fn cleaned_words_always_pass_the_check(words in any::<String>()) {
            prop_assert!(Text::new(Text::clean(&words).as_str()).is_ok());
        }
    }
}
