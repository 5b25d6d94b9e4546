//! The rules of settling in numbers, each with its unit and its reason.
//!
//! All of these are our own choice unless marked; none was fitted to a single
//! meter. Counts are counts of the range shown, times are seconds of dwell:
//! the time that readings vouch for, without silence and without burst tails.

/// Seconds a plateau must stand on a range that it cannot leave downwards.
/// Shorter plateaus come from ranging, filters and clips that still slip.
pub(super) const DWELL: f64 = 1.3;
/// Seconds when the number would fit the next lower range: it may still be ranging.
pub(super) const DWELL_RANGING: f64 = 1.5;
/// Seconds when the full scale is unknown: nothing tells whether it still is.
/// Below the 3 s that a plain flat contact is promised at 20 readings a second.
pub(super) const DWELL_UNKNOWN: f64 = 2.4;
/// Part of full scale below which a number would fit the next lower range:
/// ranges go in tens, and meters switch a little late.
pub(super) const FITS_LOWER: f64 = 0.105;
/// Part of full scale below which it would fit two ranges lower.
pub(super) const FITS_TWO_LOWER: f64 = 0.0105;
/// Readings that a plateau must hold at least.
pub(super) const READINGS: u32 = 5;
/// Readings when the number would fit the next lower range: slow meters rest
/// for two to four readings on each range that they pass.
pub(super) const READINGS_RANGING: u32 = 6;
/// Readings when it would fit two ranges lower.
pub(super) const READINGS_FAR: u32 = 8;
/// After a plateau that proved false, the next must stand this much longer …
pub(super) const FALSE_FACTOR: f64 = 1.25;
/// … and this many seconds more.
pub(super) const FALSE_EXTRA: f64 = 0.4;
/// … but never for more than this many seconds in all.
pub(super) const DWELL_MOST: f64 = 4.5;
/// A plateau this many tolerances from the one that broke off is the same again.
pub(super) const BACK_TOLS: f64 = 3.0;
/// A new plateau without an opening before it must stand this much longer
/// than a first one: nobody said that the clips moved.
pub(super) const ANOTHER_FACTOR: f64 = 1.15;
/// It must lie this many tolerances from the value taken to be another contact.
pub(super) const ANOTHER_TOLS: f64 = 6.0;
/// … and this many times the noise.
pub(super) const ANOTHER_NOISES: f64 = 8.0;

/// Counts within which the level that follows drift has arrived.
pub(super) const LEVEL_FOLLOWED: f64 = 0.02;

/// A reading this many tolerances from the plateau is a jump …
pub(super) const JUMP_TOLS: f64 = 3.0;
/// … if it is also this many times the usual step from reading to reading.
pub(super) const JUMP_STEPS: f64 = 6.0;

