//! How many bytes of text lines a second one core decodes: `cargo run --release --example decode_speed`.

use std::sync::Arc;

use stillohm::description::{Heard, Plan, Stream, shipped};
use stillohm::meter::MeterId;
use stillohm::stamp::Stamp;

#[expect(
    clippy::disallowed_methods,
    clippy::print_stdout,
    reason = "a measurement reads the clock and prints"
)]
fn main() {
    let lines: String = (0..4096)
        .map(|n| format!("+{}.{:04}E+01 OHM\r\n", 1 + n % 9, n))
        .collect();
    for chunk in [64, 1000, 65_536] {
        let Some((name, text)) = shipped().iter().find(|(name, _)| *name == "text-line") else {
            return;
        };
        let Ok(plan) = Plan::parse(name, text) else {
            return;
        };
        let mut stream = Stream::new(Arc::new(plan), &[(MeterId(0), None)]);
        let (mut readings, mut bytes) = (0_u64, 0_u64);
        let start = std::time::Instant::now();
        while bytes < 400_000_000 {
            for part in lines.as_bytes().chunks(chunk) {
                stream.bytes(Stamp::ZERO, part, &mut |heard| {
                    if let Heard::Frame(frame) = heard {
                        readings += frame.len() as u64;
                    }
                });
            }
            bytes += lines.len() as u64;
        }
        let seconds = start.elapsed().as_secs_f64();
        println!(
            "chunks of {chunk}: {:.0} MB/s, {readings} readings, {:.1} ns each",
            bytes as f64 / seconds / 1e6,
            seconds * 1e9 / readings as f64
        );
    }
}
