//! A simulated person: reads what is asked, says what their hands do next.
//!
//! They see what any person sees, the live view, and have a person's means:
//! two clips a meter, a test button, a key that confirms. They know the motor's
//! leads by their names and nothing about how the program works.

use core::time::Duration;

use crate::input::Attestation;
use crate::limits::Kind;
use crate::row::{JobOutcome, Verdict};
use crate::sim::motor::Clips;
use crate::stamp::Stamp;
use crate::view::{Ask, JobState, JobView, View};

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
    /// Ends the job: nothing is left, or a fault was found and that will do.
    End,
}

/// Hands and the little that they remember.
#[derive(Clone, Debug)]
pub struct Person {
    kind: Kind,
    meters: Vec<Held>,
    asked: Option<Ask>,
    asked_at: Stamp,
    /// The display was seen to change since this was asked.
    saw_change: bool,
    last: Stamp,
    /// Goes on to the end of the sheet although a fault was found.
    thorough: bool,
}

/// A meter as the person holds it.
#[derive(Clone, Debug)]
struct Held {
    name: String,
    has_button: bool,
    clips: Clips,
    down: bool,
    moved: Stamp,
    /// When "the clips are on" was last said.
    said: Stamp,
    /// The button was held over joined clips for the proof after, and that did not end it.
    tried: bool,
}

/// How long it takes to read what is asked.
const READ: Duration = Duration::from_millis(500);
/// How long a hand needs between two deeds.
const HAND: Duration = Duration::from_millis(300);
/// How long clips stay off before they go elsewhere.
const OFF: Duration = Duration::from_millis(1400);
/// How long a person looks at over-range before they say that the clips are on.
const LOOK: Duration = Duration::from_millis(1000);
/// The same where over-range is a surprise.
const LOOK_TWICE: Duration = Duration::from_secs(3);
/// How long a person waits for what they have said to be taken.
const PATIENCE: Duration = Duration::from_secs(8);
/// Before this a display may still speak of the contact before.
const STALE: Duration = Duration::from_millis(2500);

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
            said: Stamp::ZERO,
            tried: false,
        };
        Self {
            kind,
            meters: meters.iter().map(held).collect(),
            asked: None,
            asked_at: Stamp::ZERO,
            saw_change: false,
            last: Stamp::ZERO,
            thorough: false,
        }
    }

    /// The same, but one who measures every point although a fault was found.
    #[must_use]
    pub fn thorough(self) -> Self {
        Self {
            thorough: true,
            ..self
        }
    }

    /// The next deed, if there is one now.
    pub fn next(&mut self, job: &JobView, view: &View) -> Option<Deed> {
        let now = view.at;
        if self.asked.as_ref() != Some(&job.ask) {
            self.asked = Some(job.ask.clone());
            self.asked_at = now;
            self.saw_change = false;
        }
        if now.since(self.last) < HAND {
            return None;
        }
        let wanted = self.wanted(&job.ask, view);
        let deed = self
            .put_down(&job.ask, wanted, view)
            .or_else(|| self.take_up(job, wanted, view))?;
        self.last = now;
        self.remember(&deed, now);
        Some(deed)
    }

    fn remember(&mut self, deed: &Deed, now: Stamp) {
        let after = |ask: &Ask| ask.test == "leads" && ask.point == "after";
        let after = self.asked.as_ref().is_some_and(after);
        for held in &mut self.meters {
            match deed {
                Deed::Clips { meter, to } if *meter == held.name => {
                    held.clips = *to;
                    held.moved = now;
                }
                Deed::Button { meter, down } if *meter == held.name => {
                    held.down = *down;
                    held.tried |= *down && after;
                }
                Deed::ClipsOn if held.clips != Clips::Open => held.said = now,
                _ => {}
            }
        }
    }

    /// Where the clips of the asked meter belong now; `None`: no clips are needed.
    fn wanted(&mut self, ask: &Ask, view: &View) -> Option<Clips> {
        if ask.confirm == Some(Attestation::DisplayFollows) {
            // Joined until the display has changed, then open again.
            let joined = self
                .meters
                .iter()
                .any(|held| held.name == ask.meter && held.clips == Clips::Joined);
            self.saw_change |= joined && !over_range(&ask.meter, view);
            return (!self.saw_change).then_some(Clips::Joined);
        }
        place(ask, self.kind)
    }

    /// What has served its purpose: a button, clips whose value was taken,
    /// clips of a meter that is not asked for.
    fn put_down(&self, ask: &Ask, wanted: Option<Clips>, view: &View) -> Option<Deed> {
        for held in &self.meters {
            let mine = held.name == ask.meter;
            let over = view.at.since(held.moved) > STALE && done_with(&held.name, view);
            let stays = mine && wanted == Some(held.clips) && !(over && ask.confirm.is_none());
            if held.down && !(stays && presses(ask)) {
                return Some(Deed::Button {
                    meter: held.name.clone(),
                    down: false,
                });
            }
            // One clip moves from ground to a second lead: it does not come off before.
            let one_moves = mine && held.clips == Clips::ToGround && is_contact(ask);
            if held.clips != Clips::Open && !stays && !one_moves {
                return Some(Deed::Clips {
                    meter: held.name.clone(),
                    to: Clips::Open,
                });
            }
        }
        None
    }

    fn take_up(&self, job: &JobView, wanted: Option<Clips>, view: &View) -> Option<Deed> {
        let (ask, now) = (&job.ask, view.at);
        if now.since(self.asked_at) < READ {
            return None;
        }
        if job.state == JobState::Active && may_end(job, self.thorough) {
            return Some(Deed::End);
        }
        let held = self.meters.iter().find(|held| held.name == ask.meter);
        if let (Some(held), Some(to)) = (held, wanted) {
            if held.clips != to {
                let rested = now.since(held.moved) >= OFF || is_contact(ask);
                return rested.then(|| Deed::Clips {
                    meter: held.name.clone(),
                    to,
                });
            }
            let in_vain = held.tried && ask.test == "leads";
            if held.has_button && !held.down && presses(ask) && !in_vain {
                return Some(Deed::Button {
                    meter: held.name.clone(),
                    down: true,
                });
            }
            let look = if ask.test == "ground" {
                LOOK
            } else {
                LOOK_TWICE
            };
            let looked = now.since(held.moved.max(self.asked_at)) >= look;
            let waits = held.said > held.moved && now.since(held.said) < PATIENCE;
            let over = over_range(&held.name, view);
            if ask.clips_on && looked && over && !waits {
                return Some(Deed::ClipsOn);
            }
            if ask.confirm == Some(Attestation::DisplayFollows) {
                return None;
            }
        }
        ask.confirm.map(Deed::Confirm)
    }
}

