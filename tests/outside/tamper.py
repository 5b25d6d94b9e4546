#!/usr/bin/env python3
"""Alters a log in every way we know and holds `verify` to noticing.

    tamper.py STILLOHM [--table]

Each way works on its own copy. What a chain alone cannot show must say so by
passing, and must be found with a SEQ:CHAIN kept elsewhere. Chains are written
anew with hashlib, not with the program. `--table` prints README's table.
"""
import csv
import hashlib
import io
import pathlib
import shutil
import subprocess
import sys
import tempfile

CONFIG = 'data = "data"\n[[meter]]\nname = "gauge"\nby_eye = true\n'


class Data:
    """A data folder: two months of log, three captures."""

    def __init__(self, folder):
        self.folder = folder
        self.log = folder / "log"
        self.captures = folder / "captures"

    def files(self):
        return sorted(self.log.glob("readings-*.csv"))

    def lines(self):
        return [file.read_text().split("\n")[:-1] for file in self.files()]

    def write(self, months):
        for file, lines in zip(self.files(), months):
            file.write_text("".join(line + "\n" for line in lines))

    def capture(self, number):
        return sorted(self.captures.iterdir(), key=lambda p: (len(p.name), p.name))[number]


def rechained(months):
    """All chains anew, as README tells it."""
    chain = "0" * 32
    done = []
    for header, *rows in months:
        lines = [header]
        for row in rows:
            body = row[: row.rindex(",") + 1]
            chain = hashlib.sha256((chain + body).encode()).hexdigest()[:32]
            lines.append(body + chain)
        done.append(lines)
    return done


WAYS = {}


def way(name, words, needs_expect=False, deep=None):
    """`deep`: what replaying the captures shows of a way that a chain does not."""

    def keep(act):
        WAYS[name] = (act, words, needs_expect, deep)
        return act

    return keep


@way("a digit of a value is changed", "FAILED row 2: its chain does not hold")
def _(data):
    months = data.lines()
    months[0][2] = months[0][2].replace("0.31", "0.37")
    data.write(months)


@way("a row is removed", "FAILED row 5: it is missing: row 6 follows row 4")
def _(data):
    months = data.lines()
    del months[0][5]
    data.write(months)


@way("two rows change places", "FAILED row 2: it is missing: row 3 follows row 1")
def _(data):
    months = data.lines()
    months[0][2], months[0][3] = months[0][3], months[0][2]
    data.write(months)


@way("a row stands twice", "FAILED row 6: it stands where row 7 should be")
def _(data):
    months = data.lines()
    months[0].insert(7, months[0][6])
    data.write(months)


@way("a row is made up and put in", "FAILED row 4: its chain does not hold")
def _(data):
    months = data.lines()
    months[0].insert(4, months[0][2].replace("2,", "4,", 1))
    data.write(months)


@way("the time of a row is moved", "FAILED row 6: its chain does not hold")
def _(data):
    months = data.lines()
    row = months[0][6]
    digit = row.index("Z,") - 1
    months[0][6] = row[:digit] + str((int(row[digit]) + 1) % 10) + row[digit + 1 :]
    data.write(months)


@way("a comma is taken out of a row", "FAILED row 6: its chain does not hold")
def _(data):
    months = data.lines()
    months[0][6] = months[0][6].replace(",,", ",", 1)
    data.write(months)


@way("the first line is changed", "FAILED row 1: the file's first line is not the log's header")
def _(data):
    months = data.lines()
    months[0][0] = months[0][0].replace("verdict", "result")
    data.write(months)


@way("the first month's file is removed", "FAILED row 1: rows 1 to 7 are missing: the log begins with row 8")
def _(data):
    data.files()[0].unlink()


@way("a month's file is named after an earlier month", "FAILED row 1")
def _(data):
    file = data.files()[0]
    file.rename(file.with_name("readings-2001-01.csv"))


@way("a spreadsheet saved the file", "it was saved by a spreadsheet or editor")
def _(data):
    file = data.files()[0]
    file.write_bytes(b"\xef\xbb\xbf" + file.read_bytes().replace(b"\n", b"\r\n"))


def saved_with(change):
    """Cells of every row as `change` writes them, by a CSV writer of another kind."""

    def act(data):
        file = data.files()[0]
        rows = [change(row) for row in csv.reader(io.StringIO(file.read_text()))]
        text = io.StringIO()
        csv.writer(text, delimiter=";", lineterminator="\n").writerows(rows)
        file.write_text(text.getvalue())

    return act


@way("a spreadsheet wrote the dates anew", "dates written anew")
def _(data):
    def date(row):
        day = row[1][:10].split("-")
        return [row[0], ".".join(reversed(day)) + row[1][10:16].replace("T", " "), *row[2:]]

    saved_with(lambda row: row if row[0] == "seq" else date(row))(data)


@way("a spreadsheet put commas for points", "commas as decimal marks")
def _(data):
    saved_with(lambda row: [*row[:14], row[14].replace(".", ","), *row[15:]])(data)


@way("a value is changed and all chains written anew", "", needs_expect=True, deep="replaying its capture gives another shown")
def _(data):
    months = data.lines()
    months[0][2] = months[0][2].replace("0.31", "0.37")
    data.write(rechained(months))


