//! `ports`: the serial ports of this machine.

use serde_json::json;

use super::{Fail, Out};
use crate::source;

/// How the list is printed.
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    /// As JSON lines
    #[arg(long)]
    json: bool,
}

/// Lists the ports.
///
/// # Errors
/// Stdout cannot be written.
pub(crate) fn run(args: &Args) -> Result<(), Fail> {
    let mut out = Out::new();
    for port in source::list() {
        if args.json {
            out.line(json!({ "path": port.path, "usb": port.usb, "product": port.product }))?;
        } else {
            let usb = port
                .usb
                .map(|usb| format!("usb = \"{usb}\""))
                .unwrap_or_default();
            let product = port.product.unwrap_or_default();
            out.line(
                format_args!("{:<24} {usb:<32} {product}", port.path)
                    .to_string()
                    .trim_end(),
            )?;
        }
    }
    out.flush()
}
