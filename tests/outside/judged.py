#!/usr/bin/env python3
"""Whole jobs by the API, held to the rules of judging from outside. Standard library only.

    judged.py STILLOHM [PATTERN]    only the jobs whose title fits it

Each job of `judged_cases.py` says its motor, how the job is begun, what the
meters show at each point, and what a person expects of each point: worked out
by hand from the rules, never read off the program. A job is driven by what the
program asks for, as a person would: confirm, clip, type, press, short, end. The
streamed ones come over TCP, 20 lines a second; the typed ones are entered.

Then the log: its columns, `replay` of each capture gives it byte for byte,
`verify` says ok.
"""

import glob
import json
import math
import os
import re
import sys
import tempfile
import threading
import time

from daemon import Daemon, Failed, need
from hands import HandMeter
from judged_cases import CATALOGUE, DAEMONS, JOBS

NUMBERS = {
    "judged": "judged_ohms",
    "leads": "leads_ohms",
    "cable": "cable_ohms",
    "u": "uncertainty_ohms",
    "lower": "lower_ohms",
    "upper": "upper_ohms",
    "volts": "test_voltage_v",
    "elapsed": "elapsed_s",
    "value": "value",
}
# How many benches for typed jobs of one pair of meters.
BENCHES = 6
# How near is near: what follows exactly, and what is worked out roughly.
EXACT, ROUGH = 1e-9, 0.02
STANDING = "these tests cannot show turn-to-turn weakness"
NEVER = re.compile(r"\b(good|safe|safely|ok to energize)\b", re.IGNORECASE)


class Tester(HandMeter):
    """An insulation tester of lines: resistance, test voltage, seconds. Its button is `press`."""

    def __init__(self, line="{};{} V;{:.1f} s"):
        self.pressed, self.line = None, line
        super().__init__()

    @property
    def shown(self):
        if self.pressed is None:
            return self.line.format("---", 0, 0.0)
        since, ohms, volts = self.pressed
        held = time.monotonic() - since
        value = ohms(held) if callable(ohms) else ohms
        pressure = volts(held) if callable(volts) else volts
        return None if value is None else self.line.format(value, pressure, held)

    @shown.setter
    def shown(self, _):
        self.pressed = None

    def press(self, ohms, volts):
        self.pressed = (time.monotonic(), ohms, volts)


