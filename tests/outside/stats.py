#!/usr/bin/env python3
"""Sets the statistics of `review` against scipy, statsmodels and numpy.

    stats.py PROGRAM [CASES]

PROGRAM is `cargo build --example statistics`. Random cases as displays give
them: rounded, so that ties and values on a limit happen. Exits 1 with the
first disagreements.
"""
import json
import math
import random
import subprocess
import sys

import numpy
import pandas
from scipy import stats
from statsmodels.formula.api import ols
from statsmodels.robust.scale import mad
from statsmodels.stats.anova import anova_lm

PROGRAM = sys.argv[1]
CASES = int(sys.argv[2]) if len(sys.argv) > 2 else 2000
RANDOM = random.Random(1968)
asked, checks, wrong = [], [], []


def ask(check, **question):
    asked.append(json.dumps(question))
    checks.append((check, question))


def alike(question, found, expected, rel=1e-9, abs_=1e-12):
    """Numbers, words and lists of them."""
    if isinstance(expected, (list, tuple)):
        if not isinstance(found, list) or len(found) != len(expected):
            wrong.append(f"{question}: expected {expected}, found {found}")
            return
        for one, other in zip(found, expected):
            alike(question, one, other, rel, abs_)
    elif isinstance(expected, bool) or expected is None or isinstance(expected, str):
        if found != expected:
            wrong.append(f"{question}: expected {expected}, found {found}")
    elif not (isinstance(found, (int, float)) and math.isclose(found, expected, rel_tol=rel, abs_tol=abs_)):
        wrong.append(f"{question}: expected {expected}, found {found}")


def shown(value, places):
    return round(value, places)


# Slopes

def slopes():
    for _ in range(CASES):
        n = RANDOM.randint(2, 40)
        places = RANDOM.choice([0, 1, 2, 6])
        x = [shown(RANDOM.uniform(0, 700), RANDOM.choice([0, 0, 3])) for _ in range(n)]
        y = [shown(9 - at / RANDOM.uniform(200, 2000) + RANDOM.gauss(0, 0.2), places) for at in x]
        if len(set(x)) == 1:
            ask(lambda q, found: alike(q, "refused" in found, True), what="slope", x=x, y=y)
            continue

        def check(q, found, x=x, y=y):
            line = stats.theilslopes(y, x, 0.95)
            alike(q, found, [float(line.slope), float(line.intercept), float(line.low_slope), float(line.high_slope)])

        ask(check, what="slope", x=x, y=y)


# Charts

def chart(baseline, values):
    """Limits and signals by numpy, written from the handbook's words."""
    base, x = numpy.array(baseline), numpy.array(values)
    ranges = numpy.abs(numpy.diff(base))
    center, mean_range = base.mean(), ranges.mean()
    sigma = mean_range / 1.128
    zones = (x - center) / sigma
    # A value that lies on a line to within a rounding has no certain side.
    if numpy.any(numpy.abs(numpy.abs(zones)[:, None] - numpy.array([0, 1, 2, 3])) < 1e-9):
        return None
    if numpy.any(numpy.abs(numpy.abs(numpy.diff(x)) / (3.267 * mean_range) - 1) < 1e-9):
        return None
    signals = []
    for at in range(len(x)):
        for word, of, needed, beyond in (
            ("beyond", 1, 1, 3),
            ("two_of_three", 3, 2, 2),
            ("four_of_five", 5, 4, 1),
            ("eight_in_a_row", 8, 8, 0),
        ):
            for above in (True, False):
                side = zones if above else -zones
                inside = side[max(0, at - of + 1) : at + 1] > beyond
                if inside[-1] and inside.sum() >= needed:
                    signals.append([at, word, above])
        if at and abs(x[at] - x[at - 1]) > 3.267 * mean_range:
            signals.append([at, "range", True])
    return {"limits": [center, center - 3 * sigma, center + 3 * sigma, mean_range, 3.267 * mean_range], "signals": signals}


seen = {}


