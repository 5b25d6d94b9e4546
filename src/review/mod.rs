//! Questions over a log and its captures: is it whole, what would other limits say.

pub mod verify;
