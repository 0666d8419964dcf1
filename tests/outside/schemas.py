"""Every JSON document that the program prints, keeps in a PDF or reads as TOML, held against its schema.

The validator shares no code with the program. A key that a schema does not name counts as wrong, so a
schema cannot be right by saying little; and documents that are wrong on purpose must be refused.
"""

import copy
import datetime
import json
import os
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile
import tomllib

from jsonschema import Draft202012Validator, FormatChecker

PROGRAM = str(pathlib.Path(sys.argv[1] if len(sys.argv) > 1 else "target/release/lapwise").resolve())
STATE = tempfile.TemporaryDirectory()
# What `enquiry new` must be told.
ANSWERS = [
    "enquiry.title=A trial",
    "enquiry.customer=Nobody (invented)",
    "enquiry.prepared_by=A. Example (invented)",
    "enquiry.jurisdiction=eu",
    "application.equipment=motor",
    "application.function=lead-hold-down",
    "duty.thermal_class=155",
    "exposure.1.name=room air",
    "exposure.1.stage=service",
    "exposure.1.medium=air",
    "exposure.1.temperature=40 degC",
    "exposure.1.duration=1 a",
]


def run(*arguments):
    """What a command prints; what this client remembers of registers goes with the run."""
    remembered = {**os.environ, "LAPWISE_STATE": STATE.name}
    return subprocess.run([PROGRAM, *arguments], capture_output=True, text=True, check=False, env=remembered).stdout


def strict(schema):
    """The schema with every object closed that does not say what else it may hold."""
    if isinstance(schema, dict):
        if "properties" in schema:
            schema.setdefault("additionalProperties", False)
        for part in schema.values():
            strict(part)
    elif isinstance(schema, list):
        for part in schema:
            strict(part)
    return schema


def plain(value):
    """A TOML value as JSON has it."""
    if isinstance(value, dict):
        return {key: plain(part) for key, part in value.items()}
    if isinstance(value, list):
        return [plain(part) for part in value]
    return value.isoformat() if isinstance(value, datetime.date) else value


class Schemas:
    """The schemas by name, and what was found."""

    def __init__(self):
        self.of = {}
        for name in run("schema").split():
            schema = strict(json.loads(run("schema", name)))
            Draft202012Validator.check_schema(schema)
            assert re.fullmatch(rf"lapwise/{re.escape(name)}/[1-9]", schema["$id"]), name
            self.of[name] = Draft202012Validator(schema, format_checker=FormatChecker())
        self.used = {}
        self.wrong = []

    def hold(self, name, document, what):
        """Notes every fault of a document."""
        self.used[name] = self.used.get(name, 0) + 1
        for error in self.of[name].iter_errors(document):
            self.wrong.append(f"{what}: {error.json_path}: {error.message[:200]}")

    def hold_printed(self, *arguments):
        """Holds what a command prints against the schema that it names."""
        document = json.loads(run(*arguments))
        name = document["schema"].split("/")[1]
        if name in self.of:
            self.hold(name, document, " ".join(arguments))
        else:
            self.wrong.append(f"{' '.join(arguments)}: {name} has no schema")
        if name == "diagnostics" and "Q-999" not in arguments:
            self.wrong.append(f"{' '.join(arguments)}: {document['diagnostics']}")

    def refuse(self, name, document, what):
        """A document that must not pass."""
        if self.of[name].is_valid(document):
            self.wrong.append(f"{what} passes")


def kept_in_a_pdf(schemas, folder):
    """The documents inside a dossier."""
    schemas.hold_printed("dossier", "Q-101", "-o", folder, "--json")
    part = pathlib.Path(folder) / "part.json"
    part.write_text(run("dossier", "Q-101", "--part", "1/1", "-o", folder, "--json"), encoding="utf-8")
    schemas.hold("dossier", json.loads(part.read_text(encoding="utf-8")), "a part")
    schemas.hold_printed("gather", str(part))
    pdf = next(pathlib.Path(folder).glob("Q-101*.pdf"))
    subprocess.run(["pdfdetach", "-saveall", "-o", folder, str(pdf)], check=True, capture_output=True)
    for name in ["decision", "provenance"]:
        schemas.hold(name, json.loads((pathlib.Path(folder) / f"{name}.json").read_text()), f"{name}.json")


