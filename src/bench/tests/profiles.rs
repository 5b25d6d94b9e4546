//! A job's profile: carried as data, kept over a stop, judged by.

use super::harness::Bench;
use super::words::plan;
use crate::input::Act;
use crate::limits::profile::read;
use crate::quantity::Volts;

/// 20 megohm at 30 s and a test at 1000 V (invented): no shipped profile has these.
const OWN: &str = "[[profile]]\nname = \"east-ponds\"\nsource = \"hatchery rule 3 (invented)\"\nmark_s = 30\nminimum = [{ megohm = 20 }]\ntest_voltage = [{ low_v = 1000, high_v = 1000 }]\n";

fn started() -> Bench {
    let mut plan = plan("two_wire main=1.8..2.2 profile=east-ponds");
    plan.limits = Some(Box::new(read(OWN).profiles.remove(0)));
    let mut bench = Bench::new();
    bench.act(Act::StartJob(Box::new(plan))).expect("starts");
    bench
}

#[test]
fn a_profile_of_ones_own_lives_in_the_job_over_a_stop() {
    let mut bench = started();
    for stopped in [false, true] {
        if stopped {
            bench.restart();
        }
        let job = &bench.benches.jobs[0];
        assert_eq!(
            job.usual().planned,
            Some(Volts(1000.0)),
            "stopped: {stopped}"
        );
        let profile = job.profile().expect("a profile");
        assert_eq!(profile.name.as_str(), "east-ponds");
        assert_eq!(crate::judge::mark(Some(profile)).as_secs(), 30);
    }
}

#[test]
fn a_value_is_judged_by_the_profile_that_the_job_carries() {
    let mut bench = started();
    bench
        .happen("enter mega-1 19.9M insulation all_to_ground 1000V 30s")
        .expect("entered");
    let row = &bench.rows.last().expect("a row").row;
    assert_eq!(row.limits_from, "hatchery rule 3 (invented)");
    assert_eq!(row.lower_ohms.map(|d| d.to_f64()), Some(20e6));
    assert_eq!(
        row.verdict.map(|v| v.word()),
        Some("fail"),
        "{}",
        row.reason
    );
}

#[test]
fn a_name_alone_is_a_shipped_profile_and_an_unknown_one_is_refused_with_the_nearest() {
    let mut bench = Bench::new();
    let refused = bench.happen("start two_wire profile=pump-c");
    let message = refused.expect_err("unknown").message;
    assert!(message.contains("nearest: pump-a, pump-b"), "{message}");
    bench
        .happen("start two_wire profile=ieee43")
        .expect("starts");
    assert_eq!(bench.benches.jobs[0].usual().planned, Some(Volts(500.0)));
}

#[test]
fn without_a_profile_or_its_test_voltage_ieee_43_plans_the_test() {
    let mut bench = Bench::new();
    bench.happen("start two_wire").expect("starts");
    let job = &bench.benches.jobs[0];
    assert_eq!(job.profile(), None);
    assert_eq!(job.usual().planned, Some(Volts(500.0)), "rated 400 V");
    let mut plan = plan("two_wire profile=east-ponds asset=7");
    let mut own = read(OWN).profiles.remove(0);
    own.test_voltage.clear();
    plan.limits = Some(Box::new(own));
    let mut bench = Bench::new();
    bench.act(Act::StartJob(Box::new(plan))).expect("starts");
    assert_eq!(bench.benches.jobs[0].usual().planned, Some(Volts(500.0)));
}

#[test]
fn a_profile_that_lacks_its_condition_says_so_before_the_first_clip() {
    let says = |plan: &str| {
        let mut bench = Bench::new();
        bench.happen(&format!("start {plan}")).expect("starts");
        let views = bench.views();
        let said = |b: &String| b.contains("will not be judged") && b.contains("installed-used");
        views[0].banners.iter().any(said)
    };
    assert!(says("two_wire profile=pump-a"));
    assert!(!says("two_wire profile=machinery"));
    assert!(!says("two_wire"));
}
