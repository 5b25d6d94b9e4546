//! One meter: looked for, connected, listened to, and again from the start.

use std::pin::Pin;
use std::time::Duration;

use btleplug::api::{Peripheral as _, ValueNotification};
use btleplug::platform::{Adapter, Peripheral};
use tokio::sync::{broadcast, watch};
use tokio::time::{Instant, sleep, timeout};

use super::find::find;
use super::link::Link;
use super::radio::{ANSWER, Air, AirState, News};
use super::table::Table;
use super::why::{self, Why};
use super::{Events, FIRST_TRY, FirstTry, Hand, at_once, next};
use crate::description::{GattAsked, Request};
use crate::meter::Address;
use crate::source::PortPlan;

/// Before a meter is tried again: at first, and at most. It is tried at once
/// when it is heard of.
const RETRY_FIRST: Duration = Duration::from_millis(200);
const RETRY_MAX: Duration = Duration::from_millis(1500);
/// A connection is given up after this long; one to a device in range takes
/// less than a second, and the system itself waits for up to 40 s.
const CONNECT: Duration = Duration::from_secs(10);
/// A meter that said nothing for this long is asked whether it is connected.
const ALIVE: Duration = Duration::from_secs(1);
/// After this long its notifications are asked for again: a service that was
/// restarted has forgotten who wanted them.
const RENEW: Duration = Duration::from_secs(5);
/// Notifications of one round at most.
const ROUND: usize = 64;

/// One port's meter.
pub(super) struct Device {
    wanted: String,
    gatt: Option<GattAsked>,
    requests: Vec<Request>,
    hand: Hand,
    first: FirstTry,
    air: Air,
    stopped: watch::Receiver<bool>,
    /// Kept across connections: the library leaks with each stream it makes.
    known: Option<Known>,
    said: Option<Why>,
}

/// A device that was found, with the one stream of what it tells.
struct Known {
    session: u32,
    device: Peripheral,
    notifications: Events<ValueNotification>,
}

impl Device {
    pub(super) fn new(
        plan: PortPlan,
        hand: Hand,
        first: FirstTry,
        air: Air,
        stopped: watch::Receiver<bool>,
    ) -> Self {
        let wanted = match plan.address {
            Address::Ble { address } => address.as_str().to_owned(),
            other => other.to_string(),
        };
        Self {
            wanted,
            gatt: plan.gatt,
            requests: plan.requests,
            hand,
            first,
            air,
            stopped,
            known: None,
            said: None,
        }
    }

    /// Runs until the program stops; then the meter is let go.
    pub(super) async fn run(mut self) {
        let mut stopped = self.stopped.clone();
        tokio::select! {
            _ = stopped.wait_for(|stop| *stop) => {}
            () = self.live() => {}
        }
        if let Some(known) = self.known.take() {
            drop(timeout(ANSWER, known.device.disconnect()).await);
        }
    }

    async fn live(&mut self) {
        let Some(gatt) = self.gatt.clone() else {
            self.say(Why::NoGatt).await;
            self.first.done();
            return core::future::pending().await;
        };
        let mut air = self.air.state.clone();
        let mut news = self.air.news();
        let mut delay = RETRY_FIRST;
        let mut patient = std::pin::pin!(sleep(FIRST_TRY));
        let mut waits = true;
        loop {
            let now = air.borrow_and_update().clone();
            let AirState::On {
                adapter,
                session,
                turn,
            } = now
            else {
                if let AirState::Off(Some(why)) = now {
                    self.say(why).await;
                    self.first.done();
                }
                tokio::select! {
                    changed = air.changed() => if changed.is_err() { return },
                    () = &mut patient, if waits => { waits = false; self.first.done(); }
                }
                continue;
            };
            let seeks = self.air.seek();
            let tried = tokio::select! {
                tried = self.connect(&gatt, &adapter, session) => tried,
                () = gone(&mut air, session) => continue,
                () = &mut patient, if waits => { waits = false; self.first.done(); continue; }
            };
            let why = match tried {
                Ok(link) => {
                    drop(seeks);
                    self.said = None;
                    delay = RETRY_FIRST;
                    self.hand.opened().await;
                    self.first.done();
                    let why = self.listen(link, turn, &mut air, &mut news).await;
                    self.said = Some(why.clone());
                    self.hand.closed(&why.to_string()).await;
                    continue;
                }
                Err(why) => why,
            };
            self.say(why).await;
            self.first.done();
            tokio::select! {
                () = sleep(delay) => delay = (delay * 2).min(RETRY_MAX),
                () = self.heard_of(&mut news) => delay = RETRY_FIRST,
                changed = air.changed() => if changed.is_err() { return },
            }
        }
    }

    /// Says why it is not listened to, once.
    async fn say(&mut self, why: Why) {
        if self.said.as_ref() != Some(&why) {
            self.hand.closed(&why.to_string()).await;
            self.said = Some(why);
        }
    }

    /// Returns when the device was heard of, or might have been.
    async fn heard_of(&self, news: &mut broadcast::Receiver<News>) {
        loop {
            match news.recv().await {
                Ok(News::Seen(id)) => match &self.known {
                    Some(known) if known.device.id() != id => {}
                    // A new device may be the one; many of them may not hurry us.
                    _ => return sleep(RETRY_FIRST).await,
                },
                Ok(News::Gone(_)) | Err(broadcast::error::RecvError::Lagged(_)) => {}
                Err(broadcast::error::RecvError::Closed) => core::future::pending().await,
            }
        }
    }

