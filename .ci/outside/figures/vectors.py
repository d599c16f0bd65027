#!/usr/bin/env python3
"""Write statistics worked out by general-purpose libraries.

Usage: vectors.py FIGURES.tsv DISCLOSURE.tsv

The two files are outside yardsticks for packages registry/figures and
registry/disclosure. Run it again with the pinned libraries and the results are
byte for byte the same:

    pip install -r .ci/outside/figures/requirements.txt
    python3 .ci/outside/figures/vectors.py figures.tsv disclosure.tsv
    cmp figures.tsv registry/figures/testdata/vectors.tsv
    cmp disclosure.tsv registry/disclosure/testdata/vectors.tsv

Numbers are rounded to nine places, far above what platforms differ by. All
invented data are random; the survival data are open teaching data.
"""

import contextlib
import io
import json
import math
import random
import sys
import warnings

import lifelines
import numpy as np
import pandas as pd
import scipy
import statsmodels
from lifelines.datasets import load_leukemia
from lifelines.utils import median_survival_times
from scipy.optimize import Bounds, LinearConstraint, milp
from statsmodels.duration.survfunc import SurvfuncRight
from statsmodels.stats.proportion import proportion_confint

SEED = 371_003
# random() is the one method whose sequence the Python documentation promises to
# keep from version to version, so everything is drawn from it.
rng = random.Random(SEED)


def below(n):
    return int(rng.random() * n)


def number(x):
    text = "%.9f" % x
    return "0.000000000" if float(text) == 0 else text


def proportion_rows(kind, method):
    """Score interval ("wilson") and exact binomial interval ("beta")."""
    pairs = [(0, 1), (1, 1), (1, 20), (0, 20), (20, 20), (81, 263), (15, 148), (1, 29), (2, 540), (50000, 100000), (3, 100000), (99999, 100000)]
    while len(pairs) < 60:
        n = 1 + below((10, 100, 3000)[len(pairs) % 3])
        pairs.append((below(n + 1), n))
    for r, n in pairs:
        low, high = proportion_confint(r, n, alpha=0.05, method=method)
        yield kind, "%d/%d" % (r, n), "%s|%s" % (number(low), number(high))


def survival_sets():
    # The aml set of R's survival package (Miller, Survival Analysis, 1981).
    yield "9 13 13+ 18 23 28+ 31 34 45+ 48 161+"
    yield "5 5 8 8 12 16+ 23 27 30 33 43 45"
    # Remission in leukaemia (Freireich 1963; Gehan 1965), as lifelines ships it.
    data = load_leukemia()
    for arm in (0, 1):
        rows = data[data["Rx"] == arm].sort_values(["t", "status"], ascending=[True, False])
        yield " ".join("%d%s" % (t, "" if s else "+") for t, s in zip(rows["t"], rows["status"]))
    # No failure, one failure, all fail at once, everything censored at once.
    yield from ("3+ 4+", "5", "2 2 2", "7+ 7+ 7+", "0 1+ 2")
    for i in range(20):
        n = 2 + below(40)
        yield " ".join("%d%s" % (below(25), "+" if rng.random() < 0.5 else "") for _ in range(n))


def survival_rows():
    """Product limit and log-log limits by lifelines, Greenwood by statsmodels."""
    for text in survival_sets():
        t = np.array([float(x.rstrip("+")) for x in text.split()])
        e = np.array([not x.endswith("+") for x in text.split()])
        fit = lifelines.KaplanMeierFitter(alpha=0.05).fit(t, e)
        table, curve, limits = fit.event_table, fit.survival_function_["KM_estimate"], fit.confidence_interval_
        errors = {}
        if e.any():
            other = SurvfuncRight(t, e)
            errors = dict(zip(other.surv_times, other.surv_prob_se))
        steps = []
        for time, row in table.iterrows():
            if row["removed"] == 0:
                continue
            s = curve[time]
            low, high = (limits.loc[time].iloc[0], limits.loc[time].iloc[1]) if 0 < s < 1 else (math.nan, math.nan)
            se = number(errors[time]) if row["observed"] and s > 0 else "-"
            steps.append("%g:%d:%d:%d:%s:%s:%s" % (time, row["at_risk"], row["observed"], row["censored"], number(s), se,
                                                  "-" if math.isnan(low) else number(low) + "," + number(high)))
        m = fit.median_survival_time_
        yield "survival", text, "%s|%s" % (" ".join(steps), "-" if math.isinf(m) else "%g" % m)


def summary_rows():
    """Mean, deviation and quartiles by NumPy."""
    for i in range(40):
        values = [round(rng.random() * 2.3 - 0.3, 2) for _ in range(2 + below(30))]
        a = np.array(values)
        out = [a.mean(), a.std(ddof=1), *np.percentile(a, [25, 50, 75])]
        yield "summary", " ".join("%.2f" % v for v in values), "|".join(number(x) for x in out)


def lens_rows():
    """Mean lens by way of the dioptric power matrix and its eigenvalues
    (Long, Am J Optom Physiol Opt 1976), a road other than power vectors."""
    for i in range(40):
        lenses = [(round(rng.random() * 20 - 12, 2), -round(rng.random() * 6, 2), 1 + below(180)) for _ in range(1 + below(8))]
        total = np.zeros((2, 2))
        for s, c, axis in lenses:
            a = math.radians(axis)
            x, y = math.sin(a), math.cos(a)
            total += np.array([[s + c * x * x, -c * x * y], [-c * x * y, s + c * y * y]])
        powers, directions = np.linalg.eigh(total / len(lenses))
        # The axis of the minus cylinder is the direction of the greater power.
        axis = math.degrees(math.atan2(directions[1, 1], directions[0, 1])) % 180
        yield "lens", " ".join("%.2f/%.2f/%d" % lens for lens in lenses), "%s|%s|%s" % (number(powers[1]), number(powers[0] - powers[1]), number(axis))


