//! What a calculation is: its name, its keys, its words, and its function.
//!
//! A key is checked before the function sees it; the function checks the
//! domain. Whatever is refused says which key and what to write.

use core::fmt;

use super::number::{Exact, Number, quoted, written};
use crate::quantity::Decimal;
use crate::text::instead;

/// One calculation.
#[derive(Debug)]
pub(super) struct Formula {
    pub(super) name: &'static str,
    pub(super) keys: &'static [Key],
    pub(super) unit: &'static str,
    pub(super) words: &'static str,
    pub(super) source: &'static str,
    pub(super) run: fn(&Given) -> Result<Answer, Refused>,
}

/// One thing that a calculation asks for.
#[derive(Debug)]
pub(super) struct Key {
    pub(super) name: &'static str,
    pub(super) kind: Kind,
    pub(super) need: Need,
}

/// What a key holds.
#[derive(Clone, Copy, Debug)]
pub(super) enum Kind {
    Number,
    /// One of these words.
    Choice(&'static [&'static str]),
    /// A word that the function knows.
    Word,
}

/// Whether a key must be given.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Need {
    Required,
    /// May be left out: nothing stands for it.
    Optional,
    /// May be left out: this stands for it.
    Default(&'static str),
}

impl Key {
    pub(super) const fn number(name: &'static str, need: Need) -> Self {
        Self {
            name,
            kind: Kind::Number,
            need,
        }
    }

    pub(super) const fn choice(
        name: &'static str,
        words: &'static [&'static str],
        need: Need,
    ) -> Self {
        Self {
            name,
            kind: Kind::Choice(words),
            need,
        }
    }

    pub(super) const fn word(name: &'static str, need: Need) -> Self {
        Self {
            name,
            kind: Kind::Word,
            need,
        }
    }

    /// The value of `text`, its default when empty; none when there is neither.
    fn read(&self, text: Option<&str>) -> Result<Option<Value>, Refused> {
        let text = text.map(str::trim).filter(|t| !t.is_empty());
        let text = match (text, self.need) {
            (Some(text), _) | (None, Need::Default(text)) => text,
            (None, Need::Optional) => return Ok(None),
            (None, Need::Required) => {
                return Err(Refused(format!(
                    "{}: nothing given, it is required",
                    self.name
                )));
            }
        };
        let value = match self.kind {
            Kind::Number => Value::Number(Number::read(text).map_err(|e| self.refused(e))?),
            Kind::Choice(words) if !words.contains(&text) => {
                let near = instead(text, words.iter().copied());
                return Err(self.refused(format!("unknown: {}; {near}", quoted(text))));
            }
            Kind::Choice(_) | Kind::Word => Value::Word(text.to_owned()),
        };
        Ok(Some(value))
    }

    fn refused(&self, why: impl fmt::Display) -> Refused {
        Refused(format!("{}: {why}", self.name))
    }
}

/// Why there is no result, in words.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Refused(pub(super) String);

impl Refused {
    pub(super) fn new(why: impl fmt::Display) -> Self {
        Self(why.to_string())
    }
}

#[derive(Clone, Debug)]
enum Value {
    Number(Number),
    Word(String),
}

/// The keys of one calculation with their values.
#[derive(Debug)]
pub(super) struct Given(Vec<(&'static str, Value)>);

impl Given {
    /// A number that is required or has a default.
    pub(super) fn number(&self, key: &str) -> Result<f64, Refused> {
        self.written(key).map(Number::value)
    }

    /// A number that may be missing.
    pub(super) fn maybe(&self, key: &str) -> Option<f64> {
        self.written(key).ok().map(Number::value)
    }

    /// A number with the digits it was written with.
    pub(super) fn written(&self, key: &str) -> Result<&Number, Refused> {
        match self.get(key) {
            Some(Value::Number(number)) => Ok(number),
            _ => Err(Refused(format!("{key}: nothing given, it is required"))),
        }
    }

    /// A word; none when nothing is given.
    pub(super) fn word(&self, key: &str) -> Option<&str> {
        match self.get(key) {
            Some(Value::Word(word)) => Some(word),
            _ => None,
        }
    }

    fn get(&self, key: &str) -> Option<&Value> {
        self.0.iter().find(|(name, _)| *name == key).map(|(_, v)| v)
    }
}

/// A result, and what a person should know about it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Answer {
    /// Written; several values are joined by `;`.
    pub(super) result: String,
    /// Whether it is one number.
    pub(super) number: bool,
    pub(super) note: String,
    /// Where it comes from, when that depends on what is asked.
    pub(super) source: Option<String>,
}

impl Answer {
    pub(super) fn number(value: f64) -> Self {
        Self {
            result: written(value),
            number: true,
            note: String::new(),
            source: None,
        }
    }

    pub(super) fn exact(value: Exact) -> Self {
        Self {
            result: value.to_string(),
            ..Self::number(0.0)
        }
    }

    pub(super) fn decimal(value: Decimal) -> Self {
        let result = if value.is_zero() {
            String::from("0")
        } else {
            value.to_string()
        };
        Self {
            result,
            ..Self::number(0.0)
        }
    }

    /// Several words; a missing one is empty.
    pub(super) fn words(words: impl IntoIterator<Item = String>) -> Self {
        let joined: Vec<String> = words.into_iter().collect();
        Self {
            result: joined.join(";"),
            number: false,
            ..Self::number(0.0)
        }
    }

    /// Several numbers; a missing one is empty.
    pub(super) fn several(values: impl IntoIterator<Item = Option<f64>>) -> Self {
        Self::words(values.into_iter().map(|v| v.map_or(String::new(), written)))
    }

    /// With words for the person; nothing when `when` does not hold.
    pub(super) fn noted(mut self, when: bool, words: impl fmt::Display) -> Self {
        if when {
            if !self.note.is_empty() {
                self.note.push_str("; ");
            }
            self.note.push_str(&words.to_string());
        }
        self
    }
}

impl Formula {
    /// Calculates from what `text` gives for each key.
    pub(super) fn answer<'a>(
        &self,
        text: impl Fn(&str) -> Option<&'a str>,
    ) -> Result<Answer, Refused> {
        let mut given = Vec::with_capacity(self.keys.len());
        for key in self.keys {
            if let Some(value) = key.read(text(key.name))? {
                given.push((key.name, value));
            }
        }
        (self.run)(&Given(given))
    }

    pub(super) fn key(&self, name: &str) -> Option<&'static Key> {
        self.keys.iter().find(|k| k.name == name)
    }

    /// Its keys as a person writes them: `r1_ohm=… [k_c=234.5]`.
    pub(super) fn usage(&self) -> String {
        let words: Vec<String> = self
            .keys
            .iter()
            .map(|key| match (key.need, key.kind) {
                (Need::Required, _) => format!("{}=…", key.name),
                (Need::Optional, Kind::Choice(words)) => {
                    format!("[{}={}]", key.name, words.join("|"))
                }
                (Need::Optional, _) => format!("[{}=…]", key.name),
                (Need::Default(word), Kind::Choice(words)) => {
                    let others = words.iter().filter(|w| **w != word);
                    let all: Vec<&str> = core::iter::once(word).chain(others.copied()).collect();
                    format!("[{}={}]", key.name, all.join("|"))
                }
                (Need::Default(word), _) => format!("[{}={word}]", key.name),
            })
            .collect();
        words.join(" ")
    }
}
