#!/usr/bin/env python3
"""General libraries as witnesses: random inputs over each method's range, the worst difference of each.

    python3 tests/outside/witness.py PATH-TO-LAPWISE

The other side never copies our formula where it can help it: units from pint, steam from iapws, psychrolib and chemicals,
roots and minima by scipy over a dense grid, diffusion by finite differences, helices and spirals by arc length, the
breakdown of a gap by its ionisation criterion, rates by polykin, air by ambiance and fluids. Same seed, same inputs.
"""

import math
import sys
import time

import numpy as np
from ambiance import Atmosphere
from chemicals.iapws import iapws95_Psat
from fluids.atmosphere import ATMOSPHERE_1976
from iapws.iapws97 import _PSat_T
from pint import UnitRegistry
from polykin.kinetics import Arrhenius
from polykin.thermo.acm import FloryHuggins2_activity
import psychrolib
from scipy.integrate import quad, solve_ivp
from scipy.linalg import solve, solve_banded
from scipy.optimize import brentq, minimize_scalar

from lapwise import Lapwise

GAS = 8.314462618
RNG = np.random.default_rng(20260214)
worst = {}


def between(low, high):
    return float(RNG.uniform(low, high))


def over(low, high):
    """Even in the logarithm."""
    return float(math.exp(RNG.uniform(math.log(low), math.log(high))))


def compare(method, tolerance, ours, theirs, what, absolute=False):
    difference = abs(ours - theirs) if absolute else abs(ours / theirs - 1) if theirs else abs(ours)
    if math.isnan(difference):
        difference = math.inf
    count, most, said, limit = worst.get(method, (0, -1.0, "", tolerance))
    if difference > most:
        most, said = difference, f"{what}: {ours!r}, witness {theirs!r}"
    worst[method] = (count + 1, most, said, limit)


# --- units: pint ------------------------------------------------------------------------------------------------
SAME_KIND = {
    "length": {"m": "m", "mm": "mm", "um": "um", "mil": "thou", "in": "inch", "ft": "foot", "yd": "yard", "cm": "cm",
               "nm": "nm"},
    "time": {"s": "s", "min": "min", "h": "hour", "d": "day", "a": "8766*hour"},
    "force per length": {"N/cm": "N/cm", "N/25 mm": "N/(25*mm)", "N/10 mm": "N/(10*mm)", "lbf/in": "lbf/inch",
                         "ozf/in": "lbf/16/inch", "kgf/cm": "kgf/cm", "gf/mm": "gram_force/mm", "cN/mm": "cN/mm",
                         "kN/m": "kN/m", "mN/m": "mN/m", "J/m2": "J/m**2", "lbf/ft": "lbf/foot"},
    "force": {"N": "N", "cN": "cN", "lbf": "lbf", "ozf": "lbf/16", "kgf": "kgf", "gf": "gram_force"},
    "pressure": {"Pa": "Pa", "kPa": "kPa", "MPa": "MPa", "GPa": "GPa", "bar": "bar", "psi": "psi", "torr": "torr",
                 "atm": "atm", "N/mm2": "N/mm**2", "mmHg": "mmHg", "mbar": "mbar"},
    "field": {"kV/mm": "kV/mm", "V/mil": "V/thou", "V/m": "V/m", "kV/cm": "kV/cm", "MV/m": "MV/m"},
    "voltage": {"V": "V", "kV": "kV", "mV": "mV"},
    "fraction": {"%": "percent", "ppm": "ppm", "mg/kg": "mg/kg", "g/kg": "g/kg"},
    "density": {"kg/m3": "kg/m**3", "g/cm3": "g/cm**3", "g/l": "g/liter"},
    "viscosity": {"mPa s": "mPa*s", "Pa s": "Pa*s", "P": "poise", "cP": "centipoise"},
    "diffusivity": {"m2/s": "m**2/s", "cm2/s": "cm**2/s", "mm2/h": "mm**2/hour", "cSt": "centistokes",
                    "in2/d": "inch**2/day"},
    "molar energy": {"kJ/mol": "kJ/mol", "J/mol": "J/mol", "kcal/mol": "kcal/mol"},
    "molar volume": {"cm3/mol": "cm**3/mol", "l/mol": "liter/mol", "m3/mol": "m**3/mol"},
    "crosslinks": {"mol/cm3": "mol/cm**3", "mol/m3": "mol/m**3", "mol/l": "mol/liter"},
    "solubility": {"MPa^0.5": "MPa**0.5", "(J/cm3)^0.5": "(J/cm**3)**0.5", "(cal/cm3)^0.5": "(cal/cm**3)**0.5"},
    "resistivity": {"ohm m": "ohm*m", "ohm cm": "ohm*cm", "Gohm m": "Gohm*m"},
    "angle": {"deg": "degree", "rad": "radian"},
    "per pressure": {"1/(cm torr)": "1/(cm*torr)", "1/(m Pa)": "1/(m*Pa)"},
    "field per pressure": {"V/(cm torr)": "V/(cm*torr)", "V/(m Pa)": "V/(m*Pa)"},
    "rate": {"kg/mol/s": "kg/mol/s", "g/mol/h": "g/mol/hour"},
}


