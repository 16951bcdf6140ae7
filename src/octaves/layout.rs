//! What a move does to the page: octave lines over it, ledger lines, and stems.

use crate::playing::Desk;
use crate::score::{Line, Note, Part, Played, Stem};

/// What is to be looked at on the page once notes stand some octaves higher, as one clause; `None` where
/// they read as well as before, stems apart.
pub(super) fn to_redraw(desk: &Desk<'_>, line: &Line, moved: &[Played], octaves: i8) -> Option<String> {
    let notes = || moved.iter().filter(|played| !played.shared);
    let lifted = notes().map(|played| desk.part.ottava_at(played.onset, desk.first_note(played).staff));
    if let Some(line) = lifted.filter(|&line| line != 0).max_by_key(|line| line.abs()) {
        // A line against the move may have had its reason in the very octave that is left.
        return Some(format!("an {} line stands over it", octave_line(line)));
    }
    let crowded = notes().filter_map(|played| {
        let notation = &desk.instrument_at(line, played.onset).notation;
        let clef = desk.part.clef_at(played.onset, desk.first_note(played).staff)?;
        let before = clef.ledger_lines(played.written)?;
        let written = played.written.up_octaves(octaves);
        let after = clef.ledger_lines(written)?;
        let expected = if after < 0 { *notation.ledger_lines_below } else { *notation.ledger_lines_above };
        let (was, drawn) = (before.unsigned_abs(), after.unsigned_abs());
        (drawn > was.max(u32::from(expected))).then_some((drawn, written, clef))
    });
    crowded
        .max_by_key(|&(lines, ..)| lines)
        .map(|(lines, written, clef)| format!("{written} stands on {lines} ledger lines in the {clef}"))
}

/// The first stem that has to be turned once notes stand some octaves higher, as one clause.
pub(super) fn to_turn(desk: &Desk<'_>, moved: &[Played], octaves: i8) -> Option<String> {
    let turned = moved.iter().filter(|played| !played.shared).find_map(|played| {
        let note = desk.first_note(played);
        let clef = desk.part.clef_at(played.onset, note.staff)?;
        let written = played.written.up_octaves(octaves);
        let (was, now) = (usual_stem(clef.place(played.written)?)?, usual_stem(clef.place(written)?)?);
        (note.stem == Some(was) && now != was && has_its_staff_alone(desk.part, note)).then_some(written)
    })?;
    Some(format!("the stem of {turned} has to be turned"))
}

/// Whether no other voice plays on a note's staff in its bar: where one does, stems tell the two apart, wherever the
/// notes stand.
fn has_its_staff_alone(part: &Part, note: &Note) -> bool {
    let from = part.notes.partition_point(|other| other.bar < note.bar);
    let mut of_bar = part.notes[from..].iter().take_while(|other| other.bar == note.bar);
    of_bar.all(|other| other.staff != note.staff || other.voice == note.voice)
}

/// Below the middle line up, above it down; on it either (common practice, no source).
fn usual_stem(place: i32) -> Option<Stem> {
    match place {
        ..0 => Some(Stem::Up),
        0 => None,
        1.. => Some(Stem::Down),
    }
}

fn octave_line(octaves: i8) -> &'static str {
    match octaves {
        ..=-2 => "15mb",
        -1 => "8vb",
        0 | 1 => "8va",
        2.. => "15ma",
    }
}

#[cfg(test)]
mod tests {
    use super::super::plan;
    use crate::music::Onset;
    use crate::rules::judge;
    use crate::rules::testing::{Scene, scene};
    use crate::score::{Clef, ClefChange, ClefSign, Note, Ottava, Part, Stem};

    fn redrawn(scene: &Scene) -> Vec<Option<String>> {
        scene.judged(|section| {
            let moves = plan(section, &mut judge(section)).moves;
            moves.into_iter().map(|made| made.octave_move.layout).collect()
        })
    }

    /// Common practice, no source.
    fn hit() -> Scene {
        scene("contrabass-tuba-c", "ff D2/1 r/3 | D1/4 | r/4 | D2/1 r/3 |")
    }

    #[test]
    fn a_move_nearer_to_the_staff_wants_nothing_redrawn() {
        let bass = hit().part(|part| {
            let clef = Clef { sign: ClefSign::F, line: 4, octaves: 0 };
            part.clefs.push(ClefChange { bar: 0, at: Onset::START, staff: 1, clef });
        });
        assert_eq!(redrawn(&bass), [None]);
    }

    /// Under a clef an octave lower, where D1 stands below the middle line and D2 above it.
    fn drawn(part: &mut Part, stem: Option<Stem>) {
        let clef = Clef { sign: ClefSign::C, line: 4, octaves: -2 };
        part.clefs.push(ClefChange { bar: 0, at: Onset::START, staff: 1, clef });
        part.notes.iter_mut().for_each(|note| note.stem = stem);
    }

    #[test]
    fn a_stem_that_then_points_the_wrong_way_is_named_and_one_against_its_place_is_not() {
        let up = hit().part(|part| drawn(part, Some(Stem::Up)));
        let down = hit().part(|part| drawn(part, Some(Stem::Down)));
        let not_said = hit().part(|part| drawn(part, None));
        assert_eq!(redrawn(&up), [Some("the stem of D2 has to be turned".to_owned())]);
        assert_eq!(redrawn(&down), [None]);
        assert_eq!(redrawn(&not_said), [None]);
    }

    #[test]
    fn beside_another_voice_on_its_staff_a_stem_tells_players_apart() {
        hit().judged(|section| {
            let mut part = section.desks[0].part.clone();
            let low = part.notes[1].clone();
            assert!(super::has_its_staff_alone(&part, &low));
            for (bar, staff, alone) in
                [(low.bar + 1, low.staff, true), (low.bar, low.staff + 1, true), (low.bar, low.staff, false)]
            {
                let at = part.notes.partition_point(|note| note.bar <= bar);
                part.notes.insert(at, Note { bar, staff, voice: low.voice + 1, ..low.clone() });
                assert_eq!(super::has_its_staff_alone(&part, &low), alone, "bar {bar}, staff {staff}");
            }
        });
    }

    #[test]
    fn notes_that_move_under_an_octave_line_are_named() {
        let under = hit().part(|part| {
            let (from, to) = (part.notes[1].onset, part.notes[1].end());
            part.ottavas.push(Ottava { bar: 1, from, to, staff: 1, octaves: -1 });
        });
        assert_eq!(redrawn(&under), [Some("an 8vb line stands over it".to_owned())]);
    }

    #[test]
    fn a_note_that_leaves_the_staff_further_than_is_read_at_sight_is_named() {
        // Under a clef three octaves lower D1 stands on one ledger line above the staff, and D2 on five.
        let low = hit().part(|part| {
            let clef = Clef { sign: ClefSign::F, line: 4, octaves: -3 };
            part.clefs.push(ClefChange { bar: 0, at: Onset::START, staff: 1, clef });
        });
        let said = redrawn(&low);
        assert!(
            said[0].as_deref().is_some_and(|said| said.contains("ledger lines in the bass clef")),
            "{said:?}"
        );
    }
}
