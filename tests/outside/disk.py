#!/usr/bin/env python3
"""What the disk and the neighbours do to a log. Standard library only.

    disk.py STILLOHM

A second daemon on the same data: exit 3, and it names the folder. A broken
tail: moved to log/torn, named in a gap row. A full disk: no row is announced
and nothing is shown as taken, it is said on stderr and in the state, the digits
stay live, SIGTERM ends it with 3 within 3 s, and with room it takes again.
`verify` exits 0 after each: nothing that was acknowledged is lost. Filling a
disk needs a file system of its own and so root; without it that is said.
"""

import os
import subprocess
import sys
import tempfile
import time

from daemon import Daemon, Failed, need
from hands import HandMeter


def eventually(holds, seconds, what):
    """Waits until `holds()` gives something, and gives that."""
    until = time.monotonic() + seconds
    while not (found := holds()):
        need(time.monotonic() < until, f"expected {what} within {seconds} s")
        time.sleep(0.05)
    return found


def contact(meter, value, announced):
    """Open clips, then a value until its row is announced."""
    count = len(announced)
    meter.shown = "OL"
    time.sleep(2.0)
    meter.shown = f"{value} Ohm"
    eventually(lambda: len(announced) > count, 5.0, f"the row of {value} Ohm")
    need(announced[-1]["value_ohms"] == value, f"expected a row of {value}, found {announced[-1]}")


def meter_state(daemon):
    state = daemon.request("GET", "/api/state")[1]
    return state, state["meters"][0]


def listened(daemon):
    """The values announced from now on."""
    rows = []
    daemon.events(lambda row: rows.append(row) if row["event"] == "value" else None)
    return rows


def second(daemon):
    done = subprocess.run(
        [daemon.stillohm, "serve", "--config", daemon.config, "--no-web"], capture_output=True, text=True, timeout=20, check=False
    )
    need(done.returncode == 3, f"a second daemon: expected exit 3, found {done.returncode}: {done.stderr}")
    need(daemon.data in done.stderr, f"a second daemon: expected {daemon.data} to be named, it said {done.stderr!r}")
    print(f"a second daemon: exit 3, {done.stderr.strip()!r}")


def torn(daemon):
    """Half a row with zeros behind it, as a crash of the machine leaves them."""
    daemon.kill()
    path, tail = daemon.log_files()[-1], b"999,2026-01-01T00:00:00.000Z,value,,ben" + bytes(300)
    with open(path, "rb") as f:
        whole = f.read()
    with open(path, "ab") as f:
        f.write(tail)
    daemon.run("verify", daemon.data)
    daemon.start()
    daemon.drain()
    kept = os.listdir(os.path.join(daemon.data, "log", "torn"))
    need(len(kept) == 1, f"expected one file in log/torn, found {kept}")
    with open(os.path.join(daemon.data, "log", "torn", kept[0]), "rb") as f:
        need(f.read() == tail, "log/torn does not hold the tail as it was")
    with open(path, "rb") as f:
        need(f.read().startswith(whole), "a row before the tail changed")
    gaps = [r["reason"] for r in daemon.log() if r["event"] == "gap"]
    need(any(f"torn/{kept[0]}" in gap for gap in gaps), f"expected a gap row that names torn/{kept[0]}, found {gaps}")
    daemon.run("verify", daemon.data)
    print(f"a broken tail: {gaps[-1]!r}, verify exits 0")


def fill(folder):
    """Takes all room there is; gives the file that has it."""
    path = os.path.join(folder, "ballast")
    with open(path, "wb", buffering=0) as f:
        size = 65536
        while size:
            try:
                size = size if f.write(b"x" * size) == size else size // 2
            except OSError:
                size //= 2
    return path