def units(tool):
    registry = UnitRegistry()
    for _ in range(600):
        known = SAME_KIND[RNG.choice(list(SAME_KIND))]
        here, there = RNG.choice(list(known), 2)
        value = over(1e-6, 1e6)
        sizes = [1.0 * registry.parse_expression(known[unit]) for unit in (here, there)]
        theirs = value * (sizes[0] / sizes[1]).to("").magnitude
        ours = tool.model("convert", {"value": f"{value!r} {here}", "to": there})["value"]
        compare("convert (pint)", 1e-12, ours, theirs, f"{value!r} {here} to {there}")
    for _ in range(60):
        here, there = RNG.choice(["degC", "degF", "K"], 2)
        value = between(0, 700) if here == "K" else between(-200, 400)
        theirs = registry.Quantity(value, {"K": "kelvin"}.get(here, here)).to({"K": "kelvin"}.get(there, there)).m
        ours = tool.model("convert", {"value": f"{value!r} {here}", "to": there})["value"]
        compare("convert, temperatures (pint)", 1e-9, ours, theirs, f"{value!r} {here} to {there}", absolute=True)


# --- water and air ------------------------------------------------------------------------------------------------
def water(tool):
    psychrolib.SetUnitSystem(psychrolib.SI)
    for _ in range(120):
        kelvin = between(273.16, 423.15)
        ours = tool.model("vapour-pressure", {"temperature": f"{kelvin!r} K"})["pressure"]
        compare("vapour-pressure (iapws, IF97)", 1e-9, ours, _PSat_T(kelvin) * 1e6, f"{kelvin} K")
        compare("vapour-pressure (chemicals, IAPWS-95)", 5e-4, ours, iapws95_Psat(kelvin), f"{kelvin} K")
        compare("vapour-pressure (psychrolib)", 5e-4, ours, psychrolib.GetSatVapPres(kelvin - 273.15), f"{kelvin} K")


def air(tool):
    for _ in range(80):
        metres = between(0, 5000)
        ours = tool.model("air-pressure", {"altitude": f"{metres!r} m"})["pressure"]
        compare("air-pressure (ambiance)", 1e-3, ours, float(Atmosphere([metres]).pressure[0]), f"{metres} m")
        compare("air-pressure (fluids)", 1e-3, ours, ATMOSPHERE_1976(metres).P, f"{metres} m")


# --- swelling: every root on a dense grid, polished by brentq -------------------------------------------------------
GRID = np.unique(np.concatenate([np.logspace(-7, -2, 3000), np.linspace(1e-2, 1 - 1e-2, 30000),
                                 1 - np.logspace(-2, -13, 3000)]))


