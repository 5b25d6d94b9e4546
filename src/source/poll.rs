//! When a request goes out on a port: a pure schedule, time an argument.
//!
//! It never looks at a byte. An answer is any bytes, and it has ended when the
//! line was quiet. Polls take turns, so every unit on a shared bus is asked;
//! keep-alive messages wait for a poll's answer, since two messages at once
//! would garble a bus.

use core::time::Duration;

use crate::description::{Request, When};
use crate::stamp::Stamp;

/// Between two start messages, and before the first poll after them (own).
const START_GAP: Duration = Duration::from_millis(50);

/// An answer that does not end is over after this many time-outs (own): a
/// line that never falls quiet would otherwise never be asked again.
const ANSWER_MAX: u32 = 4;

/// The requests of one port and whose turn it is.
#[derive(Debug)]
pub(super) struct Schedule {
    requests: Vec<Request>,
    /// When each request may go out next, by its place in `requests`.
    due: Vec<Stamp>,
    /// The place after the poll that went out last.
    turn: usize,
    line: LineState,
    /// The quiet time of the poll that went out last.
    quiet: Duration,
}

#[derive(Clone, Copy, Debug)]
enum LineState {
    /// The port is not open.
    Closed,
    /// Something may go out from this moment on.
    Free(Stamp),
    /// A poll went out and nothing came back yet.
    Asked { timeout: Stamp, longest: Stamp },
    /// An answer is coming in.
    Answering { over: Stamp, longest: Stamp },
}

/// Never: beyond the end of any run.
const NEVER: Stamp = Stamp::from_nanos(u64::MAX);

impl Schedule {
    /// A schedule for a port that is not open yet.
    pub(super) fn new(requests: Vec<Request>) -> Self {
        Self {
            due: vec![NEVER; requests.len()],
            requests,
            turn: 0,
            line: LineState::Closed,
            quiet: Duration::ZERO,
        }
    }

    /// The port opened: the start messages go out once, then the polls.
    pub(super) fn opened(&mut self, at: Stamp) {
        self.due.fill(at);
        self.turn = 0;
        self.quiet = Duration::ZERO;
        self.line = LineState::Free(at);
    }

    /// The port is gone: nothing goes out until it opens.
    pub(super) fn closed(&mut self) {
        self.line = LineState::Closed;
    }

    /// Bytes came in.
    pub(super) fn heard(&mut self, at: Stamp) {
        let over = at.plus(self.quiet);
        self.line = match self.line {
            LineState::Closed => LineState::Closed,
            // A late answer: whoever is asked next must not be talked over.
            LineState::Free(from) => LineState::Free(from.max(over)),
            LineState::Asked { longest, .. } | LineState::Answering { longest, .. } => {
                LineState::Answering {
                    over: over.min(longest),
                    longest,
                }
            }
        };
    }

    /// What goes out now, if anything does. It counts as sent.
    pub(super) fn next(&mut self, at: Stamp) -> Option<&Request> {
        match self.line {
            LineState::Closed => return None,
            LineState::Asked { timeout, .. } if at >= timeout => {
                self.line = LineState::Free(timeout.plus(self.quiet));
            }
            LineState::Answering { over, .. } if at >= over => self.line = LineState::Free(over),
            LineState::Free(_) | LineState::Asked { .. } | LineState::Answering { .. } => (),
        }
        let LineState::Free(from) = self.line else {
            return None;
        };
        if at < from {
            return None;
        }
        let place = self.choose(at)?;
        self.sent(at, place);
        self.requests.get(place)
    }

    /// When [`Schedule::next`] may have something; `None`: not before bytes come or the port opens.
    pub(super) fn deadline(&self) -> Option<Stamp> {
        if self.requests.is_empty() {
            return None;
        }
        let soonest = self.due.iter().copied().min().filter(|due| *due < NEVER)?;
        match self.line {
            LineState::Closed => None,
            LineState::Free(from) => Some(soonest.max(from)),
            LineState::Asked { timeout, .. } => Some(timeout),
            LineState::Answering { over, .. } => Some(over),
        }
    }

