//! The scenes. What a motor suffers from is known here and nowhere else.

use stillohm::quantity::Ohms;
use stillohm::sim::motor::{Farads, Henries, Insulation, Leg, Motor};

/// The models, as a `motors.csv` holds them.
pub(crate) const MOTORS: &str = "\
model,kind,rated_v,reference_c,main_min_ohms,main_max_ohms,start_min_ohms,start_max_ohms,line_min_ohms,line_max_ohms,electronics,profile,source
HB-CP 40,two_wire,230,25,38.0,44.0,,,,,no,machinery,invented for the worked jobs
HB-AB 7,three_phase,400,25,,,,,4.6,5.4,no,machinery,invented for the worked jobs
HB-AB 30,three_phase,400,25,,,,,0.38,0.46,no,machinery,invented for the worked jobs
HB-WP 22,three_wire,230,25,1.9,2.4,5.2,6.4,,,no,machinery,invented for the worked jobs
HB-EC 9,two_wire,230,25,11.0,13.0,,,,,yes,machinery,invented for the worked jobs
";

/// A job from its first word to its last.
pub(crate) struct Scene {
    /// The file's name.
    pub(crate) name: &'static str,
    /// What happens, in one line.
    pub(crate) story: &'static str,
    /// The job as it is asked for.
    pub(crate) job: &'static str,
    /// The motor as it is.
    pub(crate) motor: Motor,
    /// The cable between the clips and the motor, there and back.
    pub(crate) cable: Ohms,
    /// The meters.
    pub(crate) bench: Bench,
    /// What goes wrong with the person's hands.
    pub(crate) slips: &'static [Slip],
}

/// Which meters are at hand, beside the insulation tester of 1 mA.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Bench {
    /// An ohmmeter of 6000 counts, down to 0.001 Ω, that tells no flags.
    Usual,
    /// A pocket meter whose finest step is 0.1 Ω.
    Pocket,
    /// An ohmmeter that tells when its display is held.
    Flagged,
}

/// Something that goes wrong, at the point that is asked for then.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Slip {
    /// The wire leaves this meter's clip as it is put on: it feels nothing from then on.
    WireOut {
        meter: &'static str,
        at: (&'static str, &'static str),
    },
    /// A thumb on the hold key as the clips move for one point, let go when another
    /// is asked for: the display keeps what it shows, and the person says that it is another contact.
    Held {
        meter: &'static str,
        from: (&'static str, &'static str),
        until: (&'static str, &'static str),
        /// It is noticed after so long.
        seconds: u64,
    },
    /// The tester's button is pressed on the winding although nobody asked for it.
    Presses {
        at: (&'static str, &'static str),
        seconds: u64,
    },
}

const OPEN: f64 = f64::INFINITY;

/// A motor: ohms from each lead to the place where the legs meet, the leakage
/// of its insulation, and its frame to a second ground.
fn motor(legs: &[f64], leakage: f64, path: f64) -> Motor {
    let leg = |ohms: &f64| Leg {
        ohms: Ohms(*ohms),
        henries: Henries(if ohms.is_finite() { ohms * 0.01 } else { 0.0 }),
    };
    let absorption = if leakage.is_finite() { 5e8 } else { OPEN };
    Motor {
        legs: legs.iter().map(leg).collect(),
        ground: Insulation {
            leakage: Ohms(leakage),
            absorption: Ohms(absorption),
            farads: Farads(1.2e-8),
        },
        path: Ohms(path),
    }
}

/// A sound two-wire pump of 40.6 Ω.
fn pump(leakage: f64) -> Motor {
    motor(&[40.6, 0.0], leakage, 0.06)
}

/// With water's own current beside the leakage.
fn wet(mut motor: Motor) -> Motor {
    motor.ground.absorption = Ohms(4e5);
    motor
}

