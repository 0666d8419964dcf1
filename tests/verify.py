#!/usr/bin/env python3
"""Verifies a register of signed selections without any Lapwise code: `python3 verify.py REGISTER`.

Uses the standard library and `ssh-keygen`. Checks the chain of entries and the RFC 6962 root that each
statement names, the key lists, every file of every record, the shared inputs, and every signature by
the key list in force at its place in the log.
"""

import hashlib
import json
import os
import subprocess
import sys

NAMESPACE = "lapwise-selection-v1"
EVERYBODY = ("author", "reviewer", "approver")
MAY = {"authored": EVERYBODY, "withdrawn": EVERYBODY, "reviewed": EVERYBODY[1:], "approved": EVERYBODY[2:]}


def sha256(data):
    return hashlib.sha256(data).hexdigest()


def read(*path):
    name = os.path.join(*path)
    if os.path.islink(name):
        raise ValueError(f"{name} is a link")
    with open(name, "rb") as file:
        return file.read()


def canonical(document):
    return (json.dumps(document, indent=2, sort_keys=True, ensure_ascii=False) + "\n").encode()


def own_digest_fits(document, text):
    bare = dict(document, digest="")
    return document["digest"] == sha256(canonical(bare)) and canonical(document) == text


def roots_over(leaves):
    """The roots over the first 0, 1, 2, ... leaves: RFC 6962, section 2.1."""
    peaks, roots = [], [hashlib.sha256(b"").digest()]
    for leaf in leaves:
        size, node = 1, hashlib.sha256(b"\x00" + leaf).digest()
        while peaks and peaks[-1][0] == size:
            node = hashlib.sha256(b"\x01" + peaks.pop()[1] + node).digest()
            size *= 2
        peaks.append((size, node))
        root = peaks[-1][1]
        for _, left in reversed(peaks[:-1]):
            root = hashlib.sha256(b"\x01" + left + root).digest()
        roots.append(root)
    return roots


def main(register):
    flaws = []
    deed_text = read(register, "REGISTER.json")
    deed = json.loads(deed_text)
    if not own_digest_fits(deed, deed_text):
        flaws.append("REGISTER.json is not as written")
    entries, leaves, previous = [], [], sha256(deed_text)
    while True:
        seq = len(entries) + 1
        path = os.path.join(register, "entries", f"{seq // 1000:03}", f"{seq:012}.json")
        if not os.path.exists(path):
            break
        text = read(path)
        entry = json.loads(text)
        if not own_digest_fits(entry, text) or entry["seq"] != seq or entry["previous"] != previous:
            flaws.append(f"entry {seq} is not as written or not in its place")
            break
        entries.append(entry)
        leaves.append(text)
        previous = sha256(text)
    roots = roots_over(leaves)
    lists, keys, under = {}, set(), {}
    records = signatures = 0
    for entry in entries:
        if entry["key"]:
            file = entry["key"]["list"]
            if sha256(read(register, file["file"])) != file["sha256"]:
                flaws.append(f"entry {entry['seq']}: {file['file']} is not the one logged")
            lists[file["file"]] = entry["seq"]
            key = entry["key"]
            own = (key["signer"], key["name"], key["role"], key["fingerprint"])
            if entry["event"] == "key-added":
                keys.add(own)
            else:
                keys = {one for one in keys if (one[0], one[3]) != (own[0], own[3])}
        if not entry["record"]:
            continue
        records += 1
        change = entry["record"]
        record = change["record"]
        folder = os.path.join(register, "records", *record.split("/"))
        try:
            text = read(folder, "statement.json")
            if sha256(text) != change["statement"]["sha256"]:
                raise ValueError("statement.json is not as signed")
            statement = json.loads(text)
            if canonical(statement) != text or statement["record"] != record:
                raise ValueError("statement.json is not of this record")
            head = statement["head"]
            if head["size"] >= entry["seq"] or roots[head["size"]].hex() != head["root"]:
                raise ValueError("the head that the statement names is not that of the log")
            if head["register"] != deed["register"]:
                raise ValueError("a statement of another register")
            for file in statement["files"] + change["signatures"] + [change["checksums"]]:
                if sha256(read(folder, file["file"])) != file["sha256"]:
                    raise ValueError(f"{file['file']} is not as signed")
            for file in statement["shared"]:
                digest = file["sha256"]
                if sha256(read(register, "kept", "sha256", digest[:2], digest)) != digest:
                    raise ValueError(f"the shared input {file['file']} is not as signed")
            # A scan is signed by nobody; whatever else stands is signed, by a key in force, in a role that may.
            signer, meaning, base = statement["signer"], statement["meaning"], record.split(".")[0]
            if (statement["kind"] == "scan") != (not signer and not meaning and not change["signatures"]):
                raise ValueError("a scan that is signed, or another statement that is not")
            if signer:
                if (signer["id"], signer["name"], signer["role"], signer["fingerprint"]) not in keys:
                    raise ValueError("the signer is told otherwise than in the key list")
                if signer["role"] not in MAY[meaning] or (meaning == "withdrawn") != (statement["kind"] == "withdrawal"):
                    raise ValueError(f"a {signer['role']} who signs a {statement['kind']} as {meaning}")
                authors = [one for means, one in under.get(base, []) if means == "authored"]
                own = [one for one in authors if signer["id"] == one["id"] or signer["fingerprint"] == one["fingerprint"]]
                if meaning == "approved" and not deed["one_person_may_author_and_approve"] and (own or not authors):
                    raise ValueError("approved by its author, or without one")
                under.setdefault(base, []).append((meaning, signer))
                in_force = max((f for f, seq in lists.items() if seq < entry["seq"]), key=lists.get)
                for file in change["signatures"]:
                    command = ["ssh-keygen", "-Y", "verify", "-f", os.path.join(register, in_force)]
                    command += ["-I", statement["signer"]["id"], "-n", NAMESPACE]
                    command += ["-s", os.path.join(folder, file["file"])]
                    done = subprocess.run(command, input=text, capture_output=True)
                    if done.returncode != 0:
                        raise ValueError(f"{file['file']}: {(done.stdout + done.stderr).decode().strip()}")
                    signatures += 1
        except (OSError, ValueError) as error:
            flaws.append(f"{record}, entry {entry['seq']}: {error}")
    for flaw in flaws:
        print(flaw)
    print(f"{records} records, {signatures} signatures, {len(entries)} entries, root {roots[-1].hex()}")
    return 1 if flaws else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
