//! Scripts of a day at the bench, and what they must come to.

mod harness;

mod sheets;
