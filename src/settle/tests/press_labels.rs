//! What may be logged of a press, from what is true and what reached the host.
//!
//! The rules are the public corpus's: the clock starts at the first reading
//! that shows nine tenths of the voltage; a mark's window begins six tenths of
//! an interval and 0.05 s before it; right is what a perfect tester would show
//! in the window, within 2 % or two counts; letting go, or too little voltage
//! for about a second, is said within 3 s or four intervals and ends the run.
//! What the host cannot know is left open: a mark without a reading that must
//! be fresh, a dip of which only the beginning arrived.

use super::press_tester::{Face, Line};
use super::presses::{Fate, Push, Trace};
use super::traces::GRID;

/// Seconds after a mark in which a reading counts for it: the contract's.
const WAIT: f64 = 2.0;
/// Seconds of silence after which a reading may be an old one.
const OLD: f64 = 1.2;
/// Part of the nominal voltage at which the clock starts.
const START: f64 = 0.9;
/// Part of it below which the hold is lost.
const SAG: f64 = 0.85;

/// What is right at a mark.
#[derive(Clone, Debug)]
pub(crate) struct Mark {
    /// Seconds.
    pub(crate) mark: f64,
    /// When it is due at the earliest.
    pub(crate) due: f64,
    /// From when to when it may be logged.
    pub(crate) window: (f64, f64),
    /// Ohms that are right, if any are.
    pub(crate) ohms: Option<(f64, f64)>,
    /// Whether over-range is right.
    pub(crate) over: bool,
    /// Whether it must be logged.
    pub(crate) required: bool,
}

/// What may be said of one press.
#[derive(Clone, Debug)]
pub(crate) struct Run {
    /// From when to when what is said belongs to this press.
    pub(crate) span: (f64, f64),
    pub(crate) marks: Vec<Mark>,
    /// From when the end of the run may be said.
    pub(crate) abort_from: f64,
    /// Until when it must be said, if it must.
    pub(crate) abort_by: Option<f64>,
    pub(crate) fate: Fate,
    /// Whether the host cannot tell a sag that is over from a new press.
    pub(crate) again: bool,
    /// From when the tester is too weak.
    pub(crate) weak_from: f64,
    /// Whether readings enough arrived to see that the tester is too weak.
    pub(crate) seen_weak: bool,
}

/// The runs of a trace; none where what arrived says nothing.
pub(crate) fn runs(trace: &Trace) -> Vec<Run> {
    let mut runs: Vec<Run> = (0..trace.presses.len())
        .map(|index| run(trace, index))
        .collect();
    // A release that nobody saw makes one press of two.
    if let [first, second] = trace.presses.as_slice() {
        let low: Vec<f64> = trace
            .lines
            .iter()
            .filter(|line| line.sent > first.up && line.sent < second.down)
            .filter(|line| line.volts < SAG * trace.step)
            .map(|line| line.at)
            .collect();
        if low.last().is_none_or(|last| last - low[0] < 0.9) {
            return Vec::new();
        }
    }
    // What is said belongs to the press of which the host heard last.
    for run in runs.iter_mut().filter(|_| trace.measured) {
        let heard = |at: f64| {
            let line = trace.lines.iter().find(|line| line.sent >= at);
            line.map_or(at, |line| line.at - 0.001)
        };
        run.span = (heard(run.span.0), heard(run.span.1));
    }
    runs
}

