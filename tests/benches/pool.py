"""The pool of `lapwise dossier` against Typst alone: the very same sources, run in turn, wall and processor time of both.

    python3 tests/benches/pool.py target/release/lapwise [DOSSIERS [JOBS [ROUNDS]]]

500 dossiers, two processes and two rounds without arguments. The sources are caught on their way to Typst, by a program that stands in its place
once; then `lapwise dossier --all` and `xargs -P JOBS -n1 typst compile` print them by turns. Other work on the machine
touches both: compare the ratios of a round, and the processor time.
"""

import os
import pathlib
import resource
import shutil
import subprocess
import sys
import tempfile
import time

CATCH = """#!/bin/sh
# Keeps the sources that Typst is asked to print, and prints nothing.
if [ "$1" = compile ]; then
    here=$(mktemp -d "$CAUGHT/XXXXXXXX")
    cp -r "$5"/. "$here"
    ! mkdir "$CAUGHT.fonts" 2>/dev/null || cp -r "$9"/. "$CAUGHT.fonts"
    for last; do :; done
    exec touch "$last"
fi
exec "$TYPST" "$@"
"""


def timed(command, **more):
    """Wall and processor seconds of a command and all below it."""
    before, begun = resource.getrusage(resource.RUSAGE_CHILDREN), time.monotonic()
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL, **more)
    wall, after = time.monotonic() - begun, resource.getrusage(resource.RUSAGE_CHILDREN)
    return wall, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def main():
    """Measures both by turns."""
    lapwise = str(pathlib.Path(sys.argv[1]).resolve())
    count, jobs, rounds = (int(word) for word in (sys.argv[2:] + ["500", "2", "2"][len(sys.argv) - 2 :]))
    typst = subprocess.run([lapwise, "setup", "--offline"], capture_output=True, text=True, check=True).stdout.split(": ")[1].strip()
    with tempfile.TemporaryDirectory() as scratch:
        folder = pathlib.Path(scratch)
        shutil.copytree("matrices", folder / "data")
        shipped = sorted((folder / "data/enquiries").glob("*.toml"))
        texts = [file.read_text(encoding="utf-8") for file in shipped]
        for file in shipped:
            file.unlink()
        for n in range(count):
            text = texts[n % len(texts)]
            number = text.split('number = "', 1)[1].split('"', 1)[0]
            (folder / f"data/enquiries/b-{n:05}.toml").write_text(text.replace(f'"{number}"', f'"B-{n:05}"', 1), encoding="utf-8")
        catch, caught = folder / "catch", folder / "caught"
        catch.write_text(CATCH, encoding="utf-8")
        catch.chmod(0o755)
        caught.mkdir()
        dossiers = [lapwise, "dossier", "--all", "--data", str(folder / "data"), "--jobs", str(jobs), "-o", str(folder / "out"), "--json"]
        subprocess.run(
            dossiers, check=True, stdout=subprocess.DEVNULL, env=os.environ | {"LAPWISE_TYPST": str(catch), "CAUGHT": str(caught), "TYPST": typst}
        )
        sources = "\n".join(str(path) for path in sorted(caught.glob("*/dossier.typ")))
        assert sources.count("\n") == count - 1, "not every source was caught"
        empty = folder / "empty"
        empty.mkdir()
        alone = ["xargs", "-P", str(jobs), "-n1", typst, "compile", "--pdf-standard", "a-3a,ua-1", "--ignore-system-fonts"]
        alone += ["--ignore-embedded-fonts", "--font-path", f"{caught}.fonts", "--creation-timestamp", "1795132800"]
        alone += ["--package-path", str(empty), "--package-cache-path", str(empty), "--diagnostic-format", "short", "-j", "1"]
        print(f"{count} dossiers, {jobs} processes\nround   lapwise wall   cpu    typst wall   cpu     ratio wall   cpu", flush=True)
        for nth in range(rounds):
            order = [("lapwise", {}), ("typst", {"input": sources, "text": True})]
            found = {}
            for name, more in order if nth % 2 == 0 else reversed(order):
                found[name] = timed(dossiers if name == "lapwise" else alone, **more)
            (a, b), (c, d) = found["lapwise"], found["typst"]
            print(f"{nth + 1:>5}{a:>15.1f}{b:>6.1f}{c:>14.1f}{d:>6.1f}{a / c:>15.3f}{b / d:>6.3f}", flush=True)


main()
