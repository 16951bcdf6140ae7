"""Gives music that comes with music21 to low brass: the material on which the prices of octave moves were found.

    python tests/reference/give_to_low_brass.py FOLDER
    DISPLACE_FOLDER=FOLDER/quartet DISPLACE_FROM=201 DISPLACE_SEEDS=3 cargo test --release --test displace real -- --nocapture

Chorales (J. S. Bach), madrigals (Monteverdi) and movements of string quartets (Haydn, Mozart, Beethoven), four parts each: the two
highest and the two lowest, by octaves nearest to where two trombones, a bass trombone and a tuba lie, all mf. No part then fits its
instrument throughout, a violin's least: what is asked of a page as it stands is told apart from what was displaced.
"""

import pathlib
import sys
import warnings

from music21 import corpus, dynamics, instrument, stream

# By name, with the pitch (MIDI) that the middle of its notes comes nearest to.
PLAYERS = [("Trombone 1", 60), ("Trombone 2", 56), ("Bass Trombone", 50), ("Tuba", 43)]
FEWEST_NOTES = 20
KINDS = {
    "chorale": [("bach", 40)],
    "madrigal": [("monteverdi", 12)],
    "quartet": [("haydn", 5), ("mozart", 5), ("beethoven", 4)],
}


def some(composer, count):
    paths = sorted(str(path) for path in corpus.getComposer(composer) if str(path).endswith((".mxl", ".xml", ".musicxml", ".krn")))
    return paths[:: max(1, len(paths) // count)][:count]


def given(part, name, middle):
    part = part.toSoundingPitch()
    pitches = sorted(pitch.midi for note in part.flatten().notes for pitch in note.pitches)
    if len(pitches) < FEWEST_NOTES:
        return None
    octaves = round((middle - pitches[len(pitches) // 2]) / 12)
    if octaves:
        part = part.transpose(12 * octaves)
    for other in list(part.recurse().getElementsByClass(instrument.Instrument)):
        part.remove(other, recurse=True)
    player = instrument.Instrument()
    player.partName = player.instrumentName = name
    part.insert(0, player)
    part.partName = part.id = name
    bars = list(part.getElementsByClass(stream.Measure))
    if bars:
        bars[0].insert(0, dynamics.Dynamic("mf"))
    return part


def main():
    warnings.filterwarnings("ignore")
    folder = pathlib.Path(sys.argv[1])
    for kind, composers in KINDS.items():
        (folder / kind).mkdir(parents=True, exist_ok=True)
        for path in (path for composer, count in composers for path in some(composer, count)):
            parts = list(corpus.parse(path).parts)
            if len(parts) < len(PLAYERS):
                continue
            four = [given(part, *player) for part, player in zip(parts[:2] + parts[-2:], PLAYERS)]
            if None in four:
                continue
            score = stream.Score()
            for part in four:
                score.insert(0, part)
            composer, name = pathlib.Path(path).parts[-2:]
            file = folder / kind / f"{composer}-{name.rsplit('.', 1)[0]}.musicxml"
            score.write("musicxml", file)
            print(file, len(list(score.recurse().notes)), flush=True)


if __name__ == "__main__":
    main()
