//! The day by player: cue by cue how long, how loud, how low and high, what is hardest, what to bring and to change.
//!
//! The JSON contract and its formats, for whoever plans the day. What is told are facts of the parts; how a player spends
//! the breaks is nobody's here to say.

mod markdown;
mod text;

use std::io::{self, Write};
use std::sync::Arc;

use schemars::JsonSchema;
use serde::Serialize;

use super::contract::{Finding, Level, SCHEMA_VERSION, Score, Tool, Unread, milliseconds};
use super::{Look, phrases};
use crate::finding::{Basis, Sourced};
use crate::music::{Onset, Seconds, Sounding};
use crate::playing::instruments::{line_kits, stretches};
use crate::playing::load::{load, loud_from};
use crate::playing::{Desk, Section};
use crate::profile::{Profile, SectionLimits};
use crate::score::Line;

/// A day of cues.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Session {
    /// Which contract this is: that of the report.
    pub schema_version: u32,
    /// What made it.
    pub tool: Tool,
    /// What counts as loud, and as a cue that is hard on a player.
    pub measures: Measures,
    /// The cues, in the order of the day.
    pub cues: Vec<Cue>,
    /// The players who have notes, in order of first appearance.
    pub players: Vec<PlayerDay>,
    /// What could not be read, in order of path.
    pub unread: Vec<Unread>,
    /// What to take care of, one line each.
    pub cautions: Vec<String>,
}

/// What counts as loud, and from where on a cue is told as hard on a player.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Measures {
    /// The dynamic from which playing counts as loud.
    pub loud_from: String,
    /// Seconds of loud playing in a cue.
    pub loud: Measured,
    /// Seconds above the usual span of the instrument in a cue.
    pub high: Measured,
    /// Seconds without a rest.
    pub unbroken: Measured,
}

/// Seconds, and what the number stands on.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Measured {
    /// Seconds.
    pub seconds: f64,
    /// The kind of its source.
    pub basis: Basis,
    /// The sources in words.
    pub sources: Vec<String>,
}

/// A cue.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Cue {
    /// Where it lies.
    pub path: String,
    /// Its title.
    pub title: Option<String>,
    /// How many seconds it lasts, in written order.
    #[serde(serialize_with = "milliseconds")]
    pub seconds: f64,
}

/// A player's day.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct PlayerDay {
    /// The part's name, with the player's number where several read it.
    pub name: String,
    /// The cues in which there is something to play, in the order of the day.
    pub cues: Vec<PlayerCue>,
    /// Seconds it sounds over the day.
    #[serde(serialize_with = "milliseconds")]
    pub plays: f64,
    /// Seconds of it that are loud.
    #[serde(serialize_with = "milliseconds")]
    pub loud: f64,
    /// Seconds of it above the usual span.
    #[serde(serialize_with = "milliseconds")]
    pub high: f64,
    /// The lowest sounding note.
    pub lowest: Option<String>,
    /// The highest sounding note.
    pub highest: Option<String>,
    /// Instruments to bring, in order of first use.
    pub instruments: Vec<String>,
    /// Mutes to bring, each with its instrument, in order of first use.
    pub mutes: Vec<String>,
    /// Cues that follow each other and are both hard on the player.
    pub hard_in_a_row: Vec<HardPair>,
}

/// A cue as one player has it.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct PlayerCue {
    /// Where the cue lies.
    pub cue: String,
    /// Seconds it sounds, repeats played out.
    #[serde(serialize_with = "milliseconds")]
    pub plays: f64,
    /// Seconds of it that are loud.
    #[serde(serialize_with = "milliseconds")]
    pub loud: f64,
    /// Seconds of it above the usual span.
    #[serde(serialize_with = "milliseconds")]
    pub high: f64,
    /// The lowest sounding note.
    pub lowest: Option<String>,
    /// The highest sounding note.
    pub highest: Option<String>,
    /// The longest playing without a rest.
    pub longest: Option<Stretch>,
    /// The gravest remark, the first of those.
    pub hardest: Option<HardPlace>,
    /// Errors and warnings on this player's notes.
    pub remarks: u32,
    /// The instruments, in the order in which they are taken up; one may come again.
    pub in_hand: Vec<String>,
    /// Instruments to bring.
    pub instruments: Vec<String>,
    /// Mutes, each with its instrument.
    pub mutes: Vec<String>,
    /// The instrument to have in hand at the start, where another was at the end of the player's cue before.
    pub change: Option<String>,
}