def swelling(tool):
    three = 0
    for case in range(700):
        volume, free = over(50, 900), RNG.random() < 0.5
        nu, affine = over(1e-7, 5e-4), RNG.random() < 0.6
        chi0, chi1 = between(0.1, 0.6), between(0.1, 2.5)
        if case % 2:  # where three roots are likely
            chi0, chi1, nu, free = between(0.1, 0.45), between(0.9, 2.2), over(1e-7, 2e-5), True
        activity = 1.0 if RNG.random() < 0.7 else between(0.2, 0.999)

        def potential(v):
            stretch = np.cbrt(v) if free else 1 / v
            elastic = stretch - v / 2 if affine else stretch / 2
            return (np.log1p(-v) + v + (chi0 * (1 - v) + chi1 * v) * v * v + volume * nu * elastic
                    - math.log(activity))

        value = potential(GRID)
        at = np.flatnonzero((value[:-1] >= 0) != (value[1:] >= 0))
        if not len(at):
            continue
        # A hump that only grazes zero is no fair question: whether it counts is a matter of the last digits.
        humps = np.flatnonzero((value[1:-1] > value[:-2]) & (value[1:-1] > value[2:])) + 1
        if any(abs(value[i]) < 1e-9 for i in humps):
            continue
        three += len(at) == 3
        theirs = brentq(potential, GRID[at[-1]], GRID[at[-1] + 1], xtol=1e-16, rtol=1e-14)
        ours = tool.model("swelling", {
            "molar-volume": f"{volume!r} cm3/mol", "crosslink-density": f"{nu!r} mol/cm3",
            "chi-points": f"{chi0!r}@0,{chi1!r}@1", "form": "affine" if affine else "phantom",
            "constraint": "free" if free else "sheet", "activity": repr(activity)})
        what = f"V {volume} nu {nu} chi {chi0}..{chi1} affine {affine} free {free} a {activity} ({len(at)} roots)"
        compare("swelling (scipy)", 1e-7, ours["polymer-fraction"], theirs, what)
        if len(at) == 3:
            compare("swelling, three roots (scipy)", 1e-7, ours["polymer-fraction"], theirs, what)
    if three < 20:
        raise SystemExit(f"only {three} cases with three roots: the draw has lost its point")
    for _ in range(60):
        chi, activity = between(0.1, 1.2), between(0.05, 0.9)
        theirs = 1 - brentq(lambda p: FloryHuggins2_activity(p, 1e15, chi) - activity, 1e-15,
                            0.02 if FloryHuggins2_activity(0.02, 1e15, chi) > activity else
                            brentq_peak(chi, activity), xtol=1e-16)
        ours = tool.model("swelling", {"molar-volume": "100 cm3/mol", "crosslink-density": "0 mol/cm3", "chi": repr(chi),
                                       "activity": repr(activity)})["polymer-fraction"]
        compare("swelling by vapour (polykin)", 1e-9, ours, theirs, f"chi {chi} a {activity}")


def brentq_peak(chi, activity):
    """The smallest liquid fraction whose activity is above the wanted one."""
    share = 0.02
    while FloryHuggins2_activity(share, 1e15, chi) < activity:
        share = min(share + 0.002, 1.0)
    return share


