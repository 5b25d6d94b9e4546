//! What a view may show as taken: only what is on the disk.
//!
//! The engine runs ahead of the disk by one sync, and for ever once the log
//! cannot be written. Digits are live and go out at once. Jobs, and the words
//! that say that something was taken, go out when the rows behind them are
//! acknowledged; until then the last ones that were stay.

use crate::view::{JobView, MeterView, View};

/// Words of `settle` that say that a value was taken: each stands for a row.
const TAKEN: [&str; 3] = ["taken", "remove the clips", "pulled down"];

/// What was shown, and what waits for its rows.
#[derive(Debug, Default)]
pub(super) struct Shown {
    jobs: Vec<JobView>,
    /// For each meter, whether what it says was taken is on the disk.
    recorded: Vec<bool>,
    waiting: Option<Waiting>,
}

#[derive(Debug)]
struct Waiting {
    /// The last row behind it.
    seq: u64,
    jobs: Vec<JobView>,
    taken: Vec<bool>,
}

impl Shown {
    /// What of `view` may go out, when rows up to `made` are behind it and
    /// rows up to `acknowledged` are on the disk.
    pub(super) fn of(&mut self, mut view: View, made: u64, acknowledged: u64) -> View {
        let taken: Vec<bool> = view.meters.iter().map(is_taken).collect();
        self.recorded.resize(taken.len(), false);
        if let Some(done) = self.waiting.take_if(|w| w.seq <= acknowledged) {
            self.jobs = done.jobs;
            for (recorded, taken) in self.recorded.iter_mut().zip(done.taken) {
                *recorded |= taken;
            }
        }
        if made <= acknowledged {
            self.jobs.clone_from(&view.jobs);
            self.recorded.clone_from(&taken);
            self.waiting = None;
            return view;
        }
        for ((meter, recorded), taken) in view.meters.iter_mut().zip(&mut self.recorded).zip(&taken)
        {
            // A contact that has ended takes its word with it: the next one has its own row.
            *recorded &= *taken;
            if *taken && !*recorded {
                meter.settle = if meter.hold.is_some() {
                    "holding"
                } else {
                    "steady"
                };
            }
        }
        let jobs = core::mem::replace(&mut view.jobs, self.jobs.clone());
        // The one that waits is not replaced: under steady load none would ever be through.
        self.waiting.get_or_insert(Waiting {
            seq: made,
            jobs,
            taken,
        });
        view
    }
}

fn is_taken(meter: &MeterView) -> bool {
    TAKEN.contains(&meter.settle)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Each line: the engine's word, how many rows it has made, how many are on
    /// the disk; then the word that is shown.
    #[track_caller]
    fn check(steps: &[(&'static str, u64, u64, &str)]) {
        let mut shown = Shown::default();
        for (at, (word, made, acknowledged, expected)) in steps.iter().enumerate() {
            let view = View {
                meters: vec![meter(word)],
                ..View::default()
            };
            let view = shown.of(view, *made, *acknowledged);
            assert_eq!(view.meters[0].settle, *expected, "step {at}");
            assert_eq!(view.meters[0].shown, "22.7 kΩ", "digits are live");
        }
    }

    fn meter(settle: &'static str) -> MeterView {
        MeterView {
            name: String::from("ohms-1"),
            bench: String::new(),
            protocol: String::new(),
            port: String::new(),
            connected: true,
            trouble: String::new(),
            shown: String::from("22.7 kΩ"),
            shown_at: None,
            flags: Vec::new(),
            settle,
            progress: 1.0,
            hold: None,
            good_frames: 0,
            bad_frames: 0,
            last_bad: String::new(),
        }
    }

    #[test]
    fn a_value_is_shown_as_taken_when_its_row_is_on_the_disk() {
        check(&[
            ("moving", 1, 1, "moving"),
            ("taken", 2, 1, "steady"),
            ("taken", 2, 2, "taken"),
            ("remove the clips", 2, 2, "remove the clips"),
        ]);
    }

    #[test]
    fn a_disk_that_takes_nothing_more_leaves_nothing_to_be_shown_as_taken() {
        check(&[
            ("taken", 2, 2, "taken"),
            ("remove the clips", 3, 2, "remove the clips"),
            ("no contact", 3, 2, "no contact"),
            ("taken", 4, 2, "steady"),
            ("remove the clips", 4, 2, "steady"),
        ]);
    }

    #[test]
    fn under_steady_load_each_word_is_out_one_view_late_at_most() {
        check(&[
            ("taken", 5, 4, "steady"),
            ("taken", 7, 6, "taken"),
            ("remove the clips", 9, 8, "remove the clips"),
        ]);
    }
}
