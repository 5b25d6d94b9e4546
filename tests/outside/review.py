#!/usr/bin/env python3
"""Sets `review` against polars, over the same CSV.

    review.py STILLOHM MAKE_LOG [ROWS]

The log is made by MAKE_LOG; every count, share and last value is computed here
with polars from the files as they stand. Exits 1 with the first disagreements.
"""
import io
import json
import pathlib
import subprocess
import sys
import tempfile

import polars as pl

STILLOHM, MAKE_LOG = sys.argv[1:3]
ROWS = int(sys.argv[3]) if len(sys.argv) > 3 else 120_000
MEASURES = ["value", "open", "over_range", "aborted", "judged"]
wrong = []


def review(data, *args, code=0, form="--json"):
    run = subprocess.run(
        [STILLOHM, "review", *args, "--data", data, *([form] if form else [])], capture_output=True, text=True
    )
    if run.returncode != code:
        wrong.append(f"review {args}: exit {run.returncode}, expected {code}: {run.stderr}")
    return run


def lines(text):
    return [json.loads(line) for line in text.splitlines()]


def check(what, found, expected):
    if found != expected:
        differ = [pair for pair in zip(found, expected) if pair[0] != pair[1]][:3]
        wrong.append(f"{what}: {len(found)} rows found, {len(expected)} expected; {differ}")


def log(data):
    """All rows that count, as polars reads them."""
    files = sorted(pathlib.Path(data, "log").glob("readings-*.csv"))
    rows = pl.concat([pl.read_csv(file, infer_schema=False).fill_null("") for file in files])
    back = rows.filter(pl.col("event") == "withdrawn").select("of_seq")
    return rows, rows.join(back, left_on="seq", right_on="of_seq", how="anti")


def counted(rows, by):
    """As `review count --json` gives it, but for the shares."""
    rows = rows.filter(pl.col("event").is_in(MEASURES) & (pl.col("verdict") != ""))
    kinds = ["pass", "fail", "undecided", "not_judged"]
    groups = rows.group_by(by).agg((pl.col("verdict") == kind).sum().alias(kind) for kind in kinds)
    return sorted(groups.select(*by, *kinds).to_dicts(), key=lambda group: [group[name].encode() for name in by])


def without_shares(found):
    return [{k: v for k, v in row.items() if k not in ("fail_percent", "from", "to")} for row in found]


with tempfile.TemporaryDirectory() as data:
    subprocess.run([MAKE_LOG, str(ROWS), data], check=True, capture_output=True)
    everything, rows = log(data)
    named = rows.with_columns(
        pl.col("motor").alias("model"),
        pl.col("recorded_at").str.slice(0, 7).alias("month"),
    )
    assert len(everything) - len(rows) > ROWS / 2000, "the log withdraws too little to show anything"

    found = lines(review(data, "count").stdout)
    expected = counted(named, ["model", "month"])
    check("by model and month", without_shares(found), expected)
    for row in found:
        judged = row["pass"] + row["fail"] + row["undecided"]
        share = 100 * row["fail"] / judged if judged else None
        if abs(row["fail_percent"] - share) > 0.00501 or not row["from"] <= row["fail_percent"] <= row["to"]:
            wrong.append(f"a share: {row}, expected {share}")

    some = named.filter((pl.col("recorded_at") >= "2025-07") & (pl.col("recorded_at").str.slice(0, 7) <= "2026-02"))
    some = some.filter((pl.col("test") == "winding") & pl.col("meter").is_in(["ohms-5", "ohms-2"]))
    found = review(
        data, "count", "--by", "tester,meter,finding", "--since", "2025-07", "--until", "2026-02",
        "--test", "winding", "--meter", "ohms-5", "--meter", "ohms-2",
    )
    check("filtered", without_shares(lines(found.stdout)), counted(some, ["tester", "meter", "finding"]))

    starts = rows.filter(pl.col("event") == "job_start").select(
        "job", pl.col("note").map_elements(lambda note: json.loads(note)["stage"], return_dtype=pl.String).alias("stage")
    )
    staged = named.join(starts, on="job", how="left").with_columns(pl.col("stage").fill_null(""))
    found = lines(review(data, "count", "--by", "stage,test").stdout)
    check("by stage", without_shares(found), counted(staged, ["stage", "test"]))
    found = lines(review(data, "count", "--by", "model", "--stage", "arrival").stdout)
    check("of a stage", without_shares(found), counted(staged.filter(pl.col("stage") == "arrival"), ["model"]))

    values = rows.filter(pl.col("event").is_in(["value", "open", "over_range"]) & (pl.col("asset") != ""))
    values = values.with_columns(pl.col("seq").cast(pl.Int64))
    newest = values.group_by("asset", "test", "point").agg(pl.all().sort_by("seq").last())
    keep = ["asset", "motor", "test", "point", "shown", "verdict", "finding", "recorded_at", "job", "seq"]
    expected = [dict(zip(keep, row)) for row in newest.select(keep).rows()]
    expected.sort(key=lambda row: [row[name].encode() for name in ("asset", "test", "point")])
    found = [{("motor" if k == "model" else k): v for k, v in row.items()} for row in lines(review(data, "last").stdout)]
    check("last values", found, expected)
    if len(found) < 500:
        wrong.append(f"only {len(found)} last values")

    # The same through the CSV form.
    text = review(data, "last", form="--csv").stdout
    table = pl.read_csv(io.StringIO(text), infer_schema=False).fill_null("")
    check("last values as CSV", table["seq"].to_list(), [str(row["seq"]) for row in expected])

    # Every last winding value is withdrawn: what stood before it is the last.
    windings = [row for row in expected if row["test"] == "winding"][:50]
    gone = {str(row["seq"]) for row in windings}
    last = sorted(pathlib.Path(data, "log").glob("readings-*.csv"))[-1]
    with open(last, "a") as file:
        for at, seq in enumerate(sorted(gone, key=int)):
            number = len(everything) + 1 + at
            file.write(f"{number},2026-12-01T00:00:00.000Z,withdrawn,{seq}{',' * 37}{'0' * 32}\n")
    kept = values.filter(~pl.col("seq").cast(pl.String).is_in(list(gone)))
    newest = kept.group_by("asset", "test", "point").agg(pl.col("seq").max())
    expected = sorted(newest["seq"].to_list())
    run = review(data, "last")
    check("last values after withdrawals", sorted(row["seq"] for row in lines(run.stdout)), expected)
    if run.stderr:
        wrong.append(f"nothing is odd, but: {run.stderr}")

    # What is no row is said, and the rest is answered.
    first = sorted(pathlib.Path(data, "log").glob("readings-*.csv"))[0]
    text = first.read_bytes().split(b"\n")
    first.write_bytes(b"\n".join(text[:50] + text[51:]))
    run = review(data, "count")
    if "row 50" not in run.stderr or "verify" not in run.stderr or not run.stdout:
        wrong.append(f"a row is gone and it is not said: {run.stderr}")

    review(data, "count", "--since", "01.03.2026", code=2)
    review(data + "/nowhere", "count", code=2)

for line in wrong[:20]:
    print(line, file=sys.stderr)
if not wrong:
    print(f"{ROWS} rows: counts, shares, filters, stages and last values as polars has them")
sys.exit(1 if wrong else 0)
