//! What a person may do where no octave move serves, and why none does.

use crate::finding::{Finding, OctaveMove, Standing};
use crate::music::Sounding;
use crate::playing::{Desk, slide, valves};
use crate::profile::{Mechanism, Profile, Zone};

/// A move of no octaves that says what else would help.
pub(super) fn manual(desk: &Desk<'_>, finding: &Finding) -> OctaveMove {
    OctaveMove {
        octaves: 0,
        sounding: None,
        from: finding.place.clone(),
        to: finding.span.to.clone(),
        notes: finding.notes.clone(),
        standing: Standing::Manual,
        clears: Vec::new(),
        leaves: vec![finding.rule],
        why_not_safe: Some(match why_none_serves(desk, finding) {
            Some(why) => format!("no octave serves the passage ({why}){}", what_else(finding)),
            None => format!("no octave serves the passage{}", what_else(finding)),
        }),
        doubling: None,
        layout: None,
    }
}

fn what_else(finding: &Finding) -> &'static str {
    match finding.rule {
        "too-loud-for-register" | "hit-too-low" => {
            ": mark it softer, or let another instrument double it an octave above"
        }
        "too-soft-for-register" => ": mark it louder, or give it to an instrument at home in that register",
        // The rule names who has it.
        _ if finding.instead.is_some() => "",
        _ => ": give it to an instrument at home in that register, or let it rest there",
    }
}

/// What stands against the octave above, of a low note, or the one below, of a high one: "an octave up is C5: above the
/// instrument". `None` where neither the note nor its passage says so.
fn why_none_serves(desk: &Desk<'_>, finding: &Finding) -> Option<String> {
    let pitch = finding.worst.sounding?;
    let first = finding.notes.first()?;
    let (line, index) = desk.lines.iter().find_map(|line| {
        let index = line.played.iter().position(|note| note.chain.contains(first))?;
        Some((line, index))
    })?;
    let instrument = desk.instrument_at(line, line.played[index].onset);
    let (lowest, highest) = *instrument.range.usual;
    let octaves = match finding.rule {
        "too-loud-for-register" | "hit-too-low" => 1,
        _ if pitch < lowest => 1,
        _ if pitch > highest => -1,
        _ => return None,
    };
    let way = if octaves > 0 { "up" } else { "down" };
    let there = pitch.up_octaves(octaves);
    if let Some(why) = against(instrument, there) {
        return Some(format!("an octave {way} is {there}: {why}"));
    }
    let passage = line.passages.get(line.passage_of(index))?.clone();
    let pitches = line.played.get(passage)?.iter().map(|note| note.sounding);
    let outermost = if octaves > 0 { pitches.max() } else { pitches.min() }?;
    let there = outermost.up_octaves(octaves);
    let why = against(instrument, there).filter(|_| against(instrument, outermost).is_none())?;
    Some(format!("an octave {way} takes its {outermost} to {there}: {why}"))
}

fn against(instrument: &Profile, pitch: Sounding) -> Option<&'static str> {
    let range = &instrument.range;
    match range.zone_at(pitch) {
        None if pitch > *range.top => return Some("above the instrument"),
        None => return Some("below the instrument"),
        Some(Zone::Effect) => return Some("an effect"),
        Some(Zone::ExtremeLow | Zone::ExtremeHigh) => return Some("in its extreme register"),
        Some(Zone::Comfortable) => {}
    }
    let is_there = match &instrument.mechanism {
        Mechanism::Slide(slide) => slide::playable(slide, pitch),
        Mechanism::Valves(valves) => valves::fingering(valves, pitch).is_some(),
        Mechanism::Keys { .. } => true,
    };
    (!is_there).then_some("in a gap of the instrument")
}

#[cfg(test)]
mod tests {
    use super::super::plan;
    use crate::rules::judge;
    use crate::rules::testing::{Scene, scene};

    #[track_caller]
    fn said(scene: &Scene) -> Vec<String> {
        scene.judged(|section| {
            let mut findings = judge(section);
            plan(section, &mut findings);
            let why =
                findings.iter().filter_map(|finding| finding.octave_move.as_ref()?.why_not_safe.clone());
            why.collect()
        })
    }

    /// Common practice, no source.
    #[test]
    fn what_stands_against_an_octave_is_said() {
        let bound = scene("contrabass-tuba-c", "=60 ff (D1/1 A3 G3 D1) | r/4 |");
        assert_eq!(
            said(&bound),
            [
                "no octave serves the passage (an octave up takes its A3 to A4: above the instrument): mark it softer, or let another instrument double it an octave above"
            ]
        );
        let gap = scene("bass-trumpet", "=60 mf (C5/1 E2 C5) r |");
        assert!(said(&gap).iter().all(|said| said.contains("(an octave")), "{:?}", said(&gap));
    }
}
