//! `note-longer-than-breath`: one note that lasts longer than one breath.

use super::{AtLine, Family, Fault, Page, Rule, Scope, wording};
use crate::finding::{Measure, Severity};
use crate::music::BreathShare;
use crate::playing::breath::{Held, TooLong};

pub(super) const RULE: Rule = Rule {
    name: "note-longer-than-breath",
    family: Family::Breath,
    severity: Severity::Warning,
    scope: Scope::Line(check),
    speaks_for: &["phrase-longer-than-breath", "no-room-to-breathe"],
    page: Page {
        finds: "A held note that asks for more air than a player has at that pitch and dynamic. A note where one dynamic softer it lasts, or where another holds it too; else a warning.",
        matters: "It breaks off somewhere. Low and loud takes most: players grow dizzy on such notes, and nobody is to be asked to hold one past comfort; a player, teacher or doctor decides, not this figure.",
        instead: "Take the note off sooner, let it fade, or have two players stagger it.",
        reads: &["sustain", "breath", "section:air"],
        sources: &[
            "A. Jacobs's air flows (Chicago, 1959/60) after B. Frederiksen, Song and Wind",
            "Fréour, Causse, Cossette, CFA 2010",
            "the curve through them: proposal",
        ],
    },
};

fn check(at: &AtLine<'_>) -> Vec<Fault> {
    at.breath_plan().notes_too_long.iter().filter_map(|long| of_note(at, long)).collect()
}

fn of_note(at: &AtLine<'_>, long: &TooLong) -> Option<Fault> {
    let played = at.line.played.get(long.from)?;
    let instrument = at.desk.instrument_at(at.line, played.onset);
    let level = played.loudest.map(|level| format!(" {level}")).unwrap_or_default();
    let held = match long.fermata {
        Some(Held { usual, long }) => format!("under a fermata is held for {} to {}", usual.0, long.0),
        None => format!("is held for {}", long.seconds),
    };
    let message = format!(
        "{}{level} {held}; on {} one breath lasts {}",
        played.sounding, instrument.a_title, long.lasts
    );
    let partner = at.someone_with_the_same(played);
    // A warning is for what is too long even as fermatas usually are.
    let usual = long.fermata.map_or(long.needs, |held| held.usual.1);
    let weighs = at.want_of_air(usual, BreathShare::FULL);
    let severity = if partner.is_some() { Severity::Note } else { weighs };
    let instead = match (partner, long.joint) {
        (Some(partner), _) => format!("Stagger the breath with {partner}"),
        (None, _) if weighs == Severity::Note => "Let it fade a little, or take it off sooner".to_owned(),
        (None, Some(joint)) => {
            format!(
                "Re-strike it at {}, the least bad place to breathe",
                wording::place(at.section.score, joint)
            )
        }
        (None, None) => "Take it off sooner, or let a second player take over".to_owned(),
    };
    let fault = Fault::of(long.from, severity, message)
        .by(long.needs.get())
        .asked(Measure::Seconds(long.fermata.map_or(long.seconds, |held| held.long.0).get()))
        .limit(Measure::Seconds(long.lasts.get()))
        .instead(instead);
    Some(Fault { about: (long.from, long.to), ..fault })
}
