#!/usr/bin/env python3
"""Cells of closed form, a second: Lapwise, DuckDB and bare Polars expressions on the same data in one run.

    python3 -m venv venv && venv/bin/pip install duckdb polars numpy
    venv/bin/python tests/benches/closed_form.py [ENQUIRIES]

Thermal life: the share used by four load steps, no spread. Bend: strain that backing and adhesive give, two
inputs drawn at 256 points, percentiles 5, 50 and 95. Each engine has the distinct inputs in memory, uses all
processors, and is held to Lapwise's numbers. Of three runs of an engine the fastest counts. Lapwise finds the
distinct inputs in the enquiries and the catalogue by itself: its second line has the time of that in it. It hands
its cells on row by row, the others keep a table of them.

The engines place a percentile at p(n - 1) among the results and take 256 points throughout; Lapwise places it at
pn - 1/2 (Hazen, Trans. ASCE 77 (1914) 1539, from memory) and takes more points where results lie far apart. So the
bend lies a few percent apart there, and NumPy, which knows Hazen's rule, is given the same points and must agree to
the last digits.
"""
import math
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import duckdb
import numpy as np
import polars as pl

ROOT = Path(__file__).resolve().parents[2]
Z95 = 1.6448536269514726
LIFE_AT_INDEX = 20_000 * 3600.0
SHEAR = (0.5, 0.25, 1.0)
POINTS = 256
# Up to how far apart the first points lie about the ends, in ln, how many points do; and how many about each end tell.
ENOUGH = [(0.15, POINTS), (0.6, 4 * POINTS), (0.9, 8 * POINTS), (math.inf, 16 * POINTS)]
ABOUT = 6


def lapwise(folder, enquiries):
    command = ["cargo", "bench", "--bench", "scale", "--", "closed", str(folder), str(enquiries)]
    said = subprocess.run(command, cwd=ROOT, check=True, capture_output=True, text=True).stdout
    lines = (line.split() for line in said.splitlines() if " cells " in line)
    return {line[0]: (int(line[2]), float(line[4]), float(line[6])) for line in lines}


def fastest(run):
    best, result = math.inf, None
    for _ in range(3):
        begun = time.perf_counter()
        result = run()
        best = min(best, time.perf_counter() - begun)
    return best, result


def life_duckdb():
    step = " + ".join(f"life * s{i} / ({LIFE_AT_INDEX} * exp(b * (1 / t{i} - 1 / ti)))" for i in range(1, 5))
    return f"""
        select tape, "case", {step} as used
        from (select *, ln(2) / (1 / ti - 1 / (ti + hic)) as b from life_tapes), life_cases"""


def life_polars(tapes, cases):
    b = math.log(2) / (1 / pl.col("ti") - 1 / (pl.col("ti") + pl.col("hic")))
    steps = [
        pl.col("life") * pl.col(f"s{i}") / (LIFE_AT_INDEX * (pl.col("b") * (1 / pl.col(f"t{i}") - 1 / pl.col("ti"))).exp())
        for i in range(1, 5)
    ]
    joined = tapes.lazy().with_columns(b=b).join(cases.lazy(), how="cross")
    return joined.select("tape", "case", used=sum(steps[1:], steps[0])).collect()


def bend_duckdb():
    shear = f"{SHEAR[0]} * exp(abs(zs) / {Z95} * ln(if(zs < 0, {SHEAR[1]}, {SHEAR[2]}) / {SHEAR[0]}))"
    drawn = f"""
        select tape, h, ta, elongation, {shear} as shear,
               e * exp(abs(ze) / {Z95} * ln(if(ze < 0, elow, ehigh) / e)) as e
        from bend_tapes, draws"""
    return f"""
        select tape, "case", quantile_cont(x, [0.05, 0.5, 0.95]) as p
        from (select tape, "case", shear * ta * 2 * pi() / around + least(tension / (e * h), elongation) as x
              from ({drawn}), bend_cases)
        group by all"""


def bend_polars(tapes, cases, draws):
    def at(value, low, high, z):
        return value * (z.abs() / Z95 * (pl.when(z < 0).then(low).otherwise(high) / value).log()).exp()

    shear = at(pl.lit(SHEAR[0]), pl.lit(SHEAR[1]), pl.lit(SHEAR[2]), pl.col("zs"))
    modulus = at(pl.col("e"), pl.col("elow"), pl.col("ehigh"), pl.col("ze"))
    drawn = tapes.lazy().join(draws.lazy(), how="cross").with_columns(shear=shear, e=modulus)
    strain = pl.col("shear") * pl.col("ta") * 2 * math.pi / pl.col("around") + pl.min_horizontal(
        pl.col("tension") / (pl.col("e") * pl.col("h")), pl.col("elongation")
    )
    x = drawn.join(cases.lazy(), how="cross").select("tape", "case", x=strain)
    quantiles = [pl.col("x").quantile(p, "linear").alias(name) for p, name in [(0.05, "x05"), (0.5, "x50"), (0.95, "x95")]]
    return x.group_by("tape", "case").agg(quantiles).collect(engine="streaming")


