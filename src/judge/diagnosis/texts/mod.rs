//! Texts: what each pattern means, in one table.
//!
//! Words are our own. What they say is common practice where no standard is
//! named. They never call a motor sound and never tell anyone to switch it on;
//! what may be done, and by whom, is left to local code and licensed people.

mod grounds;
mod measuring;
mod windings;

/// How a pattern ranks, and what it does to others on the same rows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(in super::super) enum Class {
    /// It can hurt somebody: said first, silenced by nothing.
    Hurts,
    /// Measured wrongly, perhaps: silences conclusions from the same rows.
    Again,
    /// It holds whatever else is doubted.
    Firm,
    /// A special pattern: silent where a row of it is doubted.
    Special,
    /// One value by itself: silent where something above explains it.
    General,
    /// To be kept in mind; explains nothing.
    Caution,
}

/// What a pattern means.
#[derive(Debug)]
pub(in super::super) struct Meaning {
    pub(in super::super) name: &'static str,
    pub(in super::super) class: Class,
    /// `common practice`, or a standard.
    pub(in super::super) source: &'static str,
    pub(in super::super) says: &'static str,
    pub(in super::super) causes: &'static [&'static str],
    pub(in super::super) next_checks: &'static [&'static str],
    pub(in super::super) cautions: &'static [&'static str],
}

const PRACTICE: &str = "common practice";

const LOCAL: &str = "who may do what is for local code, the motor's maker and a licensed person to say; a pattern ranks causes, a qualified person decides";
const STAY_OFF: &str = "do not energize";
const DISCHARGE: &str = "after a test voltage keep the winding shorted to ground for at least four times as long as the voltage was on (IEEE 43), then measure that nothing is left: a brief short lets charge come back";
const BARRIER: &str = "keep people away from both ends of the cable and cover bare ends: even a weak test current makes people jump";
const GAS: &str = "no test voltage where gas may be, or in a flooded pit: a discharge can spark; have it declared free of gas first, under the site's permit";
const REJOIN: &str = "join the clips: they must read as they did before";
const AT_MOTOR: &str = "take everything off the motor's leads and measure there";

/// The table, a part a subject; in a class the first ranks first.
const PARTS: [&[Meaning]; 3] = [measuring::TEXTS, grounds::TEXTS, windings::TEXTS];

/// Every meaning, in the order of rank inside its class.
pub(in super::super) fn texts() -> impl Iterator<Item = &'static Meaning> {
    PARTS.into_iter().flatten().chain([&NOTHING_FOUND])
}

const NOTHING_FOUND: Meaning = Meaning {
    name: "nothing_found",
    class: Class::Caution,
    source: PRACTICE,
    says: "no pattern of a fault in these rows, which is not proof that there is none",
    causes: &[],
    next_checks: &[
        "what these tests cannot show: turn-to-turn weakness, bearings, rotor, and what only shows warm or under load",
        "if the machine had a complaint, look for it where these tests do not reach: supply, control, pump, pipe",
    ],
    cautions: &["a normal winding does not clear a motor", LOCAL],
};

/// What is said when no pattern was seen.
pub(super) fn nothing_found() -> &'static Meaning {
    &NOTHING_FOUND
}
