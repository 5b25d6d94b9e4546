//! Tables: no code twice, no meaning that contradicts itself.

use std::collections::BTreeMap;
use std::sync::Arc;

use toml::Spanned;

use crate::decode::{Meaning, Table};
use crate::description::schema::Entry;
use crate::reading::Flags;

use super::{Wrong, unknown, wrong};

/// All tables by name.
pub(super) fn tables(
    written: &BTreeMap<String, Vec<Spanned<Entry>>>,
) -> Result<BTreeMap<&str, Arc<Table>>, Wrong> {
    written
        .iter()
        .map(|(name, entries)| Ok((name.as_str(), Arc::new(table(entries)?))))
        .collect()
}

fn table(entries: &[Spanned<Entry>]) -> Result<Table, Wrong> {
    let mut table = Table::default();
    for at in entries {
        let entry = at.get_ref();
        if entry.is.is_empty() && entry.word.is_empty() {
            return Err(wrong(at, "expected codes (`is = [0]` or `word = [\"A\"]`)"));
        }
        let index = table.meanings.len();
        for code in &entry.is {
            if table.numbers.iter().any(|(known, _)| known == code) {
                return Err(wrong(
                    at,
                    format!("expected each code once, found {code} again"),
                ));
            }
            table.numbers.push((*code, index));
        }
        for word in &entry.word {
            let word: Box<[u8]> = word.trim().as_bytes().into();
            if table.words.iter().any(|(known, _)| *known == word) {
                let word = String::from_utf8_lossy(&word);
                return Err(wrong(
                    at,
                    format!("expected each word once, found {word:?} again"),
                ));
            }
            table.words.push((word, index));
        }
        table.meanings.push(meaning(at)?);
    }
    Ok(table)
}

fn meaning(at: &Spanned<Entry>) -> Result<Meaning, Wrong> {
    let entry = at.get_ref();
    if usize::from(entry.over) + usize::from(entry.nothing) + usize::from(entry.reject.is_some())
        > 1
    {
        return Err(wrong(
            at,
            "expected at most one of `over`, `nothing` and `reject`",
        ));
    }
    let mut flags = Flags::NONE;
    for word in &entry.flags {
        let flag = Flags::from_word(word.get_ref()).ok_or_else(|| {
            let known = Flags::ALL.iter().map(|(_, word)| *word);
            wrong(word, unknown("a flag", word.get_ref(), known))
        })?;
        flags = flags.with(flag);
    }
    let prefix = match entry.prefix.as_deref() {
        None => 0,
        Some(letter) => prefix(letter).ok_or_else(|| {
            wrong(
                at,
                unknown(
                    "a prefix",
                    letter,
                    ["p", "n", "u", "m", "", "k", "M", "G", "T"],
                ),
            )
        })?,
    };
    Ok(Meaning {
        exponent: entry.exponent,
        prefix,
        unit: entry.unit,
        negative: entry.negative,
        over: entry.over,
        nothing: entry.nothing,
        flags,
        full_scale: entry.full_scale,
        reject: entry.reject.as_deref().map(Box::from),
    })
}

fn prefix(letter: &str) -> Option<i8> {
    Some(match letter {
        "p" => -12,
        "n" => -9,
        "u" | "µ" => -6,
        "m" => -3,
        "" => 0,
        "k" => 3,
        "M" => 6,
        "G" => 9,
        "T" => 12,
        _ => return None,
    })
}
