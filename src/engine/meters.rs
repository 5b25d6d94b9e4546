//! The engine's meters: readings become samples, samples settle.

use core::time::Duration;

use super::Ports;
use crate::bench::{Benches, Now, Out, Steer};
use crate::description::{Heard, hex};
use crate::input::Settings;
use crate::meter::{Accuracy, Measures, Meter, MeterId};
use crate::quantity::{Amperes, Celsius, Shown, Unit, Volts};
use crate::reading::{Flags, Got, Quantity, Reading, Sample};
use crate::settle::{Reset, Settle};
use crate::stamp::Stamp;
use crate::text::Text;
use crate::view::MeterView;

/// A quantity beside the main one counts for samples up to this much later.
const BESIDE: Duration = Duration::from_secs(2);
/// Silence longer than this is a gap (judging rule 2: it ends a proof of leads).
const SILENCE: Duration = Duration::from_secs(10);
/// So much of a refused frame is shown.
const BYTES_SHOWN: usize = 32;
/// Why such a gap is one.
const OPEN_AND_SILENT: &str = "the port was open and nothing that came was understood";

/// Every meter with its settling.
#[derive(Debug, Default)]
pub(super) struct Meters {
    meters: Vec<MeterState>,
    /// Not later than any meter's deadline; exact after [`Meters::expire`].
    /// Looking at every meter for every reading would cost more than the reading.
    due: Option<Stamp>,
}

#[derive(Debug)]
struct MeterState {
    settle: Settle,
    /// When a frame was last understood.
    heard: Option<Stamp>,
    /// Whether a bad frame came since.
    garbled: bool,
    /// Whether values are typed since its stream fell silent.
    by_eye: bool,
    shown: Option<(Stamp, Got, Flags)>,
    test_voltage: Option<(Stamp, Volts)>,
    elapsed: Option<(Stamp, Duration)>,
    leakage: Option<(Stamp, Amperes)>,
    temperature: Option<(Stamp, Celsius)>,
    /// Its battery, in percent.
    battery: Option<f64>,
    good: u64,
    bad: u64,
    last_bad: String,
    last_bad_bytes: Vec<u8>,
}

impl MeterState {
    fn new() -> Self {
        Self {
            settle: Settle::new(Benches::idle_spec()),
            heard: None,
            garbled: false,
            by_eye: false,
            shown: None,
            test_voltage: None,
            elapsed: None,
            leakage: None,
            temperature: None,
            battery: None,
            good: 0,
            bad: 0,
            last_bad: String::new(),
            last_bad_bytes: Vec::new(),
        }
    }

    /// What one frame says together; `None` when it has no main reading and no test voltage.
    fn sample(&mut self, at: Stamp, readings: &[Reading]) -> Option<(Sample, bool)> {
        let mut main = None;
        let mut voltage_here = false;
        for reading in readings {
            let value = match reading.got {
                Got::Value(shown) => Some(shown),
                Got::Over { .. } | Got::Nothing => None,
            };
            let number = value.map(|shown| shown.value.to_f64());
            match reading.quantity {
                Quantity::Main => main = Some((reading.got, reading.flags)),
                Quantity::TestVoltage => {
                    self.test_voltage = number.map(|v| (at, Volts(v)));
                    voltage_here = true;
                }
                Quantity::Elapsed => {
                    self.elapsed = number
                        .and_then(|s| Duration::try_from_secs_f64(s).ok())
                        .map(|elapsed| (at, elapsed));
                }
                Quantity::Leakage => self.leakage = number.map(|a| (at, Amperes(a))),
                Quantity::Temperature => {
                    self.temperature = value.and_then(celsius).map(|t| (at, t));
                }
                Quantity::Battery => self.battery = number,
            }
        }
        if main.is_none() && !voltage_here {
            return None;
        }
        let (got, flags) = main.unwrap_or((Got::Nothing, Flags::NONE));
        let sample = Sample {
            got,
            flags,
            test_voltage: recent(at, self.test_voltage),
            elapsed: recent(at, self.elapsed),
            leakage: recent(at, self.leakage),
            temperature: recent(at, self.temperature),
        };
        Some((sample, main.is_some()))
    }
}

fn recent<T>(at: Stamp, kept: Option<(Stamp, T)>) -> Option<T> {
    kept.filter(|(then, _)| at.since(*then) <= BESIDE)
        .map(|(_, value)| value)
}

fn celsius(shown: Shown) -> Option<Celsius> {
    let value = shown.value.to_f64();
    match shown.unit {
        Unit::Celsius => Some(Celsius(value)),
        Unit::Fahrenheit => Some(Celsius((value - 32.0) / 1.8)),
        _ => None,
    }
}

impl Meters {
    pub(super) fn new(settings: &Settings) -> Self {
        Self {
            meters: settings.meters.iter().map(|_| MeterState::new()).collect(),
            due: None,
        }
    }

