//! Whose hands are on a bench: one page at a time acts, anyone may watch.
//!
//! A page that acts on a bench takes it, and keeps it for as long as its event
//! stream is there; taking it over from another page is a request of its own.
//! Acts that name no page are a person's at a terminal, or a program's: they
//! are explicit already and are not held up. Nothing of this reaches the engine.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use tokio::runtime::Handle;
use tokio::sync::watch;

/// A page that is away for so long has let go: longer than a reload takes.
const AWAY: Duration = Duration::from_secs(5);

/// What a page calls itself: 16 to 64 letters, digits or `-`, made by itself.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Page(String);

impl Page {
    /// The name, if it is one.
    pub(super) fn new(said: &str) -> Option<Self> {
        let fits = |b: u8| b.is_ascii_alphanumeric() || b == b'-';
        ((16..=64).contains(&said.len()) && said.bytes().all(fits)).then(|| Self(said.to_owned()))
    }
}

/// Which page each bench is held by.
pub(super) type Held = BTreeMap<String, Page>;

/// What a watching page is told of a bench.
pub(super) fn told(held: &Held, page: &Page) -> BTreeMap<String, &'static str> {
    let whose = |by: &Page| if by == page { "you" } else { "another" };
    held.iter()
        .map(|(bench, by)| (bench.clone(), whose(by)))
        .collect()
}

/// Who holds what, shared by all routes.
#[derive(Clone, Debug, Default)]
pub(super) struct Hands(Arc<Inner>);

#[derive(Debug, Default)]
struct Inner {
    /// Pages with a stream: how many, and how often each went away.
    pages: Mutex<BTreeMap<Page, Here>>,
    held: watch::Sender<Held>,
}

#[derive(Clone, Copy, Debug, Default)]
struct Here {
    streams: u32,
    left: u32,
}

/// A page's stream: while it lives, the page is here.
#[derive(Debug)]
pub(super) struct Present {
    hands: Hands,
    page: Page,
}

impl Hands {
    /// Changes of who holds what.
    pub(super) fn watch(&self) -> watch::Receiver<Held> {
        self.0.held.subscribe()
    }

    /// A page opens a stream.
    pub(super) fn come(&self, page: Page) -> Present {
        self.pages().entry(page.clone()).or_default().streams += 1;
        Present {
            hands: self.clone(),
            page,
        }
    }

    /// Whether this page may act on the bench now; if nobody holds it, it does from now on.
    pub(super) fn may_act(&self, bench: &str, page: &Page) -> bool {
        let mut may = true;
        self.0.held.send_if_modified(|held| match held.get(bench) {
            Some(by) => {
                may = by == page;
                false
            }
            None => held.insert(bench.to_owned(), page.clone()).is_none(),
        });
        self.unless_here(page);
        may
    }

    /// The page takes the bench, whoever has it.
    pub(super) fn take(&self, bench: &str, page: &Page) {
        self.0.held.send_if_modified(|held| {
            held.insert(bench.to_owned(), page.clone()).as_ref() != Some(page)
        });
        self.unless_here(page);
    }

    fn pages(&self) -> MutexGuard<'_, BTreeMap<Page, Here>> {
        // No code that can panic runs under this lock.
        self.0.pages.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// A page without a stream lets go of all it holds, unless it comes soon.
    fn unless_here(&self, page: &Page) {
        let left = match self.pages().get(page) {
            Some(here) if here.streams > 0 => return,
            here => here.map(|here| here.left),
        };
        // Without a runtime the program is ending, and so does this.
        let Ok(runtime) = Handle::try_current() else {
            return;
        };
        let (hands, page) = (self.clone(), page.clone());
        runtime.spawn(async move {
            tokio::time::sleep(AWAY).await;
            hands.gone(&page, left);
        });
    }