/// Nothing is left, or a fault was found and its test is through.
fn may_end(job: &JobView, thorough: bool) -> bool {
    let through = |state: &str| state == "done" || state == "skipped";
    let finished = job.ask.test.is_empty() && job.points.iter().all(|p| through(p.state));
    let fault = !thorough
        && job.outcome == JobOutcome::FaultFound
        && job
            .points
            .iter()
            .any(|p| p.verdict == Some(Verdict::Fail) && p.test != job.ask.test);
    finished || fault
}

/// Whether a button is held for what is asked.
fn presses(ask: &Ask) -> bool {
    matches!(
        ask.confirm,
        None | Some(Attestation::DisplayFollows | Attestation::VoltageOn)
    )
}

/// Whether the contact of an over-range reading is to be shown: a ground test
/// for which "the clips are on" is no answer any more.
fn is_contact(ask: &Ask) -> bool {
    ask.test == "ground" && ask.confirm.is_none() && !ask.clips_on
}

fn over_range(meter: &str, view: &View) -> bool {
    view.meters
        .iter()
        .any(|m| m.name == meter && m.shown == "over-range")
}

/// Whether the meter says that it has what it wanted of this contact.
fn done_with(meter: &str, view: &View) -> bool {
    view.meters.iter().any(|m| {
        m.name == meter
            && matches!(
                m.settle,
                "taken" | "remove the clips" | "pulled down" | "let go too early"
            )
    })
}

