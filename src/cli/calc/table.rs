//! The calculations there are: one line each, in the order of the pages.
//!
//! The functions are those that judge; what each refuses is said there.

use super::formula::Need::{Default, Optional, Required};
use super::formula::{Formula, Key};
use super::{insulation, wires};

const MATERIAL: Key = Key::choice("material", &["copper", "aluminium"], Default("copper"));
const STRANDING: Key = Key::choice("stranding", &["solid", "stranded"], Default("solid"));
const AREA: Key = Key::number("area_mm2", Optional);
const AWG: Key = Key::word("awg", Optional);
const TEMP: Key = Key::number("temp_c", Default("20"));
const K: Key = Key::number("k_c", Default("234.5"));
const OF_CONDUCTORS: &str = "IEC 60028 (copper 1/58 ohm mm2/m at 20 degC, k 234.5), IEC 60889 (aluminium 0.028264, k 228), ASTM B258 (AWG), stranding 2 % (common practice)";
const OF_COPPER: &str =
    "IEEE 112; k of copper is 234.5 there, 235 in IEC 60034-1; aluminium 225 to 228";

/// Every calculation.
pub(super) const ALL: &[Formula] = &[
    Formula {
        name: "winding-at-temperature",
        keys: &[
            Key::number("r1_ohm", Required),
            Key::number("t1_c", Required),
            Key::number("t2_c", Required),
            K,
        ],
        unit: "ohm",
        words: "R1 (k + T2) / (k + T1)",
        source: OF_COPPER,
        run: wires::at_temperature,
    },
    Formula {
        name: "winding-temperature",
        keys: &[
            Key::number("r1_ohm", Required),
            Key::number("t1_c", Required),
            Key::number("r2_ohm", Required),
            K,
        ],
        unit: "celsius",
        words: "R2 / R1 (k + T1) - k",
        source: OF_COPPER,
        run: wires::temperature,
    },
    Formula {
        name: "conductor",
        keys: &[
            Key::number("length_m", Required),
            AREA,
            AWG,
            MATERIAL,
            TEMP,
            STRANDING,
        ],
        unit: "ohm",
        words: "rho length / area (k + T) / (k + 20), one way",
        source: OF_CONDUCTORS,
        run: wires::conductor,
    },
    Formula {
        name: "cable-loop",
        keys: &[
            Key::number("length_m", Required),
            AREA,
            AWG,
            MATERIAL,
            TEMP,
            STRANDING,
        ],
        unit: "ohm",
        words: "2 rho length / area (k + T) / (k + 20), there and back",
        source: OF_CONDUCTORS,
        run: wires::cable_loop,
    },
    Formula {
        name: "lead-null",
        keys: &[
            Key::number("shown_ohm", Required),
            Key::number("leads_ohm", Required),
        ],
        unit: "ohm",
        words: "shown - leads, exact",
        source: "subtraction rule, common practice",
        run: wires::lead_null,
    },
    Formula {
        name: "insulation-at-40c",
        keys: &[
            Key::number("megohm", Required),
            Key::number("temp_c", Required),
            Key::choice(
                "insulation",
                &["thermoplastic", "thermosetting"],
                Default("thermoplastic"),
            ),
        ],
        unit: "megohm",
        words: "R K; thermoplastic K = 0.5^((40 - T)/10); thermosetting, 10 to 85 degC, K = exp(-4230 (1/(T + 273) - 1/313)) above 40, -1245 below",
        source: "IEEE 43-2013 clause 6.3",
        run: insulation::at_40,
    },
    Formula {
        name: "insulation-minimum",
        keys: &[
            Key::number("rated_v", Required),
            Key::word("profile", Default("ieee43")),
            Key::word("condition", Optional),
        ],
        unit: "megohm",
        words: "the profile's minimum for the rated voltage and the condition",
        source: "the profile's own",
        run: insulation::minimum,
    },
    Formula {
        name: "insulation-test-voltage",
        keys: &[
            Key::number("rated_v", Required),
            Key::word("profile", Default("ieee43")),
        ],
        unit: "volt",
        words: "the profile's band for the rated voltage, low;high",
        source: "the profile's own",
        run: insulation::test_voltage,
    },
    Formula {
        name: "ratio",
        keys: &[
            Key::number("early_megohm", Required),
            Key::number("late_megohm", Required),
            Key::choice("kind", &["pi", "dar"], Default("pi")),
            Key::word("profile", Optional),
        ],
        unit: "ratio",
        words: "late / early, number;band; a boundary belongs to the band above",
        source: "pi: IEEE 43-2013 clause 5.4, 10 min over 1 min; dar: common practice, 60 s over 30 s",
        run: insulation::ratio,
    },
    Formula {
        name: "unbalance",
        keys: &[
            Key::number("r1", Required),
            Key::number("r2", Required),
            Key::number("r3", Required),
        ],
        unit: "percent",
        words: "100 x largest deviation from the mean / mean",
        source: "NEMA MG 1 clauses 12.45 and 14.36 (clause numbers from memory)",
        run: wires::unbalance,
    },
    Formula {
        name: "wye-phases",
        keys: &[
            Key::number("r12", Required),
            Key::number("r23", Required),
            Key::number("r31", Required),
        ],
        unit: "ohm",
        words: "a = (R12 + R31 - R23) / 2 and cyclically; a;b;c at terminals 1, 2, 3",
        source: "circuit identity; IEC 60034-2-1",
        run: wires::wye_phases,
    },
    Formula {
        name: "delta-phases",
        keys: &[
            Key::number("r12", Required),
            Key::number("r23", Required),
            Key::number("r31", Required),
            Key::number("resolution", Default("0")),
        ],
        unit: "ohm",
        words: "from the wye a, b, c: 12 = a + b + a b / c and cyclically; 12;23;31; open across a reading that is the sum of the other two",
        source: "delta-wye transformation",
        run: wires::delta_phases,
    },
    Formula {
        name: "three-wire-sum",
        keys: &[
            Key::number("main_ohm", Required),
            Key::number("start_ohm", Required),
            Key::number("total_ohm", Required),
        ],
        unit: "ohm",
        words: "total - (main + start), exact",
        source: "series identity",
        run: wires::three_wire_sum,
    },
    Formula {
        name: "meter-uncertainty",
        keys: &[
            Key::number("value", Required),
            Key::number("resolution", Required),
            Key::number("percent", Default("0")),
            Key::number("counts", Default("0")),
        ],
        unit: "unit of value",
        words: "u = sqrt(a^2/3 + (resolution/2)^2/3), a = percent value / 100 + counts resolution; standard, k = 1",
        source: "JCGM 100:2008 (GUM) 4.3.7 and F.2.2.1",
        run: wires::meter_uncertainty,
    },
    Formula {
        name: "conformity",
        keys: &[
            Key::number("value", Required),
            Key::number("u", Required),
            Key::number("lower", Optional),
            Key::number("upper", Optional),
        ],
        unit: "probability",
        words: "Phi((upper - value)/u) - Phi((lower - value)/u); u standard, k = 1",
        source: "JCGM 106:2012 clause 7",
        run: wires::conformity,
    },
    Formula {
        name: "guarded-limits",
        keys: &[
            Key::number("u", Required),
            Key::number("lower", Optional),
            Key::number("upper", Optional),
            Key::number("w_factor", Default("1")),
        ],
        unit: "unit of the limits",
        words: "lower + w 2 u;upper - w 2 u; u standard, k = 1",
        source: "JCGM 106:2012 clause 8; ILAC-G8:09/2019",
        run: wires::guarded_limits,
    },
    Formula {
        name: "fault-distance",
        keys: &[
            Key::number("loop_ohm", Required),
            AREA,
            AWG,
            MATERIAL,
            TEMP,
            STRANDING,
        ],
        unit: "metre",
        words: "R area / (2 rho), rho at the temperature",
        source: OF_CONDUCTORS,
        run: wires::fault_distance,
    },
];

/// The names of all.
pub(super) fn names() -> impl Iterator<Item = &'static str> + Clone {
    ALL.iter().map(|f| f.name)
}
