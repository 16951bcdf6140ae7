//! One profile laid out for a reader: register chart, registers with their limits, mechanism, sources; and the
//! reference of all profiles, which is `profiles/README.md`.
//!
//! In goes a checked profile, out come plain data for machines and text for people. The chart has a column for each
//! semitone and fits into 80 columns; nothing in it depends on colour.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;

use schemars::JsonSchema;
use serde::Serialize;

use crate::finding::Basis;
use crate::music::{Dynamic, Seconds, Sounding};
use crate::playing::breath::sustain;
use crate::playing::{slide, valves};
use crate::profile::{Mechanism, Profile, Profiles, Source, Zone, basis_of};
use crate::score::{Clef, ClefSign};

/// One profile, laid out.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct ProfilePage {
    /// Its name, as `--as` takes it.
    pub name: String,
    /// For people.
    pub title: String,
    /// What it is and who plays it.
    pub about: String,
    /// Its family.
    pub family: String,
    /// The lowest note.
    pub lowest: String,
    /// The highest note.
    pub highest: String,
    /// The usual span, lowest note.
    pub usual_from: String,
    /// The usual span, highest note.
    pub usual_to: String,
    /// Notes within the compass that the mechanism does not give.
    pub missing: Vec<String>,
    /// Stretches of the compass with the same limits, low to high.
    pub registers: Vec<Register>,
    /// Dynamics of which the share of the flow, and so the seconds of a breath, is our estimate.
    pub estimated: Vec<String>,
    /// Further facts: a heading and a sentence each.
    pub facts: Vec<Fact>,
    /// What the figures stand on.
    pub sources: Vec<SourceLine>,
    #[serde(skip)]
    columns: Vec<Column>,
}

/// A stretch of the compass with the same limits.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Register {
    /// Its lowest note.
    pub from: String,
    /// Its highest note.
    pub to: String,
    /// effect, extreme, beyond usual, usual, no such note.
    pub zone: &'static str,
    /// The softest mark that speaks; empty where there is no note.
    pub floor: String,
    /// The loudest mark that sounds as marked.
    pub ceiling: String,
    /// Seconds a full breath lasts at its lowest note, by dynamic.
    pub breath: BTreeMap<String, f64>,
    /// What these stand on: computed from flow and usable air, or measured.
    pub breath_basis: &'static str,
}

/// A fact in words.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Fact {
    /// What it is about.
    pub about: &'static str,
    /// The fact.
    pub says: String,
}

/// One source.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct SourceLine {
    /// Its key in the file.
    pub key: String,
    /// published, reported, measured, computed, common-practice, proposal, from-memory.
    pub kind: &'static str,
    /// Author, title, year; empty for a key that stands for itself.
    pub title: String,
    /// How many values name it.
    pub values: usize,
    /// The tables they stand in.
    pub tables: Vec<String>,
    /// Each of the values: `range.rows[2]`, `agility.single_tongue`.
    pub places: Vec<String>,
}

/// One semitone of the chart.
#[derive(Clone, Debug)]
struct Column {
    pitch: Sounding,
    mark: char,
    floor: Dynamic,
    ceiling: Dynamic,
}

/// The dynamics of the breath columns.
const SHOWN: [Dynamic; 4] = [Dynamic::Pp, Dynamic::Mf, Dynamic::F, Dynamic::Ff];

/// Lays out a profile.
pub fn profile_page(profile: &Profile) -> ProfilePage {
    let range = &profile.range;
    let columns: Vec<Column> =
        semitones(range.bottom(), *range.top).filter_map(|p| column(profile, p)).collect();
    let missing: Vec<Sounding> = columns.iter().filter(|c| c.mark == '.').map(|c| c.pitch).collect();
    ProfilePage {
        name: profile.name.clone(),
        title: profile.title.clone(),
        about: profile.about.clone(),
        family: profile.family.to_string(),
        lowest: range.bottom().to_string(),
        highest: range.top.to_string(),
        usual_from: range.usual.0.to_string(),
        usual_to: range.usual.1.to_string(),
        missing: missing.iter().map(ToString::to_string).collect(),
        registers: registers(profile),
        estimated: estimated(profile),
        facts: facts(profile, &missing),
        sources: sources(profile),
        columns,
    }
}

