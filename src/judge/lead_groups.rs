//! Which of six, nine or twelve leads belong together, by continuity.
//!
//! The layouts that such motors have are laid beside what was read; the pair
//! that leaves the fewest of them in the worst case is read next. A group is
//! found only when its leads conduct to each other by reading, and two groups
//! are apart only when a pair between them was read open: by elimination alone
//! a broken winding would be named whole, and two shorted ones told apart.
//! Ohms cannot tell which group is which phase, nor which end of a winding is
//! its start.

use super::guide::{Guide, Next};
use super::lead_finder::Between;
use super::sets::tolerance;
use super::words::{Ohm, plus};
use crate::quantity::Decimal;

/// The most leads.
const MOST: usize = 12;
/// Which group each lead is in.
type Layout = [u8; MOST];

/// The leads of a motor, told apart as far as ohms can.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Groups {
    /// The leads of each group, by their places; of a group of three in a
    /// delta the corner lead comes first.
    pub groups: Vec<Vec<usize>>,
    /// What it is.
    pub kind: GroupKind,
}

/// What the groups come to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum GroupKind {
    /// Six leads: both ends of three windings.
    ThreeWindings,
    /// Six leads: two windings of three lines each.
    TwoThreePhase,
    /// Nine leads: three windings, and three that meet inside.
    NineWye,
    /// Nine leads: three corners with two windings each.
    NineDelta,
    /// Twelve leads: both ends of six windings.
    SixWindings,
}

/// What is said with every result.
const CANNOT: &str = "which group is which phase, and which end of a winding is its start, ohms cannot tell: that takes a polarity test by a licensed shop, or the motor's diagram";
const APART: &str =
    "an ohmmeter sees the groups apart: a weak place between them shows in an insulation test only";

/// Groups of 6, 9 or 12 leads from the pairs read so far.
pub fn groups(names: &[&str], read: &[Between]) -> Guide<Groups> {
    let n = names.len();
    let mut layouts = match n {
        6 => [layouts(6, &[2, 2, 2]), layouts(6, &[3, 3])].concat(),
        9 => [layouts(9, &[3, 2, 2, 2]), layouts(9, &[3, 3, 3])].concat(),
        12 => layouts(12, &[2; 6]),
        _ => {
            return Guide::Refused {
                says: format!("expected 6, 9 or 12 leads, found {n}"),
            };
        }
    };
    let last = |at: usize| {
        !read[at + 1..]
            .iter()
            .any(|later| later.is(read[at].a, read[at].b))
    };
    for reading in (0..read.len()).filter(|at| last(*at)).map(|at| &read[at]) {
        let conducts = reading.part.ohms.is_some();
        layouts.retain(|of| (of[reading.a] == of[reading.b]) == conducts);
    }
    match layouts.as_slice() {
        [] => Guide::Refused {
            says: fits_none(names, read),
        },
        [one] => confirm(names, one, read),
        several => halve(names, several, read),
    }
}

/// Every way to put `n` leads into groups of these sizes.
fn layouts(n: usize, sizes: &[usize]) -> Vec<Layout> {
    let mut all = Vec::new();
    fill(n, &mut [u8::MAX; MOST], &mut sizes.to_vec(), 0, &mut all);
    all
}

/// The first free lead opens the next group, of each size that is left once.
fn fill(n: usize, of: &mut Layout, sizes: &mut Vec<usize>, group: u8, all: &mut Vec<Layout>) {
    let Some(first) = (0..n).find(|lead| of[*lead] == u8::MAX) else {
        all.push(*of);
        return;
    };
    let mut tried = Vec::new();
    for at in 0..sizes.len() {
        let size = sizes[at];
        if tried.contains(&size) {
            continue;
        }
        tried.push(size);
        sizes.remove(at);
        of[first] = group;
        join(n, of, sizes, group, size - 1, first + 1, all);
        of[first] = u8::MAX;
        sizes.insert(at, size);
    }
}

