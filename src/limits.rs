//! What is measured and what it must meet: tests, points, motors, acceptance.
//!
//! These are the checked types; `catalogue` makes a [`Motor`] from a user's
//! file or from what a person answers, and a job carries its motor from then
//! on, so a later edit of the catalogue changes no job that runs.

pub mod baseline;
pub mod cable;
pub mod profile;
pub mod sheet;

use core::fmt;

use serde::{Deserialize, Serialize};

use crate::quantity::{Celsius, Decimal, Volts};
use crate::text::Text;

pub use baseline::{Baseline, Earlier, Was};
pub use cable::{Cable, Laid};
pub use profile::{Bands, Profile, RatioKind};
pub use sheet::{Search, Sheet, SheetStep, SkipBy};

macro_rules! words {
    ($(#[$doc:meta])* $name:ident { $($(#[$vdoc:meta])* $variant:ident = $word:literal,)+ }) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, serde::Serialize, serde::Deserialize)]
        pub enum $name { $($(#[$vdoc])* #[serde(rename = $word)] $variant,)+ }

        impl $name {
            /// Every one, in the order they are declared.
            pub const ALL: &'static [Self] = &[$(Self::$variant),+];

            /// The word used in files and in the log.
            pub const fn word(self) -> &'static str {
                match self { $(Self::$variant => $word),+ }
            }

            /// The one that `word` names.
            pub fn from_word(word: &str) -> Option<Self> {
                match word { $($word => Some(Self::$variant),)+ _ => None }
            }
        }

        impl core::fmt::Display for $name {
            fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
                f.pad(self.word())
            }
        }
    };
}
pub(crate) use words;

words! {
    /// A kind of test, in the order a job takes them.
    Test {
        /// Off, locked out, proven dead: attested.
        Dead = "dead",
        /// The clips joined.
        Leads = "leads",
        /// The ground reference read to a second ground.
        GroundPath = "ground_path",
        /// Resistance of a winding.
        Winding = "winding",
        /// Winding to ground with an ohmmeter's low voltage.
        Ground = "ground",
        /// Winding to ground, or between windings, at a test voltage.
        Insulation = "insulation",
        /// A ratio of two insulation values.
        Ratio = "ratio",
        /// A sensor in the winding.
        Sensor = "sensor",
        /// A temperature.
        Temperature = "temperature",
    }
}

/// One thing to measure: a test and the name of the place, such as `winding main`.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Point {
    /// Which test.
    pub test: Test,
    /// Which place: `main`, `line_12`, `all_to_ground`, `before`.
    pub name: Text,
}

impl Point {
    /// A point with a name of the program's own, which needs no check.
    pub fn new(test: Test, name: &str) -> Self {
        Self {
            test,
            name: Text::clean(name),
        }
    }

    /// Whether this is `test` at `name`.
    pub fn is(&self, test: Test, name: &str) -> bool {
        self.test == test && self.name.as_str() == name
    }
}

impl fmt::Display for Point {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.test, self.name)
    }
}

words! {
    /// How a motor is wound, which gives its sheet.
    Kind {
        /// Two leads, one winding.
        TwoWire = "two_wire",
        /// Common, run (main) and start.
        ThreeWire = "three_wire",
        /// Three lines.
        ThreePhase = "three_phase",
        /// Anything else; its points come with it.
        Other = "other",
    }
}

words! {
    /// Whether there are electronics in or on the motor.
    Electronics {
        /// There are: no test voltage.
        Yes = "yes",
        /// There are none.
        No = "no",
        /// Nobody knows: no test voltage.
        Unknown = "unknown",
    }
}

words! {
    /// What the catalogue allows of an insulation test. Ordered: the most careful first.
    InsulationTest {
        /// Never.
        Forbidden = "forbidden",
        /// Only with all leads joined.
        LeadsJoinedOnly = "leads_joined_only",
        /// As the sheet says.
        Allowed = "allowed",
    }
}

words! {
    /// What the winding is made of.
    Conductor {
        /// Copper, k = 234.5.
        Copper = "copper",
        /// Aluminium, k = 228.
        Aluminium = "aluminium",
    }
}

words! {
    /// What a motor's insulation does with temperature.
    InsulationKind {
        /// Halves every 10 K.
        Thermoplastic = "thermoplastic",
        /// Follows two exponentials.
        Thermosetting = "thermosetting",
    }
}

