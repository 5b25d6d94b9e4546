//! Questions over all rows of a log: which of them, grouped by what, and what of them.
//!
//! Cells are compared and grouped as they stand in the file: the log quotes a
//! cell in one way only, so equal cells are equal bytes.

pub mod aging;
pub mod count;
pub mod drift;
pub mod filter;
pub mod groups;
pub mod last;
pub mod newest;
pub mod stages;
pub mod values;
pub mod words;
