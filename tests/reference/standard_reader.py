"""A second reader, written from the text of the MusicXML 4.0 standard and from nothing of lowbrass.

For every note with a pitch: bar, onset in the bar, duration, sounding pitch, tie, chord, grace, cue, hidden.
"""

import io
import zipfile
from fractions import Fraction

import lxml.etree as etree

STEPS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
PARSER = dict(resolve_entities=True, load_dtd=False, no_network=True, huge_tree=True)


def tag(node):
    return etree.QName(node).localname if isinstance(node.tag, str) else ""


def kids(node, name):
    return node.findall(name)


def kid(node, name):
    return node.find(name)


def words(node):
    """The character data of an element; comments in it do not count."""
    if node is None:
        return ""
    return (node.text or "").strip() if len(node) == 0 else "".join(node.xpath("text()")).strip()


def number(node):
    try:
        return Fraction(words(node))
    except (ValueError, ZeroDivisionError):
        return None


def score_of(data):
    if data[:2] == b"PK":
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            container = etree.fromstring(archive.read("META-INF/container.xml"))
            data = archive.read(container.find(".//{*}rootfile").get("full-path"))
    return etree.fromstring(data, etree.XMLParser(**PARSER))


def measures_by_part(root):
    """[(part id, [measure children])] in document order, whichever way the score is turned."""
    if tag(root) == "score-partwise":
        return [(part.get("id"), kids(part, "measure")) for part in kids(root, "part")]
    parts = {}
    for measure in kids(root, "measure"):
        for part in kids(measure, "part"):
            parts.setdefault(part.get("id"), []).append(part)
    return list(parts.items())


def read(data):
    """[(part id, rows)]; a row: (bar index, onset, duration, midi, tie, chord, grace, cue, hidden)."""
    root = score_of(data)
    concert = root.find("defaults/concert-score") is not None
    listed = [part.get("id") for part in root.findall("part-list/score-part")]
    parts = []
    for position, (name, measures) in enumerate(measures_by_part(root)):
        if name is None and position < len(listed):
            name = listed[position]
        parts.append((name, part_rows(measures, concert)))
    return parts


def part_rows(measures, concert):
    divisions = Fraction(1)
    shifts = {None: Fraction(0)}  # by staff, None: all others
    rows = []
    for index, measure in enumerate(measures):
        at = last = Fraction(0)
        notes, changes = [], []
        for element in measure:
            kind = element.tag if isinstance(element.tag, str) else ""
            if kind == "attributes":
                given = number(kid(element, "divisions")) if kid(element, "divisions") is not None else None
                if given is not None and given > 0:
                    divisions = given
                changes += [(at, transpose) for transpose in kids(element, "transpose")]
            elif kind in ("backup", "forward"):
                length = (number(kid(element, "duration")) or Fraction(0)) / divisions
                # The standard lets no backup reach beyond the measure's start.
                at = max(at - length, Fraction(0)) if kind == "backup" else at + length
            elif kind == "note":
                grace = kid(element, "grace") is not None
                length = Fraction(0) if grace else (number(kid(element, "duration")) or Fraction(0)) / divisions
                chord = kid(element, "chord") is not None
                onset = last if chord else at
                has_kind = any(kid(element, name) is not None for name in ("pitch", "rest", "unpitched"))
                if not chord:
                    last = at
                    at += length
                pitch = kid(element, "pitch")
                if has_kind and pitch is not None:
                    notes.append((onset, length, element, pitch, chord, grace))
        for onset, length, element, pitch, chord, grace in notes:
            staff = int(number(kid(element, "staff")) or 1)
            rows.append(
                (
                    index,
                    onset,
                    length,
                    float(written(pitch) + shift_at(shifts, changes, onset, staff, concert)),
                    tie(element),
                    chord,
                    grace,
                    kid(element, "cue") is not None,
                    element.get("print-object") == "no",
                )
            )
        for _, transpose in sorted(changes, key=lambda change: change[0]):
            apply(shifts, transpose, concert)
    return rows


def written(pitch):
    alter = number(kid(pitch, "alter")) if kid(pitch, "alter") is not None else None
    return (int(words(kid(pitch, "octave"))) + 1) * 12 + STEPS[words(kid(pitch, "step"))] + (alter or 0)


def shift_of(transpose, concert):
    chromatic = number(kid(transpose, "chromatic")) or Fraction(0)
    octaves = number(kid(transpose, "octave-change")) if kid(transpose, "octave-change") is not None else None
    return (Fraction(0) if concert else chromatic) + 12 * (octaves or 0)


def apply(shifts, transpose, concert):
    staff = transpose.get("number")
    if staff is None:
        shifts.clear()
    shifts[int(staff) if staff else None] = shift_of(transpose, concert)


def shift_at(shifts, changes, onset, staff, concert):
    here = dict(shifts)
    for place, transpose in sorted(changes, key=lambda change: change[0]):
        if place <= onset:
            apply(here, transpose, concert)
    return here.get(staff, here.get(None, Fraction(0)))


def tie(note):
    kinds = {found.get("type") for found in kids(note, "tie")}
    return {(): "none", ("start",): "start", ("stop",): "stop"}.get(tuple(sorted(kinds & {"start", "stop"})), "continue")
