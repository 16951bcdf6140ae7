"""What is in force at a note, read a second time: the level of its dynamics and how long it lasts in seconds.

Written from the text of the MusicXML 4.0 standard and from tests/reference/README.md, not from lowbrass. Where the standard leaves
room (hairpins, words) this reader says nothing: None. It follows the page from first to last bar, so that scores with repeats or
jumps are none of its business.
"""

import re
from fractions import Fraction

from standard_reader import kid, kids, measures_by_part, number, score_of, tag, words

LEVEL = re.compile(r"p{1,6}|f{1,6}|mp|mf")
FORCED = re.compile(r"[sr]?(f+)z?(p+|mp|mf)?")
# Words that may say something of loudness or tempo: from there on this reader holds its tongue.
LOUDNESS = re.compile(
    r"\b(cresc|dim|decresc|dimin|forte|piano|fortissimo|pianissimo|mezzo|louder|softer|leiser|lauter|niente|morendo|perdend|smorz|calando|"
    r"mancando|più|piu|meno|poco|fade|dying|anschwell|abnehm|augment|crec|[mpfsz]{1,6})", re.I)
TEMPO = re.compile(
    r"tempo|rit|rall|accel|allarg|string|mosso|moto|largo|larghetto|largh|lent|adag|andant|moder|allegr|prest|viva|vivo|grave|"
    r"langsam|schnell|lebhaft|rasch|mäßig|massig|bewegt|ruhig|breit|slow|fast|quick|lively|broad|calm|steady|swing|march|ballad|"
    r"vif|vite|anim|cédez|cedez|press|serr|maest|sosten|tranq|doppio|double|half|time|feierlich|getragen|gehend|frisch|munter|"
    r"bpm|=|♩|♪|medium|bright|feel|movi|mouv|zeitm|calando|morendo|stent|precip|incalz|affrett|come prima|kräft|feurig|eil", re.I)
UNITS = {"maxima": 32, "long": 16, "breve": 8, "whole": 4, "half": 2, "quarter": 1, "eighth": Fraction(1, 2), "16th": Fraction(1, 4),
         "32nd": Fraction(1, 8), "64th": Fraction(1, 16)}
UNSURE = object()


def read(data):
    """[(part id, rows)] or None where bars are not played once, in order; a row: (bar index, onset, duration, level, seconds). A
    level of UNSURE and seconds of None are not for this reader to say."""
    root = score_of(data)
    if any(tag(node) in ("repeat", "ending", "segno", "coda") for node in root.iter()):
        return None
    if any(sound.get(name) for sound in root.iter("sound") for name in ("dacapo", "dalsegno", "tocoda", "fine", "segno", "coda")):
        return None
    if re.search(r"\bD\. ?[CS]\.|da capo|dal segno|\bfine\b|\bcoda\b", " ".join(words(node) for node in root.iter("words")), re.I):
        return None
    listed = [part.get("id") for part in root.findall("part-list/score-part")]
    parts = []
    for position, (name, measures) in enumerate(measures_by_part(root)):
        parts.append((name if name is not None else (listed + [None] * 99)[position], [walk(measures)]))
    walked = [walk for _, (walk,) in parts]
    starts = bar_starts(walked)
    clock = clock_of(walked, starts)
    spoken = any(TEMPO.search(words(node)) for node in root.iter("words"))
    spoken |= any(len(kids(metronome, "beat-unit")) > 1 or kids(metronome, "metronome-note") for metronome in root.iter("metronome"))
    found = []
    for (name, _), one in zip(parts, walked):
        one["marks"] = sorted(((starts[bar] + at, *mark) for bar, at, *mark in one["marks"]), key=lambda mark: mark[0])
        rows = []
        for bar, onset, length, staff, voice, grace in one["notes"]:
            place = starts[bar] + onset
            seconds = None if spoken else float(clock(place + length) - clock(place))
            rows.append((bar, onset, length, level(one["marks"], place, staff, voice), seconds))
        found.append((name, rows))
    return found


def walk(measures):
    """A part's notes, marks and tempos, each with its bar and place in it; how far each bar reaches, and its time signature."""
    divisions, nominal = Fraction(1), None
    part = {"notes": [], "marks": [], "tempos": [], "bars": []}
    for index, measure in enumerate(measures):
        at = last = reach = Fraction(0)
        for element in measure:
            kind = tag(element)
            if kind == "attributes":
                given = kid(element, "divisions")
                if given is not None and number(given):
                    divisions = number(given)
                if kid(element, "time") is not None:
                    nominal = nominal_of(kid(element, "time"))
            elif kind in ("backup", "forward"):
                length = (number(kid(element, "duration")) or Fraction(0)) / divisions
                at = max(at - length, Fraction(0)) if kind == "backup" else at + length
            elif kind == "direction":
                direction(part, index, element, at, divisions)
            elif kind == "sound":
                own = kid(element, "offset")
                sound(part, index, element, at + ((number(own) or 0) / divisions if own is not None else 0))
            elif kind == "note":
                grace = kid(element, "grace") is not None
                length = Fraction(0) if grace else (number(kid(element, "duration")) or Fraction(0)) / divisions
                chord = kid(element, "chord") is not None
                onset = last if chord else at
                if not chord:
                    last, at = at, at + length
                reach = max(reach, onset + length)
                staff = int(number(kid(element, "staff")) or 1) if kid(element, "staff") is not None else 1
                voice = words(kid(element, "voice")) or "1"
                for dynamics in element.findall("notations/dynamics"):
                    part["marks"].append((index, onset, staff, voice, mark(dynamics)))
                if kid(element, "pitch") is not None:
                    part["notes"].append((index, onset, length, staff, voice, grace))
            reach = max(reach, at)
        part["bars"].append((reach, nominal))
    return part