fn run(trace: &Trace, index: usize) -> Run {
    let push = trace.presses[index];
    let ends = trace
        .presses
        .get(index + 1)
        .map_or(f64::INFINITY, |p| p.down);
    let lines: Vec<&Line> = trace
        .lines
        .iter()
        .filter(|line| line.sent >= push.down && line.sent < ends)
        .collect();
    let mut run = Run {
        span: (push.down, ends),
        marks: Vec::new(),
        abort_from: f64::INFINITY,
        abort_by: None,
        fate: trace.fate,
        again: false,
        weak_from: push.down,
        seen_weak: weak_for(trace, &lines) >= 5.0,
    };
    let Some(started) = started(trace, &lines) else {
        if push.sag.is_some() {
            // It sagged before anybody saw it rise.
            run.fate = Fate::Either;
        }
        return run;
    };
    if push.sag.is_some_and(|(from, _, _)| started.0 > from + 0.5) {
        // The same, and it came back.
        (run.fate, run.again) = (Fate::Either, true);
    }
    run.marks = trace
        .marks
        .iter()
        .map(|mark| self::mark(trace, &push, &lines, started, *mark))
        .collect();
    ended(trace, &push, &lines, started, &mut run);
    if let Some((from, to, _)) = push.sag
        && to - from > 1.0
    {
        unseen_sag(trace, &lines, (from, to), &mut run);
    }
    // Two wrong voltages in a row look like a release.
    let low = |line: &Line| line.volts < SAG * trace.step && line.sent < push.up;
    let mut twos = lines.windows(2);
    if trace.tester.glitches > 0.0
        && let Some(two) = twos.find(|two| low(two[0]) && low(two[1]))
    {
        run.again = true;
        run.abort_from = run.abort_from.min(two[0].at);
    }
    if trace.fate == Fate::PulledDown {
        let gives = gives_way(trace, &push).unwrap_or(f64::INFINITY);
        run.abort_from = run.abort_from.min(gives);
        run.abort_by = None;
        run.weak_from = gives;
        let due = started.0 + trace.marks[trace.marks.len() - 1];
        run.seen_weak = due > gives + 0.5 && gave_way(trace, &push, &lines, gives);
    }
    run
}

/// What of a sag did not arrive cannot be known.
fn unseen_sag(trace: &Trace, lines: &[&Line], sag: (f64, f64), run: &mut Run) {
    let low: Vec<&&Line> = lines
        .iter()
        .filter(|line| line.sent >= sag.0 && line.sent < sag.1 + 0.3)
        .filter(|line| line.volts < SAG * trace.step)
        .collect();
    let seen = low.iter().any(|line| line.at - low[0].at >= 1.0);
    if !seen {
        // It may be taken for a dip, or not be seen at all.
        for mark in &mut run.marks {
            mark.required = false;
            mark.ohms = Some((0.0, f64::INFINITY));
        }
        run.abort_by = None;
    }
    // A voltage that stood is no voltage that dies away.
    let stood = (0..low.len()).any(|from| {
        let near = |line: &&&&Line| (line.volts / low[from].volts - 1.0).abs() < 0.03;
        let stands: Vec<_> = low[from..].iter().take_while(near).collect();
        stands
            .last()
            .is_some_and(|last| last.at - low[from].at >= 0.7)
    });
    run.again = !stood;
}

/// Whether enough arrived to see that the voltage gave way, and slowly.
fn gave_way(trace: &Trace, push: &Push, lines: &[&Line], gives: f64) -> bool {
    let low: Vec<&&Line> = lines
        .iter()
        .filter(|line| line.sent > gives - 3.0 && line.sent < push.up)
        .filter(|line| line.volts < SAG * trace.nominal)
        .collect();
    let Some(first) = low.first() else {
        return false;
    };
    let slow = |line: &&&&Line| line.volts > 0.3 * trace.nominal && line.ohms().is_some();
    let seen: Vec<f64> = low.iter().take_while(slow).map(|line| line.at).collect();
    let paced = seen
        .windows(2)
        .take_while(|two| two[1] - two[0] < 1.5)
        .count();
    paced >= 2 && seen[paced] - first.at >= 1.6
}

/// The earliest and the latest stamp at which the clock may start.
fn started(trace: &Trace, lines: &[&Line]) -> Option<(f64, f64)> {
    if !trace.measured {
        let on = trace.words.first()?.0;
        return Some((on, on));
    }
    let on = |line: &&&Line| line.volts >= START * trace.step && line.face != Face::Blank;
    let first = lines.iter().find(on)?;
    let mut latest = first.at;
    if trace.step < trace.nominal {
        // Seen only when it has stood for a while.
        latest += 4.0 + 6.0 / trace.tester.rate;
    }
    if trace.tester.own.is_some() {
        let zero = |line: &&Line| line.own.map(|own| line.sent - own);
        let zero = lines.iter().filter_map(zero).fold(first.at, f64::min);
        return Some((zero, latest.max(zero + 1.2)));
    }
    Some((first.at, latest))
}

