"""Level and seconds at every note, as lowbrass reads them, against a second reader (`state_reader.py`).

The scores are those of `check_notes.py`. A note is compared where the second reader has something to say: not under a hairpin or
behind words of loudness up to the next mark, no seconds in scores whose words speak of tempo, no scores with repeats or jumps. What
differs is an error.
"""

import json
import multiprocessing
import os
import sys
from fractions import Fraction

import state_reader
from check_notes import named_scores
from support import arguments, notes


def main():
    options = arguments()
    jobs = [(options, name, path) for name, path in named_scores()]
    levels = seconds = all_notes = straight = 0
    wrong = []
    with multiprocessing.Pool(min(os.cpu_count() or 1, 8)) as pool:
        for name, count, with_level, with_seconds, faults in pool.imap_unordered(compare, jobs, chunksize=4):
            all_notes, levels, seconds = all_notes + count, levels + with_level, seconds + with_seconds
            straight += count > 0
            wrong += [f"{name}: {fault}" for fault in faults]
    print(f"of {all_notes} notes in {straight} scores without repeats the levels of {levels} and the seconds of {seconds} were compared; {len(wrong)} scores differ")
    if wrong:
        sys.exit("\n".join(sorted(wrong)))


def compare(job):
    options, name, path = job
    status, out, _ = notes(options.lowbrass, path, options.downloads)
    try:
        expected = state_reader.read(path.read_bytes()) if status == 0 else None
    except Exception:  # What no XML parser of Python's reads is told of in check_notes.py.
        expected = None
    if expected is None:
        return name, 0, 0, 0, []
    ours = {}
    for row in map(json.loads, out.splitlines()):
        place = (row["bar_index"], Fraction(row["bar_onset"]), Fraction(row["duration"]))
        ours.setdefault(row["part"], []).append((*place, row["dynamic"], row["seconds"], row["tie"], row["grace"]))
    count = with_level = with_seconds = 0
    faults = []
    merged = {}
    for part, rows in expected:
        merged.setdefault(part, []).extend(rows)
    for part, rows in merged.items():
        read = sorted(ours.get(part, []), key=lambda row: row[:3])
        theirs = sorted(rows, key=lambda row: row[:3])
        if [row[:3] for row in read] != [row[:3] for row in theirs]:
            continue  # check_notes.py says so.
        groups = {}
        for row, other in zip(read, theirs):
            groups.setdefault(row[:3], ([], []))
            groups[row[:3]][0].append(row)
            groups[row[:3]][1].append(other)
        for place, (mine, his) in groups.items():
            count += len(mine)
            if all(other[3] is not state_reader.UNSURE for other in his):
                with_level += len(mine)
                if sorted(str(row[3]) for row in mine) != sorted(str(other[3]) for other in his):
                    faults.append(f"part {part}, bar {place[0]} at {place[1]}: {mine[0][3]}, not {his[0][3]}")
            # A tied note's seconds are those of its chain.
            free = [row for row in mine if row[5] == "none" and not row[6]]
            if free and his[0][4] is not None:
                with_seconds += len(free)
                if any(abs(row[4] - his[0][4]) > 0.002 for row in free):
                    faults.append(f"part {part}, bar {place[0]} at {place[1]}: {free[0][4]} s, not {his[0][4]:.3f}")
    return name, count, with_level, with_seconds, faults[:3]


if __name__ == "__main__":
    main()
