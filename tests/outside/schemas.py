"""Every JSON document that the program prints, keeps in a PDF or reads as TOML, held against its schema.

The validator shares no code with the program. A key that a schema does not name counts as wrong, so a
schema cannot be right by saying little; and documents that are wrong on purpose must be refused.
"""

import copy
import datetime
import json
import pathlib
import subprocess
import sys
import tempfile
import tomllib

from jsonschema import Draft202012Validator, FormatChecker

PROGRAM = str(pathlib.Path(sys.argv[1] if len(sys.argv) > 1 else "target/release/lapwise").resolve())


def run(*arguments):
    """What a command prints."""
    return subprocess.run([PROGRAM, *arguments], capture_output=True, text=True, check=False).stdout


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
            assert schema["$id"] == f"lapwise/{name}/1", name
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
        _, name, _ = document["schema"].split("/")
        self.hold(name, document, " ".join(arguments))

    def refuse(self, name, document, what):
        """A document that must not pass."""
        if self.of[name].is_valid(document):
            self.wrong.append(f"{what} passes")


def kept_in_a_pdf(schemas, folder):
    """The documents inside a dossier."""
    schemas.hold_printed("dossier", "Q-101", "-o", folder, "--json")
    pdf = next(pathlib.Path(folder).glob("Q-101*.pdf"))
    subprocess.run(["pdfdetach", "-saveall", "-o", folder, str(pdf)], check=True, capture_output=True)
    for name in ["decision", "provenance"]:
        schemas.hold(name, json.loads((pathlib.Path(folder) / f"{name}.json").read_text()), f"{name}.json")


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
    for criterion in ["adhesive-swelling", "pd-margin", "thermal-life", "colour"]:
        schemas.hold_printed("explain", "Q-101", "H-111", criterion, "--json")
    schemas.hold_printed("check", "--json")
    schemas.hold_printed("rank", "Q-999", "--json")
    schemas.hold_printed("setup", "--offline", "--json")
    schemas.hold_printed("model", "list", "--json")
    schemas.hold_printed("model", "layered-field", "voltage=1 kV", "layers=25 um/1.0, 50 um/3.3", "--json")
    schemas.hold_printed("model", "swelling", "molar-volume=106.8 cm3/mol", "crosslink-density=0 mol/cm3", "chi=0.39", "--json")
    with tempfile.TemporaryDirectory() as folder:
        kept_in_a_pdf(schemas, folder)
    read_as_toml(schemas)
    # What a template sees is held by the program's own tests.
    # The register's documents are not held here yet: that needs keys and a signed record.
    apart = {"dossier-view", "dossier-proof", "statement"}
    unused = {name for name in set(schemas.of) - set(schemas.used) - apart if not name.startswith("register-")}
    schemas.wrong += [f"no document was held against {name}" for name in sorted(unused)]
    for name, count in sorted(schemas.used.items()):
        print(f"{name:<14}{count:>4}")
    print(*schemas.wrong, sep="\n")
    print(f"{sum(schemas.used.values())} documents, {len(schemas.wrong)} faults")
    sys.exit(1 if schemas.wrong else 0)


main()
