//! Sheets: which points a motor has, and whether a sheet may be used on it.
//!
//! A sheet is refused where it could do harm or say more than was measured; it
//! is warned of where it leaves out what a job needs. Nothing here knows a bench.

use core::time::Duration;

use super::voltage::{Allowance, STEPS, check_test_voltage, may_insulation_test};
use crate::limits::{Kind, Motor, Point, Search, Sheet, SheetStep, SkipBy, Test};
use crate::quantity::Volts;
use crate::row::Finding;
use crate::text::Text;

/// The sensors that may be in a winding; `ptc_2` is a second one.
const SENSORS: [&str; 3] = ["ptc", "thermal_switch", "leak_probe"];
/// The name that stands for all points of a test that the motor has.
pub const ALL: &str = "all";
/// Seconds that a hold may last: an hour (own).
const MARK_MAX: u32 = 3600;

/// What a point of `points.csv` is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Kept {
    Winding,
    Sensor,
    /// Between windings, or to ground.
    Ground,
    /// Limits for one of two connections: no point.
    Limits,
}

fn kept(name: &str) -> Kept {
    if name.ends_with("_low_v") || name.ends_with("_high_v") {
        Kept::Limits
    } else if name.starts_with("between_") || name.ends_with("_to_ground") {
        Kept::Ground
    } else if is_sensor(name) {
        Kept::Sensor
    } else {
        Kept::Winding
    }
}

fn is_sensor(name: &str) -> bool {
    SENSORS.iter().any(|s| {
        name.strip_prefix(s)
            .is_some_and(|rest| rest.is_empty() || rest.starts_with('_'))
    })
}

fn own(motor: &Motor, wanted: Kept) -> impl Iterator<Item = &str> {
    let names = motor.points.iter().map(|(name, _)| name.as_str());
    names.filter(move |name| kept(name) == wanted)
}

/// The winding points of a motor: those of its kind, then its own.
pub fn windings(motor: &Motor) -> Vec<&str> {
    let mut names = match motor.kind {
        Kind::TwoWire => vec!["main"],
        Kind::ThreeWire => vec!["main", "start", "total"],
        Kind::ThreePhase => vec!["line_12", "line_23", "line_31"],
        Kind::Other => Vec::new(),
    };
    names.extend(own(motor, Kept::Winding));
    names
}

/// The steps of a sheet for a motor, `all` spelled out; without a sheet those
/// that every job has: ground path, windings, sensors, ground, insulation last.
/// A motor's own points to ground and between windings are read with an
/// ohmmeter's low voltage: a test voltage between windings is asked for by a
/// sheet only.
pub fn steps(sheet: Option<&Sheet>, motor: &Motor) -> Vec<SheetStep> {
    let usual = [
        (Test::GroundPath, "path"),
        (Test::Winding, ALL),
        (Test::Sensor, ALL),
        (Test::Ground, ALL),
        (Test::Insulation, "all_to_ground"),
    ];
    let written: Vec<SheetStep> = match sheet {
        Some(sheet) => sheet.steps.clone(),
        None => usual
            .map(|(test, name)| SheetStep::plain(test, name))
            .into(),
    };
    let mut steps: Vec<SheetStep> = Vec::with_capacity(written.len());
    for step in &written {
        if step.point.name.as_str() != ALL {
            steps.push(step.clone());
            continue;
        }
        let names: Vec<&str> = match step.point.test {
            Test::Winding => windings(motor),
            Test::Sensor => own(motor, Kept::Sensor).collect(),
            Test::Ground => core::iter::once("all_to_ground")
                .chain(own(motor, Kept::Ground).filter(|n| *n != "all_to_ground"))
                .collect(),
            _ => vec![ALL],
        };
        for name in names {
            let point = Point::new(step.point.test, name);
            // What a sheet names by itself keeps the place it has there.
            let named = written.iter().any(|other| other.point == point);
            if !named {
                steps.push(SheetStep {
                    point,
                    ..step.clone()
                });
            }
        }
    }
    steps
}