fn join(
    n: usize,
    of: &mut Layout,
    sizes: &mut Vec<usize>,
    group: u8,
    missing: usize,
    from: usize,
    all: &mut Vec<Layout>,
) {
    if missing == 0 {
        fill(n, of, sizes, group + 1, all);
        return;
    }
    for lead in from..n {
        if of[lead] == u8::MAX {
            of[lead] = group;
            join(n, of, sizes, group, missing - 1, lead + 1, all);
            of[lead] = u8::MAX;
        }
    }
}

/// The pair whose worse outcome leaves the fewest layouts.
fn halve(names: &[&str], layouts: &[Layout], read: &[Between]) -> Guide<Groups> {
    let n = names.len();
    let mut best: Option<(usize, usize, usize)> = None;
    for a in 0..n {
        for b in a + 1..n {
            if read.iter().any(|r| r.is(a, b)) {
                continue;
            }
            let together = layouts.iter().filter(|of| of[a] == of[b]).count();
            let worst = together.max(layouts.len() - together);
            // Nothing is learnt from what is implied already.
            if worst < layouts.len() && best.is_none_or(|(least, _, _)| worst < least) {
                best = Some((worst, a, b));
            }
        }
    }
    match best {
        Some((_, a, b)) => next(names, a, b, "which leads belong together"),
        None => Guide::Refused {
            says: String::from("every pair is read and the groups are not told apart"),
        },
    }
}

fn next(names: &[&str], a: usize, b: usize, why: &str) -> Guide<Groups> {
    Guide::Next(Next {
        point: format!("{}_{}", names[a], names[b]),
        say: format!(
            "clip {}–{}: {why}; keep all other leads apart",
            names[a], names[b]
        ),
        cautions: Vec::new(),
    })
}

/// One layout is left: its groups must conduct by reading, not by elimination,
/// which would name a broken winding whole.
fn confirm(names: &[&str], layout: &Layout, read: &[Between]) -> Guide<Groups> {
    let n = names.len();
    let count = layout[..n].iter().copied().max().unwrap_or_default();
    let mut groups: Vec<Vec<usize>> = (0..=count)
        .map(|group| (0..n).filter(|lead| layout[*lead] == group).collect())
        .collect();
    let threes = groups.iter().filter(|g| g.len() == 3).count();
    let kind = match (n, threes) {
        (6, 0) => GroupKind::ThreeWindings,
        (6, _) => GroupKind::TwoThreePhase,
        (9, 1) => GroupKind::NineWye,
        (9, _) => GroupKind::NineDelta,
        _ => GroupKind::SixWindings,
    };
    for group in &groups {
        for (at, a) in group.iter().enumerate() {
            for b in &group[at + 1..] {
                if !read.iter().any(|r| r.is(*a, *b)) {
                    return next(
                        names,
                        *a,
                        *b,
                        "they should conduct; it is not taken for granted",
                    );
                }
            }
        }
    }
    for (at, one) in groups.iter().enumerate() {
        for other in &groups[at + 1..] {
            let across = |r: &Between| {
                (one.contains(&r.a) && other.contains(&r.b))
                    || (one.contains(&r.b) && other.contains(&r.a))
            };
            if !read.iter().any(across) {
                return next(
                    names,
                    one[0],
                    other[0],
                    "they should not conduct; it is not taken for granted",
                );
            }
        }
    }
    if kind == GroupKind::NineDelta {
        for group in &mut groups {
            match corner(names, group, read) {
                Ok(corner) => group.sort_by_key(|lead| *lead != corner),
                Err(says) => return Guide::Refused { says },
            }
        }
    }
    Guide::Found {
        says: words(names, &groups, kind),
        what: Groups { groups, kind },
    }
}