/// Playing without a rest.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Stretch {
    /// How many seconds.
    #[serde(serialize_with = "milliseconds")]
    pub seconds: f64,
    /// Printed number of the bar in which it begins.
    pub from_bar: String,
    /// Printed number of the bar in which it ends.
    pub to_bar: String,
}

/// Where a cue is hardest.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct HardPlace {
    /// The rule that speaks.
    pub rule: String,
    /// How bad.
    pub severity: Level,
    /// The kind of source of the number that decided.
    pub basis: Basis,
    /// In words: "bar 12, beat 3".
    pub place: String,
    /// Printed number of its first bar.
    pub bar: String,
    /// What is asked there: "D1 ff, 2.0 s".
    pub asked: Option<String>,
    /// The fact and the limit.
    pub message: String,
}

/// Two cues that follow each other and are both hard on a player.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct HardPair {
    /// The first cue.
    pub first: String,
    /// What it asks: "0:45 loud".
    pub first_asks: Vec<String>,
    /// The next one.
    pub then: String,
    /// What that asks.
    pub then_asks: Vec<String>,
}

/// A format a day is written in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum SessionFormat {
    /// For people at a terminal.
    Text,
    /// For scripts.
    Json,
    /// For the call sheet.
    Markdown,
}

/// What to take care of.
const CAUTION: &str = "Loud brass can harm hearing, the players' own and their neighbours', and long or extreme playing the lip: \
    breaks are for players and whoever leads the session to agree, sound levels for the local rules on noise at work, \
    trouble for a doctor.";

/// A cue with what each of its players has to do.
#[derive(Clone, Debug, PartialEq)]
pub struct CueLoad {
    /// The cue.
    pub cue: Cue,
    /// Its players.
    pub players: Vec<Playing>,
}

/// What a player has to do in a cue.
#[derive(Clone, Debug, PartialEq)]
pub struct Playing {
    /// The part's name, with the player's number where several read it.
    pub name: String,
    /// The lowest and the highest note.
    pub compass: Option<(Sounding, Sounding)>,
    /// All that is told of it.
    pub cue: PlayerCue,
}

impl CueLoad {
    /// What a checked score asks of its players. `others` are the instruments within reach of each desk, in order of
    /// desks.
    pub fn of(section: &Section<'_>, others: &[Vec<Arc<Profile>>], score: &Score) -> CueLoad {
        let mut players = Vec::new();
        for (index, desk) in section.desks.iter().enumerate() {
            let within_reach = others.get(index).map_or(&[][..], Vec::as_slice);
            let stretches = stretches(desk, section, within_reach);
            let kits = line_kits(index, section, within_reach);
            for (position, (line, kit)) in desk.lines.iter().zip(kits).enumerate() {
                let load = load(line, desk, section);
                let bar = |index: usize| {
                    let bar = section.score.bars.get(index);
                    bar.map(|bar| bar.number.clone()).unwrap_or_default()
                };
                let own = own_findings(score, desk, position);
                let grave = own.iter().filter(|finding| finding.severity > Level::Note).count();
                let titles = stretches.iter().filter(|stretch| stretch.line == position);
                let player = PlayerCue {
                    cue: score.path.clone(),
                    plays: load.plays.get(),
                    loud: load.loud.get(),
                    high: load.high.get(),
                    lowest: load.lowest.map(|pitch| pitch.to_string()),
                    highest: load.highest.map(|pitch| pitch.to_string()),
                    longest: load.longest.map(|run| Stretch {
                        seconds: run.seconds.get(),
                        from_bar: bar(run.from),
                        to_bar: bar(run.to),
                    }),
                    hardest: hardest(&own),
                    remarks: u32::try_from(grave).unwrap_or(u32::MAX),
                    in_hand: titles.map(|stretch| stretch.instrument.title.clone()).collect(),
                    mutes: super::instruments::mutes(&kit),
                    instruments: kit.instruments.into_iter().map(|(_, title)| title).collect(),
                    change: None,
                };
                let compass = load.lowest.zip(load.highest);
                players.push(Playing { name: name(desk, line), compass, cue: player });
            }
        }
        let end = section.score.bars.last().map_or(Onset::START, |bar| bar.start + bar.length);
        CueLoad {
            cue: Cue {
                path: score.path.clone(),
                title: score.title.clone(),
                seconds: section.score.tempo.at(end).get(),
            },
            players,
        }
    }
}