/// Whether points of a test tell the whole winding from ground: all leads
/// joined, or each of three lines.
pub fn reaches_ground<'a>(points: impl Iterator<Item = &'a Point> + Clone, test: Test) -> bool {
    let there = |name: &str| points.clone().any(|p| p.is(test, name));
    there("all_to_ground")
        || ["line_1_to_ground", "line_2_to_ground", "line_3_to_ground"]
            .into_iter()
            .all(there)
}

/// What a motor has and these points leave out: windings with limits, and
/// points of its own to ground or between windings.
pub fn not_on<'a>(motor: &Motor, points: impl Iterator<Item = &'a Point> + Clone) -> Vec<Point> {
    let there = |test, name: &str| points.clone().any(|p| p.is(test, name));
    let limited = |name: &&str| !motor.winding_limits(name).is_empty();
    let windings = windings(motor)
        .into_iter()
        .filter(limited)
        .filter(|name| !there(Test::Winding, name))
        .map(|name| Point::new(Test::Winding, name));
    let grounds = own(motor, Kept::Ground)
        .filter(|name| !there(Test::Ground, name) && !there(Test::Insulation, name))
        .map(|name| Point::new(Test::Ground, name));
    windings.chain(grounds).collect()
}

/// When the two values of a ratio are read, in seconds (IEEE 43-2013 for
/// pi; 30 and 60 s for dar, common practice).
pub fn ratio_marks(step: &SheetStep) -> Option<[u32; 2]> {
    match (step.point.name.as_str(), step.marks_s.as_slice()) {
        ("pi" | "dar", [early, late]) => Some([*early, *late]),
        ("pi", []) => Some([60, 600]),
        ("dar", []) => Some([30, 60]),
        _ => None,
    }
}

/// What a sheet is held against.
#[derive(Clone, Copy, Debug)]
pub struct Against<'a> {
    /// The motor.
    pub motor: &'a Motor,
    /// The profile's test voltage for it; none: no step is allowed, or the rated voltage is unknown.
    pub planned: Option<Volts>,
    /// The profile's mark.
    pub mark: Duration,
    /// Whether the bench has a meter for insulation; none: not known yet.
    pub tester: Option<bool>,
}

/// What a check found.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Checked {
    /// Why it may not be used on this motor.
    pub refusals: Vec<String>,
    /// What it leaves out.
    pub warnings: Vec<String>,
}

/// Whether a sheet may be used on a motor.
pub fn check(sheet: &Sheet, against: &Against<'_>) -> Checked {
    let steps = steps(Some(sheet), against.motor);
    let mut checked = Checked::default();
    if sheet.steps.is_empty() {
        checked
            .refusals
            .push(String::from("it has no step: write at least one [[step]]"));
    }
    for (at, step) in steps.iter().enumerate() {
        let point = &step.point;
        let mut refuse = |why: String| checked.refusals.push(format!("{point}: {why}"));
        if steps[..at].iter().any(|before| before.point == *point) {
            refuse(String::from("is there twice; delete one"));
        }
        if let Some(why) = no_such_point(point) {
            refuse(why);
        }
        if step.test_voltage.is_some() && point.test != Test::Insulation {
            refuse(String::from(match point.test {
                Test::Sensor => "a sensor never gets a test voltage: delete test_voltage",
                _ => "a test voltage belongs to an insulation step only: delete test_voltage",
            }));
        }
        let rising = step.marks_s.windows(2).all(|pair| pair[0] < pair[1]);
        if !rising || step.marks_s.iter().any(|m| !(1..=MARK_MAX).contains(m)) {
            refuse(format!(
                "expected marks_s in rising order, from 1 to {MARK_MAX} s"
            ));
        } else if !step.marks_s.is_empty() && !matches!(point.test, Test::Insulation | Test::Ratio)
        {
            refuse(String::from(
                "marks_s belong to an insulation step: delete them",
            ));
        }
        match point.test {
            Test::Insulation => insulation(step, &steps, at, against, &mut checked),
            Test::Ratio => ratio(step, &steps[..at], &mut checked),
            _ => {}
        }
    }
    if let Some(search) = sheet.search {
        searched(search, &steps, &mut checked);
    }
    left_out(&steps, against.motor, &mut checked);
    checked
}

