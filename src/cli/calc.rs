//! `calc`: the calculations of the judge by themselves, one or a table of them.
//!
//! Code 0: there is a result. 1: refused, with the reason. 2: a name or a key
//! that there is not. Nothing here judges a motor.

mod formula;
mod insulation;
mod number;
mod rows;
mod table;
mod wires;

use std::path::PathBuf;

use serde_json::{Value, json};

use self::formula::{Answer, Formula, Kind, Need};
use super::{Fail, Out};
use crate::text::instead;

/// What is asked of the calculations.
#[derive(Debug, clap::Args)]
#[command(
    disable_help_flag = true,
    after_help = "\
Numbers are plain or with an exponent, with a point and without a unit: 22700 or 2.27e4.
With --rows the columns of F come back unchanged, then result, unit, note and error."
)]
pub(crate) struct Args {
    /// The calculation; all are listed when there is none, or with `list`
    name: Option<String>,
    /// What it is calculated from
    #[arg(value_name = "KEY=VALUE")]
    keys: Vec<String>,
    /// A CSV with a column for each key, one calculation a row; `-` reads stdin
    #[arg(long, value_name = "F")]
    rows: Option<PathBuf>,
    /// List as JSON lines
    #[arg(long)]
    json: bool,
    /// Print help; with NAME what that calculation asks for
    #[arg(short, long)]
    help: bool,
}

/// Runs `calc`.
///
/// # Errors
/// An unknown name or key, a refused value, a file that cannot be read.
pub(crate) fn run(args: &Args) -> Result<(), Fail> {
    let mut out = Out::new();
    if args.help && args.name.as_deref().is_none_or(|name| name == "list") {
        let command = clap::Command::new("calc").bin_name("stillohm calc");
        let mut command = <Args as clap::Args>::augment_args(command)
            .about("Calculate what the judge calculates: one result, or a row each of a CSV");
        out.line(command.render_help())?;
        return out.flush();
    }
    let name = match args.name.as_deref() {
        None | Some("list") if args.rows.is_none() && args.keys.is_empty() => {
            list(&mut out, args.json)?;
            return out.flush();
        }
        None => return Err(Fail::asked("name the calculation: see `stillohm calc`")),
        Some(name) => name,
    };
    let formula = table::ALL.iter().find(|f| f.name == name).ok_or_else(|| {
        let near = instead(name, table::names());
        Fail::asked(format!(
            "there is no calculation {name:?}; {near}; `stillohm calc` lists them"
        ))
    })?;
    if args.help {
        tell(&mut out, formula)?;
        return out.flush();
    }
    match &args.rows {
        Some(_) if !args.keys.is_empty() => {
            return Err(Fail::asked(
                "with --rows every key is a column: write no KEY=VALUE beside it",
            ));
        }
        Some(path) => rows::run(&mut out, formula, path)?,
        None => {
            let answer = one(formula, &args.keys)?;
            out.line(as_json(formula, &answer))?;
        }
    }
    out.flush()
}

fn one(formula: &Formula, keys: &[String]) -> Result<Answer, Fail> {
    let mut given: Vec<(&str, &str)> = Vec::with_capacity(keys.len());
    for word in keys {
        let (key, value) = word.split_once('=').ok_or_else(|| {
            Fail::asked(format!(
                "expected KEY=VALUE, found {word:?}: {} {}",
                formula.name,
                formula.usage()
            ))
        })?;
        if formula.key(key).is_none() {
            let near = instead(key, formula.keys.iter().map(|k| k.name));
            return Err(Fail::asked(format!(
                "{} has no key {key:?}; {near}",
                formula.name
            )));
        }
        if given.iter().any(|(before, _)| *before == key) {
            return Err(Fail::asked(format!("{key} is given twice: write it once")));
        }
        given.push((key, value));
    }
    formula
        .answer(|key| {
            given
                .iter()
                .find(|(name, _)| *name == key)
                .map(|(_, value)| *value)
        })
        .map_err(|refused| {
            Fail::No(format!(
                "{}: {}; asked for: {}",
                formula.name,
                refused.0,
                formula.usage()
            ))
        })
}

/// One object on one line. The result is written by hand: an exact difference
/// keeps its digits.
fn as_json(formula: &Formula, answer: &Answer) -> String {
    let result = match answer.number {
        true => answer.result.clone(),
        false => json!(answer.result).to_string(),
    };
    let source = answer.source.as_deref().unwrap_or(formula.source);
    let mut line = format!(
        "{{\"result\":{result},\"unit\":{},\"formula\":{},\"source\":{}",
        json!(formula.unit),
        json!(formula.words),
        json!(source),
    );
    if !answer.note.is_empty() {
        line += &format!(",\"note\":{}", json!(answer.note));
    }
    line + "}"
}

fn list(out: &mut Out, as_json: bool) -> Result<(), Fail> {
    for formula in table::ALL {
        if as_json {
            out.line(about(formula))?;
            continue;
        }
        tell(out, formula)?;
    }
    Ok(())
}

fn tell(out: &mut Out, formula: &Formula) -> Result<(), Fail> {
    out.line(format_args!("{} {}", formula.name, formula.usage()))?;
    out.line(format_args!("    {} ({})", formula.words, formula.unit))?;
    out.line(format_args!("    {}", formula.source))
}

fn about(formula: &Formula) -> Value {
    let keys: Vec<Value> = formula
        .keys
        .iter()
        .map(|key| {
            let mut about = json!({ "key": key.name, "required": key.need == Need::Required });
            if let Need::Default(word) = key.need {
                about["default"] = json!(word);
            }
            if let Kind::Choice(words) = key.kind {
                about["choices"] = json!(words);
            }
            about
        })
        .collect();
    json!({
        "name": formula.name,
        "keys": keys,
        "unit": formula.unit,
        "formula": formula.words,
        "source": formula.source,
    })
}