class Hand:
    """A person at one bench: does what one job asks for."""

    def __init__(self, daemon, bench, case, ohms, tester):
        self.daemon, self.bench, self.case = daemon, bench, case
        self.meters = {f"o{bench}": ohms, f"t{bench}": tester}
        self.see = {key: list(takes) for key, takes in case["see"].items()}
        self.job, self.asked, self.banners, self.wrong = None, [], set(), None

    def post(self, path, body, expect=200):
        status, answer = self.daemon.request("POST", path, body)
        need(expect is None or status == expect, f"POST {path} {body}: expected {expect}, found {status}: {answer}")
        return answer

    def act(self, act, expect=200, **body):
        return self.post(f"/api/jobs/{self.job}/{act}", body, expect)

    def state(self):
        return self.daemon.request("GET", "/api/state")[1]

    def view(self, holds=lambda job: True, seconds=8.0, what="another state"):
        until = time.monotonic() + seconds
        while True:
            found = [j for j in self.state()["jobs"] if j["job"] == self.job]
            if not found:
                return holds(None) and None  # nothing was left to measure: it has ended
            if found:
                self.banners.update(found[0]["banners"])
                if holds(found[0]):
                    return found[0]
            need(time.monotonic() < until, f"expected {what} within {seconds} s, found {found and found[0]['ask']}, points {found and found[0]['points']}")
            time.sleep(0.1)

    def run(self):
        body = {"asset": f"asset {self.bench} {self.case['title'][:40]}", "bench": f"b{self.bench}", "motor": self.case["motor"], **self.case["job"]}
        refused = self.case.get("refused")
        if refused:
            for words in refused:
                answer = json.dumps(self.post("/api/jobs", body, expect=None))
                need(words in answer, f"expected the job to be refused with {words!r}, found {answer}")
            return
        if self.case.get("before"):
            self.case["before"](self)
        self.job = self.begin(body)
        for _ in range(60):
            view = self.view()
            if view is None:
                break
            ask = view["ask"]
            self.asked.append(ask)
            key = f"{ask['test']} {ask['point']}"
            if ask["confirm"]:
                self.confirm(ask, key)
            else:
                self.measure(ask, key, view)
        else:
            raise Failed(f"no end after 60 steps; last asked: {self.asked[-3:]}")
        if self.case.get("last"):
            self.case["last"](self)

    def begin(self, body):
        """The job's name; an asset that still discharges is waited for."""
        until = time.monotonic() + 60.0
        while True:
            status, answer = self.daemon.request("POST", "/api/jobs", body)
            if status == 200:
                return answer["job"]
            need("being discharged" in str(answer) and time.monotonic() < until, f"POST /api/jobs {body}: expected 200, found {status}: {answer}")
            time.sleep(1.0)

    def earlier(self, **see):
        """The same asset's job before this one."""
        seen = {**self.case["see"], **{k.replace("_", " ", 1): v for k, v in see.items()}}
        Hand(self.daemon, self.bench, {**self.case, "see": seen, "before": None, "last": None}, *self.meters.values()).run()

    def confirm(self, ask, key):
        takes = self.see.get(ask["confirm"], [])
        if takes:
            takes.pop(0)(self)
        else:
            # A tester may say itself meanwhile that its voltage is off: then something else is asked.
            status, answer = self.daemon.request("POST", f"/api/jobs/{self.job}/confirm", {"what": ask["confirm"]})
            need(status == 200 or ask["confirm"] == "voltage_off" and status == 409, f"{ask['confirm']}: expected 200, found {status}: {answer}")

    def measure(self, ask, key, view):
        meter = self.meters[ask["meter"]] if ask["meter"] else None
        if ask["test"] == "ground" and not ask["clips_on"]:
            key = f"contact {key}"
        if ask["test"] == "leads" and ask["meter"].startswith("t"):
            key = f"{key} of the tester"
        takes = self.see.get(key)
        need(takes is not None, f"{key} was asked for and is not in the table: {ask['say']}")
        need(takes, f"{key} was asked for once more than the table has it: {ask['say']}; {view['points']}")
        take = takes.pop(0) if len(takes) > 1 or key not in self.case["ever"] else takes[0]
        if callable(take):
            take(self)
        elif isinstance(take, dict) and "skip" in take:
            self.act("skip", reason=take["skip"])
        elif isinstance(take, dict) and "press" in take:
            self.press(meter, take, view)
        elif self.case["streamed"] and not isinstance(take, dict):
            self.clip(meter, take, view, key)
        else:
            body = take if isinstance(take, dict) else {"shown": take}
            name = ask["meter"] or f"o{self.bench}"
            self.act("enter", **{"meter": name, **body})

    def clip(self, meter, shown, view, key):
        """Clips off, then on, until what is asked changes."""
        before = view["ask"]
        seen = {(p["test"], p["point"], p["seq"]) for p in view["points"]}

        def taken(job):
            now = {(p["test"], p["point"], p["seq"]) for p in job["points"]}
            return job is None or job["ask"] != before or now != seen

        said = self.case.get("suffix", "")
        meter.shown = f"OL{said}"
        time.sleep(1.6)
        if shown.startswith("OL"):
            self.act("clips_on")
        else:
            meter.shown = shown if ";" in shown else f"{shown}{said}"
        self.view(taken, 9.0, f"{shown} to be taken for {key}")

    def press(self, tester, take, view):
        """Holds the button until a value was taken, then lets go."""
        seen = {(p["test"], p["point"], p["seq"]) for p in view["points"]}
        tester.press(take["press"], take.get("volts", 512))

        def taken(job):
            return job is None or {(p["test"], p["point"], p["seq"]) for p in job["points"]} != seen

        if "release" in take:
            time.sleep(take["release"])
        else:
            self.view(taken, take.get("within", 75.0), "the press to give a value")
        tester.shown = "---"
        time.sleep(0.3)

    # What holds of the log.

    def points_of(self, key):
        test, _, point = key.partition(" ")
        meter = None
        if point.endswith(" of the tester"):
            point, meter = point[: -len(" of the tester")], f"t{self.bench}"
        elif test == "leads":
            meter = f"o{self.bench}"
        return [
            r
            for r in self.rows
            if (r["test"], r["point"]) == (test, point)
            and r["event"] in ("value", "open", "over_range", "judged")
            and meter in (None, r["meter"])
        ]

    def check(self, rows):
        self.rows = [r for r in rows if r["job"] == self.job]
        faults = []
        for key, wanted in self.case["expect"].items():
            found = self.points_of(key)
            wanted = wanted if isinstance(wanted, list) else [wanted]
            last = found[-len(wanted) :]
            if len(last) < len(wanted):
                faults.append(f"{key}: expected {len(wanted)} rows, found {len(found)}")
                continue
            for want, row in zip(wanted, last, strict=True):
                if want.get("of_first") and row["of_seq"] != last[0]["seq"]:
                    faults.append(f"{key}: expected of_seq {last[0]['seq']}, found {row['of_seq']!r}")
                faults += [f"{key}: {f}\n      shown {row['shown']!r}: {row['reason']}" for f in differs(want, row)]
        end = [r for r in self.rows if r["event"] == "job_end"]
        need(len(end) == 1, f"expected one job_end, found {end}")
        reason = end[0]["reason"]
        if not reason.startswith(f"{self.case['outcome']}: "):
            faults.append(f"expected the outcome {self.case['outcome']}, found {reason!r}")
        faults += [f"expected {w!r} at the end, found {reason!r}" for w in self.case["end"] if w not in reason]
        faults += [f"expected no {w!r} at the end, found {reason!r}" for w in self.case["not_end"] if w in reason]
        if STANDING not in reason:
            faults.append(f"the end does not say what these tests cannot show: {reason!r}")
        banners = " | ".join(sorted(self.banners))
        faults += [f"expected a banner with {w!r}, found {banners!r}" for w in self.case["banners"] if w not in banners]
        faults += [f"expected no banner with {w!r}, found {banners!r}" for w in self.case["no_banners"] if w in banners]
        faults += [f"expected a row that says {w!r}" for w in self.case.get("reasons", ()) if not any(re.search(w, r["reason"]) for r in self.rows)]
        said = " | ".join(f"{a['say']} {' '.join(a['cautions'])}" for a in self.asked)
        faults += [f"expected {w!r} to be said, found {said!r}" for w in self.case["says"] if w not in said]
        faults += [f"expected no {w!r} to be said, found {said!r}" for w in self.case["no_says"] if w in said]
        note = json.loads(next(r["note"] for r in self.rows if r["event"] == "job_start"))
        faults += [f"job_start: expected {k} {v!r}, found {note.get(k)!r}" for k, v in self.case.get("note", {}).items() if note.get(k) != v and {**(note.get(k) or {}), **v} != note.get(k)]
        passed = {t: self.passed(t) for t in ("ground", "insulation")}
        if not all(passed.values()) and "DO NOT ENERGIZE" not in reason:
            faults.append(f"passes of ground and insulation: {passed}, and the end does not say DO NOT ENERGIZE: {reason!r}")
        for row in self.rows:
            if NEVER.search(row["reason"]):
                faults.append(f"seq {row['seq']} calls something good or safe: {row['reason']!r}")
        faults += [f"seq {r['seq']}: {f}" for r in self.rows for f in columns(r)]
        need(not faults, "\n    ".join(["", *faults]))

    def passed(self, test):
        last = {}
        for r in self.rows:
            if r["test"] == test and r["point"] != "contact" and r["event"] in ("value", "open", "over_range", "judged"):
                last[r["point"]] = r["verdict"]
        return bool(last) and all(v == "pass" for v in last.values())


