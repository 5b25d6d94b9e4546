//! A meter listened to before it is configured: the same straight line from
//! port to view, with nothing recorded.

use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::JoinHandle;
use std::time::Duration;

use super::StartError;
use super::start::port_plans;
use crate::clock::Clock;
use crate::engine::{Engine, Output, REVISION};
use crate::input::{Begin, Input, SCHEMA, Settings, What};
use crate::meter::PortId;
use crate::source;
use crate::source::queue::{Limit, Receiver, Woken, queue};
use crate::stamp::Stamp;
use crate::text::Text;
use crate::view::View;

/// A view is made this often.
const VIEW: Duration = Duration::from_millis(100);

/// A meter being listened to, until dropped.
#[derive(Debug)]
pub struct Trial {
    source: Option<source::Running>,
    view: Arc<Mutex<View>>,
    ended: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

impl Trial {
    /// Listens to the ports of `settings`.
    ///
    /// # Errors
    /// The settings cannot be used, or the system gives no thread.
    pub fn start(settings: Settings) -> Result<Self, StartError> {
        let clock = Clock::start();
        let plans = port_plans(&settings)?;
        let begin = Begin {
            schema: SCHEMA,
            engine: REVISION,
            version: Text::clean(env!("CARGO_PKG_VERSION")),
            wall: clock.began(),
            continues: false,
            next_seq: 1,
            chain: Text::clean(""),
            capture: Text::clean(""),
            before: None,
            log_id: Text::clean("trial"),
            repaired: Vec::new(),
            unfinished: Vec::new(),
            proved: Vec::new(),
            settings,
        };
        let mut engine = Engine::new();
        let first = Input {
            at: Stamp::ZERO,
            what: What::Begin(Box::new(begin)),
        };
        engine.input(&first, &mut Output::default())?;
        let (sender, receiver) = queue(Limit::default());
        let view = Arc::new(Mutex::new(engine.view()));
        let ended = Arc::new(AtomicBool::new(false));
        let thread = std::thread::Builder::new()
            .name(String::from("trial"))
            .spawn({
                let (view, ended) = (Arc::clone(&view), Arc::clone(&ended));
                move || listen(clock, engine, &receiver, &view, &ended)
            })
            .map_err(StartError::Thread)?;
        let source = source::start(plans, clock, sender)?;
        Ok(Self {
            source: Some(source),
            view,
            ended,
            thread: Some(thread),
        })
    }

    /// What is heard now.
    pub fn view(&self) -> View {
        self.view
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .clone()
    }
}

impl Drop for Trial {
    fn drop(&mut self) {
        self.ended.store(true, Ordering::Release);
        drop(self.source.take());
        if let Some(thread) = self.thread.take() {
            // A panic was printed by its thread.
            drop(thread.join());
        }
    }
}

/// The last `count` meters of settings with their ports, and nothing else.
pub fn last_meters(settings: &Settings, count: usize) -> Settings {
    let from = settings.meters.len().saturating_sub(count);
    let mut meters = settings.meters[from..].to_vec();
    let mut ports = Vec::new();
    let mut taken: Vec<PortId> = Vec::new();
    for meter in &mut meters {
        let at = match taken.iter().position(|port| *port == meter.port) {
            Some(at) => at,
            None => {
                ports.extend(settings.ports.get(usize::from(meter.port.0)).cloned());
                taken.push(meter.port);
                taken.len() - 1
            }
        };
        meter.port = PortId(u16::try_from(at).unwrap_or(u16::MAX));
    }
    Settings {
        descriptions: settings.descriptions.clone(),
        ports,
        meters,
        ..Settings::default()
    }
}

fn listen(
    clock: Clock,
    mut engine: Engine,
    queue: &Receiver,
    view: &Mutex<View>,
    ended: &AtomicBool,
) {
    let mut inputs = Vec::new();
    while !ended.load(Ordering::Acquire) {
        let woken = queue.recv_all(Some(VIEW), &mut inputs);
        inputs.push(Input {
            at: clock.now(),
            what: What::Tick,
        });
        // What a trial makes is for nobody's log.
        let mut output = Output::default();
        for input in inputs.drain(..) {
            if engine.input(&input, &mut output).is_err() {
                return;
            }
        }
        let mut seen = engine.view();
        seen.at = clock.now();
        *view.lock().unwrap_or_else(PoisonError::into_inner) = seen;
        if woken == Woken::Closed {
            return;
        }
    }
}
