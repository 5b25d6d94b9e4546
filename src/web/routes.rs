//! What can be asked for, and how answers look.

use std::sync::Arc;
use std::time::Duration;

use axum::body::{Body, Bytes};
use axum::extract::{DefaultBodyLimit, Path, State};
use axum::http::{HeaderMap, StatusCode, Uri, header};
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use axum::{Json, Router, middleware};
use serde_json::{Map, Value, json};
use tokio::sync::{Semaphore, oneshot};
use tokio::time::timeout;

use super::asked::{self, Wrong};
use super::doors::{Doors, guard};
use super::events::{Hub, minute, view_json};
use super::hands::{Hands, Page};
use super::page;
use super::query;
use super::setting::{self, SetUp};
use super::{Asked, JobsLog, Reviews, Shared, Traces};
use crate::catalogue::Catalogue;
use crate::input::Act;
use crate::text::Text;
use crate::view::{JobView, PointView, View};

/// The most that a request may say.
const BODY_MAX: usize = 64 * 1024;
/// How long an outcome is waited for: longer than the disk is given.
const PATIENCE: Duration = Duration::from_secs(15);

/// What every route holds.
#[derive(Clone, Debug)]
pub(super) struct Api {
    shared: Shared,
    hub: Hub,
    hands: Hands,
    turn: Arc<Semaphore>,
}

impl Api {
    /// The latest view.
    pub(super) fn view(&self) -> Arc<View> {
        self.shared.view.borrow().clone()
    }

    /// The motors, profiles and sheets a job may be of.
    pub(super) fn catalogue(&self) -> &Catalogue {
        &self.shared.catalogue
    }

    /// Jobs that are in the log.
    pub(super) fn jobs(&self) -> &JobsLog {
        &self.shared.jobs
    }

    /// How meters are set up.
    pub(super) fn setup(&self) -> SetUp {
        self.shared.setup.clone()
    }

    /// The bench of the job that is so.
    fn bench_of(&self, is: impl Fn(&JobView) -> bool) -> Option<String> {
        let view = self.view();
        let job = view.jobs.iter().find(|job| is(job));
        job.map(|job| job.bench.clone())
    }

    /// Refuses a page that only watches the bench.
    fn holds(&self, headers: &HeaderMap, bench: Option<String>) -> Result<(), Wrong> {
        match (page_of(headers)?, bench) {
            (Some(page), Some(bench)) if !self.hands.may_act(&bench, &page) => {
                Err(Wrong::Watching(bench))
            }
            _ => Ok(()),
        }
    }

    /// The readings that values came from.
    pub(super) fn traces(&self) -> Arc<dyn Traces> {
        Arc::clone(&self.shared.traces)
    }

    /// Who answers questions over many rows.
    pub(super) fn reviews(&self) -> Arc<dyn Reviews> {
        Arc::clone(&self.shared.reviews)
    }

    /// Questions over many rows take turns, so that many who ask take no more
    /// of the disk and of memory than one.
    pub(super) fn turn(&self) -> Arc<Semaphore> {
        Arc::clone(&self.turn)
    }

    /// What goes to everybody who listens.
    pub(super) fn hub(&self) -> &Hub {
        &self.hub
    }
}

pub(super) fn router(shared: Shared, hub: Hub, doors: Doors) -> Router {
    Router::new()
        .route("/api/events", get(events))
        .route("/api/state", get(state))
        .route("/api/benches/{bench}/minute", get(minute))
        .route("/api/motors", get(find_motors))
        .route("/api/jobs", post(start_job))
        .route("/api/jobs/{job}/{act}", post(job_act))
        .route("/api/benches/{bench}/hands", post(take_over))
        .route("/api/setup", get(setting::offers))
        .route("/api/trial", get(setting::heard).post(setting::listen))
        .route("/api/trial/end", post(setting::end))
        .route("/api/meters", post(setting::save))
        .route("/api/commands", post(command))
        .merge(page::router())
        .fallback(async || refused(StatusCode::NOT_FOUND, "nothing is here".to_owned()))
        .layer(DefaultBodyLimit::max(BODY_MAX))
        .layer(middleware::from_fn_with_state(doors, guard))
        .with_state(Api {
            shared,
            hub,
            hands: Hands::default(),
            turn: Arc::new(Semaphore::new(1)),
        })
}

/// A refusal as every route gives it.
pub(super) fn refused(status: StatusCode, message: String) -> impl IntoResponse {
    (status, Json(json!({ "error": message })))
}

async fn events(State(api): State<Api>, uri: Uri) -> Response {
    let page = match query::page(uri.query().unwrap_or_default()) {
        Ok(page) => page,
        Err(wrong) => return wrong.answer(),
    };
    let now = api.shared.view.borrow().clone();
    let page = page.map(|page| (page, &api.hands));
    let body = Body::from_stream(api.hub.listen(&now, page));
    ([(header::CONTENT_TYPE, "text/event-stream")], body).into_response()
}

async fn state(State(api): State<Api>) -> Response {
    let view = api.shared.view.borrow().clone();
    let body = view_json(&view);
    ([(header::CONTENT_TYPE, "application/json")], body).into_response()
}

/// The models that fit `q`, best first, at most `limit`.
async fn find_motors(State(api): State<Api>, uri: Uri) -> Response {
    match query::motors(uri.query().unwrap_or_default()) {
        Ok(wanted) => {
            let found = api.shared.catalogue.search(&wanted.words, wanted.limit);
            Json(found.listed().collect::<Vec<_>>()).into_response()
        }
        Err(wrong) => wrong.answer(),
    }
}

