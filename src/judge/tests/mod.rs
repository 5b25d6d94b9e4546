//! Tests of judging: a case as a line of text in, verdict and finding out.

mod boundaries;
mod compare;
mod fault_place;
mod finders;
mod diagnosis;
mod insulation;
mod job;
mod leads;
mod property;
mod ratio;
mod reference;
mod set_boundaries;
mod sets;
mod sheet;
mod table;
mod voltage;
mod winding;
mod winding_boundaries;
mod winding_property;

use core::time::Duration;

use proptest::prelude::ProptestConfig;

use super::*;
use crate::limits::profile::shipped;
use crate::limits::{Conductor, Electronics, InsulationKind, InsulationTest, Kind, Range};
use crate::meter::{Accuracy, Measures, PortId};
use crate::quantity::{Ohms, Shown, Unit};
use crate::reading::{Abort, Flags, Method, Outcome};
use crate::stamp::Stamp;
use crate::text::Text;

/// How many random cases: the usual number, unless `PROPTEST_CASES` asks for another.
pub(super) fn cases(usual: u32) -> ProptestConfig {
    match std::env::var_os("PROPTEST_CASES") {
        Some(_) => ProptestConfig::default(),
        None => ProptestConfig::with_cases(usual),
    }
}

/// A shipped profile.
pub(super) fn profile(name: &str) -> Profile {
    static ALL: std::sync::LazyLock<Vec<Profile>> = std::sync::LazyLock::new(shipped);
    let found = ALL.iter().find(|p| p.name.as_str() == name);
    found
        .cloned()
        .unwrap_or_else(|| panic!("no profile {name}"))
}

/// The minimum of a shipped profile.
pub(super) fn minimum(
    name: &str,
    rated_v: Option<Volts>,
    condition: Option<&str>,
) -> Result<Minimum, MinimumError> {
    insulation_minimum(&profile(name), rated_v, condition)
}

pub(super) fn d(text: &str) -> Decimal {
    text.parse().expect("a decimal")
}

/// A number with an optional k, M or G behind it: `12.3M`.
pub(super) fn shown(text: &str) -> Shown {
    let (digits, prefix) = match text.as_bytes()[text.len() - 1] {
        b'k' => (&text[..text.len() - 1], 3),
        b'M' => (&text[..text.len() - 1], 6),
        b'G' => (&text[..text.len() - 1], 9),
        _ => (text, 0),
    };
    let value = d(digits).shifted(prefix).expect("in range");
    let mut shown = Shown::plain(value, Unit::Ohm);
    shown.prefix = prefix;
    shown
}

/// Everything of a case, owned.
#[derive(Clone, Debug)]
pub(super) struct Bench {
    pub(super) point: Point,
    pub(super) motor: Motor,
    pub(super) meter: Meter,
    pub(super) take: Take,
    pub(super) around: Around,
}

impl Bench {
    /// A listed motor without electronics, proven leads and ground: nothing in
    /// the way of a pass but the value itself.
    pub(super) fn new(test: Test, name: &str) -> Self {
        let mut motor = Motor::unlisted(
            Text::clean("AB-4 aeration blower"),
            Kind::ThreePhase,
            Some(Volts(400.0)),
            Electronics::No,
        );
        motor.in_catalogue = true;
        motor.source = Text::clean("hatchery list 2 (invented)");
        let mut meter = Meter::plain(Text::clean("bench meter"), PortId(0));
        if test == Test::Insulation {
            meter.measures = vec![Measures::Insulation];
        }
        Self {
            point: Point::new(test, name),
            motor,
            meter,
            take: Take {
                at: Stamp::ZERO,
                outcome: Outcome::Open { full_scale: None },
                method: Method::Steady,
                samples: 30,
                window: Duration::from_secs(3),
                spread: Ohms(0.0),
                elapsed: None,
                test_voltage: None,
                leakage: None,
                temperature: None,
                flags: Flags::NONE,
            },
            around: Around {
                acceptance: Acceptance::Simple,
                profile: None,
                condition: None,
                measured_at: MeasuredAt::Motor,
                ground_reference: GroundReference::Frame,
                temperature: None,
                cable: None,
                was: None,
                null: None,
                leads: LeadProof::BeforeAndAfter,
                contact: Contact::SecondLead,
                ground_path: GroundPath::Unproven,
                planned_v: None,
                mark: None,
                meter_blocked: false,
                meter_failed: false,
                range_suspect_before: false,
            },
        }
    }

