//! Two meters with one name: the one whose clips are joined is the one in the hand.

use std::time::Duration;

use crate::cli::Fail;
use crate::clock::Clock;
use crate::config::{self, Given};
use crate::daemon::trial::{Trial, last_meters};
use crate::source::Nearby;
use crate::stamp::Stamp;
use crate::view::{MeterView, View};

/// Joined clips read at most this, whatever the leads (own).
const JOINED_OHMS: f64 = 10.0;
/// For so long only one of them must be joined.
const HELD: Duration = Duration::from_secs(1);
/// A value older than this says nothing of now.
const FRESH: Duration = Duration::from_secs(2);
/// How often is looked.
const LOOK: Duration = Duration::from_millis(50);

/// What one meter's clips are seen to do.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
struct Clips {
    /// It was seen with open clips.
    was_open: bool,
    /// Since when they are joined.
    joined: Option<Stamp>,
}

/// Watches all of them; the one that is found.
#[derive(Debug)]
struct Watch {
    clips: Vec<Clips>,
}

impl Watch {
    fn new(meters: usize) -> Self {
        Self {
            clips: vec![Clips::default(); meters],
        }
    }

    /// The meter that was open, is joined, and is the only one, for a while.
    fn look(&mut self, view: &View) -> Option<usize> {
        for (clips, meter) in self.clips.iter_mut().zip(&view.meters) {
            match joined(meter, view.at) {
                Some(true) => clips.joined = clips.joined.or(Some(view.at)),
                Some(false) => {
                    *clips = Clips {
                        was_open: true,
                        joined: None,
                    }
                }
                None => clips.joined = None,
            }
        }
        let mut joined = self
            .clips
            .iter()
            .enumerate()
            .filter(|(_, c)| c.joined.is_some());
        let (number, clips) = joined.next()?;
        let alone = joined.next().is_none();
        let long = clips
            .joined
            .is_some_and(|since| view.at.since(since) >= HELD);
        (alone && long && clips.was_open).then_some(number)
    }
}

/// Whether its clips are joined now; nothing if it does not say.
fn joined(meter: &MeterView, now: Stamp) -> Option<bool> {
    let fresh = meter.shown_at.is_some_and(|at| now.since(at) <= FRESH);
    if !meter.connected || !fresh {
        return None;
    }
    Some(!meter.over_range && meter.ohms.is_some_and(|ohms| ohms.abs() <= JOINED_OHMS))
}

/// Listens to `alike` and returns the one whose clips are joined.
///
/// # Errors
/// The description is unknown, nothing can be listened to, or nobody joined
/// the clips of exactly one in time.
#[expect(clippy::print_stderr, reason = "talk goes to stderr")]
pub(super) fn join<'a>(
    alike: &'a [Nearby],
    protocol: &str,
    patience: Duration,
) -> Result<&'a Nearby, Fail> {
    let typed = (1..).zip(alike).map(|(n, device)| {
        // A name no meter of the file has.
        format!("in-hand-{n}={protocol}@ble:{}", device.address)
    });
    let given = Given {
        config: None,
        data: None,
        motors: None,
        meters: typed.collect(),
    };
    let settings = config::load(&given)?.settings;
    let trial = Trial::start(last_meters(&settings, alike.len()))
        .map_err(|e| Fail::Around(anyhow::Error::new(e)))?;
    let name = alike.first().map(|d| d.name.as_str()).unwrap_or_default();
    eprintln!(
        "stillohm: {} devices are called {name}. Open all clips, then join the clips of the meter in your hand, and keep them joined.",
        alike.len()
    );
    let clock = Clock::start();
    let mut watch = Watch::new(alike.len());
    loop {
        let view = trial.view();
        if let Some(found) = watch.look(&view).and_then(|at| alike.get(at)) {
            return Ok(found);
        }
        if clock.now().since(Stamp::ZERO) > patience {
            return Err(Fail::No(nobody(&watch, &view, alike)));
        }
        std::thread::sleep(LOOK);
    }
}

/// What was seen instead, device by device.
fn nobody(watch: &Watch, view: &View, alike: &[Nearby]) -> String {
    let said = watch.clips.iter().zip(&view.meters).zip(alike);
    let each: Vec<String> = said
        .map(|((clips, meter), device)| {
            let what = match (clips.joined, clips.was_open) {
                (Some(_), true) => String::from("joined"),
                (Some(_), false) => String::from("joined all the time: open its clips first"),
                (None, _) if !meter.connected => meter.trouble.clone(),
                (None, true) => String::from("open"),
                (None, false) => String::from("connected, and nothing understood of it"),
            };
            format!("{}: {what}", device.address)
        })
        .collect();
    format!(
        "the clips of exactly one were not joined in time; {}",
        each.join("; ")
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    /// One letter a meter and a look: `o` open, `j` joined, `-` nothing heard.
    #[track_caller]
    fn check(looks: &[&str], expected: Option<usize>) {
        let mut watch = Watch::new(looks[0].len());
        let mut found = None;
        for (at, look) in (0_u32..).zip(looks) {
            let at = Stamp::from_seconds(f64::from(at) * 0.5);
            let meter = |c: char| MeterView {
                connected: c != '-',
                shown_at: (c != '-').then_some(at),
                over_range: c == 'o',
                ohms: (c == 'j').then_some(0.3),
                ..MeterView::default()
            };
            found = found.or(watch.look(&View {
                at,
                meters: look.chars().map(meter).collect(),
                ..View::default()
            }));
        }
        assert_eq!(found, expected, "{looks:?}");
    }

    #[test]
    fn the_one_that_is_joined_alone_and_was_open_is_found() {
        check(&["oo", "oj", "oj", "oj"], Some(1));
        check(&["o-", "j-", "j-", "j-"], Some(0));
        // Too short, both, joined from the start, gone meanwhile.
        check(&["oo", "oj", "oj", "oo"], None);
        check(&["oo", "jj", "jj", "jj"], None);
        check(&["oj", "oj", "oj", "oj"], None);
        check(&["oo", "oj", "o-", "oj", "oj"], None);
    }
}
