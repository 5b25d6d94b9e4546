#!/usr/bin/env python3
"""SIGKILL at random moments while rows are being taken. Standard library only.

    kill.py STILLOHM [ROUNDS] [SEED]

Each round: start `serve` on text meters over TCP, listen to /api/events, kill -9
at random (every other time within 8 ms of a row being announced), then read
the log. No announced row is missing or different, the chain holds by hashlib,
`seq` has no hole or repeat, every value is one that a meter showed, `verify`
exits 0, a job under way is shown as interrupted. In the end one byte is flipped
and one row removed, on copies: `verify` exits 1 and names the row.
"""

import os
import random
import re
import shutil
import sys
import tempfile
import threading
import time
from decimal import Decimal

from daemon import Daemon, Failed, need, records
from meters import LineMeter, Plateaus

METERS = 12
AIR, FLAT = 1.6, 3.2


class Announced:
    """Rows heard on the event stream, over all rounds."""

    def __init__(self):
        self.rows, self.lock, self.fresh = {}, threading.Lock(), threading.Event()
        self.changed = []

    def __call__(self, row):
        with self.lock:
            known = self.rows.setdefault(int(row["seq"]), row["chain"])
            if known != row["chain"]:
                self.changed.append(row["seq"])
        self.fresh.set()


def settings():
    """Each meter shows values of its own, so that a row cannot be mistaken for another's."""
    meters = []
    for n in range(METERS):
        values = [f"{100 * (n + 1) + k}.{k} Ohm" for k in range(8)]
        meters.append((values, LineMeter(Plateaus(values, AIR, FLAT, phase=-n * (AIR + FLAT) / METERS, again=True))))
    return meters


def check_log(daemon, announced, meters):
    rows = daemon.log()
    with announced.lock:
        heard, changed = dict(announced.rows), list(announced.changed)
    need(not changed, f"announced twice with different chains: seq {changed}")
    for seq, chain in heard.items():
        need(seq <= len(rows), f"seq {seq} was announced and is missing: the log ends at {len(rows)}")
        need(rows[seq - 1]["chain"] == chain, f"seq {seq} was announced with another chain than the log has")
    shown = {f"m{n:02}": {Decimal(v.split()[0]) for v in values} for n, (values, _) in enumerate(meters)}
    for row in rows:
        if row["event"] == "value":
            need(Decimal(row["value_ohms"]) in shown[row["meter"]], f"seq {row['seq']}: {row['meter']} never showed {row['value_ohms']}")
    return rows


def rounds(stillohm, folder, count, luck):
    meters = settings()
    tables = [
        {"name": f'"m{n:02}"', "protocol": '"text-line"', "tcp": f'{{ address = "127.0.0.1:{m.port}" }}', "bench": f'"bench-{n:02}"'}
        for n, (_, m) in enumerate(meters)
    ]
    daemon, announced = Daemon(stillohm, folder, tables), Announced()
    job = None
    for n in range(1, count + 1):
        daemon.start()
        if job:
            interrupted(daemon, job, n)
        listener = daemon.events(announced)
        if job is None:
            job = start_job(daemon)
        time.sleep(luck.uniform(0.05, 5.0))
        if n % 2:
            announced.fresh.clear()
            announced.fresh.wait(6.0)
            time.sleep(luck.uniform(0.0, 0.008))
        need(daemon.child.poll() is None, f"round {n}: the daemon ended by itself; {daemon.last_words()}")
        daemon.kill()
        listener.join(5.0)
        # The next start repairs the tail, and it is what a later reader finds.
        daemon.start()
        daemon.drain()
        rows = check_log(daemon, announced, meters)
        if n % 10 == 0 or n == count:
            daemon.run("verify", daemon.data)
            print(f"round {n}: {len(rows)} rows, {len(announced.rows)} announced, none missing", flush=True)
    values = sum(row["event"] == "value" for row in rows)
    need(values >= count, f"only {values} values in {count} rounds: the kills did not fall while rows were taken")
    return daemon


def interrupted(daemon, job, n):
    """The job is shown as interrupted, within the two seconds in which a view may be old."""
    for _ in range(20):
        found = [j["state"] for j in daemon.request("GET", "/api/state")[1]["jobs"] if j["job"] == job]
        if found == ["interrupted"]:
            return
        time.sleep(0.1)
    raise Failed(f"round {n}: expected job {job} as interrupted, found {found}")


def start_job(daemon):
    body = {
        "motor": {"model": "HB-CP 40", "kind": "two_wire", "rated_v": 230, "electronics": "no"},
        "asset": "pump 7",
        "bench": "bench-00",
    }
    status, answer = daemon.request("POST", "/api/jobs", body)
    need(status in (200, 201), f"POST /api/jobs: expected 201, found {status}: {answer}")
    return answer["job"]


def tampered(daemon, folder):
    """One flipped byte and one removed row, on copies: `verify` exits 1 and names the row."""
    for what in ("flipped byte", "removed row"):
        copy = os.path.join(folder, what.replace(" ", "-"))
        shutil.copytree(daemon.data, copy)
        path = os.path.join(copy, "log", os.path.basename(daemon.log_files()[0]))
        with open(path, "rb") as f:
            lines = records(f.read())
        at = len(lines) // 2
        if what == "removed row":
            lines = lines[:at] + lines[at + 1 :]
        else:
            row = bytearray(lines[at])
            row[row.index(b",") + 3] ^= 0x01
            lines[at] = bytes(row)
        with open(path, "wb") as f:
            f.write(b"".join(line + b"\n" for line in lines))
        done = daemon.run("verify", copy, expect=1)
        said = (done.stdout + done.stderr).decode()
        named = re.search(r"row (\d+)", said)
        # The header is line 0, so the line's place is its seq.
        need(named and int(named[1]) == at, f"{what}: expected verify to name row {at} first, it said {said!r}")
        print(f"{what}: verify exits 1 and names row {at}")


def main():
    if len(sys.argv) not in (2, 3, 4):
        print(__doc__, file=sys.stderr)
        return 2
    count = int(sys.argv[2]) if len(sys.argv) > 2 else 15
    seed = int(sys.argv[3]) if len(sys.argv) > 3 else random.randrange(10**6)
    print(f"{count} rounds, seed {seed}")
    with tempfile.TemporaryDirectory(prefix="stillohm-kill-") as folder:
        try:
            tampered(rounds(os.path.abspath(sys.argv[1]), folder, count, random.Random(seed)), folder)
        except Failed as why:
            print(f"kill: {why}", file=sys.stderr)
            return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
