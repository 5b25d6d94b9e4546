//! Streams that fall silent, break or step in time: what a good motor still
//! passes by, and what no longer proves anything.

use stillohm::input::{Act, Attestation, Entered, What};
use stillohm::limits::{Point, Test};
use stillohm::meter::PortId;
use stillohm::quantity::{Shown, Unit};
use stillohm::stamp::Wall;
use stillohm::text::Text;

use crate::led_by_bytes::{Day, MEGA, OHMS, plan};

impl Day {
    /// The ohmmeter alone sends for `seconds`.
    fn quiet(&mut self, ohms: &str, seconds: u64) {
        for _ in 0..seconds * 10 {
            self.millis += 100;
            let data = format!("{ohms}\r\n").into();
            self.input(What::Bytes { port: OHMS, data });
        }
    }

    /// The tester's button, held for `seconds` over `shown`.
    fn press(&mut self, shown: &str, volts: u32, seconds: u64) {
        for second in 0..seconds {
            self.lines("OL", &format!("{shown};{volts} V;{second}.0 s"), 1);
        }
    }

    /// Up to the press of the insulation test, with 30 MΩ to ground.
    fn up_to_the_press(&mut self) {
        self.act(Act::StartJob(Box::new(plan())));
        self.confirm(Attestation::Dead);
        self.follows();
        for value in ["0.20", "", "0.30", "2.20", "30.00 MOhm"] {
            if value.is_empty() {
                self.follows();
                self.press("0.01 MOhm", 0, 4);
            } else {
                self.quiet("OL", 15);
                self.quiet(value, 4);
            }
        }
        self.confirm(Attestation::Disconnected);
        self.confirm(Attestation::StandClear);
        self.quiet("OL", 20);
        self.told();
    }

    /// From the end of the hold to the end of the job.
    fn until_the_end(&mut self) {
        self.quiet("OL", 12);
        self.confirm(Attestation::VoltageOff);
        self.confirm(Attestation::ShortedToGround);
        self.told();
        self.quiet("0.21", 4);
        self.quiet("OL", 15);
        self.press("0.01 MOhm", 0, 4);
    }
}

#[test]
fn a_tester_that_is_silent_between_presses_finds_no_fault_in_a_good_motor() {
    let mut day = Day::begin(1, Vec::new());
    day.up_to_the_press();
    day.press("2.10 GOhm", 510, 12);
    assert_eq!(
        day.told(),
        ["value insulation/all_to_ground 2.10 GΩ pass within"]
    );
    day.until_the_end();
    assert_eq!(
        day.told(),
        [
            "value leads/after 0.21 Ω pass within",
            "value leads/after 0.01 MΩ pass within",
            "job_end no_fault_found"
        ]
    );
}

#[test]
fn beyond_the_range_of_a_silent_tester_passes_at_last() {
    let mut day = Day::begin(1, Vec::new());
    day.up_to_the_press();
    // Let go too early at first: the next press counts.
    day.press("2.10 GOhm", 510, 4);
    day.quiet("OL", 15);
    assert_eq!(day.told(), ["aborted insulation/all_to_ground"]);
    day.press(">20.0 GOhm", 510, 12);
    assert_eq!(
        day.told(),
        ["over_range insulation/all_to_ground over-range undecided leads_unproven"]
    );
    day.quiet("OL", 12);
    day.confirm(Attestation::BothEnds);
    day.until_the_end();
    assert_eq!(
        day.told(),
        [
            "value leads/after 0.21 Ω pass within",
            "value leads/after 0.01 MΩ pass within",
            "judged insulation/all_to_ground pass above_range",
            "job_end no_fault_found"
        ]
    );
}

#[test]
fn a_value_that_is_typed_after_a_silence_meets_leads_that_are_not_proven() {
    let mut day = Day::begin(1, Vec::new());
    day.act(Act::StartJob(Box::new(plan())));
    day.confirm(Attestation::Dead);
    day.follows();
    day.ohms("0.20");
    day.told();
    // The cable is out for 12 s, and no frame has said so yet.
    day.millis += 12_000;
    let (job, meter) = (Some(day.job()), Text::clean("ohms-1"));
    day.act(Act::Enter(Box::new(Entered {
        job,
        point: Some(Point::new(Test::Ground, "all_to_ground")),
        meter,
        shown: Some(Shown::plain(
            "30000000".parse().expect("a number"),
            Unit::Ohm,
        )),
        full_scale: None,
        test_voltage: None,
        elapsed_s: None,
    })));
    assert_eq!(
        day.told(),
        [
            "gap",
            "value ground/all_to_ground 30000000 Ω undecided leads_unproven"
        ]
    );
}

/// A job up to a tester's reading beyond its range that waits for the second proof.
fn waiting_for_the_second_proof() -> Day {
    let mut day = Day::begin(1, Vec::new());
    day.up_to_the_press();
    day.press(">20.0 GOhm", 510, 12);
    day.quiet("OL", 2);
    day.confirm(Attestation::BothEnds);
    day.confirm(Attestation::VoltageOff);
    day.confirm(Attestation::ShortedToGround);
    day.told();
    day
}

/// The port is closed for `seconds` and opened again.
fn unplugged(day: &mut Day, port: PortId, seconds: u64) {
    let why = Text::clean("the cable was out");
    day.input(What::Closed { port, why });
    day.quiet(if port == OHMS { "" } else { "OL" }, seconds);
    day.input(What::Opened { port });
}

#[test]
fn a_tester_that_was_unplugged_for_long_proves_nothing_afterwards() {
    for (seconds, asked) in [(9, "after"), (12, "before")] {
        let mut day = waiting_for_the_second_proof();
        day.quiet("0.21", 4);
        day.quiet("OL", 2);
        day.told();
        unplugged(&mut day, MEGA, seconds);
        let ask = day.ask();
        assert_eq!(
            (ask.meter.as_str(), ask.point.as_str()),
            ("mega-1", asked),
            "{seconds} s"
        );
    }
}

#[test]
fn an_ohmmeter_that_was_silent_for_long_proves_nothing_afterwards() {
    for (silent, asked) in [(9, "ground"), (11, "leads")] {
        let mut day = Day::begin(1, Vec::new());
        day.act(Act::StartJob(Box::new(plan())));
        day.confirm(Attestation::Dead);
        day.follows();
        day.ohms("0.20");
        day.follows();
        day.joined();
        day.ohms("0.30");
        day.ohms("2.20");
        day.millis += silent * 1000;
        day.lines("OL", "OL;0 V;0.0 s", 1);
        assert_eq!(day.ask().test, asked, "{silent} s");
    }
}

#[test]
fn a_hold_does_not_run_across_a_clock_step_or_a_lost_connection() {
    let breaks: [fn(&mut Day); 2] = [
        |day| {
            day.input(What::Clock {
                wall: Wall(1_700_000_100_000_000_000),
                moved: 60_000_000_000,
            });
        },
        |day| unplugged(day, MEGA, 1),
    ];
    for broken in breaks {
        let mut day = Day::begin(1, Vec::new());
        day.up_to_the_press();
        day.press("2.10 GOhm", 510, 6);
        broken(&mut day);
        let told = day.told();
        let aborted = |row: &&String| row.starts_with("aborted insulation");
        assert_eq!(told.iter().filter(aborted).count(), 1, "{told:?}");
        day.press("2.10 GOhm", 510, 9);
        assert_eq!(day.told(), [""; 0]);
    }
}
