#!/usr/bin/env python3
"""The figures of the bench page, each beside its bar, in one run.

    page.py STILLOHM    a release build; needs what tests/outside/browser/needs installs

How late a reading is painted at 20 a second, from the write to the meter's line
to the frame on the screen (so what is decoded is younger than that); the first
paint of a bench and its bytes; and what 500 clients that never read cost: rows
to the disk with and without them, turn by turn. Bars are the project's own; one
that is missed is printed and fails nothing, since machines differ.
"""

import datetime
import os
import socket
import statistics
import sys
import tempfile
import threading
import time

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "tests", "outside", "browser"))

from bench import Hall, Ohms  # noqa: E402
from eyes import Eyes, bench_path  # noqa: E402

SECONDS, SILENT, PHASE, TURNS, METERS = 30.0, 500, 15.0, 4, 24

WATCH = """
window.painted = [];
const shown = document.querySelector('.shown');
new MutationObserver(() => {
  const value = shown.textContent;
  requestAnimationFrame(() => {
    const channel = new MessageChannel();
    // The first task after a frame comes when it was handed to the screen.
    channel.port1.onmessage = () => window.painted.push([value, performance.timeOrigin + performance.now()]);
    channel.port2.postMessage(0);
  });
}).observe(shown, {childList: true, characterData: true, subtree: true});
"""


class Counting(Ohms):
    """Another value with each line, twenty a second, and when it was written."""

    PERIOD = 0.05

    def __init__(self):
        self.written, self.count = {}, 0
        super().__init__()

    def line(self):
        self.count += 1
        shown = f"{10 + self.count / 1000:.3f}"
        self.written[f"{shown} Ω"] = time.time() * 1000
        return f"{shown} Ohm"


def part(values, share):
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, int(len(ordered) * share))]


def say(what, found, bar=None, unit=""):
    word = "" if bar is None else f"   bar {bar:g}{unit}: {'met' if found <= bar else 'MISSED'}"
    print(f"{what:58} {found:8.1f}{unit}{word}", flush=True)


def painted(hall, eyes):
    eyes.go(bench_path("pond"))
    time.sleep(1.5)
    eyes.js(WATCH)
    time.sleep(SECONDS)
    seen = eyes.js("return window.painted")
    written = hall.ohms["pond"].written
    late = [at - written[value] for value, at in seen if value in written]
    say("line written to painted, median", statistics.median(late), None, " ms")
    say(f"line written to painted, p95 of {len(late)}", part(late, 0.95), 100, " ms")


def first_paint(hall):
    times, sizes = [], []
    for _ in range(7):
        with Eyes(hall.address) as eyes:
            eyes.go(bench_path("pond"))
            time.sleep(0.8)
            times.append(eyes.js("return performance.getEntriesByName('first-contentful-paint')[0].startTime"))
            sizes.append(eyes.js("return performance.getEntriesByType('navigation')[0].transferSize + performance.getEntriesByType('resource').filter(r => r.initiatorType !== 'other' && !r.name.includes('/api/')).reduce((n, r) => n + r.transferSize, 0)"))
    say("first paint, median of 7 cold browsers", statistics.median(times), 150, " ms")
    say("first paint, the slowest of 7", max(times), None, " ms")
    say("what it takes, with headers", max(sizes) / 1024, 60, " KiB")


def rows(hall, seconds):
    """For each value that settles meanwhile: from the reading's arrival until its row stands in the log's file, in ms."""
    log, took = hall.daemon.log_files()[-1], []
    with open(log, "rb") as f:
        f.seek(0, os.SEEK_END)
        until = time.time() + seconds
        while time.time() < until:
            text = f.read()
            now = time.time() * 1000
            if not text:
                time.sleep(0.0005)
                continue
            for line in text.decode().splitlines():
                cells = line.split(",")
                if len(cells) > 2 and cells[2] == "value":
                    at = datetime.datetime.fromisoformat(cells[1].replace("Z", "+00:00"))
                    took.append(now - at.timestamp() * 1000)
    return took


def silent(hall):
    """A client that asks for the stream and never reads it."""
    client = socket.socket()
    client.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
    client.connect(("127.0.0.1", hall.daemon.web))
    client.sendall(f"GET /api/events HTTP/1.1\r\nHost: 127.0.0.1:{hall.daemon.web}\r\n\r\n".encode())
    return client


def hands(meters, stop):
    """Clips on and off at each meter, each at its own pace."""
    while not stop.is_set():
        for n, meter in enumerate(meters):
            phase = (time.monotonic() + n * 0.37) % 4.5
            if phase < 1.3:
                meter.open()
            else:
                meter.on(f"{10 + n}.{int(time.monotonic() / 4.5) % 10}0")
        time.sleep(0.05)


def crowd(hall, meters):
    stop = threading.Event()
    threading.Thread(target=hands, args=(meters, stop), daemon=True).start()
    time.sleep(5.0)
    alone, beside = [], []
    for _ in range(TURNS):
        alone += rows(hall, PHASE)
        clients = [silent(hall) for _ in range(SILENT)]
        beside += rows(hall, PHASE)
        for client in clients:
            client.close()
        time.sleep(1.0)
    stop.set()
    # The log's time is anchored to a millisecond or so at the start: the fastest row of all is the zero.
    fastest = min(alone + beside)
    alone, beside = [t - fastest for t in alone], [t - fastest for t in beside]
    say(f"reading to its row in the file, p50 of {len(alone)} alone", part(alone, 0.5), None, " ms")
    say("reading to its row in the file, p99 alone", part(alone, 0.99), None, " ms")
    say(f"reading to its row, p50 of {len(beside)} beside {SILENT}", part(beside, 0.5), None, " ms")
    say(f"reading to its row, p99 beside {SILENT} that never read", part(beside, 0.99), None, " ms")
    say("p99 beside as a part of p99 alone", 100 * part(beside, 0.99) / part(alone, 0.99), 110, " %")


def main():
    if len(sys.argv) != 2:
        print(__doc__, file=sys.stderr)
        return 2
    with tempfile.TemporaryDirectory(prefix="stillohm-page-") as folder:
        hall = Hall(os.path.abspath(sys.argv[1]), folder, ["pond"], ohms=Counting)
        with Eyes(hall.address) as eyes:
            painted(hall, eyes)
        first_paint(hall)
        hall.daemon.put_down()
        benches = [f"pond {n}" for n in range(METERS)]
        hall = Hall(os.path.abspath(sys.argv[1]), os.path.join(folder, "crowd"), benches)
        crowd(hall, list(hall.ohms.values()))
        hall.daemon.put_down()
    print(f"load of the machine: {os.getloadavg()[0]:.1f}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
