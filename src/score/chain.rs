//! Tie chains: the written notes of a part joined to what is struck once and heard as one.

use std::collections::HashMap;

use super::{Note, Part};
use crate::music::{Height, Onset};

/// The tie chains of the notes that are played: indices into `notes`, each chain in order of time, the chains
/// in order of their first notes.
///
/// A continued note joins the chain of the same sounding pitch (whatever its spelling) that ends where it
/// begins, of its own voice first, else of its own staff, else of any. One that finds none is struck.
pub(super) fn chains(notes: &[Note]) -> Vec<Vec<u32>> {
    let mut chains: Vec<Vec<u32>> = Vec::new();
    let mut open: HashMap<Height, Vec<OpenTie>> = HashMap::new();
    for (index, note) in (0_u32..).zip(notes).filter(|(_, note)| note.is_played()) {
        let waiting = open.entry(note.sounding.height()).or_default();
        // Notes come in order of onset: a tie that ended earlier finds no partner any more.
        waiting.retain(|tie| tie.end >= note.onset);
        let found = if note.tie.is_struck() { None } else { partner(waiting, note) };
        let chain = if let Some(found) = found {
            let chain = waiting.swap_remove(found).chain;
            chains[chain].push(index);
            chain
        } else {
            chains.push(vec![index]);
            chains.len() - 1
        };
        if note.tie.goes_on() {
            waiting.push(OpenTie { end: note.end(), voice: note.voice, staff: note.staff, chain });
        }
    }
    chains
}

/// For each written note of a part where the sound it belongs to ends: the end of its tie chain.
pub fn sounds_until(part: &Part) -> Vec<Onset> {
    let mut ends: Vec<Onset> = part.notes.iter().map(Note::end).collect();
    for chain in chains(&part.notes) {
        let Some(end) = chain.last().and_then(|last| ends.get(*last as usize)).copied() else { continue };
        for index in chain {
            ends[index as usize] = end;
        }
    }
    ends
}

/// A tie that waits for its next note.
struct OpenTie {
    end: Onset,
    voice: u16,
    staff: u8,
    chain: usize,
}

fn partner(waiting: &[OpenTie], note: &Note) -> Option<usize> {
    let fitting = waiting.iter().enumerate().filter(|(_, tie)| tie.end == note.onset);
    fitting
        .min_by_key(|(_, tie)| (tie.voice != note.voice, tie.staff != note.staff, tie.chain))
        .map(|(i, _)| i)
}