/// Seconds of the slowest winding or charge that is still waited for. What
/// such a curve has to come is less than what it moved, by a factor that only
/// time decides; faster curves have less to come.
pub(super) const SLOWEST_CURVE: f64 = 10.0;
/// Bending from which a curve is an exponential: less may be a swing.
pub(super) const BENDS: f64 = 2.3;
/// No curve is believed to be faster than this many seconds.
pub(super) const FASTEST_CURVE: f64 = 4.0;
/// The most that may be to come, in tolerances.
pub(super) const TO_COME: f64 = 0.85;
/// … and when it wanders.
pub(super) const TO_COME_RESTLESS: f64 = 0.74;
/// Standard errors that count as doubt of what is to come.
pub(super) const DOUBT: f64 = 0.35;
/// Standard errors from which motion is sure.
pub(super) const SURE: f64 = 2.0;
/// What lay farther off than this many tolerances before is another story.
pub(super) const NEAR: f64 = 2.0;
/// Windows at least that are looked at for wandering.
pub(super) const NEAR_WINDOWS: f64 = 2.5;
/// Sure motion above this multiple of the drift limit ends the look.
pub(super) const MOVING: f64 = 1.5;
/// What is kept wanders if its variance is above this, in counts squared …
pub(super) const WANDERS: f64 = 0.4;
/// … and as many times what its steps explain.
pub(super) const SHARED: f64 = 3.0;
/// … or if it surely moved by more than this many counts.
pub(super) const TREND: f64 = 1.2;
/// Standard errors that count as doubt when it wanders.
pub(super) const DOUBT_RESTLESS: f64 = 1.3;
/// With a trend, a display may hide this many counts of motion.
pub(super) const UNSEEN: f64 = 0.65;
/// Largest less smallest, in counts, of a display that stands still: what a
/// value between two digits shows with a little noise.
pub(super) const STILL_COUNTS: f64 = 2.0;
/// Readings after which chance does not look like that.
pub(super) const STILL_READINGS: f64 = 50.0;
/// Standing still, drift up to this multiple of the limit: more must not be taken.
pub(super) const STILL_DRIFT: f64 = 3.0;
/// Seconds of plateau within which standing still is all that is asked: what
/// runs slowly to its end has run for longer.
pub(super) const STILL_YOUNG: f64 = 3.2;
/// The mean may be in doubt by this part of the tolerance (one standard error).
pub(super) const MEAN_DOUBT: f64 = 0.22;
/// A mean that stays in doubt by this many tolerances is not looked at further.
pub(super) const HOPELESS: f64 = 0.5;
/// Seconds of a regular swing that its mean needs at least.
pub(super) const BEAT_SECONDS: f64 = 2.5;
/// Largest less smallest of a swing that is pickup, in tolerances.
pub(super) const BEAT_TOLS: f64 = 6.0;
/// Crossings of the mean that must be seen: two whole beats.
pub(super) const BEAT_CROSSINGS: usize = 5;
/// The longest half beat may be this many times the shortest.
pub(super) const BEAT_REGULAR: f64 = 1.8;
/// Bins of a half beat at least: quicker ones are noise to a mean.
pub(super) const BEAT_BINS: usize = 3;
/// The means of two beats may differ by this multiple of the drift limit …
pub(super) const BEAT_DRIFT: f64 = 1.0;
/// … and by this part of the tolerance.
pub(super) const BEAT_MEAN: f64 = 0.15;
/// Half a count in standard deviations of an even spread: what rounding hides.
pub(super) const ROUNDING: f64 = 0.289;

/// Seconds of silence that end a plateau: clips may have moved meanwhile. Links
/// that only stall are back by then.
pub(super) const SILENCE: f64 = 3.5;
/// … and as many times the usual interval.
pub(super) const SILENCE_INTERVALS: f64 = 4.5;
/// Over-range readings that open a contact: one is never a release.
pub(super) const OPEN_READINGS: u32 = 2;
/// Seconds of over-range that open a contact, "about 1 s".
pub(super) const OPEN_SECONDS: f64 = 0.95;

