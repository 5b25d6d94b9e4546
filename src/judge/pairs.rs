//! Pairs and taps: winding points of a motor's own that belong together.
//!
//! A group is pairs whose names differ only in lead numbers and whose limits
//! are the same (`pair_1_4`, `pair_2_5`, `pair_3_6`), or the taps of a winding.
//! Nothing here clears a point: each is judged by its own limits too.

use super::guide::Guide;
use super::lead_finder::three_leads;
use super::sets::{Through, balance, ended};
use super::words::{Ohm, Terms, hundredth, minus};
use super::{Judgement, Part};
use crate::limits::{Motor, Range};
use crate::quantity::Decimal;
use crate::row::{Finding, Verdict};
use crate::text::Text;

/// What holds over a group.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Rule {
    /// Equal within the limit of unbalance.
    Alike,
    /// Rising in the order of their numbers.
    Order,
    /// Nothing: three leads in any order, of which it is asked which is which.
    Leads,
}

/// The pairs of three leads in any order: `winding lead_1_2` of a sheet.
const LEADS: [&str; 3] = ["lead_1_2", "lead_2_3", "lead_3_1"];

/// Points that are judged together.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Group {
    /// The name of the point that says so: `set_pair`, `set_tap`.
    pub name: String,
    /// What holds.
    pub rule: Rule,
    /// The points, in the order of their numbers.
    pub members: Vec<Text>,
}

/// The groups among these winding points of a motor.
pub fn groups(motor: &Motor, points: &[Text]) -> Vec<Group> {
    let mut found: Vec<(String, Range, Group)> = Vec::new();
    for name in points {
        let (stem, numbers) = stem(name.as_str());
        let own = motor.points.iter().any(|(point, _)| point == name);
        let leads = !own && LEADS.contains(&name.as_str());
        if !(own || leads) || numbers.is_empty() {
            continue;
        }
        let rule = match stem.as_str() {
            _ if leads => Rule::Leads,
            "tap_#" => Rule::Order,
            _ => Rule::Alike,
        };
        let range = motor.winding_limits(name.as_str());
        let group = found
            .iter_mut()
            .find(|(s, r, _)| *s == stem && (rule == Rule::Order || *r == range));
        match group {
            Some((_, _, group)) => group.members.push(name.clone()),
            None => {
                let first = stem.trim_end_matches(['#', '_']);
                let alike = |g: &&(String, Range, Group)| g.0 == stem;
                let name_of = match found.iter().filter(alike).count() {
                    0 => format!("set_{first}"),
                    more => format!("set_{first}_{}", more + 1),
                };
                let members = vec![name.clone()];
                let group = Group {
                    name: name_of,
                    rule,
                    members,
                };
                found.push((stem, range, group));
            }
        }
    }
    let mut groups: Vec<Group> = found.into_iter().map(|(_, _, group)| group).collect();
    groups.retain(|g| g.members.len() > 1 && (g.rule != Rule::Leads || g.members.len() == 3));
    for group in &mut groups {
        group.members.sort_by_key(|m| stem(m.as_str()).1);
    }
    groups
}

/// A name with `#` for each number, and its numbers.
fn stem(name: &str) -> (String, Vec<u32>) {
    let mut numbers = Vec::new();
    let words: Vec<&str> = name
        .split('_')
        .map(|word| match word.parse() {
            Ok(number) => {
                numbers.push(number);
                "#"
            }
            Err(_) => word,
        })
        .collect();
    (words.join("_"), numbers)
}

/// Judges a group, read through a cable or not.
pub fn group(motor: &Motor, group: &Group, parts: &[Part], through: Through<'_>) -> Judgement {
    if let (Rule::Leads, [a, b, c]) = (group.rule, parts) {
        return leads([a, b, c]);
    }
    let mut terms = Terms::new();
    let mut open: Vec<&str> = Vec::new();
    for (name, part) in group.members.iter().zip(parts) {
        match part.ohms {
            Some(ohms) => terms.term(format_args!("{name} {}", Ohm(ohms))),
            None => {
                terms.term(format_args!("{name} over-range"));
                open.push(name.as_str());
            }
        }
    }
    if !open.is_empty() {
        terms.term(format_args!(
            "{} is open, or a clip did not hold: look at both clips, measure it again; {}",
            open.join(" and "),
            Verdict::Fail
        ));
        return Judgement::bare(Verdict::Fail, Some(Finding::Open), terms.done());
    }
    let found = match group.rule {
        Rule::Alike => alike(motor, &mut terms, parts, through),
        Rule::Order => return order(motor, group, parts, terms),
        // Three parts, so judged above.
        Rule::Leads => (Verdict::NotJudged, Finding::LeadsMixed),
    };
    ended(terms, found, through)
}