def charts():
    for _ in range(CASES):
        baseline = [shown(RANDOM.gauss(100, 1), RANDOM.choice([1, 3])) for _ in range(RANDOM.randint(2, 30))]
        shift = RANDOM.choice([0, 0, 0.7, -1.5, 3])
        values = [shown(RANDOM.gauss(100 + shift, RANDOM.choice([1, 1, 2])), 3) for _ in range(RANDOM.randint(1, 40))]
        if len(set(baseline)) == 1:
            ask(lambda q, found: alike(q, "refused" in found, True), what="chart", baseline=baseline, values=values)
            continue
        expected = chart(baseline, values)
        if expected is None:
            continue

        def check(q, found, expected=expected):
            alike(q, found.get("limits"), [float(limit) for limit in expected["limits"]])
            alike(q, found.get("signals"), expected["signals"])
            for _, word, above in expected["signals"]:
                seen[word, above] = seen.get((word, above), 0) + 1

        ask(check, what="chart", baseline=baseline, values=values)


# Repeatability and reproducibility

def study():
    parts, appraisers, trials = RANDOM.randint(2, 8), RANDOM.randint(2, 4), RANDOM.randint(2, 4)
    of_part = [RANDOM.gauss(50, RANDOM.choice([0, 1, 5])) for _ in range(parts)]
    of_appraiser = [RANDOM.gauss(0, RANDOM.choice([0, 0.5])) for _ in range(appraisers)]
    crossed = RANDOM.choice([0, 0, 0.3, 2])
    of_both = [[RANDOM.gauss(0, crossed) for _ in range(appraisers)] for _ in range(parts)]
    rows = [
        (f"part {p}", f"tester {a}", shown(of_part[p] + of_appraiser[a] + of_both[p][a] + RANDOM.gauss(0, 0.4), 3))
        for p in range(parts)
        for a in range(appraisers)
        for _ in range(trials)
    ]
    RANDOM.shuffle(rows)
    return rows, parts, appraisers, trials


def grr(rows, parts, appraisers, trials, by_model):
    """By statsmodels, or by cell means in numpy; the formulas of the AIAG manual."""
    if by_model:
        frame = pandas.DataFrame(rows, columns=["part", "appraiser", "value"])
        table = anova_lm(ols("value ~ C(part) * C(appraiser)", frame).fit())
        order = ["C(part)", "C(appraiser)", "C(part):C(appraiser)", "Residual"]
        df, ss = [[float(table.loc[name, column]) for name in order] for column in ("df", "sum_sq")]
        f, p = float(table.loc[order[2], "F"]), float(table.loc[order[2], "PR(>F)"])
    else:
        cube = {}
        for part, appraiser, value in rows:
            cube.setdefault((part, appraiser), []).append(value)
        names = sorted(cube)
        x = numpy.array([cube[name] for name in names]).reshape(parts, appraisers, trials)
        cells, grand = x.mean(axis=2), x.mean()
        by_part, by_appraiser = cells.mean(axis=1), cells.mean(axis=0)
        ss = [
            appraisers * trials * ((by_part - grand) ** 2).sum(),
            parts * trials * ((by_appraiser - grand) ** 2).sum(),
            trials * ((cells - by_part[:, None] - by_appraiser[None, :] + grand) ** 2).sum(),
            ((x - cells[:, :, None]) ** 2).sum(),
        ]
        df = [parts - 1, appraisers - 1, (parts - 1) * (appraisers - 1), parts * appraisers * (trials - 1)]
        f = (ss[2] / df[2]) / (ss[3] / df[3])
        p = float(stats.f.sf(f, df[2], df[3]))
    ms = [s / d for s, d in zip(ss, df)]
    pooled = p > 0.25
    error = (ss[2] + ss[3]) / (df[2] + df[3]) if pooled else ms[3]
    beside = error if pooled else ms[2]
    both = 0.0 if pooled else max(0.0, (ms[2] - ms[3]) / trials)
    av = max(0.0, (ms[1] - beside) / (parts * trials))
    pv = max(0.0, (ms[0] - beside) / (appraisers * trials))
    whole = error + av + both
    total = whole + pv
    components = [[math.sqrt(v), 100 * math.sqrt(v / total)] for v in (error, av, both, whole, pv, total)]
    return df, ss, float(f), p, pooled, components, max(1, int(1.41 * math.sqrt(pv / whole)))


