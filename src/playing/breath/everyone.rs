//! Where everybody who sounds needs a breath inside a held note and nobody covers.

use super::{AllBreathe, BreathPlan};
use crate::music::Onset;
use crate::playing::Section;
use crate::playing::doublings::Doublings;

/// Where two or more players hold notes or slurred runs longer than a breath at once and nothing else sounds: in other parts
/// for less of the time than [`SectionLimits::doubling_share`](crate::profile::SectionLimits::doubling_share).
/// `plans` are where players breathe, for each desk and line.
pub fn all_breathe(section: &Section<'_>, plans: &[Vec<BreathPlan>]) -> Vec<AllBreathe> {
    let holds = holds(section, plans);
    let mut found: Vec<AllBreathe> = Vec::new();
    let mut doublings = None;
    // All that hold where this one begins.
    let mut with: Vec<&Hold> = Vec::new();
    for hold in &holds {
        with.retain(|other| other.to > hold.from);
        with.push(hold);
        if with.len() < 2 {
            continue;
        }
        let to = with.iter().map(|hold| hold.to).min().unwrap_or(hold.to);
        // What they share is the greater part of each; else one can breathe before the other begins.
        let share = |one: &&Hold| {
            to.since(hold.from).in_quarters() / one.to.since(one.from).in_quarters()
                >= *section.limits.doubling_share
        };
        if !with.iter().all(share) || others_of_the_desks(section, &with, hold.from, to) {
            continue;
        }
        let parts: Vec<u32> = with.iter().map(|hold| section.desks[hold.at.0].part.info.index).collect();
        let doublings = doublings.get_or_insert_with(|| Doublings::new(section));
        if doublings.others(hold.from, to, &parts) >= *section.limits.doubling_share {
            continue;
        }
        let all = AllBreathe { from: hold.from, to, holds: with.iter().map(|hold| hold.at).collect() };
        // A further player who comes in at the same place makes one finding with those before.
        match found.last_mut() {
            Some(last) if last.from == all.from || last.to == all.to => *last = all,
            _ => found.push(all),
        }
    }
    found
}

/// A note or slurred run longer than a breath.
struct Hold {
    from: Onset,
    to: Onset,
    at: (usize, usize, usize),
}

fn holds(section: &Section<'_>, plans: &[Vec<BreathPlan>]) -> Vec<Hold> {
    let mut holds = Vec::new();
    for (d, (desk, plans)) in section.desks.iter().zip(plans).enumerate() {
        for (l, (line, plan)) in desk.lines.iter().zip(plans).enumerate() {
            for long in plan.notes_too_long.iter().chain(&plan.phrases_too_long) {
                let (first, last) = (&line.played[long.from], &line.played[long.to]);
                holds.push(Hold { from: first.onset, to: last.end, at: (d, l, long.from) });
            }
        }
    }
    holds.sort_by_key(|hold| (hold.from, hold.at));
    holds
}

/// Whether another player of one of these desks sounds in between.
fn others_of_the_desks(section: &Section<'_>, holds: &[&Hold], from: Onset, to: Onset) -> bool {
    holds.iter().any(|hold| {
        let desk = &section.desks[hold.at.0];
        desk.lines.iter().enumerate().any(|(l, line)| {
            let holding = holds.iter().any(|other| (other.at.0, other.at.1) == (hold.at.0, l));
            !holding && line.played.iter().any(|note| note.onset < to && note.end > from)
        })
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::playing::Desk;
    use crate::playing::breath::plan;
    use crate::playing::testing::section;
    use crate::score::testing::section as parts;

    fn found(section: &Section<'_>) -> Vec<AllBreathe> {
        let of_desk = |desk: &Desk<'_>| desk.lines.iter().map(|line| plan(line, desk, section)).collect();
        all_breathe(section, &section.desks.iter().map(of_desk).collect::<Vec<_>>())
    }

    const INSTRUMENTS: &[&str] = &["contrabass-tuba-c", "bass-trombone", "tenor-bass-trombone"];

    #[test]
    fn two_who_hold_too_long_alone_must_breathe_together() {
        // Tuba G1 and bass trombone G2, ff, 12 s: a breath lasts 2.5 s and 4.2 s (a proposal on measured flows).
        let music = parts(&[("Tuba", "ff G1/12"), ("Bass Trombone", "ff G2/12")]);
        let found = found(&section(&music, INSTRUMENTS));
        assert_eq!(found.len(), 1);
        assert_eq!(found[0].holds, [(0, 0, 0), (1, 0, 0)]);
    }

    #[test]
    fn a_third_voice_covers_them() {
        let music = parts(&[
            ("Tuba", "ff G1/12"),
            ("Bass Trombone", "ff G2/12"),
            ("Trombone", "f D3/2 D3 D3 D3 D3 D3"),
        ]);
        assert!(found(&section(&music, INSTRUMENTS)).is_empty());
    }

    #[test]
    fn one_alone_and_two_one_after_the_other_are_no_matter_of_the_section() {
        let music = parts(&[("Tuba", "ff G1/12"), ("Bass Trombone", "ff r/11 G2/12")]);
        assert!(found(&section(&music, INSTRUMENTS)).is_empty());
        let music = parts(&[("Tuba", "ff G1/12"), ("Bass Trombone", "ff G2/1 r/11")]);
        assert!(found(&section(&music, INSTRUMENTS)).is_empty());
    }
}