async fn start_job(State(api): State<Api>, headers: HeaderMap, body: Bytes) -> Response {
    let wanted = read(&headers, &body).and_then(|said| {
        let plan = asked::job_plan(&said, &api.shared.catalogue)?;
        let first = || api.view().meters.first().map(|meter| meter.bench.clone());
        let bench = plan.bench.as_ref().map(|bench| bench.as_str().to_owned());
        api.holds(&headers, bench.or_else(first))?;
        Ok((Some(plan.tester.clone()), Act::StartJob(Box::new(plan))))
    });
    carry_out(&api, wanted).await
}

/// A page takes a bench from another, which then watches.
async fn take_over(
    State(api): State<Api>,
    Path(bench): Path<String>,
    headers: HeaderMap,
) -> Response {
    if !api.view().meters.iter().any(|meter| meter.bench == bench) {
        let message = format!("no bench is called {bench}");
        return refused(StatusCode::NOT_FOUND, message).into_response();
    }
    match page_of(&headers) {
        Ok(Some(page)) => {
            api.hands.take(&bench, &page);
            Json(json!({ "bench": bench })).into_response()
        }
        Ok(None) => Wrong::Page.answer(),
        Err(wrong) => wrong.answer(),
    }
}

async fn job_act(
    State(api): State<Api>,
    Path((job, act)): Path<(String, String)>,
    headers: HeaderMap,
    body: Bytes,
) -> Response {
    let wanted = read(&headers, &body).and_then(|said| {
        let wanted = asked::act(&act, Some(&job), &said)?;
        api.holds(&headers, api.bench_of(|view| view.job == job))?;
        Ok(wanted)
    });
    carry_out(&api, wanted).await
}

async fn command(State(api): State<Api>, headers: HeaderMap, body: Bytes) -> Response {
    let wanted = read(&headers, &body).and_then(|mut said| {
        let act = match said.remove("act") {
            Some(Value::String(act)) => act,
            _ => return Err(Wrong::missing("act")),
        };
        let (by, act) = asked::act(&act, None, &said)?;
        if let Act::Withdraw { seq, .. } = &act {
            let has = |point: &PointView| point.seq == Some(*seq);
            let bench = api.bench_of(|job| job.points.iter().any(has));
            api.holds(&headers, bench)?;
        }
        Ok((by, act))
    });
    carry_out(&api, wanted).await
}

/// The header in which a page says which it is.
const PAGE: &str = "stillohm-page";

/// Which page asks, if it says so.
fn page_of(headers: &HeaderMap) -> Result<Option<Page>, Wrong> {
    match headers.get(PAGE) {
        None => Ok(None),
        Some(said) => said
            .to_str()
            .ok()
            .and_then(Page::new)
            .map(Some)
            .ok_or(Wrong::Page),
    }
}

/// The JSON object of a body; an empty body is an empty object.
pub(super) fn read(headers: &HeaderMap, body: &Bytes) -> Result<Map<String, Value>, Wrong> {
    let kind = headers
        .get(header::CONTENT_TYPE)
        .and_then(|kind| kind.to_str().ok());
    let kind = kind.and_then(|kind| kind.split(';').next()).map(str::trim);
    if !kind.is_some_and(|kind| kind.eq_ignore_ascii_case("application/json")) {
        return Err(Wrong::Kind);
    }
    if body.is_empty() {
        return Ok(Map::new());
    }
    serde_json::from_slice(body).map_err(|e| Wrong::Json(e.to_string()))
}

async fn carry_out(api: &Api, wanted: Result<(Option<Text>, Act), Wrong>) -> Response {
    let (by, act) = match wanted {
        Ok(wanted) => wanted,
        Err(wrong) => return wrong.answer(),
    };
    let (reply, outcome) = oneshot::channel();
    if api.shared.asked.try_send(Asked { by, act, reply }).is_err() {
        let message =
            String::from("too much is asked at once, or the program is stopping; ask again");
        return refused(StatusCode::SERVICE_UNAVAILABLE, message).into_response();
    }
    match timeout(PATIENCE, outcome).await {
        Ok(Ok(Ok(done))) => Json(done).into_response(),
        Ok(Ok(Err(refusal))) => refused(StatusCode::CONFLICT, refusal.message).into_response(),
        Ok(Err(_)) | Err(_) => {
            let message = String::from(
                "no answer: whether it was done shows in the log; look before asking again",
            );
            refused(StatusCode::GATEWAY_TIMEOUT, message).into_response()
        }
    }
}

impl Wrong {
    pub(super) fn answer(self) -> Response {
        match self {
            Self::Kind => {
                let message = String::from("expected Content-Type: application/json");
                refused(StatusCode::UNSUPPORTED_MEDIA_TYPE, message).into_response()
            }
            Self::Json(e) => {
                let message = format!("expected a JSON object: {e}");
                refused(StatusCode::BAD_REQUEST, message).into_response()
            }
            Self::Watching(_) => refused(StatusCode::CONFLICT, self.to_string()).into_response(),
            Self::Page => {
                refused(StatusCode::UNPROCESSABLE_ENTITY, self.to_string()).into_response()
            }
            Self::Act { .. } => refused(StatusCode::NOT_FOUND, self.to_string()).into_response(),
            Self::Fields {
                ref missing,
                ref wrong,
            } => {
                let body = json!({ "error": self.to_string(), "missing": missing, "wrong": wrong });
                (StatusCode::UNPROCESSABLE_ENTITY, Json(body)).into_response()
            }
        }
    }
}
