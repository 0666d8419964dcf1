# %% [markdown]
# # The margins of the proposed tape
#
# Reads what `lapwise` hands out and redraws the margin picture of the dossier: one line a finding, the bar from
# the 5th to the 95th percentile, the lozenge at the median, the strokes at the outer limit and at the limit.
# Open it as a notebook in an editor that knows `# %%` cells, or run it:
#
#     python tests/examples/margins.py target/release/lapwise Q-101 margins.png

# %%
import io
import json
import pathlib
import subprocess
import sys

import matplotlib

matplotlib.use("Agg")
import matplotlib.pyplot as plt
import numpy as np
import pyarrow.parquet as pq

PROGRAM = sys.argv[1] if len(sys.argv) > 1 else "lapwise"
ENQUIRY = sys.argv[2] if len(sys.argv) > 2 else "Q-101"
PICTURE = pathlib.Path(sys.argv[3] if len(sys.argv) > 3 else "margins.png")


def lapwise(*arguments):
    """The bytes that a command prints."""
    return subprocess.run([PROGRAM, *arguments], capture_output=True, check=True).stdout


# %% [markdown]
# The order comes as JSON, every finding as Parquet. The best candidate is the first.

# %%
order = json.loads(lapwise("rank", ENQUIRY, "--json"))
best = order["candidates"][0]
findings = pq.read_table(io.BytesIO(lapwise("matrix", ENQUIRY, "--format", "parquet"))).to_pylist()
rows = [row for row in findings if row["tape"] == best["tape"] and row["verdict"] != "not-asked"]
print(f"{ENQUIRY}: {best['tape']}, {best['verdict']}; {len(rows)} findings were asked")

# %% [markdown]
# A margin is the outer limit over the number, or its inverse where higher is better; for temperatures and classes it
# is a difference, of which 10 K or one class count as one. So every finding has a place on one line.


# %%
def place(row, x):
    """Where a number lies: 1 is the outer limit, above it is inside."""
    outer, higher = row["outer_limit"], row["better"] == "higher"
    if row["unit"] in ("K", "class"):
        inside = x - outer if higher else outer - x
        return 1 + inside / (10 if row["unit"] == "K" else 1)
    if higher:
        return x / outer if outer > 0 else np.inf
    return outer / x if x > 0 else np.inf


drawn = [row for row in rows if row["x50"] is not None and row["outer_limit"] is not None]
for row in drawn:
    adverse = row["x05"] if row["better"] == "higher" else row["x95"]
    if row["margin"] is not None and row["unit"] not in ("K", "class"):
        # What is drawn is what the program says.
        assert np.isclose(place(row, adverse), row["margin"], rtol=1e-9), row
    row["ends"] = sorted(place(row, x) for x in (row["x05"], row["x95"]))
    row["middle"] = place(row, row["x50"])
    row["suitable_from"] = place(row, row["limit"])

worst = ["unsuitable", "unproven", "conditional", "suitable"]
drawn.sort(key=lambda row: (worst.index(row["verdict"]), row["ends"][0]))

# %% [markdown]
# Where numbers decide, the weakest line of the picture is the criterion that `rank` names.

# %%
decided = [row for row in drawn if row["verdict"] == best["verdict"]]
if best["margin"] is not None and decided:
    assert decided[0]["criterion"] == best["weakest"], (decided[0]["criterion"], best["weakest"])

# %%
INK, DEEP, HAIR = "#1b2530", "#14505c", "#c3ccd2"
WIDEST = 5
# A verdict is its word and the dashes of its edge: the picture survives a black-and-white printer.
EDGE = {"suitable": "-", "conditional": (0, (4, 2)), "unproven": (0, (1, 1.6)), "unsuitable": "-"}
WIDTH = {"suitable": 0.9, "conditional": 0.9, "unproven": 1.1, "unsuitable": 2.2}


def clip(x):
    """The line ends at a fifth and at five times."""
    return float(np.clip(x, 1 / WIDEST, WIDEST)) if x > 0 else 1 / WIDEST


figure, axes = plt.subplots(figsize=(9.5, 0.9 + 0.3 * len(drawn)), layout="constrained")
for nth, row in enumerate(drawn):
    low, high = (clip(x) for x in row["ends"])
    axes.plot([1 / WIDEST, WIDEST], [nth, nth], color=HAIR, linewidth=0.7, zorder=1)
    axes.plot([low, high], [nth, nth], color=DEEP, linewidth=4, solid_capstyle="butt", zorder=2)
    axes.plot(clip(row["middle"]), nth, marker="D", markersize=5, color=INK, clip_on=False, zorder=4)
    axes.plot(clip(row["suitable_from"]), nth, marker="|", markersize=9, markeredgewidth=1.3, color=INK, zorder=3)
    box = {"edgecolor": INK, "facecolor": "white", "linestyle": EDGE[row["verdict"]], "linewidth": WIDTH[row["verdict"]]}
    axes.text(WIDEST * 1.12, nth, row["verdict"], va="center", fontsize=7.5, color=INK, bbox={"pad": 2.2, **box})
axes.axvline(1, color=INK, linewidth=1.1, zorder=3)
names = [row["criterion"] + (f", {row['exposure']}" if row["exposure"] else "") for row in drawn]
axes.set_yticks(range(len(drawn)), names, fontsize=8, color=INK)
axes.set_xscale("log")
axes.set_xlim(1 / WIDEST, WIDEST)
axes.set_xticks([0.2, 0.5, 1, 2, 5], ["⅕", "½", "outer limit", "2 ×", "5 ×"], fontsize=8)
axes.minorticks_off()
axes.invert_yaxis()
axes.spines[["left", "right", "top"]].set_visible(False)
axes.tick_params(axis="y", length=0)
axes.set_title(f"{ENQUIRY}, {best['tape']}: {best['verdict']}", loc="left", fontsize=11, color=INK)
figure.savefig(PICTURE, dpi=130)
print(f"{len(drawn)} margins drawn into {PICTURE}; without a scale or a fact: {len(rows) - len(drawn)}")
