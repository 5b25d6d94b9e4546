//! Scripts of a day at the bench, and what they must come to.

mod commands;
mod harness;
mod random;
mod rules;
mod sheets;
mod words;
