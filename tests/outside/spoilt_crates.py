"""Whether `crates.py` sees what it is there for: a tree is spoilt in one place at a time, and has to fail for that.

    python3 tests/outside/spoilt_crates.py

Works on a copy; needs what `crates.py` needs. Exits 1 where a spoilt tree passes, or is refused for something else.
"""

import pathlib
import re
import shutil
import sys
import tempfile

import crates

LOCKED = r'name = "libm"\nversion = "[^"]+"\nsource = "[^"]+"\nchecksum = "[0-9a-f]+"'


def of_libm(change):
    """A change of what is locked of one crate."""
    return lambda text: re.sub(LOCKED, lambda found: change(found[0]), text, count=1)


# What is spoilt, in which file, how, and a word of each fault that it has to bring.
SPOILT = [
    ("nothing", "Cargo.lock", lambda text: text, []),
    (
        "a licence that is not allowed",
        "tests/outside/crates.toml",
        lambda text: text.replace('  "Unicode-3.0",\n', ""),
        ["is under"],
    ),
    (
        "a licence that no crate has",
        "tests/outside/crates.toml",
        lambda text: text.replace('  "ISC",\n', '  "ISC",\n  "GPL-3.0-only",\n'),
        ["licence GPL-3.0-only is allowed and no crate has it"],
    ),
    (
        "another origin",
        "Cargo.lock",
        of_libm(lambda crate: crate.replace(crates.REGISTRY, "registry+https://crates.example.invalid/index")),
        ["comes from registry+https://crates.example.invalid/index", "cargo metadata", "cargo package"],
    ),
    (
        "another checksum",
        "Cargo.lock",
        of_libm(lambda crate: crate[:-65] + crate[-65:].translate(str.maketrans("0123456789", "1234567890"))),
        ["cargo metadata: error: checksum for `libm", "cargo package: error: checksum for `libm"],
    ),
    (
        "no checksum",
        "Cargo.lock",
        of_libm(lambda crate: re.sub(r"\nchecksum.*", "", crate)),
        ["has no checksum", "cargo metadata", "cargo package"],
    ),
    (
        "a crate twice without a reason",
        "tests/outside/crates.toml",
        lambda text: re.sub(r'why = "macros[^"]*"', 'why = ""', text),
        ["syn is there in versions"],
    ),
    (
        "a reason for a crate that is there once",
        "tests/outside/crates.toml",
        lambda text: text.replace('crates = ["syn"]', 'crates = ["syn", "libm"]'),
        ["libm is excused and there once"],
    ),
    ("a face without its licence", "templates/fonts/Inter-LICENSE.txt", None, ["no licence beside Inter"]),
]

# As Cargo says it.
YANKED = "warning: package `libm v0.2.0` in Cargo.lock is yanked in registry `crates-io`, consider updating"


def main():
    faults = []
    with tempfile.TemporaryDirectory() as folder:
        tree = pathlib.Path(folder) / "tree"
        shutil.copytree(crates.ROOT, tree, ignore=shutil.ignore_patterns("target", ".git", "out"))
        for name, file, change, wanted in SPOILT:
            path = tree / file
            whole = path.read_bytes()
            if change is None:
                path.unlink()
            else:
                text = change(whole.decode())
                if wanted and text == whole.decode():
                    faults.append(f"{name}: {file} has no such place")
                path.write_bytes(text.encode())
            found, _ = crates.audit(tree)
            path.write_bytes(whole)
            strange = [fault for fault in found if not any(word in fault for word in wanted)]
            missed = [word for word in wanted if not any(word in fault for fault in found)]
            faults += [f"{name}: not seen: {word}" for word in missed] + [f"{name}: {fault}" for fault in strange]
            print(f"{name}: {len(found)} faults")
    if crates.yanked(f"    Packaging lapwise\n{YANKED}\n") != [YANKED]:
        faults.append("a withdrawn release passes")
    for fault in faults:
        print(f"  fault: {fault}")
    print(f"{len(SPOILT) + 1} trees, {len(faults)} faults")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
