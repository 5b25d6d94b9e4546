//! What is wrong in a description is said with its place.

use crate::description::{Plan, check};

const LINE: &str = r#"frame.delimited = { ends = ["\n"], max = 32 }
"#;

/// The first problem of these lines behind a line that frames.
fn problem(rest: &str) -> String {
    let text = format!("{LINE}{rest}");
    match check("trial", &text).first() {
        Some(problem) => {
            let error = Plan::parse("trial", &text);
            if let Err(error) = error {
                assert_eq!(error.message, format!("trial: {problem}"));
            }
            problem.to_string()
        }
        None => String::from("nothing"),
    }
}

#[test]
fn each_mistake_is_said_with_line_and_column() {
    let cases = [
        (
            "reading = [{ quantity = \"main\", value.number = {} }]",
            "nothing",
        ),
        (
            "reading = [{ quantity = \"main\", vaule.number = {} }]",
            "line 2, column 33: unknown field `vaule`",
        ),
        (
            "reading = [{ quantity = \"main\", value.number = { sufix = \"scpi\" } }]",
            "line 2, column 50: unexpected keys in table: sufix, available keys: suffix,",
        ),
        (
            "reading = [{ quantity = \"mains\", value.number = {} }]",
            "line 2, column 25: unknown variant `mains`",
        ),
        (
            "reading = [{ quantity = \"main\", value.number = {}, marks = [{ from.word = { at = 0, length = 1 }, table = \"rnage\" }] }]\n[table]\nrange = [{ word = [\"A\"] }]",
            "line 2, column 107: expected the name of a table, found \"rnage\"; there are: range",
        ),
        (
            "reading = [{ answer_to = \"ohm\", quantity = \"main\", value.number = {} }]\nsend = [{ name = \"ohms\", bytes.text = \"?\", when = \"start\" }]",
            "line 2, column 26: expected the name of a message of `send`, found \"ohm\"; there are: ohms",
        ),
        (
            "reading = [{ quantity = \"main\", value.int = { at = 0, bytes = 1 }, marks = [{ from.int = { at = 1, bytes = 1 }, table = \"r\" }] }]\n[table]\nr = [\n  { is = [0, 1] },\n  { is = [1], over = true },\n]",
            "line 6, column 3: expected each code once, found 1 again",
        ),
        (
            "reading = [{ quantity = \"main\", value.number = {} }]\n[table]\nr = [{ is = [0] }]",
            "line 4, column 6: expected a mark that uses table \"r\", found none",
        ),
        (
            "reading = [{ quantity = \"main\", value.int = { at = 0, bytes = 1 }, marks = [{ from.int = { at = 1, bytes = 1 }, table = \"r\" }] }]\n[table]\nr = [{ is = [0], flags = [\"frosen\"] }]",
            "line 4, column 27: expected the name of a flag, found \"frosen\"; there are: frozen,",
        ),
        (
            "reading = [\n  { quantity = \"main\", value.number = {} },\n  { quantity = \"main\", value.number = {} },\n]",
            "line 4, column 3: expected one reading of each quantity in a frame, found a second",
        ),
        (
            "reading = [{ quantity = \"main\", value.number = {}, over.words = [\"0\"] }]",
            "line 2, column 12: expected words that are no numbers, found \"0\"",
        ),
        (
            "reading = [{ quantity = \"main\", value.number = {}, over.words = [\"OL\"], nothing.words = [\"ol\"] }]",
            "line 2, column 12: expected \"ol\" to be over-range or no result, found both",
        ),
        (
            "reading = [{ quantity = \"main\", value.number = {}, over.infinity = true }]",
            "line 2, column 12: `over.infinity` means nothing for this kind of value",
        ),
        (
            "reading = [{ quantity = \"main\", value.float = { at = 0 } }]",
            "line 2, column 12: expected `digits` or `decimals`",
        ),
        (
            "reading = [{ quantity = \"main\", value.number = {} }]\nsend = [{ name = \"r\", bytes.modbus_read = { function = 3, register = 0, count = 1 }, when = \"start\" }]",
            "line 3, column 9: expected `frame.modbus_rtu` or `frame.modbus_tcp`",
        ),
        (
            "reading = [{ quantity = \"main\", value.number = {} }]\nprepare = [{ constant = { at = 0, hex = \"4G\" } }]",
            "line 3, column 41: expected pairs of hexadecimal digits, found 'G'",
        ),
        (
            "reading = [{ quantity = \"main\", value.number = {} }]\n[[example]]\ntext = \"12\\n\"\nreadings = [\"main 13 ohm\"]",
            "line 3, column 1: expected readings [\"main 13 ohm\"], found [\"main 12 ohm\"]",
        ),
        (
            "reading = [{ quantity = \"main\", value.number = {} }]\n[[example]]\ntext = \"OL\\n\"\nbad = \"unit\"",
            "line 3, column 1: expected a refusal that says \"unit\", found",
        ),
    ];
    for (text, expected) in cases {
        let found = problem(text);
        assert!(
            found.starts_with(expected),
            "{text}\nexpected {expected}\n   found {found}"
        );
    }
}

