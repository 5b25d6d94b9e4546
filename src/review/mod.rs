//! Questions over a log and its captures: is it whole, what would other limits
//! say, what did an asset read before, a job told as text, the trace of each
//! value, statistics over many, what a report prints, and
//! what pages ask over many rows.

pub mod affected;
pub mod ask;
pub mod baseline;
pub mod deep;
pub mod frames;
pub mod gather;
pub mod import;
pub mod pages;
pub mod stats;
pub mod told;
pub mod trace;
pub mod verify;
