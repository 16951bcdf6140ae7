"""Every note of every score, as lowbrass reads it, against music21's own MusicXML reader.

The scores: the fixtures, the examples, all MusicXML that comes with music21, and real scores beside the project where
they are; files of the same content count once. Compared are bar, onset, duration, sounding pitch, tie and the size of the
chord. Where music21 departs from the standard, DEPARTURES says how, with the clause, as a change to the score: the
standard's reading of the changed score (`standard_reader.py`) must then be what music21 makes of the real one, note for
note. Anything else that differs is an error, and so is a departure that explains nothing any more.
"""

import collections
import copy
import gc
import hashlib
import io
import json
import multiprocessing
import os
import pathlib
import sys
import warnings
import zipfile
from fractions import Fraction

import lxml.etree as etree
import music21
from music21 import chord as m21_chord
from music21 import converter, harmony, stream
from music21 import note as m21_note

import standard_reader
from standard_reader import kid, kids, words
from support import ROOT, arguments, notes, scores

# What music21 cannot read at all, by its message, and what the standard says.
UNREADABLE = {
    "not in score-partwise": "score-timewise is one of the two roots of a score (MusicXML 4.0, 'score-timewise')",
    "multi-byte encodings": "XML 1.0, 4.3.3: a declared encoding other than UTF-8; Python's parser has no Shift-JIS",
}


def one_length_for_a_chord(root):
    """'In most cases the duration will be the same as the preceding note. However it can be shorter' ('chord'); music21 gives all
    notes of a chord the length of the first."""
    lengths = ((kid(note, "duration"), words(kid(first, "duration"))) for note, first in chord_notes(root))
    return changed(set_text(own, first) for own, first in lengths if own is not None and words(own) != first)


def chord_ended_by_another_element(root):
    """'The chord element indicates that this note is an additional chord tone with the preceding note': the preceding note, not
    the preceding element; in music21 a direction in between ends the chord."""
    return changed(
        remove(kid(note, "chord"))
        for note, _ in chord_notes(root)
        if next(note.itersiblings(etree.Element, preceding=True)).tag != "note"
    )


def accidental_taken_for_pitch(root):
    """'The accidental type represents actual notated accidentals'; the pitch is step, alter and octave. Where there is no alter
    music21 takes the accidental for it."""
    semitones = {"sharp": 1, "flat": -1}
    return changed(
        insert(pitch, 1, "alter", semitones[words(kid(note, "accidental"))])
        for note in root.iter("note")
        for pitch in kids(note, "pitch")
        if words(kid(note, "accidental")) in semitones and kid(pitch, "alter") is None
    )


def note_without_pitch_read_as_c4(root):
    """The schema's group 'full-note' asks for pitch, unpitched or rest; music21 makes a note without any a C4."""
    return changed(
        note.append(etree.fromstring("<pitch><step>C</step><octave>4</octave></pitch>"))
        for note in root.iter("note")
        if all(kid(note, name) is None for name in ("pitch", "unpitched", "rest"))
    )


def note_without_staff_in_each(root):
    """'Staff assignment is only needed for music notated on multiple staves' ('staff'): a note is one note; where it names no
    staff, music21 has it on each."""
    return changed(
        double(note)
        for part in root.iter("part")
        if any(int(words(staves)) > 1 for staves in part.iter("staves"))
        for note in list(part.iter("note"))
        if kid(note, "staff") is None and kid(note, "pitch") is not None
    )


def concert_score_passed_over(root):
    """'A document with a concert-score element may not contain any transpose elements that have non-zero values for either the
    diatonic or chromatic elements'; music21 transposes all the same."""
    return changed(remove(element) for element in list(root.iter("concert-score")))


def staff_of_a_transposition_passed_over(root):
    """'The optional number attribute refers to staff numbers' ('transpose'); music21 transposes all staves of the part."""
    return changed(element.attrib.pop("number") for element in root.iter("transpose") if element.get("number"))


def transposition_from_the_bars_start(root):
    """'When attributes are changed mid-measure, it affects the music in score order' ('attributes'): from there on. The first
    transposition of a part acts in music21 from the start of its bar."""
    return changed(
        measure.insert(0, attributes)
        for measure in root.iter("measure")
        for attributes in kids(measure, "attributes")
        if kid(attributes, "transpose") is not None and kids_before(attributes, "note")
    )