def differs(want, row):
    """What of a row is not as it was expected."""
    verdict, _, finding = want["is"].partition(" ")
    if (row["verdict"], row["finding"]) != (verdict, finding):
        yield f"expected {want['is']!r}, found {row['verdict']} {row['finding']!r}"
    for name, number in want.items():
        if name in NUMBERS:
            found = row[NUMBERS[name]]
            if number is None:
                if found:
                    yield f"{NUMBERS[name]}: expected none, found {found}"
                continue
            within = EXACT if name not in ("u",) and not want.get("rough") else ROUGH
            if not found or not math.isclose(float(found), number, rel_tol=within, abs_tol=1e-12):
                yield f"{NUMBERS[name]}: expected {number}, found {found!r}"
        elif name in ("acceptance", "unit", "method", "event", "limits_from", "shown"):
            if row[name] != number:
                yield f"{name}: expected {number!r}, found {row[name]!r}"
    for words in want.get("words", ()):
        if words not in row["reason"]:
            yield f"expected {words!r} in the reason"
    for words in want.get("not_words", ()):
        if words in row["reason"]:
            yield f"expected no {words!r} in the reason"


def columns(row):
    """What holds of the columns of any row."""
    if not re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z", row["recorded_at"]):
        yield f"recorded_at is {row['recorded_at']!r}"
    if row["unit"] not in ("", "ohm", "volt", "celsius", "percent", "ratio"):
        yield f"unit is {row['unit']!r}"
    if bool(row["value_ohms"]) != (row["unit"] == "ohm"):
        yield f"value_ohms is {row['value_ohms']!r} beside unit {row['unit']!r}"
    if row["value_ohms"] and row["value_ohms"] != row["value"]:
        yield f"value {row['value']} and value_ohms {row['value_ohms']} differ"
    for name in ("value", "value_ohms", "resolution_ohms", "judged_ohms", "lower_ohms", "upper_ohms", "uncertainty_ohms", "leads_ohms", "cable_ohms"):
        if row[name] and not re.fullmatch(r"-?\d+(\.\d+)?", row[name]):
            yield f"{name} is no plain decimal: {row[name]!r}"
    if row["event"] == "value" and row["verdict"] in ("pass", "fail") and (row["lower_ohms"] or row["upper_ohms"]) and not row["limits_from"]:
        yield f"limits without limits_from: {row['test']} {row['point']}"
    if row["verdict"] in ("pass", "fail") and row["test"] in ("insulation", "ground"):
        if row["acceptance"] != "guarded":
            yield f"acceptance of {row['test']} is {row['acceptance']!r}"
        if row["event"] != "judged" and not row["uncertainty_ohms"]:
            yield f"{row['test']} {row['verdict']} without uncertainty_ohms"
    if row["verdict"] and row["verdict"] not in ("pass", "fail", "undecided", "not_judged"):
        yield f"verdict is {row['verdict']!r}"
    if not row["capture"] or not row["capture_offset"]:
        yield "no capture or no capture_offset"
    if row["event"] == "job_start":
        note = json.loads(row["note"])
        for name in ("stage", "measured_at", "ground_reference", "cable", "conditions"):
            if name not in note:
                yield f"the note of job_start has no {name}"


