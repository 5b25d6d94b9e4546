//! Where the demo's lines go: the terminal, with live digits below, or a pipe.

use std::collections::{BTreeMap, BTreeSet};
use std::io::IsTerminal as _;
use std::net::SocketAddr;
use std::path::{Path, PathBuf};

use super::super::{Fail, Out};
use super::scene::Bench;
use super::show::Paint;
use crate::bench::Refusal;
use crate::row::{Event, Recorded};
use crate::sim::hatchery::Patient;
use crate::stamp::Wall;
use crate::view::{Ask, JobView, View};

/// Lines out, and what has been said.
pub(super) struct Screen {
    out: Out,
    paint: Paint,
    /// Live lines are rewritten on a terminal only.
    terminal: bool,
    live: Vec<String>,
    /// Wall time of the first row.
    began: Option<Wall>,
    asked: BTreeMap<String, Ask>,
    said: BTreeSet<String>,
    ends: Vec<Recorded>,
    /// What each asset is, in words.
    names: BTreeMap<&'static str, &'static str>,
    capture: String,
}

impl Screen {
    pub(super) fn new() -> Self {
        let terminal = std::io::stdout().is_terminal();
        Self {
            out: Out::new(),
            paint: Paint {
                on: terminal && std::env::var_os("NO_COLOR").is_none(),
                wide: columns().clamp(60, 120),
            },
            // Lines that wrap cannot be rubbed out.
            terminal: terminal && columns() >= 60,
            live: Vec::new(),
            began: None,
            asked: BTreeMap::new(),
            said: BTreeSet::new(),
            ends: Vec::new(),
            names: BTreeMap::new(),
            capture: String::new(),
        }
    }

    /// What is about to happen, and on which ports.
    pub(super) fn opening(
        &mut self,
        benches: &[Bench],
        data: &Path,
        page: SocketAddr,
    ) -> Result<(), Fail> {
        let title = self
            .paint
            .bold("Stillohm demo: three motors of a fish hatchery, an invented one");
        let mut lines = vec![
            title,
            String::from("The meters are simulated and stand on real ports. Nothing is sped up."),
            String::new(),
        ];
        for bench in benches {
            self.names
                .extend(bench.waiting().map(|p| (p.asset, p.what)));
            for meter in &bench.meters {
                lines.push(format!(
                    "  {}  {:<7} {:<16} {}",
                    bench.name,
                    meter.name,
                    meter.protocol,
                    meter.served.address()
                ));
            }
        }
        lines.push(format!(
            "  page     http://{page}   open it in a browser: the three motors go by there too"
        ));
        lines.push(format!("  data     {}", data.display()));
        self.say(&lines)
    }

    /// A row, after its sync.
    pub(super) fn row(&mut self, recorded: &Recorded) -> Result<(), Fail> {
        let row = &recorded.row;
        let began = *self.began.get_or_insert(row.recorded_at);
        let seconds = (row.recorded_at.0 - began.0) as f64 / 1e9;
        if !row.capture.is_empty() {
            self.capture.clone_from(&row.capture);
        }
        if row.event == Event::JobEnd {
            self.ends.push(recorded.clone());
        }
        let lines = self.paint.row(seconds, self.what(&row.asset), row);
        self.say(&lines)
    }

    /// What a job asks for, when it is new: cautions come before the step.
    pub(super) fn asked(&mut self, job: &JobView) -> Result<(), Fail> {
        if self.asked.get(&job.bench) == Some(&job.ask) {
            return Ok(());
        }
        self.asked.insert(job.bench.clone(), job.ask.clone());
        let mut lines = Vec::new();
        for banner in &job.banners {
            if self.said.insert(format!("{} {banner}", job.job)) {
                lines.extend(self.paint.caution(&job.asset, banner));
            }
        }
        for caution in &job.ask.cautions {
            if self.said.insert(format!("{} {caution}", job.job)) {
                lines.extend(self.paint.caution(&job.asset, caution));
            }
        }
        // What is measured next stands in the live line; what is confirmed is said.
        if job.ask.confirm.is_some() || !lines.is_empty() {
            lines.extend(self.paint.ask(&job.asset, &job.ask.say));
        }
        self.say(&lines)
    }

    /// A command was refused: once for each reason.
    pub(super) fn refused(&mut self, patient: &Patient, refusal: &Refusal) -> Result<(), Fail> {
        let line = format!("       {:<6} refused: {refusal}", patient.asset);
        if !self.said.insert(line.clone()) {
            return Ok(());
        }
        self.say(&[line])
    }

    /// Live digits, two lines a bench.
    pub(super) fn live(&mut self, view: &View, benches: &[Bench]) -> Result<(), Fail> {
        if !self.terminal {
            return Ok(());
        }
        let lines: Vec<String> = benches
            .iter()
            .flat_map(|bench| self.paint.live(bench.name, view))
            .collect();
        if lines == self.live {
            return Ok(());
        }
        self.rub_out()?;
        for line in &lines {
            self.out.line(line)?;
        }
        self.live = lines;
        self.out.flush()
    }

    /// What came of it, and where it lies.
    pub(super) fn closing(&mut self, data: &Path) -> Result<(), Fail> {
        let mut lines = vec![String::new(), self.paint.bold("What came of it")];
        for end in &self.ends {
            lines.extend(self.paint.end(self.what(&end.row.asset), end));
        }
        if self.ends.is_empty() {
            lines.push(String::from(
                "  no motor is through; `stillohm serve` would show them as interrupted",
            ));
        }
        lines.push(String::new());
        let place = |path: PathBuf| path.display().to_string();
        if let Some(began) = self.began {
            let log = data
                .join("log")
                .join(format!("readings-{}.csv", began.month()));
            lines.push(format!("  log       {}", place(log)));
        }
        let capture = place(data.join("captures").join(&self.capture));
        lines.push(format!("  capture   {capture}"));
        lines.push(format!("  check it  stillohm verify {}", data.display()));
        lines.push(format!("  again     stillohm replay {capture}"));
        self.say(&lines)?;
        self.live.clear();
        Ok(())
    }

    fn what(&self, asset: &str) -> &'static str {
        self.names.get(asset).copied().unwrap_or_default()
    }

    /// Lines above the live ones.
    fn say(&mut self, lines: &[String]) -> Result<(), Fail> {
        if lines.is_empty() {
            return Ok(());
        }
        self.rub_out()?;
        for line in lines {
            self.out.line(line)?;
        }
        self.out.flush()
    }

    fn rub_out(&mut self) -> Result<(), Fail> {
        let up = self.live.len();
        self.live.clear();
        if up > 0 {
            self.out.bytes(format!("\x1b[{up}A\x1b[J").as_bytes())?;
        }
        Ok(())
    }
}

/// Columns of the terminal; 100 where there is none.
fn columns() -> usize {
    #[cfg(unix)]
    if let Ok(size) = rustix::termios::tcgetwinsize(std::io::stdout())
        && size.ws_col > 0
    {
        return usize::from(size.ws_col);
    }
    100
}
