//! `points.csv`: limits of points that the columns of `motors.csv` do not name.

use std::path::Path;

use super::cell::{Cells, Problems, Table};
use super::{Catalogue, line};
use crate::limits::Range;
use crate::text::{Text, instead};

const COLUMNS: [&str; 4] = ["model", "point", "min_ohms", "max_ohms"];
/// Points that `motors.csv` or the program itself names.
const TAKEN: [&str; 7] = [
    "main", "start", "total", "line_12", "line_23", "line_31", "set",
];

impl Catalogue {
    /// Reads the text of a `points.csv`; `path` names it in problems.
    pub fn add_points(&mut self, path: &Path, bytes: &[u8]) {
        let mut problems = Problems::new(path);
        if let Some(mut table) = Table::open(bytes, &COLUMNS, &[], &mut problems) {
            while let Some(cells) = table.next(&mut problems) {
                let before = problems.all.len() - usize::from(!cells.whole);
                let read = self.point(&cells, &mut problems);
                let Some(model) = cells.text("model", &mut Problems::new(path)) else {
                    continue;
                };
                if let Some(new) = problems.all.get(before) {
                    let why = new.in_log();
                    self.spoil(&model, &why);
                } else if let (Some((point, range)), Some(model)) =
                    (read, self.models.get_mut(&model))
                    && model.bad.is_none()
                {
                    model.motor.points.push((point, range));
                }
            }
        }
        self.problems.append(&mut problems.all);
    }

    fn point(&self, cells: &Cells<'_>, problems: &mut Problems) -> Option<(Text, Range)> {
        let model = cells.text("model", problems);
        let known = model.as_ref().and_then(|m| self.models.get(m));
        match (&model, known) {
            (None, _) => problems.add(
                cells.line,
                "model",
                "expected a model of motors.csv, found nothing",
            ),
            (Some(model), None) => {
                let instead = instead(model.as_str(), self.models.keys().map(Text::as_str));
                problems.add(
                    cells.line,
                    "model",
                    format!("{:?} is not in motors.csv; {instead}", model.as_str()),
                );
            }
            _ => {}
        }
        let columns = ["min_ohms", "max_ohms"];
        let point = cells.text("point", problems);
        // A sensor may be held to one side: a leak probe reads at least so much.
        let one_side = point
            .as_ref()
            .is_some_and(|p| line::SENSORS.contains(&p.as_str()));
        let range = if one_side {
            line::range(cells, columns, problems)
        } else {
            line::winding(cells, columns, problems)
        };
        let Some(point) = point else {
            let message = "expected a point such as tap_2, found nothing usable";
            problems.add(cells.line, "point", message);
            return None;
        };
        let fits = |b: u8| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'_';
        if !point.as_str().bytes().all(fits) {
            problems.add(
                cells.line,
                "point",
                format!(
                    "expected small letters, digits and _ such as tap_2, found {:?}",
                    point.as_str()
                ),
            );
        } else if TAKEN.contains(&point.as_str()) {
            problems.add(
                cells.line,
                "point",
                format!("{point} has its own place: write its limits in motors.csv, or choose another name"),
            );
        } else if known.is_some_and(|m| m.motor.points.iter().any(|(p, _)| *p == point)) {
            problems.add(
                cells.line,
                "point",
                format!("{point} is there twice for this model; delete one"),
            );
        }
        Some((point, range))
    }
}
