//! Which rows are asked about, from the address, and the form that asks.

use maud::{Markup, html};

use super::super::marks;
use crate::limits::{Stage, Test};
use crate::row::{Finding, Verdict};
use crate::web::query::plain;
use crate::web::reviews::{By, Which};

/// What the address asks.
#[derive(Clone, Debug)]
pub(super) struct Wanted {
    pub(super) which: Which,
    first: By,
    then: Option<By>,
    /// Only rows before this one.
    pub(super) before: Option<u64>,
    /// What could not be read: of which field, and why.
    wrong: Vec<(String, String)>,
}

/// The word for no second grouping.
const NONE: &str = "none";

impl Wanted {
    /// Reads the query of the address; what it cannot read is said on the page,
    /// and then nothing is asked. `date` says whether words are one.
    pub(super) fn read(query: &str, date: impl Fn(&str) -> Result<(), String>) -> Self {
        let mut wanted = Self {
            which: Which::default(),
            first: By::Model,
            then: Some(By::Month),
            before: None,
            wrong: Vec::new(),
        };
        for pair in query.split('&').filter(|pair| !pair.is_empty()) {
            let (key, said) = pair.split_once('=').unwrap_or((pair, ""));
            match plain(said) {
                Some(value) => wanted.take(key, value.trim(), &date),
                None => wanted.is_not(key, format!("expected UTF-8, found {said:?}")),
            }
        }
        wanted
    }

    fn take(&mut self, key: &str, value: &str, date: impl Fn(&str) -> Result<(), String>) {
        if let Some(field) = self.which.field(key) {
            value.clone_into(field);
        }
        if value.is_empty() {
            return;
        }
        let choice = || Err(format!("{value:?} is none of them; choose one"));
        let held = match key {
            "since" | "until" => date(value),
            "verdict" if Verdict::from_word(value).is_none() => choice(),
            "finding" if Finding::from_word(value).is_none() => choice(),
            "test" if Test::from_word(value).is_none() => choice(),
            "stage" if Stage::from_word(value).is_none() => choice(),
            "by" => match By::from_word(value) {
                Some(by) => {
                    self.first = by;
                    Ok(())
                }
                None => choice(),
            },
            "then" => match By::from_word(value) {
                None if value != NONE => choice(),
                by => {
                    self.then = by;
                    Ok(())
                }
            },
            "before" => {
                self.before = value.parse().ok();
                match self.before {
                    Some(_) => Ok(()),
                    None => Err(format!("expected the number of a row, found {value:?}")),
                }
            }
            _ if self.which.field(key).is_none() => {
                Err(String::from("nothing is filtered by that"))
            }
            _ => Ok(()),
        };
        if let Err(why) = held {
            self.is_not(key, why);
        }
    }

    fn is_not(&mut self, key: &str, why: String) {
        self.wrong.push((key.to_owned(), why));
    }

    pub(super) fn is_wrong(&self) -> bool {
        !self.wrong.is_empty()
    }

    /// Whether one model and one point are chosen.
    pub(super) fn is_one_point(&self) -> bool {
        let which = &self.which;
        ![&which.model, &which.test, &which.point]
            .iter()
            .any(|words| words.is_empty())
    }

    /// What is grouped by, in this order.
    pub(super) fn by(&self) -> Vec<By> {
        let then = self.then.filter(|then| *then != self.first);
        [Some(self.first), then].into_iter().flatten().collect()
    }

    /// An address that asks about the same rows.
    pub(super) fn at(&self, path: &str) -> String {
        self.with(path, &[])
    }

    /// The same with some fields changed or added.
    pub(super) fn with(&self, path: &str, changed: &[(&str, &str)]) -> String {
        let own = self.which.fields();
        let kept = own
            .iter()
            .map(|(key, words)| (*key, words.as_str()))
            .filter(|(key, _)| !changed.iter().any(|(other, _)| other == key));
        let mut address = String::from(path);
        let mut sign = '?';
        for (key, words) in kept.chain(changed.iter().copied()) {
            if !words.is_empty() {
                address.push(sign);
                address += &format!("{key}={}", marks::escaped(words));
                sign = '&';
            }
        }
        address
    }