/// Seconds after which nothing of this press is right any more: when it ends.
fn last_sent(trace: &Trace, push: &Push) -> f64 {
    let mut last = push.up;
    if let Some((from, to, part)) = push.sag
        && part < SAG
        && to - from > 1.0
    {
        // About a second of too little voltage loses the hold.
        last = last.min(from + 1.6);
    }
    if let Some(off) = push.lead_off {
        last = last.min(off);
    }
    if let Some(gives) = gives_way(trace, push) {
        last = last.min(gives);
    }
    if let Some((off, false)) = trace.words.get(1) {
        last = last.min(*off);
    }
    last
}

/// When a tester that reached its voltage is pulled below what a hold needs.
fn gives_way(trace: &Trace, push: &Push) -> Option<f64> {
    if trace.fate != Fate::PulledDown {
        return None;
    }
    let at = |part: f64, below: bool| {
        move |moment: &super::presses::Moment| (moment.volts < part * trace.nominal) == below
    };
    let down = cell(push.down);
    let reached = down + trace.world[down..].iter().position(at(START, false))?;
    let gives = reached
        + trace.world[reached..]
            .iter()
            .position(at(SAG - 0.006, true))?;
    Some(gives as f64 * GRID).filter(|gives| *gives < push.up)
}

fn mark(trace: &Trace, push: &Push, lines: &[&Line], started: (f64, f64), mark: f64) -> Mark {
    let tester = &trace.tester;
    let early = 0.6 / tester.rate + 0.05;
    let own = if tester.own.is_some() { 3.0 } else { 0.0 };
    let window = (
        started.0 + mark - early,
        started.1 + mark + WAIT + 0.01 + own,
    );
    let last = last_sent(trace, push);
    let near: Vec<&&Line> = lines
        .iter()
        .filter(|line| line.at >= window.0 && line.at <= window.1 && line.sent < last)
        .collect();
    let mut mark = Mark {
        due: started.0 + mark,
        mark,
        window,
        ohms: None,
        over: false,
        required: false,
    };
    if let Some(off) = push.lead_off {
        mark.over |= looks_like_rise(trace, lines, started.0, off);
    }
    let before = (1.5 / tester.rate).max(0.3);
    let at_the_mark = |due: f64| (-before..0.45).contains(&(due - last));
    if at_the_mark(started.0 + mark.mark) {
        // Let go at the mark: nobody can tell before or after.
        mark.ohms = Some((0.0, f64::INFINITY));
        mark.over |= trace.world[cell(last) - 2].ohms > 0.9 * tester.full();
        return mark;
    }
    let Some(latest) = near.last() else {
        return mark;
    };
    // How old a reading may be without anybody noticing.
    let old = OLD.max(0.05 * mark.mark);
    let oldest = window.0 - tester.lag() - old;
    let (mut low, mut high) = (f64::INFINITY, 0.0_f64);
    let (from, to) = (cell(oldest.max(push.down)), cell(latest.sent));
    for moment in &trace.world[from..=to.max(from).min(trace.world.len() - 1)] {
        if moment.push.is_some() && moment.volts >= 0.04 * trace.nominal {
            low = low.min(moment.ohms);
            high = high.max(moment.ohms);
        }
    }
    let noise = 4.0 * tester.noise;
    let tol = |ohms: f64| (2.0 * tester.count_at(ohms)).max(0.02 * ohms + noise * ohms);
    if low < f64::INFINITY && low - tol(low) <= tester.full() {
        mark.ohms = Some((low - tol(low), high + tol(high)));
    }
    mark.over |= high * (1.0 + noise) > tester.full();
    let sags = push.sag.map_or(
        last,
        |(from, to, _)| if to - from > 1.0 { from } else { last },
    );
    // Wherever between the two the clock starts.
    let slack = started.1 - started.0;
    let mut dues = (0..=50).map(|part| started.0 + mark.mark + 0.02 * slack * f64::from(part));
    mark.required = (mark.ohms.is_some() || mark.over)
        && dues.all(|due| sure(trace, lines, due, last.min(sags)));
    // A number just after the end looks like one just before.
    let after = |line: &&&Line| line.at >= window.0 && (last..last + 0.45).contains(&line.sent);
    if !mark.required && lines.iter().find(after).is_some_and(|l| l.at <= window.1) {
        mark.ohms = Some((0.0, f64::INFINITY));
    }
    mark
}