/// A run has two places or more, each with a name of its own.
fn searched(search: Search, steps: &[SheetStep], checked: &mut Checked) {
    let points: Vec<&Point> = steps.iter().map(|s| &s.point).collect();
    let places = points
        .iter()
        .filter(|p| search.takes(p) && p.test == Test::Ground);
    let named = |p: &&&Point| {
        let place = p.name.as_str().strip_suffix("_to_ground");
        place.is_some_and(|name| name != ALL && !name.contains("_to_"))
    };
    if places.clone().count() < 2 || !places.clone().all(|p| named(&p)) {
        checked.refusals.push(String::from(
            "fault_place needs two ground steps or more, from the panel to the motor, named such as panel_to_ground",
        ));
    }
}

/// Names that the program itself must know.
fn no_such_point(point: &Point) -> Option<String> {
    let name = point.name.as_str();
    let expected = match point.test {
        Test::Dead | Test::Leads => {
            return Some(String::from(
                "dead and both proofs of the leads stand around every sheet: delete it",
            ));
        }
        Test::GroundPath if name != "path" => "path",
        Test::Temperature if !matches!(name, "winding" | "ambient") => "winding or ambient",
        Test::Ratio if !matches!(name, "pi" | "dar") => "pi or dar",
        Test::Ground | Test::Insulation if kept(name) != Kept::Ground => {
            "all_to_ground, a name that ends in _to_ground or one that begins with between_"
        }
        Test::Winding if name.starts_with("set") => {
            return Some(String::from(
                "what holds over several windings is judged by itself: delete it",
            ));
        }
        Test::Sensor if !is_sensor(name) => "ptc, thermal_switch or leak_probe",
        _ => return None,
    };
    Some(format!("expected {expected}, found {name}"))
}

fn insulation(
    step: &SheetStep,
    steps: &[SheetStep],
    at: usize,
    against: &Against<'_>,
    checked: &mut Checked,
) {
    let (motor, point) = (against.motor, &step.point);
    let name = point.name.as_str();
    let mut refuse = |why: String| checked.refusals.push(format!("{point}: {why}"));
    match may_insulation_test(motor) {
        Err(forbidden) => refuse(String::from(forbidden.reason)),
        Ok(Allowance::LeadsJoinedOnly) if name != "all_to_ground" => refuse(String::from(
            "the catalogue allows a test voltage with all leads joined only: write all_to_ground",
        )),
        Ok(_) => {}
    }
    if SENSORS.iter().any(|sensor| name.contains(sensor)) {
        refuse(String::from("a sensor never gets a test voltage"));
    }
    for (test, what) in [
        (Test::GroundPath, "ground_path path"),
        (Test::Winding, "winding all"),
        (Test::Ground, "ground all_to_ground"),
        (Test::Sensor, "sensor all"),
    ] {
        let later = steps[at..].iter().any(|s| s.point.test == test);
        let before = steps[..at].iter().any(|s| s.point.test == test);
        if later || (!before && test != Test::Sensor) {
            refuse(format!(
                "must come after {what}: a short or a wrong clip would put the test voltage where it must not go; put every {test} step before it"
            ));
        }
    }
    if let Some(volts) = step.test_voltage {
        // A few volts test no insulation, and are no number either.
        let number = volts.0.is_finite() && volts.0 >= STEPS[0];
        if !number {
            refuse(format!(
                "expected a test_voltage of at least {} V, the least step of a tester, found {}",
                STEPS[0], volts.0
            ));
        } else if motor.max_test_v.is_some_and(|most| volts.0 > most.0) {
            let most = motor.max_test_v.map_or(0.0, |v| v.0);
            refuse(format!(
                "{} V is more than this motor may have: at most {most} V",
                volts.0
            ));
        } else if !STEPS.contains(&volts.0) {
            checked.warnings.push(format!(
                "{point}: {} V is no usual step of a tester (50 100 250 500 1000 2500 5000 10000)",
                volts.0
            ));
        }
        let off = against
            .planned
            .and_then(|planned| check_test_voltage(planned, volts, motor));
        if number && off == Some(Finding::WrongTestVoltage) {
            let planned = against.planned.map_or(0.0, |v| v.0);
            let words = if volts.0 < planned {
                "a value below it is not judged"
            } else {
                "it strains the winding more"
            };
            checked.warnings.push(format!(
                "{point}: {} V is off the profile's {planned} V: {words}",
                volts.0
            ));
        }
    }
    let last = step
        .marks_s
        .last()
        .map(|m| Duration::from_secs(u64::from(*m)));
    if let Some(last) = last.filter(|last| *last < against.mark) {
        checked.warnings.push(format!(
            "{point}: a hold of {} s is shorter than the profile's {} s: below the minimum it says nothing yet",
            last.as_secs(),
            against.mark.as_secs()
        ));
    }
    let measurable =
        against.tester != Some(false) && (against.planned.is_some() || step.test_voltage.is_some());
    if !measurable && step.skip == SkipBy::Nobody {
        checked.refusals.push(format!(
            "{point}: nobody may leave it out, and it cannot be measured here: {}; use another bench or another sheet",
            if against.tester == Some(false) {
                "no meter on this bench measures insulation at a test voltage"
            } else {
                "no test voltage can be planned"
            }
        ));
    }
}

