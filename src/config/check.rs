//! From what is written to what is trusted: each check knows its place.

use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::time::Duration;

use toml::Spanned;

use super::address::{self, words};
use super::ports::{port, settle_in, share};
use super::written::{self, File};
use super::{Config, ConfigError, Given, Library, Shop, Web, place};
use crate::input::Settings;
use crate::meter::{Accuracy, Measures, Meter};
use crate::quantity::{Decimal, Ohms, Unit};
use crate::text::{Text, nearest};

/// Where the text came from, so that every refusal can name its place.
pub(super) struct Source<'a> {
    path: &'a Path,
    text: &'a str,
}

impl Source<'_> {
    fn file(&self) -> Result<File, ConfigError> {
        toml::from_str(self.text).map_err(|e| {
            let offset = e.span().map_or(0, |span| span.start);
            // The parser names Rust's types; who writes the file knows numbers.
            let message = ["u8", "u16", "u32", "u64", "i64"].iter().fold(
                e.message().to_owned(),
                |words, kind| {
                    words.replace(
                        &format!("expected {kind}"),
                        "expected a whole number without quotes",
                    )
                },
            );
            let message = message.replace("expected f64", "expected a number without quotes");
            self.at(offset, message)
        })
    }

    pub(super) fn at(&self, offset: usize, message: impl Into<String>) -> ConfigError {
        let (line, column) = place(self.text, offset);
        ConfigError::At {
            path: self.path.to_owned(),
            line,
            column,
            message: message.into(),
        }
    }

    /// Refuses the value of `key`.
    pub(super) fn key<T>(
        &self,
        value: &Spanned<T>,
        key: &str,
        message: impl core::fmt::Display,
    ) -> ConfigError {
        self.at(value.span().start, format!("{key}: {message}"))
    }

    pub(super) fn words(&self, value: &Spanned<String>, key: &str) -> Result<Text, ConfigError> {
        words(key, value.get_ref()).map_err(|e| self.at(value.span().start, e))
    }

    pub(super) fn optional(
        &self,
        value: Option<&Spanned<String>>,
        key: &str,
    ) -> Result<Option<Text>, ConfigError> {
        value.map(|value| self.words(value, key)).transpose()
    }

    /// A path beside the configuration file.
    fn beside(&self, relative: &str) -> PathBuf {
        self.path.parent().unwrap_or(Path::new("")).join(relative)
    }
}

pub(super) fn check(path: &Path, text: &str, given: &Given) -> Result<Config, ConfigError> {
    let source = Source { path, text };
    let file = source.file()?;
    let library = library(&source, &file)?;
    let mut settings = Settings {
        require_calibrated: file.require_calibrated,
        ..Settings::default()
    };
    for meter in &file.meter {
        add_written(&source, &library, &mut settings, meter)?;
    }
    for meter in &given.meters {
        add_typed(&library, &mut settings, meter).map_err(|message| ConfigError::Meter {
            given: meter.clone(),
            message,
        })?;
    }
    let data = match &given.data {
        Some(data) => data.clone(),
        None => PathBuf::from(file.data.as_deref().unwrap_or("stillohm-data")),
    };
    Ok(Config {
        motors: motors(&source, &file, given, &data)?,
        web: web(&source, &file.web)?,
        keep: positive(&source, file.captures.keep_days.as_ref(), "keep_days")?
            .map(|days| Duration::from_secs(days * 86_400)),
        keep_bytes: positive(&source, file.captures.keep_mb.as_ref(), "keep_mb")?
            .map(|mb| mb * 1_000_000),
        shop: shop(&source, &file.shop)?,
        settings,
        data,
    })
}

fn positive(
    source: &Source<'_>,
    value: Option<&Spanned<u32>>,
    key: &str,
) -> Result<Option<u64>, ConfigError> {
    match value {
        Some(value) if *value.get_ref() == 0 => {
            Err(source.key(value, key, "expected at least 1; leave it out to keep all"))
        }
        value => Ok(value.map(|value| u64::from(*value.get_ref()))),
    }
}

