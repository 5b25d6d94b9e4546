//! What patterns of the measuring itself mean. Each class in the order of rank.

use super::{Class, DISCHARGE, LOCAL, Meaning, PRACTICE, REJOIN};

pub(super) const TEXTS: &[Meaning] = &[
    Meaning {
        name: "rotor_turning",
        class: Class::Hurts,
        source: PRACTICE,
        says: "voltage on the clips and values that do not stand still: the shaft may be turning",
        causes: &[
            "wind, water or a belt turns the shaft, and a rotor with permanent magnets makes voltage whenever it turns",
            "the machine still runs down",
            "a live cable beside this one induces a voltage",
        ],
        next_checks: &[
            "block the shaft, wait until it stands still",
            "measure volts on every pair and to ground before the next ohm reading",
            "measure again what wandered",
        ],
        cautions: &[
            "a turning rotor can give a voltage that kills with every breaker off",
            LOCAL,
        ],
    },
    Meaning {
        name: "voltage_on_clips",
        class: Class::Hurts,
        source: "29 CFR 1910.333(b)(2)(iv) and NFPA 70E article 120 for proving dead, where they hold",
        says: "voltage was on the clips during this job",
        causes: &[
            "a source was not isolated, or came back",
            "a capacitor was not discharged",
            "a turning shaft, or a live cable beside this one",
        ],
        next_checks: &[
            "isolate, lock and tag every source, try the start control, let stored energy out: a switch or an interlock alone is no isolation",
            "prove dead: try the voltmeter on a known live source, test every pair and to ground, try it again",
            "then measure again whatever was read near it",
        ],
        cautions: &[
            "touch nothing bare until it is proven dead; an ohm reading under voltage is false and may ruin the meter",
            LOCAL,
        ],
    },
    Meaning {
        name: "test_voltage_forbidden",
        class: Class::Hurts,
        source: PRACTICE,
        says: "a test voltage reached a motor that may not have one, or not this much",
        causes: &[
            "electronics inside or on the motor, or nobody knows",
            "the tester was set higher than the motor allows",
        ],
        next_checks: &[
            "let go now, short the leads to ground, then ask the maker what was exposed",
            "read windings with an ohmmeter's low voltage only, where the maker allows it",
        ],
        cautions: &[
            "electronics that had a test voltage may be damaged without a sign of it",
            DISCHARGE,
            LOCAL,
        ],
    },
    Meaning {
        name: "display_held",
        class: Class::Again,
        source: PRACTICE,
        says: "the display may have been held: the same digits stand where they cannot be equal, or the meter says so",
        causes: &[
            "hold, min, max or average is on",
            "a value typed for the wrong point",
        ],
        next_checks: &[
            "leave that mode, open and join the clips and see the digits change",
            "withdraw these rows and measure them again",
        ],
        cautions: &[LOCAL],
    },
    Meaning {
        name: "lead_broken",
        class: Class::Again,
        source: PRACTICE,
        says: "the leads did not read as joined clips do, so what was over-range with them may be the lead",
        causes: &[
            "a broken test lead or a loose plug",
            "clips that were not joined metal to metal",
        ],
        next_checks: &[
            "bend each lead along its length with the clips joined: the value must stand still",
            "change the leads and measure again what was over-range",
        ],
        cautions: &[
            "over-range through a broken lead looks like perfect insulation",
            LOCAL,
        ],
    },
    Meaning {
        name: "clip_fallen",
        class: Class::Again,
        source: PRACTICE,
        says: "a clip may not have held: over-range without a proof of contact, or a set that no motor gives",
        causes: &[
            "a clip fell off or sits on paint, rust or varnish",
            "the range did not reach",
            "a switch, a fuse or all conductors are open in the path",
        ],
        next_checks: &[
            "clip on bare metal and measure all of these again",
            REJOIN,
            "if it stays, move towards the motor: panel, well head, splice, motor",
        ],
        cautions: &[
            "clips in the air and perfect insulation read the same; log it as more than the range, never as a number",
            LOCAL,
        ],
    },
    Meaning {
        name: "leads_mixed",
        class: Class::Again,
        source: PRACTICE,
        says: "the values fit after a swap of leads: mixed leads are not two faults",
        causes: &[
            "leads crossed at the box or the splice",
            "a colour code that is not the expected one",
        ],
        next_checks: &[
            "the highest of the three pairs is run to start; the lead left over is common",
            "mark the leads anew and measure all three again",
        ],
        cautions: &[
            "with run and start crossed the start winding burns within a short time of running",
            LOCAL,
        ],
    },
    Meaning {
        name: "thermal_switch_open",
        class: Class::Again,
        source: PRACTICE,
        says: "both pairs of common are open and run to start reads: a thermal switch in common may be open",
        causes: &[
            "the motor is hot and its thermal switch has opened",
            "common itself, its lead or its splice is open",
        ],
        next_checks: &[
            "let it cool, then measure all three again",
            "still open when cold: measure at the splice, then at the motor",
        ],
        cautions: &[
            "a switch that closes by itself restarts a motor that still has power: keep it locked out",
            LOCAL,
        ],
    },
    Meaning {
        name: "prefix_confused",
        class: Class::Again,
        source: PRACTICE,
        says: "the digits fit the limits with another prefix: ohms, kilohms and megohms may be confused",
        causes: &[
            "the sign on the display was missed when the range changed",
            "M taken for milli: on a display and in MOHM it is mega",
        ],
        next_checks: &[
            "read the number with its unit and its prefix, see that the range can show it, measure again",
        ],
        cautions: &[LOCAL],
    },
    Meaning {
        name: "wrong_range",
        class: Class::Again,
        source: PRACTICE,
        says: "the meter's range does not fit what is measured",
        causes: &[
            "a range set by hand",
            "a winding that is open behind a resistor or a capacitor",
            "a clip that barely touches",
        ],
        next_checks: &[
            "let the meter choose its range, clip on bare metal, measure again",
            "twice the same on the right range: look for what is still connected",
        ],
        cautions: &[LOCAL],
    },
    Meaning {
        name: "not_in_ohms",
        class: Class::Again,
        source: PRACTICE,
        says: "the meter was not measuring ohms",
        causes: &["the function switch stands elsewhere"],
        next_checks: &["set the meter to ohms and measure again"],
        cautions: &[
            "look for volts first: a meter that shows volts may be telling of some",
            LOCAL,
        ],
    },
    Meaning {
        name: "wrong_test_voltage",
        class: Class::Again,
        source: PRACTICE,
        says: "the test voltage was not the planned one, so the value is not judged",
        causes: &[
            "the tester was set to another step",
            "the tester is weak or the load is heavy",
        ],
        next_checks: &["set the planned voltage, discharge fully, hold again"],
        cautions: &[DISCHARGE, LOCAL],
    },
    Meaning {
        name: "null_suspect",
        class: Class::Again,
        source: PRACTICE,
        says: "less than nothing is left after the leads: the null does not belong to this reading",
        causes: &[
            "a null taken with dirty or badly joined clips",
            "leads or range changed after it",
            "leads subtracted twice, by the meter and here",
        ],
        next_checks: &[
            "clean the clips, join them and take the null again with these leads on this range",
            "for less than 1 Ω use four wires",
        ],
        cautions: &[
            "a null that is too large makes every later value too low",
            LOCAL,
        ],
    },
    Meaning {
        name: "leads_unproven",
        class: Class::Again,
        source: PRACTICE,
        says: "the leads were not proven, and a lead that is not connected reads like this too",
        causes: &[
            "the clips were not joined before or after",
            "the proof grew old, or the meter was silent in between",
        ],
        next_checks: &[
            REJOIN,
            "see that the ground clip is on bare metal, then measure again",
        ],
        cautions: &[
            "log over-range as more than the range, never as a number",
            LOCAL,
        ],
    },
    Meaning {
        name: "leads_changed",
        class: Class::Again,
        source: PRACTICE,
        says: "the leads read otherwise after the job than before it",
        causes: &[
            "a clip or a plug that works loose",
            "clips that were joined badly one of the two times",
        ],
        next_checks: &[
            "join the clips firmly and read once more",
            "if it stays so, measure the windings again: what was subtracted was wrong",
        ],
        cautions: &[LOCAL],
    },
    Meaning {
        name: "ground_path_unproven",
        class: Class::Again,
        source: PRACTICE,
        says: "what the ground clip holds is not shown to be ground, so a high value proves nothing",
        causes: &[
            "paint, rust or a plastic pipe under the clip",
            "a ground conductor that is broken on its way down",
            "no second ground was read",
        ],
        next_checks: &[
            "clip on the bare frame, or read this ground to a second one",
            "then repeat the ground and insulation tests",
        ],
        cautions: &[
            "a ground conductor that is broken leaves the frame live at the next fault: have it mended",
            LOCAL,
        ],
    },
    Meaning {
        name: "meter_too_coarse",
        class: Class::Again,
        source: "JCGM 106",
        says: "the limits are narrower than the doubt: this meter cannot decide here",
        causes: &[
            "a count of this range is a large part of the limits",
            "leads, cable or an unknown temperature add to the doubt",
        ],
        next_checks: &[
            "use a four-wire meter, or a lower range",
            "measure at the motor and enter the winding's temperature",
        ],
        cautions: &[LOCAL],
    },
    Meaning {
        name: "battery_low",
        class: Class::Again,
        source: PRACTICE,
        says: "the meter's battery was low",
        causes: &["an empty battery, or one that sags under the test voltage"],
        next_checks: &["change the battery, prove the leads again, repeat"],
        cautions: &[LOCAL],
    },
    Meaning {
        name: "reading_wanders",
        class: Class::Again,
        source: PRACTICE,
        says: "the value did not stand still or the hold ended early",
        causes: &[
            "a loose clip, or probes held by hand",
            "a shaft that turns",
            "charge in a winding or a capacitor, or a voltage induced by live cables beside it",
            "a battery that gives out",
        ],
        next_checks: &[
            "measure volts first, each time before ohms",
            "stop the shaft, short the winding to let the charge out",
            "clip instead of holding, then repeat",
        ],
        cautions: &[LOCAL],
    },
    Meaning {
        name: "temperature_missing",
        class: Class::Again,
        source: "IEEE 43",
        says: "the winding's temperature decides, and nobody entered it",
        causes: &["the minimum holds at 40 °C, and insulation halves with about each 10 K"],
        next_checks: &[
            "measure the winding's temperature, or let it come to the air's, enter it, judge again",
        ],
        cautions: &["the skin of a motor in the sun is not the winding", LOCAL],
    },
];
