//! `report`: jobs as pages to print.

use std::path::{Path, PathBuf};

use anyhow::Context as _;

use super::data::log_of;
use super::{Fail, Out};
use crate::config::{self, Given};
use crate::report::paper::{self, Logo, Paper, Shop, Size, html, pdf};
use crate::review::gather::{self, GatherError};

/// What is printed, and how.
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    /// The jobs, such as J12; those of one asset stand side by side
    #[arg(required = true, value_name = "JOB")]
    jobs: Vec<String>,
    /// The data folder [default: that of the file, or stillohm-data]
    #[arg(long, value_name = "DIR")]
    data: Option<PathBuf>,
    /// The configuration file, for the shop's name, address and logo [default: stillohm.toml, if there is one]
    #[arg(long, value_name = "F")]
    config: Option<PathBuf>,
    /// One page an asset in plain words, for its owner
    #[arg(long)]
    customer: bool,
    /// A label for each motor, 100 x 60 mm
    #[arg(long, conflicts_with_all = ["customer", "paper"])]
    label: bool,
    /// The sheet
    #[arg(long, value_enum, default_value = "a4")]
    paper: Sheet,
    /// Where it is written; the ending says as what: .html or .pdf [default: HTML on stdout]
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
}

/// The sheets there are.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
enum Sheet {
    /// 210 x 297 mm
    A4,
    /// 8.5 x 11 inches
    Letter,
}

/// As what it is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Format {
    Html,
    Pdf,
}

/// Prints jobs.
///
/// # Errors
/// A name or a file's ending that is none; a log or a file that cannot be read
/// or written; exit 1 where the log does not hold up to what was printed.
pub(crate) fn run(args: &Args) -> Result<(), Fail> {
    let format = match &args.out {
        None => Format::Html,
        Some(path) => format(path)?,
    };
    let config = config::load(&Given {
        config: args.config.clone(),
        data: args.data.clone(),
        ..Given::default()
    })?;
    log_of(&config.data)?;
    let jobs = gather::jobs(&config.data, &args.jobs).map_err(|e| match e {
        GatherError::Unknown { .. } => Fail::Asked(e.into()),
        GatherError::Log { .. } => Fail::Around(e.into()),
    })?;
    let shop = shop(&config.shop)?;
    let size = match args.paper {
        Sheet::A4 => Size::A4,
        Sheet::Letter => Size::Letter,
    };
    let paper = match (args.label, args.customer) {
        (true, _) => paper::label(&jobs, &shop),
        (false, true) => paper::customer(&jobs, &shop, size),
        (false, false) => paper::full(&jobs, &shop, size),
    };
    let bytes = written(&paper, format)?;
    match &args.out {
        Some(path) => write(path, &bytes)
            .with_context(|| format!("{}: cannot be written", path.display()))
            .map_err(Fail::Around)?,
        None => {
            let mut out = Out::new();
            out.bytes(&bytes)?;
            out.flush()?;
        }
    }
    match jobs.iter().find_map(|job| job.unsound.as_ref()) {
        Some(why) => Err(Fail::No(format!("printed, but {why}"))),
        None => Ok(()),
    }
}

/// Writes beside the file and renames, so that nobody finds half of one.
fn write(path: &Path, bytes: &[u8]) -> std::io::Result<()> {
    let mut beside = path.as_os_str().to_owned();
    beside.push(".new");
    let written = std::fs::write(&beside, bytes).and_then(|()| std::fs::rename(&beside, path));
    if written.is_err() {
        // What is left of it is of no use to anybody.
        _ = std::fs::remove_file(&beside);
    }
    written
}

fn written(paper: &Paper, format: Format) -> Result<Vec<u8>, Fail> {
    if format == Format::Html {
        return Ok(html::html(paper).into_bytes());
    }
    let file = pdf::pdf(paper)
        .context("shop.logo: expected a PNG file that can be drawn")
        .map_err(Fail::Asked)?;
    if file.without_logo {
        talk("shop.logo is an SVG, which a PDF is printed without: name a PNG, or print the HTML");
    }
    if !file.missing.is_empty() {
        let missing: String = file.missing.iter().collect();
        talk(&format!(
            "the PDF shows a box for each of {missing}, which its font does not have: the HTML shows them"
        ));
    }
    Ok(file.bytes)
}

#[expect(clippy::print_stderr, reason = "talk goes to stderr")]
fn talk(words: &str) {
    eprintln!("stillohm: {words}");
}

fn format(path: &Path) -> Result<Format, Fail> {
    match path.extension().and_then(|e| e.to_str()) {
        Some("html") => Ok(Format::Html),
        Some("pdf") => Ok(Format::Pdf),
        _ => Err(Fail::asked(format!(
            "--out {}: expected a name that ends in .html or .pdf",
            path.display()
        ))),
    }
}

/// The head of a page, its logo read.
fn shop(shop: &config::Shop) -> Result<Shop, Fail> {
    let logo = match &shop.logo {
        None => None,
        Some(path) => {
            let bytes = std::fs::read(path)
                .with_context(|| format!("shop.logo {}: cannot be read", path.display()))
                .map_err(Fail::Asked)?;
            Some(match path.extension().and_then(|e| e.to_str()) {
                Some("svg") => Logo::Svg(bytes),
                _ => Logo::Png(bytes),
            })
        }
    };
    Ok(Shop {
        name: shop
            .name
            .as_ref()
            .map_or_else(String::new, ToString::to_string),
        address: shop.address.iter().map(ToString::to_string).collect(),
        logo,
    })
}