/// Whether a lead that falls off looks like the rise of a value: just below
/// the top, while it climbs steeply, or before anybody saw how it climbs.
fn looks_like_rise(trace: &Trace, lines: &[&Line], start: f64, off: f64) -> bool {
    let tester = &trace.tester;
    let most = lines.iter().map(|line| line.volts).fold(0.0, f64::max);
    let full = |line: &&&Line| line.at > start && line.volts >= 0.97 * most;
    let seen: Vec<&&Line> = lines
        .iter()
        .filter(full)
        .take_while(|line| line.sent < off)
        .filter(|line| line.ohms().is_some())
        .collect();
    let (Some(first), Some(last)) = (seen.first(), seen.last()) else {
        return true;
    };
    if last.at - first.at < 1.1 {
        return true;
    }
    let held = off - start;
    let (before, now) = (trace.world[cell(off - 1.0)], trace.world[cell(off) - 2]);
    // What arrived may have climbed more steeply than what was lost.
    let earlier = seen.iter().rfind(|line| line.sent <= last.sent - 0.4);
    let shown = |line: &Line| line.ohms().unwrap_or(1.0);
    let climbed = shown(last) / earlier.map_or(shown(last), |line| shown(line));
    let climbed = libm::pow(
        climbed.max(1.0),
        1.0 / (last.sent - earlier.map_or(0.0, |e| e.sent)),
    );
    let growth = (1.0 + 4.0 * tester.noise) * (now.ohms / before.ohms).max(climbed);
    let after = lines.iter().find(|line| line.sent >= off);
    let gap = after.map_or(0.0, |line| line.at - last.at);
    let steep = libm::pow(growth, gap + 3.0);
    let flat = libm::pow(
        (held + gap + 3.0) / held,
        libm::log(growth) / libm::log(held / (held - 1.0).max(0.2)),
    );
    let most = 2.0 * now.ohms * if held < 15.0 { steep.max(flat) } else { flat };
    most > if tester.says_range {
        tester.full()
    } else {
        2.5 * now.ohms
    }
}

fn cell(at: f64) -> usize {
    (at.max(0.0) / GRID) as usize
}

/// Whether a reading for a mark at `due` arrived of which nobody can doubt
/// that it is of that moment: it follows others, or others follow it.
fn sure(trace: &Trace, lines: &[&Line], due: f64, last: f64) -> bool {
    let usual = 1.0 / trace.tester.rate;
    let good = |line: &Line| {
        line.sent < last - 0.01
            && line.face != Face::Blank
            && (!trace.measured || line.volts >= SAG * trace.step)
    };
    let at = lines.partition_point(|line| line.at < due + 0.001);
    let (before, after) = lines.split_at(at);
    let inside: Vec<&&Line> = after
        .iter()
        .take_while(|l| l.at <= due + WAIT - 0.1)
        .collect();
    let (Some(first), Some(previous)) = (inside.first(), before.last()) else {
        return false;
    };
    let old = OLD.max(0.05 * (due - lines[0].at).max(0.0)) - usual;
    let fresh = first.at - previous.at < old.max(1.1 * usual) && first.at - first.sent < 0.3;
    // A number beside a voltage that was too little just before is none.
    let good = |line: &Line| {
        let near = |l: &&&Line| (line.at - 0.8..line.at).contains(&l.at);
        let dipped = lines
            .iter()
            .filter(near)
            .any(|l| l.volts < SAG * trace.step);
        good(line) && !(dipped && trace.measured)
    };
    let same = matches!(first.face, Face::Over) == matches!(previous.face, Face::Over);
    if fresh && same && good(first) && good(previous) {
        return true;
    }
    // Three at the usual pace, of one kind.
    inside.windows(3).any(|three| {
        let paced = three
            .windows(2)
            .all(|two| two[1].at - two[0].at > 0.5 * usual);
        let over = matches!(three[0].face, Face::Over);
        let same = three.iter().all(|l| matches!(l.face, Face::Over) == over);
        paced && same && three.iter().all(|line| good(line))
    })
}