    /// Start messages first, in order; then what keeps alive; then polls by turns.
    fn choose(&self, at: Stamp) -> Option<usize> {
        let count = self.requests.len();
        let due = |place: &usize| self.due[*place] <= at;
        let kind = |place: &usize| rank(&self.requests[*place].when);
        (0..count)
            .map(|step| (self.turn + step) % count)
            .filter(due)
            .min_by_key(|place| (kind(place), if kind(place) < 2 { *place } else { 0 }))
    }

    fn sent(&mut self, at: Stamp, place: usize) {
        match self.requests[place].when {
            When::Start => {
                self.due[place] = NEVER;
                self.line = LineState::Free(at.plus(START_GAP));
            }
            When::KeepAlive { every } => {
                self.due[place] = at.plus(every);
                self.line = LineState::Free(at.plus(self.quiet));
            }
            When::Poll {
                every,
                timeout,
                quiet,
            } => {
                self.due[place] = at.plus(every);
                self.turn = place + 1;
                self.quiet = quiet;
                self.line = LineState::Asked {
                    timeout: at.plus(timeout),
                    longest: at.plus(timeout.saturating_mul(ANSWER_MAX)),
                };
            }
        }
    }
}

fn rank(when: &When) -> u8 {
    match when {
        When::Start => 0,
        When::KeepAlive { .. } => 1,
        When::Poll { .. } => 2,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::text::Text;
    use bytes::Bytes;
    use proptest::prelude::*;

    const fn ms(ms: u64) -> Duration {
        Duration::from_millis(ms)
    }

    fn request(name: &str, when: When) -> Request {
        Request {
            to: None,
            name: Text::clean(name),
            data: Bytes::new(),
            when,
        }
    }

    fn poll(name: &str, every: u64) -> Request {
        request(
            name,
            When::Poll {
                every: ms(every),
                timeout: ms(80),
                quiet: ms(20),
            },
        )
    }

    /// Runs to `until` ms; bytes come in at the moments of `heard`. What goes
    /// out is given as `ms:name`. Time only moves to deadlines and to bytes.
    fn check(requests: Vec<Request>, heard: &[u64], until: u64, sent: &str) {
        let mut schedule = Schedule::new(requests);
        assert!(
            schedule.next(Stamp::ZERO).is_none(),
            "nothing before opening"
        );
        schedule.opened(Stamp::ZERO);
        let mut heard = heard.iter().map(|h| Stamp::ZERO.plus(ms(*h))).peekable();
        let end = Stamp::ZERO.plus(ms(until));
        let mut out = Vec::new();
        let mut at = Stamp::ZERO;
        loop {
            while let Some(request) = schedule.next(at) {
                out.push(format!("{}:{}", at.nanos() / 1_000_000, request.name));
            }
            let deadline = schedule.deadline().unwrap_or(NEVER);
            let next = deadline.min(heard.peek().copied().unwrap_or(NEVER));
            assert!(next > at || heard.peek() == Some(&next), "stuck at {at:?}");
            if next > end {
                break;
            }
            at = next;
            if heard.next_if_eq(&next).is_some() {
                schedule.heard(at);
            }
        }
        assert_eq!(out.join(" "), sent);
    }

    #[test]
    fn an_answer_and_quiet_then_the_next_unit() {
        let units = vec![poll("u1", 0), poll("u2", 0), poll("u3", 0)];
        check(units, &[10, 40, 50, 80], 110, "0:u1 30:u2 70:u3 100:u1");
    }

    #[test]
    fn a_silent_unit_costs_its_timeout_and_quiet_only() {
        let units = vec![poll("u1", 0), poll("u2", 0)];
        check(units, &[10], 250, "0:u1 30:u2 130:u1 230:u2");
    }

    #[test]
    fn never_more_often_than_every() {
        check(vec![poll("u1", 200)], &[5, 205], 399, "0:u1 200:u1");
    }

    #[test]
    fn a_late_answer_is_not_talked_over() {
        // u1 answers at 95, after its time-out at 80; u2 waits until 115.
        check(
            vec![poll("u1", 0), poll("u2", 0)],
            &[95],
            150,
            "0:u1 115:u2",
        );
    }

    #[test]
    fn a_line_that_never_falls_quiet_is_asked_again() {
        let babble: Vec<u64> = (1..60).map(|n| n * 10).collect();
        // Four time-outs of 80 ms.
        check(vec![poll("u1", 0)], &babble, 330, "0:u1 320:u1");
    }

    #[test]
    fn start_messages_go_first_and_once() {
        let requests = vec![
            poll("u1", 0),
            request("hello", When::Start),
            request("unlock", When::Start),
        ];
        check(requests, &[], 250, "0:hello 50:unlock 100:u1 200:u1");
    }

    #[test]
    fn keep_alive_waits_for_no_answer_but_lets_one_finish() {
        let alone = vec![request("alive", When::KeepAlive { every: ms(100) })];
        check(alone, &[], 250, "0:alive 100:alive 200:alive");
        let beside = vec![
            request("alive", When::KeepAlive { every: ms(100) }),
            poll("u1", 50),
        ];
        check(beside, &[40, 45], 110, "0:alive 0:u1 65:u1");
    }

    #[test]
    fn nothing_goes_out_on_a_closed_port_and_all_of_it_after_reopening() {
        let mut schedule = Schedule::new(vec![request("hello", When::Start), poll("u1", 0)]);
        for round in 0..2 {
            let at = Stamp::from_seconds(f64::from(round));
            schedule.opened(at);
            assert_eq!(schedule.next(at).unwrap().name.as_str(), "hello");
            assert_eq!(
                schedule.next(at.plus(START_GAP)).unwrap().name.as_str(),
                "u1"
            );
            schedule.closed();
            assert!(schedule.deadline().is_none());
            assert!(schedule.next(at.plus(ms(900))).is_none());
        }
    }

    proptest! {
        /// Whatever comes back and when: a poll waits for the one before it,
        /// for its own interval, and every unit gets its turn.
        #[test]
        fn polls_keep_their_distance_and_all_have_their_turn(
            every in proptest::collection::vec(0u64..400, 1..6),
            heard in proptest::collection::btree_set(0u64..3_000, 0..200),
        ) {
            let mut schedule = Schedule::new(every.iter().map(|e| poll("u", *e)).collect());
            schedule.opened(Stamp::ZERO);
            // `requests` are told apart by their place, seen through `turn`.
            let mut last: Option<(u64, Option<u64>)> = None;
            let mut asked = vec![None::<u64>; every.len()];
            for now in 0..3_000 {
                let at = Stamp::ZERO.plus(ms(now));
                if heard.contains(&now) {
                    schedule.heard(at);
                    last = last.map(|(sent, _)| (sent, Some(now)));
                }
                if schedule.next(at).is_none() {
                    continue;
                }
                let place = schedule.turn - 1;
                if let Some((sent, answered)) = last {
                    let quiet = answered.is_some_and(|a| now - a >= 20) || now - sent >= 320;
                    prop_assert!(quiet || answered.is_none() && now - sent >= 100);
                }
                if let Some(before) = asked[place] {
                    prop_assert!(now - before >= every[place]);
                }
                asked[place] = Some(now);
                last = Some((now, None));
            }
            // The longest turn is 320 ms and 20 ms of quiet, and there are at most 5 before.
            prop_assert!(asked.iter().all(|a| a.is_some_and(|a| a + 400 + 6 * 340 >= 3_000)));
        }
    }
}
