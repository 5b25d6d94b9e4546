//! Traces as pages get them: read beside the web's thread, one job at a time.

use std::collections::BTreeMap;
use std::fmt::Debug;
use std::sync::Arc;

use tokio::sync::Semaphore;
use tokio::task::spawn_blocking;

use crate::report::curve::Traced;
use crate::row::Recorded;

/// Where the readings that a value came from are found.
pub trait Traces: Debug + Send + Sync {
    /// The traces of a job's values by the numbers of their rows. It may take
    /// as long as reading their captures does.
    fn of(&self, rows: &[Recorded]) -> BTreeMap<u64, Traced>;
}

/// One job at a time, so that many who look take no more of the disk than one.
static TURN: Semaphore = Semaphore::const_new(1);

/// The traces of a job's rows. Whoever asked may go: what is being read is
/// read to its end.
pub(super) async fn of(traces: Arc<dyn Traces>, rows: Arc<[Recorded]>) -> BTreeMap<u64, Traced> {
    let turn = TURN.acquire().await;
    let read = spawn_blocking(move || {
        let _turn = turn;
        traces.of(&rows)
    });
    // A page without its pictures is better than none.
    read.await.unwrap_or_default()
}
