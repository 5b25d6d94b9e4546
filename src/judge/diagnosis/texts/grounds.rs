//! What patterns over ground, insulation and sensors mean. Each class in the order of rank.

use super::{AT_MOTOR, BARRIER, Class, DISCHARGE, GAS, LOCAL, Meaning, PRACTICE, STAY_OFF};

pub(super) const TEXTS: &[Meaning] = &[
    Meaning {
        name: "winding_to_ground",
        class: Class::Hurts,
        source: PRACTICE,
        says: "the winding conducts to ground",
        causes: &[
            "a burnt winding",
            "water in the motor or in the splice",
            "a cut or pinched cable",
        ],
        next_checks: &[
            "see that the clips do not touch each other or the frame, and that the range is the one meant, then repeat",
            "open the splice and test cable and motor apart, then each conductor of the cable",
            "repair before any power, and test again after it",
        ],
        cautions: &[
            STAY_OFF,
            "do not raise the test voltage to burn it clear; do not take the ground off and do not defeat a protective device",
            LOCAL,
        ],
    },
    Meaning {
        name: "tester_pulled_down",
        class: Class::Firm,
        source: PRACTICE,
        says: "the tester could not keep its voltage up",
        causes: &[
            "the insulation is so low that it loads the tester",
            "a long wet cable, a filter or an arrester draws the current",
            "a weak tester or an empty battery",
        ],
        next_checks: &[
            "discharge, take the cable and the control off, hold again at the motor",
            "try the tester on a known high resistance",
        ],
        cautions: &[
            "do not go to a higher voltage to force a value",
            DISCHARGE,
            BARRIER,
            LOCAL,
        ],
    },
    Meaning {
        name: "bleed_resistor",
        class: Class::Firm,
        source: PRACTICE,
        says: "the same value again, as a resistor gives it: something may still be connected",
        causes: &[
            "a bleed resistor across a capacitor that was not taken off",
            "a control box, a filter to ground or a surge arrester in the path",
            "a carbonized track, which can be as steady",
        ],
        next_checks: &[
            "discharge every capacitor through a resistor, then take it and the control off, both ends of the cable free",
            AT_MOTOR,
            "the same value at the bare motor is a fault",
        ],
        cautions: &[
            "until it is found, treat a low value to ground as a fault: do not energize",
            "a capacitor can kill after the power is off; a test voltage ruins drives and soft starters",
            LOCAL,
        ],
    },
    Meaning {
        name: "polarity_matters",
        class: Class::Special,
        source: PRACTICE,
        says: "another value with the leads swapped: the path is wet, or makes a voltage of its own",
        causes: &[
            "water in the splice, the cable or the motor: two metals in it are a small cell",
            "charge left from an earlier test",
        ],
        next_checks: &[
            "short the winding to ground for some minutes, measure volts, then both ways again",
            "dry or cut back the cable ends, then test cable and motor apart",
        ],
        cautions: &["the lower of the two counts", DISCHARGE, LOCAL],
    },
    Meaning {
        name: "wet_surface",
        class: Class::Special,
        source: PRACTICE,
        says: "the same point read several times higher later: what was weak may be a surface, not the winding",
        causes: &[
            "a wet or dirty cable end or terminal board that was dried or wiped in between",
            "warmth, or charge left from the first test",
            "a clip that no longer holds",
        ],
        next_checks: &[
            "see that contact is proven, then repeat after a full discharge",
            "wipe and dry the ends, keep them off the ground, measure a third time",
        ],
        cautions: &[
            "a value that rose because a clip fell off looks the same",
            DISCHARGE,
            LOCAL,
        ],
    },
    Meaning {
        name: "cable_not_motor",
        class: Class::Special,
        source: PRACTICE,
        says: "low through the cable while the motor alone is not: look at the cable, its ends and the splice",
        causes: &[
            "surface leakage at a wet cable end",
            "a splice that leaks",
            "a cable cut or pinched on its way",
        ],
        next_checks: &[
            "dry and clean the ends, cut back to fresh insulation, test the cable alone",
            "test each conductor to ground and to the others",
            "remake the splice, test again as installed",
        ],
        cautions: &[
            "a cable in water has its own, lower band: do not judge it by the bench",
            STAY_OFF,
            LOCAL,
        ],
    },
    Meaning {
        name: "motor_not_cable",
        class: Class::Special,
        source: PRACTICE,
        says: "low at the motor while the cable alone is not: the motor is the place",
        causes: &[
            "water in the motor",
            "aged, burnt or dirty insulation",
            "damp on its terminals",
        ],
        next_checks: &[
            "wipe and dry the motor's leads, repeat",
            "dry it out under the maker's rules, then compare",
        ],
        cautions: &[STAY_OFF, LOCAL],
    },
    Meaning {
        name: "hands_or_damp",
        class: Class::Special,
        source: PRACTICE,
        says: "low with the ohmmeter and high with the tester: a body or a damp surface may have been in parallel",
        causes: &[
            "fingers on the metal of the clips",
            "a damp surface that dried between the two",
            "the tester's clips were not where the ohmmeter's were",
        ],
        next_checks: &[
            "clip, keep hands off the metal, repeat with the ohmmeter",
            "prove the contact of the tester's clips",
        ],
        cautions: &[
            "until the low value is explained it stands: do not energize",
            "never touch the leads during an insulation test: its voltage is on them",
            LOCAL,
        ],
    },
    Meaning {
        name: "shows_at_test_voltage",
        class: Class::Special,
        source: PRACTICE,
        says: "the ohmmeter saw nothing and the tester did: a fault that shows at test voltage",
        causes: &[
            "moisture or dirt",
            "cracked or aged insulation",
            "damage by lightning or a surge",
        ],
        next_checks: &[
            "dry and clean the ends, take the cable off, repeat at one minute",
            "compare with what this machine read before",
        ],
        cautions: &[
            STAY_OFF,
            "do not raise the test voltage",
            DISCHARGE,
            BARRIER,
            LOCAL,
        ],
    },
    Meaning {
        name: "insulation_falls",
        class: Class::Special,
        source: "common practice; IEEE 43 for the ratios and the discharge",
        says: "insulation that falls with time or with voltage",
        causes: &[
            "wet insulation, or insulation that breaks down",
            "tracking across a dirty surface",
            "the tester's voltage sagged, or charge was left from an earlier test",
        ],
        next_checks: &[
            "stop, discharge fully before any repeat: what is left of the charge raises the second value",
            "dry it, then repeat at a lower voltage",
        ],
        cautions: &[
            "do not raise the voltage",
            STAY_OFF,
            DISCHARGE,
            BARRIER,
            LOCAL,
        ],
    },
    Meaning {
        name: "sensor_circuit",
        class: Class::Special,
        source: PRACTICE,
        says: "a sensor or its wiring is not as it should be",
        causes: &[
            "a broken or crossed sensor lead",
            "a thermal switch that is open because the motor is hot",
            "water at a leak probe",
        ],
        next_checks: &[
            "measure at the sensor's own leads, low voltage only",
            "let the motor cool and repeat",
        ],
        cautions: &[
            "sensors never get a test voltage: join them and ground them before an insulation test",
            "do not bridge a sensor to make a machine run",
            LOCAL,
        ],
    },
    Meaning {
        name: "insulation_low",
        class: Class::General,
        source: PRACTICE,
        says: "insulation low or near its minimum, not near zero",
        causes: &[
            "moisture, dirt or age",
            "damage by lightning",
            "a warm winding, or a long cable in water",
            "leakage over the surface of the terminals",
        ],
        next_checks: &[
            "dry and clean the terminals, take the cable off, repeat at one minute",
            "bring it to 40 °C, compare with what this machine read before",
            "a ratio (DAR, PI) where the winding absorbs",
        ],
        cautions: &[
            "below the minimum: do not energize",
            "a cable in water reads lower: use the band for installed, not the one for the bench",
            DISCHARGE,
            BARRIER,
            GAS,
            LOCAL,
        ],
    },
    Meaning {
        name: "electronics_inside",
        class: Class::Caution,
        source: PRACTICE,
        says: "electronics in or on the motor, or nobody knows: its insulation was not tested at a test voltage",
        causes: &["a drive, a soft start, an encoder or a commutating motor shares the terminals"],
        next_checks: &[
            "ask the maker which checks the terminals stand",
            "find out whether there are electronics, then plan the job again",
        ],
        cautions: &[
            "never put an insulation tester on terminals that are wired to electronics; low voltage only",
            LOCAL,
        ],
    },
    Meaning {
        name: "low_voltage_only",
        class: Class::Caution,
        source: PRACTICE,
        says: "an ohmmeter saw no fault to ground, which proves little: a few volts do not show what a test voltage does",
        causes: &["no insulation test was made"],
        next_checks: &[
            "where it is allowed, follow with an insulation tester at the proper DC voltage",
        ],
        cautions: &[
            "a fault that an ohmmeter finds is real; that it finds none clears nothing",
            LOCAL,
        ],
    },
];
