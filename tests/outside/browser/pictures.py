#!/usr/bin/env python3
"""Pictures of each page, to be looked at.

    pictures.py STILLOHM FOLDER [DOCS]

DOCS takes those that stand in the documentation, made small.

A bench at rest, in the middle of a job, under a hold, and with a fault; the
start of a job; the jobs, one of them with its traces; the meters, setting one
up; the review over a log that examples/make_log beside STILLOHM makes. Each 360 and 1280 wide, dark and light.
"""

import os
import subprocess
import sys
import tempfile
import threading
import time

from bench import Hall, Hands
from eyes import Eyes, bench_path

WIDTHS = {360: 740, 1280: 900}
BENCHES = ("pond 1", "pond 2", "pond 3", "pond 4")


# What stands in the documentation, and from which picture.
DOCUMENTED = {
    "bench-middle": "bench-middle-1280-dark",
    "bench-fault": "bench-fault-1280-light",
    "bench-hold": "bench-hold-1280-light",
    "bench-phone": "bench-middle-360-light",
    "bench-lost": "bench-lost-1280-dark",
    "benches": "benches-1280-light",
    "start": "start-1280-light",
    "jobs": "jobs-1280-light",
    "job-fault": "job-fault-1280-light",
    "meters": "meters-1280-light",
    "setup": "setup-1280-light",
    "review": "review-1280-light",
}


def document(folder, docs):
    """The documented ones with 64 colours: small enough to be kept with the text."""
    from PIL import Image

    os.makedirs(docs, exist_ok=True)
    for name, source in DOCUMENTED.items():
        picture = Image.open(os.path.join(folder, f"{source}.png")).convert("RGB")
        picture = picture.crop((0, 0, picture.width, min(picture.height, 2400)))
        picture.quantize(64, dither=Image.Dither.NONE).save(os.path.join(docs, f"{name}.png"), optimize=True)


def all_of(folder, eyes, name, path):
    """A page in each width and scheme."""
    for width, height in WIDTHS.items():
        eyes.wide(width, height)
        for dark in (True, False):
            eyes.scheme(dark)
            eyes.go(path)
            time.sleep(1.5)
            # Where the file of this run lies is nobody's business.
            eyes.js("const f = document.getElementById('file'); if (f) f.textContent = 'stillohm.toml'")
            eyes.picture(os.path.join(folder, f"{name}-{width}-{'dark' if dark else 'light'}.png"))


def together(*works):
    threads = [threading.Thread(target=work) for work in works]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()


# What a reviewer looks at, in a log of two years.
PLACE = "model=HB-AB%2011&test=winding&point=line_12"
REVIEW = {
    "review": "/review?since=2026&model=HB-AB%2011",
    "review-values": f"/review/values?{PLACE}",
    "review-chart": f"/review/chart?{PLACE}",
    "review-meters": "/review/meters",
    "review-insulation": "/review/insulation?asset=AB-0000",
    "review-rows": "/review/rows?verdict=fail&since=2026-09",
    "review-wrong": "/review?since=March&verdict=good",
}


def review(stillohm, folder, work):
    """The review pages, over a log that is made for them."""
    make_log = os.path.join(os.path.dirname(stillohm), "examples", "make_log")
    hall = Hall(stillohm, work, ("pond 1",), rows=(make_log, "400000"))
    with Eyes(hall.address) as eyes:
        for name, path in REVIEW.items():
            all_of(folder, eyes, name, path)
    hall.daemon.put_down()


def main():
    if len(sys.argv) not in (3, 4):
        print(__doc__, file=sys.stderr)
        return 2
    folder = os.path.abspath(sys.argv[2])
    os.makedirs(folder, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix="stillohm-pictures-") as work:
        hall = Hall(os.path.abspath(sys.argv[1]), work, BENCHES)
        middle = hall.start("pond 2", asset="pump 7", tester="Ida", temperature="18C")
        fault = hall.start("pond 3", "HB-AB 7", asset="blower 2", tester="Ole", temperature="18C")
        held = hall.start("pond 4", asset="pump 9", tester="Ida")
        together(
            lambda: Hands(hall, "pond 2", middle).to("winding"),
            lambda: Hands(hall, "pond 3", fault, {"winding line_23": "7.30", "ground all_to_ground": "0.20 M"}).until(lambda v: any(p["test"] == "ground" and p["seq"] for p in v["points"])),
            lambda: Hands(hall, "pond 4", held).until(lambda v: v["ask"]["test"] == "insulation" and v["ask"]["confirm"] == "stand_clear"),
        )
        with Eyes(hall.address) as eyes:
            all_of(folder, eyes, "benches", "/")
            all_of(folder, eyes, "bench-rest", bench_path("pond 1"))
            hall.ohms["pond 2"].on("41.30")
            all_of(folder, eyes, "bench-middle", bench_path("pond 2"))
            all_of(folder, eyes, "bench-fault", bench_path("pond 3"))
            all_of(folder, eyes, "bench-caution", bench_path("pond 4"))
            hall.post(f"/api/jobs/{held}/confirm", what="stand_clear")
            hall.tester["pond 4"].press("550 MOhm", 512)
            eyes.go(bench_path("pond 4"))
            time.sleep(4.0)
            eyes.picture(os.path.join(folder, "bench-hold-1280-light.png"))
            hall.tester["pond 4"].release()
            all_of(folder, eyes, "start", "/start?bench=pond%201")
            all_of(folder, eyes, "jobs", "/jobs")
            all_of(folder, eyes, "job-fault", f"/jobs/{fault}")
            all_of(folder, eyes, "meters", "/meters")
            all_of(folder, eyes, "setup", "/meters/new")
            eyes.wide(1280, 900)
            eyes.scheme(True)
            eyes.go(bench_path("pond 2"))
            hall.ohms["pond 2"].silent()
            time.sleep(3.5)
            eyes.picture(os.path.join(folder, "bench-silent-1280-dark.png"))
            hall.daemon.kill()
            time.sleep(3.0)
            eyes.picture(os.path.join(folder, "bench-lost-1280-dark.png"))
    with tempfile.TemporaryDirectory(prefix="stillohm-pictures-") as work:
        review(os.path.abspath(sys.argv[1]), folder, work)
    if len(sys.argv) == 4:
        document(folder, os.path.abspath(sys.argv[3]))
    print(f"{len(os.listdir(folder))} pictures in {folder}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