    /// The rows of a group, with a verdict where one is named; none: a name is
    /// empty, and an address cannot say so.
    pub(super) fn rows_of(&self, names: &[String], verdict: Option<&str>) -> Option<String> {
        let mut changed: Vec<(&str, &str)> = Vec::new();
        for (by, name) in self.by().iter().zip(names) {
            if name.is_empty() {
                return None;
            }
            match by {
                By::Month | By::Year | By::Day => {
                    // The narrower of both: more digits of the same beginning.
                    let narrower = |own: &'_ str| own.starts_with(name.as_str()) && own != name;
                    if !narrower(&self.which.since) {
                        changed.push(("since", name));
                    }
                    if !narrower(&self.which.until) {
                        changed.push(("until", name));
                    }
                }
                by => changed.push((by.word(), name)),
            }
        }
        changed.extend(verdict.map(|verdict| ("verdict", verdict)));
        Some(self.with("/review/rows", &changed))
    }

    /// Which rows, in a few words.
    fn says(&self) -> String {
        let named: Vec<String> = self
            .which
            .fields()
            .iter()
            .filter(|(_, words)| !words.is_empty())
            .map(|(key, words)| format!("{key} {}", words.replace('_', " ")))
            .collect();
        match named.is_empty() {
            true => String::from("all"),
            false => named.join(", "),
        }
    }

    /// The form, open where something is wrong.
    pub(super) fn form(&self, here: &str) -> Markup {
        let known = |key: &str| self.which.fields().iter().any(|(field, _)| *field == key);
        html! {
            details class="which" open[self.is_wrong()] {
                summary { "Which rows: " (self.says()) }
                form class="filter" method="get" action=(here) aria-label="Which rows" {
                    @for (key, words) in self.which.fields() {
                        p {
                            label for={ "which-" (key) } { (label(key)) }
                            (self.field(key, words))
                            (self.said(key))
                        }
                    }
                    @if here == "/review" {
                        (self.grouping("by", "Grouped by", Some(self.first), false))
                        (self.grouping("then", "and by", self.then, true))
                    }
                    p class="go" {
                        button { "Show these" }
                        " " a href=(here) { "All rows" }
                    }
                    @for (key, why) in self.wrong.iter().filter(|(key, _)| !known(key) && key != "by" && key != "then") {
                        p class="wrong" role="alert" { (key) ": " (why) }
                    }
                }
            }
        }
    }

    fn field(&self, key: &str, words: &str) -> Markup {
        let chosen: Option<Vec<&str>> = match key {
            "test" => Some(Test::ALL.iter().map(|test| test.word()).collect()),
            "verdict" => Some(Verdict::ALL.iter().map(|verdict| verdict.word()).collect()),
            "finding" => Some(Finding::ALL.iter().map(|finding| finding.word()).collect()),
            "stage" => Some(Stage::ALL.iter().map(|stage| stage.word()).collect()),
            _ => None,
        };
        let date = matches!(key, "since" | "until");
        html! {
            @match chosen {
                Some(all) => select id={ "which-" (key) } name=(key) aria-invalid=[self.invalid(key)] aria-describedby=[self.why(key).map(|_| format!("wrong-{key}"))] {
                    option value="" selected[words.is_empty()] { "any" }
                    @for word in all { option value=(word) selected[word == words] { (word.replace('_', " ")) } }
                },
                None => input id={ "which-" (key) } name=(key) value=(words) autocomplete="off" maxlength="200"
                    placeholder=[date.then_some("2026-03")]
                    aria-invalid=[self.invalid(key)]
                    aria-describedby=[self.why(key).map(|_| format!("wrong-{key}"))];,
            }
        }
    }

    fn grouping(&self, key: &str, label: &str, now: Option<By>, or_none: bool) -> Markup {
        html! {
            p {
                label for={ "which-" (key) } { (label) }
                select id={ "which-" (key) } name=(key) aria-describedby=[self.why(key).map(|_| format!("wrong-{key}"))] {
                    @if or_none { option value=(NONE) selected[now.is_none()] { "nothing else" } }
                    @for by in By::ALL { option value=(by.word()) selected[now == Some(*by)] { (by.word()) } }
                }
                (self.said(key))
            }
        }
    }

    fn why(&self, field: &str) -> Option<&str> {
        let found = self.wrong.iter().find(|(key, _)| key == field);
        found.map(|(_, why)| why.as_str())
    }

    fn invalid(&self, field: &str) -> Option<&'static str> {
        self.why(field).map(|_| "true")
    }

    fn said(&self, field: &str) -> Markup {
        html! {
            @if let Some(why) = self.why(field) {
                span class="wrong" role="alert" id={ "wrong-" (field) } { (why) }
            }
        }
    }
}

fn label(key: &str) -> String {
    let mut letters = key.chars();
    let first = letters.next().map(|first| first.to_ascii_uppercase());
    first.into_iter().chain(letters).collect()
}
