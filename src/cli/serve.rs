//! `serve`: the daemon, until it is told to stop.

use std::collections::BTreeMap;
use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Duration;

use tokio::sync::mpsc;

use super::options::{Options, catalogue};
use super::{Fail, Out, signals};
use crate::config::Config;
use crate::daemon::{self, Commands, Running};
use crate::view::View;
use crate::web::{ASKED_WAITING, Asked, Open, Shared, Web};

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
    let config = args.options.load()?;
    let catalogue = catalogue(&config)?;
    // First: a signal while starting is obeyed as soon as there is something to stop.
    let stop = signals::stop()
        .map_err(|e| Fail::Around(anyhow::Error::new(e).context("signals cannot be watched")))?;
    let mut running =
        daemon::start(daemon::Options::configured(&config)).map_err(|e| Fail::Around(e.into()))?;
    let web = match args.no_web {
        true => None,
        false => match Served::start(&config, catalogue, &mut running) {
            Ok(web) => Some(web),
            Err(fail) => {
                // What began ends in order, whatever comes of that: the address is said.
                _ = running.stop("the page cannot be served");
                return Err(fail);
            }
        },
    };
    running.all_tried();
    let mut out = Out::new();
    match &web {
        Some(web) => out.line(format_args!("ready http://{}", web.at))?,
        None => out.line("ready")?,
    }
    out.flush()?;
    say_none(&config);
    if !running.has_reserve() {
        say_nearly_full(&config);
    }
    let mut troubles = Troubles::default();
    let why = loop {
        if let Some(why) = stop.wait(LOOK) {
            break why;
        }
        troubles.say(&running.view());
    };
    if let Some(web) = web {
        // It ends with the process anyway; the log does not.
        _ = web.web.stop();
    }
    running.stop(why).map_err(|e| Fail::Around(e.into()))
}

/// How often ports are looked at, to say what troubles them.
const LOOK: Duration = Duration::from_millis(500);

/// What was last said about each meter's port.
#[derive(Default)]
struct Troubles(BTreeMap<String, String>);

impl Troubles {
    /// Says what has changed, once.
    #[expect(clippy::print_stderr, reason = "talk goes to stderr")]
    fn say(&mut self, view: &View) {
        if !view.trouble.is_empty() && self.changed("", &view.trouble) {
            eprintln!("stillohm: {}", view.trouble);
        }
        for meter in &view.meters {
            let now = match (meter.connected, meter.trouble.as_str()) {
                (true, _) => "listening",
                (false, "") => continue,
                (false, trouble) => trouble,
            };
            if self.changed(&meter.name, now) {
                eprintln!("stillohm: {} on {}: {now}", meter.name, meter.port);
            }
        }
    }

    fn changed(&mut self, what: &str, now: &str) -> bool {
        self.0.insert(what.to_owned(), now.to_owned()).as_deref() != Some(now)
    }
}

/// The API and where it listens.
struct Served {
    web: Web,
    at: SocketAddr,
}

impl Served {
    /// Opens the configured address. One that other machines reach is joined
    /// by a loopback address, through which commands on this machine act.
    fn start(
        config: &Config,
        catalogue: crate::catalogue::Catalogue,
        running: &mut Running,
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
