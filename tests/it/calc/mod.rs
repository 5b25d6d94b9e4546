//! `calc`: against the reference tables, and as it is asked.

mod asked;
mod edges;
mod reference;

use std::collections::BTreeMap;

use reference::{Check, Expected, Row, TABLES};

use crate::run::Folder;

/// Runs the checks of one calculation as one CSV; gives what disagrees.
fn disagreeing(calc: &str, checks: &[(String, &Check)]) -> Vec<String> {
    let mut columns: Vec<&str> = checks
        .iter()
        .flat_map(|(_, c)| c.keys.iter().map(|(k, _)| *k))
        .collect();
    columns.sort_unstable();
    columns.dedup();
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer
        .write_record(["id"].iter().chain(&columns))
        .expect("memory");
    for (id, check) in checks {
        let cell = |column: &&str| {
            check
                .keys
                .iter()
                .find(|(k, _)| k == column)
                .map_or("", |(_, v)| v)
        };
        let cells = columns.iter().map(cell);
        writer
            .write_record(core::iter::once(id.as_str()).chain(cells))
            .expect("memory");
    }
    let input = String::from_utf8(writer.into_inner().expect("memory")).expect("UTF-8");
    let ran = Folder::new(&[("in.csv", &input)]).run(&["calc", calc, "--rows", "in.csv"]);
    let refusals = checks
        .iter()
        .any(|(_, c)| matches!(c.expected, Expected::Refused(_)));
    assert_eq!(
        ran.code,
        Some(i32::from(refusals)),
        "{calc}: {}\n{}",
        ran.stderr,
        ran.stdout
    );
    let mut reader = csv::Reader::from_reader(ran.stdout.as_bytes());
    let rows: Vec<BTreeMap<String, String>> =
        reader.deserialize().map(|r| r.expect("a row")).collect();
    assert_eq!(rows.len(), checks.len(), "{calc}: a row each");
    let differs = |((id, check), row): (&(String, &Check), &BTreeMap<String, String>)| {
        assert_eq!(*id, row["id"]);
        let (result, error) = (row["result"].as_str(), row["error"].as_str());
        (!agrees(&check.expected, result, error)).then(|| {
            format!(
                "{calc} {id}: {result:?} {error:?}, expected {:?}",
                check.expected
            )
        })
    };
    checks.iter().zip(&rows).filter_map(differs).collect()
}

fn agrees(expected: &Expected, result: &str, error: &str) -> bool {
    let is = |text: &str, figure: f64, within: f64| {
        text.parse::<f64>()
            .is_ok_and(|v| (v - figure).abs() <= within)
    };
    let same = |(found, figure): (&str, &String), within: f64| match figure.parse() {
        Ok(figure) => is(found, figure, within),
        Err(_) => found == figure,
    };
    match expected {
        Expected::Near(figure, within) => error.is_empty() && is(result, *figure, *within),
        Expected::Each(figures, within) => {
            let found: Vec<&str> = result.split(';').collect();
            error.is_empty()
                && found.len() == figures.len()
                && found
                    .into_iter()
                    .zip(figures)
                    .all(|pair| same(pair, *within))
        }
        Expected::Is(text) => error.is_empty() && result == text,
        Expected::Refused(words) => result.is_empty() && error.contains(words),
        Expected::Not(figure, part) => result
            .parse::<f64>()
            .is_ok_and(|v| (v - figure).abs() >= figure.abs() * part),
    }
}

/// Every row of every table: held, or named with the reason why not.
#[test]
#[expect(clippy::print_stdout, reason = "the counts are read with --no-capture")]
fn every_reference_row_is_held_or_says_why_not() {
    let mut by_calc: BTreeMap<&str, Vec<(String, Check)>> = BTreeMap::new();
    for table in TABLES {
        let rows: Vec<Row> = csv::Reader::from_reader(table.text.as_bytes())
            .deserialize()
            .map(|r| r.expect("a row"))
            .collect();
        assert_eq!(rows.len(), table.rows, "{}", table.name);
        let (mut held, mut values, mut left_out) = (0, 0, BTreeMap::<&str, Vec<&str>>::new());
        for row in &rows {
            match (table.found)(row) {
                Ok(checks) => {
                    assert!(!checks.is_empty(), "{}: nothing is checked", row["id"]);
                    held += 1;
                    values += checks.len();
                    for check in checks {
                        by_calc
                            .entry(check.calc)
                            .or_default()
                            .push((row["id"].clone(), check));
                    }
                }
                Err(reason) => {
                    assert!(
                        !reason.is_empty(),
                        "{} {}: neither held nor named",
                        table.name,
                        row["id"]
                    );
                    left_out.entry(reason).or_default().push(&row["id"]);
                }
            }
        }
        println!(
            "{}: {held} of {} rows held, {values} values",
            table.name,
            rows.len()
        );
        for (reason, rows) in left_out {
            println!("    not {}: {reason}", rows.join(" "));
        }
    }
    let mut disagree = Vec::new();
    let readme = include_str!("../../../README.md");
    for (calc, checks) in &by_calc {
        println!("{calc}: {} values", checks.len());
        let checks: Vec<(String, &Check)> = checks.iter().map(|(id, c)| (id.clone(), c)).collect();
        disagree.extend(disagreeing(calc, &checks));
        let told = readme
            .lines()
            .find(|l| l.starts_with(&format!("| `{calc}` |")));
        let end = format!(" | {} |", checks.len());
        if !told.is_some_and(|l| l.ends_with(&end)) {
            disagree.push(format!(
                "README, Calculations: the line of {calc} should end with {end:?}: {told:?}"
            ));
        }
    }
    assert!(disagree.is_empty(), "{}", disagree.join("\n"));
}

#[test]
fn a_wrong_figure_would_be_seen() {
    let wrong = |expected| {
        let check = Check {
            calc: "unbalance",
            keys: vec![("r1", "1".into()), ("r2", "1".into()), ("r3", "4".into())],
            expected,
        };
        disagreeing("unbalance", &[(String::from("x"), &check)]).len()
    };
    assert_eq!(wrong(Expected::Near(100.0, 1e-9)), 0);
    assert_eq!(wrong(Expected::Near(100.1, 0.05)), 1);
    assert_eq!(wrong(Expected::Not(100.0, 0.01)), 1);
    assert_eq!(wrong(Expected::Is(String::from("100.0"))), 1);
    assert_eq!(
        wrong(Expected::Each(
            vec![String::from("100"), String::from("1")],
            1.0
        )),
        1
    );
}
