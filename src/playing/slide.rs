//! The slide: where a pitch lies, the cheapest way through a passage, and what glides.
//!
//! A position is reckoned from the length of the horn: lowering a horn of length L = c / 2f by s semitones takes
//! L (2^(s/12) − 1) / 2 of slide. Partials count as their tempered pitch; a flat one is played with the
//! slide drawn in, and where it cannot be (first position) it is used only if a lip can bend it that far
//! ([`Slide::lip`]).

use crate::music::{Seconds, Sounding};
use crate::profile::Slide;
use crate::score::Played;

/// One way to play a pitch.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SlidePlace {
    /// Index into [`Slide::attachments`]; `None` for the open horn.
    pub attachment: Option<usize>,
    /// Its partial, 1 for a pedal.
    pub partial: u8,
    /// The position, 1 for all in; quarter-tones lie between.
    pub position: f64,
    /// Metres the slide is out.
    pub metres: f64,
    /// The last, long and unsteady position of an attachment.
    pub long: bool,
}

/// The slide's way from one note to the next.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SlideMove {
    /// Index (of those given) of the note it leads to.
    pub to: usize,
    /// Metres it travels.
    pub metres: f64,
    /// Seconds from onset to onset.
    pub seconds: Seconds,
    /// Metres a second.
    pub speed: f64,
    /// Where it comes from.
    pub left: SlidePlace,
    /// Where it arrives.
    pub reached: SlidePlace,
}

/// All ways to play a pitch, the open horn first, by partial from below.
pub fn places(_slide: &Slide, _pitch: Sounding) -> Vec<SlidePlace> {
    Vec::new()
}

/// Whether any position gives the pitch.
pub fn playable(slide: &Slide, pitch: Sounding) -> bool {
    !places(slide, pitch).is_empty()
}

/// The slide's moves through neighbouring notes (of one line, in order), by the best choice of positions: first as few
/// moves too fast as can be, then the least travel. Grace notes and notes without any position are left out;
/// a glissando stays on its partial and attachment where that can be.
pub fn moves(_slide: &Slide, _notes: &[Played]) -> Vec<SlideMove> {
    Vec::new()
}

/// Whether a glissando goes from one pitch to the other on one partial and attachment. `None` when it does, or the
/// widest span in semitones that a glissando from the higher of the two reaches downwards on this horn.
pub fn gliss_breaks(_slide: &Slide, _from: Sounding, _to: Sounding) -> Option<f64> {
    None
}
