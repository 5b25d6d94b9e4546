//! `serve`: the daemon, until it is told to stop.

use std::collections::BTreeMap;
use std::net::SocketAddr;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use tokio::sync::mpsc;

use super::options::{Options, catalogue};
use super::setting::Setter;
use super::{Fail, Out, signals};
use crate::config::{self, Config};
use crate::daemon::{self, Commands, Running};
use crate::review::pages::Questions;
use crate::review::trace::Captures;
use crate::view::{JobState, JobView, MeterView, View};
use crate::web::{ASKED_WAITING, Asked, JobsLog, Open, Setup, Shared, Web};

/// How the daemon is served.
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    #[command(flatten)]
    options: Options,
    /// Without page and API; other commands cannot act through this daemon then
    #[arg(long)]
    no_web: bool,
}

/// Listens, judges and records until SIGTERM or SIGINT.
///
/// # Errors
/// Configuration, a data folder that another daemon holds, a log that could not be written.
pub(crate) fn run(args: &Args) -> Result<(), Fail> {
    let mut config = args.options.load()?;
    // First: a signal while starting is obeyed as soon as there is something to stop.
    let stop = signals::stop()
        .map_err(|e| Fail::Around(anyhow::Error::new(e).context("signals cannot be watched")))?;
    let mut first = true;
    while let Some(changed) = once(args, &config, &stop, first)? {
        config = changed;
        first = false;
    }
    Ok(())
}

/// One daemon, until it is told to stop or its configuration has changed, which
/// is given back then. It says `ready` the first time.
fn once(
    args: &Args,
    config: &Config,
    stop: &signals::Stop,
    first: bool,
) -> Result<Option<Config>, Fail> {
    let catalogue = catalogue(config)?;
    let mut running =
        daemon::start(daemon::Options::configured(config)).map_err(|e| Fail::Around(e.into()))?;
    let again = Arc::new(AtomicBool::new(false));
    let setter = Setter::new(
        args.options.given(),
        config,
        running.view_sender(),
        Arc::clone(&again),
    );
    let setter = Arc::new(setter);
    let web = match args.no_web {
        true => None,
        false => match Served::start(config, catalogue, &mut running, Some(Arc::clone(&setter))) {
            Ok(web) => Some(web),
            Err(fail) => {
                // What began ends in order, whatever comes of that: the address is said.
                _ = running.stop("the page cannot be served");
                return Err(fail);
            }
        },
    };
    running.all_tried();
    if first {
        let mut out = Out::new();
        match &web {
            Some(web) => out.line(format_args!("ready http://{}", web.at))?,
            None => out.line("ready")?,
        }
        out.flush()?;
    }
    say_none(config);
    if !running.has_reserve() {
        say_nearly_full(config);
    }
    let mut troubles = Troubles::default();
    let (why, next) = loop {
        if let Some(why) = stop.wait(LOOK) {
            break (why, None);
        }
        troubles.say(&running.view());
        setter.look();
        if is_idle(&running.view())
            && again.swap(false, Ordering::AcqRel)
            && let Some(changed) = reloaded(args, web.as_ref())
        {
            break ("a meter was set up", Some(changed));
        }
    };
    if let Some(web) = web {
        // It ends with the process anyway; the log does not.
        _ = web.web.stop();
    }
    running.stop(why).map_err(|e| Fail::Around(e.into()))?;
    Ok(next)
}

/// Whether the daemon may begin anew: nobody is at work, no meter is checked,
/// and no winding waits for the end of its discharge, which a stop would forget.
pub(super) fn is_idle(view: &View) -> bool {
    let busy = |job: &JobView| job.state == JobState::Active || job.discharge_until.is_some();
    !view.jobs.iter().any(busy) && view.discharging.is_empty() && view.proving.is_empty()
}

/// The configuration as it is now, at the address that pages know. One that
/// does not hold is said, and the daemon goes on as it is.
#[expect(clippy::print_stderr, reason = "talk goes to stderr")]
fn reloaded(args: &Args, web: Option<&Served>) -> Option<Config> {
    match config::load(&args.options.given()) {
        Ok(mut config) => {
            if let Some(web) = web {
                config.web.listen = web.at;
            }
            Some(config)
        }
        Err(fault) => {
            eprintln!("stillohm: the configuration has changed and does not hold: {fault}");
            None
        }
    }
}