def meters(bench, case, ohms, tester):
    """The tables of a bench's meters."""
    address = lambda m: {"tcp": f'{{ address = "127.0.0.1:{m.port}" }}'} if m else {"by_eye": "true"}
    one = {"name": f'"o{bench}"', "bench": f'"b{bench}"', **address(ohms)}
    if ohms:
        one["protocol"] = case["ohms"].get("protocol", '"text-line"')
    yield {k: v for k, v in {**one, **case["ohms"]}.items() if v is not None}
    if case["tester"] is not None:
        two = {"name": f'"t{bench}"', "bench": f'"b{bench}"', "measures": '["insulation"]', **address(tester)}
        if tester:
            two["protocol"] = '"insulation-line"'
        yield {**two, **case["tester"]}


def whole_log(daemon):
    """The captures replay to the log, byte for byte; `verify` says ok."""
    log = b""
    for path in daemon.log_files():
        with open(path, "rb") as f:
            log += f.read()
    rows = daemon.log()
    captures = sorted(glob.glob(os.path.join(daemon.data, "captures", "*.pcapng")))
    need(len(captures) == 1, f"a short run leaves one capture, found {captures}")
    again = daemon.run("replay", captures[0]).stdout
    if again != log:
        for n, (a, b) in enumerate(zip(log.split(b"\n"), again.split(b"\n"), strict=False)):
            need(a == b, f"replay differs from the log in line {n + 1}:\n  log    {a!r}\n  replay {b!r}")
        raise Failed(f"the log has {len(log)} bytes, its replay {len(again)}")
    daemon.run("verify", daemon.data)
    return rows