# --- diffusion ------------------------------------------------------------------------------------------------------
def diffusion(tool):
    for _ in range(25):
        thickness, diffusivity, faces = over(1e-5, 1e-2), over(1e-15, 1e-10), int(RNG.integers(1, 3))
        x = over(3e-3, 1.2)
        length = thickness * (1 if faces == 2 else 2)
        seconds = x * length**2 / diffusivity
        ours = tool.model("sheet-uptake", {"diffusivity": f"{diffusivity!r} m2/s", "thickness": f"{thickness!r} m",
                                           "time": f"{seconds!r} s", "faces": faces})["fraction"]
        compare("sheet-uptake (finite differences)", 2e-4, ours, by_differences(x), f"x {x} faces {faces}")
    n = np.arange(20000)
    for _ in range(150):
        x = over(1e-7, 3)
        series = 1 - 8 / math.pi**2 * float(np.sum(np.exp(-((2 * n + 1) ** 2) * math.pi**2 * x) / (2 * n + 1) ** 2))
        if x < 1e-3:  # half space: no face feels the other
            series = 4 * math.sqrt(x / math.pi)
        ours = tool.model("sheet-uptake", {"diffusivity": "1 m2/s", "thickness": "1 m", "time": f"{x!r} s"})["fraction"]
        compare("sheet-uptake (long series)", 1e-9, ours, series, f"x {x}")
    for _ in range(60):
        share = between(0.01, 0.995)
        ours = tool.model("sheet-time", {"diffusivity": "1 m2/s", "thickness": "1 m", "fraction": repr(share)})["time"]
        full = lambda x: 1 - 8 / math.pi**2 * float(np.sum(np.exp(-((2 * n + 1) ** 2) * math.pi**2 * x)
                                                           / (2 * n + 1) ** 2)) - share
        theirs = math.pi * (share / 4) ** 2 if share < 0.05 else brentq(full, 1e-5, 3, xtol=1e-16)
        compare("sheet-time (scipy)", 1e-8, ours, theirs, f"share {share}")
    for _ in range(60):
        d0, at, energy, kelvin = over(1e-15, 1e-9), between(273, 350), between(10, 90), between(250, 400)
        ours = tool.model("diffusivity", {"reference": f"{d0!r} m2/s", "at": f"{at!r} K", "energy": f"{energy!r} kJ/mol",
                                          "temperature": f"{kelvin!r} K"})["diffusivity"]
        theirs = float(Arrhenius(d0, energy * 1e3 / GAS, T0=at)(kelvin, "K"))
        compare("diffusivity (polykin)", 1e-10, ours, theirs, f"{energy} kJ/mol {at} to {kelvin} K")


def by_differences(x, cells=400):
    """Uptake of a sheet of unit thickness at Dt = x: Crank-Nicolson after four implicit steps."""
    dx, steps = 1 / cells, 1500
    inside = np.zeros(cells - 1)
    first = x / steps / 4
    lapse = [first] * 4 + [(x - 4 * first) / (steps - 1)] * (steps - 1)
    for i, dt in enumerate(lapse):
        implicit = 1.0 if i < 4 else 0.5
        r = dt / dx**2
        right = inside.copy()
        edge = np.concatenate([[1.0], inside, [1.0]])
        right += (1 - implicit) * r * (edge[:-2] - 2 * edge[1:-1] + edge[2:])
        right[0] += implicit * r
        right[-1] += implicit * r
        band = np.empty((3, cells - 1))
        band[0], band[1], band[2] = -implicit * r, 1 + 2 * implicit * r, -implicit * r
        inside = solve_banded((1, 1), band, right)
    return float((inside.sum() + 1.0) * dx)