impl Session {
    /// The day of these cues, which stand in its order.
    pub fn new(cues: Vec<CueLoad>, limits: &SectionLimits, unread: Vec<Unread>) -> Session {
        let measures = Measures::of(limits);
        let mut players: Vec<PlayerDay> = Vec::new();
        // The last cue in which each player had notes, by its place in the day.
        let mut last: Vec<usize> = Vec::new();
        let mut names = Vec::new();
        let mut compasses: Vec<Option<(Sounding, Sounding)>> = Vec::new();
        for (place, CueLoad { cue, players: own }) in cues.into_iter().enumerate() {
            names.push(cue);
            for Playing { name, compass, cue: mut player } in own {
                if compass.is_none() {
                    continue;
                }
                let at = players.iter().position(|day| day.name == name).unwrap_or_else(|| {
                    players.push(PlayerDay::of(name));
                    last.push(place);
                    compasses.push(None);
                    players.len() - 1
                });
                let day = &mut players[at];
                if let Some(before) = day.cues.last() {
                    let (held, wanted) = (before.in_hand.last(), player.in_hand.first());
                    player.change = wanted.filter(|wanted| held != Some(*wanted)).cloned();
                    let asks = [measures.asked(before), measures.asked(&player)];
                    if last[at] + 1 == place && asks.iter().all(|asks| !asks.is_empty()) {
                        let [first_asks, then_asks] = asks;
                        let (first, then) = (before.cue.clone(), player.cue.clone());
                        day.hard_in_a_row.push(HardPair { first, first_asks, then, then_asks });
                    }
                }
                last[at] = place;
                compasses[at] = match (compasses[at], compass) {
                    (Some(known), Some(own)) => Some((known.0.min(own.0), known.1.max(own.1))),
                    (known, own) => known.or(own),
                };
                day.add(player);
            }
        }
        for (day, compass) in players.iter_mut().zip(compasses) {
            day.lowest = compass.map(|(lowest, _)| lowest.to_string());
            day.highest = compass.map(|(_, highest)| highest.to_string());
        }
        Session {
            schema_version: SCHEMA_VERSION,
            tool: Tool { name: "lowbrass".to_owned(), version: env!("CARGO_PKG_VERSION").to_owned() },
            measures,
            cues: names,
            players,
            unread,
            cautions: vec![CAUTION.to_owned()],
        }
    }

    /// Writes it.
    pub fn write(&self, format: SessionFormat, look: &Look, out: &mut dyn Write) -> io::Result<()> {
        match format {
            SessionFormat::Text => text::write(self, look, out),
            SessionFormat::Markdown => markdown::write(self, out),
            SessionFormat::Json => {
                serde_json::to_writer_pretty(&mut *out, self)?;
                writeln!(out)
            }
        }
    }

    /// The cues by the names of their files, or by their paths where two have one name.
    fn short(&self, path: &str) -> String {
        let stem = |path: &str| -> String {
            let name = path.rsplit('/').next().unwrap_or(path);
            name.rsplit_once('.').map_or(name, |(stem, _)| stem).to_owned()
        };
        let own = stem(path);
        let alike = self.cues.iter().filter(|cue| stem(&cue.path) == own).count();
        if alike > 1 { path.to_owned() } else { own }
    }
}

impl PlayerDay {
    fn of(name: String) -> PlayerDay {
        PlayerDay {
            name,
            cues: Vec::new(),
            plays: 0.0,
            loud: 0.0,
            high: 0.0,
            lowest: None,
            highest: None,
            instruments: Vec::new(),
            mutes: Vec::new(),
            hard_in_a_row: Vec::new(),
        }
    }

    fn add(&mut self, player: PlayerCue) {
        self.plays += player.plays;
        self.loud += player.loud;
        self.high += player.high;
        for (all, own) in [(&mut self.instruments, &player.instruments), (&mut self.mutes, &player.mutes)] {
            let new: Vec<String> = own.iter().filter(|item| !all.contains(item)).cloned().collect();
            all.extend(new);
        }
        self.cues.push(player);
    }

    /// The longest playing without a rest over the day, with its cue.
    fn longest(&self) -> Option<(&PlayerCue, &Stretch)> {
        let runs = self.cues.iter().filter_map(|cue| Some((cue, cue.longest.as_ref()?)));
        // Of equals the first.
        runs.rev().max_by(|one, other| one.1.seconds.total_cmp(&other.1.seconds))
    }
}