/// Which of three leads is which: a name for each is no verdict on the motor.
fn leads(pairs: [&Part; 3]) -> Judgement {
    let open = pairs.iter().any(|p| p.ohms.is_none());
    match three_leads(["lead 1", "lead 2", "lead 3"], pairs) {
        Guide::Found { says, .. } => {
            let mut found = Judgement::bare(Verdict::NotJudged, None, says);
            found.limits_from = String::from("largest pair, common practice");
            found
        }
        Guide::Refused { says } => {
            let finding = if open {
                Finding::Open
            } else {
                Finding::LeadsMixed
            };
            Judgement::bare(Verdict::Undecided, Some(finding), says)
        }
        Guide::Next(next) => Judgement::bare(Verdict::NotJudged, None, next.say),
    }
}

/// Windings that are wound alike read alike: the limit of rule 10, with any
/// number of them.
fn alike(
    motor: &Motor,
    terms: &mut Terms,
    parts: &[Part],
    through: Through<'_>,
) -> (Verdict, Finding) {
    let all: Vec<&Part> = parts.iter().collect();
    let numbers: Vec<f64> = parts
        .iter()
        .filter_map(|p| p.ohms)
        .map(Decimal::to_f64)
        .collect();
    let coarsest = all.iter().map(|p| p.resolution).max().unwrap_or_default();
    let mean = numbers.iter().sum::<f64>() / numbers.len() as f64;
    if mean <= 0.0 || mean < coarsest.to_f64() {
        terms.term(format_args!(
            "no resistance at all: the windings are shorted or the clips touch"
        ));
        return (Verdict::Fail, Finding::Shorted);
    }
    balance(motor, terms, &all, &numbers, coarsest, through)
}

