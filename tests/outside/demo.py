#!/usr/bin/env python3
"""`demo --once`, judged by the log that it leaves. Standard library only.

    demo.py STILLOHM

It ends by itself within 90 s with exit 0; three motors have an end: one with
nothing found, one with a fault of its winding, one whose ground test failed with
"do not energize"; its chain holds by hashlib, `verify` exits 0, and replaying
its capture gives the log byte for byte. Nothing it says calls a motor good or safe.
"""

import os
import re
import subprocess
import sys
import tempfile
import time

from daemon import Daemon, Failed, need


def check(stillohm, folder):
    # Only its reading of a log is used: no daemon is started here.
    log = Daemon(stillohm, folder, [], web=False)
    began = time.monotonic()
    try:
        done = subprocess.run([stillohm, "demo", "--once", "--data", log.data], capture_output=True, text=True, timeout=90, check=False)
    except subprocess.TimeoutExpired:
        raise Failed("expected an end within 90 s") from None
    took = time.monotonic() - began
    need(done.returncode == 0, f"expected exit 0, found {done.returncode}: {done.stdout[-1500:]}{done.stderr[-500:]}")
    print(f"ended by itself after {took:.0f} s, exit 0")

    rows = log.log()
    ends = {r["job"]: r["reason"].split(":")[0] for r in rows if r["event"] == "job_end"}
    need(sorted(ends.values()) == ["fault_found", "fault_found", "no_fault_found"], f"expected two faults and one without, found {ends}")
    fails = {(r["job"], r["test"]) for r in rows if r["verdict"] == "fail"}
    faulty = [job for job, outcome in ends.items() if outcome == "fault_found"]
    tests = sorted({test for job, test in fails if job in faulty})
    need(tests == ["ground", "winding"], f"expected one winding fault and one ground fault, found {sorted(fails)}")
    need(all(job in faulty for job, _ in fails), f"a fail in a job without a fault: {sorted(fails)}")
    need("DO NOT ENERGIZE" in done.stdout, "expected the words DO NOT ENERGIZE")
    for word in ("good", "safe"):
        need(not re.search(rf"\b{word}\b", done.stdout, re.IGNORECASE), f"it says {word!r}")
    insulation = [r for r in rows if r["test"] == "insulation" and r["event"] == "value"]
    need(len(insulation) == 1 and insulation[0]["verdict"] == "pass", f"expected one insulation pass, found {insulation}")
    print(f"{len(rows)} rows: {', '.join(ends.values())}")

    log.run("verify", log.data)
    with open(log.log_files()[0], "rb") as f:
        whole = f.read()
    capture = os.path.join(log.data, "captures", rows[-1]["capture"])
    need(log.run("replay", capture).stdout == whole, "replaying the capture gives another log")
    print("verified; replayed byte for byte")


def main():
    if len(sys.argv) != 2:
        print(__doc__, file=sys.stderr)
        return 2
    with tempfile.TemporaryDirectory(prefix="stillohm-demo-check-") as folder:
        try:
            check(os.path.abspath(sys.argv[1]), folder)
        except Failed as why:
            print(f"demo: {why}", file=sys.stderr)
            return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
