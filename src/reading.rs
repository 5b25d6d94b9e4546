//! What a meter said, and what it came to: readings, samples, takes.
//!
//! A frame gives [`Reading`]s. The main one, with the quantities that came
//! beside it, is a [`Sample`]. Samples settle to a [`Take`]. "Whatever arrived"
//! and "what makes sense" are these three types and never one.

use core::time::Duration;

use serde::{Deserialize, Serialize};

use crate::meter::MeterId;
use crate::quantity::{Amperes, Celsius, Decimal, Ohms, Shown, Volts};
use crate::stamp::Stamp;

/// What a reading is of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[expect(missing_docs, reason = "each name is its own quantity")]
pub enum Quantity {
    Main,
    TestVoltage,
    Elapsed,
    Leakage,
    Temperature,
    Battery,
}

/// What the display says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Got {
    /// A number.
    Value(Shown),
    /// More than the range shows. The unit stays with it: over-range volts open no contact.
    Over {
        /// What would have been shown.
        unit: crate::quantity::Unit,
        /// The full scale of the range shown, in base units, when the stream says.
        full_scale: Option<Decimal>,
    },
    /// No result: neither a number nor over-range.
    Nothing,
}

/// Marks on a display: a closed set.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Flags(u16);

macro_rules! flags {
    ($($(#[$doc:meta])* $name:ident = $bit:literal, $word:literal;)+) => {
        impl Flags {
            $($(#[$doc])* pub const $name: Self = Self(1 << $bit);)+

            /// Every flag with its word, in the order of its bit.
            pub const ALL: &'static [(Self, &'static str)] = &[$((Self::$name, $word)),+];
        }
    };
}

flags! {
    /// The display is held: not what is on the clips now.
    FROZEN = 0, "frozen";
    /// The least of some time: not what is on the clips now.
    MIN = 1, "min";
    /// The most of some time: not what is on the clips now.
    MAX = 2, "max";
    /// A mean of some time: not what is on the clips now.
    AVG = 3, "avg";
    /// Relative to a null kept in the meter.
    RELATIVE = 4, "relative";
    /// The meter's battery is low.
    LOW_BATTERY = 5, "low_battery";
    /// The tester says that voltage is on the clips.
    LIVE = 6, "live";
    /// The range was chosen by hand.
    MANUAL_RANGE = 7, "manual_range";
    /// Alternating.
    AC = 8, "ac";
    /// Direct.
    DC = 9, "dc";
}

impl Flags {
    /// None.
    pub const NONE: Self = Self(0);

    /// These and `other`.
    #[must_use]
    pub const fn with(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }

    /// Whether all of `other` are set.
    pub const fn has(self, other: Self) -> bool {
        self.0 & other.0 == other.0
    }

    /// Whether the number is not what is on the clips now.
    pub const fn not_now(self) -> bool {
        self.0 & (Self::FROZEN.0 | Self::MIN.0 | Self::MAX.0 | Self::AVG.0) != 0
    }

    /// The flag that `word` names.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.iter().find(|(_, w)| *w == word).map(|(f, _)| *f)
    }

    /// The words of the flags that are set.
    pub fn words(self) -> impl Iterator<Item = &'static str> {
        Self::ALL
            .iter()
            .filter(move |(f, _)| self.has(*f))
            .map(|(_, w)| *w)
    }
}

/// One quantity of one frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Reading {
    /// Whose it is.
    pub meter: MeterId,
    /// The frame's number on its port; readings of one frame share it.
    pub frame: u32,
    /// Of what.
    pub quantity: Quantity,
    /// What the display says.
    pub got: Got,
    /// What is marked beside it.
    pub flags: Flags,
}

/// A main reading with what came beside it: what settle and the bench look at.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sample {
    /// What the display says.
    pub got: Got,
    /// What is marked beside it.
    pub flags: Flags,
    /// The test voltage of the same frame, or the latest no older than 2 s.
    pub test_voltage: Option<Volts>,
    /// The meter's own elapsed time of a hold.
    pub elapsed: Option<Duration>,
    /// The leakage current.
    pub leakage: Option<Amperes>,
    /// The meter's temperature reading.
    pub temperature: Option<Celsius>,
}

impl Sample {
    /// A main reading alone.
    pub const fn alone(got: Got, flags: Flags) -> Self {
        Self {
            got,
            flags,
            test_voltage: None,
            elapsed: None,
            leakage: None,
            temperature: None,
        }
    }
}

/// How a value was taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Method {
    /// It stood still.
    Steady,
    /// It still moves, slower than matters.
    Drifting,
    /// At a mark of a timed hold.
    Timed,
    /// Typed or attested by a person.
    Manual,
}

impl Method {
    /// The word in the log.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Steady => "steady",
            Self::Drifting => "drifting",
            Self::Timed => "timed",
            Self::Manual => "manual",
        }
    }
}

/// What settling came to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Outcome {
    /// A value: the one to judge.
    Value(Shown),
    /// Over-range for as long as it takes to count.
    Open {
        /// The full scale of the range shown, when the stream says.
        full_scale: Option<Decimal>,
    },
    /// Beyond the top range at the mark of a hold.
    OverRange {
        /// The full scale of the range shown, when the stream says.
        full_scale: Option<Decimal>,
    },
    /// The tester could not hold its voltage.
    PulledDown {
        /// The last resistance shown, if one was.
        last: Option<Shown>,
        /// The highest voltage reached.
        reached: Volts,
    },
    /// A hold ended before its mark.
    Aborted(Abort),
}

/// Why a hold ended before its mark.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Abort {
    /// Let go too early: the voltage went away.
    Released,
    /// The voltage fell below what the hold needs.
    Sagged,
    /// Nothing was read within 2 s of the mark.
    Silent,
    /// A lead came off.
    LeadOff,
    /// Connection lost, or the clock stepped.
    Interrupted,
}

/// A settled value or the end of a hold, with how it came about.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Take {
    /// When it was decided: the stamp of the input that settled it.
    pub at: Stamp,
    /// What it came to.
    pub outcome: Outcome,
    /// How.
    pub method: Method,
    /// Readings that it rests on.
    pub samples: u32,
    /// The time they span.
    pub window: Duration,
    /// Largest less smallest of them.
    pub spread: Ohms,
    /// For a hold: time under voltage.
    pub elapsed: Option<Duration>,
    /// For a hold: the test voltage at the mark, or the highest if aborted.
    pub test_voltage: Option<Volts>,
    /// The leakage current beside it.
    pub leakage: Option<Amperes>,
    /// The meter's temperature reading beside it.
    pub temperature: Option<Celsius>,
    /// What was marked beside it.
    pub flags: Flags,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_reading_stays_small() {
        assert!(size_of::<Reading>() <= 112, "{}", size_of::<Reading>());
    }

    #[test]
    fn flags_read_back_by_word() {
        let both = Flags::AC.with(Flags::FROZEN);
        assert_eq!(both.words().collect::<Vec<_>>(), ["frozen", "ac"]);
        assert!(both.not_now() && !Flags::AC.not_now());
        assert_eq!(Flags::from_word("live"), Some(Flags::LIVE));
    }
}
