//! Writes the worked jobs: captures of whole jobs at a fish hatchery.
//!
//! `cargo run --release --example worked_jobs [-- FOLDER]`
//!
//! Simulated motors, meters and a person go through the real engine on a
//! clock of its own, so the files are the same each time. A scene is a few
//! lines: which motor, what is wrong with it, which meters, what the person
//! does wrong. Motors, meters and faults are invented.

#![expect(clippy::print_stdout, reason = "it says what it wrote")]

mod scenes;
mod workshop;

use std::path::Path;

fn main() {
    let folder = std::env::args().nth(1);
    let folder = folder.as_deref().unwrap_or("captures/jobs");
    let folder = Path::new(folder);
    std::fs::create_dir_all(folder).expect("a folder");
    for scene in scenes::all() {
        let name = format!("{}.pcapng", scene.name);
        let (bytes, seconds) = workshop::run(&scene, &name);
        let size = bytes.len();
        std::fs::write(folder.join(&name), bytes).expect("written");
        println!(
            "{name:<32} {seconds:>4.0} s {size:>7} bytes  {}",
            scene.story
        );
    }
}
