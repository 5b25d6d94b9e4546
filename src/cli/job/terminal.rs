//! A job in a terminal: one key a step, a foot switch that types ENTER will do.

use std::io::{IsTerminal as _, Read as _};
use std::sync::mpsc::{Receiver, RecvTimeoutError};
use std::time::Duration;

use rustix::termios::{LocalModes, OptionalActions, SpecialCodeIndex, Termios};
use serde_json::{Value, json};

use super::super::core::{Core, News};
use super::super::{Fail, Out};
use super::screen::{Look, Screen, lines};
use super::state::{Meaning, State, point_line};
use super::{object, say_end};
use crate::clock::Clock;
use crate::row::JobOutcome;
use crate::stamp::Stamp;

/// A slow console is painted at most five times a second.
const PAINT_EVERY: Duration = Duration::from_millis(200);
/// Without a view for this long nothing on the screen is live.
const STALE: Duration = Duration::from_secs(2);

/// Whether a person sits at a terminal that can be painted.
pub(super) fn is_one() -> bool {
    let dumb = std::env::var_os("TERM").is_none_or(|term| term == "dumb");
    std::io::stdin().is_terminal() && std::io::stdout().is_terminal() && !dumb
}

/// Works through the job.
pub(super) fn work(
    core: &Core,
    news: &Receiver<News>,
    state: State,
) -> Result<Option<JobOutcome>, Fail> {
    let raw = Raw::enter().map_err(|e| {
        Fail::Around(anyhow::Error::new(e).context("the terminal cannot be set to single keys"))
    })?;
    read_keys(core);
    let mut desk = Desk {
        core,
        state,
        prompt: None,
        out: Out::new(),
        screen: Screen::default(),
        clock: Clock::start(),
        painted: None,
        viewed: Stamp::ZERO,
    };
    let ended = desk.until_end(news);
    desk.screen.leave(&mut desk.out)?;
    desk.out.flush()?;
    drop(raw);
    match ended? {
        Some(row) => say_end(&mut desk.out, &row, &desk.state, Some(look())),
        None => {
            desk.out.line(format_args!(
                "{} is set aside; go on with: {}",
                desk.state.job,
                desk.state.go_on()
            ))?;
            desk.out.flush()?;
            Ok(None)
        }
    }
}

/// What is being typed.
struct Prompt {
    title: &'static str,
    act: &'static str,
    text: String,
}

struct Desk<'a> {
    core: &'a Core,
    state: State,
    prompt: Option<Prompt>,
    out: Out,
    screen: Screen,
    clock: Clock,
    painted: Option<Stamp>,
    viewed: Stamp,
}

