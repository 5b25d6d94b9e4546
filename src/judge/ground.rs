//! Ground: winding to ground at an ohmmeter's low voltage, and the proofs that
//! ground and insulation share.
//!
//! A fallen clip reads like perfect insulation. So over-range counts as "more
//! than full scale" and passes only between two proofs of the leads and with
//! contact shown. Nothing here passes on trust.

use super::{Case, Contact, GroundPath, Judgement};
use crate::row::Verdict;

/// Judges a ground reading. Its best is `pass`, `no_fault_seen`.
pub fn ground(case: &Case<'_>) -> Judgement {
    let _ = case;
    Judgement::bare(Verdict::Undecided, None, "not judged yet")
}

/// Judges a `ground_path` reading and says how far it proves the reference:
/// at most 1 Ω beyond the null is metal; at most 1 kΩ is through earth or
/// water, which a frame or a ground conductor may not be. Put the
/// [`GroundPath`] into [`Around`](super::Around) of what follows.
pub fn ground_path(case: &Case<'_>) -> (GroundPath, Judgement) {
    let _ = case;
    (
        GroundPath::Unproven,
        Judgement::bare(Verdict::Undecided, None, "not judged yet"),
    )
}

/// The same value judged again after the second proof of the leads held:
/// what the `judged` row says. `contact` is how the contact was shown
/// before the clips came off; an ohmmeter needs [`Contact::SecondLead`], a
/// tester may have [`Contact::Attested`].
pub fn proven_after(first: &Case<'_>, contact: Contact) -> Judgement {
    let _ = contact;
    super::value(first)
}

/// Whether a second proof would still turn this value into a pass: then the
/// banner is "not proven yet: join the clips".
pub fn proof_due(case: &Case<'_>) -> bool {
    let _ = case;
    false
}
