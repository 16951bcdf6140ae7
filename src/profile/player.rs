//! `profiles/player.toml`: what every player has in common, whatever the instrument, and what a family has; checked like
//! a profile.

use std::collections::BTreeMap;

use super::error::ProfileError;
use super::parts::{AgilityPart, BreathPart, ChangesPart, LawPart, SlidePart, StrokesPart, ValvesPart};
use super::raw::{FamilyTable, PlayerFile};
use super::toml::{self, Checked, Grounds};
use super::{Family, Mechanism, Profile, Source};

/// What every player has in common. Profiles take from it what they do not say themselves.
#[derive(Clone, Debug, Default)]
pub struct Player {
    common: Common,
    families: BTreeMap<Family, Common>,
    /// Sources, as in a profile.
    pub sources: BTreeMap<String, Source>,
    /// As in a profile.
    pub cited: Vec<(String, String)>,
}

/// Values that a profile may leave out.
#[derive(Clone, Debug, Default)]
pub(super) struct Common {
    pub(super) law: LawPart,
    pub(super) breath: BreathPart,
    pub(super) agility: AgilityPart,
    pub(super) changes: ChangesPart,
    pub(super) strokes: StrokesPart,
    pub(super) slide: SlidePart,
    pub(super) valves: ValvesPart,
}

impl Common {
    fn or(self, below: &Common) -> Common {
        Common {
            law: self.law.or(&below.law),
            breath: self.breath.or(&below.breath),
            agility: self.agility.or(&below.agility),
            changes: self.changes.or(&below.changes),
            strokes: self.strokes.or(&below.strokes),
            slide: self.slide.or(&below.slide),
            valves: self.valves.or(&below.valves),
        }
    }
}

impl Player {
    /// What a profile of a family falls back on.
    pub(super) fn below(&self, family: Family) -> Common {
        self.families.get(&family).cloned().unwrap_or_default().or(&self.common)
    }

    /// The values that a profile falls back on, with their source keys, each by the place it has in a profile.
    pub fn in_force(&self, profile: &Profile) -> Vec<&(String, String)> {
        let family = format!("families.{}.", profile.family);
        let other_mechanism = match profile.mechanism {
            Mechanism::Slide(_) => &["valves."][..],
            Mechanism::Valves(_) => &["slide."][..],
            Mechanism::Keys { .. } => &["slide.", "valves."][..],
        };
        let of_family = |place: &str| {
            let nearer = format!("{family}{place}");
            self.cited.iter().any(|(other, _)| *other == nearer)
        };
        let counts = |(place, _): &&(String, String)| {
            let own = place.starts_with(&family);
            let elsewhere = place.starts_with("families.") && !own;
            let said =
                profile.cited.iter().any(|(said, _)| said == place.strip_prefix(&family).unwrap_or(place));
            !elsewhere
                && !said
                && !of_family(place)
                && !other_mechanism.iter().any(|start| place.starts_with(start))
        };
        self.cited.iter().filter(counts).collect()
    }

    /// This, and what it leaves out as another file says it.
    pub(super) fn or(mut self, below: &Player) -> Player {
        for (family, common) in &below.families {
            let own = self.families.remove(family).unwrap_or_default();
            self.families.insert(*family, own.or(common));
        }
        self.common = self.common.or(&below.common);
        for (key, source) in &below.sources {
            self.sources.entry(key.clone()).or_insert_with(|| source.clone());
        }
        let own: Vec<String> = self.cited.iter().map(|(place, _)| place.clone()).collect();
        self.cited.extend(below.cited.iter().filter(|(place, _)| !own.contains(place)).cloned());
        self
    }
}

/// Reads and checks what players have in common; `file` is only named in errors.
pub(super) fn player(file: &str, text: &str) -> Result<Player, ProfileError> {
    read(text).map_err(|spotted| spotted.in_file(file, text))
}

fn read(text: &str) -> Checked<Player> {
    let (raw, citations) = toml::parse::<PlayerFile>(text)?;
    let grounds = Grounds { sources: citations.check(text, &raw.sources)? };
    let of_loudness = raw.loudness.as_ref();
    let (slide, valves) = (raw.slide.as_ref(), raw.valves.as_ref());
    let common = Common {
        law: toml::law(&raw.sustain, &grounds)?,
        breath: toml::breath(&raw.breath, &grounds)?,
        agility: toml::agility(&raw.agility, &grounds)?,
        changes: toml::changes(&raw.changes, &grounds)?,
        strokes: toml::strokes(
            of_loudness.and_then(|loudness| loudness.hit.as_ref()),
            of_loudness.and_then(|loudness| loudness.muted.as_ref()),
            &grounds,
        )?,
        slide: toml::slide_part(
            slide.and_then(|slide| slide.travel.as_ref()),
            slide.and_then(|slide| slide.sound_speed.as_ref()),
            slide.and_then(|slide| slide.lip.as_ref()),
            &grounds,
        )?,
        valves: toml::valves_part(
            valves.and_then(|valves| valves.sharp.as_ref()),
            valves.and_then(|valves| valves.held_for.as_ref()),
            &grounds,
        )?,
    };
    let of_family = |table: &FamilyTable| -> Checked<Common> {
        Ok(Common {
            breath: toml::breath(&table.breath, &grounds)?,
            agility: toml::agility(&table.agility, &grounds)?,
            changes: toml::changes(&table.changes, &grounds)?,
            ..Common::default()
        })
    };
    let mut families = BTreeMap::new();
    for (family, table) in &raw.families {
        families.insert(*family, of_family(table)?);
    }
    Ok(Player { common, families, sources: grounds.sources, cited: citations.places() })
}
