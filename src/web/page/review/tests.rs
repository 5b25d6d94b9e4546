//! Addresses and answers in, the words of pages out.

use super::*;
use crate::row::{Event, Finding, Recorded, Row, Verdict};
use crate::stamp::Wall;
use crate::web::reviews::{Bin, Control, Counted, Course, Lie, Line, Mark, Rows, Rule, Years};

fn wanted(query: &str) -> Wanted {
    Wanted::read(query, |date| match date.starts_with("20") {
        true => Ok(()),
        false => Err(format!("expected a date, found {date:?}")),
    })
}

/// The words of a page as a person reads them, one space between any two.
fn words(page: &str) -> String {
    let pieces = page
        .split('<')
        .map(|piece| piece.split_once('>').map_or(piece, |(_, text)| text));
    let text = pieces
        .collect::<Vec<_>>()
        .join(" ")
        .replace("&quot;", "\"")
        .replace("&lt;", "<")
        .replace("&gt;", ">")
        .replace("&amp;", "&");
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[track_caller]
fn has(page: &str, expected: &[&str]) {
    let found = words(page);
    for words in expected {
        assert!(found.contains(words), "{words:?} is not in {found}");
    }
}

/// Each picture is XML, and says what it is by a title and a description that are there.
#[track_caller]
fn pictures(page: &str, expected: usize) {
    let mut count = 0;
    for from in page.match_indices("<svg class=\"plot\"").map(|(at, _)| at) {
        let to = from + page[from..].find("</svg>").expect("an end") + 6;
        let xml = roxmltree::Document::parse(&page[from..to]).expect("XML");
        let root = xml.root_element();
        assert_eq!(root.attribute("role"), Some("img"));
        for id in root
            .attribute("aria-labelledby")
            .expect("a name")
            .split(' ')
        {
            let named = xml
                .descendants()
                .find(|node| node.attribute("id") == Some(id));
            let text = named.and_then(|node| node.text()).unwrap_or_default();
            assert!(text.len() > 5, "{id}: {text:?}");
        }
        for node in xml.descendants().filter(|node| node.is_element()) {
            assert!(node.attribute("style").is_none());
            for part in node.attributes() {
                assert!(
                    !part.value().contains("NaN") && !part.value().contains("inf"),
                    "{part:?}"
                );
            }
        }
        count += 1;
    }
    assert_eq!(count, expected, "pictures");
}

fn counted(names: &[&str], pass: u64, fail: u64) -> Counted {
    let share = fail as f64 / (pass + fail) as f64;
    Counted {
        names: names.iter().map(|name| (*name).to_owned()).collect(),
        pass,
        fail,
        share: Some([share, share / 2.0, share * 2.0]),
        ..Counted::default()
    }
}

#[test]
fn a_share_stands_with_its_interval_and_leads_to_its_rows() {
    let counted = [
        counted(&["HB <7>", "2026-03"], 90, 10),
        counted(&["HB <7>", "2026-04"], 99, 1),
    ];
    let page = fails::body(&wanted("tester=Ada"), &counted).into_string();
    has(
        &page,
        &[
            "HB <7> 11 of 200 failed",
            "2026-03 10 % 5.0 – 20 % 10",
            "2026-04 1.0 % 0.50 – 2.0 % 1",
        ],
    );
    let rows = "/review/rows?tester=Ada&amp;model=HB%20%3C7%3E&amp;since=2026-03&amp;until=2026-03";
    assert!(
        page.contains(&format!("href=\"{rows}&amp;verdict=fail\"")),
        "{page}"
    );
    assert!(page.contains(&format!("href=\"{rows}\"")), "{page}");
    assert!(!page.contains("HB <7>"), "{page}");
}

#[test]
fn a_month_does_not_widen_the_days_that_are_asked_about() {
    let names = [String::from("A"), String::from("2026-03")];
    let rows = |query: &str| wanted(query).rows_of(&names, None);
    let at = |query: &str| Some(format!("/review/rows?{query}"));
    assert_eq!(
        rows("since=2026-03-15"),
        at("since=2026-03-15&model=A&until=2026-03")
    );
    assert_eq!(
        rows("until=2026-03-15&since=2026"),
        at("until=2026-03-15&model=A&since=2026-03")
    );
    assert_eq!(
        rows("until=2026-12"),
        at("model=A&since=2026-03&until=2026-03")
    );
    let nameless = [String::new(), String::from("2026-03")];
    assert_eq!(wanted("").rows_of(&nameless, None), None);
}

#[test]
fn what_cannot_be_read_is_said_beside_its_field_and_nothing_is_asked() {
    let wanted = wanted("since=March&verdict=good&model=HB+7&colour=red&by=shoe&before=x&test=%ff");
    assert!(wanted.is_wrong());
    let page = wanted.form("/review").into_string();
    has(
        &page,
        &[
            "expected a date, found \"March\"",
            "\"good\" is none of them; choose one",
            "colour: nothing is filtered by that",
            "before: expected the number of a row, found \"x\"",
            "\"shoe\" is none of them; choose one",
            "expected UTF-8, found \"%ff\"",
        ],
    );
    assert!(
        page.contains("aria-describedby=\"wrong-since\"") && page.contains("id=\"wrong-since\"")
    );
    assert!(
        page.contains("value=\"March\"") && page.contains("value=\"HB 7\""),
        "{page}"
    );
    assert!(page.contains("<details class=\"which\" open"), "{page}");
}

#[test]
fn each_page_keeps_which_rows_are_asked_about() {
    let page = whole(
        "/review/chart",
        &wanted("model=HB+7&until=2026"),
        &maud::html! {},
    )
    .into_string();
    for (address, _) in PAGES {
        let link = format!("href=\"{address}?until=2026&amp;model=HB%207\"");
        assert!(page.contains(&link), "{link} is not in {page}");
    }
    has(&page, &["Which rows: until 2026, model HB 7"]);
    assert!(!page.contains("style="), "{page}");
}

fn lie(limits: (Option<f64>, Option<f64>)) -> Lie {
    Lie {
        n: 40,
        quarters: [2.0, 2.4, 2.5, 2.6, 9.0],
        robust_sigma: 0.15,
        limits,
        against: Some([1, 37, 2]),
        bins: (0..8)
            .map(|at| Bin {
                from: 2.0 + f64::from(at) * 0.2,
                to: 2.2 + f64::from(at) * 0.2,
                n: 5,
            })
            .collect(),
        log: false,
        beyond: [0, 2],
    }
}

#[test]
fn how_values_lie_is_a_picture_numbers_and_a_table() {
    let wanted = wanted("model=A&test=winding&point=main");
    let page = lies::body(&wanted, Some(&lie((Some(2.2), Some(3.0))))).into_string();
    pictures(&page, 1);
    has(
        &page,
        &[
            "A winding main: how values lie",
            "Median 2.5 Ω",
            "Middle half 2.4 Ω to 2.6 Ω",
            "Limits 2.2 Ω to 3 Ω Below 1 Within 37 Above 2",
            "above 3.6 Ω 2",
            "upper limit",
        ],
    );
    pictures(
        &lies::body(&wanted, Some(&lie((None, None)))).into_string(),
        1,
    );
    has(&lies::body(&wanted, None).into_string(), &["No value fits"]);
}

fn course(values: &[f64], signal: Option<(usize, &'static str)>) -> Course {
    let mark = |(at, value): (usize, &f64)| Mark {
        at: Wall(i64::try_from(at).expect("few") * 86_400_000_000_000),
        row: Some((at as u64 + 10, Some(7))),
        values: 1,
        value: *value,
        signals: signal
            .filter(|(of, _)| *of == at)
            .map(|(_, word)| Rule {
                word,
                says: "one point beyond 3 sigma",
            })
            .into_iter()
            .collect(),
    };
    Course {
        name: String::from("ohms <1>"),
        unit: "Ω",
        marks: values.iter().enumerate().map(mark).collect(),
        earlier: [12, 3],
        limits: Ok(Control {
            center: 2.5,
            lower: 2.2,
            upper: 2.8,
            n: 9,
            provisional: true,
        }),
    }
}

#[test]
fn a_signal_has_a_shape_a_name_and_the_way_to_its_trace() {
    let chart = course(&[2.4, 2.6, 2.9], Some((2, "beyond")));
    let page = courses::one(&wanted("model=A&test=winding&point=main"), Some(&chart)).into_string();
    pictures(&page, 1);
    has(
        &page,
        &[
            "Centre 2.5 Ω, three sigma from 2.2 Ω to 2.8 Ω, from the first 9 values; provisional, these are few. 12 earlier ones are not drawn, 3 of them signal.",
            "1 signal (Western Electric 1956)",
            "1970-01-03, J7, row 12 : 2.9 Ω, one point beyond 3 sigma",
        ],
    );
    assert!(page.contains("href=\"/jobs/J7#row-12\"") && page.contains("class=\"signal beyond\""));
}

#[test]
fn charts_of_one_value_of_alike_ones_and_of_none_are_drawn_or_said() {
    let wanted = wanted("model=A&test=winding&point=main");
    for values in [&[2.5][..], &[2.5, 2.5], &[0.0, 0.0]] {
        let mut chart = course(values, None);
        chart.limits = Err(String::from("too few"));
        let page = courses::one(&wanted, Some(&chart)).into_string();
        pictures(&page, 1);
        has(&page, &["No limits: too few."]);
    }
    has(
        &courses::one(&wanted, None).into_string(),
        &["No value fits"],
    );
    let empty = Course {
        marks: Vec::new(),
        limits: Err(String::from("none")),
        ..course(&[], None)
    };
    assert!(
        courses::meters(&[empty])
            .into_string()
            .contains("No limits")
    );
}

#[test]
fn meters_stand_beside_each_other_to_one_scale() {
    let [mut one, mut other] = [course(&[0.1, -0.2], None), course(&[1.2], None)];
    (one.unit, other.unit) = ("%", "%");
    let page = courses::meters(&[one, other]).into_string();
    pictures(&page, 2);
    has(&page, &["ohms <1>", "+1.20 %"]);
    has(
        &courses::meters(&[]).into_string(),
        &["No winding that fits"],
    );
}

#[test]
fn insulation_over_the_years_says_its_forecast_and_what_is_left_out() {
    let point = Years {
        point: String::from("all_to_ground"),
        values: vec![(20_000.0, 9e8), (20_300.0, 7e8), (20_600.0, 5e8)],
        no_temperature: 2,
        over_range: 4,
        minimum: Some(1e8),
        line: Some(Line {
            through: (20_300.0, 8.845),
            slopes: [-4e-4, -6e-4, -2e-4],
            percent_a_year: [-28.6, -39.7, -15.5],
        }),
        forecast: String::from("around 2031-05 (2030-01 to later than can be said)"),
    };
    let page = years::body(&wanted("asset=pump+3"), &[point]).into_string();
    pictures(&page, 1);
    has(
        &page,
        &[
            "pump 3: insulation over the years",
            "Newest at 40 °C 500 MΩ, 2026-05-27",
            "Changes a year -28.6 % (-39.7 to -15.5 with 95 %)",
            "Reaches it around 2031-05",
            "Left out 2 without a temperature",
            "Over-range 4",
        ],
    );
}

#[test]
fn rows_lead_to_their_traces_and_to_older_rows() {
    let mut row = Row::new(Event::Value, Wall(0));
    (row.job, row.asset) = (String::from("J7"), String::from("<b>pump"));
    (row.test, row.point, row.shown) = ("winding".into(), "line_12".into(), "2.9 Ω".into());
    (row.verdict, row.finding) = (Some(Verdict::Fail), Finding::from_word("high"));
    row.capture = String::from("run-1.pcapng");
    let rows = Rows {
        rows: vec![Recorded {
            seq: 12,
            row,
            chain: String::new(),
        }],
        older: 30,
    };
    let page = rows::body(&wanted("verdict=fail"), &rows).into_string();
    has(
        &page,
        &[
            "<b>pump",
            "winding line 12 2.9 Ω ✗ fail, high J7, row 12",
            "Older rows 30 more",
            "stillohm replay captures/run-1.pcapng --why",
        ],
    );
    assert!(page.contains("href=\"/jobs/J7#row-12\"") && !page.contains("<b>pump"));
    assert!(
        page.contains("href=\"/review/rows?verdict=fail&amp;before=12\""),
        "{page}"
    );
}
