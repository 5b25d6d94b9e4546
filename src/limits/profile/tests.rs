//! Tests of reading profiles: a file as text in, what it holds or what is said out.

use super::*;

fn d(text: &str) -> Decimal {
    text.parse().expect("a decimal")
}

/// What is said about a file, a line each.
fn said(text: &str) -> String {
    let all = read(text).wrong;
    let lines = all
        .iter()
        .map(|w| format!("{}:{}: {}", w.line, w.column, w.message));
    lines.collect::<Vec<_>>().join("\n")
}

#[test]
fn the_shipped_file_has_no_mistake() {
    assert_eq!(read::embedded().wrong, []);
    let names = |all: Vec<&str>| all.join(" ");
    let shipped = shipped();
    assert_eq!(
        names(shipped.iter().map(|p| p.name.as_str()).collect()),
        "ieee43 kv-plus-one megohm-per-kv wiring machinery pump-a pump-b twice two-and-a-half"
    );
    assert_eq!(
        names(
            shipped_bands()
                .iter()
                .map(|b| b.name.as_str())
                .collect::<Vec<_>>()
        ),
        "trade ieee43-a ieee43-b ieee43-f ieee43-h set-a set-b set-c"
    );
}
