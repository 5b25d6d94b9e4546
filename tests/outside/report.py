#!/usr/bin/env python3
"""Holds what `report` prints to programs and libraries that are not ours.

    report.py STILLOHM

The log is captures/hatchery.csv with its capture. Expected values, chains and
reasons are read from its cells by Python. PDFs are checked by qpdf, read by
pdftotext and pdffonts, drawn by pdftoppm; codes are read by zbarimg; HTML is
parsed by Python. Needs qpdf, poppler-utils and zbar-tools.
"""
import csv
import html.parser
import pathlib
import re
import shutil
import struct
import subprocess
import sys
import tempfile
import zlib

ROOT = pathlib.Path(__file__).resolve().parent.parent.parent
VOID = {"meta", "br", "img", "input", "link", "hr", "col"}
NEVER = ["safe to", "is safe", "may be energized", "can be energized", "ready to run", "fit for"]
MM = 72 / 25.4


def run(*command, text=True):
    ran = subprocess.run(command, capture_output=True)
    if ran.returncode != 0:
        fail(f"{command}: {ran.returncode}: {ran.stderr.decode()}")
    return ran.stdout.decode() if text else ran.stdout


def fail(words):
    print(f"report: FAILED: {words}", file=sys.stderr)
    sys.exit(1)


def hold(whether, words):
    if not whether:
        fail(words)


def png(width, height):
    """A grey square with a see-through rim."""
    lines = b""
    for y in range(height):
        lines += b"\0"
        for x in range(width):
            rim = min(x, y, width - 1 - x, height - 1 - y) < 4
            lines += bytes([90, 90, 120, 0 if rim else 255])

    def chunk(kind, body):
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    head = struct.pack(">IIBBBBB", width, height, 8, 6, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(lines)) + chunk(b"IEND", b"")


class Page(html.parser.HTMLParser):
    """The text of a page, its elements closed as they were opened."""

    def __init__(self, text):
        super().__init__()
        self.open, self.said, self.paths, self.outside = [], [], [], []
        self.feed(text)
        self.close()
        hold(not self.open, f"HTML leaves {self.open} open")

    def handle_starttag(self, tag, attributes):
        hold(tag != "script", "HTML has a script")
        for name, value in attributes:
            hold(not name.startswith("on"), f"HTML has a handler: {name}")
            if name in ("src", "href") and not value.startswith("data:"):
                self.outside.append(value)
            if name == "d" and self.open and ("class", "qr") in self.open[-1][1]:
                self.paths.append((dict(self.open[-1][1]), value))
        if tag not in VOID:
            self.open.append((tag, attributes))

    def handle_endtag(self, tag):
        hold(self.open and self.open[-1][0] == tag, f"HTML closes {tag} inside {self.open[-1:]}")
        self.open.pop()

    def handle_data(self, data):
        if not any(tag == "style" for tag, _ in self.open):
            self.said.append(data)

    def text(self):
        return " ".join(" ".join(self.said).split())


def read_code(image):
    said = subprocess.run(["zbarimg", "-q", "--raw", str(image)], capture_output=True)
    return said.stdout.decode().split()


def code_of_html(attributes, d, folder):
    """Draws the squares of a code in HTML as a picture and reads it."""
    side = int(attributes["viewbox"].split()[2])
    scale = 6
    dots = [bytearray(b"\xff" * side * scale) for _ in range(side * scale)]
    for x, y, wide in re.findall(r"M(\d+) (\d+)h(\d+)v1h-\d+z", d):
        for line in dots[int(y) * scale : (int(y) + 1) * scale]:
            line[int(x) * scale : (int(x) + int(wide)) * scale] = b"\0" * (int(wide) * scale)
    picture = folder / "code.pgm"
    picture.write_bytes(f"P5 {side * scale} {side * scale} 255\n".encode() + b"".join(dots))
    return read_code(picture)


class Log:
    """The cells of the log."""

    def __init__(self, file):
        with open(file, newline="", encoding="utf-8") as lines:
            self.rows = list(csv.DictReader(lines))

    def job(self, name):
        return [row for row in self.rows if row["job"] == name]

    def seal(self, name):
        ends = [row for row in self.job(name) if row["event"] == "job_end"]
        last = ends[-1] if ends else self.job(name)[-1]
        return f"{last['seq']}:{last['chain']}"

    def outcome(self, name):
        return next(r["reason"].split(":")[0] for r in self.job(name) if r["event"] == "job_end")


def squeezed(text):
    """Without spaces: where a line breaks is the layout's."""
    return "".join(text.split())


