//! Questions over a log and its captures: is it whole, what would other limits
//! say, what did an asset read before, a job told as text, the trace of each value,
//! and what a report prints.

pub mod baseline;
pub mod frames;
pub mod gather;
pub mod told;
pub mod trace;
pub mod verify;
