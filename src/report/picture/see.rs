//! From a section to what is drawn of it.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::ground::ground;
use super::{
    Air, BarSeen, BreathSeen, Ghost, Hand, Load, MuteSeen, NoteSeen, Picture, PlayerSeen, Room, Stroke,
};
use crate::finding::Revision;
use crate::music::{Dynamic, Onset, Tempo};
use crate::playing::breath::{BreathKind, plan, use_of};
use crate::playing::instruments::stretches;
use crate::playing::load::{heard, is_loud, load, loud_from};
use crate::playing::loudness::{asked, low_hit};
use crate::playing::{Desk, Section};
use crate::profile::Profile;
use crate::score::{Articulation, Join, Line, Mute, Note, Score};

/// What is drawn of a section. `others` are the instruments within reach of each desk, in order of desks.
pub fn see(section: &Section<'_>, others: &[Vec<Arc<Profile>>], revision: &Revision) -> Picture {
    let score = section.score;
    let end = score.bars.last().map_or(Onset::START, |bar| bar.start + bar.length);
    let mut picture = Picture { bars: bars(score), seconds: score.tempo.at(end).get(), ..Picture::default() };
    for (index, desk) in section.desks.iter().enumerate() {
        let within_reach = others.get(index).map_or(&[][..], Vec::as_slice);
        let stretches = stretches(desk, section, within_reach);
        for (position, line) in desk.lines.iter().enumerate() {
            let mut hands = Vec::new();
            for stretch in stretches.iter().filter(|stretch| stretch.line == position) {
                let first = line.played[stretch.from].onset;
                hands.push(Hand {
                    at: first.quarters(),
                    ground: picture.ground_of(&stretch.instrument),
                    asked: desk.instrument_at(line, first).name == stretch.instrument.name,
                    change: stretch.change.map(|change| (change.seconds.get(), change.wanted.0.get())),
                });
            }
            let stands_on = picture.stands_on(desk, line);
            let whole = picture.seconds;
            let seen = player(section, desk, line, revision, whole);
            picture.players.push(PlayerSeen { hands, stands_on, ..seen });
        }
        if desk.lines.is_empty() {
            let line = Line { player: 1, played: vec![], passages: vec![], performed: vec![], later: vec![] };
            let stands_on = picture.stands_on(desk, &line);
            let seen = player(section, desk, &line, revision, picture.seconds);
            picture.players.push(PlayerSeen { stands_on, ..seen });
        }
    }
    picture
}

impl Picture {
    fn stands_on(&mut self, desk: &Desk<'_>, line: &Line) -> Vec<(f64, usize)> {
        desk.hand_of(line).iter().map(|hand| (hand.from.quarters(), self.ground_of(&hand.profile))).collect()
    }

    fn ground_of(&mut self, profile: &Profile) -> usize {
        self.grounds.iter().position(|known| known.name == profile.name).unwrap_or_else(|| {
            self.grounds.push(ground(profile));
            self.grounds.len() - 1
        })
    }
}

fn bars(score: &Score) -> Vec<BarSeen> {
    let mut seen: Vec<BarSeen> = Vec::with_capacity(score.bars.len());
    let mut metre = None;
    for bar in &score.bars {
        let own = bar.nominal.map(|nominal| (nominal, bar.beat));
        let is_new = own.is_some() && own != metre;
        metre = own.or(metre);
        let beats = own.and_then(|(nominal, beat)| nominal.in_units_of(beat));
        seen.push(BarSeen {
            number: bar.number.clone(),
            start: bar.start.quarters(),
            quarters: bar.length.in_quarters(),
            beat: bar.beat.in_quarters(),
            begins: score.tempo.at(bar.start).get(),
            rehearsal: None,
            tempo: None,
            metre: beats
                .filter(|_| is_new)
                .map(|beats| format!("{beats}/{:.0}", 4.0 / bar.beat.in_quarters().max(0.001))),
        });
    }
    let bar_of = |at: Onset| score.bars.partition_point(|bar| bar.start <= at).saturating_sub(1);
    for mark in &score.rehearsals {
        if let Some(bar) = seen.get_mut(bar_of(mark.at)) {
            bar.rehearsal.get_or_insert_with(|| mark.text.clone());
        }
    }
    // A tempo that hardly changes, as played-in files have many, is no news.
    let mut known = 0.0_f64;
    for change in score.tempo.changes() {
        let now = change.tempo.get();
        let is_news = (now / known - 1.0).abs() >= NEWS || change.glides_to.is_some();
        let Some(bar) = seen.get_mut(bar_of(change.at)).filter(|_| is_news) else { continue };
        let about = if change.assumed { "≈" } else { "=" };
        let goal = change.glides_to.map(|goal| format!(" to {:.0}", goal.get())).unwrap_or_default();
        bar.tempo = Some(format!("♩ {about} {now:.0}{goal}"));
        known = change.glides_to.map_or(now, Tempo::get);
    }
    seen
}