    /// A frame, good or bad, of one meter.
    pub(super) fn heard(
        &mut self,
        at: Stamp,
        heard: Heard<'_>,
        now: Now<'_>,
        benches: &mut Benches,
        out: &mut Out,
    ) {
        match heard {
            Heard::Frame(readings) => {
                if let Some(first) = readings.first() {
                    self.frame(at, first.meter, readings, now, benches, out);
                }
            }
            Heard::Bad { meter, why, bytes } => {
                let bytes = &bytes[..bytes.len().min(BYTES_SHOWN)];
                let all = self.meters.iter_mut().zip((0_u16..).map(MeterId));
                for (state, _) in all.filter(|(_, id)| meter.is_none_or(|meter| meter == *id)) {
                    state.bad += 1;
                    state.garbled = true;
                    why.clone_into(&mut state.last_bad);
                    state.last_bad_bytes.clear();
                    state.last_bad_bytes.extend_from_slice(bytes);
                }
            }
        }
    }

    fn frame(
        &mut self,
        at: Stamp,
        meter: MeterId,
        readings: &[Reading],
        now: Now<'_>,
        benches: &mut Benches,
        out: &mut Out,
    ) {
        let Some(state) = self.meters.get_mut(usize::from(meter.0)) else {
            return;
        };
        state.good += 1;
        // What a battery or a thermometer says is no sign that the display lives.
        let Some((sample, has_main)) = state.sample(at, readings) else {
            return;
        };
        // A tester that speaks only under voltage is silent between presses:
        // that is no gap. An ohmmeter streams, and its silence is one.
        let streams = now.settings.meters.get(usize::from(meter.0));
        let streams = streams.is_some_and(|meter| meter.measures(Measures::Ohms));
        let gap = state
            .heard
            .filter(|then| streams && at.since(*then) > SILENCE);
        let garbled = core::mem::take(&mut state.garbled);
        // In noise a frame may look like one by chance. It ends no gap: the
        // frame that follows it does, or what is taken from it.
        let by_chance = gap.is_some() && garbled;
        if !by_chance {
            if let Some(then) = gap {
                benches.gap(now, meter, then, OPEN_AND_SILENT, out);
            }
            state.heard = Some(at);
            state.by_eye = false;
        }
        if !by_chance {
            benches.heard(now, meter, &sample, out);
        }
        if has_main {
            state.shown = Some((at, sample.got, sample.flags));
            let take = state.settle.push(at, &sample);
            self.due = sooner(self.due, state.settle.deadline());
            if let Some(take) = take {
                if let Some(then) = gap.filter(|_| by_chance) {
                    benches.gap(now, meter, then, OPEN_AND_SILENT, out);
                    state.heard = Some(at);
                }
                benches.took(now, meter, &take, out);
            }
        }
        if !out.steer.is_empty() {
            self.steer(now, benches, out);
        }
    }

    /// A value is typed for a meter: if its stream fell silent, that is a gap
    /// like any other, though no frame has come to end it (rules 2 and 21).
    pub(super) fn typed(
        &mut self,
        name: &Text,
        now: Now<'_>,
        ports: &Ports,
        benches: &mut Benches,
        out: &mut Out,
    ) {
        let meters = (0_u16..).map(MeterId).zip(&now.settings.meters);
        for ((id, meter), state) in meters.zip(&mut self.meters) {
            let streamed = state.heard.filter(|_| meter.measures(Measures::Ohms));
            let since = ports.gone(meter.port).or(streamed);
            if let Some(since) = since.filter(|since| now.at.since(*since) > SILENCE)
                && meter.name == *name
                && !state.by_eye
            {
                state.by_eye = true;
                benches.gap(now, id, since, "a value was typed meanwhile", out);
            }
        }
    }

    pub(super) fn expire(
        &mut self,
        due: Stamp,
        now: Now<'_>,
        benches: &mut Benches,
        out: &mut Out,
    ) {
        for (state, id) in self.meters.iter_mut().zip((0_u16..).map(MeterId)) {
            if state.settle.deadline().is_some_and(|at| at <= due)
                && let Some(take) = state.settle.expire(due)
            {
                benches.took(now, id, &take, out);
            }
        }
        self.due = self
            .meters
            .iter()
            .filter_map(|state| state.settle.deadline())
            .min();
    }

    /// When [`Meters::expire`] wants to be called, or earlier.
    pub(super) fn deadline(&self) -> Option<Stamp> {
        self.due
    }

    /// Settling of one meter starts anew.
    pub(super) fn reset(
        &mut self,
        meter: MeterId,
        why: Reset,
        now: Now<'_>,
        benches: &mut Benches,
        out: &mut Out,
    ) {
        let Some(state) = self.meters.get_mut(usize::from(meter.0)) else {
            return;
        };
        state.test_voltage = None;
        state.elapsed = None;
        let take = state.settle.reset(now.at, why);
        self.due = sooner(self.due, state.settle.deadline());
        if let Some(take) = take {
            benches.took(now, meter, &take, out);
        }
    }