words! {
    /// How near a limit a value may lie and still pass.
    Acceptance {
        /// The value itself decides.
        Simple = "simple",
        /// The value moved by U towards the limit decides.
        Guarded = "guarded",
    }
}

words! {
    /// When in a motor's stay this job is.
    Stage {
        /// As it came.
        Arrival = "arrival",
        /// After drying.
        Dried = "dried",
        /// After repair.
        Repaired = "repaired",
        /// Before it leaves.
        Leaving = "leaving",
    }
}

words! {
    /// Where the clips are, along the way to the motor.
    MeasuredAt {
        /// On the motor's own leads.
        Motor = "motor",
        /// At the splice.
        Splice = "splice",
        /// At the panel: the cable is in.
        Panel = "panel",
    }
}

words! {
    /// What the ground clip holds.
    GroundReference {
        /// The bare frame.
        Frame = "frame",
        /// The ground conductor of the cable.
        GroundConductor = "ground_conductor",
        /// A metal drop pipe.
        MetalPipe = "metal_pipe",
        /// The well casing.
        Casing = "casing",
        /// Something else.
        Other = "other",
    }
}

/// A pair of limits in ohms; either may be missing.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Range {
    /// The least that is within.
    pub lower: Option<Decimal>,
    /// The most that is within.
    pub upper: Option<Decimal>,
}

impl Range {
    /// Whether there is no limit at all.
    pub const fn is_empty(&self) -> bool {
        self.lower.is_none() && self.upper.is_none()
    }
}

/// A motor as its catalogue line or a person's answers give it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Motor {
    /// The model's name, or what the person called it.
    pub model: Text,
    /// How it is wound.
    pub kind: Kind,
    /// Rated line-to-line voltage.
    pub rated_v: Option<Volts>,
    /// The temperature at which the winding limits hold.
    pub reference_c: Option<Celsius>,
    /// Main winding, or the one winding of a two-wire motor.
    pub main: Range,
    /// Start winding.
    pub start: Range,
    /// Line to line.
    pub line: Range,
    /// Other points by name, from `points.csv`.
    pub points: Vec<(Text, Range)>,
    /// Electronics in or on it.
    pub electronics: Electronics,
    /// The named set of insulation limits.
    pub profile: Option<Text>,
    /// Where the limits come from.
    pub source: Text,
    /// What its insulation is, if known.
    pub insulation: Option<InsulationKind>,
    /// What the catalogue allows.
    pub insulation_test: InsulationTest,
    /// The largest test voltage allowed.
    pub max_test_v: Option<Volts>,
    /// Its own limit of unbalance in percent.
    pub unbalance_max_percent: Option<Decimal>,
    /// What it is wound with.
    pub conductor: Conductor,
    /// Sensors by name, as the catalogue writes them.
    pub sensors: Vec<Text>,
    /// Whether it came from a catalogue: without one, winding limits are not judged.
    pub in_catalogue: bool,
}

impl Motor {
    /// A motor nobody has listed: its kind, rated voltage and electronics are
    /// all that is known.
    pub fn unlisted(
        model: Text,
        kind: Kind,
        rated_v: Option<Volts>,
        electronics: Electronics,
    ) -> Self {
        Self {
            model,
            kind,
            rated_v,
            reference_c: None,
            main: Range::default(),
            start: Range::default(),
            line: Range::default(),
            points: Vec::new(),
            electronics,
            profile: None,
            source: Text::default(),
            insulation: None,
            insulation_test: InsulationTest::Allowed,
            max_test_v: None,
            unbalance_max_percent: None,
            conductor: Conductor::Copper,
            sensors: Vec::new(),
            in_catalogue: false,
        }
    }

    /// The limits of a winding point; `total` of a three-wire motor and `set`
    /// have none of their own.
    pub fn winding_limits(&self, name: &str) -> Range {
        match name {
            "main" => self.main,
            "start" => self.start,
            "line_12" | "line_23" | "line_31" => self.line,
            other => self
                .points
                .iter()
                .find(|(n, _)| n.as_str() == other)
                .map(|(_, r)| *r)
                .unwrap_or_default(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_word_reads_back() {
        for test in Test::ALL {
            assert_eq!(Test::from_word(test.word()), Some(*test));
        }
        assert_eq!(Kind::from_word("three_phase"), Some(Kind::ThreePhase));
        assert_eq!(Kind::from_word("Three_Phase"), None);
    }
}
