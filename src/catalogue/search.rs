//! Finding a model by what a person types: words in any order, letters and
//! digits alone, the nearest when nothing fits.

use memchr::memmem;
use serde::Serialize;

use super::Catalogue;
use crate::limits::{Kind, Motor, Range};
use crate::quantity::Decimal;
use crate::text::Text;

/// The names of all models as they are searched, side by side: a search reads
/// this alone, and looks only the best up.
#[derive(Clone, Debug, Default)]
pub(super) struct Index {
    /// The letters of one name behind those of another.
    letters: String,
    names: Vec<Name>,
}

#[derive(Clone, Debug)]
struct Name {
    model: Text,
    /// Where its letters end.
    end: usize,
    begins: u64,
}

/// A name as it is searched: small letters and digits, and where its words
/// begin: at byte `n` where bit `n` is set; only the first 64 count.
#[derive(Clone, Copy, Debug)]
struct Plain<'a> {
    letters: &'a str,
    begins: u64,
}

/// What a search found.
#[derive(Clone, Debug)]
pub struct Search<'a> {
    /// The models, the best first, each with why it is not usable, if it is not.
    pub models: Vec<(&'a Motor, Option<&'a str>)>,
    /// Whether they fit the words; else they are the nearest, or there are none.
    pub fits: bool,
}

/// A model as lists show it.
#[derive(Clone, Debug, Serialize)]
pub struct Listed<'a> {
    /// The model's name.
    pub model: &'a Text,
    /// How it is wound.
    pub kind: Kind,
    /// Rated line-to-line voltage.
    pub rated_v: Option<f64>,
    /// The limits of its windings and other points.
    pub limits: Vec<Limits<'a>>,
    /// Why it is not usable; empty when it is.
    pub problems: Vec<&'a str>,
    /// Whether it fits what was searched, or is only the nearest.
    pub fits: bool,
}

/// The limits of one point, in ohms.
#[derive(Clone, Debug, Serialize)]
pub struct Limits<'a> {
    /// Which point: `main`, `start`, `line` or a name of `points.csv`.
    pub point: &'a str,
    /// The least that is within.
    pub min_ohms: Option<f64>,
    /// The most that is within.
    pub max_ohms: Option<f64>,
}

impl Catalogue {
    /// At most `limit` models whose name holds every word, the best first: the
    /// name itself, names that begin so, words at the start of a word, words
    /// inside; shorter names before longer ones. Case, spaces, hyphens and
    /// other marks do not count: `hbcp40` finds `HB-CP 40`. Without words: the
    /// first models in order. When none fits: the nearest, and said so.
    pub fn search(&self, words: &str, limit: usize) -> Search<'_> {
        let mut whole = String::new();
        spell(words, &mut whole);
        let parts: Vec<String> = words
            .split(|c: char| !c.is_alphanumeric())
            .map(|word| {
                let mut letters = String::new();
                spell(word, &mut letters);
                letters
            })
            .filter(|letters| !letters.is_empty())
            .collect();
        if parts.is_empty() {
            let models = self.iter().take(limit).collect();
            return Search { models, fits: true };
        }
        let parts: Vec<memmem::Finder<'_>> = parts.iter().map(memmem::Finder::new).collect();
        let models = self.best(limit, |plain| plain.rank(&whole, &parts));
        if !models.is_empty() {
            return Search { models, fits: true };
        }
        let models = match Pattern::new(&whole) {
            Some(pattern) => self.best(limit, |plain| pattern.away(plain.letters)),
            None => Vec::new(),
        };
        Search {
            models,
            fits: false,
        }
    }

    /// The models of lowest rank, in order of rank, length and name.
    fn best(
        &self,
        limit: usize,
        rank: impl Fn(Plain<'_>) -> Option<u32>,
    ) -> Vec<(&Motor, Option<&str>)> {
        let mut found: Vec<(u32, usize, usize)> = self
            .index
            .iter()
            .enumerate()
            .filter_map(|(at, plain)| Some((rank(plain)?, plain.letters.len(), at)))
            .collect();
        // The index is in the order of names, which is what the last number says.
        if limit < found.len() {
            found.select_nth_unstable(limit);
            found.truncate(limit);
        }
        found.sort_unstable();
        let models = found
            .iter()
            .filter_map(|(_, _, at)| self.models.get(&self.index.names[*at].model));
        models.map(|m| (&m.motor, m.bad.as_deref())).collect()
    }
}

