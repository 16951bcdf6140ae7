//! One instrument as a page for the browser: each semitone with what it gives, how long a breath lasts on it, and where the
//! slide or the valves are.
//!
//! The same signs as in the picture of a part: a note swells from the softest that speaks to the loudest that sounds as
//! marked, on the ground of its register.

use std::fmt::Write as _;
use std::io::{self, Write};

use askama::Template;

use super::html::clean;
use super::picture::Footing;
use super::picture::draw::{depth, hatch, letters, thick};
use super::picture::ground::{footing, name, semitones};
use super::picture::paper::{Path, px};
use super::profile_page::{ProfilePage, profile_page};
use crate::music::{Dynamic, Sounding};
use crate::playing::breath::sustain;
use crate::playing::slide::places;
use crate::playing::valves::fingering;
use crate::profile::{Mechanism, Profile};

/// Writes the page of an instrument.
pub fn write_instrument_page(profile: &Profile, out: &mut dyn Write) -> io::Result<()> {
    let range = &profile.range;
    let mut rows: Vec<Row> =
        semitones(range.bottom(), *range.top).filter_map(|pitch| Row::of(profile, pitch)).collect();
    rows.reverse();
    let page = Page {
        told: &profile_page(profile),
        rows,
        marks: MARKS.map(Dynamic::letters),
        how: how(&profile.mechanism),
    };
    page.write_into(&mut &mut *out)?;
    writeln!(out)
}

/// The dynamics whose breath is told.
const MARKS: [Dynamic; 5] = [Dynamic::Pp, Dynamic::P, Dynamic::Mf, Dynamic::F, Dynamic::Ff];

/// Pixels of a row, and of a mark on the scale from the softest to the loudest.
const HEIGHT: f64 = 18.0;
const STEP: f64 = 22.0;
const SOFTEST: Dynamic = Dynamic::Ppp;
const LOUDEST: Dynamic = Dynamic::Fff;

#[derive(Template)]
#[template(config = "src/report/askama.toml", path = "instrument.html")]
struct Page<'a> {
    told: &'a ProfilePage,
    rows: Vec<Row>,
    marks: [&'static str; MARKS.len()],
    /// "Slide", "Valves"; empty where there is neither.
    how: &'static str,
}

/// A semitone.
struct Row {
    pitch: String,
    /// It is a C: the eye counts octaves.
    is_c: bool,
    lies: &'static str,
    softest: &'static str,
    loudest: &'static str,
    swell: String,
    /// Seconds of a breath for each of [`MARKS`]; a dash where it does not sound as marked.
    breath: Vec<String>,
    how: String,
}

impl Row {
    fn of(profile: &Profile, pitch: Sounding) -> Option<Row> {
        let midi = pitch.height().in_cents().div_euclid(100);
        let footing = footing(profile, pitch)?;
        let limits = profile.loudness.at(pitch)?;
        let is_there = footing != Footing::Missing;
        let breath = MARKS.iter().map(|mark| {
            if is_there && (*limits.floor..=*limits.ceiling).contains(mark) {
                format!("{:.1}", sustain(profile, pitch, *mark).get())
            } else {
                "–".to_owned()
            }
        });
        Some(Row {
            pitch: name(midi),
            is_c: midi.rem_euclid(12) == 0,
            lies: lies(footing),
            softest: if is_there { limits.floor.letters() } else { "" },
            loudest: if is_there { limits.ceiling.letters() } else { "" },
            swell: swell(footing, *limits.floor as i32, *limits.ceiling as i32),
            breath: breath.collect(),
            how: played_by(&profile.mechanism, pitch),
        })
    }
}

fn lies(footing: Footing) -> &'static str {
    match footing {
        Footing::Usual => "usual",
        Footing::Beyond => "beyond the usual span",
        Footing::Extreme => "extreme",
        Footing::Effect => "effect",
        Footing::Missing => "no such note",
    }
}

/// A note that swells from the softest to the loudest, on its ground.
fn swell(footing: Footing, floor: i32, ceiling: i32) -> String {
    let width = STEP * f64::from(LOUDEST as i32 - SOFTEST as i32 + 1);
    let x = |level: i32| STEP * (f64::from((level - SOFTEST as i32).max(0)) + 0.5);
    let mut out = String::new();
    let mut ground = Path::default();
    ground.block(0.0, 0.0, width, HEIGHT);
    ground.drawn(depth(ceiling), &mut out);
    hatch(footing, 0.0, HEIGHT, width, &mut out);
    if footing != Footing::Missing {
        let (from, to) = (x(floor) - STEP / 2.0 + 2.0, x(ceiling) + STEP / 2.0 - 2.0);
        let half = |level: i32| thick(f64::from(level));
        let mut body = Path::default();
        let middle = HEIGHT / 2.0;
        body.polygon(&[
            (from, middle - half(floor)),
            (to, middle - half(ceiling)),
            (to, middle + half(ceiling)),
            (from, middle + half(floor)),
        ]);
        body.drawn("tone", &mut out);
    }
    format!(
        "<svg aria-hidden=\"true\" width=\"{w}\" height=\"{h}\" viewBox=\"0 0 {w} {h}\">{out}</svg>",
        w = px(width),
        h = px(HEIGHT)
    )
}

