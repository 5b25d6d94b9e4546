//! Writing a capture: pcapng blocks, little endian, one write a batch.
//!
//! Interface 0 (LINKTYPE_USER1) carries inputs that are not bytes, as JSON;
//! each port has one of LINKTYPE_USER0, named by its address and described as
//! `port N`, which is how a reader finds its [`PortId`] again. When the
//! settings change, the ports get new interfaces. A packet's time is the wall
//! time at stamp 0 plus its stamp, in nanoseconds, whatever the clock did
//! later: packets of one run stay in order and stamps read back exactly.

use std::io;
use std::path::Path;

use sha2::{Digest, Sha256};

use super::json;
use crate::disk::Disk;
use crate::input::{Finished, Input, Settings, What};
use crate::meter::PortId;
use crate::stamp::{Stamp, Wall};
use crate::text::Text;

pub(super) const SECTION: u32 = 0x0A0D_0D0A;
pub(super) const BYTE_ORDER: u32 = 0x1A2B_3C4D;
pub(super) const INTERFACE: u32 = 1;
pub(super) const PACKET: u32 = 6;
pub(super) const LINK_BYTES: u16 = 147;
pub(super) const LINK_JSON: u16 = 148;
pub(super) const OPTION_IF_NAME: u16 = 2;
pub(super) const OPTION_IF_DESCRIPTION: u16 = 3;
pub(super) const OPTION_IF_TSRESOL: u16 = 9;
pub(super) const OPTION_EPB_FLAGS: u16 = 2;
pub(super) const INBOUND: u32 = 1;
pub(super) const OUTBOUND: u32 = 2;

/// Blocks of inputs, gathered until they are written out.
#[derive(Debug)]
pub struct Encoder {
    out: Vec<u8>,
    wall: Wall,
    /// The interface of each port; none yet for a port not met.
    interfaces: Vec<Option<u32>>,
    next_interface: u32,
    scratch: Vec<u8>,
}

impl Encoder {
    /// A new section for a run whose stamp 0 was at `wall`.
    pub fn new(wall: Wall) -> Self {
        let mut encoder = Self {
            out: Vec::new(),
            wall,
            interfaces: Vec::new(),
            next_interface: 0,
            scratch: Vec::new(),
        };
        let mut body = Vec::new();
        body.extend(BYTE_ORDER.to_le_bytes());
        body.extend(1_u16.to_le_bytes());
        body.extend(0_u16.to_le_bytes());
        // The section's length is not known yet.
        body.extend((-1_i64).to_le_bytes());
        option(
            &mut body,
            4,
            concat!("stillohm ", env!("CARGO_PKG_VERSION")).as_bytes(),
        );
        body.extend(0_u32.to_le_bytes());
        block(&mut encoder.out, SECTION, &body);
        encoder.interface(LINK_JSON, "inputs", "inputs that are not bytes, as JSON");
        encoder
    }

    /// Adds an input.
    pub fn push(&mut self, input: &Input) {
        match &input.what {
            What::Bytes { port, data } => self.bytes(input.at, *port, INBOUND, data),
            What::Sent { port, data } => self.bytes(input.at, *port, OUTBOUND, data),
            other => {
                match other {
                    What::Begin(begin) => self.ports(&begin.settings),
                    What::Settings(settings) => self.ports(settings),
                    _ => {}
                }
                let mut scratch = core::mem::take(&mut self.scratch);
                scratch.clear();
                // Bytes are met above, so there is always something to write.
                if json::write(other, &mut scratch).is_some() {
                    self.packet(input.at, 0, None, &scratch);
                }
                self.scratch = scratch;
            }
        }
    }

    /// What was gathered; it starts anew.
    pub fn take(&mut self) -> Vec<u8> {
        core::mem::take(&mut self.out)
    }

    fn ports(&mut self, settings: &Settings) {
        self.interfaces.clear();
        for (at, port) in settings.ports.iter().enumerate() {
            let interface =
                self.interface(LINK_BYTES, &port.address.to_string(), &format!("port {at}"));
            self.interfaces.push(Some(interface));
        }
    }

    fn interface(&mut self, link: u16, name: &str, description: &str) -> u32 {
        let mut body = Vec::new();
        body.extend(link.to_le_bytes());
        body.extend(0_u16.to_le_bytes());
        // No limit on a packet's length.
        body.extend(0_u32.to_le_bytes());
        option(&mut body, OPTION_IF_NAME, name.as_bytes());
        option(&mut body, OPTION_IF_DESCRIPTION, description.as_bytes());
        option(&mut body, OPTION_IF_TSRESOL, &[9]);
        body.extend(0_u32.to_le_bytes());
        block(&mut self.out, INTERFACE, &body);
        self.next_interface += 1;
        self.next_interface - 1
    }

