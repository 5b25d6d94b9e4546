//! `review agreement`: do testers, or meters, read the same motors alike?

use serde_json::json;

use super::filter::{Which, gone_through};
use super::values::digits;
use crate::cli::Fail;
use crate::cli::table::{Form, Table};
use crate::log::cells::cells;
use crate::log::scan::column;
use crate::review::ask::values::{Imports, values};
use crate::review::stats::grr::{Component, Grr, Measured, crossed};

/// Of which rows.
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    /// Who or what is compared
    #[arg(long, value_enum, default_value = "tester")]
    between: Between,
    #[command(flatten)]
    which: Which,
    #[command(flatten)]
    form: Form,
}

#[derive(Clone, Copy, Debug, clap::ValueEnum)]
enum Between {
    Tester,
    Meter,
}

/// Prints the shares of the variation of a crossed study: each of the testers
/// (or meters) measured each asset's point equally often.
///
/// # Errors
/// Rows that are no such study, with what is missing; a log that cannot be read.
pub(super) fn run(args: &Args) -> Result<(), Fail> {
    let scan = args.which.open()?;
    let filter = args.which.filter()?;
    let stages = args.which.stages(&scan, false)?;
    let between = match args.between {
        Between::Tester => column::TESTER,
        Between::Meter => column::METER,
    };
    let by = [column::ASSET, column::TEST, column::POINT, between];
    let groups = gone_through(&scan, |done| {
        values(&scan, done, (&filter, &stages), &by, Imports::Out)
    })?;
    let mut named = Vec::new();
    for (key, values) in &groups {
        let names: Vec<_> = cells(key).take(by.len()).collect();
        let part = format!("{} {} {}", names[0], names[1], names[2]);
        named.push((part, names[3].clone().into_owned(), values));
    }
    let measured: Vec<Measured<'_>> = named
        .iter()
        .flat_map(|(part, appraiser, values)| {
            values.iter().map(move |value| Measured {
                part,
                appraiser,
                value: value.judged_ohms,
            })
        })
        .collect();
    let study = crossed(&measured).map_err(|e| {
        Fail::asked(format!(
            "these rows are no study: {e}; choose them with --since, --asset, --point and the like"
        ))
    })?;
    print(&study, args.form)
}

fn print(study: &Grr, form: Form) -> Result<(), Fail> {
    let mut table = Table::new(["of", "sigma_ohms", "percent"]);
    let rows: [(&str, Component); 6] = [
        ("repeatability", study.ev),
        ("reproducibility", study.av),
        ("interaction", study.interaction),
        ("measuring", study.grr),
        ("parts", study.pv),
        ("total", study.tv),
    ];
    for (name, component) in rows {
        table.row([
            json!(name),
            digits(component.sigma),
            digits(component.percent),
        ]);
    }
    table.note(format!(
        "{} parts, {} appraisers, {} times each; ANOVA of a crossed study (AIAG MSA, 4th edition){}; categories that can be told apart: {}",
        study.parts,
        study.appraisers,
        study.trials,
        if study.pooled { ", interaction pooled" } else { "" },
        study.ndc.map_or_else(|| String::from("all"), |n| n.to_string()),
    ));
    table.print(form)
}
