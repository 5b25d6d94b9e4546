//! Proof of the leads: a fallen clip must never look like perfect insulation.
//!
//! A proof holds for one meter, its leads and one job (rule 2). It ends with a
//! gap of more than 10 s, another device, or after 30 min. What it carries as
//! long as it holds is the null.

use core::time::Duration;

use crate::input::Settings;
use crate::judge::{Contact, Null};
use crate::meter::Meter;
use crate::quantity::Decimal;
use crate::reading::Take;
use crate::stamp::Stamp;

/// How old a proof may be when the voltage goes on, and how long after the
/// hold the second one may come (own).
pub(super) const HOLDS: Duration = Duration::from_secs(30 * 60);

/// A longer silence ends a proof: nobody saw what happened to the leads.
pub(super) const GAP_MAX: Duration = Duration::from_secs(10);

/// Clips joined, and read as joined.
#[derive(Clone, Debug)]
pub(super) struct Proof {
    pub(super) at: Stamp,
    /// What was read, for the second proof.
    pub(super) shown: Option<Decimal>,
    pub(super) null: Option<Null>,
    /// Whether its 30 min were seen to be over: nothing waits for them any more.
    pub(super) aged: bool,
    /// What the meter was then.
    pub(super) device: String,
}

impl Proof {
    /// Whether it was there at `at`, and at most 30 min old: a voltage that
    /// went on earlier had no proof before it.
    pub(super) fn fresh(&self, at: Stamp) -> bool {
        at >= self.at && at.since(self.at) <= HOLDS
    }
}

/// A reading beyond the range that waits for its contact and for the second proof.
#[derive(Clone, Debug)]
pub(super) struct Pending {
    /// The place in the sheet.
    pub(super) entry: usize,
    /// Its row.
    pub(super) seq: u64,
    pub(super) take: Take,
    /// When its voltage went on, or the moment of the reading.
    pub(super) since: Stamp,
    pub(super) contact: Contact,
    /// Whether the contact is still to be shown, before anything else.
    pub(super) contact_due: bool,
}

impl Pending {
    /// Whether the second proof may still come at `at`.
    pub(super) fn open(&self, at: Stamp) -> bool {
        at.since(self.take.at) <= HOLDS
    }
}

/// What makes a meter the same device: its port, its address, its number.
pub(super) fn device(settings: &Settings, meter: &Meter) -> String {
    let port = settings
        .ports
        .get(usize::from(meter.port.0))
        .map(|port| port.address.to_string())
        .unwrap_or_default();
    let number = meter.serial_number.as_ref().map_or("", |n| n.as_str());
    format!("{port} {:?} {number}", meter.unit)
}
