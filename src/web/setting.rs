//! Setting up a meter: what can be chosen, a trial of it, and writing it down.
//!
//! All of this is for this machine only, which [`super::doors`] holds: no path,
//! port or address to open comes from another machine's page.

use std::sync::Arc;

use axum::Json;
use axum::body::Bytes;
use axum::extract::State;
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Response};
use serde::Serialize;
use serde_json::{Map, Value, json};

use super::asked::{Field, Wrong};
use super::routes::{Api, read, refused};
use crate::config::edit::{EditError, NewMeter, NewRange};
use crate::meter::Parity;
use crate::view::MeterView;

/// What the program does for a meter that is being set up. It may wait for a
/// port or the disk, so it is called off the thread that serves.
pub trait Setup: Send + Sync + core::fmt::Debug {
    /// What can be chosen.
    fn offers(&self) -> Offers;
    /// Listens to the meter, instead of any other that is tried.
    ///
    /// # Errors
    /// It cannot be listened to as it is said.
    fn listen(&self, meter: &NewMeter) -> Result<(), EditError>;
    /// What the tried meter says; none: none is tried.
    fn heard(&self) -> Option<MeterView>;
    /// Ends the trial.
    fn end(&self);
    /// Writes the meter down, and says when it is used.
    ///
    /// # Errors
    /// It is refused, or the file cannot be written.
    fn save(&self, meter: &NewMeter) -> Result<String, EditError>;
}

/// What can be chosen for a meter.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Offers {
    /// Ports of this machine.
    pub ports: Vec<Offer>,
    /// Descriptions.
    pub protocols: Vec<Offer>,
    /// Benches that there are.
    pub benches: Vec<String>,
    /// The name of the file it is written to.
    pub file: String,
}

/// One choice.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Offer {
    /// What is written.
    pub value: String,
    /// What it is, for a person.
    pub about: String,
    /// Why it cannot be chosen now; empty if it can.
    pub taken: String,
}

/// `GET /api/setup`
pub(super) async fn offers(State(api): State<Api>) -> Response {
    match api.setup() {
        Some(setup) => match off_thread(move || setup.offers()).await {
            Some(offers) => Json(offers).into_response(),
            None => broken(),
        },
        None => nowhere(),
    }
}

/// `POST /api/trial`
pub(super) async fn listen(State(api): State<Api>, headers: HeaderMap, body: Bytes) -> Response {
    with_meter(api, &headers, &body, |setup, meter| {
        setup.listen(meter).map(|()| json!({ "listening": true }))
    })
    .await
}

/// `GET /api/trial`
pub(super) async fn heard(State(api): State<Api>) -> Response {
    match api.setup() {
        Some(setup) => match setup.heard() {
            Some(meter) => Json(meter).into_response(),
            None => refused(StatusCode::NOT_FOUND, "no meter is tried".to_owned()).into_response(),
        },
        None => nowhere(),
    }
}

/// `POST /api/trial/end`
pub(super) async fn end(State(api): State<Api>) -> Response {
    let Some(setup) = api.setup() else {
        return nowhere();
    };
    match off_thread(move || setup.end()).await {
        Some(()) => Json(json!({ "listening": false })).into_response(),
        None => broken(),
    }
}

/// `POST /api/meters`
pub(super) async fn save(State(api): State<Api>, headers: HeaderMap, body: Bytes) -> Response {
    with_meter(api, &headers, &body, |setup, meter| {
        setup.save(meter).map(|when| json!({ "saved": when }))
    })
    .await
}

async fn with_meter(
    api: Api,
    headers: &HeaderMap,
    body: &Bytes,
    act: impl FnOnce(&dyn Setup, &NewMeter) -> Result<Value, EditError> + Send + 'static,
) -> Response {
    let Some(setup) = api.setup() else {
        return nowhere();
    };
    let meter = match read(headers, body).and_then(|said| meter(&said)) {
        Ok(meter) => meter,
        Err(wrong) => return wrong.answer(),
    };
    match off_thread(move || act(setup.as_ref(), &meter)).await {
        Some(Ok(done)) => Json(done).into_response(),
        Some(Err(EditError {
            field: Some(field),
            message,
        })) => Wrong::Fields {
            missing: Vec::new(),
            wrong: vec![Field {
                field: field.to_owned(),
                message,
            }],
        }
        .answer(),
        Some(Err(refusal)) => refused(StatusCode::CONFLICT, refusal.message).into_response(),
        None => broken(),
    }
}

