//! Tables: a head on each page, rows that no page parts.

use super::canvas::{Ink, Pen};
use super::flow::Flow;
use super::{MM, wrap};
use crate::report::paper::{Line, Table};

const HEAD: Ink = Ink::bold(8.5);
const CELL: Ink = Ink::regular(9.5);
const LOUD: Ink = Ink::bold(9.5);
const UNDER: Ink = Ink::regular(8.0).gray(0.2);
const UNDER_LOUD: Ink = Ink::bold(8.0);
/// Between a cell's words and its sides.
const INSIDE: f64 = 1.0 * MM;
/// What stands under a row begins here.
const INDENT: f64 = 6.0 * MM;

/// Draws it below what is there.
pub(super) fn draw(flow: &mut Flow<'_>, table: &Table) {
    let sides = sides(flow, table);
    let first = table
        .rows
        .first()
        .map_or(0.0, |row| height(flow, &sides, row));
    flow.room(first + 10.0 * MM);
    head(flow, table, &sides);
    for row in &table.rows {
        let high = height(flow, &sides, row);
        if flow.room(high) {
            head(flow, table, &sides);
        }
        line(flow, table, &sides, row);
    }
    flow.y += 2.0 * MM;
}

/// Where each column begins and ends.
fn sides(flow: &Flow<'_>, table: &Table) -> Vec<(f64, f64)> {
    let all: f64 = table.columns.iter().map(|c| c.share).sum();
    let mut x = flow.left;
    let columns = table.columns.iter().map(|column| {
        let left = x;
        x += flow.width() * column.share / all;
        (left, x)
    });
    columns.collect()
}

fn head(flow: &mut Flow<'_>, table: &Table, sides: &[(f64, f64)]) {
    let titles: Vec<Vec<String>> = table
        .columns
        .iter()
        .zip(sides)
        .map(|(c, side)| cell(flow, &c.title, HEAD, *side))
        .collect();
    let most = titles.iter().map(Vec::len).max().unwrap_or(1);
    let leading = HEAD.size * 1.25;
    for ((column, side), lines) in table.columns.iter().zip(sides).zip(&titles) {
        // Titles stand on the line below them.
        let top = flow.y + (most - lines.len()) as f64 * leading;
        let stands = Stands {
            ink: HEAD,
            side: *side,
            number: column.number,
            struck: false,
            top,
            leading,
        };
        put(flow, lines, stands);
    }
    flow.y += most as f64 * leading + 1.2 * MM;
    let (left, right, y) = (flow.left, flow.right, flow.y);
    flow.canvas
        .line(Pen::solid(0.8, 0.0), (left, y), (right, y));
    flow.y += 0.6 * MM;
}

fn cell(flow: &Flow<'_>, text: &str, ink: Ink, (left, right): (f64, f64)) -> Vec<String> {
    wrap::lines(flow.canvas, text, ink, right - left - 2.0 * INSIDE)
}

/// How the words of a cell stand in it.
#[derive(Clone, Copy)]
struct Stands {
    ink: Ink,
    side: (f64, f64),
    number: bool,
    struck: bool,
    top: f64,
    leading: f64,
}

fn put(flow: &mut Flow<'_>, lines: &[String], stands: Stands) {
    let (left, right) = stands.side;
    for (at, words) in lines.iter().enumerate().filter(|(_, w)| !w.is_empty()) {
        let wide = flow.canvas.text_width(words, stands.ink);
        let x = if stands.number {
            right - 3.0 * INSIDE - wide
        } else {
            left + INSIDE
        };
        let size = stands.ink.size;
        let y = stands.top + (at + 1) as f64 * stands.leading - size * 0.3;
        flow.canvas.text(x, y, stands.ink, words);
        if stands.struck {
            // What does not count any more.
            let y = y - size * 0.28;
            flow.canvas
                .line(Pen::solid(0.8, 0.0), (x, y), (x + wide, y));
        }
    }
}

fn height(flow: &Flow<'_>, sides: &[(f64, f64)], row: &Line) -> f64 {
    let cells = row.cells.iter().zip(sides);
    let lines = cells.map(|(text, side)| cell(flow, text, LOUD, *side).len());
    let high = lines.max().unwrap_or(1) as f64 * CELL.size * 1.3;
    let width = flow.width() - INDENT - INSIDE;
    let under: usize = row
        .under
        .iter()
        .map(|words| wrap::lines(flow.canvas, words, UNDER_LOUD, width).len())
        .sum();
    high + under as f64 * UNDER.size * 1.3 + 2.8 * MM
}

fn line(flow: &mut Flow<'_>, table: &Table, sides: &[(f64, f64)], row: &Line) {
    flow.y += 1.2 * MM;
    let leading = CELL.size * 1.3;
    let top = flow.y;
    let mut most = 1;
    let last = row.cells.len().saturating_sub(1);
    for (at, (text, side)) in row.cells.iter().zip(sides).enumerate() {
        let ink = if row.loud && at == last { LOUD } else { CELL };
        let number = table.columns.get(at).is_some_and(|c| c.number);
        let lines = cell(flow, text, ink, *side);
        most = most.max(lines.len());
        let stands = Stands {
            ink,
            side: *side,
            number,
            struck: row.struck,
            top,
            leading,
        };
        put(flow, &lines, stands);
    }
    flow.y += most as f64 * leading;
    let (left, right) = (flow.left + INDENT, flow.right - INSIDE);
    for (at, words) in row.under.iter().enumerate() {
        let ink = if row.struck && at == 0 {
            UNDER_LOUD
        } else {
            UNDER
        };
        flow.words(words, ink, left, right);
    }
    flow.y += 0.8 * MM;
    let (left, right, y) = (flow.left, flow.right, flow.y);
    flow.canvas
        .line(Pen::solid(0.4, 0.6), (left, y), (right, y));
}
