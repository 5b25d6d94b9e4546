//! A job without a terminal: what is asked goes to stderr, what is recorded to
//! stdout, and each line of stdin is a command.

use std::collections::VecDeque;
use std::io::BufRead as _;
use std::sync::mpsc::Receiver;

use serde_json::{Value, json};

use super::super::core::{Core, News};
use super::super::{Fail, Out};
use super::say_end;
use super::state::{Meaning, State, point_line};
use crate::row::JobOutcome;
use crate::text::instead;

const COMMANDS: [&str; 10] = [
    "yes", "clips on", "skip", "redo", "park", "note", "again", "withdraw", "enter", "end",
];

/// What is typed ahead of its question.
const ANSWERS: [&str; 2] = ["yes", "clips on"];

/// Works through the job.
pub(super) fn work(
    core: &Core,
    news: &Receiver<News>,
    mut state: State,
) -> Result<Option<JobOutcome>, Fail> {
    read_lines(core);
    let mut out = Out::new();
    let mut talk = Talk::default();
    let mut waiting: VecDeque<String> = VecDeque::new();
    let mut typed_all = false;
    loop {
        let next = news
            .recv()
            .map_err(|_| Fail::around("nothing is heard any more"))?;
        match next {
            News::Line(line) => waiting.push_back(line),
            News::TypedAll => typed_all = true,
            other => match state.take(other)? {
                Meaning::Ended(row) => return say_end(&mut out, &row, &state, None),
                Meaning::Said(row) => {
                    if let Some(line) = point_line(&row) {
                        out.line(line)?;
                        if let Some(reason) = row["reason"].as_str().filter(|r| !r.is_empty()) {
                            out.line(format_args!("  {reason}"))?;
                        }
                        out.flush()?;
                    }
                }
                Meaning::Aside => {
                    talk.say(&format!(
                        "{} is set aside; go on with: {}",
                        state.job,
                        state.go_on()
                    ));
                    return Ok(None);
                }
                Meaning::Show => talk.ask(&state),
                Meaning::Nothing => {}
            },
        }
        while state.is_settled() && waiting.front().is_some_and(|line| is_due(line, &state)) {
            if let Some(line) = waiting.pop_front() {
                obey(&line, core, &mut state)?;
                if !state.message.is_empty() {
                    talk.say(&format!("{line}: {}", state.message));
                    state.message.clear();
                }
            }
        }
        // Answers may lie ready; what is held up by one is said.
        let held = waiting.iter().any(|line| !ANSWERS.contains(&line.as_str()));
        if let Some(line) = waiting.front().filter(|_| held && state.is_settled()) {
            talk.wait(line);
        }
        let confirm = state.view().is_some_and(|job| job.ask.confirm.is_some());
        if typed_all && waiting.is_empty() && state.is_settled() && confirm {
            talk.say("nothing more is typed, and what is asked needs an answer: the job ends with what it has");
            typed_all = false;
            state.act(core, "end", json!({}))?;
        }
    }
}

fn read_lines(core: &Core) {
    let news = core.news();
    std::thread::spawn(move || {
        for line in std::io::stdin().lock().lines() {
            let Ok(line) = line else { break };
            let line = line.trim().to_owned();
            if !line.is_empty() && news.send(News::Line(line)).is_err() {
                return;
            }
        }
        // Nobody may be listening any more.
        drop(news.send(News::TypedAll));
    });
}

/// An answer waits for its question; everything else is done at once.
fn is_due(line: &str, state: &State) -> bool {
    let Some(job) = state.view() else {
        return false;
    };
    match line {
        "yes" => job.ask.confirm.is_some(),
        // Kept for later it would be said of clips that nobody has looked at.
        "clips on" => job.ask.clips_on || job.ask.confirm.is_some(),
        _ => true,
    }
}

fn obey(line: &str, core: &Core, state: &mut State) -> Result<(), Fail> {
    let (word, rest) = line.split_once(' ').unwrap_or((line, ""));
    let rest = rest.trim();
    let asked = state.view().filter(|job| job.ask.confirm.is_some());
    match (word, rest) {
        ("clips", "on") if asked.is_some() => {
            let say = asked.map(|job| job.ask.say.clone()).unwrap_or_default();
            state.message = format!("not taken; asked is what yes answers: {say}");
            Ok(())
        }
        ("yes", "") | ("clips", "on") => state.confirm(core),
        ("skip", reason) => state.act(core, "skip", json!({ "reason": reason })),
        ("redo", point) => state.act(core, "redo", json!({ "point": point })),
        ("park", reason) => state.act(core, "park", json!({ "reason": reason })),
        ("note", words) => state.act(core, "note", json!({ "note": words })),
        ("withdraw", rest) => {
            let (seq, reason) = rest.split_once(' ').unwrap_or((rest, ""));
            let seq: Value = seq.parse::<u64>().map_or_else(|_| seq.into(), Value::from);
            state.act(core, "withdraw", json!({ "seq": seq, "reason": reason }))
        }
        ("again", "") => {
            let meter = state.meter().map(|m| m.name.clone()).unwrap_or_default();
            state.act(core, "again", json!({ "meter": meter }))
        }
        ("enter", shown) => {
            let meter = state.meter().map(|m| m.name.clone()).unwrap_or_default();
            state.act(core, "enter", json!({ "meter": meter, "shown": shown }))
        }
        ("end", "") => state.act(core, "end", json!({})),
        _ => {
            state.message = format!("unknown command; {}", instead(word, COMMANDS.into_iter()));
            Ok(())
        }
    }
}

/// What was last asked, so that each thing is said once.
#[derive(Default)]
struct Talk {
    asked: String,
    /// What was said to wait, and under which question.
    waits: String,
    banners: Vec<String>,
}

impl Talk {
    fn ask(&mut self, state: &State) {
        let Some(job) = state.view() else { return };
        for banner in &job.banners {
            if !self.banners.contains(banner) {
                self.say(&format!("!! {banner}"));
            }
        }
        self.banners.clone_from(&job.banners);
        if job.ask.say == self.asked {
            return;
        }
        self.asked.clone_from(&job.ask.say);
        for caution in &job.ask.cautions {
            self.say(&format!("! {caution}"));
        }
        let answer = match (&job.ask.confirm, job.ask.clips_on) {
            (Some(_), _) => " [yes]",
            (None, true) => " [clips on]",
            (None, false) => "",
        };
        self.say(&format!("> {}{answer}", job.ask.say));
    }

    /// A line that waits, and with it all behind it: said once a question.
    fn wait(&mut self, line: &str) {
        if self.waits != self.asked {
            self.waits.clone_from(&self.asked);
            self.say(&format!(
                "{line}: waits for a question that it answers; asked is: {}",
                self.asked
            ));
        }
    }

    #[expect(clippy::print_stderr, reason = "talk goes to stderr")]
    fn say(&self, line: &str) {
        eprintln!("{line}");
    }
}