/// A tap with a higher number has more turns in it (common practice), unless
/// the limits say the reverse. What is nearer than the doubt of both has no
/// order that this meter sees.
fn order(motor: &Motor, group: &Group, parts: &[Part], mut terms: Terms) -> Judgement {
    let mut reversed = Vec::new();
    for (names, pair) in group.members.windows(2).zip(parts.windows(2)) {
        let ([first, second], [a, b]) = (names, pair) else {
            continue;
        };
        let (Some(low), Some(high)) = (a.ohms, b.ohms) else {
            continue;
        };
        let (first_range, second_range) = (
            motor.winding_limits(first.as_str()),
            motor.winding_limits(second.as_str()),
        );
        let falls = matches!(
            (first_range.lower, second_range.upper),
            (Some(lower), Some(upper)) if lower > upper
        );
        let (low, high) = if falls { (high, low) } else { (low, high) };
        let u = (a.u * a.u + b.u * b.u).sqrt();
        let doubt = hundredth(u, a.resolution.max(b.resolution));
        if minus(low, high) > doubt {
            reversed.push(format!("{first} and {second}"));
        }
    }
    let (verdict, finding, words) = if reversed.is_empty() {
        (
            Verdict::Pass,
            Finding::Within,
            String::from("in the order of their numbers"),
        )
    } else {
        (
            Verdict::Undecided,
            Finding::LeadsMixed,
            format!(
                "the order of {} is reversed: the leads may be mixed; mark them and measure again",
                reversed.join(", ")
            ),
        )
    };
    terms.term(format_args!("{words}; {verdict}"));
    let mut judgement = Judgement::bare(verdict, Some(finding), terms.done());
    judgement.limits_from = String::from("order of the taps, common practice");
    judgement
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::limits::{Electronics, Kind};

    fn motor(points: &str) -> (Motor, Vec<Text>) {
        let mut motor = Motor::unlisted(Text::default(), Kind::Other, None, Electronics::No);
        for line in points.split(", ") {
            let mut words = line.split(' ');
            let name = Text::clean(words.next().expect("a name"));
            let (lower, upper) = words
                .next()
                .and_then(|r| r.split_once(".."))
                .unwrap_or_default();
            let range = Range {
                lower: lower.parse().ok(),
                upper: upper.parse().ok(),
            };
            motor.points.push((name, range));
        }
        let names = motor.points.iter().map(|(name, _)| name.clone()).collect();
        (motor, names)
    }

    fn part(text: &str) -> Part {
        Part {
            ohms: text.parse().ok(),
            resolution: "0.01".parse().expect("a decimal"),
            u: 0.02,
            leads_out: true,
        }
    }

    fn check(points: &str, values: &str, wanted: &str) {
        let (motor, names) = motor(points);
        let groups = groups(&motor, &names);
        let parts: Vec<Part> = values.split(' ').map(part).collect();
        let said = groups.first().map_or(String::from("no group"), |g| {
            let judgement = group(&motor, g, &parts, Through::Nothing);
            let finding = judgement.finding.map_or("", Finding::word);
            format!("{} {} {finding}", g.name, judgement.verdict)
        });
        assert_eq!(said, wanted, "{points}: {values}");
    }

    #[test]
    fn pairs_that_belong_together_are_compared() {
        let six = "pair_1_4 1..1.2, pair_2_5 1..1.2, pair_3_6 1..1.2";
        check(six, "1.10 1.10 1.11", "set_pair pass within");
        // Mean 1.2, 0.2 off: 16.7 %, above 5 %.
        check(six, "1.10 1.10 1.40", "set_pair fail unbalanced");
        check(six, "1.10 over 1.10", "set_pair fail open");
        check(six, "0.00 0.00 0.00", "set_pair fail shorted");
        // Mean of two 1.10, 0.04 off: 3.6 %, between 2 and 5 %.
        check(
            "coil_1 1..1.2, coil_2 1..1.2",
            "1.06 1.14",
            "set_coil undecided unbalanced",
        );
    }

    #[test]
    fn points_that_do_not_belong_together_are_not() {
        check("pair_1_4 1..1.2, pair_2_5 2..2.2", "1.1 2.1", "no group");
        check("brake 40..50, heater 40..50", "45 45", "no group");
    }

    #[test]
    fn taps_rise_with_their_number() {
        check("tap_1 , tap_2 , tap_10 ", "2 3 9", "set_tap pass within");
        check("tap_1 , tap_2 ", "3 2", "set_tap undecided leads_mixed");
        // Nearer than the doubt: 0.02 apart, U of the difference 0.028.
        check("tap_1 , tap_2 ", "2.02 2.00", "set_tap pass within");
        check(
            "tap_1 , tap_2 ",
            "2.04 2.00",
            "set_tap undecided leads_mixed",
        );
        // A shop that numbers them the other way says so by its limits.
        check("tap_1 5..6, tap_2 2..3", "5.5 2.5", "set_tap pass within");
        check(
            "tap_1 5..6, tap_2 2..3",
            "2.5 5.5",
            "set_tap undecided leads_mixed",
        );
    }

    #[test]
    fn rule_10_alike_windings_of_less_than_a_count_are_no_resistance() {
        let six = "pair_1_4 , pair_2_5 , pair_3_6 ";
        check(six, "0.01 0.00 0.00", "set_pair fail shorted");
        check(six, "0.01 0.01 0.00", "set_pair fail shorted");
        check(
            six,
            "0.01 0.01 0.01",
            "set_pair undecided limits_too_narrow",
        );
    }

    #[test]
    fn taps_exactly_the_doubt_apart_are_in_order() {
        // √(0.02² + 0.02²) = 0.0283.
        check("tap_1 , tap_2 ", "2.0283 2.0000", "set_tap pass within");
        check(
            "tap_1 , tap_2 ",
            "2.0284 2.0000",
            "set_tap undecided leads_mixed",
        );
    }

    #[test]
    fn only_points_of_the_motor_make_a_group() {
        let (motor, mut names) = motor("coil_1 , coil_2 , brake ");
        names.extend(["pair_1_2", "pair_2_3", "pair_3_1"].map(Text::clean));
        let found = groups(&motor, &names);
        let said: Vec<(&str, usize)> = found
            .iter()
            .map(|g| (g.name.as_str(), g.members.len()))
            .collect();
        assert_eq!(said, [("set_coil", 2)]);
    }

    #[test]
    fn groups_with_other_limits_have_a_number() {
        let (motor, names) = motor("pair_1_2 1..2, pair_3_4 1..2, pair_5_6 3..4, pair_7_8 3..4");
        let found = groups(&motor, &names);
        let names: Vec<&str> = found.iter().map(|g| g.name.as_str()).collect();
        assert_eq!(names, ["set_pair", "set_pair_2"]);
    }
}