impl ProfilePage {
    /// The page as text, 80 columns wide.
    pub fn text(&self, unicode: bool) -> String {
        let mut page = format!("{} ({})\n\n", self.title, self.name);
        page += &paragraph("", &self.about);
        page.push('\n');
        page += &self.chart(unicode);
        page.push('\n');
        page += &self.table();
        page.push('\n');
        for fact in &self.facts {
            page += &paragraph(&format!("{:<12}", fact.about), &fact.says);
        }
        page += "\nSources\n\n";
        for source in &self.sources {
            page += &paragraph("  ", &source.line(&source.places));
        }
        if unicode { page } else { ascii(&page) }
    }

    /// The register chart: dynamics upwards, semitones to the right; filled where it sounds as marked.
    pub fn chart(&self, unicode: bool) -> String {
        let fill = if unicode { '█' } else { '#' };
        let softest = self.columns.iter().map(|column| column.floor).min().unwrap_or(Dynamic::Pp);
        let loudest = self.columns.iter().map(|column| column.ceiling).max().unwrap_or(Dynamic::Fff);
        let mut chart = String::new();
        for dynamic in Dynamic::ALL.into_iter().rev().filter(|d| (softest..=loudest).contains(d)) {
            let cells = self.columns.iter().map(|column| {
                let sounds = (column.floor..=column.ceiling).contains(&dynamic) && column.mark != '.';
                if sounds { fill } else { ' ' }
            });
            line(&mut chart, &dynamic.to_string(), &cells.collect::<String>());
        }
        line(&mut chart, "", &self.columns.iter().map(|column| column.mark).collect::<String>());
        let is_c = |column: &Column| column.pitch.height().in_cents().rem_euclid(1200) == 0;
        line(
            &mut chart,
            "",
            &self.columns.iter().map(|c| if is_c(c) { '|' } else { ' ' }).collect::<String>(),
        );
        line(&mut chart, "", &ruler(&self.columns, is_c));
        let marks: BTreeSet<char> = self.columns.iter().map(|column| column.mark).collect();
        let legend: Vec<&str> =
            LEGEND.iter().filter(|(m, _)| marks.contains(m)).map(|(_, words)| *words).collect();
        let _ = writeln!(chart, "{:>6}{}", "", legend.join(", "));
        chart
    }

    fn table(&self) -> String {
        let dynamics: Vec<String> = self
            .registers
            .first()
            .map(|first| {
                SHOWN.iter().map(ToString::to_string).filter(|d| first.breath.contains_key(d)).collect()
            })
            .unwrap_or_default();
        let mut bases: Vec<&str> = self.registers.iter().map(|register| register.breath_basis).collect();
        bases.sort_unstable();
        bases.dedup();
        let mut table = format!(
            "{:<12}{:<14}{:<12}a breath at its lowest, s ({})\n{:<38}",
            "register",
            "zone",
            "soft-loud",
            bases.join(", "),
            ""
        );
        for dynamic in &dynamics {
            let star = if self.estimated.contains(dynamic) { "*" } else { "" };
            let _ = write!(table, "{:>6}", format!("{dynamic}{star}"));
        }
        table.push('\n');
        for register in &self.registers {
            let notes = span(&register.from, &register.to);
            let marks = span(&register.floor, &register.ceiling);
            let _ = write!(table, "{notes:<12}{:<14}{marks:<12}", register.zone);
            for dynamic in &dynamics {
                if let Some(seconds) = register.breath.get(dynamic) {
                    let _ = write!(table, "{seconds:>6.1}");
                }
            }
            table.truncate(table.trim_end().len());
            table.push('\n');
        }
        if dynamics.iter().any(|dynamic| self.estimated.contains(dynamic)) {
            let _ = writeln!(table, "* how much air this mark takes is our estimate");
        }
        table
    }
}