def studies():
    for case in range(CASES):
        rows, *sizes = study()
        if case % 10 == 9:
            rows.pop()
            ask(lambda q, found: alike(q, "not balanced" in found.get("refused", "") or "at least 2" in found.get("refused", ""), True), what="grr", rows=rows)
            continue

        def check(q, found, rows=rows, sizes=sizes, by_model=case % 10 == 0):
            df, ss, f, p, pooled, components, ndc = grr(rows, *sizes, by_model)
            lines = [found[name] for name in ("part", "appraiser", "both", "within")]
            # A sum of squares that is nearly 0 has only the digits that its values leave.
            alike(q, lines, [[int(d), s] for d, s in zip(df, map(float, ss))], rel=1e-6, abs_=1e-9)
            alike(q, [found["f"], found["p"]], [f, p], rel=1e-6, abs_=1e-9)
            if abs(p - 0.25) > 1e-6:
                alike(q, found["pooled"], bool(pooled))
                alike(q, found["components"], components, rel=1e-5, abs_=1e-4)
                if abs(1.41 * components[4][0] / components[3][0] % 1 - 0.5) < 0.4999:
                    alike(q, found["ndc"], ndc)
            seen["pooled", found["pooled"]] = seen.get(("pooled", found["pooled"]), 0) + 1

        ask(check, what="grr", rows=rows)


# Spread

def spreads():
    for _ in range(CASES):
        values = [shown(RANDOM.lognormvariate(3, 1), RANDOM.choice([0, 1, 4])) for _ in range(RANDOM.randint(1, 60))]
        lower = RANDOM.choice([None, RANDOM.choice(values), 5.0])
        upper = RANDOM.choice([None, max(values[0], lower or 0.0), 60.0])
        if lower is not None and upper is not None and lower > upper:
            ask(lambda q, found: alike(q, "refused" in found, True), what="spread", values=values, lower=lower, upper=upper)
            continue

        def check(q, found, values=values, lower=lower, upper=upper):
            x = numpy.array(values)
            alike(q, found["spread"], [float(v) for v in numpy.percentile(x, [0, 25, 50, 75, 100])])
            alike(q, [found["mean"], found["mad"]], [float(x.mean()), float(stats.median_abs_deviation(x))])
            alike(q, found["sigma"], float(mad(x)))
            low, high = -math.inf if lower is None else lower, math.inf if upper is None else upper
            counts = [int((x < low).sum()), int(((x >= low) & (x <= high)).sum()), int((x > high).sum())]
            alike(q, found["against"], None if lower is None and upper is None else counts)

        ask(check, what="spread", values=values, lower=lower, upper=upper)
        part = RANDOM.choice([0.0, 1.0, RANDOM.random()])
        ask(lambda q, found, values=values, part=part: alike(q, found, float(numpy.quantile(values, part))), what="quantile", values=values, part=part)


for make in (slopes, charts, studies, spreads):
    before = len(asked)
    make()
    print(f"{make.__name__}: {len(asked) - before} cases")
run = subprocess.run([PROGRAM], input="\n".join(asked) + "\n", capture_output=True, text=True)
answers = run.stdout.splitlines()
if run.returncode or len(answers) != len(asked):
    sys.exit(f"{PROGRAM}: expected {len(asked)} answers and exit 0, found {len(answers)} and {run.returncode}: {run.stderr}")
for (check, question), answer in zip(checks, answers):
    try:
        check(question, json.loads(answer))
    except (KeyError, TypeError) as why:
        wrong.append(f"{question}: {answer}: {why!r}")
# A comparison that never met a rule or never pooled would prove nothing of it.
for word in ("beyond", "two_of_three", "four_of_five", "eight_in_a_row"):
    for above in (True, False):
        if not seen.get((word, above)):
            wrong.append(f"no case had {word}, above {above}")
for needed in (("range", True), ("pooled", True), ("pooled", False)):
    if not seen.get(needed):
        wrong.append(f"no case had {needed}")
if wrong:
    sys.exit("\n".join(str(line)[:600] for line in wrong[:10]) + f"\n{len(wrong)} disagreements")
print("all agree with scipy, statsmodels and numpy")