/// How often ports are looked at, to say what troubles them.
const LOOK: Duration = Duration::from_millis(500);

/// What was last said about each meter's port.
#[derive(Default)]
struct Troubles {
    said: BTreeMap<String, String>,
    frames: BTreeMap<String, Frames>,
}

/// What a meter's line had brought when it last gave a reading.
#[derive(Default)]
struct Frames {
    good: u64,
    bad: u64,
}

/// So many refused frames in a row are no glitch.
const GARBLED: u64 = 8;

impl Troubles {
    /// Says what has changed, once.
    #[expect(clippy::print_stderr, reason = "talk goes to stderr")]
    fn say(&mut self, view: &View) {
        for news in self.news(view) {
            eprintln!("stillohm: {news}");
        }
    }

    fn news(&mut self, view: &View) -> Vec<String> {
        let mut news = Vec::new();
        if !view.trouble.is_empty() && self.changed("", &view.trouble) {
            news.push(view.trouble.clone());
        }
        for meter in &view.meters {
            let garbled = meter.connected && self.garbled(meter);
            let now = match (meter.connected, meter.trouble.as_str()) {
                (true, _) if garbled => "garbled",
                (true, _) => "listening",
                (false, "") => continue,
                (false, trouble) => trouble,
            };
            if !self.changed(&meter.name, now) {
                continue;
            }
            let (name, port) = (&meter.name, &meter.port);
            news.push(match garbled {
                // The last refusal may differ each time: said once all the same.
                true => format!(
                    "{name} on {port}: what comes gives no reading of {} ({}): compare baud rate and protocol with the meter's; `stillohm protocols list` shows the protocols",
                    meter.protocol, meter.last_bad
                ),
                false if meter.connected => format!("{name} on {port}: {now}"),
                false => format!("{name} on {port}: {now} (tried again)"),
            });
        }
        news
    }

    /// Whether only refused frames have come for a while.
    fn garbled(&mut self, meter: &MeterView) -> bool {
        let last = self.frames.entry(meter.name.clone()).or_default();
        if meter.good_frames != last.good || meter.bad_frames < last.bad {
            *last = Frames {
                good: meter.good_frames,
                bad: meter.bad_frames,
            };
        }
        meter.bad_frames - last.bad >= GARBLED
    }

    fn changed(&mut self, what: &str, now: &str) -> bool {
        self.said.insert(what.to_owned(), now.to_owned()).as_deref() != Some(now)
    }
}

/// The API and where it listens.
pub(super) struct Served {
    pub(super) web: Web,
    pub(super) at: SocketAddr,
}

impl Served {
    /// Opens the configured address. One that other machines reach is joined
    /// by a loopback address, through which commands on this machine act.
    pub(super) fn start(
        config: &Config,
        catalogue: crate::catalogue::Catalogue,
        running: &mut Running,
        setter: Option<Arc<Setter>>,
    ) -> Result<Self, Fail> {
        let web = &config.web;
        let bind = |listen: SocketAddr, token, commands| {
            Open::bind(listen, token, commands).map_err(|e| {
                let what = format!(
                    "{listen} cannot be listened on: another program may have it; write another listen in [web], or use --no-web"
                );
                Fail::Around(anyhow::Error::new(e).context(what))
            })
        };
        let mut open = vec![bind(web.listen, web.token.clone(), web.commands)?];
        let at = open[0].address();
        if !web.listen.ip().is_loopback() {
            open.push(bind(SocketAddr::from(([127, 0, 0, 1], 0)), None, true)?);
            warn_plain(at);
        }
        let loopback = open.last().map_or(at, Open::address);
        let (asked, waiting) = mpsc::channel(ASKED_WAITING);
        let commands = running.commands();
        std::thread::Builder::new()
            .name(String::from("asked"))
            .spawn(move || answer(waiting, &commands))
            .map_err(|e| {
                Fail::Around(anyhow::Error::new(e).context("the system gives no thread"))
            })?;
        let shared = Shared {
            view: running.view_sender(),
            rows: running.rows_sender(),
            asked,
            catalogue: Arc::new(catalogue),
            jobs: Arc::new(JobsLog::new(config.data.join("log"))),
            setup: setter.map(|setter| -> Arc<dyn Setup> { setter }),
            traces: Arc::new(Captures::new(config.data.join("captures"))),
            reviews: Arc::new(Questions::new(config.data.join("log"))),
        };
        let web = Web::start(open, shared).map_err(|e| {
            Fail::Around(anyhow::Error::new(e).context("the system gives no thread"))
        })?;
        let note = format!("pid {} http {loopback}", std::process::id());
        running.note(&note).map_err(|e| {
            Fail::Around(anyhow::Error::new(e).context("the data folder cannot be written"))
        })?;
        Ok(Self { web, at })
    }
}