pub(super) fn library_of(path: &Path, text: &str) -> Result<Library, ConfigError> {
    let source = Source { path, text };
    library(&source, &source.file()?)
}

fn library(source: &Source<'_>, file: &File) -> Result<Library, ConfigError> {
    let mut library = Library::shipped();
    match &file.protocols {
        Some(folder) => library
            .add_folder(&source.beside(folder.get_ref()))
            .map_err(|e| source.key(folder, "protocols", chain(&e)))?,
        None => {
            let folder = source.beside("protocols");
            // Beside a configuration that exists only: a bare start reads no folder by chance.
            if !source.text.is_empty() && folder.is_dir() {
                library
                    .add_folder(&folder)
                    .map_err(|e| source.at(0, chain(&e)))?;
            }
        }
    }
    Ok(library)
}

fn motors(
    source: &Source<'_>,
    file: &File,
    given: &Given,
    data: &Path,
) -> Result<Option<PathBuf>, ConfigError> {
    if let Some(motors) = &given.motors {
        return Ok(Some(motors.clone()));
    }
    if let Some(motors) = &file.motors {
        let path = source.beside(motors.get_ref());
        if !path.is_file() {
            let message = format!("expected a file, found none at {}", path.display());
            return Err(source.key(motors, "motors", message));
        }
        return Ok(Some(path));
    }
    let places = [source.beside("motors.csv"), data.join("motors.csv")];
    Ok(places.into_iter().find(|path| path.is_file()))
}

fn web(source: &Source<'_>, web: &written::Web) -> Result<Web, ConfigError> {
    let mut checked = Web {
        token: source.optional(web.token.as_ref(), "web.token")?,
        commands: web.commands,
        ..Web::default()
    };
    if let (Some(token), Some(value)) = (&web.token, &checked.token)
        && (value.as_str().len() < 16 || !value.as_str().bytes().all(|b| b.is_ascii_graphic()))
    {
        let message = "expected at least 16 letters, digits and signs without a space";
        return Err(source.key(token, "web.token", message));
    }
    if let Some(listen) = &web.listen {
        checked.listen = listen.get_ref().parse::<SocketAddr>().map_err(|_| {
            let message = format!(
                "expected ADDRESS:PORT such as 127.0.0.1:7845, found {:?}",
                listen.get_ref()
            );
            source.key(listen, "web.listen", message)
        })?;
        if !checked.listen.ip().is_loopback() && checked.token.is_none() {
            let message = format!(
                "{} can be reached by other machines: expected a token beside it, found none; write token = \"…\" or listen on 127.0.0.1",
                checked.listen.ip()
            );
            return Err(source.key(listen, "web.listen", message));
        }
    }
    Ok(checked)
}

fn shop(source: &Source<'_>, shop: &written::Shop) -> Result<Shop, ConfigError> {
    let lines = shop.address.iter();
    let mut checked = Shop {
        name: source.optional(shop.name.as_ref(), "shop.name")?,
        address: lines
            .map(|line| source.words(line, "shop.address"))
            .collect::<Result<_, _>>()?,
        logo: None,
    };
    if let Some(logo) = &shop.logo {
        let path = source.beside(logo.get_ref());
        let kind = path.extension().and_then(|e| e.to_str());
        if !matches!(kind, Some("png" | "svg")) {
            let message = format!("expected a .png or .svg file, found {:?}", logo.get_ref());
            return Err(source.key(logo, "shop.logo", message));
        }
        checked.logo = Some(path);
    }
    Ok(checked)
}

fn add_typed(library: &Library, settings: &mut Settings, given: &str) -> Result<(), String> {
    let typed = address::typed(given)?;
    let protocol = protocol(library, settings, &typed.protocol)?;
    let port = share(settings, typed.address, &protocol)?;
    settle_in(settings, Meter::plain(typed.name, port))
}

