//! Which notes of a chord move along: where one of two players on a staff comes to stand on the other side of the other,
//! the two move together.

use super::other_voices::semitones;
use super::region::Region;
use crate::playing::Desk;
use crate::score::Line;

/// The notes of the desk's other lines that are struck together with those of a region and would change places with
/// them. None where one of them has to stay, or where their line then leaps wider than as written.
pub(super) fn rest_of_chords(desk: &Desk<'_>, region: &Region, may_move: impl Fn(u32) -> bool) -> Vec<u32> {
    let mut rest = Vec::new();
    for (_, line) in desk.lines.iter().enumerate().filter(|&(index, _)| index != region.line) {
        let along = changing_places(&desk.lines[region.line], region, line);
        let notes = || line.played.iter().zip(&along).filter(|(_, along)| **along).map(|(played, _)| played);
        let may_go = |note: u32| {
            let written = &desk.part.notes[note as usize];
            let there = i32::from(written.written.octave()) + i32::from(region.octaves);
            written.octave_digits.is_some() && (0..=9).contains(&there) && may_move(note)
        };
        let all_may = notes().flat_map(|played| &played.chain).all(|&note| may_go(note));
        if !all_may || wider_by(line, &along, region.octaves) > 0 {
            return Vec::new();
        }
        rest.extend(notes().flat_map(|played| played.chain.iter().copied()));
    }
    rest
}

/// For each note of a line, whether it changes places with one of a region of another line.
fn changing_places(here: &Line, region: &Region, line: &Line) -> Vec<bool> {
    let mut along = vec![false; line.played.len()];
    for note in &here.played[region.first..=region.last] {
        let first = line.played.partition_point(|other| other.onset < note.onset);
        let struck = (first..line.played.len()).take_while(|&at| line.played[at].onset == note.onset);
        for at in struck.filter(|&at| !line.played[at].shared) {
            let before = semitones(&line.played[at], note);
            let after = before + 12 * i32::from(region.octaves);
            along[at] |= before != 0 && before.signum() != after.signum();
        }
    }
    along
}

/// Semitones by which a line's leaps are wider in all, once some of its notes stand some octaves higher.
fn wider_by(line: &Line, along: &[bool], octaves: i8) -> i32 {
    let leaps = line.played.windows(2).zip(along.windows(2)).map(|(pair, along)| {
        let leap = semitones(&pair[0], &pair[1]);
        let by = |along: bool| 12 * i32::from(if along { octaves } else { 0 });
        (leap + by(along[1]) - by(along[0])).abs() - leap.abs()
    });
    leaps.sum()
}
