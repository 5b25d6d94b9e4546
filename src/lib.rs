//! Stillohm: from a meter's stream to settled, judged, logged values.
//!
//! The journey of a reading is one line: a source stamps bytes, the engine cuts
//! them into frames, decodes readings, waits until the value has settled,
//! judges it and makes a row; the committer puts inputs and rows on the disk
//! and only then is a row acknowledged.

// Nouns, each using only those above it.
pub mod stamp;
pub mod quantity;
pub mod text;
pub mod limits;
pub mod meter;
pub mod reading;
pub mod input;
pub mod row;
pub mod view;

// Pure verbs, each using nouns only.
pub mod frame;
pub mod decode;
pub mod settle;
pub mod judge;

// Composition of verbs and nouns.
pub mod description;
pub mod bench;
pub mod engine;

// Edges: the world outside.
pub mod clock;
pub mod disk;
pub mod source;
pub mod capture;
pub mod log;
pub mod catalogue;
pub mod config;
pub mod report;
pub mod web;
pub mod sim;

// Wiring: the parts put together.
pub mod review;
pub mod daemon;
pub mod cli;