/// Every scene, one after the other.
pub(crate) fn all() -> Vec<Scene> {
    let scene = |name, story, job, motor| Scene {
        name,
        story,
        job,
        motor,
        cable: Ohms(0.0),
        bench: Bench::Usual,
        slips: &[],
    };
    vec![
        scene(
            "nothing-found",
            "a sound circulation pump on the bench",
            r#"{"motor": "HB-CP 40", "asset": "CP-07", "tester": "Ada", "temperature": 21}"#,
            pump(6e9),
        ),
        scene(
            "shorted-turns",
            "a blower; a part of the third leg's turns is shorted",
            r#"{"motor": "HB-AB 7", "asset": "AB-03", "tester": "Ada", "temperature": 21}"#,
            motor(&[2.48, 2.49, 1.71], 3e9, 0.09),
        ),
        scene(
            "open-start-winding",
            "a well pump on the bench; its start winding is broken",
            r#"{"motor": "HB-WP 22", "asset": "WP-02", "tester": "Ada", "temperature": 21}"#,
            motor(&[0.0, 2.13, OPEN], 2e9, 0.07),
        ),
        scene(
            "open-delta-phase",
            // Phases of 7.5 Ω read 5.0 from line to line; with the phase across
            // lines 1 and 2 open, 15.0 there and 7.5 elsewhere. The legs give that.
            "a delta blower; the phase across lines 1 and 2 is broken",
            r#"{"motor": "HB-AB 7", "asset": "AB-05", "tester": "Ada", "temperature": 21}"#,
            motor(&[7.5, 7.5, 0.0], 3e9, 0.09),
        ),
        scene(
            "wrong-connection",
            // Half of each winding beside the other: a quarter of the resistance.
            "a dual-voltage blower, connected for its low voltage, tested as of its high one",
            r#"{"motor": "HB-AB 7", "asset": "AB-06", "tester": "Ada", "temperature": 21}"#,
            motor(&[0.63, 0.63, 0.63], 3e9, 0.09),
        ),
        Scene {
            cable: Ohms(1.92),
            ..scene(
                "cable-not-subtracted",
                "a sound well pump read at the panel; nobody says how long the cable is",
                r#"{"motor": "HB-WP 22", "asset": "WP-04", "tester": "Ada", "temperature": 12, "measured_at": "panel", "ground_reference": "ground_conductor"}"#,
                motor(&[0.0, 2.08, 5.62], 8e8, 0.31),
            )
        },
        scene(
            "wet-insulation",
            "a wet pump: 1 mA into 180 kΩ are 180 V, and the tester of 500 V is pulled down",
            r#"{"motor": "HB-CP 40", "asset": "CP-11", "tester": "Ada", "temperature": 21}"#,
            // Under voltage a wet winding draws more than an ohmmeter finds.
            wet(pump(180_000.0)),
        ),
        Scene {
            slips: &[Slip::WireOut {
                meter: "megs-1",
                at: ("insulation", "all_to_ground"),
            }],
            ..scene(
                "fallen-clip",
                "the wire leaves the tester's clip: the insulation reads perfect, the proof after does not",
                r#"{"motor": "HB-CP 40", "asset": "CP-09", "tester": "Ada", "temperature": 21}"#,
                pump(6e9),
            )
        },
        Scene {
            cable: Ohms(1.92),
            ..scene(
                "no-ground-path",
                "a well pump at the panel; its ground conductor is broken below: nothing to ground can be read through it",
                r#"{"motor": "HB-WP 22", "asset": "WP-06", "tester": "Ada", "temperature": 12, "measured_at": "panel", "ground_reference": "ground_conductor", "cable_ohms": 1.92}"#,
                motor(&[0.0, 2.08, 5.62], OPEN, OPEN),
            )
        },
        Scene {
            slips: &[Slip::Presses {
                at: ("ground", "all_to_ground"),
                seconds: 5,
            }],
            ..scene(
                "electronics",
                "a pump with electronics: no insulation test is asked for, somebody presses the tester all the same",
                r#"{"motor": "HB-EC 9", "asset": "EC-01", "tester": "Ada", "temperature": 21}"#,
                motor(&[11.9, 0.0], 6e9, 0.06),
            )
        },
        Scene {
            bench: Bench::Pocket,
            ..scene(
                "meter-too-coarse",
                "a large blower of 0.42 Ω, and a pocket meter that steps by 0.1 Ω",
                r#"{"motor": "HB-AB 30", "asset": "AB-30", "tester": "Ada", "temperature": 21, "acceptance": "guarded"}"#,
                motor(&[0.21, 0.21, 0.21], 3e9, 0.09),
            )
        },
        Scene {
            slips: &[Slip::Held {
                meter: "ohms-1",
                from: ("winding", "start"),
                until: ("ground", "all_to_ground"),
                seconds: 600,
            }],
            ..scene(
                "held-display",
                "a sound well pump; a thumb on the hold key after the main winding: the same digits three times",
                r#"{"motor": "HB-WP 22", "asset": "WP-08", "tester": "Ada", "temperature": 21}"#,
                motor(&[0.0, 2.13, 5.74], 2e9, 0.07),
            )
        },
        Scene {
            bench: Bench::Flagged,
            slips: &[Slip::Held {
                meter: "ohms-1",
                from: ("winding", "start"),
                until: ("ground", "all_to_ground"),
                seconds: 12,
            }],
            ..scene(
                "held-display-told",
                "the same thumb on a meter that tells that it is held",
                r#"{"motor": "HB-WP 22", "asset": "WP-08", "tester": "Ada", "temperature": 21}"#,
                motor(&[0.0, 2.13, 5.74], 2e9, 0.07),
            )
        },
    ]
}
