//! Windings, wires, circuits and limits: the functions behind the table.

use super::formula::{Answer, Given, Refused};
use super::number::{Counts, written};
use crate::judge::circuit::{self, Phase};
use crate::judge::conductor::{Core, Stranding, Wire};
use crate::judge::{conformity as conforming, correction, uncertainty};
use crate::limits::Conductor;
use crate::quantity::Celsius;

/// Above this a winding's or a cable's temperature is rarely in °C (own).
const HOT_C: f64 = 180.0;

pub(super) fn at_temperature(given: &Given) -> Result<Answer, Refused> {
    let (t1, t2, k) = (
        given.number("t1_c")?,
        given.number("t2_c")?,
        given.number("k_c")?,
    );
    correction::winding_at_temperature(given.number("r1_ohm")?, Celsius(t1), Celsius(t2), k)
        .map(|r2| usual_k(hot(Answer::number(r2), &[t1, t2]), k))
        .map_err(Refused::new)
}

pub(super) fn temperature(given: &Given) -> Result<Answer, Refused> {
    let (t1, k) = (given.number("t1_c")?, given.number("k_c")?);
    let (r1, r2) = (given.number("r1_ohm")?, given.number("r2_ohm")?);
    correction::winding_temperature(r1, Celsius(t1), r2, k)
        .map(|t2| usual_k(hot(Answer::number(t2.0), &[t1, t2.0]), k))
        .map_err(Refused::new)
}

pub(super) fn hot(answer: Answer, temperatures: &[f64]) -> Answer {
    let hot = temperatures.iter().any(|t| *t > HOT_C);
    answer.noted(hot, "above 180 degC: check that it is not Fahrenheit")
}

fn usual_k(answer: Answer, k: f64) -> Answer {
    let usual = (225.0..=236.0).contains(&k);
    answer.noted(
        !usual,
        "k is 234.5 or 235 for copper and 225 to 236 for aluminium: check it",
    )
}

fn core(given: &Given) -> Result<Core, Refused> {
    let wire = match (given.maybe("area_mm2"), given.word("awg")) {
        (Some(mm2), None) => Wire::area(mm2),
        (None, Some(size)) => Wire::awg(size),
        (None, None) => {
            return Err(Refused::new(
                "expected one of area_mm2 or awg, found neither",
            ));
        }
        (Some(_), Some(_)) => {
            return Err(Refused::new("expected one of area_mm2 or awg, found both"));
        }
    }
    .map_err(Refused::new)?;
    let mut core = Core::of(wire);
    // Both words are checked by their keys.
    core.material = given
        .word("material")
        .and_then(Conductor::from_word)
        .unwrap_or(core.material);
    core.stranding = given
        .word("stranding")
        .and_then(Stranding::from_word)
        .unwrap_or(core.stranding);
    core.at = Celsius(given.number("temp_c")?);
    Ok(core)
}

pub(super) fn conductor(given: &Given) -> Result<Answer, Refused> {
    let core = core(given)?;
    core.one_way(given.number("length_m")?)
        .map(|ohms| hot(Answer::number(ohms), &[core.at.0]))
        .map_err(Refused::new)
}

pub(super) fn cable_loop(given: &Given) -> Result<Answer, Refused> {
    let core = core(given)?;
    core.there_and_back(given.number("length_m")?)
        .map(|ohms| hot(Answer::number(ohms), &[core.at.0]))
        .map_err(Refused::new)
}

pub(super) fn fault_distance(given: &Given) -> Result<Answer, Refused> {
    let core = core(given)?;
    let metres = core
        .fault_distance(given.number("loop_ohm")?)
        .map_err(Refused::new)?;
    Ok(hot(Answer::number(metres), &[core.at.0]).noted(
        true,
        "if the short has a resistance of its own, or the test leads are still in the loop, it lies nearer",
    ))
}

const TOO_LONG: &str = "more digits than an exact difference can keep: write fewer";

pub(super) fn lead_null(given: &Given) -> Result<Answer, Refused> {
    let (shown, leads) = (given.number("shown_ohm")?, given.number("leads_ohm")?);
    not_below_0("leads_ohm", leads)?;
    let exact = |key| given.written(key).map(|n| n.exact());
    let net = exact("shown_ohm")?
        .zip(exact("leads_ohm")?)
        .and_then(|(shown, leads)| shown.minus(leads))
        .ok_or_else(|| Refused::new(TOO_LONG))?;
    if net.is_negative() {
        return Err(Refused(format!(
            "leads_ohm: the leads {leads} are above the reading {shown}: join the clips again"
        )));
    }
    Ok(Answer::exact(net))
}

pub(super) fn three_wire_sum(given: &Given) -> Result<Answer, Refused> {
    let keys = ["main_ohm", "start_ohm", "total_ohm"];
    for key in keys {
        not_below_0(key, given.number(key)?)?;
    }
    let [main, start, total] = keys.map(|key| given.written(key));
    let (main, start, total) = (main?, start?, total?);
    // What a display can show goes the way of the judge, longer numbers beside it.
    if let (Some(m), Some(s), Some(t)) = (main.decimal(), start.decimal(), total.decimal())
        && let Some(sum) = circuit::three_wire_sum(m, s, t)
    {
        return Ok(Answer::decimal(sum));
    }
    let exact = || total.exact()?.minus(main.exact()?)?.minus(start.exact()?);
    exact()
        .map(Answer::exact)
        .ok_or_else(|| Refused::new(TOO_LONG))
}