async fn off_thread<T: Send + 'static>(work: impl FnOnce() -> T + Send + 'static) -> Option<T> {
    tokio::task::spawn_blocking(work).await.ok()
}

fn nowhere() -> Response {
    let message = "meters cannot be set up here: this is a demonstration; start `stillohm serve`";
    refused(StatusCode::NOT_FOUND, message.to_owned()).into_response()
}

fn broken() -> Response {
    let message = "setting up broke: this is a defect of the program";
    refused(StatusCode::INTERNAL_SERVER_ERROR, message.to_owned()).into_response()
}

/// Reads a meter; what is there is checked as the file's own keys are, later.
fn meter(said: &Map<String, Value>) -> Result<NewMeter, Wrong> {
    let mut wrong = Vec::new();
    let mut refuse = |field: &str, message: String| {
        wrong.push(Field {
            field: field.to_owned(),
            message,
        });
    };
    let words = |key: &str| match said.get(key) {
        Some(Value::String(words)) => words.trim().to_owned(),
        Some(Value::Null) | None => String::new(),
        Some(other) => other.to_string(),
    };
    let mut number = |from: &Map<String, Value>, key: &str, field: &str| {
        let words = match from.get(key) {
            Some(Value::String(words)) => words.trim().replace(['_', ' '], ""),
            Some(Value::Null) | None => return None,
            Some(other) => other.to_string(),
        };
        if words.is_empty() {
            return None;
        }
        let read: Option<f64> = words.parse().ok().filter(|n: &f64| n.is_finite());
        if read.is_none() {
            refuse(field, format!("expected a plain number, found {words:?}"));
        }
        read
    };
    let mut meter = NewMeter {
        name: words("name"),
        bench: words("bench"),
        port: words("port"),
        protocol: words("protocol"),
        serial_number: words("serial_number"),
        certificate: words("certificate"),
        calibrated_on: words("calibrated_on"),
        calibration_due: words("calibration_due"),
        over_range_above_ohms: number(said, "over_range_above_ohms", "over_range_above_ohms"),
        ..NewMeter::default()
    };
    let whole = |value: Option<f64>| value.map(|n| if n >= 0.0 { n as u64 } else { u64::MAX });
    meter.unit = whole(number(said, "unit", "unit"));
    meter.terminals = whole(number(said, "terminals", "terminals"));
    if let Some(baud) = number(said, "baud", "port") {
        meter.line.baud = baud as u32;
    }
    if let Some(bits) = number(said, "data_bits", "port") {
        meter.line.data_bits = bits as u8;
    }
    if let Some(bits) = number(said, "stop_bits", "port") {
        meter.line.stop_bits = bits as u8;
    }
    for range in said
        .get("accuracy")
        .and_then(Value::as_array)
        .into_iter()
        .flatten()
    {
        let Value::Object(range) = range else {
            continue;
        };
        let up_to_ohms = number(range, "up_to_ohms", "accuracy");
        let percent = number(range, "percent", "accuracy");
        let counts = number(range, "counts", "accuracy");
        if up_to_ohms.is_some() || percent.is_some() || counts.is_some() {
            meter.accuracy.push(NewRange {
                up_to_ohms,
                percent: percent.unwrap_or(0.0),
                counts: counts.unwrap_or(0.0),
            });
        }
    }
    for measures in said
        .get("measures")
        .and_then(Value::as_array)
        .into_iter()
        .flatten()
    {
        meter.measures.extend(measures.as_str().map(str::to_owned));
    }
    meter.line.parity = match words("parity").as_str() {
        "even" => Parity::Even,
        "odd" => Parity::Odd,
        _ => Parity::None,
    };
    let missing: Vec<String> = [
        ("name", &meter.name),
        ("port", &meter.port),
        ("protocol", &meter.protocol),
    ]
    .into_iter()
    .filter(|(_, words)| words.is_empty())
    .map(|(name, _)| name.to_owned())
    .collect();
    match missing.is_empty() && wrong.is_empty() {
        true => Ok(meter),
        false => Err(Wrong::Fields { missing, wrong }),
    }
}

/// Setting up as routes hold it.
pub(super) type SetUp = Option<Arc<dyn Setup>>;