impl Measures {
    fn of(limits: &SectionLimits) -> Measures {
        let measured = |sourced: &Sourced<Seconds>| Measured {
            seconds: sourced.value.get(),
            basis: sourced.ground.basis,
            sources: sourced.ground.sources.to_vec(),
        };
        Measures {
            loud_from: loud_from(limits).letters().to_owned(),
            loud: measured(&limits.session.loud),
            high: measured(&limits.session.high),
            unbroken: measured(&limits.session.unbroken),
        }
    }

    /// What makes a cue hard on its player; nothing where nothing does.
    fn asked(&self, cue: &PlayerCue) -> Vec<String> {
        let unbroken = cue.longest.as_ref().map_or(0.0, |run| run.seconds);
        [
            (cue.loud, &self.loud, format!("{} at {} or louder", clock(cue.loud), self.loud_from)),
            (cue.high, &self.high, format!("{} above the usual span", clock(cue.high))),
            (unbroken, &self.unbroken, format!("{} without a rest", clock(unbroken))),
        ]
        .into_iter()
        .filter(|(seconds, least, _)| *seconds >= least.seconds)
        .map(|(.., said)| said)
        .collect()
    }
}

/// Minutes and seconds: "2:05".
pub(super) fn clock(seconds: f64) -> String {
    let seconds = seconds.round() as i64;
    format!("{}:{:02}", seconds / 60, seconds % 60)
}

/// Who reads a line.
pub(super) fn name(desk: &Desk<'_>, line: &Line) -> String {
    let part = desk.part.info.name.trim();
    if desk.lines.len() > 1 { format!("{part}, player {}", line.player) } else { part.to_owned() }
}

/// The remarks that stand on the notes of one line of a desk, in score order.
fn own_findings<'a>(score: &'a Score, desk: &Desk<'_>, position: usize) -> Vec<&'a Finding> {
    let plays = |line: &Line, finding: &Finding| {
        // Of a passage the first note says whose it is; its pitch is told where that note is the worst.
        let is_first = (finding.worst.bar_index, &finding.worst.beat) == (finding.bar_index, &finding.beat);
        line.played.iter().any(|note| {
            note.onset.to_string() == finding.onset
                && finding.midi.is_none_or(|midi| !is_first || (note.sounding.midi() - midi).abs() < 0.01)
        })
    };
    // A note that two read is each one's.
    let is_own = |finding: &Finding| {
        let line = &desk.lines[position];
        plays(line, finding) || position == 0 && !desk.lines.iter().any(|line| plays(line, finding))
    };
    let info = &desk.part.info;
    let standing = score.findings.iter().filter(|finding| finding.waived.is_none());
    standing.filter(|finding| finding.is_about(&info.id, &info.name) && is_own(finding)).collect()
}

/// The hardest remark that is more than a note, of equals the first.
fn hardest(findings: &[&Finding]) -> Option<HardPlace> {
    let grave = findings.iter().filter(|finding| finding.severity > Level::Note);
    let worst = grave.rev().max_by_key(|finding| phrases::hardness(finding))?;
    Some(HardPlace {
        rule: worst.rule.clone(),
        severity: worst.severity,
        basis: worst.basis,
        place: phrases::where_it_stands(worst),
        bar: worst.bar.clone(),
        asked: phrases::asked(worst),
        message: worst.message.clone(),
    })
}

/// How the formats for people put it.
mod words {
    use super::{HardPair, PlayerCue, PlayerDay, Session, Stretch, clock};
    use crate::report::instruments::mutes_said;
    use crate::report::phrases::{bars, counted, listed};

    /// The columns of a player's table.
    pub(super) const HEADING: [&str; 8] =
        ["cue", "plays", "loud", "high", "compass", "without a rest", "hardest place", "change"];

