//! One line of `motors.csv` as a motor.

use super::cell::{Cells, Problems, celsius};
use crate::limits::{Conductor, Electronics, InsulationKind, InsulationTest, Kind, Motor, Range};
use crate::quantity::{Celsius, Volts};
use crate::text::Text;

/// What a `sensors` cell may name.
pub(super) const SENSORS: [&str; 3] = ["ptc", "thermal_switch", "leak_probe"];

const MAIN: [&str; 2] = ["main_min_ohms", "main_max_ohms"];
const START: [&str; 2] = ["start_min_ohms", "start_max_ohms"];
const LINE: [&str; 2] = ["line_min_ohms", "line_max_ohms"];

/// Round temperatures of 15 to 40 °C in Fahrenheit that are no usual reference
/// in Celsius (own; 95 is one).
const LIKE_FAHRENHEIT: [&str; 5] = ["59", "68", "77", "86", "104"];

/// Reads a line; what is wrong with it goes to `problems`. `None` when it has no model.
pub(super) fn motor(cells: &Cells<'_>, problems: &mut Problems) -> Option<Motor> {
    let Some(model) = cells.text("model", problems) else {
        problems.add(
            cells.line,
            "model",
            "expected the model's name, found nothing usable",
        );
        return None;
    };
    if !cells.whole {
        // Any cell may be another's: nothing of it is believed, and no test voltage allowed.
        let mut motor = Motor::unlisted(model, Kind::Other, None, Electronics::Unknown);
        motor.insulation_test = InsulationTest::Forbidden;
        return Some(motor);
    }
    let kind = cells.choice("kind", Kind::ALL, Kind::word, problems);
    if kind.is_none() && cells.words("kind", problems).is_none() {
        problems.add(
            cells.line,
            "kind",
            "expected two_wire, three_wire, three_phase or other, found nothing",
        );
    }
    // An empty cell is what nobody knows, and so is a word nobody knows.
    let electronics = cells
        .choice("electronics", Electronics::ALL, Electronics::word, problems)
        .unwrap_or(Electronics::Unknown);
    let mut motor = Motor::unlisted(model, kind.unwrap_or(Kind::Other), None, electronics);
    motor.in_catalogue = true;
    motor.rated_v = voltage(cells, "rated_v", problems);
    motor.reference_c = reference(cells, problems);
    motor.main = winding(cells, MAIN, problems);
    motor.start = winding(cells, START, problems);
    motor.line = winding(cells, LINE, problems);
    motor.profile = cells.text("profile", problems);
    motor.source = cells.text("source", problems).unwrap_or_default();
    motor.insulation = cells.choice(
        "insulation",
        InsulationKind::ALL,
        InsulationKind::word,
        problems,
    );
    motor.insulation_test = insulation_test(cells, problems);
    motor.max_test_v = voltage(cells, "max_test_v", problems);
    motor.unbalance_max_percent = unbalance(cells, problems);
    motor.conductor = cells
        .choice("conductor", Conductor::ALL, Conductor::word, problems)
        .unwrap_or(Conductor::Copper);
    motor.sensors = sensors(cells, problems);
    if let Some(kind) = kind {
        own_columns(cells, kind, &motor, problems);
    }
    Some(motor)
}

/// What is left of a motor whose line is bad: no limits, no profile, and why.
/// What forbids a test voltage stays.
pub(super) fn unusable(motor: &mut Motor, why: &str) {
    motor.in_catalogue = false;
    motor.main = Range::default();
    motor.start = Range::default();
    motor.line = Range::default();
    motor.points.clear();
    motor.profile = None;
    motor.unbalance_max_percent = None;
    motor.source = Text::clean(&format!("the catalogue's line is not usable: {why}"));
}

/// A word that does not read forbids the test: the careful side.
fn insulation_test(cells: &Cells<'_>, problems: &mut Problems) -> InsulationTest {
    let before = problems.all.len();
    let all = InsulationTest::ALL;
    let found = cells.choice("insulation_test", all, InsulationTest::word, problems);
    match found {
        Some(test) => test,
        None if problems.all.len() > before => InsulationTest::Forbidden,
        None => InsulationTest::Allowed,
    }
}

fn voltage(cells: &Cells<'_>, column: &str, problems: &mut Problems) -> Option<Volts> {
    let volts = cells.positive(column, problems)?;
    if volts.is_zero() || volts.to_f64() > 100_000.0 {
        problems.add(
            cells.line,
            column,
            format!("expected volts above 0 and up to 100000, found {volts}"),
        );
        return None;
    }
    Some(Volts(volts.to_f64()))
}

