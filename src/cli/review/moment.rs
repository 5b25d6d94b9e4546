//! Days and times as they are typed: a day is that of UTC, as the log's are.

use crate::stamp::Wall;

/// From when on: the midnight that begins a day, or a date with time.
///
/// # Errors
/// Neither.
pub(super) fn since(words: &str) -> Result<Wall, String> {
    moment(words, 0)
}

/// Until when, itself not: the midnight that ends a day, or a date with time.
///
/// # Errors
/// Neither.
pub(super) fn until(words: &str) -> Result<Wall, String> {
    moment(words, 1)
}

fn moment(words: &str, days: i64) -> Result<Wall, String> {
    const DAY: i64 = 86_400_000_000_000;
    if let Some(wall) = Wall::parse(words) {
        return Ok(wall);
    }
    if words.len() == 4 && words.bytes().all(|b| b.is_ascii_digit()) {
        // From its first month, or to the end of its last.
        return whole_month(words, if days == 0 { "01" } else { "12" }, days);
    }
    if let [year, month] = words.split('-').collect::<Vec<_>>()[..]
        && (year.len(), month.len()) == (4, 2)
    {
        return whole_month(year, month, days);
    }
    match Wall::parse(&format!("{words}T00:00:00Z")) {
        Some(Wall(midnight)) => Ok(Wall(midnight.saturating_add(days * DAY))),
        None => Err(String::from(
            "expected a year, a month or a day such as 2026-11-03, or 2026-11-03T07:30:00Z",
        )),
    }
}

/// The beginning of a month, or of the one after it.
fn whole_month(year: &str, month: &str, later: i64) -> Result<Wall, String> {
    let wrong = || format!("expected a month such as 2026-11, found {year}-{month}");
    let (year, month): (i64, i64) = match (year.parse(), month.parse()) {
        (Ok(year), Ok(month)) => (year, month),
        _ => return Err(wrong()),
    };
    let months = year * 12 + month - 1 + later;
    let first = |months: i64| format!("{:04}-{:02}-01T00:00:00Z", months / 12, months % 12 + 1);
    let real = Wall::parse(&first(months - later)).filter(|_| (1..=12).contains(&month));
    real.and(Wall::parse(&first(months))).ok_or_else(wrong)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_day_is_all_of_it_and_a_time_is_itself() {
        let text = |wall: Result<Wall, String>| wall.map(Wall::rfc3339);
        let is = |text: &str| Ok(String::from(text));
        assert_eq!(text(since("2026-11-30")), is("2026-11-30T00:00:00.000Z"));
        assert_eq!(text(until("2026-11-30")), is("2026-12-01T00:00:00.000Z"));
        let time = "2026-11-30T09:30:00+02:00";
        assert_eq!(text(until(time)), is("2026-11-30T07:30:00.000Z"));
        assert_eq!(text(since(time)), is("2026-11-30T07:30:00.000Z"));
        assert_eq!(text(since("2026-12")), is("2026-12-01T00:00:00.000Z"));
        assert_eq!(text(until("2026-12")), is("2027-01-01T00:00:00.000Z"));
        assert_eq!(text(since("2026")), is("2026-01-01T00:00:00.000Z"));
        assert_eq!(text(until("2026")), is("2027-01-01T00:00:00.000Z"));
        for words in ["2026-11-31", "yesterday", "2026-13", "2026-00", "20-11", ""] {
            assert!(since(words).is_err(), "{words}");
        }
    }
}
