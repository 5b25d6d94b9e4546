//! Where a fault lies: metres to a short in a cable, and between which places.
//!
//! The distance is at most what it says, since the short's own resistance is
//! in the reading. The places are halved: each opening leaves half of what is
//! left. A wet cable end leaks over its surface and reads like a fault behind
//! it; so a leak is believed only after the end was cleaned and dried.

use super::conductor::{ConductorError, Core, Stranding, Wire};
use super::correction::{self, DOUBT_K, UNKNOWN_K};
use super::guide::{Guide, Next};
use super::sets::Part;
use super::words::{Ohm, brief};
use crate::limits::{Laid, Search};
use crate::quantity::{Celsius, Decimal};
use crate::row::{Finding, Row, Verdict};

/// How far a conductor's area may lie from its nominal one, in percent either
/// way (own): IEC 60228 fixes the largest resistance of a size, not its area.
pub const AREA_PERCENT: f64 = 5.0;
/// Below this no surface leaks: a wet end is some kilohms at least (own).
const LEAK_LEAST: i64 = 1000;

/// Metres to a short, each doubt expanded with k = 2.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Distance {
    /// To a dead short; one with a resistance of its own lies nearer.
    pub metres: f64,
    /// Either way, all parts together.
    pub doubt: f64,
    /// Of the meter and its leads.
    pub of_meter: f64,
    /// Of the conductor's area.
    pub of_area: f64,
    /// Of the cable's temperature.
    pub of_temperature: f64,
}

/// Metres to a short between two cores from the loop that they read, leads
/// subtracted: R·A/(2ρ), with its doubt. `at` of the core is where the cable's
/// temperature is taken to be; `at_known` is false when nobody measured it
/// (20 ± 20 °C, own). `length_m` is the cable's own length, if known.
///
/// # Errors
/// A temperature out of the domain, or a loop below zero: the leads are more
/// than the reading.
pub fn distance(
    core: &Core,
    shown: &Part,
    at_known: bool,
    length_m: Option<f64>,
) -> Result<Guide<Distance>, ConductorError> {
    let Some(ohms) = shown.ohms else {
        return Ok(Guide::Refused {
            says: String::from(
                "the loop is over-range: no short between these two cores; see that the clips hold, then measure the other pairs and each core to ground",
            ),
        });
    };
    if !shown.leads_out {
        return Ok(Guide::Refused {
            says: String::from(
                "the leads were not subtracted: 1 Ω of them is many metres; join the clips first, then measure the loop again",
            ),
        });
    }
    let loop_ohms = ohms.to_f64();
    let metres = core.fault_distance(loop_ohms)?;
    let a_metre = core.there_and_back(1.0)?;
    // Expanded from a rectangle of that half-width, as for every limit of a maker.
    let rectangle = |percent: f64| 2.0 * percent / 100.0 / 3.0_f64.sqrt();
    let kelvin = if at_known { DOUBT_K } else { UNKNOWN_K };
    let of_meter = shown.u / a_metre;
    let of_area = metres * rectangle(AREA_PERCENT);
    let of_temperature = metres * correction::doubt(core.material, core.at, kelvin);
    let doubt = (of_meter * of_meter + of_area * of_area + of_temperature * of_temperature).sqrt();
    let found = Distance {
        metres,
        doubt,
        of_meter,
        of_area,
        of_temperature,
    };
    let mut says = format!(
        "{} there and back is at most {} m of cable, ± {} m (k = 2: meter {}, area {}, temperature {}); a short with a resistance of its own lies nearer",
        Ohm(ohms),
        brief(metres),
        brief(doubt),
        brief(of_meter),
        brief(of_area),
        brief(of_temperature)
    );
    match length_m {
        Some(length) if metres - doubt > length => {
            says += &format!(
                "; the cable is {} m long: this is no dead short of its cores, or what hangs at its end is in the reading; disconnect the motor and measure again",
                brief(length)
            );
        }
        Some(length) if metres + doubt > length => {
            says += &format!(
                "; the cable's end at {} m lies within the doubt: the short may be at its end or in the motor",
                brief(length)
            );
        }
        _ => {}
    }
    says += "; measure from the other end too: both must make up the cable's length";
    Ok(Guide::Found { says, what: found })
}

/// From a fault of more than this the loop is mostly the fault's own
/// resistance: no metres are worked out (own).
const LOOP_OHMS: i64 = 100;

/// What is asked for to have metres: the loop of the short.
pub fn loop_of(place: &str, open: &str) -> Next {
    Next {
        point: String::from(Search::LOOP),
        say: format!(
            "at {place}, open at {open}: clip A on the core that is shorted, clip B on what it is shorted to, another core or a ground conductor of the same size: their loop gives the metres to it. Shorted to earth, pipe or water only: leave this out (skip)"
        ),
        cautions: OPENING.to_vec(),
    }
}

