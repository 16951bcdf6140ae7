"""Revised and marked copies are valid MusicXML 4.0 when their source was, and an engraving library opens them.

Outside references: the W3C's MusicXML 4.0 schema (lxml); Verovio 6.4 (LGPL, used as a test tool).
"""

import pathlib
import re
import tempfile

import verovio

from support import ROOT, Schema, arguments, run, score_bytes, scores

EXAMPLES = ROOT / "examples"


def without_octaves(data):
    """The bytes with the digits of every octave element taken out."""
    return re.sub(rb"(<octave>)\s*-?\d+\s*(</octave>)", rb"\1\2", data)


def main():
    options = arguments()
    schema = Schema(options.downloads)
    verovio.enableLog(verovio.LOG_OFF)
    checked = moved = sound = 0
    for score in scores():
        source = score_bytes(score)
        if source[:2] in (b"\xff\xfe", b"\xfe\xff"):
            source = source.decode("utf-16").replace("UTF-16", "UTF-8", 1).encode()
        try:
            valid = not schema.errors(source)
        except Exception as fault:  # a fixture may be broken on purpose
            print(f"passed over {score.name}: {fault}")
            continue
        if EXAMPLES in score.parents:
            assert valid, f"{score} is an example and no valid MusicXML: {schema.errors(source)}"
        sound += valid
        with tempfile.TemporaryDirectory() as folder:
            revised = pathlib.Path(folder, "revised" + score.suffix)
            marked = pathlib.Path(folder, "marked" + score.suffix)
            plain = pathlib.Path(folder, "plain" + score.suffix)
            run(options.lowbrass, "check", score, "--no-config", "-q", "--fix-octaves", "--include-review", "-o", revised)
            run(options.lowbrass, "check", score, "--no-config", "-q", "--marked", marked)
            run(options.lowbrass, "check", marked, "--no-config", "-q", "--unmark", "-o", plain)
            assert plain.read_bytes() == score.read_bytes(), f"{score}: unmarked is not the source"
            before, after = score_bytes(score), score_bytes(revised)
            assert without_octaves(before) == without_octaves(after), f"{score}: more than octaves changed"
            moved += before != after
            for copy in (revised, marked):
                data = score_bytes(copy)
                if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
                    data = data.decode("utf-16").replace("UTF-16", "UTF-8", 1).encode()
                if valid:
                    assert not schema.errors(data), f"{copy.name} of {score}: {schema.errors(data)}"
                if len(data) < 3_000_000 and b"score-timewise" not in data:
                    toolkit = verovio.toolkit()
                    toolkit.setOptions({"breaks": "none"})
                    was = verovio.toolkit()
                    was.setOptions({"breaks": "none"})
                    if was.loadData(source.decode("utf-8", "replace")):
                        assert toolkit.loadData(data.decode("utf-8", "replace")), f"{copy.name} of {score} does not open"
        checked += 1
    assert checked > 5, "hardly any score was checked"
    print(f"{checked} scores, {sound} valid (every example), {moved} with moves: copies as valid as their source,")
    print("only octaves changed, and a marked copy leads back to the very file")


main()