/// Puts what the network asks for to the engine, one after the other.
fn answer(mut waiting: mpsc::Receiver<Asked>, commands: &Commands) {
    while let Some(asked) = waiting.blocking_recv() {
        let outcome = commands.ask(asked.by, asked.act);
        // Whoever asked may have gone; then nobody wants the answer.
        drop(asked.reply.send(outcome));
    }
}

#[expect(clippy::print_stderr, reason = "talk goes to stderr")]
fn warn_plain(at: SocketAddr) {
    eprintln!(
        "stillohm: {at} is reached by other machines over plain HTTP: what passes can be read on the way"
    );
}

#[expect(clippy::print_stderr, reason = "talk goes to stderr")]
fn say_none(config: &Config) {
    if config.settings.meters.is_empty() {
        eprintln!(
            "stillohm: no meter is configured: write [[meter]] in stillohm.toml, or give --meter"
        );
    }
}

#[expect(clippy::print_stderr, reason = "talk goes to stderr")]
fn say_nearly_full(config: &Config) {
    eprintln!(
        "stillohm: {}: the disk is nearly full: make room, or what is measured will soon NOT be RECORDED",
        config.data.display()
    );
}

#[cfg(test)]
mod tests {
    use super::*;

    fn heard(good_frames: u64, bad_frames: u64) -> View {
        let meter = MeterView {
            name: String::from("ohms-1"),
            bench: String::from("bench-1"),
            protocol: String::from("text-line"),
            port: String::from("/dev/pond"),
            calibration: String::new(),
            connected: true,
            trouble: String::new(),
            shown: String::new(),
            shown_at: None,
            flags: Vec::new(),
            settle: "no contact",
            progress: 0.0,
            hold: None,
            ohms: None,
            over_range: false,
            test_volts: None,
            good_frames,
            bad_frames,
            last_bad: String::from("a line of no number"),
            last_bad_bytes: String::new(),
            battery_percent: None,
        };
        View {
            meters: vec![meter],
            ..View::default()
        }
    }

    #[test]
    fn a_line_of_which_nothing_is_understood_is_said_once_and_again_when_it_is_mended() {
        let mut troubles = Troubles::default();
        let listening = vec![String::from("ohms-1 on /dev/pond: listening")];
        assert_eq!(troubles.news(&heard(0, 0)), listening);
        // A glitch among readings is none.
        assert_eq!(troubles.news(&heard(40, 7)), Vec::<String>::new());
        let garbled = troubles.news(&heard(40, 15)).join("\n");
        for words in ["/dev/pond", "text-line (a line of no number)", "baud rate"] {
            assert!(garbled.contains(words), "{words:?} is not in {garbled:?}");
        }
        assert_eq!(troubles.news(&heard(40, 900)), Vec::<String>::new());
        assert_eq!(troubles.news(&heard(41, 900)), listening);
        let mut gone = heard(41, 900);
        gone.meters[0].connected = false;
        gone.meters[0].trouble = String::from("unplugged");
        let said = ["ohms-1 on /dev/pond: unplugged (tried again)"];
        assert_eq!(troubles.news(&gone), said);
    }
}
