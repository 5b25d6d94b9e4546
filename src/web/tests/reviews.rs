//! A log without rows, for tests that are of something else; and who may sign off.

use std::io;

use super::Served;
use crate::log::scan::Beside;
use crate::row::{Event, Row};
use crate::stamp::Wall;
use crate::web::reviews::{By, Counted, Course, Found, Lie, Reviews, Rows, Which, Years};

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

    fn counts(&self, _: &Which, _: &[By], _: &Beside) -> io::Result<Found<Vec<Counted>>> {
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
