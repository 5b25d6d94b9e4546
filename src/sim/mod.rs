//! Simulated meters: a physical model, served on real ports at real time.
//!
//! The models (`noise`, `motor`, `ohmmeter`, `tester`) take time as an argument
//! and give the lines that such an instrument would send; `serve` writes them
//! into a pseudo-terminal or a TCP connection; `person` reads what is asked and
//! says what a person's hands would do. All motors and instruments here are
//! invented. Nothing in the program knows whether a meter is simulated.

pub mod hatchery;
pub mod motor;
pub mod noise;
pub mod ohmmeter;
pub mod person;
pub mod range;
pub mod serve;
pub mod tester;
