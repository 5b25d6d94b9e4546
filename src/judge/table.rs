//! The table: test and case to verdict and finding, so that each finding has its place.
//!
//! `DEVELOPERS.md` prints it with [`markdown`]; the tests walk it, each line
//! against a case that must be judged so.

use crate::row::{Finding, Verdict};

/// One line: where, what happened, what it is judged to be, by which rule.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Line {
    /// The test, as the log writes it.
    pub test: &'static str,
    /// What happened.
    pub case: &'static str,
    /// The verdict.
    pub verdict: Verdict,
    /// The finding.
    pub finding: Option<Finding>,
    /// The rule that says so.
    pub rule: u8,
}

const fn line(
    test: &'static str,
    case: &'static str,
    verdict: Verdict,
    finding: Option<Finding>,
    rule: u8,
) -> Line {
    Line {
        test,
        case,
        verdict,
        finding,
        rule,
    }
}

use Finding::{
    AboveRange, BelowMinimum, Changed, ContactUnproven, GroundPathUnproven, High, LeadsMixed,
    LeadsUnproven, LimitsTooNarrow, Low, NoFaultSeen, NullSuspect, Open, RangeSuspect, Shorted,
    SumMismatch, TestForbidden, ToGround, Unbalanced, Unstable, VoltagePresent, Within,
    WrongTestVoltage,
};
use Verdict::{Fail, NotJudged, Pass, Undecided};