def nominal_of(time):
    beats = [sum(int(piece) for piece in words(node).split("+")) for node in kids(time, "beats") if re.fullmatch(r"[\d+ ]+", words(node))]
    types = [int(number(node)) for node in kids(time, "beat-type") if number(node)]
    return sum((Fraction(4 * count, unit) for count, unit in zip(beats, types)), Fraction(0)) or None


def direction(part, index, element, at, divisions):
    offset = kid(element, "offset")
    moved = at + ((number(offset) or Fraction(0)) / divisions if offset is not None else 0)
    staff = int(number(kid(element, "staff"))) if kid(element, "staff") is not None else None
    voice = words(kid(element, "voice")) or None if kid(element, "voice") is not None else None
    own = kid(element, "sound")
    types = [node for kind in kids(element, "direction-type") for node in kind]
    said = " ".join(words(node) for node in types if tag(node) == "words")
    marks = [mark(node) for node in types if tag(node) == "dynamics"]
    if LOUDNESS.search(said) or len(marks) > 1:
        # A mark in the same direction is read with the words beside it.
        marks = [UNSURE]
    for level in marks:
        part["marks"].append((index, moved, staff, voice, level))
    for node in types:
        if tag(node) == "wedge" and node.get("type") in ("crescendo", "diminuendo", "stop"):
            part["marks"].append((index, moved, staff, voice, UNSURE))
        elif tag(node) == "symbol":
            part["marks"].append((index, moved, staff, voice, UNSURE))
        elif tag(node) == "metronome" and (own is None or not positive(own.get("tempo"))):
            unit = UNITS.get(words(kid(node, "beat-unit")))
            # Of a range the middle.
            figures = [float(figure) for figure in re.findall(r"\d+(?:\.\d+)?", words(kid(node, "per-minute")))[:2]]
            if unit and figures and min(figures) > 0:
                dots, tempo = len(kids(node, "beat-unit-dot")), sum(figures) / len(figures)
                part["tempos"].append((index, moved, 1, tempo * float(unit * (2 - Fraction(1, 2**dots)))))
    if own is not None:
        inner = kid(own, "offset")
        if inner is not None:
            at += (number(inner) or Fraction(0)) / divisions
        elif offset is not None and offset.get("sound") == "yes":
            at = moved
        sound(part, index, own, at)


def sound(part, index, element, at):
    if positive(element.get("tempo")):
        part["tempos"].append((index, at, 2, float(element.get("tempo"))))
    if element.get("dynamics"):
        part["marks"].append((index, at, None, None, "sound"))


def positive(text):
    try:
        return text is not None and float(text) > 0
    except ValueError:
        return False


def mark(dynamics):
    """The level that a `dynamics` element sets; None leaves it as it was."""
    if any(tag(node) == "other-dynamics" for node in dynamics):
        letters = [tag(node) for node in dynamics if tag(node) != "other-dynamics"]
        other = " ".join(words(node) for node in dynamics if tag(node) == "other-dynamics")
        # Letters count wherever they stand; words of another kind beside them change nothing.
        if len(letters) == 1 and LEVEL.fullmatch(letters[0]) and not re.search(r"\b(mezzo|sempre (più|piu))|[\ue520-\ue54f]|\b[mpfsz]{1,6}\b", other):
            return letters[0]
        return UNSURE
    letters = "".join(tag(node) for node in dynamics)
    if letters == "":
        return None
    if LEVEL.fullmatch(letters):
        return letters
    if letters == "pf":
        return "f"
    forced = FORCED.fullmatch(letters)
    return forced[2] if forced else UNSURE


def level(marks, place, staff, voice):
    """The last mark at or before a place that is for this staff and voice."""
    here, ruled = None, False
    for stands, own_staff, own_voice, what in marks:
        if stands > place:
            break
        if own_staff not in (None, staff):
            continue
        if own_voice not in (None, voice) and beside_another_voice(marks, stands, own_staff, own_voice):
            continue
        if what == "sound":
            # Counts only where no mark rules; how loud a percentage is, the standard does not say.
            here = here if ruled else UNSURE
        elif what is not None:
            here, ruled = what, True
    return here


def beside_another_voice(marks, place, staff, voice):
    return any(
        stands == place and other not in (None, voice) and (None in (staff, own) or own == staff)
        for stands, own, other, what in marks
        if what not in ("sound", None)
    )


def bar_starts(walked):
    starts, at = [], Fraction(0)
    for index in range(max((len(part["bars"]) for part in walked), default=0)):
        here = [part["bars"][index] for part in walked if index < len(part["bars"])]
        starts.append(at)
        nominal = next((nominal for _, nominal in here if nominal is not None), None)
        at += max(reach for reach, _ in here) or nominal or Fraction(0)
    return starts


def clock_of(walked, starts):
    """Seconds at a place: of several tempos at one place the sound's, of equals the last part's last."""
    at_place = {}
    for part in walked:
        for index, at, rank, tempo in part["tempos"]:
            place = starts[index] + at
            if place not in at_place or rank >= at_place[place][0]:
                at_place[place] = (rank, tempo)
    changes = sorted((place, tempo) for place, (_, tempo) in at_place.items())
    if not changes or changes[0][0] > 4:
        changes.insert(0, (Fraction(0), 120.0))
    changes[0] = (Fraction(0), changes[0][1])

    def clock(place):
        seconds = 0.0
        for (begins, tempo), follows in zip(changes, changes[1:] + [None]):
            ends = place if follows is None else min(place, follows[0])
            if ends > begins:
                seconds += float(ends - begins) * 60.0 / tempo
        return seconds

    return clock