/// A ratio is of two marks of the insulation step before it, in one hold.
fn ratio(step: &SheetStep, before: &[SheetStep], checked: &mut Checked) {
    let Some(marks) = ratio_marks(step) else {
        checked.refusals.push(format!(
            "{}: expected two marks_s, an early and a late one",
            step.point
        ));
        return;
    };
    let hold = before
        .iter()
        .rev()
        .find(|s| s.point.test == Test::Insulation);
    let both = hold.is_some_and(|h| marks.iter().all(|m| h.marks_s.contains(m)));
    if !both {
        checked.refusals.push(format!(
            "{}: needs an insulation step before it with marks_s = [{}, {}]",
            step.point, marks[0], marks[1]
        ));
    }
}

/// A job without these stays incomplete, whatever its sheet says.
fn left_out(steps: &[SheetStep], motor: &Motor, checked: &mut Checked) {
    let listed = |test| steps.iter().any(|s| s.point.test == test);
    let mut warn = |words: &str| {
        checked
            .warnings
            .push(format!("{words}: the job stays incomplete"));
    };
    let winding =
        |s: &SheetStep| s.point.test == Test::Winding && s.point.name.as_str() != Search::LOOP;
    if !steps.iter().any(winding) {
        warn("no winding is measured");
    }
    let points = || steps.iter().map(|s| &s.point);
    if !reaches_ground(points(), Test::Ground) {
        warn("no ground test of the whole winding (ground all_to_ground)");
    }
    if !reaches_ground(points(), Test::Insulation) && may_insulation_test(motor).is_ok() {
        warn("no insulation test of the whole winding (insulation all_to_ground)");
    }
    if listed(Test::Winding) {
        for point in not_on(motor, points()) {
            warn(&format!("{point} is left out"));
        }
    }
    if listed(Test::Ground) && !listed(Test::GroundPath) {
        checked.warnings.push(String::from(
            "no ground_path: on anything but the bare frame the ground test is undecided",
        ));
    }
}

/// The name of the insulation point that a ratio at `at` is of.
pub fn ratio_of(steps: &[SheetStep], at: usize) -> Option<&Text> {
    let before = steps.get(..at)?.iter().rev();
    let mut holds = before.filter(|s| s.point.test == Test::Insulation);
    holds.next().map(|s| &s.point.name)
}
