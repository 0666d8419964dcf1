"""Calls `lapwise model` and hands back its numbers."""

import json
import subprocess


class Lapwise:
    """The built program at a path."""

    def __init__(self, path):
        self.path = path
        self.calls = 0

    def run(self, *arguments):
        """Exit code, the printed document if there is one, and what was said on stderr."""
        self.calls += 1
        done = subprocess.run([self.path, *arguments, "--json"], capture_output=True, text=True, check=False)
        try:
            document = json.loads(done.stdout)
        except ValueError:
            document = None
        return done.returncode, document, done.stderr

    def model(self, name, inputs):
        """The results of one computation, name to value; a refusal is an error."""
        code, document, told = self.run("model", name, *(f"{key}={value}" for key, value in inputs.items()))
        if code or document is None:
            raise ValueError(f"{name} {inputs}: exit {code}: {document or told}")
        return {key: result["value"] for key, result in document["results"].items()}
