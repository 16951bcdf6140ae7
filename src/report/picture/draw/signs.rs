//! What stands above the music: signs for all parts, what is in hand, and the flags of remarks.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use super::super::PlayerSeen;
use super::super::paper::{Path, escaped, px, text};
use super::{FLAGS, Flag, Layout, Plan, SIGNS};

impl Plan<'_> {
    pub(super) fn signs_of(&self, from: usize, to: usize) -> Signs {
        let bars = &self.picture.bars[from..=to];
        let end = self.picture.bars.get(to + 1).map_or(f64::INFINITY, |bar| bar.start);
        let key = self.player.keys.iter().find(|(at, _)| *at >= bars[0].start - 1e-9 && *at < end - 1e-9);
        let mut beside = Vec::new();
        beside.extend(bars.iter().rev().find_map(|bar| bar.metre.clone()));
        beside.extend(key.map(|(_, fifths)| in_key(*fifths)));
        Signs {
            rehearsal: bars[0].rehearsal.clone(),
            tempo: bars.iter().rev().find_map(|bar| bar.tempo.clone()),
            beside: beside.join(" "),
            number: bars[0].number.chars().count(),
        }
    }

    /// The instruments and mutes that are taken up here.
    pub(super) fn hands_between(&self, from: f64, to: f64, into: &mut String) {
        let here = |at: f64| at >= from - 1e-9 && at < to - 1e-9;
        let y = self.numbers() - 3.0;
        let mut said = Vec::new();
        for (index, hand) in self.player.hands.iter().enumerate().filter(|(_, hand)| here(hand.at)) {
            let Some(ground) = self.picture.grounds.get(hand.ground) else { continue };
            let title = ground.title.clone();
            let mut words = match (hand.asked, index) {
                (true, 0) => title,
                (true, _) => format!("take {title}"),
                (false, _) => format!("lies better on {title}"),
            };
            if let Some((there_are, wanted)) = hand.change {
                let _ = write!(words, ": {there_are:.0} s, wants {wanted:.0}");
            }
            said.push(words);
        }
        for mute in self.player.mutes.iter().filter(|mute| here(mute.at)) {
            let time = mute.there_are.map(|seconds| format!(": {seconds:.1} s")).unwrap_or_default();
            said.push(format!("{}{time}", mute.what));
        }
        if !said.is_empty() {
            text(into, "hand", 1.5, y, &said.join(" · "));
        }
    }

    /// The line of each remark above what it is about.
    pub(super) fn reaches(&self, bar: usize, layout: &Layout, into: &mut String) {
        let seen = &self.picture.bars[bar];
        let end = seen.start + seen.quarters;
        // What the filter shows and hides together is one path.
        let mut paths: BTreeMap<String, Path> = BTreeMap::new();
        for flag in self.reaches_of[bar].iter().map(|flag| &self.flags[*flag]) {
            let to = ends(self.player, flag).min(end);
            let (from, to) = (layout.x(flag.from.max(seen.start)), layout.x(to));
            let y = SIGNS + FLAGS * self.rows as f64 - 1.0;
            let path = paths.entry(format!("reach {} {}", flag.level.word(), flag.rule)).or_default();
            path.line(&[(from, y), (to.max(from + 2.0), y)]);
            if let Some((_, x, _)) =
                layout.flags.iter().find(|(own, ..)| std::ptr::eq(&raw const self.flags[*own], flag))
            {
                // The pole, down to its first note.
                let at = self.player.notes.partition_point(|note| note.from < flag.from - 1e-6);
                let note = self.player.notes.get(at).filter(|note| note.from <= flag.from + 1e-6);
                let foot = note.map_or(self.top(), |note| self.y(note.midi) - 3.0);
                path.line(&[(x + 1.0, y - 3.0), (from + 1.0, y + 2.0), (from + 1.0, foot)]);
            }
        }
        for (class, path) in paths {
            path.drawn(&class, into);
        }
    }

    pub(super) fn flag(flag: &Flag, x: f64, row: usize, into: &mut String) {
        let waived = if flag.waived { " waived" } else { "" };
        let _ = write!(
            into,
            "<a class=\"flag {} {}{waived}\" id=\"{}\" href=\"#{}\" style=\"left:{}px;top:{}px\" aria-label=\"{}\">{}</a>",
            flag.level.word(),
            flag.rule,
            flag.id,
            flag.remark,
            px(x),
            px(SIGNS + FLAGS * row as f64),
            escaped(&flag.label),
            flag.number
        );
    }
}

/// Where the last note of a remark ends.
pub(super) fn ends(player: &PlayerSeen, flag: &Flag) -> f64 {
    let last = player.notes.partition_point(|note| note.from <= flag.to + 1e-6);
    last.checked_sub(1).map_or(flag.to, |last| player.notes[last].to.max(flag.to))
}

/// What stands above a bar for all.
pub(super) struct Signs {
    rehearsal: Option<String>,
    tempo: Option<String>,
    beside: String,
    number: usize,
}

impl Signs {
    pub(super) fn width(&self) -> f64 {
        let mark =
            self.rehearsal.as_ref().map_or(0.0, |mark| 8.0 + 6.5 * mark.chars().count().min(12) as f64);
        let tempo = self.tempo.as_ref().map_or(0.0, |tempo| 6.0 * tempo.chars().count() as f64);
        let beside = 6.0 + 5.0 * self.number as f64 + 5.0 * self.beside.chars().count() as f64;
        (mark + tempo + 2.0).max(beside)
    }

    pub(super) fn draw(&self, plan: &Plan<'_>, into: &mut String) {
        let mut x = 1.5;
        if let Some(mark) = &self.rehearsal {
            let mark: String = mark.chars().take(12).collect();
            let width = 5.0 + 6.5 * mark.chars().count() as f64;
            let mut frame = Path::default();
            frame.block(0.5, 0.5, width, 11.5);
            frame.drawn("box", into);
            text(into, "mark", 3.0, 10.0, &mark);
            x = width + 4.0;
        }
        if let Some(tempo) = &self.tempo {
            text(into, "tempo", x, 10.0, tempo);
        }
        if !self.beside.is_empty() {
            text(into, "beside", 4.5 + 5.0 * self.number as f64, plan.top() - 2.0, &self.beside);
        }
    }
}

fn in_key(fifths: i8) -> String {
    match fifths {
        0 => "♮".to_owned(),
        sharps if sharps > 0 => format!("{sharps}♯"),
        flats => format!("{}♭", -i32::from(flats)),
    }
}
