#!/usr/bin/env python3
"""A pymodbus server on a pseudo-terminal and a text meter over TCP, in one `serve`.

    modbus_pty.py STILLOHM [FOLDER]

One row a plateau with the right value; SIGTERM drains; replaying the capture
gives the log byte for byte, twice. FOLDER, if given, is where the data stay for
other checks; the Modbus line is port 0 there, the other port 1. Exit 1 with a reason when one does not hold.
"""

import glob
import os
import sys
import tempfile
import time
from decimal import Decimal

from daemon import Daemon, Failed, need
from meters import LineMeter, LinkedTerminals, ModbusMeter, Plateaus

# Ohms that a 32-bit float holds exactly, so that what is shown is not in question.
MODBUS = [12.5, 0.25, 2048.0, 12.5]
LINES = [("22.7 kOhm", 22700), ("0.470 Ohm", Decimal("0.470")), ("1.25 MOhm", 1250000), ("22.7 kOhm", 22700), ("118.2 Ohm", Decimal("118.2"))]


def check(stillohm, folder):
    cable = LinkedTerminals()
    modbus = ModbusMeter(cable.paths[0], 7, Plateaus([str(v) for v in MODBUS], air=3.0, flat=6.0), MODBUS)
    lines = LineMeter(Plateaus([text for text, _ in LINES], air=2.0, flat=4.0))
    daemon = Daemon(
        stillohm,
        folder,
        [
            {"name": '"modbus"', "protocol": '"modbus-rtu-float"', "unit": 7, "serial": f'{{ path = "{cable.paths[1]}", baud = 19200 }}'},
            {"name": '"lines"', "protocol": '"text-line"', "tcp": f'{{ address = "127.0.0.1:{lines.port}" }}'},
        ],
        web=False,
    )
    daemon.start()
    while not (modbus.plateaus.over() and lines.plateaus.over()):
        time.sleep(0.2)
        need(daemon.child.poll() is None, f"the daemon ended by itself; {daemon.last_words()}")
    took = daemon.drain()
    print(f"SIGTERM drained in {took:.2f} s, exit 0")

    rows = daemon.log()
    for meter, ohms in (("modbus", [Decimal(v) for v in MODBUS]), ("lines", [Decimal(v) for _, v in LINES])):
        found = [Decimal(r["value_ohms"]) for r in rows if r["meter"] == meter and r["event"] == "value"]
        need(found == ohms, f"{meter}: expected one row a plateau {ohms}, found {found}")
        print(f"{meter}: {len(found)} plateaus, {len(found)} rows, values right")
    daemon.run("verify", daemon.data)
    print(f"verify: {len(rows)} rows whole")

    captures = sorted(glob.glob(os.path.join(daemon.data, "captures", "*.pcapng")))
    need(len(captures) == 1, f"expected one capture file of a short run, found {captures}")
    with open(daemon.log_files()[0], "rb") as f:
        log = f.read()
    for again in ("first", "second"):
        replayed = daemon.run("replay", captures[0]).stdout
        need(replayed == log, f"{again} replay: {first_difference(log, replayed)}")
    print(f"replayed twice: the same {len(log)} bytes as the log")


def first_difference(log, replayed):
    pairs = zip(log.splitlines(), replayed.splitlines())
    for n, (a, b) in enumerate(pairs, 1):
        if a != b:
            return f"line {n} differs: log {a.decode()!r}, replay {b.decode()!r}"
    return f"log has {len(log.splitlines())} lines, replay {len(replayed.splitlines())}"


def main():
    if len(sys.argv) not in (2, 3):
        print(__doc__, file=sys.stderr)
        return 2
    with tempfile.TemporaryDirectory(prefix="stillohm-modbus-") as folder:
        try:
            check(os.path.abspath(sys.argv[1]), os.path.abspath(sys.argv[2]) if len(sys.argv) > 2 else folder)
        except Failed as why:
            print(f"modbus_pty: {why}", file=sys.stderr)
            return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