fn add_written(
    source: &Source<'_>,
    library: &Library,
    settings: &mut Settings,
    written: &Spanned<written::Meter>,
) -> Result<(), ConfigError> {
    let meter = written.get_ref();
    let (address, at) = port(source, written)?;
    let protocol = match &meter.protocol {
        Some(wanted) => protocol_beside(source, library, settings, wanted)?,
        // Nothing comes from there, but every port speaks something.
        None if meter.by_eye => {
            protocol(library, settings, "text-line").map_err(|e| source.at(at, e))?
        }
        None => {
            let message = format!("meter {:?}: expected a protocol", meter.name.get_ref());
            return Err(source.at(at, message));
        }
    };
    let port = share(settings, address, &protocol).map_err(|e| source.at(at, e))?;
    let mut checked = Meter::plain(source.words(&meter.name, "name")?, port);
    if let Some(bench) = source.optional(meter.bench.as_ref(), "bench")? {
        checked.bench = bench;
    }
    if let Some(unit) = &meter.unit {
        checked.unit = match u8::try_from(*unit.get_ref()) {
            Ok(unit @ 0..=247) => Some(unit),
            _ => return Err(source.key(unit, "unit", expected("0 to 247", unit.get_ref()))),
        };
    }
    if let Some(terminals) = &meter.terminals {
        checked.terminals = match terminals.get_ref() {
            2 => 2,
            4 => 4,
            other => return Err(source.key(terminals, "terminals", expected("2 or 4", other))),
        };
    }
    if let Some(list) = &meter.measures {
        checked.measures = measures(source, list)?;
    }
    checked.accuracy = accuracy(source, &meter.accuracy)?;
    checked.over_range_above = ohms(
        source,
        meter.over_range_above_ohms.as_ref(),
        "over_range_above_ohms",
    )?;
    if let Some(most) = ohms(source, meter.proof_max_ohms.as_ref(), "proof_max_ohms")? {
        checked.proof_max = most;
    }
    checked.serial_number = source.optional(meter.serial_number.as_ref(), "serial_number")?;
    checked.certificate = source.optional(meter.certificate.as_ref(), "certificate")?;
    checked.calibrated_on = date(source, meter.calibrated_on.as_ref(), "calibrated_on")?;
    checked.calibration_due = date(source, meter.calibration_due.as_ref(), "calibration_due")?;
    settle_in(settings, checked).map_err(|e| source.at(meter.name.span().start, e))
}

/// Finds a description and puts its text into the settings; a file is looked
/// up beside the configuration.
fn protocol_beside(
    source: &Source<'_>,
    library: &Library,
    settings: &mut Settings,
    wanted: &Spanned<String>,
) -> Result<Text, ConfigError> {
    let name = wanted.get_ref();
    let beside = source.beside(name);
    let found = if name.contains(['/', '\\']) || name.ends_with(".toml") {
        protocol(library, settings, &beside.to_string_lossy())
    } else {
        protocol(library, settings, name)
    };
    found.map_err(|e| source.key(wanted, "protocol", e))
}

fn protocol(library: &Library, settings: &mut Settings, wanted: &str) -> Result<Text, String> {
    let (name, text, _) = library.plan(wanted).map_err(|e| chain(&e))?;
    match settings.descriptions.get(&name) {
        Some(other) if *other != text => Err(format!(
            "two descriptions are called {name:?}: rename one of the files"
        )),
        _ => {
            settings.descriptions.insert(name.clone(), text);
            Ok(name)
        }
    }
}

