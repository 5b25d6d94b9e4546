//! A person's word: what is attested, and what it changes.

use crate::input::Attestation;
use crate::judge::Contact;
use crate::meter::MeterId;
use crate::row::{Event, Row};
use crate::text::Text;
use crate::view::JobState;

use super::command::done;
use super::job::Job;
use super::sheet::Role;
use super::step::Step;
use super::{Benches, Done, Now, Out, Refusal, Steer, refuse, rows};

impl Benches {
    pub(super) fn confirm(
        &mut self,
        now: &Now<'_>,
        job: &Text,
        what: Attestation,
        out: &mut Out,
    ) -> Result<Done, Refusal> {
        let at = self.job(job)?;
        let asked = self.step_of(at, now);
        let job = &mut self.jobs[at];
        let off_any_time = what == Attestation::VoltageOff
            && job.state == JobState::Active
            && job.live.charge.is_on();
        let entry = match asked {
            Step::Confirm(asked, entry) if asked == what => entry,
            // A meter that was taken away cannot show that the voltage is gone.
            Step::Stop if what == Attestation::Dead => {
                job.place(Role::Dead, None).unwrap_or_default()
            }
            _ if off_any_time => job.place(Role::Insulation, None).unwrap_or_default(),
            _ => {
                return Err(refuse(format!(
                    "{what} is not what is asked now; asked is: {}",
                    super::ask::ask(job, now, asked).say
                )));
            }
        };
        let mut row = rows::of_job(now, job, Event::Attested);
        match what {
            Attestation::VoltageOff | Attestation::ShortedToGround => {
                rows::at_point(&mut row, &super::ask::charged());
            }
            _ => rows::at_point(&mut row, &job.entries[entry].point),
        }
        let meter = job.entries[entry]
            .meter
            .as_ref()
            .and_then(|name| rows::named(now, name.as_str()));
        if let Some((_, meter)) = meter {
            rows::with_meter(&mut row, now.settings, meter);
        }
        row.reason = attested(what).to_owned();
        if asked == Step::Stop {
            let bench = self.jobs[at].bench.clone();
            self.dead_again(&bench, now);
        }
        self.hold(now, at, entry, what, meter.map(|(id, _)| id), &mut row, out);
        let job = &mut self.jobs[at];
        let about = Text::clean(&row.meter);
        let seq = job.put(row, out);
        job.live.words.insert(seq, (what, about));
        Ok(done(job, seq))
    }

    /// What a person's word changes.
    #[expect(
        clippy::too_many_arguments,
        reason = "one match over everything that can be attested"
    )]
    fn hold(
        &mut self,
        now: &Now<'_>,
        at: usize,
        entry: usize,
        what: Attestation,
        meter: Option<MeterId>,
        row: &mut Row,
        out: &mut Out,
    ) {
        let Job { live, entries, .. } = &mut self.jobs[at];
        match what {
            Attestation::Dead => live.returned = false,
            Attestation::Disconnected => live.disconnected = true,
            Attestation::StandClear => {
                live.clear = Some(now.at);
                live.charged = Some(entry);
            }
            Attestation::DisplayFollows => {
                live.follows.insert(Text::clean(&row.meter));
            }
            Attestation::VoltageOn => {
                live.let_go = false;
                live.charge.on(now.at);
                if let Some(meter) = meter {
                    // The hold must be what settling waits for before its clock starts.
                    self.respec(now, out);
                    out.steer.push((meter, Steer::Voltage(true)));
                }
            }
            Attestation::VoltageOff => {
                live.let_go = false;
                live.charge.off(now.at);
                row.elapsed_s = rows::seconds(live.charge.on_for(now.at));
                if let Some(meter) = meter {
                    out.steer.push((meter, Steer::Voltage(false)));
                }
            }
            Attestation::BothEnds => {
                for pending in live.pending.iter_mut().filter(|p| p.entry == entry) {
                    pending.contact = Contact::Attested;
                    pending.contact_due = false;
                    row.of_seq = Some(pending.seq);
                }
            }
            Attestation::ShortedToGround => {
                // Who shorts it does not stand clear any more.
                live.clear = None;
                // Nor did the winding clip surely stay: what waits for a second lead is read anew.
                let kept = |p: &super::proof::Pending| {
                    !p.contact_due || entries[p.entry].role == Role::Insulation
                };
                live.pending.retain(kept);
                let on = live.charge.on_for(now.at);
                let stays = live.charge.shorted(now.at);
                row.elapsed_s = rows::seconds(on);
                let (on, stays) = (on.as_secs_f64().ceil(), stays.as_secs_f64().ceil());
                row.reason = format!(
                    "{}; under voltage for {on} s: keep it shorted for {stays} s",
                    row.reason
                );
            }
        }
    }

    /// A person proved dead what had voltage: what is heard from now on counts.
    fn dead_again(&mut self, bench: &Text, now: &Now<'_>) {
        for (watch, meter) in self.watches.iter_mut().zip(&now.settings.meters) {
            if meter.bench == *bench {
                watch.dead_again();
            }
        }
    }
}

/// What was attested, in the words of the row.
fn attested(what: Attestation) -> &'static str {
    match what {
        Attestation::Dead => {
            "dead: off, locked out, proven dead with a tester tried on a known source before and after, shaft at rest"
        }
        Attestation::Disconnected => {
            "disconnected: nothing but the motor and its cable is in the circuit"
        }
        Attestation::StandClear => "stand_clear: everyone stands clear, the test voltage may go on",
        Attestation::VoltageOn => "voltage_on: the test voltage went on; voltage not measured",
        Attestation::VoltageOff => "voltage_off: the test voltage is off",
        Attestation::BothEnds => "both_ends: both ends of the leads are where they should be",
        Attestation::ShortedToGround => "shorted_to_ground: the winding is shorted to ground",
        Attestation::DisplayFollows => {
            "display_follows: the display changes when the clips are opened and joined"
        }
    }
}
