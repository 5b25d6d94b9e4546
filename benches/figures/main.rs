//! The figures of speed and size, each beside its bar.
//!
//! `cargo bench --bench figures [-- live] [replay] [settle] [judge] [catalogue] [start] [instructions]`
//!
//! Ratios are taken within one run. Bars are the project's own; a figure that
//! misses its bar is printed as such and fails nothing, since machines differ.
//! Linux only: it needs pseudo-terminals and `/proc`.

#![expect(clippy::print_stdout, reason = "it is a report")]

#[cfg(target_os = "linux")]
mod catalogue;
#[cfg(target_os = "linux")]
mod child;
#[cfg(target_os = "linux")]
mod instructions;
#[cfg(target_os = "linux")]
mod judge;
#[cfg(target_os = "linux")]
mod live;
#[cfg(target_os = "linux")]
mod ports;
#[cfg(target_os = "linux")]
mod replay;
#[cfg(target_os = "linux")]
mod settle;
#[cfg(target_os = "linux")]
mod start;

/// One line of the table.
pub(crate) struct Figure {
    what: String,
    found: String,
    bar: String,
    /// `None`: there is no bar, or it could not be measured.
    met: Option<bool>,
}

impl Figure {
    pub(crate) fn at_most(what: &str, found: f64, bar: f64, unit: &str) -> Self {
        Self {
            what: what.to_owned(),
            found: format!("{found:.2} {unit}"),
            bar: format!("at most {bar} {unit}"),
            met: Some(found <= bar),
        }
    }

    pub(crate) fn at_least(what: &str, found: f64, bar: f64, unit: &str) -> Self {
        Self {
            what: what.to_owned(),
            found: format!("{found:.1} {unit}"),
            bar: format!("at least {bar} {unit}"),
            met: Some(found >= bar),
        }
    }

    /// A figure without a bar, or the reason why there is none.
    pub(crate) fn said(what: &str, found: impl Into<String>) -> Self {
        Self {
            what: what.to_owned(),
            found: found.into(),
            bar: String::new(),
            met: None,
        }
    }

    fn print(&self) {
        let met = match self.met {
            Some(true) => "met",
            Some(false) => "NOT MET",
            None => "",
        };
        println!(
            "{:<54} {:>20}   {:<22} {met}",
            self.what, self.found, self.bar
        );
    }
}

/// Measures some figures.
#[cfg(target_os = "linux")]
type Section = fn() -> Vec<Figure>;

#[cfg(target_os = "linux")]
fn main() {
    let wanted: Vec<String> = std::env::args()
        .skip(1)
        .filter(|a| !a.starts_with('-'))
        .collect();
    if let [work, times] = wanted.as_slice()
        && let Some(work) = work.strip_prefix("only=")
    {
        return instructions::only(work, times.parse().expect("a number"));
    }
    let sections: [(&str, Section); 7] = [
        ("live", live::figures),
        ("replay", replay::figures),
        ("settle", settle::figures),
        ("judge", judge::figures),
        ("catalogue", catalogue::figures),
        ("start", start::figures),
        ("instructions", instructions::figures),
    ];
    println!("{:<54} {:>20}   {:<22} ", "figure", "found", "bar");
    for (name, figures) in sections {
        if wanted.is_empty() || wanted.iter().any(|w| w == name) {
            figures().iter().for_each(Figure::print);
        }
    }
}

#[cfg(not(target_os = "linux"))]
fn main() {
    Figure::said(
        "figures",
        "measured on Linux only: pseudo-terminals and /proc",
    )
    .print();
}