/// The reference of all profiles, in Markdown: what `profiles/README.md` holds.
pub fn profile_reference(profiles: &Profiles) -> String {
    let mut page = String::from(HEAD);
    page += "| profile | lowest | usual | highest | missing notes | mechanism |\n| --- | --- | --- | --- | --- | --- |\n";
    for profile in profiles.iter() {
        let laid_out = profile_page(profile);
        let _ = writeln!(
            page,
            "| [{name}](#{name}) | {} | {} | {} | {} | {} |",
            laid_out.lowest,
            span(&laid_out.usual_from, &laid_out.usual_to),
            laid_out.highest,
            if laid_out.missing.is_empty() { "none".to_owned() } else { laid_out.missing.join(", ") },
            mechanism_in_short(&profile.mechanism),
            name = laid_out.name,
        );
    }
    page += &counted(profiles);
    for profile in profiles.iter() {
        let laid_out = profile_page(profile);
        let _ = write!(
            page,
            "\n## {}\n\n{}. {}\n\n```text\n{}\n{}```\n\n",
            laid_out.name,
            laid_out.title,
            laid_out.about,
            laid_out.chart(true),
            laid_out.table()
        );
        for fact in &laid_out.facts {
            let _ = writeln!(page, "- {}: {}", fact.about, fact.says);
        }
        page += "\nSources:\n\n";
        for source in &laid_out.sources {
            let _ = writeln!(page, "- {}", source.line(&source.tables));
        }
    }
    page
}

const HEAD: &str = "<!-- Made by the test `the_reference_of_profiles_is_up_to_date` from the files beside it; \
LOWBRASS_BLESS=1 writes it anew. -->

# Profiles

What each instrument is taken to be able to do. All pitches sound as written here (C4 is middle C). In the charts a \
column is a semitone; it is filled from the softest mark that speaks to the loudest that sounds as marked. The line \
below says what a note there draws: nothing (`-`), a note (`+`), a warning (`x`), a remark that it is an \
effect (`e`), or that no such note exists (`.`).

The figures judge parts; they are no exercises. How long, how loud and how low a player should play is for the \
player, a teacher and, where it hurts or makes light-headed, a doctor to say; for hearing, the rules of the house.

What all players have in common stands once, in `player.toml`, with what differs for a family; a profile says only what differs \
for its instrument. How long a breath lasts is computed there from usable air and flow, unless the profile gives seconds that were \
measured (`sustain.rows`).

To change a figure, copy the file into a folder of your own, edit it, and give the folder with `--profiles`. A `player.toml` \
there needs to hold no more than what differs, and counts for all profiles.

";

const LEGEND: [(char, &str); 5] = [
    ('e', "e effect"),
    ('x', "x extreme"),
    ('+', "+ beyond the usual span"),
    ('-', "- usual"),
    ('.', ". no such note"),
];

impl SourceLine {
    /// The source with the values that stand on it, or the tables of these.
    fn line(&self, of: &[String]) -> String {
        let values = if self.values == 1 { "1 value".to_owned() } else { format!("{} values", self.values) };
        let tables = of.join(", ");
        if self.title.is_empty() {
            return format!("{}: {values} ({tables})", self.kind.replace('-', " "));
        }
        format!("{}: {}; {values} ({tables})", self.kind, self.title)
    }
}

/// All semitones of a compass. Sharps and flats as brass players write them.
fn semitones(bottom: Sounding, top: Sounding) -> impl Iterator<Item = Sounding> {
    let names = ["C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"];
    let midi = |pitch: Sounding| pitch.height().in_cents().div_euclid(100);
    (midi(bottom)..=midi(top)).filter_map(move |number| {
        let name = names[usize::try_from(number.rem_euclid(12)).unwrap_or(0)];
        format!("{name}{}", number.div_euclid(12) - 1).parse().ok()
    })
}

fn column(profile: &Profile, pitch: Sounding) -> Option<Column> {
    let loudness = profile.loudness.at(pitch)?;
    let mark = match zone(profile, pitch)? {
        _ if !gives(&profile.mechanism, pitch) => '.',
        "effect" => 'e',
        "extreme" => 'x',
        "usual" => '-',
        _ => '+',
    };
    Some(Column { pitch, mark, floor: *loudness.floor, ceiling: *loudness.ceiling })
}

fn gives(mechanism: &Mechanism, pitch: Sounding) -> bool {
    match mechanism {
        Mechanism::Slide(instrument) => slide::playable(instrument, pitch),
        Mechanism::Valves(instrument) => valves::fingering(instrument, pitch).is_some(),
        Mechanism::Keys { .. } => true,
    }
}

fn zone(profile: &Profile, pitch: Sounding) -> Option<&'static str> {
    let (from, to) = *profile.range.usual;
    Some(match profile.range.zone_at(pitch)? {
        Zone::Comfortable if (from..=to).contains(&pitch) => "usual",
        Zone::Comfortable => "beyond usual",
        Zone::Effect => "effect",
        Zone::ExtremeLow | Zone::ExtremeHigh => "extreme",
    })
}

