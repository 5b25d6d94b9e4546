//! Texts: what each pattern means, in one table in the order of rank.
//!
//! Words are our own. What they say is common practice where no standard is
//! named. They never call a motor sound and never tell anyone to switch it on;
//! what may be done, and by whom, is left to local code and licensed people.

/// How a pattern ranks, and what it does to others on the same rows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(in super::super) enum Class {
    /// It can hurt somebody: said first, silenced by nothing.
    Hurts,
    /// Measured wrongly, perhaps: silences conclusions from the same rows.
    Again,
    /// It holds whatever else is doubted.
    Firm,
    /// A special pattern: silent where a row of it is doubted.
    Special,
    /// One value by itself: silent where something above explains it.
    General,
    /// To be kept in mind; explains nothing.
    Caution,
}

/// What a pattern means.
#[derive(Debug)]
pub(in super::super) struct Meaning {
    pub(in super::super) name: &'static str,
    pub(in super::super) class: Class,
    /// `common practice`, or a standard.
    pub(in super::super) source: &'static str,
    pub(in super::super) says: &'static str,
    pub(in super::super) causes: &'static [&'static str],
    pub(in super::super) next_checks: &'static [&'static str],
    pub(in super::super) cautions: &'static [&'static str],
}

const PRACTICE: &str = "common practice";

const LOCAL: &str = "who may do what is for local code, the motor's maker and a licensed person to say; a pattern ranks causes, a qualified person decides";
const STAY_OFF: &str = "do not energize";
const DISCHARGE: &str = "after a test voltage keep the winding shorted to ground for at least four times as long as the voltage was on (IEEE 43), then measure that nothing is left: a brief short lets charge come back";
const BARRIER: &str = "keep people away from both ends of the cable and cover bare ends: even a weak test current makes people jump";
const GAS: &str = "no test voltage where gas may be, or in a flooded pit: a discharge can spark; have it declared free of gas first, under the site's permit";
const REJOIN: &str = "join the clips: they must read as they did before";
const AT_MOTOR: &str = "take everything off the motor's leads and measure there";