def part_not_in_the_list_left_out(root):
    """Not valid, as 'part' refers to a score-part by id; read and said by lowbrass, left out by music21."""
    listed = {part.get("id") for part in root.iter("score-part")}
    return changed(remove(part) for part in kids(root, "part") if part.get("id") not in (None, *listed))


DEPARTURES = [
    chord_ended_by_another_element,
    one_length_for_a_chord,
    accidental_taken_for_pitch,
    note_without_pitch_read_as_c4,
    note_without_staff_in_each,
    concert_score_passed_over,
    staff_of_a_transposition_passed_over,
    transposition_from_the_bars_start,
    part_not_in_the_list_left_out,
]
DECOY = "the first XML member of an .mxl is read, not the first rootfile of its container"


def main():
    options = arguments()
    # music21 makes millions of small objects that live as long as their score: looking through them less often saves a fifth.
    gc.set_threshold(200_000, 20, 100)
    jobs = [(options, name, str(path)) for name, path in named_scores()]
    explained, wrong, compared, agreed, unread = collections.Counter(), [], 0, 0, 0
    with multiprocessing.Pool(min(os.cpu_count() or 1, 8)) as pool:
        for name, count, differ, why, failure in pool.imap_unordered(compare, jobs, chunksize=1):
            compared += count
            agreed += count - differ if not failure else 0
            unread += why == "unreadable"
            explained[why] += differ
            wrong += [f"{name}: {failure}"] if failure else []
    used = {reason for why in explained for reason in why.split(" + ")}
    wrong += [f"{known} explains nothing any more" for known in known_reasons() if known not in used]
    print(f"{compared} notes compared in {len(jobs) - unread} scores, {agreed} agree; {unread} scores music21 cannot read")
    for why, differ in sorted(explained.items()):
        if differ:
            print(f"  {differ} differ: {why}")
    if wrong:
        sys.exit("\n".join(sorted(wrong)))


def known_reasons():
    return [departure.__name__ for departure in DEPARTURES] + [DECOY, "unreadable"]


def named_scores():
    """The largest first, so that two cores end together."""
    package = pathlib.Path(music21.__file__).parent
    found = [(str(path), path) for path in scores()]
    found += [(str(path), path) for path in package.rglob("*") if path.suffix in (".xml", ".mxl", ".musicxml")]
    names = {path: name.replace(str(ROOT) + "/", "").replace(str(package.parent) + "/", "") for name, path in found}
    once = {}
    for path in sorted(names, key=lambda path: names[path]):
        once.setdefault(hashlib.sha256(path.read_bytes()).digest(), (names[path], path))
    return sorted(once.values(), key=lambda item: (-item[1].stat().st_size, item[0]))


def compare(job):
    """(name, notes, how many differ, by which departures, what is wrong)"""
    options, name, path = job
    warnings.simplefilter("ignore")
    try:
        theirs = music21_parts(path)
    except Exception as error:
        known = any(message in str(error) for message in UNREADABLE)
        return name, 0, 0, "unreadable", "" if known else f"music21 cannot read it: {error}"
    status, out, err = notes(options.lowbrass, path, options.downloads)
    if status != 0:
        return name, 0, 0, "", f"status {status}: {err.decode().strip()}"
    ours = lowbrass_parts(out)
    count = sum(map(total, ours))
    if ours == theirs:
        return name, count, 0, "", ""
    expected, why = departed(pathlib.Path(path).read_bytes())
    differ = max(unlike(ours, theirs), unlike(theirs, ours))
    if expected != theirs:
        first = next((a - b or b - a for a, b in zip(expected, theirs) if a != b), "the number of parts")
        return name, count, differ, why, f"{differ} notes differ, of which the departures do not explain {first}"
    return name, count, differ, why, ""


def unlike(some, others):
    others = others + [collections.Counter()] * len(some)
    return sum(total(rows - other) for rows, other in zip(some, others))


def total(rows):
    return sum(rows.values())


