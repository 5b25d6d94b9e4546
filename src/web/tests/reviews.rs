//! Questions take turns, and end with whoever asked.

use std::io;
use std::sync::atomic::Ordering;
use std::time::Duration;

use super::Served;
use crate::log::scan::Beside;
use crate::row::{Event, Row};
use crate::stamp::Wall;
use crate::web::reviews::{By, Counted, Course, Found, Lie, Reviews, Rows, Which, Years};

/// A log without rows. A question of the asset `slow` ends when it is stopped, or after half a minute.
#[derive(Debug)]
pub(super) struct NoReviews;

fn none<T: Default>() -> io::Result<Found<T>> {
    Ok(Found {
        of: T::default(),
        odd: None,
    })
}

impl Reviews for NoReviews {
    fn date(&self, _: &str) -> Result<(), String> {
        Ok(())
    }

    fn counts(&self, which: &Which, _: &[By], beside: &Beside) -> io::Result<Found<Vec<Counted>>> {
        for _ in 0..1500 {
            if which.asset != "slow" || beside.stop.load(Ordering::Relaxed) {
                break;
            }
            std::thread::sleep(Duration::from_millis(20));
        }
        none()
    }

    fn lie(&self, _: &Which, _: &Beside) -> io::Result<Found<Option<Lie>>> {
        none()
    }

    fn chart(&self, _: &Which, _: &Beside) -> io::Result<Found<Option<Course>>> {
        none()
    }

    fn meters(&self, _: &Which, _: &Beside) -> io::Result<Found<Vec<Course>>> {
        none()
    }

    fn years(&self, _: &Which, _: &Beside) -> io::Result<Found<Vec<Years>>> {
        none()
    }

    fn rows(&self, _: &Which, _: Option<u64>, _: usize, _: &Beside) -> io::Result<Found<Rows>> {
        none()
    }
}

#[test]
fn who_comes_second_is_told_so_and_who_goes_away_ends_their_question() {
    let served = Served::new();
    let ask =
        |path: &str| format!("GET {path} HTTP/1.1\nHost: localhost:PORT\nConnection: close\n\n");
    let slow = served.send(&ask("/review?asset=slow"));
    // The other pages go on.
    let (status, _) = served.ask(&ask("/jobs"));
    assert_eq!(status, 200);
    let (status, page) = served.ask(&ask("/review?asset=pump&since=2026"));
    assert_eq!(status, 503, "{page}");
    assert!(
        page.contains("Another question is being answered"),
        "{page}"
    );
    assert!(
        page.contains("href=\"/review?asset=pump&amp;since=2026\">Ask again"),
        "{page}"
    );
    drop(slow);
    // It would go on for half a minute.
    let (status, page) = served.ask(&ask("/review"));
    assert_eq!(status, 200, "{page}");
    assert!(page.contains("No row fits"), "{page}");
}

#[test]
fn where_one_may_only_look_no_job_is_signed_off() {
    let dir = tempfile::tempdir().expect("a folder");
    let job = |event| {
        let mut row = Row::new(event, Wall(0));
        row.job = String::from("J1");
        row
    };
    let rows = vec![job(Event::JobStart), job(Event::JobEnd)];
    drop(crate::log::jobs::written(dir.path(), rows));
    let page = |served: &Served, headers: &str| {
        let request = format!("GET /jobs/J1 HTTP/1.1\n{headers}Connection: close\n\n");
        let (status, page) = served.ask(&request);
        assert_eq!(status, 200, "{page}");
        page
    };
    let own = Served::over(dir.path().to_owned(), None, false);
    assert!(page(&own, "Host: localhost:PORT\n").contains("class=\"sign\""));
    for acts in [false, true] {
        let far = Served::over(dir.path().to_owned(), Some("pond"), acts);
        let shown = "Host: 127.0.0.1:PORT\nAuthorization: Bearer pond\n";
        assert_eq!(page(&far, shown).contains("class=\"sign\""), acts);
    }
}
