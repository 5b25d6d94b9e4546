//! Which lead is which, from resistances between pairs of leads in any order.
//!
//! Three leads of a three-wire motor: common, start, run. The leads of a
//! tapped winding in their order. The groups of six, nine and twelve leads.
//! A reading that fits no motor is refused with what to do: a clip that
//! slipped must not become a name on a lead. What ohms cannot tell is said.

use super::guide::{Guide, Next};
use super::sets::{Part, tolerance};
use super::words::{Ohm, brief, minus, plus};
use crate::quantity::Decimal;

/// Before anything is clipped to a lead that may have a capacitor on it.
const CAPACITOR: &str = "disconnect capacitor, relay and control box first; a capacitor may be charged: discharge it through a resistor";
/// A motor whose three pairs lie this near to each other is three-phase (own).
const ALIKE: f64 = 1.1;

/// Which of three leads is which, by its place in the names given.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ThreeLeads {
    /// Common to both windings.
    pub common: usize,
    /// The start winding's end.
    pub start: usize,
    /// The main winding's end.
    pub run: usize,
}

/// Common, start and run of three leads, from the pairs first–second,
/// second–third and third–first. The largest reading is run–start, the lead
/// that it leaves over is common; common–start is the middle one, common–run
/// the least (common practice).
pub fn three_leads(names: [&str; 3], pairs: [&Part; 3]) -> Guide<ThreeLeads> {
    let [Some(a), Some(b), Some(c)] = pairs.map(|p| p.ohms) else {
        return Guide::Refused {
            says: three_open(names, pairs),
        };
    };
    let values = [a, b, c];
    let mut order = [0, 1, 2];
    order.sort_by_key(|at| values[*at]);
    let [least, middle, most] = order;
    let coarsest = pairs.iter().map(|p| p.resolution).max().unwrap_or_default();
    let two = plus(coarsest, coarsest);
    if values[least] <= two {
        return refused(format!(
            "{} read nothing: the clips touch, or a winding is shorted; see that they do not touch and measure all three again",
            pair(names, least)
        ));
    }
    if values[most].to_f64() <= ALIKE * values[least].to_f64() {
        return refused(format!(
            "all three pairs read alike ({}, {}, {}): that is a three-phase motor, which has no common; any two lines change its direction",
            Ohm(a),
            Ohm(b),
            Ohm(c)
        ));
    }
    let sum = plus(values[least], values[middle]);
    let mismatch = minus(values[most], sum);
    let allowed = tolerance(pairs, values[most], coarsest, 0.0);
    if mismatch.abs() > allowed {
        let leads_in = pairs.iter().any(|p| !p.leads_out);
        let what = if leads_in && mismatch.abs() <= plus(allowed, Decimal::one(0)) {
            "the leads were not subtracted and may explain it: join the clips first, then measure all three again"
        } else {
            "no three-wire motor reads so: a clip slipped, a joint is dirty or something is still connected; clean the leads and measure all three again"
        };
        return refused(format!(
            "{} is not {} + {} = {} within {}: {what}",
            Ohm(values[most]),
            Ohm(values[least]),
            Ohm(values[middle]),
            Ohm(sum),
            Ohm(allowed)
        ));
    }
    // Pair n lies between the leads n and n + 1: the one it leaves over is n + 2.
    let left_over = |at: usize| (at + 2) % 3;
    let common = left_over(most);
    let u = (pairs[least].u * pairs[least].u + pairs[middle].u * pairs[middle].u).sqrt();
    let apart = minus(values[middle], values[least]);
    if apart < two || apart.to_f64() <= u {
        return refused(format!(
            "{} is common; {} and {} read alike to it ({} and {}, U {} Ω), so start and run cannot be told: a finer meter decides; a motor that runs both ways has two equal windings, and one open phase of a three-phase motor in delta reads 1 : 1 : 2 too",
            names[common],
            names[left_over(middle)],
            names[left_over(least)],
            Ohm(values[middle]),
            Ohm(values[least]),
            brief(u)
        ));
    }
    // The pair common–start leaves run over, and the other way round.
    let found = ThreeLeads {
        common,
        start: left_over(least),
        run: left_over(middle),
    };
    Guide::Found {
        says: format!(
            "common is {}, start is {}, run is {}: {} is the largest ({}) and leaves {} over; {} to {} is {}, to {} {}; mark the leads",
            names[found.common],
            names[found.start],
            names[found.run],
            pair(names, most),
            Ohm(values[most]),
            names[found.common],
            names[found.common],
            names[found.start],
            Ohm(values[middle]),
            names[found.run],
            Ohm(values[least])
        ),
        what: found,
    }
}

fn refused<T>(says: String) -> Guide<T> {
    Guide::Refused { says }
}

fn pair(names: [&str; 3], at: usize) -> String {
    format!("{}–{}", names[at], names[(at + 1) % 3])
}