fn reference(cells: &Cells<'_>, problems: &mut Problems) -> Option<Celsius> {
    let number = cells.number("reference_c", problems)?;
    if !(-50.0..=200.0).contains(&number.to_f64()) {
        problems.add(
            cells.line,
            "reference_c",
            format!("expected degrees Celsius from -50 to 200, found {number}"),
        );
        return None;
    }
    if LIKE_FAHRENHEIT.contains(&cells.words("reference_c", problems)?)
        && let Some(celsius) = celsius(number)
    {
        problems.add(
            cells.line,
            "reference_c",
            format!("expected degrees Celsius, found {number}, which is {celsius} °C if it is Fahrenheit; write {celsius}, or {number}.0 if it is Celsius indeed"),
        );
        return None;
    }
    Some(Celsius(number.to_f64()))
}

fn unbalance(cells: &Cells<'_>, problems: &mut Problems) -> Option<crate::quantity::Decimal> {
    let percent = cells.positive("unbalance_max_percent", problems)?;
    if percent.is_zero() || percent.to_f64() > 100.0 {
        problems.add(
            cells.line,
            "unbalance_max_percent",
            format!("expected percent above 0 and up to 100, found {percent}"),
        );
        return None;
    }
    Some(percent)
}

/// Two limits, the lower not above the upper.
pub(super) fn range(cells: &Cells<'_>, columns: [&str; 2], problems: &mut Problems) -> Range {
    let range = Range {
        lower: cells.positive(columns[0], problems),
        upper: cells.positive(columns[1], problems),
    };
    if let (Some(lower), Some(upper)) = (range.lower, range.upper)
        && lower > upper
    {
        problems.add(
            cells.line,
            columns[0],
            format!(
                "expected at most {} ({upper}), found {lower}; are the two swapped?",
                columns[1]
            ),
        );
    }
    range
}

/// Limits of a winding: both or none. With one side missing a short or a
/// broken wire would pass, and nothing reads 0 ohms.
pub(super) fn winding(cells: &Cells<'_>, columns: [&str; 2], problems: &mut Problems) -> Range {
    let before = problems.all.len();
    let range = range(cells, columns, problems);
    if problems.all.len() > before {
        return range;
    }
    let sides = [range.lower, range.upper];
    for (column, limit) in columns.into_iter().zip(sides) {
        if limit.is_some_and(|limit| limit.is_zero()) {
            let message = "expected ohms above 0, found 0; write the limit, or leave both cells empty when it is not known";
            problems.add(cells.line, column, message);
        }
    }
    let (missing, there, other) = match sides {
        [Some(lower), None] => (columns[1], columns[0], lower),
        [None, Some(upper)] => (columns[0], columns[1], upper),
        _ => return range,
    };
    problems.add(
        cells.line,
        missing,
        format!("expected a limit beside {there} ({other}), found nothing; write it, or leave both cells empty when they are not known"),
    );
    range
}

fn sensors(cells: &Cells<'_>, problems: &mut Problems) -> Vec<Text> {
    let Some(words) = cells.words("sensors", problems).map(str::to_owned) else {
        return Vec::new();
    };
    let mut all = Vec::new();
    for word in words.split([';', ' ']).filter(|w| !w.is_empty()) {
        if SENSORS.contains(&word) {
            all.push(Text::clean(word));
        } else {
            let instead = crate::text::instead(word, SENSORS.into_iter());
            problems.add(
                cells.line,
                "sensors",
                format!("{word:?} is unknown; {instead}"),
            );
        }
    }
    all
}

/// Limits in columns of another kind would never be looked at: said, not ignored.
fn own_columns(cells: &Cells<'_>, kind: Kind, motor: &Motor, problems: &mut Problems) {
    let one = matches!(kind, Kind::TwoWire | Kind::ThreeWire);
    let groups = [
        (MAIN, "main", motor.main, one),
        (START, "start", motor.start, kind == Kind::ThreeWire),
        (LINE, "line", motor.line, kind == Kind::ThreePhase),
    ];
    for (columns, name, range, used) in groups {
        if !used && !range.is_empty() {
            let where_to = if kind == Kind::Other {
                "points.csv"
            } else {
                "its own columns"
            };
            problems.add(
                cells.line,
                columns[usize::from(range.lower.is_none())],
                format!("a motor of kind {kind} has no {name} limits: expected empty cells; write its limits in {where_to}"),
            );
        }
    }
}
