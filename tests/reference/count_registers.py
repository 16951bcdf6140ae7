"""Counts what low-brass parts ask by register: the figures that the profiles cite as "our count".

    python tests/reference/count_registers.py --lowbrass target/release/lowbrass SCORE...

A row for each kind of part: how many notes, the pitches below which 0, 1, 5, 25, 50, 75, 95, 99 and 100 per cent of them lie
(nearest rank), and the same for those at ff and louder and at p and softer. The material of the figures in the profiles: the movements with tuba or trombones of the OpenScore Orchestra collection (CC0) by
Beach (op. 32), Beethoven (nos. 5, 6, 9), Boulanger, Brahms (nos. 1 to 4, op. 45) and Bruckner (no. 5); three of them are in a
folder beside the checkout where it has one.
"""

import argparse
import collections
import json
import math
import subprocess

NAMES = ["C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"]
SHARES = [0, 1, 5, 25, 50, 75, 95, 99, 100]
LOUD = {"ff", "fff", "ffff", "fffff", "ffffff"}
SOFT = {"p", "pp", "ppp", "pppp", "ppppp", "pppppp"}


def name(midi):
    return f"{NAMES[midi % 12]}{midi // 12 - 1}"


def ranks(pitches):
    pitches = sorted(pitches)
    at = lambda share: pitches[max(0, math.ceil(share / 100 * len(pitches)) - 1)]
    return "  ".join(f"{name(at(share)):4}" for share in SHARES)


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--lowbrass", required=True, help="the built program")
    parser.add_argument("scores", nargs="+")
    options = parser.parse_args()
    kinds = collections.defaultdict(list)
    for score in options.scores:
        out = subprocess.run(
            [options.lowbrass, "notes", "--format", "jsonl", score], capture_output=True, check=True, text=True
        ).stdout
        for text in out.splitlines():
            note = json.loads(text)
            if note["midi"] is None or note["profile"] is None or note["grace"] or note["tie"] in ("continue", "stop"):
                continue
            kinds[note["profile"]].append(note)
    heading = "  ".join(f"{share:>3}%" for share in SHARES)
    for kind, notes in sorted(kinds.items()):
        print(f"{kind}: {len(notes)} notes\n{'':8}{heading}")
        for label, marks in (("all", None), ("loud", LOUD), ("soft", SOFT)):
            chosen = [round(note["midi"]) for note in notes if marks is None or note["dynamic"] in marks]
            if chosen:
                print(f"{label:8}{ranks(chosen)}  ({len(chosen)})")


if __name__ == "__main__":
    main()