/// Every line.
#[rustfmt::skip]
pub const TABLE: &[Line] = &[
    line("any ohms", "a voltage of 3 V or more that is not the tester's own", Undecided, Some(VoltagePresent), 16),
    line("any", "display held, min, max, average; hold aborted", Undecided, Some(Unstable), 19),
    line("any", "not in ohms", Undecided, Some(RangeSuspect), 8),
    line("leads", "before: at most 1 Ω (tester: at most proof_max)", Pass, Some(Within), 1),
    line("leads", "before: more", Fail, Some(High), 4),
    line("leads", "over-range with the clips joined", Fail, Some(Open), 1),
    line("leads", "meter in relative, or below −5 counts", Undecided, Some(NullSuspect), 4),
    line("leads", "after: within 0.5 Ω of before", Pass, Some(Within), 1),
    line("leads", "after: further from it", Fail, Some(Changed), 1),
    line("leads", "after, without a proof before", Undecided, Some(LeadsUnproven), 1),
    line("ground_path", "at most 1 Ω, or 1 kΩ through earth or water", Pass, Some(Within), 3),
    line("ground_path", "more, or over-range", Undecided, Some(GroundPathUnproven), 3),
    line("ground_path", "at most 1 Ω, meter blocked", Undecided, Some(GroundPathUnproven), 20),
    line("winding", "within the limits", Pass, Some(Within), 5),
    line("winding", "within the limits, meter blocked", Undecided, Some(Within), 20),
    line("winding", "guarded, within U of a limit from inside", Undecided, Some(Within), 6),
    line("winding", "guarded, limits narrower than 2U", Undecided, Some(LimitsTooNarrow), 6),
    line("winding", "below", Fail, Some(Low), 7),
    line("winding", "above", Fail, Some(High), 7),
    line("winding", "over-range", Fail, Some(Open), 7),
    line("winding", "over-range of a range below the limits", Undecided, Some(RangeSuspect), 7),
    line("winding", "nothing, where the limits are well above it", Fail, Some(Shorted), 7),
    line("winding", "kilohms, limits twenty times lower, at first", Undecided, Some(RangeSuspect), 8),
    line("winding", "kilohms, limits twenty times lower, again", Fail, Some(RangeSuspect), 8),
    line("winding", "below −5 counts after the leads", Undecided, Some(NullSuspect), 4),
    line("winding", "leads not subtracted, could be low in truth", Undecided, Some(LeadsUnproven), 4),
    line("winding", "at the panel, cable not subtracted", Undecided, Some(Within), 5),
    line("winding", "no limits", NotJudged, None, 8),
    line("winding", "within the limits, moved by more than 3 % and U since the job before", Pass, Some(Changed), 5),
    line("winding", "no limits, moved by more than 3 % and U since the job before", NotJudged, Some(Changed), 8),
    line("winding", "below, and moved since the job before", Fail, Some(Low), 7),
    line("winding set", "three-wire: main + start = total", Pass, Some(Within), 9),
    line("winding set", "three-wire: no sum", Fail, Some(SumMismatch), 9),
    line("winding set", "three-wire: fits after a swap of leads", Undecided, Some(LeadsMixed), 9),
    line("winding set", "three leads in any order: told apart", NotJudged, None, 9),
    line("winding set", "three leads in any order: not those of a three-wire motor", Undecided, Some(LeadsMixed), 9),
    line("winding set", "three leads in any order: over-range", Undecided, Some(Open), 9),
    line("winding set", "three-wire: both pairs of common over-range, run–start reads", Undecided, Some(Open), 7),
    line("winding set", "three-phase: at most 2 %", Pass, Some(Within), 10),
    line("winding set", "three-phase: from 2 to 5 %", Undecided, Some(Unbalanced), 10),
    line("winding set", "three-phase: above 5 %", Fail, Some(Unbalanced), 10),
    line("winding set", "three-phase: equal, but a count is too coarse", Undecided, Some(LimitsTooNarrow), 10),
    line("winding set", "three-phase: two over-range, or 1 : 1 : 2", Fail, Some(Open), 10),
    line("winding set", "three-phase: 0 : 1 : 1", Fail, Some(Shorted), 10),
    line("winding set", "three-wire: one reads kilohms beside two that read ohms", Undecided, Some(RangeSuspect), 8),
    line("winding set", "three-wire: so much is allowed that a winding could be missing", Undecided, Some(LimitsTooNarrow), 9),
    line("winding set", "pairs: equal as three lines are", Pass, Some(Within), 10),
    line("winding set", "pairs: one over-range", Fail, Some(Open), 7),
    line("winding set", "taps: rising with their numbers", Pass, Some(Within), 9),
    line("winding set", "taps: reversed", Undecided, Some(LeadsMixed), 9),
    line("ground", "at least U above the minimum", Pass, Some(NoFaultSeen), 12),
    line("ground", "over-range, proven before and after, contact shown", Pass, Some(NoFaultSeen), 12),
    line("ground", "below the minimum, or below 0.5 megohm without a profile", Fail, Some(ToGround), 11),
    line("ground", "more than 50 V on a motor that may have no test voltage", NotJudged, Some(TestForbidden), 14),
    line("insulation", "at least U above the minimum", Pass, Some(Within), 11),
    line("insulation", "over-range, proven before and after, contact shown", Pass, Some(AboveRange), 1),
    line("insulation", "below the minimum", Fail, Some(BelowMinimum), 11),
    line("insulation", "from the minimum to U above it", Undecided, Some(Within), 11),
    line("insulation", "early, below the minimum, not below a tenth", Undecided, Some(BelowMinimum), 13),
    line("insulation", "early, below a tenth of the minimum", Fail, Some(BelowMinimum), 13),
    line("insulation", "voltage pulled down, resistance + U below the minimum", Fail, Some(BelowMinimum), 13),
    line("insulation", "voltage pulled down, otherwise", Undecided, Some(Unstable), 13),
    line("insulation", "correction to 40 °C asked, temperature unknown and decisive", Undecided, Some(Within), 13),
    line("insulation", "over-range of a range that does not reach minimum + U", Undecided, Some(RangeSuspect), 1),
    line("insulation", "over-range, leads not proven before and after", Undecided, Some(LeadsUnproven), 1),
    line("insulation", "over-range, contact not shown", Undecided, Some(ContactUnproven), 1),
    line("insulation", "ground reference not proven, not the bare frame", Undecided, Some(GroundPathUnproven), 3),
    line("insulation", "low battery", Undecided, Some(Unstable), 19),
    line("insulation", "no profile, at least 0.5 megohm", NotJudged, None, 13),
    line("insulation", "at least U above the minimum, below a third of the job before", Pass, Some(Changed), 11),
    line("insulation", "no profile, below a third of the job before", NotJudged, Some(Changed), 13),
    line("insulation", "electronics yes or unknown, or forbidden", NotJudged, Some(TestForbidden), 14),
    line("insulation", "above max_test_v", NotJudged, Some(TestForbidden), 15),
    line("insulation", "outside 0.9 to 1.25 of the planned voltage", NotJudged, Some(WrongTestVoltage), 15),
    line("ratio", "at least the least one, with U to spare", Pass, Some(Within), 13),
    line("ratio", "within U of the least one", Undecided, Some(LimitsTooNarrow), 13),
    line("ratio", "below the least one", Undecided, Some(BelowMinimum), 13),
    line("ratio", "falling under voltage", Undecided, Some(BelowMinimum), 13),
    line("ratio", "trade bands, no bands, or early above 5000 MΩ", NotJudged, None, 13),
    line("sensor", "no range of its own", NotJudged, None, 5),
];

/// The table in Markdown.
pub fn markdown() -> String {
    let mut out =
        String::from("| test | case | verdict | finding | rule |\n|---|---|---|---|---|\n");
    for line in TABLE {
        let finding = line.finding.map_or("", Finding::word);
        out += &format!(
            "| {} | {} | {} | {finding} | {} |\n",
            line.test, line.case, line.verdict, line.rule
        );
    }
    out
}
