//! The pages beside the program say what the program says.

use std::path::Path;

use stillohm::judge::table;
use stillohm::row::COLUMNS;

fn page(name: &str) -> String {
    std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(name)).expect("a page")
}

#[test]
fn the_map_shows_the_table_of_findings_that_the_tests_walk() {
    let table = table::markdown();
    assert!(
        page("DEVELOPERS.md").contains(table.trim()),
        "put this into DEVELOPERS.md:\n{table}"
    );
}

#[test]
fn the_map_names_every_module() {
    let map = page("DEVELOPERS.md");
    let lib = page("src/lib.rs");
    let modules = lib
        .lines()
        .filter_map(|line| line.strip_prefix("pub mod ")?.strip_suffix(';'));
    for module in modules {
        let named = [format!("`{module}`"), format!("`{module}/`")];
        assert!(
            named.iter().any(|name| map.contains(name)),
            "DEVELOPERS.md does not name {module}"
        );
    }
}

#[test]
fn readme_names_the_columns_a_reader_of_the_log_needs_first() {
    let readme = page("README.md");
    for column in [
        "chain",
        "capture",
        "capture_offset",
        "of_seq",
        "note",
        "tester",
    ] {
        assert!(
            COLUMNS.contains(&column) && readme.contains(&format!("`{column}`")),
            "{column}"
        );
    }
}