    /// The cells of a cue.
    pub(super) fn cells(session: &Session, cue: &PlayerCue) -> [String; 8] {
        let some = |seconds: f64| if seconds.round() > 0.0 { clock(seconds) } else { String::new() };
        let hardest = cue.hardest.as_ref().map(|hardest| {
            let place = if hardest.place.is_empty() { String::new() } else { format!("{}: ", hardest.place) };
            let asked = hardest.asked.as_ref().map(|asked| format!("{asked}, ")).unwrap_or_default();
            let ours = if hardest.basis.is_estimate() { " (our estimate)" } else { "" };
            format!("{place}{asked}{}{ours}", hardest.rule.replace('-', " "))
        });
        let compass = match (&cue.lowest, &cue.highest) {
            (Some(lowest), Some(highest)) if lowest != highest => format!("{lowest}–{highest}"),
            (lowest, _) => lowest.clone().unwrap_or_default(),
        };
        [
            session.short(&cue.cue),
            clock(cue.plays),
            some(cue.loud),
            some(cue.high),
            compass,
            cue.longest.as_ref().map(stretch).unwrap_or_default(),
            hardest.unwrap_or_default(),
            change(cue),
        ]
    }

    /// "0:13, bars 13–16".
    fn stretch(run: &Stretch) -> String {
        format!("{}, {}", clock(run.seconds), bars(&run.from_bar, &run.to_bar))
    }

    /// What is taken up for the cue, and in it.
    fn change(cue: &PlayerCue) -> String {
        let within = cue.in_hand.get(1..).unwrap_or_default();
        let within: Vec<&str> = within.iter().map(String::as_str).collect();
        let within = (!within.is_empty()).then(|| format!("then {} during it", within.join(", then ")));
        [cue.change.clone(), within].into_iter().flatten().collect::<Vec<_>>().join("; ")
    }

    /// "3 of 4 cues · plays 2:14 · 0:41 at ff or louder · C1 to Eb4".
    pub(super) fn facts(session: &Session, day: &PlayerDay) -> String {
        let mut said = vec![
            format!("{} of {}", day.cues.len(), counted(session.cues.len() as u32, "cue")),
            format!("plays {}", clock(day.plays)),
        ];
        if day.loud.round() > 0.0 {
            said.push(format!("{} at {} or louder", clock(day.loud), session.measures.loud_from));
        }
        if day.high.round() > 0.0 {
            said.push(format!("{} above the usual span", clock(day.high)));
        }
        if let (Some(lowest), Some(highest)) = (&day.lowest, &day.highest) {
            said.push(format!("{lowest} to {highest}"));
        }
        if let Some((cue, run)) = day.longest() {
            said.push(format!("{} without a rest in {}", clock(run.seconds), session.short(&cue.cue)));
        }
        said.join(" · ")
    }

    /// "Bring: Contrabass tuba in C; mutes: straight".
    pub(super) fn bring(day: &PlayerDay) -> String {
        let listed = |items: &[String]| listed(&items.iter().map(String::as_str).collect::<Vec<_>>());
        if day.mutes.is_empty() {
            return format!("Bring: {}", listed(&day.instruments));
        }
        format!(
            "Bring: {}; mutes: {}",
            listed(&day.instruments),
            mutes_said(&day.mutes, &day.instruments).join("; ")
        )
    }

    /// "2m1 follows 1m3: 0:20 above the usual span, after 0:45 at ff or louder."
    pub(super) fn pair(session: &Session, pair: &HardPair) -> String {
        let asks = |asks: &[String]| listed(&asks.iter().map(String::as_str).collect::<Vec<_>>());
        format!(
            "{} follows {}: {}, after {}.",
            session.short(&pair.then),
            session.short(&pair.first),
            asks(&pair.then_asks),
            asks(&pair.first_asks)
        )
    }

    /// What the day is: cues, how long, whose.
    pub(super) fn title(session: &Session) -> String {
        let seconds: f64 = session.cues.iter().map(|cue| cue.seconds).sum();
        let unread = match session.unread.len() as u32 {
            0 => String::new(),
            unread => format!(", {} that could not be read", counted(unread, "score")),
        };
        format!(
            "{}, {} of music, {}{unread}",
            counted(session.cues.len() as u32, "cue"),
            clock(seconds),
            counted(session.players.len() as u32, "player")
        )
    }

    /// From where on cues are told as hard ones, and that the figures are ours where they are.
    pub(super) fn measures(session: &Session) -> String {
        let measures = &session.measures;
        let all = [&measures.loud, &measures.high, &measures.unbroken];
        let ours = if all.iter().any(|one| one.basis.is_estimate()) { " (our estimate)" } else { "" };
        format!(
            "Told as following each other: cues with {} and more at {} or louder, {} above the usual span, or {} without \
             a rest{ours}.",
            clock(measures.loud.seconds),
            measures.loud_from,
            clock(measures.high.seconds),
            clock(measures.unbroken.seconds),
        )
    }
}
