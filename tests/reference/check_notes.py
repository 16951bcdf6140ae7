"""Every note of every score, as lowbrass reads it, against a second reader written from the standard's text.

The scores: the fixtures, the examples, all MusicXML that comes with music21, and real scores beside the project where
they are. Bar, onset, duration, sounding pitch, tie, chord, grace, cue and hidden must agree for every note.
Exceptions stand in notes_exceptions.json with the clause of the standard; one that is no longer needed is an error.
"""

import json
import multiprocessing
import os
import pathlib
import sys
from fractions import Fraction

import music21

import standard_reader
from support import ROOT, arguments, notes, scores


def main():
    options = arguments()
    exceptions = json.loads((pathlib.Path(__file__).parent / "notes_exceptions.json").read_text())
    needed, wrong, files, total = set(), [], 0, 0
    jobs = [(options, name, path) for name, path in named_scores()]
    with multiprocessing.Pool(min(os.cpu_count() or 1, 8)) as pool:
        for name, (count, difference) in pool.imap_unordered(compared, jobs, chunksize=4):
            files += 1
            total += count
            if difference and name in exceptions:
                needed.add(name)
            elif difference:
                wrong.append(f"{name}: {difference}")
    wrong += [f"{name}: the exception is not needed" for name in sorted(set(exceptions) - needed)]
    print(f"{total} notes in {files} scores; {len(needed)} exceptions")
    if wrong:
        sys.exit("\n".join(sorted(wrong)))


def named_scores():
    for path in scores():
        yield str(path.relative_to(ROOT.parent)), path
    package = pathlib.Path(music21.__file__).parent
    for path in sorted(package.rglob("*")):
        if path.suffix in (".xml", ".mxl", ".musicxml"):
            yield "music21/" + str(path.relative_to(package)), path


def compared(job):
    options, name, path = job
    return name, compare(options, path)


def compare(options, path):
    """How many notes agree, and the first disagreement in words."""
    status, out, err = notes(options.lowbrass, path, options.downloads)
    try:
        expected = standard_reader.read(path.read_bytes())
    except Exception as error:  # No score by this reader: lowbrass must say so too, or read more than it does.
        return 0, "" if status == 2 else f"the second reader cannot: {error}"
    if status != 0:
        return 0, f"status {status}: {err.decode().strip()}"
    read = {}
    for line in out.splitlines():
        row = json.loads(line)
        read.setdefault(row["part"], []).append(
            (
                row["bar_index"],
                Fraction(row["bar_onset"]),
                Fraction(row["duration"]),
                float(row["midi"]),
                row["tie"],
                row["chord"],
                row["grace"],
                row["cue"],
                row.get("hidden", False),
            )
        )
    merged = {}
    for part, rows in expected:
        merged.setdefault(part, []).extend(rows)
    for part, rows in merged.items():
        ours = sorted(read.pop(part, []))
        theirs = sorted(rows)
        if ours != theirs:
            missing = next((row for row in theirs if row not in ours), None)
            extra = next((row for row in ours if row not in theirs), None)
            return 0, f"part {part}: {len(theirs)} notes, read {len(ours)}; only the standard: {missing}; only lowbrass: {extra}"
    if read:
        return 0, f"parts that the standard does not know: {sorted(map(str, read))}"
    return sum(map(len, merged.values())), ""


if __name__ == "__main__":
    main()
