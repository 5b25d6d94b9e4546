#!/usr/bin/env python3
"""Questions over 10 million rows beside polars, in one run.

    review.py STILLOHM MAKE_LOG [ROWS] [FOLDER]

Both read the same CSV from the page cache, turn by turn; the least of five
rounds counts, since other work only adds. FOLDER keeps the log for another
run. Bars are the project's own; one that is missed is printed and fails
nothing, since machines differ.
"""
import os
import pathlib
import subprocess
import sys
import tempfile
import time

STILLOHM, MAKE_LOG = sys.argv[1:3]
ROWS = int(sys.argv[3]) if len(sys.argv) > 3 else 10_000_000
ROUNDS = 5

READ = """
import glob, sys, polars as pl
rows = pl.scan_csv(sorted(glob.glob(sys.argv[1] + "/log/readings-*.csv")), infer_schema=False)
"""
RATE = READ + """
rows = rows.select("recorded_at", "motor", "verdict").filter(pl.col("verdict") != "")
month = pl.col("recorded_at").str.slice(0, 7).alias("month")
rate = (pl.col("verdict") == "fail").mean()
print(rows.group_by("motor", month).agg(rate).collect().height)
"""
LAST = READ + """
values = rows.select("seq", "event", "asset", "test", "point", "shown").filter(pl.col("event") == "value")
last = values.group_by("asset", "test", "point").agg(pl.all().last())
print(last.collect().height)
"""


def run(command):
    """Seconds and peak MiB of a command."""
    begin = time.monotonic()
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL)
    _, status, used = os.wait4(process.pid, 0)
    took = time.monotonic() - begin
    assert status == 0, command
    return took, used.ru_maxrss / 1024


def main(data):
    if not pathlib.Path(data, "log").is_dir():
        subprocess.run([MAKE_LOG, str(ROWS), data], check=True)
    megabytes = sum(file.stat().st_size for file in pathlib.Path(data, "log").iterdir()) / 1e6
    ours = lambda *args: [STILLOHM, *args, "--data", data, "--csv"]
    theirs = lambda code: [sys.executable, "-c", code, data]
    asked = {
        "fail rate a model a month": (ours("review", "count", "--by", "model,month"), theirs(RATE), 0.40),
        "last value of every asset and point": (ours("review", "last"), theirs(LAST), 1.2),
        "verify": ([STILLOHM, "verify", data], None, megabytes / 500),
    }
    print(f"{ROWS} rows, {megabytes:.0f} MB, {os.cpu_count()} cores; polars' seconds hold its start")
    for words, (own, other, bar) in asked.items():
        best, peer = (1e9, 0), (1e9, 0)
        for _ in range(ROUNDS):
            best = min(best, run(own))
            if other:
                peer = min(peer, run(other))
        beside = f"polars {peer[0]:.2f} s, {peer[1]:.0f} MiB, ratio {best[0] / peer[0]:.2f}; " if other else ""
        missed = "" if best[0] <= bar else "  MISSED"
        print(f"{words}: {best[0]:.2f} s, {best[1]:.0f} MiB; {beside}bar {bar:.2f} s{missed}")


if len(sys.argv) > 4:
    main(sys.argv[4])
else:
    with tempfile.TemporaryDirectory() as folder:
        main(folder)