/// The dynamics that take as much air as we say.
fn estimated(profile: &Profile) -> Vec<String> {
    let shares = profile.sustain.law.shares.iter().filter(|share| share.ground.basis.is_estimate());
    shares.map(|share| share.dynamic.to_string()).collect()
}

fn registers(profile: &Profile) -> Vec<Register> {
    let mut registers: Vec<Register> = Vec::new();
    for pitch in semitones(profile.range.bottom(), *profile.range.top) {
        let (Some(zone), Some(loudness)) = (zone(profile, pitch), profile.loudness.at(pitch)) else {
            continue;
        };
        let is_there = gives(&profile.mechanism, pitch);
        let zone = if is_there { zone } else { "no such note" };
        let mark = |dynamic: Dynamic| if is_there { dynamic.to_string() } else { String::new() };
        let (floor, ceiling) = (mark(*loudness.floor), mark(*loudness.ceiling));
        match registers.last_mut() {
            Some(last) if last.zone == zone && last.floor == floor && last.ceiling == ceiling => {
                last.to = pitch.to_string();
            }
            _ => {
                let known = |_: &Dynamic| is_there;
                let lasts = |d: Dynamic| (d.to_string(), sustain(profile, pitch, d).get());
                let breath = SHOWN.into_iter().filter(known).map(lasts).collect();
                let (from, to) = (pitch.to_string(), pitch.to_string());
                let breath_basis = profile.sustain.ground_at(pitch).basis.word();
                registers.push(Register { from, to, zone, floor, ceiling, breath, breath_basis });
            }
        }
    }
    registers
}

fn facts(profile: &Profile, missing: &[Sounding]) -> Vec<Fact> {
    let mut facts = Vec::new();
    let mut fact = |about, says: String| facts.push(Fact { about, says });
    fact("Mechanism", mechanism(&profile.mechanism));
    if !missing.is_empty() {
        let names: Vec<String> = missing.iter().map(ToString::to_string).collect();
        fact("Missing", names.join(", "));
    }
    let neighbours = &profile.range.beyond_usual;
    for (side, other) in [("above", &neighbours.above), ("below", &neighbours.below)] {
        if let Some(other) = other {
            fact("Beyond", format!("what lies {side} the usual span is usually given to {other}"));
        }
    }
    let breath = &profile.breath;
    fact(
        "Breath",
        format!(
            "figures for {:.1} L of usable air; a quick breath takes {} and refills {}, a full one takes {}; a gap \
             below {} is no breath; up to {} is stolen from a note where no rest is written, or {:.0} % of a long one",
            profile.sustain.law.usable.get(),
            exact(breath.quick.0),
            breath.quick.1,
            exact(breath.full.0),
            exact(*breath.shortest),
            exact(*breath.stolen),
            *breath.stolen_long * 100.0
        ),
    );
    fact("Speed", speed(profile));
    fact("Mutes", mutes(profile));
    let picked = &profile.changes.pick_up;
    fact("Change", format!("picked up in {}; below {} a risk", whole(picked.0), whole(picked.1)));
    if !profile.changes.brings.is_empty() {
        let brings = profile.changes.brings.join(", ");
        fact("Brings", format!("for passages that do not lie on it, where no settings say more: {brings}"));
    }
    fact("Notation", notation(profile));
    fact("Names", names(profile));
    facts
}

fn mechanism_in_short(mechanism: &Mechanism) -> String {
    match mechanism {
        Mechanism::Slide(slide) => {
            let with: String = slide.attachments.iter().fold(String::new(), |all, a| all + " + " + &a.name);
            format!("slide in {}{with}", slide.fundamental)
        }
        Mechanism::Valves(valves) => {
            let compensating = if valves.compensating { ", compensating" } else { "" };
            format!("{} valves on {}{compensating}", valves.semitones.len(), valves.fundamental)
        }
        Mechanism::Keys { fundamental } => format!("keys, from {fundamental}"),
    }
}