/// Metres to the short that a loop shows in a cable as it lies, in words.
pub fn along(laid: &Laid, shown: &Part) -> String {
    let metres = Wire::area(laid.mm2).and_then(|wire| {
        let mut core = Core::of(wire);
        let (at, known) = cable_at(laid.at);
        (core.material, core.at) = (laid.material, at);
        if laid.stranded {
            core.stranding = Stranding::Stranded;
        }
        distance(&core, shown, known, Some(laid.metres))
    });
    match metres {
        Ok(Guide::Found { says, .. } | Guide::Refused { says }) => says,
        Ok(Guide::Next(next)) => next.say,
        Err(why) => why.to_string(),
    }
}

/// The motor's own terminals.
const MOTOR: &str = "motor";

/// A reading of the run: from one place towards the motor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Seen {
    /// The place, by its number from the panel.
    pub at: usize,
    /// The place from which on the rest was disconnected; none: connected to
    /// the motor.
    pub opened: Option<usize>,
    /// To ground, or between the cores, in ohms; none: over-range.
    pub ohms: Option<Decimal>,
    /// U of it (k = 2), in ohms.
    pub u: f64,
    /// Whether the ends were cleaned and dried before.
    pub dried: bool,
}

impl Seen {
    /// Whether the fault that it shows is hard enough for a loop to give metres.
    pub fn is_short(&self) -> bool {
        let most = Decimal::new(LOOP_OHMS, 0).unwrap_or_default();
        self.ohms.is_some_and(|ohms| ohms <= most)
    }

    /// Of the whole rest of the run, from what its row was judged to be: whole
    /// is what passed, by its proofs too; a fault what failed. A row `twice`
    /// was read again after the ends were cleaned and dried.
    ///
    /// # Errors
    /// It says nothing of the run, with why.
    pub fn from_row(at: usize, row: &Row, twice: bool) -> Result<Self, &'static str> {
        let seen = |ohms, u| Self {
            at,
            opened: None,
            ohms,
            u,
            dried: twice,
        };
        let near = matches!(
            row.finding,
            Some(Finding::Within | Finding::ToGround | Finding::BelowMinimum)
        );
        match (row.verdict, row.judged_ohms, row.lower_ohms) {
            (Some(Verdict::Pass), ..) => Ok(seen(None, 0.0)),
            (Some(Verdict::Fail), Some(ohms), _) if near => {
                // Rule 1: leads are at most so much, and clips that touch read as they do.
                if ohms <= Decimal::one(0) && !twice {
                    return Err(
                        "clips that touch read the same: see that they do not; the supply side stays off",
                    );
                }
                Ok(seen(Some(ohms), 0.0))
            }
            // On the limit, with a doubt as large.
            (Some(Verdict::Undecided), Some(_), Some(limit)) if near => {
                Ok(seen(Some(limit), limit.to_f64()))
            }
            _ => Err(match row.finding {
                Some(Finding::LeadsUnproven) => "the leads are not proven before and after it",
                Some(Finding::ContactUnproven) => {
                    "contact was not shown: a fallen clip reads the same"
                }
                Some(Finding::GroundPathUnproven) => "the ground is not proven to be ground",
                Some(Finding::AboveRange) => "the meter may pass nothing",
                Some(Finding::TestForbidden) => "this motor may have no test voltage",
                Some(Finding::RangeSuspect) => {
                    "its range does not tell: use a higher range, in ohms"
                }
                Some(Finding::NullSuspect) => "it read below zero: leave relative",
                Some(Finding::VoltagePresent) => "voltage was on the clips",
                _ => "it was no steady value",
            }),
        }
    }
}

/// The same place once more.
pub fn again(place: &str, why: &str) -> Next {
    Next {
        point: format!("{place}_to_motor"),
        say: format!(
            "at {place}: clean and dry the ends, keep them apart, measure the same again: {why}"
        ),
        cautions: OPENING.iter().chain(&DRYING).copied().collect(),
    }
}

/// What a reading shows of the part that it looks into.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Shows {
    /// A fault lies in it.
    Fault,
    /// It may be the surface of a wet end.
    Leak,
    /// None that this reading sees.
    Nothing,
    /// Within U of the limit.
    Unsaid,
}

/// Where a fault lies, by places.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Place {
    /// Between this place and the next one.
    Between(usize, usize),
    /// In the motor, or its own leads: behind the last place.
    Motor,
}

/// The cautions of each opening.
const OPENING: [&str; 3] = [
    "discharge the cable to ground first, at least four times as long as a test voltage was on",
    "off, locked out and proven dead again before each opening, by those who are licensed for it",
    "keep the opened ends apart, dry and off the ground while a test voltage is on; nobody stands at the other end",
];
const DRYING: [&str; 1] = [
    "discharge to ground first; no heat and no solvent on a cable that lies in water: pull the pump by those who are licensed for it",
];

