//! What a job means so far, from what its rows said and what its plan says.
//!
//! Live, at the end and after a restart it is the same: `Job::apply` gathers
//! the facts from rows alone.

use serde::Serialize;

use crate::judge::diagnosis::{Whole, diagnose};
use crate::view::Diagnosis;

use super::job::Job;

/// What the `note` of a `job_end` row holds, as JSON.
#[derive(Debug, Serialize)]
struct EndNote {
    diagnosis: Vec<Diagnosis>,
}

/// The diagnosis of a job, what can hurt first.
pub(super) fn diagnosis(job: &Job) -> Vec<Diagnosis> {
    diagnose(&Whole {
        facts: &job.facts,
        motor: &job.plan.motor,
        measured_at: job.plan.measured_at,
        temperature: job.plan.temperature,
        cable_known: job.plan.cable.is_some(),
    })
}

/// The `note` of a `job_end` row: `{"diagnosis":[…]}`, an empty list when
/// nothing was measured that could mean something.
pub(super) fn note(job: &Job) -> String {
    let note = EndNote {
        diagnosis: diagnosis(job),
    };
    // Plain data with words for keys always becomes JSON.
    serde_json::to_string(&note).unwrap_or_default()
}