def full(daemon, meter):
    """The file system of the data folder runs full while values are taken."""
    daemon.start()
    announced = listened(daemon)
    contact(meter, "22.5", announced)
    ballast = fill(daemon.data)
    # Rows until one finds no room: what is not on the disk is not acknowledged.
    acknowledged, refusal = 0, None
    while refusal is None:
        status, answer = daemon.request("POST", "/api/commands", {"act": "note", "note": f"filling {acknowledged} " + "x" * 150})
        if status == 200:
            acknowledged += 1
        else:
            refusal = answer
        need(acknowledged < 1000, "the disk does not run full")
    need("NOT RECORDED" in str(refusal), f"expected a refusal that says NOT RECORDED, found {refusal}")
    state = eventually(lambda: (s := meter_state(daemon)[0])["recording"] is False and s, 2.0, "recording false")
    need(state["trouble"].startswith("NOT RECORDED"), f"expected trouble NOT RECORDED, found {state['trouble']!r}")
    eventually(lambda: "NOT RECORDED" in daemon.last_words(), 2.0, "NOT RECORDED on stderr")
    print(f"a full disk: {acknowledged} notes taken, then {state['trouble']!r}")

    # The contact before was taken and may say so; two more are live, and never shown as taken.
    before = len(announced)
    meter.shown = "OL"
    eventually(lambda: meter_state(daemon)[1]["settle"] == "no contact", 3.0, "no contact")
    for value in ("47.25", "48.25"):
        shown, words = set(), set()
        for text, seconds in (("OL", 2.0), (f"{value} Ohm", 4.0)):
            meter.shown = text
            until = time.monotonic() + seconds
            while time.monotonic() < until:
                state, seen = meter_state(daemon)
                shown.add(seen["shown"])
                words.add(seen["settle"])
                need(state["recording"] is False, "recording is true again without a restart")
                time.sleep(0.02)
        need(f"{value} Ω" in shown, f"expected live digits {value}, found {shown}")
        need(not words & {"taken", "remove the clips"}, f"shown as {words} although nothing is recorded")
    need(len(announced) == before, f"rows were announced on a full disk: {announced[before:]}")
    print("a full disk: digits stay live, nothing is shown or announced as taken")

    daemon.child.terminate()
    began = time.monotonic()
    code = daemon.child.wait(10.0)
    took = time.monotonic() - began
    need(code == 3 and took < 3.0, f"SIGTERM: expected exit 3 within 3 s, found {code} after {took:.1f} s")
    print(f"a full disk: SIGTERM ends it with 3 after {took:.2f} s")
    daemon.run("verify", daemon.data)

    # The reserve has left a little room: it takes again, and says that it is little.
    daemon.start()
    said = eventually(lambda: [w for w in daemon.last_words().splitlines() if "nearly full" in w], 2.0, "`nearly full` on stderr")
    announced = listened(daemon)
    contact(meter, "52.5", announced)
    daemon.drain()
    daemon.run("verify", daemon.data)
    print(f"started again on what the reserve left: {said[0]!r}")

    os.unlink(ballast)
    daemon.start()
    announced = listened(daemon)
    contact(meter, "56.75", announced)
    daemon.drain()
    rows = daemon.log()
    values = [r["value_ohms"] for r in rows if r["event"] == "value"]
    need(values == ["22.5", "52.5", "56.75"], f"expected the values with room before and after, found {values}")
    notes = sum(r["event"] == "note" and r["note"].startswith("filling") for r in rows)
    need(notes >= acknowledged, f"{acknowledged} notes were acknowledged, {notes} are in the log")
    daemon.run("verify", daemon.data)
    print(f"with room again: taken again, {len(rows)} rows, verify exits 0")


def on_small_disk(check):
    """Runs a check with a folder of 3 MiB of its own; says why when there is none."""
    with tempfile.TemporaryDirectory(prefix="stillohm-full-") as folder:
        data = os.path.join(folder, "data")
        os.mkdir(data)
        made = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=3m", "tmpfs", data], capture_output=True, text=True, check=False)
        if made.returncode != 0:
            print(f"NOT CHECKED: a full disk, since a small file system cannot be mounted here: {made.stderr.strip()}")
            return
        try:
            check(folder)
        finally:
            subprocess.run(["umount", "--lazy", data], check=True)


def main():
    if len(sys.argv) != 2:
        print(__doc__, file=sys.stderr)
        return 2
    stillohm, meter = os.path.abspath(sys.argv[1]), HandMeter()
    table = {"name": '"hand"', "protocol": '"text-line"', "tcp": f'{{ address = "127.0.0.1:{meter.port}" }}'}

    def filled(folder):
        daemon = Daemon(stillohm, folder, [table])
        try:
            full(daemon, meter)
        finally:
            daemon.put_down()

    with tempfile.TemporaryDirectory(prefix="stillohm-disk-") as folder:
        try:
            daemon = Daemon(stillohm, folder, [table])
            daemon.start()
            announced = listened(daemon)
            contact(meter, "12.5", announced)
            second(daemon)
            torn(daemon)
            on_small_disk(filled)
        except Failed as why:
            print(f"disk: {why}", file=sys.stderr)
            return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
