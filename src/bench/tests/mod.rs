//! Scripts of a day at the bench, and what they must come to.

mod commands;
mod diagnosis;
mod dodges;
mod guided;
mod dodges_of_charge;
mod dodges_of_sheets;
mod harness;
mod marks;
mod moments;
mod oracles;
mod profiles;
mod prove;
mod random;
mod rules_of_proof;
mod rules_of_voltage;
mod sheet_data;
mod sheets;
mod words;
