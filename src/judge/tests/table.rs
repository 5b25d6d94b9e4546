//! The table is walked: each line has a case that must be judged so, and each
//! finding has a line.

use super::compare::compared;
use super::{
    Bench, Judgement, Part, Through, Volts, judge, leads_after, leads_before, three_phase,
    three_wire, voltage_present,
};
use crate::judge::absorption::{At, absorption};
use crate::judge::pairs;
use crate::judge::table::{Line, TABLE, markdown};
use crate::limits::profile::shipped_bands;
use crate::limits::{Range, RatioKind};
use crate::row::Finding;
use crate::text::Text;

const W: &str = "winding main; terminals 4; ref 20; temp 20; limits 18 22";
const P: &str = "profile pump-a; condition installed-used";

/// A case for the n-th line of its test.
fn example(line: &Line) -> Judgement {
    let w = |more: &str| judge(&format!("{W}; {more}"));
    let i = |more: &str| judge(&format!("insulation all_to_ground; {P}; {more}"));
    let g = |more: &str| judge(&format!("ground all_to_ground; {P}; {more}"));
    match (line.test, line.case) {
        ("any ohms", _) => voltage_present(Volts(3.0), true).expect("present"),
        ("any", c) if c.starts_with("display") => w("shown 20.0; flag frozen"),
        ("any", _) => w("shown 20.0; unit volt"),
        ("leads", c) => leads(c),
        ("ground_path", c) if c.ends_with("blocked") => {
            judge("ground_path path; shown 0.4; on casing; blocked")
        }
        ("ground_path", c) if c.starts_with("at most") => {
            judge("ground_path path; shown 0.4; on casing")
        }
        ("ground_path", _) => judge("ground_path path; shown 1001; on casing"),
        ("winding", c) => winding(c, w),
        ("winding set", c) if c.starts_with("three-wire") => wire(c),
        ("winding set", c) if c.starts_with("three leads") => three_leads(c),
        ("winding set", c) if c.starts_with("pairs") || c.starts_with("taps") => group(c),
        ("winding set", c) => phase(c),
        ("ground", c) if c.starts_with("at least") => g("shown 80M"),
        ("ground", c) if c.starts_with("over-range") => g("over 80M"),
        ("ground", c) if c.starts_with("below") => g("shown 0.4M"),
        ("ground", _) => g("shown 80M; electronics yes; volts 51"),
        ("insulation", c) => insulation(c, i),
        ("ratio", c) => ratio(c),
        ("sensor", _) => judge("sensor ptc; shown 100"),
        other => panic!("no example for {other:?}"),
    }
}

fn leads(case: &str) -> Judgement {
    let before = |text: &str| {
        let b = Bench::read(&format!("leads before; {text}"));
        leads_before(&b.meter, &b.take).judgement
    };
    let after = |text: &str, null: Option<&str>| {
        let b = Bench::read(&format!("leads after; {text}"));
        leads_after(&b.meter, &b.take, null.map(super::d)).judgement
    };
    match case {
        c if c.starts_with("before: at most") => before("shown 0.3"),
        c if c.starts_with("before: more") => before("shown 1.3"),
        c if c.starts_with("over-range") => before("open"),
        c if c.starts_with("meter in relative") => before("shown 0.0; flag relative"),
        c if c.starts_with("after: within") => after("shown 0.4", Some("0.3")),
        c if c.starts_with("after: further") => after("shown 0.9", Some("0.3")),
        _ => after("shown 0.3", None),
    }
}

