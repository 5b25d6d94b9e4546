//! Why a value was not yet taken, in words for a person: `replay --why`.

use core::fmt;

use super::contact::{Contact, Phase};
use super::hold::{Holding, Press};
use super::look::Hindrance;
use super::{Hold, rules};

/// What settling waits for, cheap to make after each reading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Why {
    /// Nothing is on the clips.
    NoContact,
    /// Taken: the clips are to be removed.
    Taken,
    /// The plateau is younger than it must be.
    Young {
        /// Seconds that it stands.
        stood_s: f32,
        /// Seconds that it must stand.
        needed_s: f32,
    },
    /// The readings spread so much that their mean is in doubt.
    Noise {
        /// One standard error of the mean, in counts.
        doubt_counts: f32,
        /// What is right, in counts.
        tol_counts: f32,
    },
    /// It drifts.
    Drift {
        /// Counts a second.
        counts_per_s: f32,
        /// What counts as settled.
        limit: f32,
    },
    /// Too much may still be to come.
    Curve {
        /// The most that may be, in counts.
        to_come_counts: f32,
        /// What a take allows, in counts.
        most_counts: f32,
    },
    /// A hold waits for its voltage.
    Press,
    /// A hold's voltage is on its way.
    Rising {
        /// The voltage shown last.
        volts: f32,
        /// The voltage at which the clock starts.
        start: f32,
    },
    /// A hold runs.
    Holding {
        /// Seconds held.
        held_s: f32,
        /// Seconds to hold.
        of_s: f32,
    },
    /// A hold ended before its last mark.
    LetGo,
    /// The tester cannot hold its voltage.
    PulledDown,
}

impl Why {
    pub(super) fn contact(contact: &Contact) -> Self {
        let (stood, need, hindrance) = contact.progress();
        let tol_counts = need.tol as f32;
        match (contact.phase(), hindrance) {
            (Phase::Open, _) => Self::NoContact,
            (Phase::Taken, _) => Self::Taken,
            (Phase::Touching, Hindrance::Short) => Self::Young {
                stood_s: stood as f32,
                needed_s: need.dwell as f32,
            },
            (Phase::Touching, Hindrance::Noise(doubt)) => Self::Noise {
                doubt_counts: doubt as f32,
                tol_counts,
            },
            (Phase::Touching, Hindrance::Drift(slope)) => Self::Drift {
                counts_per_s: slope as f32,
                limit: need.drift as f32,
            },
            (Phase::Touching, Hindrance::Curve(counts, most)) => Self::Curve {
                to_come_counts: counts as f32,
                most_counts: most as f32,
            },
        }
    }

    pub(super) fn hold(holding: &Holding, spec: &Hold) -> Self {
        match holding.press() {
            Press::Waiting if holding.volts() < rules::PRESSED * spec.nominal.0 => Self::Press,
            Press::Waiting => Self::Rising {
                volts: holding.volts() as f32,
                start: (spec.start_frac * spec.nominal.0) as f32,
            },
            Press::Running { .. } => {
                let (held_s, of_s) = holding.held(spec).unwrap_or_default();
                Self::Holding { held_s, of_s }
            }
            Press::Taken => Self::Taken,
            Press::LetGo => Self::LetGo,
            Press::PulledDown => Self::PulledDown,
        }
    }
}

impl fmt::Display for Why {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoContact => write!(f, "no contact"),
            Self::Taken => write!(f, "taken; remove the clips"),
            Self::Young { stood_s, needed_s } => {
                write!(f, "stands for {stood_s:.1} s of {needed_s:.1} s")
            }
            Self::Noise {
                doubt_counts,
                tol_counts,
            } => write!(
                f,
                "noisy: the mean is in doubt by {doubt_counts:.1} counts, right is within {tol_counts:.1}"
            ),
            Self::Drift {
                counts_per_s,
                limit,
            } => write!(
                f,
                "drifts by {counts_per_s:+.2} counts/s, settled is below {limit:.2}"
            ),
            Self::Curve {
                to_come_counts,
                most_counts,
            } => write!(
                f,
                "up to {to_come_counts:.1} counts may still be to come, a take allows {most_counts:.1}"
            ),
            Self::Press => write!(f, "waits for the test voltage"),
            Self::Rising { volts, start } => {
                write!(f, "{volts:.0} V is on; the hold starts at {start:.0} V")
            }
            Self::Holding { held_s, of_s } => write!(f, "holding {held_s:.0} of {of_s:.0} s"),
            Self::LetGo => write!(f, "let go too early; release and press again"),
            Self::PulledDown => write!(f, "the tester cannot hold its voltage; release"),
        }
    }
}
