//! The integration tests: one binary, one module a subject.

mod tidy;
