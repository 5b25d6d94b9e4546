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
const KEYS: &str =
    "ENTER confirm  s skip  r redo  e enter value  n note  p park  w withdraw  q end";

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
    lines.push(Line(Style::Strong, header.join("   ")));
    let trouble = Some(&state.seen.trouble).filter(|t| !t.is_empty());
    for banner in trouble.into_iter().chain(&job.banners) {
        wrap(&mut lines, Style::Alarm, "!! ", banner, look.width);
    }
    reading(&mut lines, state.meter(), state.seen.at, look, stale);
    for caution in &job.ask.cautions {
        wrap(&mut lines, Style::Plain, "! ", caution, look.width);
    }
    wrap(&mut lines, Style::Strong, "> ", &job.ask.say, look.width);
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
    let room = look.height.saturating_sub(lines.len() + 2);
    points(&mut lines, job, room);
    let message = if bottom.is_empty() {
        &state.message
    } else {
        bottom
    };
    lines.truncate(look.height.saturating_sub(2));
    lines.push(Line(Style::Plain, KEYS.to_owned()));
    lines.push(Line(Style::Strong, message.to_owned()));
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
        lines.extend(big(shown, ink).map(|line| Line(Style::Strong, line)));
    } else {
        lines.push(Line(Style::Strong, shown.to_owned()));
    }
    let status = match (meter, live) {
        (None, _) => String::from("no meter on this bench"),
        (Some(m), true) => format!("{}  {}  {}", m.name, progress(m), m.flags.join(" ")),
        (Some(m), false) if !m.trouble.is_empty() => format!("{}: {}", m.name, m.trouble),
        (Some(m), false) => match age {
            Some(age) => format!("{}: no data for {} s", m.name, age / 1_000_000_000),
            None => format!("{}: no data yet", m.name),
        },
    };
    lines.push(Line(Style::Plain, status));
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
fn points(lines: &mut Vec<Line>, job: &SeenJob, room: usize) {
    let now = job
        .points
        .iter()
        .position(|p| p.state == "now")
        .unwrap_or(job.points.len());
    let first = (now + room / 2 + 1)
        .min(job.points.len())
        .saturating_sub(room);
    for point in job.points.iter().skip(first).take(room) {
        lines.push(Line(style(point), point_text(point)));
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

fn point_text(point: &SeenPoint) -> String {
    let mark = if point.state == "now" { '>' } else { ' ' };
    let verdict = point
        .verdict
        .as_deref()
        .unwrap_or(match point.state.as_str() {
            "skipped" => "skipped",
            _ => "",
        });
    let finding = point.finding.as_deref().unwrap_or_default();
    let limits = match point.limits.as_str() {
        "" => String::new(),
        limits => format!("({limits})"),
    };
    let name = format!("{} {}", point.test, point.point);
    let text = format!(
        "{mark} {name:<28} {:<12} {verdict:<10} {finding} {limits}",
        point.shown
    );
    text.trim_end().to_owned()
}

/// Breaks words at the width, the mark before each line.
fn wrap(lines: &mut Vec<Line>, style: Style, mark: &str, words: &str, width: usize) {
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

    /// Leaves the cursor below everything.
    pub(super) fn leave(&self, out: &mut Out) -> Result<(), Fail> {
        out.line(format_args!(
            "\x1b[{};1H\x1b[J",
            self.standing.len().saturating_sub(1)
        ))
    }
}

fn styled(Line(style, text): &Line, look: Look) -> String {
    let cut: String = text.chars().take(look.width).collect();
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
mod tests {
    use super::*;
    use crate::cli::core::Seen;

    const LOOK: Look = Look {
        width: 60,
        height: 30,
        colour: false,
        blocks: false,
    };

    fn seen(at: u64, shown_at: u64) -> State {
        let view = format!(
            r#"{{"at":{at},"trouble":"","meters":[{{"name":"ohms-1","bench":"b","connected":true,"trouble":"","shown":"2.4 kΩ","shown_at":{shown_at},"flags":[],"settle":"moving","progress":0.5,"hold":null}}],"jobs":[{{"job":"J5","bench":"b","asset":"pump 3","motor":"pond-1","tester":"","state":"active","ask":{{"test":"winding","point":"main","meter":"ohms-1","say":"Clip A on one lead, clip B on the other.","cautions":["A turning rotor can make voltage."],"confirm":null,"clips_on":true}},"points":[{{"test":"winding","point":"main","state":"now","shown":"","verdict":null,"finding":null,"limits":"2.2 to 2.6"}}],"why":"","banners":["DO NOT ENERGIZE"],"discharge_until":null}}]}}"#
        );
        let mut state = State::new(String::from("J5"));
        state.seen = serde_json::from_str::<Seen>(&view).expect("a view");
        state
    }

    fn text(state: &State, stale: bool) -> String {
        let all: Vec<String> = lines(state, LOOK, stale, "")
            .into_iter()
            .map(|l| l.1)
            .collect();
        all.join("\n")
    }

    #[test]
    fn the_caution_stands_before_the_step_and_limits_beside_the_point() {
        let text = text(&seen(5_000_000_000, 4_500_000_000), false);
        let place = |words: &str| {
            text.find(words)
                .unwrap_or_else(|| panic!("{words:?} is not in\n{text}"))
        };
        assert!(place("! A turning rotor") < place("> Clip A on one lead"));
        assert!(place("!! DO NOT ENERGIZE") < place("kΩ"));
        assert!(place("[#####.....] moving") < place("> winding main"));
        assert!(text.contains("(2.2 to 2.6)"));
    }

    #[test]
    fn a_value_older_than_two_seconds_is_not_shown() {
        let old = text(&seen(9_000_000_000, 4_500_000_000), false);
        assert!(
            !old.contains("kΩ") && old.contains("no data for 4 s"),
            "{old}"
        );
        let lost = text(&seen(5_000_000_000, 4_500_000_000), true);
        assert!(!lost.contains("kΩ"), "{lost}");
    }
}