    fn bytes(&mut self, at: Stamp, port: PortId, direction: u32, data: &[u8]) {
        let place = usize::from(port.0);
        if self.interfaces.len() <= place {
            self.interfaces.resize(place + 1, None);
        }
        let interface = match self.interfaces[place] {
            Some(interface) => interface,
            None => {
                let name = format!("port {place}");
                let interface = self.interface(LINK_BYTES, &name, &name);
                self.interfaces[place] = Some(interface);
                interface
            }
        };
        self.packet(at, interface, Some(direction), data);
    }

    fn packet(&mut self, at: Stamp, interface: u32, direction: Option<u32>, data: &[u8]) {
        let time = self.wall.0.cast_unsigned().wrapping_add(at.nanos());
        let padded = data.len().next_multiple_of(4);
        let total = 32 + padded + if direction.is_some() { 12 } else { 0 };
        let out = &mut self.out;
        out.reserve(total);
        for word in [
            PACKET,
            total as u32,
            interface,
            (time >> 32) as u32,
            time as u32,
            data.len() as u32,
            data.len() as u32,
        ] {
            out.extend(word.to_le_bytes());
        }
        out.extend_from_slice(data);
        out.resize(out.len() + padded - data.len(), 0);
        if let Some(direction) = direction {
            option(out, OPTION_EPB_FLAGS, &direction.to_le_bytes());
            out.extend(0_u32.to_le_bytes());
        }
        out.extend((total as u32).to_le_bytes());
    }
}

fn block(out: &mut Vec<u8>, kind: u32, body: &[u8]) {
    let total = (body.len() + 12) as u32;
    out.extend(kind.to_le_bytes());
    out.extend(total.to_le_bytes());
    out.extend_from_slice(body);
    out.extend(total.to_le_bytes());
}

fn option(out: &mut Vec<u8>, code: u16, value: &[u8]) {
    out.extend(code.to_le_bytes());
    out.extend((value.len() as u16).to_le_bytes());
    out.extend_from_slice(value);
    out.resize(out.len() + value.len().next_multiple_of(4) - value.len(), 0);
}

/// A capture file being written.
#[derive(Debug)]
pub struct Writer<D: Disk> {
    disk: D,
    file: D::File,
    name: String,
    encoder: Encoder,
    /// Of all bytes written so far.
    digest: Sha256,
    written: u64,
}

impl<D: Disk> Writer<D> {
    /// Begins the file `name` in `DATA/captures`. Its first input must be the
    /// `Begin` that carries this name and `wall`.
    ///
    /// # Errors
    /// The disk refuses, or the file exists.
    pub fn create(disk: D, dir: &Path, name: &str, wall: Wall) -> io::Result<Self> {
        disk.create_dirs(dir)?;
        let file = disk.create(&dir.join(name))?;
        disk.sync_dir(dir)?;
        Ok(Self {
            disk,
            file,
            name: name.to_owned(),
            encoder: Encoder::new(wall),
            digest: Sha256::new(),
            written: 0,
        })
    }

    /// Writes inputs in one go. They are kept only after [`Writer::sync`].
    ///
    /// # Errors
    /// The disk refuses; then this file must not be written any more.
    pub fn append(&mut self, inputs: &[Input]) -> io::Result<()> {
        for input in inputs {
            self.encoder.push(input);
        }
        let bytes = self.encoder.take();
        self.disk.append(&mut self.file, &bytes)?;
        self.digest.update(&bytes);
        self.written += bytes.len() as u64;
        Ok(())
    }

    /// Waits until what was written is kept.
    ///
    /// # Errors
    /// The disk refuses; then this file must not be written any more.
    pub fn sync(&self) -> io::Result<()> {
        self.disk.sync(&self.file)
    }

    /// Ends the file: syncs it and says its digest, for the next `Begin`.
    ///
    /// # Errors
    /// The disk refuses.
    pub fn finish(self) -> io::Result<Finished> {
        self.sync()?;
        Ok(Finished {
            capture: Text::clean(&self.name),
            sha256: Text::clean(&hex(&self.digest.finalize())),
        })
    }

    /// The file's name.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Bytes written so far: what a limit on size is held against.
    pub fn bytes_written(&self) -> u64 {
        self.written
    }
}

pub(super) fn hex(bytes: &[u8]) -> String {
    use core::fmt::Write as _;
    let mut text = String::with_capacity(bytes.len() * 2);
    for byte in bytes {
        // Writing to a String cannot fail.
        _ = write!(text, "{byte:02x}");
    }
    text
}