fn how(mechanism: &Mechanism) -> &'static str {
    match mechanism {
        Mechanism::Slide(_) => "Slide positions",
        Mechanism::Valves(_) => "Valves",
        Mechanism::Keys { .. } => "",
    }
}

/// Positions from the nearest, with the attachment they are on; or the valves that are down.
fn played_by(mechanism: &Mechanism, pitch: Sounding) -> String {
    match mechanism {
        Mechanism::Slide(slide) => {
            let mut places = places(slide, pitch);
            places.sort_by(|one, other| {
                one.attachment.cmp(&other.attachment).then(one.metres.total_cmp(&other.metres))
            });
            let mut said: Vec<String> = Vec::new();
            for place in places {
                let on = place
                    .attachment
                    .and_then(|index| slide.attachments.get(index))
                    .map_or("", |on| on.name.as_str());
                let long = if place.long { " (long)" } else { "" };
                let words =
                    format!("{on}{}{:.0}{long}", if on.is_empty() { "" } else { " " }, place.position);
                if !said.contains(&words) {
                    said.push(words);
                }
            }
            said.join(", ")
        }
        Mechanism::Valves(valves) => fingering(valves, pitch).map_or_else(String::new, |found| {
            let down = match found.valves.as_slice() {
                [] => "open".to_owned(),
                down => down.iter().map(ToString::to_string).collect::<Vec<_>>().join("+"),
            };
            match found.cents.round() {
                cents if cents.abs() >= *valves.limits.sharp_note => {
                    let way = if cents > 0.0 { "sharp" } else { "flat" };
                    format!("{down}, {:.0} cents {way}", cents.abs())
                }
                _ => down,
            }
        }),
        Mechanism::Keys { .. } => String::new(),
    }
}

/// A row of the scale's letters, each over its step of the swells.
fn scale() -> String {
    let width = STEP * f64::from(LOUDEST as i32 - SOFTEST as i32 + 1);
    let mut out = format!(
        "<svg aria-hidden=\"true\" width=\"{w}\" height=\"14\" viewBox=\"0 0 {w} 14\">",
        w = px(width)
    );
    for (index, level) in (SOFTEST as i32..=LOUDEST as i32).enumerate() {
        let x = px(STEP * (index as f64 + 0.5));
        let _ = write!(
            out,
            "<text class=\"level\" text-anchor=\"middle\" x=\"{x}\" y=\"11\">{}</text>",
            letters(level)
        );
    }
    out + "</svg>"
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::playing::testing::instrument;
    use crate::profile::shipped;

    fn rows(name: &str) -> Vec<Row> {
        let profile = instrument(name);
        let range = profile.range.clone();
        semitones(range.bottom(), *range.top).filter_map(|pitch| Row::of(&profile, pitch)).collect()
    }

    fn row(instrument: &str, pitch: &str) -> Row {
        rows(instrument).into_iter().find(|row| row.pitch == pitch).unwrap()
    }

    #[test]
    fn positions_and_valves_are_those_every_player_learns() {
        // Common practice, no source: first things in any method for the instrument.
        assert_eq!(row("tenor-bass-trombone", "Bb2").how.split(", ").next(), Some("1"));
        assert_eq!(row("tenor-bass-trombone", "E2").how.split(", ").next(), Some("7"));
        assert!(
            row("tenor-bass-trombone", "C2").how.starts_with("F 6"),
            "{}",
            row("tenor-bass-trombone", "C2").how
        );
        assert_eq!(row("contrabass-tuba-c", "C2").how, "open");
        assert_eq!(row("contrabass-tuba-c", "Bb1").how, "1");
    }

    #[test]
    fn each_semitone_of_each_instrument_has_its_row_and_the_page_stands_alone() {
        for profile in shipped().iter() {
            let mut page = Vec::new();
            write_instrument_page(profile, &mut page).unwrap();
            let page = String::from_utf8(page).unwrap();
            let count = semitones(profile.range.bottom(), *profile.range.top).count();
            assert_eq!(page.matches("<th role=\"rowheader\"").count(), count, "{}", profile.name);
            for outside in ["<script", "http://", "https://", "<link", "@import", "<img"] {
                assert!(!page.contains(outside), "{}: {outside}", profile.name);
            }
            for source in &profile_page(profile).sources {
                assert!(page.contains(source.kind), "{}: {}", profile.name, source.kind);
            }
        }
    }

    #[test]
    fn a_breath_is_told_only_where_the_note_sounds_as_marked() {
        let low = row("contrabass-tuba-c", "D1");
        assert_eq!(low.loudest, "mf");
        assert_eq!(low.breath.last().map(String::as_str), Some("–"));
        assert!(low.breath[1].parse::<f64>().unwrap() > low.breath[2].parse::<f64>().unwrap());
    }
}
