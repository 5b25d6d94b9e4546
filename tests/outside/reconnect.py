#!/usr/bin/env python3
"""Meters that go away for 3 s and come back. Standard library only.

    reconnect.py STILLOHM

One over TCP, one on a pseudo-terminal that comes back under the same link with
another device behind it. Each is back within 5 s; its gap is in the log before
its next value, and no window reaches back across it; replaying gives the log.
"""

import glob
import os
import sys
import tempfile
import time
from datetime import datetime

from daemon import Daemon, Failed, need
from hands import HandMeter, HandTerminal

METERS = ("tcp", "link")


def check(stillohm, folder):
    link = os.path.join(folder, "meter-port")
    tcp, terminal = HandMeter(), HandTerminal(link)
    daemon = Daemon(
        stillohm,
        folder,
        [
            {"name": '"tcp"', "protocol": '"text-line"', "tcp": f'{{ address = "127.0.0.1:{tcp.port}" }}'},
            {"name": '"link"', "protocol": '"text-line"', "serial": f'{{ path = "{link}", baud = 9600 }}'},
        ],
    )
    both = (tcp, terminal)

    def show(text, seconds):
        for meter in both:
            meter.shown = text
        time.sleep(seconds)

    daemon.start()
    show("OL", 2.0)
    show("12.5 Ohm", 3.5)
    show("OL", 2.0)
    # The contact stands when the line goes: long enough to have begun, too short to be taken.
    show("47.25 Ohm", 0.4)
    for meter in both:
        meter.away()
    time.sleep(1.5)
    gone = [m["connected"] for m in daemon.request("GET", "/api/state")[1]["meters"]]
    need(gone == [False, False], f"expected both shown as not connected, found {gone}")
    time.sleep(1.5)
    for meter in both:
        meter.back()
    back = time.time()
    while not all(m["connected"] for m in daemon.request("GET", "/api/state")[1]["meters"]):
        need(time.time() < back + 5.0, f"expected both back within 5 s; {daemon.last_words()}")
        time.sleep(0.1)
    print(f"both are back {time.time() - back:.1f} s after their return")
    time.sleep(4.0)
    show("OL", 2.0)
    show("56.75 Ohm", 3.5)
    daemon.drain()

    rows = daemon.log()
    for name in METERS:
        own = [r for r in rows if r["meter"] == name]
        events = [r["event"] if r["event"] == "gap" else r["value_ohms"] for r in own if r["event"] in ("gap", "value")]
        gaps = events.count("gap")
        need(
            gaps >= 1 and events == ["12.5", *["gap"] * gaps, "47.25", "56.75"],
            f"{name}: expected 12.5, its gap, 47.25 and 56.75, found {events}",
        )
        after = next(r for r in own if r["value_ohms"] == "47.25")
        began = datetime.fromisoformat(after["recorded_at"]).timestamp() - float(after["window_s"])
        need(began >= back, f"{name}: a window of {after['window_s']} s reaches {back - began:.2f} s back across the gap")
        reasons = [r["reason"] for r in own if r["event"] == "gap"]
        print(f"{name}: {reasons} before the next value, whose window is {after['window_s']} s")
    daemon.run("verify", daemon.data)
    captures = glob.glob(os.path.join(daemon.data, "captures", "*.pcapng"))
    with open(daemon.log_files()[0], "rb") as f:
        need(daemon.run("replay", captures[0]).stdout == f.read(), "replaying the capture gives another log")
    print("verified; replayed byte for byte")


def main():
    if len(sys.argv) != 2:
        print(__doc__, file=sys.stderr)
        return 2
    with tempfile.TemporaryDirectory(prefix="stillohm-reconnect-") as folder:
        try:
            check(os.path.abspath(sys.argv[1]), folder)
        except Failed as why:
            print(f"reconnect: {why}", file=sys.stderr)
            return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