@way("the end is cut off between two rows", "", needs_expect=True, deep="its captures give 2 rows more")
def _(data):
    months = data.lines()
    data.write([months[0], months[1][:-2]])


@way("the very last row is cut off, as a crash may", "", needs_expect=True)
def _(data):
    months = data.lines()
    data.write([months[0], months[1][:-1]])


@way("the end is cut off within a row", "note: ", needs_expect=True)
def _(data):
    file = data.files()[1]
    file.write_text(file.read_text()[:-60])


@way("the last month's file is removed", "", needs_expect=True)
def _(data):
    data.files()[1].unlink()
    data.capture(2).unlink()


@way("a finished capture is altered", "was changed after it was finished")
def _(data):
    capture = data.capture(0)
    octets = bytearray(capture.read_bytes())
    octets[octets.index(b"0.31")] = ord("9")
    capture.write_bytes(octets)


@way("two captures change places", "was changed after it was finished")
def _(data):
    one, two = data.capture(0), data.capture(1)
    first, second = one.read_bytes(), two.read_bytes()
    one.write_bytes(second)
    two.write_bytes(first)


@way("a capture is removed", "is missing; rows name it")
def _(data):
    data.capture(1).unlink()


@way("a capture's end is cut off", "was changed after it was finished")
def _(data):
    capture = data.capture(0)
    capture.write_bytes(capture.read_bytes()[:-40])


@way("a capture is altered, its digest and all chains written anew", "", needs_expect=True, deep="replaying its capture gives another")
def _(data):
    capture = data.capture(0)
    before = hashlib.sha256(capture.read_bytes()).hexdigest()
    octets = bytearray(capture.read_bytes())
    octets[octets.index(b"0.31")] = ord("9")
    capture.write_bytes(octets)
    after = hashlib.sha256(capture.read_bytes()).hexdigest()
    months = [[line.replace(before, after) for line in month] for month in data.lines()]
    data.write(rechained(months))


def make(stillohm, folder):
    """Three runs; the last one stands in a file of a later month, as after a year's turn."""
    (folder / "stillohm.toml").write_text(CONFIG)
    for shown in ("0.31", "41.2", "22.7 kΩ"):
        subprocess.run([stillohm, "enter", "gauge", "--shown", shown, "--tester", "E. Weir"], cwd=folder, check=True, stdout=subprocess.DEVNULL)
    data = Data(folder / "data")
    (file,) = data.files()
    header, *rows = file.read_text().split("\n")[:-1]
    file.write_text("".join(line + "\n" for line in [header, *rows[:7]]))
    year, month = map(int, file.stem.split("-")[1:])
    later = f"readings-{year + month // 12}-{month % 12 + 1:02}.csv"
    file.with_name(later).write_text("".join(line + "\n" for line in [header, *rows[7:]]))
    return data, rows[-1].split(",")[0] + ":" + rows[-1].rsplit(",", 1)[1]


def verify(stillohm, data, *args):
    ran = subprocess.run([stillohm, "verify", str(data.folder), *args], capture_output=True, text=True)
    return ran.returncode, ran.stdout


def main():
    stillohm = str(pathlib.Path(sys.argv[1]).resolve())
    table = "--table" in sys.argv
    faults = 0
    with tempfile.TemporaryDirectory() as scratch:
        scratch = pathlib.Path(scratch)
        data, kept = make(stillohm, scratch)
        code, said = verify(stillohm, data, "--expect", kept)
        deep, deep_said = verify(stillohm, data, "--deep")
        if code != 0 or deep != 0 or "0 rows beside" not in deep_said:
            said += deep_said
            sys.exit(f"the log is not whole before anything was done to it: {said}")
        if table:
            print("| what is done to the log | `verify` | with `--expect` | with `--deep` |\n|---|---|---|---|")
        for name, (act, words, needs_expect, deep) in WAYS.items():
            copy = Data(scratch / "copy")
            shutil.copytree(data.folder, copy.folder)
            act(copy)
            plain, said = verify(stillohm, copy)
            expected, expected_said = verify(stillohm, copy, "--expect", kept)
            holds = words in said and expected == 1 and plain == (0 if needs_expect else 1)
            replayed, replayed_said = verify(stillohm, copy, "--deep")
            holds = holds and replayed == (1 if deep or not needs_expect else 0) and (deep or "") in replayed_said
            if needs_expect:
                holds = holds and f"row {kept.split(':')[0]}" in expected_said
            if not holds:
                faults += 1
                print(f"FAILED {name}: exit {plain} and, with what was kept, {expected}; expected {words!r}; found:\n{said}{expected_said}{replayed_said}")
            if table:
                first = next(line for line in said.split("\n") if needs_expect or line.startswith("FAILED"))
                shown = "not seen" if needs_expect else first.removeprefix("FAILED ").split(" [")[0].split(" (the file")[0]
                print(f"| {name} | {shown} | named | {'not seen' if replayed == 0 else 'named'} |")
            shutil.rmtree(copy.folder)
    if faults:
        sys.exit(1)
    if not table:
        alone = sum(not needs for _, _, needs, _ in WAYS.values())
        replays = sum(deep is not None for _, _, _, deep in WAYS.values())
        print(f"{len(WAYS)} ways to alter a log: {alone} named, {len(WAYS) - alone} only with a row kept elsewhere, {replays} of those also by replaying")


if __name__ == "__main__":
    main()