    pub(super) fn case(&self) -> Case<'_> {
        Case {
            point: &self.point,
            motor: &self.motor,
            meter: &self.meter,
            take: &self.take,
            around: &self.around,
        }
    }

    /// Reads `winding main; shown 4.3; null 0.3; limits 1.8 2.2`.
    pub(super) fn read(text: &str) -> Self {
        let mut items = text.split(';').map(str::trim);
        let (test, name) = items
            .next()
            .and_then(|first| first.split_once(' '))
            .expect("a test and a point");
        let mut bench = Self::new(Test::from_word(test).expect("a test"), name);
        for item in items {
            let mut words = item.split_whitespace();
            let key = words.next().expect("a key");
            let rest: Vec<&str> = words.collect();
            bench.set(key, &rest);
        }
        bench
    }

    fn set(&mut self, key: &str, rest: &[&str]) {
        let number = |at: usize| rest[at].parse::<f64>().expect("a number");
        let full_scale = || rest.first().map(|f| shown(f).value);
        match key {
            "shown" => self.take.outcome = Outcome::Value(shown(rest[0])),
            "unit" => {
                if let Outcome::Value(shown)
                | Outcome::PulledDown {
                    last: Some(shown), ..
                } = &mut self.take.outcome
                {
                    shown.unit = Unit::Volt;
                }
            }
            "open" => {
                self.take.outcome = Outcome::Open {
                    full_scale: full_scale(),
                }
            }
            "over" => {
                self.take.outcome = Outcome::OverRange {
                    full_scale: full_scale(),
                }
            }
            "pulled" => {
                self.take.outcome = Outcome::PulledDown {
                    reached: Volts(number(0)),
                    last: rest.get(1).map(|l| shown(l)),
                }
            }
            "aborted" => self.take.outcome = Outcome::Aborted(Abort::Silent),
            "flag" => {
                let flag = Flags::from_word(rest[0]).expect("a flag");
                self.take.flags = self.take.flags.with(flag);
            }
            "elapsed" => self.take.elapsed = Some(Duration::from_secs_f64(number(0))),
            "volts" => self.take.test_voltage = Some(Volts(number(0))),
            "planned" => self.around.planned_v = Some(Volts(number(0))),
            "max" => self.motor.max_test_v = Some(Volts(number(0))),
            "null" => {
                self.around.null = Some(Null {
                    ohms: d(rest[0]),
                    resolution: rest.get(1).map_or(Decimal::one(d(rest[0]).exp()), |r| d(r)),
                });
            }
            "cable" => self.around.cable = Some(Cable::of(d(rest[0]), Text::clean("as given"))),
            "temp" => self.around.temperature = Some(Celsius(number(0))),
            "ref" => self.motor.reference_c = Some(Celsius(number(0))),
            "limits" => {
                let limit = |at: usize| (rest[at] != "-").then(|| d(rest[at]));
                let range = Range {
                    lower: limit(0),
                    upper: limit(1),
                };
                self.motor.points.push((self.point.name.clone(), range));
                (self.motor.main, self.motor.start, self.motor.line) = (range, range, range);
            }
            "guarded" => self.around.acceptance = Acceptance::Guarded,
            "profile" => self.around.profile = Some(profile(rest[0])),
            "condition" => self.around.condition = Some(rest[0].to_owned()),
            "rated" => self.motor.rated_v = Some(Volts(number(0))),
            "electronics" => {
                self.motor.electronics = Electronics::from_word(rest[0]).expect("a word");
            }
            "itest" => {
                self.motor.insulation_test = InsulationTest::from_word(rest[0]).expect("a word");
            }
            "insulation" => self.motor.insulation = InsulationKind::from_word(rest[0]),
            "conductor" => self.motor.conductor = Conductor::from_word(rest[0]).expect("a word"),
            "leads" => {
                self.around.leads = match rest[0] {
                    "none" => LeadProof::Unproven,
                    "before" => LeadProof::Before,
                    _ => LeadProof::BeforeAndAfter,
                }
            }
            "contact" => {
                self.around.contact = match rest[0] {
                    "none" => Contact::Unproven,
                    "attested" => Contact::Attested,
                    _ => Contact::SecondLead,
                }
            }
            "on" => {
                self.around.ground_reference =
                    GroundReference::from_word(rest[0]).expect("a reference");
            }
            "path" => {
                self.around.ground_path = match rest[0] {
                    "metal" => GroundPath::Metal,
                    "earth" => GroundPath::Earth,
                    _ => GroundPath::Unproven,
                }
            }
            "blocked" => self.around.meter_blocked = true,
            "again" => self.around.range_suspect_before = true,
            "panel" => self.around.measured_at = MeasuredAt::Panel,
            "accuracy" => self.meter.accuracy.push(Accuracy {
                up_to: None,
                unit: Unit::Ohm,
                percent: number(0),
                counts: number(1),
            }),
            "terminals" => self.meter.terminals = 4,
            "above" => self.meter.over_range_above = Some(Ohms(shown(rest[0]).value.to_f64())),
            other => panic!("no key {other}"),
        }
    }

    pub(super) fn judge(&self) -> Judgement {
        value(&self.case())
    }
}

/// Judges a line of text.
pub(super) fn judge(text: &str) -> Judgement {
    Bench::read(text).judge()
}

/// Verdict and finding as two words.
pub(super) fn words(judgement: &Judgement) -> String {
    let finding = judgement.finding.map_or("-", Finding::word);
    format!("{} {finding}", judgement.verdict)
}

/// Judges a line of text and compares verdict and finding.
#[track_caller]
pub(super) fn check(text: &str, expected: &str) -> Judgement {
    let judgement = judge(text);
    assert_eq!(words(&judgement), expected, "{text}\n{}", judgement.reason);
    judgement
}

/// As [`check`]; the reason must also hold some words.
#[track_caller]
pub(super) fn says(text: &str, expected: &str, saying: &str) {
    let judgement = check(text, expected);
    assert!(
        judgement.reason.contains(saying),
        "{text}: {saying:?} not in {:?}",
        judgement.reason
    );
}
