"""Batches, from outside: the split table in three Arrow engines, the parts under GNU parallel, the examples for schedulers.

python3 tests/outside/batch.py target/release/lapwise
"""

import csv
import os
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile

import duckdb
import polars as pl
import pyarrow.dataset as ds
import yaml

EXAMPLES = pathlib.Path("tests/examples")
# The weakest findings of all enquiries that are open: the query of README.md.
QUERY = """
select enquiry, tape, criterion, exposure, verdict, margin
from read_parquet('{}/*/part.parquet', hive_partitioning = true, hive_types = {{'enquiry': varchar}})
where verdict = 'unproven' and margin is not null
order by margin, enquiry, tape, criterion, exposure
limit 20
"""
COLUMNS = ["enquiry", "tape", "criterion", "exposure", "verdict", "margin"]

lapwise = str(pathlib.Path(sys.argv[1]).resolve())
wrong = []


def run(*words, **more):
    """What a command prints; it must end well."""
    return subprocess.run(words, capture_output=True, text=True, check=True, **more).stdout


def same(what, one, other):
    """Notes what differs."""
    if one != other:
        wrong.append(f"{what}: {str(one)[:300]} and {str(other)[:300]}")


def the_split_table(folder):
    """Written once and once more in parts; read by three engines, held against the CSV."""
    split = ["matrix", "--all", "--format", "parquet", "--partitioned", "-o"]
    run(lapwise, *split, f"{folder}/whole")
    for k in "123":
        run(lapwise, *split, f"{folder}/parts", "--part", f"{k}/3")
    files = sorted(path.relative_to(f"{folder}/whole") for path in pathlib.Path(f"{folder}/whole").rglob("*.parquet"))
    assert len(files) == 8, files
    for file in files:
        same(str(file), *((pathlib.Path(folder) / of / file).read_bytes() for of in ["whole", "parts"]))
    rows = list(csv.DictReader(run(lapwise, "matrix", "--all", "--format", "csv").splitlines()))
    names = list(rows[0])

    def cell(name, text):
        number = name in {"x05", "x50", "x95", "limit", "outer_limit", "margin"}
        if name == "extrapolated":
            return text == "true"
        return (float(text) if text else None) if number else text

    told = sorted((tuple(cell(name, row[name]) for name in names) for row in rows), key=repr)
    # `limit` is a word of SQL.
    quoted = [f'"{name}"' for name in names]
    by_duckdb = duckdb.sql(
        f"select {', '.join(quoted)} from read_parquet('{folder}/whole/*/part.parquet', hive_partitioning = true, "
        "hive_types = {'enquiry': varchar})"
    ).fetchall()
    by_polars = pl.scan_parquet(f"{folder}/whole", hive_schema={"enquiry": pl.String}).select(names).collect().rows()
    partitioning = ds.partitioning(flavor="hive")
    by_arrow = ds.dataset(f"{folder}/whole", partitioning=partitioning).to_table(columns=names).to_pylist()
    for engine, found in [
        ("DuckDB", by_duckdb),
        ("Polars", by_polars),
        ("Arrow", [tuple(row[name] for name in names) for row in by_arrow]),
    ]:
        same(f"the rows of the CSV and those in {engine}", told, sorted(found, key=repr))
        print(f"{engine:<8}{len(found):>7} rows, {len(names)} columns, as in the CSV")
    one = duckdb.sql(QUERY.format(f"{folder}/whole")).fetchall()
    other = (
        pl.scan_parquet(f"{folder}/whole", hive_schema={"enquiry": pl.String})
        .filter((pl.col("verdict") == "unproven") & pl.col("margin").is_not_null())
        .sort("margin", "enquiry", "tape", "criterion", "exposure")
        .select(COLUMNS)
        .head(20)
        .collect()
        .rows()
    )
    same("the query of the README in DuckDB and in Polars", one, other)
    assert one, "no finding is unproven with a margin"
    # The query stands in the README as it is asked here.
    query = QUERY.format("out/findings").strip()
    if query not in pathlib.Path("README.md").read_text(encoding="utf-8"):
        wrong.append("README.md does not show this query:\n" + query)


