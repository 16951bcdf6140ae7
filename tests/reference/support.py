"""What the outside checks share: arguments, the MusicXML 4.0 schema, the scores to run on."""

import argparse
import functools
import hashlib
import io
import os
import pathlib
import pickle
import subprocess
import zipfile

import lxml.etree as etree
import music21
import xmlschema

VERSIONS = ("4.0", "3.1", "2.0")
ROOT = pathlib.Path(__file__).resolve().parents[2]


def arguments():
    parser = argparse.ArgumentParser()
    parser.add_argument("--lowbrass", required=True, help="the built program")
    parser.add_argument("--downloads", required=True, help="folder with the musicxml and partitura wheels, for their schemas")
    options = parser.parse_args()
    options.lowbrass = str(pathlib.Path(options.lowbrass).resolve())
    options.downloads = pathlib.Path(options.downloads)
    return options


def run(*command, ok=(0, 1)):
    """Runs the program; stops the check when its status is none of `ok`."""
    done = subprocess.run(command, capture_output=True)
    if done.returncode not in ok:
        raise SystemExit(f"status {done.returncode} from {' '.join(map(str, command))}\n{done.stderr.decode()}")
    return done.stdout


def notes(lowbrass, path, downloads):
    """All notes of a score as the program reads them: its status, output and errors. Two checks ask for the same: the answer
    is kept beside the downloads, for this very program and this very score."""
    path = pathlib.Path(path)
    kept = downloads / "notes" / digest(lowbrass) / (digest(path) + path.suffix)
    if kept.exists():
        return pickle.loads(kept.read_bytes())
    done = subprocess.run([lowbrass, "notes", path, "--all-parts", "--all", "--format", "jsonl"], capture_output=True)
    kept.parent.mkdir(parents=True, exist_ok=True)
    new = kept.with_suffix(f".{os.getpid()}")
    new.write_bytes(pickle.dumps((done.returncode, done.stdout, done.stderr)))
    new.replace(kept)
    return done.returncode, done.stdout, done.stderr


@functools.cache
def digest(path):
    return hashlib.sha256(pathlib.Path(path).read_bytes()).hexdigest()


def scores():
    """Every score of the project, and the real ones beside it where they are."""
    found = sorted(ROOT.glob("examples/**/*.musicxml")) + sorted(ROOT.glob("examples/**/*.mxl"))
    found += sorted(ROOT.glob("tests/fixtures/**/*.musicxml")) + sorted(ROOT.glob("tests/fixtures/**/*.mxl"))
    return found + sorted((ROOT.parent / "shared" / "scores").glob("*.mxl"))


def score_bytes(path):
    """The score member of an .mxl, or the file itself."""
    data = pathlib.Path(path).read_bytes()
    if data[:2] != b"PK":
        return data
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        container = etree.fromstring(archive.read("META-INF/container.xml"))
        return archive.read(container.find(".//{*}rootfile").get("full-path"))


def schemas(downloads):
    """MusicXML's schemas by version: 4.0 as the W3C publishes it (from the wheel `musicxml`, MIT), 3.1 from the wheel
    `partitura` (Apache 2.0) and 2.0 as it is installed with music21 (BSD)."""
    def member(wheel, name):
        return zipfile.ZipFile(next(downloads.glob(wheel))).read(name)

    texts = (
        member("musicxml-*.whl", "musicxml/generate_classes/musicxml_4_0.xsd"),
        member("partitura-*.whl", "partitura/assets/musicxml.xsd"),
        (pathlib.Path(music21.__file__).parent / "musicxml" / "musicxml.xsd").read_bytes(),
    )
    return dict(zip(VERSIONS, map(Schema, texts)))


class Schema:
    """One version of MusicXML's schema."""

    def __init__(self, text):
        folder = pathlib.Path(xmlschema.__file__).parent / "schemas"

        class Imports(etree.Resolver):
            def resolve(self, url, public_id, context):
                for name, path in (("xml.xsd", "XML/xml.xsd"), ("xlink.xsd", "XLINK/xlink.xsd")):
                    if url.endswith(name):
                        return self.resolve_filename(str(folder / path), context)
                return None

        parser = etree.XMLParser(no_network=True)
        parser.resolvers.add(Imports())
        self.schema = etree.XMLSchema(etree.fromstring(text, parser))

    def errors(self, data):
        """The first few faults of a score; timewise ones have a schema root of their own and are covered too."""
        document = etree.fromstring(data, etree.XMLParser(load_dtd=False, no_network=True, huge_tree=True))
        self.schema.validate(document)
        return [f"{error.line}: {error.message}" for error in list(self.schema.error_log)[:5]]
