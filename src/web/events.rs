//! The event stream: rows after their sync, and the latest view.
//!
//! Each row and view is written as text once, whoever listens. A listener that
//! falls behind is dropped: it comes again and reads the log for what it missed.

use std::convert::Infallible;
use std::pin::Pin;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::task::{Context, Poll};
use std::time::Duration;

use axum::extract::{Path, State};
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use bytes::Bytes;
use serde_json::{Map, Value};
use tokio::sync::{Notify, broadcast, mpsc, watch};
use tokio::time::{interval, sleep, timeout};

use super::Shared;
use super::hands::{Hands, Held, Page, Present, told};
use super::minute::Minute;
use super::routes::{Api, refused};
use crate::row::{COLUMNS, Recorded};
use crate::view::View;

/// At most twenty views a second, as many as the engine makes: a reading is on
/// the screen within a tenth of a second.
const VIEW_EVERY: Duration = Duration::from_millis(50);
/// A comment this often keeps a quiet stream alive and finds a dead one.
const ALIVE_EVERY: Duration = Duration::from_secs(5);
/// Rows a listener may be behind.
const ROWS_BEHIND: usize = 1024;
/// A listener that takes nothing for this long is dropped.
const SLOW: Duration = Duration::from_secs(1);
/// Events between a listener's task and its socket.
const EVENTS_BEHIND: usize = 16;

/// Writes events once and hands them to all listeners.
#[derive(Clone, Debug)]
pub(super) struct Hub {
    rows: broadcast::Sender<Bytes>,
    views: watch::Sender<Bytes>,
    wanted: Arc<Notify>,
    /// The last row that was acknowledged, 0 before the first.
    acknowledged: Arc<AtomicU64>,
    minute: Arc<Mutex<Minute>>,
}

impl Hub {
    pub(super) fn start(shared: &Shared) -> Self {
        let hub = Self {
            rows: broadcast::channel(ROWS_BEHIND).0,
            views: watch::channel(Bytes::new()).0,
            wanted: Arc::new(Notify::new()),
            acknowledged: Arc::default(),
            minute: Arc::default(),
        };
        tokio::spawn(hub.clone().relay_rows(shared.rows.subscribe()));
        tokio::spawn(hub.clone().relay_views(shared.view.clone()));
        hub
    }

    async fn relay_rows(self, mut rows: broadcast::Receiver<Arc<Recorded>>) {
        loop {
            match rows.recv().await {
                Ok(row) => {
                    self.acknowledged.store(row.seq, Ordering::Release);
                    self.minute().row(&row);
                    if self.rows.receiver_count() > 0 {
                        // Nobody listening any more is no loss: the row is in the log.
                        drop(
                            self.rows
                                .send(event("row", &Value::Object(row_object(&row)).to_string())),
                        );
                    }
                }
                Err(broadcast::error::RecvError::Lagged(missed)) => {
                    let said = serde_json::json!({ "missed": missed }).to_string();
                    drop(self.rows.send(event("missed", &said)));
                }
                Err(broadcast::error::RecvError::Closed) => return,
            }
        }
    }

    /// Views are looked at only while somebody listens.
    async fn relay_views(self, source: watch::Sender<Arc<View>>) {
        loop {
            self.wanted.notified().await;
            let mut views = source.subscribe();
            while self.views.receiver_count() > 0 {
                let view = Arc::clone(&views.borrow_and_update());
                self.minute().view(&view);
                self.views.send_replace(event("view", &view_json(&view)));
                sleep(VIEW_EVERY).await;
                // No change is no view, but the listeners are counted again.
                if let Ok(Err(_)) = timeout(ALIVE_EVERY, views.changed()).await {
                    return;
                }
            }
        }
    }

    /// Takes out rows that are written and not acknowledged yet: they may still
    /// be lost. Rows from before the first acknowledgement are of earlier runs.
    pub(super) fn keep_acknowledged(&self, rows: &mut Vec<Recorded>) {
        let last = self.last_acknowledged();
        rows.retain(|row| last.is_none_or(|last| row.seq <= last));
    }

    /// The last row that is acknowledged; none: none was yet, and what the
    /// files hold is of earlier runs.
    pub(super) fn last_acknowledged(&self) -> Option<u64> {
        Some(self.acknowledged.load(Ordering::Acquire)).filter(|last| *last > 0)
    }

