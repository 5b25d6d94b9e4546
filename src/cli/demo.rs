//! `demo`: simulated meters through the whole chain.
//!
//! The meters stand on real ports, the daemon is the one that `serve` runs, and
//! a simulated person answers what it asks. Nothing is sped up, and nothing in
//! the program knows that the meters are simulated.

mod scene;
mod screen;
mod show;

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;
use std::time::Duration;

use anyhow::Context as _;
use tokio::sync::broadcast::Receiver;
use tokio::sync::broadcast::error::TryRecvError;

use super::Fail;
use super::serve::Served;
use crate::catalogue::Catalogue;
use crate::clock::Clock;
use crate::config::{self, Config, Given};
use crate::daemon;
use crate::row::Recorded;
use crate::sim::hatchery;
use crate::stamp::Stamp;
use scene::Bench;
use screen::Screen;

/// What `demo` is asked.
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    /// End by itself when every motor is through
    #[arg(long)]
    once: bool,
    /// The data folder; a new temporary one if absent
    #[arg(long, value_name = "DIR")]
    data: Option<PathBuf>,
}

/// Chatter and flicker are the same in every run.
const SEED: u64 = 7;
/// How often the person looks at the screen.
const LOOK: Duration = Duration::from_millis(40);
/// The last rows of a job are on their way for this long at most.
const LAST_ROWS: Duration = Duration::from_millis(300);
/// `--once` ends by then, come what may.
const ONCE_MAX: Duration = Duration::from_secs(85);
/// Without `--once`: the pause before the next three motors.
const PAUSE: Duration = Duration::from_secs(10);

/// Runs the demo.
///
/// # Errors
/// What the surroundings refuse; with `--once`, a motor that did not come through.
pub(crate) fn run(args: Args) -> Result<(), Fail> {
    let stop = stop_signal()?;
    let clock = Clock::start();
    let mut benches = scene::open(hatchery::stands(SEED), clock)
        .context("each simulated meter needs a pseudo-terminal or a TCP port of its own")
        .map_err(Fail::Around)?;
    let data = args.data.unwrap_or_else(temporary);
    let (config, catalogue) = configured(&data, &benches)?;
    let mut running = daemon::start(daemon::Options::new(data.clone(), config.settings.clone()))
        .map_err(|e| Fail::Around(e.into()))?;
    let served = Served::start(&config, catalogue.clone(), &mut running, None)?;
    let mut screen = Screen::new();
    screen.opening(&benches, &data, served.at)?;
    let ended = work(
        args.once,
        &running,
        &mut benches,
        &catalogue,
        &mut screen,
        &stop,
    )?;
    // It ends with the process anyway; the log does not.
    _ = served.web.stop();
    running
        .stop("the demo ended")
        .map_err(|e| Fail::Around(e.into()))?;
    screen.closing(&data)?;
    match ended {
        Ended::Through | Ended::Asked => Ok(()),
        Ended::Late => Err(Fail::No(String::from(
            "the demo did not come to its end within 85 s: what is missing stands above; a busy machine may be the cause",
        ))),
    }
}

/// Why the work is over.
enum Ended {
    /// Every motor is through.
    Through,
    /// Somebody pressed Ctrl-C.
    Asked,
    /// It took too long.
    Late,
}

/// Looks, says, acts, until the end.
fn work(
    once: bool,
    running: &daemon::Running,
    benches: &mut [Bench],
    catalogue: &Catalogue,
    screen: &mut Screen,
    stop: &AtomicBool,
) -> Result<Ended, Fail> {
    // Somebody looks, so the daemon keeps the view fresh.
    let watching = running.watch();
    let (clock, commands) = (running.clock(), running.commands());
    let mut rows = running.rows();
    let mut through: Option<Stamp> = None;
    loop {
        while let Some(row) = next_row(&mut rows) {
            screen.row(&row)?;
        }
        let view = Arc::clone(&watching.borrow());
        for bench in &mut *benches {
            bench.step(&view, &commands, catalogue, screen)?;
        }
        screen.live(&view, benches)?;
        let now = clock.now();
        if benches.iter().all(Bench::is_through) {
            let since = now.since(*through.get_or_insert(now));
            if once && since > LAST_ROWS {
                return Ok(Ended::Through);
            }
            if !once && since > PAUSE {
                through = None;
                benches.iter_mut().for_each(Bench::again);
            }
        } else if once && now > Stamp::ZERO.plus(ONCE_MAX) {
            return Ok(Ended::Late);
        }
        if stop.load(Ordering::Relaxed) {
            return Ok(Ended::Asked);
        }
        thread::sleep(LOOK);
    }
}

fn next_row(rows: &mut Receiver<Arc<Recorded>>) -> Option<Arc<Recorded>> {
    loop {
        match rows.try_recv() {
            Ok(row) => return Some(row),
            Err(TryRecvError::Lagged(_)) => {}
            Err(TryRecvError::Empty | TryRecvError::Closed) => return None,
        }
    }
}

/// A folder of this run alone, so that its log begins at 1.
fn temporary() -> PathBuf {
    std::env::temp_dir().join(format!("stillohm-demo-{}", std::process::id()))
}

/// Ctrl-C and SIGTERM end the demo in order.
fn stop_signal() -> Result<Arc<AtomicBool>, Fail> {
    let stop = Arc::new(AtomicBool::new(false));
    #[cfg(unix)]
    for signal in [signal_hook::consts::SIGINT, signal_hook::consts::SIGTERM] {
        signal_hook::flag::register(signal, Arc::clone(&stop))
            .context("cannot listen to Ctrl-C")
            .map_err(Fail::Around)?;
    }
    Ok(stop)
}

/// Writes what a user would write and takes it through the same door. The
/// files have names of their own, so that nothing of a user's is overwritten.
fn configured(data: &Path, benches: &[Bench]) -> Result<(Config, Catalogue), Fail> {
    let (settings, motors) = (data.join("demo.toml"), data.join("demo-motors.csv"));
    let write = |path: &Path, text: &str| {
        std::fs::write(path, text)
            .with_context(|| format!("{}: cannot be written", path.display()))
            .map_err(Fail::Around)
    };
    std::fs::create_dir_all(data)
        .with_context(|| format!("{}: cannot be created", data.display()))
        .map_err(Fail::Around)?;
    write(&motors, hatchery::CATALOGUE)?;
    write(&settings, &scene::settings(benches))?;
    let mut config = config::load(&Given {
        config: Some(settings),
        data: Some(data.to_owned()),
        motors: Some(motors.clone()),
        meters: Vec::new(),
    })?;
    // Beside a daemon that has the usual port.
    config.web.listen.set_port(0);
    Ok((config, Catalogue::read(&motors)?))
}
