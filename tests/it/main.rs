//! The integration tests: one binary, one module a subject.

#[macro_use]
mod run;

mod motors;
mod protocols;
mod job;
mod journey;
mod tidy;
mod usage;