    async fn connect(
        &mut self,
        gatt: &GattAsked,
        adapter: &Adapter,
        session: u32,
    ) -> Result<Link, Why> {
        if self
            .known
            .as_ref()
            .is_some_and(|known| known.session != session)
        {
            // What an old session gave would ask a dead bus to forget it.
            core::mem::forget(self.known.take());
        }
        let found = find(adapter, &self.wanted).await?;
        if self
            .known
            .as_ref()
            .is_some_and(|known| known.device.id() != found.id())
        {
            self.known = None;
        }
        let device = match &self.known {
            Some(known) => known.device.clone(),
            None => found,
        };
        connect(&device).await?;
        match timeout(CONNECT, device.discover_services()).await {
            Ok(Ok(())) => {}
            Ok(Err(e)) => return Err(why::connecting(&e)),
            Err(_) => return Err(Why::Refuses(String::from("it does not list its services"))),
        }
        let table = Table::read(&device).await;
        let link = Link::new(gatt, &self.requests, table)?;
        let known = match &mut self.known {
            Some(known) => known,
            None => {
                let notifications = match timeout(ANSWER, device.notifications()).await {
                    Ok(Ok(notifications)) => notifications,
                    Ok(Err(e)) => return Err(Why::Failed(why::short(&e.to_string()))),
                    Err(_) => return Err(Why::NoService(String::from("no answer"))),
                };
                self.known.insert(Known {
                    session,
                    device: device.clone(),
                    notifications,
                })
            }
        };
        // What the last connection left behind is not of this one.
        while at_once(&mut known.notifications).await.is_some() {}
        for characteristic in &link.told {
            match timeout(ANSWER, device.subscribe(characteristic)).await {
                Ok(Ok(())) => {}
                Ok(Err(e)) => return Err(why::connecting(&e)),
                Err(_) => return Err(Why::Refuses(String::from("it does not begin to tell"))),
            }
        }
        Ok(link)
    }

    /// Passes on what the meter tells until it is gone, and why it is.
    async fn listen(
        &mut self,
        mut link: Link,
        turn: u32,
        air: &mut watch::Receiver<AirState>,
        news: &mut broadcast::Receiver<News>,
    ) -> Why {
        self.hand
            .heard(core::mem::take(&mut link.table.chunks))
            .await;
        let Some(known) = &mut self.known else {
            return Why::Lost;
        };
        let device = known.device.clone();
        let mut last = Instant::now();
        let mut renewed = last;
        // One errand at a time: an answer does not say what it answers.
        let mut away = None;
        loop {
            tokio::select! {
                biased;
                changed = air.changed() => {
                    if changed.is_err() { return Why::Lost; }
                    match &*air.borrow_and_update() {
                        AirState::Off(Some(why)) => return why.clone(),
                        AirState::Off(None) => return Why::Lost,
                        // Off and on again before anybody looked.
                        AirState::On { turn: now, .. } if *now != turn => return Why::Lost,
                        AirState::On { .. } => {}
                    }
                }
                first = next(&mut known.notifications) => {
                    let Some(first) = first else { return Why::Lost };
                    last = Instant::now();
                    let mut round = vec![first];
                    while round.len() < ROUND && let Some(more) = at_once(&mut known.notifications).await {
                        round.push(more);
                    }
                    let chunks = round.iter().filter_map(|told| link.chunk(told)).collect();
                    self.hand.heard(chunks).await;
                }
                back = errand(&mut away), if away.is_some() => {
                    away = None;
                    last = Instant::now();
                    match link.back(back) {
                        Ok(answer) => self.hand.heard(answer.into_iter().collect()).await,
                        Err(why) => return why,
                    }
                }
                () = until(link.due()), if away.is_none() => {
                    if let Some((pdu, errand)) = link.set_off(&device) {
                        self.hand.sent(pdu).await;
                        away = Some(Box::pin(errand.run()));
                    }
                }
                heard = news.recv() => match heard {
                    Ok(News::Gone(id)) if id == device.id() => return Why::Lost,
                    _ => {}
                },
                () = tokio::time::sleep_until(last + ALIVE) => {
                    last = Instant::now();
                    if !matches!(timeout(ANSWER, device.is_connected()).await, Ok(Ok(true))) {
                        return Why::Lost;
                    }
                    if last.duration_since(renewed) > RENEW {
                        renewed = last;
                        for characteristic in &link.told {
                            // Harmless where it is in force; else the next look finds the loss.
                            drop(timeout(ANSWER, device.subscribe(characteristic)).await);
                        }
                    }
                }
            }
        }
    }
}

/// Connects, or lets the system stop trying.
async fn connect(device: &Peripheral) -> Result<(), Why> {
    if matches!(timeout(ANSWER, device.is_connected()).await, Ok(Ok(true))) {
        return Ok(());
    }
    match timeout(CONNECT, device.connect()).await {
        Ok(Ok(())) => Ok(()),
        Ok(Err(e)) => Err(why::connecting(&e)),
        Err(_) => {
            drop(timeout(ANSWER, device.disconnect()).await);
            Err(Why::NotSeen)
        }
    }
}

/// Returns when the radio is not what it was.
async fn gone(air: &mut watch::Receiver<AirState>, session: u32) {
    let other = |state: &AirState| match state {
        AirState::On { session: now, .. } => *now != session,
        AirState::Off(_) => true,
    };
    if air.wait_for(other).await.is_err() {
        core::future::pending().await
    }
}

/// The errand on its way; never, where there is none.
async fn errand<F: Future>(away: &mut Option<Pin<Box<F>>>) -> F::Output {
    match away {
        Some(away) => away.as_mut().await,
        None => core::future::pending().await,
    }
}

/// Returns at a time; never, where there is none.
async fn until(due: Option<Instant>) {
    match due {
        Some(due) => tokio::time::sleep_until(due).await,
        None => core::future::pending().await,
    }
}
