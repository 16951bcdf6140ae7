"""Revised and marked copies are valid MusicXML of each version of which their source was, and an engraving library opens them.

Outside references: the schemas of MusicXML 4.0, 3.1 and 2.0 (lxml); Verovio 6.4 (LGPL, used as a test tool).
"""

import pathlib
import re
import tempfile

import verovio

from support import ROOT, arguments, run, schemas, score_bytes, scores

EXAMPLES = ROOT / "examples"


def without_octaves(data):
    """The bytes with the digits of every octave element taken out."""
    return re.sub(rb"(<octave>)\s*-?\d+\s*(</octave>)", rb"\1\2", data)


def main():
    options = arguments()
    versions = schemas(options.downloads)
    verovio.enableLog(verovio.LOG_OFF)
    checked = moved = 0
    sound = dict.fromkeys(versions, 0)
    for score in scores():
        source = score_bytes(score)
        if source[:2] in (b"\xff\xfe", b"\xfe\xff"):
            source = source.decode("utf-16").replace("UTF-16", "UTF-8", 1).encode()
        try:
            valid = [version for version in versions if not versions[version].errors(source)]
        except Exception as fault:  # a fixture may be broken on purpose
            print(f"passed over {score.name}: {fault}")
            continue
        if EXAMPLES in score.parents:
            assert "4.0" in valid, f"{score} is an example and no valid MusicXML: {versions['4.0'].errors(source)}"
        for version in valid:
            sound[version] += 1
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
                for version in valid:
                    errors = versions[version].errors(data)
                    assert not errors, f"{copy.name} of {score}, MusicXML {version}: {errors}"
                if len(data) < 3_000_000 and b"score-timewise" not in data:
                    toolkit = verovio.toolkit()
                    toolkit.setOptions({"breaks": "none"})
                    was = verovio.toolkit()
                    was.setOptions({"breaks": "none"})
                    if was.loadData(source.decode("utf-8", "replace")):
                        assert toolkit.loadData(data.decode("utf-8", "replace")), f"{copy.name} of {score} does not open"
        checked += 1
    assert checked > 5, "hardly any score was checked"
    assert all(sound.values()), f"a version of which no score is valid: {sound}"
    valid = ", ".join(f"{count} of version {version}" for version, count in sound.items())
    print(f"{checked} scores, valid {valid} (every example is 4.0), {moved} with moves: copies as valid as their source,")
    print("only octaves changed, and a marked copy leads back to the very file")


main()