fn mechanism(mechanism: &Mechanism) -> String {
    match mechanism {
        Mechanism::Slide(slide) => {
            let positions = |count: u8, long: bool| {
                format!("{count} positions{}", if long { ", the last long" } else { "" })
            };
            let mut text =
                format!("slide in {}, {}", slide.fundamental, positions(slide.positions, slide.last_is_long));
            if slide.tubes > 2 {
                text += ", double";
            }
            for attachment in &slide.attachments {
                let which = positions(attachment.positions, attachment.last_is_long);
                let _ = write!(text, "; {} to {}, {which}", attachment.name, attachment.fundamental);
            }
            text
        }
        Mechanism::Valves(valves) => {
            let semitones: Vec<String> = valves.semitones.iter().map(ToString::to_string).collect();
            let compensating = if valves.compensating { "compensating " } else { "" };
            format!(
                "{} {compensating}valves on {}, lowering it by {} semitones; sharp by {} cents is worth a note, by {} \
                 a warning, when held for {}",
                valves.semitones.len(),
                valves.fundamental,
                semitones.join(", "),
                valves.limits.sharp_note,
                valves.limits.sharp_warning,
                exact(*valves.limits.held_for)
            )
        }
        Mechanism::Keys { fundamental } => format!("keys over holes, lowest note {fundamental}"),
    }
}

fn speed(profile: &Profile) -> String {
    let agility = &profile.agility;
    let slower = |seconds: Seconds| 1.0 / (seconds.get() * *agility.slowness);
    let mut text = format!("single tongue {:.1} notes a second", slower(*agility.single_tongue));
    if let Some(double) = *agility.double_tongue {
        let _ = write!(text, ", double {:.1}", slower(double));
    }
    let _ = write!(text, "; low notes need {} cycles to be heard", agility.cycles);
    if (*agility.slowness - 1.0).abs() > f64::EPSILON {
        let _ = write!(text, ", all times by {}", agility.slowness);
    }
    for (semitones, seconds) in agility.leaps.iter().map(|leap| &leap.value) {
        let _ = write!(
            text,
            "; a leap of more than {semitones} semitones in less than {} is too wide",
            exact(*seconds)
        );
    }
    text
}

fn mutes(profile: &Profile) -> String {
    let changes = &profile.changes;
    if changes.mutes.is_empty() {
        return "none".to_owned();
    }
    let name = |(mute, rare): &(crate::score::Mute, bool)| {
        format!("{}{}", mute.name(), if *rare { " (rare)" } else { "" })
    };
    let list: Vec<String> = changes.mutes.iter().map(|mute| name(&mute.value)).collect();
    format!(
        "{}; in {} and out {}; below {} and {} a risk",
        list.join(", "),
        whole(changes.mute_in.0),
        whole(changes.mute_out.0),
        whole(changes.mute_in.1),
        whole(changes.mute_out.1)
    )
}

fn notation(profile: &Profile) -> String {
    let notation = &profile.notation;
    let clefs: Vec<&str> = notation.clefs.iter().copied().map(clef).collect();
    let tradition = |tradition: &crate::profile::Tradition| {
        let above = match tradition.written_above {
            0 => "as it sounds".to_owned(),
            semitones => format!("{semitones} semitones above"),
        };
        format!("{}: {} clef, {above}", tradition.name, clef(tradition.clef))
    };
    let traditions: Vec<String> = notation.traditions.iter().map(tradition).collect();
    format!(
        "{} clef; {}; {} ledger lines below the staff, {} above",
        clefs.join(", "),
        traditions.join("; "),
        notation.ledger_lines_below,
        notation.ledger_lines_above
    )
}

fn clef(clef: Clef) -> &'static str {
    match (clef.sign, clef.line) {
        (ClefSign::F, _) => "bass",
        (ClefSign::G, _) => "treble",
        (ClefSign::C, 4) => "tenor",
        (ClefSign::C, _) => "alto",
        (ClefSign::Other, _) => "other",
    }
}

fn names(profile: &Profile) -> String {
    let recognise = &profile.recognise;
    let mut names: Vec<&str> = recognise.plain_names.iter().map(String::as_str).collect();
    names.extend(recognise.names.iter().map(|(_, name)| name.as_str()));
    names.extend(recognise.shared_names.iter().map(String::as_str));
    names.extend(recognise.abbreviations.iter().map(String::as_str));
    let mut seen = BTreeSet::new();
    names.retain(|name| seen.insert(*name));
    names.join(", ")
}

