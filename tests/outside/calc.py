#!/usr/bin/env python3
"""Sets `calc` against scipy and numpy, on random cases and on edges.

    calc.py STILLOHM [CASES]

Every expectation is computed here without anything of ours: a nodal solution
for three-phase circuits, scipy's normal distribution, a Monte Carlo of the
GUM's rectangles, decimals of the standard library. Exits 1 with the first
disagreements.
"""
import csv
import decimal
import io
import json
import math
import random
import subprocess
import sys
import tempfile

import numpy
from scipy.integrate import fixed_quad
from scipy.stats import norm

STILLOHM = sys.argv[1]
CASES = int(sys.argv[2]) if len(sys.argv) > 2 else 2000
RANDOM = random.Random(20261)
wrong = []


def calc(name, keys, rows):
    """The output rows of `calc NAME --rows` for rows of cells."""
    with tempfile.NamedTemporaryFile("w", suffix=".csv", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(keys)
        writer.writerows(rows)
        file.flush()
        run = subprocess.run([STILLOHM, "calc", name, "--rows", file.name], capture_output=True, text=True)
    found = list(csv.reader(io.StringIO(run.stdout)))
    assert found[0] == [*keys, "result", "unit", "note", "error"], found[0]
    assert len(found) == len(rows) + 1, (name, len(found), run.stderr)
    refused = sum(bool(row[-1]) for row in found[1:])
    assert run.returncode == (1 if refused else 0), (name, run.returncode, run.stderr)
    for given, row in zip(rows, found[1:]):
        assert row[: len(keys)] == [str(cell) for cell in given], (name, given, row)
        assert bool(row[-4]) != bool(row[-1]), (name, row)
    return found[1:]


def numbers(text):
    return [None if part == "" else part if part == "open" else float(part) for part in text.split(";")]


def near(name, row, expected, rel=1e-9, abs_=0.0):
    """The result holds the expected numbers, words or gaps; None: refused."""
    if expected is None:
        if not row[-1]:
            wrong.append(f"{name} {row}: expected a refusal")
        return
    found = numbers(row[-4]) if not row[-1] else []
    same = len(found) == len(expected) and all(
        f == e if isinstance(e, str) or e is None else isinstance(f, float) and math.isclose(f, e, rel_tol=rel, abs_tol=abs_)
        for f, e in zip(found, expected)
    )
    if not same:
        wrong.append(f"{name} {row}: expected {expected}")


def against(name, keys, cases, rel=1e-9, abs_=0.0):
    """cases: (cells, expected numbers or None)."""
    for row, (_, expected) in zip(calc(name, keys, [cells for cells, _ in cases]), cases):
        near(name, row, expected, rel, abs_)
    print(f"{name}: {len(cases)} cases")


def uniform(low, high):
    """Spread over the decades between."""
    return math.exp(RANDOM.uniform(math.log(low), math.log(high)))


def terminals(resistors, nodes):
    """What is read between 1-2, 2-3 and 3-1: the conductance matrix, one amp in and out."""
    matrix = numpy.zeros((nodes, nodes))
    for a, b, ohms in resistors:
        matrix[a, a] += 1 / ohms
        matrix[b, b] += 1 / ohms
        matrix[a, b] -= 1 / ohms
        matrix[b, a] -= 1 / ohms

    def between(a, b):
        keep = [n for n in range(nodes) if n != b]
        current = numpy.zeros(nodes)
        current[a] = 1.0
        volts = numpy.linalg.solve(matrix[numpy.ix_(keep, keep)], current[keep])
        return float(volts[keep.index(a)])

    return [between(0, 1), between(1, 2), between(2, 0)]


def three_phase():
    keys = ["r12", "r23", "r31"]
    wye, delta, opened = [], [], []
    for _ in range(CASES):
        a, b, c = (uniform(0.05, 50) for _ in range(3))
        wye.append((terminals([(0, 3, a), (1, 3, b), (2, 3, c)], 4), [a, b, c]))
        # Phases within a decade or two of each other: beyond it the readings no longer hold them.
        a, b, c = (uniform(0.5, 20) for _ in range(3))
        delta.append((terminals([(0, 1, a), (1, 2, b), (2, 0, c)], 3), [a, b, c]))
        at = RANDOM.randrange(3)
        phases = [(0, 1, a), (1, 2, b), (2, 0, c)]
        expected = [a, b, c]
        expected[at] = "open"
        lines = [round(r, 4) for r in terminals([p for n, p in enumerate(phases) if n != at], 3)]
        opened.append(([*lines, 0.0003], expected))
    against("wye-phases", keys, wye, rel=1e-7)
    against("delta-phases", keys, delta, rel=1e-7)
    against("delta-phases", [*keys, "resolution"], opened, rel=1e-3)
    nothing = [([1, 1, 2.01], None), ([1, 0, 1], None), ([1, 1, -1], None)]
    against("delta-phases", keys, nothing)
    against("wye-phases", keys, [([1, 1, 2.01], None), ([0, 0, 0], [0, 0, 0]), ([1, 1, 0], [0, 1, 0])], abs_=1e-12)
    values = [numpy.array([uniform(1e-3, 1e3) * RANDOM.choice([1, 1, 1, 1.02]) for _ in range(3)]) for _ in range(CASES)]
    against(
        "unbalance",
        ["r1", "r2", "r3"],
        [([float(x) for x in v], [float(100 * numpy.max(numpy.abs(v - v.mean())) / v.mean())]) for v in values],
        abs_=1e-12,
    )


def conformity():
    cases = []
    for _ in range(CASES):
        value, u = RANDOM.uniform(-50, 50), uniform(0.01, 20)
        lower = RANDOM.choice([None, value + u * RANDOM.uniform(-9, 9)])
        upper = None if lower is not None and RANDOM.random() < 0.4 else (lower if lower is not None else value) + u * RANDOM.uniform(0, 9)
        low = -math.inf if lower is None else (lower - value) / u
        high = math.inf if upper is None else (upper - value) / u
        # The same tail on both sides, so that small ones keep their digits.
        expected = norm.sf(low) - norm.sf(high) if low > 0 else norm.cdf(high) - norm.cdf(low)
        cells = [value, u, "" if lower is None else lower, "" if upper is None else upper]
        cases.append((cells, [float(expected)]))
    # A narrow band loses digits by cancellation on both sides alike.
    against("conformity", ["value", "u", "lower", "upper"], cases, rel=1e-8, abs_=1e-15)
    # Narrow slices: the density integrated, nothing subtracted.
    narrow = []
    for _ in range(CASES):
        # Fourteen digits at most: with more, the difference of the limits is as f64 has it.
        low, width = (decimal.Decimal(f"{x:.12f}") for x in (RANDOM.uniform(-8, 8), uniform(1e-9, 0.3)))
        expected = fixed_quad(lambda t: norm.pdf(float(low) + float(width) * t) * float(width), 0, 1, n=12)[0]
        narrow.append(([0, 1, str(low), str(low + width)], [float(expected)]))
    against("conformity", ["value", "u", "lower", "upper"], narrow, rel=1e-9)
    tails = [([float(z), 1, "", 0], [float(norm.cdf(-z))]) for z in range(0, 38)]
    against("conformity", ["value", "u", "lower", "upper"], tails, rel=1e-9)
    guards = []
    for _ in range(CASES):
        # ILAC-G8: at the guarded limit the share outside is 1 - Phi(w/u); scipy's quantile finds the limit back.
        u, upper, risk = uniform(0.01, 5), RANDOM.uniform(1, 100), uniform(1e-6, 0.4)
        w = norm.isf(risk)
        guards.append(([u, "", upper, w / 2], [None, float(norm.isf(1 - risk, loc=upper, scale=u))]))
    against("guarded-limits", ["u", "lower", "upper", "w_factor"], guards, rel=1e-7, abs_=1e-7)
    against("guarded-limits", ["u", "lower", "upper"], [([0.3, 1, 2], None), ([0.1, 2, 1], None), ([0.1, "", ""], None)])


def uncertainty():
    cases, draws = [], numpy.random.default_rng(20261)
    for _ in range(200):
        value, resolution = uniform(0.1, 1e4), uniform(1e-3, 1)
        percent, counts = RANDOM.uniform(0, 3), RANDOM.randrange(6)
        a = percent * value / 100 + counts * resolution
        # Propagation by Monte Carlo: two rectangles, 400,000 draws, 0.5 % at most.
        sample = draws.uniform(-a, a, 400_000) + draws.uniform(-resolution / 2, resolution / 2, 400_000)
        cases.append(([value, resolution, percent, counts], [float(sample.std())]))
    against("meter-uncertainty", ["value", "resolution", "percent", "counts"], cases, rel=5e-3)


def conductors():
    keys = ["length_m", "area_mm2", "awg", "material", "temp_c", "stranding"]
    cases, faults = [], []
    for _ in range(CASES):
        copper = RANDOM.random() < 0.6
        # IACS: 58 MS/m for copper at 20 degC; 35.3807 for aluminium; alpha at 20 from k.
        siemens, k = (58.0, 234.5) if copper else (1 / 0.028264, 228.0)
        gauge = RANDOM.choice(["4/0", "000", "2/0", "0", *map(str, range(1, 41))]) if RANDOM.random() < 0.5 else None
        if gauge:
            n = {"4/0": -3, "000": -2, "2/0": -1}.get(gauge, None)
            n = int(gauge) if n is None else n
            # In thousandths of an inch: 5 at 36, 460 at 4/0, geometric between (ASTM B258).
            mils = 5 * (460 / 5) ** ((36 - n) / 39)
            area = math.pi / 4 * (mils * 0.0254) ** 2
        else:
            area = uniform(0.1, 400)
        length, t = uniform(0.1, 3000), RANDOM.uniform(-40, 95)
        stranded = RANDOM.random() < 0.5
        ohms = length / siemens / area * (1 + (t - 20) / (k + 20)) * (1.02 if stranded else 1)
        tail = ["copper" if copper else "aluminium", t, "stranded" if stranded else "solid"]
        cells = [length, "" if gauge else area, gauge or "", *tail]
        cases.append((cells, [ohms]))
        faults.append(([2 * ohms, *cells[1:]], [length]))
    against("conductor", keys, cases)
    against("cable-loop", keys, [(cells, [2 * ohms]) for cells, (ohms,) in cases])
    against("fault-distance", ["loop_ohm", *keys[1:]], faults)
    bad = [([1, 2.5, 14], None), ([1, "", ""], None), ([0, 2.5, ""], None), ([1, "", "5/0"], None), ([1, "2,5", ""], None)]
    against("conductor", keys[:3], bad)


def temperatures():
    there, back, insulation = [], [], []
    for _ in range(CASES):
        r1, t1, t2, k = uniform(1e-6, 1e5), RANDOM.uniform(-40, 150), RANDOM.uniform(-40, 150), RANDOM.choice([225, 228, 234.5, 235, 236])
        # By alpha at T1, which is 1/(k + T1).
        r2 = r1 * (1 + (t2 - t1) / (k + t1))
        there.append(([r1, t1, t2, k], [r2]))
        back.append(([r1, t1, r2, k], [t2]))
        megohm, t = uniform(1e-3, 1e5), RANDOM.uniform(10, 85)
        insulation.append(([megohm, t, "thermoplastic"], [megohm * 2 ** (t / 10) / 16]))
        b = 4230 if t > 40 else 1245
        insulation.append(([megohm, t, "thermosetting"], [megohm * math.exp(b / 313 - b / (t + 273))]))
    against("winding-at-temperature", ["r1_ohm", "t1_c", "t2_c", "k_c"], there)
    against("winding-temperature", ["r1_ohm", "t1_c", "r2_ohm", "k_c"], back, abs_=1e-9)
    against("insulation-at-40c", ["megohm", "temp_c", "insulation"], insulation)


def exact():
    """Differences to the last digit, by the decimals of the standard library."""
    decimal.getcontext().prec = 60
    rows, sums = [], []
    for _ in range(CASES):
        digits = RANDOM.randrange(0, 12)
        text = lambda top: f"{RANDOM.uniform(0, top):.{digits}f}"
        rows.append(([text(100), text(1)]))
        sums.append([text(50), text(50), repr(RANDOM.uniform(0, 100))])
    for cells, row in zip(rows, calc("lead-null", ["shown_ohm", "leads_ohm"], rows)):
        shown, leads = map(decimal.Decimal, cells)
        if shown < leads:
            near("lead-null", row, None)
        elif row[-1] or decimal.Decimal(row[-4]) != shown - leads:
            wrong.append(f"lead-null {row}")
    for cells, row in zip(sums, calc("three-wire-sum", ["main_ohm", "start_ohm", "total_ohm"], sums)):
        main, start, total = map(decimal.Decimal, cells)
        if row[-1] or decimal.Decimal(row[-4]) != total - main - start:
            wrong.append(f"three-wire-sum {row}")
    near_values, wyes, guards = [], [], []
    for _ in range(CASES):
        place = RANDOM.randrange(1, 12)
        step = lambda n: decimal.Decimal(n).scaleb(-place)
        r = [RANDOM.randrange(1, 1000) + step(RANDOM.randrange(-9, 10))] * 2
        r.append(r[0] + step(RANDOM.randrange(1, 9)))
        most = max(abs(3 * x - sum(r)) for x in r)
        near_values.append((list(map(str, r)), [float(100 * most / sum(r))]))
        a, b, c = (step(RANDOM.randrange(0, 10 ** RANDOM.randrange(1, 12))) for _ in range(3))
        wyes.append(([str(a + b), str(b + c), str(c + a)], [float(a), float(b), float(c)]))
        # Half of them just meet.
        u, w, low = step(RANDOM.randrange(1, 500)), decimal.Decimal(RANDOM.randrange(1, 300)) / 100, step(RANDOM.randrange(1, 10**6))
        room = RANDOM.choice([0, step(RANDOM.randrange(-9, 50))])
        high = low + 4 * u * w + room
        inside = None if room < 0 else [float(low + 2 * u * w), float(high - 2 * u * w)]
        guards.append(([str(u), str(low), str(high), str(w)], inside))
    against("unbalance", ["r1", "r2", "r3"], near_values)
    against("wye-phases", ["r12", "r23", "r31"], wyes)
    against("guarded-limits", ["u", "lower", "upper", "w_factor"], guards)
    print(f"lead-null, three-wire-sum: {len(rows)} and {len(sums)} cases, to the last digit")


def ratios():
    bounds = {("pi", "trade"): [1, 2, 4], ("dar", "set-a"): [1, 1.25, 1.4, 1.6], ("dar", "set-b"): [1.25, 1.6], ("dar", "set-c"): [1, 1.25, 1.4]}
    rows, expected = [], []
    for _ in range(CASES):
        (kind, profile), edges = RANDOM.choice(list(bounds.items()))
        early = RANDOM.randrange(1, 9000)
        number = RANDOM.choice([*edges, uniform(0.2, 9)])
        late = decimal.Decimal(early) * decimal.Decimal(str(round(number, 5)))
        at = sum(late >= decimal.Decimal(early) * decimal.Decimal(str(edge)) for edge in edges)
        band = f"below_{edges[0]}" if at == 0 else f"from_{edges[-1]}" if at == len(edges) else f"{edges[at - 1]}_to_{edges[at]}"
        if kind == "pi" and early > 5000:
            band = "not_judged"
        rows.append([early, str(late), kind, profile])
        expected.append((float(late) / early, band))
    for row, (number, band) in zip(calc("ratio", ["early_megohm", "late_megohm", "kind", "profile"], rows), expected):
        found = row[-4].split(";")
        if len(found) != 2 or found[1] != band or not math.isclose(float(found[0]), number, rel_tol=1e-9):
            wrong.append(f"ratio {row}: expected {number};{band}")
    print(f"ratio: {len(rows)} cases")


def objects():
    """One calculation is one JSON object with four keys at least."""
    run = subprocess.run([STILLOHM, "calc", "unbalance", "r1=1", "r2=1", "r3=4"], capture_output=True, text=True, check=True)
    found = json.loads(run.stdout)
    assert found["result"] == 100 and {"unit", "formula", "source"} <= found.keys(), found


objects()
three_phase()
conformity()
uncertainty()
conductors()
temperatures()
exact()
ratios()
for line in wrong[:20]:
    print(line)
if wrong:
    sys.exit(f"{len(wrong)} disagree")
print("calc: all agree")
