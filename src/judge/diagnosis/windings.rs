//! Patterns over windings: what several values say that one cannot. Each
//! fact: common practice, unless a standard is named or it is marked (own).

use super::facts::Heard;
use super::measuring::three;
use super::{Hit, Pattern, Whole};
use crate::limits::{Kind, Search, Test};
use crate::row::{Finding, Verdict};

pub(super) const PATTERNS: &[Pattern] = &[
    burnt_winding,
    differs_on_repeat,
    wrong_connection,
    all_high_alike,
    open_on_one_lead,
    open_delta_phase,
    shorted,
    sum_mismatch,
    one_line_high,
    turns_shorted,
    cable_left_in,
    unbalance_hidden,
    temperature_may_explain,
    winding_low,
    winding_high,
    winding_open,
    unbalanced,
    winding_moved,
];

/// Whether a winding is too low, by whatever word.
fn is_low(heard: &Heard) -> bool {
    heard.failed() && (heard.found(Finding::Low) || heard.found(Finding::Shorted))
}

fn windings<'a>(whole: &Whole<'a>) -> impl Iterator<Item = &'a Heard> {
    whole.facts.of(Test::Winding)
}

fn set<'a>(whole: &Whole<'a>) -> Option<&'a Heard> {
    whole.facts.at(Test::Winding, "set")
}

/// A low winding and a low insulation in one motor: both from one burn.
fn burnt_winding(whole: &Whole<'_>) -> Option<Hit> {
    let low: Vec<&Heard> = windings(whole).filter(|h| is_low(h)).collect();
    let weak: Vec<&Heard> = whole.facts.to_ground().filter(|h| h.failed()).collect();
    if low.is_empty() || weak.is_empty() {
        return None;
    }
    Hit::new("burnt_winding", low.into_iter().chain(weak)).seen()
}

/// Takes of one point that differ by more than a display, a twentieth and
/// 50 mΩ explain, or conduct only sometimes (own).
fn differs_on_repeat(whole: &Whole<'_>) -> Option<Hit> {
    let mut rows: Vec<&Heard> = Vec::new();
    let mut words = Vec::new();
    for heard in windings(whole) {
        let takes: Vec<&Heard> = whole
            .facts
            .takes(heard)
            .filter(|h| usable(h) && !h.found(Finding::RangeSuspect))
            .collect();
        let values: Vec<f64> = takes.iter().filter_map(|h| h.net).collect();
        let most = values.iter().copied().fold(f64::MIN, f64::max);
        let least = values.iter().copied().fold(f64::MAX, f64::min);
        let coarsest = takes.iter().map(|h| h.resolution).fold(0.0, f64::max);
        let apart = values.len() > 1 && most - least > (0.05 * most).max(3.0 * coarsest).max(0.05);
        let comes_and_goes = !values.is_empty() && takes.iter().any(|h| h.is_over());
        if apart || comes_and_goes {
            words.push(
                match (comes_and_goes, takes.first().and_then(|f| f.net), heard.net) {
                    (false, Some(first), Some(last)) if last < first => {
                        format!("{} fell", heard.name)
                    }
                    (false, ..) => format!("{} rose", heard.name),
                    (true, ..) => format!("{} conducts only sometimes", heard.name),
                },
            );
            // A low winding is not explained by a joint: it stays for others to say.
            rows.extend(
                takes
                    .into_iter()
                    .filter(|t| t.seq != heard.seq || !is_low(t)),
            );
        }
    }
    Some(
        Hit::new("differs_on_repeat", rows)
            .seen()?
            .saying(words.join(", ")),
    )
}

/// Whether a take is one of what was on the clips: not held, not under voltage.
fn usable(heard: &Heard) -> bool {
    !matches!(
        heard.finding,
        Some(Finding::Unstable | Finding::VoltagePresent | Finding::NullSuspect)
    )
}

/// Limits that both exist.
fn limits(heard: &Heard) -> Option<(f64, f64, f64)> {
    Some((heard.net?, heard.lower?, heard.upper?))
}

