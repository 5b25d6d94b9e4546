//! The table: test and case to verdict and finding, so that each finding has its place.
