"""Revised and marked copies are valid MusicXML of each version of which their source was, and an engraving library opens them.

Outside references: the schemas of MusicXML 4.0, 3.1 and 2.0 (lxml); Verovio 6.4 (LGPL, used as a test tool).
"""

import collections
import functools
import multiprocessing
import os
import pathlib
import re
import tempfile

import verovio

from support import ROOT, VERSIONS, arguments, run, schemas, score_bytes, scores

EXAMPLES = ROOT / "examples"


def without_octaves(data):
    """The bytes with the digits of every octave element taken out."""
    return re.sub(rb"(<octave>)\s*-?\d+\s*(</octave>)", rb"\1\2", data)


def main():
    options = arguments()
    total, sound = collections.Counter(), dict.fromkeys(VERSIONS, 0)
    jobs = [(options.lowbrass, options.downloads, score) for score in scores()]
    with multiprocessing.Pool(min(os.cpu_count() or 1, 8)) as pool:
        for valid, moved, why in pool.imap(compared, jobs):
            if why:
                print(why)
                continue
            total.update(checked=1, moved=moved)
            for version in valid:
                sound[version] += 1
    assert total["checked"] > 5, "hardly any score was checked"
    assert all(sound.values()), f"a version of which no score is valid: {sound}"
    valid = ", ".join(f"{count} of version {version}" for version, count in sound.items())
    print(f"{total['checked']} scores, valid {valid} (every example is 4.0), {total['moved']} with moves: copies as valid as")
    print("their source, only octaves changed, and a marked copy leads back to the very file")


def compared(job):
    """(versions of which the score is valid, whether anything moved, why it was passed over)"""
    lowbrass, downloads, score = job
    versions = schemas_once(downloads)
    source = in_utf8(score_bytes(score))
    try:
        valid = [version for version in versions if not versions[version].errors(source)]
    except Exception as fault:  # a fixture may be broken on purpose
        return [], False, f"passed over {score.name}: {fault}"
    if EXAMPLES in score.parents:
        assert "4.0" in valid, f"{score} is an example and no valid MusicXML: {versions['4.0'].errors(source)}"
    with tempfile.TemporaryDirectory() as folder:
        revised, marked, plain = (pathlib.Path(folder, name + score.suffix) for name in ("revised", "marked", "plain"))
        run(lowbrass, "check", score, "--no-config", "-q", "--fix-octaves", "--include-review", "-o", revised)
        run(lowbrass, "check", score, "--no-config", "-q", "--marked", marked)
        run(lowbrass, "unmark", marked, "-o", plain)
        assert plain.read_bytes() == score.read_bytes(), f"{score}: unmarked is not the source"
        before, after = score_bytes(score), score_bytes(revised)
        assert without_octaves(before) == without_octaves(after), f"{score}: more than octaves changed"
        for copy in (revised, marked):
            data = in_utf8(score_bytes(copy))
            for version in valid:
                errors = versions[version].errors(data)
                assert not errors, f"{copy.name} of {score}, MusicXML {version}: {errors}"
            if len(data) < 3_000_000 and b"score-timewise" not in data and opens(source):
                assert opens(data), f"{copy.name} of {score} does not open"
    return valid, before != after, ""


@functools.cache
def schemas_once(downloads):
    verovio.enableLog(verovio.LOG_OFF)
    return schemas(downloads)


def in_utf8(data):
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return data.decode("utf-16").replace("UTF-16", "UTF-8", 1).encode()
    return data


def opens(data):
    toolkit = verovio.toolkit()
    toolkit.setOptions({"breaks": "none"})
    return toolkit.loadData(data.decode("utf-8", "replace"))


if __name__ == "__main__":
    main()