/// All windings with limits that are off by one and the same factor of a
/// connection: series and parallel 4, twice the number 2, wye and delta 3.
fn wrong_connection(whole: &Whole<'_>) -> Option<Hit> {
    const FACTORS: [(f64, &str); 6] = [
        (2.0, "about twice the limits"),
        (4.0, "about four times the limits"),
        (3.0, "about three times the limits"),
        (0.5, "about half the limits"),
        (0.25, "about a quarter of the limits"),
        (1.0 / 3.0, "about a third of the limits"),
    ];
    let judged: Vec<(&Heard, (f64, f64, f64))> = windings(whole)
        .filter_map(|h| Some((h, limits(h)?)))
        .collect();
    let off = judged.iter().all(|(h, _)| {
        h.verdict != Some(Verdict::Pass) && (h.found(Finding::Low) || h.found(Finding::High))
    });
    // No connection lowers insulation: a low winding beside a weak one is not one.
    let weak = || whole.facts.to_ground().any(Heard::failed);
    if judged.is_empty() || !off || (judged.iter().any(|(h, _)| is_low(h)) && weak()) {
        return None;
    }
    let fits = |by: f64| {
        let inside = |(v, lower, upper): (f64, f64, f64)| v / by >= lower && v / by <= upper;
        judged.iter().all(|(_, l)| inside(*l))
    };
    let (_, words) = FACTORS.into_iter().find(|(by, _)| fits(*by))?;
    let rows = judged.iter().map(|(h, _)| *h);
    Some(Hit::new("wrong_connection", rows).saying(words))
}

/// Two or more windings, none within, all above by the same amount or by the
/// same part: one thing that is in each of them.
fn all_high_alike(whole: &Whole<'_>) -> Option<Hit> {
    let judged: Vec<(&Heard, (f64, f64, f64))> = windings(whole)
        .filter_map(|h| Some((h, limits(h)?)))
        .collect();
    let high = |(_, (v, _, upper)): &(&Heard, (f64, f64, f64))| v > upper;
    if judged.len() < 2 || !judged.iter().all(high) {
        return None;
    }
    let middle = |(_, lower, upper): (f64, f64, f64)| f64::midpoint(lower, upper);
    let width = |(_, lower, upper): (f64, f64, f64)| (upper - lower) / 2.0;
    let by: Vec<f64> = judged.iter().map(|(_, l)| l.0 - middle(*l)).collect();
    let part: Vec<f64> = judged.iter().map(|(_, l)| l.0 / middle(*l)).collect();
    let slack = judged.iter().map(|(_, l)| width(*l)).fold(0.0, f64::max);
    let spread = |v: &[f64]| {
        v.iter().copied().fold(f64::MIN, f64::max) - v.iter().copied().fold(f64::MAX, f64::min)
    };
    let mean = by.iter().sum::<f64>() / by.len() as f64;
    // A motor lies anywhere in its limits, so the amounts differ by as much as those are wide.
    let same_amount = spread(&by) <= (0.25 * mean).max(slack) && mean > slack;
    // Copper is 40 % higher at 125 °C than at 20 °C: more than that is not heat (IEC 60034-1, 234.5).
    let same_part = spread(&part) <= 0.06 && part.iter().all(|p| *p <= 1.45);
    let words = match (same_amount, same_part) {
        (true, true) => format!(
            "each by about {} Ω, and by the same part: leads or cable, or heat",
            ohms(mean)
        ),
        (true, false) => format!(
            "each by about {} Ω: something in series with all of them, not several faults",
            ohms(mean)
        ),
        (false, true) => format!(
            "each by about {} %: a hot winding does that",
            (100.0 * (part[0] - 1.0)).round()
        ),
        (false, false) => return None,
    };
    let rows = judged.iter().map(|(h, _)| *h);
    Some(Hit::new("all_high_alike", rows).saying(words))
}

/// Two digits are enough for words.
fn ohms(value: f64) -> String {
    if value.abs() >= 10.0 {
        format!("{value:.0}")
    } else if value.abs() >= 1.0 {
        format!("{value:.1}")
    } else {
        format!("{value:.2}")
    }
}