impl<'a> Search<'a> {
    /// The models as lists show them.
    pub fn listed(&self) -> impl Iterator<Item = Listed<'a>> {
        let fits = self.fits;
        let models = self.models.clone();
        models.into_iter().map(move |(motor, bad)| Listed {
            model: &motor.model,
            kind: motor.kind,
            rated_v: motor.rated_v.map(|v| v.0),
            limits: limits(motor),
            problems: bad.into_iter().collect(),
            fits,
        })
    }
}

/// Every point of a motor that has limits.
fn limits(motor: &Motor) -> Vec<Limits<'_>> {
    let named = [
        ("main", motor.main),
        ("start", motor.start),
        ("line", motor.line),
    ];
    let others = motor.points.iter().map(|(name, r)| (name.as_str(), *r));
    let all = named.into_iter().chain(others);
    all.filter(|(_, range): &(&str, Range)| !range.is_empty())
        .map(|(point, range)| Limits {
            point,
            min_ohms: range.lower.map(Decimal::to_f64),
            max_ohms: range.upper.map(Decimal::to_f64),
        })
        .collect()
}

impl Index {
    /// Of names in their order.
    pub(super) fn new<'a>(models: impl Iterator<Item = &'a Text>) -> Self {
        let mut index = Self::default();
        for model in models {
            let begins = spell(model.as_str(), &mut index.letters);
            index.names.push(Name {
                model: model.clone(),
                end: index.letters.len(),
                begins,
            });
        }
        index
    }

    fn iter(&self) -> impl Iterator<Item = Plain<'_>> {
        let mut from = 0;
        self.names.iter().map(move |name| {
            let letters = &self.letters[from..name.end];
            from = name.end;
            Plain {
                letters,
                begins: name.begins,
            }
        })
    }
}

/// Adds the letters and digits of a name, small; where its words begin.
fn spell(name: &str, into: &mut String) -> u64 {
    let start = into.len();
    let (mut begins, mut inside) = (0, false);
    for c in name.chars() {
        if !c.is_alphanumeric() {
            inside = false;
            continue;
        }
        let at = into.len() - start;
        if !inside && at < 64 {
            begins |= 1 << at;
        }
        inside = true;
        if c.is_ascii() {
            into.push(c.to_ascii_lowercase());
        } else {
            into.extend(c.to_lowercase());
        }
    }
    begins
}

impl Plain<'_> {
    /// How well every word fits, 0 the best; `None` when one is not there.
    fn rank(&self, whole: &str, words: &[memmem::Finder<'_>]) -> Option<u32> {
        let letters = self.letters.as_bytes();
        let mut worst = 0;
        for word in words {
            let mut at = word.find_iter(letters);
            let first = at.next()?;
            let begins = |at: usize| at < 64 && self.begins >> at & 1 == 1;
            let inside = !begins(first) && !at.any(begins);
            worst += 2 * u32::from(inside) + u32::from(first > 0);
        }
        Some(match self.letters.strip_prefix(whole) {
            Some("") => 0,
            Some(_) => 1,
            None => 2 + worst,
        })
    }
}

/// A mistyped name, ready to be compared with many: optimal string alignment
/// by bits, after H. Hyyrö, "A bit-vector algorithm for computing Levenshtein
/// and Damerau edit distances" (2003); from memory, held by a test against the
/// plain table.
struct Pattern {
    /// For each byte, the places where the pattern has it.
    places: [u64; 256],
    length: usize,
}

impl Pattern {
    /// `None`: nothing to compare, or more than 64 bytes.
    fn new(letters: &str) -> Option<Self> {
        let mut places = [0_u64; 256];
        for (at, byte) in letters.bytes().enumerate() {
            places[usize::from(byte)] |= 1_u64.checked_shl(u32::try_from(at).ok()?)?;
        }
        (!letters.is_empty()).then_some(Self {
            places,
            length: letters.len(),
        })
    }