/// Where the clips go for a point; `None` where none are needed.
fn place(ask: &Ask, kind: Kind) -> Option<Clips> {
    use Attestation::{Dead, Disconnected};
    if matches!(ask.confirm, Some(Dead | Disconnected)) {
        return None;
    }
    match (ask.test.as_str(), ask.point.as_str(), kind) {
        ("leads", _, _) => Some(Clips::Joined),
        ("ground_path", _, _) => Some(Clips::GroundPath),
        ("ground", _, _) if is_contact(ask) => Some(Clips::Between(0, 1)),
        ("ground" | "insulation", _, _) => Some(Clips::ToGround),
        ("winding", "start", Kind::ThreeWire) => Some(Clips::Between(0, 2)),
        ("winding", "total", Kind::ThreeWire) => Some(Clips::Between(1, 2)),
        ("winding", "main" | "line_12", _) => Some(Clips::Between(0, 1)),
        ("winding", "line_23", _) => Some(Clips::Between(1, 2)),
        ("winding", "line_31", _) => Some(Clips::Between(2, 0)),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::view::MeterView;

    /// A view at `seconds` in which meter `m` shows and settles as said, and
    /// the ask is `test point [confirm|clips_on]`.
    fn next(
        person: &mut Person,
        seconds: f64,
        shown: &str,
        settle: &'static str,
        ask: &str,
    ) -> Option<Deed> {
        let mut words = ask.split(' ');
        let mut word = || words.next().unwrap_or_default().to_owned();
        let (test, point, more) = (word(), word(), word());
        let job = JobView {
            job: String::from("J1"),
            bench: String::new(),
            asset: String::new(),
            motor: String::new(),
            tester: String::new(),
            state: JobState::Active,
            ask: Ask {
                meter: String::from("m"),
                test,
                point,
                clips_on: more == "clips_on",
                confirm: Attestation::from_word(&more),
                ..Ask::default()
            },
            points: Vec::new(),
            outcome: JobOutcome::Incomplete,
            why: String::new(),
            banners: Vec::new(),
            discharge_until: None,
            diagnosis: Vec::new(),
        };
        let view = View {
            at: Stamp::from_seconds(seconds),
            meters: vec![MeterView {
                name: String::from("m"),
                bench: String::new(),
                protocol: String::new(),
                port: String::new(),
                calibration: String::new(),
                connected: true,
                trouble: String::new(),
                shown: shown.to_owned(),
                shown_at: None,
                flags: Vec::new(),
                settle,
                progress: 0.0,
                hold: None,
                ohms: None,
                over_range: false,
                test_volts: None,
                good_frames: 0,
                bad_frames: 0,
                last_bad: String::new(),
                last_bad_bytes: String::new(),
                battery_percent: None,
            }],
            ..View::default()
        };
        person.next(&job, &view)
    }

    fn clips(to: Clips) -> Option<Deed> {
        Some(Deed::Clips {
            meter: String::from("m"),
            to,
        })
    }

    fn button(down: bool) -> Option<Deed> {
        Some(Deed::Button {
            meter: String::from("m"),
            down,
        })
    }

    #[test]
    fn clips_go_on_come_off_when_taken_and_rest_before_they_go_elsewhere() {
        let p = &mut Person::new(Kind::TwoWire, &[("m", false)]);
        let main = "winding main clips_on";
        assert_eq!(next(p, 10.0, "over-range", "no contact", main), None);
        assert_eq!(
            next(p, 11.0, "over-range", "no contact", main),
            clips(Clips::Between(0, 1))
        );
        assert_eq!(next(p, 13.0, "4.2 Ω", "moving", main), None);
        let ground = "ground all_to_ground clips_on";
        assert_eq!(next(p, 15.0, "4.2 Ω", "taken", ground), clips(Clips::Open));
        assert_eq!(next(p, 16.0, "over-range", "no contact", ground), None);
        assert_eq!(
            next(p, 17.0, "over-range", "no contact", ground),
            clips(Clips::ToGround)
        );
    }

    #[test]
    fn over_range_to_ground_is_looked_at_then_said_and_one_clip_shows_the_contact() {
        let p = &mut Person::new(Kind::TwoWire, &[("m", false)]);
        let ground = "ground all_to_ground clips_on";
        next(p, 10.0, "over-range", "no contact", ground);
        assert_eq!(
            next(p, 11.0, "over-range", "no contact", ground),
            clips(Clips::ToGround)
        );
        assert_eq!(next(p, 11.5, "over-range", "no contact", ground), None);
        assert_eq!(
            next(p, 13.0, "over-range", "no contact", ground),
            Some(Deed::ClipsOn)
        );
        assert_eq!(
            next(p, 14.0, "over-range", "no contact", ground),
            None,
            "said once"
        );
        let contact = "ground all_to_ground";
        assert_eq!(
            next(p, 16.0, "over-range", "remove the clips", contact),
            None
        );
        assert_eq!(
            next(p, 17.0, "over-range", "remove the clips", contact),
            clips(Clips::Between(0, 1))
        );
    }

    #[test]
    fn a_button_is_pressed_only_after_everyone_stands_clear_and_let_go_when_taken() {
        let p = &mut Person::new(Kind::TwoWire, &[("m", true)]);
        let clear = "insulation all_to_ground stand_clear";
        next(p, 10.0, "over-range", "no contact", clear);
        assert_eq!(
            next(p, 11.0, "over-range", "no contact", clear),
            clips(Clips::ToGround)
        );
        assert_eq!(
            next(p, 12.0, "over-range", "no contact", clear),
            Some(Deed::Confirm(Attestation::StandClear))
        );
        let hold = "insulation all_to_ground";
        assert_eq!(next(p, 13.0, "over-range", "press", hold), None);
        assert_eq!(next(p, 14.0, "over-range", "press", hold), button(true));
        assert_eq!(next(p, 20.0, "1.2 GΩ", "holding", hold), None);
        let short = "insulation all_to_ground shorted_to_ground";
        assert_eq!(next(p, 25.0, "1.4 GΩ", "taken", short), button(false));
    }

    #[test]
    fn a_display_is_seen_to_change_before_that_is_confirmed() {
        let p = &mut Person::new(Kind::TwoWire, &[("m", true)]);
        let follows = "leads before display_follows";
        next(p, 10.0, "over-range", "no contact", follows);
        assert_eq!(
            next(p, 11.0, "over-range", "no contact", follows),
            clips(Clips::Joined)
        );
        assert_eq!(
            next(p, 12.0, "over-range", "no contact", follows),
            button(true)
        );
        assert_eq!(next(p, 12.5, "over-range", "no contact", follows), None);
        assert_eq!(next(p, 13.0, "0.000 MΩ", "moving", follows), button(false));
        assert_eq!(
            next(p, 13.5, "0.000 MΩ", "moving", follows),
            clips(Clips::Open)
        );
        assert_eq!(
            next(p, 14.0, "over-range", "no contact", follows),
            Some(Deed::Confirm(Attestation::DisplayFollows))
        );
    }
}