    fn minute(&self) -> MutexGuard<'_, Minute> {
        // What a panic left behind is a picture, and whole enough for one.
        self.minute.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// A stream for a new listener; the view of now comes first. One that says
    /// which page it is hears who holds each bench.
    pub(super) fn listen(&self, now: &View, page: Option<(Page, &Hands)>) -> Events {
        let (sender, events) = mpsc::channel(EVENTS_BEHIND);
        let first = event("view", &view_json(now));
        self.wanted.notify_one();
        let (rows, views) = (self.rows.subscribe(), self.views.subscribe());
        let (holders, present) = match page {
            Some((page, hands)) => {
                let mut held = hands.watch();
                // Who holds what now is news to a new page.
                held.mark_changed();
                (Some((held, page.clone())), Some(hands.come(page)))
            }
            None => (None, None),
        };
        tokio::spawn(feed(sender, first, rows, views, holders));
        Events {
            events,
            _present: present,
        }
    }
}

/// Who holds each bench, for the page that listens.
type Holders = Option<(watch::Receiver<Held>, Page)>;

/// The next change of who holds what; never, for a listener that is no page.
async fn holding(holders: &mut Holders) -> Option<Bytes> {
    let Some((held, page)) = holders else {
        return core::future::pending().await;
    };
    held.changed().await.ok()?;
    let told = told(&held.borrow_and_update(), page);
    Some(event("hands", &serde_json::json!(told).to_string()))
}

/// The last minute of a bench, for a page that has just opened.
pub(super) async fn minute(State(api): State<Api>, Path(bench): Path<String>) -> Response {
    if !api.view().meters.iter().any(|meter| meter.bench == bench) {
        let message = format!("no bench is called {bench}");
        return refused(StatusCode::NOT_FOUND, message).into_response();
    }
    let told = api.hub().minute().of(&bench);
    ([(header::CONTENT_TYPE, "application/json")], told).into_response()
}

/// Feeds one listener until it goes away or falls behind.
async fn feed(
    sender: mpsc::Sender<Bytes>,
    first: Bytes,
    mut rows: broadcast::Receiver<Bytes>,
    mut views: watch::Receiver<Bytes>,
    mut holders: Holders,
) {
    let mut alive = interval(ALIVE_EVERY);
    let mut next = first;
    loop {
        // Its own task waits, nobody else does: a burst of rows is read in a
        // moment, and what takes longer is not read at all.
        match timeout(SLOW, sender.send(next)).await {
            Ok(Ok(())) => {}
            Ok(Err(_)) | Err(_) => return,
        }
        next = tokio::select! {
            biased;
            () = sender.closed() => return,
            row = rows.recv() => match row {
                Ok(row) => row,
                Err(_) => return,
            },
            changed = views.changed() => match changed {
                Ok(()) => views.borrow_and_update().clone(),
                Err(_) => return,
            },
            held = holding(&mut holders) => match held {
                Some(held) => held,
                None => return,
            },
            _ = alive.tick() => Bytes::from_static(b": still here\n\n"),
        };
    }
}

fn event(name: &str, data: &str) -> Bytes {
    Bytes::from(format!("event: {name}\ndata: {data}\n\n"))
}

/// A row as an object: each column as it stands in the log, `seq` as a number.
pub fn row_object(row: &Recorded) -> Map<String, Value> {
    let mut line = String::new();
    row.row.write(row.seq, &mut line);
    line.push_str(&row.chain);
    let mut object = Map::new();
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .from_reader(line.as_bytes());
    let cells = reader
        .records()
        .next()
        .and_then(Result::ok)
        .unwrap_or_default();
    for (column, cell) in COLUMNS.iter().zip(&cells) {
        object.insert((*column).to_owned(), cell.into());
    }
    object.insert(String::from("seq"), row.seq.into());
    object
}

/// The view as JSON. Its numbers are finite, so it always writes.
pub(super) fn view_json(view: &View) -> String {
    serde_json::to_string(view).unwrap_or_else(|_| String::from("{}"))
}

/// The body of an event stream.
pub(super) struct Events {
    events: mpsc::Receiver<Bytes>,
    /// The page is here for as long as its stream.
    _present: Option<Present>,
}

impl futures_core::Stream for Events {
    type Item = Result<Bytes, Infallible>;

    fn poll_next(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<Option<Self::Item>> {
        self.events.poll_recv(cx).map(|event| event.map(Ok))
    }
}