fn winding(case: &str, w: impl Fn(&str) -> Judgement) -> Judgement {
    match case {
        "within the limits" => w("shown 20.0"),
        "within the limits, meter blocked" => w("shown 20.0; blocked"),
        "guarded, within U of a limit from inside" => w("shown 21.9; guarded"),
        "guarded, limits narrower than 2U" => {
            judge("winding main; shown 2.0; limits 1.9 2.1; terminals 4; guarded")
        }
        "below" => w("shown 17.0"),
        "above" => w("shown 23.0"),
        "over-range" => w("open"),
        "over-range of a range below the limits" => w("open 4"),
        "nothing, where the limits are well above it" => w("shown 0.0"),
        "kilohms, limits twenty times lower, at first" => w("shown 20.0k"),
        "kilohms, limits twenty times lower, again" => w("shown 20.0k; again"),
        "below −5 counts after the leads" => w("shown -0.6"),
        "leads not subtracted, could be low in truth" => {
            judge("winding main; shown 2.0; limits 1.8 2.2")
        }
        "at the panel, cable not subtracted" => w("shown 20.0; panel"),
        "no limits" => judge("winding main; shown 20.0"),
        c if c.contains("job before") => {
            let limits = match c {
                c if c.starts_with("within") => "; limits 18 22",
                c if c.starts_with("below") => "; limits 23 24",
                _ => "",
            };
            let now = format!("winding main; terminals 4; shown 21.5; temp 20{limits}");
            compared(&now, "20.0 0.1; temp 20")
        }
        other => panic!("no example for {other}"),
    }
}

fn insulation(case: &str, i: impl Fn(&str) -> Judgement) -> Judgement {
    let ieee = |more: &str| judge(&format!("insulation all_to_ground; profile ieee43; {more}"));
    match case {
        "at least U above the minimum" => i("shown 80M"),
        "over-range, proven before and after, contact shown" => i("over 2G"),
        "below the minimum" => i("shown 0.4M"),
        "from the minimum to U above it" => i("shown 0.6M"),
        c if c.contains("job before") => {
            let profile = if c.starts_with("no profile") {
                String::new()
            } else {
                format!("{P}; ")
            };
            compared(
                &format!("insulation all_to_ground; {profile}shown 20M; temp 20; volts 500"),
                "90e6 1e6; temp 20; volts 500",
            )
        }
        "early, below the minimum, not below a tenth" => ieee("shown 4M; temp 40; elapsed 30"),
        "early, below a tenth of the minimum" => ieee("shown 0.4M; temp 40; elapsed 30"),
        "voltage pulled down, resistance + U below the minimum" => i("pulled 100 0.1M"),
        "voltage pulled down, otherwise" => i("pulled 100 80M"),
        "correction to 40 °C asked, temperature unknown and decisive" => {
            ieee("shown 80M; elapsed 60")
        }
        "over-range of a range that does not reach minimum + U" => i("over 0.5M"),
        "over-range, leads not proven before and after" => i("over 2G; leads before"),
        "over-range, contact not shown" => i("over 2G; contact none"),
        "ground reference not proven, not the bare frame" => i("shown 80M; on casing"),
        "low battery" => i("shown 80M; flag low_battery"),
        "no profile, at least 0.5 megohm" => judge("insulation all_to_ground; shown 80M"),
        "electronics yes or unknown, or forbidden" => i("shown 80M; electronics unknown"),
        "above max_test_v" => i("shown 80M; volts 520; planned 500; max 500"),
        "outside 0.9 to 1.25 of the planned voltage" => i("shown 80M; volts 250; planned 500"),
        other => panic!("no example for {other}"),
    }
}

fn parts(values: [&str; 3]) -> [Part; 3] {
    values.map(|v| {
        let b = Bench::read(&format!("winding main; terminals 4; {v}"));
        Part::new(&b.meter, &b.take, &b.judge()).expect("a part")
    })
}

fn wire(case: &str) -> Judgement {
    let [m, s, t] = parts(match case.split_once(": ").expect("a case").1 {
        "main + start = total" => ["shown 2.50", "shown 10.00", "shown 12.50"],
        "no sum" => ["shown 2.50", "shown 10.00", "shown 15.50"],
        "fits after a swap of leads" => ["shown 10.00", "shown 2.50", "shown 12.50"],
        "one reads kilohms beside two that read ohms" => {
            ["shown 2.50", "shown 10.0k", "shown 12.50"]
        }
        "so much is allowed that a winding could be missing" => ["shown 2", "shown 10", "shown 12"],
        _ => ["open", "open", "shown 12.50"],
    });
    let mut motor = Bench::read("winding main").motor;
    let range = |a: &str, b: &str| Range {
        lower: Some(super::d(a)),
        upper: Some(super::d(b)),
    };
    (motor.main, motor.start) = (range("2", "3"), range("9", "12"));
    three_wire(&motor, &m, &s, &t, Through::Nothing)
}

