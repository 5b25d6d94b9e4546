//! The adapter and the service behind it, watched by one task.
//!
//! Streams of the library do not end when the service exits or the bus dies,
//! so the adapter is asked once a second whether all is well. Whatever breaks
//! is built anew, and every device task hears of it through [`Air`].

use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Duration;

use btleplug::api::{Central as _, CentralEvent, CentralState, Manager as _, ScanFilter};
use btleplug::platform::{Adapter, Manager, PeripheralId};
use tokio::sync::{Notify, broadcast, watch};
use tokio::time::{Instant, sleep, timeout};

use super::why::{Why, short};
use super::{Events, next};

/// The adapter is asked this often whether it and the service live.
const PROBE: Duration = Duration::from_secs(1);
/// An answer that takes longer is none.
pub(super) const ANSWER: Duration = Duration::from_secs(3);
/// So many failures in a row that the service being away does not explain: the bus is dead.
const DEAD: u32 = 3;
/// News waiting for a device task; one that lags looks for itself.
const NEWS: usize = 256;

/// What every device task sees of the radio.
#[derive(Clone, Debug)]
pub(super) struct Air {
    pub(super) state: watch::Receiver<AirState>,
    news: broadcast::Sender<News>,
    seeking: Arc<Seeking>,
}

/// Whether devices can be reached.
#[derive(Clone, Debug)]
pub(super) enum AirState {
    /// Not, and why; nothing if nobody has looked yet.
    Off(Option<Why>),
    /// Through this adapter. Another `turn`: what was connected is not any more.
    /// Another `session`: whatever the library gave before is dead.
    On {
        adapter: Adapter,
        session: u32,
        turn: u32,
    },
}

/// What happened to a device.
#[derive(Clone, Debug)]
pub(super) enum News {
    /// It was heard of.
    Seen(PeripheralId),
    /// It is not connected any more.
    Gone(PeripheralId),
}

#[derive(Debug, Default)]
struct Seeking {
    count: AtomicUsize,
    changed: Notify,
}

/// While it lives, devices are looked for.
#[derive(Debug)]
pub(super) struct Seeks(Arc<Seeking>);

impl Air {
    pub(super) fn news(&self) -> broadcast::Receiver<News> {
        self.news.subscribe()
    }

    pub(super) fn seek(&self) -> Seeks {
        self.seeking.count.fetch_add(1, Ordering::AcqRel);
        self.seeking.changed.notify_one();
        Seeks(Arc::clone(&self.seeking))
    }
}

impl Drop for Seeks {
    fn drop(&mut self) {
        self.0.count.fetch_sub(1, Ordering::AcqRel);
        self.0.changed.notify_one();
    }
}

/// The radio at work, until dropped with its runtime.
pub(super) struct Radio {
    air: Air,
}

impl Radio {
    pub(super) fn start() -> Self {
        let (state_of, state) = watch::channel(AirState::Off(None));
        let (news, _) = broadcast::channel(NEWS);
        let seeking = Arc::new(Seeking::default());
        let air = Air {
            state,
            news: news.clone(),
            seeking: Arc::clone(&seeking),
        };
        let task = Task {
            state: state_of,
            news,
            seeking,
            session: 0,
            turn: 0,
        };
        tokio::task::spawn_local(task.run());
        Self { air }
    }

    pub(super) fn air(&self) -> Air {
        self.air.clone()
    }
}

struct Task {
    state: watch::Sender<AirState>,
    news: broadcast::Sender<News>,
    seeking: Arc<Seeking>,
    session: u32,
    turn: u32,
}

/// How a session ended.
enum Ended {
    /// The adapter is gone; another may be there.
    Adapter,
    /// The bus is dead: what the library gave must not even be dropped, since
    /// it would ask the bus to forget it and panic at the answer.
    Bus,
}

impl Task {
    async fn run(mut self) {
        loop {
            self.session += 1;
            let manager = match timeout(ANSWER, Manager::new()).await {
                Ok(Ok(manager)) => manager,
                Ok(Err(e)) => {
                    self.off(Why::NoService(short(&e.to_string())));
                    sleep(PROBE).await;
                    continue;
                }
                Err(_) => {
                    self.off(Why::NoService(String::from("no answer")));
                    continue;
                }
            };
            let mut failures = 0;
            while failures < DEAD {
                match self.through(&manager).await {
                    Ok(Ended::Adapter) => failures = 0,
                    Ok(Ended::Bus) => break,
                    Err(why) => {
                        let away = matches!(&why, Why::NoService(said) if absent(said));
                        failures = if away || why == Why::NoAdapter {
                            0
                        } else {
                            failures + 1
                        };
                        self.off(why);
                        sleep(PROBE).await;
                    }
                }
            }
        }
    }

    fn off(&mut self, why: Why) {
        self.turn += 1;
        self.state.send_replace(AirState::Off(Some(why)));
    }

    fn on(&mut self, adapter: &Adapter) {
        self.state.send_replace(AirState::On {
            adapter: adapter.clone(),
            session: self.session,
            turn: self.turn,
        });
    }

