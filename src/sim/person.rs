//! A simulated person: reads what is asked, says what their hands do next.
//!
//! They see what any person sees, the live view, and have a person's means:
//! two clips a meter, a test button, a key that confirms. They know the motor's
//! leads by their names and nothing about how the program works.

use core::time::Duration;

use crate::input::Attestation;
use crate::limits::Kind;
use crate::sim::motor::Clips;
use crate::stamp::Stamp;
use crate::view::{Ask, JobView, View};

/// One thing that hands do.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Deed {
    /// Confirms what is asked.
    Confirm(Attestation),
    /// Says that the clips are on.
    ClipsOn,
    /// Moves a meter's clips.
    Clips {
        /// The meter's name.
        meter: String,
        /// Where to.
        to: Clips,
    },
    /// Presses (`true`) or lets go of a tester's button.
    Button {
        /// The meter's name.
        meter: String,
        /// Down or up.
        down: bool,
    },
}

/// Hands and the little that they remember.
#[derive(Clone, Debug)]
pub struct Person {
    kind: Kind,
    meters: Vec<Held>,
    asked: Option<Ask>,
    asked_at: Stamp,
    last: Stamp,
}

/// A meter as the person holds it.
#[derive(Clone, Debug)]
struct Held {
    name: String,
    has_button: bool,
    clips: Clips,
    down: bool,
    moved: Stamp,
}

/// How long it takes to read what is asked.
const READ: Duration = Duration::from_millis(700);
/// How long a hand needs between two deeds.
const HAND: Duration = Duration::from_millis(400);
/// How long clips stay off before they go elsewhere.
const OFF: Duration = Duration::from_millis(1600);
/// How long a person looks at over-range before they say that the clips are on.
const LOOK: Duration = Duration::from_millis(1200);

impl Person {
    /// Somebody at a bench with these meters, each with or without a test
    /// button, before a motor of this kind.
    pub fn new(kind: Kind, meters: &[(&str, bool)]) -> Self {
        let held = |(name, has_button): &(&str, bool)| Held {
            name: (*name).to_owned(),
            has_button: *has_button,
            clips: Clips::Open,
            down: false,
            moved: Stamp::ZERO,
        };
        Self {
            kind,
            meters: meters.iter().map(held).collect(),
            asked: None,
            asked_at: Stamp::ZERO,
            last: Stamp::ZERO,
        }
    }

    /// The next deed, if there is one now.
    pub fn next(&mut self, job: &JobView, view: &View) -> Option<Deed> {
        let now = view.at;
        if self.asked.as_ref() != Some(&job.ask) {
            self.asked = Some(job.ask.clone());
            self.asked_at = now;
        }
        if now.since(self.last) < HAND {
            return None;
        }
        let deed = self
            .put_down(&job.ask, view)
            .or_else(|| self.take_up(&job.ask, view))?;
        self.last = now;
        self.remember(&deed, now);
        Some(deed)
    }

    fn remember(&mut self, deed: &Deed, now: Stamp) {
        for held in &mut self.meters {
            match deed {
                Deed::Clips { meter, to } if *meter == held.name => {
                    held.clips = *to;
                    held.moved = now;
                }
                Deed::Button { meter, down } if *meter == held.name => held.down = *down,
                _ => {}
            }
        }
    }

    /// What has served its purpose: a button, clips whose value was taken,
    /// clips of a meter that is not asked for.
    fn put_down(&self, ask: &Ask, view: &View) -> Option<Deed> {
        let wanted = place(ask, self.kind);
        for held in &self.meters {
            let over = done_with(held, view);
            let mine = held.name == ask.meter;
            let pressing = mine && wanted.is_some() && ask.confirm.is_none() && !over;
            if held.down && !pressing {
                return Some(Deed::Button {
                    meter: held.name.clone(),
                    down: false,
                });
            }
            let stays = mine && (wanted == Some(held.clips) || wanted.is_none());
            if held.clips != Clips::Open && (over || !stays) {
                return Some(Deed::Clips {
                    meter: held.name.clone(),
                    to: Clips::Open,
                });
            }
        }
        None
    }

    fn take_up(&self, ask: &Ask, view: &View) -> Option<Deed> {
        let now = view.at;
        if now.since(self.asked_at) < READ {
            return None;
        }
        let held = self.meters.iter().find(|held| held.name == ask.meter);
        if let (Some(held), Some(to)) = (held, place(ask, self.kind)) {
            if held.clips != to && needs_clips(ask) {
                let ready = now.since(held.moved) >= OFF && !done_with(held, view);
                return ready.then(|| Deed::Clips {
                    meter: held.name.clone(),
                    to,
                });
            }
            if ask.confirm.is_none() && held.has_button && !held.down {
                return Some(Deed::Button {
                    meter: held.name.clone(),
                    down: true,
                });
            }
            let over = view
                .meters
                .iter()
                .any(|m| m.name == held.name && m.shown == "over-range");
            if ask.clips_on && over && now.since(held.moved) >= LOOK {
                return Some(Deed::ClipsOn);
            }
        }
        ask.confirm.map(Deed::Confirm)
    }
}

/// Whether the clips go on before what is asked can be answered.
fn needs_clips(ask: &Ask) -> bool {
    !matches!(
        ask.confirm,
        Some(Attestation::Dead | Attestation::Disconnected | Attestation::ShortedToGround)
    )
}

/// Whether the meter says that it has what it wanted of this contact.
fn done_with(held: &Held, view: &View) -> bool {
    view.meters
        .iter()
        .find(|meter| meter.name == held.name)
        .is_some_and(|meter| {
            matches!(
                meter.settle,
                "taken" | "remove the clips" | "pulled down" | "let go too early"
            )
        })
}

/// Where the clips go for a point; `None` where none are needed.
fn place(ask: &Ask, kind: Kind) -> Option<Clips> {
    match (ask.test.as_str(), ask.point.as_str(), kind) {
        ("leads", _, _) => Some(Clips::Joined),
        ("ground_path", _, _) => Some(Clips::GroundPath),
        ("ground" | "insulation", _, _) => Some(Clips::ToGround),
        ("winding", "start", Kind::ThreeWire) => Some(Clips::Between(0, 2)),
        ("winding", "total", Kind::ThreeWire) => Some(Clips::Between(1, 2)),
        ("winding", "main" | "line_12", _) => Some(Clips::Between(0, 1)),
        ("winding", "line_23", _) => Some(Clips::Between(1, 2)),
        ("winding", "line_31", _) => Some(Clips::Between(2, 0)),
        _ => None,
    }
}