fn measures(
    source: &Source<'_>,
    list: &Spanned<Vec<Spanned<String>>>,
) -> Result<Vec<Measures>, ConfigError> {
    const WORDS: [(&str, Measures); 3] = [
        ("ohms", Measures::Ohms),
        ("insulation", Measures::Insulation),
        ("volts", Measures::Volts),
    ];
    let mut all = Vec::new();
    for word in list.get_ref() {
        let found = WORDS.iter().find(|(w, _)| w == word.get_ref());
        let Some((_, measures)) = found else {
            let near = nearest(word.get_ref(), WORDS.iter().map(|(w, _)| *w)).join(", ");
            let hint = if near.is_empty() {
                near
            } else {
                format!("; nearest: {near}")
            };
            let message = expected("ohms, insulation or volts", word.get_ref());
            return Err(source.key(word, "measures", message + &hint));
        };
        if !all.contains(measures) {
            all.push(*measures);
        }
    }
    if all.is_empty() {
        return Err(source.key(
            list,
            "measures",
            "expected at least one of ohms, insulation, volts",
        ));
    }
    Ok(all)
}

fn accuracy(
    source: &Source<'_>,
    written: &[Spanned<written::Accuracy>],
) -> Result<Vec<Accuracy>, ConfigError> {
    let mut ranges: Vec<Accuracy> = Vec::new();
    for spanned in written {
        let range = spanned.get_ref();
        let fits = |x: f64, most: f64| (0.0..=most).contains(&x);
        if !fits(range.percent, 100.0) || !fits(range.counts, 10_000.0) {
            let message = "expected percent from 0 to 100 and counts from 0 to 10000";
            return Err(source.key(spanned, "accuracy", message));
        }
        if range.percent == 0.0 && range.counts == 0.0 {
            let message = "expected percent or counts above 0, found 0 and 0: no meter is exact; leave accuracy out if its manual says none";
            return Err(source.key(spanned, "accuracy", message));
        }
        let up_to = match range.up_to_ohms {
            None => None,
            Some(ohms) if ohms > 0.0 => Some(decimal(ohms).ok_or_else(|| {
                source.key(
                    spanned,
                    "accuracy",
                    format!("up_to_ohms {ohms} is too large or too fine"),
                )
            })?),
            Some(ohms) => {
                let message = expected("up_to_ohms above 0", ohms);
                return Err(source.key(spanned, "accuracy", message));
            }
        };
        let rises = ranges
            .last()
            .is_none_or(|before| match (before.up_to, up_to) {
                (None, _) => false,
                (Some(_), None) => true,
                (Some(a), Some(b)) => a < b,
            });
        if !rises {
            let message = "expected ranges of rising up_to_ohms, the one without it last";
            return Err(source.key(spanned, "accuracy", message));
        }
        ranges.push(Accuracy {
            up_to,
            unit: Unit::Ohm,
            percent: range.percent,
            counts: range.counts,
        });
    }
    Ok(ranges)
}

/// The decimal that a person wrote, through the shortest text of its double.
fn decimal(value: f64) -> Option<Decimal> {
    value.to_string().parse().ok()
}

fn ohms(
    source: &Source<'_>,
    value: Option<&Spanned<f64>>,
    key: &str,
) -> Result<Option<Ohms>, ConfigError> {
    match value {
        None => Ok(None),
        Some(v) if v.get_ref().is_finite() && *v.get_ref() > 0.0 => Ok(Some(Ohms(*v.get_ref()))),
        Some(v) => Err(source.key(v, key, expected("ohms above 0", v.get_ref()))),
    }
}

fn date(
    source: &Source<'_>,
    value: Option<&Spanned<String>>,
    key: &str,
) -> Result<Option<Text>, ConfigError> {
    let Some(value) = value else { return Ok(None) };
    let written = value.get_ref();
    let date: Result<jiff::civil::Date, _> = written.parse();
    match date {
        Ok(date) if date.to_string() == *written => source.words(value, key).map(Some),
        _ => Err(source.key(
            value,
            key,
            expected("a date such as \"2026-03-31\"", written),
        )),
    }
}

pub(super) fn expected(what: &str, found: impl core::fmt::Debug) -> String {
    format!("expected {what}, found {found:?}")
}

/// An error with its causes in one line.
fn chain(error: &dyn core::error::Error) -> String {
    let mut said = error.to_string();
    let mut cause = error.source();
    while let Some(inner) = cause {
        said = format!("{said}: {inner}");
        cause = inner.source();
    }
    said
}