def kept_in_a_register(schemas, folder):
    """What the register prints, and the statements it keeps."""
    register, key = f"{folder}/register", f"{folder}/m.sand"
    subprocess.run(["ssh-keygen", "-q", "-t", "ed25519", "-N", "", "-f", key], check=True)
    signer = ["--signer", "m.sand"]
    schemas.hold_printed("register", "create", register, "--one-person", "--json")
    person = [*signer, "--name", "M. Sand (invented)", "--role", "approver", "--key", f"{key}.pub"]
    schemas.hold_printed("register", "key", "add", register, *person, "--json")
    by = [*signer, "--key", key, "--json"]
    schemas.hold_printed("register", "sign", register, "Q-101", "--tape", "H-111", "--meaning", "authored", *by)
    record = "Q-101/r0001"
    schemas.hold_printed("register", "countersign", register, record, "--meaning", "approved", *by)
    for command in [["list", register], ["show", register, record], ["verify", register], ["rebuild-index", register]]:
        schemas.hold_printed("register", *command, "--json")
    regenerate = ["regenerate", "--register", register, "-o", f"{folder}/regenerated", "--json"]
    schemas.hold_printed(*regenerate)
    data = shutil.copytree("matrices", f"{folder}/newer")
    facts = pathlib.Path(data) / "facts.csv"
    text = facts.read_text(encoding="utf-8")
    weaker = text.replace("H-111,tensile,280 lbf/in,250 lbf/in,310 lbf/in", "H-111,tensile,60 lbf/in,50 lbf/in,70 lbf/in")
    assert weaker != text
    facts.write_text(weaker, encoding="utf-8")
    schemas.hold_printed(*regenerate, "--data", str(data))
    overtaken = json.loads((pathlib.Path(register) / "drafts" / "overtaken.json").read_text())
    assert overtaken["selections"][0]["outcome"] == "overturned"
    schemas.hold("overtaken", overtaken, "overtaken.json")
    schemas.hold_printed("register", "list", register, "--json")
    # The same of one part, of which nothing was known.
    listed = pathlib.Path(register) / "drafts" / "overtaken.json"
    listed.unlink()
    schemas.hold_printed(*regenerate, "--data", str(data), "--part", "1/2")
    schemas.hold("overtaken", json.loads(listed.read_text()), "overtaken.json of a part")
    schemas.hold_printed("register", "list", register, "--json")
    kept = pathlib.Path(register) / "records" / record
    schemas.hold_printed("register", "verify", str(next(kept.glob("*.pdf"))), "--json")
    schemas.hold("statement", json.loads((kept / "statement.json").read_text()), "statement.json")
    schemas.hold_printed("register", "export", register, record, "-o", f"{folder}/bag", "--json")
    schemas.hold_printed("register", "withdraw", register, record, "--reason", "a trial", *by)


def written_beside_the_data(schemas, folder):
    """What `enquiry new`, `accept`, `import` and `evidence add` print, on a copy of the data."""
    data = f"{folder}/data"
    shutil.copytree("matrices", data)
    text = (pathlib.Path(data) / "tapes.csv").read_text(encoding="utf-8")
    (pathlib.Path(data) / "tapes.csv").write_text(text.replace("42 N/cm", "420 N/cm", 1), encoding="utf-8")
    remarks = json.loads(run("check", "--json", "--data", data))["remarks"]
    assert remarks, "a tenfold strength raises no remark"
    schemas.hold_printed("check", "--json", "--data", data)
    about = [remarks[0]["code"], remarks[0]["subject"], remarks[0]["column"]]
    schemas.hold_printed("begin", str(pathlib.Path(folder) / "own"), "--owner", "A works (invented)", "--json")
    schemas.hold_printed("accept", *about, "--reason", "a trial", "--by", "A. Example (invented)", "--json", "--data", data)
    schemas.hold_printed("check", "--json", "--data", data)
    schemas.hold_printed("compare", "matrices", data, "--json")
    file = f"{folder}/new.toml"
    answers = ["enquiry.number=Q-0999", "-o", file]
    schemas.hold_printed("enquiry", "new", *answers, *ANSWERS, "--json", "--data", data)
    schemas.hold("enquiry", plain(tomllib.loads(pathlib.Path(file).read_text(encoding="utf-8"))), "enquiry new")
    table = shutil.copy("tests/fixtures/tables/baender.csv", folder)
    schemas.hold_printed("import", table, "--basis", "invented", "--json", "--data", data)
    result = ["--property", "loss_factor", "--value", "0.0018", "--temperature", "100 degC", "--duration", "164 h"]
    report = ["--report", "26-041", "--laboratory", "A laboratory (invented)", "--date", "2026-11-20", "--basis", "invented"]
    tested = ["--tape", "H-112", "--in", "mineral-oil-naphthenic", *result, *report]
    schemas.hold_printed("evidence", "add", *tested, "--json", "--data", data)


