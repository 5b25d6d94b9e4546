//! What the columns of a foreign file mean: a small TOML.

use std::collections::BTreeMap;

use jiff::civil::DateTime;
use jiff::tz::Offset;
use serde::Deserialize;

use crate::stamp::Wall;

/// A map to begin with.
pub const EXAMPLE: &str = r#"# What the columns of a file mean, for `stillohm import FILE --map THIS.toml`.
delimiter = ";"                      # , without it
decimal = ","                        # . without it
time = "%d.%m.%Y %H:%M:%S"           # how a time is written (strftime)
utc_offset = "+01:00"                # of the times; UTC without it

# The header of the column that says each; `shown` is the value as on the
# display (22.7 kΩ, OL), or a number whose unit `unit` says.
[columns]
read_at = "Time"
asset = "Tag"
shown = "Reading"
unit = "Unit"
# temperature_c = "T"                # also test_voltage_v, elapsed_s: plain numbers

# What holds for every line: any of those, and meter, motor, test, point.
[always]
meter = "megs-1"
test = "insulation"
point = "all_to_ground"
"#;

/// What can be said of a line.
pub const FIELDS: [&str; 11] = [
    "read_at",
    "meter",
    "asset",
    "motor",
    "test",
    "point",
    "shown",
    "unit",
    "temperature_c",
    "test_voltage_v",
    "elapsed_s",
];

/// As it is written.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Written {
    delimiter: Option<char>,
    decimal: Option<char>,
    time: Option<String>,
    utc_offset: Option<String>,
    columns: BTreeMap<String, String>,
    #[serde(default)]
    always: BTreeMap<String, String>,
}

/// As it was checked.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Map {
    /// Between cells.
    pub delimiter: u8,
    /// In numbers.
    pub decimal: char,
    /// How times are written.
    time: String,
    /// Of the times.
    offset: Offset,
    /// The header of the column of each field.
    pub columns: BTreeMap<&'static str, String>,
    /// What holds for every line.
    pub always: BTreeMap<&'static str, String>,
}

/// Why a map cannot be used.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum MapError {
    /// It does not read.
    #[error("{0}")]
    Toml(String),
    /// A job is made at the bench.
    #[error(
        "an import is put into no job: its values were not measured under the steps of one; leave `job` out"
    )]
    Job,
    /// No such field.
    #[error("{found:?} is no field; there are: {}", FIELDS.join(", "))]
    Field {
        /// What stands there.
        found: String,
    },
    /// A field that must be said is not.
    #[error("expected {0} in [columns]")]
    Missing(&'static str),
    /// A field is said twice.
    #[error("{0} stands in [columns] and in [always]: expected one of them")]
    Twice(&'static str),
    /// Neither of the signs that divide cells or numbers.
    #[error("{what}: expected {expected}, found {found:?}")]
    Sign {
        /// Which.
        what: &'static str,
        /// What would be right.
        expected: &'static str,
        /// What stands there.
        found: String,
    },
}

impl Map {
    /// Reads and checks a map.
    ///
    /// # Errors
    /// See [`MapError`].
    pub fn read(text: &str) -> Result<Self, MapError> {
        let written: Written = toml::from_str(text).map_err(|e| MapError::Toml(e.to_string()))?;
        let (columns, always) = (fields(written.columns)?, fields(written.always)?);
        for needed in ["read_at", "shown"] {
            if !columns.contains_key(needed) {
                return Err(MapError::Missing(needed));
            }
        }
        if let Some(twice) = columns.keys().find(|field| always.contains_key(*field)) {
            return Err(MapError::Twice(twice));
        }
        Ok(Self {
            delimiter: delimiter(written.delimiter.unwrap_or(','))?,
            decimal: decimal(written.decimal.unwrap_or('.'))?,
            time: written
                .time
                .unwrap_or_else(|| String::from("%Y-%m-%dT%H:%M:%S")),
            offset: offset(written.utc_offset.as_deref().unwrap_or("+00:00"))?,
            columns,
            always,
        })
    }

    /// A time as the file writes it.
    ///
    /// # Errors
    /// It does not read, in words.
    pub fn when(&self, words: &str) -> Result<Wall, String> {
        let wrong = |e: jiff::Error| {
            format!(
                "expected a time written as {:?}, found {words:?} ({e})",
                self.time
            )
        };
        let local = DateTime::strptime(&self.time, words.trim()).map_err(wrong)?;
        let at = self.offset.to_timestamp(local).map_err(wrong)?;
        let nanos =
            i64::try_from(at.as_nanosecond()).map_err(|_| format!("{words:?} is too far away"))?;
        Ok(Wall(nanos))
    }
}

fn fields(written: BTreeMap<String, String>) -> Result<BTreeMap<&'static str, String>, MapError> {
    let mut fields = BTreeMap::new();
    for (found, words) in written {
        if found == "job" {
            return Err(MapError::Job);
        }
        match FIELDS.into_iter().find(|field| *field == found) {
            Some(field) => _ = fields.insert(field, words),
            None => return Err(MapError::Field { found }),
        }
    }
    Ok(fields)
}

fn delimiter(sign: char) -> Result<u8, MapError> {
    match sign {
        ',' | ';' | '\t' | '|' => Ok(sign as u8),
        _ => Err(MapError::Sign {
            what: "delimiter",
            expected: "one of , ; | or a tab",
            found: sign.to_string(),
        }),
    }
}

fn decimal(sign: char) -> Result<char, MapError> {
    match sign {
        '.' | ',' => Ok(sign),
        _ => Err(MapError::Sign {
            what: "decimal",
            expected: ". or ,",
            found: sign.to_string(),
        }),
    }
}

/// `+01:00`.
fn offset(words: &str) -> Result<Offset, MapError> {
    let wrong = || MapError::Sign {
        what: "utc_offset",
        expected: "hours and minutes such as +01:00",
        found: words.to_owned(),
    };
    let (sign, rest) = match words.split_at_checked(1) {
        Some(("+", rest)) => (1, rest),
        Some(("-", rest)) => (-1, rest),
        _ => return Err(wrong()),
    };
    let (hours, minutes) = rest.split_once(':').ok_or_else(wrong)?;
    let number = |words: &str, most: i32| {
        let digits = words.len() == 2 && words.bytes().all(|b| b.is_ascii_digit());
        let number = words.parse::<i32>().ok();
        number.filter(|n| digits && *n <= most).ok_or_else(wrong)
    };
    let seconds = number(hours, 14)? * 3600 + number(minutes, 59)? * 60;
    Offset::from_seconds(sign * seconds).map_err(|_| wrong())
}
