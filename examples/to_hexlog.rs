//! Writes one port of a capture as a hexlog: `to_hexlog CAPTURE [PORT] > FILE`.

use std::path::PathBuf;

use anyhow::Context as _;
use stillohm::capture::{self, Pace, hexlog};
use stillohm::meter::PortId;

fn main() -> anyhow::Result<()> {
    let mut args = std::env::args_os().skip(1);
    let path = PathBuf::from(args.next().context("usage: to_hexlog CAPTURE [PORT]")?);
    let port = match args.next() {
        Some(port) => port
            .to_string_lossy()
            .parse()
            .context("PORT is a whole number")?,
        None => 0,
    };
    let inputs = capture::read(&path, Pace::AtOnce)?.collect::<Result<Vec<_>, _>>()?;
    hexlog::write(inputs, PortId(port), &mut std::io::stdout().lock())?;
    Ok(())
}