def read_as_toml(schemas):
    """The files that the schemas stand beside, and changes of them that must be refused."""
    files = sorted(pathlib.Path("matrices/enquiries").glob("*.toml")) + [pathlib.Path("matrices/criteria.toml")]
    documents = {}
    for file in files:
        text = file.read_text(encoding="utf-8")
        pointer = text.splitlines()[0].removeprefix("#:schema ")
        kept = json.loads((file.parent / pointer).read_text())
        name = kept["$id"].split("/")[1]
        documents[name] = plain(tomllib.loads(text))
        schemas.hold(name, documents[name], str(file))
    enquiry, criteria = documents["enquiry"], documents["criteria"]

    def changed(document, change):
        other = copy.deepcopy(document)
        change(other)
        return other

    for what, change in {
        "a misspelt key": lambda e: e["winding"].update(widht="20 mm"),
        "a number without a unit": lambda e: e["winding"].update(width="20"),
        "a bare number": lambda e: e["winding"].update(width=20),
        "an unknown word": lambda e: e["application"].update(equipment="kettle"),
        "a missing key": lambda e: e["exposure"][0].pop("medium"),
        "another version": lambda e: e.update(schema="lapwise/enquiry/2"),
        "a share above one": lambda e: e["winding"].update(overlap=1.5),
    }.items():
        schemas.refuse("enquiry", changed(enquiry, change), f"an enquiry with {what}")
    for what, change in {
        "a limit that is true": lambda c: c["criterion"][0].update(limit=True),
        "an unknown hazard": lambda c: c["criterion"][0].update(hazard="noise"),
        "an unknown key": lambda c: c["criterion"][0].update(because="so"),
    }.items():
        schemas.refuse("criteria", changed(criteria, change), f"criteria with {what}")


def main():
    """Runs the commands over the demonstration."""
    schemas = Schemas()
    numbers = [f"Q-10{n}" for n in range(1, 9)]
    first = {}
    for number in numbers:
        schemas.hold_printed("rank", number, "--json")
        schemas.hold_printed("matrix", number, "--format", "json")
        first[number] = json.loads(run("rank", number, "--json"))["candidates"][0]["tape"]
        schemas.hold_printed("explain", number, first[number], "--json")
        schemas.hold_printed("envelope", number, first[number], "--json")
    for criterion in ["adhesive-swelling", "pd-margin", "thermal-life", "build-thickness"]:
        schemas.hold_printed("explain", "Q-101", "H-111", criterion, "--json")
    schemas.hold_printed("check", "--json")
    schemas.hold_printed("rank", "Q-999", "--json")
    schemas.hold_printed("setup", "--offline", "--json")
    schemas.hold_printed("model", "list", "--json")
    schemas.hold_printed("model", "layered-field", "voltage=1 kV", "layers=25 um/1.0, 50 um/3.3", "--json")
    schemas.hold_printed("model", "swelling", "molar-volume=106.8 cm3/mol", "crosslink-density=0 mol/cm3", "chi=0.39", "--json")
    with tempfile.TemporaryDirectory() as folder:
        kept_in_a_pdf(schemas, folder)
        kept_in_a_register(schemas, folder)
        written_beside_the_data(schemas, folder)
    read_as_toml(schemas)
    # What a template sees is held by the program's own tests.
    apart = {"dossier-view"}
    unused = set(schemas.of) - set(schemas.used) - apart
    schemas.wrong += [f"no document was held against {name}" for name in sorted(unused)]
    for name, count in sorted(schemas.used.items()):
        print(f"{name:<18}{count:>4}")
    print(*schemas.wrong, sep="\n")
    print(f"{sum(schemas.used.values())} documents, {len(schemas.wrong)} faults")
    sys.exit(1 if schemas.wrong else 0)


main()
