//! What the demo says: a line a row, cautions, live digits.
//!
//! Pure: rows and views in, lines out. Verdicts and reasons are the program's
//! own words; nothing is said here that the log does not say.

use core::time::Duration;

use super::super::words;
use crate::row::{Event, JobOutcome, Recorded, Row, Verdict};
use crate::view::{JobState, JobView, MeterView, View};

/// Colours, or none.
#[derive(Clone, Copy, Debug)]
pub(super) struct Paint {
    /// Whether colours are wanted: never the only sign of anything.
    pub(super) on: bool,
    /// Columns.
    pub(super) wide: usize,
}

/// Where a reason begins: under the value it explains.
const INDENT: usize = 17;

impl Paint {
    fn code(self, code: &str, text: &str) -> String {
        if self.on {
            format!("\x1b[{code}m{text}\x1b[0m")
        } else {
            text.to_owned()
        }
    }

    pub(super) fn bold(self, text: &str) -> String {
        self.code("1", text)
    }

    pub(super) fn dim(self, text: &str) -> String {
        self.code("2", text)
    }

    /// A verdict, with a sign of its own and a colour.
    fn verdict(self, verdict: Verdict) -> String {
        let (sign, code) = match verdict {
            Verdict::Pass => ("✓", "32"),
            Verdict::Fail => ("✗", "1;31"),
            Verdict::Undecided => ("?", "33"),
            Verdict::NotJudged => ("·", "2"),
        };
        self.code(code, &format!("{sign} {:<10}", verdict.word()))
    }

    /// What a job came to, in words that clear nothing.
    pub(super) fn outcome(self, outcome: JobOutcome) -> String {
        match outcome {
            JobOutcome::FaultFound => self.code("1;31", "✗ fault found"),
            JobOutcome::Undecided => self.code("33", "? undecided"),
            JobOutcome::Incomplete => self.code("33", "? incomplete"),
            JobOutcome::NoFaultFound => self.code("32", "✓ no fault found"),
        }
    }

    /// A caution, before the step that it is for.
    pub(super) fn caution(self, asset: &str, caution: &str) -> Vec<String> {
        self.under(&format!("{asset:<6} ! "), caution, "33")
    }

    /// What is asked.
    pub(super) fn ask(self, asset: &str, say: &str) -> Vec<String> {
        self.under(&format!("{asset:<6} → "), say, "36")
    }

    /// Words after a head, wrapped under themselves.
    fn under(self, head: &str, words: &str, code: &str) -> Vec<String> {
        let head = format!("       {head}");
        let indent = head.chars().count();
        let room = self.wide.saturating_sub(indent).max(20);
        wrap(words, room)
            .into_iter()
            .enumerate()
            .map(|(n, line)| {
                let before = if n == 0 {
                    head.clone()
                } else {
                    " ".repeat(indent)
                };
                self.code(code, &format!("{before}{line}"))
            })
            .collect()
    }

    /// The lines of a row, `seconds` after the demo began, about a machine that is `what`; none for one that
    /// says nothing to a person at the bench.
    pub(super) fn row(self, seconds: f64, what: &str, row: &Row) -> Vec<String> {
        let head = format!("{seconds:5.1}  {:<6} ", row.asset);
        match row.event {
            Event::Value | Event::Open | Event::OverRange | Event::Aborted | Event::Judged => {
                let place = format!("{} {}", row.test, row.point);
                let shown = if row.event == Event::Judged {
                    "judged"
                } else if row.event == Event::Aborted {
                    "aborted"
                } else {
                    &row.shown
                };
                let verdict = row.verdict.map(|v| self.verdict(v)).unwrap_or_default();
                let finding = row.finding.map(|f| f.word()).unwrap_or_default();
                let mut lines = vec![format!(
                    "{head}{place:<26} {}  {verdict} {finding}",
                    self.bold(&format!("{shown:>12}"))
                )];
                lines.extend(self.reason(&terms(row)));
                lines
            }
            Event::JobStart => vec![
                String::new(),
                format!(
                    "{head}{}",
                    self.bold(&format!(
                        "{what} {} on {}, job {}",
                        row.motor, row.bench, row.job
                    ))
                ),
            ],
            Event::Attested => {
                let what = row.reason.split(':').next().unwrap_or_default();
                vec![self.dim(&format!("{head}confirmed: {}", what.replace('_', " ")))]
            }
            Event::Gap | Event::Clock => {
                let mut lines = vec![format!("{head}{} {}", row.event, row.meter)];
                lines.extend(self.reason(&row.reason));
                lines
            }
            _ => Vec::new(),
        }
    }

    fn reason(self, reason: &str) -> Vec<String> {
        if reason.is_empty() {
            return Vec::new();
        }
        let room = self.wide.saturating_sub(INDENT).max(20);
        wrap(reason, room)
            .into_iter()
            .map(|line| self.dim(&format!("{:INDENT$}{line}", "")))
            .collect()
    }

    /// A bench, live: its digits, and what to do next below them.
    pub(super) fn live(self, bench: &str, view: &View) -> [String; 2] {
        let here = |job: &&JobView| job.bench == bench && job.state == JobState::Active;
        let job = view.jobs.iter().find(here);
        let meter = job
            .and_then(|job| view.meters.iter().find(|m| m.name == job.ask.meter))
            .or_else(|| view.meters.iter().find(|m| m.bench == bench));
        let asset = job.map(|job| job.asset.as_str()).unwrap_or_default();
        let say = job.map(|job| job.ask.say.as_str()).unwrap_or_default();
        let (name, digits, state) = meter.map(|m| live(m, view)).unwrap_or_default();
        let digits = self.bold(&format!("{digits:>12}"));
        let cut: String = format!("       → {say}")
            .chars()
            .take(self.wide.saturating_sub(1))
            .collect();
        [
            format!("{bench} {asset:<6} {name:<7}{digits}  {state}"),
            self.dim(&cut),
        ]
    }

