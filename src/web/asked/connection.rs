//! Dual voltage: which of a motor's two sets of limits holds for this job.
//!
//! `points.csv` has them as `line_low_v`, `line_high_v` and so on for main and
//! start; they are limits of a connection and never points to measure.

use super::fields::Fields;
use crate::limits::{Motor, Range};
use crate::text::Text;

/// For the lower of its voltages, windings in parallel; for the higher, in series.
pub(in crate::web) const CONNECTIONS: [&str; 2] = ["low_v", "high_v"];

/// The motor as it is connected. Without `connection` the limits of
/// `motors.csv` stay; where it has none, the connection is asked for.
pub(super) fn connected(fields: &mut Fields<'_>, motor: Option<Motor>) -> Option<Motor> {
    let connection = fields.choice("connection", &CONNECTIONS, |word| word);
    let refused = connection.is_none() && fields.there("connection");
    let mut motor = motor?;
    let points = core::mem::take(&mut motor.points);
    let (dual, points) = points.into_iter().partition(|(name, _)| is_dual(name));
    let dual: Vec<(Text, Range)> = dual;
    motor.points = points;
    if refused {
        return None;
    }
    let mut wanting = Vec::new();
    for place in ["line", "main", "start"] {
        let limits = match place {
            "line" => &mut motor.line,
            "main" => &mut motor.main,
            _ => &mut motor.start,
        };
        let of = |connection: &str| {
            let name = format!("{place}_{connection}");
            dual.iter().find(|(n, _)| n.as_str() == name).map(|d| d.1)
        };
        let either = CONNECTIONS.iter().any(|c| of(c).is_some());
        match connection {
            Some(connection) if either => match of(connection) {
                Some(range) => *limits = range,
                None => wanting.push(format!("{place}_{connection}")),
            },
            None if either && limits.is_empty() => {
                fields.wrong(
                    "connection",
                    format!(
                        "expected low_v or high_v: {} has its {place} limits for both voltages, see how it is connected; found none",
                        motor.model
                    ),
                );
                return None;
            }
            _ => {}
        }
    }
    let Some(connection) = connection else {
        return Some(motor);
    };
    if dual.is_empty() {
        wanting.push(format!("line_{connection} or main_{connection}"));
    }
    if !wanting.is_empty() {
        fields.wrong(
            "connection",
            format!(
                "{} has no {} in points.csv: write the limits there, or leave connection out",
                motor.model,
                wanting.join(", ")
            ),
        );
        return None;
    }
    motor.source = Text::clean(&format!("{}, connected for {connection}", motor.source));
    Some(motor)
}

fn is_dual(name: &Text) -> bool {
    let place = CONNECTIONS
        .iter()
        .find_map(|c| name.as_str().strip_suffix(c)?.strip_suffix('_'));
    matches!(place, Some("line" | "main" | "start"))
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use serde_json::json;

    use crate::catalogue::Catalogue;
    use crate::web::asked::job_plan;

    const MOTORS: &str = "model,kind,rated_v,reference_c,main_min_ohms,main_max_ohms,start_min_ohms,start_max_ohms,line_min_ohms,line_max_ohms,electronics,profile,source\n\
        HB-AB 9,three_phase,400,20,,,,,,,no,,plate\n\
        HB-AB 8,three_phase,400,20,,,,,4.6,5.4,no,,plate\n\
        HB-CP 41,three_wire,230,20,1.9,2.4,5.2,6.4,,,no,,plate\n\
        HB-AB 5,other,400,20,,,,,,,no,,plate\n";
    const POINTS: &str = "model,point,min_ohms,max_ohms\n\
        HB-AB 9,line_low_v,1.1,1.4\nHB-AB 9,line_high_v,4.4,5.6\n\
        HB-AB 8,line_low_v,1.1,1.4\n\
        HB-CP 41,main_low_v,0.5,0.6\nHB-CP 41,tap_1,1,2\n\
        HB-AB 5,main_low_v,1,2\nHB-AB 5,tap_low_v,1,2\n";

    /// The limits of line and main, the source, the points; or the refusal.
    #[track_caller]
    fn check(model: &str, connection: Option<&str>, expected: &str) {
        let mut catalogue = Catalogue::default();
        catalogue.add_motors(Path::new("motors.csv"), MOTORS.as_bytes());
        catalogue.add_points(Path::new("points.csv"), POINTS.as_bytes());
        assert!(catalogue.problems.is_empty(), "{:?}", catalogue.problems);
        let said = json!({ "motor": model, "asset": "north pond", "connection": connection });
        let found = match job_plan(said.as_object().expect("an object"), &catalogue) {
            Ok(plan) => {
                let motor = plan.motor;
                let range = |r: crate::limits::Range| match (r.lower, r.upper) {
                    (Some(l), Some(u)) => format!("{l}..{u}"),
                    _ => String::from("none"),
                };
                let names: Vec<&str> = motor.points.iter().map(|(n, _)| n.as_str()).collect();
                let (line, main) = (range(motor.line), range(motor.main));
                format!("line {line}, main {main}; {}; {names:?}", motor.source)
            }
            Err(wrong) => wrong.to_string(),
        };
        assert_eq!(found, expected);
    }

    #[test]
    fn a_connection_gives_the_limits_of_its_voltage() {
        check(
            "HB-AB 9",
            Some("low_v"),
            "line 1.1..1.4, main none; plate, connected for low_v; []",
        );
        check(
            "HB-AB 9",
            Some("high_v"),
            "line 4.4..5.6, main none; plate, connected for high_v; []",
        );
        check(
            "HB-CP 41",
            Some("low_v"),
            "line none, main 0.5..0.6; plate, connected for low_v; [\"tap_1\"]",
        );
    }

    #[test]
    fn without_a_connection_the_limits_of_motors_csv_stay_or_it_is_asked_for() {
        check("HB-AB 8", None, "line 4.6..5.4, main none; plate; []");
        check(
            "HB-AB 9",
            None,
            "connection: expected low_v or high_v: HB-AB 9 has its line limits for both voltages, see how it is connected; found none",
        );
        // Limits of a connection are no points to measure; other names are.
        check(
            "HB-AB 5",
            Some("low_v"),
            "line none, main 1..2; plate, connected for low_v; [\"tap_low_v\"]",
        );
    }

    #[test]
    fn a_connection_without_limits_is_refused_with_what_to_write() {
        check(
            "HB-AB 8",
            Some("high_v"),
            "connection: HB-AB 8 has no line_high_v in points.csv: write the limits there, or leave connection out",
        );
        check(
            "HB-AB 9",
            Some("low"),
            "connection: \"low\" is unknown; nearest: low_v",
        );
    }
}
