//! The log as pages read it: beside the web's thread, one question at a time,
//! so that many who ask take no more of the disk than one.

use std::io;
use std::path::PathBuf;
use std::sync::Arc;

use tokio::sync::Semaphore;
use tokio::task::spawn_blocking;

use crate::log::jobs::Kept;

/// Jobs that are in the log.
#[derive(Debug)]
pub struct JobsLog {
    kept: Kept,
    turn: Arc<Semaphore>,
}

impl JobsLog {
    /// Those of the log in this folder.
    pub fn new(dir: PathBuf) -> Self {
        Self {
            kept: Kept::of(dir),
            turn: Arc::new(Semaphore::new(1)),
        }
    }

    /// Asks when it is its turn. Whoever asked may go: what is being read is
    /// read to its end, and the next one waits for that.
    pub(super) async fn ask<T: Send + 'static>(
        &self,
        read: impl FnOnce(&Kept) -> io::Result<T> + Send + 'static,
    ) -> io::Result<T> {
        let turn = Arc::clone(&self.turn).acquire_owned().await;
        let kept = self.kept.clone();
        let answer = spawn_blocking(move || {
            let _turn = turn;
            read(&kept)
        });
        answer.await.unwrap_or_else(|e| Err(io::Error::other(e)))
    }
}
