//! The daemon: sources, engine and committer put together.

pub mod commit;