/// The lead in the middle of two windings in series: it reads the same to both
/// others, and those read the sum.
fn corner(names: &[&str], group: &[usize], read: &[Between]) -> Result<usize, String> {
    let [x, y, z] = group else {
        return Err(String::from("a corner is one of three leads"));
    };
    let of = |a: usize, b: usize| {
        let found = read.iter().rev().find(|r| r.is(a, b));
        found.map(|r| r.part)
    };
    let (Some(xy), Some(yz), Some(zx)) = (of(*x, *y), of(*y, *z), of(*z, *x)) else {
        return Err(String::from("its three pairs are not all read"));
    };
    let mut sides = [(xy, *z), (yz, *x), (zx, *y)];
    sides.sort_by_key(|(part, _)| part.ohms);
    let [(least, _), (middle, _), (most, left_over)] = sides;
    let [Some(a), Some(b), Some(sum)] = [least.ohms, middle.ohms, most.ohms] else {
        return Err(String::from("its three pairs do not all read"));
    };
    let coarsest = least.resolution.max(middle.resolution).max(most.resolution);
    let parts = [&least, &middle, &most];
    let allowed = tolerance(parts, sum, coarsest, 0.0);
    let off = |a: Decimal, b: Decimal| super::words::minus(a, b).abs();
    let listed = format!("{}, {}, {}", names[*x], names[*y], names[*z]);
    if off(sum, plus(a, b)) > allowed {
        return Err(format!(
            "{listed} read {}, {} and {}: in a delta the largest is the sum of the others; clean the leads and measure the three pairs again",
            Ohm(a),
            Ohm(b),
            Ohm(sum)
        ));
    }
    if off(a, b) > allowed {
        return Err(format!(
            "{listed} read {}, {} and {}: in a delta the corner reads the same to both others; a winding is damaged, or a clip slipped; measure the three pairs again",
            Ohm(a),
            Ohm(b),
            Ohm(sum)
        ));
    }
    Ok(left_over)
}

fn words(names: &[&str], groups: &[Vec<usize>], kind: GroupKind) -> String {
    let listed: Vec<String> = groups
        .iter()
        .map(|group| {
            let leads: Vec<&str> = group.iter().map(|lead| names[*lead]).collect();
            leads.join("–")
        })
        .collect();
    let what = match kind {
        GroupKind::ThreeWindings => "three windings with both ends out",
        GroupKind::TwoThreePhase => "two windings of three lines each",
        GroupKind::NineWye => {
            "a wye of nine leads: three windings, and three leads that meet inside"
        }
        GroupKind::NineDelta => {
            "a delta of nine leads: three corners, named first, with two windings each"
        }
        GroupKind::SixWindings => "six windings with both ends out",
    };
    format!("{what}: {}; {APART}; {CANNOT}", listed.join(", "))
}

/// Why nothing fits: a lead that conducts to none, or too many.
fn fits_none(names: &[&str], read: &[Between]) -> String {
    let n = names.len();
    // What a lead was read to: none where anything conducted, else how often it did not.
    let open_to = |lead: usize| {
        let of: Vec<bool> = (0..n)
            .filter_map(|other| read.iter().rev().find(|r| r.is(lead, other)))
            .map(|r| r.part.ohms.is_some())
            .collect();
        (!of.is_empty() && of.iter().all(|conducts| !conducts)).then_some(of.len())
    };
    let most = (0..n).filter_map(open_to).max();
    let lone: Vec<&str> = (0..n)
        .filter(|lead| most.is_some() && open_to(*lead) == most)
        .map(|lead| names[lead])
        .collect();
    let what = if lone.is_empty() {
        String::from(
            "windings are shorted to each other or open, something is still connected, or a clip slipped",
        )
    } else {
        format!(
            "{} conducted to none that it was read to: its winding or lead is open, or the clip did not hold",
            lone.join(", ")
        )
    };
    format!(
        "no motor of {n} leads reads so: {what}; see that all leads are apart, join the clips, then measure again"
    )
}
