//! Questions over a log and its captures: is it whole, what would other limits
//! say, what did an asset read before.

pub mod baseline;
pub mod verify;
