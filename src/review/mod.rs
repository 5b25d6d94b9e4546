//! Questions over a log and its captures: is it whole, what would other limits
//! say, what did an asset read before, a job told as text, and the trace of each value.

pub mod ask;
pub mod baseline;
pub mod frames;
pub mod told;
pub mod trace;
pub mod verify;