fn not_below_0(key: &str, value: f64) -> Result<(), Refused> {
    if value < 0.0 {
        return Err(Refused(format!("{key}: expected 0 or more, found {value}")));
    }
    Ok(())
}

fn three(given: &Given, keys: [&str; 3]) -> Result<[f64; 3], Refused> {
    Ok([
        given.number(keys[0])?,
        given.number(keys[1])?,
        given.number(keys[2])?,
    ])
}

/// As whole counts, so that the differences of near values keep their digits.
fn counts<const N: usize>(given: &Given, keys: [&str; N]) -> Option<Counts<N>> {
    let mut numbers = Vec::with_capacity(N);
    for key in keys {
        numbers.push(given.written(key).ok()?);
    }
    Counts::new(numbers.try_into().ok()?)
}

/// A result of the counts; none where it is beyond what a number can hold.
fn finite(value: f64) -> Result<f64, Refused> {
    if value.is_finite() {
        Ok(value)
    } else {
        Err(Refused::new(circuit::CircuitError::Beyond))
    }
}

pub(super) fn unbalance(given: &Given) -> Result<Answer, Refused> {
    let keys = ["r1", "r2", "r3"];
    let values = match counts(given, keys) {
        Some(counts) => counts.of,
        None => three(given, keys)?,
    };
    circuit::unbalance(&values)
        .map(Answer::number)
        .map_err(Refused::new)
}

pub(super) fn wye_phases(given: &Given) -> Result<Answer, Refused> {
    let keys = ["r12", "r23", "r31"];
    let Some(counts) = counts(given, keys) else {
        return circuit::wye_phases(three(given, keys)?)
            .map(|phases| Answer::several(phases.map(Some)))
            .map_err(Refused::new);
    };
    let [a, b, c] = circuit::wye_phases(counts.of)
        .map_err(Refused::new)?
        .map(|phase| finite(counts.value(phase)));
    Ok(Answer::several([Some(a?), Some(b?), Some(c?)]))
}

pub(super) fn delta_phases(given: &Given) -> Result<Answer, Refused> {
    let resolution = given.number("resolution")?;
    not_below_0("resolution", resolution)?;
    let counts = counts(given, ["r12", "r23", "r31", "resolution"]);
    let phases = match counts {
        Some(Counts {
            of: [r12, r23, r31, resolution],
            ..
        }) => circuit::delta_phases([r12, r23, r31], resolution),
        None => circuit::delta_phases(three(given, ["r12", "r23", "r31"])?, resolution),
    };
    let mut words = Vec::with_capacity(3);
    for phase in phases.map_err(Refused::new)? {
        words.push(match phase {
            Phase::Open => String::from("open"),
            Phase::Ohms(ohms) => written(finite(counts.map_or(ohms, |c| c.value(ohms)))?),
        });
    }
    Ok(Answer::words(words))
}

pub(super) fn meter_uncertainty(given: &Given) -> Result<Answer, Refused> {
    let three = three(given, ["resolution", "percent", "counts"])?;
    for (key, value) in ["resolution", "percent", "counts"].into_iter().zip(three) {
        not_below_0(key, value)?;
    }
    let [resolution, percent, counts] = three;
    let u = uncertainty::standard(given.number("value")?, resolution, percent, counts);
    if u.is_finite() {
        Ok(Answer::number(u))
    } else {
        Err(Refused::new(
            "the result is too large to write: check the numbers",
        ))
    }
}

pub(super) fn conformity(given: &Given) -> Result<Answer, Refused> {
    let limits = (given.maybe("lower"), given.maybe("upper"));
    let (value, u) = (given.number("value")?, given.number("u")?);
    let counted = with_limits(given, "value").and_then(|(counts, limits)| {
        let [value, u, ..] = counts.of;
        conforming::conformity(value, u, limits).ok()
    });
    // The words of a refusal want the numbers as they were written.
    counted
        .map_or_else(|| conforming::conformity(value, u, limits), Ok)
        .map(Answer::number)
        .map_err(Refused::new)
}

/// `key`, u and both limits as counts; u keeps the place of a limit that is missing.
fn with_limits(given: &Given, key: &str) -> Option<(Counts<4>, conforming::Limits)> {
    let present = |limit| given.written(limit).map_or("u", |_| limit);
    let counts = counts(given, [key, "u", present("lower"), present("upper")])?;
    let [_, _, lower, upper] = counts.of;
    let limits = (
        given.maybe("lower").map(|_| lower),
        given.maybe("upper").map(|_| upper),
    );
    Some((counts, limits))
}

pub(super) fn guarded_limits(given: &Given) -> Result<Answer, Refused> {
    let limits = (given.maybe("lower"), given.maybe("upper"));
    let (u, w_factor) = (given.number("u")?, given.number("w_factor")?);
    let counted = with_limits(given, "u").and_then(|(counts, limits)| {
        let [u, ..] = counts.of;
        let (low, high) = conforming::guarded_limits(u, limits, w_factor).ok()?;
        let value = |limit: Option<f64>| limit.map(|l| counts.value(l));
        Some((value(low), value(high)))
    });
    // The words of a refusal want the numbers as they were written.
    counted
        .filter(|(low, high)| low.is_none_or(f64::is_finite) && high.is_none_or(f64::is_finite))
        .map_or_else(|| conforming::guarded_limits(u, limits, w_factor), Ok)
        .map(|(low, high)| Answer::several([low, high]))
        .map_err(Refused::new)
}
