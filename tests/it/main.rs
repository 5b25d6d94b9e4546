//! The integration tests: one binary, one module a subject.

#[macro_use]
mod run;

mod api;
mod broken_streams;
mod diagnosis;
mod hatchery;
mod job;
mod led_by_bytes;
mod motors;
mod profiles;
mod protocols;
mod journey;
mod replay;
mod serve;
mod captures;
mod docs;
mod tidy;
mod usage;
mod worked_jobs;
