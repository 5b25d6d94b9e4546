#!/usr/bin/env python3
"""100 kB/s of garbage on each of four lines, beside a meter that works. Standard library only.

    garbage.py STILLOHM [PLATEAUS]

Random bytes, a line that never ends, lines that almost read as values, and
random bytes on a line that speaks Modbus; over TCP and a pseudo-terminal. Each
is counted and shown, none makes a row; the meter beside them gives one row a
plateau, announced before the plateau is over; memory stays flat.
"""

import os
import random
import sys
import tempfile
import time
from decimal import Decimal

from daemon import Daemon, Failed, need
from hands import Noise
from meters import LineMeter, Plateaus

AIR, FLAT = 1.6, 3.2
ALMOST = ["22.7 kOhmm", "22..7 kOhm", "1,5 kOhm", "12.4 12.5", "--3 Ohm", "4.7 xOhm", "Ohm 12.5", "0x1F Ohm", "1e9x Ohm", "NaN Ohm 3"]
# Growth that is allowed between two plateaus apart: what an allocator keeps for itself (own).
FLAT_KIB = 3072


def noises(luck):
    def almost(count):
        text = b""
        while len(text) < count:
            text += luck.choice(ALMOST).encode() + b"\r\n"
        return text

    return {
        "bytes": ("text-line", Noise(luck.randbytes)),
        "endless": ("text-line", Noise(lambda count: b"7" * count, terminal=True)),
        "almost": ("text-line", Noise(almost)),
        "modbus": ("modbus-tcp-float", Noise(luck.randbytes)),
    }


def resident(daemon):
    """KiB in memory now."""
    with open(f"/proc/{daemon.child.pid}/status", encoding="ascii") as f:
        return next(int(line.split()[1]) for line in f if line.startswith("VmRSS"))


def table(name, protocol, noise):
    port = f'serial = {{ path = "{noise.path}", baud = 9600 }}' if hasattr(noise, "path") else f'tcp = {{ address = "127.0.0.1:{noise.port}" }}'
    where, what = port.split(" = ", 1)
    return {"name": f'"{name}"', "protocol": f'"{protocol}"', where: what} | ({"unit": 1} if protocol.startswith("modbus") else {})


def check(stillohm, folder, count):
    noisy = noises(random.Random(20))
    values = [f"{120 + k}.{k % 10} Ohm" for k in range(count)]
    plateaus = Plateaus(values, air=AIR, flat=FLAT)
    meter = LineMeter(plateaus)
    daemon = Daemon(stillohm, folder, [table("beside", "text-line", meter), *(table(name, *noise) for name, noise in noisy.items())])
    daemon.start()
    heard = []
    daemon.events(lambda row: heard.append((row, time.monotonic() - plateaus.began)))
    sizes = []
    while not plateaus.over():
        time.sleep(0.5)
        need(daemon.child.poll() is None, f"the daemon ended by itself; {daemon.last_words()}")
        sizes.append(resident(daemon))
    meters = {m["name"]: m for m in daemon.request("GET", "/api/state")[1]["meters"]}
    daemon.drain()

    rows = [(row, at) for row, at in heard if row["event"] == "value"]
    found = [Decimal(row["value_ohms"]) for row, _ in rows]
    need(found == [Decimal(v.split()[0]) for v in values], f"beside: expected one row for each of {values}, found {found}")
    for n, (_, at) in enumerate(rows):
        ends = (n + 1) * (AIR + FLAT)
        need(at < ends, f"beside: the row of plateau {n} came {at - ends:.2f} s after its end")
    print(f"beside: {len(rows)} plateaus, {len(rows)} rows, each before its plateau's end")
    strays = [(r["meter"], r["event"], r["shown"], r["reason"]) for r in daemon.log() if r["meter"] in noisy]
    need(not strays, f"garbage made rows: {strays}")
    for name, (_, noise) in noisy.items():
        seen = meters[name]
        need(noise.sent > 100_000 * (AIR + FLAT) * len(values) * 0.9, f"{name}: only {noise.sent} bytes were sent: the check is too weak")
        need(seen["bad_frames"] >= 1 and seen["last_bad"], f"{name}: expected bad frames, counted and with a reason, found {seen}")
        print(f"{name}: {noise.sent} bytes, {seen['bad_frames']} bad frames ({seen['last_bad']}), {seen['good_frames']} good, no row")
    need(meters["almost"]["good_frames"] == 0, f"almost: expected no frame understood, found {meters['almost']}")
    third = len(sizes) // 3
    early, late = max(sizes[third : 2 * third]), max(sizes[2 * third :])
    need(late <= early + FLAT_KIB, f"memory grows: {early} KiB, later {late} KiB: {sizes}")
    print(f"memory: {early} KiB, later {late} KiB")
    daemon.run("verify", daemon.data)


def main():
    if len(sys.argv) not in (2, 3):
        print(__doc__, file=sys.stderr)
        return 2
    with tempfile.TemporaryDirectory(prefix="stillohm-garbage-") as folder:
        try:
            check(os.path.abspath(sys.argv[1]), folder, int(sys.argv[2]) if len(sys.argv) > 2 else 4)
        except Failed as why:
            print(f"garbage: {why}", file=sys.stderr)
            return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
