//! `import`: a preview, then rows beside those of the bench, and never twice.

use crate::run::{Folder, says as check};
use crate::serve::{BY_EYE, Daemon};

const MAP: &str = "[columns]\nread_at = \"t\"\nshown = \"v\"\nasset = \"a\"\n[always]\nmeter = \"megs-1\"\ntest = \"insulation\"\npoint = \"all_to_ground\"\n";
const FILE: &str = "t,v,a\n2026-11-01T10:00:00,1.022 GΩ,CP-07\n2026-11-01T10:05:00,OL,CP-09\n";

fn folder() -> Folder {
    let bad = format!("{FILE}2026-11-01T10:06:00,\"4,7\",CP-09\n");
    Folder::new(&[
        ("stillohm.toml", BY_EYE),
        ("map.toml", MAP),
        ("export.csv", FILE),
        ("bad.csv", &bad),
    ])
}

#[test]
fn a_preview_writes_nothing_and_an_import_writes_once() {
    let folder = folder();
    check(&folder, "enter gauge --shown 4.7", 0, &["recorded as"]);
    let import = "import export.csv --map map.toml --data data";
    check(
        &folder,
        import,
        0,
        &["1.022 GΩ", "1022000000", "not_judged", "2 would be written"],
    );
    check(
        &folder,
        "review last --data data --asset CP-07",
        2,
        &["is in no row of data"],
    );
    let write = format!("{import} --write --tester Ada");
    check(
        &folder,
        &write,
        0,
        &["2 written, 0 in the log already", "recorded up to "],
    );
    check(&folder, &write, 0, &["0 written, 2 in the log already"]);
    check(
        &folder,
        "review last --data data --asset CP-07",
        0,
        &["1 imported values fit too and are left out"],
    );
    check(
        &folder,
        "review insulation --data data --asset CP-07",
        0,
        &["CP-07  all_to_ground  0               1"],
    );
    check(
        &folder,
        "verify --deep data",
        0,
        &["ok:", "2 rows beside, which no capture here gives"],
    );
    // A run after it goes on as if nothing had been.
    check(&folder, "enter gauge --shown 4.8", 0, &["recorded as"]);
    check(&folder, "verify --deep data", 0, &["ok:"]);
}

#[test]
fn lines_that_are_refused_stop_the_writing_unless_they_are_left_out() {
    let folder = folder();
    let import = "import bad.csv --map map.toml --data data";
    check(
        &folder,
        import,
        1,
        &["bad.csv:4, column \"v\"", "2 would be written", "1 refused"],
    );
    let write = format!("{import} --write --tester Ada");
    check(
        &folder,
        &write,
        1,
        &["nothing was written", "--leave-out-refused"],
    );
    check(
        &folder,
        &format!("{write} --leave-out-refused"),
        0,
        &["2 written"],
    );
    check(&folder, "verify data", 0, &["ok: 2 rows"]);
}

#[test]
fn what_is_asked_wrongly_is_2_and_a_held_folder_is_3() {
    let folder = folder();
    check(&folder, "import", 2, &["FILE", "--map"]);
    check(
        &folder,
        "import export.csv --map nowhere.toml",
        2,
        &["nowhere.toml", "cannot be read"],
    );
    check(
        &folder,
        "import map.toml --map map.toml",
        2,
        &["expected one column"],
    );
    check(
        &folder,
        "import export.csv --map map.toml --data data --write",
        2,
        &["--tester"],
    );
    check(&folder, "import --example", 0, &["[columns]", "read_at"]);
    let daemon = Daemon::start(&folder, &[]);
    let write = "import export.csv --map map.toml --data data --write --tester Ada";
    check(
        &folder,
        write,
        3,
        &["another stillohm holds this data folder"],
    );
    assert_eq!(daemon.stop(), Some(0));
}
