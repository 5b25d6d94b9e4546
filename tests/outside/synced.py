#!/usr/bin/env python3
"""No row is announced before its sync, as the kernel sees it. Standard library only.

    synced.py STILLOHM

`serve` runs under strace while values are taken: each row that goes out on a
socket was written to the log before, and a sync of the log that began after
that write, and one of the capture, had ended. Without strace that is said.
"""

import os
import re
import shutil
import sys
import tempfile
import time

from daemon import Daemon, Failed, need
from hands import HandMeter

CALL = re.compile(r"^(\d+) +(\w+)\((\d+)<([^>]*)>(.*)$")
RESUMED = re.compile(r"^(\d+) +<\.\.\. (f(?:data)?sync) resumed>.*= 0$")


class Order:
    """What is written, what is on the disk, and what was announced, line by line of the trace."""

    def __init__(self):
        self.written, self.on_disk = {"log": 0, "capture": 0}, {"log": 0, "capture": 0}
        # For each row, how much of the capture was written before it.
        self.evidence, self.syncs, self.announced = {}, {}, []

    def line(self, line):
        if found := RESUMED.match(line):
            self.ended(found[1])
        elif found := CALL.match(line):
            thread, call, path, rest = found[1], found[2], found[4], found[5]
            kind = "log" if os.path.basename(path).startswith("readings-") else "capture" if path.endswith(".pcapng") else None
            if call in ("fsync", "fdatasync"):
                if kind:
                    self.syncs[thread] = (kind, self.written[kind])
                    if rest.endswith("= 0"):
                        self.ended(thread)
            elif kind == "capture":
                self.written["capture"] += 1
            elif kind == "log":
                # A row begins a line with its number; the text is escaped as in C.
                for seq in re.findall(r'(?:"|\\n)(\d+),\d{4}-', rest):
                    self.written["log"] = int(seq)
                    self.evidence[int(seq)] = self.written["capture"]
            else:
                for seq in re.findall(r'event: row\\ndata: \{.*?\\"seq\\":\\?"?(\d+)', rest):
                    self.announce(int(seq))

    def ended(self, thread):
        kind, written = self.syncs.pop(thread, ("log", 0))
        self.on_disk[kind] = max(self.on_disk[kind], written)

    def announce(self, seq):
        need(seq in self.evidence, f"row {seq} was announced before it was written")
        need(seq <= self.on_disk["log"], f"row {seq} was announced before its sync: the disk has {self.on_disk}")
        need(self.evidence[seq] <= self.on_disk["capture"], f"row {seq} was announced before its capture was synced")
        self.announced.append(seq)


def check(stillohm, folder):
    trace = os.path.join(folder, "trace")
    traced = os.path.join(folder, "traced")
    with open(traced, "w", encoding="utf-8") as f:
        calls = "write,writev,pwrite64,sendto,sendmsg,fsync,fdatasync"
        f.write(f'#!/bin/sh\nexec strace -f -y -s 100000 -e trace={calls} -o "{trace}" "{stillohm}" "$@"\n')
    os.chmod(traced, 0o755)
    meter = HandMeter()
    daemon = Daemon(traced, folder, [{"name": '"hand"', "protocol": '"text-line"', "tcp": f'{{ address = "127.0.0.1:{meter.port}" }}'}])
    daemon.start()
    heard = []
    daemon.events(heard.append)
    time.sleep(0.5)
    for value in ("12.5", "13.5", "14.5"):
        meter.shown = "OL"
        time.sleep(2.0)
        meter.shown = f"{value} Ohm"
        time.sleep(3.5)
        for n in range(10):
            daemon.request("POST", "/api/commands", {"act": "note", "note": f"{value} {n}"})
    # strace hands the signal on to the daemon and ends with it.
    os.kill(served(daemon.child.pid), 15)
    need(daemon.child.wait(10.0) == 0, f"SIGTERM: expected exit 0; {daemon.last_words()}")
    order = Order()
    with open(trace, encoding="utf-8", errors="replace") as f:
        for line in f:
            order.line(line.rstrip("\n"))
    rows = [int(row["seq"]) for row in heard]
    need(len(rows) >= 33 and order.announced == rows, f"expected the trace to show the {len(rows)} rows heard, it shows {order.announced}")
    print(f"{len(rows)} rows announced, each after the sync of its write")


def served(tracer):
    """The process under strace."""
    with open(f"/proc/{tracer}/task/{tracer}/children", encoding="ascii") as f:
        return int(f.read().split()[0])


def main():
    if len(sys.argv) != 2:
        print(__doc__, file=sys.stderr)
        return 2
    if shutil.which("strace") is None:
        print("NOT CHECKED: the order of sync and announcement, since strace is not installed")
        return 0
    with tempfile.TemporaryDirectory(prefix="stillohm-synced-") as folder:
        try:
            check(os.path.abspath(sys.argv[1]), folder)
        except Failed as why:
            print(f"synced: {why}", file=sys.stderr)
            return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
