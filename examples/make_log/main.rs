//! A log as large as is wanted, for questions over years: `cargo run --release
//! --example make_log -- 10000000 FOLDER [SEED]`. Its chain holds.
//!
//! Invented throughout: the hatchery, its models, and what its motors read. One
//! meter, `ohms-5`, reads 1.2 % too high from March 2026 on; one row in five
//! hundred is withdrawn; one insulation reading in eight waits for its leads and is
//! judged after them, some are judged again months later, and some rows tell of
//! readings from elsewhere. There are no captures behind the rows.

mod hatchery;

use std::path::Path;

use hatchery::Hatchery;
use stillohm::disk::RealDisk;
use stillohm::log::Log;

/// Rows that are given to the log at once.
const BATCH: usize = 8192;

#[expect(clippy::print_stderr, reason = "an example talks to its user")]
fn main() -> std::process::ExitCode {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let rows = args.first().and_then(|n| n.replace('_', "").parse().ok());
    let seed = args.get(2).map_or(Some(1), |n| n.parse().ok());
    let (Some(rows), Some(folder), Some(seed)) = (rows, args.get(1), seed) else {
        eprintln!("make_log ROWS FOLDER [SEED]: for example make_log 10_000_000 years");
        return 2.into();
    };
    match make(rows, &Path::new(folder).join("log"), seed) {
        Ok(last) => {
            eprintln!("{rows} rows in {folder}/log, the last is {last}");
            0.into()
        }
        Err(e) => {
            eprintln!("make_log: {e:#}");
            3.into()
        }
    }
}

fn make(rows: u64, dir: &Path, seed: u64) -> anyhow::Result<String> {
    let (mut log, opened) = Log::open(dir, RealDisk)?;
    anyhow::ensure!(
        opened.next_seq == 1,
        "{} has a log already: name another folder",
        dir.display()
    );
    let mut hatchery = Hatchery::new(seed, rows);
    let mut batch = Vec::with_capacity(BATCH + 32);
    while log.next_seq() <= rows {
        let left = usize::try_from(rows + 1 - log.next_seq())?;
        while batch.len() < BATCH.min(left) {
            let next = log.next_seq() + batch.len() as u64;
            hatchery.job(next, &mut batch);
        }
        batch.truncate(left);
        log.append(core::mem::take(&mut batch))?;
    }
    log.sync()?;
    Ok(format!("{rows}:{}", log.chain()))
}
