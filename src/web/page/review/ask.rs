//! A question put to whoever answers: beside the web's thread, when it is its
//! turn, and not for ever.

use core::fmt;
use std::io;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use tokio::task::spawn_blocking;
use tokio::time::timeout;

use crate::log::scan::Beside;
use crate::web::reviews::Reviews;
use crate::web::routes::Api;

/// How long a question waits for the one before it (own: a person still sees
/// that something happens).
const TURN_WITHIN: Duration = Duration::from_secs(3);
/// How long an answer may take (own: many times what ten million rows take).
const ANSWER_WITHIN: Duration = Duration::from_secs(15);

/// Why there is no answer.
#[derive(Debug)]
pub(super) enum Unanswered {
    /// Another question has not ended.
    Busy,
    /// It took too long.
    Long,
    /// The log cannot be read.
    Log(io::Error),
}

impl Unanswered {
    pub(super) const fn title(&self) -> &'static str {
        match self {
            Self::Busy => "Another question is being answered",
            Self::Long => "The answer took too long",
            Self::Log(_) => "The log cannot be read",
        }
    }
}

impl fmt::Display for Unanswered {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let seconds = |time: Duration| time.as_secs();
        match self {
            Self::Busy => write!(
                f,
                "Questions over the log are answered one at a time, and the one before did not end within {} s",
                seconds(TURN_WITHIN)
            ),
            Self::Long => write!(
                f,
                "It was ended after {} s; ask for fewer months with since and until",
                seconds(ANSWER_WITHIN)
            ),
            Self::Log(e) => write!(f, "{e}"),
        }
    }
}

/// Ends a question that nobody waits for any more.
struct Gone(Arc<AtomicBool>);

impl Drop for Gone {
    fn drop(&mut self) {
        self.0.store(true, Ordering::Relaxed);
    }
}

/// Asks. Only acknowledged rows count.
pub(super) async fn ask<T: Send + 'static>(
    api: &Api,
    read: impl FnOnce(&dyn Reviews, &Beside) -> io::Result<T> + Send + 'static,
) -> Result<T, Unanswered> {
    let turn = match timeout(TURN_WITHIN, api.turn().acquire_owned()).await {
        Ok(Ok(turn)) => turn,
        Ok(Err(_)) | Err(_) => return Err(Unanswered::Busy),
    };
    let reviews = api.reviews();
    let stop = Arc::new(AtomicBool::new(false));
    let beside = Beside {
        last: api.hub().last_acknowledged(),
        stop: Arc::clone(&stop),
    };
    let _gone = Gone(stop);
    let answer = spawn_blocking(move || {
        let _turn = turn;
        read(reviews.as_ref(), &beside)
    });
    match timeout(ANSWER_WITHIN, answer).await {
        Ok(Ok(answer)) => answer.map_err(Unanswered::Log),
        Ok(Err(e)) => Err(Unanswered::Log(io::Error::other(e))),
        Err(_) => Err(Unanswered::Long),
    }
}