/// The least share by which a tempo is another.
const NEWS: f64 = 0.04;

fn player(
    section: &Section<'_>,
    desk: &Desk<'_>,
    line: &Line,
    revision: &Revision,
    written_seconds: f64,
) -> PlayerSeen {
    let part = desk.part;
    let above = part
        .notes
        .iter()
        .find(|note| note.is_played())
        .map_or(0, |note| (note.written.height().in_cents() - note.sounding.height().in_cents()) / 100);
    let mut keys: Vec<(f64, i8)> = part.keys.iter().map(|key| (key.at.quarters(), key.fifths)).collect();
    keys.dedup_by_key(|(_, fifths)| *fifths);
    let (air, breaths) = breath(section, desk, line);
    PlayerSeen {
        part: part.info.id.clone(),
        part_name: part.info.name.clone(),
        player: (desk.lines.len() > 1).then_some(line.player),
        written_above: above,
        keys,
        notes: (0..line.played.len()).map(|index| note(desk, line, index)).collect(),
        hands: Vec::new(),
        stands_on: Vec::new(),
        mutes: mutes(line),
        air,
        breaths,
        ghosts: ghosts(desk, line, revision),
        load: seen(section, desk, line, written_seconds),
    }
}

fn note(desk: &Desk<'_>, line: &Line, index: usize) -> NoteSeen {
    let played = &line.played[index];
    let profile = desk.instrument_at(line, played.onset);
    let level = |dynamic: Dynamic| f64::from(dynamic as i32);
    let held = played.chain.iter().filter_map(|&index| desk.part.notes.get(index as usize));
    let levels = held.filter_map(|note: &Note| {
        let at = note.dynamic?;
        Some((note.onset.quarters(), level(at), level(note.until.unwrap_or(at))))
    });
    let row = profile.loudness.at(played.sounding).filter(|_| played.sounding <= *profile.range.top);
    let muted = |row: Dynamic| match played.mute {
        Some(_) => row.louder_by(-*profile.loudness.muted_steps),
        None => row,
    };
    let limits = asked(played, profile);
    let short = !played.grace && played.seconds <= profile.loudness.hit.longest;
    let accented = played.articulations.is_accented() || played.attack.is_some();
    let loud = played.loudest.is_some_and(|loudest| loudest >= profile.loudness.hit.from);
    let detached = [Articulation::Staccato, Articulation::Staccatissimo]
        .into_iter()
        .any(|mark| played.articulations.has(mark));
    NoteSeen {
        from: played.onset.quarters(),
        to: played.end.quarters(),
        seconds: played.seconds.get(),
        midi: played.sounding.midi(),
        name: played.sounding.to_string(),
        levels: levels.collect(),
        attack: played.attack.map(level),
        ceiling: limits
            .as_ref()
            .map(|limits| *limits.ceiling)
            .or(row.map(|row| muted(*row.ceiling)))
            .map(level),
        floor: row.map(|row| level(*row.floor)),
        stroke: match (short && (accented || detached && loud), accented, detached) {
            _ if low_hit(line, index, profile).is_some() && short => Stroke::Hit,
            (true, ..) => Stroke::Hit,
            (_, true, _) => Stroke::Accented,
            (_, _, true) => Stroke::Short,
            _ => Stroke::Plain,
        },
        bound: played.joins.has(Join::Slur),
        glides: played.joins.has(Join::Glissando),
        grace: played.grace,
    }
}

fn mutes(line: &Line) -> Vec<MuteSeen> {
    let mut seen = Vec::new();
    let mut now: Option<Mute> = None;
    for (index, played) in line.played.iter().enumerate() {
        if played.mute == now {
            continue;
        }
        now = played.mute;
        seen.push(MuteSeen {
            at: played.onset.quarters(),
            what: now.map_or_else(|| "open".to_owned(), |mute| format!("{} mute", mute.name())),
            there_are: index
                .checked_sub(1)
                .and_then(|before| line.rest_after(before))
                .map(crate::music::Seconds::get),
        });
    }
    seen
}