/// Part of the nominal voltage from which a press is a press.
pub(super) const PRESSED: f64 = 0.1;
/// Seconds below the start of a hold after which the tester is pulled down.
pub(super) const PULLED_SECONDS: f64 = 3.0;
/// … and voltages that must be seen there, half a second apart at least.
pub(super) const PULLED_VOLTAGES: usize = 3;
/// Rise in 3 s, as part of the nominal voltage, that is still a ramp.
pub(super) const RAMP_RISE: f64 = 0.04;
/// Rise in 3 s, as part of the nominal voltage, that is only noise.
pub(super) const RAMP_NOISE: f64 = 0.006;
/// Seconds below the start after which a voltage that only wavers is pulled down too.
pub(super) const WAVER_SECONDS: f64 = 8.0;
/// Seconds of too little voltage that lose a hold, "about 1 s".
pub(super) const SAG_SECONDS: f64 = 0.9;
/// Seconds of silence after too little voltage that lose it too.
pub(super) const SAG_SILENT: f64 = 2.0;
/// Seconds after a mark in which a reading counts for it; never interpolated.
pub(super) const MARK_WAIT: f64 = 2.0;
/// … and seconds more by the meter's own clock: its readings may come late
/// and still be of their moment.
pub(super) const OWN_LATE: f64 = 3.0;
/// Part of the usual interval below which a reading is a double or the tail of
/// a burst …
pub(super) const APART: f64 = 0.35;
/// … but readings this many seconds apart are none.
pub(super) const APART_SECONDS: f64 = 0.1;
/// Seconds by which a reading after a silence may be old …
pub(super) const OLD_SECONDS: f64 = 1.2;
/// … or this part of the time held, in which the value moves by about 2 %.
pub(super) const OLD_PART: f64 = 0.05;
/// Usual intervals in which another reading may well come.
pub(super) const OLD_TIME: f64 = 2.5;
/// Growth that does not show beside noise: an old reading is as good.
pub(super) const OLD_GROWTH: f64 = 1.025;
/// Seconds without voltage that are a release: nobody lets go for less.
pub(super) const GONE_SECONDS: f64 = 0.4;
/// The next press raises what is left of the voltage by this factor at least.
pub(super) const AGAIN: f64 = 1.15;
/// Part of the voltage that is left where it dies away, by an exponential of
/// up to 10 s or so; a sag stands, but for its noise …
pub(super) const DYING: f64 = 0.965;
/// … after this many seconds, and in half of them …
pub(super) const DYING_SECONDS: f64 = 0.4;
/// … this part.
pub(super) const DYING_STEP: f64 = 0.985;
/// Seconds of the same voltage after which it stands.
pub(super) const STANDS_SECONDS: f64 = 0.6;
/// Seconds after a dip in which the charging current spoils a resistance.
pub(super) const BACK_SECONDS: f64 = 0.6;
/// Most over least current of a tester that gives all that it has: noise.
pub(super) const SAME_AMPERES: f64 = 1.3;
/// … and where the resistance leapt down: two numbers by chance differ more.
pub(super) const LEAP_AMPERES: f64 = 1.06;
/// Least current in amperes that is all that a tester has: testers give
/// 0.1 mA to some mA (common practice).
pub(super) const LEAST_MOST: f64 = 0.000_02;
/// Part by which the resistance must have fallen to have pulled the voltage
/// down with it: more than noise.
pub(super) const FELL_PART: f64 = 0.045;
/// … and no further than to this part of what the fall of the voltage says: a
/// number that leaps down is none of the motor's.
pub(super) const FELL_LEAST: f64 = 0.3;
/// Seconds after its peak in which a voltage below the start falls together
/// with the resistance.
pub(super) const GIVES_SECONDS: f64 = 1.0;
/// Seconds over which the growth of a resistance is looked at.
pub(super) const GROWTH_SPAN: f64 = 0.5;
/// Seconds for which a motor fills, and its resistance may multiply from
/// reading to reading.
pub(super) const FILLING_SECONDS: f64 = 12.0;
/// Full scale, as a multiple of the last resistance, where the stream does not say it.
pub(super) const UNKNOWN_FULL: f64 = 2.5;
/// What noise may add to that growth.
pub(super) const GROWTH_SLACK: f64 = 1.5;
/// Seconds of the same growth by which over-range may be ahead of it: displays filter.
pub(super) const GROWTH_AHEAD: f64 = 3.0;
/// Test voltages of testers, for one that was set to another than planned (common practice).
pub(super) const STEPS: [f64; 8] = [50.0, 100.0, 250.0, 500.0, 1000.0, 2500.0, 5000.0, 10000.0];
/// Amperes from which a tester at a lower step is rather one that is pulled
/// down: common testers give 1 mA (common practice), weak ones less; taking a
/// lower step for pulled down is the careful error.
pub(super) const WEAK_AMPERES: f64 = 0.000_2;