    /// Carries out what benches ask of settling. What comes of that goes back
    /// to them, and they may ask again.
    pub(super) fn steer(&mut self, now: Now<'_>, benches: &mut Benches, out: &mut Out) {
        while !out.steer.is_empty() {
            for (meter, steer) in core::mem::take(&mut out.steer) {
                let Some(state) = self.meters.get_mut(usize::from(meter.0)) else {
                    continue;
                };
                let take = match steer {
                    Steer::Respec(spec) => {
                        state.settle.respec(spec);
                        None
                    }
                    Steer::ClipsOn => {
                        state.settle.clips_on(now.at);
                        None
                    }
                    Steer::Voltage(on) => state.settle.voltage(now.at, on),
                    Steer::Reset(why) => state.settle.reset(now.at, why),
                };
                self.due = sooner(self.due, state.settle.deadline());
                if let Some(take) = take {
                    benches.took(now, meter, &take, out);
                }
            }
        }
    }

    pub(super) fn settling(&self) -> impl Iterator<Item = &Settle> {
        self.meters.iter().map(|state| &state.settle)
    }

    /// What a meter's display says, in words.
    pub(super) fn shown(&self, meter: usize) -> String {
        let shown = self.meters.get(meter).and_then(|state| state.shown);
        shown.map(|(_, got, _)| said(got)).unwrap_or_default()
    }

    pub(super) fn view(&self, settings: &Settings, ports: &Ports) -> Vec<MeterView> {
        let meters = settings.meters.iter().zip(&self.meters);
        meters
            .map(|(meter, state)| {
                let (connected, trouble) = ports.state(meter.port);
                let port = settings.ports.get(usize::from(meter.port.0));
                let settle = state.settle.state();
                MeterView {
                    name: meter.name.to_string(),
                    bench: meter.bench.to_string(),
                    protocol: port
                        .map(|port| port.protocol.to_string())
                        .unwrap_or_default(),
                    port: port
                        .map(|port| port.address.to_string())
                        .unwrap_or_default(),
                    calibration: calibration(meter),
                    connected,
                    trouble: trouble.to_owned(),
                    shown: state.shown.map(|(_, got, _)| said(got)).unwrap_or_default(),
                    shown_at: state.shown.map(|(at, _, _)| at),
                    flags: state
                        .shown
                        .map(|(_, _, flags)| flags.words().collect())
                        .unwrap_or_default(),
                    settle: settle.word,
                    progress: settle.progress,
                    hold: settle.hold,
                    ohms: state.shown.and_then(|(_, got, _)| ohms(got)),
                    over_range: matches!(
                        state.shown,
                        Some((
                            _,
                            Got::Over {
                                unit: Unit::Ohm,
                                ..
                            },
                            _
                        ))
                    ),
                    test_volts: state.test_voltage.map(|(_, volts)| volts.0),
                    good_frames: state.good,
                    bad_frames: state.bad,
                    last_bad: state.last_bad.clone(),
                    last_bad_bytes: hex::show(&state.last_bad_bytes),
                    battery_percent: state.battery,
                }
            })
            .collect()
    }
}

/// The sooner of two deadlines.
pub(super) fn sooner(a: Option<Stamp>, b: Option<Stamp>) -> Option<Stamp> {
    match (a, b) {
        (Some(a), Some(b)) => Some(a.min(b)),
        (one, None) | (None, one) => one,
    }
}

/// What the display says in ohms, if it is a number of ohms.
fn ohms(got: Got) -> Option<f64> {
    match got {
        Got::Value(shown) if shown.unit == Unit::Ohm => Some(shown.value.to_f64()),
        _ => None,
    }
}

/// What the display says, in words.
fn said(got: Got) -> String {
    match got {
        Got::Value(shown) => shown.to_string(),
        Got::Over { .. } => String::from("over-range"),
        Got::Nothing => String::from("no result"),
    }
}

/// Accuracy, serial number, certificate and dates, as far as they are configured.
fn calibration(meter: &Meter) -> String {
    let range = |range: &Accuracy| {
        let up_to = range
            .up_to
            .map(|ohms| format!(" up to {ohms} Ω"))
            .unwrap_or_default();
        format!("± {} % + {} counts{up_to}", range.percent, range.counts)
    };
    let mut said: Vec<String> = meter.accuracy.iter().map(range).collect();
    for (what, words) in [
        ("serial number", &meter.serial_number),
        ("certificate", &meter.certificate),
        ("calibrated on", &meter.calibrated_on),
        ("due", &meter.calibration_due),
    ] {
        said.extend(words.as_ref().map(|words| format!("{what} {words}")));
    }
    said.join("; ")
}
