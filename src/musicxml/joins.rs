//! What binds notes: slurs, beams, tuplets, glissandi, and ties that find no partner.
//!
//! A join on a note means that it is bound to the next note of its voice. Lines are told apart by number and
//! voice; a line that never ends binds nothing, as nobody can say how far it was meant.

use std::collections::BTreeMap;

use super::found::RawNote;
use crate::music::{Length, Onset, Sounding};
use crate::score::{Join, Note, Oddity, OddityKind, Tie};

/// Joins all notes of a part. They are in order of onset, of several at one onset in document order.
pub(super) fn join(raw: Vec<RawNote>) -> Vec<Note> {
    let bindings = bindings(&raw);
    let mut notes: Vec<Note> = Vec::with_capacity(raw.len());
    for RawNote { mut note, beamed_on, modified, .. } in raw {
        if note.tie.goes_on() {
            note.joins = note.joins.with(Join::Tie);
        }
        if beamed_on {
            note.joins = note.joins.with(Join::Beam);
        }
        if modified && !note.grace && is_inside_tuplet(&note) {
            note.joins = note.joins.with(Join::Tuplet);
        }
        notes.push(note);
    }
    let mut of_voice: BTreeMap<u16, Vec<usize>> = BTreeMap::new();
    for (index, note) in notes.iter().enumerate() {
        of_voice.entry(note.voice).or_default().push(index);
    }
    for Binding { voice, from, to, join } in bindings {
        let own = of_voice.get(&voice).map(Vec::as_slice).unwrap_or_default();
        let first = own.partition_point(|index| *index < from);
        for &index in own[first..].iter().take_while(|index| **index < to) {
            notes[index].joins = notes[index].joins.with(join);
        }
    }
    share_in_chords(&mut notes);
    notes
}

/// A line over notes of a voice: indices from its first to before its last note.
struct Binding {
    voice: u16,
    from: usize,
    to: usize,
    join: Join,
}

fn bindings(raw: &[RawNote]) -> Vec<Binding> {
    struct Open {
        join: Join,
        number: u16,
        voice: u16,
        from: usize,
    }
    let mut open: Vec<Open> = Vec::new();
    let mut found = Vec::new();
    for (index, RawNote { note, spans, .. }) in raw.iter().enumerate() {
        // What ends here ends before anything of the same number begins.
        for span in spans.iter().filter(|span| !span.starts) {
            let like = |line: &Open| line.join == span.join && line.number == span.number;
            let own = open.iter().rposition(|line| like(line) && line.voice == note.voice);
            if let Some(position) = own.or_else(|| open.iter().rposition(like)) {
                let Open { join, voice, from, .. } = open.remove(position);
                found.push(Binding { voice, from, to: index, join });
            }
        }
        for span in spans.iter().filter(|span| span.starts) {
            open.retain(|line| (line.join, line.number, line.voice) != (span.join, span.number, note.voice));
            open.push(Open { join: span.join, number: span.number, voice: note.voice, from: index });
        }
    }
    found
}

/// Whether a note of a tuplet ends inside it. Its end then lies at thirds, fifths … of a quarter note; exporters
/// leave the `tuplet` notation out where no bracket is drawn, so that the place is the surer witness.
fn is_inside_tuplet(note: &Note) -> bool {
    let (_, denominator) = (note.bar_onset + note.length).parts();
    !denominator.unsigned_abs().is_power_of_two()
}

/// Beams and slurs are written on one note of a chord; they bind all of it.
fn share_in_chords(notes: &mut [Note]) {
    let mut index = 0;
    while index < notes.len() {
        let end = index + 1 + notes[index + 1..].iter().take_while(|note| note.chord).count();
        for join in [Join::Slur, Join::Beam, Join::Tuplet, Join::Glissando] {
            if notes[index..end].iter().any(|note| note.joins.has(join)) {
                for note in &mut notes[index..end] {
                    note.joins = note.joins.with(join);
                }
            }
        }
        index = end;
    }
}