def hall(stillohm, folder, top, cases, failures):
    """One daemon with a bench for each job; all jobs at once."""
    os.makedirs(os.path.join(folder, "sheets"))
    os.makedirs(os.path.join(folder, "protocols"))
    for name, text in CATALOGUE.items():
        with open(os.path.join(folder, name), "w", encoding="utf-8") as f:
            f.write(text)
    # Typed jobs of the same meters take turns on a few benches; each streamed one has its own.
    benches = {}
    for case in cases:
        like = [b for b in benches.values() if not b[0]["streamed"] and b[0]["ohms"] == case["ohms"] and b[0]["tester"] == case["tester"]]
        if case["streamed"] or len(like) < BENCHES:
            benches[len(benches)] = [case]
        else:
            min(like, key=len).append(case)
    hands, tables, threads = [], [], []
    for bench, queue in benches.items():
        ohms = HandMeter() if queue[0]["streamed"] else None
        tester = Tester(*queue[0].get("line", ())) if ohms and queue[0]["tester"] is not None else None
        if ohms:
            ohms.shown = f"OL{queue[0].get('suffix', '')}"
        tables += meters(bench, queue[0], ohms, tester)
        hands.append((bench, queue, ohms, tester))
    daemon = Daemon(stillohm, folder, tables, top=top)
    daemon.start()
    done = []

    def work(bench, queue, ohms, tester):
        for case in queue:
            hand = Hand(daemon, bench, case, ohms, tester)
            done.append(hand)
            try:
                hand.run()
            except (Failed, OSError, KeyError, ValueError) as why:
                hand.wrong = f"{why}" if isinstance(why, Failed) else f"{type(why).__name__} {why}"
                if hand.job:
                    hand.act("end", expect=None)

    for hand in hands:
        threads.append(threading.Thread(target=work, args=hand))
        threads[-1].start()
    for thread in threads:
        thread.join()
    daemon.drain()
    rows = whole_log(daemon)
    for hand in done:
        try:
            need(hand.wrong is None, hand.wrong)
            if hand.job:
                hand.check(rows)
        except Failed as why:
            failures.append(f"{hand.case['title']}: {why}")
    return len(rows)


def main():
    if len(sys.argv) not in (2, 3):
        print(__doc__, file=sys.stderr)
        return 2
    words = sys.argv[2] if len(sys.argv) == 3 else ""
    began, failures, counts, threads = time.monotonic(), [], [], []
    with tempfile.TemporaryDirectory(prefix="stillohm-judged-") as folder:
        for n, (name, top) in enumerate(DAEMONS.items()):
            cases = [c for c in JOBS if c["daemon"] == name and re.search(words, c["title"])]
            if not cases:
                continue

            def run(n=n, name=name, top=top, cases=cases):
                place = os.path.join(folder, str(n))
                os.makedirs(place)
                try:
                    rows = hall(os.path.abspath(sys.argv[1]), place, top, cases, failures)
                    counts.append((len(cases), rows))
                except Failed as why:
                    failures.append(f"{name}: {why}")

            threads.append(threading.Thread(target=run))
            threads[-1].start()
        for thread in threads:
            thread.join()
    for failure in failures:
        print(f"judged: {failure}", file=sys.stderr)
    jobs, rows = (sum(c[k] for c in counts) for k in (0, 1))
    took = time.monotonic() - began
    print(f"{jobs} jobs, {jobs - len(failures)} as expected, {rows} rows replayed byte for byte, {took:.0f} s")
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
