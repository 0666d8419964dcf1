"""What the program is made of: licences, origins, checksums, versions that do not go together, yanked releases, faces.

    python3 tests/outside/crates.py

Reads Cargo.lock and what Cargo tells, against tests/outside/crates.toml; needs Python 3.11, nothing else, and asks the
registry through Cargo only. Exits 1 at a fault. It does not look for known vulnerabilities: see DEVELOPERS.md.
"""

import collections
import json
import pathlib
import re
import subprocess
import sys
import tomllib

REGISTRY = "registry+https://github.com/rust-lang/crates.io-index"
ROOT = pathlib.Path(__file__).parents[2]


def permitted(expression, allowed):
    """Whether an SPDX expression can be met with the allowed licences; `/` is the older sign for OR."""
    words = re.findall(r"\(|\)|[A-Za-z0-9.+-]+", expression.replace("/", " OR "))
    at = 0

    def either():
        nonlocal at
        good = both()
        while at < len(words) and words[at] == "OR":
            at += 1
            good |= both()
        return good

    def both():
        nonlocal at
        good = one()
        while at < len(words) and words[at] == "AND":
            at += 1
            good &= one()
        return good

    def one():
        nonlocal at
        word = words[at]
        at += 1
        if word == "(":
            good = either()
            assert words[at] == ")", expression
            at += 1
            return good
        if words[at : at + 1] == ["WITH"]:
            word = f"{word} WITH {words[at + 1]}"
            at += 2
        used.add(word)
        return word in allowed

    used = set()
    good = either()
    assert at == len(words), f"not a licence expression: {expression}"
    return good, used


def series(version):
    """The part of a version that tells which releases go together."""
    first, second, third = re.match(r"(\d+)\.(\d+)\.(\d+)", version).groups()
    return first if first != "0" else f"0.{second}" if second != "0" else f"0.0.{third}"


def cargo(root, *words):
    """What Cargo prints, and what it tells beside; it is never let change the lock file."""
    told = subprocess.run(["cargo", *words, "--locked"], cwd=root, capture_output=True, text=True)
    return told.stdout if told.returncode == 0 else None, told.stderr


def licences(crates, allowed):
    """Faults of licences, and how many of the allowed ones are met with."""
    faults, used = [], set()
    for crate in crates:
        if not crate["license"]:
            faults.append(f"{crate['name']} {crate['version']} states no licence")
            continue
        good, words = permitted(crate["license"], allowed)
        used |= words
        if not good:
            faults.append(f"{crate['name']} {crate['version']} is under {crate['license']}")
    faults += [f"licence {name} is allowed and no crate has it" for name in sorted(allowed - used)]
    return faults, len(used & allowed)


def origins(lock):
    """Faults of where crates come from, as they are locked."""
    faults = []
    for crate in lock:
        if crate.get("source") != REGISTRY:
            faults.append(f"{crate['name']} {crate['version']} comes from {crate.get('source', 'a path')}")
        if not re.fullmatch(r"[0-9a-f]{64}", crate.get("checksum", "")):
            faults.append(f"{crate['name']} {crate['version']} has no checksum")
    return faults


def versions(lock, kept):
    """Faults of crates in versions that do not go together, and how many there are."""
    there = collections.defaultdict(set)
    for crate in lock:
        there[crate["name"]].add(series(crate["version"]))
    twice = {name for name, all_of_it in there.items() if len(all_of_it) > 1}
    excused = {name for entry in kept if entry["why"] for name in entry["crates"]}
    faults = [f"{name} is there in versions {sorted(there[name])}" for name in sorted(twice - excused)]
    faults += [f"{name} is excused and there once" for name in sorted(excused - twice)]
    return faults, len(twice)


def yanked(told):
    """The releases that were withdrawn, as Cargo tells them when it packs."""
    return [line for line in told.splitlines() if "yanked" in line]


def audit(root):
    """Every fault of a tree, and what was looked at."""
    kept = tomllib.loads((root / "tests/outside/crates.toml").read_text(encoding="utf-8"))
    lock = tomllib.loads((root / "Cargo.lock").read_text(encoding="utf-8"))["package"]
    lock = [crate for crate in lock if crate["name"] != "lapwise"]
    faults = origins(lock)
    found, twice = versions(lock, kept["twice"])
    faults += found

    # Cargo holds the checksums against those of the registry.
    told, beside = cargo(root, "metadata", "--format-version", "1")
    if told is None:
        faults.append(f"cargo metadata: {beside.strip()}")
    crates = [crate for crate in json.loads(told or '{"packages": []}')["packages"] if crate["name"] != "lapwise"]
    found, used = licences(crates, set(kept["licences"])) if crates else ([], 0)
    faults += found
    packed, beside = cargo(root, "package", "--no-verify", "--allow-dirty")
    if packed is None:
        faults.append(f"cargo package: {beside.strip()}")
    faults += yanked(beside)

    fonts = root / "templates/fonts"
    faces = [path for path in fonts.iterdir() if path.suffix in (".otf", ".ttf", ".ttc")]
    for face in faces:
        if not (fonts / f"{face.stem.split('-')[0]}-LICENSE.txt").is_file():
            faults.append(f"no licence beside {face.name}")
    return faults, f"{len(crates)} crates, {used} licences, {twice} crates twice, {len(faces)} faces"


def main():
    faults, seen = audit(ROOT)
    print(seen)
    for fault in faults:
        print(f"  fault: {fault}")
    print(f"{len(faults)} faults")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