def exact(number):
    return Fraction(number).limit_denominator(10000)


def counted(rows):
    """Rows with their chord's size in place of the flag: a multiset."""
    counts, chord = collections.Counter(), []
    for row, joins in rows:
        if not joins:
            counts.update((*member, len(chord)) for member in chord)
            chord = []
        chord.append(row)
    counts.update((*member, len(chord)) for member in chord)
    return counts


def lowbrass_parts(out):
    """For each part that has notes, in the order of the score: a multiset of rows."""
    parts = {}
    for row in map(json.loads, out.splitlines()):
        values = (row["bar_index"], exact(row["bar_onset"]), exact(row["duration"]), float(row["midi"]), row["tie"])
        parts.setdefault(row["part"], []).append((values, row["chord"]))
    return [counted(rows) for rows in parts.values()]


def departed(data):
    """What the standard makes of the score as music21 takes it, and which departures that took."""
    why = []
    if data[:2] == b"PK":
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            named = standard_reader.score_of(data)
            members = [member for member in archive.namelist() if "META-INF" not in member]
            data = archive.read(next(member for member in members if member.endswith((".xml", ".musicxml"))))
            why += [DECOY] if etree.tostring(named) != etree.tostring(parsed(data)) else []
    root = parsed(data)
    why += [departure.__name__ for departure in DEPARTURES if departure(root)]
    parts = {}
    for part, rows in standard_reader.read(etree.tostring(root)):
        values = [((bar, exact(at), exact(length), midi, tie), chord) for bar, at, length, midi, tie, chord, *_ in rows]
        parts.setdefault(part, []).extend(values)
    return [counted(rows) for rows in parts.values() if rows], " + ".join(why)


def parsed(data):
    return etree.fromstring(data, etree.XMLParser(**standard_reader.PARSER))


def changed(changes):
    """Whether there was anything to change; makes all the changes."""
    return len(list(changes)) > 0


def chord_notes(root):
    """Each further note of a chord that takes time, with the chord's first."""
    found, first = [], None
    for note in root.iter("note"):
        if kid(note, "chord") is None:
            first = note
        elif first is not None and kid(note, "grace") is None:
            found.append((note, first))
    return found


def set_text(element, text):
    element.text = text


def insert(parent, index, name, value):
    parent.insert(index, etree.Element(name))
    set_text(parent[index], str(value))


def remove(element):
    element.getparent().remove(element)


def double(note):
    """Once more, at the same place, for the other staff."""
    back = etree.Element("backup")
    insert(back, 0, "duration", words(kid(note, "duration")))
    note.addnext(back)
    back.addnext(copy.deepcopy(note))


def kids_before(element, name):
    return [before for before in element.itersiblings(name, preceding=True)]


def music21_parts(path):
    read = converter.parseFile(path, format="musicxml", forceSource=True, storePickle=False)
    read = read if isinstance(read, stream.Score) else read.scores[0]
    read.toSoundingPitch(inPlace=True)
    parts, before = [], None
    for part in read.parts:
        # music21 has a part for each staff; those of one part of the score stand together, "P1-Staff1", "P1-Staff2".
        whole = part.id.split("-Staff")[0] if isinstance(part, stream.PartStaff) else None
        if whole is None or whole != before:
            parts.append(collections.Counter())
        before = whole
        for bar, measure in enumerate(part.getElementsByClass(stream.Measure)):
            for place in [measure, *measure.voices]:
                base = 0 if place is measure else place.offset
                for element in place.notes:
                    if not isinstance(element, harmony.Harmony):
                        parts[-1].update(note_rows(bar, base + element.offset, element))
    return [rows for rows in parts if rows]


def note_rows(bar, onset, element):
    members = element.notes if isinstance(element, m21_chord.ChordBase) else [element]
    members = [note for note in members if isinstance(note, m21_note.Note)]
    length = 0 if element.duration.isGrace else element.duration.quarterLength
    for note in members:
        # A chord's own tie is that of its notes.
        tie = note.tie.type if note.tie is not None and note.tie.type != "let-ring" else "none"
        yield (bar, exact(onset), exact(length), float(note.pitch.ps), tie, len(members))


if __name__ == "__main__":
    main()