/// Every meaning; the first of a class ranks first in it.
pub(in super::super) const TEXTS: &[Meaning] = &[
    // What can hurt.
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
    // Measure again.
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
    Meaning {
        name: "cable_left_in",
        class: Class::Again,
        source: PRACTICE,
        says: "the cable is in these values and was not subtracted",
        causes: &["measured through the cable without its resistance"],
        next_checks: &[
            "give the loop of this cable's size and length, there and back, or measure at the splice",
            "a table of two-conductor loops counts both ways already; aluminium has about 1.6 times the resistance of copper",
        ],
        cautions: &["a long cable hides what is unequal in the motor", LOCAL],
    },
    // Holds whatever else is doubted.
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
    // Special patterns.
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
        name: "wrong_connection",
        class: Class::Special,
        source: PRACTICE,
        says: "all windings are off by one and the same factor: the connection or the nameplate, before a fault",
        causes: &[
            "connected for the other voltage, in series instead of parallel or the reverse",
            "wye instead of delta, or the reverse",
            "another motor than the one named",
            "if all of these are right: what one low or high winding means, shorted turns or a joint",
        ],
        next_checks: &[
            "compare the links in the box with the plate",
            "read the nameplate again, then measure",
        ],
        cautions: &["a motor connected for the wrong voltage burns", LOCAL],
    },
    Meaning {
        name: "burnt_winding",
        class: Class::Special,
        source: PRACTICE,
        says: "a winding too low and insulation too low together: most likely burnt",
        causes: &[
            "turns that burnt through to each other and to the frame",
            "water in the motor that has reached the winding",
        ],
        next_checks: &[
            "see that no clips touch and nothing else is connected",
            AT_MOTOR,
            "open it or send it to a winder",
        ],
        cautions: &[STAY_OFF, "do not raise the test voltage", LOCAL],
    },
    Meaning {
        name: "all_high_alike",
        class: Class::Special,
        source: PRACTICE,
        says: "all windings are too high alike: one thing that is in each of them",
        causes: &[
            "meter leads not subtracted, dirty plugs or clips",
            "a long or thin cable, or its splices",
            "a hot winding: copper gains 0.39 % with each kelvin",
        ],
        next_checks: &[
            "join the clips, note the null and subtract it; below 1 Ω use four wires",
            "subtract the cable, or measure at the motor",
            "enter the winding's temperature",
        ],
        cautions: &[
            "a null taken with dirty clips makes later values too low",
            LOCAL,
        ],
    },
    Meaning {
        name: "differs_on_repeat",
        class: Class::Special,
        source: PRACTICE,
        says: "one point read differently when it was repeated: a joint or a clip, before a winding",
        causes: &[
            "a poor splice, a corroded terminal or a clip that was moved in between",
            "a winding that cooled, or a thermal switch that closed",
            "the clips were on other leads the first time",
        ],
        next_checks: &[
            "watch the value while each joint is moved: one that falls shows the joint",
            "clean and remake it, measure again at the motor's side of the splice",
        ],
        cautions: &[
            "a joint that moves heats up under load and fails there",
            LOCAL,
        ],
    },
    Meaning {
        name: "open_on_one_lead",
        class: Class::Special,
        source: PRACTICE,
        says: "every pair through one lead is open and the pair without it reads; the lead",
        causes: &[
            "this lead, its splice or the winding behind it is broken",
            "the clip never held this lead",
            "a fuse or a switch contact of this line is in the path",
        ],
        next_checks: &[
            "clip this lead on bare metal and repeat both pairs",
            "measure at the splice, then at the motor: where it reads, the break lies behind you",
            "a hot motor: let it cool and repeat",
        ],
        cautions: &["on one phase less a three-phase motor burns", LOCAL],
    },
    Meaning {
        name: "open_delta_phase",
        class: Class::Special,
        source: "common practice; computed from a delta with one phase left out",
        says: "1 : 1 : 2 without over-range: one phase of a delta is open, across",
        causes: &[
            "a broken phase inside a delta",
            "a link in the box that is loose or missing",
        ],
        next_checks: &[
            "clean and tighten the links, repeat all three",
            "separate the phases where the leads allow it and measure each",
        ],
        cautions: &["an open delta phase gives no over-range on any pair", LOCAL],
    },
    Meaning {
        name: "winding_shorted",
        class: Class::Special,
        source: PRACTICE,
        says: "next to nothing between leads that have a winding between them",
        causes: &[
            "clips or leads that touch, a jumper left in",
            "a crushed cable",
            "a solid short between phases",
        ],
        next_checks: &[
            "hold the clips apart and repeat",
            "open the splice, measure cable and motor apart",
        ],
        cautions: &[
            "a large motor has far less than an ohm, which two wires cannot tell from a short: use four",
            LOCAL,
        ],
    },
    Meaning {
        name: "turns_shorted",
        class: Class::Special,
        source: PRACTICE,
        says: "unbalanced as shorted turns are",
        causes: &[
            "turns shorted in one phase",
            "one of the values was read through a poor contact, or with a lead swapped",
        ],
        next_checks: &[
            "clean and re-clip, turn the clips by one lead and repeat: what stays with the lead is the lead",
            AT_MOTOR,
        ],
        cautions: &["shorted turns heat up within minutes of running", LOCAL],
    },
    Meaning {
        name: "one_line_high",
        class: Class::Special,
        source: PRACTICE,
        says: "both pairs through one lead are high and the third is not: a joint or a conductor of",
        causes: &[
            "a poor joint, clip or terminal on this lead",
            "cable conductors of unequal size or length",
            "turns shorted in the delta phase across the low pair, if the lower value is the one that is wrong",
        ],
        next_checks: &[
            "clean and re-clip this lead, turn the clips by one lead and repeat",
            "move towards the motor: a joint behind you falls out of the value",
        ],
        cautions: &[
            "compare after the cable is subtracted; temperature changes nothing if all three are read together",
            LOCAL,
        ],
    },
    Meaning {
        name: "sum_mismatch",
        class: Class::Special,
        source: PRACTICE,
        says: "main and start do not make total",
        causes: &[
            "a poor contact while one of the three was read",
            "one winding partly shorted",
            "a capacitor or a relay still connected",
        ],
        next_checks: &[
            "take the control off, clip firmly and repeat all three",
            "subtract the leads: they are once in each value, so the parts hold one loop too many",
        ],
        cautions: &[LOCAL],
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
    // One value by itself.
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
        name: "winding_open",
        class: Class::General,
        source: PRACTICE,
        says: "a winding or its path is open",
        causes: &[
            "a broken wire, a burnt winding or an open splice",
            "a thermal switch that opened in a hot motor",
            "a fuse or a switch contact in the path",
            "a clip that did not hold",
        ],
        next_checks: &[
            "clip again on bare metal and repeat, with the leads proven after it",
            "let it cool and repeat",
            "find the lead that all open pairs share, then measure at the splice",
        ],
        cautions: &[
            "an open delta phase gives no over-range: 1 : 1 : 2 instead",
            LOCAL,
        ],
    },
    Meaning {
        name: "winding_low",
        class: Class::General,
        source: PRACTICE,
        says: "a winding reads too low",
        causes: &[
            "shorted turns or a burnt winding",
            "another motor or connection than the one named",
            "a control box or a capacitor in parallel",
            "leads subtracted twice",
        ],
        next_checks: &[
            "take everything off, see the clips are on the right leads, measure at the motor's leads",
            "compare with the other phases, or main and start with total",
            "bring it to the reference temperature and read the plate again",
        ],
        cautions: &[
            "a few shorted turns hide inside the limits: a normal value clears no motor",
            LOCAL,
        ],
    },
    Meaning {
        name: "winding_high",
        class: Class::General,
        source: PRACTICE,
        says: "a winding reads too high, and conducts",
        causes: &[
            "a poor splice or a corroded terminal",
            "a cable not subtracted, or too thin",
            "a hot winding",
            "a parallel path that opened",
            "another motor than the one named, or leads not subtracted",
        ],
        next_checks: &[
            "join the clips and subtract them",
            "watch the value while each joint is moved, then measure on the motor's side of the splice",
            "subtract the cable, enter the temperature",
        ],
        cautions: &[
            "what falls when a joint is moved is the joint, not the winding",
            LOCAL,
        ],
    },
    Meaning {
        name: "unbalanced",
        class: Class::General,
        source: "common practice; ANSI/EASA AR100-2020 for 2 % of random-wound windings",
        says: "the three lines are not equal",
        causes: &[
            "one bad joint: one pair low or two pairs high",
            "shorted turns: two pairs of a wye low, or one of a delta",
            "cable conductors that differ, or a poor clip",
        ],
        next_checks: &[
            "clean and re-clip, turn the clips by one lead and repeat: if the odd value goes with the lead it is the lead",
            "measure at the motor's terminals",
        ],
        cautions: &[
            "judge it after the cable is subtracted, which hides it; temperature cancels if all three are read together",
            LOCAL,
        ],
    },
    Meaning {
        name: "changed_since",
        class: Class::General,
        source: "own",
        says: "not what it read before at this place",
        causes: &[
            "a joint, moisture or the winding itself changed",
            "another temperature, meter or place of the clips than then",
        ],
        next_checks: &[
            "repeat with the meter and at the place of the earlier job",
            "compare the temperatures of both",
        ],
        cautions: &["a trend warns, it overrides no limit", LOCAL],
    },
    // To be kept in mind.
    Meaning {
        name: "unbalance_hidden",
        class: Class::Caution,
        source: PRACTICE,
        says: "measured through a cable: what is unequal in the motor is diluted by it",
        causes: &["the cable adds the same to each line"],
        next_checks: &["compare the three at the motor, or after the cable is subtracted"],
        cautions: &[LOCAL],
    },
    Meaning {
        name: "temperature_may_explain",
        class: Class::Caution,
        source: "IEC 60034-1: copper, 234.5",
        says: "the winding's temperature was not entered and may explain what lies near its limits",
        causes: &["copper changes 0.39 % with each kelvin: 40 K are 16 %"],
        next_checks: &[
            "wait for the winding to come to the air's temperature, enter it, measure again",
        ],
        cautions: &["the skin of a motor in the sun is not the winding", LOCAL],
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
    NOTHING_FOUND,
];

const NOTHING_FOUND: Meaning = Meaning {
    name: "nothing_found",
    class: Class::Caution,
    source: PRACTICE,
    says: "no pattern of a fault in these rows, which is not proof that there is none",
    causes: &[],
    next_checks: &[
        "what these tests cannot show: turn-to-turn weakness, bearings, rotor, and what only shows warm or under load",
        "if the machine had a complaint, look for it where these tests do not reach: supply, control, pump, pipe",
    ],
    cautions: &["a normal winding does not clear a motor", LOCAL],
};

/// What is said when no pattern was seen.
pub(super) fn nothing_found() -> &'static Meaning {
    &NOTHING_FOUND
}
