//! Questions over a log and its captures: is it whole, what would other limits say,
//! and a job told as text.

pub mod told;
pub mod verify;
