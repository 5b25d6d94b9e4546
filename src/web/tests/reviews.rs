//! A log without rows, for tests that are of something else.

use std::io;

use crate::log::scan::Beside;
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
