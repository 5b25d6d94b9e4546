#!/usr/bin/env python3
"""A job under which the program is killed. Standard library only.

    job.py STILLOHM

SIGKILL in the middle of a job: after the start it is shown as interrupted and
nothing that is measured goes to it; `go_on` continues it, the leads are asked
for again and proven again; all its rows bear its name, and what was measured
before stays. The log verifies and the chain holds.
"""

import os
import sys
import tempfile
import time

from daemon import Daemon, Failed, need
from hands import HandMeter

BODY = {
    "motor": {"model": "HB-CP 40", "kind": "two_wire", "rated_v": 230, "electronics": "no"},
    "asset": "pump 7",
    "bench": "bench-1",
}
# Ohms of joined leads, of the ground path, and of the winding.
LEADS, PATH, WINDING = "0.25", "0.5", "14.25"


class Bench:
    """The job as a person sees it, and what a person does about it."""

    def __init__(self, daemon, meter):
        self.daemon, self.meter, self.job = daemon, meter, None

    def view(self, holds, seconds=6.0):
        """The job, as soon as it is as asked."""
        until = time.monotonic() + seconds
        while True:
            found = [j for j in self.daemon.request("GET", "/api/state")[1]["jobs"] if j["job"] == self.job]
            if found and holds(found[0]):
                return found[0]
            need(time.monotonic() < until, f"expected another state of {self.job} within {seconds} s, found {found}")
            time.sleep(0.05)

    def do(self, act, **body):
        status, answer = self.daemon.request("POST", f"/api/jobs/{self.job}/{act}", body)
        need(status == 200, f"{act} {body}: expected 200, found {status}: {answer}")

    def confirm(self, test, what):
        self.view(lambda j: j["ask"]["test"] == test and j["ask"]["confirm"] == what)
        self.do("confirm", what=what)

    def measure(self, test, ohms):
        """Clips off, then on; until the point is done."""
        self.view(lambda j: j["ask"]["test"] == test)
        self.meter.shown = "OL"
        time.sleep(2.0)
        self.meter.shown = f"{ohms} Ohm"
        self.view(lambda j: any(p["test"] == test and p["state"] == "done" for p in j["points"]))


def check(stillohm, folder):
    meter = HandMeter()
    table = {"name": '"hand"', "bench": '"bench-1"', "protocol": '"text-line"', "tcp": f'{{ address = "127.0.0.1:{meter.port}" }}'}
    daemon = Daemon(stillohm, folder, [table])
    daemon.start()
    bench = Bench(daemon, meter)
    status, answer = daemon.request("POST", "/api/jobs", BODY)
    need(status == 200, f"POST /api/jobs: expected 200, found {status}: {answer}")
    bench.job = answer["job"]
    bench.confirm("dead", "dead")
    bench.confirm("leads", "display_follows")
    bench.measure("leads", LEADS)
    bench.measure("ground_path", PATH)
    meter.shown = "OL"
    daemon.kill()

    daemon.start()
    found = bench.view(lambda j: j["state"] == "interrupted", 3.0)
    print(f"{bench.job} after SIGKILL: {found['state']}: {found['ask']['say']}")
    need(found["ask"]["test"] == "", f"an interrupted job asks for nothing, found {found['ask']}")
    # A contact now is nobody's point.
    time.sleep(2.0)
    meter.shown = f"{WINDING} Ohm"
    time.sleep(4.0)
    before = daemon.log()
    bench.do("go_on")
    found = bench.view(lambda j: j["state"] == "active")
    need(found["ask"]["test"] == "leads", f"after going on: expected the leads to be asked for, found {found['ask']}")
    due = {p["test"] for p in found["points"] if p["test"] == "leads" and p["state"] == "done"}
    need(not due, f"after going on: expected no leads as proven, found {found['points']}")
    bench.confirm("leads", "display_follows")
    bench.measure("leads", LEADS)
    print("gone on with: the leads were asked for and proven again")
    bench.measure("winding", WINDING)
    bench.do("end")
    daemon.drain()

    rows = daemon.log()
    values = [(r["test"], r["value_ohms"], r["job"]) for r in rows if r["event"] == "value" and r["test"]]
    strays = [r for r in before if r["value_ohms"] == WINDING]
    need(len(strays) == 1 and not strays[0]["job"] and strays[0]["verdict"] == "not_judged", f"a contact under an interrupted job: {strays}")
    expected = [("leads", LEADS), ("ground_path", PATH), ("leads", LEADS), ("winding", WINDING)]
    need(values == [(*v, bench.job) for v in expected], f"expected {expected} of {bench.job}, found {values}")
    starts = [(r["event"], r["job"]) for r in rows if r["event"] in ("job_start", "job_end")]
    need(starts == [("job_start", bench.job), ("job_end", bench.job)], f"expected one start and one end, found {starts}")
    daemon.run("verify", daemon.data)
    print(f"{bench.job}: {len(values)} values under one name, {rows[-2]['event']} {rows[-2]['reason']!r}, verify exits 0")


def main():
    if len(sys.argv) != 2:
        print(__doc__, file=sys.stderr)
        return 2
    with tempfile.TemporaryDirectory(prefix="stillohm-job-") as folder:
        try:
            check(os.path.abspath(sys.argv[1]), folder)
        except Failed as why:
            print(f"job: {why}", file=sys.stderr)
            return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