#[test]
fn the_frame_itself_is_checked() {
    let reading = "\nreading = [{ quantity = \"main\", value.number = {} }]";
    let cases = [
        (
            "frame.delimited = { ends = [\"\\n\"], max = 0 }",
            "expected a longest frame from 1 to 4096 bytes, found 0",
        ),
        (
            "frame.delimited = { ends = [], max = 9 }",
            "expected `ends`",
        ),
        (
            "frame.fixed = { sync = \"\", bytes = 9 }",
            "expected a `sync`",
        ),
        (
            "frame.fixed = { sync = \"AA 55\", bytes = 1 }",
            "expected a longest frame from 2",
        ),
        ("frame.silence = { gap_ms = 0, max = 9 }", "expected a gap"),
        (
            "frame.tagged_nibbles = { first = 5, last = 2 }",
            "expected indexes",
        ),
        ("frame.morse = {}", "unknown variant `morse`"),
    ];
    for (frame, expected) in cases {
        let problems = check("trial", &format!("{frame}{reading}"));
        let found = problems
            .first()
            .map(ToString::to_string)
            .unwrap_or_default();
        assert!(
            found.contains(expected) && found.starts_with("line 1,"),
            "{frame}: {found}"
        );
    }
}

/// Descriptions that use most of the language, with what their frames give.
#[test]
fn the_parts_of_the_language_work_together() {
    let cases = [
        r#"
frame.modbus_rtu = {}
send = [{ name = "ohms", bytes.modbus_read = { function = 3, register = 100, count = 3 }, when.poll = { every_ms = 200, timeout_ms = 80, quiet_ms = 20 } }]
reading = [{ answer_to = "ohms", quantity = "main", unit = "ohm", value.int = { at = 0, bytes = 4, signed = true, order = "big_swapped" }, exponent.from.int = { at = 4, bytes = 2, signed = true, order = "big" } }]
example = [{ answer_to = "ohms", unit = 7, hex = "07 03 06 30 39 00 00 FF FE 53 50", readings = ["main 123.45 ohm"] }]
"#,
        r#"
frame.fixed = { sync = "AA 55", bytes = 19 }
prepare = [{ check = { kind = "sum8", from = 2, to = -1, at = -1 } }]
table.range = [{ is = [0], exponent = 3 }, { is = [1], exponent = 4 }, { is = [15], over = true }]
reading = [
  { quantity = "main", unit = "ohm", value.int = { at = 4, bytes = 4, order = "little" }, marks = [{ from.int = { at = 2, bytes = 1 }, table = "range" }] },
  { quantity = "test_voltage", unit = "volt", value.bcd = { at = 8, nibbles = 4, order = "big" } },
  { quantity = "leakage", unit = "ampere", exponent.fixed = -9, value.int = { at = 12, bytes = 2, order = "little" } },
]
example = [{ hex = "AA 55 01 00 39 30 00 00 05 12 00 00 9A 01 00 00 00 00 1C", readings = ["main 123450000 ohm by 10000", "test_voltage 512 volt", "leakage 0.000000410 ampere"] }]
"#,
        r#"
frame.tagged_nibbles = { first = 1, last = 14 }
table.prefix = [{ is = [0] }, { is = [1], prefix = "k" }, { is = [2], prefix = "M" }]
[[reading]]
quantity = "main"
value.segments = { digits = [[6,10,9,4,7,5,8],[14,18,17,12,15,13,16],[22,26,25,20,23,21,24],[30,34,33,28,31,29,32]], points = [19,27,35], minus = 3 }
over.non_digit = true
marks = [{ from.bits = [36, 37], table = "prefix" }]
[[example]]
hex = "18 20 36 4D 55 65 7F 82 97 A1 B0 C0 D0 E0"
readings = ["main -12340 ohm by 10"]
[[example]]
hex = "10 20 30 4F 56 6B 70 80 90 A2 B0 C0 D0 E0"
readings = ["main over ohm"]
[[example]]
hex = "55 10 20 30 40 50 60 76 8D 9D A0 B0 C0 D0 E0"
readings = ["main 1.2 ohm"]
bad = "no frame"
[[example]]
hex = "18 20 36 4D 55 65 7F 82 97 A1 C0 D0 E0"
bad = "frame"
"#,
        // A line of fixed columns with a word for the range and a check in hexadecimal text.
        r#"
frame.delimited = { ends = ["\r\n"], max = 32 }
prepare = [
  { constant = { at = 0, hex = "52 2C" } },
  { check = { kind = "xor", from = 0, to = -2, at = -2, written = "hex_text" } },
]
table.range = [{ word = ["k"], prefix = "k", exponent = -1 }, { word = ["OL"], over = true }, { word = ["H"], flags = ["frozen"] }]
reading = [{ quantity = "main", value.digits = { at = 2, count = 4 }, marks = [{ from.word = { at = 7, length = 1 }, table = "range" }] }]
example = [
  { text = "R,0427,k,14\r\n", readings = ["main 42700 ohm by 100"] },
  { text = "R,0427,k,15\r\n", bad = "check" },
  { text = "S,0427,k,15\r\n", bad = "never change" },
  { text = "R,0427,M,32\r\n", bad = "a word is not in its table" },
]
"#,
        // A field of a line says the unit and the range of a bare number; a comma is its point.
        r#"
frame.delimited = { ends = ["\n"], max = 32 }
table.unit = [{ word = ["R"] }, { word = ["U", "V"], unit = "volt", flags = ["dc"] }]
reading = [{ quantity = "main", full_scale = "4000", value.number = { point = "comma", field = 2, separator = ";" }, marks = [{ from.field = { field = 1, separator = ";" }, table = "unit" }] }]
example = [
  { text = "R;12,40\n", readings = ["main 12.40 ohm of 4000"] },
  { text = "V; 12,40\n", readings = ["main 12.40 volt of 4000 dc"] },
  { text = "V; 12.40\n", bad = "unit" },
  { text = "X;12,40\n", bad = "a word is not in its table" },
]
"#,
        // Silence ends a frame; a 32-bit check; a bit and a greatest count that mean over-range.
        r#"
frame.silence = { gap_ms = 20, max = 16 }
prepare = [{ check = { kind = "crc32", from = 0, to = -4, at = -4, order = "little" } }]
reading = [{ quantity = "main", value.int = { at = 1, bytes = 2 }, over.bit = 0, over.maximum = 60000 }]
example = [
  { hex = "42 10 27 86 27 97 63", readings = ["main 4135 ohm"] },
  { hex = "42 10 26 86 27 97 63", bad = "check" },
  { hex = "43 10 27 B1 4D 55 62", readings = ["main over ohm"] },
  { hex = "42 EA 60 82 FA 7C 65", readings = ["main over ohm"] },
]
"#,
        // Everything combined with a key, then a sum.
        r#"
frame.packet = { max = 8 }
prepare = [{ xor = { key = "5A A5" } }, { check = { kind = "sum8", to = -1, at = -1 } }]
reading = [{ quantity = "main", value.int = { at = 1, bytes = 2 } }]
example = [{ hex = "5B A1 88 72", readings = ["main 1234 ohm"] }, { hex = "5B A1 88 73", bad = "check" }]
"#,
    ];
    for text in cases {
        assert_eq!(check("trial", text), [], "{text}");
    }
}

proptest::proptest! {
    /// A description that somebody broke is refused with words, or still holds; it never breaks the program.
    #[test]
    fn a_broken_description_is_only_refused(
        which in proptest::prelude::any::<proptest::sample::Index>(),
        at in proptest::prelude::any::<proptest::sample::Index>(),
        cut in 0usize..9,
        put in proptest::string::string_regex("[-\\[\\]{}=\",a-z0-9\\n ]{0,6}").expect("a pattern"),
    ) {
        let (name, text) = which.get(crate::description::shipped());
        let places: Vec<usize> = text.char_indices().map(|(at, _)| at).collect();
        let from = at.index(places.len());
        let to = (from + cut).min(places.len() - 1);
        let broken = format!("{}{put}{}", &text[..places[from]], &text[places[to]..]);
        for problem in check(name, &broken) {
            proptest::prop_assert!(problem.line >= 1 && problem.column >= 1 && !problem.message.is_empty());
        }
    }
}