def hidden_bounds(tables, grand_hidden):
    """Least and greatest value of each hidden count, by integer programming."""
    names, equations, hidden = [], [], {}

    def variable(count, is_hidden, place):
        names.append(count)
        if is_hidden:
            hidden[len(names) - 1] = place
        return len(names) - 1

    total = sum(sum(r) for r in tables[0]["counts"])
    grand = variable(total, grand_hidden, [0, -1, -1])
    for k, t in enumerate(tables):
        cells = [[variable(c, t["hide"][i][j], [k, i, j]) for j, c in enumerate(row)] for i, row in enumerate(t["counts"])]
        equations.append((sum(cells, []), grand))
        if t["list"]:
            continue
        for i, row in enumerate(cells):
            equations.append((row, variable(sum(t["counts"][i]), t["hide_rows"][i], [k, i, -1])))
        for j in range(len(cells[0])):
            column = [row[j] for row in cells]
            equations.append((column, variable(sum(r[j] for r in t["counts"]), t["hide_cols"][j], [k, -1, j])))
    matrix = np.zeros((len(equations), len(names)))
    for e, (parts, whole) in enumerate(equations):
        matrix[e, parts] += 1
        matrix[e, whole] -= 1
    low = np.array([1 if v in hidden else c for v, c in enumerate(names)], dtype=float)
    high = np.array([np.inf if v in hidden else c for v, c in enumerate(names)], dtype=float)
    out = []
    for v, place in hidden.items():
        goal = np.zeros(len(names))
        answer = place[:]
        for sign in (1, -1):
            goal[v] = sign
            found = milp(goal, constraints=LinearConstraint(matrix, 0, 0), bounds=Bounds(low, high), integrality=np.ones(len(names)))
            if found.status == 3 or found.status == 4:
                answer.append(None)
            elif found.success:
                answer.append(round(sign * found.fun))
            else:
                sys.exit("the solver gave no answer: %r" % found)
        out.append(answer)
    return sorted(out)


def bounds_rows():
    for i in range(60):
        n_tables = 1 + i % 3
        first = [[below(14) if rng.random() < 0.8 else 0 for _ in range(1 + below(5))] for _ in range(2 + below(4))]
        width = len(first[0])
        first = [[row[j] if j < len(row) else 0 for j in range(width)] for row in first]
        tables = []
        for k in range(n_tables):
            if k == 0 and width > 1:
                counts, is_list = first, False
            elif k == 0:
                counts, is_list = first, True
            else:
                # Another split of the same total.
                left, parts = sum(sum(r) for r in first), []
                while left > 0 and len(parts) < 4:
                    take = 1 + below(left)
                    parts.append([take])
                    left -= take
                if left or not parts:
                    parts.append([left])
                counts, is_list = parts, True

            def hide(n):
                return n > 0 and rng.random() < 0.6

            tables.append({
                "counts": counts, "list": is_list,
                "hide": [[hide(c) for c in row] for row in counts],
                "hide_rows": [] if is_list else [hide(sum(row)) for row in counts],
                "hide_cols": [] if is_list else [hide(sum(r[j] for r in counts)) for j in range(width)],
            })
        grand = sum(sum(r) for r in first) > 0 and rng.random() < 0.3
        compact = lambda x: json.dumps(x, separators=(",", ":"))
        yield "bounds", compact({"tables": tables, "grand": grand}), compact(hidden_bounds(tables, grand))


def disclosure_rows():
    """k and l by pyCANON. People with several rows are counted once: it is
    given each person once for each class."""
    with contextlib.redirect_stdout(io.StringIO()):
        from pycanon import anonymity
    words = {"year": ["24", "25"], "age": ["20s", "30s", "60s"], "sex": ["f", "m"], "indication": ["e", "d"]}
    for i in range(40):
        rows = []
        for _ in range(3 + below((20, 120, 300)[i % 3])):
            row = {c: w[below(len(w))] for c, w in words.items()}
            row["person"] = "p%d" % below((15, 90, 200)[i % 3])
            row["status"] = "sfr"[below(3) if i % 5 else 0]
            rows.append(row)
        frame = pd.DataFrame(rows)
        quasi = list(words)[: 1 + i % 4]
        once = frame.drop_duplicates(subset=quasi + ["person"])
        k = anonymity.k_anonymity(once, quasi)
        l = anonymity.l_diversity(frame, quasi, ["status"])
        data = [[r["person"]] + [r[c] for c in words] + [r["status"]] for r in rows]
        yield "canon", json.dumps({"quasi": quasi, "rows": data}, separators=(",", ":")), "%d|%d" % (k, l)


def write(path, libraries, rows):
    with open(path, "w", encoding="ascii", newline="\n") as out:
        out.write("# %s, seed %d, written by .ci/outside/figures/vectors.py\n" % (libraries, SEED))
        out.write("kind\tinput\tresult\n")
        for row in rows:
            out.write("\t".join(row) + "\n")


def main():
    if len(sys.argv) != 3:
        sys.exit(__doc__)
    warnings.simplefilter("ignore")
    figures = "lifelines %s, numpy %s, scipy %s, statsmodels %s" % (lifelines.__version__, np.__version__, scipy.__version__, statsmodels.__version__)
    rows = [*proportion_rows("wilson", "wilson"), *proportion_rows("exact", "beta"), *survival_rows(), *summary_rows(), *lens_rows(), *bounds_rows()]
    write(sys.argv[1], figures, rows)
    from importlib.metadata import version
    write(sys.argv[2], "pycanon %s" % version("pycanon"), disclosure_rows())


if __name__ == "__main__":
    main()