    /// How many edits lie between the pattern and what a name begins with;
    /// `None` when more than a third of its length.
    fn away(&self, name: &str) -> Option<u32> {
        let last = 1_u64 << (self.length - 1);
        let (mut vp, mut vn) = (u64::MAX, 0_u64);
        let (mut d, mut before) = (0_u64, 0_u64);
        let mut away = u32::try_from(self.length).ok()?;
        let allowed = away.div_ceil(3);
        let mut least = away;
        for byte in name.bytes() {
            let places = self.places[usize::from(byte)];
            let swapped = ((!d & places) << 1) & before;
            d = ((places & vp).wrapping_add(vp) ^ vp) | places | vn | swapped;
            let hp = vn | !(d | vp);
            let hn = d & vp;
            away += u32::from(hp & last != 0);
            away -= u32::from(hn & last != 0);
            let hp = hp << 1 | 1;
            vp = hn << 1 | !(d | hp);
            vn = hp & d;
            before = places;
            least = least.min(away);
        }
        (least <= allowed).then_some(least)
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// The least distance from `a` to any beginning of `b`, by the plain table:
    /// insertions, deletions, replacements and swaps of neighbours.
    fn table(a: &[u8], b: &[u8]) -> usize {
        let mut d = vec![vec![0; b.len() + 1]; a.len() + 1];
        for i in 0..=a.len() {
            for j in 0..=b.len() {
                d[i][j] = match (i, j) {
                    (0, n) | (n, 0) => n,
                    _ => {
                        let cost = usize::from(a[i - 1] != b[j - 1]);
                        let mut least = d[i - 1][j - 1] + cost;
                        least = least.min(d[i - 1][j] + 1).min(d[i][j - 1] + 1);
                        let swapped =
                            i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1];
                        if swapped {
                            least = least.min(d[i - 2][j - 2] + 1);
                        }
                        least
                    }
                };
            }
        }
        d[a.len()].iter().copied().min().expect("at least one")
    }

    #[test]
    fn a_search_takes_words_in_any_order_and_gives_the_best_first() {
        let models = [
            "HB-CP 40",
            "HB-CP 4",
            "HB-WP 22",
            "HB-AB 7",
            "XHB CP40",
            "Δ-Pump 9",
        ];
        let lines: String = models
            .iter()
            .map(|m| format!("{m},two_wire,230,20,2.2,2.6,,,,,no,,\n"))
            .collect();
        let mut catalogue = Catalogue::default();
        let text = crate::catalogue::COLUMNS.join(",") + "\n" + &lines;
        catalogue.add_motors(std::path::Path::new("motors.csv"), text.as_bytes());
        let check = |words: &str, fits: bool, expected: &[&str]| {
            let found = catalogue.search(words, 3);
            let names: Vec<&str> = found.models.iter().map(|(m, _)| m.model.as_str()).collect();
            assert_eq!(
                (names.as_slice(), found.fits),
                (expected, fits),
                "{words:?}"
            );
        };
        // The name itself, then names that begin so, then words inside.
        check("hbcp4", true, &["HB-CP 4", "HB-CP 40", "XHB CP40"]);
        check("hbcp40", true, &["HB-CP 40", "XHB CP40"]);
        check("40 cp", true, &["HB-CP 40", "XHB CP40"]);
        check("hb cp-40", true, &["HB-CP 40", "XHB CP40"]);
        check("7", true, &["HB-AB 7"]);
        check("δ pump", true, &["Δ-Pump 9"]);
        // A word's beginning goes before its middle.
        check("cp", true, &["HB-CP 4", "HB-CP 40", "XHB CP40"]);
        check("p", true, &["Δ-Pump 9", "HB-CP 4", "HB-CP 40"]);
        // Nothing has it: the nearest, as far as it is typed.
        check("hb-cq 40", false, &["HB-CP 40", "HB-CP 4", "XHB CP40"]);
        // One swap from hbcp…; hb is two letters short of it, and its name the shortest.
        check("hbpc", false, &["HB-CP 4", "HB-CP 40", "HB-AB 7"]);
        check("zzzz", false, &[]);
        check(&"q".repeat(65), false, &[]);
        // Nothing typed yet: the first in order.
        check("", true, &["HB-AB 7", "HB-CP 4", "HB-CP 40"]);
        check(" - ", true, &["HB-AB 7", "HB-CP 4", "HB-CP 40"]);
    }

    proptest! {
        #[test]
        fn edits_by_bits_are_those_of_the_plain_table(a in "[abc]{1,64}", b in "[abc]{0,70}") {
            let expected = table(a.as_bytes(), b.as_bytes());
            let found = Pattern::new(&a).expect("fits").away(&b);
            let allowed = a.len().div_ceil(3);
            prop_assert_eq!(found.map(|n| n as usize), (expected <= allowed).then_some(expected));
        }
    }
}