fn sources(profile: &Profile) -> Vec<SourceLine> {
    let player = &profile.player;
    let own = profile.cited.iter().map(|cited| (cited, &profile.sources));
    let mut by_key: BTreeMap<(Basis, String), (String, Vec<String>)> = BTreeMap::new();
    let all = own.chain(player.in_force(profile).into_iter().map(|cited| (cited, &player.sources)));
    for ((place, key), explained) in all {
        let Some(kind) = basis_of(key, explained) else { continue };
        let title = explained.get(key).map(Source::in_words).unwrap_or_default();
        let (_, places) = by_key.entry((kind, title)).or_insert_with(|| (key.clone(), Vec::new()));
        places.push(place.clone());
    }
    let line = |((kind, title), (key, places)): ((Basis, String), (String, Vec<String>))| {
        let mut tables: Vec<String> = Vec::new();
        for place in &places {
            let table = place.split(['.', '[']).next().unwrap_or(place).to_owned();
            if !tables.contains(&table) {
                tables.push(table);
            }
        }
        SourceLine { key, kind: kind.word(), title, values: places.len(), tables, places }
    };
    by_key.into_iter().map(line).collect()
}

/// How many values of all profiles stand on what kind of ground.
fn counted(profiles: &Profiles) -> String {
    let mut by_kind: BTreeMap<Basis, usize> = BTreeMap::new();
    let of_player = profiles.player();
    let files = profiles.iter().map(|profile| (&profile.cited, &profile.sources));
    for (cited, sources) in files.chain([(&of_player.cited, &of_player.sources)]) {
        for (_, key) in cited {
            if let Some(kind) = basis_of(key, sources) {
                *by_kind.entry(kind).or_default() += 1;
            }
        }
    }
    let list: Vec<String> =
        by_kind.iter().map(|(kind, count)| format!("{count} {}", kind.word().replace('-', " "))).collect();
    format!("\nWhat the figures stand on, counted over all files: {}.\n", list.join(", "))
}

fn line(chart: &mut String, label: &str, cells: &str) {
    let _ = writeln!(chart, "{}", format!("{label:>5} {cells}").trim_end());
}

/// Names under the C's, and the ends where there is room.
fn ruler(columns: &[Column], is_c: impl Fn(&Column) -> bool) -> String {
    let mut ruler = String::new();
    let last = columns.len().saturating_sub(1);
    for (index, column) in columns.iter().enumerate() {
        let name = column.pitch.to_string();
        let next_c = columns[index + 1..].iter().position(&is_c).map_or(usize::MAX, |ahead| ahead + 1);
        let wanted = is_c(column) || (index == 0 && next_c > name.len()) || index == last;
        let written = ruler.chars().count();
        if wanted && (written < index || written == 0) {
            ruler += &" ".repeat(index - written);
            ruler += &name;
        }
    }
    ruler
}

fn span(from: &str, to: &str) -> String {
    if from == to { from.to_owned() } else { format!("{from}-{to}") }
}

fn paragraph(lead: &str, text: &str) -> String {
    let indent = " ".repeat(lead.chars().count());
    let options = textwrap::Options::new(80).initial_indent(lead).subsequent_indent(&indent);
    textwrap::fill(text, options) + "\n"
}

fn ascii(text: &str) -> String {
    text.chars().map(|c| if c.is_ascii() { c } else { fold(c) }).collect()
}

fn fold(c: char) -> char {
    match c {
        'á' | 'à' | 'â' | 'ä' => 'a',
        'é' | 'è' | 'ê' => 'e',
        'í' | 'ì' => 'i',
        'ó' | 'ò' | 'ö' => 'o',
        'ú' | 'ù' | 'ü' => 'u',
        'ß' => 's',
        _ => '?',
    }
}

fn exact(seconds: Seconds) -> String {
    format!("{} s", seconds.get())
}

fn whole(seconds: Seconds) -> String {
    format!("{} s", seconds.get())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::profile::shipped;

    fn page(name: &str) -> ProfilePage {
        profile_page(&shipped().named(name).unwrap())
    }

    #[test]
    fn every_page_fits_into_80_columns() {
        for profile in shipped().iter() {
            for unicode in [true, false] {
                let text = profile_page(profile).text(unicode);
                for line in text.lines() {
                    assert!(line.chars().count() <= 80, "{}: {line}", profile.name);
                }
                assert!(unicode || text.is_ascii(), "{}", profile.name);
            }
        }
    }

    #[test]
    fn the_chart_shows_zones_gaps_and_loudness() {
        insta::assert_snapshot!(page("tenor-bass-trombone").chart(false));
    }

    #[test]
    fn a_page_reads_like_a_page() {
        insta::assert_snapshot!(page("contrabass-tuba-c").text(true));
    }
}