# --- ageing, hydrolysis ----------------------------------------------------------------------------------------------
def ageing(tool):
    for _ in range(80):
        energy, index = between(70, 180), between(110, 240)
        slope = energy * 1e3 / GAS
        points = []
        for offset in sorted(RNG.choice(np.arange(15, 80, 5), int(RNG.integers(3, 7)), replace=False)):
            kelvin = index + 273.15 + float(offset)
            hours = 20000 * math.exp(slope * (1 / kelvin - 1 / (index + 273.15))) * math.exp(RNG.normal(0, 0.05))
            points.append((hours, kelvin))
        b, a = np.polyfit([1 / k for _, k in points], [math.log(h) for h, _ in points], 1)
        ti = b / (math.log(20000) - a)
        halving = b / (math.log(10000) - a) - ti
        ours = tool.model("ageing-fit", {"points": ", ".join(f"{h!r} h@{k!r} K" for h, k in points)})
        compare("ageing-fit, index (numpy polyfit)", 1e-7, ours["index"] + 273.15, ti, str(points))
        compare("ageing-fit, halving (numpy polyfit)", 1e-6, ours["halving"], halving, str(points))
        compare("ageing-fit, energy (numpy polyfit)", 1e-6, ours["energy"], b * GAS / 1e3, str(points))
    for _ in range(80):
        index, halving = between(100, 250), between(6, 15)
        ti = index + 273.15
        rate = Arrhenius(1 / 20000, math.log(2) / (1 / ti - 1 / (ti + halving)), T0=ti)
        kelvin = ti + between(-50, 60)
        ours = tool.model("ageing-life", {"index": f"{index!r} degC", "halving": f"{halving!r} K",
                                          "temperature": f"{kelvin!r} K"})["life"]
        compare("ageing-life (polykin)", 1e-8, ours, 1 / float(rate(kelvin, "K")), f"TI {index} HIC {halving} {kelvin} K")
        steps = [(over(1, 5000), ti + between(-40, 40)) for _ in range(4)]
        used = 0.0
        for hours, at in steps:
            used += quad(lambda t, at=at: float(rate(at, "K")), 0, hours)[0]
        ours = tool.model("life-used", {"index": f"{index!r} degC", "halving": f"{halving!r} K",
                                        "steps": ", ".join(f"{h!r} h@{k!r} K" for h, k in steps)})["fraction"]
        compare("life-used (polykin, scipy quad)", 1e-8, ours, used, str(steps))
    for _ in range(60):
        b, ref, kelvin = between(5000, 20000), between(340, 420), between(340, 450)
        ours = tool.model("acceleration", {"slope": f"{b!r} K", "reference": f"{ref!r} K", "temperature": f"{kelvin!r} K"})
        compare("acceleration (polykin)", 1e-10, ours["factor"], float(Arrhenius(1, b, T0=ref)(kelvin, "K")), f"{b} {ref}")


def hydrolysis(tool):
    for _ in range(60):
        k, water_content, ester = over(1e-11, 1e-6), between(0.01, 0.6), between(5, 12)
        chain = between(15, 35)
        critical = between(8, 0.95 * chain)

        def cut(_, chains):
            return [k * ester * water_content]

        target = 1 / critical

        def reached(_, chains):
            return chains[0] - target

        reached.terminal = True
        span = 5 * target / (k * ester * water_content)
        theirs = solve_ivp(cut, (0, span), [1 / chain], events=reached, rtol=1e-10, atol=1e-14).t_events[0][0]
        ours = tool.model("hydrolysis", {"rate": f"{k!r} kg/mol/s", "water": f"{water_content!r} mol/kg",
                                         "ester": f"{ester!r} mol/kg", "chain": f"{chain!r} kg/mol",
                                         "critical": f"{critical!r} kg/mol"})["time"]
        compare("hydrolysis (scipy solve_ivp)", 1e-8, ours, theirs, f"k {k} M {chain} to {critical}")


# --- electric ------------------------------------------------------------------------------------------------------
TORR_CM = 101325 / 760 * 0.01
A, B, GAMMA = 15 / TORR_CM, 365 / TORR_CM, 0.01


def criterion(pd):
    """The voltage at which each electron frees its successor: gamma (exp(alpha d) - 1) = 1."""
    def excess(volt):
        return math.log1p(1 / GAMMA) - A * pd * math.exp(-B * pd / volt)
    return brentq(excess, 20.0, 1e8, xtol=1e-9, rtol=1e-14)


