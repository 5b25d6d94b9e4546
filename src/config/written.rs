//! `stillohm.toml` as it is written: each key with its meaning.
//!
//! Nothing is checked here beyond the type of a value and the name of a key;
//! `check` does the rest and knows the places.

use serde::Deserialize;
use toml::Spanned;

/// The whole file.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct File {
    /// The data folder, `stillohm-data` if absent. Relative to the folder the
    /// program is started in; created when it is missing.
    pub data: Option<String>,
    /// The catalogue of motor models. If absent: `motors.csv` beside this
    /// file, else `motors.csv` in the data folder, else none. Relative to this file.
    pub motors: Option<Spanned<String>>,
    /// A folder with descriptions of your own, each `NAME.toml`. If absent:
    /// `protocols` beside this file, if there is one. Relative to this file.
    pub protocols: Option<Spanned<String>>,
    /// Whether a meter whose calibration is overdue can pass nothing. Default: no.
    #[serde(default)]
    pub require_calibrated: bool,
    /// The page and the API.
    #[serde(default)]
    pub web: Web,
    /// How long captures are kept.
    #[serde(default)]
    pub captures: Captures,
    /// What stands at the head of a printed report.
    #[serde(default)]
    pub shop: Shop,
    /// The meters, one `[[meter]]` each.
    #[serde(default)]
    pub meter: Vec<Spanned<Meter>>,
}

/// `[shop]`: what stands at the head of a printed report (`stillohm report`).
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Shop {
    /// The shop's name.
    pub name: Option<Spanned<String>>,
    /// Its address, `["LINE", "LINE", …]`.
    #[serde(default)]
    pub address: Vec<Spanned<String>>,
    /// Its logo, a PNG or an SVG file. Relative to this file. A PDF shows a PNG
    /// only.
    pub logo: Option<Spanned<String>>,
}

/// `[web]`: the page and the API.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Web {
    /// `ADDRESS:PORT`, `127.0.0.1:7845` if absent. An address that other
    /// machines reach needs a token; what passes is not encrypted.
    pub listen: Option<Spanned<String>>,
    /// What another machine has to show: at least 16 characters.
    pub token: Option<Spanned<String>>,
    /// Whether another machine may act and not only look. Default: no.
    #[serde(default)]
    pub commands: bool,
}

/// `[captures]`: how long captures are kept. The oldest go first, each with a
/// row in the log; those of the run at hand never go. Default: all are kept.
#[derive(Clone, Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Captures {
    /// Captures of a run that began more than this many days ago are deleted.
    pub keep_days: Option<Spanned<u32>>,
    /// The oldest captures are deleted until the rest take at most this many megabytes.
    pub keep_mb: Option<Spanned<u32>>,
}

/// `[[meter]]`: an instrument and the port it is on.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Meter {
    /// Its name in the log. Must be its own.
    pub name: Spanned<String>,
    /// The bench it stands on, `bench-1` if absent.
    pub bench: Option<Spanned<String>>,
    /// The description it speaks: a name (`stillohm protocols list`) or a file.
    /// Needed unless it is read by eye.
    pub protocol: Option<Spanned<String>>,
    /// Whether it has no port: a person reads it and types its values
    /// (`stillohm enter`). Then neither `protocol` nor a port is written.
    #[serde(default)]
    pub by_eye: bool,
    /// On a serial line. One of `serial`, `tcp`, `ble` is needed unless it is read by eye.
    pub serial: Option<Spanned<Serial>>,
    /// Behind a TCP port.
    pub tcp: Option<Spanned<Tcp>>,
    /// On Bluetooth.
    pub ble: Option<Spanned<Ble>>,
    /// Its address on a shared bus, 0 to 247. Meters on one port need one each.
    pub unit: Option<Spanned<i64>>,
    /// Its accuracy, a range each, smallest first. Absent: not configured, and
    /// judging assumes the worst that is usual.
    #[serde(default)]
    pub accuracy: Vec<Spanned<Accuracy>>,
    /// 2 or 4 terminals; 2 if absent. With 4 no leads are subtracted.
    pub terminals: Option<Spanned<i64>>,
    /// What it measures: `ohms`, `insulation`, `volts`; `["ohms"]` if absent.
    pub measures: Option<Spanned<Vec<Spanned<String>>>>,
    /// What over-range means when the stream does not say: more than this many ohms.
    pub over_range_above_ohms: Option<Spanned<f64>>,
    /// The most that joined clips may read on an insulation tester, 100000 ohms if absent.
    pub proof_max_ohms: Option<Spanned<f64>>,
    /// Its own serial number.
    pub serial_number: Option<Spanned<String>>,
    /// Its calibration certificate.
    pub certificate: Option<Spanned<String>>,
    /// When it was calibrated, `"YYYY-MM-DD"`.
    pub calibrated_on: Option<Spanned<String>>,
    /// The last day its calibration holds, `"YYYY-MM-DD"`, UTC.
    pub calibration_due: Option<Spanned<String>>,
}

/// `serial = { … }`: by `path` or by `usb`, not both.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Serial {
    /// The device, or a link to it that is followed at each opening.
    pub path: Option<Spanned<String>>,
    /// The serial number of the USB adapter, since device names swap.
    pub usb: Option<Spanned<String>>,
    /// Bits a second, 9600 if absent.
    pub baud: Option<Spanned<i64>>,
    /// 7 or 8; 8 if absent.
    pub data_bits: Option<Spanned<i64>>,
    /// `none`, `even` or `odd`; `none` if absent.
    pub parity: Option<Spanned<String>>,
    /// 1 or 2; 1 if absent.
    pub stop_bits: Option<Spanned<i64>>,
}

/// `tcp = { … }`.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Tcp {
    /// `HOST:PORT`.
    pub address: Spanned<String>,
}

/// `ble = { … }`: by `address` or by `name`, not both.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Ble {
    /// The device's address.
    pub address: Option<Spanned<String>>,
    /// The device's name, where a system gives no addresses.
    pub name: Option<Spanned<String>>,
}

/// One range of `accuracy`: ± (percent of reading + counts).
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Accuracy {
    /// The largest resistance it holds for; absent: for all above the ones before.
    pub up_to_ohms: Option<f64>,
    /// Percent of reading.
    pub percent: f64,
    /// Counts of the range shown, 0 if absent.
    #[serde(default)]
    pub counts: f64,
}
