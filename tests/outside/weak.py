#!/usr/bin/env python3
"""What rests on memory or estimate: by how much each such fact moves a demonstration verdict, and which
single measurement would help most.

    python3 tests/outside/weak.py PATH-TO-LAPWISE [MATRICES] [HOW-MANY]

The proposed tape of each enquiry and its first two alternates are explained; the weak facts that their open or close
findings hang on are set, one at a time, to their 5th and 95th percentile, and then measured at their median.
"""

import csv
import math
import pathlib
import shutil
import sys
import tempfile

from lapwise import Lapwise

WEAK = ("estimated", "from-memory")
WORTH = 0.05  # the share of a finding's spread below which a fact is not followed
CLOSE = 3.0  # margins above it are not followed


class Folder:
    """A copy of the data folder in which one row of a table is changed at a time."""

    def __init__(self, matrices, into):
        self.root = pathlib.Path(into) / "data"
        shutil.copytree(matrices, self.root)
        self.tables = {name: self.rows(name) for name in ("facts.csv", "pairs.csv")}

    def rows(self, name):
        """Row by line; the tables hold one row a line."""
        with (self.root / name).open(newline="", encoding="utf-8") as file:
            return list(csv.reader(file))

    def row(self, name, line):
        head, row = self.tables[name][0], self.tables[name][line - 1]
        return dict(zip(head, row))

    def with_row(self, name, line, change):
        rows = [list(row) for row in self.tables[name]]
        head = rows[0]
        for column, text in change.items():
            rows[line - 1][head.index(column)] = text
        self.write(name, rows)

    def restore(self, name):
        self.write(name, self.tables[name])

    def write(self, name, rows):
        with (self.root / name).open("w", newline="", encoding="utf-8") as file:
            csv.writer(file, lineterminator="\n").writerows(rows)


def asked(tool, folder, number):
    """The findings of an enquiry by tape, criterion and exposure, and the tape in first place."""
    code, document, told = tool.run("matrix", number, "--data", str(folder))
    if code:
        raise SystemExit(f"{number}: {told or document}")
    rows = {(r["tape"], r["criterion"], r["exposure"]): r for r in document["rows"] if r["verdict"] != "not-asked"}
    code, order, told = tool.run("rank", number, "--data", str(folder))
    return rows, [c["tape"] for c in order["candidates"] if c["verdict"] != "unsuitable"][:3]


def weak_facts(tool, folder, number, rows, tapes):
    """The weak facts that the open and close findings of some tapes hang on: place → findings."""
    found = {}
    for (tape, criterion, exposure), row in rows.items():
        margin = row["margin"]
        if tape not in tapes or (row["verdict"] == "suitable" and (margin is None or margin > CLOSE)):
            continue
        where = ["--exposure", exposure] if exposure else []
        code, told, _ = tool.run("explain", number, tape, criterion, *where, "--data", str(folder))
        for fact in told["facts"] if code == 0 else []:
            place = fact["place"]
            if fact["basis"] in WEAK and fact["influence"] >= WORTH and place and place["file"] in ("facts.csv", "pairs.csv"):
                key = (place["file"], place["line"])
                found.setdefault(key, []).append((fact["influence"] * width(told), number, tape, criterion, exposure))
    return found


def width(told):
    """The spread of a finding, in ln; what has none or no logarithm counts as narrow."""
    low, high = told["x05"], told["x95"]
    return math.log(high / low) if low and high and low > 0 else 0.1


def main():
    tool = Lapwise(sys.argv[1])
    matrices = pathlib.Path(sys.argv[2] if len(sys.argv) > 2 else "matrices")
    many = int(sys.argv[3]) if len(sys.argv) > 3 else 30
    with tempfile.TemporaryDirectory() as into:
        folder = Folder(matrices, into)
        numbers = sorted(path.stem.upper() for path in (folder.root / "enquiries").glob("*.toml"))
        before = {number: asked(tool, folder.root, number) for number in numbers}
        facts = {}
        for number, (rows, tapes) in before.items():
            for key, findings in weak_facts(tool, folder.root, number, rows, tapes).items():
                facts.setdefault(key, []).extend(findings)
        order = sorted(facts, key=lambda key: (-sum(f[0] for f in facts[key]), key))
        print(f"{len(facts)} weak facts carry at least {WORTH:.0%} of the spread of an open or close finding; the first {many}:\n")
        print("| fact | basis | findings | margin from low to high, of its outer limit | what changes |\n|---|---|---|---|---|")
        helps = []
        for key in order[:many]:
            name, line = key
            row = folder.row(name, line)
            subject = row.get("subject") or f"{row['material']} in {row['medium']}"
            touched = sorted({number for _, number, *_ in facts[key]})
            ends, changes = [], []
            for end in ("low", "high"):
                folder.with_row(name, line, {"value": row[end], "low": "", "high": ""})
                margins = []
                for number in touched:
                    rows, tapes = asked(tool, folder.root, number)
                    if tapes[:1] != before[number][1][:1]:
                        changes.append(f"{end}: {number} proposes {(tapes or ['none'])[0]} for {before[number][1][0]}")
                    for _, n, tape, criterion, exposure in facts[key]:
                        if n != number:
                            continue
                        was, now = before[number][0][tape, criterion, exposure], rows.get((tape, criterion, exposure))
                        if now and now["margin"] is not None:
                            margins.append((now["margin"], criterion))
                        if now and now["verdict"] != was["verdict"]:
                            changes.append(f"{end}: {n} {tape} {criterion} {was['verdict']} → {now['verdict']}")
                ends.append(min(margins)[0] if margins else None)
            folder.with_row(name, line, {"low": "", "high": "", "basis": "measured"})
            settled = 0
            for number in touched:
                rows, _ = asked(tool, folder.root, number)
                settled += sum(
                    rows.get(f, {"verdict": ""})["verdict"] == "suitable" and was["verdict"] in ("conditional", "unproven")
                    for f, was in before[number][0].items()
                    if f[0] in before[number][1]
                )
            helps.append((settled, sum(f[0] for f in facts[key]), f"{row['property']} of {subject}"))
            folder.restore(name)
            span = " to ".join("none" if end is None else f"{end:.2f}" for end in ends)
            told = "; ".join(dict.fromkeys(changes)) or "nothing"
            print(f"| {row['property']} of {subject} | {row['basis']} | {len(facts[key])} | {span} | {told[:160]} |")
        print("\nMeasured at its median, without spread, each settles so many findings of the short lists:\n")
        for settled, share, name in sorted(helps, key=lambda h: (-h[0], -h[1]))[:10]:
            print(f"  {settled:3d}  {name}")
        best = max(helps, key=lambda h: (h[0], h[1]))
        print(f"\nThe single measurement that would help most: {best[2]} ({best[0]} findings settled).")


if __name__ == "__main__":
    main()
