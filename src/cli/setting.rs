//! Setting up a meter from the page: the trial, and the file it is written to.

use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use super::serve::is_idle;
use crate::clock::Clock;
use crate::config::edit::{EditError, NewMeter, with_meter};
use crate::config::{Config, Given, library};
use crate::daemon::trial::{Trial, last_meters};
use crate::input::Settings;
use crate::meter::{Address, PortId};
use crate::source;
use crate::stamp::Stamp;
use crate::text::Text;
use crate::view::{MeterView, View};
use crate::web::{Offer, Offers, Setup};

/// A trial that nobody looks at for so long is over: its page was closed.
const UNWATCHED: Duration = Duration::from_secs(10);

/// Sets meters up for one daemon.
#[derive(Debug)]
pub(crate) struct Setter {
    given: Given,
    settings: Settings,
    view: tokio::sync::watch::Sender<Arc<View>>,
    clock: Clock,
    trial: Mutex<Option<(Trial, Stamp)>>,
    /// The file was changed: begin anew as soon as nobody is at work.
    again: Arc<AtomicBool>,
}

impl Setter {
    pub(crate) fn new(
        given: Given,
        config: &Config,
        view: tokio::sync::watch::Sender<Arc<View>>,
        again: Arc<AtomicBool>,
    ) -> Self {
        Self {
            given,
            settings: config.settings.clone(),
            view,
            clock: Clock::start(),
            trial: Mutex::default(),
            again,
        }
    }

    /// Ends a trial whose page is gone.
    pub(crate) fn look(&self) {
        let mut trial = self.trial();
        let left = |at: Stamp| self.clock.now().since(at) > UNWATCHED;
        if trial.as_ref().is_some_and(|(_, seen)| left(*seen)) {
            *trial = None;
        }
    }

    fn trial(&self) -> MutexGuard<'_, Option<(Trial, Stamp)>> {
        self.trial.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn path(&self) -> PathBuf {
        let path = self.given.config.clone();
        path.unwrap_or_else(|| PathBuf::from("stillohm.toml"))
    }

    /// The file as it is now, with the meter at its end.
    fn with(&self, meter: &NewMeter) -> Result<(String, Config), EditError> {
        let path = self.path();
        let text = match std::fs::read_to_string(&path) {
            Ok(text) => text,
            Err(e) if e.kind() == std::io::ErrorKind::NotFound => String::new(),
            Err(e) => return Err(file_fault(&path, &e)),
        };
        with_meter(&path, &text, &self.given, meter)
    }

    /// Which meter has the port open.
    fn holder(&self, address: &Address) -> Option<&Text> {
        let ports = (0_u16..).map(PortId).zip(&self.settings.ports);
        let mut same = ports.filter(|(_, port)| place(&port.address) == place(address));
        let (id, _) = same.next()?;
        let meters = self.settings.meters.iter();
        meters.filter(|m| m.port == id).map(|m| &m.name).next()
    }
}

impl Setup for Setter {
    fn offers(&self) -> Offers {
        let port = |port: source::PortInfo| {
            let value = match &port.usb {
                // Device names swap; a serial number does not.
                Some(usb) => format!("usb:{usb}"),
                None => port.path.to_string(),
            };
            let product = port.product.as_ref().map(Text::as_str).unwrap_or_default();
            let path = Address::Serial {
                path: port.path.clone(),
                line: crate::meter::Line::default(),
            };
            Offer {
                value,
                about: format!("{product} {}", port.path).trim().to_owned(),
                taken: self
                    .holder(&path)
                    .map(|m| format!("{m} is on it"))
                    .unwrap_or_default(),
            }
        };
        let known = library(self.given.config.as_deref()).unwrap_or_default();
        let protocols = known.iter().map(|(name, entry)| {
            let plan = library::compile(name, entry);
            Offer {
                value: name.to_owned(),
                about: plan.map(|plan| plan.about().to_owned()).unwrap_or_default(),
                taken: String::new(),
            }
        });
        let mut benches: Vec<String> = Vec::new();
        for meter in &self.settings.meters {
            if !benches.iter().any(|b| b == meter.bench.as_str()) {
                benches.push(meter.bench.to_string());
            }
        }
        Offers {
            ports: source::list().into_iter().map(port).collect(),
            protocols: protocols.collect(),
            benches,
            file: self.path().display().to_string(),
        }
    }

