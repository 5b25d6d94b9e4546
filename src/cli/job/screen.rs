//! The screen of a job: what it shows, and painting only what has changed.
//!
//! Words carry everything; colour only repeats them. A value older than two
//! seconds is not shown: a frozen digit is dangerous.

use super::super::core::{SeenJob, SeenMeter, SeenPoint};
use super::super::{Fail, Out};
use super::glyph::big;
use super::state::State;

/// A live value lives this long, in nanoseconds.
const FRESH: u64 = 2_000_000_000;
/// Lines that a message may take: a reason with its terms.
const MESSAGE_LINES: usize = 6;
const KEYS: &str =
    "ENTER confirm  s skip  r redo  a again  e enter value  n note  p park  w withdraw  q end";

/// How a line is set apart, beside its words.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Style {
    Plain,
    Strong,
    Alarm,
    Fail,
    Pass,
}

/// One line of the screen.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Line(Style, String);

/// What a terminal can do.
#[derive(Clone, Copy, Debug)]
pub(super) struct Look {
    pub(super) width: usize,
    pub(super) height: usize,
    pub(super) colour: bool,
    pub(super) blocks: bool,
}

impl Look {
    /// Words in signs that the terminal has.
    fn signs(self, words: &str) -> String {
        if self.blocks {
            return words.to_owned();
        }
        let mut plain = String::with_capacity(words.len());
        for sign in words.chars() {
            match sign {
                'Ω' => plain.push_str("ohm"),
                '°' => plain.push_str("deg "),
                'µ' | 'μ' => plain.push('u'),
                '−' | '–' => plain.push('-'),
                '×' => plain.push('x'),
                '±' => plain.push_str("+/-"),
                '…' => plain.push_str("..."),
                other => plain.push(other),
            }
        }
        plain
    }
}

/// A job told as text, as lines of this terminal; what must not be missed stands out.
pub(super) fn end(told: &str, look: Look) -> Vec<Line> {
    let mut lines = Vec::new();
    let mut loud = false;
    for line in told.lines() {
        // What is broken goes on three signs in.
        loud = line.starts_with("!! ") || (loud && line.starts_with("   "));
        let style = if loud { Style::Alarm } else { Style::Plain };
        let indent = line.len() - line.trim_start().len();
        if line.chars().count() <= look.width {
            lines.push(Line(style, look.signs(line)));
        } else {
            wrap(&mut lines, style, &line[..indent], line, look);
        }
    }
    lines
}

/// Everything that is shown; `stale` when no view came for too long.
pub(super) fn lines(state: &State, look: Look, stale: bool, bottom: &str) -> Vec<Line> {
    let mut lines = Vec::new();
    let Some(job) = state.view() else {
        lines.push(Line(
            Style::Plain,
            format!("{}: waiting for the first view", state.job),
        ));
        return lines;
    };
    let header = [&job.asset, &job.motor, &job.job, &job.tester];
    let header: Vec<&str> = header
        .into_iter()
        .map(String::as_str)
        .filter(|w| !w.is_empty())
        .collect();
    lines.push(Line(Style::Strong, look.signs(&header.join("   "))));
    let trouble = Some(&state.seen.trouble).filter(|t| !t.is_empty());
    for banner in trouble.into_iter().chain(&job.banners) {
        wrap(&mut lines, Style::Alarm, "!! ", banner, look);
    }
    reading(&mut lines, state.meter(), state.seen.at, look, stale);
    for caution in &job.ask.cautions {
        wrap(&mut lines, Style::Plain, "! ", caution, look);
    }
    wrap(&mut lines, Style::Strong, "> ", &job.ask.say, look);
    let hint = match (&job.ask.confirm, job.ask.clips_on) {
        (Some(_), _) => "  [ENTER] confirms this",
        (None, true) => "  [ENTER] the clips are on: over-range counts",
        (None, false) => "",
    };
    lines.push(Line(Style::Plain, hint.to_owned()));
    if let Some(left) = job
        .discharge_until
        .and_then(|until| until.checked_sub(state.seen.at))
    {
        let text = format!(
            "keep the winding shorted for {} s more",
            left / 1_000_000_000 + 1
        );
        lines.push(Line(Style::Alarm, text));
    }
    let message = if bottom.is_empty() {
        &state.message
    } else {
        bottom
    };
    let mut last = Vec::new();
    keys(&mut last, look.width);
    let mut said = Vec::new();
    wrap(&mut said, Style::Strong, "", message, look);
    if said.len() > MESSAGE_LINES {
        said.truncate(MESSAGE_LINES);
        // Words left out are seen to be left out.
        let last = &mut said[MESSAGE_LINES - 1].1;
        last.push_str(" ...");
        if last.chars().count() > look.width {
            last.truncate(last.trim_end_matches(" ...").rfind(' ').unwrap_or(0));
            last.push_str(" ...");
        }
    }
    last.append(&mut said);
    let room = look.height.saturating_sub(lines.len() + last.len());
    points(&mut lines, job, look, room);
    lines.truncate(look.height.saturating_sub(last.len()));
    lines.extend(last);
    lines
}