/// When the end of a run may and must be said.
fn ended(trace: &Trace, push: &Push, lines: &[&Line], started: (f64, f64), run: &mut Run) {
    let rate = trace.tester.rate;
    let last = last_sent(trace, push);
    let since = started.1.max(started.0);
    let mut from = f64::INFINITY;
    // A mark that nobody must take may end the run in silence.
    for mark in run.marks.iter().filter(|mark| !mark.required) {
        from = from.min(mark.window.0 + WAIT - 0.2);
    }
    let open = run.marks.iter().any(|mark| !mark.required);
    if open {
        let early = push.sag.map_or(last, |(at, _, _)| at.min(last));
        from = from.min(early);
    }
    if !trace.measured {
        run.abort_from = from;
        if let Some((off, false)) = trace.words.get(1) {
            let due = run.marks.iter().any(|mark| started.1 + mark.mark > *off);
            run.abort_by = due.then_some(off + 0.05);
            if due {
                run.abort_from = run.abort_from.min(off - 0.01);
            }
        }
        return;
    }
    let low = |line: &Line| line.volts < SAG * trace.step;
    let started_lines: Vec<&&Line> = lines.iter().filter(|line| line.at >= since).collect();
    // A dip of which the end came late looks like the end of the hold.
    for (index, line) in started_lines.iter().enumerate() {
        if low(line) {
            let next = started_lines[index..].iter().find(|line| !low(line));
            if next.is_none_or(|next| next.at - line.at >= 0.7) {
                from = from.min(line.at + 0.2);
            }
        }
    }
    // Where the range is not said, a value that leaves it slowly looks like a
    // lead that falls off.
    let beyond = |moment: &super::presses::Moment| moment.ohms > trace.tester.full();
    let press = &trace.world[cell(push.down)..cell(push.up)];
    if !trace.tester.says_range && press.last().is_some_and(beyond) {
        from = from.min(started.0);
    }
    // A dip that shows for about a second, or leaves over-range of a range
    // that is not said, may end the run.
    if let Some((from_dip, to, _)) = push.sag {
        let low = |moment: &&super::presses::Moment| moment.volts < SAG * trace.step;
        let dip = &trace.world[cell(from_dip)..cell((to + 2.0).min(push.up - 0.1))];
        let long = dip.iter().filter(low).count() as f64 * GRID > 0.7;
        if long || !trace.tester.says_range {
            from = from.min(from_dip);
        }
    }
    run.abort_from = from;
    // Letting go and sagging must be said, where it shows before the last mark is due.
    let lasting = push.lead_off.is_none() && trace.fate != Fate::PulledDown;
    let first = started_lines
        .iter()
        .find(|line| low(line) && line.sent >= last - 1.7);
    if let Some(first) = first
        && lasting
    {
        let sure = started_lines
            .iter()
            .filter(|line| line.at > first.at)
            .take_while(|line| low(line))
            .find(|line| line.at - first.at >= 1.5);
        let missing = run
            .marks
            .iter()
            .any(|mark| mark.ohms.is_none() && !mark.over);
        if let Some(sure) = sure
            && missing
        {
            run.abort_by = Some(sure.at.max(first.at + (4.0 / rate).max(3.0)) + 0.01);
        }
    }
}

/// Seconds for which the voltage was seen where a tester that is too weak leaves it.
fn weak_for(trace: &Trace, lines: &[&Line]) -> f64 {
    let weak = |line: &&&Line| {
        (0.11 * trace.nominal..0.88 * trace.nominal).contains(&line.volts)
            && trace.world[cell(line.sent)].push.is_some()
    };
    let (mut seen, mut last) = (0.0, None::<f64>);
    for line in lines.iter().filter(weak) {
        if let Some(last) = last {
            let since = line.at - last;
            seen += since.min(1.5 / trace.tester.rate);
        }
        last = Some(line.at);
    }
    seen
}