def words_of(log, jobs, text, kind):
    plain = squeezed(text)
    for job in jobs:
        hold(squeezed(log.seal(job)) in plain, f"{kind} {job}: no {log.seal(job)}")
        found = log.outcome(job) != "no_fault_found"
        if len(jobs) == 1:
            hold(("DO NOT ENERGIZE" in text) == found, f"{kind} {job}: {log.outcome(job)}")
        if kind == "full":
            for row in log.job(job):
                if row["event"] in ("value", "open", "judged"):
                    for cell in ("shown", "reason"):
                        hold(squeezed(row[cell]) in plain, f"{kind} {job}: no {cell} {row[cell]!r}")
    for words in NEVER:
        hold(words not in text.lower(), f"{kind}: says {words!r}")


def pdf(stillohm, log, folder, jobs, kind, further):
    file = folder / "page.pdf"
    run(*stillohm, *jobs, *further, "--out", str(file))
    run("qpdf", "--check", str(file))
    pages = int(run("qpdf", "--show-npages", str(file)))
    text = run("pdftotext", "-layout", str(file), "-")
    words_of(log, jobs, text, kind)
    sheets = text.split("\f")[:-1]
    hold(len(sheets) == pages, f"{kind}: {pages} pages, {len(sheets)} with text")
    label = kind == "label"
    for number, sheet in enumerate(sheets, 1):
        hold(label or f"page {number} of {pages}" in sheet, f"{kind}: page {number} does not say so")
    if kind != "full":
        hold(pages == len(jobs), f"{kind}: {pages} pages for {len(jobs)} motors")
    size = re.search(r"Page size: +([\d.]+) x ([\d.]+) pts", run("pdfinfo", str(file)))
    expected = (612, 792) if "letter" in further else (100 * MM, 60 * MM) if label else (210 * MM, 297 * MM)
    for found, wanted in zip(size.groups(), expected):
        hold(abs(float(found) - wanted) < 0.1, f"{kind}: {size.group(0)}, expected {expected}")
    for line in run("pdffonts", str(file)).splitlines()[2:]:
        hold(line.split()[-5:-2] == ["yes", "yes", "yes"], f"{kind}: a font is not in the file: {line}")
    run("pdftoppm", "-r", "150", "-gray", str(file), str(folder / "sheet"))
    codes = []
    for sheet in sorted(folder.glob("sheet-*.pgm")):
        codes += read_code(sheet)
        sheet.unlink()
    if kind != "customer":
        hold(sorted(codes) == sorted(map(log.seal, jobs)), f"{kind}: codes {codes}")
    # The same rows give the same file.
    again = folder / "again.pdf"
    run(*stillohm, *jobs, *further, "--out", str(again))
    hold(again.read_bytes() == file.read_bytes(), f"{kind}: twice differs")
    return pages


def page(stillohm, log, folder, jobs, kind, further):
    text = run(*stillohm, *jobs, *further)
    parsed = Page(text)
    words_of(log, jobs, parsed.text(), kind)
    hold(not parsed.outside, f"{kind}: asks for {parsed.outside}")
    hold("url(" not in text.replace("url(#hatch-", ""), f"{kind}: its style asks for something")
    if kind != "customer":
        codes = [code for path in parsed.paths for code in code_of_html(*path, folder)]
        hold(sorted(codes) == sorted(map(log.seal, jobs)), f"{kind}: codes in HTML {codes}")


def main():
    for tool in ("qpdf", "pdftotext", "pdfinfo", "pdffonts", "pdftoppm", "zbarimg"):
        hold(shutil.which(tool), f"{tool} is not here: apt-get install qpdf poppler-utils zbar-tools")
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        (folder / "data/log").mkdir(parents=True)
        (folder / "data/captures").mkdir()
        shutil.copy(ROOT / "captures/hatchery.csv", folder / "data/log/readings-2026-11.csv")
        log = Log(ROOT / "captures/hatchery.csv")
        capture = next(row["capture"] for row in log.rows)
        shutil.copy(ROOT / "captures/hatchery.pcapng", folder / "data/captures" / capture)
        (folder / "logo.png").write_bytes(png(120, 60))
        config = folder / "stillohm.toml"
        config.write_text('[shop]\nname = "North Weir Hatchery"\naddress = ["1 Weir Lane"]\nlogo = "logo.png"\n')
        stillohm = [sys.argv[1], "report", "--data", str(folder / "data"), "--config", str(config)]
        for job in ("J2", "J3", "J20"):
            run(sys.argv[1], "verify", str(folder / "data"), "--expect", log.seal(job))
        pages = 0
        for jobs in (["J2"], ["J3"], ["J20"], ["J3", "J20", "J2"]):
            for kind, further in (
                ("full", []),
                ("full", ["--paper", "letter"]),
                ("customer", ["--customer"]),
                ("customer", ["--customer", "--paper", "letter"]),
                ("label", ["--label"]),
            ):
                pages += pdf(stillohm, log, folder, jobs, kind, further)
                page(stillohm, log, folder, jobs, kind, further)
        print(f"report: {pages} pages of PDF and 20 of HTML are whole; their values, chains and codes are those of the log")


main()