fn reading(lines: &mut Vec<Line>, meter: Option<&SeenMeter>, now: u64, look: Look, stale: bool) {
    let ink = if look.blocks { '█' } else { '#' };
    let age = meter
        .and_then(|m| m.shown_at)
        .map(|at| now.saturating_sub(at));
    let live = !stale && meter.is_some_and(|m| m.connected) && age.is_some_and(|a| a <= FRESH);
    let shown = meter.filter(|_| live).map_or("--", |m| m.shown.as_str());
    // Little room: the words below matter more than size.
    if look.height >= 20 {
        // What a display of digits shows for it, seen from afar.
        let shown = match shown {
            "over-range" => "OL over-range",
            shown => shown,
        };
        lines.extend(big(&look.signs(shown), ink).map(|line| Line(Style::Strong, line)));
    } else {
        lines.push(Line(Style::Strong, look.signs(shown)));
    }
    let status = match (meter, live) {
        (None, _) => String::from("no meter on this bench"),
        (Some(m), true) => format!("{}  {}  {}", m.name, progress(m), m.flags.join(" ")),
        (Some(m), false) if !m.connected && !m.trouble.is_empty() => {
            format!("{}: {} (tried again)", m.name, m.trouble)
        }
        (Some(m), false) if !m.trouble.is_empty() => format!("{}: {}", m.name, m.trouble),
        (Some(m), false) if m.connected && m.bad_frames > 0 && age.is_none() => format!(
            "{}: what comes gives no reading: compare baud rate and protocol",
            m.name
        ),
        (Some(m), false) => match age {
            Some(age) => format!("{}: no data for {} s", m.name, age / 1_000_000_000),
            None => format!("{}: no data yet", m.name),
        },
    };
    wrap(lines, Style::Plain, "", &status, look);
}

fn progress(meter: &SeenMeter) -> String {
    let filled = (meter.progress.clamp(0.0, 1.0) * 10.0) as usize;
    let bar = format!("[{}{}]", "#".repeat(filled), ".".repeat(10 - filled));
    match meter.hold {
        Some((held, of)) => format!("{bar} {} {held:.0} of {of:.0} s", meter.settle),
        None => format!("{bar} {}", meter.settle),
    }
}

/// The points around the one that is due, as many as there is room for.
fn points(lines: &mut Vec<Line>, job: &SeenJob, look: Look, room: usize) {
    let columns = Columns::of(&job.points, look);
    let now = job
        .points
        .iter()
        .position(|p| p.state == "now")
        .unwrap_or(job.points.len());
    let first = (now + room / 2 + 1)
        .min(job.points.len())
        .saturating_sub(room);
    for point in job.points.iter().skip(first).take(room) {
        lines.push(Line(style(point), columns.text(point)));
    }
}

fn style(point: &SeenPoint) -> Style {
    match (point.state.as_str(), point.verdict.as_deref()) {
        ("now", _) => Style::Strong,
        (_, Some("fail")) => Style::Fail,
        (_, Some("pass")) => Style::Pass,
        _ => Style::Plain,
    }
}

/// Where the columns of the points stand.
struct Columns {
    name: usize,
    shown: usize,
    look: Look,
}

impl Columns {
    /// As wide as what stands in them, so that a narrow screen holds it.
    fn of(points: &[SeenPoint], look: Look) -> Self {
        let widest = |text: fn(&SeenPoint) -> usize| points.iter().map(text).max().unwrap_or(0);
        Self {
            name: widest(|p| p.test.chars().count() + 1 + p.point.chars().count()),
            shown: widest(|p| p.shown.chars().count()),
            look,
        }
    }

