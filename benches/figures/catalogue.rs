//! A catalogue of 20,000 models: loading it, and searching as somebody types.

use std::fmt::Write as _;
use std::hint::black_box;
use std::path::{Path, PathBuf};

use stillohm::catalogue::Catalogue;

use crate::Figure;
use crate::replay::own_nanos;

const MODELS: usize = 20_000;
/// What is typed: a letter, a name letter by letter, words, a mistake, nothing like it.
const TYPED: [&str; 9] = [
    "h",
    "hb",
    "hbcp40",
    "40 cp",
    "HB-WP 22",
    "b 7 ab",
    "hbpc 4021",
    "hb-wq 12346",
    "qqqqqqqqqqqq",
];

pub(crate) fn figures() -> Vec<Figure> {
    let (_folder, file) = written();
    let load = || load(&file);
    let millis = |run: &dyn Fn()| {
        let before = own_nanos();
        run();
        (own_nanos() - before) as f64 / 1e6
    };
    let loads = (0..5).map(|_| {
        millis(&|| {
            black_box(load());
        })
    });
    let loaded = loads.fold(f64::INFINITY, f64::min);
    let catalogue = load();
    assert_eq!((catalogue.len(), catalogue.problems.len()), (MODELS, 0));
    let slowest = TYPED
        .iter()
        .map(|words| {
            let once = || {
                millis(&|| {
                    black_box(catalogue.search(black_box(words), 20));
                })
            };
            (0..5).map(|_| once()).fold(f64::INFINITY, f64::min)
        })
        .fold(0.0, f64::max);
    vec![
        Figure::at_most("catalogue: 20,000 models loaded", loaded, 50.0, "ms"),
        Figure::at_most("catalogue: a search in them, slowest", slowest, 5.0, "ms"),
    ]
}

/// Reads the file, profiles checked.
fn load(file: &Path) -> Catalogue {
    Catalogue::read(file).expect("reads")
}

/// The file in a folder of its own.
fn written() -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("motors.csv");
    std::fs::write(&file, generate()).expect("written");
    (folder, file)
}

/// Loads so often, for who counts instructions.
pub(crate) fn load_only(times: u64) {
    let (_folder, file) = written();
    for _ in 0..times {
        black_box(load(&file));
    }
}

/// Searches so often, for who counts instructions.
pub(crate) fn search_only(times: u64) {
    let (_folder, file) = written();
    let catalogue = load(&file);
    for words in TYPED.iter().cycle().take(TYPED.len() * times as usize) {
        black_box(catalogue.search(black_box(words), 20));
    }
}

/// Invented models of the kinds that a shop has, every column in use.
fn generate() -> String {
    let mut text = String::from(
        "model,kind,rated_v,reference_c,main_min_ohms,main_max_ohms,start_min_ohms,start_max_ohms,line_min_ohms,line_max_ohms,electronics,profile,source,insulation,insulation_test,max_test_v,unbalance_max_percent,conductor,sensors\n",
    );
    for n in 0..MODELS {
        let tenth = n % 87 + 10;
        let more = tenth + 3;
        let line = match n % 3 {
            0 => write!(
                text,
                "HB-CP {n},two_wire,230,25,{tenth}.5,{more}.5,,,,,no,machinery,\"plate, pond {n}\",thermoplastic,allowed,500,,copper,ptc"
            ),
            1 => write!(
                text,
                "HB-WP {n},three_wire,230,25,1.{tenth},1.{more},{tenth}.2,{more}.2,,,no,pump-a,maker's sheet {n},,,,,,"
            ),
            _ => write!(
                text,
                "HB-AB {n},three_phase,400,25,,,,,{tenth}.25,{more}.75,unknown,ieee43,maker's sheet {n},thermosetting,leads_joined_only,1000,3,copper,ptc;thermal_switch"
            ),
        };
        line.expect("a string grows");
        text.push('\n');
    }
    text
}
