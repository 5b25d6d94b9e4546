//! What verify names, and what it passes: changed, removed, cut, saved by a
//! spreadsheet, torn by a crash.

use std::sync::atomic::AtomicU64;

use super::super::files::header;
use super::super::tests::{NOTES, dir, file, logged, row};
use super::super::{Log, chain};
use super::{Expect, LogReport, in_pieces};
use crate::disk::Disk as _;
use crate::disk::double::{Crash, Double};

fn report(disk: &Double, expect: Option<Expect>) -> LogReport {
    let expect = expect.as_slice();
    let of = |size| {
        let mut rows = 0;
        let found = in_pieces(disk, &dir(), expect, size, &AtomicU64::new(0), &mut |_| {
            rows += 1
        });
        let found = found.expect("reads");
        assert_eq!(rows, found.rows, "each row that holds is given once");
        found
    };
    let found = of(1 << 20);
    // Pieces smaller than a row, and about as long, come to the same.
    for size in [40, 331] {
        assert_eq!(of(size), found, "pieces of {size}");
    }
    found
}

/// The first bad row of a log of [`NOTES`] after its file was changed, and why.
fn bad(change: impl Fn(&str) -> String) -> (u64, String) {
    let (disk, _) = logged(&NOTES);
    let text = String::from_utf8(disk.bytes(&file()).expect("there")).expect("text");
    let changed = change(&text);
    assert_ne!(changed, text);
    disk.put(&file(), changed.as_bytes());
    let bad = report(&disk, None).first_bad.expect("a bad row");
    assert_eq!(bad.file, "readings-2025-11.csv");
    (bad.seq, bad.why)
}

/// Where each row begins and ends, from the chain alone.
fn spans(bytes: &[u8]) -> Vec<(usize, usize)> {
    let mut at = header().len();
    let mut before = chain::Chain::START;
    let mut spans = Vec::new();
    while let Some((end, next)) = chain::holding(bytes, at, &before) {
        spans.push((at, end));
        (at, before) = (end, next);
    }
    spans
}

#[test]
fn a_whole_log_is_ok_and_names_its_last_row() {
    let (disk, recorded) = logged(&NOTES);
    let found = report(&disk, None);
    assert_eq!(found.last, Some(format!("4:{}", recorded[3].chain)));
    assert_eq!(
        (found.rows, found.first_bad, found.failures),
        (4, None, vec![])
    );
    assert_eq!(report(&Double::default(), None).rows, 0);
}

#[test]
fn one_flipped_bit_anywhere_names_the_row_it_is_in() {
    let (whole, _) = logged(&NOTES);
    let bytes = whole.bytes(&file()).expect("there");
    let spans = spans(&bytes);
    assert_eq!(spans.len(), 4);
    for at in 0..bytes.len() {
        for bit in [0, 3, 5] {
            let mut changed = bytes.clone();
            changed[at] ^= 1 << bit;
            let disk = Double::default();
            disk.put(&file(), &changed);
            let bad = report(&disk, None)
                .first_bad
                .unwrap_or_else(|| panic!("byte {at}, bit {bit}"));
            let row = spans.iter().position(|(_, end)| at < *end).expect("a row") as u64 + 1;
            assert_eq!(bad.seq, row, "byte {at}, bit {bit}: {}", bad.why);
        }
    }
}

#[test]
fn a_removed_row_is_named() {
    for gone in 0..3 {
        let (seq, why) = bad(|text| {
            let (from, to) = spans(text.as_bytes())[gone];
            format!("{}{}", &text[..from], &text[to..])
        });
        assert_eq!(seq, gone as u64 + 1);
        assert!(why.contains("it is missing"), "{why}");
    }
}

#[test]
fn rows_doubled_or_swapped_are_named() {
    let (seq, why) = bad(|text| {
        let (from, to) = spans(text.as_bytes())[0];
        format!("{}{}{}", &text[..to], &text[from..to], &text[to..])
    });
    assert_eq!((seq, why.as_str()), (1, "it stands where row 2 should be"));
    let (seq, _) = bad(|text| {
        let (a, b) = (spans(text.as_bytes())[1], spans(text.as_bytes())[2]);
        format!(
            "{}{}{}{}",
            &text[..a.0],
            &text[b.0..b.1],
            &text[a.0..a.1],
            &text[b.1..]
        )
    });
    assert_eq!(seq, 2);
}

#[test]
fn what_a_spreadsheet_did_is_said() {
    let said = |change: fn(&str) -> String, words: &str| {
        let (seq, why) = bad(change);
        assert_eq!(seq, 1);
        assert!(why.contains(words) && why.contains("spreadsheet"), "{why}");
    };
    said(|t| format!("\u{feff}{t}"), "byte-order mark");
    said(|t| t.replace('\n', "\r\n"), "carriage return");
    said(|t| t.replace(',', ";"), "semicolons");
    said(
        |t| t.replacen("seq,", "\"seq\",", 1),
        "quotes around every cell",
    );
    said(|t| t.replacen(",short,", ",\"12,5\",", 1), "decimal marks");
}