/// Says which ties find no partner. `fresh` holds where a passage may be reached by a jump (endings, signs, repeats):
/// a tie may come from elsewhere there.
pub(super) fn open_ties(notes: &[Note], part: u32, fresh: &[Onset]) -> Vec<Oddity> {
    struct Open {
        sounding: Sounding,
        end: Onset,
        bar: u32,
        line: u32,
    }
    let odd = |bar, line, kind| Oddity { part: Some(part), bar: Some(bar), line, kind };
    let left =
        |open: &Open| odd(open.bar, open.line, OddityKind::TieLeftOpen { pitch: open.sounding.to_string() });
    let mut open: Vec<Open> = Vec::new();
    let mut oddities = Vec::new();
    for note in notes.iter().filter(|note| !note.hidden) {
        if matches!(note.tie, Tie::Stop | Tie::Continue) {
            let partner = open.iter().position(|tie| tie.sounding == note.sounding && tie.end == note.onset);
            match partner {
                Some(partner) => drop(open.swap_remove(partner)),
                None if fresh.binary_search(&note.onset).is_ok() => {}
                None => {
                    let pitch = note.sounding.to_string();
                    oddities.push(odd(note.bar, note.line, OddityKind::TieFromNowhere { pitch }));
                }
            }
        }
        open.retain(|tie| {
            // A note at the very end of the tie may still come.
            let waits = tie.end >= note.onset;
            if !waits && fresh.binary_search(&tie.end).is_err() {
                oddities.push(left(tie));
            }
            waits
        });
        if note.tie.goes_on() {
            let end = note.onset + if note.grace { Length::ZERO } else { note.length };
            open.push(Open { sounding: note.sounding, end, bar: note.bar, line: note.line });
        }
    }
    oddities.extend(open.iter().filter(|tie| fresh.binary_search(&tie.end).is_err()).map(left));
    oddities
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::musicxml::testing::{bar, note, score};

    fn joined(content: &str, join: Join) -> Vec<bool> {
        bar(content).notes.iter().map(|note| note.joins.has(join)).collect()
    }

    fn span(kind: &str, pieces: &[&str]) -> String {
        let marks: Vec<String> = pieces.iter().map(|piece| format!("<{kind} {piece}/>")).collect();
        format!("<notations>{}</notations>", marks.concat())
    }

    #[test]
    fn a_slur_binds_all_but_its_last_note() {
        let content = [
            note("C2", 2, &span("slur", &["type='start' number='1'"])),
            note("D2", 2, &span("slur", &["type='start' number='2'"])),
            note("E2", 2, &span("slur", &["type='stop' number='2'"])),
            note("F2", 2, &span("slur", &["type='stop' number='1'", "type='start' number='1'"])),
            note("G2", 2, ""),
            note("A2", 2, &span("slur", &["type='stop' number='1'"])),
            note("B2", 2, &span("slur", &["type='start' number='1'"])),
            note("C3", 2, ""),
        ];
        assert_eq!(
            joined(&content.concat(), Join::Slur),
            [true, true, true, true, true, false, false, false]
        );
    }

    #[test]
    fn a_chord_is_bound_as_one() {
        let content = [
            note("C2", 4, &span("slur", &["type='start'"])),
            note("G2", 4, "<chord/>"),
            note("D2", 4, &span("slur", &["type='stop'"])),
        ];
        assert_eq!(joined(&content.concat(), Join::Slur), [true, true, false]);
    }

    #[test]
    fn beams_and_glissandos_bind() {
        let content = [
            note("C2", 2, "<beam number='1'>begin</beam><beam number='2'>end</beam>"),
            note("D2", 2, "<beam number='1'>end</beam>"),
            note("E2", 2, &span("slide", &["type='start'"])),
            note("F2", 2, &span("slide", &["type='stop'"])),
        ];
        assert_eq!(joined(&content.concat(), Join::Beam), [true, false, false, false]);
        assert_eq!(joined(&content.concat(), Join::Glissando), [false, false, true, false]);
    }

    #[test]
    fn a_tuplet_without_a_bracket_is_known_by_its_places() {
        let triplet = "<time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes></time-modification>";
        let part = score(&format!(
            "<measure><attributes><divisions>3</divisions></attributes>{}{}{}{}</measure>",
            note("C2", 1, triplet),
            note("C2", 1, triplet),
            note("C2", 1, triplet),
            note("C2", 3, "")
        ))
        .parts
        .remove(0);
        let joins: Vec<_> = part.notes.iter().map(|note| note.joins.has(Join::Tuplet)).collect();
        assert_eq!(joins, [true, true, false, false]);
    }

    fn odd(measures: &str) -> Vec<OddityKind> {
        let oddities = score(measures).oddities.into_iter().map(|oddity| oddity.kind);
        oddities.filter(|kind| !matches!(kind, OddityKind::DivisionsMissing)).collect()
    }

    #[test]
    fn ties_without_a_partner_are_said() {
        let (start, stop) = ("<tie type='start'/>", "<tie type='stop'/>");
        let (c2, d2) = (note("C2", 4, start), note("D2", 4, stop));
        assert_eq!(
            odd(&format!("<measure>{c2}{d2}</measure>")),
            [
                OddityKind::TieFromNowhere { pitch: "D2".into() },
                OddityKind::TieLeftOpen { pitch: "C2".into() }
            ]
        );
        let enharmonic = "<note><pitch><step>B</step><alter>1</alter><octave>1</octave></pitch><duration>4</duration><tie type='stop'/></note>";
        assert_eq!(odd(&format!("<measure>{c2}</measure><measure>{enharmonic}</measure>")), []);
    }

    #[test]
    fn a_tie_into_a_second_ending_comes_from_before_the_first() {
        let ending = |number: u8, inside: &str| {
            format!(
                "<measure><barline location='left'><ending number='{number}' type='start'/></barline>{inside}</measure>"
            )
        };
        let (from, to) = (note("C2", 4, "<tie type='start'/>"), note("C2", 4, "<tie type='stop'/>"));
        assert_eq!(odd(&format!("<measure>{from}</measure>{}{}", ending(1, &to), ending(2, &to))), []);
    }
}
