//! `instrument-not-recognised`: a part that looks like low brass and could not be told for sure.

use super::{AtSection, Family, Fault, Page, Rule, Scope, engine, wording};
use crate::finding::{Finding, Place, Severity};
use crate::music::Length;
use crate::playing::{Doubt, Section, Unrecognised};

pub(super) const RULE: Rule = Rule {
    name: "instrument-not-recognised",
    family: Family::Reading,
    severity: Severity::Warning,
    scope: Scope::Section(check),
    speaks_for: &[],
    page: Page {
        finds: "A part that may be low brass, but whose instrument neither its sound, its name nor its neighbours tell.",
        matters: "The part is not judged at all: silence about it does not mean that it is sound.",
        instead: "Name its instrument in the settings (`[[part]]` with `profile`) or with `--as`, or give it an instrument sound in the score program.",
        reads: &["recognise"],
        sources: &["MusicXML 4.0, sounds.xml", "common practice"],
    },
};

fn check(at: &AtSection<'_>) -> Vec<Finding> {
    let section = at.section;
    section.unrecognised.iter().map(|unknown| finding(section, unknown)).collect()
}

fn finding(section: &Section<'_>, unknown: &Unrecognised) -> Finding {
    let name = &unknown.part.name;
    let message = match &unknown.doubt {
        Doubt::NothingKnown => {
            format!("\"{name}\" may be low brass, but nothing tells which instrument it is; it is not judged")
        }
        Doubt::SeveralFit(profiles) => {
            let fit = wording::either(profiles);
            format!("\"{name}\" may be {fit}; it is not judged until one of them is named")
        }
    };
    let fault = Fault::of(0, Severity::Warning, message)
        .instead("Name its profile in the settings, or read it with --as");
    engine::finding_at(&RULE, Some(unknown.part.index), Place::at(section.score, 0, Length::ZERO), fault)
}
