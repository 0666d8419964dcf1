#!/usr/bin/env python3
"""Repeats the central working of eight judged cells from their facts, apart from the program's own code.

    python3 tests/outside/working.py PATH-TO-LAPWISE [MATRICES]

`lapwise explain --json` lists each fact at its value; the rest (times, shares, layers) is read from the enquiry here.
Each step and the central value must come out the same to six digits.
"""

import math
import pathlib
import sys
import tomllib

from scipy.optimize import brentq, minimize_scalar

from lapwise import Lapwise

GAS = 8.314462618
TORR_CM = 101325 / 760 * 0.01
SI = {"mm": 1e-3, "um": 1e-6, "m": 1.0, "V": 1.0, "kV": 1e3, "N/cm": 100.0, "h": 3600.0, "d": 86400.0, "min": 60.0,
      "a": 8766 * 3600.0, "%": 0.01, "degC": 1.0}


def size(text):
    """A written quantity in SI; degC stays degC."""
    number, unit = text.split(" ", 1)
    return float(number) * SI[unit]


class Cell:
    """One explained cell: its facts by symbol, its steps by name, and its enquiry."""

    def __init__(self, tool, folder, number, tape, criterion):
        code, told, said = tool.run("explain", number, tape, criterion, "--data", str(folder))
        if code or told is None:
            raise SystemExit(f"{number} {tape} {criterion}: exit {code}: {told or said}")
        self.name = f"{number} {tape} {criterion}"
        self.document = told
        self.fact = {fact["symbol"]: fact["si"] for fact in told["facts"]}
        self.step = {step["symbol"]: step["value"] for step in told["central"]}
        with (folder / "enquiries" / f"{number.lower()}.toml").open("rb") as file:
            self.enquiry = tomllib.load(file)
        self.misses = []
        self.checked = 0

    def same(self, name, theirs, ours):
        self.checked += 1
        if not (math.isfinite(ours) and abs(theirs - ours) <= 5e-7 * abs(ours)):
            self.misses.append(f"{self.name}: {name} is told as {theirs!r}, by hand {ours!r}")

    def steps(self, found):
        for name, ours in found.items():
            if name not in self.step:
                self.misses.append(f"{self.name}: no step {name}")
            else:
                self.same(name, self.step[name], ours)

    def central(self, ours):
        self.same("central value", self.document["central_value"], ours)

    def demand(self, ours):
        self.same("demand", self.document["demand"]["value"], ours)


def layers(winding):
    slip = size(winding["lap_tolerance"]) / size(winding["width"])
    share = size(winding["overlap"])
    return winding["passes"] * math.floor(1 / (1 - share + slip) + 1e-9)


def swelling(cell):
    f = cell.fact
    if "slope" in f:
        gap = sum(weight * (f[f"δ{axis},P"] - f[f"δ{axis},L"]) ** 2 for axis, weight in
                  (("D", 1), ("P", 0.25), ("H", 0.25)))
        chi1 = f["offset"] + f["slope"] * f["V1"] / (GAS * f["T"]) * gap
    else:
        chi1 = f["χ"]
    chi0 = 0.40 + 0.06 * chi1 + f["Δχ0"]
    elastic = f["V1"] * f["ρx"]

    def balance(v):
        return math.log1p(-v) + v + (chi0 * (1 - v) + chi1 * v) * v * v + elastic * (1 / v - v / 2)

    v = 1 - 1e-12
    while balance(v) < 0 and v > 1e-4:
        v -= 1e-4
    v = brentq(balance, v, min(v + 1e-4, 1 - 1e-15), xtol=1e-16)
    found = {"χ1": chi1, "χ0": chi0, "v": v, "equilibrium ratio": 1 / v}
    share = 1.0
    if "D0" in f:
        d = f["D0"] * math.exp(-f["ED"] / GAS * (1 / f["T"] - 1 / f["TD"]))
        found["D"] = d

        def uptake(length):
            x = d * f["t"] / (2 * length) ** 2
            return 1 - 8 / math.pi**2 * sum(math.exp(-((2 * n + 1) ** 2) * math.pi**2 * x) / (2 * n + 1) ** 2
                                            for n in range(5000))
        share = found["uptake by the lap edge"] = uptake(f["lap"])
        if "ta" in f:
            found["uptake by the face"] = uptake(f["ta"])
            share = max(share, found["uptake by the face"])
    cell.steps(found)
    cell.central(1 + (1 / v - 1) * share)