/// The first time through, by the plan of all.
fn breath(section: &Section<'_>, desk: &Desk<'_>, line: &Line) -> (Vec<Air>, Vec<BreathSeen>) {
    let plan = plan(line, desk, section);
    let behind: BTreeMap<usize, _> = plan.places.iter().map(|place| (place.after, place)).collect();
    let mut has = 1.0;
    let (mut air, mut breaths) = (Vec::new(), Vec::new());
    let mut drawn = vec![false; line.played.len()];
    for (index, struck) in line.performed.iter().enumerate() {
        let played = &line.played[struck.played];
        let share =
            if played.seconds.get() > 0.0 { struck.seconds.get() / played.seconds.get() } else { 0.0 };
        let left = has - use_of(played, line, desk, section).get() * share;
        let is_new = !std::mem::replace(&mut drawn[struck.played], true);
        if is_new {
            let (from, to) = (played.onset.quarters(), played.end.quarters());
            air.push(Air { note: struck.played, from, to, has, left });
        }
        has = left;
        if let Some(place) = behind.get(&index) {
            has = place.behind.get();
            if is_new {
                breaths.push(BreathSeen {
                    at: played.end.quarters(),
                    room: match place.kind {
                        BreathKind::Rest | BreathKind::Marked => Room::Written,
                        _ => Room::Note,
                    },
                });
            }
        }
    }
    let torn = plan.notes_too_long.iter().chain(&plan.phrases_too_long).flat_map(|long| {
        let behind = long.least_bad.iter().map(|&note| line.played[note].end);
        long.joints.iter().copied().chain(behind)
    });
    let torn = torn.map(|place| BreathSeen { at: place.quarters(), room: Room::Torn });
    breaths.extend(torn);
    (air, breaths)
}

fn ghosts(desk: &Desk<'_>, line: &Line, revision: &Revision) -> Vec<Ghost> {
    let by_note: BTreeMap<u32, usize> = line
        .played
        .iter()
        .enumerate()
        .flat_map(|(index, played)| played.chain.iter().map(move |&note| (note, index)))
        .collect();
    let mut ghosts: Vec<Ghost> = Vec::new();
    for made in revision.moves.iter().filter(|made| made.part == desk.part.info.index) {
        let mut first = true;
        for note in made.octave_move.notes.iter().filter_map(|note| by_note.get(note)) {
            if ghosts.last().is_some_and(|last| last.note == *note) {
                continue;
            }
            let (octaves, standing) = (i32::from(made.octave_move.octaves), made.octave_move.standing);
            ghosts.push(Ghost { note: *note, octaves, standing, first });
            first = false;
        }
    }
    ghosts
}

/// The whole part of a number that is not below nothing.
pub(super) fn whole_number(number: f64) -> usize {
    #[allow(clippy::cast_sign_loss)] // It is not below nothing, and a cast holds at the ends.
    let whole = number as usize;
    whole
}

/// Lengths of a stretch to choose from, and how many are to be seen at most.
const STRETCHES: [f64; 5] = [5.0, 10.0, 15.0, 30.0, 60.0];
const MOST_STRETCHES: f64 = 32.0;

fn seen(section: &Section<'_>, desk: &Desk<'_>, line: &Line, written_seconds: f64) -> Load {
    let own = load(line, desk, section);
    let last = line.performed.last().map_or(0.0, |struck| (struck.start + struck.seconds).get());
    let whole = written_seconds.max(last);
    let stretch = STRETCHES
        .into_iter()
        .find(|seconds| whole / seconds <= MOST_STRETCHES)
        .unwrap_or((whole / MOST_STRETCHES / 60.0).ceil() * 60.0);
    let mut seen = Load {
        whole,
        plays: own.plays.get(),
        loud: own.loud.get(),
        loud_from: loud_from(&section.limits).letters(),
        high: own.high.get(),
        longest: own.longest.map(|run| (run.seconds.get(), run.from, run.to)),
        stretches: vec![(0.0, 0.0); whole_number((whole / stretch).ceil())],
        stretch,
        ..Load::default()
    };
    let mut cells: BTreeMap<(i32, i32), f64> = BTreeMap::new();
    for (struck, note) in heard(line) {
        let (start, seconds) = (struck.start.get(), struck.seconds.get());
        let octave = note.sounding.height().in_cents().div_euclid(1200) - 1;
        let level = note.dynamic.map_or(-1, |level| level as i32);
        *cells.entry((octave, level)).or_default() += seconds;
        let mut from = start;
        while from < start + seconds {
            let index = whole_number(from / stretch);
            let to = (start + seconds).min((index as f64 + 1.0) * stretch);
            if let Some((plays, loud)) = seen.stretches.get_mut(index) {
                *plays += to - from;
                *loud += if is_loud(note, &section.limits) { to - from } else { 0.0 };
            }
            from = if to > from { to } else { start + seconds };
        }
    }
    seen.cells = cells.into_iter().map(|((octave, level), seconds)| (octave, level, seconds)).collect();
    seen
}