def electric(tool):
    for _ in range(80):
        kelvin, pascal = between(233, 453), between(2e4, 1.1e5)
        pd = over(0.45, 300) * TORR_CM
        gap = pd / (pascal * 293.15 / kelvin)
        ours = tool.model("gap-breakdown", {"gap": f"{gap!r} m", "pressure": f"{pascal!r} Pa", "form": "townsend",
                                            "temperature": f"{kelvin!r} K"})["voltage"]
        compare("gap-breakdown (ionisation criterion)", 1e-9, ours, criterion(pd), f"pd {pd / TORR_CM} torr cm")
    least = minimize_scalar(criterion, bounds=(0.5 * TORR_CM, 2 * TORR_CM), method="bounded", options={"xatol": 1e-12})
    for _ in range(100):
        kelvin, pascal = between(233, 453), between(2e4, 1.1e5)
        density = pascal * 293.15 / kelvin
        layers = [(over(5e-6, 1e-3), between(2, 6)) for _ in range(int(RNG.integers(1, 4)))]
        equivalent = sum(t / e for t, e in layers)
        width, wedge = over(2e-6, 2e-3), RNG.random() < 0.7

        def across(gap):
            pd = density * gap
            volt = least.fun if pd <= least.x else criterion(pd)
            if gap > 1e-4:
                x = pd / 1013.25
                volt = min(volt, 1e3 * (24.22 * x + 6.08 * math.sqrt(x)))
            return volt * (1 + equivalent / gap)

        theirs = across(width)
        if wedge:
            gaps = np.unique(np.concatenate([np.geomspace(width / 300, width, 250),
                                             np.array([g for g in (1e-4, 1e-4 * (1 + 1e-9)) if g <= width])]))
            volts = [across(g) for g in gaps]
            i = int(np.argmin(volts))
            low, high = gaps[max(i - 1, 0)], gaps[min(i + 1, len(gaps) - 1)]
            closer = minimize_scalar(across, bounds=(low, high), method="bounded", options={"xatol": 1e-12})
            theirs = min(min(volts), closer.fun)
        ours = tool.model("pd-inception", {
            "solid": ", ".join(f"{t!r} m/{e!r}" for t, e in layers), "gap": f"{width!r} m", "pressure": f"{pascal!r} Pa",
            "temperature": f"{kelvin!r} K", "shape": "wedge" if wedge else "flat"})["voltage"]
        compare("pd-inception (scipy)", 1e-6, ours, theirs, f"{layers} gap {width} {pascal} Pa {kelvin} K wedge {wedge}")
    for _ in range(60):
        layers = [(over(1e-6, 1e-2), between(1, 8)) for _ in range(int(RNG.integers(2, 5)))]
        n, volt = len(layers), over(1, 1e5)
        matrix, right = np.zeros((n, n)), np.zeros(n)
        matrix[0] = [t * 1e3 for t, _ in layers]
        right[0] = volt * 1e3
        for i in range(1, n):
            matrix[i, i - 1], matrix[i, i] = layers[i - 1][1], -layers[i][1]
        field = solve(matrix, right)
        ours = tool.model("layered-field", {"voltage": f"{volt!r} V",
                                            "layers": ", ".join(f"{t!r} m/{e!r}" for t, e in layers)})
        for i in range(n):
            compare("layered-field (scipy linalg)", 1e-9, ours[f"field-{i + 1}"] * 1e6, float(field[i]), str(layers))
    for _ in range(40):
        strength, at, thickness, n = between(20, 400), over(5, 500), over(5, 500), between(0.2, 0.6)
        theirs = float(np.exp(np.polyval(np.polyfit([0, 1], [math.log(strength), math.log(strength) - n], 1),
                                         math.log(thickness / at))))
        ours = tool.model("thickness-strength", {"strength": f"{strength!r} kV/mm", "at": f"{at!r} um",
                                                 "thickness": f"{thickness!r} um", "exponent": repr(n)})["strength"]
        compare("thickness-strength (numpy, straight in logarithms)", 1e-9, ours, theirs, f"{strength} {at} {thickness}")


