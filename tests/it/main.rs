//! The integration tests: one binary, one module a subject.

#[macro_use]
mod run;

mod affected;
mod api;
#[cfg(target_os = "linux")]
mod bluetooth;
#[cfg(target_os = "linux")]
mod bluez;
mod broken_streams;
mod calc;
mod diagnosis;
mod hatchery;
mod import;
mod job;
mod led_by_bytes;
mod motors;
mod profiles;
mod protocols;
mod prove;
mod journey;
mod rejudge;
mod replay;
mod report;
mod review;
mod serve;
mod sheets;
mod captures;
mod chunks;
mod docs;
mod tidy;
mod usage;
mod worked_jobs;