fn three_open(names: [&str; 3], pairs: [&Part; 3]) -> String {
    let open: Vec<usize> = (0..3).filter(|at| pairs[*at].ohms.is_none()).collect();
    match open[..] {
        // Two open pairs share one lead; the pair that reads leaves it over.
        [_, _] => {
            let reads = (0..3).find(|at| !open.contains(at)).unwrap_or_default();
            let lead = names[(reads + 2) % 3];
            format!(
                "{lead} is open to both others: its winding or lead is open, or it is common behind a thermal switch that opened; let the motor cool, see that the clip holds, measure its two pairs again"
            )
        }
        [one] => format!(
            "{} is over-range though both its leads read to the third one, which no motor does: a clip slipped or the range was wrong; measure all three again",
            pair(names, one)
        ),
        _ => String::from(
            "nothing conducts: the clips do not hold, or more than one winding is open; join the clips, then measure all three again",
        ),
    }
}

/// The first pair of three leads that is not read yet.
pub fn next_of_three(names: [&str; 3], read: [bool; 3]) -> Option<Next> {
    let at = read.iter().position(|read| !read)?;
    Some(Next {
        point: format!("{}_{}", names[at], names[(at + 1) % 3]),
        say: format!(
            "clip {}, in any order; leave {} free",
            pair(names, at),
            names[(at + 2) % 3]
        ),
        cautions: if at == 0 { vec![CAPACITOR] } else { Vec::new() },
    })
}

/// A reading between two leads, by their places.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Between {
    /// One lead.
    pub a: usize,
    /// The other.
    pub b: usize,
    /// What was read.
    pub part: Part,
}

impl Between {
    /// Whether it is of these two, in any order.
    pub fn is(&self, a: usize, b: usize) -> bool {
        (self.a, self.b) == (a, b) || (self.a, self.b) == (b, a)
    }
}

/// The leads of one tapped winding, from one end to the other. The lead that
/// is farthest from any lead is an end; from there the resistances are the order.
pub fn tap_order(names: &[&str], read: &[Between]) -> Guide<Vec<usize>> {
    let of = |a: usize, b: usize| read.iter().rev().find(|r| r.is(a, b));
    let mut from_first = Vec::new();
    for lead in 1..names.len() {
        match of(0, lead) {
            None => return ask(names, 0, lead, "the farthest lead is an end of the winding"),
            Some(Between { part, .. }) => match part.ohms {
                None => {
                    return refused(format!(
                        "{}–{} is over-range: {} is not on this winding, or it is open; see that the clips hold",
                        names[0], names[lead], names[lead]
                    ));
                }
                Some(ohms) => from_first.push((ohms, lead)),
            },
        }
    }
    let Some((_, end)) = from_first.iter().max_by_key(|(ohms, _)| *ohms).copied() else {
        return refused(String::from("two leads or more are needed"));
    };
    let mut order = vec![(Decimal::ZERO, 0.0, end)];
    for lead in (0..names.len()).filter(|lead| *lead != end) {
        match of(end, lead) {
            None => {
                return ask(
                    names,
                    end,
                    lead,
                    "the order is that of the resistances from here",
                );
            }
            Some(Between { part, .. }) => match part.ohms {
                None => {
                    return refused(format!(
                        "{}–{} is over-range though both read to {}: a clip slipped or the range was wrong; measure it again",
                        names[end], names[lead], names[0]
                    ));
                }
                Some(ohms) => order.push((ohms, part.u, lead)),
            },
        }
    }
    order.sort_by_key(|(ohms, _, _)| *ohms);
    for two in order.windows(2) {
        let [(a, ua, one), (b, ub, other)] = two else {
            continue;
        };
        let u = (ua * ua + ub * ub).sqrt();
        let apart = minus(*b, *a);
        if apart.to_f64() <= u || apart.is_zero() {
            return refused(format!(
                "{} and {} read alike from {} ({} and {}, U {} Ω): they are joined, or a finer meter must tell them apart",
                names[*one],
                names[*other],
                names[end],
                Ohm(*a),
                Ohm(*b),
                brief(u)
            ));
        }
    }
    // What was read from the first lead must be the differences along the winding.
    let along = |lead: usize| {
        order
            .iter()
            .find(|(_, _, l)| *l == lead)
            .map(|(o, _, _)| *o)
    };
    for (ohms, lead) in &from_first {
        let (Some(first), Some(this), Some(part)) = (along(0), along(*lead), of(0, *lead)) else {
            continue;
        };
        let part = part.part;
        let off = minus(*ohms, minus(first, this).abs()).abs();
        if off > tolerance([&part, &part, &part], *ohms, part.resolution, 0.0) {
            return refused(format!(
                "{}–{} reads {}, and along the winding it would be {}: this is not one winding with taps, or a clip slipped; measure it again",
                names[0],
                names[*lead],
                Ohm(*ohms),
                Ohm(minus(first, this).abs())
            ));
        }
    }
    let words: Vec<String> = order
        .iter()
        .map(|(ohms, _, lead)| format!("{} ({})", names[*lead], Ohm(*ohms)))
        .collect();
    Guide::Found {
        says: format!(
            "from one end to the other: {}; which end is which needs the diagram of the motor: ohms read the same from both",
            words.join(", ")
        ),
        what: order.iter().map(|(_, _, lead)| *lead).collect(),
    }
}

fn ask<T>(names: &[&str], a: usize, b: usize, why: &str) -> Guide<T> {
    Guide::Next(Next {
        point: format!("{}_{}", names[a], names[b]),
        say: format!("clip {}–{}: {why}", names[a], names[b]),
        cautions: Vec::new(),
    })
}