    /// It did not come back since it left for the `left`th time.
    fn gone(&self, page: &Page, left: Option<u32>) {
        let mut pages = self.pages();
        let here = pages.get(page).copied();
        if here.map(|here| here.left) != left || here.is_some_and(|here| here.streams > 0) {
            return;
        }
        pages.remove(page);
        drop(pages);
        self.0.held.send_if_modified(|held| {
            let before = held.len();
            held.retain(|_, by| by != page);
            held.len() != before
        });
    }
}

impl Drop for Present {
    fn drop(&mut self) {
        if let Some(here) = self.hands.pages().get_mut(&self.page) {
            here.streams = here.streams.saturating_sub(1);
            here.left = here.left.wrapping_add(1);
        }
        self.hands.unless_here(&self.page);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn page(name: &str) -> Page {
        Page::new(&format!("{name}-{}", "0".repeat(16))).expect("a name")
    }

    /// Plays `who did what` lines, `later` lets time pass; says how each went
    /// and who holds the pond at the end.
    #[track_caller]
    fn check(story: &str, expected: &str) {
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_time()
            .start_paused(true)
            .build()
            .expect("a runtime");
        let said = runtime.block_on(async {
            let hands = Hands::default();
            let mut streams: BTreeMap<&str, Vec<Present>> = BTreeMap::new();
            let mut said = Vec::new();
            for line in story.split(", ") {
                let (who, what) = line.split_once(' ').unwrap_or((line, ""));
                match what {
                    "comes" => streams.entry(who).or_default().push(hands.come(page(who))),
                    "leaves" => drop(streams.entry(who).or_default().pop()),
                    "acts" => said.push(match hands.may_act("pond", &page(who)) {
                        true => format!("{who} acts"),
                        false => format!("{who} watches"),
                    }),
                    "takes" => hands.take("pond", &page(who)),
                    seconds => {
                        let seconds: u64 = seconds.parse().expect("seconds");
                        tokio::time::sleep(Duration::from_secs(seconds)).await;
                    }
                }
            }
            let held = hands.watch().borrow().clone();
            for who in ["ida", "per"] {
                if let Some(whose) = told(&held, &page(who)).get("pond") {
                    said.push(format!("{who} hears {whose}"));
                }
            }
            said
        });
        assert_eq!(said.join(", "), expected, "{story}");
    }

    #[test]
    fn the_first_to_act_holds_the_bench_and_others_watch() {
        check(
            "ida comes, per comes, ida acts, per acts, ida acts",
            "ida acts, per watches, ida acts, ida hears you, per hears another",
        );
    }

    #[test]
    fn taking_over_is_explicit() {
        check(
            "ida comes, per comes, ida acts, per takes, ida acts, per acts",
            "ida acts, ida watches, per acts, ida hears another, per hears you",
        );
    }

    #[test]
    fn a_reload_keeps_the_bench_and_a_closed_page_lets_go() {
        check(
            "ida comes, per comes, ida acts, ida leaves, wait 3, ida comes, wait 9, per acts",
            "ida acts, per watches, ida hears you, per hears another",
        );
        check(
            "ida comes, per comes, ida acts, ida leaves, wait 3, per acts, wait 3, per acts",
            "ida acts, per watches, per acts, ida hears another, per hears you",
        );
    }

    #[test]
    fn two_streams_of_a_page_are_one_page_and_one_without_any_lets_go() {
        check(
            "ida comes, ida comes, ida acts, ida leaves, wait 9, per acts",
            "ida acts, per watches, ida hears you, per hears another",
        );
        check("ida acts, wait 6", "ida acts");
        check(
            "ida acts, wait 3, ida acts, wait 3, per acts",
            "ida acts, ida acts, per acts, ida hears another, per hears you",
        );
    }

    #[test]
    fn a_page_has_a_name_of_its_own() {
        for wrong in [
            "",
            "short",
            "0123456789abcde",
            "0123456789abcdef\n",
            "0123456789abcdé!",
        ] {
            assert_eq!(Page::new(wrong), None, "{wrong}");
        }
        assert!(Page::new(&"a".repeat(65)).is_none() && Page::new(&"a".repeat(64)).is_some());
    }
}