#[test]
fn every_end_that_a_crash_leaves_is_ok_before_and_after_the_next_start() {
    let (whole, _) = logged(&NOTES);
    let bytes = whole.bytes(&file()).expect("there");
    for cut in 0..=bytes.len() {
        for zeros in [0, 512 - cut % 512, 5000] {
            let disk = Double::default();
            let mut torn = bytes[..cut].to_vec();
            torn.resize(cut + zeros, 0);
            disk.put(&file(), &torn);
            for start in 0..2 {
                let found = report(&disk, None);
                assert_eq!(
                    (found.first_bad, found.failures),
                    (None, vec![]),
                    "{cut} {zeros} {start}"
                );
                Log::open(&dir(), disk.clone()).expect("opens");
            }
        }
    }
}

#[test]
fn sectors_lost_from_the_last_batch_are_ok_and_the_same_in_the_middle_after_a_restart() {
    let (disk, _) = logged(&["kept"]);
    let (mut log, _) = Log::open(&dir(), disk.clone()).expect("opens");
    let synced = disk.bytes(&file()).expect("there").len();
    log.append(vec![row(&"x".repeat(2000)), row("behind"), row("behind")])
        .expect("written");
    let after = disk.crashed(Crash::Hole(1536 - synced));
    let found = report(&after, None);
    assert_eq!(
        (found.rows, found.first_bad),
        (1, None),
        "the hole ends at a sector"
    );
    let changed = disk.crashed(Crash::Hole(1500 - synced));
    assert_eq!(
        report(&changed, None).first_bad.map(|b| b.seq),
        Some(2),
        "no sector ends there"
    );
    Log::open(&dir(), after.clone()).expect("opens");
    let found = report(&after, None);
    assert_eq!(
        (found.rows, found.first_bad, found.failures),
        (1, None, vec![])
    );
    assert!(
        found.remarks[0].contains("torn/readings-2025-11.csv"),
        "{:?}",
        found.remarks
    );
}

#[test]
fn a_changed_last_row_is_named_even_after_it_was_moved_aside() {
    let (disk, _) = logged(&NOTES);
    let text = String::from_utf8(disk.bytes(&file()).expect("there")).expect("text");
    disk.put(&file(), text.replace(",last,", ",lost,").as_bytes());
    assert_eq!(report(&disk, None).first_bad.map(|b| b.seq), Some(4));
    Log::open(&dir(), disk.clone()).expect("opens");
    let found = report(&disk, None);
    assert_eq!((found.rows, found.first_bad), (3, None));
    assert!(found.failures[0].contains("row 4"), "{:?}", found.failures);
}

#[test]
fn an_expected_row_shows_a_cut_end_and_a_rewritten_log() {
    let (disk, recorded) = logged(&NOTES);
    let third: Expect = format!("3:{}", recorded[2].chain)
        .parse()
        .expect("SEQ:CHAIN");
    assert_eq!(report(&disk, Some(third)).failures, [""; 0]);
    let (other, _) = logged(&["another", "log", "of", "4 rows"]);
    assert!(report(&other, Some(third)).failures[0].contains("row 3: expected the chain"));
    let (short, _) = logged(&NOTES[..2]);
    assert!(report(&short, Some(third)).failures[0].contains("the log's end was cut off"));
}

#[test]
fn what_is_not_seq_and_chain_is_refused() {
    for text in [
        "",
        "3",
        "3:",
        "x:00000000000000000000000000000000",
        "3:0000",
    ] {
        let said = text.parse::<Expect>().expect_err(text).to_string();
        assert!(said.contains("SEQ:CHAIN"), "{said}");
    }
}

#[test]
fn damage_that_a_start_left_alone_is_still_named() {
    let (disk, _) = logged(&NOTES);
    let mut bytes = disk.bytes(&file()).expect("there");
    bytes.resize(bytes.len() + 2 * 1024 * 1024, b'x');
    disk.put(&file(), &bytes);
    let (mut log, _) = Log::open(&dir(), disk.clone()).expect("opens");
    log.append(vec![row("on")]).expect("written");
    log.sync().expect("synced");
    assert_eq!(report(&disk, None).first_bad.map(|b| b.seq), Some(5));
    assert_eq!(disk.list(&dir()).expect("lists").len(), 2);
}

/// What somebody edited beside the log is not mistaken for it, nor passed over.
#[test]
fn a_table_that_is_no_file_of_the_log_is_named() {
    let (disk, _) = logged(&NOTES);
    let copy = file().with_file_name("Copy of readings-2026-11.csv");
    disk.put(&copy, b"1;2;3\n");
    let found = report(&disk, None);
    assert_eq!(found.first_bad, None);
    assert_eq!(
        found.remarks,
        ["Copy of readings-2026-11.csv is no file of this log and was not looked at"]
    );
}