# --- geometry and force -------------------------------------------------------------------------------------------------
def geometry(tool):
    for _ in range(60):
        core, thickness = between(0.02, 0.1), over(2e-5, 5e-4)
        outer = core + between(0.02, 0.3)
        turns = (outer - core) / (2 * thickness)
        rise = thickness / (2 * math.pi)
        theirs = quad(lambda angle: math.hypot(core / 2 + rise * angle, rise), 0, 2 * math.pi * turns,
                      limit=200)[0]
        ours = tool.model("roll-length", {"outer": f"{outer!r} m", "core": f"{core!r} m", "thickness": f"{thickness!r} m"})
        compare("roll-length (arc length of the spiral)", 1e-5, ours["length"], theirs, f"{core} {outer} {thickness}")
        width, overlap, around, length = between(5, 60), between(0, 0.8), between(10, 400), between(50, 2000)
        pitch = width * (1 - overlap)
        r = around / (2 * math.pi)
        theirs = quad(lambda z: math.sqrt(1 + (2 * math.pi * r / pitch) ** 2), 0, length)[0] / 1e3
        ours = tool.model("helical-wrap", {"width": f"{width!r} mm", "overlap": repr(overlap), "length": f"{length!r} mm",
                                           "circumference": f"{around!r} mm"})
        compare("helical-wrap (arc length of the helix)", 1e-9, ours["tape"], theirs, f"{width} {overlap} {around}")
        energy, angle, modulus, thick = over(1, 1000), between(5, 180), over(1e8, 1e10), over(1e-5, 5e-4)
        lever = 1 - math.cos(math.radians(angle))
        theirs = brentq(lambda f: f * f / (2 * modulus * thick) + f * lever - energy, 0, 1e9, xtol=1e-12, rtol=1e-14)
        ours = tool.model("peel-angle", {"energy": f"{energy!r} J/m2", "angle": f"{angle!r} deg",
                                         "modulus": f"{modulus!r} Pa", "thickness": f"{thick!r} m"})["force"]
        compare("peel-angle (scipy brentq)", 1e-9, ours, theirs, f"{energy} {angle} {modulus} {thick}")
        radius, tension, wet, eta = over(1e-7, 1e-4), between(10, 72), between(0, 85), over(1e-3, 5)
        seconds, push = over(1, 1e4), between(0, 3e5)
        drive = 2 * tension * 1e-3 * math.cos(math.radians(wet)) / radius + push
        squared = solve_ivp(lambda t, y: [radius**2 * drive / (4 * eta)], (0, seconds), [0.0], rtol=1e-10).y[0][-1]
        ours = tool.model("wicking", {"radius": f"{radius!r} m", "tension": f"{tension!r} mN/m", "angle": f"{wet!r} deg",
                                      "viscosity": f"{eta!r} Pa s", "time": f"{seconds!r} s",
                                      "pressure": f"{push!r} Pa"})["depth"]
        compare("wicking (scipy solve_ivp, Poiseuille)", 1e-9, ours, math.sqrt(squared), f"{radius} {tension} {wet}")
        a, b = RNG.uniform(0, 20, 3), RNG.uniform(0, 20, 3)
        ours = tool.model("hansen-distance", {"polymer": "/".join(map(repr, map(float, a))), "radius": "8",
                                              "liquid": "/".join(map(repr, map(float, b)))})["distance"]
        compare("hansen-distance (numpy norm)", 1e-12, ours, float(np.linalg.norm((a - b) * [2, 1, 1])), f"{a} {b}")


def main():
    started = time.monotonic()
    tool = Lapwise(sys.argv[1])
    for part in (units, water, air, swelling, diffusion, ageing, hydrolysis, electric, geometry):
        part(tool)
    failed = 0
    print(f"{'method (witness)':56}{'cases':>6}  {'worst':>9}  {'allowed':>9}")
    for method, (count, most, said, tolerance) in worst.items():
        bad = not most <= tolerance
        failed += bad
        print(f"{method:56}{count:6}  {most:9.1e}  {tolerance:9.0e}" + (f"  FAULT {said}" if bad else ""))
    print(f"{tool.calls} calls in {time.monotonic() - started:.0f} s")
    print(f"{len(worst) - failed} passed, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