/// Halves the run. `places` are named from the panel to the motor, the last
/// being the motor's own terminals; `limit` is the least resistance of a part
/// that is taken for whole; the first reading is of all of it, from the panel.
pub fn halve(places: &[&str], limit: Decimal, seen: &[Seen]) -> Guide<Place> {
    let n = places.len();
    if n < 2 {
        return refused(String::from(
            "two places or more are needed, from the panel to the motor",
        ));
    }
    // Part k lies between places k and k + 1, the last one behind the last place.
    let (mut from, mut to) = (0, n);
    let mut fault_seen = false;
    for (number, one) in seen.iter().enumerate() {
        let end = one.opened.unwrap_or(n);
        if one.at >= end || end > n {
            return refused(format!(
                "a reading from place {} to place {end} looks at nothing",
                one.at
            ));
        }
        let again = seen[number + 1..]
            .iter()
            .any(|later| later.at == one.at && later.opened == one.opened);
        if again {
            continue;
        }
        match shows(one, limit) {
            Shows::Unsaid => {
                return repeat(
                    places,
                    one,
                    "it lies within U of the limit: an insulation tester or a finer range decides",
                );
            }
            Shows::Leak => {
                return repeat(
                    places,
                    one,
                    "a wet or dirty cable end leaks over its surface and reads like a fault behind it",
                );
            }
            Shows::Fault => {
                fault_seen = true;
                (from, to) = (from.max(one.at), to.min(end));
            }
            Shows::Nothing if one.at <= from && end >= to => {
                return refused(if fault_seen {
                    contradiction(places, one)
                } else {
                    format!(
                        "the whole run reads above {}: nothing to look for with this reading; measure at the test voltage that showed the fault, or under the conditions in which it came",
                        Ohm(limit)
                    )
                });
            }
            // What is whole at either side of what is left is taken off it.
            Shows::Nothing if one.at <= from => from = from.max(end),
            Shows::Nothing if end >= to => to = to.min(one.at),
            Shows::Nothing => {}
        }
        if from >= to {
            return refused(contradiction(places, one));
        }
    }
    if !fault_seen {
        return Guide::Next(Next {
            point: format!("{}_to_motor", places[0]),
            say: format!(
                "at {}: everything connected to the motor, the supply side disconnected; measure towards the motor",
                places[0]
            ),
            cautions: OPENING.to_vec(),
        });
    }
    if to - from > 1 {
        let at = from + (to - from) / 2;
        return Guide::Next(Next {
            point: format!("{}_to_motor", places[at]),
            say: format!(
                "open at {}, clean and dry the ends; measure from there towards the motor: the fault lies {}",
                places[at],
                left(places, from, to)
            ),
            cautions: OPENING.to_vec(),
        });
    }
    found(places, from)
}

fn refused(says: String) -> Guide<Place> {
    Guide::Refused { says }
}

fn shows(seen: &Seen, limit: Decimal) -> Shows {
    let Some(ohms) = seen.ohms else {
        return Shows::Nothing;
    };
    let (value, least) = (ohms.to_f64(), limit.to_f64());
    let u = seen.u.abs();
    let may_leak = ohms >= Decimal::new(LEAK_LEAST, 0).unwrap_or_default();
    match () {
        () if value - u >= least => Shows::Nothing,
        () if value + u >= least => Shows::Unsaid,
        () if may_leak && !seen.dried => Shows::Leak,
        () => Shows::Fault,
    }
}

fn repeat(places: &[&str], one: &Seen, why: &str) -> Guide<Place> {
    let end = match one.opened {
        Some(opened) => format!("{}_to_{}", places[one.at], places[opened]),
        None => format!("{}_to_motor", places[one.at]),
    };
    Guide::Next(Next {
        point: end,
        say: format!(
            "at {}: clean and dry the ends, keep them apart, measure the same again: {why}",
            places[one.at]
        ),
        cautions: DRYING.to_vec(),
    })
}

fn contradiction(places: &[&str], one: &Seen) -> String {
    format!(
        "the reading at {} contradicts the ones before: there may be two faults, one that comes and goes, or a clip slipped; join the clips, dry the ends, begin again from {}",
        places[one.at], places[0]
    )
}

fn left(places: &[&str], from: usize, to: usize) -> String {
    match places.get(to) {
        Some(end) => format!("between {} and {end}", places[from]),
        None => format!("behind {}, the motor included", places[from]),
    }
}

fn found(places: &[&str], at: usize) -> Guide<Place> {
    const AFTER: &str =
        "after it is mended, measure the whole run again: there may be a second fault";
    match places.get(at + 1) {
        Some(next) => Guide::Found {
            says: format!(
                "the fault lies between {} and {next}; to be sure, open both ends of that part and measure it alone; {AFTER}",
                places[at]
            ),
            what: Place::Between(at, at + 1),
        },
        None => Guide::Found {
            says: format!(
                "the fault lies behind {}: {}; {AFTER}",
                places[at],
                match places[at] {
                    MOTOR => "in the motor or its own leads",
                    _ => "in the motor, its own leads or what is between",
                }
            ),
            what: Place::Motor,
        },
    }
}

/// The cable's temperature and whether it is known, for [`distance`].
pub fn cable_at(known: Option<Celsius>) -> (Celsius, bool) {
    known.map_or((Celsius(20.0), false), |at| (at, true))
}