fn three_leads(case: &str) -> Judgement {
    let parts = parts(match case.split_once(": ").expect("a case").1 {
        "told apart" => ["shown 8.00", "shown 6.00", "shown 2.00"],
        "over-range" => ["open", "shown 6.00", "open"],
        _ => ["shown 5.00", "shown 5.01", "shown 5.00"],
    });
    let names = ["lead_1_2", "lead_2_3", "lead_3_1"].map(Text::clean);
    let motor = Bench::read("winding main").motor;
    let [group] = &pairs::groups(&motor, &names)[..] else {
        panic!("not one group");
    };
    pairs::group(&motor, group, &parts, Through::Nothing)
}

fn group(case: &str) -> Judgement {
    let (names, values) = match case {
        "pairs: one over-range" => ("pair_1_4 pair_2_5", ["shown 1.10", "open"]),
        "taps: rising with their numbers" => ("tap_1 tap_2", ["shown 2.00", "shown 3.00"]),
        "taps: reversed" => ("tap_1 tap_2", ["shown 3.00", "shown 2.00"]),
        _ => ("pair_1_4 pair_2_5", ["shown 11.00", "shown 11.01"]),
    };
    let [a, b, _] = parts([values[0], values[1], values[1]]);
    let mut motor = Bench::read("winding main").motor;
    let names: Vec<Text> = names.split(' ').map(Text::clean).collect();
    for name in &names {
        motor.points.push((name.clone(), Range::default()));
    }
    let [group] = &pairs::groups(&motor, &names)[..] else {
        panic!("not one group");
    };
    pairs::group(&motor, group, &[a, b], Through::Nothing)
}

fn ratio(case: &str) -> Judgement {
    let at = |megohm: &str| At {
        ohms: super::d(megohm).shifted(6).expect("in range"),
        resolution: super::d("1e6"),
    };
    let late = match case {
        "within U of the least one" => "201",
        "below the least one" => "150",
        "falling under voltage" => "90",
        _ => "250",
    };
    let bands = if case.starts_with("trade") {
        "trade"
    } else {
        "ieee43-b"
    };
    let shipped = shipped_bands();
    let bands = shipped.iter().find(|b| b.name.as_str() == bands);
    let meter = Bench::read("insulation all_to_ground").meter;
    absorption(RatioKind::Pi, bands, None, &meter, at("100"), at(late)).1
}

fn phase(case: &str) -> Judgement {
    let [a, b, c] = parts(match case.split_once(": ").expect("a case").1 {
        "at most 2 %" => ["shown 10.00", "shown 10.10", "shown 10.00"],
        "from 2 to 5 %" => ["shown 10.00", "shown 10.00", "shown 10.50"],
        "above 5 %" => ["shown 10.00", "shown 10.00", "shown 11.00"],
        "equal, but a count is too coarse" => ["shown 0.5", "shown 0.5", "shown 0.5"],
        "two over-range, or 1 : 1 : 2" => ["open", "open", "shown 10.00"],
        _ => ["shown 0.00", "shown 10.00", "shown 10.00"],
    });
    three_phase(
        &Bench::read("winding main").motor,
        [&a, &b, &c],
        Through::Nothing,
    )
}

#[test]
fn every_line_of_the_table_is_judged_as_it_says() {
    for line in TABLE {
        let judgement = example(line);
        assert_eq!(
            (judgement.verdict, judgement.finding),
            (line.verdict, line.finding),
            "{} | {}\n{}",
            line.test,
            line.case,
            judgement.reason
        );
    }
}

#[test]
fn every_finding_has_its_line() {
    for finding in Finding::ALL {
        assert!(
            TABLE.iter().any(|l| l.finding == Some(*finding)),
            "{finding} has no line"
        );
    }
    assert_eq!(markdown().lines().count(), TABLE.len() + 2);
}

#[test]
fn no_reason_ever_says_good_or_safe() {
    for line in TABLE {
        let reason = example(line).reason.to_lowercase();
        assert!(!reason.is_empty(), "{} | {}", line.test, line.case);
        for word in [
            "safe",
            "good",
            "healthy",
            "can be energized",
            "may be energized",
        ] {
            assert!(!reason.contains(word), "{word:?} in {reason:?}");
        }
    }
}