    fn text(&self, point: &SeenPoint) -> String {
        let mark = if point.state == "now" { '>' } else { ' ' };
        let verdict = match (point.verdict.as_deref(), point.state.as_str()) {
            (Some(verdict), _) => verdict,
            (None, "skipped") => "skipped",
            (None, "done") => "done",
            (None, _) => "",
        };
        let finding = point.finding.as_deref().unwrap_or_default();
        let name = format!("{} {}", point.test, point.point);
        let text = format!(
            "{mark} {name:<of_name$}  {:<of_shown$}  {verdict} {finding}",
            self.look.signs(&point.shown),
            of_name = self.name,
            of_shown = self.shown,
        );
        let text = text.trim_end();
        // Half a number would be another number: limits stand whole or not at all.
        let limits = self.look.signs(&format!("{text}  ({} Ω)", point.limits));
        match point.limits.as_str() {
            "" => text.to_owned(),
            _ if limits.chars().count() > self.look.width => text.to_owned(),
            _ => limits,
        }
    }
}

/// The keys, none broken in two.
fn keys(lines: &mut Vec<Line>, width: usize) {
    let mut line = String::new();
    for key in KEYS.split("  ") {
        if !line.is_empty() && line.chars().count() + 2 + key.chars().count() > width {
            lines.push(Line(Style::Plain, core::mem::take(&mut line)));
        }
        if !line.is_empty() {
            line.push_str("  ");
        }
        line.push_str(key);
    }
    lines.push(Line(Style::Plain, line));
}

/// As much as fits, and a sign where more was.
fn cut(text: &str, width: usize) -> String {
    if text.chars().count() <= width {
        return text.to_owned();
    }
    let fits: String = text.chars().take(width.saturating_sub(2)).collect();
    format!("{fits}..")
}

/// Breaks words at the width, the mark before each line.
fn wrap(lines: &mut Vec<Line>, style: Style, mark: &str, words: &str, look: Look) {
    let width = look.width;
    let words = look.signs(words);
    let mut line = String::from(mark);
    for word in words.split_whitespace() {
        if line.chars().count() + word.chars().count() > width && line != mark {
            lines.push(Line(style, line.trim_end().to_owned()));
            line = String::from(mark);
        }
        line.push_str(word);
        line.push(' ');
    }
    lines.push(Line(style, line.trim_end().to_owned()));
}

/// The painter: remembers what stands where.
#[derive(Default)]
pub(super) struct Screen {
    standing: Vec<Line>,
    begun: bool,
}

impl Screen {
    /// Paints the lines that differ from those that stand.
    pub(super) fn paint(
        &mut self,
        out: &mut Out,
        lines: Vec<Line>,
        look: Look,
    ) -> Result<(), Fail> {
        let mut text = String::new();
        if !self.begun {
            self.begun = true;
            text.push_str("\x1b[2J");
        }
        let rows = lines.len().max(self.standing.len());
        for row in 0..rows {
            let new = lines.get(row);
            if new != self.standing.get(row) {
                text.push_str(&format!("\x1b[{};1H", row + 1));
                if let Some(line) = new {
                    text.push_str(&styled(line, look));
                }
                text.push_str("\x1b[K");
            }
        }
        self.standing = lines;
        if !text.is_empty() {
            out.bytes(text.as_bytes())?;
            out.flush()?;
        }
        Ok(())
    }

    /// Clears what stands: a digit or a step left behind would pass for a live one.
    pub(super) fn leave(&self, out: &mut Out) -> Result<(), Fail> {
        out.bytes(b"\x1b[2J\x1b[1;1H")
    }
}

pub(super) fn styled(Line(style, text): &Line, look: Look) -> String {
    let cut = cut(text, look.width);
    let code = match (style, look.colour) {
        (Style::Plain, _) => return cut,
        (Style::Strong, _) => "1",
        (Style::Alarm, _) => "7",
        (Style::Fail, true) => "1;31",
        (Style::Pass, true) => "32",
        (Style::Fail, false) => "1",
        (Style::Pass, false) => return cut,
    };
    format!("\x1b[{code}m{cut}\x1b[0m")
}

#[cfg(test)]
mod tests;