    /// The end of a job: its outcome and its reasons, and the chain to keep elsewhere.
    pub(super) fn end(self, what: &str, end: &Recorded) -> Vec<String> {
        let row = &end.row;
        let (outcome, why) = row.reason.split_once(": ").unwrap_or((&row.reason, ""));
        let outcome = match JobOutcome::from_word(outcome) {
            Some(outcome) => self.outcome(outcome),
            None => outcome.to_owned(),
        };
        let mut lines = vec![format!(
            "  {:<6} {:<26} {outcome}",
            row.asset,
            format!("{what} {}", row.motor)
        )];
        let room = self.wide.saturating_sub(9).max(20);
        for reason in words::terms(why) {
            lines.extend(
                wrap(reason, room)
                    .iter()
                    .map(|line| format!("         {line}")),
            );
        }
        lines.push(self.dim(&format!(
            "         keep elsewhere: {}:{}",
            end.seq, end.chain
        )));
        lines
    }
}

/// The terms of a verdict. A pass is told without its doubts and its rules,
/// which the log has; whatever is not a pass, by all of its reason.
fn terms(row: &Row) -> String {
    const RULES: [&str; 7] = [
        "U ",
        "not corrected",
        "limits narrower",
        "simple",
        "guarded",
        "subtracted",
        "pass",
    ];
    if row.verdict != Some(Verdict::Pass) {
        return row.reason.clone();
    }
    let parts = words::terms(&row.reason);
    let told = parts
        .into_iter()
        .filter(|part| !RULES.iter().any(|rule| part.starts_with(rule)));
    told.collect::<Vec<_>>().join("; ")
}

/// A live value that is older than this is not live.
const STALE: Duration = Duration::from_secs(2);

/// A meter's name, digits and state; no digits when they are not of now.
fn live(meter: &MeterView, view: &View) -> (String, String, String) {
    let state = match meter.hold {
        Some((held, whole)) if meter.settle == "holding" => {
            format!("holding {held:.0} of {whole:.0} s")
        }
        _ => {
            let full = (meter.progress.clamp(0.0, 1.0) * 6.0) as usize;
            format!(
                "{:<16} {}{}",
                meter.settle,
                "▰".repeat(full),
                "▱".repeat(6 - full)
            )
        }
    };
    let fresh = meter.shown_at.is_some_and(|at| view.at.since(at) <= STALE);
    let digits = if fresh { meter.shown.as_str() } else { "—" };
    (meter.name.clone(), digits.to_owned(), state)
}

/// Lines of at most `room` characters, broken at spaces where there are any.
fn wrap(words: &str, room: usize) -> Vec<String> {
    let mut lines = vec![String::new()];
    for word in words.split_whitespace() {
        let last = lines.last_mut().expect("there is always a last line");
        let fits = last.is_empty() || last.chars().count() + 1 + word.chars().count() <= room;
        if !fits {
            lines.push(word.to_owned());
        } else {
            if !last.is_empty() {
                last.push(' ');
            }
            last.push_str(word);
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::row::Finding;
    use crate::stamp::Wall;

    const PLAIN: Paint = Paint {
        on: false,
        wide: 60,
    };

    #[test]
    fn a_value_stands_on_one_line_with_its_reason_below() {
        let mut row = Row::new(Event::Value, Wall(0));
        row.asset = String::from("CP-07");
        row.test = String::from("winding");
        row.point = String::from("main");
        row.shown = String::from("40.73 Ω");
        row.verdict = Some(Verdict::Pass);
        row.finding = Some(Finding::Within);
        row.reason = String::from(
            "shown 40.73 less leads 0.12 is 40.61 Ω; U 3.7 Ω (k = 2; meter 0.1, leads 0.04); limits 38 to 44; pass",
        );
        assert_eq!(
            PLAIN.row(12.34, "circulation pump", &row),
            [
                " 12.3  CP-07  winding main                    40.73 Ω  ✓ pass       within",
                "                 shown 40.73 less leads 0.12 is 40.61 Ω;",
                "                 limits 38 to 44",
            ]
        );
    }

    #[test]
    fn what_is_not_a_pass_gives_all_its_reasons() {
        let mut row = Row::new(Event::Value, Wall(0));
        row.verdict = Some(Verdict::Fail);
        row.reason = String::from("a; b; limits c; do not energize");
        assert_eq!(terms(&row), row.reason);
    }

    #[test]
    fn a_fail_is_told_from_a_pass_without_colour() {
        let signs: Vec<char> = Verdict::ALL
            .iter()
            .filter_map(|v| PLAIN.verdict(*v).chars().next())
            .collect();
        assert_eq!(signs, ['✗', '?', '·', '✓']);
    }

    #[test]
    fn no_line_is_longer_than_the_terminal_unless_a_word_is() {
        let lines = wrap("aa bbb cccc dd e ffffffffffffffffffffffff g", 7);
        assert_eq!(
            lines,
            ["aa bbb", "cccc dd", "e", "ffffffffffffffffffffffff", "g"]
        );
    }

    #[test]
    fn a_caution_is_marked_before_its_words() {
        let lines = PLAIN.caution("CP-07", "The test voltage can kill.");
        assert_eq!(lines, ["       CP-07  ! The test voltage can kill."]);
    }
}