impl Desk<'_> {
    /// The job's last row, or none when it was set aside.
    fn until_end(
        &mut self,
        news: &Receiver<News>,
    ) -> Result<Option<serde_json::Map<String, Value>>, Fail> {
        loop {
            let now = match news.recv_timeout(PAINT_EVERY) {
                Ok(News::Key(key)) => {
                    self.key(key)?;
                    true
                }
                Ok(other) => {
                    if matches!(other, News::View(_)) {
                        self.viewed = self.clock.now();
                    }
                    match self.state.take(other)? {
                        Meaning::Ended(row) => return Ok(Some(row)),
                        Meaning::Aside => return Ok(None),
                        Meaning::Said(row) => {
                            self.said(&row)?;
                            true
                        }
                        Meaning::Show | Meaning::Nothing => false,
                    }
                }
                Err(RecvTimeoutError::Timeout) => false,
                Err(RecvTimeoutError::Disconnected) => {
                    return Err(Fail::around("nothing is heard any more"));
                }
            };
            let at = self.clock.now();
            if now
                || self
                    .painted
                    .is_none_or(|painted| at.since(painted) >= PAINT_EVERY)
            {
                self.painted = Some(at);
                self.paint(at)?;
            }
        }
    }

    fn paint(&mut self, at: Stamp) -> Result<(), Fail> {
        let look = look();
        let bottom = match &self.prompt {
            Some(prompt) => format!(
                "{}: {}_   (ENTER does it, ESC goes back)",
                prompt.title, prompt.text
            ),
            None => String::new(),
        };
        let stale = at.since(self.viewed) >= STALE;
        let lines = lines(&self.state, look, stale, &bottom);
        self.screen.paint(&mut self.out, lines, look)
    }

    /// A row of this job: a value that a point has rings. One that was not
    /// asked for does not: who hears nothing looks.
    fn said(&mut self, row: &serde_json::Map<String, Value>) -> Result<(), Fail> {
        if let Some(line) = point_line(row) {
            let of_a_point = row["point"].as_str().is_some_and(|p| !p.is_empty());
            if row["event"] != "judged" && of_a_point {
                self.out.bytes(b"\x07")?;
                self.out.flush()?;
            }
            let reason = row["reason"].as_str().unwrap_or_default();
            self.state.message = format!("{line}: {reason}");
        }
        Ok(())
    }

    fn key(&mut self, key: char) -> Result<(), Fail> {
        if self.prompt.is_some() {
            return self.typed(key);
        }
        let prompt = |title, act, text: String| Some(Prompt { title, act, text });
        self.prompt = match key {
            // A second press before the first has shown its effect is a slip.
            '\r' | '\n' | ' ' if self.state.is_settled() => {
                self.state.confirm(self.core)?;
                None
            }
            's' => prompt("skip this point, why", "skip", String::new()),
            'r' => prompt("redo which point", "redo", self.last_done()),
            'p' => prompt("park the job, why", "park", String::new()),
            'n' => prompt("note", "note", String::new()),
            'e' => prompt("value as the display shows it", "enter", String::new()),
            'w' => prompt("withdraw: row number and why", "withdraw", String::new()),
            'a' => {
                let meter = self.meter();
                self.state
                    .act(self.core, "again", json!({ "meter": meter }))?;
                None
            }
            'q' => prompt("end the job with what it has? type y", "end", String::new()),
            _ => None,
        };
        Ok(())
    }

    /// A key while something is being typed.
    fn typed(&mut self, key: char) -> Result<(), Fail> {
        let Some(prompt) = &mut self.prompt else {
            return Ok(());
        };
        match key {
            '\x1b' => self.prompt = None,
            '\x08' | '\x7f' => {
                prompt.text.pop();
            }
            '\r' | '\n' => {
                if let Some(Prompt { title, act, text }) = self.prompt.take() {
                    if text.trim().is_empty() {
                        self.state.message = format!("{title}: nothing was typed, nothing is done");
                    } else {
                        self.ask(act, text.trim())?;
                    }
                }
            }
            key if !key.is_control() => prompt.text.push(key),
            _ => {}
        }
        Ok(())
    }

    fn ask(&mut self, act: &str, text: &str) -> Result<(), Fail> {
        let said = match act {
            "skip" | "park" => json!({ "reason": text }),
            "redo" => json!({ "point": text }),
            "note" => json!({ "note": text }),
            "enter" => json!({ "meter": self.meter(), "shown": text }),
            "withdraw" => {
                let (seq, reason) = text.split_once(' ').unwrap_or((text, ""));
                let seq: Value = seq.parse::<u64>().map_or_else(|_| seq.into(), Value::from);
                json!({ "seq": seq, "reason": reason })
            }
            _ if text.eq_ignore_ascii_case("y") => json!({}),
            _ => return Ok(()),
        };
        self.state.act(self.core, act, Value::Object(object(said)))
    }

    fn meter(&self) -> String {
        self.state
            .meter()
            .map(|m| m.name.clone())
            .unwrap_or_default()
    }

    fn last_done(&self) -> String {
        let points = self
            .state
            .view()
            .map(|job| job.points.as_slice())
            .unwrap_or_default();
        let done = points.iter().rev().find(|p| p.state == "done");
        done.map(|p| format!("{} {}", p.test, p.point))
            .unwrap_or_default()
    }
}

/// What the terminal is like now: it may have been resized.
fn look() -> Look {
    let size = rustix::termios::tcgetwinsize(std::io::stdout()).ok();
    let or = |found: Option<u16>, usual: usize| found.filter(|n| *n > 0).map_or(usual, usize::from);
    let variable = |name: &str| std::env::var(name).ok().filter(|value| !value.is_empty());
    let locale = ["LC_ALL", "LC_CTYPE", "LANG"]
        .iter()
        .find_map(|name| variable(name));
    let locale = locale.unwrap_or_default().to_lowercase();
    Look {
        width: or(size.map(|s| s.ws_col), 80),
        height: or(size.map(|s| s.ws_row), 24),
        colour: variable("NO_COLOR").is_none(),
        blocks: locale.contains("utf-8") || locale.contains("utf8"),
    }
}

fn read_keys(core: &Core) {
    let news = core.news();
    std::thread::spawn(move || {
        let mut keys = [0; 64];
        loop {
            match std::io::stdin().lock().read(&mut keys) {
                Ok(0) | Err(_) => return,
                // More behind an escape is an arrow or a function key: nobody's answer.
                Ok(count) if count > 1 && keys[0] == 0x1b => {}
                Ok(count) => {
                    for key in String::from_utf8_lossy(&keys[..count]).chars() {
                        if news.send(News::Key(key)).is_err() {
                            return;
                        }
                    }
                }
            }
        }
    });
}

/// The terminal in single keys without echo, until dropped. Ctrl-C stays a signal.
struct Raw(Termios);

impl Raw {
    fn enter() -> rustix::io::Result<Self> {
        let stdin = std::io::stdin();
        let before = rustix::termios::tcgetattr(&stdin)?;
        let mut keys = before.clone();
        keys.local_modes
            .remove(LocalModes::ICANON | LocalModes::ECHO);
        keys.special_codes[SpecialCodeIndex::VMIN] = 1;
        keys.special_codes[SpecialCodeIndex::VTIME] = 0;
        rustix::termios::tcsetattr(&stdin, OptionalActions::Now, &keys)?;
        Ok(Self(before))
    }
}

impl Drop for Raw {
    fn drop(&mut self) {
        // A terminal that is gone needs no restoring.
        _ = rustix::termios::tcsetattr(std::io::stdin(), OptionalActions::Now, &self.0);
    }
}