def discharge(cell):
    f, voltage, winding = cell.fact, cell.enquiry["voltage"], cell.enquiry["winding"]
    n = layers(winding)
    solid = n * (f["tb"] / f["εb"] + f["ta"] / f["εa"])
    for layer in voltage.get("other_insulation", []):
        thickness, permittivity = layer.rsplit("/", 1)
        solid += size(thickness) / float(permittivity)
    pascal = 101325 * (1 - 2.25577e-5 * f["h"]) ** 5.25588
    density = pascal * 293.15 / f["T"]
    feedback = math.log(1 + 1 / 0.01)
    a, b = 15 / TORR_CM, 365 / TORR_CM

    def across(gap):
        pd = max(density * gap, math.e * feedback / a)
        volt = b * pd / (math.log(a * pd) - math.log(feedback))
        if gap > 1e-4:
            x = density * gap / 1013.25
            volt = min(volt, 1e3 * (24.22 * x + 6.08 * math.sqrt(x)))
        return volt * (1 + solid / gap)

    widest = f["t"]
    points = [widest * (i + 1) / 4000 for i in range(4000)]
    best = min(points, key=across)
    closer = minimize_scalar(across, bounds=(best - widest / 4000, min(best + widest / 4000, widest)), method="bounded",
                             options={"xatol": 1e-14})
    inception = min(across(best), closer.fun)
    cell.steps({"layers at the thinnest place": n, "Σ t/ε": solid, "p": pascal, "inception, peak": inception})
    if voltage["kind"] == "converter":
        share = size(voltage["turn_share"])
        peak = max(size(voltage["dc_link"]) * voltage["overshoot"] * share,
                   math.sqrt(2) * size(voltage.get("across", "0 V")))
    else:
        peak = math.sqrt(2) * size(voltage["across"])
    # Enhancement factors of IEC 60034-18-41, from memory: safety 1.25, ageing 1.2.
    enhanced = 1.25 * 1.2 if voltage["kind"] == "converter" else 1.0
    cell.steps({"enhancement factors": enhanced})
    cell.demand(peak)
    cell.central(inception / enhanced / peak)


def hydrolysis(cell):
    f = cell.fact
    wet = f["Tg dry"] - f["ΔTg"]
    boil = 373.15
    rate = f["k0"]
    if f["T"] >= wet:
        rate *= math.exp(-f["E above Tg"] / GAS * (1 / f["T"] - 1 / boil))
    else:
        rate *= math.exp(-f["E above Tg"] / GAS * (1 / wet - 1 / boil))
        rate *= math.exp(-f["E below Tg"] / GAS * (1 / f["T"] - 1 / wet))
    water = f["w100"] * f["RH"] / 0.01801528
    scission = rate * f["[E]"] * water
    life = (1 / f["Mcrit"] - 1 / f["Mn"]) / scission
    cell.steps({"k": rate, "[W]": water, "scission rate": scission, "life": life})
    cell.central(life / f["t"])


def thermal(cell):
    f, duty = cell.fact, cell.enquiry["duty"]
    slope = math.log(2) / (1 / f["TI"] - 1 / (f["TI"] + f["HIC"]))

    def used(seconds, celsius):
        return seconds / (20000 * 3600 * math.exp(slope * (1 / (celsius + 273.15) - 1 / f["TI"])))

    total = sum(used(size(duty["life"]) * size(step["share"]), size(step["temperature"]))
                for step in duty["load_profile"])
    total += sum(used(size(x["duration"]), size(x["temperature"])) for x in cell.enquiry["exposure"] if x.get("cure"))
    cell.steps({"life used": total})
    cell.central(total)


def breakdown(cell):
    f, n = cell.fact, layers(cell.enquiry["winding"])
    wrap = f["Ub"] * n ** (1 - f["n"])
    kept = min(1.0, f["kept"])
    peak = math.sqrt(2) * size(cell.enquiry["voltage"]["across"])
    cell.steps({"layers at the thinnest place": n, "breakdown of the wrap, rms": wrap, "share kept in service": kept})
    cell.demand(peak)
    cell.central(wrap * math.sqrt(2) * kept / peak)


def tension(cell):
    wound = size(cell.enquiry["winding"]["tension"])
    cell.demand(wound / 100)
    cell.central(cell.fact["F"] / wound)


CELLS = [("Q-102", "H-011", "adhesive-swelling", swelling), ("Q-101", "H-013", "adhesive-swelling", swelling),
         ("Q-104", "H-012", "pd-margin", discharge), ("Q-107", "H-012", "pd-margin", discharge),
         ("Q-106", "H-012", "hydrolysis-life", hydrolysis), ("Q-107", "H-012", "thermal-life", thermal),
         ("Q-101", "H-012", "breakdown-margin", breakdown), ("Q-101", "H-012", "tension-margin", tension)]


def main():
    folder = pathlib.Path(sys.argv[2]) if len(sys.argv) > 2 else \
        pathlib.Path(__file__).resolve().parents[2] / "matrices"
    tool = Lapwise(sys.argv[1])
    misses = []
    for number, tape, criterion, by_hand in CELLS:
        cell = Cell(tool, folder, number, tape, criterion)
        by_hand(cell)
        misses += cell.misses
        print(f"{cell.name:32} {cell.checked} numbers, {len(cell.misses)} differ; {cell.document['central_value']:.6g} "
              f"{cell.document['unit']}")
    for miss in misses:
        print(f"FAULT {miss}")
    print(f"{len(CELLS)} cells, {len(misses)} faults")
    return 1 if misses else 0


if __name__ == "__main__":
    sys.exit(main())