    /// Watches one adapter for as long as it and the bus live.
    async fn through(&mut self, manager: &Manager) -> Result<Ended, Why> {
        let adapter = choose(manager).await?;
        let events = match timeout(ANSWER, adapter.events()).await {
            Ok(Ok(events)) => events,
            Ok(Err(e)) => return Err(Why::NoService(short(&e.to_string()))),
            Err(_) => return Err(Why::NoService(String::from("no answer"))),
        };
        let mut watch = Watched {
            adapter,
            events,
            on: false,
            scanning: false,
        };
        let ended = self.watch(&mut watch).await;
        if matches!(ended, Ended::Bus) {
            core::mem::forget(watch.events);
        }
        Ok(ended)
    }

    async fn watch(&mut self, watched: &mut Watched) -> Ended {
        let mut failures = 0;
        let mut probe = Instant::now();
        loop {
            tokio::select! {
                event = next(&mut watched.events) => match event {
                    Some(event) => {
                        if self.tell(event) { probe = Instant::now(); }
                        continue;
                    }
                    None => return Ended::Bus,
                },
                () = self.seeking.changed.notified() => {
                    if watched.on { self.scan(watched).await; }
                    continue;
                }
                () = tokio::time::sleep_until(probe) => {}
            }
            probe = Instant::now() + PROBE;
            match watched.probe().await {
                Ok(true) => {
                    failures = 0;
                    if !watched.on {
                        watched.on = true;
                        self.on(&watched.adapter);
                    }
                    self.scan(watched).await;
                }
                Ok(false) => {
                    failures = 0;
                    watched.down();
                    self.off(Why::Off);
                }
                Err(Why::NoAdapter) => {
                    watched.down();
                    self.off(Why::NoAdapter);
                    return Ended::Adapter;
                }
                Err(why) => {
                    let away = matches!(&why, Why::NoService(said) if absent(said));
                    failures = if away { 0 } else { failures + 1 };
                    watched.down();
                    self.off(why);
                    if failures >= DEAD {
                        return Ended::Bus;
                    }
                }
            }
        }
    }

    /// Passes on what happened. Returns whether the adapter should be asked now.
    fn tell(&self, event: CentralEvent) -> bool {
        let news = match event {
            CentralEvent::DeviceDisconnected(id) => News::Gone(id),
            CentralEvent::StateUpdate(_) => return true,
            CentralEvent::DeviceDiscovered(id)
            | CentralEvent::DeviceUpdated(id)
            | CentralEvent::DeviceConnected(id)
            | CentralEvent::DeviceServicesModified(id)
            | CentralEvent::ManufacturerDataAdvertisement { id, .. }
            | CentralEvent::ServiceDataAdvertisement { id, .. }
            | CentralEvent::ServicesAdvertisement { id, .. }
            | CentralEvent::RssiUpdate { id, .. } => News::Seen(id),
        };
        // Nobody may be listening: then nobody needs it.
        drop(self.news.send(news));
        false
    }

    /// Looks for devices while somebody seeks one. Looking would switch the
    /// adapter on, so it is done only when a person has.
    async fn scan(&self, watched: &mut Watched) {
        let wanted = self.seeking.count.load(Ordering::Acquire) > 0;
        if wanted == watched.scanning {
            return;
        }
        let done = match wanted {
            true => timeout(ANSWER, watched.adapter.start_scan(ScanFilter::default())).await,
            false => timeout(ANSWER, watched.adapter.stop_scan()).await,
        };
        // A refusal is tried again with the next look at the adapter.
        if matches!(done, Ok(Ok(()))) || !wanted {
            watched.scanning = wanted;
        }
    }
}

struct Watched {
    adapter: Adapter,
    events: Events<CentralEvent>,
    on: bool,
    scanning: bool,
}

impl Watched {
    /// Whether the adapter is switched on.
    async fn probe(&self) -> Result<bool, Why> {
        match timeout(ANSWER, self.adapter.adapter_info()).await {
            Ok(Ok(_)) => {}
            Ok(Err(e)) => {
                let said = e.to_string();
                return Err(match said.contains("UnknownObject") {
                    true => Why::NoAdapter,
                    false => Why::NoService(short(&said)),
                });
            }
            Err(_) => return Err(Why::NoService(String::from("no answer"))),
        }
        let state = timeout(ANSWER, self.adapter.adapter_state()).await;
        Ok(matches!(state, Ok(Ok(CentralState::PoweredOn))))
    }

    fn down(&mut self) {
        self.on = false;
        self.scanning = false;
    }
}

/// Whether the bus says that nobody is there, and so is alive itself.
fn absent(said: &str) -> bool {
    ["ServiceUnknown", "NameHasNoOwner", "not provided"]
        .iter()
        .any(|word| said.contains(word))
}

/// The first adapter that is switched on, else the first.
pub(super) async fn choose(manager: &Manager) -> Result<Adapter, Why> {
    let adapters = match timeout(ANSWER, manager.adapters()).await {
        Ok(Ok(adapters)) => adapters,
        Ok(Err(e)) => return Err(Why::NoService(short(&e.to_string()))),
        Err(_) => return Err(Why::NoService(String::from("no answer"))),
    };
    for adapter in &adapters {
        let state = timeout(ANSWER, adapter.adapter_state()).await;
        if matches!(state, Ok(Ok(CentralState::PoweredOn))) {
            return Ok(adapter.clone());
        }
    }
    adapters.into_iter().next().ok_or(Why::NoAdapter)
}
