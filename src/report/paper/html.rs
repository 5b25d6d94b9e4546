//! A print as one HTML file: no script, no network, black on white.

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::qr::{QUIET, Qr};
use super::{Block, Line, Logo, Paper, Shop, Size, Table, Tag};

/// What a browser is told to refuse: everything but what stands in the file.
const POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'; img-src data:";

/// The whole file.
pub fn html(paper: &Paper) -> String {
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta http-equiv="Content-Security-Policy" content=(POLICY);
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (paper.title) }
                style { (PreEscaped(page_rule(paper))) (PreEscaped(include_str!("paper.css"))) }
            }
            body class=(size_class(paper.size)) {
                @if paper.size != Size::Label { (shop(&paper.shop)) }
                main { @for block in &paper.blocks { (drawn(block)) } }
            }
        }
    };
    page.into_string()
}

const fn size_class(size: Size) -> &'static str {
    match size {
        Size::A4 | Size::Letter => "sheet",
        Size::Label => "label",
    }
}

/// The sheet, and what stands at the foot of each page.
fn page_rule(paper: &Paper) -> String {
    let (width, height) = paper.size.mm();
    if paper.size == Size::Label {
        return format!("@page {{ size: {width}mm {height}mm; margin: 0; }}\n");
    }
    let foot = css_string(&paper.foot);
    format!(
        "@page {{ size: {width}mm {height}mm; margin: 15mm 15mm 18mm; @bottom-left {{ content: {foot}; font: 8pt sans-serif; }} @bottom-right {{ content: \"page \" counter(page) \" of \" counter(pages); font: 8pt sans-serif; }} }}\n"
    )
}

/// A string of a style sheet: all but plain letters and digits by their number,
/// so that nothing in it ends the string, the sheet or its element.
fn css_string(words: &str) -> String {
    let mut text = String::from("\"");
    for c in words.chars() {
        if c.is_ascii_alphanumeric() || c == ' ' {
            text.push(c);
        } else {
            // The space ends the number and is no part of the string.
            text.push_str(&format!("\\{:x} ", u32::from(c)));
        }
    }
    text.push('"');
    text
}

fn shop(shop: &Shop) -> Markup {
    let there = !shop.name.is_empty() || !shop.address.is_empty() || shop.logo.is_some();
    html! {
        @if there {
            header {
                @if let Some(logo) = &shop.logo { img src=(address(logo)) alt=""; }
                div {
                    @if !shop.name.is_empty() { p class="shop" { (shop.name) } }
                    @for line in &shop.address { p { (line) } }
                }
            }
        }
    }
}

/// A picture inside the file. As an image an SVG runs nothing and asks for nothing.
fn address(logo: &Logo) -> String {
    match logo {
        Logo::Png(bytes) => format!("data:image/png;base64,{}", STANDARD.encode(bytes)),
        Logo::Svg(bytes) => format!("data:image/svg+xml;base64,{}", STANDARD.encode(bytes)),
    }
}

fn drawn(block: &Block) -> Markup {
    html! {
        @match block {
            Block::Title { words, under } => { h1 { (words) } @if !under.is_empty() { p class="under-title" { (under) } } },
            Block::Head(words) => h2 { (words) },
            Block::Sub(words) => h3 { (words) },
            Block::Banner(words) => p class="banner" { (words) },
            Block::Text(words) => p { (words) },
            Block::Large(words) => p class="large" { (words) },
            Block::Facts(facts) => dl { @for (name, value) in facts { div { dt { (name) } dd { (value) } } } },
            Block::List { title, items } => {
                @if !title.is_empty() { h4 { (title) } }
                ul { @for item in items { li { (item) } } }
            },
            Block::Table(rows) => (table(rows)),
            Block::Traces(pictures) => div class="traces" {
                @for picture in pictures {
                    figure { figcaption { (picture.caption) } (picture.drawing.svg(picture.row)) }
                }
            },
            Block::Seal(seal) => div class="seal" {
                (code(&seal.qr))
                div { p class="chain" { (seal.text) } p { (seal.words) } }
            },
            Block::Sign(signers) => table class="sign" {
                thead { tr { th { "" } th { "name" } th { "date" } th { "signature" } } }
                tbody { @for signer in signers {
                    tr { th scope="row" { (signer.role) } td { (signer.name) } td {} td {} }
                } }
            },
            Block::Tag(label) => (tag(label)),
            Block::Break => div class="break" {},
        }
    }
}

fn table(table: &Table) -> Markup {
    let all: f64 = table.columns.iter().map(|c| c.share).sum();
    html! {
        table {
            colgroup { @for column in &table.columns {
                col style={ "width: " (format!("{:.1}", column.share / all * 100.0)) "%" };
            } }
            thead { tr { @for column in &table.columns {
                th scope="col" class=[column.number.then_some("number")] { (column.title) }
            } } }
            @for line in &table.rows { (row(table, line)) }
        }
    }
}

/// A row and what stands below it: one body, so that no page parts them.
fn row(table: &Table, line: &Line) -> Markup {
    let last = line.cells.len().saturating_sub(1);
    html! {
        tbody class=[line.struck.then_some("struck")] {
            tr {
                @for (at, (cell, column)) in line.cells.iter().zip(&table.columns).enumerate() {
                    td class=[column.number.then_some("number")] {
                        @if line.struck { s { (cell) } }
                        @else if line.loud && at == last { strong { (cell) } }
                        @else { (cell) }
                    }
                }
            }
            @if !line.under.is_empty() {
                tr class="under" { td colspan=(table.columns.len()) {
                    @for words in &line.under { p { (words) } }
                } }
            }
        }
    }
}

fn tag(tag: &Tag) -> Markup {
    html! {
        section class="tag" {
            div class="what" {
                p class="asset" { (tag.asset) }
                p { (tag.under) }
                p class={ "outcome" @if tag.outcome.len() > 16 { " long" } } { (tag.outcome) }
                @if !tag.why.is_empty() { p class="why" { (tag.why) } }
                @if let Some(words) = &tag.short { p class="short" { (words) } }
                ul { @for value in &tag.values { li { (value) } } }
            }
            @if let Some(seal) = &tag.seal { (code(&seal.qr)) }
            footer {
                @if let Some(seal) = &tag.seal { p class="chain" { (seal.text) } }
                p { (tag.standing) }
            }
        }
    }
}

/// A code as squares, each run of dark ones a rectangle.
fn code(qr: &Qr) -> Markup {
    let side = qr.side() + 2 * QUIET;
    let mut d = String::new();
    for (x, y, run) in qr.runs() {
        d += &format!("M{} {}h{run}v1h-{run}z", x + QUIET, y + QUIET);
    }
    html! {
        svg class="qr" viewBox={ "0 0 " (side) " " (side) } role="img" aria-label="The same as a QR code" shape-rendering="crispEdges" xmlns="http://www.w3.org/2000/svg" {
            rect width=(side) height=(side) fill="#fff" {}
            path d=(d) fill="#000" {}
        }
    }
}
