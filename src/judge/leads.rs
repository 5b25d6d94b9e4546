//! Leads: the clips joined, before and after.

use super::{Judgement, Null};
use crate::meter::Meter;
use crate::quantity::Decimal;
use crate::reading::Take;
use crate::row::Verdict;

/// What joined clips say of the leads.
#[derive(Clone, Debug, PartialEq)]
pub struct Leads {
    /// The verdict of the row.
    pub judgement: Judgement,
    /// Whether it proves them: before gives [`LeadProof::Before`](super::LeadProof), after the other.
    pub proven: bool,
    /// What was read, to be handed to [`leads_after`].
    pub shown: Option<Decimal>,
    /// What is subtracted from winding readings from now on: none with four
    /// terminals, with a meter in relative, or for an insulation tester.
    pub null: Option<Null>,
}

/// `leads before`: an ohmmeter proves at most 1 Ω, an insulation tester at
/// most its `proof_max`.
pub fn leads_before(meter: &Meter, take: &Take) -> Leads {
    let _ = (meter, take);
    Leads {
        judgement: Judgement::bare(Verdict::Undecided, None, "not judged yet"),
        proven: false,
        shown: None,
        null: None,
    }
}

/// `leads after`: an ohmmeter proves within 0.5 Ω of `before`
/// ([`Leads::shown`]), an insulation tester at most its `proof_max`. Without
/// a proof before there is none after.
pub fn leads_after(meter: &Meter, take: &Take, before: Option<Decimal>) -> Leads {
    let _ = before;
    leads_before(meter, take)
}
