//! What patterns over windings mean. Each class in the order of rank.

use super::{AT_MOTOR, Class, LOCAL, Meaning, PRACTICE, STAY_OFF};

pub(super) const TEXTS: &[Meaning] = &[
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
            "clips or leads that touch, a jumper left in, or a display held since the clips were joined",
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
];