def the_parts_under_parallel(folder):
    """The script as it stands; its joined report is that of a run in one."""
    where = os.environ | {"PATH": f"{pathlib.Path(lapwise).parent}:{os.environ['PATH']}"}
    data = f"{folder}/data"
    shutil.copytree("matrices", data)
    for file in list(pathlib.Path(data, "enquiries").glob("*.toml"))[4:]:
        file.unlink()
    run(str(EXAMPLES / "parallel.sh"), data, f"{folder}/out", env=where)
    joined = pathlib.Path(f"{folder}/out/all.json").read_text(encoding="utf-8")
    same("joined and undivided", joined, run(lapwise, "dossier", "--all", "--data", data, "-o", f"{folder}/out", "--json"))
    print(f"GNU parallel: 4 parts joined, {len(joined)} bytes, as undivided")


def the_register_under_parallel(folder):
    """The same for kept selections: drafts, list and report are those of a run in one."""
    where = os.environ | {"PATH": f"{pathlib.Path(lapwise).parent}:{os.environ['PATH']}", "LAPWISE_STATE": f"{folder}/state"}
    written = {}
    for name in ["one", "four"]:
        register, out = f"{folder}/{name}", f"{folder}/{name}-out"
        shutil.copytree("tests/fixtures/register-1", register)
        if name == "one":
            run(lapwise, "regenerate", "--register", register, "--data", "matrices", "-o", out, env=where)
        else:
            run(str(EXAMPLES / "regenerate.sh"), register, "matrices", out, env=where)
        found = [*pathlib.Path(register, "drafts").rglob("*"), *pathlib.Path(out).rglob("*")]
        beside = {path.relative_to(folder).as_posix().removeprefix(name): path for path in found if path.is_file()}
        written[name] = {at: path.read_bytes() for at, path in beside.items() if "lock" not in at and "-of-" not in at}
    same("in four parts and in one", sorted(written["four"]), sorted(written["one"]))
    for at, content in written["one"].items():
        same(at, written["four"].get(at) == content, True)
    print(f"GNU parallel: a register in 4 parts, {len(written['one'])} files, as undivided")


def the_examples():
    """Syntax, and that every command and flag in them exists."""
    texts = {}
    for file in EXAMPLES.glob("*.sh"):
        run("bash", "-n", str(file))
        texts[file.name] = file.read_text(encoding="utf-8")
    job = yaml.safe_load((EXAMPLES / "kubernetes.yaml").read_text(encoding="utf-8"))
    same("the kind of the job", (job["apiVersion"], job["kind"]), ("batch/v1", "Job"))
    same("how the job counts", job["spec"]["completionMode"], "Indexed")
    container = job["spec"]["template"]["spec"]["containers"][0]
    run("sh", "-n", input=container["args"][0])
    texts["kubernetes.yaml"] = container["args"][0]
    if f"/{job['spec']['completions']}\"" not in container["args"][0]:
        wrong.append("kubernetes.yaml: the parts are not as many as the completions")
    seen = 0
    for name, text in texts.items():
        flat = text.replace("\\\n", " ")
        for command, rest in re.findall(r"(?<![`\w])lapwise ([a-z]+)([^\n>|`]*)", flat):
            known = run(lapwise, command, "--help")
            for flag in re.findall(r"(?<!\S)(--?[a-z][a-z-]*)", rest):
                seen += 1
                if not re.search(rf"(?<![\w-]){flag}(?![\w-])", known):
                    wrong.append(f"{name}: `lapwise {command}` has no {flag}")
    assert seen > 15, seen
    print(f"examples: {len(texts)}, {seen} flags, each one that `--help` names")


with tempfile.TemporaryDirectory() as scratch:
    the_examples()
    the_split_table(scratch)
    the_parts_under_parallel(scratch)
    the_register_under_parallel(scratch)
print(*wrong, sep="\n")
print(f"{len(wrong)} faults")
sys.exit(1 if wrong else 0)