/// Over-range on each pair through one lead, while the pair without it reads.
/// Both pairs of common are a thermal switch first (see `measuring`).
fn open_on_one_lead(whole: &Whole<'_>) -> Option<Hit> {
    const LEADS: [(&str, [&str; 2], &str); 5] = [
        ("line 1", ["line_12", "line_31"], "line_23"),
        ("line 2", ["line_12", "line_23"], "line_31"),
        ("line 3", ["line_23", "line_31"], "line_12"),
        ("run (main)", ["main", "total"], "start"),
        ("start", ["start", "total"], "main"),
    ];
    let at = |name: &str| whole.facts.at(Test::Winding, name);
    let hit = LEADS.into_iter().find_map(|(lead, through, without)| {
        let [a, b] = through.map(at);
        let (a, b, reads) = (a?, b?, at(without)?);
        (a.is_over() && b.is_over() && reads.ohms.is_some())
            .then(|| Hit::new("open_on_one_lead", [a, b, reads]).saying(lead))
    })?;
    Some(Hit {
        rows: hit
            .rows
            .into_iter()
            .chain(set(whole).map(|s| s.seq))
            .collect(),
        ..hit
    })
}

/// 1 : 1 : 2 and no over-range anywhere.
fn open_delta_phase(whole: &Whole<'_>) -> Option<Hit> {
    let lines = three(whole);
    let set = set(whole).filter(|s| s.found(Finding::Open))?;
    if lines.len() != 3 || lines.iter().any(|h| h.is_over()) {
        return None;
    }
    let value = |h: &&Heard| h.net.unwrap_or(0.0);
    let odd = *lines.iter().max_by(|a, b| value(a).total_cmp(&value(b)))?;
    Some(Hit::new("open_delta_phase", lines.iter().copied().chain([set])).saying(odd.name.clone()))
}

/// Next to nothing between leads.
fn shorted(whole: &Whole<'_>) -> Option<Hit> {
    let standing = whole.facts.standing();
    Hit::new(
        "winding_shorted",
        standing.filter(|h| h.found(Finding::Shorted)),
    )
    .seen()
}

/// Main + start is not total.
fn sum_mismatch(whole: &Whole<'_>) -> Option<Hit> {
    let set = set(whole).filter(|s| s.found(Finding::SumMismatch))?;
    let lines = three(whole);
    let at = |name: &str| lines.iter().find(|h| h.name == name)?.net;
    let words = match (at("main"), at("start"), at("total")) {
        (Some(m), Some(s), Some(t)) if m + s > t => {
            "the parts are more than the whole: leads left in each reading do that, a poor contact in one of the two parts too"
        }
        _ => {
            "the whole is more than the parts: a poor contact while total was read, or a part that reads low"
        }
    };
    Some(Hit::new("sum_mismatch", lines.into_iter().chain([set])).saying(words))
}

/// Two pairs alike and higher, the third lower and not too low: what is in
/// both high ones is one lead. A twentieth apart at least (own).
fn one_line_high(whole: &Whole<'_>) -> Option<Hit> {
    let (odd, others, set) = odd_one(whole)?;
    let high = others[0].net? > odd.net?;
    if !high || is_low(odd) {
        return None;
    }
    let lead = match odd.name.as_str() {
        "line_12" => "line 3",
        "line_23" => "line 1",
        _ => "line 2",
    };
    Some(Hit::new("one_line_high", [odd, others[0], others[1], set]).saying(lead))
}

/// One pair low against two alike, or two low against one, where limits say
/// that low is what is odd.
fn turns_shorted(whole: &Whole<'_>) -> Option<Hit> {
    let (odd, others, set) = odd_one(whole)?;
    let two_low = others.iter().all(|h| is_low(h)) && !is_low(odd);
    let one_low = is_low(odd) && !others.iter().any(|h| is_low(h));
    let words = if one_low {
        format!("{} is low alone, as a delta phase is", odd.name)
    } else if two_low {
        format!(
            "two are low alike and {} is not, as a wye phase does",
            odd.name
        )
    } else {
        return None;
    };
    Some(Hit::new("turns_shorted", [odd, others[0], others[1], set]).saying(words))
}