    fn listen(&self, meter: &NewMeter) -> Result<(), EditError> {
        let (_, config) = self.with(meter)?;
        let Some(tried) = config.settings.meters.last() else {
            return Ok(());
        };
        let port = config.settings.ports.get(usize::from(tried.port.0));
        let at_port = |message: String| EditError {
            field: Some("port"),
            message,
        };
        let port = port.ok_or_else(|| at_port(String::from("expected a port")))?;
        if let Some(holder) = self.holder(&port.address) {
            let message = format!("{holder} is on this port; its readings are on its bench's page");
            return Err(at_port(message));
        }
        let settings = last_meters(&config.settings, 1);
        let mut trial = self.trial();
        // The one before lets go of its port first.
        *trial = None;
        let started = Trial::start(settings).map_err(|e| at_port(e.to_string()))?;
        *trial = Some((started, self.clock.now()));
        Ok(())
    }

    fn heard(&self) -> Option<MeterView> {
        let mut trial = self.trial();
        let (tried, seen) = trial.as_mut()?;
        *seen = self.clock.now();
        let view = tried.view();
        let now = view.at;
        let mut meter = view.meters.into_iter().next()?;
        // The page has no other clock than the time since it was shown.
        meter.shown_at = meter.shown_at.map(|at| Stamp::ZERO.plus(now.since(at)));
        Some(meter)
    }

    fn end(&self) {
        *self.trial() = None;
    }

    fn save(&self, meter: &NewMeter) -> Result<String, EditError> {
        let (text, _) = self.with(meter)?;
        let path = self.path();
        replace(&path, &text).map_err(|e| file_fault(&path, &e))?;
        *self.trial() = None;
        self.again.store(true, Ordering::Release);
        let when = match is_idle(&self.view.borrow()) {
            true => "The program begins anew with it now.",
            false => {
                "It is used as soon as no job is worked on, no meter is checked and no winding discharges."
            }
        };
        Ok(format!(
            "{} is written to {}. {when}",
            meter.name,
            path.display()
        ))
    }
}

/// Where a port is, whatever its line.
fn place(address: &Address) -> String {
    match address {
        Address::Serial { path, .. } => std::fs::canonicalize(path.as_str())
            .map_or_else(|_| path.to_string(), |real| real.display().to_string()),
        Address::Usb { usb, .. } => {
            let ports = source::list();
            let found = ports.iter().find(|port| port.usb.as_ref() == Some(usb));
            found.map_or_else(|| format!("usb:{usb}"), |port| port.path.to_string())
        }
        other => other.to_string(),
    }
}

fn file_fault(path: &Path, error: &std::io::Error) -> EditError {
    EditError {
        field: None,
        message: format!("{}: {error}; nothing was changed", path.display()),
    }
}

/// The new text takes the place of the old file at once or not at all.
fn replace(path: &Path, text: &str) -> std::io::Result<()> {
    let path = std::fs::canonicalize(path).unwrap_or_else(|_| path.to_owned());
    let beside = path.with_extension("toml.new");
    let mut file = std::fs::File::create(&beside)?;
    if let Ok(old) = std::fs::metadata(&path) {
        file.set_permissions(old.permissions())?;
    }
    file.write_all(text.as_bytes())?;
    file.sync_all()?;
    drop(file);
    std::fs::rename(&beside, &path)?;
    let folder = path.parent().filter(|p| !p.as_os_str().is_empty());
    match std::fs::File::open(folder.unwrap_or(Path::new("."))) {
        Ok(folder) => folder.sync_all(),
        // Some systems open no folder; the file is there all the same.
        Err(_) => Ok(()),
    }
}
