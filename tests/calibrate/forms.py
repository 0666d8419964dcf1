#!/usr/bin/env python3
"""Would another form of the interaction parameter hold pairs left out better? Takes about a minute.

    python3 tests/calibrate/forms.py

Each form is fitted and left out pair by pair as in fit.py; its gain is the fall of the mean interval score against the
form in use, with a 95 % interval by drawing pairs with replacement. Intervals here draw offset and slope alone, for
every form alike. A form earns a change when its interval lies above zero.
"""

import numpy as np
from scipy.optimize import minimize
from scipy.stats import norm, qmc

from fit import ADHESIVES, DENSE, GAS, NOISE, in_scope, liquids, published

USED = {"slope": 1.25, "offset_sd": 0.11, "slope_sd": 0.30, "weights": (0.25, 0.25), "power": 1.0, "warmed": False}
FORMS = {
    "liquid warmed, all three": {"warmed": True},
    "bracket to the power 0.9": {"power": 0.9, "offset_sd": 0.13, "slope_sd": 0.20},
    "spread: offset 0.15, slope 0.20": {"offset_sd": 0.15, "slope_sd": 0.20},
    "slope 1.0": {"slope": 1.0},
    "slope 1.07, weights 0.35 and 0.30": {"slope": 1.07, "weights": (0.35, 0.30)},
}
NORMAL = norm.ppf(np.clip(qmc.Sobol(2, seed=20260101).random(512), 1e-9, 1 - 1e-9)).T


def warm(hansen, kelvin):
    """Hansen's own rule, as methods carry it: alpha 7e-4 per kelvin from 25 degC."""
    rise = kelvin - 298.15
    return [x * (1 - loss * rise) for x, loss in zip(hansen, (8.75e-4, 3.5e-4, 1.57e-3))]


def pairs(warmed):
    """For each polymer, the arrays (V1/RT, chi, D, P, H) of its pairs."""
    known, found = liquids(), {}
    for (polymer, medium), values in published().items():
        if polymer not in [*ADHESIVES, "poly(methyl acrylate)"] or medium not in known:
            continue
        _, hansen, volume = known[medium]
        rows = [[volume / (GAS * t), chi, *(warm(hansen, t) if warmed else hansen)] for t, v, chi in values
                if v >= DENSE and in_scope(known[medium], t)]
        if rows:
            found.setdefault(polymer, []).append(np.array(rows))
    return found


def scores(form):
    form = USED | form
    p, h = form["weights"]

    def distance(x, rows):
        bracket = (x[0] - rows[:, 2]) ** 2 + p * (x[1] - rows[:, 3]) ** 2 + h * (x[2] - rows[:, 4]) ** 2
        return (rows[:, 0] * bracket) ** form["power"]

    def fitted(kept):
        rows = np.concatenate(kept)
        weight = np.concatenate([np.full(len(pair), 1 / len(pair)) for pair in kept])

        def cost(x):
            b = distance(x, rows)
            variance = form["offset_sd"] ** 2 + (form["slope_sd"] * form["slope"] * b) ** 2 + NOISE**2
            miss = rows[:, 1] - x[3] - form["slope"] * b
            prior = ((x[0] - 16.5) / 1.5) ** 2 + ((x[3] - 0.3) / 0.3) ** 2
            return 0.5 * np.sum(weight * (miss**2 / variance + np.log(variance))) + 0.5 * prior

        bounds = [(13, 20), (0, 12), (0, 14), (-0.6, 1.2)]
        return min((minimize(cost, start, method="L-BFGS-B", bounds=bounds)
                    for start in ([16, 1, 2, .3], [17.5, 5, 7, .2])), key=lambda run: run.fun).x

    out = []
    for kept in pairs(form["warmed"]).values():
        for i, left in enumerate(kept):
            x = fitted(kept[:i] + kept[i + 1:])
            each = []
            for b, chi in zip(distance(x, left), left[:, 1]):
                drawn = x[3] + form["offset_sd"] * NORMAL[0] + form["slope"] * np.exp(form["slope_sd"] * NORMAL[1]) * b
                low, high = np.quantile(drawn, (0.05, 0.95))
                each.append((high - low + 20 * max(0, low - chi, chi - high), low <= chi <= high))
            out.append(np.mean(each, axis=0))
    return np.array(out)


def main():
    used = scores({})
    print(f"{'in use':36} score {used[:, 0].mean():.3f}, held {used[:, 1].mean():.2f}, {len(used)} pairs")
    draw = np.random.default_rng(20260101)
    for name, form in FORMS.items():
        other = scores(form)
        gain = used[:, 0] - other[:, 0]
        means = [gain[draw.integers(0, len(gain), len(gain))].mean() for _ in range(4000)]
        low, high = np.quantile(means, (0.025, 0.975))
        print(f"{name:36} score {other[:, 0].mean():.3f}, held {other[:, 1].mean():.2f}, gain {gain.mean():+.3f} "
              f"({low:+.3f} to {high:+.3f}){'  better' if low > 0 else ''}", flush=True)


if __name__ == "__main__":
    main()