/// Of three unbalanced lines the one that differs from two that are alike.
fn odd_one<'a>(whole: &Whole<'a>) -> Option<(&'a Heard, [&'a Heard; 2], &'a Heard)> {
    let set = set(whole).filter(|s| s.found(Finding::Unbalanced))?;
    let lines = three(whole);
    let [a, b, c] = lines.as_slice() else {
        return None;
    };
    if whole.motor.kind == Kind::ThreeWire {
        return None;
    }
    let found = [(*a, [*b, *c]), (*b, [*a, *c]), (*c, [*a, *b])];
    found.into_iter().find_map(|(odd, others)| {
        let (o, x, y) = (odd.net?, others[0].net?, others[1].net?);
        let gap = (f64::midpoint(x, y) - o).abs();
        // Alike: nearer to each other than a quarter of the way to the odd one.
        ((x - y).abs() <= gap / 4.0 && gap > 0.0).then_some((odd, others, set))
    })
}

/// Measured at the panel, the cable not subtracted: limits and unbalance mean little.
fn cable_left_in(whole: &Whole<'_>) -> Option<Hit> {
    if !whole.cable_is_in() {
        return None;
    }
    // What is low or unequal with the cable in is more so without it.
    let read = windings(whole).filter(|h| h.ohms.is_some() && !is_low(h));
    let set = set(whole).filter(|s| !s.failed());
    Hit::new("cable_left_in", read.chain(set)).seen()
}

/// Equal lines through a cable: it dilutes what is unequal behind it.
fn unbalance_hidden(whole: &Whole<'_>) -> Option<Hit> {
    if !whole.cable_is_in() || whole.motor.kind != Kind::ThreePhase {
        return None;
    }
    Hit::new("unbalance_hidden", set(whole).filter(|s| !s.failed())).seen()
}

/// Without a temperature 40 K may be in it either way: copper 16 % (IEC 60034-1, 234.5).
fn temperature_may_explain(whole: &Whole<'_>) -> Option<Hit> {
    if whole.temperature.is_some() || whole.motor.reference_c.is_none() {
        return None;
    }
    let near = |h: &&Heard| match (limits(h), h.finding) {
        (Some((v, _, upper)), Some(Finding::High)) => v <= 1.16 * upper,
        (Some((v, lower, _)), Some(Finding::Low)) => v >= 0.84 * lower,
        _ => false,
    };
    Hit::new("temperature_may_explain", windings(whole).filter(near)).seen()
}

fn winding_low(whole: &Whole<'_>) -> Option<Hit> {
    Hit::new(
        "winding_low",
        windings(whole).filter(|h| h.found(Finding::Low)),
    )
    .seen()
}

fn winding_high(whole: &Whole<'_>) -> Option<Hit> {
    Hit::new(
        "winding_high",
        windings(whole).filter(|h| h.found(Finding::High)),
    )
    .seen()
}

fn winding_open(whole: &Whole<'_>) -> Option<Hit> {
    Hit::new(
        "winding_open",
        // Between leads in any order, and along a short, open is no broken winding.
        windings(whole).filter(|h| {
            h.found(Finding::Open) && h.name != Search::LOOP && !h.name.starts_with("lead_")
        }),
    )
    .seen()
}

fn unbalanced(whole: &Whole<'_>) -> Option<Hit> {
    let set = set(whole).filter(|s| s.found(Finding::Unbalanced))?;
    Hit::new("unbalanced", [set]).seen()
}

/// Not what this winding or insulation read before in this place.
fn winding_moved(whole: &Whole<'_>) -> Option<Hit> {
    let moved = whole
        .facts
        .standing()
        .filter(|h| h.found(Finding::Changed) && h.test != Some(Test::Leads));
    Hit::new("changed_since", moved).seen()
}