def bend_numpy(tapes, cases, draws):
    """The same by Hazen's rule, each over as many points as Lapwise takes."""
    def at(value, low, high, z):
        return value * np.exp(np.abs(z) / Z95 * np.log(np.where(z < 0, low, high) / value))

    column = {name: tapes[name].to_numpy()[:, None] for name in tapes.columns}
    modulus = at(column["e"], column["elow"], column["ehigh"], draws["ze"].to_numpy()[None, :])
    shear = at(*SHEAR, draws["zs"].to_numpy())[None, :]
    found = []
    for case in cases.iter_rows(named=True):
        bent = np.minimum(case["tension"] / (modulus * column["h"]), column["elongation"])
        x = shear * column["ta"] * 2 * math.pi / case["around"] + bent
        of = {points: np.quantile(x[:, :points], [0.05, 0.5, 0.95], axis=1, method="hazen") for _, points in ENOUGH}
        first = np.sort(x[:, :POINTS], axis=1)
        places = [math.floor(p * POINTS - 0.5) for p in (0.05, 0.95)]
        apart = np.max([np.log(first[:, at + 1 + ABOUT] / first[:, at - ABOUT]) for at in places], axis=0)
        least = np.array([next(points for most, points in ENOUGH if a <= most) for a in apart])
        x05, x50, x95 = (sum(np.where(least == points, p[nth], 0.0) for points, p in of.items()) for nth in range(3))
        found.append(pl.DataFrame({"tape": tapes["tape"], "x05": x05, "x50": x50, "x95": x95}).with_columns(case=case["case"]))
    return pl.concat(found)


def worst_polars(found, cells, names):
    joined = found.join(cells, on=["tape", "case"], suffix="_cell")
    assert joined.height == found.height, "cells are missing"
    return joined.select(pl.max_horizontal([(pl.col(a) / pl.col(b)).log().abs() for a, b in names]).max()).item()


def worst_duckdb(db, form, names):
    apart = ", ".join(f"abs(ln({a} / {b}))" for a, b in names)
    return db.execute(f"select max(greatest({apart})) from found join {form}_cells c using (tape, \"case\")").fetchall()[0][0]


def main():
    enquiries = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    db = duckdb.connect()
    tables = {}
    with tempfile.TemporaryDirectory() as folder:
        told = lapwise(folder, enquiries)
        for form, short in [("thermal-life", "life"), ("conformability", "bend")]:
            for kind in ["tapes", "cases", "cells"]:
                tables[f"{short}_{kind}"] = Path(folder) / f"{form}-{kind}.csv"
        tables["draws"] = Path(folder) / "draws.csv"
        for name, path in tables.items():
            # As many cases of the bend as can be held drawn out at once.
            few = "limit 4" if name == "bend_cases" else ""
            db.execute(f"create table {name} as select * from read_csv('{path}') {few}")
            tables[name] = pl.read_csv(path, n_rows=4 if few else None)
        tables["all_draws"], tables["draws"] = tables["draws"], tables["draws"].head(POINTS)
        db.execute(f"delete from draws where point >= {POINTS}")
    print(f"{'':16}{'cells':>10}{'seconds':>10}{'cells/s':>14}{'Lapwise over it':>18}{'apart, ln':>12}")
    for form, short, by_duckdb, by_polars, names in [
        ("thermal-life", "life", life_duckdb, lambda: life_polars(tables["life_tapes"], tables["life_cases"]),
         [("used", "x50")]),
        ("conformability", "bend", bend_duckdb,
         lambda: bend_polars(tables["bend_tapes"], tables["bend_cases"], tables["draws"]),
         [("x05", "x05"), ("x50", "x50"), ("x95", "x95")]),
    ]:
        cells, seconds, planned = told[form]
        own = cells / seconds
        print(f"{form}\n  {'Lapwise':14}{cells:>10}{seconds:>10.3f}{own:>14,.0f}")
        print(f"  {'  with plan':14}{cells:>10}{seconds + planned:>10.3f}{cells / (seconds + planned):>14,.0f}")
        seconds, _ = fastest(lambda: db.execute(f"create or replace table found as {by_duckdb()}"))
        count = db.execute("select count(*) from found").fetchall()[0][0]
        of = [(f"p[{i + 1}]" if short == "bend" else a, f"c.{b}") for i, (a, b) in enumerate(names)]
        told_apart("DuckDB", count, seconds, own, worst_duckdb(db, short, of))
        seconds, found = fastest(by_polars)
        of = [(a, f"{b}_cell" if a == b else b) for a, b in names]
        told_apart("Polars", found.height, seconds, own, worst_polars(found, tables[f"{short}_cells"], of))
    cells = bend_numpy(tables["bend_tapes"], tables["bend_cases"], tables["all_draws"])
    worst = worst_polars(cells, tables["bend_cells"], [(name, f"{name}_cell") for name in ["x05", "x50", "x95"]])
    print(f"  {'NumPy, Hazen':14}{cells.height:>10}{'':>42}{worst:>12.1e}")
    assert worst < 1e-12, "the bend is another by Hazen's rule"


def told_apart(engine, cells, seconds, own, apart):
    rate = cells / seconds
    print(f"  {engine:14}{cells:>10}{seconds:>10.3f}{rate:>14,.0f}{own / rate:>18.2f}{apart:>12.1e}")


if __name__ == "__main__":
    main()
