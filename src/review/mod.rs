//! Questions over a log and its captures: is it whole, what would other limits
//! say, what did an asset read before, and a job told as text.

pub mod baseline;
pub mod told;
pub mod verify;
