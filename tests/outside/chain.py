#!/usr/bin/env python3
"""Recomputes the chain of a log folder with hashlib alone.

    chain.py DATA/log [SEQ:CHAIN]

Prints `chain ok N rows SEQ:CHAIN` and exits 0, or names the first row that
does not hold and exits 1. A SEQ:CHAIN kept elsewhere is looked for as well.
"""
import csv
import hashlib
import io
import pathlib
import re
import sys


def files(folder):
    """readings-YYYY-MM.csv, then readings-YYYY-MM-2.csv and so on, by month."""
    found = []
    for path in pathlib.Path(folder).iterdir():
        name = re.fullmatch(r"readings-(\d{4}-\d{2})(?:-(\d+))?\.csv", path.name)
        if name:
            found.append((name[1], int(name[2] or 1), path))
    return [path for _, _, path in sorted(found)]


def rows(path):
    """The rows of a file as they stand there: a line feed inside quotes ends none."""
    text = path.read_bytes().decode("utf-8", errors="replace")
    begin, quoted = text.index("\n") + 1, False
    for at in range(begin, len(text)):
        if text[at] == '"':
            quoted = not quoted
        elif text[at] == "\n" and not quoted:
            yield text[begin:at]
            begin = at + 1
    if begin < len(text):
        yield text[begin:]


def main():
    expected = sys.argv[2] if len(sys.argv) > 2 else None
    chain, count, seen = "0" * 32, 0, set()
    for path in files(sys.argv[1]):
        for row in rows(path):
            body, _, found = row.rpartition(",")
            chain = hashlib.sha256(f"{chain}{body},".encode()).hexdigest()[:32]
            count += 1
            seq = next(csv.reader(io.StringIO(row)), [""])[0]
            if found != chain or seq != str(count):
                print(f"{path.name}: row {count} does not hold: {row[:60]!r}")
                return 1
            seen.add(f"{seq}:{chain}")
    if not count:
        print(f"{sys.argv[1]}: no rows found")
        return 1
    if expected and expected not in seen:
        print(f"{expected} is not in the log: it was cut or written anew")
        return 1
    print(f"chain ok {count} rows {count}:{chain}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
