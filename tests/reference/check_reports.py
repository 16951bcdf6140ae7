"""Machine reports hold to their schemas on every example score.

Outside references: the JUnit schema that pytest ships with its tests (testing/example_scripts/junit-10.xsd, pytest 9.2.0);
JSON Schema (jsonschema) against the schema the program prints itself; SARIF 2.1.0 (OASIS) as serde-sarif carries it.
"""

import io
import json
import pathlib
import re
import subprocess
import tarfile

import jsonschema
import lxml.etree as etree

from support import ROOT, arguments, run


def junit_schema(downloads):
    sdist = next(downloads.glob("pytest-*.tar.gz"))
    with tarfile.open(sdist) as archive:
        name = next(n for n in archive.getnames() if n.endswith("testing/example_scripts/junit-10.xsd"))
        return etree.XMLSchema(etree.parse(io.BytesIO(archive.extractfile(name).read())))


def sarif_schema():
    """The schema beside serde-sarif's manifest, without the one pattern that strict checkers refuse."""
    host = re.search(r"host: (\S+)", subprocess.check_output(["rustc", "-vV"], text=True))[1]
    command = ["cargo", "metadata", "--format-version", "1", "--offline", "--locked", "--filter-platform", host]
    packages = json.loads(subprocess.check_output(command, cwd=ROOT))["packages"]
    manifest = next(p["manifest_path"] for p in packages if p["name"] == "serde-sarif")
    schema = json.loads(pathlib.Path(manifest).with_name("src").joinpath("schema.json").read_text())
    for name in ("run", "toolComponent"):
        schema["definitions"][name]["properties"]["language"].pop("pattern", None)
    return schema


def main():
    options = arguments()
    junit, sarif = junit_schema(options.downloads), sarif_schema()
    report = json.loads(run(options.lowbrass, "schema", "report"))
    report_validator = jsonschema.validators.validator_for(report)(report)
    sarif_validator = jsonschema.validators.validator_for(sarif)(sarif)
    checked = findings = 0
    for score in sorted(ROOT.glob("examples/**/*.musicxml")):
        check = (options.lowbrass, "check", score.relative_to(ROOT), "--no-config", "--format")
        found = json.loads(run(*check, "json"))
        report_validator.validate(found)
        findings += sum(len(one["findings"]) for one in found["scores"])
        sarif_validator.validate(json.loads(run(*check, "sarif")))
        junit.assertValid(etree.fromstring(run(*check, "junit")))
        checked += 1
    assert checked > 5 and findings > checked // 2, "hardly anything was checked"
    print(f"{checked} scores, {findings} findings: json, sarif and junit hold to their schemas")


main()
