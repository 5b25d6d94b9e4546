//! A verdict with everything on: leads, cable with its doubt, temperature both
//! ways, guarded, an earlier value to compare with, and the terms in words.

use core::time::Duration;
use std::hint::black_box;

use stillohm::judge::{self, Around, Case, Contact, GroundPath, LeadProof, Null};
use stillohm::limits::baseline::Earlier;
use stillohm::limits::profile::{find, shipped};
use stillohm::limits::{
    Acceptance, Cable, Conductor, Electronics, GroundReference, InsulationKind, Kind, MeasuredAt,
    Motor, Point, Range, Test, Was,
};
use stillohm::meter::{Accuracy, Measures, Meter, PortId};
use stillohm::quantity::{Celsius, Decimal, Ohms, Shown, Unit, Volts};
use stillohm::reading::{Flags, Method, Outcome, Take};
use stillohm::stamp::Stamp;
use stillohm::text::Text;

use crate::Figure;
use crate::replay::own_nanos;

/// Verdicts of one measurement.
const VERDICTS: u64 = 200_000;
/// Microseconds a value may take.
const BAR: f64 = 5.0;

pub(crate) fn figures() -> Vec<Figure> {
    let cases = [
        ("judge: a winding, everything on", winding()),
        ("judge: insulation to 40 °C, everything on", insulation()),
    ];
    cases
        .map(|(what, owned)| Figure::at_most(what, owned.micros(), BAR, "µs"))
        .into()
}

/// Judges so often, for who counts instructions: the cases' names and how often.
pub(crate) fn judge_only(which: &str, times: u64) {
    let owned = match which {
        "winding" => winding(),
        _ => insulation(),
    };
    owned.judge(times);
}

/// Everything of a case, owned.
struct Owned {
    point: Point,
    motor: Motor,
    meter: Meter,
    take: Take,
    around: Around,
}

impl Owned {
    fn judge(&self, times: u64) {
        for _ in 0..times {
            let case = Case {
                point: &self.point,
                motor: &self.motor,
                meter: &self.meter,
                take: &self.take,
                around: &self.around,
            };
            black_box(judge::value(black_box(&case)));
        }
    }

    /// Microseconds of CPU a verdict, the better of three.
    fn micros(&self) -> f64 {
        let once = || {
            let before = own_nanos();
            self.judge(VERDICTS);
            (own_nanos() - before) as f64 / VERDICTS as f64 / 1e3
        };
        once().min(once()).min(once())
    }
}

fn d(count: i64, exp: i8) -> Decimal {
    Decimal::new(count, exp).expect("in range")
}

fn owned(test: Test, name: &str, count: i64, exp: i8) -> Owned {
    let point = Point::new(test, name);
    let mut motor = Motor::unlisted(
        Text::clean("HB-AB 7"),
        Kind::ThreePhase,
        Some(Volts(400.0)),
        Electronics::No,
    );
    motor.in_catalogue = true;
    motor.source = Text::clean("invented for the figures");
    motor.reference_c = Some(Celsius(25.0));
    motor.insulation = Some(InsulationKind::Thermoplastic);
    motor.profile = Some(Text::clean("ieee43"));
    motor.line = Range {
        lower: Some(d(46, -1)),
        upper: Some(d(54, -1)),
    };
    let mut meter = Meter::plain(Text::clean("bench-meter"), PortId(0));
    meter.accuracy = vec![Accuracy {
        up_to: None,
        unit: Unit::Ohm,
        percent: 0.5,
        counts: 3.0,
    }];
    let mut shown = Shown::plain(d(count, exp), Unit::Ohm);
    let insulation = test == Test::Insulation;
    if insulation {
        meter.measures = vec![Measures::Insulation];
        shown.prefix = 6;
    }
    let was = Was {
        point: point.clone(),
        seq: 7,
        ohms: d(count * 4, exp),
        u: d(2, -2),
        temperature: Some(Celsius(18.0)),
        test_voltage: insulation.then_some(Volts(500.0)),
        held_s: insulation.then_some(d(60, 0)),
        cable: (!insulation).then_some(d(207, -2)),
        conductor: Conductor::Copper,
    };
    let was = Earlier {
        job: Text::clean("J12"),
        recorded_at: Text::clean("2026-03-01T08:00:00.000Z"),
        was,
    };
    Owned {
        motor,
        meter,
        take: Take {
            at: Stamp::ZERO,
            outcome: Outcome::Value(shown),
            method: Method::Steady,
            samples: 30,
            window: Duration::from_secs(3),
            spread: Ohms(0.002),
            elapsed: insulation.then_some(Duration::from_secs(60)),
            test_voltage: insulation.then_some(Volts(512.0)),
            leakage: None,
            temperature: None,
            flags: Flags::NONE,
        },
        around: Around {
            acceptance: Acceptance::Guarded,
            profile: find(&shipped(), "ieee43").filter(|_| insulation).cloned(),
            condition: None,
            measured_at: MeasuredAt::Panel,
            ground_reference: GroundReference::GroundConductor,
            temperature: Some(Celsius(12.5)),
            cable: Some(Cable::of(d(207, -2), Text::clean("46 m of 2.5 mm²"))),
            was: Some(was),
            null: Some(Null {
                ohms: d(184, -3),
                resolution: d(1, -3),
            }),
            leads: LeadProof::BeforeAndAfter,
            contact: Contact::SecondLead,
            ground_path: GroundPath::Earth,
            planned_v: insulation.then_some(Volts(500.0)),
            mark: insulation.then_some(Duration::from_secs(60)),
            meter_blocked: false,
            meter_failed: false,
            range_suspect_before: false,
        },
        point,
    }
}

/// 7.054 Ω at the panel: 4.8 Ω behind leads and cable, near the upper limit
/// once its doubt is counted.
fn winding() -> Owned {
    owned(Test::Winding, "line_12", 7_054, -3)
}

/// 212 MΩ at 12.5 °C: a seventh of it at 40 °C, still above 5 MΩ.
fn insulation() -> Owned {
    owned(Test::Insulation, "all_to_ground", 212, 6)
}
